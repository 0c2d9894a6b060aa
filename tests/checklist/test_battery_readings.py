"""A battery by itself: rest, strings, blocks beside each other, acid, ohmic values, links, joining."""

from __future__ import annotations

import pytest

from commission.checklist.types import NotJudged, Waits
from tests.builders import plant
from tests.checklist.bands import edges, is_inside, is_stopped, judged_value, refusal, stops, waited_for
from tests.checklist.walks import Site

RESTED = 24.0


def agm(**fields: object) -> Site:
    return Site(plant("agm", **fields)).read("rest-time", "bank", RESTED)  # type: ignore[arg-type] # builder's own


# strings at rest; table of the AGM profile: 2.05 V half charged, 2.142 V full, cells ± 0.02 V


def test_a_rested_string_lies_between_half_charged_and_full() -> None:
    assert edges(agm().judged("string-voltage", "string-1")) == pytest.approx((24 * 2.03, 24 * 2.162))


@pytest.mark.parametrize("step", ["string-polarity", "string-voltage"])
@pytest.mark.parametrize(
    ("volts", "stopped"),
    [
        pytest.param(50.9, False, id="sound"),
        pytest.param(47.5, False, id="low, but all the right way round"),
        pytest.param(
            12 * 2.14, True, id="one of four blocks of six cells reversed: (24 − 12) cells are left"
        ),
        pytest.param(0.0, True, id="two of four reversed"),
        pytest.param(-50.9, True, id="the whole string reversed"),
    ],
)
def test_a_reversed_block_or_string_stops_work(step: str, volts: float, stopped: bool) -> None:
    assert is_stopped(agm().judged(step, "string-1", volts), volts) is stopped


def test_one_reversed_cell_of_two_volts_stops_work_where_no_healthy_string_can_be_so_low() -> None:
    # (24 − 2) × 2.162 V = 47.6 V is more than an empty string's 24 × 1.95 V = 46.8 V: the lower one counts
    site = agm(cells_per_block=1, blocks=24)
    assert stops(site.judged("string-polarity", "string-1"))[0] == pytest.approx(46.8)


def test_polarity_needs_no_rest_and_no_other_reading() -> None:
    # 1.75 to 2.50 V a cell, whatever the string did before
    assert edges(Site(plant("agm")).judged("string-polarity", "string-1")) == pytest.approx((42.0, 60.0))


def test_a_reversed_string_stops_work_before_anybody_asked_for_its_rest() -> None:
    fresh = Site(plant("agm"))
    assert is_stopped(fresh.judged("string-voltage", "string-1", -50.0), -50.0)
    assert waited_for(fresh.judged("string-voltage", "string-1", 50.0)) == ["rest-time@bank"]


def test_a_string_that_has_not_rested_is_not_judged() -> None:
    site = Site(plant("agm")).read("rest-time", "bank", 2.0)
    assert refusal(site.judged("string-voltage", "string-1", 51.0)) == (
        "the bank has rested 2 h; 6 h are wanted"
    )


def test_exactly_the_time_of_rest_is_enough() -> None:
    site = Site(plant("agm")).read("rest-time", "bank", 6.0)
    assert is_inside(site.judged("string-voltage", "string-1", 51.0), 51.0)


def test_rest_is_judged_in_hours() -> None:
    assert edges(Site(plant("agm")).judged("rest-time", "bank")) == (6.0, None)
    assert edges(Site(plant("lfp", bank={"management": None})).judged("rest-time", "bank")) == (2.0, None)


# blocks beside each other: 0.10 V between blocks of 12 V, 0.02 V between cells


def blocks(*volts: float, **fields: object) -> Site:
    return agm(**fields).read("block-voltage", "string-1", *volts)


def test_a_block_is_first_judged_by_itself() -> None:
    assert edges(agm().judged("block-voltage", "string-1")) == pytest.approx((6 * 2.03, 6 * 2.162))
    outcome = agm().judged("block-voltage", "string-1", 11.4)
    assert not is_inside(outcome, 11.4)


