"""The low end against arithmetic by hand; every case shows its own."""

from __future__ import annotations

from typing import Any

import pytest

from commission.figure import Figure
from commission.plant.plant import Plant
from commission.plant.site import Run
from commission.sheet.bank_state import expected_current, resistance_up_to, rested
from commission.sheet.cables import cable_resistance, path_to_bank
from commission.sheet.low_end import settle_low_end
from commission.sheet.states import states_of
from tests.builders import plant
from tests.sheet.low_end_cases import (
    INVERTER,
    MANAGED,
    MONITOR,
    RUN,
    drafted,
    flooded,
    found,
    lithium,
    missing,
    number,
    passes,
)

# depths, curve and resistance


def test_thresholds_of_lead_lie_at_its_depths():
    """Usual depth 50 %, greatest 80 %: start at 0.50, disconnect at 0.20, warning at 0.50 + 0.10."""
    states = states_of(flooded())
    assert [getattr(states, name).value for name in ("warning", "start", "disconnect")] == pytest.approx(
        [0.60, 0.50, 0.20]
    )


def test_rested_voltage_is_read_between_the_rows_of_the_table():
    """Flooded at 20 %: 1.982 + 0.8 × (2.010 − 1.982) = 2.0044 V; × 24 = 48.1056 V."""
    value = rested(flooded(), states_of(flooded()).disconnect)
    assert isinstance(value, Figure)
    assert value.value == pytest.approx(48.1056, abs=1e-4)


def test_cables_count_out_and_back_at_20_degrees():
    """2 × 3 m ÷ (58 m/(Ω·mm²) × 70 mm²) = 1.47783 mΩ; two conductors in each pole halve it."""
    run = Run.model_validate(RUN)
    value = cable_resistance(run)
    assert isinstance(value, Figure)
    assert value.value == pytest.approx(1.47783e-3, abs=1e-8)
    twice = cable_resistance(Run.model_validate(RUN | {"conductors": 2}))
    assert isinstance(twice, Figure)
    assert twice.value == pytest.approx(0.738916e-3, abs=1e-8)


def test_two_inverters_share_the_main_run_whole_and_their_own_by_rating():
    """30 mΩ + main 1.47783 mΩ + half of an own run of 1.47783 mΩ = 32.21675 mΩ for equal inverters."""
    second = INVERTER | {"id": "inv-2", "run": "run-2"}
    of = flooded(
        inverters=(INVERTER, second),
        panels=[{"id": "dc", "kind": "dc"}],
        runs=[
            RUN | {"id": "main", "from": "bank", "to": "dc"},
            RUN | {"from": "dc", "to": "inv-1"},
            RUN | {"id": "run-2", "from": "inv-2", "to": "dc"},
        ],
    )
    assert [run.id for run in path_to_bank(of, "inv-1") or ()] == ["run-1", "main"]
    value = resistance_up_to(of, of.site.inverter_chargers[0])
    assert isinstance(value, Figure)
    assert value.value == pytest.approx(0.03221675, abs=1e-7)


def test_the_way_to_the_bank_leads_through_the_panel_that_holds_a_breaker():
    of = flooded(
        panels=[{"id": "dc", "kind": "dc", "positions": [{"position": "1", "holds": "main-breaker"}]}],
        protection=[{"id": "main-breaker", "kind": "breaker", "current": "dc", "protects": "bank"}],
        runs=[
            RUN | {"from": "inv-1", "to": "dc"},
            RUN | {"id": "main", "from": "string-1", "to": "main-breaker"},
        ],
    )
    assert [run.id for run in path_to_bank(of, "inv-1") or ()] == ["run-1", "main"]


def test_the_expected_load_draws_what_it_needs_at_the_sagged_voltage():
    """2222.22 W behind 31.47783 mΩ from 48.96 V: V = (48.96 + √(48.96² − 4 × 0.03147783 × 2222.22)) ÷ 2.

    48.96² = 2397.0816; 4 R P = 279.8029; √2117.2787 = 46.0139; V = 47.4870 V; I = 2222.22 ÷ V = 46.797 A.
    """
    of = flooded()
    inverter = of.site.inverter_chargers[0]
    current = expected_current(of, inverter, rested(of, states_of(of).start))
    assert isinstance(current, Figure)
    assert current.value == pytest.approx(46.797, abs=0.001)


