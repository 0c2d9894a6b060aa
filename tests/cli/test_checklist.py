"""``commission checklist``: the walk of a plant as text and for scripts."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from commission.plant.places import sample_sites

Command = Callable[..., Any]
STEP_KEYS = {
    "stage", "step", "parts", "title", "do", "why", "caution", "state", "hold", "released_by", "stands_on",
    "service", "source", "readings",
}  # fmt: skip
READING_KEYS = {"step", "parts", "index", "label", "kind", "unit", "expect", "instrument"}
SAMPLES = [pytest.param(path.stem, id=path.stem) for path in sample_sites()]


@pytest.mark.parametrize("name", SAMPLES)
def test_the_walk_has_stable_keys_and_goes_up_through_the_stages(told: Command, name: str) -> None:
    """Every step has something to do, a reason, a source; every reading is known by one key."""
    steps = told("checklist", name, "--json").data
    assert all(set(step) == STEP_KEYS for step in steps)
    assert all(step["do"] and step["why"] and step["source"] for step in steps)
    stages = [step["stage"] for step in steps]
    assert stages == sorted(stages)
    assert {1, 2, 18} <= set(stages)
    readings = [reading for step in steps for reading in step["readings"]]
    assert all(set(reading) == READING_KEYS for reading in readings)
    keys = [(reading["step"], *reading["parts"], reading["index"]) for reading in readings]
    assert len(keys) == len(set(keys))


@pytest.mark.parametrize("name", SAMPLES)
def test_what_a_step_stands_on_comes_before_it(told: Command, name: str) -> None:
    """Nobody is sent forward to something that has to pass first."""
    seen: set[tuple[str, ...]] = set()
    for step in told("checklist", name, "--json").data:
        for before in step["stands_on"]:
            assert (before["step"], *before["parts"]) in seen, (step["step"], step["parts"], before)
        seen.add((step["step"], *step["parts"]))


def test_the_text_has_cautions_titles_and_hold_points(commission: Command) -> None:
    """It is read by a person; the code is that of the findings."""
    steps = commission("checklist", "tarnwold-cabin", "--json")
    text = commission("checklist", "tarnwold-cabin")
    assert text.code == steps.code == 0
    lines = text.out.splitlines()
    assert lines[0] == f"Tarnwold cabin: {len(steps.data)} steps"
    for step in steps.data:
        assert any(step["title"] in line and ("hold point" in line) == step["hold"] for line in lines)
    assert "licensed people prevail" in lines[-1]
