"""The bank as the low end sees it: ways to it, shares on its cables, states of charge, voltages reached."""

from __future__ import annotations

from typing import Any

import pytest

from commission.figure import Figure, Unknown
from commission.plant.plant import Plant
from commission.sheet.bank_state import loaded, resistance_of_bank, resistance_up_to
from commission.sheet.cables import path_to_bank
from commission.sheet.charge_guard import settle_charge_guard
from commission.sheet.discharge import bank_discharge_limit
from commission.sheet.draft import Draft
from commission.sheet.generator import settle_generator
from commission.sheet.low_end import settle_low_end
from commission.sheet.reached import End, bus_maximum, reached
from commission.sheet.states import cut_off_state, states_of
from tests.sheet.low_end_cases import INVERTER, MANAGED, RUN, drafted, flooded, found, lithium, number

SUN: dict[str, Any] = {"id": "sun-1", "profile": "controller-48v-60-buck-150", "run": "run-2"}
SECOND = RUN | {"id": "run-2", "from": "sun-1"}


def value_of(quantity: object) -> float:
    assert isinstance(quantity, Figure), quantity
    return quantity.value


# resistance


def test_strings_in_parallel_share_the_makers_resistance():
    """Two strings of 30 mΩ: 15 mΩ; without a maker's figure 24 × 0.20 ÷ (450 × 2) = 5.33 mΩ, flooded."""
    assert value_of(resistance_of_bank(flooded(strings=2))) == pytest.approx(0.015)
    assert value_of(resistance_of_bank(flooded(strings=2, bank={}))) == pytest.approx(0.0053333, abs=1e-7)


def test_a_device_with_sense_leads_reads_at_the_posts():
    inverter = INVERTER | {"datasheet": INVERTER["datasheet"] | {"senses_voltage": "remote"}}
    of = flooded(inverters=(inverter,))
    assert value_of(resistance_up_to(of, of.site.inverter_chargers[0])) == pytest.approx(0.030)


@pytest.mark.parametrize(
    ("loads", "expected"),
    [
        pytest.param([], 0.030, id="no DC load, no current on its run"),
        pytest.param([{"id": "pump", "current": "dc", "power": 500.0}], 0.030369458, id="a quarter of 2 kW"),
        pytest.param([{"id": "pump", "current": "dc", "power": 9000.0}], 0.031477833, id="all of it at most"),
    ],
)
def test_a_controllers_run_carries_the_dc_loads(loads: list[dict[str, Any]], expected: float) -> None:
    """30 mΩ and the share of 1.47783 mΩ."""
    of = flooded(controllers=(SUN,), runs=[RUN, SECOND], loads=loads)
    assert value_of(resistance_up_to(of, of.site.charge_controllers[0])) == pytest.approx(expected, abs=1e-8)


def test_a_dc_load_that_is_not_known_is_missing():
    of = flooded(controllers=(SUN,), runs=[RUN, SECOND], loads=[{"id": "pump", "current": "dc"}])
    found_here = resistance_up_to(of, of.site.charge_controllers[0])
    assert isinstance(found_here, Unknown)
    assert "power of pump" in found_here.missing


def test_a_plant_without_inverters_loses_nothing_between_bank_and_loads():
    """300 W from 48.96 V behind 30 + 1.47783 mΩ: 4 R P = 37.773; √2359.308 = 48.5727; V = 48.7664 V."""
    of = flooded(
        inverters=(),
        controllers=(SUN,),
        runs=[SECOND],
        expected={"load": 300.0},
        loads=[{"id": "pump", "current": "dc", "power": 300.0}],
    )
    read = loaded(of, of.site.charge_controllers[0], states_of(of).start)
    assert value_of(read) == pytest.approx(48.7664, abs=1e-4)


# ways


def test_a_run_that_ends_at_no_known_part_goes_on_over_the_only_run_at_the_bank():
    of = flooded(
        panels=[{"id": "bus", "kind": "dc"}, {"id": "dc", "kind": "dc"}],
        runs=[RUN | {"to": "dc"}, RUN | {"id": "main", "from": "bus", "to": "bank"}],
    )
    assert [run.id for run in path_to_bank(of, "inv-1") or ()] == ["run-1", "main"]


def test_two_runs_at_the_bank_leave_the_way_open():
    of = flooded(
        panels=[{"id": "bus", "kind": "dc"}, {"id": "dc", "kind": "dc"}],
        runs=[
            RUN | {"to": "dc"},
            RUN | {"id": "main-1", "from": "bus", "to": "bank"},
            RUN | {"id": "main-2", "from": "bus", "to": "bank"},
        ],
    )
    assert path_to_bank(of, "inv-1") is None


# states of charge


@pytest.mark.parametrize(
    ("told", "expected"),
    [
        pytest.param({"cut_off_state_of_charge": 0.07}, 0.07, id="told"),
        pytest.param({"cut_off_low": 3.05}, 0.05, id="3.05 V is 5 % in the table"),
        pytest.param({"cut_off_low": 2.875}, 0.025, id="half way between 2.70 and 3.05 V"),
        pytest.param({"cut_off_low": 2.5}, 0.0, id="under the table"),
    ],
)
def test_the_batterys_own_cut_off_is_a_state_of_charge(told: dict[str, Any], expected: float) -> None:
    managed = MANAGED | {"cut_off_state_of_charge": "unknown"} | told
    assert value_of(cut_off_state(lithium(bank={"management": managed}))) == pytest.approx(expected)


