"""Readings from a file, judged without a screen."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from commission import __version__
from commission.errors import ReadingsError
from commission.records.read import read_record
from commission.records.readings import Judged, judge_readings, read_readings
from commission.records.verify import verify
from commission.records.write import write_record
from tests.visit.walks import NOON, after, known, reading, sheet, small_plant, step, walk

HOLD = step("drop", reading(expect="between 54.2 and 54.6"), parts=("inverter-1", "bank"), hold=True)
STEPS = walk(
    HOLD,
    step("warm", reading(unit="°C", instrument="thermometer", expect="between 20 and 30")),
    step("cells", reading("volts", series="cells"), rows=3),
    step("seen", reading(kind="yes or no"), holds=(HOLD.key,)),
)
HEAD = """format = 1
[visit]
technician = "Runa Feld"
started_at = 2026-11-24T12:00:00+01:00
[[instrument]]
id = "meter-1"
kind = "dc voltmeter"
calibrated = "2026-03-01"
ranges = [{ unit = "V", up_to = 60.0, percent = 0.05, digits = 2, resolution = 0.01 }]
"""


def judged(tmp_path: Path, body: str, *, head: str = HEAD, units: str = "metric") -> Judged:
    """Judge the readings of a file."""
    path = tmp_path / "readings.toml"
    path.write_text(head + body, encoding="utf-8")
    found = read_readings(path)
    return judge_readings(
        small_plant(units), sheet(), STEPS, found, file=path.name, ident="test-site-paper",
        program=__version__, now=after(600),
    )  # fmt: skip


def test_a_service_visit_on_paper_says_that_nothing_was_compared(tmp_path: Path) -> None:
    """From > 550 MΩ to 3 MΩ is a pass on paper: inside its band, and no one looks at the visit before."""
    for kind, told in (("commissioning", False), ("service", True)):
        found = judged(
            tmp_path,
            '[[reading]]\nstep = "warm"\nvalue = 21\n',
            head=HEAD.replace("[visit]", f'[visit]\nkind = "{kind}"'),
        )
        assert any("nothing was compared with earlier visits" in line for line in found.remarks) is told


def test_readings_of_a_file_get_their_verdicts(tmp_path: Path) -> None:
    """As if they had been typed; parts in any order; yes is true."""
    found = judged(
        tmp_path,
        """
        [[reading]]
        step = "seen"
        value = true
        [[reading]]
        step = "drop"
        parts = ["bank", "inverter-1"]
        value = "54.40"
        instrument = "meter-1"
        read_by = "Jon Weir"
        measured_at = 2026-11-24T13:00:00+01:00
        [[reading]]
        step = "cells.volts"
        index = 2
        value = 2.11
        """,
    )
    verdicts = {str(item.key): known(item.judgement).verdict for item in found.visit.readings}
    assert verdicts == {"seen@": "pass", "cells.volts@#2": "recorded", "drop@inverter-1+bank": "pass"}
    drop = found.visit.readings[-1]
    assert (drop.text, drop.read_by, drop.measured_at) == ("54.40", "Jon Weir", after(60))
    assert found.visit.readings[0].measured_at == NOON
    assert found.visit.sign_off is None
    assert found.remarks == ()


def test_a_bare_number_of_a_file_is_in_the_unit_of_its_key_whatever_the_site_shows(tmp_path: Path) -> None:
    """25 is 25 °C at a site in US units too; 77 °F says its unit."""
    for value in ("25", '"25"', '"77 °F"', "25.0"):
        found = judged(tmp_path, f'[[reading]]\nstep = "warm"\nvalue = {value}\n', units="us")
        assert found.visit.readings[0].value == pytest.approx(25.0)


def test_a_step_read_although_a_hold_point_is_open_is_remarked(tmp_path: Path) -> None:
    """Paper cannot be barred, only told."""
    found = judged(tmp_path, '[[reading]]\nstep = "seen"\nvalue = "yes"\n')
    assert known(found.visit.readings[0].judgement).verdict == "pass"
    assert found.remarks == ("'seen' was read, but hold point 'drop' is open until its readings pass",)


def test_judged_readings_make_an_unsigned_record(tmp_path: Path) -> None:
    """Intact, and it says that nobody signed."""
    found = judged(tmp_path, '[[reading]]\nstep = "seen"\nvalue = "yes"\n')
    path = write_record(tmp_path, found.visit, small_plant(), sheet())
    assert verify(path).intact
    record = read_record(path)
    assert (record.visit, record.header.signed) == (found.visit, False)


@pytest.mark.parametrize(
    ("body", "key", "says"),
    [
        pytest.param('step = "dropp"\nvalue = 1', "step", "did you mean drop?", id="nearest step"),
        pytest.param('step = "zzz"\nvalue = 1', "step", "no such reading", id="no step near"),
        pytest.param(
            'step = "drop"\nparts = ["run-9"]\nvalue = 1',
            "parts",
            "known: inverter-1 + bank",
            id="other part",
        ),
        pytest.param(
            'step = "cells.volts"\nindex = 3\nvalue = 1', "index", "between 0 and 2", id="beyond the column"
        ),
        pytest.param('step = "warm"\nvalue = "abc"', "value", "is not a number", id="no number"),
        pytest.param('step = "seen"\nvalue = "perhaps"', "value", "yes or no", id="neither"),
        pytest.param(
            'step = "seen"\nvalue = "yes"\nverdict = "pass"',
            "verdict",
            "given by the program",
            id="a verdict is not taken",
        ),
        pytest.param(
            'step = "seen"\nvalue = "yes"\nmesured_at = 1',
            "mesured_at",
            "did you mean measured_at?",
            id="misspelt key",
        ),
        pytest.param('step = "seen"', "value", "is missing", id="no value"),
        pytest.param(
            'step = "seen"\nvalue = "yes"\nmeasured_at = 2026-11-24T12:00:00',
            "measured_at",
            "timezone",
            id="no offset",
        ),
        pytest.param(
            'step = "seen"\nvalue = "yes"\ninstrument = "meter-2"',
            "instrument",
            "did you mean meter-1?",
            id="meter not in the file",
        ),
    ],
)
def test_what_is_wrong_is_told_by_key_with_what_would_be_right(
    body: Any, key: Any, says: Any, tmp_path: Path
) -> None:
    """Nothing is judged then."""
    with pytest.raises(ReadingsError) as caught:
        judged(tmp_path, f"[[reading]]\n{body}\n")
    found = {
        problem.key.removeprefix("reading[number 1]."): str(problem) for problem in caught.value.problems
    }
    assert key in found
    assert says in found[key]
    assert found[key].startswith("readings.toml: ")


def test_the_same_reading_of_the_same_time_twice_is_refused(tmp_path: Path) -> None:
    """Which of the two would hold is not the program's to guess."""
    with pytest.raises(ReadingsError, match=r"reading\[number 2\] = seen@.*given twice"):
        judged(tmp_path, '[[reading]]\nstep = "seen"\nvalue = "yes"\n' * 2)


