"""Readings, steps and settings by the words of the checklist; their keys stay what they are known by."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from commission.desk.index import Index
from commission.desk.names import concern_line, concern_text, held_words, step_words, words_of
from commission.desk.setting_values import values_shown
from commission.plant.files import load_plant
from commission.plant.places import site_path
from commission.prepare import prepare
from tests.desk.made import BEGUN, reading, record, write


@pytest.mark.parametrize(
    ("key", "words"),
    [
        ("air-temperature@", "Air temperature"),
        ("link-resistance@string-a#10", "Each link of string-a, link 11"),
        ("dc-load-voltage@load-radio", "Voltage at load-radio"),
        ("guard-as-drawn.rating@fuse-main", "fuse-main as drawn, rated current"),
        ("load-half.power@bank", "Half load, power of the load"),
        ("cell-density.level@string-a", "Density of each cell of string-a, level"),
        ("settings-read-back@controller-1", "Settings of controller-1 read back"),
        ("of-another-version@bank#3", "of-another-version@bank#3"),
        ("drop-inverter:run-main", "drop-inverter:run-main"),
        ("", ""),
    ],
)
def test_a_key_is_told_in_words(key: str, words: str) -> None:
    assert words_of(key) == words


def test_every_reading_of_a_walk_has_words_and_no_two_the_same() -> None:
    """Of a sample site: the walk's own title begins them, but for the labels of parts."""
    plant = load_plant(site_path(Path("tarnwold-cabin"))).plant
    asks = prepare(plant)[1].asks
    words = [words_of(str(key)) for key in asks]
    assert not [told for told in words if "@" in told or "{" in told]
    assert len(set(words)) == len(words)


def test_what_is_looked_at_first_is_told_in_words_with_its_key_behind(tmp_path: Path) -> None:
    at = BEGUN + timedelta(minutes=3)
    failed = reading("dc-load-voltage", 44.0, verdict="fail", parts=["load-radio"], at=at)
    put_off = {
        "subject": "settings-read-back@inverter-1",
        "disposition": "deferred",
        "reason": "rain",
    }
    write(tmp_path, record("tor", readings=[failed], left=58.2, dispositions=[put_off]))
    with Index(tmp_path / "index.sqlite", [tmp_path]) as index:
        index.update()
        rows: list[dict[str, Any]] = index.ask("concerns of site", site="tor")
        failed_line, off_line, setting_line = [concern_line(row) for row in rows]
        assert failed_line.startswith(
            "reading failed    Voltage at load-radio: 44.0 V is fail, band 54.2 to 54.6"
        )
        assert failed_line.endswith("nothing was done about it  (dc-load-voltage@load-radio)")
        told = "Settings of inverter-1 read back: put off: rain  (settings-read-back@inverter-1)"
        assert off_line == f"put off           {told}"
        told = "inverter-1 absorption voltage: left at 58.2 V, recommended 57.6 V: owner's wish"
        assert setting_line == f"setting differs   {told}"
        assert [row["subject"] for row in rows] == [
            "dc-load-voltage@load-radio", "settings-read-back@inverter-1", "inverter-1.absorption_voltage",
        ]  # fmt: skip


MOVED: list[tuple[str, str, tuple[Any, str], tuple[Any, str], str]] = [
    ("absorption_voltage", "V", (57.6, "57,6"), (57.0, "57.0 V"), "57.6 V|57 V"),
    ("absorption_voltage", "V", (57.6, "57.60"), (57.0, ""), "57.6 V|57 V"),
    ("absorption_voltage", "V", (57.6, "57600 mV"), ("off", "off"), "57.6 V|off"),
    ("absorption_voltage", "V", ("off", "OFF"), (57.6, "57.6"), "OFF|57.6 V"),
    ("absorption_time", "s", (25200.0, "7 h"), (5400.0, "90"), "7 h|1 h 30 min"),
    ("generator_no_start_from", "s", (79200.0, "22:00"), (82800.0, "23"), "22:00|23:00"),
    ("ac_output_share", "1", (0.8, "80 %"), (0.75, "0,75"), "0.8|0.75"),
    ("absorption_voltage", "V", (57.6000001, "57.6000001"), (57.6, "57.6"), "57.6000001 V|57.6 V"),
    ("absorption_voltage", "V", (None, ""), (57.6, "57.6"), "|57.6 V"),
]


@pytest.mark.parametrize(("setting", "unit", "before", "found", "shown"), MOVED)
def test_a_value_of_a_setting_is_told_alike_however_it_was_typed(
    setting: str, unit: str, before: tuple[Any, str], found: tuple[Any, str], shown: str
) -> None:
    row = {"setting": setting, "unit": unit, "before": before[0], "before_text": before[1],
           "found": found[0], "found_text": found[1]}  # fmt: skip
    assert "|".join(values_shown(row, "before", "found")) == shown


def test_a_setting_that_moved_is_told_and_recalled_alike_however_it_was_typed(tmp_path: Path) -> None:
    """Two sites with one value that was typed in two ways have the same; what moved has units twice."""
    for site, text in (("tor", "58,2"), ("fell", "58.20 V")):
        made = record(site, left=58.2)
        made["setting"][0] |= {"left_text": text, "drifted": True, "before": 57.6, "before_text": "57,60",
                               "found": 58.2, "found_text": text}  # fmt: skip
        write(tmp_path, made)
    with Index(tmp_path / "index.sqlite", [tmp_path]) as index:
        index.update()
        told = {concern_text(row) for row in index.ask("concerns", kind="setting moved")}
        assert told == {"inverter-1 absorption voltage: left at 57.6 V the visit before, found at 58.2 V"}
        (held,) = index.ask("held", kind="setting")
        assert (held["sites"], held_words(held)) == (2, "absorption voltage 58.2 V")
        rows = index.ask("recall", kind="setting", name="absorption_voltage", value="58.2")
        assert {row["site"] for row in rows} == {"tor", "fell"}


def test_a_step_of_a_comment_is_told_in_words() -> None:
    assert step_words("load-half", ("bank",)) == "Half load"
    assert step_words("volts", ("string-a",)) == "volts string-a"
    assert step_words("", ()) == ""
