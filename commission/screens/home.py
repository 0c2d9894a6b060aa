"""The first screen: take up a visit, or begin one from a site file."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from commission.errors import CommissionError, EntryError, HeldError, NotKeptError, VisitError
from commission.plant.places import sample_sites, site_path
from commission.revisit.seen import Seen
from commission.screens.offering import Offering
from commission.screens.own_app import app_of
from commission.visit.shelf import VisitSummary, list_visits

_NEXT_STEPS = (
    "Enter takes the line. A site file can be typed above, also with its folder.\n"
    "No site file yet: leave with ctrl+q and run  commission new my-site.toml"
)


if TYPE_CHECKING:
    from commission.plant.files import LoadedPlant
    from commission.revisit.offer import Offer
    from commission.screens.app_visit import StillWanted
    from commission.visit.session import OpenVisit


class PathInput(Input):
    """The path of a site file; its Enter stands in the footer."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("enter", "submit", "take", show=True)]


class Home(Offering):
    """Take up a visit where it was left, begin the commissioning of a site, or visit one again."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "take", "take", id="take", show=True),
        Binding("down", "move(1)", show=False),
        Binding("up", "move(-1)", show=False),
        Binding("pagedown", "move(10)", show=False),
        Binding("pageup", "move(-10)", show=False),
        Binding("ctrl+q", "app.quit", "quit", id="quit", priority=True),
    ]
    AUTO_FOCUS = "#path"
    help_text = (
        "Here you take up a visit where it was left, or begin one.\n\n"
        "  Up, Down      choose a line\n"
        "  Enter         take it; if a path is typed, open that site file or record\n"
        "  ctrl+q        quit\n\n"
        "A visit lives in a folder of its own. It may be left at any moment, also by pulling\n"
        "the plug: the next start is on the same step with everything that was entered.\n\n"
        "Where signed records of a site are beside its file or in the folder of the program's start,\n"
        "a service visit is offered; a record that a supervisor returned opens at their comments."
    )

    def __init__(self) -> None:
        super().__init__()
        self._keys: list[str] = []
        self._sites: dict[str, str] = {}
        """Ids of the sites that can be visited again, by what is named then."""

    def body(self) -> ComposeResult:
        yield Static("Site file", markup=False)
        yield PathInput(placeholder="path of a site file, or Enter for the line below", id="path")
        yield Static("", id="said", markup=False)
        yield OptionList(id="offers", markup=False)
        yield Static(_NEXT_STEPS, id="next-steps", classes="dim", markup=False)

    def on_mount(self) -> None:
        self.query_one("#offers", OptionList).can_focus = False
        self.say_where("commission", "battery-based power plants")
        self._fill()

    def on_screen_resume(self) -> None:
        self.say("")
        self.query_one("#path", Input).clear()
        self.forget_offers()
        self._fill()

    def _fill(self) -> None:
        visits = sorted(self._visits(), key=lambda found: (found.signed, -_begun(found)))
        in_work = self._of_site(app_of(self).site, visits)
        rows = self._rows(visits, in_work, self._again())
        listed = self.query_one("#offers", OptionList)
        self._keys = [key for key, _ in rows]
        listed.clear_options()
        listed.add_options([Option(text) for _, text in rows])
        if rows:
            # a visit of the named site that is still open goes before a new one
            listed.highlighted = in_work[0] if in_work else 0

    def _rows(
        self, visits: list[VisitSummary], in_work: list[int], again: list[tuple[str, str]]
    ) -> list[tuple[str, str]]:
        """Return keys and texts: visits to take up, newest first, the site that was named, the samples."""
        rows = [(f"visit:{found.id}", _visit_text(found)) for found in visits]
        site = app_of(self).site
        own = [row for row in again if row[0] == f"again:{site}"]
        if site is not None:
            at = in_work[-1] + 1 if in_work else 0
            rows[at:at] = [*own, (f"site:{site}", f"begin       {site}")]
        rows += [row for row in again if row not in own]
        return rows + [(f"site:{path}", f"sample      {path.stem}") for path in sample_sites()]

    # sites that were visited before

    def _again(self) -> list[tuple[str, str]]:
        """Return keys and texts of the sites of which signed records are at hand."""
        site = app_of(self).site
        rows = []
        for seen in self.seen():
            own = site is not None and site.stem == seen.site
            named = str(site) if own else str(seen.path)
            self._sites[named] = seen.site
            rows.append((f"again:{named}", _seen_text(seen)))
            if own and named not in self._told:
                self.look_ahead(named)
        return [(key, self._due_text(key) or text) for key, text in rows]

    def _due_text(self, key: str) -> str:
        offer = self._told.get(key.partition(":")[2])
        if offer is None:
            return ""
        from commission.revisit.told import summary

        word = "service" if offer.returned is None else "returned"
        return f"{word:<11} {summary(offer)}"

    def tell_offer(self, named: str, offer: Offer) -> None:
        key = f"again:{named}"
        if key in self._keys:
            listed = self.query_one("#offers", OptionList)
            listed.replace_option_prompt_at_index(self._keys.index(key), self._due_text(key))

    def _visits(self) -> tuple[VisitSummary, ...]:
        """Return the visits of the folder; where it cannot be read, none, and say so."""
        try:
            return list_visits(app_of(self).root)
        except VisitError as error:
            self.say(str(error))
            return ()

    @staticmethod
    def _of_site(path: Path | None, visits: list[VisitSummary]) -> list[int]:
        """Return the places of the visits of a site that are still open."""
        return [
            place
            for place, found in enumerate(visits)
            if path is not None and path.stem == found.site and not found.signed
        ]

    def action_move(self, by: int) -> None:
        listed = self.query_one("#offers", OptionList)
        if self._keys:
            listed.highlighted = max(0, min(len(self._keys) - 1, (listed.highlighted or 0) + by))

    @on(Input.Submitted, "#path")
    def _typed(self, event: Input.Submitted) -> None:
        event.stop()
        if self.busy():
            return
        if event.value.strip():
            self._begin(Path(event.value.strip()).expanduser())
        else:
            self.action_take()

    def action_take(self) -> None:
        at = self.query_one("#offers", OptionList).highlighted
        if self.busy() or at is None or at >= len(self._keys):
            return
        kind, _, what = self._keys[at].partition(":")
        if kind == "visit":
            self._resume(what)
        elif kind == "again":
            self._again_or_take_up(what)
        else:
            self._begin(Path(what))

    def _again_or_take_up(self, named: str) -> None:
        """Visit a site again, or take up the visit of it that is open already."""
        site = self._sites.get(named, "")
        open_ = [found for found in self._visits() if found.site == site and not found.signed]
        if not open_:
            self.visit_again(named)
            return
        from commission.screens.panels import Choice, ChoicePanel

        choices = [Choice(f"take|{one.id}", f"{'take up':<11} {_told(one)}, as it was left") for one in open_]
        choices.append(Choice("again", f"{'service':<11} a new visit"))

        def chosen(key: str | None) -> None:
            word, _, ident = (key or "").partition("|")
            if word == "take":
                self._resume(ident)
            elif word == "again":
                self.visit_again(named)

        self.app.push_screen(ChoicePanel("A visit of this site is open already", choices), chosen)

    def _begin(self, path: Path) -> None:
        self.doing(f"opening {path.name}", lambda _: self._read(path))

    def _read(self, path: Path) -> Callable[[], None]:
        """Read what was named, on another thread; returns what is done with it."""
        app_of(self).ahead.finish()
        from commission.plant.files import load_plant
        from commission.records.read import is_record

        if is_record(path):
            return lambda: self.visit_again(str(path))
        loaded = load_plant(site_path(path))
        return lambda: self._offer_what_it_can_be(loaded)

    def _offer_what_it_can_be(self, loaded: LoadedPlant) -> None:
        for warning in loaded.warnings:
            self.app.notify(str(warning), severity="warning", timeout=15, markup=False)
        site = loaded.plant.site.site.id
        open_ = [found for found in self._visits() if found.site == site and not found.signed]
        if open_:
            self._ask_which(loaded, open_)
        else:
            self.offer_or_begin(loaded)

    def begin_anew(self, loaded: LoadedPlant) -> None:
        """Begin the commissioning of a plant."""
        name = loaded.plant.site.site.name
        told = f"{name}: settings, design check and walk are worked out; a large plant takes a while"
        app = app_of(self)

        def start(wanted: StillWanted) -> Callable[[], None]:
            opened = app.new_visit(loaded.plant, loaded.path.parent, wanted)
            return lambda: app.show_visit(opened)

        def refused(error: CommissionError) -> None:
            app.offer_storage(error, lambda: self.begin_anew(loaded))

        self.doing(told, start, refused)

    def _ask_which(self, loaded: LoadedPlant, visits: list[VisitSummary]) -> None:
        """Ask whether a visit of the same site that is open goes on, with the file as it is now."""
        from commission.screens.panels import Choice, ChoicePanel

        choices = []
        for found in visits:
            told = _told(found)
            choices.append(Choice(f"take|{found.id}", f"{'take up':<11} {told}, as it was left"))
            choices.append(Choice(f"with|{found.id}", f"{'go on':<11} {told}, with the plant of this file"))
        choices.append(Choice("begin", f"{'begin':<11} a new visit"))

        def chosen(key: str | None) -> None:
            word, _, ident = (key or "").partition("|")
            if word == "begin":
                self.offer_or_begin(loaded)
            elif word == "take":
                self._resume(ident)
            elif word == "with":
                self._go_on_with(loaded, ident)

        self.app.push_screen(ChoicePanel("A visit of this site is open already", choices), chosen)

    def _go_on_with(self, loaded: LoadedPlant, ident: str) -> None:
        from commission.screens.forms import Field, FormPanel

        fields = [
            Field("reason", "what was changed"),
            Field("by", "who says so"),
            Field("worked_on", "were the parts worked on (yes, no)", hint="yes: they are read again"),
        ]

        def keep(typed: dict[str, str]) -> None:
            if typed["worked_on"].strip().casefold() not in {"yes", "no"}:
                raise EntryError("yes where the parts themselves were changed; no where the file tells more")
            told = typed | {"worked_on": typed["worked_on"].strip().casefold()}
            app_of(self).go_on_with(ident, loaded.plant, loaded.path.parent, told)

        def done(answer: str | None) -> None:
            if answer:
                app_of(self).show("findings")

        text = "The visit goes on with the plant as this file tells it. Everything that was read stays in it."
        self.app.push_screen(FormPanel("Go on with a changed plant", text, fields, keep), done)

    def _resume(self, ident: str) -> None:
        self._open_visit(ident, app_of(self).taken_up, lambda error: self._ask_how(ident, error))

    def _look_at(self, ident: str) -> None:
        self._open_visit(ident, app_of(self).looked_at, lambda _: None)

    def _open_visit(
        self, ident: str, opening: Callable[[str], OpenVisit], refused: Callable[[CommissionError], None]
    ) -> None:
        def job(_: StillWanted) -> Callable[[], None]:
            opened = opening(ident)
            return lambda: app_of(self).show_visit(opened)

        self.doing("taking up the visit: its settings and its walk are worked out", job, refused)

    def _ask_how(self, ident: str, error: CommissionError) -> None:
        """Offer to look at a visit that somebody else has open, or to go on with one elsewhere."""
        if not isinstance(error, HeldError | NotKeptError):
            return
        from commission.screens.panels import Choice, ChoicePanel

        choices = [Choice("look", "look at it, read-only: nothing can be entered")]
        if isinstance(error, NotKeptError):
            choices.append(Choice("copy", "go on with it in another folder"))

        def chosen(key: str | None) -> None:
            if key == "look":
                self._look_at(ident)
            elif key == "copy":
                self._copy(ident, error)

        self.app.push_screen(ChoicePanel(str(error), choices), chosen)

    def _copy(self, ident: str, error: CommissionError) -> None:
        from commission.screens.fault import FaultPanel

        goes_on_as = [ident]

        def copy(root: Path) -> None:
            goes_on_as.append(app_of(self).copy_visit(ident, root))

        def answered(answer: str | None) -> None:
            if answer:
                self._resume(goes_on_as[-1])

        what = "The whole visit is written into a folder on another disk or stick, and goes on there."
        self.app.push_screen(FaultPanel(str(error), copy, what=what), answered)


def _begun(found: VisitSummary) -> float:
    return 0.0 if found.started_at is None else found.started_at.timestamp()


def _seen_text(seen: Seen) -> str:
    """Return a site that can be visited again, or whose record a supervisor returned."""
    if seen.comments:
        count = f"{seen.comments} comment{'s' if seen.comments > 1 else ''}"
        return f"{'returned':<11} {seen.site}: {count}, visit of {seen.on}"
    return f"{'service':<11} {seen.site}, last visited {seen.on}"


def _told(found: VisitSummary) -> str:
    """Return what tells a visit from others of the site: kind, when, by whom, how far."""
    started = "" if found.started_at is None else f" of {found.started_at:%d %b %Y %H:%M}"
    count = f"{found.readings} readings" if found.readings != 1 else "1 reading"
    return ", ".join(part for part in (f"{found.kind}{started}", found.technician, count) if part)


def _visit_text(found: VisitSummary) -> str:
    held = f", open by {found.open_by}" if found.open_by else ""
    damage = f", {found.damage}" if found.damage else ""
    moved = f", went on in {found.moved_to}" if found.moved_to else ""
    word = "signed" if found.signed else "take up"
    return f"{word:<11} {found.site}  {_told(found)}{held}{damage}{moved}"
