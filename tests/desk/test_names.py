"""Readings, steps and settings by the words of the checklist; their keys stay what they are known by."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from commission.desk.index import Index
from commission.desk.names import concern_line, step_words, words_of
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
        told = "inverter-1 absorption voltage: left at 58.2, recommended 57.6 V: owner's wish"
        assert setting_line == f"setting differs   {told}"
        assert [row["subject"] for row in rows] == [
            "dc-load-voltage@load-radio", "settings-read-back@inverter-1", "inverter-1.absorption_voltage",
        ]  # fmt: skip


def test_a_step_of_a_comment_is_told_in_words() -> None:
    assert step_words("load-half", ("bank",)) == "Half load"
    assert step_words("volts", ("string-a",)) == "volts string-a"
    assert step_words("", ()) == ""