def test_every_problem_is_told_at_once(tmp_path: Path) -> None:
    """In the order of the file."""
    body = "".join(f'[[reading]]\nstep = "{name}"\nvalue = "x"\n' for name in ("dropp", "warm", "seen"))
    with pytest.raises(ReadingsError) as caught:
        judged(tmp_path, body)
    assert [problem.key for problem in caught.value.problems] == [
        "reading[number 1].step",
        "reading[number 2].value",
        "reading[number 3].value",
    ]


@pytest.mark.parametrize(
    ("content", "says"),
    [
        ("format = 1\n", "at least one"),
        ("format = 3\n", "up to 1"),
        ("[[reading]]\nstep = 'seen'\nvalue = 'yes'\n", "format: is missing"),
        ("a = ", "not TOML"),
    ],
)
def test_a_file_that_is_no_file_of_readings_is_refused(content: Any, says: Any, tmp_path: Path) -> None:
    """With what would be right."""
    with pytest.raises(ReadingsError, match=says):
        judged(tmp_path, "", head=content)


@pytest.mark.parametrize("value", ["\\u2028", "\\u001b[2J", "warm\\u202e", "\\n"])
def test_what_a_refusal_repeats_is_one_line_and_no_command(tmp_path: Path, value: str) -> None:
    """Whatever stood in the file."""
    with pytest.raises(ReadingsError) as caught:
        judged(tmp_path, f'[[reading]]\nstep = "warm"\nvalue = "{value}"\n')
    assert len(str(caught.value).splitlines()) == len(caught.value.problems)
    assert not any(sign in str(caught.value) for sign in "\u2028\x1b\u202e")
