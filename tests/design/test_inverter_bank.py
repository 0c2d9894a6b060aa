"""The bank against its inverters and loads: current for long and at a start, and the voltage that is left."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from commission.design.bank_delivery import check_bank_delivery
from commission.design.bank_sag import check_bank_sag
from commission.figure import Figure, why
from commission.plant.plant import Plant
from tests.design.inverter_plants import findings, found, load, number, site, unit

CURRENT, SAG, START = "bank-discharge", "bank-sag", "bank-start"
AT_RATING, SAG_AT_RATING, AT_SURGE = "bank-rating", "bank-sag-at-rating", "bank-start-at-rating"

RUN_35 = {"id": "run-1", "kind": "dc", "from": "bank", "to": "inverter-1", "area": 35.0}


def raised(of: Plant) -> dict[str, Any]:
    return findings(check_bank_delivery, of) | findings(check_bank_sag, of)


def curve(cell: float) -> dict[str, Any]:
    """Return battery values with a rested cell voltage at half charge, which is the usual depth."""
    values = {"states": [0.0, 0.5, 1.0], "values": [cell - 0.2, cell, cell + 0.2]}
    return {
        "depth_usual": {"value": 0.5, "low": 0.5, "high": 0.5},
        "depth_greatest": {"value": 0.8, "low": 0.8, "high": 0.8},
        "open_circuit_voltage": values,
    }


def cable(milliohm: float) -> dict[str, Any]:
    """Return a run of 35 mm² whose loop has a resistance at 20 °C: 0.017241 Ω·mm²/m, IEC 60028."""
    return {**RUN_35, "length": milliohm / 1000.0 / 2.0 / (0.017241 / 35.0)}


def test_direct_current_at_the_lowest_voltage() -> None:
    """Teaching practice for battery cables: 2500 W ÷ (0.85 × 22 V) = 134 A."""
    inverter = unit(profile="inverter-24v-230-3000", run="run-1", sheet={
        "continuous_power": 2500.0, "inverter_efficiency": 0.85, "low_cut_off": 22.0,
    })  # fmt: skip
    of = site(
        inverter,
        loads=[load(power=500.0)],
        expected={"load": 500.0},
        blocks=2,
        strings=1,
        bank={"greatest_discharge": 100.0, "resistance": 0.004},
        runs=[cable(1.0)],
    )
    over = raised(of)[AT_RATING]
    assert over.kind == "advise"
    assert number(over.value) == pytest.approx(133.7, abs=0.05)
    assert number(over.limit) == 100.0


def test_the_lowest_voltage_is_not_under_the_cells_end_of_discharge() -> None:
    """A cut-off of 38 V under 24 cells of 1.75 V: 42 V count; 2000 ÷ (0.94 × 42) = 50.66 A."""
    of = plain(expected=2000.0, greatest=50.0, rating=2000.0)
    assert number(raised(of)[CURRENT].value) == pytest.approx(50.66, abs=0.01)


def plain(*, expected: float | str, greatest: float, rating: float = 5000.0, **sections: Any) -> Plant:
    """Return an AGM bank of one string whose maker states its discharge, with hardly any resistance."""
    inverter = unit(run="run-1", sheet={"continuous_power": rating, "surge_power": rating})
    values: dict[str, Any] = {
        "strings": 1,
        "bank": {"greatest_discharge": greatest, "resistance": 0.002},
        "runs": [cable(0.5)],
        **sections,
    }
    return site(inverter, loads=[load(power=100.0)], expected={"load": expected}, **values)


def test_exactly_what_the_bank_gives_is_enough() -> None:
    amperes = 2000.0 / (0.94 * 42.0)
    assert CURRENT not in raised(plain(expected=2000.0, greatest=amperes, rating=2000.0))
    assert CURRENT in raised(plain(expected=2000.0, greatest=amperes - 0.01, rating=2000.0))


def test_the_load_is_mended_and_the_mere_rating_is_told() -> None:
    over = raised(plain(expected=4000.0, greatest=90.0))
    assert {check: one.kind for check, one in over.items()} == {CURRENT: "correct"}
    over = raised(plain(expected=3000.0, greatest=90.0))
    assert {check: one.kind for check, one in over.items()} == {AT_RATING: "advise"}
    assert raised(plain(expected=3000.0, greatest=130.0)) == {}


def test_the_cells_rate_counts_where_the_maker_states_nothing() -> None:
    """0.5 of the capacity for AGM [common practice]: 150 Ah give 75 A."""
    of = site(
        unit(run="run-1"),
        loads=[load()],
        expected={"load": 3100.0},
        strings=1,
        capacity=150.0,
        bank={"resistance": 0.002},
        runs=[cable(0.5)],
    )
    assert number(raised(of)[CURRENT].limit) == pytest.approx(75.0)


@pytest.mark.parametrize(("link", "packs", "limit"), [(True, 3, 300.0), (False, 3, 200.0), (False, 1, 100.0)])
def test_a_pack_that_may_be_open_unseen_is_not_counted(link: bool, packs: int, limit: float) -> None:
    """Without a data link one pack of several may have opened: n − 1 of them count."""
    over = raised(managed(link=link, packs=packs, expected=20000.0, rating=20000.0))[CURRENT]
    assert number(over.limit) == pytest.approx(limit)


def managed(*, link: bool, packs: int, expected: float, rating: float, start: float = 100.0) -> Plant:
    management = {"data_link": link, "discharge_current": 100.0, "charge_current": 100.0}
    inverter = unit(run="run-1", sheet={"continuous_power": rating, "surge_power": 2.0 * rating})
    return site(
        inverter,
        loads=[load(power=100.0, starting_power=start)],
        expected={"load": expected},
        chemistry="lfp",
        cells_per_block=16,
        blocks=1,
        strings=packs,
        capacity=280.0,
        bank={"management": management, "greatest_discharge": 200.0, "resistance": 0.004},
        runs=[cable(0.5)],
    )


def test_a_rating_past_the_managements_limit_is_mended_since_the_packs_open() -> None:
    """5000 ÷ (0.94 × 44.8) = 118.7 A against one pack of 100 A."""
    over = raised(managed(link=True, packs=1, expected=3000.0, rating=5000.0))[AT_RATING]
    assert over.kind == "correct"
    assert number(over.value) == pytest.approx(118.73, abs=0.01)
    assert AT_RATING not in raised(managed(link=True, packs=2, expected=3000.0, rating=5000.0))
    both = raised(managed(link=True, packs=1, expected=4500.0, rating=5000.0))
    assert {CURRENT, AT_RATING} <= set(both)


def test_a_start_past_the_managements_limit_is_told() -> None:
    """6000 ÷ (0.94 × 44.8) = 142.5 A."""
    told = raised(managed(link=True, packs=1, expected=2000.0, rating=4000.0, start=6000.0))
    assert told["management-at-start"].kind == "advise"
    assert number(told["management-at-start"].value) == pytest.approx(142.48, abs=0.01)
    calm = managed(link=True, packs=1, expected=2000.0, rating=4000.0, start=3000.0)
    assert "management-at-start" not in raised(calm)


def test_the_voltage_under_a_surge() -> None:
    """9000 VA at 88 % from 50.4 V behind 8.0 + 2.4 mΩ: 48.19 V, own arithmetic of V² − E·V + P·R = 0."""
    inverter = unit(run="run-1", sheet={
        "surge_power": 9000.0, "inverter_efficiency": 0.88, "low_cut_off": 48.5, "continuous_power": 3000.0,
    })  # fmt: skip
    of = site(
        inverter,
        loads=[load(power=300.0)],
        expected={"load": 300.0},
        strings=1,
        battery=curve(2.1),
        bank={"resistance": 0.008, "greatest_discharge": 400.0},
        runs=[cable(2.4)],
    )
    told = raised(of)
    assert SAG not in told
    assert START not in told
    assert told[AT_SURGE].kind == "advise"
    assert "48.19 V" in told[AT_SURGE].text


def test_the_power_before_an_inverter_cuts_off() -> None:
    """24.8 V behind 12 + 3 mΩ give 21 × (24.8 − 21) ÷ 0.015 = 5320 W before 21 V; own arithmetic."""
    inverter = unit(profile="inverter-24v-230-3000", run="run-1", sheet={
        "continuous_power": 6000.0, "surge_power": 6000.0, "low_cut_off": 21.0, "inverter_efficiency": 1.0,
    })  # fmt: skip
    sections: dict[str, Any] = {
        "blocks": 2,
        "strings": 1,
        "battery": curve(24.8 / 12.0),
        "bank": {"resistance": 0.012, "greatest_discharge": 900.0},
        "runs": [cable(3.0)],
    }
    over = raised(site(inverter, loads=[load(power=500.0)], expected={"load": 5330.0}, **sections))[SAG]
    assert over.kind == "correct"
    assert number(over.limit) == pytest.approx(5320.0, abs=2.0)
    inside = raised(site(inverter, loads=[load(power=500.0)], expected={"load": 5300.0}, **sections))
    assert SAG not in inside
    assert inside[SAG_AT_RATING].kind == "advise"


def test_a_voltage_that_collapses_is_told_so() -> None:
    """More than E² ÷ 4R cannot be had at all: 50.4² ÷ (4 × 0.1) = 6350 W."""
    of = plain(
        expected=7000.0,
        greatest=900.0,
        rating=7000.0,
        battery=curve(2.1),
        bank={"resistance": 0.1, "greatest_discharge": 900.0},
    )
    over = raised(of)[SAG]
    assert "collapses" in over.text
    assert number(over.limit) <= 50.4**2 / 0.4


def test_a_cut_off_over_the_rested_voltage_leaves_nothing() -> None:
    inverter = unit(run="run-1", sheet={"low_cut_off": 52.0})
    of = site(
        inverter,
        loads=[load()],
        expected={"load": 1000.0},
        strings=1,
        battery=curve(2.1),
        bank={"resistance": 0.004, "greatest_discharge": 400.0},
        runs=[cable(1.0)],
    )
    over = raised(of)[SAG]
    assert (over.kind, number(over.limit)) == ("correct", 0.0)


def test_a_length_that_is_not_known_is_asked_for_once() -> None:
    of = plain(expected=3000.0, greatest=400.0, runs=[{**RUN_35, "length": "unknown"}])
    told = raised(of)
    assert set(told) == {SAG}
    assert told[SAG].kind == "not checked"
    assert "length of run-1" in told[SAG].text


def test_a_load_that_is_not_known_matters_only_where_the_rating_does_not_pass() -> None:
    assert CURRENT not in raised(plain(expected="unknown", greatest=400.0))
    asked = raised(plain(expected="unknown", greatest=50.0))[CURRENT]
    assert asked.kind == "not checked"
    assert "load of the plant" in asked.text


def test_a_plant_of_direct_loads_alone_is_checked_too() -> None:
    """4500 W ÷ 42 V = 107.1 A against 75 A."""
    rack = {"id": "rack", "current": "dc", "power": 4500.0, "continuous": True}
    of = site(loads=[rack], expected={"load": 4500.0}, strings=1, bank={"greatest_discharge": 75.0})
    over = raised(of)[CURRENT]
    assert over.kind == "correct"
    assert number(over.value) == pytest.approx(107.14, abs=0.01)
    few = site(loads=[{**rack, "power": 3000.0}], expected={"load": 3000.0}, strings=1,
               bank={"greatest_discharge": 75.0})  # fmt: skip
    assert CURRENT not in raised(few)


def test_a_limit_says_why_down_to_the_file() -> None:
    over = raised(plain(expected=4000.0, greatest=90.0))[CURRENT]
    assert isinstance(over.value, Figure)
    told = " ".join(line.text + line.source for line in why(over.value))
    for word in ("load of the plant", "inverter_efficiency", "end_of_discharge_voltage"):
        assert word in told


def test_remedies_count_strings_with_their_run_and_fuse() -> None:
    runs = [
        cable(0.5),
        {"id": "run-s", "kind": "dc", "from": "string-1", "to": "bus", "protection": "fuse-s"},
    ]
    fuse = {"id": "fuse-s", "kind": "fuse", "current": "dc", "protects": "string", "of": "string-1"}
    of = plain(expected=4000.0, greatest=60.0, runs=runs, protection=[fuse])
    one = next(item for item in found(check_bank_delivery, of) if item.finding.check == CURRENT)
    keys = [change.key for change in one.remedies[0].change]
    # 4000 ÷ (0.94 × 42) = 101.3 A over 60 A: two strings
    assert one.remedies[0].passes is not None
    assert number(one.remedies[0].passes) == 2
    assert [key.partition("[")[0] for key in keys] == ["bank.strings", "protection", "runs"]
    assert "runs[run-s-string-added-2]" in keys


def test_the_sag_agrees_with_a_solve_by_bisection() -> None:
    """The same circuit, solved for the current by halving instead of by the closed form."""
    rest, ohms, watts = 50.4, 0.0104, 9000.0 / 0.88
    low, high = 0.0, rest / ohms / 2.0
    for _ in range(80):
        middle = (low + high) / 2.0
        if middle * (rest - middle * ohms) < watts:
            low = middle
        else:
            high = middle
    assert rest - low * ohms == pytest.approx(48.19, abs=0.005)
    assert low == pytest.approx(212.2, abs=0.05)
    assert math.isclose(low, high)


@settings(max_examples=30, deadline=None)
@given(
    st.sampled_from(["agm", "flooded", "gel", "tubular-vented"]),
    st.integers(50, 600),
    st.integers(1, 3),
    st.integers(500, 9000),
    st.integers(500, 9000),
    st.floats(1.0, 3.0),
)
def test_a_larger_bank_never_adds_a_finding(
    chemistry: str, capacity: int, strings: int, expected: int, start: int, more: float
) -> None:
    def of(size: float, count: int) -> set[str]:
        made = site(
            unit(run="run-1"),
            loads=[load(power=500.0, starting_power=float(max(start, 500)))],
            expected={"load": float(expected)},
            chemistry=chemistry,
            capacity=size,
            strings=count,
            runs=[cable(1.5)],
        )
        return {one.check for one in raised(made).values()}

    allowed = of(float(capacity), strings)
    # a bank that no longer fails at the load may still be told of at the rating: it failed there before too
    pairs = ((CURRENT, AT_RATING), (SAG, SAG_AT_RATING), (START, AT_SURGE))
    allowed |= {told for check, told in pairs if check in allowed}
    assert of(capacity * more, strings) <= allowed
    assert of(float(capacity), strings + 1) <= allowed
