"""Loads on the legs and phases of a supply."""

from __future__ import annotations

from typing import Any

import pytest

from commission.design.legs import check_legs
from commission.plant.plant import Plant
from tests.design.inverter_plants import findings, found, load, number, site, split_pair, unit


def raised(of: Plant) -> dict[str, Any]:
    return findings(check_legs, of)


def two(first: float, second: float, rating: float = 5000.0) -> Plant:
    return site(*split_pair(rating), loads=[load(1, first, leg="1"), load(2, second, leg="2")])


@pytest.mark.parametrize(
    ("first", "second", "kind", "share"),
    [
        (4800.0, 1200.0, "correct", 0.60),  # common practice: told above 20 %, mended above 40 %
        (3500.0, 1500.0, "advise", 0.40),  # exactly on a limit counts as inside
        (3000.0, 2000.0, None, None),
        (3010.0, 1990.0, "advise", 0.204),
        (2000.0, 2000.0, None, None),
    ],
)
def test_imbalance_of_two_legs(first: float, second: float, kind: str | None, share: float | None) -> None:
    told = raised(two(first, second))
    if kind is None:
        assert told == {}
    else:
        one = told["leg-imbalance" if kind == "correct" else "legs-uneven"]
        assert one.kind == kind
        assert number(one.value) == pytest.approx(share, abs=0.001)


def test_the_neutral_carries_the_difference() -> None:
    """(4800 − 1200) W ÷ 120 V = 30.0 A; 30 A against 18 A leave 12 A: sums of two phasors."""
    assert "30 A" in raised(two(4800.0, 1200.0))["leg-imbalance"].text
    assert "12 A" in raised(two(30.0 * 120.0, 18.0 * 120.0))["legs-uneven"].text


def test_three_phases_by_the_greatest_deviation() -> None:
    """2600, 2100 and 1200 W: mean 1966.7, off by 766.7 W, 39 %; own arithmetic after NEMA MG 1 14.36."""
    roles = ("reference", "follower", "follower")
    units = [unit(n, group="one", group_role=role, group_leg=str(n)) for n, role in enumerate(roles, start=1)]
    loads = [load(1, 3600.0, leg="all"), load(2, 1400.0, leg="1"), load(3, 900.0, leg="2")]
    told = raised(site(*units, loads=loads))["legs-uneven"]
    assert told.kind == "advise"
    assert number(told.value) == pytest.approx(0.3898, abs=1e-4)


def test_a_load_between_the_legs_evens_them_out() -> None:
    loads = [load(1, 6000.0, leg="both"), load(2, 1500.0, leg="1")]
    assert raised(site(*split_pair(), loads=loads)) == {}


def test_hardly_any_load_is_not_worth_a_word() -> None:
    """Up to a tenth of a leg's output, common practice."""
    assert raised(two(500.0, 0.0)) == {}
    assert "leg-imbalance" in raised(two(501.0, 0.0))


@pytest.mark.parametrize(
    ("leg", "words"), [("both", "both legs"), ("all", "three phases"), ("2", "hangs on leg 2")]
)
def test_a_load_without_its_legs_is_found(leg: str, words: str) -> None:
    told = raised(site(unit(), loads=[load(leg=leg)]))["load-leg"]
    assert told.kind == "correct"
    assert words in told.text
    assert raised(site(unit(), loads=[load(leg="1")])) == {}


def test_a_240_volt_load_on_two_units_of_one_leg_is_found() -> None:
    """Both units in phase: the line-to-line voltage is 0, phasors of 120 V at 0°."""
    units = [{**one, "group_leg": "1"} for one in split_pair()]
    assert "load-leg" in raised(site(*units, loads=[load(leg="both")]))
    assert raised(site(*split_pair(), loads=[load(leg="both")])) == {}


def test_a_leg_that_is_not_told_is_asked_for() -> None:
    told = raised(site(*split_pair(), loads=[load(leg="unknown")]))["load-leg"]
    assert told.kind == "not checked"


def test_a_power_that_is_not_told_is_asked_for() -> None:
    told = raised(site(*split_pair(), loads=[{**load(leg="1"), "power": "unknown"}]))
    assert told["leg-imbalance"].kind == "not checked"


def test_the_move_that_balances_best_comes_first() -> None:
    loads = [load(1, 2500.0, leg="1"), load(2, 1500.0, leg="1"), load(3, 1000.0, leg="2")]
    (one,) = found(check_legs, site(*split_pair(), loads=loads))
    # moving 1500 W leaves 2500 against 2500 W
    assert one.remedies[0].change[0].key == "loads[load-2].leg"
    assert number(one.remedies[0].passes) == pytest.approx(0.0, abs=1e-9)
