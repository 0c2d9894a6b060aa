"""Inverters against what runs for long and what starts."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from commission.design.inverter_output import check_inverter_output
from commission.plant.plant import Plant
from tests.design.inverter_plants import findings, found, load, number, site, split_pair, unit

OUTPUT, START = "inverter-output", "inverter-start"


def raised(of: Plant) -> dict[str, Any]:
    return findings(check_inverter_output, of)


def test_exactly_the_rating_is_enough_and_a_watt_more_is_not() -> None:
    """5000 VA at 25 °C and 200 m; own arithmetic."""
    loads = [load(power=1000.0)]
    assert OUTPUT not in raised(site(unit(), loads=loads, expected={"load": 5000.0}))
    over = raised(site(unit(), loads=loads, expected={"load": 5001.0}))[OUTPUT]
    assert over.kind == "correct"
    assert number(over.value) == pytest.approx(5001.0)
    assert number(over.limit) == pytest.approx(5000.0)


def test_the_air_of_the_room_derates() -> None:
    """Rows of 25 °C 1.0 and 40 °C 0.85: at 32.2 °C straight lines leave 0.928 (own arithmetic)."""
    rows = [{"at": 25.0, "factor": 1.0}, {"at": 40.0, "factor": 0.85}]
    hot = site(
        unit(sheet={"ambient_derating": rows}),
        loads=[load()],
        expected={"load": 4700.0},
        place={"room_temperature": 32.2},
    )
    assert number(raised(hot)[OUTPUT].limit) == pytest.approx(4640.0, abs=0.5)


def test_the_altitude_derates_by_the_trades_rule_where_the_device_has_no_rows() -> None:
    """1 % for each 100 m above 2000 m, from memory: 3000 m leave 0.90 of 5000 VA."""
    high = site(
        unit(sheet={"altitude_derating": []}),
        loads=[load()],
        expected={"load": 4501.0},
        place={"altitude": 3000.0},
    )
    assert number(raised(high)[OUTPUT].limit) == pytest.approx(4500.0)


def test_the_devices_own_rows_go_before_the_rule() -> None:
    """Rows of 2000 m 1.0 and 4000 m 0.8 leave 0.9 at 3000 m; half as much loss by rows of 0.9."""
    rows = [{"at": 2000.0, "factor": 1.0}, {"at": 4000.0, "factor": 0.9}]
    high = site(
        unit(sheet={"altitude_derating": rows}),
        loads=[load()],
        expected={"load": 4751.0},
        place={"altitude": 3000.0},
    )
    assert number(raised(high)[OUTPUT].limit) == pytest.approx(4750.0)


def test_watts_are_compared_as_volt_amperes() -> None:
    """3600 W at power factor 0.9 are 4000 VA: definition of the power factor."""
    weak = site(
        unit(sheet={"continuous_power": 3900.0}),
        loads=[load(power=900.0, power_factor=0.9)],
        expected={"load": 3600.0},
    )
    assert number(raised(weak)[OUTPUT].value) == pytest.approx(4000.0)


def test_dc_loads_that_run_day_and_night_are_not_the_inverters_to_carry() -> None:
    """1800 W expected with a rack of 600 W on the bus: 1200 W are left for the inverter."""
    rack = {"id": "rack", "current": "dc", "power": 600.0, "continuous": True}
    shelter = site(
        unit(sheet={"continuous_power": 1199.0}), loads=[load(power=300.0), rack], expected={"load": 1800.0}
    )
    assert number(raised(shelter)[OUTPUT].value) == pytest.approx(1200.0)


def test_what_runs_day_and_night_counts_even_if_less_is_expected() -> None:
    loads = [load(1, 3000.0, continuous=True), load(2, 2500.0, continuous=True)]
    over = raised(site(unit(), loads=loads, expected={"load": 1000.0}))[OUTPUT]
    assert number(over.value) == pytest.approx(5500.0)


def test_a_leg_is_found_where_the_whole_would_carry_it() -> None:
    """4000 VA on leg 1 of two units of 3000 VA; all 4500 VA are under 6000 VA."""
    loads = [load(1, 4000.0, leg="1"), load(2, 500.0, leg="2")]
    over = raised(site(*split_pair(3000.0), loads=loads, expected={"load": 4500.0}))[OUTPUT]
    assert "leg 1" in over.text
    assert [number(over.value), number(over.limit)] == pytest.approx([4000.0, 3000.0])


def test_a_load_on_both_legs_is_half_on_each() -> None:
    """240 V between two legs: the same current in both, so half of the power on each."""
    loads = [load(1, 4000.0, leg="both"), load(2, 900.0, leg="1")]
    of = site(*split_pair(3000.0), loads=loads, expected={"load": 4900.0})
    assert OUTPUT not in raised(of)
    weaker = site(*split_pair(2800.0), loads=loads, expected={"load": 4900.0})
    assert number(raised(weaker)[OUTPUT].value) == pytest.approx(2900.0)


def test_the_largest_start_stands_beside_what_runs() -> None:
    """A pump that asks 7 kVA beside 3.5 kVA of others: 10.5 kVA against a surge of 10 kVA."""
    loads = [load(1, 1100.0, starting_power=7000.0), load(2, 3500.0)]
    over = raised(site(unit(), loads=loads, expected={"load": 4600.0}))[START]
    assert [number(over.value), number(over.limit)] == pytest.approx([10500.0, 10000.0])
    assert "load-1" in over.text
    enough = [load(1, 1100.0, starting_power=6500.0), load(2, 3500.0)]
    assert START not in raised(site(unit(), loads=enough, expected={"load": 4600.0}))


def test_no_more_runs_beside_a_start_than_is_expected() -> None:
    loads = [load(1, 1000.0, starting_power=7000.0), load(2, 9000.0)]
    assert START not in raised(site(unit(), loads=loads, expected={"load": 3000.0}))


def test_a_start_on_one_leg_meets_half_of_a_two_leg_unit() -> None:
    """10 kVA of surge across both legs are 5 kVA on each."""
    both = unit(1, "inverter-48v-120-240-6000", sheet={"surge_power": 10000.0}, group_leg="both")
    loads = [load(1, 900.0, starting_power=5200.0, leg="1")]
    over = raised(site(both, loads=loads, expected={"load": 900.0}))[START]
    assert number(over.limit) == pytest.approx(5000.0)


def test_a_small_load_is_not_asked_for_its_start() -> None:
    """Eight times 126 VA cannot overload it, whatever it is; a large one could."""
    lamp = {"id": "lamp", "current": "ac", "power": 120.0, "power_factor": 0.95}
    assert START not in raised(site(unit(), loads=[lamp], expected={"load": 500.0}))
    press = {"id": "press", "current": "ac", "power": 3000.0}
    asked = raised(site(unit(), loads=[press], expected={"load": 3000.0}))[START]
    assert asked.kind == "not checked"
    assert "starting power of press" in asked.text


@pytest.mark.parametrize(
    ("place", "sheet", "missing"),
    [
        ({"room_temperature": "unknown"}, {}, "room temperature of site"),
        ({"altitude": "unknown"}, {}, "altitude of site"),
        ({"room_temperature": 40.0}, {"ambient_derating": []}, "derating of inverter-1 by temperature"),
    ],
)
def test_what_is_not_known_is_named(place: dict[str, Any], sheet: dict[str, Any], missing: str) -> None:
    plain = {"id": "inverter-1", "profile": "inverter-48v-230-5000", "datasheet": sheet}
    asked = raised(site(plain, loads=[load()], expected={"load": 1000.0}, place=place))[OUTPUT]
    assert asked.kind == "not checked"
    assert missing in asked.text


def test_loads_of_several_supplies_have_to_be_told_apart() -> None:
    """Two units of their own and a load that no run leads to."""
    asked = raised(site(unit(1), unit(2), loads=[load()], expected={"load": 1000.0}))
    assert asked["load-without-supply"].kind == "not checked"
    runs = [{"id": "run-1", "kind": "ac", "from": "inverter-1", "to": "load-1"}]
    told = site(unit(1), unit(2), loads=[load(power=6000.0)], runs=runs, expected={"load": 6000.0})
    over = raised(told)
    assert "load-without-supply" not in over
    assert over[OUTPUT].parts == ("inverter-1",)


def test_remedies_name_the_rating_the_load_and_the_start_that_pass() -> None:
    of = site(unit(), loads=[load(power=1000.0)], expected={"load": 5600.0})
    (one,) = found(check_inverter_output, of)
    keys = {change.key: change.value for remedy in one.remedies for change in remedy.change}
    assert keys["inverter_chargers[inverter-1].datasheet.continuous_power"] == 5600.0
    assert keys["expected.load"] == 5000.0
    pump = [load(1, 1000.0, starting_power=9000.0), load(2, 2000.0)]
    (start,) = found(check_inverter_output, site(unit(), loads=pump, expected={"load": 3000.0}))
    keys = {change.key: change.value for remedy in start.remedies for change in remedy.change}
    assert keys["loads[load-1].starting_power"] == 8000.0


POWERS = st.lists(st.integers(100, 4000), min_size=1, max_size=4)


@settings(max_examples=40, deadline=None)
@given(POWERS, st.integers(500, 12000), st.integers(0, 3), st.floats(0.1, 1.0), st.data())
def test_less_load_never_adds_a_finding(
    powers: list[int], expected: int, which: int, less: float, data: st.DataObject
) -> None:
    legs = [data.draw(st.sampled_from(["1", "2", "both"])) for _ in powers]
    starts = [data.draw(st.integers(power, 8 * power)) for power in powers]
    loads = [
        load(at, float(power), leg=legs[at], starting_power=float(starts[at]))
        for at, power in enumerate(powers)
    ]
    before = raised(site(*split_pair(3000.0), loads=loads, expected={"load": float(expected)}))
    at = which % len(powers)
    lighter = [dict(one) for one in loads]
    for key in ("power", "starting_power"):
        lighter[at][key] = lighter[at][key] * less
    after = raised(site(*split_pair(3000.0), loads=lighter, expected={"load": float(expected)}))
    fewer = raised(site(*split_pair(3000.0), loads=loads, expected={"load": expected * less}))
    assert set(after) <= set(before)
    assert set(fewer) <= set(before)
