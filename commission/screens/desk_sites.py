"""All sites, worst first, each in a sentence."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal
from textual.content import Content
from textual.widgets import Input, Static

from commission.desk.listing import SHOW, SHOWS, Wanted, site_ids, site_rows
from commission.desk.names import concern_line
from commission.desk.progress import Build, Stopped
from commission.desk.sentences import NO_SITE, site_sentence
from commission.screens.desk_app import desk_of
from commission.screens.desk_list import Line, LongList
from commission.screens.desk_page import DeskPage, Words

if TYPE_CHECKING:
    from commission.desk.index import Index, Updated

_PREVIEW = 5
"""Things that still hold at the site in view which a wide terminal shows."""
_PATH = 40
"""Letters of a folder's path that are shown."""
_BAD = 1
"""Scores up to this one are shown bold: somebody may be hurt, or a record is not what it was."""


class Sites(DeskPage):
    """Find the site that needs the supervisor most."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("f3", "filter", "filter", id="filter", tooltip="Filter: only sites with something of a kind"),
        Binding("f4", "group", "group", id="group",
                tooltip="Group by technician, chemistry, device class or instrument"),
        Binding("f5", "lists", "lists", id="lists",
                tooltip="Lists over all sites: records that wait, what was returned, accepted, put off"),
        Binding("f6", "recall", "recall", id="recall", tooltip="Recall: all sites that have something"),
        Binding("f7", "meters", "meters", id="meters", tooltip="Instruments that read otherwise than others"),
        Binding("f8", "again", "refresh", id="again", show=False, tooltip="Look for new and changed records"),
        Binding("down", "move(1)", show=False),
        Binding("up", "move(-1)", show=False),
        Binding("pagedown", "page(1)", show=False),
        Binding("pageup", "page(-1)", show=False),
        Binding("ctrl+home", "move(-100000000)", show=False),
        Binding("ctrl+end", "move(100000000)", show=False),
    ]  # fmt: skip
    AUTO_FOCUS = "#words"
    help_text = (
        "All sites of the folders that were named, worst first, each as its records tell it.\n\n"
        "  type          only sites with these words: name, place, people, serial numbers, notes\n"
        "  Up, Down      choose a site; Page up and down; ctrl+Home, ctrl+End first and last\n"
        "  Enter         open it\n"
        "  F3            only sites with something of one kind: accepted, unsigned, overdue …\n"
        "  F4            sites put together by technician, chemistry, device class, instrument\n"
        "  F5            lists over all sites: waits to be countersigned, returned, accepted, put off …\n"
        "  F6            recall: every site that has a battery, firmware, device, setting, meter\n"
        "  F7            meters that read otherwise than others of their kind\n"
        "  F8            look for new and changed records\n"
        "  Escape        all sites again\n\n"
        "The order: somebody may be hurt, or a record is not as it was sealed; returned or missing;\n"
        "out of band and nobody decided; not signed; accepted or put off; waits to be countersigned;\n"
        "something to look at; nothing but the next service.\n\n"
        "Records are read quickly for this list and not checked by it. Opening one checks its seals\n"
        "and works it out anew. The list is kept in an index, which can be thrown away at any time."
    )

    def __init__(self, wanted: Wanted | None = None, label: str = "") -> None:
        """Make the page; ``wanted`` and ``label`` name the group of sites that it is of."""
        super().__init__()
        self._group = wanted is not None
        self._wanted = wanted or Wanted()
        self._label = label
        self._ids: list[str] = []
        self._known = 0
        self._told = ""
        self._generation = 0

    def body(self) -> ComposeResult:
        with Horizontal(id="entry-line"):
            yield Static("find", id="prompt", markup=False)
            yield Words("open", placeholder="words of name, place, people, serial number, note")
            yield Static(id="shown", markup=False)
        yield LongList(id="sites")
        yield Static("", id="none", markup=False)
        yield Static("", id="in-full", markup=False)

    def on_mount(self) -> None:
        self._say_where()
        if self._group:
            self._fill()
            return
        desk = desk_of(self)
        if desk.asking(lambda index: index.usable):
            self._fill()
        else:
            self._say_none("the records are read for the first time …")
        self._bring_up()

    def on_screen_resume(self) -> None:
        if self._generation != desk_of(self).generation:  # a record was checked or answered meanwhile
            self._fill()

    # bringing the index up to date

    def _bring_up(self, *, check_all: bool = False) -> None:
        again = check_all or desk_of(self).check_all
        self.run_worker(
            lambda: self._updated(check_all=again), thread=True, group="desk-index", exclusive=True
        )

    def _updated(self, *, check_all: bool) -> None:
        desk = desk_of(self)
        build = Build(self._progress, desk.leaving)
        index = desk.updating()
        try:
            done = index.check_all(desk.now(), build) if check_all else index.update(build, wait=False)
        except Stopped:
            return
        except Exception as error:
            # whatever it is, the desk goes on with the index as it was
            text = str(error) or error.__class__.__name__
            self._back(lambda: self._not_updated(text))
            return
        finally:
            index.close()
        desk.begin_anew()
        self._back(lambda: self._fresh(done))

    def _progress(self, text: str) -> None:
        self._back(lambda: self._say_progress(text))

    def _say_progress(self, text: str) -> None:
        what, _, rest = text.partition("  ")
        self._told = f"{what} {rest.rpartition('  ')[2]}".strip()  # the bar stands in the body
        self._say_where()
        if not self._ids:
            self._say_none(text)

    def _fresh(self, done: Updated) -> None:
        self._told = ""
        if done.elsewhere:
            self.app.notify("the index is being brought up to date already; F8 looks again", timeout=8)
        self._fill()

    def _not_updated(self, text: str) -> None:
        self._told = "not up to date"
        self._say_where()
        self.cannot(f"the index could not be brought up to date: {text}")

    # the list

    def _fill(self, at: str = "") -> None:
        wanted, now = self._wanted, desk_of(self).moment()
        here = at or self._here
        self._generation = desk_of(self).generation

        def work(index: Index) -> tuple[list[str], int]:
            if not index.usable:
                return [], 0
            return site_ids(index, wanted, now), index.ask("overview", now=now)[0]["sites"]

        self.ask(work, lambda found: self._filled(*found, here), about="sites")

    def _filled(self, ids: list[str], known: int, here: str) -> None:
        same_place = ids.index(here) if here in ids else 0
        self._ids, self._known = ids, known
        self.query_one(LongList).begin(len(ids), same_place)
        self._say_where()
        if ids:
            self._say_none("")
        elif known:
            self._say_none("no site has that; Escape shows all again")
        elif not self._told:
            self._say_none("no record was found in " + ", ".join(map(str, desk_of(self).folders)))

    @on(LongList.Missing)
    def _fetch(self, event: LongList.Missing) -> None:
        event.stop()
        ids, first = self._ids[event.first : event.last], event.first
        now = desk_of(self).now()

        def put(rows: dict[str, dict[str, object]]) -> None:
            lines = [
                Line(
                    str(rows[one]["name"]) or one or NO_SITE,
                    site_sentence(rows[one], now),
                    _is_bad(rows[one]),
                )
                if one in rows
                else Line(one, "its records are gone")
                for one in ids
            ]
            if self._ids[first : first + len(ids)] == ids:
                self.query_one(LongList).put(first, lines)

        self.ask(lambda index: site_rows(index, ids), put, about="rows")

    @on(LongList.InView)
    def _in_view(self, event: LongList.InView) -> None:
        event.stop()
        site, says = self._here, self.query_one(LongList).told
        self.query_one("#in-full", Static).update(Content(says))
        if not site or not self.has_class("-wide"):
            return

        def work(index: Index) -> list[str]:
            return [concern_line(row) for row in index.ask("concerns of site", site=site, limit=_PREVIEW)]

        def show(told: list[str]) -> None:
            if site == self._here:
                self.query_one("#in-full", Static).update(Content("\n".join((says, *told))))

        self.ask(work, show, about="view")

    @property
    def _here(self) -> str:
        at = self.query_one(LongList).at
        return self._ids[at] if at < len(self._ids) else ""

    def _say_none(self, text: str) -> None:
        none = self.query_one("#none", Static)
        none.update(Content(text))
        none.display = bool(text)
        if text:
            self.query_one("#in-full", Static).update("")
        self.query_one(LongList).display = not text

    def _say_where(self) -> None:
        where = f"Desk  {self._label or _folders(desk_of(self).folders)}"
        many = f"{len(self._ids):,} of {self._known:,} sites" if self._known else ""
        self.say_where(where, self._told or many)
        shown = SHOW[self._wanted.show]
        self.query_one("#shown", Static).update(Content("" if shown.key == "all" else f"only: {shown.text}"))

    # what is typed and pressed

    def on_input_changed(self, event: Input.Changed) -> None:
        event.stop()
        self._wanted = self._wanted.narrowed(words=event.value)
        self._fill()

    def on_input_submitted(self, event: Input.Submitted) -> None:
        event.stop()
        self.action_take()

    @on(LongList.Taken)
    def _clicked(self, event: LongList.Taken) -> None:
        event.stop()
        self.action_take()

    def action_take(self) -> None:
        self.when_shown(self._take, about="sites")

    def _take(self) -> None:
        from commission.screens.desk_site import Site

        if self._ids:  # the id of what has no site is empty
            self.app.push_screen(Site(self._here))

    def action_move(self, by: int) -> None:
        self.when_shown(lambda: self.query_one(LongList).move(by), about="sites")

    def action_page(self, by: int) -> None:
        listed = self.query_one(LongList)
        self.when_shown(lambda: listed.move(by * listed.page), about="sites")

    def action_leave(self) -> None:
        if self._wanted.words or self._wanted.show != "all":
            self._wanted = self._wanted.narrowed(words="", show="all")
            with self.prevent(Input.Changed):
                self.query_one("#words", Input).value = ""
            self._fill()
        else:
            super().action_leave()

    def action_filter(self) -> None:
        from commission.screens.panels import Choice, ChoicePanel

        def chosen(key: str | None) -> None:
            if key is not None:
                self._wanted = self._wanted.narrowed(show=key)
                self._fill()

        choices = [Choice(one.key, one.text) for one in SHOWS]
        self.app.push_screen(ChoicePanel("Only sites with", choices, at=self._wanted.show), chosen)

    def action_group(self) -> None:
        if not self._ready():
            return
        from commission.desk.listing import DIMENSIONS
        from commission.screens.desk_groups import Groups
        from commission.screens.panels import Choice, ChoicePanel

        def chosen(key: str | None) -> None:
            if key is not None:
                self.app.push_screen(Groups(key))

        choices = [Choice(name, name) for name in DIMENSIONS]
        self.app.push_screen(ChoicePanel("Put sites together by", choices), chosen)

    def _ready(self) -> bool:
        """Say whether there is something to ask; else tell to wait."""
        ready = desk_of(self).asking(lambda index: index.usable)
        if not ready:
            self.app.notify("the records are still being read; this works when the list is there", timeout=6)
        return ready

    def action_lists(self) -> None:
        if not self._ready():
            return
        from commission.screens.desk_lists import ask_list

        ask_list(self)

    def action_recall(self) -> None:
        if not self._ready():
            return
        from commission.screens.desk_recall import ask_kind

        ask_kind(self.app)

    def action_meters(self) -> None:
        if not self._ready():
            return
        from commission.screens.desk_meters import Meters

        self.app.push_screen(Meters())

    def action_again(self) -> None:
        self._told = "looking for changes"
        self._say_where()
        self._bring_up()


def _is_bad(row: dict[str, object]) -> bool:
    score = row["score"]
    return isinstance(score, int) and score <= _BAD


def _folders(folders: tuple[object, ...]) -> str:
    first = str(folders[0]) if folders else ""
    if len(first) > _PATH:  # its end tells more than its beginning
        first = f"…{first[-_PATH:]}"
    return first if len(folders) < 2 else f"{first} and {len(folders) - 1} more"
