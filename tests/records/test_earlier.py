"""What the visits before left: a commissioning and the service visit after it, from their records."""

from __future__ import annotations

import math
import shutil
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path
from random import Random
from types import SimpleNamespace
from typing import Any

import pytest

from commission import __version__
from commission.checklist.types import Ask, Checklist, ReadingData, ReadingKey, Side
from commission.errors import RecordError
from commission.plant.files import load_plant
from commission.plant.places import data_folder
from commission.plant.plant import Plant
from commission.plant.toml import guarded
from commission.prepare import prepare, prepare_visit, worked_out_anew
from commission.records.earlier import SiteRecords, begun_anew, earlier_readings, site_records
from commission.records.read import read_record
from commission.records.readings import About, ReadingRow, ReadingsFile, judge_readings
from commission.records.verify import verify
from commission.records.write import write_record
from commission.visit.digest import walk_digest
from commission.visit.service import covers_of, setting_drifts
from commission.visit.session import OpenVisit
from commission.visit.shelf import Holder
from commission.visit.state import Readings
from commission.visit.types import Accuracy, Instrument, Person, Reading, Service
from tests import technician
from tests.records.begun import begin_service, due_at
from tests.technician import SUPERVISOR, TECHNICIAN, Clock, begin, fresh_kit, number, settle, sign, walk
from tests.visit.walks import known

SITE = "northspar-beacon"
NEXT_YEAR = datetime.fromisoformat("2027-11-20T08:00:00+00:00")
HOLDER = Holder(2, "bench", "tester")
ROSE = {
    ReadingKey("link-resistance", ("string-a",), 3): 1.25,
    ReadingKey("sensor-reading", ("controller-1",)): 1.09,
}
"""What has changed since the commissioning, as a factor; everything else reads as it did."""
MOVED = ("controller-1", "absorption_voltage")


def sample() -> Plant:
    return load_plant(data_folder("sample_sites") / f"{SITE}.toml").plant


@dataclass(frozen=True)
class Served:
    """A plant that was commissioned and serviced a year later."""

    plant: Plant
    folder: Path
    first: Path
    second: Path
    service: Service
    told: Mapping[ReadingKey, Collection[str]]
    """Verdicts on changes that do not hold, by reading."""
    records: SiteRecords
    """Both, as the third visit finds them."""
    walks: tuple[str, str]
    """Digest of the walk as begun, and as taken up again."""
    settings: tuple[str, ...]


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Served:
    """Return a plant after its first year; the laptop died in the second visit."""
    root = tmp_path_factory.mktemp("served")
    plant, folder = sample(), root / "records"
    clock = Clock()
    with begin(root / "first", plant, clock) as visit, pytest.MonkeyPatch.context() as patched:
        patched.setattr(technician, "typed", links_of_copper(technician.typed))
        visit.add_instrument(micro_ohmmeter(), clock())
        walk(visit, clock)
        settle(visit, clock)
        first = write_record(folder, sign(visit, clock), visit.plant, visit.sheet)
    service = begin_service(plant, site_records(folder, SITE), due=("yearly",))
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(technician, "typed", a_year_later(service, technician.typed))
        return _serviced(root, plant, first, service)


def micro_ohmmeter() -> Instrument:
    """Return a meter of the kit that tells micro-ohms, as the step on links asks for."""
    usual = next(one for one in fresh_kit() if one.kind == "low-ohm meter")
    micro = Accuracy(unit="Ω", up_to=600e-6, percent=0.5, digits=2, resolution=1e-7)
    return usual.model_copy(update={"ranges": (micro, *usual.ranges), "due": "2028-05-04"})


def links_of_copper(usual: Callable[..., str]) -> Callable[..., str]:
    """Return a technician's typing with links of 84 µΩ."""

    def typed(visit: OpenVisit, ask: Ask, now: datetime) -> str:
        return "84 µΩ" if ask.key.step == "link-resistance" else usual(visit, ask, now)

    return typed


def a_year_later(service: Service, usual: Callable[..., str]) -> Callable[..., str]:
    """Return a technician's typing that repeats the readings of the first visit, with what has changed."""
    was = {row.key: row.value for row in service.earlier if row.baseline}

    def typed(visit: OpenVisit, ask: Ask, now: datetime) -> str:
        if ask.key not in was or not ask.data.change:
            return usual(visit, ask, now)
        return f"{number(was[ask.key] * ROSE.get(ask.key, 1.0))} {ask.data.unit}"

    return typed


