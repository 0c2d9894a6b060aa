"""Least current of a fault to earth in an AC circuit, in each mode of operation."""

from __future__ import annotations

from typing import Final

from commission.design.alternating_paths import AlternatingPaths, Feed, Guarded, Way
from commission.design.currents import supply_voltage
from commission.design.residual import electrode, systems
from commission.figure import Figure, Quantity, Unknown, given, greatest, least
from commission.formulas.charging import scaled_current
from commission.formulas.conductors import (
    ALUMINIUM_COEFFICIENT_20,
    ALUMINIUM_RESISTIVITY_20,
    COPPER_COEFFICIENT_20,
    COPPER_RESISTIVITY_20,
    resistance_at_20,
    resistance_at_temperature,
    resistance_per_length,
    run_resistance,
    series_resistance,
)
from commission.formulas.disconnection import LEAST_VOLTAGE_FACTOR, least_loop_current
from commission.formulas.fault_current import clearing_current
from commission.plant.once import once
from commission.plant.plant import Plant, part_fact
from commission.plant.site import Generator, InverterCharger, Protection, Run
from commission.plant.values import UNKNOWN
from commission.sheet.gaps import material_gap

LEAST_FACTOR: Final = given(
    LEAST_VOLTAGE_FACTOR,
    "1",
    "least voltage over nominal",
    source="IEC 60909-0, table of c_min, low voltage; BS 7671; from memory",
)
_HOT: Final = given(
    90.0, "°C", "conductor temperature, insulation not told", source="hottest usual insulation"
)
_COPPER: Final = (
    given(COPPER_RESISTIVITY_20, "Ω·mm²/m", "resistivity of copper, 20 °C", source="IEC 60028:1925"),
    given(COPPER_COEFFICIENT_20, "1/K", "coefficient of copper", source="IEC 60028:1925"),
)
_ALUMINIUM: Final = (
    given(ALUMINIUM_RESISTIVITY_20, "Ω·mm²/m", "resistivity of aluminium, 20 °C", source="IEC 60889:1987"),
    given(ALUMINIUM_COEFFICIENT_20, "1/K", "coefficient of aluminium", source="IEC 60889:1987"),
)


def strength(plant: Plant, feed: Feed, leg: str) -> Quantity | None:
    """Return the current that a feed drives into a fault at its own terminals, in A; None: strong.

    Of inverters in parallel on a leg one is taken to be out of service.
    """
    if isinstance(feed.supply, Generator):
        name = f"current that {feed.supply.label} sustains into a fault"
        return plant.rating(feed.supply, "sustained_current").named(name)
    if feed.supply is not None:
        told = part_fact(feed.supply, "fault_current_least")
        return told if isinstance(told, Figure) else None
    on_leg = [_of_units(plant, units) for units in _by_leg(plant, feed.units, leg)]
    known = [one for one in on_leg if isinstance(one, Figure)]
    if len(known) < len(on_leg):
        return next(one for one in on_leg if isinstance(one, Unknown))
    return known[0] if len(known) == 1 else least("fault current of the weakest leg", *known)


def holds(plant: Plant, feed: Feed) -> Quantity | None:
    """Return how long a feed drives its fault current, in s; None where it lasts."""
    if feed.supply is not None:
        return None
    times = [plant.rating(unit, "short_circuit_time") for unit in feed.units]
    return times[0] if len(times) == 1 else least("time that the inverters hold a fault", *times)


def _by_leg(
    plant: Plant, units: tuple[InverterCharger, ...], leg: str
) -> tuple[tuple[InverterCharger, ...], ...]:
    """Return the units on each leg that a circuit touches."""
    legs = {unit.group_leg for unit in units if _one_leg(plant, unit)} or {"1"}
    touched = [one for one in sorted(legs) if leg in {"both", "all", UNKNOWN, one}] or sorted(legs)
    return tuple(
        tuple(unit for unit in units if not _one_leg(plant, unit) or unit.group_leg == one) for one in touched
    )


def _one_leg(plant: Plant, unit: InverterCharger) -> bool:
    return plant.inverter_class(unit).ac_legs == 1 and unit.group_leg not in {"both", UNKNOWN}


def _of_units(plant: Plant, units: tuple[InverterCharger, ...]) -> Quantity:
    each = [plant.rating(unit, "short_circuit_current") for unit in units]
    one = each[0] if len(each) == 1 else least("fault current of the weakest unit", *each)
    if len(units) < 3:
        name = "fault current with one unit of two in service" if len(units) == 2 else ""
        return one.named(name) if name else one
    return scaled_current.of(
        f"fault current with {len(units) - 1} units of {len(units)} in service",
        current=one,
        count=float(len(units) - 1),
    )


def leg_of(plant: Plant, circuit: Guarded) -> str:
    """Return the leg of a circuit; all where nothing tells one."""
    legs = {load.id: str(load.leg) for load in plant.site.loads}
    legs |= {one.id: str(one.leg) for one in plant.site.ac_pv_inverters}
    return legs.get(circuit.end, "all")


# the loop


def loop(paths: AlternatingPaths, feed: Feed, circuit: Guarded) -> Quantity | None:
    """Return the resistance of the fault loop along the runs that the file has, in Ω; None without any.

    With an earth electrode of its own the loop always leads through that electrode.
    """
    ways = paths.ways(feed, circuit) or ((),)
    loops = [made for way in ways if (made := _loop_of(paths, feed, way)) is not None]
    if not loops:
        return None
    return loops[0] if len(loops) == 1 else greatest(f"fault loop of {circuit.guard.label}", *loops)


