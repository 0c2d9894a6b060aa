"""A small plant with a hand-made sheet and walk, so that a visit can be tested by itself."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta, timezone
from functools import cache
from pathlib import Path
from random import Random
from typing import Any, TypeVar

from commission import __version__
from commission.checklist.situation import Situation
from commission.checklist.types import (
    Ask,
    Checklist,
    ConditionData,
    Expectation,
    ReadingData,
    ReadingKey,
    Stage,
    StageData,
    Step,
    StepData,
    StepKey,
)
from commission.figure import Unknown, given
from commission.plant.equipment import Ability
from commission.plant.plant import Plant
from commission.sheet.types import Finding, Setting, Sheet
from commission.visit.session import OpenVisit
from commission.visit.shelf import Holder
from commission.visit.types import Accuracy, Instrument, Judgement, Person, VisitKind
from tests.builders import plant as built

Kind = TypeVar("Kind")
ZONE = timezone(timedelta(hours=1))
NOON = datetime(2026, 11, 24, 12, 0, tzinfo=ZONE)
HOLDER = Holder(pid=4711, host="bench", user="runa")
RUNA = Person(name="Runa Feld", role="technician", licence="E-118", employer="Fell Power")


def after(minutes: float) -> datetime:
    """Return a moment some minutes after noon."""
    return NOON + timedelta(minutes=minutes)


@cache
def small_plant(units: str = "metric") -> Plant:
    """Return a plant of one bank and one inverter/charger."""
    return built(
        inverters=({"id": "inverter-1", "profile": "inverter-48v-230-5000"},),
        place={"rules": "iec-230", "units": units},
    )


def voltmeter(**fields: Any) -> Instrument:
    """Return a voltmeter of 0.05 % and two digits, of 60 V in hundredths, calibrated this year."""
    told: dict[str, Any] = {
        "id": "meter-1",
        "kind": "dc voltmeter",
        "name": "meter 1",
        "serial": "A-17",
        "calibrated": "2026-03-01",
        "ranges": (Accuracy(unit="V", up_to=60.0, percent=0.05, digits=2, resolution=0.01),),
    }
    return Instrument(**(told | fields))


def reading(name: str | None = None, **fields: Any) -> ReadingData:
    """Return what a step asks for; a voltage by voltmeter unless told otherwise."""
    told: dict[str, Any] = {
        "name": name,
        "prompt": f"the {name or 'reading'}",
        "unit": "V",
        "instrument": "dc voltmeter",
    }
    if fields.get("kind", "number") != "number":
        told |= {"unit": "", "instrument": "eye"}
    return ReadingData(**(told | fields))


def step(
    ident: str,
    *readings: ReadingData,
    parts: tuple[str, ...] = (),
    rows: int = 1,
    stands_on: tuple[StepKey, ...] = (),
    holds: tuple[StepKey, ...] = (),
    **fields: Any,
) -> Step:
    """Return a step of the walk; ``rows`` repeats readings that are a series."""
    told: dict[str, Any] = {
        "id": ident,
        "stage": 1,
        "title": ident.replace("-", " "),
        "do": "do it",
        "why": "because",
        "readings": readings or (reading(),),
        "source": "common practice",
    }
    data = StepData(**(told | fields))
    asks = tuple(ask for wanted in data.readings for ask in _asks(data, wanted, parts, rows))
    return Step(data, parts, data.title, data.do, asks, stands_on, holds=holds)


def _asks(data: StepData, wanted: ReadingData, parts: tuple[str, ...], rows: int) -> list[Ask]:
    name = f"{data.id}.{wanted.name}" if wanted.name else data.id
    count = rows if wanted.series else 1
    return [
        Ask(ReadingKey(name, parts, index), wanted, f"{wanted.prompt} {index + 1}") for index in range(count)
    ]


def walk(*steps: Step, conditions: tuple[ConditionData, ...] = ()) -> Checklist:
    """Return a walk of one stage for each stage number used."""
    stages = sorted({item.data.stage for item in steps})
    return Checklist(
        tuple(
            Stage(
                StageData(number=number, title=f"stage {number}", caution="mind the bank"),
                tuple(item for item in steps if item.data.stage == number),
            )
            for number in stages
        ),
        conditions,
    )


def setting(name: str = "absorption_voltage", value: float | str = 57.6, **fields: Any) -> Setting:
    """Return a setting of inverter 1 in tenths of a volt."""
    told: dict[str, Any] = {
        "device": "inverter-1",
        "setting": name,
        "input": None,
        "recommended": value if isinstance(value, str) else given(value, "V", name.replace("_", " ")),
        "unit": "V",
        "low": given(57.0, "V", "least"),
        "high": given(58.2, "V", "greatest"),
        "ability": Ability(unit="V", low=40.0, high=64.0, step=0.1),
    }
    return Setting(**(told | fields))


def sheet(*settings: Setting, findings: tuple[Finding, ...] = ()) -> Sheet:
    """Return a sheet with these settings and findings and nothing else known."""
    unknown = Unknown(("not asked here",), "A")
    return Sheet(settings, findings, unknown, unknown, unknown, {})


def expecting(monkeypatch: Any, name: str, judge: Callable[[Situation], Expectation]) -> None:
    """Register an expectation for one test."""
    from commission.checklist.registry import EXPECTATIONS, Named, load_words

    load_words()
    monkeypatch.setitem(EXPECTATIONS.entries, name, Named(name, "for a test", judge, "common practice"))


def begun(
    root: Path,
    checklist: Checklist,
    made: Sheet | None = None,
    *,
    kind: VisitKind = "commissioning",
    plant: Plant | None = None,
    seed: int = 1,
) -> OpenVisit:
    """Return a visit begun at noon, with its technician and one voltmeter."""
    visit = OpenVisit.start(
        root,
        plant or small_plant(),
        lambda *_: (made or sheet(), checklist),
        kind=kind,
        program=__version__,
        now=NOON,
        holder=HOLDER,
        random=Random(seed),
    )
    visit.add_person(RUNA, NOON)
    visit.add_instrument(voltmeter(), NOON)
    return visit


def resumed(
    root: Path, ident: str, checklist: Checklist, made: Sheet | None = None, holder: Holder = HOLDER
) -> OpenVisit:
    """Return a visit taken up again."""
    return OpenVisit.resume(root, ident, lambda *_: (made or sheet(), checklist), holder=holder)


def known(value: Kind | None) -> Kind:
    """Return what must be there."""
    assert value is not None
    return value


def verdict_now(visit: OpenVisit, ident: str) -> Judgement:
    """Return the verdict that holds for the only reading of a step."""
    return known(known(visit.current(ReadingKey(ident))).judgement)


def verdicts(visit: OpenVisit, ident: str) -> list[str]:
    """Return all verdicts that the only reading of a step has had, superseded ones first."""
    return [known(item.judgement).verdict for item in visit.history(ReadingKey(ident))]
