"""Lists over all sites: records that wait, what is odd, what was decided; each line opens its record."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from textual.widgets import Input

from commission.desk.names import load
from commission.desk.worklists import ALWAYS, BY_KEY, WORKLISTS, Worklist, counts, line_of, listed
from commission.screens.desk_app import desk_of
from commission.screens.desk_page import DeskPage, Lines
from commission.screens.panels import Choice, ChoicePanel
from commission.screens.rows import plain_row

if TYPE_CHECKING:
    from commission.desk.index import Index

_MOST: Final = 500
"""Lines that are shown at once; typing narrows all of them."""
_NAME: Final = 20
_PANEL: Final = 66
"""Cells of a line in a panel of the narrowest terminal."""


def ask_list(page: DeskPage) -> None:
    """Ask which list is wanted, each told with how many lines it has, and show it."""

    def chosen(key: str | None) -> None:
        if key is not None:
            page.app.push_screen(Listed(BY_KEY[key]))

    def show(many: dict[str, int]) -> None:
        offered = [one for one in WORKLISTS if many[one.key] or one in ALWAYS]
        choices = [Choice(one.key, _cut(f"{many[one.key]:>6,}  {one.told}")) for one in offered]
        first = next((one.key for one in WORKLISTS if many[one.key]), WORKLISTS[0].key)
        page.app.push_screen(ChoicePanel("List over all sites", choices, at=first), chosen)

    page.ask(counts, show, about="lists")


def _cut(text: str) -> str:
    return text if len(text) <= _PANEL else f"{text[: _PANEL - 1]}…"


class Listed(Lines):
    """Go through what waits or is odd, whatever site it is of."""

    help_text = (
        "A list over all sites; what has waited longest, or comes first, stands first.\n\n"
        "  type          only lines of records with these words: site, place, people, serial numbers\n"
        "  Enter         open the record in view; Escape comes back here\n\n"
        "What was answered or read again in the meantime is gone from the list when you come back."
    )
    finds = "words of site, place, people, serial number, note"
    tells = True

    def __init__(self, wanted: Worklist) -> None:
        super().__init__()
        self._wanted = wanted
        self._full: dict[str, str] = {}
        self._subjects: dict[str, str] = {}

    def on_screen_resume(self) -> None:
        self._ask()

    def on_input_changed(self, event: Input.Changed) -> None:
        event.stop()
        self._ask()

    def _ask(self) -> None:
        wanted, words = self._wanted, self.typed

        def work(index: Index) -> list[dict[str, Any]]:
            load()
            return listed(index, wanted, words, _MOST)

        self.ask(work, self._show)

    def _show(self, rows: list[dict[str, Any]]) -> None:
        many = f"{len(rows):,}" if len(rows) < _MOST else f"the first {len(rows):,}"
        self.say_where(f"Desk  {self._wanted.text}", many)
        now = desk_of(self).moment()
        shown = []
        for at, row in enumerate(rows):
            name, says = row["site_name"] or row["site"], line_of(row, now)
            shown.append(plain_row(f"{name[:_NAME]:<{_NAME}}  {says}", key := f"{row['record']}|{at}"))
            self._full[key] = f"{name}: {says}"
            self._subjects[key] = row.get("subject", "")
        self.show_rows(shown, none="nothing here has these words" if self.typed else "nothing")

    def in_full(self) -> str:
        return self._full.get(self.listed.key, "")

    def action_take(self) -> None:
        self.when_shown(self._take)

    def action_move(self, by: int) -> None:
        self.when_shown(lambda: self.listed.move(by))

    def _take(self) -> None:
        from commission.screens.desk_record import OneRecord

        record = self.listed.key.partition("|")[0]
        if record:
            self.app.push_screen(OneRecord(int(record), self._subjects[self.listed.key]))