def _loop_of(paths: AlternatingPaths, feed: Feed, way: Way) -> Quantity | None:
    by_id = dict.fromkeys(step.run.id for step in way if step.run is not None)
    pieces = [_run_loops(paths.scene.plant)[ident] for ident in by_id]
    system = systems(paths.scene, feed)
    if system == "TT":
        pieces.append(electrode(paths.scene))
    if not pieces:
        return None
    if system == "IT":  # a second fault goes out over one circuit's loop and back over another's like it
        pieces += pieces
    return series_resistance.of("fault loop along the runs of the file", resistances=pieces)


@once
def _run_loops(plant: Plant) -> dict[str, Quantity]:
    return {run.id: run_loop(plant, run) for run in plant.site.runs if run.kind == "ac"}


def run_loop(plant: Plant, run: Run) -> Quantity:
    """Return the resistance of a run's line and protective conductor together, hot, in Ω."""
    name = f"fault loop of {run.label}, hot"
    if run.material == UNKNOWN:
        return Unknown((material_gap(run),), "Ω", name)
    _, coefficient = _COPPER if run.material == "copper" else _ALUMINIUM
    area = part_fact(run, "area")
    line = _per_metre(plant, run, area)
    if run.conductors > 1:
        line = scaled_current.of(
            f"{run.conductors} conductors side by side", current=line, count=1.0 / run.conductors
        ).in_unit("Ω/m")
    earth = line if run.earth_area is None else _per_metre(plant, run, part_fact(run, "earth_area"))
    both = series_resistance.of(
        f"line and protective conductor of {run.label}, per metre", resistances=[line, earth]
    ).in_unit("Ω/m")
    cold = run_resistance.of(
        f"fault loop of {run.label} at 20 °C", resistance_per_metre=both, length=part_fact(run, "length")
    )
    told = part_fact(run, "insulation_temperature")
    hot = told if isinstance(told, Figure) else _HOT
    return resistance_at_temperature.of(name, resistance_20=cold, coefficient=coefficient, temperature=hot)


def _per_metre(plant: Plant, run: Run, area: Quantity) -> Quantity:
    """Return the resistance of a conductor at 20 °C, in Ω/m: the region's table, else bare metal.

    The table holds the greatest resistance that a stranded conductor may have; bare metal is some 6 % less.
    """
    resistivity, coefficient = _COPPER if run.material == "copper" else _ALUMINIUM
    bare = resistance_per_length.of(area=area, resistivity_20=resistivity)
    rows = [
        row
        for row in plant.rules.conductors
        if isinstance(area, Figure) and abs(row.area - area.value) <= 0.02 * row.area
    ]
    if not rows or run.material != "copper":
        return bare
    row = rows[0]
    of_table = given(
        row.resistance,
        "Ω/m",
        f"table resistance of {row.size}",
        kind="rules",
        where=f"{plant.rules.id}.conductors[{row.size}].resistance",
        source=plant.rules.conductors_source,
    )
    return resistance_at_20.of(
        f"resistance of {row.size} at 20 °C",
        resistance=of_table,
        coefficient=coefficient,
        temperature=plant.rule("conductor_temperature"),
    ).in_unit("Ω/m")


def feed_voltage(plant: Plant, feed: Feed) -> Quantity:
    """Return the voltage of a feed to earth, in V."""
    if feed.supply is not None:
        return supply_voltage(plant, feed.supply)
    return plant.rating(feed.units[0], "ac_voltage")


def fault_limits(paths: AlternatingPaths, feed: Feed, circuit: Guarded) -> tuple[Quantity, ...]:
    """Return what bounds the current of a fault to earth at the end of a circuit, each in A.

    What the source gives at most, and what the loop lets flow; nothing where the source is strong and near.
    The least of them is the fault current; one that is known bounds it even where the other is not.
    """
    plant = paths.scene.plant
    found = [strength(plant, feed, leg_of(plant, circuit))]
    resistance = loop(paths, feed, circuit)
    if resistance is not None:
        found.append(
            least_loop_current.of(
                f"current that the loop of {circuit.guard.label} lets flow",
                voltage=feed_voltage(plant, feed),
                factor=LEAST_FACTOR,
                resistance=resistance,
            )
        )
    return tuple(one for one in found if one is not None)


# the device


def trip_current(plant: Plant, guard: Protection) -> Quantity:
    """Return the current at which a breaker or fuse opens without delay, in A."""
    told = part_fact(guard, "instant_trip")
    if isinstance(told, Figure):
        return told
    rating = part_fact(guard, "rating")
    name = f"current at which {guard.label} opens at once"
    return clearing_current.of(name, rating=rating, multiple=trip_multiple(plant, guard))


def trip_multiple(plant: Plant, guard: Protection) -> Figure:
    """Return the multiple of its rating at which a device opens without delay."""
    if guard.kind == "fuse":
        return plant.rule("fuse_multiple")
    row = next((row for row in plant.rules.trip_curves if row.curve == guard.curve), None)
    if row is None:
        return plant.rule("breaker_multiple")
    return given(
        row.multiple,
        "1",
        f"instantaneous trip of curve {row.curve}",
        kind="rules",
        where=f"{plant.rules.id}.trip_curves[{row.curve}]",
        source=plant.rules.trip_curves_source,
    )


def end_current(plant: Plant, guard: Protection) -> Quantity:
    """Return the current at which a device opens in the end, after an hour or two, in A."""
    multiple = plant.rule("breaker_sure_multiple")
    name = f"current at which {guard.label} opens in the end"
    return clearing_current.of(name, rating=part_fact(guard, "rating"), multiple=multiple)


def allowed_time(paths: AlternatingPaths, feed: Feed) -> Quantity | None:
    """Return the time in which a fault must be cut off, in s; None where the region names none."""
    apart = systems(paths.scene, feed) == "TT"
    return paths.scene.plant.rule_if_any("disconnection_time_apart" if apart else "disconnection_time")