def started(root: Path, plant: Plant, service: Service, clock: Clock) -> OpenVisit:
    visit = OpenVisit.start(
        root,
        plant,
        prepare_visit,
        kind="service",
        program=__version__,
        now=clock(),
        holder=HOLDER,
        random=Random(3),
        service=service,
    )
    visit.add_person(Person(name=TECHNICIAN, role="technician", licence="E-1042"), clock())
    visit.add_person(Person(name=SUPERVISOR, role="supervisor", licence="S-77"), clock())
    for instrument in fresh_kit():
        visit.add_instrument(instrument.model_copy(update={"due": "2028-05-04"}), clock())
    visit.add_instrument(micro_ohmmeter(), clock())
    return visit


def _serviced(root: Path, plant: Plant, first: Path, service: Service) -> Served:
    clock = Clock(NEXT_YEAR)
    begun = started(root / "second", plant, service, clock)
    device, name = MOVED
    was = next(one.left for one in service.left if (one.device, one.setting) == MOVED)
    assert isinstance(was, float)
    begun.set_found(device, name, f"{was + 0.8:.1f}", clock())
    begun.set_found(device, "float_voltage", "26.0", clock())
    begun.close()
    with OpenVisit.resume(root / "second", begun.visit.id, prepare_visit, holder=HOLDER) as visit:
        walk(visit, clock)
        told = {
            reading.key: {drift.verdict for drift in reading.judgement.drifts} - {"holds"}
            for reading in visit.standing.readings.all_current()
            if reading.judgement is not None
        }
        settings = tuple(row.setting for row in setting_drifts(visit.sheet, visit.visit))
        settle(visit, clock)
        second = write_record(first.parent, sign(visit, clock), visit.plant, visit.sheet)
        walks = walk_digest(begun.checklist), walk_digest(visit.checklist)
    told = {key: verdicts for key, verdicts in told.items() if verdicts}
    records = site_records(first.parent, SITE)
    return Served(plant, first.parent, first, second, service, told, records, walks, settings)


def test_exactly_what_has_changed_is_told(served):
    assert served.told == {
        ReadingKey("link-resistance", ("string-a",), 3): {"act"},
        ReadingKey("sensor-reading", ("controller-1",)): {"advise"},
    }


def test_settings_found_otherwise_than_they_were_left_are_told_in_the_record_too(served):
    record = read_record(served.second)
    rows = [row for row in record.settings if row.drifted]
    assert served.settings == tuple(row.setting for row in rows)
    assert "absorption_voltage" in served.settings
    left = {(one.device, one.setting): one.left for one in served.service.left}
    assert all(row.before == left[row.device, row.setting] for row in rows)
    assert sum(row.before is not None for row in record.settings) > len(rows)


def test_a_visit_taken_up_again_has_the_same_walk(served):
    assert served.walks[0] == served.walks[1]
    assert served.walks[0] == read_record(served.second).visit.walk


def test_the_record_of_a_service_visit_verifies_and_is_worked_out_anew(served):
    record = read_record(served.second)
    assert verify(served.second).intact
    assert record.header.previous == verify(served.first).digest
    assert record.visit.service == served.service
    found, _ = worked_out_anew(record, __version__)
    assert found.count > 200
    assert [str(one) for one in found.differences] == []


def test_a_changed_baseline_is_noticed_when_the_record_is_worked_out_anew(served):
    record = read_record(served.second)
    key = ReadingKey("link-resistance", ("string-a",), 3)
    rows = [
        row.model_copy(update={"value": row.value * 1.25}) if row.key == key else row
        for row in served.service.earlier
    ]
    service = served.service.model_copy(update={"earlier": tuple(rows)})
    visit = record.visit.model_copy(update={"service": service})
    found, _ = worked_out_anew(replace(record, visit=visit), __version__)
    assert {one.place for one in found.differences} == {f"reading {key}"}


