"""One-sided readings beside earlier ones: what a bound proves is told, what it does not tell is said."""

from __future__ import annotations

import math
from itertools import product
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from commission.checklist.types import ChangeData, Checklist, Side
from commission.errors import FormulaError
from commission.revisit.summary import drift_lines
from commission.visit.changes import outcome
from commission.visit.compared import Compared
from commission.visit.types import Accuracy, Judgement
from tests.visit.test_service import again as begun_again
from tests.visit.test_service import before, joint, only, read, service
from tests.visit.walks import NOON, reading, step, voltmeter, walk

HALF = (
    ChangeData(less=50, unit="%", says="look for water", source="common practice"),
    ChangeData(less=90, unit="%", verdict="act", says="dry it", source="common practice"),
)
RISES = (ChangeData(more=20, unit="%", verdict="act", says="remake it", source="IEEE 450, from memory"),)
MEGA = voltmeter(
    id="mega-1",
    kind="insulation tester",
    ranges=(Accuracy(unit="MΩ", up_to=550.0, percent=5.0, resolution=0.1),),
)


def insulation(change: tuple[ChangeData, ...] = HALF) -> Checklist:
    told = {"unit": "MΩ", "instrument": "insulation tester", "expect": "at least 1"}
    return walk(step("joint", reading(change=change, **told)))


def judged(
    root: Path, steps: Checklist, was: tuple[float, Side], now: str, meter: str | None, **told: Any
) -> Judgement:
    """Return the verdict on a reading, of a part that read so a year ago."""
    unit = steps.steps[0].asks[0].data.unit
    row = before("joint", was[0], unit, side=was[1], **({"uncertainty": 0.05 * was[0]} | told))
    with begun_again(root, steps, service(row)) as visit:
        visit.add_instrument(MEGA, NOON)
        return read(visit, now, meter=meter)


@pytest.mark.parametrize(
    ("was", "now", "change", "verdict", "words"),
    [
        # > 550 MΩ then, 3 MΩ now: at most 3/550 of it is left, by hand −99.4545 %, 550/3 = 183.3
        pytest.param((550.0, "above"), "3", -99.4545, "act", "to 1/183 or less since", id="fell by 550/3"),
        pytest.param((550.0, "above"), "200", -63.6364, "advise", "fallen by 63.6 ±", id="to 200 at most"),
        pytest.param((550.0, "above"), "400", -27.2727, "not judged", "fallen by 27.2 ±", id="to 400"),
        pytest.param((550.0, "above"), "> 550", 0.0, "not judged", "> 550 MΩ then, > 550 now", id="both"),
        pytest.param((550.0, "above"), "< 2", -99.6364, "act", "fallen by 99.636 ±", id="to under 2"),
        pytest.param((100.0, "exact"), "> 550", 450.0, "holds", "risen by 450", id="rose out of range"),
        pytest.param((100.0, "exact"), "> 20", -80.0, "not judged", "fallen by 80", id="at least 20"),
        pytest.param((0.5, "below"), "3", 500.0, "holds", "risen by 500", id="dried"),
    ],
)
def test_a_bound_of_insulation_tells_the_least_that_it_fell(tmp_path, was, now, change, verdict, words):
    found = judged(tmp_path, insulation(), was, now, "mega-1")
    drift = only(found)
    assert drift.change == pytest.approx(change, abs=1e-4)
    assert drift.verdict == verdict
    assert words in drift.says
    assert drift.before_side == (None if was[1] == "exact" else was[1])
    assert (drift.says in found.says) is (verdict != "holds" and now != "> 550")
    assert drift.says.startswith("not judged: ") is (verdict == "not judged")
    assert ("> 550 MΩ" in drift.says) is (was[1] == "above")