# voltages of lead


def test_disconnect_is_the_rested_voltage_less_the_drop_rounded_up():
    """Rest at 20 % 48.1056 V: √(2314.149 − 279.803) = 45.1037; V = 46.6047 V; steps of 0.1 V up: 46.7 V."""
    draft = drafted(flooded(), settle_low_end)
    assert number(draft, "inv-1", "load_disconnect_voltage") == pytest.approx(46.7, abs=1e-9)


def test_warning_stands_ten_points_over_the_generator_start():
    """60 %: 2.054 × 24 = 49.296 V; √(2430.096 − 279.803) = 46.3713; V = 47.8336 V; up: 47.9 V."""
    draft = drafted(flooded(), settle_low_end)
    assert number(draft, "inv-1", "low_voltage_warning") == pytest.approx(47.9, abs=1e-9)


def test_a_monitor_reads_at_the_posts():
    """Without the run: 4 R P = 266.667; √(2430.096 − 266.667) = 46.5127; V = 47.9043 V; up: 48.0 V."""
    draft = drafted(flooded(monitor=MONITOR), settle_low_end)
    assert number(draft, "mon-1", "low_voltage_warning") == pytest.approx(48.0, abs=1e-9)


def test_a_stiff_bank_is_brought_into_the_range_of_its_chemistry_and_says_so():
    """10 mΩ: the drop leaves 47.57 V, over 1.95 × 24 = 46.8 V, the high end for flooded cells."""
    draft = drafted(flooded(bank={"resistance": 0.010}), settle_low_end)
    assert number(draft, "inv-1", "load_disconnect_voltage") == pytest.approx(46.8, abs=1e-9)
    assert "high end" in draft.settings[("inv-1", "load_disconnect_voltage", None)].note


def test_a_soft_bank_is_held_at_the_low_end_and_start_and_warning_go_up_with_it():
    """60 mΩ: 4 R P = 4 × 0.06147783 × 2222.22 = 546.47; at 20 %: √1767.68 = 42.0438; V = 45.07 V, in range.

    110 mΩ: 4 R P = 990.91; √1323.24 = 36.3763; V = 42.24 V, under 1.83 × 24 = 43.92 V: 44.0 V.
    A start at 50 % would be read at 43.23 V: it goes to 43.92 + 0.24 = 44.16 V, the warning to 44.40 V.
    """
    draft = drafted(flooded(bank={"resistance": 0.060}), settle_low_end)
    assert number(draft, "inv-1", "load_disconnect_voltage") == pytest.approx(45.1, abs=1e-9)
    soft = drafted(flooded(bank={"resistance": 0.110}), settle_low_end)
    assert number(soft, "inv-1", "load_disconnect_voltage") == pytest.approx(44.0, abs=1e-9)
    assert number(soft, "inv-1", "low_voltage_warning") == pytest.approx(44.4, abs=1e-9)


def test_rounding_up_never_leaves_the_range_where_rounding_down_stays_in_it():
    """46.8 V is the most; steps of 0.5 V from 40.0: up would be 47.0, down 46.5 is inside 43.92 to 46.8."""
    coarse = {"settings": {"load_disconnect_voltage": {"unit": "V", "low": 40.0, "high": 52.0, "step": 0.5}}}
    inverter = INVERTER | {"datasheet": INVERTER["datasheet"] | coarse}
    draft = drafted(flooded(bank={"resistance": 0.010}, inverters=(inverter,)), settle_low_end)
    assert number(draft, "inv-1", "load_disconnect_voltage") == pytest.approx(46.5, abs=1e-9)


def test_the_inverters_own_cut_off_lifts_the_disconnect_over_the_range():
    """An inverter that stops by itself at 47.2 V cannot disconnect at 46.7 V: the order wins."""
    inverter = INVERTER | {"datasheet": {"inverter_efficiency": 0.9, "low_cut_off": 47.2}}
    draft = drafted(flooded(inverters=(inverter,)), settle_low_end)
    assert number(draft, "inv-1", "load_disconnect_voltage") == pytest.approx(47.2, abs=1e-9)
    assert "own cut-off" in draft.settings[("inv-1", "load_disconnect_voltage", None)].note


