"""Journeys with photographs and logs, attached in the walk."""

from __future__ import annotations

from pathlib import Path

import pytest

from commission.errors import EntryError
from commission.screens.attach import path_typed
from tests.screens.pages import TERMINALS, hands_on
from tests.visit.walks import begun, reading, resumed, sheet, step, walk

LOOK = step("look", reading(kind="yes or no"), title="Look around")
WALK = walk(LOOK, step("guard", reading(kind="yes or no")))


@pytest.mark.screen
@pytest.mark.parametrize(("size", "colour"), TERMINALS)
async def test_a_photograph_is_attached_to_the_step_and_taken_off_again(
    tmp_path: Path, size: tuple[int, int], colour: bool
) -> None:
    photo = tmp_path / "lid one.jpg"
    photo.write_bytes(b"\xff\xd8\xff" * 100)
    visit = begun(tmp_path / "visits", WALK)
    async with hands_on(visit, "walk", tmp_path, size, colour) as hands:
        await hands.press("ctrl+g")
        assert "Attach to: Look around" in hands.sees
        await hands.type(f"'{tmp_path / 'lid two.jpg'}'")
        await hands.type("the lid [b]is[/b] cracked")
        assert "lid two.jpg: there is no such file" in hands.reads
        assert hands.typed == "the lid [b]is[/b] cracked"
        await hands.press("up", "ctrl+u", *f"'{photo}'", "enter", "enter")
        assert "step 1 of 2 · 1 file" in hands.sees
        await hands.press("ctrl+g")
        assert "take off lid one.jpg, 0.3 kB: the lid [b]is[/b] cracked" in hands.reads
        await hands.press("down", "enter")
        assert "Take off: lid one.jpg" in hands.sees
        await hands.type("another site")
        assert "file" not in hands.line("step 1 of 2")
    kept = resumed(tmp_path / "visits", visit.visit.id, WALK)
    kept.close()
    (one,) = kept.visit.attachments
    assert (one.caption, one.withdrawn, one.key) == (
        "the lid [b]is[/b] cracked",
        "another site",
        LOOK.key,
    )


@pytest.mark.screen
async def test_the_key_is_found_in_the_help_and_among_the_commands(tmp_path: Path) -> None:
    async with hands_on(begun(tmp_path, WALK, sheet()), "walk", tmp_path) as hands:
        await hands.press("f1")
        await hands.press(*["down"] * 6)
        assert "ctrl+g attach a photograph or a log" in hands.reads
        await hands.press("escape", "ctrl+p", *"photograph")
        await hands.pilot.pause(0.3)
        assert "Attach a photograph or a log to this step" in hands.reads


@pytest.mark.parametrize("typed", ["{}", '"{}"', "'{}'", " {} ", "file://{url}", "{shell}"])
def test_a_path_is_taken_as_a_terminal_types_a_file_that_is_dropped(tmp_path: Path, typed: str) -> None:
    path = tmp_path / "lid one.jpg"
    path.write_bytes(b"x")
    text, url = str(path), path.as_uri().removeprefix("file://")
    shell = text if "\\" in text else text.replace(" ", "\\ ")
    assert path_typed(typed.format(text, url=url, shell=shell)) == path


def test_a_path_is_wanted() -> None:
    for typed in ("", "  ", '""'):
        with pytest.raises(EntryError, match="which file"):
            path_typed(typed)
    assert path_typed("~nobody-has-this-name/a.jpg").name == "a.jpg"
