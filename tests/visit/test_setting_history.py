"""What a setting was at an earlier moment of the visit stays known."""

from __future__ import annotations

from pathlib import Path

import pytest

from commission.errors import VisitError
from commission.records.read import read_record
from commission.records.write import write_record
from commission.visit.state import setting_at
from tests.visit.walks import after, begun, resumed, setting, sheet, step, walk

SHEET = sheet(setting())
WALK = walk(step("a"))


def test_what_was_left_before_a_change_is_kept(tmp_path: Path) -> None:
    visit = begun(tmp_path, WALK, SHEET)
    visit.set_found("inverter-1", "absorption_voltage", "56.0", after(1))
    visit.set_left("inverter-1", "absorption_voltage", "57.6", after(2))
    visit.give_reason("inverter-1", "absorption_voltage", "maker's letter", after(3))
    visit.set_left("inverter-1", "absorption_voltage", "57.2", after(4), reason="again")
    visit.close()
    again = resumed(tmp_path, visit.visit.id, WALK, SHEET)
    again.close()
    assert [(old.left, old.at) for old in again.visit.settings_before] == [(57.6, after(2))]
    left = {
        minute: None if entry is None else entry.left
        for minute in (0, 2.5, 4)
        for entry in [setting_at(again.visit, "inverter-1", "absorption_voltage", None, after(minute))]
    }
    assert left == {0: None, 2.5: 57.6, 4: 57.2}


def test_looking_once_more_does_not_make_what_was_left_a_later_one(tmp_path: Path) -> None:
    """Else readings taken in between would be worked out anew with the recommendation."""
    with begun(tmp_path, WALK, SHEET) as visit:
        visit.set_left("inverter-1", "absorption_voltage", "57.2", after(2), reason="owner's wish")
        visit.set_found("inverter-1", "absorption_voltage", "56.0", after(3))
        visit.set_left("inverter-1", "absorption_voltage", "57.2", after(4))
        entry = setting_at(visit.visit, "inverter-1", "absorption_voltage", None, after(2.5))
        assert entry is not None
        assert (entry.left, entry.found, entry.reason) == (57.2, 56.0, "owner's wish")


def test_what_was_found_is_put_right_only_with_a_word_and_stays_known(tmp_path: Path) -> None:
    """As found is evidence: what was told first, when and why it was put right stand in the record too."""
    name = ("inverter-1", "absorption_voltage")
    with begun(tmp_path, WALK, SHEET) as visit:
        visit.set_found(*name, "56.2", after(1))
        visit.set_left(*name, "57.6", after(2))
        visit.set_found(*name, "56,2", after(3))
        with pytest.raises(VisitError, match=r"told as found at 56,2; what was wrong"):
            visit.set_found(*name, "56.7", after(4), why=" ")
        visit.set_found(*name, "56.7", after(5), why="read in poor light")
    again = resumed(tmp_path, visit.visit.id, WALK, SHEET)
    again.close()
    (entry,) = again.visit.settings
    assert (entry.found, entry.left, entry.at) == (56.7, 57.6, after(2))
    path = write_record(tmp_path, again.visit, again.plant, again.sheet)
    (row,) = read_record(path).settings
    for told in (entry, row):
        (old,) = told.found_before
        assert (old.found, old.why, old.at) == (56.2, "read in poor light", after(5))
