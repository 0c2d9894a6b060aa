"""Base of the pages of the desk: questions go to another thread, and only the newest answer is shown."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, ClassVar, TypeVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.command import DiscoveryHit, Hit, Hits, Provider
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.screen import Screen
from textual.widgets import Input, OptionList, Static

from commission.errors import CommissionError
from commission.screens.base import Page
from commission.screens.desk_app import desk_of
from commission.screens.rows import Row, RowList

if TYPE_CHECKING:
    from commission.desk.index import Index

Out = TypeVar("Out")


class DeskCommands(Provider):
    """What the keys of a page of the desk do, by their plain names."""

    async def discover(self) -> Hits:
        for text, key, call in self._found():
            yield DiscoveryHit(Content(text), call, text=text, help=key)

    async def search(self, query: str) -> Hits:
        matcher = self.matcher(query)
        for text, key, call in self._found():
            score = matcher.match(text)
            if score > 0:
                yield Hit(score, Content(text), call, text=text, help=key)

    def _found(self) -> list[tuple[str, str, Callable[[], object]]]:
        page = self.screen
        if not isinstance(page, DeskPage):
            return []
        return [
            (active.binding.tooltip, page.app.get_key_display(active.binding), page.call_of(active.binding))
            for active in page.active_bindings.values()
            if active.node is page and active.binding.tooltip and active.enabled
        ]


class DeskPage(Page):
    """Base of the pages of the desk."""

    COMMANDS = Screen.COMMANDS | {DeskCommands}
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("ctrl+q", "app.quit", "quit", id="quit", priority=True, show=False)
    ]

    def __init__(self) -> None:
        super().__init__()
        self._busy: set[str] = set()
        self._next: dict[str, tuple[Callable[[Index], Any], Callable[[Any], None]]] = {}
        self._after: dict[str, list[Callable[[], None]]] = {}

    def ask(self, work: Callable[[Index], Out], then: Callable[[Out], None], *, about: str = "page") -> None:
        """Ask the index on another thread and show the answer.

        Parameters
        ----------
        work
            Asks; runs on the other thread.
        then
            Shows; runs here, and only if nothing newer was asked about the same.
        about
            Questions about the same replace each other: while one is under way only the newest waits.
        """
        if about in self._busy:
            self._next[about] = work, then
            return
        self._busy.add(about)
        self.run_worker(lambda: self._asked(work, then, about), thread=True, group=f"desk-{about}")

    def _asked(self, work: Callable[[Index], Out], then: Callable[[Out], None], about: str) -> None:
        desk = desk_of(self)
        try:
            found = desk.asking(work)
        except (CommissionError, LookupError, OSError, sqlite3.Error) as error:
            text = str(error)
            self._back(lambda: self._answered(about, lambda _: self.cannot(text), None))
            return
        self._back(lambda: self._answered(about, then, found))

    def _back(self, call: Callable[[], None]) -> None:
        """Go on in the app's own thread, if the app is still there."""
        if not desk_of(self).leaving.is_set():
            self.app.call_from_thread(call)

    def _answered(self, about: str, then: Callable[[Any], None], found: Any) -> None:
        self._busy.discard(about)
        newer = self._next.pop(about, None)
        if not self.is_attached:
            return
        if newer is not None:
            self.ask(*newer, about=about)
            return
        then(found)
        for call in self._after.pop(about, []):
            call()

    def when_shown(self, call: Callable[[], None], *, about: str = "page") -> None:
        """Do something once the newest answer is shown: who types and presses Enter means what they typed."""
        if about in self._busy:
            self._after.setdefault(about, []).append(call)
        else:
            call()

    def cannot(self, text: str) -> None:
        """Say that the index could not be asked."""
        self.app.notify(text, severity="error", timeout=15, markup=False)

    def call_of(self, binding: Binding) -> Callable[[], object]:
        """Return what the palette calls for a key of this page."""
        return lambda: self.run_action(binding.action)


