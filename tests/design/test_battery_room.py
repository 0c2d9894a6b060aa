"""The battery room: air by IEC 62485-2, distance from sparks, neighbours, cold and heat, freezing acid."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from commission.design.bank_climate import check_bank_climate, freezing_at
from commission.design.battery_room import check_battery_room
from commission.design.gas import gas_of_stages
from commission.design.neighbours import check_neighbours
from commission.figure import given as given_figure
from commission.plant.plant import Plant
from tests.design.battery_plants import BOOST, SUN, found, kinds, mended, number, one, room, scene

VENT, SPARK = "ventilation:bank", "spark-distance:bank"


def aired(chemistry: str = "flooded", **more: Any) -> Plant:
    """Return a room with openings of 1 cm² and something that sparks at 1 cm: both are found with a limit."""
    bank = {"vent_area": 1.0, "spark_distance": 0.01, "cells_per_vent": 1} | more.pop("bank", {})
    return room(chemistry, bank=bank, **more)


def rated(made: Plant, **rules: Any) -> Plant:
    """Return a plant under a rule set with other values."""
    changed = {
        field: getattr(made.rules, field).model_copy(update={"value": value, "low": None, "high": None})
        if not isinstance(value, str)
        else value
        for field, value in rules.items()
    }
    return made.model_copy(update={"rules": made.rules.model_copy(update=changed)})


def area(made: Plant) -> float:
    """Return the free area of each opening that is asked for, in cm²."""
    raised = one(check_battery_room, made, VENT)
    assert raised is not None
    return number(raised.limit)


# air: values of the standard and of published examples


def test_vented_lead_in_boost() -> None:
    # IEC 62485-2 table 1, 20 mA/Ah: 0.05 × 24 × 20 × 500 / 1000 = 12 m³/h, 28 × 12 = 336 cm²
    assert area(aired()) == pytest.approx(336.0)


def test_sealed_lead_in_boost_has_its_lower_value() -> None:
    # IEC 62485-2 table 1, 8 mA/Ah: 24 × 200 Ah need 1.92 m³/h, 53.76 cm²
    assert area(aired("agm", capacity=200.0)) == pytest.approx(53.76)


def test_nickel_cadmium_of_the_published_note_sheet() -> None:
    # IEC 62485-2 note sheet for nickel-cadmium: 95 cells, 1450 Ah, 50 mA/Ah, 0.0504: 347.13 m³/h
    made = aired("nickel-cadmium", cells_per_block=1, blocks=95, capacity=1450.0)
    assert area(rated(made, vent_air_factor=0.0504)) / 28.0 == pytest.approx(347.13, abs=0.5)


@pytest.mark.parametrize(("stage", "gas"), [("float", 1.0), ("boost", 8.0)])
def test_the_profile_of_sealed_lead_carries_the_standards_table(stage: str, gas: float) -> None:
    # IEC 62485-2 table 1
    made = aired("agm")
    assert number(made.cell(f"gas_current_{stage}")) == gas


def test_several_strings_add_up() -> None:
    assert area(aired(strings=2)) == pytest.approx(2 * 336.0)


def test_a_string_of_its_own_capacity_counts_with_it() -> None:
    strings = [{"id": "string-1"}, {"id": "string-2", "capacity": 250.0}]
    assert area(aired(bank={"strings": strings})) == pytest.approx(1.5 * 336.0)


def test_equalise_counts_by_the_gassing_law_up_to_what_traction_practice_reckons() -> None:
    # 20 × exp(11 × 0.18) = 144.9 mA/Ah and 65 A on 500 Ah = 130 mA/Ah: at most 60, 36 m³/h
    made = aired(battery={"absorption_voltage": {"value": 2.40}})
    stages = {stage.stage: stage for stage in gas_of_stages(scene(made))}
    assert number(stages["equalize"].voltage) == pytest.approx(2.58, abs=0.01)
    assert number(stages["equalize"].current) == 60.0
    assert area(made) == pytest.approx(28.0 * 36.0)


def test_a_small_source_bounds_the_gas_of_equalise() -> None:
    # no more gas than current (Faraday): 20 A on 500 Ah are 40 mA/Ah; 24 m³/h
    small = SUN | {"datasheet": {"output_current": 20.0}}
    made = aired(controllers=(small,), battery={"absorption_voltage": {"value": 2.40}})
    assert area(made) == pytest.approx(28.0 * 24.0)


def test_absorption_over_the_tables_voltage_counts_by_the_law() -> None:
    # gassing law, 11 per volt: 20 × exp(11 × 0.05) = 34.67 mA/Ah
    made = aired(battery=BOOST | {"absorption_voltage": {"value": 2.45}})
    assert area(made) == pytest.approx(28.0 * 0.05 * 24 * 34.665 * 0.5, rel=1e-3)


def test_a_value_at_20_degrees_is_brought_to_25() -> None:
    # 2.45 V at 20 °C with −5 mV/K is 2.425 V at 25 °C: 20 × exp(11 × 0.025) = 26.33 mA/Ah
    at_20 = BOOST | {"absorption_voltage": {"value": 2.45}, "temperature_reference": {"value": 20.0}}
    (stage,) = gas_of_stages(scene(aired(battery=at_20)))
    assert number(stage.voltage) == pytest.approx(2.425, abs=0.005)


def test_air_by_charge_current_as_stand_alone_plants_have_it() -> None:
    # AS/NZS 4509.2 (from memory): 0.006 L/s × 24 × 60 A = 8.64 L/s, 100 cm² for each L/s: 864 cm²
    small = SUN | {"datasheet": {"output_current": 60.0}}
    made = rated(
        aired(controllers=(small,)),
        vent_method="charge current",
        vent_air_factor=0.0216,
        vent_area_factor=100 / 3.6,
    )
    assert area(made) == pytest.approx(864.0, abs=1.0)


def test_sealed_cells_of_stand_alone_plants_count_half_an_ampere_for_100_ampere_hours() -> None:
    # AS/NZS 4509.2 (from memory): 200 Ah count 1 A; 0.144 L/s, 14.4 cm²
    made = rated(
        aired("agm", capacity=200.0),
        vent_method="charge current",
        vent_air_factor=0.0216,
        vent_area_factor=100 / 3.6,
        vent_sealed_current=5.0,
    )
    assert area(made) == pytest.approx(14.4, abs=0.05)


@pytest.mark.parametrize("chemistry", ["lfp", "nmc", "lto"])
def test_lithium_needs_no_air(chemistry: str) -> None:
    made = room(chemistry, cells_per_block=14, blocks=1, battery={})
    assert not found(check_battery_room, made)


# air: raised and just not


def test_openings_that_just_suffice_are_no_finding() -> None:
    assert one(check_battery_room, aired(bank={"vent_area": 336.0}), VENT) is None
    assert one(check_battery_room, aired(bank={"vent_area": 335.0}), VENT) is not None


def test_a_fan_is_judged_by_its_air_and_its_opening_is_not() -> None:
    assert one(check_battery_room, aired(bank={"vent_flow": 12.0}), VENT) is None
    raised = one(check_battery_room, aired(bank={"vent_flow": 11.9}), VENT)
    assert raised is not None
    assert number(raised.limit) == pytest.approx(12.0)
    assert mended(check_battery_room, aired(bank={"vent_flow": 11.9}), VENT)


def test_remedies_are_openings_and_a_fan_that_pass() -> None:
    raised = found(check_battery_room, aired())[VENT]
    assert [change.value for remedy in raised.remedies for change in remedy.change] == [340.0, 12.0]
    assert mended(check_battery_room, aired(), VENT, 0)
    assert mended(check_battery_room, aired(), VENT, 1)


def test_on_a_site_in_us_units_openings_are_whole_square_inches() -> None:
    # 336 cm² ÷ 6.4516 = 52.08: 53 square inches, 341.93 cm²
    made = aired(place={"rules": "north-america", "units": "us"})
    remedy = found(check_battery_room, made)[VENT].remedies[0]
    assert "53 in²" in remedy.text
    assert remedy.change[0].value == pytest.approx(53 * 6.4516, abs=1e-3)


def test_equalise_can_be_held_to_what_the_openings_carry() -> None:
    # 700 cm² carry 25 m³/h: 25 ÷ (0.05 × 24) = 20.8 A; absorption alone needs 336 cm²
    made = aired(battery={"absorption_voltage": {"value": 2.40}}, bank={"vent_area": 700.0})
    assert "equalise held to 20 A" in found(check_battery_room, made)[VENT].remedies[0].text
    narrow = aired(battery={"absorption_voltage": {"value": 2.40}}, bank={"vent_area": 300.0})
    assert "equalise held" not in found(check_battery_room, narrow)[VENT].remedies[0].text


def test_the_room_tells_how_soon_it_is_dangerous_when_closed() -> None:
    # 10 A of gas in 24 cells: 24 × 10 × 0.456 L/h = 0.1095 m³/h; 4 % of 20 m³ after 7.3 h
    raised = one(check_battery_room, aired(bank={"room_volume": 20.0}), VENT)
    assert raised is not None
    assert "20 m³ of air burn after 7.3 h" in raised.text


def test_what_is_not_told_is_asked_for() -> None:
    assert kinds(check_battery_room, room(bank={})) == {VENT: "not checked", SPARK: "not checked"}
    untold = one(check_battery_room, room(bank={"vent_flow": "unknown"}), VENT)
    assert untold is not None
    assert "vent flow" in untold.text


@pytest.mark.parametrize(
    ("area", "volume", "chemistry", "kind"),
    [
        pytest.param(0.0, 30.0, "flooded", "stop", id="closed, and 4 % hydrogen within a day"),
        pytest.param(0.0, 3000.0, "flooded", "correct", id="closed, but so large that a day is not enough"),
        pytest.param(1.0, 30.0, "flooded", "correct", id="a crack lets some out"),
        pytest.param(0.0, 30.0, "agm", "correct", id="sealed cells"),
        pytest.param(0.0, "unknown", "flooded", "correct", id="nobody knows how soon"),
        pytest.param("unknown", 30.0, "flooded", "not checked", id="openings not told"),
    ],
)
def test_vented_cells_in_a_closed_room_that_burns_within_a_day_stop_the_plant(
    area: float | str, volume: float | str, chemistry: str, kind: str
) -> None:
    """24 cells of 500 Ah in boost: 10 A of gas, 0.42 L/Ah each, 0.11 m³/h; 30 m³ hold 1.2 m³ of it: 11 h."""
    raised = one(check_battery_room, aired(chemistry, bank={"vent_area": area, "room_volume": volume}), VENT)
    assert raised is not None
    assert (raised.kind, raised.releasable) == (kind, True)


def test_a_fan_without_an_opening_moves_no_air() -> None:
    fan = {"vent_flow": 500.0}
    made = aired(bank=fan | {"vent_area": 0.0})
    raised = one(check_battery_room, made, "fan-inlet:bank")
    assert raised is not None
    assert raised.kind == "correct"
    assert mended(check_battery_room, made, "fan-inlet:bank")
    for told in (200.0, "unknown"):
        assert one(check_battery_room, aired(bank=fan | {"vent_area": told}), "fan-inlet:bank") is None


# sparks


def test_distance_from_the_cells() -> None:
    # EN 50272-2 clause 8 (from memory): 0.0288 × ∛20 × ∛500 = 0.620 m
    raised = one(check_battery_room, aired(), SPARK)
    assert raised is not None
    assert number(raised.limit) == pytest.approx(0.6205, abs=1e-3)
    assert one(check_battery_room, aired(bank={"spark_distance": 0.63}), SPARK) is None
    assert one(check_battery_room, aired(bank={"spark_distance": 0.61}), SPARK) is not None
    assert mended(check_battery_room, aired(), SPARK)


@pytest.mark.parametrize(("told", "metres"), [(1, 0.6205), (3, 0.8949), (6, 1.1275), (None, 1.1275)])
def test_cells_under_one_vent_widen_the_distance_by_their_cube_root(told: int | None, metres: float) -> None:
    """IEC 62485-2, note on monoblocs with a common vent (from memory): times ∛N; blocks of six cells."""
    raised = one(check_battery_room, aired(bank={"cells_per_vent": told}), SPARK)
    assert raised is not None
    assert number(raised.limit) == pytest.approx(metres, abs=1e-3)


def test_parallel_strings_do_not_widen_the_distance_of_one_cell() -> None:
    assert number(found(check_battery_room, aired(strings=2))[SPARK].finding.limit) == pytest.approx(
        number(found(check_battery_room, aired())[SPARK].finding.limit)
    )


# neighbours: rule on lithium beside vented cells; IEC 62485-2 on acid beside alkaline (from memory)


@pytest.mark.parametrize(
    ("chemistry", "beside", "raised"),
    [
        ("flooded", ["lithium"], {"lithium-and-vented:bank": "stop"}),
        ("lfp", ["vented lead"], {"lithium-and-vented:bank": "stop"}),
        ("lfp", ["nickel"], {"lithium-and-vented:bank": "stop"}),
        ("nickel-cadmium", ["lithium"], {"lithium-and-vented:bank": "stop"}),
        ("agm", ["lithium"], {}),
        ("lfp", ["sealed lead"], {}),
        ("lfp", [], {}),
        ("flooded", ["nickel"], {"acid-and-alkali:bank": "correct", "air-of-other-batteries:bank": "advise"}),
        ("flooded", ["sealed lead"], {"air-of-other-batteries:bank": "advise"}),
        ("flooded", "unknown", {"batteries-together:bank": "not checked"}),
    ],
)
def test_batteries_side_by_side(chemistry: str, beside: Any, raised: dict[str, str]) -> None:
    made = room(chemistry, battery={}, bank={"beside": beside})
    assert kinds(check_neighbours, made) == raised
    stop = one(check_neighbours, made, "lithium-and-vented:bank")
    if stop is not None:
        assert not stop.releasable
        assert mended(check_neighbours, made, "lithium-and-vented:bank")


# cold and heat


@pytest.mark.parametrize(
    ("chemistry", "coldest", "hottest", "raised"),
    [
        # battery handbook, charging at high and low temperatures: lead −20 to 50 °C
        ("agm", -19.0, 49.0, set()),
        ("agm", -19.0, 51.0, {"charging-too-hot:bank"}),
        # US Bureau of Reclamation, FIST 3-6: nickel-cadmium up to 46 °C; 0 °C by the handbook
        ("nickel-cadmium", 1.0, 46.0, set()),
        ("nickel-cadmium", -1.0, 47.0, {"charging-too-cold:bank", "charging-too-hot:bank"}),
    ],
)
def test_temperatures_of_charging(chemistry: str, coldest: float, hottest: float, raised: set[str]) -> None:
    place = {"coldest_battery": coldest, "hottest_battery": hottest}
    made = room(chemistry, battery={}, place=place)
    assert {ident for ident in found(check_bank_climate, made) if "charging" in ident} == raised
    for ident in raised:
        assert mended(check_bank_climate, made, ident)


def test_a_block_of_charging_turns_harm_into_want_of_charge() -> None:
    inverter = {"id": "inv-1", "profile": "inverter-48v-230-5000"}
    managed = {"charge_low_temperature": 0.0, "charge_high_temperature": 45.0}
    made = room(
        "lfp",
        cells_per_block=16,
        blocks=1,
        battery={},
        inverters=(inverter,),
        controllers=(),
        bank={"management": managed},
        place={"coldest_battery": -5.0, "hottest_battery": 40.0},
    )
    assert kinds(check_bank_climate, made) == {"charging-too-cold:bank": "advise"}


def test_temperatures_that_are_not_told_are_asked_for_once() -> None:
    made = room(place={"coldest_battery": "unknown", "hottest_battery": "unknown"})
    assert list(kinds(check_bank_climate, made)) == ["battery-temperatures:site"]


@pytest.mark.parametrize(
    ("coldest", "kind"),
    [
        # 20 % left: 1.148 kg/L by the handbook's density table, freezes near −15 °C (1.150: −15 °C)
        (-14.0, "advise"),
        (-16.0, "correct"),
        # empty: 1.120 kg/L, near −10 °C
        (-9.0, None),
    ],
)
def test_discharged_acid_that_freezes(coldest: float, kind: str | None) -> None:
    raised = kinds(check_bank_climate, room(battery={}, place={"coldest_battery": coldest}))
    ident = "acid-freezes:bank" if kind == "correct" else "acid-freezes-when-empty:bank"
    assert raised == ({} if kind is None else {ident: kind})


def test_full_acid_of_the_handbook_freezes_at_55_below() -> None:
    full = freezing_at(room(battery={}), given_figure(1.0, "1", "full"))
    assert number(full) == pytest.approx(-55.0, abs=0.5)


def test_freezing_is_mended_by_a_lesser_depth_or_a_warmer_room() -> None:
    made = room(battery={}, place={"coldest_battery": -20.0})
    # straight line between 1.150 (−15 °C) and 1.200 kg/L (−27 °C): −20 °C at 1.171, 36 % left; so 40 %
    remedies = found(check_bank_climate, made)["acid-freezes:bank"].remedies
    assert remedies[0].change[0].value == pytest.approx(0.6)
    assert mended(check_bank_climate, made, "acid-freezes:bank", 0)
    assert mended(check_bank_climate, made, "acid-freezes:bank", 1)


def test_lithium_and_nickel_have_no_acid_to_freeze() -> None:
    for chemistry in ("lfp", "nickel-cadmium"):
        made = room(chemistry, battery={}, place={"coldest_battery": -35.0})
        assert one(check_bank_climate, made, "acid-freezes:bank") is None


# safer never adds


@settings(max_examples=15, deadline=None)
@given(st.floats(1.0, 3000.0), st.floats(1.0, 3000.0))
def test_a_larger_opening_never_adds_a_finding(first: float, second: float) -> None:
    small, large = sorted((first, second))
    fewer, more = (kinds(check_battery_room, aired(bank={"vent_area": size})) for size in (large, small))
    assert fewer.items() <= more.items()


@settings(max_examples=15, deadline=None)
@given(st.floats(-40.0, 20.0), st.floats(-40.0, 20.0))
def test_a_warmer_room_never_adds_a_finding(first: float, second: float) -> None:
    cold, warm = sorted((first, second))
    less, more = (
        kinds(check_bank_climate, room(battery={}, place={"coldest_battery": degrees}))
        for degrees in (warm, cold)
    )
    assert set(_grave(less)) <= set(_grave(more))
    assert len(less) <= len(more)


def _grave(raised: dict[str, str]) -> list[str]:
    return [ident for ident, kind in raised.items() if kind != "advise"]
