"""Charge current limits that fit together, against arithmetic by hand; every case shows its own."""

from __future__ import annotations

import math
from typing import Any

import pytest

from commission.figure import Figure, Unknown
from commission.sheet.sharing import compatible_sets
from tests.builders import plant
from tests.sheet.sharing_cases import (
    AC_SUN,
    APART,
    DIESEL,
    LEG,
    LIMIT,
    PETROL,
    SUN,
    SUN_60,
    SUN_100,
    WIDE,
    amperes,
    array,
    bank,
    checks,
    found,
    note,
    number,
    settled,
)

# without coordination


def test_two_controllers_share_by_their_own_limits() -> None:
    """500 Ah × 0.2 = 100 A by 100 and 60: 62.5 and 37.5; the two halves make one ampere for the first."""
    draft = settled(bank(500.0, SUN_100, SUN_60))
    assert amperes(draft) == {"sun-3": 63.0, "sun-2": 37.0}
    assert "current into the bank for daily use" in note(draft, "sun-3")


def test_where_the_bank_takes_all_each_is_held_by_its_own_limit() -> None:
    """1000 Ah × 0.2 = 200 A, over 100 + 60."""
    draft = settled(bank(1000.0, SUN_100, SUN_60))
    assert amperes(draft) == {"sun-3": 100.0, "sun-2": 60.0}
    assert note(draft, "sun-2") == "bound by rating of sun-2"
    assert checks(draft) == set()


def test_a_breaker_and_a_conductor_bound_a_source() -> None:
    """Breaker 60 ÷ 1.25 = 48 A; conductors 8 AWG 75 °C 50 × 1.05 (25 °C), not over 50: ÷ 1.25 = 40 A."""
    breaker = {"id": "cb-1", "kind": "breaker", "current": "dc", "rating": 60.0}
    run = {
        "id": "run-1",
        "kind": "dc",
        "from": "sun-1",
        "to": "bank",
        "area": 8.37,
        "insulation_temperature": 75.0,
        "terminal_temperature": 75.0,
        "ambient": 25.0,
    }
    held = SUN | {"protection": "cb-1"}
    by_breaker = settled(bank(1000.0, held, protection=[breaker]))
    by_run = settled(bank(1000.0, held | {"run": "run-1"}, protection=[breaker], runs=[run]))
    full = settled(bank(1000.0, held, protection=[breaker | {"full_rated": True}]))
    assert amperes(by_breaker) == {"sun-1": 48.0}
    assert note(by_breaker, "sun-1") == "bound by breaker cb-1"
    assert amperes(by_run) == {"sun-1": 40.0}
    assert note(by_run, "sun-1") == "bound by conductors of run-1"
    assert amperes(full) == {"sun-1": 60.0}


def test_pv_comes_first_once_the_ac_fed_chargers_have_their_least() -> None:
    """100 A; AC-fed 0.1 × 500 = 50, half of the limit: 25 A each; PV the other 50 of the 55 that 2400 W give.

    5 A × 48 V = 240 W are lost. Of 105 A the AC-fed chargers get 52.5, in steps 25 each: 55 are left.
    """
    legs = [LEG | {"id": f"leg-{one}", "group_leg": str(one)} for one in (1, 2)]
    draft = settled(bank(500.0, *legs, SUN | {"array": array(2400.0)}, generators=[PETROL]))
    assert amperes(draft) == {"leg-1": 25.0, "leg-2": 25.0, "sun-1": 50.0}
    lost = found(draft, "pv-lost")
    assert lost.kind == "advise"
    assert lost.parts == ("sun-1",)
    assert number(lost.value) == pytest.approx(240.0, abs=0.5)
    assert number(lost.passes) == pytest.approx(105.0, abs=0.01)
    first, second, third = lost.remedy.split("; or ")
    assert first.startswith("coordination")
    assert second.startswith("an interlock between PV and leg-1, leg-2")
    assert "105 A" in third


