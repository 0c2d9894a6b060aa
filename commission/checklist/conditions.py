"""Readings that others depend on: finding the newest one that is still alive.

A condition has a time and a life. A step uses the newest living value, otherwise it asks for it in the same
step: an expectation then returns :class:`Waits` with the key that is wanted. Which conditions a step will
want is told beforehand by ``needs`` of its data; :func:`needed` gives their questions.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

from commission.checklist.bands import in_unit
from commission.checklist.situation import Situation
from commission.checklist.types import (
    Ask,
    Checklist,
    ConditionData,
    NotJudged,
    Observation,
    ReadingKey,
    Step,
    Waits,
)
from commission.figure import Figure
from commission.plant.values import UNKNOWN
from commission.units import show_time

REST_STATES: Final = frozenset({"dead", "dc only", "loads out"})
"""Plant states in which only standing currents flow, unless the bank's current was read otherwise."""
REST_RATE: Final = 0.005
"""Bank current under which the bank is at rest, A per Ah of the bank; common practice."""
REST_KNOWN_FOR: Final = 1800.0
"""How long a reading of the bank's current tells whether the bank rests, s; common practice."""

Found = Figure | Waits | NotJudged


def condition(situation: Situation, ident: str) -> Found:
    """Return the newest living reading of a condition, or what is waited for.

    Parameters
    ----------
    ident
        Id of the condition in the checklist data.
    """
    data = situation.checklist.conditions_by_id.get(ident)
    if data is None:
        return NotJudged(f"the checklist has no condition '{ident}'")
    ask = condition_ask(situation.checklist, situation.step, data)
    if ask is None:
        return NotJudged(f"no step of this plant reads the {data.name}")
    found = situation.latest(ask.key)
    if found is None:
        return Waits((ask.key,), f"the {data.name} is wanted")
    life = _life(situation, data)
    age = (situation.now - found.measured_at).total_seconds()
    if age > life:
        old = f"the {data.name} is {show_time(round(age))} old and holds for {show_time(life)}"
        return Waits((ask.key,), old)
    situation.look(ask.key)
    return in_unit(found.figure, data.unit)


def chosen(situation: Situation, ident: str, figure: Figure) -> str:
    """Return the word that was chosen, of a condition that is a choice."""
    data = situation.checklist.conditions_by_id[ident]
    ask = condition_ask(situation.checklist, situation.step, data)
    choices = () if ask is None else ask.data.choices
    place = round(figure.value)
    return choices[place] if 0 <= place < len(choices) else "a state that is not on the list"


def needed(checklist: Checklist, step: Step) -> tuple[Ask, ...]:
    """Return the questions for the conditions that a step needs and does not ask itself, for its parts.

    The walk asks those that are not alive at the moment before the step's own readings; the readings are
    stored under the keys of these questions, not under the step's.
    """
    found = (condition_ask(checklist, step, checklist.conditions_by_id[ident]) for ident in step.data.needs)
    return tuple(ask for ask in found if ask is not None and ask not in step.asks)


def condition_ask(checklist: Checklist, step: Step, data: ConditionData) -> Ask | None:
    """Return the question whose answer is a condition for a step; None where the plant has no such step."""
    giving = related(checklist, step, data.step)
    if giving is None:
        return None
    return next((ask for ask in giving.asks if ask.data.condition == data.id), None)


def related(checklist: Checklist, step: Step, ident: str) -> Step | None:
    """Return the step of an id that belongs to the parts of a step: its own, a container's, or the site's."""
    steps = checklist.by_id.get(ident, ())
    tests: Sequence[frozenset[str]] = (frozenset(step.parts), frozenset(step.within), step.circuit)
    for other in steps:
        if other.parts == step.parts:
            return other
    for near in tests:
        for other in steps:
            if not near.isdisjoint(other.parts):
                return other
    return steps[0] if len(steps) == 1 else None


def at_rest(situation: Situation) -> bool:
    """Return whether no current to speak of flows through the bank at the moment.

    The newest reading of the bank's current decides; where there is none of the last half hour, the state in
    which the step asks the plant to be.
    """
    data = situation.checklist.conditions_by_id.get("bank-current")
    ask = None if data is None else condition_ask(situation.checklist, situation.step, data)
    found = None if ask is None else situation.latest(ask.key)
    if found is not None and (situation.now - found.measured_at).total_seconds() <= REST_KNOWN_FOR:
        bank = situation.plant.bank
        return bank.capacity != UNKNOWN and abs(found.figure.value) <= (
            REST_RATE * float(bank.capacity) * len(bank.strings)
        )
    return situation.step.data.state in REST_STATES


def _life(situation: Situation, data: ConditionData) -> float:
    rest = data.life_at_rest
    life = data.life if rest is None or not at_rest(situation) else rest
    return 0.0 if life == UNKNOWN else float(life)


# readings that are no conditions: the newest of another step, of the same step, of a column


def earlier(situation: Situation, ident: str, name: str = "", index: int = 0) -> Found:
    """Return the newest reading of another step for the parts of this one, whatever its age."""
    step = related(situation.checklist, situation.step, ident)
    if step is None:
        return NotJudged(f"this plant has no step '{ident}'")
    return _read(situation, ReadingKey(f"{ident}.{name}" if name else ident, step.parts, index))


def beside(situation: Situation, name: str, index: int = 0) -> Found:
    """Return the newest other reading of the same step: its own id with a reading's name."""
    step = situation.step
    return _read(situation, ReadingKey(f"{step.data.id}.{name}" if name else step.data.id, step.parts, index))


def _read(situation: Situation, key: ReadingKey) -> Found:
    asked = situation.checklist.asks.get(key)
    label = key.step if asked is None else asked[1].label
    found = situation.look(key)
    return Waits((key,), f"'{label}' is wanted first") if found is None else found.figure


def column(situation: Situation) -> tuple[list[Observation], list[ReadingKey]]:
    """Return the other readings of a column, and the keys of those that are not read yet."""
    return _of(situation, (ask.key for ask in situation.step.asks if ask.data is situation.ask.data))


def alike(situation: Situation) -> tuple[list[Observation], list[ReadingKey]]:
    """Return the same reading at the other places of the step, and the keys of those not read yet."""
    own = situation.ask.key
    steps = situation.checklist.by_id[situation.step.data.id]
    return _of(situation, (ReadingKey(own.step, step.parts, own.index) for step in steps))


def _of(situation: Situation, keys: Iterable[ReadingKey]) -> tuple[list[Observation], list[ReadingKey]]:
    read: list[Observation] = []
    unread: list[ReadingKey] = []
    for key in keys:
        if key == situation.ask.key:
            continue
        found = situation.look(key)
        if found is None:
            unread.append(key)
        else:
            read.append(found)
    return read, unread
