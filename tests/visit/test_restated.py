"""Joints at one temperature, and what counts where a temperature was not read."""

from __future__ import annotations

import math
from typing import Any

import pytest

from commission.checklist.restate import CONDUCTOR_SPREAD, RESTATEMENTS
from commission.checklist.types import ChangeData, Checklist, ConditionData, ReadingData
from commission.formulas.conductors import resistance_at_20
from commission.plant.plant import Plant
from commission.visit.types import EarlierReading
from tests.builders import plant as built
from tests.checklist.walks import usual_data
from tests.visit.test_service import (
    LAST_YEAR,
    WARMTH,
    again,
    before,
    cold_day,
    insulated,
    only,
    read,
    service,
)
from tests.visit.walks import reading, step, walk

LINKS = (ChangeData(more=20, unit="%", verdict="act", says="remake it", source="IEEE 450, from memory"),)
BATTERY = ConditionData(
    id="battery-temperature", name="battery temperature", unit="°C", life=1800, life_at_rest=7200,
    step="battery", source="common practice",
)  # fmt: skip


def links() -> Checklist:
    told: dict[str, Any] = {"unit": "µΩ", "instrument": "low-ohm meter", "expect": "at most 100"}
    return walk(
        step("battery", reading(unit="°C", instrument="none", condition="battery-temperature")),
        step("joint", reading(change=LINKS, restated="resistance at 20 °C", **told)),
        conditions=(BATTERY,),
    )


def link(value: float, warm: float | None, **told: Any) -> EarlierReading:
    """Return a link of a year ago, read exactly."""
    item = {"step": "battery", "value": warm, "unit": "°C", "measured_at": LAST_YEAR}
    used = () if warm is None else (item,)
    return before("joint", value, **({"uncertainty": 0.0, "used": used} | told))


@pytest.mark.parametrize(
    ("warm", "now", "change", "verdict"),
    [
        # copper by 0.00393 a kelvin about 20 °C, IEC 60028:1925; by hand
        pytest.param("35", "52.95", 0.0, "holds", id="50 µΩ at 20 °C is 52.95 at 35"),
        pytest.param("5", "58", 23.3, "act", id="58 at 5 °C is 61.6 at 20"),
        pytest.param("40", "62", 15.0, "holds", id="62 at 40 °C is 57.5 at 20: warmth, not the joint"),
    ],
)
def test_a_joint_is_compared_at_20_degrees(tmp_path, warm, now, change, verdict):
    with again(tmp_path, links(), service(link(50.0, 20.0))) as visit:
        read(visit, warm, "battery", None)
        drift = only(read(visit, now, at=2))
    assert drift.change == pytest.approx(change, abs=0.05)
    assert drift.verdict == verdict
    assert (drift.compared_as, drift.compared_unit) == ("resistance at 20 °C", "µΩ")
    by_hand = resistance_at_20(float(now), 0.00393, float(warm))
    assert (drift.before, drift.now) == pytest.approx((50.0, by_hand))


@pytest.mark.parametrize(
    ("then", "now", "days"),
    [(20.0, None, ("now",)), (None, "20", ("then",)), (None, None, ("then", "now"))],
)
def test_a_temperature_that_was_not_read_counts_as_doubt_and_is_said(tmp_path, then, now, days):
    """15 K either way of 20 °C: by hand 0.05895 ÷ (1 − 0.05895) = 6.26 % of a day that is not known, and
    0.78 % for the 2 K of a thermometer; root of the sum of their squares, told with two digits upwards."""
    share = {True: 6.264, False: 0.780}
    with again(tmp_path, links(), service(link(50.0, then))) as visit:
        if now:
            read(visit, now, "battery", None)
        judged = read(visit, "65", meter=None, at=2)
    drift = only(judged)
    assert not judged.waits
    assert drift.verdict == "act"
    told = [f"battery temperature not known {day}, taken as 20 ± 15 °C" for day in days]
    assert all(said in drift.says for said in told)
    assert drift.says.count("not known") == len(days)
    doubt = float(drift.says.split("± ")[1].split("%")[0])
    least = 1.3 * math.hypot(*(share[day in days] for day in ("then", "now")))
    assert least * 0.999 <= doubt <= least + 1.0
    assert doubt > 1.3 * 6.2


def test_a_rise_within_what_two_unknown_temperatures_may_make_asks_for_them(tmp_path):
    """A limit of 5 % is inside 7.7 %: it only advises then, and acts where both are known."""
    tight = (LINKS[0].model_copy(update={"more": 5.0}),)
    steps = links()
    data = steps.asks[next(key for key in steps.asks if key.step == "joint")][1].data
    made = walk(
        steps.steps[0], step("joint", data.model_copy(update={"change": tight})), conditions=(BATTERY,)
    )
    for name, warm, verdict in (("known", 20.0, "act"), ("unknown", None, "advise")):
        with again(tmp_path / name, made, service(link(50.0, warm))) as visit:
            if warm is not None:
                read(visit, "20", "battery", None)
            drift = only(read(visit, "53.5", at=2))
        assert drift.verdict == verdict


