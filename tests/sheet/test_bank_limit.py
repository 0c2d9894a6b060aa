"""The limit on the current into the bank, against arithmetic by hand; every case shows its own."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given

from commission.figure import Figure, Quantity, Unknown
from commission.plant.plant import Plant
from commission.sheet.bank_limit import main_runs, rated_capacity, settle_bank_limit
from commission.sheet.draft import Draft
from commission.sheet.types import Finding
from tests.builders import plant
from tests.strategies import plants

RUN: dict[str, Any] = {
    "id": "run-main",
    "kind": "dc",
    "from": "bank",
    "to": "panel",
    "area": 67.4,
    "insulation_temperature": 75.0,
    "terminal_temperature": 75.0,
    "ambient": 30.0,
}
"""2/0 AWG: 175 A at 75 °C, 195 A at 90 °C (NEC table 310.16)."""
FUSE = {
    "id": "fuse-main",
    "kind": "fuse",
    "current": "dc",
    "rating": 150.0,
    "protects": "bank",
    "of": "bank",
}
SUN = {"id": "sun-1", "profile": "controller-48v-80-buck-200"}
PANEL = {"id": "panel", "kind": "dc"}


def settled(of: Plant) -> Draft:
    draft = Draft(of)
    settle_bank_limit(draft)
    return draft


def never(draft: Draft) -> Figure:
    return figure(draft.numbers["bank_limit"])


def daily(draft: Draft) -> Figure:
    return figure(draft.numbers["recommended_limit"])


def figure(value: Quantity) -> Figure:
    assert isinstance(value, Figure), value
    return value


def found(draft: Draft, check: str) -> Finding:
    return next(finding for finding in draft.findings if finding.check == check)


def checks(draft: Draft) -> set[str]:
    return {finding.check for finding in draft.findings}


def big(**changed: Any) -> Plant:
    """Flooded, four strings of 225 Ah: 900 Ah, 117 A for daily use, 180 A never exceeded."""
    sections: dict[str, Any] = {"panels": [PANEL], **changed}
    return plant("flooded", capacity=225.0, strings=4, **sections)


def test_two_flooded_strings_take_58_5_a_a_day_and_90_a_at_most() -> None:
    """450 Ah × 0.13 = 58.5 A, × 0.20 = 90 A (flooded profile, from memory)."""
    draft = settled(plant("flooded", capacity=225.0, strings=2))
    assert daily(draft).value == pytest.approx(58.5, abs=0.05)
    assert never(draft).value == pytest.approx(90.0, abs=0.05)
    assert "charge rate" in daily(draft).binding().name


def test_one_string_of_8_v_blocks_takes_83_a_at_most() -> None:
    """415 Ah × 0.2 = 83 A (open handbook on charge rates of off-grid banks, 8 V blocks to 48 V)."""
    draft = settled(plant("flooded", cells_per_block=4, blocks=6, capacity=415.0))
    assert never(draft).value == pytest.approx(83.0, abs=0.05)


def test_a_capacity_at_another_rate_is_converted_and_the_sheet_says_so() -> None:
    """450 Ah at 100 h, exponent 1.25: 450 × (20 ÷ 100)^(1 − 1 ÷ 1.25) = 450 × 0.2^0.2 = 326.15 Ah.

    0.2 × 326.15 = 65.23 A.
    """
    draft = settled(plant("flooded", capacity=450.0, bank={"capacity_rate": 100.0}))
    assert never(draft).value == pytest.approx(65.23, abs=0.005)
    finding = found(draft, "capacity-at-other-rate")
    assert finding.kind == "advise"
    assert figure(finding.passes or Unknown(())).value == pytest.approx(326.15, abs=0.005)


def test_a_capacity_at_the_profiles_own_rate_is_left_alone() -> None:
    """Flooded cells are rated at 20 h: 450 Ah stay 450 Ah."""
    draft = settled(plant("flooded", capacity=450.0, bank={"capacity_rate": 20.0}))
    assert never(draft).value == pytest.approx(90.0, abs=1e-9)
    assert "capacity-at-other-rate" not in checks(draft)


def test_tubular_and_nickel_cells_are_rated_at_10_and_5_hours() -> None:
    """Tubular gel 1000 Ah at 10 h × 0.25 = 250 A; nickel-cadmium 400 Ah at 5 h × 0.4 = 160 A."""
    tubular = settled(plant("tubular-gel", capacity=1000.0, bank={"capacity_rate": 10.0}))
    nickel = settled(plant("nickel-cadmium", blocks=1, cells_per_block=40, capacity=400.0))
    assert never(tubular).value == pytest.approx(250.0, abs=1e-6)
    assert never(nickel).value == pytest.approx(160.0, abs=1e-6)
    assert checks(tubular) == checks(nickel) == set()


def test_lithium_capacity_is_not_converted_between_rates() -> None:
    """280 Ah at 5 h × 0.3 = 84 A, as at any rate."""
    management = {"data_link": True, "charge_current": 200.0}
    bank = {"capacity_rate": 5.0, "management": management}
    draft = settled(plant("lfp", blocks=4, cells_per_block=4, capacity=280.0, bank=bank))
    assert daily(draft).value == pytest.approx(84.0, abs=1e-9)
    assert "capacity-at-other-rate" not in checks(draft)


# management


def lithium(packs: int, **management: Any) -> Draft:
    bank = {"management": {"charge_current": 100.0, **management}}
    return settled(plant("lfp", blocks=1, cells_per_block=16, strings=packs, capacity=280.0, bank=bank))


def test_three_packs_of_100_a_take_300_a_where_a_link_tells_of_an_open_one() -> None:
    """3 × 100 = 300 A, under 0.5 × 840 Ah = 420 A (lower of C rate and management, from memory)."""
    draft = lithium(3, data_link=True)
    assert never(draft).value == pytest.approx(300.0, abs=1e-9)
    assert "management" in never(draft).binding().name
    assert daily(draft).value == pytest.approx(0.3 * 840.0, abs=1e-9)


def test_without_a_link_one_pack_may_be_out() -> None:
    """(3 − 1) × 100 = 200 A."""
    draft = lithium(3, data_link=False)
    assert never(draft).value == daily(draft).value == pytest.approx(200.0, abs=1e-9)
    assert "data-link" not in checks(draft)


def test_a_link_that_nobody_knows_of_counts_as_none_and_is_asked_for() -> None:
    draft = lithium(3)
    assert never(draft).value == pytest.approx(200.0, abs=1e-9)
    assert found(draft, "data-link").kind == "not checked"


def test_a_single_pack_counts_as_itself() -> None:
    """Once it opens there is no bank: 1 × 100 = 100 A, under 0.5 × 280 = 140 A."""
    assert never(lithium(1, data_link=False)).value == pytest.approx(100.0, abs=1e-9)


def test_an_unknown_limit_of_the_management_is_said_and_the_rest_may_be_lower() -> None:
    """0.5 × 840 = 420 A remain, with a note."""
    draft = lithium(3, data_link=True, charge_current="unknown")
    assert never(draft).value == pytest.approx(420.0, abs=1e-9)
    assert "may be lower" in never(draft).note
    finding = found(draft, "bank-limit-part")
    assert finding.kind == "not checked"
    assert "charge current of one pack" in finding.text


def test_a_lithium_bank_of_whose_management_nothing_is_told_is_asked_for_it() -> None:
    draft = settled(plant("lfp", blocks=1, cells_per_block=16, capacity=280.0))
    assert found(draft, "management").kind == "not checked"
    assert "management" not in checks(settled(plant("agm")))


# conductors and protection


def test_the_main_conductor_binds_below_the_cells() -> None:
    """175 A ÷ 1.25 = 140 A, under 180 A; for daily use the cells' 117 A bind."""
    draft = settled(big(runs=[RUN]))
    assert never(draft).value == pytest.approx(140.0, abs=1e-9)
    assert "run-main" in never(draft).binding().name
    assert daily(draft).value == pytest.approx(117.0, abs=1e-9)


