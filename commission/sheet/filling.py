"""A limit shared out: sources are filled like vessels until their own limits or a set's room is reached.

Least useful currents come first, scaled alike where they do not fit; then the rest, by weights or PV first;
then what would otherwise stay unused. At the end everything lies on the steps of the devices, never upward.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

_EPS: Final = 1e-9
_SLACK: Final = 1e-6
"""Share of a step forgiven, so that 54.0 in steps of 0.1 never becomes 53.9 in binary fractions."""


@dataclass(frozen=True, slots=True)
class Claim:
    """What one source, or one coordinated group, can use of a limit; all in A."""

    ident: str
    most: float
    """Its own limit."""
    useful: float
    """What it can deliver of that: its array, its AC source."""
    least: float
    """Under this it is of no use."""
    caps: tuple[float, ...]
    """For each set of sources that can run together, the most it adds there; 0 where it does not run."""
    first: bool
    """Whether it is filled before the others: PV."""
    weight: float | None = None
    low: float = 0.0
    """Least value that can be set."""
    step: float | None = None
    """Resolution of the setting, counted from ``low``; None where there is none."""


def shared(claims: Sequence[Claim], rooms: Sequence[float]) -> dict[str, float]:
    """Return what each claim gets, on its own steps, so that no set's room is exceeded.

    A device whose share would lie under the least that can be set gets that least, and the others come down.
    Where even the least values do not fit into a room, they are returned all the same.
    """
    forced: set[str] = set()
    while True:
        filled = _filled(claims, rooms, forced)
        stepped = _on_steps(claims, rooms, filled, forced)
        under = {
            claim.ident
            for claim in claims
            if claim.ident not in forced and stepped[claim.ident] < claim.low - _EPS
        }
        if not under:
            return stepped
        forced |= under


def used(claims: Sequence[Claim], amounts: Mapping[str, float], index: int) -> float:
    """Return what the claims add up to in one set."""
    return sum(min(amounts[claim.ident], claim.caps[index]) for claim in claims)


def _filled(claims: Sequence[Claim], rooms: Sequence[float], forced: set[str]) -> dict[str, float]:
    amounts = {claim.ident: claim.low if claim.ident in forced else 0.0 for claim in claims}
    free = [claim for claim in claims if claim.ident not in forced]
    for movers, target, rate in _phases(claims, free):
        targets = {claim.ident: getattr(claim, target) for claim in movers}
        rates = {claim.ident: _rate(claim, rate) for claim in movers}
        _raise(claims, rooms, amounts, targets, rates)
    return amounts


def _phases(claims: Sequence[Claim], free: list[Claim]) -> list[tuple[list[Claim], str, str]]:
    """Return who is filled when, up to what and how fast.

    The last two phases give away what nobody can use at present: to AC-fed chargers before PV, since a low
    bank voltage or a smaller load lets them take more than was reckoned with.
    """
    if any(claim.weight is not None for claim in claims):
        return [(free, "least", "least"), (free, "useful", "weight"), (free, "most", "weight")]
    pv = [claim for claim in free if claim.first]
    fed = [claim for claim in free if not claim.first]
    return [
        (free, "least", "least"),
        (pv, "useful", "most"),
        (fed, "useful", "most"),
        (fed, "most", "most"),
        (pv, "most", "most"),
    ]


def _rate(claim: Claim, field: str) -> float:
    value = getattr(claim, field)
    return 1.0 if value is None else float(value)


def _raise(
    claims: Sequence[Claim],
    rooms: Sequence[float],
    amounts: dict[str, float],
    targets: Mapping[str, float],
    rates: Mapping[str, float],
) -> None:
    """Raise amounts together, each at its rate, until its target or the room of a set that it runs in."""
    while True:
        active = [
            claim
            for claim in claims
            if claim.ident in targets
            and amounts[claim.ident] < min(targets[claim.ident], claim.most) - _EPS
            and rates[claim.ident] > 0
            and not _blocked(claim, claims, rooms, amounts)
        ]
        if not active:
            return
        time = min(_times(active, claims, rooms, amounts, targets, rates))
        for claim in active:
            amounts[claim.ident] += rates[claim.ident] * time


def _blocked(
    claim: Claim, claims: Sequence[Claim], rooms: Sequence[float], amounts: Mapping[str, float]
) -> bool:
    return any(
        amounts[claim.ident] < cap - _EPS and rooms[index] - used(claims, amounts, index) <= _EPS
        for index, cap in enumerate(claim.caps)
    )


def _times(
    active: Sequence[Claim],
    claims: Sequence[Claim],
    rooms: Sequence[float],
    amounts: Mapping[str, float],
    targets: Mapping[str, float],
    rates: Mapping[str, float],
) -> list[float]:
    """Return the times after which something changes: a target, a set's cap, a set's room."""
    found = [
        (min(targets[claim.ident], claim.most) - amounts[claim.ident]) / rates[claim.ident]
        for claim in active
    ]
    for index, room in enumerate(rooms):
        growing = [claim for claim in active if amounts[claim.ident] < claim.caps[index] - _EPS]
        found += [(claim.caps[index] - amounts[claim.ident]) / rates[claim.ident] for claim in growing]
        if growing:
            pace = sum(rates[claim.ident] for claim in growing)
            found.append((room - used(claims, amounts, index)) / pace)
    return found


# steps


def _on_steps(
    claims: Sequence[Claim], rooms: Sequence[float], filled: Mapping[str, float], forced: set[str]
) -> dict[str, float]:
    """Return the amounts on the devices' steps, those left over to the largest remainder, then in order."""
    amounts = {claim.ident: _down(claim, filled[claim.ident]) for claim in claims}
    if any(amounts[claim.ident] < claim.low - _EPS for claim in claims if claim.ident not in forced):
        return amounts
    weighted = any(claim.weight is not None for claim in claims)
    equals = (
        [list(claims)]
        if weighted
        else [
            [claim for claim in claims if claim.first],
            [claim for claim in claims if not claim.first],
        ]
    )
    for group in equals:
        rest = [claim for claim in group if filled[claim.ident] - amounts[claim.ident] > _EPS]
        for claim in sorted(rest, key=lambda claim: amounts[claim.ident] - filled[claim.ident]):
            _step_up(claim, claims, rooms, amounts)
    for group in equals:
        while any([_step_up(claim, claims, rooms, amounts) for claim in group]):  # noqa: C419 - all take a turn
            pass
    for claim in claims:
        if claim.step is None:
            _top_up(claim, claims, rooms, amounts)
    return amounts


