"""Whole visits of the sample plants: from the first step to a signed record that verifies and loads."""

from __future__ import annotations

from pathlib import Path

import pytest

from commission.plant.files import load_plant
from commission.plant.places import sample_sites
from commission.records.read import read_record
from commission.records.verify import verify
from commission.records.write import write_record
from tests.technician import SUPERVISOR, Clock, begin, settle, sign, walk

UNSOUND = {"crookhollow-yard", "lowmarsh-pumps"}
"""The plant with faults on purpose and the one with many unknowns: neither can go into service."""
SOUND = [path for path in sample_sites() if path.stem not in UNSOUND]


@pytest.mark.slow
@pytest.mark.parametrize("path", SOUND, ids=lambda path: path.stem)
def test_a_sound_plant_is_walked_signed_and_read_back(path: Path, tmp_path: Path) -> None:
    clock = Clock()
    with begin(tmp_path / "visits", load_plant(path).plant, clock) as visit:
        walk(visit, clock)
        read = len(visit.visit.readings)
        done = sum(visit.standing.status(step) == "done" for step in visit.checklist.steps)
        assert done >= 0.5 * len(visit.checklist.steps)
        settle(visit, clock)
        sign(visit, clock)
        record = write_record(tmp_path / "records", visit.visit, visit.plant, visit.sheet)
        result = verify(record)
        assert result.intact, result.reasons
        back = read_record(record)
        assert back.visit == visit.visit
        assert back.plant == visit.plant
        assert len(back.visit.readings) == read


def test_a_plant_that_stops_work_cannot_go_into_service(tmp_path: Path) -> None:
    clock = Clock()
    path = next(path for path in sample_sites() if path.stem == "crookhollow-yard")
    with begin(tmp_path, load_plant(path).plant, clock) as visit:
        walk(visit, clock)
        stopped = [reading.key.step for reading in visit.standing.stops()]
        assert any("array-string-voltage" in step for step in stopped)
        missing = [item.says for item in visit.missing("in service with deferred steps")]
        assert any("work is stopped" in says for says in missing)
        for reading in visit.standing.stops():
            visit.dispose(
                str(reading.key), "isolated and locked", reason="string too long", by=SUPERVISOR, now=clock()
            )
        left = [item.says for item in visit.missing("made safe, not in service")]
        assert not any("work is stopped" in says for says in left)
