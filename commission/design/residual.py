"""Residual-current protection: what it covers, whether its type sees the fault, its electrode."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from commission.design.alternating_paths import AlternatingPaths, Feed, Guarded
from commission.design.bond_places import point_of
from commission.design.types import Found, Later, Remedy, Scene
from commission.design.words import gap, shown
from commission.figure import Figure, Gap, Quantity, given
from commission.formulas.disconnection import touch_voltage_at_trip
from commission.formulas.insulation import greatest_electrode_resistance
from commission.plant.change import Change
from commission.plant.plant import fact, part_fact
from commission.plant.site import Protection
from commission.plant.values import UNKNOWN
from commission.sheet.known import not_checked
from commission.sheet.types import Finding

_STANDARD: Final = (0.3, 0.1, 0.03)
"""Rated residual currents in A that general devices are sold with (IEC 60755), greatest first."""


def is_residual(guard: Protection) -> bool:
    """Whether a device opens on residual current."""
    return guard.kind == "residual" or guard.residual_current is not None


def residual_devices(scene: Scene) -> tuple[Protection, ...]:
    """Return the residual-current devices on the AC side."""
    return tuple(one for one in scene.plant.site.protection if one.current == "ac" and is_residual(one))


def covered(paths: AlternatingPaths, feed: Feed, circuit: Guarded) -> bool:
    """Whether a residual-current device opens a fault to earth in a circuit, by itself or upstream."""
    if is_residual(circuit.guard):
        return True
    if any(_in_series(paths, one, circuit) for one in residual_devices(paths.scene)):
        return True
    ways = paths.ways(feed, circuit)
    return bool(ways) and all(any(is_residual(one) for step in way for one in step.guards) for way in ways)


def _in_series(paths: AlternatingPaths, device: Protection, circuit: Guarded) -> bool:
    """Whether a device of the same part stands in its circuit: one on a position has a circuit of its own."""
    return device.of == circuit.end and device.id not in paths.panel_of and circuit.role == "final"


def check_residual(scene: Scene) -> Iterator[Found]:
    """Find residual-current devices of the wrong type, and electrodes that leave too much touch voltage."""
    if scene.plant.rules.residual_types:
        yield from _types(scene)
    yield from _touch(scene)


# type


def _types(scene: Scene) -> Iterator[Found]:
    if not scene.plant.site.inverter_chargers and not scene.plant.site.ac_pv_inverters:
        return
    coupled = _before_pv(scene)
    for guard in residual_devices(scene):
        yield from _type(scene, guard, guard.id in coupled)


def _type(scene: Scene, guard: Protection, before_pv: bool) -> Iterator[Found]:
    told = guard.residual_type
    if told == UNKNOWN:
        yield Found(
            not_checked(
                "residual-type",
                (guard.id,),
                [Gap(f"type of {guard.label} (AC, A, F or B)", f"{guard.where}.residual_type")],
            )
        )
        return
    if told == "B" or (told != "AC" and not before_pv):
        return
    wanted = "B" if before_pv else "A"
    behind = "a PV inverter" if before_pv else "inverters and electronic loads"
    finding = Finding(
        "correct" if told == "AC" else "advise",
        "residual-type",
        (guard.id,),
        f"{guard.label} is of type {told}: direct current in the fault of {behind} can keep it from tripping"
        + (", unless the maker says that the PV inverter cannot feed any" if before_pv else ""),
    )
    remedy = Remedy(
        f"{guard.label} of type {wanted}",
        passes=given(
            1.0,
            "1",
            f"devices of type {wanted}",
            source="IEC 60364-5-53, 531.3.3; IEC 60364-7-712",
        ),
        change=(Change(f"{guard.where}.residual_type", wanted),),
    )
    yield Found(finding, (remedy,))


def _before_pv(scene: Scene) -> frozenset[str]:
    """Return the devices through which an AC-coupled PV inverter feeds."""
    site = scene.plant.site
    pv = {one.id for one in site.ac_pv_inverters}
    own = {one.panel_breaker for one in site.ac_pv_inverters}
    runs = {run.protection for run in site.runs if pv & {run.from_, run.to}}
    of = {guard.id for guard in site.protection if guard.of in pv}
    return frozenset(ident for ident in own | runs | of if ident is not None)


# touch voltage with an electrode of its own


def _touch(scene: Scene) -> Iterator[Found]:
    plant = scene.plant
    limit = plant.rule_if_any("touch_voltage")
    apart = [point for point in plant.site.earthing.modes if point.earthing == "TT"]
    devices = residual_devices(scene)
    if limit is None or not apart or not devices:
        return
    resistance = electrode(scene)
    missing = gap("touch-voltage", ("site",), resistance, limit)
    if missing is not None:
        yield missing
        return
    for guard in devices:
        yield from _touch_of(scene, guard, resistance, limit)


def electrode(scene: Scene) -> Quantity:
    """Return the resistance of the earth electrode as last measured, in Ω."""
    return fact(scene.plant.site.earthing, "electrode_resistance", "earthing", "earthing")


def _touch_of(scene: Scene, guard: Protection, resistance: Quantity, limit: Quantity) -> Iterator[Found]:
    current = part_fact(guard, "residual_current")
    missing = gap("touch-voltage", (guard.id,), current)
    if missing is not None:
        yield missing
    voltage = touch_voltage_at_trip.of(
        f"touch voltage that {guard.label} leaves", resistance=resistance, current=current
    )
    if not isinstance(voltage, Figure) or not isinstance(limit, Figure) or not isinstance(current, Figure):
        return
    if voltage.value <= limit.value + 1e-9:
        return
    most = greatest_electrode_resistance.of(
        f"greatest electrode with {guard.label}", touch_voltage=limit, residual_current=current
    )
    assert isinstance(resistance, Figure) and isinstance(most, Figure)  # noqa: S101, PT018 - checked above
    text = (
        f"{guard.label} of {current.value:g} A lets {shown(scene, voltage, beside=limit)} stand on "
        "exposed metal with an "
        f"electrode of {shown(scene, resistance)}; {shown(scene, limit, beside=voltage)} may be"
    )
    finding = Finding(
        "correct",
        "touch-voltage",
        (guard.id,),
        text,
        f"an electrode of at most {shown(scene, most)}",
        value=voltage,
        limit=limit,
    )
    yield Found(finding, Later(_finer(guard, current, resistance, limit)))


def _finer(guard: Protection, current: Figure, resistance: Figure, limit: Figure) -> Iterator[Remedy]:
    for rated in _STANDARD:
        if rated < current.value and resistance.value * rated <= limit.value:
            change = Change(f"{guard.where}.residual_current", rated)
            yield Remedy(f"{guard.label} with a residual current of {rated * 1000:g} mA", change=(change,))


def systems(scene: Scene, feed: Feed) -> str:
    """Return the earthing system in a mode: TN, TT, IT or unknown."""
    point = point_of(scene.plant, feed.mode)
    return UNKNOWN if point is None else point.earthing
