"""Accuracy statements as they are typed and shown."""

from __future__ import annotations

from typing import Any

import pytest

from commission.errors import EntryError
from commission.visit.accuracy import accuracy_text, read_accuracy
from commission.visit.kit import default_kit
from commission.visit.types import Accuracy

VOLTS = (
    Accuracy(unit="V", up_to=6.0, percent=0.5, digits=2, resolution=0.001),
    Accuracy(unit="V", up_to=60.0, percent=0.5, digits=2, resolution=0.01),
)


@pytest.mark.parametrize(
    ("typed", "percent", "digits"),
    [
        ("0.05 % + 3 digits", 0.05, 3.0),
        ("0,05% + 3", 0.05, 3.0),
        ("±0.1%+1 digit", 0.1, 1.0),
        ("1 %", 1.0, 0.0),
    ],
)
def test_one_statement_holds_for_every_range(typed: Any, percent: Any, digits: Any) -> None:
    read = read_accuracy(typed, VOLTS)
    assert [(item.up_to, item.resolution) for item in read] == [(6.0, 0.001), (60.0, 0.01)]
    assert {(item.percent, item.digits) for item in read} == {(percent, digits)}


def test_statements_with_their_ends_are_the_ranges_from_then_on() -> None:
    read = read_accuracy("0.1 % + 2 to 600mV by 0.0001; 0.3 % + 1 digit to 60 V by 0,01", VOLTS)
    assert read == (
        Accuracy(unit="V", up_to=0.6, percent=0.1, digits=2, resolution=0.0001),
        Accuracy(unit="V", up_to=60.0, percent=0.3, digits=1, resolution=0.01),
    )


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("", "nothing typed"),
        ("good", "'good' is no accuracy"),
        ("2 digits", "is no accuracy"),
        ("0.1 % + 2; 0.3 % to 60 V by 0.01", "to which end of range"),
        ("0.1 % to 60 A by 0.01", "reads in V"),
        ("0.1 % to 60 V by 0", "more than nothing"),
        ("1.2.3 %", "1.2.3"),
    ],
)
def test_nonsense_is_explained(typed: Any, says: Any) -> None:
    with pytest.raises(EntryError, match="(?s)" + says.replace(".", r"\.")):
        read_accuracy(typed, VOLTS)


@pytest.mark.parametrize("instrument", default_kit(), ids=lambda instrument: instrument.id)
def test_what_is_shown_can_be_typed_again(instrument: Any) -> None:
    assert read_accuracy(accuracy_text(instrument.ranges), instrument.ranges) == instrument.ranges


def test_an_instrument_without_ranges_cannot_be_given_an_accuracy() -> None:
    assert accuracy_text(()) == ""
    with pytest.raises(EntryError, match="unit"):
        read_accuracy("0.5 %", ())


@pytest.mark.parametrize(("digits", "says"), [(1.0, "0.02 % + 1 digit"), (5.0, "0.02 % + 5 digits")])
def test_one_digit_is_told_as_one(digits: float, says: str) -> None:
    assert accuracy_text((VOLTS[0].model_copy(update={"percent": 0.02, "digits": digits}),)).startswith(says)
    assert ("digits" in says) == (digits != 1.0)
