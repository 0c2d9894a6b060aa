"""How cold and hot the bank gets, against what its chemistry may be charged at, and freezing acid."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, Literal

from commission.design.types import Found, Remedy, Scene
from commission.design.words import gap, shown
from commission.figure import Figure, Quantity, given
from commission.formulas.lead_acid import (
    freezing_temperature,
    gravity_from_open_circuit_voltage,
    rested_voltage_from_table,
)
from commission.formulas.load_control import state_at_depth
from commission.plant.change import Change
from commission.plant.plant import Plant, fact
from commission.plant.site import DirectCurrentSource
from commission.sheet.bank_state import rested_of_one
from commission.sheet.charge_guard import high_temperature, low_temperature
from commission.sheet.types import Finding

_EMPTY: Final = given(0.0, "1", "empty", source="the worst that a bank is left in")
_DEPTH_STEP: Final = 0.05


@dataclass(frozen=True, slots=True)
class _Edge:
    """One end of the temperatures at which the chemistry is charged."""

    word: Literal["cold", "hot"]
    field: str
    month: str
    setting: str
    beyond: str
    room: str


_COLD: Final = _Edge(
    "cold", "coldest_battery", "coldest_month_battery", "charge_low_temperature", "under", "kept over"
)
_HOT: Final = _Edge(
    "hot", "hottest_battery", "hottest_month_battery", "charge_high_temperature", "over", "kept under"
)


def check_bank_climate(scene: Scene) -> Iterator[Found]:
    """Find a bank that gets colder or hotter than it may be charged, or whose acid can freeze."""
    plant = scene.plant
    place = plant.site.site
    coldest, hottest = (fact(place, edge.field, "site", "the site") for edge in (_COLD, _HOT))
    missing = gap("battery-temperatures", ("site",), coldest, hottest)
    if missing is not None:
        yield missing
    if isinstance(coldest, Figure):
        yield from _charging(scene, _COLD, coldest, low_temperature(plant))
        yield from _freezing(scene, coldest)
    if isinstance(hottest, Figure):
        yield from _charging(scene, _HOT, hottest, high_temperature(plant))


# charging


def _charging(scene: Scene, edge: _Edge, extreme: Figure, limit: Quantity) -> Iterator[Found]:
    """Find an extreme beyond the limit: nothing charges then, or a source charges where it must not."""
    plant = scene.plant
    if not isinstance(limit, Figure) or not _beyond(edge, extreme.value, limit.value):
        return
    if edge is _COLD and any(one.check == "charging-in-the-cold" for one in scene.sheet.findings):
        return
    open_sources = [one for one in plant.sources if not _blocks(plant, one, edge)]
    temperature = (
        f"the bank gets {shown(scene, extreme, beside=limit)}, charging {edge.beyond} "
        f"{shown(scene, limit, beside=extreme)}"
    )
    if open_sources:
        names = ", ".join(one.label for one in open_sources)
        kind: Literal["correct", "advise"] = "correct"
        text = f"{temperature} harms its cells, and nothing stops {names}"
    else:
        kind, text = "advise", f"{temperature} is blocked: nothing charges it then, loads draw it down"
    finding = Finding(kind, f"charging-too-{edge.word}", (plant.bank.id,), text, value=extreme, limit=limit)
    yield Found(finding, (_room(scene, edge, limit),))


def _beyond(edge: _Edge, value: float, limit: float) -> bool:
    return value < limit - 1e-9 if edge is _COLD else value > limit + 1e-9


def _blocks(plant: Plant, source: DirectCurrentSource, edge: _Edge) -> bool:
    management = plant.bank.management
    told = None if management is None else fact(management, edge.setting, "bank.management")
    return isinstance(told, Figure) or edge.setting in plant.equipment[source.id].settings


def _room(scene: Scene, edge: _Edge, limit: Figure) -> Remedy:
    """Return the room kept within the limit, the month's mean with it where that lies beyond too."""
    place = scene.plant.site.site
    change = [Change(f"site.{edge.field}", limit.value)]
    month = getattr(place, edge.month)
    if isinstance(month, float | int) and _beyond(edge, month, limit.value):
        change.append(Change(f"site.{edge.month}", limit.value))
    text = f"the bank {edge.room} {shown(scene, limit)}: insulation, heating, shade or air"
    return Remedy(text, passes=limit, change=tuple(change))