def test_reconnect_is_the_profiles_row_where_hysteresis_and_rebound_allow():
    """24 × 2.10 = 50.4 V; over 46.7 + 24 × 0.13 = 49.82 V and over the rebound of 48.11 V."""
    draft = drafted(flooded(), settle_low_end)
    assert number(draft, "inv-1", "load_reconnect_voltage") == pytest.approx(50.4, abs=1e-9)


def test_reconnect_gives_way_to_the_lowest_float():
    """Float 24 × 2.17 = 52.08 V; at 45 °C, held at 40: − 24 × 0.005 × 15 = 1.8: 50.28 V, less 0.24: 50.04 V.

    Rounded up to 50.1 V it stays under 50.28 V.
    """
    of = flooded(
        place={"hottest_battery": 45.0, "hottest_month_battery": 45.0},
        battery={"float_voltage": {"value": 2.17}},
    )
    draft = drafted(of, settle_low_end)
    assert number(draft, "inv-1", "load_reconnect_voltage") == pytest.approx(50.1, abs=1e-9)


@pytest.mark.parametrize(
    ("changed", "gap"),
    [
        pytest.param({"expected": {}}, "load of the plant", id="load"),
        pytest.param({"runs": []}, "conductor run between inv-1 and the bank", id="run"),
        pytest.param({"runs": [RUN | {"length": "unknown"}]}, "length of run-1", id="length"),
        pytest.param({"runs": [RUN | {"material": "unknown"}]}, "material of run-1", id="material"),
    ],
)
def test_what_is_missing_keeps_the_setting_open_and_is_named(changed: dict[str, Any], gap: str) -> None:
    inverter = INVERTER | ({"run": None} if changed.get("runs") == [] else {})
    draft = drafted(flooded(**{"inverters": (inverter,), **changed}), settle_low_end)
    assert gap in missing(draft, "inv-1", "load_disconnect_voltage")
    finding = found(draft, "setting-open", "load_disconnect_voltage")
    assert finding is not None
    assert finding.kind == "not checked"
    assert gap in finding.text


def test_continuous_loads_stand_in_for_an_expected_load_that_is_not_told():
    """1200 W + 800 W of loads that run day and night are the 2 kW of the case above: 46.7 V."""
    loads = [
        {"id": "a", "current": "ac", "power": 1200.0, "continuous": True},
        {"id": "b", "current": "ac", "power": 800.0, "continuous": True},
        {"id": "c", "current": "ac", "power": 5000.0},
    ]
    draft = drafted(flooded(expected={}, loads=loads), settle_low_end)
    assert number(draft, "inv-1", "load_disconnect_voltage") == pytest.approx(46.7, abs=1e-9)


def test_a_load_that_collapses_the_bank_is_no_number():
    """Through 31.5 mΩ from 48.1 V at most 0.9 × 48.1² ÷ (4 × 0.0315) = 16.5 kW pass; 20 kW do not."""
    draft = drafted(flooded(expected={"load": 20000.0}), settle_low_end)
    assert any("20000" in gap for gap in missing(draft, "inv-1", "load_disconnect_voltage"))


# fixed and limited devices

PLAIN = {"id": "sun-1", "profile": "controller-12v-20-plain", "run": "run-1"}


def small(**changed: Any) -> Plant:
    fields: dict[str, Any] = {
        "chemistry": "agm",
        "blocks": 1,
        "capacity": 100.0,
        "bank": {"resistance": 0.005},
        "controllers": (PLAIN,),
        "runs": [RUN | {"from": "sun-1"}],
        "expected": {"load": 60.0},
    }
    return plant(**(fields | changed))


def test_a_fixed_disconnect_inside_the_range_passes():
    """11.4 V ÷ 6 = 1.90 V per cell; AGM takes 1.85 to 1.95."""
    draft = drafted(small(), settle_low_end)
    assert number(draft, "sun-1", "load_disconnect_voltage") == pytest.approx(11.4)
    assert found(draft, "fixed-outside-limits", "load_disconnect_voltage") is None


