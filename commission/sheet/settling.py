"""What the steps of the sheet do alike: settle within limits, put aside, name what is missing."""

from __future__ import annotations

from dataclasses import replace
from typing import Final, Literal

from commission.figure import Figure, Quantity, Unknown, given, greatest, least
from commission.plant.equipment import Ability, Input
from commission.plant.site import Device
from commission.plant.values import in_words
from commission.sheet import known
from commission.sheet.draft import Draft, Side
from commission.sheet.types import Finding

_SLACK = 1e-9
_INPUTS: Final[tuple[Input | None, ...]] = (None, "generator", "utility")


def not_checked(
    draft: Draft, check: str, parts: tuple[str, ...], quantity: Quantity | None, setting: str | None = None
) -> bool:
    """Say what is missing for a check; true where something is."""
    if not isinstance(quantity, Unknown):
        return False
    draft.find(known.not_checked(check, parts, quantity.missing, setting))
    return True


def settled(
    draft: Draft,
    device: Device,
    setting: str,
    wanted: Quantity,
    *,
    low: Quantity | None = None,
    high: Quantity | None = None,
    side: Side | None = None,
    note: str = "",
) -> Quantity | None:
    """Settle a number and say so where it is not known, or where a fixed one lies outside its limits.

    The limits always take in what is recommended.
    """
    held = draft.number(device, setting, wanted, low=low, high=high, side=side, note=note)
    if held is None:
        return None
    not_checked(draft, "setting-open", (device.id,), held, setting)
    if isinstance(held, Figure):
        _tell_fixed(draft, device, setting, wanted, held, (low, high))
        widen(draft, device, setting)
    return held


def _tell_fixed(
    draft: Draft,
    device: Device,
    setting: str,
    wanted: Quantity,
    held: Figure,
    limits: tuple[Quantity | None, Quantity | None],
) -> None:
    ability = draft.ability(device, setting)
    if ability is None or ability.fixed is None or not isinstance(wanted, Figure):
        return
    low, high = limits
    broken = low if isinstance(low, Figure) and held.value < low.value - _SLACK else None
    broken = high if isinstance(high, Figure) and held.value > high.value + _SLACK else broken
    if broken is None:
        return
    side = "under" if held.value < broken.value else "over"
    draft.find(
        Finding(
            "correct",
            "fixed-outside-limits",
            (device.id,),
            f"{in_words(setting)} of {device.label} is fixed at {held.value:.6g} {held.unit}, "
            f"{side} the {broken.value:.6g} {broken.unit} that this bank asks for",
            f"a device that takes {wanted.value:.6g} {wanted.unit}, or one beside it that does this",
            value=held,
            limit=broken,
            passes=wanted,
            setting=setting,
        )
    )


def widen(draft: Draft, device: Device, setting: str, input_: Input | None = None) -> None:
    """Let the limits of a setting take in what is recommended, which rounding may have put outside."""
    key = (device.id, setting, input_)
    made = draft.settings[key]
    held = made.recommended
    if not isinstance(held, Figure) or made.ability.fixed is not None:
        return
    low, high = made.low, made.high
    if isinstance(low, Figure) and held.value < low.value:
        low = least(f"least acceptable {in_words(setting)}", low, held)
    if isinstance(high, Figure) and held.value > high.value:
        high = greatest(f"greatest acceptable {in_words(setting)}", high, held)
    draft.settings[key] = replace(made, low=low, high=high)


def put_aside(
    draft: Draft, device: Device, setting: str, end: Literal["low", "high"], note: str
) -> Quantity | None:
    """Switch a setting off; where it cannot be, put it to the end of its range that does nothing."""
    ability = draft.ability(device, setting)
    if ability is None:
        return None
    if ability.off:
        draft.word(device, setting, "off", note=note)
        return None
    if ability.choices:
        return None
    return draft.number(device, setting, end_of(draft, device, ability, setting, end), note=note)


def end_of(
    draft: Draft, device: Device, ability: Ability, setting: str, end: Literal["low", "high"]
) -> Figure:
    """Return an end of a setting's range, whole bank; of a fixed one its only value."""
    chosen = ability.fixed if ability.fixed is not None else ability.low if end == "low" else ability.high
    value = 0.0 if chosen is None else chosen * draft.count(device, ability)
    word = "least" if end == "low" else "greatest"
    where = f"{draft.plant.equipment[device.id].id}.settings.{setting}"
    return given(
        value, ability.unit, f"{word} {in_words(setting)} of {device.label}", kind="profile", where=where
    )


def reachable(
    draft: Draft, device: Device, setting: str, wanted: Quantity, safe: Literal["low", "high"]
) -> Quantity:
    """Return what is wanted, or the end of the device's range on the side that guards more.

    Parameters
    ----------
    safe
        The end beyond which a value guards less: a limit that a device cannot set so high is no fault of it.
    """
    ability = draft.ability(device, setting)
    if ability is None:
        return wanted
    end = end_of(draft, device, ability, setting, safe)
    return least(wanted.name, wanted, end) if safe == "high" else greatest(wanted.name, wanted, end)


def annotate(draft: Draft, device: Device, setting: str, note: str) -> None:
    """Add to the note of a setting that is already settled."""
    for key in ((device.id, setting, input_) for input_ in _INPUTS):
        made = draft.settings.get(key)
        if made is not None and note not in made.note:
            draft.settings[key] = replace(made, note=f"{made.note}; {note}" if made.note else note)


def side_within(
    draft: Draft,
    device: Device,
    setting: str,
    wanted: Quantity,
    limits: tuple[Quantity | None, Quantity | None],
    *,
    hard: bool,
) -> Side:
    """Return the side to round to: up, but down where only that stays under the upper limit.

    Parameters
    ----------
    hard
        The upper limit must not be passed, even if the lower one then is.
    """
    low, high = limits
    up = draft.number(device, setting, wanted, side="up")
    if not isinstance(up, Figure) or not isinstance(high, Figure) or up.value <= high.value + _SLACK:
        return "up"
    down = draft.number(device, setting, wanted, side="down")
    under = isinstance(low, Figure) and isinstance(down, Figure) and down.value < low.value - _SLACK
    return "up" if under and not hard else "down"