def test_the_next_visit_has_the_first_as_baseline_and_the_second_as_the_last(served):
    records = served.records
    assert [held.path for held in records.records] == [served.first, served.second]
    service = begin_service(served.plant, records, due=("yearly",))
    assert service.previous_digest == verify(served.second).digest
    key = ReadingKey("link-resistance", ("string-a",), 3)
    base, last = [row for row in service.earlier if row.key == key]
    assert (base.baseline, last.baseline) == (True, False)
    assert last.value == pytest.approx(1.25 * base.value, rel=1e-3)
    assert base.visit == read_record(served.first).visit.id
    assert base.uncertainty
    assert base.instrument
    assert base.temperature == 21.0
    left = {(one.device, one.setting): one.left for one in service.left}
    settings = read_record(served.second).visit.settings
    assert left == {(one.device, one.setting): one.left for one in settings if one.left is not None}


def test_the_next_dates_follow_from_what_each_visit_covered(served):
    rows = {row.interval: row for row in due_at(served.plant, served.records, NEXT_YEAR.date())}
    assert {name: row.on.isoformat() for name, row in rows.items()} == {
        "quarterly": "2028-02-20",
        "yearly": "2028-11-20",
        "two-yearly": "2028-11-24",
    }
    first = site_records(served.first)
    assert [held.path for held in first.records] == [served.first]
    rows = {row.interval: row for row in due_at(served.plant, first, NEXT_YEAR.date())}
    assert (rows["quarterly"].state, rows["yearly"].state, rows["two-yearly"].state) == (
        "overdue",
        "due",
        "coming",
    )


def test_a_replaced_controller_begins_anew_and_the_others_go_on(served):
    site = served.plant.site
    controllers = tuple(
        one.model_copy(update={"name": "another controller"}) if one.id == "controller-1" else one
        for one in site.charge_controllers
    )
    changed = served.plant.model_copy(
        update={"site": site.model_copy(update={"charge_controllers": controllers})}
    )
    service = begin_service(changed, served.records, due=())
    assert service.changed == ("controller-1",)
    assert not any("controller-1" in row.parts for row in service.earlier)
    assert not any(one.device == "controller-1" for one in service.left)
    whole = begin_service(changed, served.records, due=("yearly",))
    assert any(row.step == "link-resistance" for row in whole.earlier)
    _, steps = prepare_visit(changed, "service", (), service)
    wanted = {"source-polarity", "pre-charge", "display-voltage", "pv-first-closed", "absorption-voltage"}
    assert wanted <= {step.data.id for step in steps.steps if "controller-1" in step.parts}
    same = begin_service(served.plant, served.records, due=(), replaced=("controller-1",))
    assert same.changed == ("controller-1",)


def test_each_record_of_a_site_is_parsed_once(served, monkeypatch):
    """Whether the folder or its last record is named: parsing takes most of the time that a site takes."""
    where = served.folder
    parsed = []

    def counted(content, limits):
        parsed.append(content)
        return guarded(content, limits)

    monkeypatch.setattr("commission.records.read.guarded", counted)
    found = site_records(where, SITE)
    many = len(list(where.glob("*.toml")))
    assert len(found.records) > 1
    assert len(parsed) == many
    parsed.clear()
    again = site_records(found.newest.path)
    assert [one.path for one in again.records] == [one.path for one in found.records]
    assert len(parsed) == many


def test_a_record_that_was_changed_is_passed_over_and_said(served, tmp_path):
    folder = tmp_path / "records"
    shutil.copytree(served.folder, folder)
    spoilt = folder / served.second.name
    spoilt.write_text(spoilt.read_text(encoding="utf-8").replace("Fennimore", "Fennimoor"), encoding="utf-8")
    found = site_records(folder, SITE)
    assert [held.path.name for held in found.records] == [served.first.name]
    assert any(served.second.name in said and "changed" in said for said in found.said)
    with pytest.raises(RecordError, match="changed"):
        site_records(spoilt)


@pytest.mark.parametrize(
    ("where", "site", "told"),
    [
        ("", "", "id of the site"),
        ("", "other-site", "no intact, signed record of other-site"),
        ("missing", "other-site", "no such file"),
    ],
)
def test_where_nothing_can_be_built_on_it_is_said(served, where, site, told):
    with pytest.raises(RecordError, match=told):
        site_records(served.folder / where, site)


def test_a_part_that_the_site_does_not_have_is_refused(served):
    with pytest.raises(RecordError, match="controller-9"):
        begin_service(
            served.plant, SiteRecords(SITE, served.records.records[:1]), due=(), parts=("controller-9",)
        )


def test_another_site_is_refused(served):
    other = load_plant(data_folder("sample_sites") / "tarnwold-cabin.toml").plant
    with pytest.raises(RecordError, match="tarnwold-cabin"):
        begin_service(other, SiteRecords(SITE, served.records.records[:1]), due=())


