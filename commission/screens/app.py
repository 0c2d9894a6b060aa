"""The app: which screens there are, the visit that is open, the palette's commands."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterable, Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual.app import App, SystemCommand
from textual.binding import Binding
from textual.filter import LineFilter
from textual.screen import Screen

from commission.errors import CommissionError, NotKeptError
from commission.screens.app_visit import VisitApp
from commission.screens.harmless import Harmless
from commission.screens.modes import MODES, PAGES
from commission.screens.theme import THEME
from commission.visit.shelf import visits_root

if TYPE_CHECKING:
    # the first screen needs neither plants nor visits, and they take longer to load than all the rest
    from commission.revisit.offer import Offer, Wanted
    from commission.visit.session import OpenVisit


class CommissionApp(VisitApp):
    """Commission a plant on screen."""

    CSS_PATH = ["styles/site.tcss"]
    MODES: ClassVar[dict[str, Callable[[], Screen[None]]]] = MODES  # type: ignore[assignment]  # narrower values
    DEFAULT_MODE = "home"
    ENABLE_COMMAND_PALETTE = True
    TITLE = "commission"

    def __init__(
        self,
        *,
        root: Path,
        site: Path | None = None,
        records: Path | None = None,
        offered: tuple[Offer, Wanted] | None = None,
        clock: Callable[[], datetime] = lambda: datetime.now().astimezone(),
        colour: bool = True,
    ) -> None:
        super().__init__(root=root, site=site, records=records, clock=clock, colour=colour)
        self.offered = offered
        """What a service visit could be, and what is wanted of it: shown by the page that begins one."""
        self._as_found_seen: set[str] = set()
        """Service visits whose settings as found were asked for before their walk."""
        self._findings_seen: set[str] = set()
        """Visits whose findings stood on the screen before their walk."""
        self.finding = ""
        """Id of the finding that the page of findings points at when it is shown next."""
        self._harmless = Harmless()
        self.animation_level = "none"
        if colour:
            # set before any style sheet is read: after a change of theme every page reads all of them again
            self.register_theme(THEME)
            self.set_reactive(App.theme, THEME.name)
            self.stylesheet.set_variables(self.get_css_variables())

    def on_ready(self) -> None:
        if self.offered is not None:
            self.switch_mode("service")  # all that is loaded ahead is loaded already
        else:
            self.ahead.begin()

    def get_line_filters(self) -> Sequence[LineFilter]:
        return (self._harmless, *super().get_line_filters())

    def get_key_display(self, binding: Binding) -> str:
        shown = super().get_key_display(binding)
        return shown.upper() if shown[:1] == "f" and shown[1:].isdigit() else shown

    def show_offer(self, offer: Offer, wanted: Wanted) -> None:
        """Show what a service visit could be, before it begins."""
        self.offered = offer, wanted
        self.switch_mode("service")

    def show_finding(self, ident: str) -> None:
        """Show a finding of the design check among the others."""
        self.finding = ident
        self.show("findings")

    def show(self, page: str) -> None:
        """Show a page of the open visit; before the first walk of a visit what the check has found."""
        visit = self.open_visit
        if visit is None:
            return
        if page == "walk" and self._as_found_first(visit):
            self.switch_mode("settings")
            return
        if page == "walk" and visit.visit.id not in self._findings_seen:
            self._findings_seen.add(visit.visit.id)
            open_stops = visit.standing.open_dangers()
            found = any(one.kind != "advise" for one in visit.sheet.findings)
            read = self.current_mode == "findings"  # from there on to the walk
            if not read and (open_stops or (found and not visit.visit.readings)):
                page = "findings"
        self.switch_mode(page)

    def _as_found_first(self, visit: OpenVisit) -> bool:
        """Whether the settings as found come before the walk: once, at a service visit that has told none."""
        service, ident = visit.visit.service, visit.visit.id
        again = service is not None and bool(service.left) and service.returned is None
        first = again and ident not in self._as_found_seen
        self._as_found_seen.add(ident)
        return first and not visit.visit.settings and not visit.visit.readings

    def tell(self, error: CommissionError, again: Callable[[], object] | None = None) -> None:
        """Say what went wrong, in words, without losing what is on screen."""
        if isinstance(error, NotKeptError):
            self.offer_storage(error, again)
        else:
            self.notify(str(error), severity="error", timeout=15, markup=False)

    def offer_storage(self, error: CommissionError, again: Callable[[], object] | None = None) -> None:
        """Where it was the disk that refused, offer to try again or to go on in another folder.

        Parameters
        ----------
        again
            Does once more what was refused.
        """
        if not isinstance(error, NotKeptError):
            return
        from commission.screens.fault import FaultPanel, other_place

        def answered(answer: str | None) -> None:
            if answer and again is not None:
                again()

        home = Path.home()
        usual = visits_root({}, sys.platform, home)
        self.push_screen(
            FaultPanel(str(error), self.go_on_in, such_as=other_place(self.root, usual, home)), answered
        )

    def go_on_in(self, root: Path) -> None:
        """Keep visits in another folder from now on, the open one first.

        Raises
        ------
        CommissionError
            If that folder cannot be written either; nothing has changed then.
        """
        said = () if self.open_visit is None else self.open_visit.move_to_folder(root)
        self.root = root.absolute()
        self.notify(f"visits are kept in {self.root} now", timeout=15, markup=False)
        for message in said:
            self.notify(message, severity="warning", timeout=30, markup=False)

    # palette

    def get_system_commands(self, screen: Screen[object]) -> Iterable[SystemCommand]:
        yield SystemCommand("Quit", "Leave the program; nothing entered is lost", self.action_quit)
        if self.open_visit is None:
            return
        for page, text in PAGES.items():
            yield SystemCommand(text, "", lambda page=page: self.show(page))
        yield SystemCommand("Home", "Other visits and sites", self.go_home)

    def go_home(self) -> None:
        """Leave the visit, which stays as it is on the disk, and show the list of visits."""
        self.close_visit()
        self.switch_mode("home")


def run(
    *,
    site: Path | None = None,
    records: Path | None = None,
    visits: Path | None = None,
    offer: tuple[Offer, Wanted] | None = None,
) -> int:
    """Run the app until it is left; returns the exit code."""
    root = visits or visits_root(os.environ, sys.platform, Path.home())
    app = CommissionApp(
        root=root, site=site, records=records, offered=offer, colour="NO_COLOR" not in os.environ
    )
    app.run()
    app.close_visit()
    return app.return_code or 0
