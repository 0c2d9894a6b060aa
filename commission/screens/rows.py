"""A list of lines under which an input stays focused: the line in view is marked without colour."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar, Final

from textual.binding import Binding, BindingType
from textual.content import Content
from textual.widgets import OptionList
from textual.widgets.option_list import Option

MARK: Final = "▶ "
BLANK: Final = "  "
_NARROWEST: Final = 20
"""Cells under which nothing is wrapped: the list has no size yet."""


@dataclass(frozen=True, slots=True)
class Row:
    """One line; without a key it is a heading and is passed over."""

    text: Content
    key: str = ""


def plain_row(text: str, key: str) -> Row:
    """Return a line of plain text."""
    return Row(Content(text), key)


def heading(text: str) -> Row:
    """Return a line that heads others."""
    return Row(Content.from_markup("[b]$t[/b]", t=text))


class RowList(OptionList):
    """One-line rows by key. An input may keep the focus; the page then moves the line with ``move``."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("enter", "select", "take", show=True)]

    def __init__(self, *, id: str, takes_focus: bool = False) -> None:  # noqa: A002 - as every widget has it
        super().__init__(id=id, markup=False)
        self.can_focus = takes_focus
        self._rows: tuple[Row, ...] = ()
        self._marked: int | None = None

    def set_rows(self, rows: Sequence[Row], at: str = "") -> None:
        """Show rows anew; the line in view stays on its key, or near where it was."""
        wanted, near = at or self.key, self.highlighted or 0
        self._rows, self._marked = tuple(rows), None
        self.set_options(Option(self._prompt(row), disabled=not row.key) for row in rows)
        if not self.point_at(wanted):
            self._go(near)

    @property
    def key(self) -> str:
        """Key of the line in view, empty where there is none."""
        at = self.highlighted
        return self._rows[at].key if at is not None and at < len(self._rows) else ""

    def point_at(self, key: str) -> bool:
        """Bring a key's line into view; says whether there is such a line."""
        place = next((at for at, row in enumerate(self._rows) if row.key and row.key == key), None)
        if place is not None:
            self.highlighted = place
        return place is not None

    def move(self, by: int) -> None:
        """Move the line in view; it stops at both ends."""
        places = [at for at, row in enumerate(self._rows) if row.key]
        if places:
            here = self.highlighted if self.highlighted in places else places[0]
            self.highlighted = places[max(0, min(len(places) - 1, places.index(here) + by))]
        if self.highlighted == next(iter(places), None):
            self.scroll_home(animate=False)  # so that the heading above is seen again

    def _go(self, near: int) -> None:
        places = [at for at, row in enumerate(self._rows) if row.key]
        self.highlighted = min(places, key=lambda at: abs(at - near), default=None)

    def watch_highlighted(self, highlighted: int | None) -> None:
        for at, mark in ((self._marked, BLANK), (highlighted, MARK)):
            if at is not None and at < len(self._rows):
                self.replace_option_prompt_at_index(at, self._prompt(self._rows[at], mark))
        self._marked = highlighted
        super().watch_highlighted(highlighted)

    def _prompt(self, row: Row, mark: str = BLANK) -> Content:
        return Content(mark) + row.text if row.key else row.text


class WholeRowList(RowList):
    """Rows that stand whole, however long: what does not fit goes on below, under where the text begins."""

    def on_resize(self) -> None:
        """Wrap anew for the width that there is now."""
        for at, row in enumerate(self._rows):
            self.replace_option_prompt_at_index(at, self._prompt(row, MARK if at == self._marked else BLANK))

    def _prompt(self, row: Row, mark: str = BLANK) -> Content:
        room = self.size.width - len(BLANK) - self.styles.scrollbar_size_vertical
        if not row.key or row.text.cell_length <= room or room < _NARROWEST:
            return super()._prompt(row, mark)
        first, *more = row.text.wrap(room)
        return Content(f"\n{BLANK}").join([Content(mark) + first, *more])
