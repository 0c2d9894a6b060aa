"""Panels over a screen, which keep what was typed in it: why, help, one line of text, a choice."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.await_complete import AwaitComplete
from textual.binding import Binding, BindingType
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.screen import ModalScreen
from textual.widgets import Input, Static

from commission.errors import CommissionError
from commission.figure import WhyLine
from commission.screens.own_app import app_of
from commission.screens.reflow import reflowed
from commission.screens.rows import RowList, plain_row
from commission.units import plain


def lineage(lines: Sequence[WhyLine]) -> Content:
    """Return a lineage as a person would tell it: the result first, then 'because', then the source."""
    made: list[Content] = []
    for line in lines:
        inset = "  " * line.depth
        number = "" if line.value is None else f"{plain(line.value)} {line.unit}".removesuffix(" 1").strip()
        head = (
            Content.from_markup("$i[b]$n[/b]  $t", i=inset, n=number, t=line.text)
            if number
            else Content(f"{inset}{line.text}")
        )
        made.append(head)
        if line.because:
            made.append(Content.from_markup("$i    because  $t", i=inset, t=line.because))
        if line.source:
            made.append(Content.from_markup("$i    [dim]$t[/dim]", i=inset, t=line.source))
    return Content("\n").join(made)


class Panel(ModalScreen[str | None]):
    """Base of the panels: Escape leaves without an answer."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "leave", "back", show=False)]

    def __init__(self) -> None:
        super().__init__()
        self._answered = False

    def dismiss(self, result: str | None = None) -> AwaitComplete:
        """Answer once: of two Enters that were typed ahead the second finds the panel gone already."""
        if self._answered:
            return AwaitComplete(_nothing())
        self._answered = True
        return super().dismiss(result)

    def action_leave(self) -> None:
        self.dismiss(None)


async def _nothing() -> None:
    """Wait for nothing."""


class WhyPanel(Panel):
    """The lineage of the number in view."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("f2", "leave", "back", show=False)]

    def __init__(self, title: str, lines: Sequence[WhyLine], *, before: str = "") -> None:
        """Make the panel; ``before`` is told above the lineage."""
        super().__init__()
        self._title = title
        self._lines = lines
        self._before = before

    def compose(self) -> ComposeResult:
        with Vertical(classes="panel"):
            yield Static(self._title, classes="panel-title", markup=False)
            with VerticalScroll():
                if self._before:
                    yield Static(f"{self._before}\n", markup=False)
                yield Static(lineage(self._lines))
            yield Static("Escape: back", classes="panel-foot", markup=False)


class TextPanel(Panel):
    """Why something is asked, in words: there is no number to trace."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("f2", "leave", "back", show=False)]

    def __init__(self, title: str, text: str) -> None:
        super().__init__()
        self._title = title
        self._text = text

    def compose(self) -> ComposeResult:
        with Vertical(classes="panel"):
            yield Static(self._title, classes="panel-title", markup=False)
            with VerticalScroll():
                yield Static(self._text, markup=False)
            yield Static("Escape: back", classes="panel-foot", markup=False)


class HelpPanel(TextPanel):
    """What the person does here, which keys serve, and the words of open standards for ours."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("f1", "leave", "back", show=False)]

    def __init__(self, text: str) -> None:
        super().__init__("Help", text + COMMON_HELP)

    def on_mount(self) -> None:
        self.call_after_refresh(self._fill)

    def on_resize(self) -> None:
        self.call_after_refresh(self._fill)

    def _fill(self) -> None:
        told = self.query_one("VerticalScroll Static", Static)
        told.update(Content(reflowed(self._text, told.size.width)))


COMMON_HELP = """

Everywhere
  Escape        back one level
  ctrl+p        every action by its name
  ctrl+q        quit; nothing entered is lost

Typing numbers
  13.2  13,2  13.2V  1320mV  77F  2 h 30  are understood; OL, >999 and <0.1 too.
  What cannot be understood stays where you typed it, and the line below says why.

Words of open standards for ours
  absorption    boost charge (IEC 62509), main charge
  float         float charge (IEC 60050-482)
  equalise      equalisation charge (IEC 60050-482, IEEE 450)
  load disconnect, load reconnect    as in IEC 62509
  end current   finishing current, end-of-charge current