# which reading is the baseline

DAY_ONE = datetime.fromisoformat("2026-11-24T12:00:00+00:00")


def visited(
    days: int, value: float, kind: str = "service", changed: tuple[str, ...] = (), side: Side = "exact"
) -> Any:
    """Return a record of one reading, as far as the baseline is concerned."""
    at = DAY_ONE + timedelta(days=days)
    row = Reading(
        step="ohmic-value",
        parts=("string-a",),
        kind="number",
        value=value,
        text=str(value),
        unit="mΩ",
        side=side,
        measured_at=at,
        entered_at=at,
    )
    told = None
    if kind == "service":
        told = Service(changed=changed, previous_visit="before", previous_at=DAY_ONE)
    visit = SimpleNamespace(
        id=f"visit-{days}", kind=kind, service=told, readings=(row,), plant_changes=(), instruments=()
    )
    return SimpleNamespace(record=SimpleNamespace(visit=visit))


def baseline(*records: Any, until: Any = "") -> tuple[float, bool, list[float]]:
    """Return the baseline, whether it is provisional, and every value that is handed on."""
    data = ReadingData(prompt="ohmic value", unit="mΩ", provisional=until)
    key = ReadingKey("ohmic-value", ("string-a",))
    whole = Checklist((), ())
    rows = list(earlier_readings(SiteRecords("s", records), whole, {key: Ask(key, data, "ohmic value")}))
    return rows[0].value, rows[0].provisional, [row.value for row in rows]


COMMISSIONED = visited(0, 1.0, "commissioning")


@pytest.mark.parametrize(
    ("until", "records", "expected"),
    [
        pytest.param("", (visited(90, 1.1), visited(365, 1.2)), (1.0, False, [1.0, 1.2]), id="the first"),
        # ohmic values of day one are provisional until 6 to 12 months later; IEEE 1188 practice
        pytest.param("six months", (visited(90, 1.1),), (1.0, True, [1.0, 1.1]), id="not firm yet"),
        pytest.param(
            "six months",
            (visited(90, 1.1), visited(200, 1.2), visited(365, 1.3)),
            (1.2, False, [1.2, 1.3]),
            id="firm after half a year",
        ),
        # what has risen by more than is watched for, 20 %, hides nothing: day one stays the baseline
        pytest.param("six months", (visited(365, 1.55),), (1.0, False, [1.0, 1.55]), id="risen before firm"),
        pytest.param(
            "six months", (visited(365, 1.2),), (1.2, False, [1.2]), id="risen no more than watched"
        ),
        # a day-one capacity counts, and is trended from the second test
        pytest.param("second reading", (), (1.0, True, [1.0]), id="one test"),
        pytest.param("second reading", (visited(700, 1.1),), (1.1, False, [1.1]), id="two tests"),
        pytest.param(
            "",
            (visited(90, 1.1, changed=("string-a",)), visited(365, 1.2)),
            (1.1, False, [1.1, 1.2]),
            id="new part",
        ),
        pytest.param("", (visited(90, 1.1, "commissioning"),), (1.1, False, [1.1]), id="commissioned again"),
        pytest.param(
            "", (visited(90, 1.1, changed=("inverter-1",)),), (1.0, False, [1.0, 1.1]), id="other part"
        ),
    ],
)
def test_which_reading_is_the_baseline(until, records, expected):
    assert baseline(COMMISSIONED, *records, until=until) == expected


