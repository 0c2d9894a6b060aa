"""The order of the walk: by stage, and inside a stage grouped by the state that the plant must be in."""

from __future__ import annotations

import heapq
from collections.abc import Sequence

from commission.checklist.types import Step, StepKey

ANY = "any"


def in_walking_order(steps: Sequence[Step]) -> list[Step]:
    """Return steps stage by stage; inside a stage those of one plant state together.

    The order of the data holds wherever neither what a step stands on nor the plant state asks for another:
    so a clinic is cut once and a bank filled once. A step that needs no state follows its place in the data.
    """
    by_stage: dict[int, list[Step]] = {}
    for step in steps:
        by_stage.setdefault(step.data.stage, []).append(step)
    ordered: list[Step] = []
    state = ANY
    for stage in sorted(by_stage):
        ordered += _grouped(by_stage[stage], state)
        state = next((step.data.state for step in reversed(ordered) if step.data.state != ANY), ANY)
    return ordered


def _grouped(steps: Sequence[Step], state: str) -> list[Step]:
    """Order the steps of one stage, starting in a plant state."""
    place = {step.key: number for number, step in enumerate(steps)}
    left = [0] * len(steps)
    after: list[list[int]] = [[] for _ in steps]
    for number, step in enumerate(steps):
        for key in _inside(step.stands_on, place):
            left[number] += 1
            after[place[key]].append(number)
    ready: dict[str, list[int]] = {}
    for number, count in enumerate(left):
        if not count:
            heapq.heappush(ready.setdefault(steps[number].data.state, []), number)
    ordered: list[Step] = []
    while any(ready.values()):
        name = _next_heap(ready, state)
        state = state if name == ANY else name
        number = heapq.heappop(ready[name])
        ordered.append(steps[number])
        for later in after[number]:
            left[later] -= 1
            if not left[later]:
                heapq.heappush(ready.setdefault(steps[later].data.state, []), later)
    return ordered


def _inside(keys: Sequence[StepKey], place: dict[StepKey, int]) -> list[StepKey]:
    return [key for key in keys if key in place]


def _next_heap(ready: dict[str, list[int]], state: str) -> str:
    """Return which ready steps come next: of the state or of none as long as there are any of the state.

    Where none of the state is left, the first step in the data's order says which state is next.
    """
    open_ = {state, ANY} if ready.get(state) and state != ANY else set(ready)
    return min((ready[name][0], name) for name in open_ if ready.get(name))[1]
