"""The life of one invented plant: its visits, made by the program itself, as moulds of records."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from functools import cache
from pathlib import Path
from random import Random
from typing import Any, Final, TypeAlias

from commission import __version__
from commission.checklist.types import Checklist, InstrumentKind
from commission.desk.practice.ageing import Ageing, drawn
from commission.desk.practice.returns import DAYS, Answer, doubt
from commission.desk.practice.technician import Clock, Day, Technician, kit_of
from commission.desk.returns import settling
from commission.plant.files import load_plant
from commission.plant.places import data_folder
from commission.plant.plant import Plant
from commission.prepare import prepare_visit
from commission.records.canonical import DIGEST
from commission.records.earlier import Held, SiteRecords, service_of
from commission.records.migrate import RECORDS
from commission.records.rows import finding_rows
from commission.records.seals import Comment
from commission.records.twins import Mould, Sealing, last_digest, mould_of, twin
from commission.records.types import Header, Record
from commission.records.verify import verify_bytes
from commission.records.write import record_content
from commission.revisit.returned import returned_of
from commission.sheet.types import Sheet
from commission.visit import events
from commission.visit.digest import plant_digest, walk_digest
from commission.visit.journal import InMemory
from commission.visit.service import walk_of_service
from commission.visit.session import OpenVisit
from commission.visit.state import opened
from commission.visit.types import Person, Service, Visit, VisitKind

KINDS: Final[Mapping[str, tuple[float, float]]] = {
    "mast": (4.0, 60.0),
    "hut": (1.4, 60.0),
    "beacon": (0.9, 70.0),
    "relay": (1.0, 60.0),
}
"""Kinds of plant, each a site file in ``profiles/practice``: ohmic value [mΩ] and joint [µΩ] when new."""
OFTEN: Final = ("mast", "relay", "mast", "hut", "mast", "relay", "mast", "beacon")
"""In which proportion the kinds stand in a fleet."""
YEAR: Final = timedelta(days=365)
_LETTERS: Final = "abcdefghijklmnopqrstuvwxyz234567"
_NAMED: Final = "zz-mould"
_TITLE, _PLACE = "Zz Mould", "Zz Moulded Place"
_NAMES: Final = (_NAMED, _TITLE, _PLACE)
CALM: Final = 4.0
HASTY: Final = 0.5
SUPERVISOR: Final = "Imke Sorrel"
ANSWERED: Final = timedelta(days=3)
"""After how many days a supervisor answers."""
_COUNTERSIGNED: Final = 0.8
"""Share of the records that are countersigned, of those that are not returned."""
OLD_FIRMWARE, NEW_FIRMWARE, WRONG_FIRMWARE = "2.4", "2.6", "2.5"


@dataclass(frozen=True, slots=True)
class Crew:
    """A technician of the fleet, with the kit that goes along."""

    name: str
    kit: str
    """Serial numbers begin with it."""
    meters: Mapping[InstrumentKind, float] = field(default_factory=dict)
    """Share by which a kind of meter shows too much; nothing of a good kit."""
    pace: float = CALM
    """Seconds from one look at the clock to the next; a reading takes two or three."""


@dataclass(frozen=True, slots=True)
class Plan:
    """What happens in a life, drawn before it is lived."""

    kind: str
    years: int
    seed: int
    crew: Crew
    replaced: int = 0
    """Visit at which the battery is replaced; 0: never."""
    missing: int = 0
    """Visit whose record is lost; 0: none."""
    skipped: bool = False
    """The last visit was never made, so that the plant is overdue."""
    unsigned: bool = False
    """The last visit was not signed off."""
    firmware: str = OLD_FIRMWARE
    """From the third visit on."""
    returns: Mapping[int, Answer] = field(default_factory=dict)
    """Visits that are returned, and how each is answered."""


@dataclass(frozen=True, slots=True)
class Made:
    """One visit of a life."""

    kind: VisitKind
    on: date
    letters: str
    mould: Mould
    digest: str
    """Of its last seal, as the next record of the mould names it."""
    truth: dict[str, Any]
    place: int
    """Years after the commissioning at which it was due."""
    answers: tuple[str, ...] = ()
    """Letters of the returned visits that it answers: puts right, or settles by its countersign."""
    puts_right: bool = False


Life: TypeAlias = "tuple[Plan, tuple[Made, ...], dict[str, Any]]"


@dataclass(frozen=True)
class _Known:
    """A kind of plant with all that is worked out once."""

    plant: Plant
    sheet: Sheet
    whole: Checklist


@cache
def known_kind(kind: str) -> _Known:
    """Return a kind of plant with its sheet and whole walk."""
    plant = load_plant(data_folder("profiles") / "practice" / f"{kind}.toml").plant
    sheet, whole = prepare_visit(plant, "commissioning", ())
    return _Known(plant, sheet, whole)


def plant_named(kind: str, ident: str, name: str, place: str) -> Plant:
    """Return the plant of a kind as it stands at a site."""
    plant = known_kind(kind).plant
    about = plant.site.site.model_copy(update={"id": ident, "name": name, "place": place})
    return plant.model_copy(update={"site": plant.site.model_copy(update={"site": about})})


class Liver:
    """Lives through one plan, visit by visit."""

    def __init__(self, plan: Plan) -> None:
        self._plan = plan
        self._random = Random(plan.seed)  # noqa: S311 - an exercise, not a secret
        self._known = known_kind(plan.kind)
        self._plant = plant_named(plan.kind, _NAMED, _TITLE, _PLACE)
        self._digest = DIGEST + plant_digest(self._plant)
        self._ageing = drawn(self._random, *KINDS[plan.kind])
        self._began = self._bank_began = datetime(2001, 4, 2, 8, tzinfo=UTC)
        self._held: list[Held] = []
        self._unsettled: list[str] = []
        self._laws: list[dict[str, Any]] = [{"from": 0, **self._ageing.told()}]

    def live(self) -> Life:
        """Return every visit of the life; the last is at most a year before its day of today."""
        plan = self._plan
        made = []
        for place in range(plan.years + 1 - plan.skipped):
            made.append(self._visit(place))
            if plan.returns.get(place) == "put right":
                made.append(self._put_right(place))
        return plan, tuple(made), {"laws": self._laws}

    def _visit(self, place: int) -> Made:
        at = self._began + place * YEAR + timedelta(days=self._random.randrange(-12, 13) if place else 0)
        if place and place == self._plan.replaced:
            self._bank_began = at
            self._ageing = drawn(self._random, *KINDS[self._plan.kind])
            self._laws.append({"from": place, **self._ageing.told()})
        service = self._service(place) if place else None
        visit, truth = self._walked(place, at, service)
        seals, settled = self._seals(visit, place)
        return self._made(visit, seals, truth, place=place, answers=settled)

    def _put_right(self, place: int) -> Made:
        """Return the visit that puts the last one right, some weeks after it was returned."""
        service = self._correction()
        later = ANSWERED + timedelta(days=self._random.choice(DAYS))
        at = self._held[-1].record.visit.started_at + later
        visit, truth = self._walked(place, at, service)
        seals, settled = self._seals(visit, place, again=True)
        answers = (service.previous_visit.rpartition("-")[2], *settled)
        return self._made(visit, seals, truth, place=place, answers=answers, puts_right=True)

    def _made(
        self,
        visit: Visit,
        seals: tuple[Sealing, ...],
        truth: dict[str, Any],
        *,
        place: int,
        answers: tuple[str, ...],
        puts_right: bool = False,
    ) -> Made:
        previous = self._held[-1].digest if self._held else ""
        above, data = record_content(visit, self._plant, self._known.sheet, previous=previous)
        names = (*_NAMES, self._digest, *(held.digest for held in self._held))
        mould = mould_of(above, data, seals, names)
        whole = twin(mould, {}, timedelta())
        digest = last_digest(whole)
        if visit.sign_off is not None:
            header = Header.model_validate(data["header"])
            found = finding_rows(self._known.sheet, visit)
            record = Record(header, self._plant, visit, (), found, RECORDS.newest, header.plant_digest)
            states = verify_bytes(whole).seals if seals[-1].says == "returned" else ()
            self._held.append(Held(Path(f"{visit.id}.toml"), record, digest, states))
        letters, on = visit.id.rpartition("-")[2], visit.started_at.date()
        return Made(visit.kind, on, letters, mould, digest, truth, place, answers, puts_right)

    def _walked(self, place: int, at: datetime, service: Service | None) -> tuple[Visit, dict[str, Any]]:
        plan, known = self._plan, self._known
        kind: VisitKind = "service" if place else "commissioning"
        walk = known.whole if service is None else walk_of_service(known.whole, self._plant, service)
        letters = "".join(self._random.choice(_LETTERS) for _ in range(4))
        begun = events.Opened(
            at=at, id=f"{_NAMED}-{at:%Y-%m-%d}-{kind}-{letters}", site=_NAMED, kind=kind, program=__version__,
            plant=self._plant, walk=walk_digest(walk), service=service,
        )  # fmt: skip
        visit = OpenVisit(self._plant, known.sheet, walk, opened(begun), InMemory())
        clock = Clock(at, plan.crew.pace, self._random)
        self._there(visit, at, clock)
        day = self._day(at)
        technician = Technician(visit, day, clock, name=plan.crew.name, second=SUPERVISOR)
        technician.walk()
        firmware = plan.firmware if place >= 2 else OLD_FIRMWARE
        wrong = ("float_voltage", -0.4) if firmware == WRONG_FIRMWARE else None
        if service is None or service.returned is None:
            technician.settle(firmware, wrong=wrong)
        else:
            technician.settle_steps()
        if not (plan.unsigned and place == plan.years - plan.skipped and place):
            technician.sign()
        return visit.visit, self._truth(day, firmware)

    def _there(self, visit: OpenVisit, at: datetime, clock: Clock) -> None:
        """Say who is there, and with which meters."""
        crew = self._plan.crew
        visit.add_person(Person(name=crew.name, role="technician", licence="E-1042"), clock())
        visit.add_person(Person(name=SUPERVISOR, role="supervisor", licence="S-77"), clock())
        for instrument in kit_of(crew.kit, at):
            visit.add_instrument(instrument, clock())

    def _service(self, place: int) -> Service:
        records = SiteRecords(_NAMED, tuple(self._held))
        new = ("string-a",) if place == self._plan.replaced else ()
        return service_of(
            records, self._plant, self._known.whole, due=("yearly",),
            event="battery replaced" if new else "", parts=new, replaced=new,
        )  # fmt: skip

    def _correction(self) -> Service:
        records = SiteRecords(_NAMED, tuple(self._held))
        returned = returned_of(records.newest)
        return service_of(records, self._plant, self._known.whole, due=(), returned=returned)

    def _day(self, at: datetime) -> Day:
        warm = self._random.uniform(15.0, 25.0)
        return Day(
            ageing=self._ageing,
            battery_years=(at - self._bank_began) / YEAR,
            plant_years=(at - self._began) / YEAR,
            temperature=warm,
            random=self._random,
            meters=dict(self._plan.crew.meters),
        )

    def _truth(self, day: Day, firmware: str) -> dict[str, Any]:
        law, years = day.ageing, day.battery_years
        return {
            "capacity": round(law.capacity_at(years), 3),
            "ohmic value": round(law.ohmic_at(years), 4),
            "joint": round(law.joint_at(years), 3),
            "insulation": round(law.insulation_at(day.plant_years), 2),
            "array": round(law.array_at(day.plant_years), 4),
            "firmware": firmware,
        }

    def _seals(
        self, visit: Visit, place: int, *, again: bool = False
    ) -> tuple[tuple[Sealing, ...], tuple[str, ...]]:
        """Return the seals of a record, and the letters of the returned visits that the last one settles.

        Parameters
        ----------
        again
            It puts a returned one right.
        """
        signed = visit.sign_off
        if signed is None:
            return (Sealing("judged"),), ()
        own = Sealing("signed", signed.name, signed.role, signed.at)
        at = signed.at + ANSWERED
        answer = None if again else self._plan.returns.get(place)
        if answer is not None:
            words = doubt(self._random, visit.readings)
            if answer == "settled":
                self._unsettled.append(visit.id)
            return (own, Sealing("returned", SUPERVISOR, "supervisor", at, (words,))), ()
        settled, lost = self._unsettled, bool(place) and place == self._plan.missing and not again
        if lost or not settled:
            counts = self._random.random() < _COUNTERSIGNED
            return (own, Sealing("countersigned", SUPERVISOR, "supervisor", at)) if counts else (own,), ()
        self._unsettled = []
        said = tuple(Comment(settling(one)) for one in settled)
        letters = tuple(one.rpartition("-")[2] for one in settled)
        return (own, Sealing("countersigned", SUPERVISOR, "supervisor", at, said)), letters


def tokens_of(kind: str, ident: str, name: str, place: str) -> dict[str, str]:
    """Return what stands for what in the moulds of a kind, at a site of this name."""
    old, new = plant_named(kind, _NAMED, _TITLE, _PLACE), plant_named(kind, ident, name, place)
    return {
        _NAMED: ident,
        _TITLE: name,
        _PLACE: place,
        DIGEST + plant_digest(old): DIGEST + plant_digest(new),
    }


def lived(plan: Plan) -> Life:
    """Return the life of a plan."""
    return Liver(plan).live()


def ageing_of(laws: Sequence[Mapping[str, Any]]) -> list[tuple[int, Ageing]]:
    """Return the laws of a life as they are told in its truth, each with the visit from which it holds."""
    names = Ageing.__dataclass_fields__
    return [(law["from"], Ageing(**{name: law[name] for name in names})) for law in laws]
