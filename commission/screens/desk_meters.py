"""Instruments over all sites: the one first that reads otherwise than others of its kind."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from commission.desk.lines import day
from commission.desk.meters import MeterTold, meter_words, meters_told
from commission.desk.names import load, words_of
from commission.desk.queries import MANY
from commission.screens.desk_page import Lines
from commission.screens.rows import plain_row

if TYPE_CHECKING:
    from commission.desk.index import Index


class Meters(Lines):
    """Find a bad meter across sites."""

    help_text = (
        "Instruments that were read with at several sites. Those whose averages lie furthest from\n"
        "others of their kind are looked at closely: by how much they read more or less than the\n"
        "others at the same steps, between which shares that lies, and at how many sites. The ones\n"
        "that read otherwise, and not by chance, stand first.\n\n"
        "  type          only instruments with these words\n"
        "  Enter         what was out of band with it, over all sites\n\n"
        "A meter that lies apart may be wrong, or may have been at odd sites: have it checked before\n"
        "what it has read is believed or thrown away. Instruments without a serial number count at\n"
        "their own site only, and are not listed here."
    )
    finds = "words of an instrument"
    tells = True

    def __init__(self) -> None:
        super().__init__()
        self._full: dict[str, str] = {}

    def on_mount(self) -> None:
        self.say_where("Desk  instruments", "looked at …")
        self.ask(meters_told, self._show)

    def _show(self, found: tuple[MeterTold, ...]) -> None:
        odd = sum(1 for one in found if one.found is not None and one.found.odd)
        self.say_where("Desk  instruments", f"{odd} of {len(found):,} read otherwise")
        rows = []
        for one in found:
            words, name = meter_words(one), one.row["name"]
            kind = f", {one.row['kind']}" if one.row["label"] not in {"", one.row["kind"]} else ""
            self._full[name] = f"{one.name}{kind}: {words}"
            rows.append(plain_row(f"{one.name[:26]:<26}  {words}", name))
        self.set_lines(rows)
        if not rows:
            self.show_rows([], none="no instrument has readings enough at several sites yet")

    def in_full(self) -> str:
        return self._full.get(self.listed.key, "")

    def action_take(self) -> None:
        if self.listed.key:
            self.app.push_screen(OfMeter(self.listed.key))


class OfMeter(Lines):
    """See what was out of band with one meter, and open a record of it."""

    help_text = (
        "What was out of band with this meter, newest first, over all sites.\n\n"
        "  type          only lines with these words\n"
        "  Enter         open the record in view"
    )
    tells = True

    def __init__(self, meter: str) -> None:
        super().__init__()
        self._meter = meter
        self._full: dict[str, str] = {}
        self._subjects: dict[str, str] = {}

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
        self._full = {f"{row['record']}|{row['place']}": _reading(row) for row in rows}
        self._subjects = {f"{row['record']}|{row['place']}": row["name"] for row in rows}
        self.set_lines([plain_row(text, key) for key, text in self._full.items()])
        if not rows:
            self.show_rows([], none="nothing was out of band with it")

    def in_full(self) -> str:
        key = self.listed.key
        return f"{self._full[key]}  ({self._subjects[key]})" if key in self._full else ""

    def action_take(self) -> None:
        from commission.screens.desk_record import OneRecord

        record = self.listed.key.partition("|")[0]
        if record:
            self.app.push_screen(OneRecord(int(record), self._subjects[self.listed.key]))


def _reading(row: dict[str, Any]) -> str:
    unit = "" if row["unit"] == "1" else row["unit"]
    value = row["text"] if row["value"] is None else f"{row['value']:.5g} {unit}".strip()
    band = ""
    if row["low"] is not None and row["high"] is not None:
        judged = "" if row["compared"] is None else f"compared {row['compared']:.5g}, band "
        band = f" ({judged}{row['low']:.5g} to {row['high']:.5g})"
    where = row["site_name"] or row["site"]
    return f"{day(row['measured_at']):<10}  {where}: {words_of(row['name'])}: {value}{band}, {row['verdict']}"
