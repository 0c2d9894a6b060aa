"""Where a record says otherwise than the program, a technician reads words and units."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from commission.records.differing import difference_line, difference_lines
from commission.visit.recompute import Difference, differences_of
from tests.each import each

READING = "reading volts@string-a#1"
AT = datetime(2026, 5, 1, 12, 0, tzinfo=UTC)
REST = {"step": "rest-time", "parts": ("bank",), "index": 0, "value": 9.0, "unit": "h", "measured_at": AT}
WARM = REST | {"step": "battery-temperature", "value": 21.0, "unit": "°C"}
DRIFT = {
    "since": "baseline", "visit": "a", "measured_at": AT, "before": 10.0, "now": 5.0, "change": -50.0,
    "unit": "%", "compared_unit": "MΩ", "low": -50.0, "verdict": "act", "says": "less than half",
}  # fmt: skip
NAMES = {
    "volts@string-a#1": "Volts of string-a, block 2",
    "battery-temperature@bank": "Warmth of the bank",
    "rest-time@bank": "How long the bank has rested",
}
SETTING, FINDING = "setting controller-1 float_voltage", "finding no-fuse:run-main"


def line(place: str, told: dict[str, Any], found: dict[str, Any]) -> str:
    (one,) = differences_of(place, told, found)
    return difference_line(one, lambda key: NAMES.get(key, key))


WORDS = [
    (READING, {"verdict": "pass"}, {"verdict": "conditional fail"},
     "Volts of string-a, block 2: verdict: pass in the record, conditional fail anew"),
    (READING, {"low": 54.2, "unit": "V"}, {"low": 54.0, "unit": "V"},
     "Volts of string-a, block 2: lower limit 54.2 V in the record, 54 V anew"),
    (READING, {"unit": "V"}, {"high": 1.73205080757, "unit": "V"},
     "Volts of string-a, block 2: upper limit none in the record, 1.732 V anew"),
    (READING, {"margin": 55.00012345678, "unit": "V"}, {"margin": 55.00017345678, "unit": "V"},
     "Volts of string-a, block 2: distance to the limit 55.0001 V in the record, 55.0002 V anew"),
    (READING, {"uncertainty": 0.00004, "unit": "1"}, {"uncertainty": 0.00005, "unit": "1"},
     "Volts of string-a, block 2: uncertainty (k = 2) 0.00004 in the record, 0.00005 anew"),
    (READING, {"used": (REST,)}, {"used": (REST, WARM)},
     "Volts of string-a, block 2: judged with: nothing else in the record, Warmth of the bank anew"),
    (READING, {"used": (REST, WARM)}, {"used": (REST, WARM | {"value": 22.5})},
     "Volts of string-a, block 2: judged with, Warmth of the bank, value 21 °C in the record, 22.5 °C anew"),
    (READING, {"waits": ()}, {"waits": ({"step": "rest-time", "parts": ("bank",), "index": 0},)},
     "Volts of string-a, block 2: waits for: none in the record, How long the bank has rested anew"),
    (READING, {"drifts": (DRIFT,)}, {"drifts": (DRIFT | {"low": -80.0, "says": "less than a fifth"},)},
     "Volts of string-a, block 2: change since the baseline, least allowed −50 % in the record, −80 % anew"),
    (READING, {"drifts": (DRIFT,)}, {"drifts": (DRIFT | {"before": 8.0},)},
     "Volts of string-a, block 2: change since the baseline, value then 10 MΩ in the record, 8 MΩ anew"),
    (READING, {"drifts": ()}, {"drifts": (DRIFT,)},
     "Volts of string-a, block 2: change since the baseline: none in the record, act anew"),
    (SETTING, {"differs": True}, {"differs": False},
     "controller-1 float voltage: left otherwise than recommended: yes in the record, no anew"),
    (SETTING, {"high": 2594592.0, "unit": "s"}, {"high": 2592000.0, "unit": "s"},
     "controller-1 float voltage: highest that it may be 2594592 s in the record, 2592000 s anew"),
    (SETTING, {"recommended": "off", "unit": "V"}, {"recommended": 27.3, "unit": "V"},
     "controller-1 float voltage: recommended off in the record, 27.3 V anew"),
    (SETTING, {"at": AT}, {"at": AT + timedelta(seconds=4)},
     "controller-1 float voltage: time: 2026-05-01 12:00:00 in the record, 2026-05-01 12:00:04 anew"),
    (SETTING, {"why": ("a = b", "27.3 V  float")}, {"why": ("a = b", "27.0 V  float")},
     "controller-1 float voltage: derivation, line 2: 27.3 V  float in the record, 27.0 V  float anew"),
    (FINDING, {"parts": ("run-mbin",)}, {"parts": ("run-main",)},
     "finding 'no fuse' run-main: parts: run-mbin in the record, run-main anew"),
    (FINDING, {}, {"disposition": {"disposition": "accepted", "by": "Elin Corse"}},
     "finding 'no fuse' run-main: what was done about it: none in the record, accepted anew"),
    (FINDING, {"disposition": {"disposition": "accepted", "by": "A"}},
     {"disposition": {"disposition": "accepted", "by": "B"}},
     "finding 'no fuse' run-main: what was done about it, by: A in the record, B anew"),
]  # fmt: skip


@each(("place", "told", "found", "wanted"), WORDS, map(str, range(len(WORDS))))
def test_each_kind_of_difference_is_told_in_words_with_its_unit(place, told, found, wanted):
    assert line(place, told, found) == wanted


def test_a_long_text_is_told_about_where_it_differs():
    before = "the inverters at their ratings can draw more than the bank can give near the end: "
    told, found = f"{before}150.15 A at most", f"{before}150 A at most"
    assert line(FINDING, {"text": told}, {"text": found}) == (
        "finding 'no fuse' run-main: text: '…near the end: 150.15 A at most' in the record, "
        "'…near the end: 150 A at most' anew"
    )


def test_what_no_other_version_explains_is_told_first():
    first, second = Difference("a", "b", "1", "2"), Difference("c", "d", "1", "2", excusable=False)
    assert [one[0] for one in difference_lines((first, second))] == ["c", "a"]


@pytest.mark.parametrize("one", [1e-6, 123456789.5, -0.00012, 54.4])
def test_two_numbers_that_differ_never_look_alike(one):
    text = line(READING, {"low": one, "unit": "V"}, {"low": one * (1 + 1e-8), "unit": "V"})
    told, _, found = text.partition(" in the record, ")
    assert told.rpartition("limit ")[2] != found.removesuffix(" anew")
