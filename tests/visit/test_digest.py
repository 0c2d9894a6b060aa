"""Canonical JSON and the words that two people compare over a telephone."""

from __future__ import annotations

import hashlib
import json
import math
import struct
from typing import Any

import pytest

from commission.visit.digest import WORDS, canonical_json, confirmation_words, plant_digest
from tests.visit.walks import small_plant


@pytest.mark.parametrize(
    ("given", "expected"),
    [
        pytest.param(
            '[ 56, { "d": true, "10": null, "1": [ ] } ]',
            '[56,{"1":[],"10":null,"d":true}]',
            id="RFC 8785 test data, arrays",
        ),
        pytest.param(
            "[333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001]",
            "[333333333.3333333,1e+30,4.5,0.002,1e-27]",
            id="RFC 8785 test data, numbers",
        ),
        pytest.param(
            '{"literals":[null,true,false],"string":"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}',
            '{"literals":[null,true,false],"string":"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}',
            id="RFC 8785 test data, values",
        ),
        pytest.param('{"\ufb33":1,"😂":2}', '{"😂":2,"\ufb33":1}', id="RFC 8785 3.2.3, UTF-16 units"),
    ],
)
def test_json_is_written_in_its_canonical_form(given: Any, expected: Any) -> None:
    """Keys by UTF-16 units, no white space, numbers as ECMAScript writes them."""
    assert canonical_json(json.loads(given)).decode() == expected


@pytest.mark.parametrize(
    ("bits", "text"),
    [
        ("4340000000000001", "9007199254740994"),
        ("444b1ae4d6e2ef50", "1e+21"),
        ("3eb0c6f7a0b5ed8d", "0.000001"),
        ("3eb0c6f7a0b5ed8c", "9.999999999999997e-7"),
        ("8000000000000000", "0"),
        ("becbf647612f3696", "-0.0000033333333333333333"),
        ("43143ff3c1cb0959", "1424953923781206.2"),
    ],
)
def test_numbers_of_the_standard(bits: Any, text: Any) -> None:
    """RFC 8785, appendix B and its authors' test data."""
    assert canonical_json(struct.unpack(">d", bytes.fromhex(bits))[0]).decode() == text


def test_every_number_reads_back_as_itself() -> None:
    """Shortest digits that still are the same double: the least ones in a row, then many drawn by a hash."""
    least = 0x0010000000000000
    numbers = [struct.unpack(">d", (least + row).to_bytes(8, "big"))[0] for row in range(500)]
    chain = bytes(32)
    for _ in range(500):
        chain = hashlib.sha256(chain).digest()
        numbers += [value for value in struct.unpack("<4d", chain) if math.isfinite(value)]
    assert len(numbers) > 2400
    assert all(float(canonical_json(number)) == number for number in numbers)


@pytest.mark.parametrize("value", [math.inf, math.nan, b"bytes", {"a": object()}])
def test_what_json_has_not_is_refused(value: Any) -> None:
    """A digest over a guess is worth nothing."""
    with pytest.raises(ValueError, match=r"JSON"):
        canonical_json(value)


def test_the_digest_of_a_plant_changes_with_the_plant_alone() -> None:
    """The same plant read anew has the same digest; another unit system is another plant."""
    one, again, other = small_plant(), small_plant.__wrapped__(), small_plant("us")
    assert plant_digest(one) == plant_digest(again)
    assert plant_digest(one) != plant_digest(other)


def test_confirmation_words_are_those_of_plant_and_finding() -> None:
    """Other words for another finding or another plant; all words differ from each other."""
    words = confirmation_words(small_plant(), "no-protection:bank")
    assert len(words.split()) == 5
    assert set(words.split()) <= set(WORDS)
    assert len(set(WORDS)) == 64
    assert words != confirmation_words(small_plant(), "no-protection:inverter-1")
    assert words != confirmation_words(small_plant("us"), "no-protection:bank")
