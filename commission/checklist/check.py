"""What can be wrong in checklist data: unknown words, ids twice, steps that stand on each other."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from difflib import get_close_matches
from functools import lru_cache

from commission.checklist import expect
from commission.checklist.predicates import NOT, is_known
from commission.checklist.registry import PREDICATES, SELECTORS, SERIES, load_words
from commission.checklist.restate import RESTATEMENTS
from commission.checklist.types import ChecklistData, ReadingData, StepData
from commission.errors import Problem, SiteError
from commission.plant.toml import unknown_keys
from commission.units import symbol_of


def check_data(data: Sequence[ChecklistData]) -> None:
    """Refuse checklist data that no walk can be made of.

    Raises
    ------
    SiteError
        With every problem found: file, key, value and what would be right.
    """
    _checked(_Same(tuple(data)))


class _Same:
    """Checklist data as loaded; the same files are checked once."""

    def __init__(self, data: tuple[ChecklistData, ...]) -> None:
        self.data = data

    def __hash__(self) -> int:
        return hash(tuple(map(id, self.data)))

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, _Same) or len(other.data) != len(self.data):
            return False
        return all(mine is theirs for mine, theirs in zip(self.data, other.data, strict=True))


@lru_cache(maxsize=8)
def _checked(same: _Same) -> None:
    load_words()
    data = same.data
    problems = [*_unknown(data), *_twice(data), *_stages(data), *_conditions(data)]
    known = {step.id: step for file in data for step in file.steps}
    conditions = {condition.id for file in data for condition in file.conditions}
    for file in data:
        for step in file.steps:
            problems += (
                Problem(f"{file.id}.toml", f"steps[{step.id}].{key}", value, wrong, right)
                for key, value, wrong, right in _step_problems(step, known, conditions)
            )
    problems += _rings(data, known)
    if problems:
        raise SiteError(problems)


Fault = tuple[str, str, str, str]
"""Key inside the step, value, what is wrong, what would be right."""


def _unknown(data: Sequence[ChecklistData]) -> Iterator[Problem]:
    """Yield a problem for each key that nothing takes: a hold point misspelt would hold nothing."""
    for file in data:
        for found in unknown_keys(file, f"{file.id}.toml"):
            yield Problem(found.file, found.key, found.value, "there is no such key", found.right)


def _twice(data: Sequence[ChecklistData]) -> Iterator[Problem]:
    yield from _repeated(data, "id", ((file, file.id) for file in data))
    yield from _repeated(data, "steps", ((file, step.id) for file in data for step in file.steps))
    conditions = ((file, condition.id) for file in data for condition in file.conditions)
    yield from _repeated(data, "conditions", conditions)
    stages = ((file, str(stage.number)) for file in data for stage in file.stages)
    yield from _repeated(data, "stages", stages)


def _repeated(
    data: Sequence[ChecklistData], key: str, found: Iterable[tuple[ChecklistData, str]]
) -> Iterator[Problem]:
    files: dict[str, list[str]] = {}
    for file, ident in found:
        files.setdefault(ident, []).append(f"{file.id}.toml")
    for ident, where in files.items():
        if len(where) > 1:
            right = "each needs an id of its own, also across files"
            yield Problem(
                where[-1], key, f"'{ident}'", f"stands {len(where)} times ({', '.join(where)})", right
            )


def _stages(data: Sequence[ChecklistData]) -> Iterator[Problem]:
    titled = {stage.number for file in data for stage in file.stages}
    for file in data:
        for number in sorted({step.stage for step in file.steps} - titled):
            wrong = "no stage of this number has a title"
            yield Problem(f"{file.id}.toml", "steps.stage", str(number), wrong, "add it to 'stages'")


def _conditions(data: Sequence[ChecklistData]) -> Iterator[Problem]:
    steps = {step.id: step for file in data for step in file.steps}
    for file in data:
        for condition in file.conditions:
            step = steps.get(condition.step)
            gives = () if step is None else [reading.condition for reading in step.readings]
            if condition.id not in gives:
                wrong = "there is no such step" if step is None else "no reading of this step gives it"
                right = (
                    _near(condition.step, steps) if step is None else f"condition = '{condition.id}' there"
                )
                key = f"conditions[{condition.id}].step"
                yield Problem(f"{file.id}.toml", key, f"'{condition.step}'", wrong, right)


def _step_problems(step: StepData, known: dict[str, StepData], conditions: set[str]) -> Iterator[Fault]:
    if SELECTORS.get(step.each) is None:
        yield "each", f"'{step.each}'", "there is no such selector", SELECTORS.nearest(step.each)
    for word in step.when:
        if not is_known(word):
            right = PREDICATES.nearest(word.removeprefix(NOT))
            yield "when", f"'{word}'", "there is no such predicate", right
    for below in step.stands_on:
        yield from _standing(step, below, known)
    if step.service_only and not step.service:
        yield "service_only", "true", "nothing ever asks for it", "an interval in 'service'"
    for need in step.needs:
        if need not in conditions:
            yield "needs", f"'{need}'", "there is no such condition", _near(need, conditions)
    yield from _readings(step, conditions)


def _readings(step: StepData, conditions: set[str]) -> Iterator[Fault]:
    names = Counter(reading.name for reading in step.readings)
    for name, count in names.items():
        if count > 1:
            yield "readings.name", f"'{name or ''}'", f"{count} readings share it", "each needs its own name"
    for reading in step.readings:
        key = f"readings[{reading.name}]" if reading.name else "readings"
        for inner, value, wrong, right in _reading_problems(reading, conditions):
            yield f"{key}.{inner}", value, wrong, right


def _standing(step: StepData, below: str, known: dict[str, StepData]) -> Iterator[Fault]:
    if below not in known:
        yield "stands_on", f"'{below}'", "there is no such step", _near(below, known)
    elif known[below].stage > step.stage:
        wrong = f"is of stage {known[below].stage}, this step of stage {step.stage}"
        yield "stands_on", f"'{below}'", wrong, "a step stands on earlier ones"
    elif known[below].service_only and not step.service_only:
        wrong = "is in service visits only, this step in a commissioning too"
        yield "stands_on", f"'{below}'", wrong, "service_only here too, or another step"


def _reading_problems(reading: ReadingData, conditions: set[str]) -> Iterator[Fault]:
    if reading.series and SERIES.get(reading.series) is None:
        yield "series", f"'{reading.series}'", "there is no such series", SERIES.nearest(reading.series)
    if reading.expect and expect.find(reading.expect) is None:
        yield "expect", f"'{reading.expect}'", "there is no such expectation", expect.nearest(reading.expect)
    if reading.service_expect and expect.find(reading.service_expect) is None:
        right = expect.nearest(reading.service_expect)
        yield "service_expect", f"'{reading.service_expect}'", "there is no such expectation", right
    yield from _change_problems(reading)
    if reading.condition and reading.condition not in conditions:
        wrong = "there is no such condition"
        yield "condition", f"'{reading.condition}'", wrong, _near(reading.condition, conditions)
    if reading.kind == "number" and symbol_of(reading.unit) != reading.unit:
        yield "unit", f"'{reading.unit}'", "is no unit known here", "a unit sign, such as V, mV, MΩ, or 1"
    if (reading.kind == "choice") != bool(reading.choices):
        yield "choices", "", "go with kind 'choice', and only with it", "two words or more"


def _change_problems(reading: ReadingData) -> Iterator[Fault]:
    if reading.restated and reading.restated not in RESTATEMENTS:
        right = _near(reading.restated, RESTATEMENTS)
        yield "restated", f"'{reading.restated}'", "there is no such restatement", right
    if reading.restated and reading.compares != "reading":
        yield "restated", f"'{reading.restated}'", "goes with compares = 'reading' only", "leave one out"
    if reading.compares == "among" and not reading.series:
        yield "compares", "'among'", "there is no column", "a series, or another comparison"
    if reading.change and reading.kind != "number":
        yield "change", f"kind '{reading.kind}'", "only a number changes", "kind = 'number'"
    for place, limit in enumerate(reading.change, start=1):
        if limit.more is None and limit.less is None:
            yield f"change[{place}]", "", "has no limit", "more, less or both"
        if limit.unit not in {"%", "points"} and symbol_of(limit.unit) != limit.unit:
            yield (
                f"change[{place}].unit",
                f"'{limit.unit}'",
                "is no unit known here",
                "%, points, or a unit sign",
            )


def _near(word: str, known: Iterable[str]) -> str:
    names = sorted(known)
    near = get_close_matches(word, names, n=1, cutoff=0.5)
    return f"did you mean '{near[0]}'?" if near else ""


def _rings(data: Sequence[ChecklistData], known: dict[str, StepData]) -> Iterator[Problem]:
    """Yield a problem for each ring of steps that stand on each other."""
    state: dict[str, int] = {}
    for file in data:
        for step in file.steps:
            ring = _ring(step.id, known, state)
            if ring:
                shown = " → ".join(ring)
                yield Problem(
                    f"{file.id}.toml",
                    f"steps[{ring[0]}].stands_on",
                    shown,
                    "stand on each other in a ring",
                    "",
                )


def _ring(start: str, known: dict[str, StepData], state: dict[str, int]) -> list[str]:
    """Return the first ring met from a step on, empty where there is none; visited steps are marked."""
    path: list[tuple[str, Iterator[str]]] = []

    def enter(ident: str) -> None:
        state[ident] = 1
        path.append((ident, iter(known[ident].stands_on)))

    if start not in state:
        enter(start)
    while path:
        ident, below = path[-1]
        step = next(below, None)
        if step is None:
            state[ident] = 2
            path.pop()
        elif state.get(step) == 1:
            trail = [name for name, _ in path]
            for name in trail:
                state[name] = 2
            return [*trail[trail.index(step) :], step]
        elif step in known and step not in state:
            enter(step)
    return []
