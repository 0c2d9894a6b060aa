"""Managed packs: awake, seen, their voltages and cells, what they tell, their charge beside each other."""

from __future__ import annotations

from typing import Any

import pytest

from tests.builders import plant
from tests.checklist.bands import edges, is_inside, is_stopped, judged_value, refusal, stops, waited_for
from tests.checklist.walks import Site

TOLD = {
    "data_link": True,
    "charge_current": 50.0,
    "discharge_current": 100.0,
    "cut_off_high": 3.6,
    "margin": 0.05,
    "cell_voltage_accuracy": 0.005,
}


def packs(strings: int = 2, **management: Any) -> Site:
    bank = {"management": TOLD | management}
    return Site(plant("lfp", cells_per_block=16, blocks=1, strings=strings, capacity=100.0, bank=bank))


def ids(site: Site) -> set[str]:
    return {step.data.id for step in site.checklist.steps}


def test_steps_that_a_managed_pack_does_not_need_vanish_and_its_own_come() -> None:
    walk = ids(packs())
    assert not walk & {"string-voltage", "block-voltage", "cell-density", "ohmic-value", "link-resistance"}
    assert walk >= {
        "pack-woken",
        "pack-addresses",
        "packs-seen",
        "pack-voltage",
        "cell-extremes",
        "told-limits",
    }


def test_a_bank_without_management_is_measured_block_by_block() -> None:
    walk = ids(Site(plant("agm")))
    assert walk >= {"string-voltage", "block-voltage", "ohmic-value", "link-resistance"}
    assert not walk & {"pack-woken", "pack-voltage", "cell-extremes", "told-limits", "lithium-gear"}


def test_without_a_data_link_nothing_is_told_and_nothing_seen_by_a_leader() -> None:
    assert not ids(packs(data_link=False)) & {"told-limits", "packs-seen", "pack-addresses"}
    assert ids(packs(data_link="unknown")) >= {"told-limits", "packs-seen", "pack-addresses"}


def test_a_single_pack_needs_no_joining_and_no_comparison() -> None:
    assert not ids(packs(strings=1)) & {"join-difference", "join-strings", "pack-charge"}


def test_packs_in_series_and_in_parallel_are_all_to_be_seen() -> None:
    site = Site(plant("lfp", cells_per_block=4, blocks=4, strings=2, bank={"management": TOLD}))
    assert edges(site.judged("packs-seen", "bank")) == (8.0, 8.0)


# voltage: 16 cells, 3.22 V at a fifth of charge and 3.40 V full, ± 0.03 V; limits 2.50 and 3.65 V a cell


def test_a_rested_pack_lies_between_its_usual_depth_and_full() -> None:
    outcome = packs().read("rest-time", "bank", 3.0).judged("pack-voltage.meter", "string-1")
    assert edges(outcome) == pytest.approx((16 * 3.19, 16 * 3.43))
    assert stops(outcome) == pytest.approx((40.0, 58.4))


def test_a_pack_fresh_from_the_charger_is_judged_by_its_limits_alone() -> None:
    for site in (packs(), packs().read("rest-time", "bank", 1.0)):
        assert edges(site.judged("pack-voltage.meter", "string-1")) == pytest.approx((16 * 2.8, 16 * 3.65))


def test_a_sleeping_pack_is_no_fault() -> None:
    assert refusal(packs().judged("pack-voltage.meter", "string-1", 0.0)) == (
        "the pack sleeps or its switch is open: wake it and read again"
    )


@pytest.mark.parametrize(("volts", "stopped"), [(-52.8, True), (39.0, True), (52.8, False), (58.5, True)])
def test_a_pack_reversed_or_outside_its_cells_limits_stops_work(volts: float, stopped: bool) -> None:
    assert is_stopped(packs().judged("pack-voltage.meter", "string-1", volts), volts) is stopped


def test_a_pack_within_its_limits_is_compared_with_what_it_shows() -> None:
    # 16 cells × 5 mV of the battery's own accuracy: ± 0.08 V
    site = packs().read("pack-voltage.shown", "string-1", 53.00)
    assert edges(site.judged("pack-voltage.meter", "string-1", 53.05)) == pytest.approx((52.92, 53.08))


def test_without_a_told_accuracy_half_a_per_cent_is_taken() -> None:
    site = packs(cell_voltage_accuracy="unknown").read("pack-voltage.shown", "string-1", 53.0)
    assert edges(site.judged("pack-voltage.meter", "string-1", 53.0)) == pytest.approx((52.735, 53.265))


# cells


def test_a_cell_outside_its_limits_stops_work() -> None:
    site = packs()
    assert is_stopped(site.judged("cell-extremes.greatest", "string-1", 3.66), 3.66)
    assert is_stopped(site.judged("cell-extremes.least", "string-1", 2.49), 2.49)
    assert not is_stopped(site.judged("cell-extremes.least", "string-1", 2.70), 2.70)
    assert not is_inside(site.judged("cell-extremes.least", "string-1", 2.70), 2.70)


def test_the_spread_is_judged_only_after_two_hours_of_rest() -> None:
    site = packs().read("cell-extremes.least", "string-1", 3.290)
    assert edges(site.judged("cell-extremes.greatest", "string-1", 3.360)) == (None, 3.65)
    site.read("rest-time", "bank", 2.0)
    outcome = site.judged("cell-extremes.greatest", "string-1", 3.360)
    # 30 mV of spread and 5 mV of the battery's own accuracy
    assert judged_value(outcome) == pytest.approx(0.070)
    assert edges(outcome) == pytest.approx((None, 0.035))
    assert is_inside(site.judged("cell-extremes.greatest", "string-1", 3.325))


# told limits


def test_told_currents_are_at_most_those_of_one_pack_times_packs() -> None:
    assert edges(packs(strings=3).judged("told-limits.charge", "bank")) == (0.0, 150.0)
    assert edges(packs(strings=3).judged("told-limits.discharge", "bank")) == (0.0, 300.0)


def test_told_voltage_stays_a_margin_under_the_cut_off() -> None:
    assert edges(packs().judged("told-limits.voltage", "bank")) == pytest.approx((16 * 3.2, 16 * 3.55))
    assert edges(packs(margin="unknown").judged("told-limits.voltage", "bank"))[1] == pytest.approx(58.4)


def test_what_one_pack_may_take_is_asked_for_where_the_site_file_does_not_say() -> None:
    assert "charge current" in refusal(packs(charge_current="unknown").judged("told-limits.charge", "bank"))


# charge beside each other


def test_packs_within_five_points_of_charge_may_be_joined() -> None:
    site = packs(strings=3)
    assert len(waited_for(site.judged("pack-charge", "string-1", 60.0))) == 2
    for string, percent in (("string-1", 60.0), ("string-2", 62.0), ("string-3", 65.0)):
        site.read("pack-charge", string, percent)
    assert is_inside(site.judged("pack-charge", "string-3", 65.0))
    site.read("pack-charge", "string-3", 66.0)
    outcome = site.judged("pack-charge", "string-3", 66.0)
    assert judged_value(outcome) == pytest.approx(6.0)
    assert not is_inside(outcome)