def test_insulation_of_a_day_without_a_temperature_is_compared_with_all_its_doubt(tmp_path):
    """20 K either way is a factor of 4 (IEEE 43, from memory): a fall to a hundredth is seen all the same."""
    bare = cold_day(400.0).model_copy(update={"used": ()})
    for typed, verdict, words in (("4", "advise", "not known then"), ("150", "holds", "finer one")):
        with again(tmp_path / verdict, insulated(), service(bare)) as visit:
            read(visit, "20", "air", None)
            drift = only(read(visit, typed, meter=None, at=2))
        assert drift.verdict == verdict
        assert words in drift.says
    with again(tmp_path / "asked", insulated(), service(bare)) as visit:
        early = read(visit, "4", meter=None)
    assert [item.step for item in early.waits] == ["air"], "today's is asked for"


FALLS = (
    ChangeData(less=50, unit="%", says="look for water", source="common practice"),
    ChangeData(less=90, unit="%", verdict="act", says="dry it", source="common practice"),
)


def array() -> Checklist:
    fields = {"unit": "MΩ", "instrument": "none", "expect": "at least 1", "restated": "insulation at 20 °C"}
    return walk(
        step("air", reading(unit="°C", instrument="none", condition="air-temperature")),
        step("joint", reading(change=FALLS, **fields)),
        conditions=(WARMTH,),
    )


def on_a_day(warm: float, value: float, **told: Any) -> EarlierReading:
    """Return an insulation of a year ago, at a temperature of the air."""
    air = {"step": "air", "value": warm, "unit": "°C", "measured_at": LAST_YEAR}
    return before("joint", value, "MΩ", used=(air,), **({"uncertainty": 0.0} | told))


@pytest.mark.parametrize(
    ("now", "change", "verdict"),
    [
        # from 35 to −5 °C the doubling rule alone makes 2⁴ = 16, by hand: the same reading is 1/16, −93.75 %
        pytest.param("200", -93.75, "advise", id="the same 200 MΩ: the rule alone"),
        pytest.param("100", -96.875, "advise", id="half as read"),
        pytest.param("19", -99.40625, "act", id="under a tenth as read too"),
    ],
)
def test_a_rule_of_thumb_alone_asks_nobody_to_act(tmp_path, now, change, verdict):
    with again(tmp_path, array(), service(on_a_day(35.0, 200.0))) as visit:
        read(visit, "-5", "air", None)
        judged = read(visit, now, meter=None, at=2)
    drift = only(judged)
    assert drift.verdict == verdict
    assert drift.change == pytest.approx(change)
    assert judged.verdict == ("conditional fail" if verdict == "act" else "pass")
    assert ("the rule for warmth is a rough one" in drift.says) is (verdict == "advise")


@pytest.mark.parametrize(
    ("now", "change", "verdict"),
    [
        # 12 K colder by the doubling rule: 2^1.2 = 2.297; by hand 200 to 200 is −56.5 %, to 95 is −79.3 %
        pytest.param("200", -56.47, "holds", id="the same as read"),
        pytest.param("95", -79.33, "advise", id="less than half as read too"),
    ],
)
def test_a_cooler_day_alone_advises_nothing(tmp_path, now, change, verdict):
    with again(tmp_path, array(), service(on_a_day(25.0, 200.0))) as visit:
        read(visit, "13", "air", None)
        drift = only(read(visit, now, meter=None, at=2))
    assert drift.verdict == verdict
    assert drift.change == pytest.approx(change, abs=0.01)
    assert ("the rule for warmth is a rough one" in drift.says) is (verdict == "holds")


def test_what_is_compared_is_told_where_it_is_not_what_was_read(tmp_path):
    """By hand 550 × 2 = 1100 MΩ at 30 °C and 3 ÷ 2^1.5 = 1.061 MΩ at 5 °C: 1/1037, not 1/183 as read."""
    with again(tmp_path, array(), service(on_a_day(30.0, 550.0, side="above"))) as visit:
        read(visit, "5", "air", None)
        drift = only(read(visit, "3", meter=None, at=2))
    assert "to 1/1037 or less" in drift.says
    assert "as insulation at 20 °C: > 1100 MΩ then, 1.061 MΩ now" in drift.says