def test_a_fixed_disconnect_outside_the_range_is_found_with_a_number():
    """10.8 V fixed is under 6 × 1.85 = 11.1 V; the disconnect worked out is 6 × 1.95 = 11.7 V."""
    low = {"settings": {"load_disconnect_voltage": {"unit": "V", "fixed": 10.8}}}
    draft = drafted(small(controllers=(PLAIN | {"datasheet": low},)), settle_low_end)
    finding = found(draft, "fixed-outside-limits", "load_disconnect_voltage")
    assert finding is not None
    assert finding.kind == "correct"
    assert isinstance(finding.limit, Figure)
    assert finding.limit.value == pytest.approx(11.1)
    assert passes(finding) == pytest.approx(11.7)


def test_an_inverter_without_a_disconnect_is_judged_by_its_own_cut_off():
    """No setting, cut-off 41.0 V: under 43.92 V; the separate disconnect that passes is at 46.60 V."""
    base = {"inverter_efficiency": 0.9, "low_cut_off": 41.0}
    of = flooded(inverters=(INVERTER | {"datasheet": base},))
    settings = dict(of.equipment["inv-1"].settings)
    del settings["load_disconnect_voltage"]
    bare = of.equipment["inv-1"].model_copy(update={"settings": settings})
    of = of.model_copy(update={"equipment": {"inv-1": bare}})
    finding = found(drafted(of, settle_low_end), "cut-off-too-low")
    assert finding is not None
    assert isinstance(finding.limit, Figure)
    assert finding.limit.value == pytest.approx(43.92)
    assert passes(finding) == pytest.approx(46.6047, abs=1e-3)


# flat curves


def test_a_flat_curve_disconnects_over_cut_off_and_standing_draw():
    """25.6 W ÷ 51.2 V = 0.5 A for 864000 s take 120 Ah of 840 Ah: 0.142857, over the cut-off 0.05: 0.192857.

    Start 5 points over: 0.242857; warning 10 points over that: 0.342857.
    """
    states = states_of(lithium())
    assert isinstance(states.disconnect, Figure)
    assert states.disconnect.value == pytest.approx(0.192857, abs=1e-6)
    assert isinstance(states.start, Figure)
    assert states.start.value == pytest.approx(0.242857, abs=1e-6)
    assert isinstance(states.warning, Figure)
    assert states.warning.value == pytest.approx(0.342857, abs=1e-6)


def test_states_of_charge_are_rounded_up_on_the_device():
    """0.192857 on steps of 0.05 from 0.05: 0.20."""
    draft = drafted(lithium(), settle_low_end)
    assert number(draft, "inv-1", "load_disconnect_state_of_charge") == pytest.approx(0.20)
    assert number(draft, "inv-1", "load_reconnect_state_of_charge") == pytest.approx(0.25)


def test_without_a_standing_draw_worth_naming_the_greatest_depth_stands():
    """Greatest depth 90 %: 0.10, 5 points over the cut-off of 0.05; start at the usual depth: 0.20."""
    of = lithium(bank={"resistance": 0.009, "management": MANAGED, "standing_draw": 0.0})
    states = states_of(of)
    assert [states.disconnect.value, states.start.value] == pytest.approx([0.10, 0.20])  # type: ignore[union-attr]  # known in this case


def test_a_standing_draw_that_reaches_into_daily_use_is_found_with_the_draw_that_passes():
    """Room: 0.20 − 0.05 − 0.05 = 0.10; 0.10 × 840 Ah × 51.2 V × 3600 ÷ 864000 s = 17.92 W."""
    finding = found(drafted(lithium(), settle_low_end), "standing-draw")
    assert finding is not None
    assert finding.kind == "correct"
    assert passes(finding) == pytest.approx(17.92)
    of = lithium(bank={"resistance": 0.009, "management": MANAGED, "standing_draw": 17.92})
    assert found(drafted(of, settle_low_end), "standing-draw") is None


def test_an_unknown_standing_draw_is_said_and_the_known_floor_counts():
    """Cut-off 0.08 and 5 points: 0.13, over 0.10 of the greatest depth."""
    managed = MANAGED | {"cut_off_state_of_charge": 0.08}
    of = lithium(bank={"resistance": 0.009, "management": managed})
    draft = drafted(of, settle_low_end)
    finding = found(draft, "standing-draw")
    assert finding is not None
    assert finding.kind == "not checked"
    assert "standing draw of bank" in finding.text
    assert states_of(of).disconnect.value == pytest.approx(0.13)  # type: ignore[union-attr]  # known in this case


