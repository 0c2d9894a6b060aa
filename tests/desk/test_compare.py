"""Two records side by side: only what changed."""

from __future__ import annotations

from pathlib import Path

import pytest

from commission.desk.compare import Change, compare_files, compared
from commission.errors import RecordError
from tests.desk.made import SAMPLES, reading, record, write


def test_a_record_compared_with_itself_has_no_changes() -> None:
    for path in sorted(SAMPLES.glob("format-*.toml")):
        found = compare_files(path, path)
        assert found.changes == ()
        assert found.same["reading"] > 0


def test_only_what_changed_is_told() -> None:
    before = record(readings=[reading(), reading("spread", 54.3)])
    after = record(visit=1, left=58.0, technician="Tove Lind", readings=[reading(value=53.0, verdict="fail")])
    after["plant"]["site"]["bank"]["capacity"] = 250.0
    after["visit"]["devices"][0] |= {"firmware": "2.2"}
    after["finding"] = [{"id": "f", "kind": "correct", "text": "drop of 4 %"}]
    found = compared(before, after)
    assert found.before == "fell-hut commissioning 2025-03-01 09:00+00:00"
    assert found.of("plant") == (Change("plant", "bank.capacity", "200.0", "250.0"),)
    assert found.of("device") == (
        Change("device", "inverter-1", "serial SN-1, firmware 2.1", "serial SN-1, firmware 2.2"),
    )
    assert found.of("setting") == (Change("setting", "inverter-1.absorption_voltage", "57.6", "58.0"),)
    assert found.of("reading") == (
        Change("reading", "volts@string-a", "54.4 V", "53.0 V", "pass → fail"),
        Change("reading", "spread@string-a", "54.3 V", "", "pass → none"),
    )
    assert found.of("finding") == (Change("finding", "f", "", "correct: drop of 4 %"),)
    assert [(one.what, one.before, one.after) for one in found.of("person")] == [
        ("Tove Lind", "", "technician"),
        ("Runa Feld", "technician", ""),
    ]
    assert found.of("instrument") == ()


def test_parts_are_told_apart_by_their_ids_not_their_places() -> None:
    before, after = record(), record()
    runs = [{"id": "run-a", "area": 70.0}, {"id": "run-b", "area": 35.0}]
    before["plant"]["site"]["runs"] = runs
    after["plant"]["site"]["runs"] = [runs[1], {"id": "run-a", "area": 95.0}]
    assert compared(before, after).changes == (Change("plant", "runs[run-a].area", "70.0", "95.0"),)


def test_what_is_no_record_is_refused(tmp_path: Path) -> None:
    good = write(tmp_path, record())
    bad = tmp_path / "bad.toml"
    for content, why in ((b"a = ", "not TOML"), (b"format = 1", "is missing")):
        bad.write_bytes(content)
        with pytest.raises(RecordError, match=why):
            compare_files(good, bad)
    with pytest.raises(RecordError, match="cannot be read"):
        compare_files(tmp_path / "gone.toml", good)