@pytest.mark.parametrize(
    ("changed", "amperes"),
    [
        # cool air: 175 × 1.05 = 183.75, but the terminals stay at 175: 175 ÷ 1.25
        pytest.param({"ambient": 25.0}, 140.0, id="cool air does not help the terminals"),
        # 90 °C column 195 × 0.87 (45 °C) = 169.65; ÷ 1.25
        pytest.param({"ambient": 45.0, "insulation_temperature": 90.0}, 135.72, id="hot air, 90 °C"),
        # 175 × 0.80 for two circuits = 140; ÷ 1.25
        pytest.param({"grouped": 2}, 112.0, id="two circuits in a duct"),
        # 60 °C terminals: 145 ÷ 1.25
        pytest.param({"terminal_temperature": 60.0}, 116.0, id="60 °C terminals"),
        # 175 × 0.75 = 131.25 in aluminium; ÷ 1.25
        pytest.param({"material": "aluminium"}, 105.0, id="aluminium"),
    ],
)
def test_the_main_conductor_is_corrected_for_where_it_lies(changed: dict[str, Any], amperes: float) -> None:
    assert never(settled(big(runs=[RUN | changed]))).value == pytest.approx(amperes, abs=0.005)


def test_parallel_conductors_of_a_pole_add_up() -> None:
    """2 × 115 A (2 AWG, 75 °C) ÷ 1.25 = 184 A; the cells' 180 A bind. One alone: 92 A."""
    pair = settled(big(runs=[RUN | {"area": 33.6, "conductors": 2}]))
    one = settled(big(runs=[RUN | {"area": 33.6}]))
    assert never(pair).value == pytest.approx(180.0, abs=1e-9)
    assert never(one).value == pytest.approx(92.0, abs=1e-9)


