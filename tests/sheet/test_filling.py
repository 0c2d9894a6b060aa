"""A limit shared out, in numbers alone."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.sheet.filling import Claim, shared, used


def claim(ident: str, most: float, **changed: Any) -> Claim:
    fields: dict[str, Any] = {
        "useful": most,
        "least": 0.0,
        "caps": (most,),
        "first": True,
        "step": None,
        **changed,
    }
    return Claim(ident, most, **fields)


def test_a_limit_is_split_in_proportion_to_own_limits() -> None:
    """125 A by 120 and 70: 78.95 and 46.05 A (shared current limit, split by rating, from memory)."""
    amounts = shared([claim("a", 120.0), claim("b", 70.0)], [125.0])
    assert amounts == {"a": pytest.approx(78.95, abs=0.005), "b": pytest.approx(46.05, abs=0.005)}


def test_a_step_left_over_goes_to_the_largest_remainder() -> None:
    """78.95 and 46.05 in whole amperes: 78 + 46 leave one, 0.95 is the larger remainder: 79 and 46."""
    assert shared([claim("a", 120.0, step=1.0), claim("b", 70.0, step=1.0)], [125.0]) == {
        "a": 79.0,
        "b": 46.0,
    }


def test_among_equal_remainders_the_first_in_order_gets_it() -> None:
    """101 A by two alike: 50.5 each; the first gets the odd one."""
    assert shared([claim("a", 80.0, step=1.0), claim("b", 80.0, step=1.0)], [101.0]) == {"a": 51.0, "b": 50.0}


def test_pv_is_filled_before_the_others_up_to_what_it_can_use() -> None:
    """60 A: PV of 80 that can deliver 40 takes 40, the charger the rest."""
    sun = claim("sun", 80.0, useful=40.0)
    charger = claim("charger", 70.0, first=False)
    assert shared([charger, sun], [60.0]) == {"charger": pytest.approx(20.0), "sun": pytest.approx(40.0)}


def test_least_useful_currents_come_first() -> None:
    """60 A: the charger's 25 first, PV the other 35."""
    charger = claim("charger", 70.0, first=False, least=25.0)
    amounts = shared([charger, claim("sun", 80.0)], [60.0])
    assert amounts == {"charger": pytest.approx(25.0), "sun": pytest.approx(35.0)}


def test_least_useful_currents_that_do_not_fit_are_scaled_alike() -> None:
    """40 + 20 into 30: half of each, whatever is PV."""
    charger = claim("charger", 70.0, first=False, least=40.0)
    amounts = shared([charger, claim("sun", 80.0, least=20.0)], [30.0])
    assert amounts == {"charger": pytest.approx(20.0), "sun": pytest.approx(10.0)}


def test_weights_take_the_place_of_pv_first_and_what_one_cannot_use_goes_on() -> None:
    """90 A by 1 : 2 would be 30 and 60; the second can use 40 only: 50 and 40."""
    charger = claim("charger", 70.0, first=False, weight=0.5)
    sun = claim("sun", 80.0, useful=40.0, weight=1.0)
    assert shared([charger, sun], [90.0]) == {"charger": pytest.approx(50.0), "sun": pytest.approx(40.0)}


def test_what_nobody_can_use_at_present_is_given_all_the_same() -> None:
    """200 A: useful 40 and 50, but a larger setting does no harm: the own limits, 80 and 70."""
    sun = claim("sun", 80.0, useful=40.0)
    charger = claim("charger", 70.0, first=False, useful=50.0)
    assert shared([sun, charger], [200.0]) == {"sun": pytest.approx(80.0), "charger": pytest.approx(70.0)}


def test_a_device_that_cannot_be_set_so_low_gets_its_least_and_the_others_come_down() -> None:
    """20 A by 60, 60 and 10 would be 9.2, 9.2 and 1.5; the third takes 5: 7.5 are left for each other."""
    claims = [claim("a", 60.0), claim("b", 60.0), claim("c", 10.0, low=5.0, step=1.0)]
    amounts = shared(claims, [20.0])
    assert amounts == {"a": pytest.approx(7.5), "b": pytest.approx(7.5), "c": 5.0}


def test_least_settings_that_do_not_fit_stand_all_the_same() -> None:
    """Two of 10 A at least into 12 A: nothing lower can be entered; whoever asked must say so."""
    claims = [claim(ident, 40.0, low=10.0, step=10.0) for ident in ("a", "b")]
    assert shared(claims, [12.0]) == {"a": 10.0, "b": 10.0}


def test_only_those_that_can_run_together_come_down_for_each_other() -> None:
    """a runs with b (40 A) and, another time, with c (100 A): b takes half of 40, c the 80 that are left."""
    a = claim("a", 60.0, caps=(60.0, 60.0))
    b = claim("b", 60.0, caps=(60.0, 0.0))
    c = claim("c", 90.0, caps=(0.0, 90.0))
    amounts = shared([a, b, c], [40.0, 100.0])
    assert amounts == {"a": pytest.approx(20.0), "b": pytest.approx(20.0), "c": pytest.approx(80.0)}


@st.composite
def cases(draw: st.DrawFn) -> tuple[list[Claim], list[float]]:
    sets = draw(st.integers(1, 4))
    rooms = [draw(st.integers(0, 400)) * 1.0 for _ in range(sets)]
    weighted = draw(st.booleans())
    claims = []
    for number in range(draw(st.integers(1, 12))):
        most = draw(st.integers(1, 200)) * 1.0
        useful = draw(st.floats(0.0, most))
        claims.append(
            Claim(
                f"source-{number}",
                most=most,
                useful=useful,
                least=min(useful, draw(st.sampled_from([0.0, 3.0, 30.0]))),
                caps=tuple(most if draw(st.booleans()) else 0.0 for _ in range(sets)),
                first=draw(st.booleans()),
                weight=draw(st.floats(0.01, 1.0)) if weighted else None,
                low=draw(st.sampled_from([0.0, 0.0, 1.0, 5.0, 10.0])),
                step=draw(st.sampled_from([0.1, 0.5, 1.0, 5.0, 10.0])),
            )
        )
    return claims, rooms


@given(cases())
def test_no_room_is_exceeded_save_by_least_settings(case: tuple[list[Claim], list[float]]) -> None:
    claims, rooms = case
    amounts = shared(claims, rooms)
    for index, room in enumerate(rooms):
        running = [one for one in claims if one.caps[index] > 0]
        if used(claims, amounts, index) > room + 1e-6:
            assert all(amounts[one.ident] == pytest.approx(one.low) for one in running)


@given(cases())
def test_every_amount_lies_on_the_steps_within_the_own_limit(case: tuple[list[Claim], list[float]]) -> None:
    claims, rooms = case
    for one in claims:
        amount = shared(claims, rooms)[one.ident]
        assert one.step is not None
        steps = (amount - one.low) / one.step
        assert steps == pytest.approx(round(steps), abs=1e-6)
        assert one.low - 1e-9 <= amount <= max(one.low, one.most) + 1e-9


@given(cases())
def test_nobody_could_take_one_step_more(case: tuple[list[Claim], list[float]]) -> None:
    claims, rooms = case
    amounts = shared(claims, rooms)
    for one in claims:
        assert one.step is not None
        raised = amounts | {one.ident: amounts[one.ident] + one.step}
        fits = all(
            used(claims, raised, index) <= room + 1e-9
            for index, room in enumerate(rooms)
            if one.caps[index] > 0
        )
        assert not fits or raised[one.ident] > one.most + 1e-9
