"""A list of any length: only the lines in view are asked for, made and painted."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from rich.cells import set_cell_size
from rich.segment import Segment
from rich.style import Style
from textual import events
from textual.geometry import Size
from textual.message import Message
from textual.scroll_view import ScrollView
from textual.strip import Strip

from commission.screens.rows import BLANK, MARK

_AHEAD: Final = 60
"""Lines beside those in view that are asked for with them, so that a page down finds them."""
_WIDE: Final = 100
"""Cells from which names have more room."""
_NAME: Final = 20
_NAME_WIDE: Final = 30
_BOLD: Final = Style(bold=True)
_CURRENT: Final = Style(bold=True, underline=True)


@dataclass(frozen=True, slots=True)
class Line:
    """One line: who, and what has to be said."""

    head: str
    says: str
    bad: bool = False
    """Somebody may be hurt, or a record is not what it was."""


class LongList(ScrollView):
    """Lines by their number. The page moves the line in view, and hands over what is asked for."""

    class Missing(Message):
        """Some lines are in view and not there yet."""

        def __init__(self, first: int, last: int) -> None:
            super().__init__()
            self.first, self.last = first, last

    class Taken(Message):
        """A line was clicked."""

    class InView(Message):
        """Another line is in view, or what it says came."""

    def __init__(self, *, id: str) -> None:  # noqa: A002 - as every widget has it
        super().__init__(id=id)
        self.can_focus = False
        self.count = 0
        self.at = 0
        self._lines: dict[int, Line] = {}
        self._asked: tuple[int, int] = (0, 0)

    def begin(self, count: int, at: int = 0) -> None:
        """Show another list of so many lines; what was handed over before counts no more."""
        self.count, self.at = count, max(0, min(at, count - 1))
        self._lines, self._asked = {}, (0, 0)
        self.virtual_size = Size(self.size.width, count)
        self._into_view()
        self._want()
        self.refresh()

    def put(self, first: int, lines: list[Line]) -> None:
        """Take lines that were asked for."""
        if len(self._lines) > 20 * _AHEAD:
            self._lines = {}
        self._lines |= dict(enumerate(lines, first))
        self.post_message(self.InView())
        self.refresh()

    def move(self, by: int) -> None:
        """Move the line in view; it stops at both ends."""
        self.go(self.at + by)

    def go(self, to: int) -> None:
        """Bring a line into view."""
        if not self.count:
            return
        self.at = max(0, min(to, self.count - 1))
        self._into_view()
        self._want()
        self.post_message(self.InView())
        self.refresh()

    @property
    def told(self) -> str:
        """The line in view in full, empty until it is there."""
        line = self._lines.get(self.at)
        return "" if line is None else f"{line.head}: {line.says}"

    @property
    def page(self) -> int:
        """How many lines are seen at once."""
        return max(1, self.size.height - 1)

    def _into_view(self) -> None:
        top, high = round(self.scroll_y), max(1, self.size.height)
        if self.at < top:
            top = self.at
        elif self.at >= top + high:
            top = self.at - high + 1
        self.scroll_to(y=max(0, top), animate=False, immediate=True)

    def _want(self) -> None:
        """Ask for what is in view and not there, with what is around it."""
        top, high = round(self.scroll_y), max(1, self.size.height)
        seen = range(max(0, top), min(self.count, top + high))
        if all(place in self._lines for place in seen):
            return
        wanted = max(0, top - _AHEAD), min(self.count, top + high + _AHEAD)
        if wanted != self._asked:
            self._asked = wanted
            self.post_message(self.Missing(*wanted))

    def watch_scroll_y(self, old_value: float, new_value: float) -> None:
        super().watch_scroll_y(old_value, new_value)
        self._want()

    def on_resize(self, event: events.Resize) -> None:
        self.virtual_size = Size(event.size.width, self.count)
        self._into_view()
        self._want()

    def on_click(self, event: events.Click) -> None:
        place = round(self.scroll_y) + event.y
        if place < self.count:
            again = place == self.at
            self.go(place)
            if again:
                self.post_message(self.Taken())

    def render_line(self, y: int) -> Strip:
        place, width = round(self.scroll_y) + y, self.scrollable_content_region.width
        wide = _NAME if self.size.width < _WIDE else _NAME_WIDE
        ground = self.rich_style
        if place >= self.count:
            return Strip.blank(width, ground)
        line = self._lines.get(place)
        here = place == self.at
        mark = MARK if here else BLANK
        if line is None:
            return Strip([Segment(f"{mark}…".ljust(width), ground)], width)
        head = _cut(line.head, wide)
        says = _cut(line.says, max(0, width - len(mark) - wide - 2))
        style = ground + (_CURRENT if here else Style())
        first = ground + (_CURRENT if here else _BOLD if line.bad else Style())
        return Strip([Segment(f"{mark}", ground), Segment(head, first), Segment("  ", ground),
                      Segment(says, style)], width)  # fmt: skip


def _cut(text: str, width: int) -> str:
    """Return a text of exactly so many cells, with a mark where something was cut off."""
    fits = set_cell_size(text, width)
    if width > 1 and fits.rstrip() != text.rstrip() and len(text) > len(fits.rstrip()):
        return set_cell_size(text, width - 1) + "…"
    return fits