def test_a_cut_off_that_is_not_told_is_missing_and_the_depth_stands():
    managed = MANAGED | {"cut_off_state_of_charge": "unknown", "cut_off_low": "unknown"}
    of = lithium(bank={"resistance": 0.009, "management": managed, "standing_draw": 0.0})
    assert isinstance(cut_off_state(of), Unknown)
    assert value_of(states_of(of).disconnect) == pytest.approx(0.10)
    finding = found(drafted(of, settle_low_end), "standing-draw")
    assert finding is not None
    assert finding.kind == "not checked"


def test_a_draw_that_empties_the_bank_disconnects_at_70_per_cent_at_most():
    """256 W are 5 A: for 864000 s 1200 Ah of 840 Ah. Start 0.75, warning 0.85."""
    of = lithium(bank={"resistance": 0.009, "management": MANAGED, "standing_draw": 256.0})
    states = states_of(of)
    assert [value_of(one) for one in (states.disconnect, states.start, states.warning)] == pytest.approx(
        [0.70, 0.75, 0.85]
    )


# discharge


def test_the_makers_discharge_limit_goes_before_the_chemistrys():
    """150 A of a string, two strings: 300 A."""
    of = flooded(strings=2, bank={"resistance": 0.03, "greatest_discharge": 150.0})
    assert value_of(bank_discharge_limit(Draft(of))) == pytest.approx(300.0)


# what sources reach without the step that settles them


def bare(**changed: Any) -> Plant:
    return flooded(chemistry="agm", **changed)


@pytest.mark.parametrize(
    ("end", "fitted", "expected"),
    [
        pytest.param("hottest", True, 56.64, id="57.6 − 24 × 0.004 × 10"),
        pytest.param("coldest", True, 60.0, id="57.6 + 24 × 0.004 × 25"),
        pytest.param("coldest", False, 57.6, id="no sensor"),
    ],
)
def test_what_a_source_reaches_is_derived_where_nothing_told_it(
    end: End, fitted: bool, expected: float
) -> None:
    of = bare(inverters=(INVERTER | {"sensor_fitted": fitted},))
    value = reached(Draft(of), of.site.inverter_chargers[0], "absorption", end)
    assert value_of(value) == pytest.approx(expected)


def test_a_stage_that_is_off_or_that_the_device_has_not_is_not_reached():
    of = bare()
    assert reached(drafted(of), of.site.inverter_chargers[0], "equalize", "coldest") is None
    assert reached(Draft(of), of.site.inverter_chargers[0], "equalize", "coldest") is None


def test_the_bus_maximum_is_derived_where_nothing_told_it():
    """66.0 V of the inverter, 64.0 V of the plain one."""
    plain = INVERTER | {"id": "inv-2", "profile": "inverter-48v-230-3000-plain", "datasheet": {}}
    assert value_of(bus_maximum(Draft(bare(inverters=(INVERTER, plain))))) == pytest.approx(64.0)
    assert isinstance(bus_maximum(Draft(bare(inverters=()))), Unknown)


# gaps


def test_an_inverter_of_unknown_cut_off_without_a_setting_is_not_checked():
    of = flooded(
        inverters=(INVERTER | {"datasheet": {"inverter_efficiency": 0.9, "low_cut_off": "unknown"}},)
    )
    settings = dict(of.equipment["inv-1"].settings)
    del settings["load_disconnect_voltage"]
    bare_class = of.equipment["inv-1"].model_copy(update={"settings": settings})
    of = of.model_copy(update={"equipment": {"inv-1": bare_class}})
    finding = found(drafted(of, settle_low_end), "cut-off-too-low")
    assert finding is not None
    assert finding.kind == "not checked"
    assert "low cut off of inv-1" in finding.text


@pytest.mark.parametrize(
    ("place", "management"),
    [
        pytest.param({"coldest_battery": "unknown"}, None, id="coldest battery"),
        pytest.param({"coldest_battery": -5.0}, MANAGED | {"charge_low_temperature": "unknown"}, id="block"),
    ],
)
def test_cold_charging_of_lithium_is_not_checked_where_something_is_missing(
    place: dict[str, Any], management: dict[str, Any] | None
) -> None:
    of = lithium(
        place={"coldest_month_battery": -2.0} | place,
        bank={"resistance": 0.009, "management": management},
        inverters=(),
        controllers=({"id": "sun-1", "profile": "controller-48v-80-buck-600"},),
        authority={},
    )
    draft = Draft(of)
    settle_charge_guard(draft)
    finding = found(draft, "charging-in-the-cold")
    assert finding is not None
    assert finding.kind == "not checked"


def test_a_start_load_in_amperes_is_that_of_the_output():
    """0.8 × 5000 VA ÷ 230 V = 17.39 A; steps of 1 A down: 17 A."""
    amperes = {"settings": {"generator_start_load": {"unit": "A", "low": 0.0, "high": 50.0, "step": 1.0}}}
    inverter = INVERTER | {"inputs": {"generator": "gen-1"}, "datasheet": INVERTER["datasheet"] | amperes}
    generator = {"id": "gen-1", "profile": "generator-diesel-single-230-10000", "started_by": "inv-1"}
    draft = drafted(flooded(inverters=(inverter,), generators=[generator]), settle_generator)
    assert number(draft, "inv-1", "generator_start_load") == pytest.approx(17.0)
