"""Protection at the bank itself: that there is some, how far from the posts, and for what voltage."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice
from typing import Any, Final

from commission.design.bank_fault import level_at
from commission.design.fault_paths import fault_paths
from commission.design.fresh import fresh_id
from commission.design.standard import (
    device_voltages_from,
    interrupting_from,
    ratings_down_from,
    size_name,
    sizes_over,
)
from commission.design.types import Found, Later, Remedy, Scene
from commission.design.words import asked, gap, shown
from commission.figure import Figure, Quantity
from commission.formulas.bank import bank_voltage
from commission.formulas.charging import clamped_temperature, compensated_voltage
from commission.plant.change import Change
from commission.plant.once import once
from commission.plant.plant import Plant, fact, part_fact
from commission.plant.site import Protection, Run
from commission.sheet.bank_limit import main_runs
from commission.sheet.bank_state import cells
from commission.sheet.run_limits import run_ampacity
from commission.sheet.types import Finding

_VOLTAGE: Final = "device-voltage"


def check_main_protection(scene: Scene) -> Iterator[Found]:
    """Find a bank without overcurrent protection of its own, far from its posts, or of too low a voltage."""
    guards = bank_guards(scene)
    if not guards:
        yield _none(scene)
    for guard in fault_paths(scene).guards:
        if guard in guards or _of_one_of_several(scene.plant, guard):
            yield from _distance(scene, guard)
        if guard.protects in {"bank", "string"}:
            yield from _voltage(scene, guard)


def _of_one_of_several(plant: Plant, guard: Protection) -> bool:
    """Whether a device protects one of several strings: nothing opens between its posts and it."""
    strings = {string.id for string in plant.bank.strings}
    return guard.protects == "string" and guard.of in strings and len(strings) > 1


@once
def bank_guards(scene: Scene) -> tuple[Protection, ...]:
    """Return what protects the bank; the strings' own fuses or breakers where each string has one.

    A switch opens nothing by itself, and a residual-current device sees no short circuit between poles.
    """
    paths = fault_paths(scene)
    return tuple(one for one in paths.guards if one.protects == "bank") or paths.string_guards


# none


def _none(scene: Scene) -> Found:
    named = [one for one in scene.plant.site.protection if one.protects == "bank" and one.kind != "surge"]
    why = f" ({named[0].label} opens no DC short circuit by itself)" if named else ""
    finding = Finding(
        "stop",
        "main-protection",
        (scene.plant.bank.id,),
        f"no fuse or breaker protects the bank: a fault on the bus is fed until something burns{why}",
        "a fuse at the bank's post, rated for its fault current",
        releasable=False,
    )
    return Found(finding, Later(new_main_fuses(scene)))


def new_main_fuses(scene: Scene) -> Iterator[Remedy]:
    """Yield main fuses that protect the bank's one main run, as it is or thicker, and break its fault."""
    plant = scene.plant
    runs = [run for run in main_runs(plant) if plant.bank.id in {run.from_, run.to}]
    level, voltage = level_at(fault_paths(scene), plant.bank.id), greatest_bank_voltage(plant)
    if len(runs) != 1 or not isinstance(level.high, Figure) or not isinstance(voltage, Figure):
        return
    breaks = next(interrupting_from(plant, level.high.value), None)
    volts = next(device_voltages_from(plant, voltage.value), None)
    if breaks is None or volts is None:
        return
    for run in _thicker(plant, runs[0]):
        carried = run_ampacity(plant, run)
        if isinstance(carried, Figure):
            most = carried.value * plant.rule("fuse_ampacity_share").value
            for rating in islice(ratings_down_from(plant, most), 1):
                yield _new_fuse(scene, run, rating, (volts, breaks))


def _thicker(plant: Plant, run: Run) -> Iterator[Run]:
    """Yield a run as it is and in the next sizes."""
    yield run
    area = part_fact(run, "area")
    if isinstance(area, Figure):
        for row in islice(sizes_over(plant, area.value), 4):
            yield run.model_copy(update={"area": row.area})