The program advises. The maker's instructions, the local code and licensed people
prevail. Never work live where dead is possible.
"""


class LinePanel(Panel):
    """Asks for one line of text: a note, a reason, a name. What is refused stays as it was typed."""

    def __init__(
        self,
        title: str,
        what: str,
        *,
        value: str = "",
        may_be_empty: bool = False,
        keep: Callable[[str], None] | None = None,
    ) -> None:
        """Make the panel; ``keep`` takes what was typed, or raises a CommissionError that says why not."""
        super().__init__()
        self._take = keep
        self._title = title
        self._what = what
        self._value = value
        self._may_be_empty = may_be_empty

    def compose(self) -> ComposeResult:
        with Vertical(classes="panel small"):
            yield Static(self._title, classes="panel-title", markup=False)
            yield Static(self._what, markup=False)
            yield Input(value=self._value, id="line", select_on_focus=False)
            yield Static("", id="line-said", markup=False)
            yield Static("Enter: keep   Escape: back", classes="panel-foot", markup=False)

    @on(Input.Submitted, "#line")
    def _keep(self, event: Input.Submitted) -> None:
        event.stop()
        text = event.value.strip()
        if text or self._may_be_empty:
            self._give(text)
        else:
            self.query_one(".panel-foot", Static).update(Content("A few words are wanted, or Escape"))

    def _give(self, text: str) -> None:
        try:
            if self._take is not None:
                self._take(text)
        except CommissionError as error:
            self.query_one("#line-said", Static).update(Content(str(error)))
            app_of(self).offer_storage(error, lambda: self._give(text))
            return
        self.dismiss(text)


@dataclass(frozen=True, slots=True)
class Choice:
    """One line that can be chosen."""

    key: str
    text: str
    words: str = ""
    """What else it is found by when the list is narrowed."""


class ChoicePanel(Panel):
    """A list to choose from; typing narrows it."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("down", "move(1)", show=False),
        Binding("up", "move(-1)", show=False),
        Binding("pagedown", "move(10)", show=False),
        Binding("pageup", "move(-10)", show=False),
    ]

    def __init__(
        self,
        title: str,
        choices: Sequence[Choice],
        *,
        at: str = "",
        none: str = "nothing in this list has these words",
    ) -> None:
        """Make the panel; ``none`` is said where nothing is left after narrowing."""
        super().__init__()
        self._none = none
        self._title = title
        self._choices = tuple(choices)
        self._at = at

    def compose(self) -> ComposeResult:
        with Vertical(classes="panel"):
            yield Static(self._title, classes="panel-title", markup=False)
            yield Input(placeholder="type to narrow", id="narrow")
            yield RowList(id="choices")
            yield Static(self._none, id="none", markup=False)
            yield Static("Enter: take   Escape: back", classes="panel-foot", markup=False)

    def on_mount(self) -> None:
        self._fill(self._choices, at=self._at)

    def _fill(self, choices: Sequence[Choice], at: str = "") -> None:
        listed = self.query_one("#choices", RowList)
        shown = [plain_row(choice.text, choice.key) for choice in choices]
        listed.set_rows(shown, at or next((row.key for row in shown), ""))
        self.query_one("#none", Static).display = not shown

    @on(Input.Changed, "#narrow")
    def _narrow(self, event: Input.Changed) -> None:
        words = event.value.lower().split()
        seen = [choice for choice in self._choices if _has(choice.text, words)]
        known = {choice.key for choice in seen}
        beside = (choice for choice in self._choices if choice.key not in known)
        self._fill([*seen, *(choice for choice in beside if _has(f"{choice.text} {choice.words}", words))])

    @on(Input.Submitted, "#narrow")
    def _take(self, event: Input.Submitted) -> None:
        event.stop()
        key = self.query_one("#choices", RowList).key
        if key:
            self.dismiss(key)

    def action_move(self, by: int) -> None:
        self.query_one("#choices", RowList).move(by)


def _has(text: str, words: Sequence[str]) -> bool:
    return all(word in text.lower() for word in words)
