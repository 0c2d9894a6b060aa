"""Numbers in texts of the design check: told apart where they would look the same."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.design.words import shown
from commission.figure import Figure
from commission.figure import given as given_figure
from tests.design.direct_plants import IEC, direct_plant, scene


def volts(value: float, unit: str = "V") -> Figure:
    return given_figure(value, unit, "a voltage", source="this test")


@pytest.mark.parametrize(
    ("one", "other", "texts"),
    [
        (140.03, 140.0, ("140.03 V", "140.00 V")),
        (134.9, 140.0, ("134.9 V", "140 V")),
        (47.856, 47.857, ("47.856 V", "47.857 V")),
        (140.0, 140.0, ("140 V", "140 V")),
    ],
)
def test_two_numbers_that_look_the_same_are_shown_with_more_digits(
    one: float, other: float, texts: tuple[str, str]
) -> None:
    site = scene(direct_plant(place=IEC))
    first, second = volts(one), volts(other)
    assert (shown(site, first, beside=second), shown(site, second, beside=first)) == texts


@given(one=st.floats(1.0, 1000.0), off=st.floats(1e-4, 1.0))
def test_numbers_that_differ_never_look_the_same(one: float, off: float) -> None:
    site = scene(direct_plant(place=IEC))
    first, second = volts(one), volts(one + off)
    assert shown(site, first, beside=second) != shown(site, second, beside=first)


def test_a_number_of_another_unit_is_left_as_it_is() -> None:
    site = scene(direct_plant(place=IEC))
    assert shown(site, volts(140.03), beside=volts(140.0, "A")) == "140 V"
