"""The battery room: air that carries the gas off, what may not spark near the cells, what stands beside them.

A large room alone is no ventilation here: the stationary standard asks for openings or a fan whatever the
volume. The volume tells how soon a closed room becomes dangerous.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

from commission.design.gas import (
    Gas,
    air_needed,
    gas_of_stages,
    greatest_gas,
    makes_gas,
)
from commission.design.types import Found, Remedy, Scene
from commission.design.words import gap, shown
from commission.figure import Figure, Quantity, given, greatest
from commission.formulas.ventilation import (
    air_through_openings,
    current_for_air,
    hydrogen_flow,
    hydrogen_time,
    opening_area,
    safety_distance,
)
from commission.plant.change import Change
from commission.plant.plant import fact
from commission.sheet.bank_state import cells
from commission.sheet.types import Finding, Kind
from commission.units import UnitSystem, convert, show, shown_unit

_BURNS: Final = given(0.04, "1", "share of hydrogen that begins to burn", source="NFPA 1; IEC 62485-2")
_DAY: Final = given(86400.0, "s", "a day, in which nobody may come by", source="common practice")
_WARM: Final = given(25.0, "°C", "air of the room", source="gas volume at 25 °C")


def check_battery_room(scene: Scene) -> Iterator[Found]:
    """Find a bank whose gas the room does not carry off, or with something that sparks too near its vents."""
    if not makes_gas(scene.plant):
        return
    stages = gas_of_stages(scene)
    if not stages:
        return
    gas = greatest_gas(stages)
    yield from _ventilation(scene, stages, gas)
    yield from _spark_distance(scene, gas)


# air


def _ventilation(scene: Scene, stages: tuple[Gas, ...], gas: Quantity) -> Iterator[Found]:
    bank = scene.plant.bank
    needed = air_needed(scene, gas)
    if bank.vent_flow is not None:
        yield from _fan(scene, stages, needed)
        yield from _inlet(scene, needed)
        return
    area = fact(bank, "vent_area", "bank", "the bank's room")
    least_area = opening_area.of(
        "free area of each opening that the bank needs",
        flow=needed,
        factor=scene.plant.rule("vent_area_factor"),
    )
    missing = gap("ventilation", (bank.id,), area, least_area)
    if missing is not None:
        yield missing
    if not (isinstance(area, Figure) and isinstance(least_area, Figure) and isinstance(needed, Figure)):
        return
    if area.value >= least_area.value - 1e-6:
        return
    flow = air_through_openings.of(
        "air through the openings", area=area, factor=scene.plant.rule("vent_area_factor")
    )
    closes = closed_for(scene, needed)
    burns = area.value <= 0 and scene.plant.battery.vented and closes is not None and closes <= _DAY.value
    openings = (
        "no openings" if area.value <= 0 else f"openings of {shown(scene, area, beside=least_area)} each"
    )
    text = (
        f"{openings} carry too little air: {shown(scene, needed)} are needed "
        f"{_when(stages)}, which takes {shown(scene, least_area, beside=area)} each{_closed(scene, closes)}"
    )
    if burns:
        text += "; a spark then blows up the room"
    remedies = (
        _wider(scene, least_area, _held_lower(scene, stages, flow)),
        _stronger(scene, needed, "a fan of {} that runs whenever the bank is charged"),
    )
    kind: Kind = "stop" if burns else "correct"
    finding = Finding(kind, "ventilation", (bank.id,), text, value=area, limit=least_area)
    yield Found(finding, remedies)


def _fan(scene: Scene, stages: tuple[Gas, ...], needed: Quantity) -> Iterator[Found]:
    bank = scene.plant.bank
    flow = fact(bank, "vent_flow", "bank", "the bank's fan")
    missing = gap("ventilation", (bank.id,), flow, needed)
    if missing is not None:
        yield missing
    if not isinstance(flow, Figure) or not isinstance(needed, Figure) or flow.value >= needed.value - 1e-6:
        return
    text = (
        f"the fan moves {shown(scene, flow, beside=needed)}, {shown(scene, needed, beside=flow)} are "
        f"needed {_when(stages)}"
        f"{_closed(scene, closed_for(scene, needed))}"
    )
    held = _held_lower(scene, stages, flow)
    finding = Finding("correct", "ventilation", (bank.id,), text, value=flow, limit=needed)
    yield Found(finding, (_stronger(scene, needed, "a fan of {}" + held),))


def _inlet(scene: Scene, needed: Quantity) -> Iterator[Found]:
    """Find a fan in a room without an opening: it moves no air that cannot come in."""
    bank = scene.plant.bank
    area = fact(bank, "vent_area", "bank", "the bank's room")
    if not isinstance(area, Figure) or area.value > 0:
        return
    least_area = opening_area.of(
        "free area of the opening that lets the fan's air in",
        flow=needed,
        factor=scene.plant.rule("vent_area_factor"),
    )
    if not isinstance(least_area, Figure):
        return  # told with the fan
    text = "the fan moves no air: the room has no opening through which any comes in"
    finding = Finding("correct", "fan-inlet", (bank.id,), text, value=area, limit=least_area)
    units = scene.plant.site.site.units
    opening = _opening(least_area, units)
    words = f"a low inlet of {show(opening, 'cm²', units, 0)} free area, across the room from the fan"
    remedy = Remedy(words, passes=least_area, change=(Change("bank.vent_area", opening),))
    yield Found(finding, (remedy,))


def _when(stages: tuple[Gas, ...]) -> str:
    """Say in which stage the bank makes most gas."""
    worst = _worst(stages)
    volts = f" at {worst.voltage.value:.2f} V a cell" if isinstance(worst.voltage, Figure) else ""
    return f"in {worst.word}{volts}"


def _worst(stages: tuple[Gas, ...]) -> Gas:
    return max(stages, key=lambda one: one.current.value if isinstance(one.current, Figure) else 0.0)


def closed_for(scene: Scene, needed: Figure) -> float | None:
    """Return after how many seconds the hydrogen of a closed room burns; None where its volume is unknown."""
    volume = fact(scene.plant.bank, "room_volume", "bank", "the battery room")
    current = current_for_air.of(
        "current that counts as gas, all cells",
        flow=needed,
        cells=cells(scene.plant),
        factor=scene.plant.rule("vent_air_factor"),
    )
    hydrogen = hydrogen_flow.of(cells=cells(scene.plant), current=current, temperature=_WARM)
    time = hydrogen_time.of("until 4 % hydrogen", volume=volume, limit=_BURNS, hydrogen=hydrogen)
    return time.value if isinstance(time, Figure) else None


def _closed(scene: Scene, seconds: float | None) -> str:
    """Say how soon that is; nothing where it is not known."""
    volume = fact(scene.plant.bank, "room_volume", "bank", "the battery room")
    if seconds is None or not isinstance(volume, Figure):
        return ""
    return f"; closed, its {shown(scene, volume)} of air burn after {seconds / 3600.0:.2g} h at worst"


def _wider(scene: Scene, needed: Figure, beside: str) -> Remedy:
    """Return the next opening in whole square inches or tens of square centimetres."""
    units = scene.plant.site.site.units
    area = _opening(needed, units)
    text = f"a low inlet and a high outlet of {show(area, 'cm²', units, 0)} free area each{beside}"
    return Remedy(text, passes=needed, change=(Change("bank.vent_area", area),))


def _opening(needed: Figure, units: UnitSystem) -> float:
    step = 10.0 if units == "metric" else convert(1.0, "in²", "cm²")
    return round(math.ceil(needed.value / step - 1e-9) * step, 4)


def _stronger(scene: Scene, needed: Figure, words: str) -> Remedy:
    """Return the next fan in whole cubic metres an hour, or cubic feet a minute."""
    unit = shown_unit("m³/h", scene.plant.site.site.units)
    count = math.ceil(convert(needed.value, "m³/h", unit) - 1e-9)
    flow = round(convert(float(count), unit, "m³/h"), 6)
    return Remedy(words.format(f"{count} {unit}"), passes=needed, change=(Change("bank.vent_flow", flow),))


def _held_lower(scene: Scene, stages: tuple[Gas, ...], flow: Quantity) -> str:
    """Say to what equalise could be held instead; nothing where absorption alone asks for more air."""
    others = [air_needed(scene, one.current) for one in stages if one.stage != "equalize"]
    enough = isinstance(flow, Figure) and all(
        isinstance(one, Figure) and one.value <= flow.value + 1e-9 for one in others
    )
    if _worst(stages).stage != "equalize" or not enough or scene.plant.rules.vent_method != "gas current":
        return ""
    current = current_for_air.of(
        "equalise current that passes",
        flow=flow,
        cells=cells(scene.plant),
        factor=scene.plant.rule("vent_air_factor"),
    )
    return f"; or equalise held to {math.floor(current.value)} A" if isinstance(current, Figure) else ""


# sparks


def _spark_distance(scene: Scene, gas: Quantity) -> Iterator[Found]:
    bank = scene.plant.bank
    capacities = [fact(bank, "capacity", "bank")]
    capacities += [
        fact(one, "capacity", f"bank.strings[{one.id}]") for one in bank.strings if one.capacity is not None
    ]
    needed = safety_distance.of(
        "distance from the cells within which nothing may spark",
        gas_current=gas,
        capacity=greatest("capacity of one cell", *capacities),
        cells=_cells_under_one_vent(scene),
    )
    distance = fact(bank, "spark_distance", "bank", "the bank")
    missing = gap("spark-distance", (bank.id,), distance, needed)
    if missing is not None:
        yield missing
    if not isinstance(distance, Figure) or not isinstance(needed, Figure):
        return
    if distance.value >= needed.value - 1e-6:
        return
    text = (
        f"something that can spark or glow is {shown(scene, distance, beside=needed)} from the cells, "
        "nothing may be within "
        f"{shown(scene, needed, beside=distance)}: their gas burns"
    )
    yield Found(
        Finding("correct", "spark-distance", (bank.id,), text, value=distance, limit=needed),
        (_further(scene, needed),),
    )


def _cells_under_one_vent(scene: Scene) -> Figure:
    """Return the cells whose gas leaves through one vent: those of a block, where nothing else is told."""
    bank, name = scene.plant.bank, "cells whose gas leaves through one vent"
    if bank.cells_per_vent is not None:
        return given(float(bank.cells_per_vent), "1", name, kind="site", where="bank.cells_per_vent")
    per_block = float(bank.cells_per_block)
    return given(per_block, "1", f"{name}: all of a block", kind="site", where="bank.cells_per_block")


def _further(scene: Scene, needed: Figure) -> Remedy:
    """Return the next whole inch or the next 5 cm."""
    inches = scene.plant.site.site.units == "us"
    step = 0.0254 if inches else 0.05
    steps = math.ceil(needed.value / step - 1e-9)
    words = f"{steps} in" if inches else show(steps * step, "m", "metric")
    text = (
        f"sockets, switches, relays, breakers and devices at least {words} from the cells, or a wall between"
    )
    return Remedy(text, passes=needed, change=(Change("bank.spark_distance", round(steps * step, 4)),))