def test_the_words_of_a_verdict_hold_only_whole_comparisons(tmp_path):
    """They are at most 400 letters; what does not fit stands in its comparison."""
    long = (
        ChangeData(less=50, unit="%", says="look for water " * 12, source="common practice"),
        ChangeData(less=50, unit="%", since="last", says="look for cable " * 12, source="common practice"),
    )
    asked = reading(unit="MΩ", instrument="none", expect="at least 1", change=long)
    with again(tmp_path, walk(step("joint", asked)), service(before("joint", 200.0, "MΩ"))) as visit:
        judged = read(visit, "3", meter=None)
    first, last = judged.drifts
    assert first.says in judged.says
    assert "look for cable" not in judged.says
    assert "look for cable" in last.says


@pytest.mark.parametrize(("now", "verdict"), [("> 550", "not compared"), ("> 200", "not judged")])
def test_a_meter_at_its_end_on_a_warm_and_a_cold_day_calls_nobody(tmp_path, now, verdict):
    """Good insulation reads > 550 MΩ in summer and in winter; at > 200 it may have fallen by half."""
    with again(tmp_path, array(), service(on_a_day(35.0, 550.0, side="above"))) as visit:
        read(visit, "-5", "air", None)
        judged = read(visit, now, meter=None, at=2)
    assert only(judged).verdict == verdict
    assert ("at its end both times" in only(judged).says) is (verdict == "not compared")
    assert bool(judged.says) is (verdict == "not judged")


OHMIC = (
    ChangeData(more=30, unit="%", verdict="act", says="test it", source="IEEE 1188, from memory"),
    ChangeData(more=50, unit="%", verdict="act", says="replace it", source="IEEE 1188, from memory"),
)


@pytest.mark.parametrize(
    ("warm", "now", "verdict"),
    [
        # to 1 % a kelvin may be the cold's (makers' sheets, from memory): 18 K of 31.7 % leave 11.6 %
        pytest.param("4", "54.0", "advise", id="31.7 % over 41, 18 K colder"),
        pytest.param("22", "54.0", "act", id="the same as warm as then"),
        pytest.param("18", "54.0", "act", id="4 K are no other day"),
        pytest.param("30", "54.0", "act", id="warmer: not the cold"),
        pytest.param("4", "64.0", "act", id="56.1 %, of which 32.3 % are left: more than the cold may do"),
    ],
)
def test_cold_alone_asks_nobody_to_test_a_block(tmp_path, warm, now, verdict):
    joint = reading(
        change=OHMIC, unit="µΩ", instrument="low-ohm meter", expect="at most 100", like_charge=0.1
    )
    steps = walk(
        step("battery", reading(unit="°C", instrument="none", condition="battery-temperature")),
        step("joint", joint),
        conditions=(BATTERY,),
    )
    with again(tmp_path, steps, service(before("joint", 41.0, temperature=22.0))) as visit:
        read(visit, warm, "battery", None)
        drift = only(read(visit, now, at=2))
    assert drift.verdict == verdict
    assert ("cold alone may do it" in drift.says) is (verdict == "advise")


WATCHED: tuple[ChangeData, ...] = (
    ChangeData(more=20, unit="%", says="watch it", source="IEEE 1188, from memory"),
    *OHMIC,
    ChangeData(less=20, unit="%", says="read its voltage", source="common practice"),
)


def heated(chemistry: str | None = None) -> tuple[Checklist, Plant | None]:
    """Return a block that is watched, and a plant of a chemistry."""
    told: dict[str, Any] = {
        "unit": "µΩ",
        "instrument": "low-ohm meter",
        "expect": "at most 200",
        "like_charge": 0.1,
    }
    steps = walk(
        step("battery", reading(unit="°C", instrument="none", condition="battery-temperature")),
        step("joint", reading(change=WATCHED, **told)),
        conditions=(BATTERY,),
    )
    made = (
        None
        if chemistry is None
        else built(chemistry, cells_per_block=1, blocks=16, place={"units": "metric"})
    )
    return steps, made


@pytest.mark.parametrize(
    ("then", "warm", "now", "verdict", "word"),
    [
        # 40 µΩ; 1 % a kelvin at most (makers' sheets, from memory); by hand
        pytest.param(22.0, "4", "50", "holds", "18 K colder", id="+25 %, of which 1.25 ÷ 1.18 leave 5.9 %"),
        pytest.param(
            22.0, "4", "58", "advise", "cold alone", id="+45 %, 22.9 % are left: watched, not tested"
        ),
        pytest.param(22.0, "20", "50", "advise", "", id="2 K are no other day"),
        pytest.param(4.0, "22", "31", "holds", "18 K warmer", id="−22.5 %, 0.775 × 1.18 leave −8.6 %"),
        pytest.param(4.0, "22", "25", "advise", "", id="−37.5 %, −26.3 % are left: warmth does not do it"),
        pytest.param(22.0, "4", "31", "advise", "", id="fell, though it is colder"),
        pytest.param(4.0, "22", "54", "act", "", id="rose by 35 %, though it is warmer"),
    ],
)
def test_what_cold_or_warmth_alone_may_show_is_not_told(tmp_path, then, warm, now, verdict, word):
    steps, _ = heated()
    with again(tmp_path, steps, service(before("joint", 40.0, temperature=then))) as visit:
        read(visit, warm, "battery", None)
        drift = only(read(visit, now, at=2))
    assert drift.verdict == verdict
    assert word in drift.says
    assert ("alone may do it" in drift.says) is bool(word)