def test_the_larger_bank_of_the_remedy_really_loses_no_pv() -> None:
    """105 A are 525 Ah × 0.2: AC-fed 25 each, PV 55."""
    legs = [LEG | {"id": f"leg-{one}", "group_leg": str(one)} for one in (1, 2)]
    draft = settled(bank(525.0, *legs, SUN | {"array": array(2400.0)}, generators=[PETROL]))
    assert amperes(draft)["sun-1"] == 55.0
    assert "pv-lost" not in checks(draft)


def test_a_remedy_counts_what_the_ac_fed_chargers_take_of_a_larger_limit() -> None:
    """Steps of 1: AC-fed 50 and PV 50 of 55. Of 105 A each gets 52.5 → 52 and 53, of 110 A 55."""
    narrow = WIDE | {"datasheet": {"charger_current": 60.0}}
    sources = (narrow, SUN | {"array": array(2400.0)})
    draft = settled(bank(500.0, *sources, generators=[PETROL]))
    assert amperes(draft) == {"inv-1": 50.0, "sun-1": 50.0}
    assert number(found(draft, "pv-lost").passes) == pytest.approx(110.0, abs=0.01)
    assert "pv-lost" not in checks(settled(bank(550.0, *sources, generators=[PETROL])))
    assert "pv-lost" in checks(settled(bank(525.0, *sources, generators=[PETROL])))


def test_what_pv_cannot_use_goes_back_to_the_ac_fed_chargers() -> None:
    """100 A: AC-fed 50, PV 1200 × 1.1 ÷ 48 = 27.5, the rest of 22.5 again AC-fed: 36.25 each.

    In steps of 5: 35 each; the 30 that are left go to PV, whose steps are of 1.
    """
    legs = [LEG | {"id": f"leg-{one}", "group_leg": str(one)} for one in (1, 2)]
    draft = settled(bank(500.0, *legs, SUN | {"array": array(1200.0)}, generators=[PETROL]))
    assert amperes(draft) == {"leg-1": 35.0, "leg-2": 35.0, "sun-1": 30.0}
    assert "pv-lost" not in checks(draft)


def test_a_diesel_set_is_loaded_to_30_percent_by_charging() -> None:
    """LFP 400 Ah: 120 A; 0.1 C = 40 A, but 0.3 × 12 kW × 0.90 ÷ 56 V (16 × 3.50) = 57.86 A, half is 60.

    Two chargers by 57.86: 28.93 each; PV of 80 takes the other 62.14. In steps: 25, 25 and 62, then PV's
    remainder first, 63, the first charger's step of 5, and 2 more for PV: 30, 25, 65.
    """
    legs = [LEG | {"id": f"leg-{one}", "group_leg": str(one)} for one in (1, 2)]
    cells: dict[str, Any] = {"blocks": 1, "cells_per_block": 16}
    draft = settled(
        bank(400.0, *legs, SUN | {"array": array(4800.0)}, chemistry="lfp", generators=[DIESEL], **cells)
    )
    assert amperes(draft) == {"leg-1": 30.0, "leg-2": 25.0, "sun-1": 65.0}


def test_weights_of_the_site_replace_pv_first() -> None:
    """50 AC-fed first, 25 each; the other 50 by 1 : 1 : 2 = 12.5, 12.5, 25: 37.5, 37.5 and 25.

    In steps of 5: 35, 35 and 25; the 5 that are left go to the first of the two largest remainders.
    """
    legs = [LEG | {"id": f"leg-{one}", "group_leg": str(one), "weight": 1.0} for one in (1, 2)]
    sun = SUN | {"array": array(4800.0), "weight": 2.0}
    draft = settled(bank(500.0, *legs, sun, generators=[DIESEL]))
    assert amperes(draft) == {"leg-1": 40.0, "leg-2": 35.0, "sun-1": 25.0}