def test_fallback_voltages_of_a_flat_curve_stand_for_under_ten_per_cent():
    """5 %: 3.05 × 16 = 48.8 V; R = 9 ÷ 3 + 1.47783 = 4.47783 mΩ; P = 3333.33 W; 4 R P = 59.704.

    √(2381.44 − 59.704) = 48.1844; V = 48.4922 V; up: 48.5 V.
    """
    draft = drafted(lithium(), settle_low_end)
    assert number(draft, "inv-1", "load_disconnect_voltage") == pytest.approx(48.5, abs=1e-9)
    assert "under 10 %" in draft.settings[("inv-1", "load_disconnect_voltage", None)].note


def test_fallback_voltage_never_goes_under_the_management_cut_off():
    """20 kW: 4 R P = 398.03; √(2381.44 − 398.03) = 44.535; V = 46.67 V; the management opens at 47.2 V."""
    managed = MANAGED | {"cut_off_low": 2.95}
    of = lithium(
        bank={"resistance": 0.009, "management": managed, "standing_draw": 0.0}, expected={"load": 20000.0}
    )
    assert number(drafted(of, settle_low_end), "inv-1", "load_disconnect_voltage") == pytest.approx(47.2)


def test_nothing_counting_the_charge_switches_states_off_and_is_found_on_a_flat_curve():
    managed = MANAGED | {"data_link": False}
    bank = {"resistance": 0.009, "management": managed, "standing_draw": 0.0}
    draft = drafted(lithium(bank=bank, authority={"state_of_charge": "none"}), settle_low_end)
    assert draft.recommended("inv-1", "load_disconnect_state_of_charge") == "off"
    finding = found(draft, "charge-not-counted")
    assert finding is not None
    assert finding.kind == "correct"
    assert found(drafted(flooded(), settle_low_end), "charge-not-counted") is None


# guards of charging


def test_charging_of_lead_is_cut_two_per_cent_over_the_highest_voltage():
    """AGM 57.6 V; at 0 °C + 24 × 0.004 × 25 = 60.0 V; × 1.02 = 61.2 V, on the grid of 0.1 V."""
    draft = drafted(flooded(chemistry="agm"), settle_low_end)
    assert number(draft, "inv-1", "charge_disconnect_voltage") == pytest.approx(61.2, abs=1e-9)


def test_charging_begins_again_at_the_lowest_float():
    """24 × 2.27 = 54.48 V; at 35 °C − 24 × 0.004 × 10 = 0.96: 53.52 V; down to steps of 0.1: 53.5 V."""
    draft = drafted(flooded(chemistry="agm"), settle_low_end)
    assert number(draft, "inv-1", "charge_reconnect_voltage") == pytest.approx(53.5, abs=1e-9)


def test_the_cut_stays_a_step_under_the_least_device_maximum():
    """61.2 V is wanted; a bus of 61.0 V allows 60.9 V at most."""
    low = {"datasheet": INVERTER["datasheet"] | {"dc_voltage_max": 61.0}}
    draft = drafted(flooded(chemistry="agm", inverters=(INVERTER | low,)), settle_low_end)
    assert number(draft, "inv-1", "charge_disconnect_voltage") == pytest.approx(60.9, abs=1e-9)


@pytest.mark.parametrize(
    ("management", "expected"),
    [
        pytest.param(MANAGED, 57.6, id="16 × (3.65 − 0.05)"),
        pytest.param(MANAGED | {"cut_off_high": 3.60, "margin": "unknown"}, 56.8, id="16 × (3.60 − 0.05)"),
        pytest.param(MANAGED | {"cut_off_high": "unknown"}, 58.4, id="16 × 3.65, the ceiling"),
    ],
)
def test_charging_of_lithium_is_cut_at_the_cut_off_less_its_margin(
    management: dict[str, Any], expected: float
) -> None:
    of = lithium(bank={"resistance": 0.009, "management": management, "standing_draw": 0.0})
    assert number(drafted(of, settle_low_end), "inv-1", "charge_disconnect_voltage") == pytest.approx(
        expected
    )