def test_insulation_that_fell_within_its_band_is_a_conditional_fail(tmp_path):
    """3 MΩ is inside a band of 1 MΩ and more, and yet not as it should be."""
    found = judged(tmp_path, insulation(), (550.0, "above"), "3", "mega-1")
    assert found.verdict == "conditional fail"
    assert "change, at least" in " ".join(found.why)
    assert found.margin == pytest.approx(2.0)


@pytest.mark.parametrize(
    ("was", "now", "change", "verdict"),
    [
        # under 90 µΩ then, 160 µΩ now: at least 160/90 − 1 = 77.78 %, whatever it was
        pytest.param((90.0, "below"), "160", 77.7778, "act", id="rose at least so far"),
        pytest.param((90.0, "below"), "100", 11.1111, "not judged", id="100 over 90 is no proof"),
        pytest.param((90.0, "below"), "< 80", 0.0, "not judged", id="both under a bound"),
        pytest.param((32.0, "exact"), "> 90", 181.25, "act", id="over range from 32"),
        pytest.param((32.0, "exact"), "> 35", 9.375, "not judged", id="over 35 is no proof"),
        pytest.param((160.0, "exact"), "< 90", -43.75, "holds", id="got better"),
    ],
)
def test_a_bound_of_a_joint_tells_the_least_that_it_rose(tmp_path, was, now, change, verdict):
    steps = joint(RISES, expect="at most 200")
    found = judged(tmp_path, steps, was, now, "ohms-1")
    drift = only(found)
    assert (round(drift.change, 4), drift.verdict) == (change, verdict)
    assert found.verdict == {"act": "conditional fail"}.get(verdict, found.verdict)


def test_a_bound_counts_with_what_its_meter_may_be_off(tmp_path):
    """> 100 ± 60 MΩ then, 40 ± 2 now: −60 %, by hand √(2² + (0.4 × 60)²) ÷ 100 = 24.1 %.

    Where the first was ± 200 MΩ it is no change: 0.4 × 200 ÷ 100 = 80 %.
    """
    steps = insulation((ChangeData(less=50, unit="%", verdict="act", source="common practice"),))
    drift = only(judged(tmp_path, steps, (100.0, "above"), "40", "mega-1", uncertainty=60.0))
    assert drift.verdict == "act"
    assert "fallen by 60 ± 25% or more" in drift.says
    vague = only(judged(tmp_path / "x", steps, (100.0, "above"), "40", "mega-1", uncertainty=200.0))
    assert vague.verdict == "advise"
    assert "finer" in vague.says


def test_over_a_range_that_is_not_told_nothing_is_compared_and_that_is_said(tmp_path):
    for name, was, now, words in (
        ("then", (math.inf, "above"), "3", "is beyond a range whose end is not known"),
        ("now", (100.0, "exact"), "OL", "'OL' is beyond a range whose end is not known"),
    ):
        found = judged(tmp_path / name, insulation(), was, now, None, uncertainty=None)  # type: ignore[arg-type]
        drift = only(found)
        assert drift.verdict == "not judged"
        assert words in drift.says


def test_a_bound_now_says_how_it_could_be_judged(tmp_path):
    found = judged(tmp_path, insulation(), (100.0, "exact"), "> 20", "mega-1")
    assert "read it with a meter that reaches so far" in only(found).says


def test_what_a_bound_does_not_tell_stands_among_what_has_drifted(tmp_path):
    row = before("joint", 550.0, "MΩ", side="above")
    with begun_again(tmp_path, insulation(), service(row)) as visit:
        visit.add_instrument(MEGA, NOON)
        read(visit, "400", meter="mega-1")
        (line,) = drift_lines(visit.visit, visit.checklist, visit.sheet, visit.plant)
    assert line.startswith("open   joint: not judged: fallen by 27.2 ±")