def test_a_reversed_or_shorted_block_stops_work() -> None:
    for volts in (-12.7, 0.0):
        assert is_stopped(agm().judged("block-voltage", "string-1", volts), volts)


def test_a_good_block_waits_for_the_others() -> None:
    site = blocks(12.80, 12.81)
    assert waited_for(site.judged("block-voltage", "string-1", 12.80)) == [
        "block-voltage@string-1#2",
        "block-voltage@string-1#3",
    ]


def test_of_a_whole_column_the_odd_block_is_named_and_the_others_pass() -> None:
    volts = (12.80, 12.81, 12.79, 12.68)
    site = blocks(*volts)
    outcomes = [site.judged("block-voltage", "string-1", value, index) for index, value in enumerate(volts)]
    assert [is_inside(outcome) for outcome in outcomes] == [True, True, True, False]
    assert judged_value(outcomes[3]) == pytest.approx(12.68 - 12.81)
    assert edges(outcomes[3]) == pytest.approx((-0.10, 0.10))


def test_a_spread_of_just_the_limit_is_inside() -> None:
    volts = (12.75, 12.80, 12.80, 12.85)
    site = blocks(*volts)
    assert all(
        is_inside(site.judged("block-voltage", "string-1", value, index)) for index, value in enumerate(volts)
    )


def test_two_ends_too_far_apart_are_seen_though_each_is_near_the_middle() -> None:
    volts = (12.74, 12.80, 12.80, 12.86)
    site = blocks(*volts)
    found = [is_inside(site.judged("block-voltage", "string-1", value, i)) for i, value in enumerate(volts)]
    assert found == [False, True, True, False]


def test_cells_of_two_volts_may_differ_by_twenty_millivolts() -> None:
    volts = [2.13] * 23 + [2.15]
    site = blocks(*volts, cells_per_block=1, blocks=24)
    assert is_inside(site.judged("block-voltage", "string-1", 2.15, 23))
    volts[-1] = 2.151
    site = blocks(*volts, cells_per_block=1, blocks=24)
    assert not is_inside(site.judged("block-voltage", "string-1", 2.151, 23))


# acid


def test_density_is_restated_at_the_reference_temperature() -> None:
    # 1.260 at 10 °C is 1.260 + 0.0007 × (10 − 25) = 1.2495; half charged 1.190 − 0.010, full 1.265 + 0.010
    site = Site(plant("flooded")).read("battery-temperature", "bank", 10.0)
    outcome = site.judged("cell-density.density", "string-1")
    assert edges(outcome) == pytest.approx((1.18, 1.275))
    low = site.judged("cell-density.density", "string-1", 1.185)
    assert judged_value(low) == pytest.approx(1.1745)
    assert not is_inside(low)


def test_density_waits_for_the_temperature_and_then_for_the_other_cells() -> None:
    site = Site(plant("flooded"))
    assert waited_for(site.judged("cell-density.density", "string-1", 1.26)) == ["battery-temperature@bank"]
    site.read("battery-temperature", "bank", 25.0)
    assert len(waited_for(site.judged("cell-density.density", "string-1", 1.26))) == 23


def test_a_cell_thirty_points_apart_is_named() -> None:
    site = Site(plant("flooded")).read("battery-temperature", "bank", 25.0)
    site.read("cell-density.density", "string-1", *[1.260] * 23, 1.229)
    assert not is_inside(site.judged("cell-density.density", "string-1", 1.229, 23))
    assert is_inside(site.judged("cell-density.density", "string-1", 1.260, 0))


def test_a_sealed_bank_is_asked_for_no_density() -> None:
    assert not any(step.data.id == "cell-density" for step in agm().checklist.steps)


# ohmic values and links


def test_an_ohmic_value_a_fifth_over_the_mean_is_out() -> None:
    # mean of 5.0, 5.1, 4.9 and 6.6 mΩ is 5.4: 6.6 lies 22 % over it, 4.9 lies 9 % under it
    site = agm().read("ohmic-value", "string-1", 5.0, 5.1, 4.9, 6.6)
    odd, good = (site.judged("ohmic-value", "string-1", v, i) for v, i in ((6.6, 3), (4.9, 2)))
    assert judged_value(odd) == pytest.approx(0.2222, abs=1e-4)
    assert judged_value(good) == pytest.approx(-0.0926, abs=1e-4)
    assert (is_inside(odd), is_inside(good)) == (False, True)