def test_less_than_a_step_over_absorption_is_found_with_the_voltage_that_passes():
    """16 × 3.5965 = 57.544 V, 57.54 on steps of 0.01; the cut at 57.6 V is under 57.54 + 0.1 = 57.64 V."""
    of = lithium(battery={"absorption_voltage": {"value": 3.5965}})
    finding = found(drafted(of, settle_low_end), "no-room-for-charge-disconnect")
    assert finding is not None
    assert passes(finding) == pytest.approx(57.64)
    assert found(drafted(lithium(), settle_low_end), "no-room-for-charge-disconnect") is None


def test_charge_temperatures_are_the_narrower_of_profile_and_management():
    """Iron phosphate 0 to 45 °C; a management of 3 to 43 °C is narrower."""
    managed = MANAGED | {"charge_low_temperature": 3.0, "charge_high_temperature": 43.0}
    bank = {"resistance": 0.009, "management": managed, "standing_draw": 0.0}
    draft = drafted(lithium(bank=bank), settle_low_end)
    assert number(draft, "inv-1", "charge_low_temperature") == pytest.approx(3.0)
    assert number(draft, "inv-1", "charge_high_temperature") == pytest.approx(43.0)


def test_lithium_that_freezes_without_any_block_is_found():
    """−5 °C in winter, charging blocked under 0 °C by nothing."""
    of = lithium(
        bank={"resistance": 0.009},
        place={"coldest_battery": -5.0, "coldest_month_battery": -2.0},
        inverters=(),
        controllers=({"id": "sun-1", "profile": "controller-48v-80-buck-600"},),
        authority={"state_of_charge": "none"},
    )
    finding = found(drafted(of, settle_low_end), "charging-in-the-cold")
    assert finding is not None
    assert finding.kind == "correct"
    assert passes(finding) == pytest.approx(0.0)


# discharge current

LARGE = {
    "id": "inv-1",
    "profile": "inverter-48v-120-240-8000",
    "run": "run-1",
}


def test_discharge_is_limited_by_the_cells_and_rounded_down():
    """Flooded 0.25 × 450 Ah = 112.5 A; steps of 5 A from 10: 110 A."""
    draft = drafted(flooded(inverters=(LARGE,)), settle_low_end)
    assert number(draft, "inv-1", "discharge_current_limit") == pytest.approx(110.0)


def test_two_inverters_share_the_discharge_limit():
    """112.5 ÷ 2 = 56.25 A each; 55 A on the grid."""
    draft = drafted(flooded(inverters=(LARGE, LARGE | {"id": "inv-2"})), settle_low_end)
    assert number(draft, "inv-2", "discharge_current_limit") == pytest.approx(55.0)


def test_the_main_breaker_binds_with_the_continuous_factor():
    """100 A ÷ 1.25 (NEC 210.20(A)) = 80 A, under 112.5 A of the cells."""
    guard = {"id": "main", "kind": "breaker", "current": "dc", "protects": "bank", "rating": 100.0}
    draft = drafted(flooded(inverters=(LARGE,), protection=[guard]), settle_low_end)
    assert number(draft, "inv-1", "discharge_current_limit") == pytest.approx(80.0)


def test_a_pack_may_be_open_unseen_where_there_is_no_link():
    """Three packs of 60 A: 180 A on a link, two of them, 120 A, without one."""
    packs = MANAGED | {"discharge_current": 60.0}
    for linked, expected in ((True, 180.0), (False, 120.0)):
        bank = {"resistance": 0.009, "management": packs | {"data_link": linked}, "standing_draw": 0.0}
        draft = drafted(lithium(bank=bank, inverters=(LARGE,)), settle_low_end)
        assert number(draft, "inv-1", "discharge_current_limit") == pytest.approx(expected)


def test_limits_take_in_what_is_recommended():
    draft = drafted(flooded(), settle_low_end)
    for setting in draft.settings.values():
        held, low, high = setting.recommended, setting.low, setting.high
        if not setting.setting.startswith("load_") or not isinstance(held, Figure):
            continue
        assert not isinstance(low, Figure) or low.value <= held.value + 1e-9, setting.setting
        assert not isinstance(high, Figure) or held.value <= high.value + 1e-9, setting.setting