# freezing


def _freezing(scene: Scene, coldest: Figure) -> Iterator[Found]:
    """Find lead cells whose acid freezes at the greatest depth, or once they are left empty."""
    plant = scene.plant
    if plant.battery.family != "lead":
        return
    deepest = state_at_depth.of("charge left at the greatest depth", depth=plant.cell("depth_greatest"))
    for state, kind in ((deepest, "correct"), (_EMPTY, "advise")):
        freezes = freezing_at(plant, state)
        missing = gap("acid-freezes", (plant.bank.id,), freezes)
        if missing is not None:
            yield missing
            return
        if isinstance(freezes, Figure) and isinstance(state, Figure) and coldest.value < freezes.value - 1e-9:
            yield _frozen(scene, coldest, state, freezes, stays=kind == "correct")
            return


def freezing_at(plant: Plant, state: Quantity) -> Quantity:
    """Return the temperature at which the acid freezes at a state of charge, by its gravity then."""
    curve = plant.curve("gravity")
    if curve is None:
        gravity = gravity_from_open_circuit_voltage.of(
            "gravity of the acid", voltage=rested_of_one(plant, state)
        )
    else:
        where, source = f"{plant.battery.id}.gravity", f"{curve.source}; {curve.known}"
        gravity = rested_voltage_from_table.of(
            "gravity of the acid",
            state=state,
            states=_row(curve.states, "1", where, source),
            voltages=_row(curve.values, "kg/L", where, source),
        ).in_unit("kg/L")
    return freezing_temperature.of("freezing point of the acid", gravity=gravity)


def _row(values: tuple[float, ...], unit: str, where: str, source: str) -> tuple[Figure, ...]:
    return tuple(
        given(one, unit, "row of the table", kind="profile", where=where, source=source) for one in values
    )


def _frozen(scene: Scene, coldest: Figure, state: Figure, freezes: Figure, *, stays: bool) -> Found:
    what = f"discharged to {state.value:.0%}" if stays else "left empty"
    text = (
        f"{what}, the acid freezes at {shown(scene, freezes, 0, beside=coldest)} and bursts its case; the "
        "bank gets "
        f"{shown(scene, coldest, beside=freezes)}"
    )
    remedies = (*_shallower(scene, coldest), _warmer(scene, freezes)) if stays else ()
    remedy = (
        "" if stays else "never left empty in the cold: loads off, or something that charges it all winter"
    )
    kind: Literal["correct", "advise"] = "correct" if stays else "advise"
    check = "acid-freezes" if stays else "acid-freezes-when-empty"
    finding = Finding(kind, check, (scene.plant.bank.id,), text, remedy, value=coldest, limit=freezes)
    return Found(finding, remedies)


def _shallower(scene: Scene, coldest: Figure) -> Iterator[Remedy]:
    """Yield the greatest depth, in steps of 5 %, at which the acid stays liquid."""
    plant = scene.plant
    usual, deepest = plant.cell("depth_usual"), plant.cell("depth_greatest")
    if not isinstance(usual, Figure) or not isinstance(deepest, Figure):
        return
    for step in range(int(deepest.value / _DEPTH_STEP), 0, -1):
        depth = round(step * _DEPTH_STEP, 2)
        state = given(1.0 - depth, "1", "charge that stays in")
        freezes = freezing_at(plant, state)
        if isinstance(freezes, Figure) and freezes.value <= coldest.value:
            change = [Change("bank.datasheet.depth_greatest", depth)]
            if usual.value > depth:
                change.append(Change("bank.datasheet.depth_usual", depth))
            text = f"loads cut off while {1.0 - depth:.0%} of the charge is left, in winter at least"
            yield Remedy(text, passes=state, change=tuple(change))
            return


def _warmer(scene: Scene, freezes: Figure) -> Remedy:
    return _room(scene, _COLD, freezes)
