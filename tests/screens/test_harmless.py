"""Nothing that is painted is a command to the terminal, whoever wrote it."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from rich.segment import Segment
from textual.color import Color

from commission.screens.app import CommissionApp
from commission.screens.harmless import Harmless
from commission.visit.framing import NAME, framed
from tests.visit.walks import NOON

COMMANDS = re.compile("[\x00-\x09\x0b-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069]")
SIGNS = "\x1b[31m\x9b5m\x07\u202e\x7f"


def painted(app: CommissionApp) -> str:
    """Return the text of the whole screen, as it goes to the terminal."""
    width, height = app.size
    strips = app.screen._compositor.render_strips()
    assert len(strips) <= height
    assert all(strip.cell_length <= width for strip in strips)
    return "\n".join("".join(segment.text for segment in strip if not segment.control) for strip in strips)


@pytest.mark.screen
async def test_a_forged_journal_and_the_name_of_a_file_are_no_commands(tmp_path: Path) -> None:
    """The list of visits shows the site of a journal before anything has looked at it."""
    folder = tmp_path / "visits" / "v-1"
    folder.mkdir(parents=True)
    told = {"at": NOON.isoformat(), "event": "opened", "site": f"fell{SIGNS}side", "kind": f"ser{SIGNS}vice"}
    (folder / NAME).write_bytes(framed(json.dumps(told)))
    app = CommissionApp(root=tmp_path / "visits", site=Path(f"o{SIGNS}f.toml"), clock=lambda: NOON)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await pilot.press("enter")  # begins with a site that is not there, which is told
        await pilot.pause()
        text = painted(app)
    assert "fell" in text
    assert "side" in text
    assert not COMMANDS.search(text.replace("\n", ""))


def test_a_line_without_commands_is_left_as_it_is() -> None:
    """Signs of every script and joined ones stay."""
    line = [Segment("a Ω é 😂 خانه\u200cها")]
    assert Harmless().apply(line, Color(0, 0, 0))[0].text == line[0].text
    plain = [Segment("plain")]
    assert Harmless().apply(plain, Color(0, 0, 0)) is plain
