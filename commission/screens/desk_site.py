"""One site: what still holds, when it is due, its records from the newest to the first."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, ClassVar

from textual.binding import Binding, BindingType
from textual.content import Content
from textual.widgets import Static

from commission.desk.lines import due_sentence, listed_record
from commission.desk.names import concern_line, concern_text, load
from commission.desk.sentences import NO_SITE, site_sentence
from commission.screens.desk_app import desk_of
from commission.screens.desk_page import Lines
from commission.screens.rows import Row, heading, plain_row

if TYPE_CHECKING:
    from commission.desk.index import Index


@dataclass(frozen=True, slots=True)
class _Found:
    site: dict[str, Any] | None
    concerns: list[dict[str, Any]]
    due: list[dict[str, Any]]
    records: list[dict[str, Any]]
    chain: list[dict[str, Any]]


class Site(Lines):
    """See how a site stands, and open one of its records."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("f5", "compare", "compare", id="compare",
                tooltip="Compare the record in view with the one before it"),
        Binding("f6", "trend", "trend", id="trend", tooltip="Trend of a reading over the years"),
    ]  # fmt: skip
    help_text = (
        "One site: what still holds, worst first; when it is due; its records, newest first.\n\n"
        "  type          only lines with these words\n"
        "  Enter         open the record in view, or the record that a line is from\n"
        "  F5            compare the record in view with the one before it: only what changed\n"
        "  F6            trend of a reading over all visits of this site\n\n"
        "A reading that failed holds until the same is read again. What is said of the chain is\n"
        "said by the digests that each record names of the one before it."
    )

    has_state = True
    tells = True

    def __init__(self, site: str) -> None:
        super().__init__()
        self._site = site
        self._full: dict[str, str] = {}
        self._subjects: dict[str, str] = {}

    def on_screen_resume(self) -> None:
        self._ask()

    def _ask(self) -> None:
        site = self._site

        def work(index: Index) -> _Found:
            load()
            return _Found(
                next(iter(index.ask("site", site=site)), None),
                index.ask("concerns of site", site=site),
                index.ask("due at site", site=site),
                index.ask("records of site", site=site),
                index.ask("chain of site", site=site),
            )

        self.ask(work, self._show)

    def _show(self, found: _Found) -> None:
        now = desk_of(self).moment()
        if found.site is None:
            self.say_where(f"Desk  {self._site}", "no records")
            self.query_one("#state", Static).update("its records are gone; Escape goes back")
            return
        row = found.site
        what = "record" if row["records"] else "file"
        many = f"{len(found.records)} {what}{'s' if len(found.records) != 1 else ''}"
        self.say_where(f"{row['name'] or self._site or NO_SITE}  {row['place']}".rstrip(), many)
        self.query_one("#state", Static).update(Content(site_sentence(row, desk_of(self).now())))
        self.set_lines(list(self._rows(found, now)))

    def _rows(self, found: _Found, now: int) -> list[Row]:
        self._full = {}
        rows: list[Row] = []
        if found.chain:
            rows.append(heading("Chain of records"))
            when = {one["record"]: one["started_text"][:10] for one in found.records}
            for place, one in enumerate(found.chain):
                says = f"{when.get(one['record'], '')}  {one['says']}".strip()
                rows.append(plain_row(says, key := f"chain|{one['record']}|{place}"))
                self._full[key] = says
        if found.concerns:
            rows.append(heading("What still holds"))
            for place, one in enumerate(found.concerns):
                key = f"concern|{one['record']}|{place}"
                self._full[key] = f"{concern_text(one)}\n{one['started_text'][:10]}, {one['technician']}"
                self._subjects[key] = one["subject"]
                rows.append(plain_row(concern_line(one), key))
        rows.append(heading("Records, newest first"))
        for one in found.records:
            rows.append(plain_row(listed_record(one, now), key := f"record|{one['record']}|"))
            self._full[key] = one["path"]
        if found.due:
            rows.append(heading("Service"))
            rows += [plain_row(due_sentence(one, now), f"due||{one['every']}") for one in found.due]
        return rows

    def in_full(self) -> str:
        return self._full.get(self.listed.key, "")

    @property
    def _record(self) -> int | None:
        number = self.listed.key.partition("|")[2].partition("|")[0]
        return int(number) if number else None

    def action_take(self) -> None:
        from commission.screens.desk_record import OneRecord

        if self._record is not None:
            self.app.push_screen(OneRecord(self._record, self._subjects.get(self.listed.key, "")))

    def action_compare(self) -> None:
        from commission.screens.desk_compare import compare_with_before

        if self._record is not None:
            compare_with_before(self, self._record, self._site)

    def action_trend(self) -> None:
        from commission.screens.desk_trend import Trends

        self.app.push_screen(Trends(self._site))
