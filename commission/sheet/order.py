"""One order that two values must keep, and how a setting that breaks it is moved on its device's grid."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final, Literal

from commission.figure import Figure, Formula, Quantity, Unknown, given
from commission.formulas.load_control import threshold_above, threshold_below
from commission.formulas.rounding import (
    in_bank_basis,
    in_device_basis,
    rounded_down,
    rounded_up,
    step_over,
    step_under,
)
from commission.plant.equipment import Ability
from commission.plant.site import Device
from commission.plant.values import in_words
from commission.sheet.draft import Draft
from commission.sheet.settling import widen
from commission.sheet.types import Pair

_SLACK: Final = 1e-7
_ENDS: Final = ("coldest", "hottest")
_GRIDS: Final[dict[tuple[str, bool], Formula[...]]] = {
    ("up", True): step_over,
    ("up", False): rounded_up,
    ("down", True): step_under,
    ("down", False): rounded_down,
}


@dataclass(frozen=True, slots=True)
class Mover:
    """The setting that gives way where an order is broken, and the side to which it goes."""

    device: Device
    setting: str
    side: Literal["up", "down"]
    index: int = 0
    """Of a list of pairs: which one."""


@dataclass(frozen=True, slots=True)
class Order:
    """Two values, one of which must stay under the other."""

    name: str
    parts: tuple[str, ...]
    lower: Quantity
    upper: Quantity
    strict: bool = True
    """The lower must be less than the upper, not just no more."""
    mover: Mover | None = None

    @property
    def check(self) -> str:
        """Name of the check in findings."""
        return f"order-{self.name}"

    @property
    def id(self) -> str:
        """What a finding on this order is known by."""
        setting = (self.mover.setting,) if self.mover else ()
        return ":".join((self.check, "+".join(self.parts), *setting))

    @property
    def unknown(self) -> Unknown | None:
        """What is missing to check it, None where nothing is."""
        gaps = [gap for one in (self.lower, self.upper) if isinstance(one, Unknown) for gap in one.missing]
        return Unknown(tuple(dict.fromkeys(gaps)), self.lower.unit, self.name) if gaps else None

    @property
    def broken(self) -> bool:
        """Whether both values are known and do not keep the order."""
        if not isinstance(self.lower, Figure) or not isinstance(self.upper, Figure):
            return False
        if self.strict:
            return self.lower.value >= self.upper.value - _SLACK
        return self.lower.value > self.upper.value + _SLACK


def wanted_of(draft: Draft, order: Order) -> Figure | None:
    """Return the value in the device's basis that keeps an order, None where nothing can be moved."""
    mover = order.mover
    ability = None if mover is None else draft.ability(mover.device, mover.setting)
    if mover is None or ability is None or ability.low is None or ability.step is None:
        return None
    bound = _bound(draft, order, mover)
    if bound is None:
        return None
    count = draft.count(mover.device, ability)
    name = f"{in_words(mover.setting)} of {mover.device.label}, moved to keep the order"
    where = f"{draft.plant.equipment[mover.device.id].id}.settings.{mover.setting}"
    made = _GRIDS[mover.side, order.strict].of(
        name,
        value=in_device_basis.of(bound.name, bank_value=bound, count=count) if count != 1 else bound,
        start=given(ability.low, ability.unit, "low end of the device's range", kind="profile", where=where),
        step=given(ability.step, ability.unit, "step of the device", kind="profile", where=where),
    )
    return made.in_unit(ability.unit) if isinstance(made, Figure) else None


def _bound(draft: Draft, order: Order, mover: Mover) -> Figure | None:
    """Return what the setting must pass: the other value, or as far as the broken order asks it to go."""
    lower, upper, held = order.lower, order.upper, held_at_posts(draft, mover)
    if not isinstance(lower, Figure) or not isinstance(upper, Figure) or held is None:
        return None
    own, other = (upper, lower) if mover.side == "up" else (lower, upper)
    if abs(own.value - held.value) < _SLACK:
        return other
    by = given(abs(lower.value - upper.value), lower.unit, "by which the order is broken", source=order.name)
    shift = threshold_above if mover.side == "up" else threshold_below
    moved = shift.of(f"{in_words(mover.setting)} as far as the order asks", value=held, by=by)
    return moved if isinstance(moved, Figure) else None


def held_at_posts(draft: Draft, mover: Mover) -> Figure | None:
    """Return what a setting holds in whole-bank volts or its own unit."""
    made = draft.settings.get((mover.device.id, mover.setting, None))
    if made is None:
        return None
    if isinstance(made.recommended, tuple):
        return pair_at_posts(draft, mover.device, made.recommended[mover.index])
    return made.at_posts if isinstance(made.at_posts, Figure) else None


def pair_at_posts(draft: Draft, device: Device, pair: Pair) -> Figure:
    """Return the voltage of a pair in whole-bank volts."""
    ability = draft.ability(device, "generator_start")
    count = 1.0 if ability is None else draft.count(device, ability)
    return _whole_bank(pair.voltage, count, pair.voltage.name)


def _whole_bank(value: Figure, count: float, name: str) -> Figure:
    if count == 1:
        return value
    made = in_bank_basis.of(f"{name}, whole bank", device_value=value, count=count)
    assert isinstance(made, Figure)  # noqa: S101 - made of a figure
    return made.in_unit("V")


def moved(draft: Draft, order: Order) -> bool:
    """Move the setting that gives way; false where its device does not let it go there."""
    mover, wanted = order.mover, wanted_of(draft, order)
    ability = None if mover is None else draft.ability(mover.device, mover.setting)
    if mover is None or wanted is None or ability is None or not _takes(ability, wanted):
        return False
    before = held_at_posts(draft, mover)
    key = (mover.device.id, mover.setting, None)
    made = draft.settings[key]
    if isinstance(made.recommended, tuple):
        pairs = list(made.recommended)
        pairs[mover.index] = replace(pairs[mover.index], voltage=wanted)
        draft.settings[key] = replace(made, recommended=tuple(pairs))
        return True
    at_posts = _whole_bank(wanted, draft.count(mover.device, ability), wanted.name)
    draft.settings[key] = replace(made, recommended=wanted, at_posts=at_posts)
    widen(draft, mover.device, mover.setting)
    if before is not None:
        _shift_reached(draft, mover, at_posts.value - before.value)
    return True


def _takes(ability: Ability, wanted: Figure) -> bool:
    if ability.fixed is not None or ability.low is None or ability.high is None:
        return False
    return ability.low - _SLACK <= wanted.value <= ability.high + _SLACK


def _shift_reached(draft: Draft, mover: Mover, by: float) -> None:
    """Let what a source reaches in a stage go with the stage's setting."""
    stage = mover.setting.removesuffix("_voltage")
    shift = threshold_above if by > 0 else threshold_below
    distance = given(abs(by), "V", f"move of the {in_words(mover.setting)}", source="order of the settings")
    for end in _ENDS:
        key = f"{stage}_{end}:{mover.device.id}"
        standing = draft.numbers.get(key)
        if standing is not None:
            draft.numbers[key] = shift.of(standing.name, value=standing, by=distance)