def test_a_run_whose_air_nobody_told_lies_in_the_hottest_air_of_the_site() -> None:
    """Room 25 °C, outside 38 °C: the row up to 40 °C, 0.88 × 175 = 154; ÷ 1.25 = 123.2 A."""
    draft = settled(big(runs=[RUN | {"ambient": "unknown"}]))
    assert never(draft).value == pytest.approx(123.2, abs=0.005)


def test_the_main_fuse_binds_with_the_continuous_factor_unless_it_is_full_rated() -> None:
    """150 ÷ 1.25 = 120 A; marked for its whole rating 150 A, where the conductor's 140 A bind."""
    plain = settled(big(runs=[RUN | {"protection": "fuse-main"}], protection=[FUSE]))
    full = settled(big(runs=[RUN | {"protection": "fuse-main"}], protection=[FUSE | {"full_rated": True}]))
    assert never(plain).value == pytest.approx(120.0, abs=1e-9)
    assert "fuse-main" in never(plain).binding().name
    assert never(full).value == pytest.approx(140.0, abs=1e-9)


def test_where_the_rules_know_no_continuous_factor_a_rating_counts_whole() -> None:
    """IEC: factor 1, the fuse of 150 A is 150 A; never 180 A by the cells."""
    place = {"rules": "iec-230", "units": "metric"}
    assert never(settled(big(place=place, protection=[FUSE]))).value == pytest.approx(150.0, abs=1e-9)


def test_the_strings_own_fuses_and_leads_bound_the_bank_by_the_weakest() -> None:
    """Two strings, fuses of 50 and 60 A: 2 × 50 ÷ 1.25 = 80 A, under 90 A."""
    fuses = [
        FUSE | {"id": f"fuse-{number}", "protects": "string", "of": f"string-{number}", "rating": rating}
        for number, rating in ((1, 50.0), (2, 60.0))
    ]
    draft = settled(plant("flooded", capacity=225.0, strings=2, protection=fuses))
    assert never(draft).value == pytest.approx(80.0, abs=1e-9)
    assert "fuses of 2 strings" in never(draft).binding().name
    lead = RUN | {"id": "lead-1", "from": "string-1", "to": "bank", "area": 8.37}
    leads = settled(plant("flooded", capacity=225.0, strings=2, runs=[lead]))
    # 8 AWG at 75 °C: 50 A; 2 × 50 ÷ 1.25
    assert never(leads).value == pytest.approx(80.0, abs=1e-9)