def test_a_weight_gives_no_charger_more_than_its_set_can_feed_while_pv_can_use_it() -> None:
    """As above, but the petrol set feeds 20 A × 120 × 0.98 × 0.90 ÷ 57.6 = 36.75 A through each: PV 26.5.

    In steps: 35, 35 and 26; a step of 5 does not fit into the 4 that are left, four steps of 1 do.
    """
    legs = [LEG | {"id": f"leg-{one}", "group_leg": str(one), "weight": 1.0} for one in (1, 2)]
    sun = SUN | {"array": array(4800.0), "weight": 2.0}
    draft = settled(bank(500.0, *legs, sun, generators=[PETROL]))
    assert amperes(draft) == {"leg-1": 35.0, "leg-2": 35.0, "sun-1": 30.0}


def test_a_source_s_own_least_useful_current_comes_first() -> None:
    """100 A; the smaller controller has said 50: 50 of its 60, the other 50."""
    draft = settled(bank(500.0, SUN_100, SUN_60 | {"least_useful_current": 50.0}))
    # 50 first, the other 50 by 100 : 60: 31.25 and 18.75, of which 10 fit: 60; the rest, 40
    assert amperes(draft) == {"sun-3": 40.0, "sun-2": 60.0}


def test_a_charger_without_any_ac_source_counts_for_nothing_and_gets_a_value_for_one_day() -> None:
    """PV has the bank for itself: 80 of 100 A. With a set, AC-fed would get 50 and PV 50."""
    draft = settled(bank(500.0, WIDE | {"inputs": {}}, SUN | {"array": array(4800.0)}))
    assert amperes(draft) == {"inv-1": 50.0, "sun-1": 80.0}
    finding = found(draft, "no-ac-source")
    assert finding.kind == "advise"
    assert "50 A" in finding.text
    assert number(draft.shares["inv-1"]) == 0.0
    assert "bank-limit" not in checks(draft)


def test_the_ac_source_bounds_a_share_only_while_others_can_use_the_rest() -> None:
    """Petrol, 6500 VA by altitude 200 m and 38 °C: 0.9767 × 0.9764 × 0.8 ÷ 2 ÷ 120 = 20.66 A, in steps 20 A.

    20 × 240 × 0.98 × 0.92 ÷ 57.6 = 75.13 A through a charger of 100 A. 600 Ah: 120 A; AC-fed 60, PV 55 of
    2400 W, the rest of 5 A again AC-fed: 65. 1000 Ah: 200 A: PV 80 and AC-fed 100, nobody is held back.
    """
    sources = (WIDE, SUN | {"array": array(2400.0)})
    tight = settled(bank(600.0, *sources, generators=[PETROL]))
    wide = settled(bank(1000.0, *sources, generators=[PETROL]))
    assert amperes(tight) == {"inv-1": 65.0, "sun-1": 55.0}
    assert number(tight.numbers["ac_feed:inv-1:set-1"]) == pytest.approx(75.13, abs=0.005)
    assert amperes(wide) == {"inv-1": 100.0, "sun-1": 80.0}


def test_a_device_without_an_ac_limit_is_held_by_its_charge_current() -> None:
    """As above, but without that setting the set binds: 20.66 A × 240 × 0.98 × 0.92 ÷ 57.6 = 77.6 A."""
    of = bank(1000.0, WIDE, generators=[PETROL])
    bare = of.equipment["inv-1"].model_copy(
        update={
            "settings": {
                name: ability
                for name, ability in of.equipment["inv-1"].settings.items()
                if name != "ac_input_current_limit"
            }
        }
    )
    draft = settled(of.model_copy(update={"equipment": {**of.equipment, "inv-1": bare}}))
    assert amperes(draft) == {"inv-1": 77.0}
    assert "feeds through inv-1" in note(draft, "inv-1") or "set-1 feeds" in note(draft, "inv-1")


# AC-coupled PV and interlocks