@pytest.mark.parametrize(
    ("links", "limit"),
    [
        pytest.param((70.0, 70.0, 70.0), 77.0, id="10 % of the mean"),
        pytest.param((40.0, 40.0, 40.0), 45.0, id="5 µΩ, which is more"),
    ],
)
def test_a_link_may_lie_a_tenth_or_five_microhms_over_the_mean(
    links: tuple[float, ...], limit: float
) -> None:
    site = agm().read("link-resistance", "string-1", *links)
    assert edges(site.judged("link-resistance", "string-1", links[0])) == pytest.approx((None, limit))


def test_links_wait_until_all_are_read() -> None:
    assert isinstance(agm().judged("link-resistance", "string-1", 50.0), Waits)


# joining


def test_strings_of_lead_are_joined_within_half_a_per_cent_of_nominal() -> None:
    site = agm(strings=2)
    outcome = site.judged("join-difference", ("string-2", "string-1"))
    assert edges(outcome) == pytest.approx((-0.24, 0.24))
    assert is_stopped(outcome, 50.0)
    assert not is_stopped(outcome, 2.0)


def test_lithium_packs_are_joined_within_fifty_millivolts_a_cell() -> None:
    site = Site(plant("lfp", cells_per_block=16, blocks=1, strings=2))
    assert edges(site.judged("join-difference", ("string-2", "string-1"))) == pytest.approx((-0.8, 0.8))


def test_the_current_at_joining_is_the_difference_over_both_strings() -> None:
    # 0.9 V over 26 mΩ is 34.615 A; each string 24 cells × 0.13 Ω·Ah ÷ 240 Ah = 13 mΩ
    rest = {"resistance_capacity": {"value": 0.13, "low": 0.13, "high": 0.13}}
    site = agm(strings=2, capacity=240.0, battery=rest)
    pair = ("string-2", "string-1")
    assert waited_for(site.judged("join-strings.current", pair)) == ["join-difference@string-2+string-1"]
    site.read("join-difference", pair, -0.9)
    assert edges(site.judged("join-strings.current", pair)) == pytest.approx((-34.615, 34.615), abs=0.05)


def test_without_a_difference_a_hundredth_of_capacity_counts_as_nothing() -> None:
    site = agm(strings=2).read("join-difference", ("string-2", "string-1"), 0.0)
    assert edges(site.judged("join-strings.current", ("string-2", "string-1"))) == pytest.approx((-2.0, 2.0))


# temperature, counts, openings


def test_lithium_is_not_charged_below_freezing() -> None:
    site = Site(plant("lfp", cells_per_block=16, blocks=1))
    assert edges(site.judged("battery-temperature", "bank")) == (0.0, 45.0)


def test_blocks_are_counted_against_the_site_file() -> None:
    assert edges(agm().judged("blocks-counted.count", "string-1")) == (4.0, 4.0)


def test_an_opening_that_the_site_file_does_not_state_is_not_judged() -> None:
    assert "vent area" in refusal(agm().judged("vent-opening.area", "bank"))
    assert edges(agm(bank={"vent_area": 120.0}).judged("vent-opening.area", "bank")) == (120.0, None)


@pytest.mark.parametrize(("step", "read"), [("link-resistance", 5000.0), ("ohmic-value", 90.0)])
def test_what_has_no_like_is_not_judged_beside_itself(step: str, read: float) -> None:
    """A loose joint would be as it should be, however loose; common sense."""
    alone = agm(blocks=2 if step == "link-resistance" else 1)
    assert isinstance(alone.judged(step, "string-1"), NotJudged), (
        "it says so before it is read, and waits for none"
    )
    alone.read(step, "string-1", read)
    assert isinstance(alone.judged(step, "string-1", read), NotJudged)