def test_two_ways_out_of_the_bank_add_up_each_with_its_own_weakest_part() -> None:
    """Way one: 2/0 AWG 140 A behind 100 A ÷ 1.25 = 80 A; way two: 2 AWG 92 A. Together 172 A, under 180 A."""
    panels = [PANEL, {"id": "panel-2", "kind": "dc"}]
    first = RUN | {"protection": "fuse-1"}
    second = RUN | {"id": "run-2", "to": "panel-2", "area": 33.6}
    fuse = FUSE | {"id": "fuse-1", "rating": 100.0}
    draft = settled(big(panels=panels, runs=[first, second], protection=[fuse]))
    assert never(draft).value == pytest.approx(172.0, abs=1e-9)


def test_two_like_runs_side_by_side_count_as_twice_the_weaker() -> None:
    """2/0 AWG 140 A and 2 AWG 92 A to the same panel: 2 × 92 = 184 A, the cells' 180 A bind; with
    4 AWG (85 ÷ 1.25 = 68 A) 2 × 68 = 136 A."""
    for area, amperes in ((33.6, 180.0), (21.15, 136.0)):
        draft = settled(big(runs=[RUN, RUN | {"id": "run-2", "area": area}]))
        assert never(draft).value == pytest.approx(amperes, abs=1e-9)


def test_a_sources_own_run_and_a_loads_run_are_no_main_conductors() -> None:
    thin = RUN | {"area": 8.37}
    runs = [
        thin | {"id": "run-sun", "from": "sun-1", "to": "bank"},
        thin | {"id": "run-lamp", "to": "lamp"},
        RUN,
    ]
    of = big(
        runs=runs,
        controllers=(SUN | {"run": "run-sun"}, SUN | {"id": "sun-2", "panel": "panel"}),
        loads=[{"id": "lamp", "current": "dc"}],
    )
    assert [run.id for run in main_runs(of)] == ["run-main"]


def test_a_run_to_a_panel_without_any_source_carries_no_charge() -> None:
    """The only source goes straight to the bank: the panel holds loads."""
    run = RUN | {"id": "run-sun", "from": "sun-1", "to": "bank"}
    of = big(runs=[run, RUN], controllers=(SUN | {"run": "run-sun"},))
    assert main_runs(of) == ()


def test_an_unknown_area_is_named_and_the_limit_may_be_lower() -> None:
    """The cells' 180 A remain; the finding names what is wanted."""
    draft = settled(big(runs=[RUN | {"area": "unknown"}]))
    assert never(draft).value == pytest.approx(180.0, abs=1e-9)
    assert "may be lower" in never(draft).note
    assert (
        found(draft, "bank-limit-part").text
        == "charge limit of the bank by its wiring not checked: area of run-main unknown"
    )


def test_without_the_capacity_nothing_stands_whatever_the_wiring_carries() -> None:
    draft = settled(big(runs=[RUN], bank={"capacity": "unknown"}))
    limit = draft.numbers["bank_limit"]
    assert isinstance(limit, Unknown)
    assert "capacity of one string" in limit.missing
    assert found(draft, "bank-limit").kind == "not checked"


@given(plants(inverters=2, controllers=2))
def test_daily_use_never_exceeds_what_is_never_exceeded(of: Plant) -> None:
    draft = settled(of)
    both = draft.numbers["recommended_limit"], draft.numbers["bank_limit"]
    if all(isinstance(value, Figure) for value in both):
        assert 0 < daily(draft).value <= never(draft).value
        assert daily(draft).binding().name


@given(plants(inverters=0, controllers=0))
def test_whatever_is_missing_of_the_limit_is_a_finding(of: Plant) -> None:
    draft = settled(of)
    limit = draft.numbers["bank_limit"]
    told = {finding.check for finding in draft.findings if finding.kind == "not checked"}
    if isinstance(limit, Unknown):
        assert "bank-limit" in told
    elif limit.note:
        assert "bank-limit-part" in told
    assert isinstance(rated_capacity(of), Figure) or isinstance(limit, Unknown)