def _down(claim: Claim, value: float) -> float:
    if claim.step is None:
        return value
    steps = (value - claim.low) / claim.step
    return round(claim.low + math.floor(steps + _SLACK) * claim.step, 9)


def _step_up(
    claim: Claim, claims: Sequence[Claim], rooms: Sequence[float], amounts: dict[str, float]
) -> bool:
    """Give one more step where it fits into every set; return whether it did."""
    if claim.step is None:
        return False
    raised = round(amounts[claim.ident] + claim.step, 9)
    if raised > claim.most + _EPS or not _fits(claim, raised, claims, rooms, amounts):
        return False
    amounts[claim.ident] = raised
    return True


def _fits(
    claim: Claim,
    value: float,
    claims: Sequence[Claim],
    rooms: Sequence[float],
    amounts: Mapping[str, float],
) -> bool:
    for index, cap in enumerate(claim.caps):
        more = min(value, cap) - min(amounts[claim.ident], cap)
        if more > _EPS and used(claims, amounts, index) + more > rooms[index] + _EPS:
            return False
    return True


def _top_up(claim: Claim, claims: Sequence[Claim], rooms: Sequence[float], amounts: dict[str, float]) -> None:
    """Give a claim without steps what the others' rounding has left in every set."""
    slack = [
        room - used(claims, amounts, index)
        for index, room in enumerate(rooms)
        if amounts[claim.ident] < claim.caps[index] - _EPS
    ]
    most = claim.most - amounts[claim.ident]
    amounts[claim.ident] += max(0.0, min([most, *slack]))