def test_ac_coupled_pv_is_subtracted_first_at_full_rating() -> None:
    """Never 150 A, less 95.83 = 54.17 A; AC-fed 50, PV of 5 A at least: 49 and 5. Together 149.83 A."""
    sun = SUN | {"array": array(1200.0)}
    draft = settled(bank(500.0, WIDE, sun, generators=[PETROL], ac_pv_inverters=[AC_SUN]))
    assert amperes(draft) == {"inv-1": 49.0, "sun-1": 5.0}
    assert number(draft.numbers["ac_pv_current:roof"]) == pytest.approx(95.83, abs=0.005)
    assert "bank-limit" not in checks(draft)
    assert found(draft, "backfeed").kind == "not checked"


def test_an_interlock_gives_the_generator_its_full_room() -> None:
    """Never together: with the set 100 A are shared, PV 27.5 first after the least of 50: 28 and 72."""
    sun = SUN | {"array": array(1200.0)}
    draft = settled(bank(500.0, WIDE, sun, generators=[PETROL], ac_pv_inverters=[AC_SUN], interlocks=[APART]))
    assert amperes(draft) == {"inv-1": 72.0, "sun-1": 28.0}
    assert "bank-limit" not in checks(draft)


def test_ac_coupled_power_within_the_charge_limit_is_not_subtracted_again() -> None:
    """The charger's own limit holds it: 100 A are shared as if there were none, 72 and 28."""
    inside = WIDE | {"datasheet": {"limit_binds_backfeed": True}}
    sun = SUN | {"array": array(1200.0)}
    draft = settled(bank(500.0, inside, sun, generators=[PETROL], ac_pv_inverters=[AC_SUN]))
    assert amperes(draft) == {"inv-1": 72.0, "sun-1": 28.0}
    assert "backfeed" not in checks(draft)


def test_ac_coupled_pv_over_the_bank_s_limit_stops_and_a_larger_bank_passes() -> None:
    """300 Ah: never 90 A, AC-coupled 95.83; PV cannot be set under 5 A: 100.83 A."""
    draft = settled(bank(300.0, WIDE | {"inputs": {}}, SUN, ac_pv_inverters=[AC_SUN]))
    finding = found(draft, "bank-limit")
    assert finding.kind == "stop"
    assert "roof" in finding.text
    assert number(finding.value) == number(finding.passes) == pytest.approx(100.83, abs=0.005)
    assert number(finding.limit) == pytest.approx(90.0, abs=1e-9)
    assert finding.remedy.split("; or ")[-1] == "a bank whose limit never exceeded is 100.8 A or more"
    # 100.83 ÷ 0.3 = 336.1 Ah
    larger = settled(bank(336.2, WIDE | {"inputs": {}}, SUN, ac_pv_inverters=[AC_SUN]))
    assert "bank-limit" not in checks(larger)


def test_sets_follow_the_interlocks_and_a_charger_runs_only_where_it_is_fed() -> None:
    of = bank(500.0, WIDE, SUN, generators=[PETROL], ac_pv_inverters=[AC_SUN], interlocks=[APART])
    assert set(compatible_sets(of)) == {frozenset({"inv-1", "sun-1", "set-1"}), frozenset({"sun-1", "roof"})}
    free = bank(500.0, WIDE, SUN, generators=[PETROL], ac_pv_inverters=[AC_SUN])
    assert compatible_sets(free) == (frozenset({"inv-1", "sun-1", "roof", "set-1"}),)


def test_two_interlocks_that_overlap_make_three_sets() -> None:
    """a excludes b, b excludes c: {a, c} and {b}; the fourth runs in both."""
    suns = [SUN | {"id": ident} for ident in ("a", "b", "c", "d")]
    locks = [{"id": f"lock-{pair}", "one_of": list(pair), "by": "relay"} for pair in ("ab", "bc")]
    of = bank(500.0, *suns, interlocks=locks)
    assert set(compatible_sets(of)) == {frozenset("acd"), frozenset("bd")}


