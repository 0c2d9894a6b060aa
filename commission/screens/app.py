"""The app: which screens there are, the visit that is open, the palette's commands."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterable, Sequence
from datetime import datetime
from pathlib import Path
from random import SystemRandom
from typing import TYPE_CHECKING, ClassVar

from textual.app import App, SystemCommand
from textual.binding import Binding
from textual.filter import LineFilter
from textual.screen import Screen

from commission import __version__
from commission.errors import CommissionError, NotKeptError
from commission.screens.ahead import LoadingAhead
from commission.screens.harmless import Harmless
from commission.screens.modes import MODES, PAGES
from commission.screens.theme import THEME
from commission.visit.shelf import Holder, visits_root

if TYPE_CHECKING:
    # the first screen needs neither plants nor visits, and they take longer to load than all the rest
    from commission.plant.plant import Plant
    from commission.revisit.offer import Offer, Wanted
    from commission.visit.session import OpenVisit
    from commission.visit.types import Service


class CommissionApp(App[None]):
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
        super().__init__(ansi_color=not colour)
        self.root = root
        self.site = site
        self.records = records
        """Folder of records that was named, or one of them."""
        self.offered = offered
        """What a service visit could be, and what is wanted of it: shown by the page that begins one."""
        self.clock = clock
        self.open_visit: OpenVisit | None = None
        self._as_found_seen: set[str] = set()
        """Service visits whose settings as found were asked for before their walk."""
        self._findings_seen: set[str] = set()
        """Visits whose findings stood on the screen before their walk."""
        self.finding = ""
        """Id of the finding that the page of findings points at when it is shown next."""
        self.ahead = LoadingAhead()
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

    # the visit

    @property
    def visit(self) -> OpenVisit:
        """The visit that is open; pages of a visit are shown only while there is one."""
        assert self.open_visit is not None  # noqa: S101 - see above
        return self.open_visit

    def now(self) -> datetime:
        """Return the time with its offset, whole seconds; never before the newest entry of the open visit.

        A clock that was put back would otherwise let an older reading count for newer than the last one.
        """
        moment = self.clock().replace(microsecond=0)
        if self.open_visit is None or moment >= self.open_visit.newest:
            return moment
        return self.open_visit.newest

    def start_visit(self, plant: Plant, beside: Path | None) -> None:
        """Begin the commissioning of a plant and show who and with what.

        Raises
        ------
        CommissionError
            If the visit's folder cannot be written.
        """
        from commission.prepare import own_checklists, prepare_visit
        from commission.visit.session import OpenVisit

        self.close_visit()
        self.open_visit = OpenVisit.start(
            self.root,
            plant,
            prepare_visit,
            kind="commissioning",
            program=__version__,
            now=self.now(),
            holder=_holder(),
            random=SystemRandom(),
            checklists=own_checklists(plant, beside),
        )
        self.switch_mode("people")

    def show_offer(self, offer: Offer, wanted: Wanted) -> None:
        """Show what a service visit could be, before it begins."""
        self.offered = offer, wanted
        self.switch_mode("service")

    def start_service(self, offer: Offer, service: Service) -> None:
        """Begin a service visit and show who and with what.

        Raises
        ------
        CommissionError
            If the visit's folder cannot be written.
        """
        from commission.visit.session import OpenVisit

        self.close_visit()
        self.open_visit = OpenVisit.start(
            self.root,
            offer.plant,
            offer.prepare,
            kind="service",
            program=__version__,
            now=self.now(),
            holder=_holder(),
            random=SystemRandom(),
            checklists=offer.own,
            service=service,
            records=offer.folder,
        )
        self.offered = None
        self.switch_mode("people")

    @property
    def record_folder(self) -> Path | None:
        """Folder of the records before, of a service visit."""
        return None if self.open_visit is None else self.open_visit.records_before

    def folders_of_records(self) -> tuple[Path, ...]:
        """Return where the records of the site of the open visit may be."""
        beside = () if self.site is None else (self.site.parent,)
        return tuple(dict.fromkeys((*filter(None, (self.record_folder, self.records)), *beside, Path.cwd())))

    def resume_visit(self, ident: str) -> None:
        """Take up a visit on the step where it was left.

        Raises
        ------
        CommissionError
            If somebody else holds it or it cannot be read.
        """
        self.ahead.finish()
        from commission.prepare import prepare_visit
        from commission.visit.session import OpenVisit

        self.close_visit()
        ident = self._followed(ident)
        self._show_visit(OpenVisit.resume(self.root, ident, prepare_visit, holder=_holder()))

    def look_at_visit(self, ident: str) -> None:
        """Look at a visit that somebody else has open; nothing can be entered.

        Raises
        ------
        CommissionError
            If it cannot be read.
        """
        self.ahead.finish()
        from commission.prepare import prepare_visit
        from commission.visit.session import OpenVisit

        self.close_visit()
        self._show_visit(OpenVisit.look(self.root, ident, prepare_visit))

    def copy_visit(self, ident: str, root: Path) -> str:
        """Copy a visit whose folder takes nothing into another root; returns its id there.

        Raises
        ------
        CommissionError
            If that folder cannot be written either.
        """
        from commission.visit.moving import copied

        folder, said = copied(self.root, ident, root, _holder())
        self.root = folder.parent
        for message in said:
            self.notify(message, severity="warning", timeout=30, markup=False)
        return folder.name

    def _followed(self, ident: str) -> str:
        """Go to the folder in which a visit went on; returns its id there."""
        from commission.visit.shelf import followed

        root, there = followed(self.root, ident)
        if root != self.root:
            self.root = root
            self.notify(f"the visit went on in {root}; visits are kept there now", timeout=15, markup=False)
        return there

    def _show_visit(self, opened: OpenVisit) -> None:
        self.open_visit = opened
        for message in opened.messages:
            self.notify(message, severity="warning", timeout=20, markup=False)
        visit = opened.visit
        page = "walk" if visit.people else "people"
        self.switch_mode("sign" if visit.sign_off is not None else page)

    def go_on_with(self, ident: str, plant: Plant, beside: Path | None, told: dict[str, str]) -> None:
        """Take up a visit with a changed plant.

        Parameters
        ----------
        told
            ``by`` and ``reason``; ``worked_on`` is ``yes`` where the parts themselves were changed.

        Raises
        ------
        CommissionError
            If somebody else holds the visit, it cannot be read, or too little is told.
        """
        self.ahead.finish()
        from commission.prepare import own_checklists, prepare_visit
        from commission.visit.session import OpenVisit

        self.close_visit()
        ident = self._followed(ident)
        held = OpenVisit.resume(self.root, ident, prepare_visit, holder=_holder())
        try:
            self.open_visit = held.go_on_with(
                plant,
                prepare_visit,
                by=told["by"],
                reason=told["reason"],
                worked_on=told["worked_on"] == "yes",
                now=max(self.now(), held.newest),
                checklists=own_checklists(plant, beside),
            )
        except NotKeptError:
            self.open_visit = held  # so that it can go on in another folder
            raise
        except CommissionError:
            held.close()
            raise

    def close_visit(self) -> None:
        """Give the visit free for others."""
        if self.open_visit is not None:
            self.open_visit.close()
            self.open_visit = None

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


def _holder() -> Holder:
    import getpass
    import socket

    try:
        user = getpass.getuser()
    except (OSError, KeyError):
        user = ""
    return Holder(os.getpid(), socket.gethostname(), user)


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
