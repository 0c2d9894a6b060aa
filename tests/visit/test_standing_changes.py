"""A temporary change ends with its own read-back, not with the verdict of the test that it was made for."""

from __future__ import annotations

from pathlib import Path

from tests.visit.walks import NOON, begun, reading, sheet, step, walk

GUARD = step(
    "guard",
    reading(kind="yes or no", name="stops"),
    reading(kind="yes or no", name="back"),
    title="Guard stops",
    alters="limit lowered",
)


def test_a_guard_that_fails_and_is_read_back_leaves_no_change_open(tmp_path: Path) -> None:
    with begun(tmp_path, walk(GUARD), sheet()) as visit:
        assert visit.standing.open_changes() == ()
        visit.take(GUARD.asks[0], "no", measured_at=NOON, now=NOON)
        assert [found.data.id for found in visit.standing.open_changes()] == ["guard"]
        visit.take(GUARD.asks[1], "yes", measured_at=NOON, now=NOON)
        assert visit.standing.open_changes() == ()
        assert visit.standing.status(GUARD) == "failed"


def test_a_change_that_is_not_back_stays_open(tmp_path: Path) -> None:
    with begun(tmp_path, walk(GUARD), sheet()) as visit:
        visit.take(GUARD.asks[0], "yes", measured_at=NOON, now=NOON)
        visit.take(GUARD.asks[1], "no", measured_at=NOON, now=NOON)
        assert [found.data.id for found in visit.standing.open_changes()] == ["guard"]
