"""Instruments over all sites: the one first that reads otherwise than others of its kind."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from textual.widgets import Static

from commission.desk.lines import day, meter_sentence
from commission.desk.names import load, words_of
from commission.desk.queries import MANY
from commission.screens.desk_page import Lines
from commission.screens.rows import plain_row

if TYPE_CHECKING:
    from commission.desk.index import Index


class Meters(Lines):
    """Find a bad meter across sites."""

    help_text = (
        "Every instrument with its readings from all sites. How far its readings lie from the middle\n"
        "of their bands is held beside all others of its kind; the one furthest away stands first.\n\n"
        "  type          only instruments with these words\n"
        "  Enter         what was out of band with it, over all sites\n\n"
        "A meter that lies apart may be wrong, or may have been at odd sites: have it checked before\n"
        "what it has read is believed or thrown away. Instruments without a serial number count at\n"
        "their own site only."
    )

    finds = "words of an instrument"
    tells = True

    def on_mount(self) -> None:
        self.say_where("Desk  instruments")
        self.ask(lambda index: index.ask("meters"), self._show)

    def _show(self, rows: list[dict[str, Any]]) -> None:
        self.say_where("Desk  instruments", f"{len(rows):,} with readings enough")
        self._full = {row["name"]: f"{row['label']}, {row['kind']}: {meter_sentence(row)}" for row in rows}
        self.set_lines([plain_row(f"{_label(row):<30}  {meter_sentence(row)}", row["name"]) for row in rows])
        if not rows:
            none = self.query_one("#none", Static)
            none.update("no instrument has ten readings with a band yet")
            none.display = True

    def in_full(self) -> str:
        return self._full.get(self.listed.key, "")

    def action_take(self) -> None:
        if self.listed.key:
            self.app.push_screen(OfMeter(self.listed.key))


def _label(row: dict[str, Any]) -> str:
    return f"{row['label'] or row['kind']} {row['name']}"[:30]


class OfMeter(Lines):
    """See what was out of band with one meter, and open a record of it."""

    help_text = (
        "What was out of band with this meter, newest first, over all sites.\n\n"
        "  type          only lines with these words\n"
        "  Enter         open the record in view"
    )

    def __init__(self, meter: str) -> None:
        super().__init__()
        self._meter = meter

    def on_mount(self) -> None:
        self.say_where(f"Desk  instrument {self._meter}")

        def work(index: Index) -> list[dict[str, Any]]:
            load()
            return index.ask("readings of meter", meter=self._meter)

        self.ask(work, self._show)

    def _show(self, rows: list[dict[str, Any]]) -> None:
        sites = len({row["site"] for row in rows})
        many = f"{len(rows):,}" if len(rows) < MANY else f"the newest {len(rows):,}"
        self.say_where(f"Desk  instrument {self._meter}", f"{many} out of band at {sites:,} sites")
        self.set_lines(
            [plain_row(_reading(row), f"{row['record']}|{row['place']}") for row in rows]
            or [plain_row("nothing was out of band with it", "")]
        )

    def action_take(self) -> None:
        from commission.screens.desk_record import OneRecord

        record = self.listed.key.partition("|")[0]
        if record:
            self.app.push_screen(OneRecord(int(record)))


def _reading(row: dict[str, Any]) -> str:
    unit = "" if row["unit"] == "1" else row["unit"]
    value = row["text"] if row["value"] is None else f"{row['value']:.5g} {unit}".strip()
    band = ""
    if row["low"] is not None and row["high"] is not None:
        judged = "" if row["compared"] is None else f"compared {row['compared']:.5g}, band "
        band = f" ({judged}{row['low']:.5g} to {row['high']:.5g})"
    where = row["site_name"] or row["site"]
    return f"{day(row['measured_at']):<10}  {where}: {words_of(row['name'])}: {value}{band}, {row['verdict']}"