@pytest.mark.parametrize(
    ("until", "first", "records", "expected"),
    [
        pytest.param("", (550.0, "above"), (visited(365, 400.0),), (550.0, [550.0, 400.0]), id="over range"),
        pytest.param("", (0.5, "below"), (visited(365, 0.6),), (0.5, [0.5, 0.6]), id="under the least"),
        # a number that the bound allows tells more and hides nothing that is proven; one beside it would
        pytest.param("", (550.0, "above"), (visited(365, 600.0),), (600.0, [600.0]), id="a number beyond it"),
        pytest.param("", (0.5, "below"), (visited(365, 0.4),), (0.4, [0.4]), id="a number under it"),
        pytest.param(
            "",
            (550.0, "above"),
            (visited(365, 3.0), visited(730, 600.0), visited(1095, 580.0)),
            (600.0, [600.0, 580.0]),
            id="wet once, then dry",
        ),
        pytest.param(
            "",
            (550.0, "above"),
            (visited(365, 550.0, side="above"), visited(730, 3.0)),
            (550.0, [550.0, 3.0]),
            id="bounds, then a fall",
        ),
        pytest.param(
            "", (math.inf, "above"), (visited(365, 400.0),), (400.0, [400.0]), id="a range that nobody told"
        ),
        pytest.param("", (math.inf, "above"), (), (math.inf, [math.inf]), id="nothing else yet"),
        # after half a year the baseline is firm, unless it may have risen by more than a fifth
        pytest.param(
            "six months", (0.5, "below"), (visited(365, 0.6),), (0.6, [0.6]), id="no more than 20 %"
        ),
        pytest.param("six months", (0.5, "below"), (visited(365, 0.61),), (0.5, [0.5, 0.61]), id="risen"),
        pytest.param(
            "six months", (0.5, "exact"), (visited(365, 0.4, side="above"),), (0.5, [0.5, 0.4]), id="may have"
        ),
    ],
)
def test_a_one_sided_reading_is_a_baseline_too(until, first, records, expected):
    value, side = first
    found = baseline(visited(0, value, "commissioning", side=side), *records, until=until)
    assert (found[0], found[2]) == expected


def test_a_bound_is_no_baseline_of_a_distance_from_the_middle():
    data = ReadingData(prompt="block", unit="mΩ", series="blocks", compares="among")
    key = ReadingKey("ohmic-value", ("string-a",))
    records = SiteRecords("s", (visited(0, 1.0, side="above"), visited(90, 1.1)))
    rows = list(earlier_readings(records, Checklist((), ()), {key: Ask(key, data, "block")}))
    assert [(row.value, row.side) for row in rows] == [(1.1, "exact")]


def test_with_a_bank_its_strings_begin_anew_and_with_a_string_its_bank(served):
    assert begun_anew(served.plant, ["bank"]) == ("bank", "string-a")
    assert begun_anew(served.plant, ["string-a"]) == ("string-a", "bank")
    assert begun_anew(served.plant, ["controller-1"]) == ("controller-1",)


def test_what_a_visit_covered_depends_on_how_it_ended(served):
    visit = read_record(served.second).visit
    assert covers_of(visit) == {"every visit", "monthly", "quarterly", "yearly"}
    assert visit.sign_off is not None
    safe = visit.sign_off.model_copy(update={"signed_as": "made safe, not in service"})
    assert covers_of(visit.model_copy(update={"sign_off": safe})) == set()
    assert covers_of(visit.model_copy(update={"sign_off": None})) == set()


def test_the_whole_walk_is_made_where_nothing_is_told_of_earlier_visits(served):
    _, whole = prepare(served.plant)
    _, plain = prepare_visit(served.plant, "service", ())
    assert len(plain.steps) == len(whole.steps)


def test_readings_on_paper_are_judged_as_if_they_had_been_typed(served):
    """The same number of the same meter has the same verdict and the same drift from a file."""
    record = read_record(served.second)
    key = ReadingKey("link-resistance", ("string-a",), 3)
    beside = {key.step, "battery-temperature"}  # at which a joint is compared
    rows = [row for row in record.visit.readings if row.step in beside and not row.corrects]
    sheet, steps = prepare_visit(served.plant, "service", (), served.service)
    used = {row.instrument for row in rows}
    meters = tuple(one for one in record.visit.instruments if one.id in used)
    told = [
        ReadingRow(
            step=row.step,
            parts=row.parts,
            index=row.index,
            value=row.text,
            measured_at=row.measured_at,
            instrument=row.instrument,
        )
        for row in rows
    ]
    assert record.visit.sign_off is not None
    about = About(kind="service", started_at=NEXT_YEAR)
    judged = judge_readings(
        served.plant,
        sheet,
        steps,
        ReadingsFile(format=1, visit=about, instrument=meters, reading=tuple(told)),
        file="paper.toml",
        ident="on-paper",
        program=__version__,
        now=record.visit.sign_off.at,
        service=served.service,
    )
    typed, paper = (
        known(row.judgement)
        for visit in (record.visit, judged.visit)
        for row in Readings(visit.readings).all_current()
        if row.key == key
    )
    assert paper.verdict == "conditional fail"
    assert (paper.drifts, paper.verdict) == (typed.drifts, typed.verdict)
