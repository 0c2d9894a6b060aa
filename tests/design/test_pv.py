"""PV strings and controllers: in the cold, in the heat, by current, among themselves."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from commission.design.pv import check_pv
from commission.design.pv_array import PvArray, array_short_circuit_current, cold_voltage, pv_arrays
from commission.design.pv_heat import (
    cell_temperature,
    charged_to,
    hot_voltage,
    hottest_cell,
    least_count,
    needed_voltage,
)
from commission.design.pv_remedies import most_count
from commission.design.types import Found, Scene
from commission.figure import Figure, Quantity, Unknown
from commission.figure import given as figure
from commission.plant.plant import Plant
from commission.sheet.settle import make_sheet
from commission.sheet.types import Finding
from tests.builders import plant

MODULE: dict[str, Any] = {
    "module_power": 330.0,
    "open_circuit_voltage": 40.0,
    "short_circuit_current": 10.3,
    "maximum_power_voltage": 33.8,
    "maximum_power_current": 9.77,
    "voltage_coefficient": -0.29,
    "power_coefficient": -0.37,
    "nominal_cell_temperature": 45.0,
    "series_fuse": 20.0,
    "module_voltage_max": 1000.0,
}
"""A module of 60 cells of no particular maker."""
RUN = {
    "id": "run-pv",
    "kind": "dc",
    "from": "pv-1",
    "to": "controller-1",
    "area": 16.0,
    "length": 10.0,
    "voltage": 1000.0,
}
BREAKER = {
    "id": "breaker-pv", "kind": "breaker", "current": "dc", "rating": 63.0, "voltage": 1000.0,
    "interrupting": 1e4, "protects": "array", "of": "controller-1", "poles": 2, "polarised": False,
}  # fmt: skip
WEAK = BREAKER | {"voltage": 130.0}


def with_array(
    *,
    series: Any = 3,
    strings: Any = 1,
    profile: Any = "controller-48v-60-buck-150",
    datasheet: Any = None,
    place: Any = None,
    sections: Any = None,
    chemistry: Any = None,
    **array: Any,
) -> Plant:
    """Return a 48 V plant with one controller and an array."""
    listed: Any = [{"id": f"pv-{n}"} for n in range(1, strings + 1)] if isinstance(strings, int) else strings
    told = {key: value for key, value in (MODULE | array).items() if value is not None}
    controller = {
        "id": "controller-1",
        "profile": profile,
        "datasheet": datasheet or {},
        "array": {"series": series, "strings": listed, **told},
    }
    beside: dict[str, Any] = {
        "runs": (RUN,),
        "protection": (BREAKER,),
        "safety": {"array_on_building": True},
    } | (sections or {})
    battery: dict[str, Any] = {"chemistry": "agm"} | (chemistry or {})
    return plant(controllers=(controller,), place=place, **beside, **battery)


def array_of(built: Plant) -> PvArray:
    return next(iter(pv_arrays(Scene(built, make_sheet(built)))))


def checked(built: Plant) -> dict[str, Found]:
    """Return what the check finds, by the id of the finding."""
    found = list(check_pv(Scene(built, make_sheet(built))))
    made = {one.finding.id: one for one in found}
    assert len(made) == len(found), "two findings of one id"
    return made


def kinds(built: Plant) -> dict[str, str]:
    return {ident: one.finding.kind for ident, one in checked(built).items()}


def finding(built: Plant, check: str, part: str = "controller-1") -> Finding:
    return checked(built)[f"{check}:{part}"].finding


def number(quantity: Quantity | None) -> float:
    assert isinstance(quantity, Figure)
    return quantity.value


def metric(**place: Any) -> dict[str, Any]:
    return {"rules": "iec-230", "units": "metric", **place}


def test_a_sound_array_has_no_findings():
    assert kinds(with_array()) == {}


def test_a_plant_without_arrays_is_asked_nothing():
    assert list(check_pv(Scene(plant(), make_sheet(plant())))) == []


# cold: values of others


@pytest.mark.parametrize(
    ("voltage", "coefficient", "coldest", "modules", "expected", "tolerance"),
    [
        pytest.param(45.0, -0.27, -26.0, 1, 51.2, 0.05, id="worked value in a public test suite of PV code"),
        pytest.param(49.0, -0.24, -7.2, 1, 52.79, 0.01, id="published worked example"),
        pytest.param(38.9, None, -20.0, 2, 91.8, 0.05, id="published course example, NEC table 690.7(A)"),
        pytest.param(37.0, -100 * 0.130 / 37.0, -20.0, 3, 128.55, 0.01, id="study notes on NEC 690, in mV/K"),
        pytest.param(41.2, -0.31, "-4 °F", 4, 187.79, 0.02, id="study notes on NEC 690, in °F"),
        pytest.param(
            36.9, -100 * 0.130387 / 36.9, -20.0, 10, 427.67, 0.02, id="CEC database of pvlib, column 100"
        ),
        pytest.param(
            39.1, -100 * 0.108698 / 39.1, -10.0, 6, 257.43, 0.02, id="CEC database of pvlib, column 2500"
        ),
        pytest.param(
            43.8, -100 * 0.147606 / 43.8, -20.0, 3, 151.33, 0.02, id="CEC database of pvlib, column 12000"
        ),
        pytest.param(
            38.0, None, -7.5, 1, 38.0 * 1.14, 1e-6, id="NEC table 690.7(A), the colder band between degrees"
        ),
        pytest.param(38.0, None, 30.0, 1, 38.0, 1e-6, id="NEC table 690.7(A), nothing over 25 °C"),
    ],
)
def test_cold_voltage(voltage, coefficient, coldest, modules, expected, tolerance):
    built = with_array(
        series=modules,
        open_circuit_voltage=voltage,
        voltage_coefficient=coefficient,
        place={"coldest_ambient": coldest},
    )
    pv = array_of(built)
    assert number(cold_voltage(pv, pv.array.strings[0])) == pytest.approx(expected, abs=tolerance)


def test_below_the_table_the_coefficient_is_asked_for():
    built = with_array(voltage_coefficient=None, place={"coldest_ambient": -41.0})
    made = finding(built, "cold-voltage")
    assert made.kind == "not checked"
    assert "voltage coefficient" in made.text


@pytest.mark.parametrize(
    ("voltage", "coefficient", "coldest", "limit", "most", "one_more"),
    [
        (37.8, -0.32, -20.0, 150.0, 3, 173.0),
        (49.6, -0.26, -15.0, 150.0, 2, 164.3),
        (45.6, -0.28, -25.0, 250.0, 4, 259.9),
        (41.5, -0.27, -10.0, 145.0, 3, 181.7),
    ],
)
def test_most_in_series_and_what_one_more_gives(voltage, coefficient, coldest, limit, most, one_more):
    # study notes on NEC 690: counts below a controller's limit
    built = with_array(
        series=most + 1,
        open_circuit_voltage=voltage,
        maximum_power_voltage=0.83 * voltage,
        voltage_coefficient=coefficient,
        place={"coldest_ambient": coldest},
        datasheet={"pv_voltage_absolute": limit, "pv_voltage_operating": limit},
    )
    found = checked(built)["cold-voltage:controller-1"]
    assert (found.finding.kind, found.finding.releasable) == ("stop", False)
    assert number(found.finding.value) == pytest.approx(one_more, abs=0.1)
    shorter = [one for one in found.remedies if one.text.startswith(f"at most {most} in series")]
    assert [one.change[0].value for one in shorter] == [most]


# cold: what stands the voltage


def test_exactly_on_the_absolute_maximum_is_inside_and_a_hair_over_is_not():
    pv = array_of(with_array())
    cold = number(cold_voltage(pv, pv.array.strings[0]))
    at = {"pv_voltage_absolute": cold, "pv_voltage_operating": 200.0}
    assert kinds(with_array(datasheet=at)) == {}
    over = {"pv_voltage_absolute": cold - 0.01, "pv_voltage_operating": 200.0}
    assert kinds(with_array(datasheet=over)) == {"cold-voltage:controller-1": "stop"}


def test_over_the_operating_maximum_charging_pauses():
    pv = array_of(with_array())
    cold = number(cold_voltage(pv, pv.array.strings[0]))
    sheet = {"pv_voltage_absolute": 150.0, "pv_voltage_operating": cold - 0.01}
    assert kinds(with_array(datasheet=sheet)) == {"cold-voltage:controller-1": "correct"}


def test_a_limit_over_the_bank_counts_with_the_bank_discharged():
    # 24 cells of 1.75 V at the end of discharge: 42 V
    pv = array_of(with_array())
    cold = number(cold_voltage(pv, pv.array.strings[0]))
    tight = with_array(datasheet={"pv_over_bank": cold - 42.0 - 0.01})
    made = finding(tight, "cold-voltage")
    assert made.kind == "correct"
    assert number(made.limit) == pytest.approx(cold - 0.01)
    assert "discharged" in made.text
    assert "cold-voltage:controller-1" not in kinds(with_array(datasheet={"pv_over_bank": cold - 42.0}))


def test_a_class_without_a_rule_over_the_bank_is_not_asked_for_one():
    assert "operating-voltage:controller-1" not in kinds(with_array(datasheet={"pv_over_bank": "none"}))
    made = finding(with_array(datasheet={"pv_over_bank": "unknown"}), "operating-voltage")
    assert (made.kind, "pv over bank" in made.text) == ("not checked", True)


@pytest.mark.parametrize("slope", [None, 1.7])
def test_close_under_the_limit_is_told_with_the_diode_model_where_it_can_be(slope):
    pv = array_of(with_array())
    cold = number(cold_voltage(pv, pv.array.strings[0]))
    near = {"pv_voltage_operating": cold / 0.975}
    made = finding(with_array(datasheet=near, thermal_slope=slope), "cold-voltage-margin")
    assert made.kind == "advise"
    assert ("the one-diode model makes it" in made.text) == (slope is not None)
    assert "cold-voltage-margin:controller-1" not in kinds(
        with_array(datasheet={"pv_voltage_operating": cold / 0.969})
    )


@pytest.mark.parametrize(
    ("array", "sections", "ident", "kind"),
    [
        ({"module_voltage_max": 130.0}, {}, "module-voltage:controller-1", "correct"),
        ({}, {"protection": (WEAK,)}, "array-device-voltage:breaker-pv", "stop"),
        ({}, {"protection": (WEAK | {"kind": "switch"},)}, "array-device-voltage:breaker-pv", "stop"),
        (
            {},
            {"protection": (WEAK | {"kind": "surge", "of": "pv-1"},)},
            "array-device-voltage:breaker-pv",
            "correct",
        ),
        ({}, {"runs": (RUN | {"voltage": 130.0},)}, "array-cable-voltage:run-pv", "correct"),
    ],
    ids=["modules", "breaker", "switch", "surge device", "cable"],
)
def test_everything_on_the_pv_side_stands_the_cold_voltage(array, sections, ident, kind):
    # three modules of 40.0 V give 133.9 V at −15 °C
    assert kinds(with_array(**array, sections=sections)) == {ident: kind}


def test_a_building_bounds_the_voltage_where_the_array_is_on_one():
    sheet = {"pv_voltage_absolute": 1000.0, "pv_voltage_operating": 1000.0}
    long = {"series": 14, "datasheet": sheet, "module_power": 100.0}  # 625 V against 600 V of NEC 690.7(A)
    assert kinds(with_array(**long)) == {"array-building-voltage:controller-1": "correct"}
    assert kinds(with_array(**long, sections={"safety": {"array_on_building": False}})) == {}
    asked = kinds(with_array(**long, sections={"safety": {}}))
    assert asked == {"array-building-voltage:controller-1": "not checked"}
    assert kinds(with_array(**long, place=metric())) == {}  # 1000 V by IEC 62548


def test_the_longest_string_counts():
    strings = [{"id": "pv-1"}, {"id": "pv-2", "series": 4}]
    made = checked(with_array(strings=strings))["cold-voltage:controller-1"]
    assert made.finding.kind == "stop"
    assert "pv-2" in made.finding.text
    assert [(one.key, one.value) for one in made.remedies[0].change] == [
        ("charge_controllers[controller-1].array.strings[pv-2].series", 3)
    ]


@pytest.mark.parametrize("told", [0.29, -0.0029, 0.0])
def test_a_coefficient_that_can_be_no_modules_is_not_believed(told):
    built = with_array(voltage_coefficient=told)
    pv = array_of(built)
    assert number(cold_voltage(pv, pv.array.strings[0])) == pytest.approx(3 * 40.0 * 1.16)  # by the table
    assert kinds(built)["voltage-coefficient:controller-1"] == "correct"


def test_an_unusual_coefficient_is_told():
    assert kinds(with_array(voltage_coefficient=-0.19)) == {"voltage-coefficient:controller-1": "advise"}
    assert kinds(with_array(power_coefficient=0.37))["power-coefficient:controller-1"] == "correct"


def test_all_modules_stay_in_use_where_other_strings_hold_them():
    found = checked(with_array(series=6, strings=1))["cold-voltage:controller-1"]
    first = found.remedies[0]
    assert "2 strings of 3" in first.text
    assert [(one.key.rsplit(".", 1)[-1], one.value) for one in first.change] == [
        ("series", 3),
        ("strings[controller-1-string-1]", {}),
    ]


def test_no_number_passes_both_and_it_is_said():
    # 72 V modules: one is too little for a 48 V bank in the heat, two are over 150 V in the cold
    built = with_array(
        series=2, open_circuit_voltage=72.0, maximum_power_voltage=58.0, module_voltage_max=1500.0
    )
    made = checked(built)["cold-voltage:controller-1"]
    assert "no number in series passes: at most 1 for the cold, at least 2 for the heat" in made.finding.text
    assert [one.text.split(" of PV")[0] for one in made.remedies] == [
        "a controller for 200 V",
        "a controller for 250 V",
    ]
    low = checked(with_array(series=1, open_circuit_voltage=72.0, maximum_power_voltage=58.0))[
        "hot-voltage:controller-1"
    ]
    assert "no number in series passes" in low.finding.text
    assert low.remedies[0].change[0].value == 2


# heat


@pytest.mark.parametrize(
    ("nominal", "air", "expected"),
    [(45.0, 40.0, 71.25), (47.0, 33.0, 66.75)],
    ids=["pvlib.temperature.ross(1000, 40, noct=45)", "IEC 61215, definition of NOCT, by hand"],
)
def test_cells_by_their_nominal_temperature(nominal, air, expected):
    pv = array_of(with_array(nominal_cell_temperature=nominal, place={"hottest_ambient": air}))
    assert number(hottest_cell(pv)) == pytest.approx(expected, abs=0.01)


def test_cells_of_an_insulated_back_are_hotter():
    # pvlib.temperature.sapm_cell(1000, 40, 1) with the insulated back: 97.527 °C
    pv = array_of(with_array(mounting="insulated back", place={"hottest_ambient": 40.0}))
    assert number(hottest_cell(pv)) == pytest.approx(97.527, abs=0.01)
    rack = array_of(with_array(mounting="open rack", place={"hottest_ambient": 40.0}))
    assert number(hottest_cell(rack)) == pytest.approx(71.25, abs=0.01)


def test_what_is_taken_for_the_cells_is_said():
    made = finding(with_array(place={"hottest_ambient": "unknown"}), "cell-temperature")
    assert (made.kind, number(made.value)) == ("advise", 70.0)
    untold = finding(with_array(nominal_cell_temperature=None), "cell-temperature")
    assert number(untold.value) == pytest.approx(38.0 + 27.0 * 1.25)
    assert "cell-temperature:controller-1" not in kinds(
        with_array(nominal_cell_temperature=None, mounting="open rack")
    )


@pytest.mark.parametrize(
    ("voltage", "coefficient", "modules", "cell", "expected", "tolerance"),
    [
        pytest.param(41.7, -0.34, 1, 68.0, 35.6, 0.02, id="by hand: 41.7 × (1 − 0.0034 × 43)"),
        pytest.param(30.3, -0.507476, 3, 70.0, 70.14, 0.03, id="CEC database of pvlib, column 100"),
        pytest.param(32.0, -0.404, 3, 65.0, 80.49, 0.03, id="CEC database of pvlib, column 2500"),
        pytest.param(35.6, -0.477, 2, 70.0, 55.92, 0.03, id="CEC database of pvlib, column 9000"),
        pytest.param(36.4, -0.436, 2, 60.0, 61.69, 0.03, id="CEC database of pvlib, column 21000"),
    ],
)
def test_hot_voltage_with_the_allowance_for_age(voltage, coefficient, modules, cell, expected, tolerance):
    pv = array_of(with_array(series=modules, maximum_power_voltage=voltage, power_coefficient=coefficient))
    held = hot_voltage(pv, pv.array.strings[0], figure(cell, "°C", "cell"))
    assert number(held) / 0.95 == pytest.approx(expected, abs=tolerance)


def test_a_cold_bank_asks_for_more():
    # by hand: 57.6 V at 25 °C, 24 cells, −5 mV/K per cell, battery at 0 °C: 60.6 V
    battery = {
        name: {"value": value, "low": value, "high": value, "source": "test", "known": "seen"}
        for name, value in (
            ("absorption_voltage", 2.4),
            ("temperature_slope", -5.0),
            ("charge_voltage_ceiling", 2.6),
        )
    }
    pv = array_of(with_array(place={"coldest_battery": 0.0}, chemistry={"battery": battery}))
    assert number(charged_to(pv, "coldest")) == pytest.approx(60.6, abs=0.05)
    assert number(charged_to(pv, "hottest_month")) == pytest.approx(57.0, abs=0.05)  # 30 °C


def test_least_in_series_for_the_hot_bank():
    # 41.7 V modules at 68 °C hold 35.6 V, 33.8 V aged: two for a 48 V bank (common practice of string sizing)
    pv = array_of(
        with_array(maximum_power_voltage=41.7, power_coefficient=-0.34, place={"hottest_ambient": 36.75})
    )
    assert least_count(pv, pv.array.strings[0]) == 2


def test_just_enough_for_the_heat_and_just_not():
    pv = array_of(with_array(series=2))
    string = pv.array.strings[0]
    needs = needed_voltage(pv, string, charged_to(pv, "hottest_month"))
    one = hot_voltage(pv, string, hottest_cell(pv), modules=1)
    enough = 33.8 * number(needs) / (2 * number(one))
    assert (
        kinds(with_array(series=2, maximum_power_voltage=enough * 1.0001)).get("hot-voltage:controller-1")
        is None
    )
    made = checked(with_array(series=2, maximum_power_voltage=enough * 0.999))["hot-voltage:controller-1"]
    assert made.finding.kind == "correct"
    assert made.remedies[0].change[0].value == 3


def test_the_seasons_are_not_mixed():
    # strings that hold enough for each season but not for hot cells and a cold bank: advice only
    for voltage in [24.0 + 0.1 * step for step in range(100)]:
        found = kinds(with_array(series=3, maximum_power_voltage=voltage))
        if "hot-voltage-cold-bank:controller-1" in found:
            assert found["hot-voltage-cold-bank:controller-1"] == "advise"
            assert "hot-voltage:controller-1" not in found
            return
    pytest.fail("no voltage lies between")


def test_headroom_and_drop_count():
    pv = array_of(with_array())
    string, charge = pv.array.strings[0], charged_to(pv, "hottest_month")
    # 5 V of the class; 9.77 A over 2 × 10 m of 16 mm² at 20 °C, 0.017241 Ω·mm²/m (IEC 60028): 0.2106 V
    assert number(needed_voltage(pv, string, charge)) == pytest.approx(
        number(charge) + 5.0 + 0.2106, abs=0.001
    )
    bare = array_of(with_array(sections={"runs": ()}))
    # without a run the greatest drop that the rule set allows: 2 % of 3 × 33.8 V
    share = bare.plant.rule("drop_array").value
    assert number(needed_voltage(bare, string, charge)) == pytest.approx(number(charge) + 5.0 + share * 101.4)


# other topologies


def test_a_switched_controller_wants_modules_near_the_bank():
    switched = {"profile": "controller-12-24v-30-switched", "chemistry": {"blocks": 2}}
    near = {
        "series": 1,
        "open_circuit_voltage": 45.0,
        "maximum_power_voltage": 38.0,
        "place": {"coldest_ambient": 20.0},
    }
    assert "switched-power:controller-1" not in kinds(with_array(**switched, **near, strings=2))
    far = near | {"maximum_power_voltage": 52.0, "open_circuit_voltage": 60.0}
    far_sheet = {"pv_voltage_absolute": 100.0, "pv_voltage_operating": 95.0}
    made = checked(with_array(**switched, **far, datasheet=far_sheet))["switched-power:controller-1"]
    assert made.finding.kind == "advise"
    assert made.remedies[-1].change[0].value == "buck"


def test_a_switched_controller_passes_on_what_comes_in():
    switched = {"profile": "controller-12-24v-30-switched", "chemistry": {"blocks": 2}, "series": 1}
    sheet = {"pv_input_current": 60.0}
    # 30 A out; 2 × 10.3 × 1.25 = 25.75 A, 3 × 10.3 × 1.25 = 38.6 A
    assert "array-current:controller-1" not in kinds(with_array(**switched, strings=2, datasheet=sheet))
    made = finding(with_array(**switched, strings=3, datasheet=sheet, string_fuse=20.0), "array-current")
    assert number(made.limit) == 30.0
    assert number(made.value) == pytest.approx(38.625)


@pytest.mark.parametrize(
    ("voltage", "kind"),
    [(34.0, None), (38.0, "correct"), (52.0, "stop")],
    ids=["under", "over the bank", "over the charge"],
)
def test_a_boost_controller_wants_the_array_under_the_bank(voltage, kind):
    # 24 cells × 1.75 V: 42 V; at −15 °C a module rises by 11.6 %
    built = with_array(series=1, open_circuit_voltage=voltage, datasheet={"topology": "boost"})
    assert kinds(built).get("boost-voltage:controller-1") == kind


# currents


@pytest.mark.parametrize(
    ("current", "strings", "rear", "expected"),
    [
        pytest.param(11.2, 1, 0.0, 14.0, id="published study notes on NEC 690"),
        pytest.param(8.7, 4, 0.0, 43.5, id="NEC 690.8(A), by hand"),
        pytest.param(13.9, 2, 0.0, 34.75, id="NEC 690.8(A), by hand, two strings"),
        pytest.param(10.0, 1, 0.1, 13.75, id="IEC 62548-1:2023, rear share of a tenth, by hand"),
    ],
)
def test_greatest_current(current, strings, rear, expected):
    built = with_array(strings=strings, short_circuit_current=current, rear_gain=rear)
    scene = Scene(built, make_sheet(built))
    value = array_short_circuit_current(scene, built.site.charge_controllers[0])
    assert number(value) == pytest.approx(expected, abs=0.01)


def test_strings_of_their_own_current_add_up():
    strings = [{"id": "pv-1"}, {"id": "pv-2", "short_circuit_current": 8.0}]
    built = with_array(strings=strings)
    value = array_short_circuit_current(Scene(built, make_sheet(built)), built.site.charge_controllers[0])
    assert number(value) == pytest.approx(1.25 * 18.3)


def test_the_input_takes_the_current_or_not():
    # 13.9 A × 2 × 1.25 = 34.75 A against 35 A and 34 A (NEC 690.8(A), by hand)
    two = {"strings": 2, "short_circuit_current": 13.9, "series_fuse": 25.0}
    assert kinds(with_array(**two, datasheet={"pv_input_current": 35.0})) == {}
    found = checked(with_array(**two, datasheet={"pv_input_current": 34.0}))["array-current:controller-1"]
    assert found.finding.kind == "correct"
    assert "at most 1 of 2 strings" in found.remedies[-3].text
    assert found.remedies[-2].passes is not None
    assert number(found.remedies[-2].passes) == 40.0


@pytest.mark.parametrize(
    ("power", "rating", "efficiency", "cells", "clipped", "share"),
    [
        pytest.param(2400.0, 80.0, 0.97, 8, 288.7, "12%", id="by hand: 2400 − 80 × 25.6 ÷ 0.97"),
        pytest.param(5200.0, 100.0, 0.98, 16, None, "", id="by hand: 99.5 A of 100 A"),
        pytest.param(5400.0, 100.0, 0.98, 16, 5400 - 5120 / 0.98, "3%", id="by hand: 5400 − 5120 ÷ 0.98"),
    ],
)
def test_clipping_is_told_in_watts_and_share(power, rating, efficiency, cells, clipped, share):
    built = with_array(
        series=4,
        module_power=power / 4,
        chemistry={"chemistry": "lfp", "cells_per_block": cells, "blocks": 1},
        datasheet={
            "output_current": rating,
            "efficiency": efficiency,
            "pv_voltage_absolute": 300.0,
            "pv_voltage_operating": 290.0,
        },
    )
    found = checked(built)
    if clipped is None:
        assert "array-clipping:controller-1" not in found
        return
    made = found["array-clipping:controller-1"].finding
    assert made.kind == "advise"
    assert number(made.value) == pytest.approx(clipped, abs=0.5)
    assert share in made.text


# string fuses


@pytest.mark.parametrize(
    ("rules", "current", "strings", "series_fuse", "needed"),
    [
        pytest.param("iec-230", 10.2, 2, 15.0, False, id="IEC 62548 6.3: 10.2 A into 15 A"),
        pytest.param("north-america", 13.9, 2, 25.0, False, id="NEC 690.9(A): 17.4 A into 25 A"),
        pytest.param("iec-230", 13.9, 3, 25.0, True, id="IEC 62548 6.3: 27.8 A into 25 A"),
        pytest.param(
            "north-america", 8.6, 2, 10.0, True, id="NEC 690.9(A): 10.75 A into 10 A; IEC would pass"
        ),
        pytest.param("iec-230", 8.6, 2, 10.0, False, id="IEC 62548 6.3: 8.6 A into 10 A"),
        pytest.param("iec-230", 10.0, 3, 20.0, False, id="IEC 62548 6.3: exactly on it is inside"),
    ],
)
def test_who_needs_a_string_fuse(rules, current, strings, series_fuse, needed):
    built = with_array(
        strings=strings, short_circuit_current=current, series_fuse=series_fuse, place={"rules": rules}
    )
    assert (kinds(built).get("string-fuse:controller-1") == "stop") is needed


def test_what_the_controller_drives_back_adds_to_it():
    alone = with_array(datasheet={"pv_backfeed_current": 25.0})
    assert kinds(alone)["string-fuse:controller-1"] == "stop"
    assert kinds(with_array(datasheet={"pv_backfeed_current": 19.0})) == {}


@pytest.mark.parametrize(
    ("rules", "current", "fuse", "series_fuse", "fits"),
    [
        pytest.param("north-america", 9.5, 15.0, 15.0, True, id="published fuse example: 14.8 A, 15 A"),
        pytest.param(
            "north-america", 11.2, 15.0, 20.0, False, id="study notes on NEC 690: 17.5 A, next 20 A"
        ),
        pytest.param("north-america", 11.2, 20.0, 20.0, True, id="study notes on NEC 690: 20 A"),
        pytest.param("iec-230", 10.0, 15.0, 30.0, True, id="IEC 62548: 1.5 × 10 A"),
        pytest.param("iec-230", 10.0, 25.0, 30.0, False, id="IEC 62548: over 2.4 × 10 A"),
        pytest.param("north-america", 10.0, 25.0, 30.0, True, id="NEC names no such limit"),
        pytest.param("north-america", 10.0, 25.0, 20.0, False, id="over the module's series fuse"),
    ],
)
def test_size_of_a_string_fuse(rules, current, fuse, series_fuse, fits):
    built = with_array(
        strings=3,
        short_circuit_current=current,
        string_fuse=fuse,
        series_fuse=series_fuse,
        place={"rules": rules},
    )
    assert (kinds(built).get("string-fuse-size:controller-1") is None) is fits


def test_no_usual_size_fits():
    made = checked(with_array(strings=3, short_circuit_current=13.9, string_fuse=20.0, series_fuse=20.0))
    found = made["string-fuse-size:controller-1"]
    assert "no usual size lies between 21.72 A and 20 A" in found.finding.text
    assert not found.remedies


def test_a_fuse_of_its_own_counts_for_its_string():
    three = {"strings": 3, "short_circuit_current": 13.9, "series_fuse": 25.0}
    fuse = {
        "id": "fuse-a",
        "kind": "fuse",
        "current": "dc",
        "rating": 25.0,
        "voltage": 1000.0,
        "interrupting": 1e4,
        "protects": "array",
    }
    fuses = tuple(fuse | {"id": f"fuse-{n}", "of": f"pv-{n}"} for n in (1, 2, 3))
    big = BREAKER | {"rating": 80.0}
    sheet = {"pv_input_current": 60.0}
    assert kinds(with_array(**three, datasheet=sheet, sections={"protection": (big, *fuses)})) == {}
    some = kinds(with_array(**three, datasheet=sheet, sections={"protection": (big, *fuses[:2])}))
    assert some == {"string-fuse:controller-1": "stop"}
    small = (big, fuses[0] | {"rating": 15.0}, *fuses[1:])
    assert kinds(with_array(**three, datasheet=sheet, sections={"protection": small})) == {
        "string-fuse-size:fuse-1": "correct"
    }


def test_a_fuse_that_is_not_told_is_asked_for():
    built = with_array(strings=2, string_fuse="unknown")
    assert kinds(built) == {"string-fuse:controller-1": "not checked"}


@pytest.mark.parametrize(
    ("current", "strings", "rating", "marked", "least"),
    [
        pytest.param(11.2, 1, 20.0, False, None, id="published study notes on NEC 690: 17.5 A, 20 A"),
        pytest.param(11.2, 1, 15.0, False, 20.0, id="published study notes on NEC 690: 17.5 A, next 20 A"),
        pytest.param(8.7, 4, 50.0, False, 60.0, id="NEC 690.8(B) and 240.6(A): 54.4 A, next 60 A"),
        pytest.param(8.7, 4, 45.0, True, None, id="marked for its whole rating: 43.5 A, by hand"),
    ],
)
def test_a_breaker_of_the_array_carries_its_current(current, strings, rating, marked, least):
    breaker = BREAKER | {"rating": rating, "full_rated": marked}
    found = checked(
        with_array(
            strings=strings,
            short_circuit_current=current,
            series_fuse=30.0,
            string_fuse=None if strings == 1 else 20.0,
            sections={"protection": (breaker,)},
        )
    )
    if least is None:
        assert "array-device-rating:breaker-pv" not in found
    else:
        assert number(found["array-device-rating:breaker-pv"].remedies[0].passes) == least


# strings among themselves


def test_strings_of_different_voltage_on_one_input():
    uneven = [{"id": "pv-1"}, {"id": "pv-2", "series": 2}]
    made = checked(with_array(strings=uneven))["string-mismatch:controller-1"]
    assert made.finding.kind == "correct"
    assert number(made.finding.value) == pytest.approx(1 / 3)
    assert [one.change[0].value for one in made.remedies] == [2, 3]
    near = [{"id": "pv-1"}, {"id": "pv-2", "maximum_power_voltage": 33.8 * 0.981}]
    assert "string-mismatch:controller-1" not in kinds(with_array(strings=near))
    off = [{"id": "pv-1"}, {"id": "pv-2", "maximum_power_voltage": 33.8 * 0.979}]
    assert kinds(with_array(strings=off))["string-mismatch:controller-1"] == "correct"


@pytest.mark.parametrize(
    ("second", "told"), [(350.0, None), (30.0, "advise"), (4.0, None)], ids=["near", "over north", "same"]
)
def test_strings_that_look_different_ways(second, told):
    strings = [{"id": "pv-1", "azimuth": 355.0}, {"id": "pv-2", "azimuth": second}]
    assert kinds(with_array(strings=strings)).get("string-azimuth:controller-1") == told


def test_directions_of_which_one_is_not_known_are_asked_for():
    """A string that says its own azimuth beside others of an array that says none."""
    strings = [{"id": "pv-1", "azimuth": 180.0}, {"id": "pv-2"}]
    found = checked(with_array(strings=strings, azimuth="unknown"))["string-azimuth:controller-1"]
    assert found.finding.kind == "not checked"
    assert [getattr(gap, "key", "") for gap in found.finding.missing] == [
        "charge_controllers[controller-1].array.azimuth"
    ]


# what is not known


@pytest.mark.parametrize(
    ("array", "place", "asked"),
    [
        ({"open_circuit_voltage": None}, {}, "cold-voltage"),
        ({}, {"coldest_ambient": "unknown"}, "cold-voltage"),
        ({"series": "unknown"}, {}, "cold-voltage"),
        ({"power_coefficient": None}, {}, "hot-voltage"),
        ({"maximum_power_voltage": None}, {}, "hot-voltage"),
        ({"short_circuit_current": None}, {}, "array-current"),
        ({"module_power": None}, {}, "array-clipping"),
        ({"module_voltage_max": None}, {}, "module-voltage"),
    ],
)
def test_what_is_missing_is_asked_for_once(array, place, asked):
    found = checked(with_array(**array, place=place))
    gaps = [one.finding for one in found.values() if one.finding.kind == "not checked"]
    assert [one.check for one in gaps] == [asked]


def test_one_string_asks_for_no_series_fuse():
    assert kinds(with_array(series_fuse=None)) == {}
    assert kinds(with_array(series_fuse=None, strings=2)) == {"string-fuse:controller-1": "not checked"}


# what must not depend on luck

OVER = ("module-voltage", "array-device-voltage", "array-cable-voltage", "array-building-voltage")
GRAVE = {"stop": 3, "correct": 2, "not checked": 1, "advise": 1}


def over_voltage(built: Plant) -> dict[str, int]:
    """Return how grave each finding of too much voltage is."""
    found = checked(built)
    grave = {ident: GRAVE[one.finding.kind] for ident, one in found.items() if one.finding.check in OVER}
    cold = [one.finding.kind for one in found.values() if one.finding.check.startswith("cold-voltage")]
    return grave | {"cold": max((GRAVE[kind] for kind in cold), default=0)}


def low_voltage(built: Plant) -> int:
    found = [
        one.finding.kind for one in checked(built).values() if one.finding.check.startswith("hot-voltage")
    ]
    return max((GRAVE[kind] for kind in found), default=0)


ARRAYS = st.fixed_dictionaries(
    {
        "series": st.integers(2, 16),
        "open_circuit_voltage": st.floats(20.0, 60.0),
        "maximum_power_voltage": st.floats(16.0, 50.0),
        "voltage_coefficient": st.one_of(st.none(), st.floats(-0.45, -0.2)),
        "thermal_slope": st.one_of(st.none(), st.floats(0.8, 2.5)),
        "module_voltage_max": st.sampled_from([600.0, 1000.0]),
    }
)
COLDEST = st.floats(-39.0, 20.0)
LIMITS = st.sampled_from([100.0, 150.0, 250.0, 600.0])


def limited(limit: float) -> dict[str, Any]:
    return {"pv_voltage_absolute": limit, "pv_voltage_operating": 0.93 * limit}


@settings(max_examples=60, deadline=None)
@given(array=ARRAYS, coldest=COLDEST, limit=LIMITS, device=LIMITS)
def test_a_shorter_string_never_adds_a_finding_of_too_much_voltage(array, coldest, limit, device):
    beside = {
        "place": {"coldest_ambient": coldest},
        "datasheet": limited(limit),
        "sections": {"protection": (BREAKER | {"voltage": device},), "runs": (RUN | {"voltage": 600.0},)},
    }
    long = over_voltage(with_array(**array, **beside))
    short = over_voltage(with_array(**(array | {"series": array["series"] - 1}), **beside))
    assert all(short[ident] <= long.get(ident, 0) for ident in short)


@settings(max_examples=60, deadline=None)
@given(array=ARRAYS, hottest=st.floats(10.0, 50.0))
def test_a_longer_string_never_adds_a_finding_of_too_little_voltage(array, hottest):
    place = {"hottest_ambient": hottest}
    short = low_voltage(with_array(**array, place=place))
    assert low_voltage(with_array(**(array | {"series": array["series"] + 1}), place=place)) <= short


@settings(max_examples=40, deadline=None)
@given(array=ARRAYS, coldest=COLDEST, milder=st.floats(0.0, 30.0), limit=LIMITS)
def test_a_milder_climate_never_adds_a_finding_of_too_much_voltage(array, coldest, milder, limit):
    cold = over_voltage(with_array(**array, place={"coldest_ambient": coldest}, datasheet=limited(limit)))
    mild = over_voltage(
        with_array(**array, place={"coldest_ambient": coldest + milder}, datasheet=limited(limit))
    )
    assert all(mild[ident] <= cold.get(ident, 0) for ident in mild)


@settings(max_examples=40, deadline=None)
@given(
    current=st.floats(4.0, 15.0),
    strings=st.integers(2, 6),
    fuse=st.sampled_from([10.0, 15.0, 20.0, 25.0, 30.0]),
)
def test_fewer_strings_never_add_a_finding_of_current(current, strings, fuse):
    checks = {"array-current:controller-1", "string-fuse:controller-1", "array-device-rating:breaker-pv"}
    common = {"short_circuit_current": current, "series_fuse": fuse}
    many = set(kinds(with_array(**common, strings=strings))) & checks
    assert set(kinds(with_array(**common, strings=strings - 1))) & checks <= many


@settings(max_examples=60, deadline=None)
@given(array=ARRAYS, coldest=COLDEST, limit=LIMITS)
def test_the_number_that_is_offered_passes_and_one_more_does_not(array, coldest, limit):
    built = with_array(**array, place={"coldest_ambient": coldest}, datasheet=limited(limit))
    found = checked(built).get("cold-voltage:controller-1")
    for remedy in () if found is None else found.remedies:
        if not remedy.text.startswith("at most"):
            continue
        most = remedy.change[0].value
        after = with_array(
            **(array | {"series": most}), place={"coldest_ambient": coldest}, datasheet=limited(limit)
        )
        assert not {"cold-voltage:controller-1", "hot-voltage:controller-1"} & set(kinds(after))
        pv = array_of(built)
        assert most_count(pv, pv.array.strings[0], figure(0.93 * limit, "V", "limit")) == most


def test_cells_follow_the_air():
    pv = array_of(with_array())
    temperatures = [number(cell_temperature(pv, figure(float(air), "°C", "air"))) for air in (-20, 0, 20, 40)]
    assert temperatures == sorted(temperatures)
    assert isinstance(cell_temperature(pv, Unknown(("air",), "°C", "air")), Unknown)