def test_twenty_controllers_are_shared_as_well() -> None:
    """No fixed number of devices: 100 A by 20 alike, 5 A each, which is the least that they take."""
    draft = settled(bank(500.0, *(SUN | {"id": f"sun-{one}"} for one in range(20))))
    assert set(amperes(draft).values()) == {5.0}
    assert checks(draft) == set()
    crowd = settled(bank(500.0, *(SUN | {"id": f"sun-{one}"} for one in range(21))))
    finding = found(crowd, "daily-limit")
    # 21 × 5 = 105 A: over the 100 A for daily use, under the 150 A never exceeded
    assert finding.kind == "correct"
    assert number(finding.passes) == pytest.approx(105.0)


# least settings and what cannot be set


def test_a_least_setting_over_the_share_counts_and_the_others_come_down() -> None:
    """24 V, 100 Ah: 20 A by 40 and 60: 8 and 12; the first takes 10 at least: 10 and 10."""
    coarse = {"id": "sun-4", "profile": "controller-24v-40-no-sensor"}
    fine = {"id": "sun-5", "profile": "controller-24v-60-buck-150"}
    draft = settled(plant("agm", blocks=2, capacity=100.0, controllers=(coarse, fine)))
    assert amperes(draft) == {"sun-4": 10.0, "sun-5": 10.0}
    assert checks(draft) == set()


def test_least_settings_that_do_not_fit_are_found_by_how_far_they_go() -> None:
    """Two of 10 A at least: 60 Ah take 12 A a day, 18 A at most: 20 A stop; 80 Ah 16 and 24: correct."""
    pair = tuple({"id": f"sun-{one}", "profile": "controller-24v-40-no-sensor"} for one in (4, 5))
    small = settled(plant("agm", blocks=2, capacity=60.0, controllers=pair))
    larger = settled(plant("agm", blocks=2, capacity=80.0, controllers=pair))
    assert found(small, "bank-limit").kind == "stop"
    assert found(larger, "daily-limit").kind == "correct"
    assert number(found(small, "bank-limit").passes) == pytest.approx(20.0, abs=1e-9)
    remedy = found(small, "bank-limit").remedy
    assert remedy.index("coordination") < remedy.index("an interlock") < remedy.index("a bank")
    apart = {"id": "apart", "one_of": ["sun-4", "sun-5"], "by": "switch"}
    mended = settled(plant("agm", blocks=2, capacity=60.0, controllers=pair, interlocks=[apart]))
    assert not {"bank-limit", "daily-limit"} & checks(mended)
    assert set(amperes(mended).values()) == {10.0}


def test_a_least_setting_over_the_device_s_own_breaker_is_found() -> None:
    """Breaker 10 ÷ 1.25 = 8 A, the controller cannot go under 10 A."""
    breaker = {"id": "cb-1", "kind": "breaker", "current": "dc", "rating": 10.0}
    device = {"id": "sun-4", "profile": "controller-24v-40-no-sensor", "protection": "cb-1"}
    draft = settled(plant("agm", blocks=2, capacity=400.0, controllers=(device,), protection=[breaker]))
    finding = found(draft, "least-setting-over-limit")
    assert finding.kind == "correct"
    assert number(finding.passes) == pytest.approx(10.0)


def test_a_source_that_cannot_be_commanded_counts_with_what_its_array_gives() -> None:
    """12 V, 100 Ah flooded: never 20 A. 200 W × 1.1 ÷ 12 = 18.3 A pass; two of them make 36.7 A."""
    plain = {"id": "sun-6", "profile": "controller-12v-20-plain", "array": array(200.0)}
    other = plain | {"id": "sun-7", "array": array(201.0)}
    one = settled(plant("flooded", blocks=1, capacity=100.0, controllers=(plain,)))
    two = settled(plant("flooded", blocks=1, capacity=100.0, controllers=(plain, other)))
    assert "bank-limit" not in checks(one)
    assert found(two, "bank-limit").kind == "stop"
    # 18.333 + 18.425
    assert number(found(two, "bank-limit").value) == pytest.approx(36.76, abs=0.005)


# the least that the chemistry needs, and what is not known