@pytest.mark.parametrize(
    ("now", "told"), [("> 550", False), ("> 999", False), ("> 300", False), ("> 200", True)]
)
def test_a_meter_at_its_end_both_times_calls_nobody(tmp_path, now, told):
    """> 550 MΩ at every visit is how good insulation reads: not judged, and yet not listed as open.

    Half of it is still 275: a bound of 300 takes nothing back, one of 200 does.
    """
    with begun_again(tmp_path, insulation(), service(before("joint", 550.0, "MΩ", side="above"))) as visit:
        visit.add_instrument(MEGA, NOON)
        judged = read(visit, now, meter="mega-1")
        lines = list(drift_lines(visit.visit, visit.checklist, visit.sheet, visit.plant))
    assert only(judged).verdict == "not judged"
    assert bool(lines) is told
    assert ("a bound does not tell" in judged.says) is told


def test_a_bound_is_no_distance_from_the_middle(tmp_path):
    limits = (ChangeData(more=0.05, less=0.05, unit="V", source="common practice"),)
    steps = walk(step("joint", reading(change=limits, series="blocks", compares="among"), rows=3))
    rows = [before("joint", 12.6, "V", index=place) for place in range(3)]
    with begun_again(tmp_path, steps, service(*rows)) as visit:
        asks = visit.checklist.steps[0].asks
        judged = [
            visit.take(ask, typed, measured_at=NOON, now=NOON, instrument="meter-1")
            for ask, typed in zip(asks, ("12.6", "12.6", "> 12"), strict=True)
        ]
    assert only(judged[-1]).says == "not judged: '> 12' is no single number"


# a bound is what every value that it allows is

VALUES = st.floats(0.5, 2000.0).map(lambda value: float(f"{value:.3g}"))
SIDES = st.sampled_from(["exact", "above", "below"])
ENDS = st.none() | st.sampled_from([5.0, 20.0, 50.0, 90.0, 300.0])
LIMITS = st.lists(
    st.tuples(ENDS, ENDS, st.sampled_from(["%", "µΩ"])).filter(lambda row: row[:2] != (None, None)),
    min_size=1,
    max_size=3,
).map(lambda rows: [ChangeData(more=more, less=less, unit=unit, source="drawn") for more, less, unit in rows])


def allowed(value: float, side: Side, other: float, shares: list[float]) -> list[float]:
    """Return values that a reading allows: its ends, some between, and the other one's."""
    if side == "exact":
        return [value]
    if side == "above":
        found = [value, value * 1e9, *(value / share for share in shares)]
        return [*found, *(one for one in (other, other * 1.0001) if one >= value)]
    found = [value, value * 1e-9, *(value * share for share in shares)]
    return [*found, *(one for one in (other, other * 0.9999) if one <= value)]


@settings(max_examples=150)
@given(LIMITS, VALUES, SIDES, VALUES, SIDES, st.lists(st.floats(0.01, 1.0), max_size=4))
def test_a_bound_says_what_every_value_that_it_allows_says(limits, now, now_side, then, then_side, shares):
    """Passed is passed by all, by no less; kept is kept by all; open is passed by some, kept by some."""
    found = outcome(limits, Compared(now, "µΩ", None, now_side), Compared(then, "µΩ", None, then_side))
    each = [
        outcome(limits, Compared(one, "µΩ", None), Compared(other, "µΩ", None))
        for one, other in product(allowed(now, now_side, then, shares), allowed(then, then_side, now, shares))
    ]
    if found.state == "open":
        assert {one.state for one in each} == {"passed", "kept"}
        return
    assert {one.state for one in each} == {found.state}
    if found.state == "passed":
        assert all(one.change.size >= found.change.size for one in each)
        assert all(abs(one.change.value) >= abs(found.change.value) * 0.999999 for one in each
                   if one.change.limit is found.change.limit)  # fmt: skip


@given(VALUES, VALUES)
def test_what_may_be_nothing_has_no_share(now, then):
    """A current of less than 0.3 A may be none, or flow the other way."""
    with pytest.raises(FormulaError, match="may be nothing"):
        outcome(
            [ChangeData(more=50, unit="%", source="drawn")],
            Compared(now, "A", None),
            Compared(then, "A", None, "below"),
        )
