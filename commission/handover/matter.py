"""What a handover document is made from: a record, and the records of the site before it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cached_property
from pathlib import Path
from typing import Final

from commission.checklist.types import Ask, Checklist, ReadingKey, Step, StepKey
from commission.desk.names import setting_words, step_words, words_of
from commission.plain_records import reading_text
from commission.plant.plant import Plant
from commission.prepare import prepare_visit
from commission.records.earlier import Held, SiteRecords, earlier_readings, site_records
from commission.records.types import Record, SettingRow
from commission.revisit.offer import Offer
from commission.sheet.types import Sheet
from commission.visit.changes import SIGNS
from commission.visit.service import service_now
from commission.visit.settings import device_number
from commission.visit.standing import step_text
from commission.visit.state import Readings
from commission.visit.types import EarlierReading, Reading, Service, Visit

_DIGITS: Final = 6
"""That any meter has, and more than any computed number is worth."""
_SHORT: Final = 12
"""First digits of a digest: enough to tell records of one site apart by eye."""


@dataclass(frozen=True)
class Matter:
    """A record with what stands beside it, in the words of its own plant."""

    held: Held
    offer: Offer
    """What the next visit would find; its dates and what is put off are taken from there."""

    @property
    def record(self) -> Record:
        """The record that is told."""
        return self.held.record

    @property
    def visit(self) -> Visit:
        """Its visit."""
        return self.record.visit

    @property
    def plant(self) -> Plant:
        """Its plant."""
        return self.record.plant

    @property
    def sheet(self) -> Sheet:
        """The settings of its plant."""
        return self.offer.sheet

    @property
    def whole(self) -> Checklist:
        """The whole walk of its plant."""
        return self.offer.whole

    @property
    def before(self) -> SiteRecords:
        """The records before it that lie beside it."""
        return replace(self.offer.records, records=self.offer.records.records[:-1])

    @cached_property
    def service(self) -> Service | None:
        """Why the plant was visited again, with what was changed during the visit."""
        return service_now(self.visit)

    @cached_property
    def readings(self) -> tuple[Reading, ...]:
        """The readings that hold."""
        return Readings(self.visit.readings, self.visit.plant_changes).all_current()

    @property
    def earlier(self) -> tuple[EarlierReading, ...]:
        """Baseline and last value of the readings, as the record holds them."""
        return () if self.service is None else self.service.earlier

    @property
    def gap(self) -> bool:
        """Whether the record of the visit before is not beside this one."""
        known = {held.record.visit.id for held in self.before.records}
        return self.service is not None and self.service.previous_visit not in known

    @cached_property
    def begun(self) -> tuple[EarlierReading, ...]:
        """Baselines that began with this visit, as later visits will find them."""
        new = None if self.service is None else set(self.service.changed)
        read = {
            reading.key: self.whole.asks[reading.key][1]
            for reading in self.readings
            if reading.key in self.whole.asks and (new is None or not new.isdisjoint(reading.key.parts))
        }
        return tuple(earlier_readings(self.offer.records, self.whole, read)) if read else ()

    @cached_property
    def kept(self) -> dict[ReadingKey, EarlierReading]:
        """The baselines that these follow, as the records before hold them."""
        asks = {row.key: self.whole.asks[row.key][1] for row in self.begun}
        if not asks or not self.before.records:
            return {}
        return {row.key: row for row in earlier_readings(self.before, self.whole, asks) if row.baseline}

    @cached_property
    def _labels(self) -> dict[str, str]:
        return {device.id: device.label for device in self.plant.devices}

    def reading(self, key: ReadingKey) -> str:
        """Return what a reading is called in the walk of this plant."""
        return ", ".join(told for told in self.place(key) if told)

    def place(self, key: ReadingKey) -> tuple[str, str]:
        """Return what a reading's step is called, and which of its readings it is where there are several."""
        found = self.whole.asks.get(key)
        if found is None:
            return words_of(str(key)), ""
        step, ask = found
        return step.title, "" if len(step.asks) == 1 else ask.label

    def step(self, key: StepKey) -> str:
        """Return what a step is called in the walk of this plant."""
        return self._steps.get(step_text(key)) or step_words(*key)

    def subject(self, named: str) -> tuple[str, str]:
        """Return what a disposition is about: a finding, step or setting, and the reading of a step."""
        finding = next((row.text for row in self.record.findings if row.id == named), None)
        if finding is not None:
            return finding, ""
        found = self._asks.get(named)
        if found is not None and len(found[0].asks) > 1:
            return found[0].title, found[1].label
        if named in self._steps:
            return self._steps[named], ""
        return (words_of(named) if "@" in named else setting_words(named)), ""

    @cached_property
    def _steps(self) -> dict[str, str]:
        single = {str(key): step.title for key, (step, _) in self.whole.asks.items() if len(step.asks) == 1}
        return single | {step_text(step.key): step.title for step in self.whole.steps}

    @cached_property
    def _asks(self) -> dict[str, tuple[Step, Ask]]:
        return {str(key): pair for key, pair in self.whole.asks.items()}

    def setting(self, row: SettingRow) -> str:
        """Return what a setting is called: its device, and the setting in words."""
        words = row.setting.replace("_", " ")
        where = f" ({row.input})" if row.input else ""
        return f"{self._labels.get(row.device, row.device)}: {words}{where}"

    def setting_value(self, row: SettingRow, value: float | str | None, text: str = "") -> str:
        """Return a value of a setting as the settings page shows it; a dash where it is not known."""
        if value is None:
            return "–"
        setting = self.sheet.setting(row.device, row.setting, row.input)
        if setting is not None and not isinstance(value, str):
            return device_number(value, setting, self.plant.site.site.units)
        return text or str(value)


def matter_of(path: Path) -> Matter:
    """Return what a document about a record is made from.

    Raises
    ------
    CommissionError
        If it is no intact, signed record: nothing is printed that somebody may have changed.
    """
    found = site_records(path)
    held = found.newest
    visit, plant = held.record.visit, held.record.plant
    sheet, whole = prepare_visit(plant, "commissioning", visit.checklists)
    offer = Offer(plant, sheet, whole, visit.checklists, found, visit.started_at.date(), None)
    return Matter(held, offer)


# numbers and digests, as they are printed


def exact(value: float) -> str:
    """Return a number with the digits that it was read with, six at most."""
    if value in {float("inf"), float("-inf")}:
        return "over range" if value > 0 else "under range"
    rounded = Decimal(f"{value:.{_DIGITS}g}")
    text = f"{rounded:f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text in {"-0", ""} else text.replace("-", "−")


def with_unit(text: str, unit: str) -> str:
    """Return a number with its unit; a pure number has none."""
    return text if unit in {"", "1"} else f"{text} {unit}"


def earlier_text(before: EarlierReading) -> str:
    """Return an earlier reading with its sign and unit: ``> 550 MΩ``."""
    return f"{SIGNS[before.side]}{with_unit(exact(before.value), before.unit)}"


def typed(reading: Reading) -> str:
    """Return a reading as it was typed, with its unit and a true minus sign."""
    text = reading_text(reading)
    return f"−{text[1:]}" if reading.kind == "number" and text.startswith("-") else text


def short(digest: str) -> str:
    """Return the first digits of a digest."""
    digits = digest.rpartition(":")[2]
    return f"{digits[:_SHORT]}…" if digits else "not told"
