"""The orders that settings must keep, checked once all are settled; where rounding broke one, it wins."""

from __future__ import annotations

from typing import Final

from commission.figure import Figure, Unknown, given
from commission.plant.plant import Plant
from commission.plant.values import in_words
from commission.sheet.clamp import note_reached
from commission.sheet.draft import Draft
from commission.sheet.order import Order, held_at_posts, moved, wanted_of
from commission.sheet.order_list import orders_of
from commission.sheet.settling import annotate, not_checked
from commission.sheet.temperature import climate, settle_temperature
from commission.sheet.types import Finding, Sheet

_MOST_MOVES: Final = 2
"""Moves for one order; more means that two orders pull at one setting."""
_STAGES: Final = ("absorption", "float", "equalize")


def check_orders(draft: Draft) -> None:
    """Check every order; move the setting that gives way, and say what was moved and what cannot be kept."""
    told = _move_all(draft)
    for order in orders_of(draft):
        gap = order.unknown
        if gap is not None:
            _tell_gap(draft, order, gap)
        elif order.broken:
            draft.find(_cannot_be_kept(draft, order))
        elif order.id in told:
            draft.find(told[order.id])


def _tell_gap(draft: Draft, order: Order, gap: Unknown) -> None:
    """Say what is missing for an order, unless the setting itself is already told to be open for it."""
    setting = None if order.mover is None else order.mover.setting
    open_setting = ":".join(("setting-open", "+".join(order.parts), setting or ""))
    if all(finding.id != open_setting for finding in draft.findings):
        not_checked(draft, "order-open", order.parts, gap, setting or order.name)


def broken_orders(draft: Draft) -> list[str]:
    """Return the ids of the findings that stand for the orders which the settings break."""
    return [order.id for order in orders_of(draft) if order.broken]


def draft_of(plant: Plant, sheet: Sheet) -> Draft:
    """Return a sheet as the draft that it was made from, with what its sources reach over the year."""
    draft = Draft(
        plant,
        settings={setting.key: setting for setting in sheet.settings},
        findings=list(sheet.findings),
        numbers={
            "bank_limit": sheet.bank_limit,
            "recommended_limit": sheet.recommended_limit,
            "bus_maximum": sheet.bus_maximum,
        },
        shares=dict(sheet.shares),
    )
    weather = climate(plant)
    for regime in settle_temperature(Draft(plant)).values():
        for stage in _STAGES:
            note_reached(draft, stage, regime, weather)
    return draft


def _move_all(draft: Draft) -> dict[str, Finding]:
    """Move settings until no broken order can be mended so; return what is to be told, by the order's id."""
    moves: dict[str, int] = {}
    told: dict[str, Finding] = {}
    stuck: set[str] = set()
    while True:
        order = next((one for one in orders_of(draft) if one.broken and one.id not in stuck), None)
        if order is None:
            return told
        before = None if order.mover is None else held_at_posts(draft, order.mover)
        moves[order.id] = moves.get(order.id, 0) + 1
        if moves[order.id] > _MOST_MOVES or before is None or not moved(draft, order):
            stuck.add(order.id)
            continue
        told[order.id] = _told(draft, order, before)


def _told(draft: Draft, order: Order, before: Figure) -> Finding:
    mover = order.mover
    assert mover is not None  # noqa: S101 - it was just moved
    after = held_at_posts(draft, mover)
    assert after is not None  # noqa: S101 - likewise
    annotate(draft, mover.device, mover.setting, "moved to keep the order of the settings")
    return Finding(
        "advise",
        order.check,
        order.parts,
        f"{in_words(mover.setting)} of {mover.device.label} was moved "
        f"from {_show(before)} to {_show(after)}, "
        f"so that {_said(order)}",
        "none is needed; read it back at the device",
        value=before,
        passes=after,
        setting=mover.setting,
    )


def _cannot_be_kept(draft: Draft, order: Order) -> Finding:
    lower, upper = order.lower, order.upper
    assert isinstance(lower, Figure) and isinstance(upper, Figure)  # noqa: S101, PT018 - a broken one has both
    mover = order.mover
    passes = wanted_of(draft, order)
    if mover is None or passes is None:
        side = "under" if order.strict else "at most"
        remedy = f"{lower.name} {side} {_show(upper)}, or {upper.name} over {_show(lower)}"
        passes = upper if mover is None or mover.side == "down" else lower
    else:
        ability = draft.ability(mover.device, mover.setting)
        count = 1.0 if ability is None else draft.count(mover.device, ability)
        passes = given(passes.value * count, lower.unit, f"{in_words(mover.setting)} that keeps this order")
        remedy = f"a device that takes {_show(passes)}, or the other value moved to the other side"
    return Finding(
        "correct",
        order.check,
        order.parts,
        f"an order cannot be kept: {_said(order)}",
        remedy,
        value=lower,
        limit=upper,
        passes=passes,
        setting=None if mover is None else mover.setting,
    )


def _said(order: Order) -> str:
    lower, upper = order.lower, order.upper
    assert isinstance(lower, Figure) and isinstance(upper, Figure)  # noqa: S101, PT018 - a broken one has both
    side = "under" if order.strict else "not over"
    return f"{lower.name} ({_show(lower)}) has to stay {side} {upper.name} ({_show(upper)})"


def _show(figure: Figure) -> str:
    if figure.unit == "1":
        return f"{figure.value:.0%}"
    return f"{figure.value:.2f} {figure.unit}"