@pytest.mark.parametrize(
    ("chemistry", "verdict"),
    [
        # +80 % at 20 K colder: 1.8 ÷ 1.8 leaves nothing of lithium (from memory), 1.8 ÷ 1.2 +50 % of lead
        pytest.param("lfp", "advise", id="lithium in the cold"),
        pytest.param("agm", "act", id="lead is never so much worse in the cold"),
    ],
)
def test_lithium_in_the_cold_is_not_taken_for_worn(tmp_path, chemistry, verdict):
    steps, plant = heated(chemistry)
    with again(tmp_path, steps, service(before("joint", 40.0, temperature=22.0)), plant) as visit:
        read(visit, "2", "battery", None)
        drift = only(read(visit, "72", at=2))
    assert drift.verdict == verdict


def test_what_a_restatement_takes_for_usual_is_a_condition_that_can_be():
    for way in RESTATEMENTS.values():
        assert (way.usual is None) == (way.spread == 0.0)
    assert RESTATEMENTS["resistance at 20 °C"].spread == CONDUCTOR_SPREAD
    assert WARMTH.id == RESTATEMENTS["insulation at 20 °C"].condition


def limits_of(ident: str, name: str | None) -> ReadingData:
    """Return a reading of the program's own checklists."""
    steps = (step for file in usual_data() for step in file.steps)
    return next(one for step in steps if step.id == ident for one in step.readings if one.name == name)


@pytest.mark.parametrize(
    ("over", "rest", "verdict"),
    [
        # 200 MΩ at like air; halves for each 10 K that modules are over it (IEEE 43, from memory); by hand
        pytest.param(20.0, 1.0, "holds", id="in weak sun: a quarter, −75 %"),
        pytest.param(30.0, 1.0, "advise", id="in full sun: an eighth, −87.5 %: again dry and cool"),
        pytest.param(0.0, 1 / 12, "act", id="no sun, and a twelfth is left"),
    ],
)
def test_an_array_in_the_sun_is_not_taken_for_a_wet_one(tmp_path, over, rest, verdict):
    real = limits_of("array-insulation", "positive")
    steps = walk(
        step("air", reading(unit="°C", instrument="none", condition="air-temperature")),
        step("joint", real.model_copy(update={"name": None, "instrument": "none", "expect": "at least 1"})),
        conditions=(WARMTH,),
    )
    with again(tmp_path, steps, service(on_a_day(20.0, 200.0))) as visit:
        read(visit, "20", "air", None)
        judged = read(visit, f"{200.0 * rest / 2.0 ** (over / 10.0):.4g}", meter=None, at=2)
    assert next(drift for drift in judged.drifts if drift.since == "baseline").verdict == verdict


def test_blocks_on_float_are_held_to_a_settled_baseline():
    """Sealed cells spread in their first half year (tubular gel: no alarm before six months); then +0.20 and
    −0.10 V of a cell of 2 V: ZVEI leaflet practice, from memory."""
    real = limits_of("blocks-on-float", "block")
    (limit,) = real.change
    assert (limit.more, limit.less, limit.unit, limit.verdict) == (0.2, 0.1, "V", "advise")
    assert real.provisional == "six months"


def test_a_value_on_float_is_never_compared_with_one_of_the_string_off(tmp_path):
    """4 mΩ on float is less than 5 with the string off, and yet 17.6 % over the 3.4 of an earlier float."""
    real = limits_of("ohmic-float", None).model_copy(
        update={"series": "", "expect": "", "instrument": "none"}
    )
    off = before("ohmic-value", 5.0, "mΩ", temperature=20.0)
    on = before("ohmic-float", 3.4, "mΩ", temperature=20.0)
    for name, rows, told in (("first", (off,), []), ("later", (off, on), ["advise"])):
        with again(tmp_path / name, walk(step("ohmic-float", real)), service(*rows)) as visit:
            judged = read(visit, "4", "ohmic-float", meter=None)
        assert [drift.verdict for drift in judged.drifts] == told
