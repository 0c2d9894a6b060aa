"""A reading beside its baseline and its last value, and settings as found beside as left."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path
from random import Random
from types import SimpleNamespace
from typing import Any, cast

import pytest

from commission import __version__
from commission.checklist.types import ChangeData, Checklist, ConditionData, ReadingKey
from commission.plant.plant import Plant
from commission.plant.service_plan import ServicePlan
from commission.visit.service import setting_drift_lines, setting_drifts
from commission.visit.session import OpenVisit
from commission.visit.types import Accuracy, Drift, EarlierReading, Judgement, Service, SettingEntry
from tests.visit.walks import (
    HOLDER,
    NOON,
    RUNA,
    after,
    reading,
    setting,
    sheet,
    small_plant,
    step,
    verdict_now,
    voltmeter,
    walk,
)

LAST_YEAR = NOON - timedelta(days=365)
MICRO = voltmeter(
    id="ohms-1",
    kind="low-ohm meter",
    ranges=(Accuracy(unit="µΩ", up_to=500.0, percent=1.0, resolution=0.01),),
)
OHMIC = (
    ChangeData(more=20, unit="%", says="watch it", source="IEEE 1188, from memory"),
    ChangeData(more=30, unit="%", verdict="act", says="test it", source="IEEE 1188, from memory"),
    ChangeData(more=50, unit="%", verdict="act", says="replace it", source="IEEE 1188, from memory"),
)
JOINT = (ChangeData(more=20, unit="%", verdict="act", says="remake it", source="IEEE 450, from memory"),)


def before(
    ident: str, value: float, unit: str = "µΩ", *, at: datetime = LAST_YEAR, **told: Any
) -> EarlierReading:
    """Return an earlier reading, a baseline unless told otherwise."""
    fields: dict[str, Any] = {"baseline": True, "visit": "visit-1", "uncertainty": 0.01 * value} | told
    return EarlierReading(step=ident, value=value, unit=unit, measured_at=at, **fields)


def service(*earlier: EarlierReading, **told: Any) -> Service:
    return Service(due=("yearly",), previous_visit="visit-1", previous_at=LAST_YEAR, earlier=earlier, **told)


def again(root: Path, steps: Checklist, told: Service, plant: Plant | None = None) -> OpenVisit:
    """Return a service visit begun at noon."""
    visit = OpenVisit.start(
        root,
        plant or small_plant(),
        lambda *_: (sheet(setting()), steps),
        kind="service",
        program=__version__,
        now=NOON,
        holder=HOLDER,
        random=Random(1),
        service=told,
    )
    visit.add_person(RUNA, NOON)
    for meter in (voltmeter(), MICRO):
        visit.add_instrument(meter, NOON)
    return visit


def joint(change: tuple[ChangeData, ...] = JOINT, **fields: Any) -> Checklist:
    told = {"unit": "µΩ", "instrument": "low-ohm meter", "expect": "at most 100"} | fields
    return walk(step("joint", reading(change=change, **told)))


def read(
    visit: OpenVisit, typed: str, ident: str = "joint", meter: str | None = "ohms-1", at: float = 1
) -> Judgement:
    _, ask = visit.checklist.asks[ReadingKey(ident)]
    return visit.take(ask, typed, measured_at=after(at), now=after(at), instrument=meter)


def only(judged: Judgement) -> Drift:
    (drift,) = judged.drifts
    return drift


@pytest.mark.parametrize(
    ("baseline", "now", "rise", "verdict"),
    [
        # joints at 20 % over the baseline; IEEE 450 and 1188, from memory
        pytest.param(32.0, "40.0", 25.0, "act", id="32 to 40 µΩ: remake"),
        pytest.param(52.0, "60.0", 15.4, "holds", id="52 to 60 µΩ: watch"),
        pytest.param(50.0, "60.0", 20.0, "holds", id="exactly on the limit counts as inside"),
        pytest.param(50.0, "40.0", -20.0, "holds", id="a joint that got better"),
    ],
)
def test_a_joint_is_judged_by_its_rise_over_the_baseline(tmp_path, baseline, now, rise, verdict):
    with again(tmp_path, joint(), service(before("joint", baseline))) as visit:
        judged = read(visit, now)
    drift = only(judged)
    assert (round(drift.change, 1), drift.unit, drift.verdict) == (rise, "%", verdict)
    assert judged.verdict == ("conditional fail" if verdict == "act" else "pass")
    assert ("remake it" in judged.says) is (verdict == "act")
    assert ("IEEE 450" in " ".join(judged.why)) is (verdict == "act")


@pytest.mark.parametrize(
    ("now", "rise", "high", "verdict", "word"),
    [
        # 0.85 mΩ: 20 % watch, 30 % investigate, 50 % replace; IEEE 1188, from memory
        pytest.param("98.0", 15.3, 20, "holds", "", id="below all"),
        pytest.param("106", 24.7, 20, "advise", "watch it", id="watch"),
        pytest.param("112", 31.8, 30, "act", "test it", id="1.12 over 0.85: investigate"),
        pytest.param("130", 52.9, 50, "act", "replace it", id="1.30 over 0.85: replace"),
    ],
)
def test_of_several_limits_the_highest_that_was_passed_is_told(tmp_path, now, rise, high, verdict, word):
    steps = joint(OHMIC, expect="at most 200")
    with again(tmp_path, steps, service(before("joint", 85.0))) as visit:
        judged = read(visit, now)
    drift = only(judged)
    assert (round(drift.change, 1), drift.high, drift.verdict) == (rise, high, verdict)
    assert word in judged.says
    assert judged.verdict == ("conditional fail" if verdict == "act" else "pass")


@pytest.mark.parametrize(
    ("plan", "verdict"),
    [
        (None, "advise"),
        (ServicePlan(), "advise"),
        (ServicePlan(battery_use="standby"), "act"),
        (ServicePlan(maker_adopts_float_limits=True), "act"),
    ],
)
def test_a_limit_for_float_service_only_advises_in_a_cycled_plant(tmp_path, plan, verdict):
    """IEEE 450 and 1188 leave cycling out of their scope."""
    site = small_plant().site.model_copy(update={"service": plan})
    plant = small_plant().model_copy(update={"site": site})
    steps = joint(tuple(one.model_copy(update={"float_service": True}) for one in JOINT))
    with again(tmp_path, steps, service(before("joint", 32.0)), plant) as visit:
        judged = read(visit, "40.0")
    assert only(judged).verdict == verdict
    assert ("cycled plant" in judged.says) is (verdict == "advise")
    assert judged.verdict == ("pass" if verdict == "advise" else "conditional fail")


def test_a_first_baseline_that_is_provisional_cannot_ask_to_act(tmp_path):
    with again(tmp_path, joint(), service(before("joint", 32.0, provisional=True))) as visit:
        judged = read(visit, "40.0")
    assert (only(judged).verdict, judged.verdict) == ("advise", "pass")
    assert "provisional" in only(judged).says


def test_a_capacity_that_falls_from_the_first_test_to_the_second_asks_to_act(tmp_path):
    """A day-one capacity is accepted, and is provisional as a baseline only: a fall of more than 10 points
    since the test before counts from the second test on (IEEE 450 and 1188, from memory)."""
    points = ChangeData(since="last", less=10, unit="points", verdict="act", source="IEEE 450, from memory")
    for name, change, verdict in (
        ("last", points, "act"),
        ("baseline", points.model_copy(update={"since": "baseline"}), "advise"),
    ):
        steps = joint((change,), unit="%", expect="at least 80")
        row = before("joint", 100.0, "%", provisional=True, uncertainty=0.0)
        with again(tmp_path / name, steps, service(row)) as visit:
            judged = read(visit, "86", meter=None)
        assert only(judged).verdict == verdict
        assert judged.verdict == {"act": "conditional fail"}.get(verdict, judged.verdict)
        assert ("no firm baseline" in judged.says) is (verdict == "advise")


def test_a_change_smaller_than_both_meters_may_be_off_is_none(tmp_path):
    """|d| > √(U1² + U2²), common practice: 30 µΩ ± 10 beside 38 is no change yet."""
    with again(tmp_path, joint(), service(before("joint", 30.0, uncertainty=10.0))) as visit:
        judged = read(visit, "38.0")
    assert only(judged).verdict == "advise"
    assert "finer" in judged.says
    assert judged.verdict == "pass"


def test_the_scale_of_one_meter_hides_no_block_that_drifts_from_its_like(tmp_path):
    """Within a column the error of the scale is common (GUM 5.2): of 0.5 % + 2 digits only the digits count.

    By hand, k = 2, two readings at each of two visits: 2 × √4 × 0.02 ÷ √3 = 0.0462 V. As if each stood
    alone it would be 0.136 V, and a block that fell by 0.10 V, twice its limit, would hold.
    """
    limits = (ChangeData(more=0.05, less=0.05, unit="V", source="common practice"),)
    steps = walk(step("blocks", reading(change=limits, series="blocks", compares="among"), rows=3))
    told: dict[str, Any] = {"uncertainty": 0.0958, "compared_uncertainty": 0.0327}
    rows = [before("blocks", 12.6, "V", index=place, **told) for place in range(3)]
    coarse = Accuracy(unit="V", up_to=60.0, percent=0.5, digits=2, resolution=0.01)
    with again(tmp_path, steps, service(*rows)) as visit:
        visit.add_instrument(voltmeter(id="meter-2", ranges=(coarse,)), NOON)
        *_, judged = (
            visit.take(ask, typed, measured_at=after(1), now=after(1), instrument="meter-2")
            for ask, typed in zip(visit.checklist.steps[0].asks, ("12.60", "12.60", "12.50"), strict=True)
        )
    drift = only(judged)
    assert (round(drift.change, 3), drift.verdict) == (-0.1, "advise")
    assert "± 0.047 V" in drift.says


def test_a_block_that_failed_at_once_is_compared_once_its_column_is_whole(tmp_path):
    """12.95 V is over a band that needs no others; by hand 0.15 V over the middle of 12.95, 12.80, 12.80."""
    limits = (ChangeData(more=0.05, less=0.05, unit="V", source="common practice"),)
    told: dict[str, Any] = {
        "change": limits,
        "series": "blocks",
        "compares": "among",
        "expect": "at most 12.9",
    }
    rows = [before("blocks", 12.6, "V", index=place) for place in range(3)]
    with again(tmp_path, walk(step("blocks", reading(**told), rows=3)), service(*rows)) as visit:
        first, *others = visit.checklist.steps[0].asks
        early = visit.take(first, "12.95", measured_at=after(1), now=after(1), instrument="meter-1")
        for ask in others:
            visit.take(ask, "12.80", measured_at=after(2), now=after(2), instrument="meter-1")
        later = verdict_now(visit, "blocks")
    assert (early.verdict, only(early).verdict) == ("fail", "not compared")
    assert (later.verdict, only(later).verdict) == ("fail", "advise")
    assert only(later).change == pytest.approx(0.15)


def test_a_verdict_that_fails_already_stays_the_worse_one(tmp_path):
    with again(tmp_path, joint(), service(before("joint", 60.0))) as visit:
        judged = read(visit, "140")
    assert (only(judged).verdict, judged.verdict) == ("act", "fail")


def test_baseline_and_last_visit_are_compared_each_by_its_own_limit(tmp_path):
    change = (*JOINT, ChangeData(since="last", more=5, unit="µΩ", source="common practice"))
    last = before("joint", 34.0, baseline=False, visit="visit-2", at=LAST_YEAR + timedelta(days=180))
    with again(tmp_path, joint(change), service(before("joint", 32.0), last)) as visit:
        judged = read(visit, "40.0")
    assert [(one.since, one.visit, one.verdict) for one in judged.drifts] == [
        ("baseline", "visit-1", "act"),
        ("last", "visit-2", "advise"),
    ]
    assert judged.drifts[1].change == pytest.approx(6.0)


def test_another_meter_than_then_is_said(tmp_path):
    with again(tmp_path, joint(), service(before("joint", 32.0, instrument="ohms-9 X-1"))) as visit:
        assert "ohms-9 X-1" in only(read(visit, "33.0")).says
    with again(tmp_path, joint(), service(before("joint", 32.0, instrument="ohms-1 A-17"))) as visit:
        assert "then with" not in only(read(visit, "33.0")).says


def test_a_part_that_is_new_has_no_baseline(tmp_path):
    row = before("joint", 32.0, parts=("inverter-1",))
    steps = walk(
        step(
            "joint",
            reading(change=JOINT, unit="µΩ", instrument="low-ohm meter", expect="at most 100"),
            parts=("inverter-1",),
        )
    )
    for changed, count in (((), 1), (("inverter-1",), 0)):
        with again(tmp_path / str(count), steps, service(row, changed=changed)) as visit:
            _, ask = visit.checklist.asks[ReadingKey("joint", ("inverter-1",))]
            judged = visit.take(ask, "60", measured_at=after(1), now=after(1), instrument="ohms-1")
            assert len(judged.drifts) == count


# like conditions

WARMTH = ConditionData(
    id="air-temperature", name="air temperature", unit="°C", life=7200, step="air", source="common practice"
)
CHARGE = ConditionData(
    id="state-of-charge", name="state of charge", unit="%", life=7200, step="charge", source="common practice"
)


def insulated() -> Checklist:
    halves = (ChangeData(less=50, unit="%", source="common practice"),)
    fields = {"unit": "MΩ", "instrument": "none", "expect": "at least 1", "restated": "insulation at 20 °C"}
    return walk(
        step("air", reading(unit="°C", instrument="none", condition="air-temperature")),
        step("joint", reading(change=halves, **fields)),
        conditions=(WARMTH,),
    )


def cold_day(value: float) -> EarlierReading:
    air = {"step": "air", "value": 10.0, "unit": "°C", "measured_at": LAST_YEAR}
    return before("joint", value, "MΩ", used=(air,), uncertainty=0.0)


def test_insulation_is_compared_at_one_temperature(tmp_path):
    """It halves for each 10 K (IEEE 43, from memory): 400 MΩ at 10 °C is 100 MΩ at 30 °C."""
    with again(tmp_path, insulated(), service(cold_day(400.0))) as visit:
        read(visit, "30", "air", None)
        drift = only(read(visit, "100", meter=None, at=2))
    assert [drift.before, drift.now] == pytest.approx([200.0, 200.0])
    assert drift.verdict == "holds"


def test_what_wants_a_condition_is_compared_once_that_is_read(tmp_path):
    with again(tmp_path, insulated(), service(cold_day(400.0))) as visit:
        early = read(visit, "40", meter=None)
        assert (early.verdict, only(early).verdict) == ("pass", "not compared")
        assert [item.step for item in early.waits] == ["air"]
        read(visit, "30", "air", None, at=2)
        later = verdict_now(visit, "joint")
    assert (only(later).verdict, round(only(later).change)) == ("advise", -60)


def test_readings_of_a_full_and_a_half_empty_bank_are_not_compared(tmp_path):
    steps = walk(
        step("charge", reading(unit="%", instrument="none", condition="state-of-charge")),
        step("joint", reading(change=JOINT, unit="µΩ", instrument="low-ohm meter", like_charge=0.1)),
        conditions=(CHARGE,),
    )
    for name, charge, verdict in (("alike", "92 %", "act"), ("empty", "50 %", "not compared")):
        with again(tmp_path / name, steps, service(before("joint", 32.0, state_of_charge=1.0))) as visit:
            read(visit, charge, "charge", None)
            drift = only(read(visit, "40.0", at=2))
        assert drift.verdict == verdict
        assert ("100% charge then" in drift.says) is (verdict == "not compared")


# the journal, and what is worked out anew


def test_a_service_visit_taken_up_again_compares_as_before(tmp_path):
    told = service(before("joint", 32.0), changed=("inverter-1",))
    visit = again(tmp_path, joint(), told)
    first = read(visit, "40.0")
    visit.close()
    with OpenVisit.resume(tmp_path, visit.visit.id, lambda *_: (sheet(), joint()), holder=HOLDER) as taken_up:
        assert taken_up.visit.service == told
        assert verdict_now(taken_up, "joint") == first
        assert read(taken_up, "40.0", at=5) == first


# settings


def left(value: float | str, text: str = "", device: str = "inverter-1") -> SettingEntry:
    return SettingEntry(
        device=device, setting="absorption_voltage", left=value, left_text=text or str(value), at=LAST_YEAR
    )


@pytest.mark.parametrize(("found", "drifted"), [("57.6", 0), ("57.64", 0), ("57.7", 1), ("58.4", 1)])
def test_a_setting_found_otherwise_than_it_was_left_is_told(tmp_path, found, drifted):
    """Half a step of the device, which has tenths of a volt, is no difference."""
    with again(tmp_path, joint(), service(left=(left(57.6, "57.6"),))) as visit:
        assert setting_drifts(visit.sheet, visit.visit) == ()
        visit.set_found("inverter-1", "absorption_voltage", found, after(1))
        lines = list(setting_drift_lines(visit.plant, visit.sheet, visit.visit))
    assert len(lines) == drifted
    for line in lines:
        assert line == f"inverter-1: absorption voltage was left at 57.6 V, found at {found} V"


def test_a_setting_found_otherwise_is_told_by_the_name_of_the_device_and_in_the_usual_form(tmp_path):
    """Not as it was typed, 57,9: as everywhere else, with the digits of the device and the unit."""
    with again(tmp_path, joint(), service(left=(left(57.6),))) as visit:
        visit.set_found("inverter-1", "absorption_voltage", "57,9", after(1))
        (inverter,) = (device for device in visit.plant.devices if device.id == "inverter-1")
        named = SimpleNamespace(devices=(inverter.model_copy(update={"name": "Hut"}),), site=visit.plant.site)
        (line,) = setting_drift_lines(cast(Plant, named), visit.sheet, visit.visit)
    assert line == "Hut: absorption voltage was left at 57.6 V, found at 57.9 V"


def test_a_replaced_device_has_no_settings_as_left(tmp_path):
    told = service(left=(left(57.6),), changed=("inverter-1",))
    with again(tmp_path, joint(), told) as visit:
        visit.set_found("inverter-1", "absorption_voltage", "54.0", after(1))
        assert setting_drifts(visit.sheet, visit.visit) == ()