class Words(Input):
    """What the list is narrowed by; its Enter stands in the footer with the word of the page."""

    def __init__(self, takes: str, *, placeholder: str) -> None:
        super().__init__(id="words", placeholder=placeholder)
        self._bindings.key_to_bindings["enter"] = [Binding("enter", "submit", takes, show=True)]


class Lines(DeskPage):
    """A page that is a list of lines with a field to narrow them; what a line stands for is seen below it."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("down", "move(1)", show=False),
        Binding("up", "move(-1)", show=False),
        Binding("pagedown", "move(15)", show=False),
        Binding("pageup", "move(-15)", show=False),
        Binding("ctrl+home", "move(-1000000)", show=False),
        Binding("ctrl+end", "move(1000000)", show=False),
    ]
    AUTO_FOCUS = "#words"
    takes: ClassVar[str] = "open"
    """What Enter does, in a word."""
    finds: str = "words of a line"
    """What is told in the empty field."""
    has_state: ClassVar[bool] = False
    """Whether lines above the field say how all of it stands."""
    tells: ClassVar[bool] = False
    """Whether the line in view is told in full below the list."""

    def __init__(self) -> None:
        super().__init__()
        self._all: tuple[Row, ...] = ()

    def body(self) -> ComposeResult:
        if self.has_state:
            yield Static("", id="state", markup=False)
        yield from self.entry_line()
        if not self.tells:
            yield from self.list_and_none()
            return
        with Vertical():
            yield from self.list_and_none()
            yield Static("", id="in-full", markup=False)

    def entry_line(self) -> ComposeResult:
        """Yield the field by which the list is narrowed."""
        with Horizontal(id="entry-line"):
            yield Static("find", id="prompt", markup=False)
            yield Words(self.takes, placeholder=self.finds)

    def list_and_none(self) -> ComposeResult:
        """Yield the list, and the line that stands in its place where nothing has the words."""
        yield RowList(id="lines")
        yield Static("", id="none", markup=False)

    @property
    def listed(self) -> RowList:
        """The list."""
        return self.query_one("#lines", RowList)

    def set_lines(self, rows: list[Row], at: str = "") -> None:
        """Show other lines, as far as they have the words that were typed."""
        self._all = tuple(rows)
        self.narrow(at)

    def narrow(self, at: str = "") -> None:
        """Show those lines that have every word that was typed, and the heading of each."""
        words = self.typed.casefold().split()
        shown: list[Row] = []
        head: list[Row] = []
        for row in self._all:
            if not row.key:
                head = [row]
            elif all(word in row.text.plain.casefold() for word in words):
                shown += [*head, row]
                head = []
        self.show_rows(shown, at, none="nothing here has these words" if words else "")

    def show_rows(self, rows: list[Row], at: str = "", *, none: str = "") -> None:
        """Show rows as they are; where there are none, say so."""
        first = next((row.key for row in rows if row.key), "")
        self.listed.set_rows(rows, at or self.listed.key or first)
        if not self.listed.key and first:
            self.listed.point_at(first)
        told = none if not first else ""
        self.query_one("#none", Static).update(Content(told))
        self.query_one("#none", Static).display = bool(told)
        if not first:
            self._tell()

    @property
    def typed(self) -> str:
        """The words that were typed."""
        return self.query_one("#words", Input).value

    def in_full(self) -> str:
        """Return all that is known of the line in view."""
        return ""

    def _tell(self) -> None:
        if self.tells:
            self.query_one("#in-full", Static).update(Content(self.in_full()))

    def on_option_list_option_highlighted(self, event: OptionList.OptionHighlighted) -> None:
        event.stop()
        self._tell()

    def on_input_changed(self, event: Input.Changed) -> None:
        event.stop()
        self.narrow()

    def on_input_submitted(self, event: Input.Submitted) -> None:
        event.stop()
        self.action_take()

    def action_take(self) -> None:
        """Open what the line in view stands for."""

    def action_move(self, by: int) -> None:
        self.listed.move(by)