def test_too_little_current_for_vented_cells_says_what_it_costs() -> None:
    """1000 Ah ÷ 20 = 50 A; a controller on 1300 W gives 1300 × 1.1 ÷ 48 = 29.79 A.

    Half of 1000 Ah at 29.79 A and 0.9: 500 ÷ 26.81 = 18.6 h.
    """
    draft = settled(bank(1000.0, SUN | {"array": array(1300.0)}, chemistry="flooded"))
    finding = found(draft, "least-charge-current")
    assert number(finding.passes) == pytest.approx(50.0, abs=1e-9)
    assert number(finding.value) == pytest.approx(29.79, abs=0.005)
    assert "stratifies" in finding.text
    assert "19 h" in finding.text


def test_lithium_and_sealed_cells_have_no_least_current_to_miss() -> None:
    small = SUN | {"array": array(200.0)}
    assert "least-charge-current" not in checks(settled(bank(1000.0, small)))
    lithium = bank(1000.0, small, chemistry="lfp", blocks=1, cells_per_block=16)
    assert "least-charge-current" not in checks(settled(lithium))


def test_without_the_bank_s_limit_nothing_is_set_and_it_is_said() -> None:
    draft = settled(bank(500.0, SUN, bank={"capacity": "unknown"}))
    assert isinstance(draft.value("sun-1", LIMIT), Unknown)
    assert isinstance(draft.shares["sun-1"], Unknown)
    assert "capacity of one string" in found(draft, "sharing").text


def test_an_unknown_breaker_leaves_the_rest_and_is_asked_for() -> None:
    breaker = {"id": "cb-1", "kind": "breaker", "current": "dc", "rating": "unknown"}
    draft = settled(bank(1000.0, SUN | {"protection": "cb-1"}, protection=[breaker]))
    assert amperes(draft) == {"sun-1": 80.0}
    assert (
        found(draft, "source-limit").text == "charge limit of the source not checked: rating of cb-1 unknown"
    )


def test_a_source_of_unknown_rating_is_held_by_what_it_can_be_set_to() -> None:
    draft = settled(bank(1000.0, SUN | {"datasheet": {"output_current": "unknown"}}))
    assert amperes(draft) == {"sun-1": 80.0}
    assert "output current of sun-1" in found(draft, "source-limit").text


def test_the_acceptable_end_is_what_the_bank_stands_beside_the_others() -> None:
    """63 and 37 A; never 150: the first may be 150 − 37 = 113, but not over its 100; the second 60."""
    draft = settled(bank(500.0, SUN_100, SUN_60))
    assert number(draft.settings[("sun-3", LIMIT, None)].high) == pytest.approx(100.0, abs=1e-9)
    assert number(draft.settings[("sun-2", LIMIT, None)].high) == pytest.approx(60.0, abs=1e-9)
    small = settled(bank(250.0, SUN_100, SUN_60))
    # 50 A: 31.25 and 18.75 → 31 and 19; never 75: 75 − 19 = 56 and 75 − 31 = 44
    assert amperes(small) == {"sun-3": 31.0, "sun-2": 19.0}
    assert number(small.settings[("sun-3", LIMIT, None)].high) == pytest.approx(56.0, abs=1e-9)
    assert number(small.settings[("sun-2", LIMIT, None)].high) == pytest.approx(44.0, abs=1e-9)


def test_a_setting_can_say_why_down_to_the_site_file() -> None:
    """What binds is the room beside the others, which rests on rate, capacity and strings."""
    draft = settled(bank(500.0, SUN_100, SUN_60))
    wanted = draft.settings[("sun-3", LIMIT, None)].recommended
    assert isinstance(wanted, Figure)
    from commission.figure import why

    told = "\n".join(f"{line.text} {line.source}" for line in why(wanted))
    assert "bank.capacity" in told
    assert "charge_rate_recommended" in told
    assert "rating of sun-3" in told
    assert math.isclose(wanted.value, 63.0)
