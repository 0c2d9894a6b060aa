"""Two records side by side: only what changed."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from textual import events
from textual.app import ComposeResult
from textual.containers import Vertical
from textual.content import Content
from textual.widgets import Static

from commission.desk.compare import compare_files
from commission.desk.compare_text import Line, compared_rows
from commission.errors import CommissionError
from commission.screens.desk_page import DeskPage, Lines
from commission.screens.panels import Choice, ChoicePanel, TextPanel
from commission.screens.rows import Row, heading

if TYPE_CHECKING:
    from commission.desk.index import Index

_EDGE = 6
"""Cells that no column has: the mark, the gaps, the scroll bar."""


def compare_with_before(page: DeskPage, record: int, site: str) -> None:
    """Compare a record with the one before it at its site; ask with which, where none is before."""

    def work(index: Index) -> tuple[list[dict[str, Any]], list[Path]]:
        rows = index.ask("records of site", site=site)
        return rows, [index.file_of(row) for row in rows]

    def show(found: tuple[list[dict[str, Any]], list[Path]]) -> None:
        rows, paths = found
        places = {row["record"]: place for place, row in enumerate(rows)}
        here = places.get(record)
        if here is None or len(rows) < 2:
            page.app.notify("there is no other record of this site to compare it with", timeout=6)
            return
        visit = rows[here]["started_at"]
        earlier = [at for at in range(here + 1, len(rows)) if rows[at]["started_at"] != visit]
        others = [at for at in (*earlier, *range(len(rows))) if at != here]
        choices = [Choice(str(at), _named(rows[at])) for at in dict.fromkeys(others)]

        def chosen(key: str | None) -> None:
            if key is not None:
                first, second = sorted((int(key), here), reverse=True)  # newest stand first
                page.app.push_screen(Compare(paths[first], paths[second]))

        page.app.push_screen(ChoicePanel("Compare with", choices, at=choices[0].key), chosen)

    page.ask(work, show, about="compare")


class Compare(Lines):
    """See what changed between two records, and nothing else."""

    help_text = (
        "What is otherwise in the later record; what is alike is not shown.\n\n"
        "  type          only lines with these words\n"
        "  Enter         the whole text of the line in view\n\n"
        "! marks what is out of band now, or left otherwise than recommended. Readings whose\n"
        "verdict changed stand first; readings that only one of the two has are counted."
    )
    takes = "whole"
    tells = True

    def __init__(self, first: Path, second: Path) -> None:
        """Make the page; ``second`` is the later record."""
        super().__init__()
        self._paths = first, second
        self._changes: tuple[Line, ...] | None = None
        self._heads = ("", "")

    def body(self) -> ComposeResult:
        yield from self.entry_line()
        yield Static("the two records are read …", id="heads", markup=False)
        with Vertical():
            yield from self.list_and_none()
            yield Static("", id="in-full", markup=False)

    def on_mount(self) -> None:
        self.say_where("Compare")
        self.run_worker(self._read, thread=True, group="desk-compare")

    def _read(self) -> None:
        try:
            compared = compare_files(*self._paths)
        except CommissionError as error:
            text = str(error)
            self._back(lambda: self._cannot_read(text))
            return
        found = compared_rows(compared)
        site, _, first = compared.before.partition(" ")
        heads = first, compared.after.removeprefix(f"{site} ")
        self._back(lambda: self._found(site, found, heads))

    def _cannot_read(self, text: str) -> None:
        self.query_one("#heads", Static).update(Content(text))

    def _found(self, name: str, found: tuple[Line, ...], told: tuple[str, str]) -> None:
        self._changes, self._heads = found, told
        self.say_where(f"Compare  {name}", f"{len(found)} change{'s' if len(found) != 1 else ''}")
        self._draw()

    def on_resize(self, event: events.Resize) -> None:
        self.call_after_refresh(self._draw)

    @property
    def _columns(self) -> tuple[int, int]:
        """Width of what it is about, and of each of the two values."""
        wide = max(60, self.size.width) - _EDGE
        value = max(14, wide * 28 // 100)
        return wide - 2 * value, value

    def _draw(self) -> None:
        if self._changes is None:
            return
        what, value = self._columns
        first, second = self._heads
        self.query_one("#heads", Static).update(
            Content(f"  {'':<{what}} {_cut(first, value)} {_cut(second, value)}")
        )
        rows: list[Row] = []
        section = ""
        for at, change in enumerate(self._changes):
            if change.head != section:
                section = change.head
                rows.append(heading(section.capitalize()))
            rows.append(Row(Content(self._line(change, what, value)), f"{at}"))
        self.set_lines(rows)
        if not rows:
            self.query_one("#heads", Static).update("nothing differs between these two records")

    def _line(self, change: Line, what: int, value: int) -> str:
        if not change.before and not change.after:
            return change.what
        mark = "! " if change.worse else ""
        told = _middle_cut(f"{mark}{change.what}", what - 1)
        # the key lies beyond the edge: it can be searched for, and the whole text tells it
        beside = f"  ({change.key})" if change.key else ""
        return f"{told} {_cut(change.before or '—', value)} {_cut(change.after or '—', value)}{beside}"

    def in_full(self) -> str:
        key = self.listed.key
        return "" if not key or self._changes is None else self._changes[int(key)].text

    def action_take(self) -> None:
        if self.in_full():
            self.app.push_screen(TextPanel("In full", self.in_full()))


def _named(row: dict[str, Any]) -> str:
    return f"{row['started_text'][:10]}  {row['kind']:<13} {row['technician']}"


def _cut(text: str, width: int) -> str:
    return f"{text[: width - 1]}…" if len(text) > width else f"{text:<{width}}"


def _middle_cut(text: str, width: int) -> str:
    """Return a text of so many letters; the end stays, since it tells like readings apart."""
    if len(text) <= width:
        return f"{text:<{width}}"
    end = width * 2 // 5
    return f"{text[: width - end - 1]}…{text[-end:]}"
