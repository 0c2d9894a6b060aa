"""A visit is signed 'made safe' only when the plant is known to be safe."""

from __future__ import annotations

from pathlib import Path

from tests.visit.walks import NOON, begun, reading, sheet, step, walk

DEAD = step("dead", reading(kind="yes or no"), title="Dead on the dc side", stage=2)
LOOK = step("look", reading(kind="yes or no"), title="Look around", stage=3)


def test_made_safe_asks_for_the_isolation(tmp_path: Path) -> None:
    with begun(tmp_path, walk(DEAD, LOOK), sheet()) as visit:
        missing = [item.says for item in visit.missing("made safe, not in service")]
        assert any("'Dead on the dc side' is not done" in says for says in missing)
        visit.take(DEAD.asks[0], "yes", measured_at=NOON, now=NOON)
        missing = [item.says for item in visit.missing("made safe, not in service")]
        assert not any("Dead on the dc side" in says or "Look around" in says for says in missing)


def test_made_safe_leaves_no_failed_reading_without_a_word(tmp_path: Path) -> None:
    with begun(tmp_path, walk(DEAD), sheet()) as visit:
        visit.take(DEAD.asks[0], "no", measured_at=NOON, now=NOON)
        missing = [item.says for item in visit.missing("made safe, not in service")]
        assert any("what is done about it?" in says for says in missing)