def _new_fuse(scene: Scene, run: Run, rating: Figure, rated: tuple[Figure, Figure]) -> Remedy:
    plant, (volts, breaks) = scene.plant, rated
    ident = fresh_id(plant, "fuse-main")
    part: dict[str, Any] = {
        "kind": "fuse",
        "current": "dc",
        "rating": rating.value,
        "voltage": volts.value,
        "interrupting": breaks.value,
        "poles": 1 if plant.site.earthing.dc in {"negative", "positive"} else 2,
        "protects": "bank",
        "of": plant.bank.id,
        "distance": min(0.3, plant.rule("main_protection_distance").value),
    }
    changes = [Change(f"protection[{ident}]", part), Change(f"{run.where}.protection", ident)]
    text = (
        f"a main fuse of {rating.value:g} A at the post, {shown(scene, volts)} dc, that breaks "
        f"{shown(scene, breaks)}"
    )
    if run not in plant.site.runs and isinstance(run.area, float):
        changes.append(Change(f"{run.where}.area", run.area))
        text += f", with {run.label} in {size_name(plant, run.area)}"
    return Remedy(text, passes=rating, change=tuple(changes))


# distance


def _distance(scene: Scene, guard: Protection) -> Iterator[Found]:
    distance, most = part_fact(guard, "distance"), scene.plant.rule("main_protection_distance")
    missing = gap("main-protection-distance", (guard.id,), distance)
    if missing is not None:
        yield missing
    if not isinstance(distance, Figure) or distance.value <= most.value + 1e-9:
        return
    text = (
        f"{shown(scene, distance, beside=most)} of cable between the {_post(guard)} and {guard.label} are "
        "unprotected, "
        f"at most {shown(scene, most, beside=distance)} may be"
    )
    remedy = Remedy(
        f"{guard.label} within {shown(scene, most, beside=distance)} of the post",
        passes=most,
        change=(Change(f"{guard.where}.distance", most.value),),
    )
    finding = Finding("correct", "main-protection-distance", (guard.id,), text, value=distance, limit=most)
    yield Found(finding, (remedy,))


def _post(guard: Protection) -> str:
    return f"post of {guard.of}" if guard.protects == "string" and guard.of else "bank's post"


# voltage


@once
def greatest_bank_voltage(plant: Plant) -> Quantity:
    """Return the most that the bank can stand at its posts while it charges, in V.

    The ceiling of its cells: of lead and nickel it moves with the coefficient down to the temperature at
    which compensation stops, of lithium it is absolute.
    """
    ceiling, name = plant.cell("ceiling_voltage"), "greatest voltage of the bank"
    if plant.battery.family == "lithium":
        return bank_voltage.of(name, cells=cells(plant), cell_voltage=ceiling)
    low, high = plant.cell("temperature_clamp_low"), plant.cell("temperature_clamp_high")
    coldest = fact(plant.site.site, "coldest_battery", "site")
    cold = clamped_temperature.of(
        "coldest battery that raises the voltage",
        temperature=coldest if isinstance(coldest, Figure) else low,
        low=low,
        high=high,
    )
    return compensated_voltage.of(
        name,
        cells=cells(plant),
        reference=ceiling,
        slope=plant.cell("temperature_slope"),
        temperature=cold,
        temperature_reference=plant.voltage_reference("ceiling_voltage"),
    )


def _voltage(scene: Scene, guard: Protection) -> Iterator[Found]:
    rated = asked(part_fact(guard, "voltage"), f"rated dc voltage of {guard.label}")
    reached = greatest_bank_voltage(scene.plant)
    missing = gap(_VOLTAGE, (guard.id,), rated, reached)
    if missing is not None:
        yield missing
    if not isinstance(rated, Figure) or not isinstance(reached, Figure):
        return
    if rated.value >= reached.value - 1e-9:
        return
    text = (
        f"{guard.label} is rated {shown(scene, rated, beside=reached)}, the bank may stand at "
        f"{shown(scene, reached, 1, beside=rated)}: "
        "over its voltage it does not break a fault"
    )
    finding = Finding(
        "stop",
        _VOLTAGE,
        (guard.id,),
        text,
        f"a device rated {shown(scene, reached, 1, beside=rated)} dc or more",
        value=reached,
        limit=rated,
        releasable=False,
    )
    yield Found(finding, Later(_rated(scene, guard, reached)))


def _rated(scene: Scene, guard: Protection, reached: Figure) -> Iterator[Remedy]:
    for rated in islice(device_voltages_from(scene.plant, reached.value), 2):
        yield Remedy(
            f"{guard.label} rated {shown(scene, rated)} dc",
            passes=rated,
            change=(Change(f"{guard.where}.voltage", rated.value),),
        )
