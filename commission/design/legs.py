"""Loads on the legs and phases of a supply: that each has its legs, and that the legs are loaded alike."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from commission.design.inverter_supplies import Supply, load_legs, loads_on, supplies_of, unit_legs
from commission.design.output_load import on_leg, output_for_long, together
from commission.design.types import Found, Remedy, Scene
from commission.design.words import gap, shown
from commission.errors import FormulaError
from commission.figure import Figure, Gap, Quantity, Unknown, given
from commission.formulas.inverters import phase_imbalance
from commission.formulas.load_control import current_of_power, sum_of_powers
from commission.formulas.split_phase import neutral_current
from commission.plant.change import Change
from commission.plant.plant import Plant, part_fact
from commission.plant.site import Load
from commission.plant.values import UNKNOWN
from commission.sheet.types import Finding, Kind

_NO_MATTER: Final = 0.10
"""Share of a leg's output under which its load is so small that no imbalance matters; common practice."""
_OPPOSED: Final = given(
    180.0, "°", "angle between the currents of the two legs", source="split phase, like loads"
)


def check_legs(scene: Scene) -> Iterator[Found]:
    """Find loads on legs that nothing feeds, and legs that are loaded too unlike."""
    for supply in supplies_of(scene.plant):
        yield from _without_leg(scene, supply)
        yield from _imbalance(scene, supply)


# loads without their legs


def _without_leg(scene: Scene, supply: Supply) -> Iterator[Found]:
    if not supply.legs:  # the settings ask for the legs of the units
        return
    for load in loads_on(scene.plant, supply):
        if load.leg == UNKNOWN:
            missing = gap(
                "load-leg", (load.id,), Unknown((Gap(f"leg of {load.label}", f"{load.where}.leg"),))
            )
            if missing is not None:
                yield missing
            continue
        lacking = [leg for leg in load_legs(load) if leg not in supply.legs]
        if lacking:
            yield _no_leg(scene.plant, supply, load, lacking)


def _no_leg(plant: Plant, supply: Supply, load: Load, lacking: list[str]) -> Found:
    verb = "feeds" if len(supply.units) == 1 else "feed"
    fed = f"{supply.names} {verb} leg {' and '.join(supply.legs)}"
    which = " and ".join(lacking)
    if load.leg == "both":
        text = f"{load.label} needs both legs; {fed}, and nothing feeds leg {which}"
        remedy = "a unit on the second leg, or a transformer made for it, or a load for one leg"
    elif load.leg == "all":
        text = f"{load.label} needs three phases; {fed}, and nothing feeds phase {which}"
        remedy = "a unit on each phase, or a load for one phase"
    else:
        text = f"{load.label} hangs on leg {which}, which nothing feeds; {fed}"
        remedy = f"{load.label} on a leg that is fed"
    finding = Finding("correct", "load-leg", (load.id,), text, remedy)
    moves: tuple[Remedy, ...] = ()
    if load.leg not in {"both", "all"}:
        moves = tuple(
            Remedy(f"{load.label} on leg {leg}", change=(Change(f"{load.where}.leg", leg),))
            for leg in supply.legs
        )
    return Found(finding, moves)


# imbalance


def leg_powers(plant: Plant, supply: Supply, moved: dict[str, str] | None = None) -> dict[str, Quantity]:
    """Return the power of all loads on each leg, in W; ``moved`` puts single-leg loads on another leg."""
    found = {}
    for leg in supply.legs:
        parts = [
            on_leg(load, leg, part_fact(load, "power"))
            for load in loads_on(plant, supply)
            if leg in _legs_of(load, moved)
        ]
        found[leg] = sum_of_powers.of(f"loads on leg {leg}", powers=parts)
    return found


def _legs_of(load: Load, moved: dict[str, str] | None) -> tuple[str, ...]:
    if moved and load.id in moved:
        return (moved[load.id],)
    return load_legs(load)


def _imbalance(scene: Scene, supply: Supply) -> Iterator[Found]:
    if len(supply.legs) < 2:
        return
    plant = scene.plant
    powers = leg_powers(plant, supply)
    missing = gap("leg-imbalance", supply.ids, *powers.values())
    if missing is not None:
        yield missing
        return
    watts = {leg: power.value for leg, power in powers.items() if isinstance(power, Figure)}
    fuller = max(watts, key=lambda leg: watts[leg])
    if watts[fuller] <= 0 or _small(plant, supply, fuller, watts[fuller]):
        return
    value = phase_imbalance.of("imbalance of the legs", loads=list(powers.values()))
    found = _judged(plant, value)
    if found is None or not isinstance(value, Figure):
        return
    kind, limit = found
    yield Found(
        Finding(
            kind,
            "leg-imbalance" if kind == "correct" else "legs-uneven",
            supply.ids,
            _text(scene, supply, powers, value, limit),
            "loads spread over the legs until they differ less",
            value=value,
            limit=limit,
        ),
        tuple(_moves(scene, supply, limit)),
    )


def _small(plant: Plant, supply: Supply, leg: str, watts: float) -> bool:
    units = [unit for unit in supply.units if leg in unit_legs(plant, unit)]
    output = together(f"output of leg {leg}", [output_for_long(plant, unit, leg) for unit in units])
    return isinstance(output, Figure) and watts <= _NO_MATTER * output.value


def _judged(plant: Plant, value: Quantity) -> tuple[Kind, Figure] | None:
    """Return whether an imbalance is mended or told, and the limit it passes; None where it is neither."""
    mended = plant.rule("leg_imbalance")
    low = plant.rules.leg_imbalance.low
    told = mended if low is None else given(
        low, "1", "leg imbalance, told", kind="rules", where=f"{plant.rules.id}.leg_imbalance.low",
        source=plant.rules.leg_imbalance.source,
    )  # fmt: skip
    if not isinstance(value, Figure):
        return None
    if value.value > mended.value + 1e-9:
        return "correct", mended
    return ("advise", told) if value.value > told.value + 1e-9 else None


def _text(scene: Scene, supply: Supply, powers: dict[str, Quantity], value: Figure, limit: Figure) -> str:
    told = ", ".join(
        f"leg {leg} {shown(scene, power)}" for leg, power in powers.items() if isinstance(power, Figure)
    )
    text = f"{told}: {value.value:.0%} off their mean, {limit.value:.0%} at most"
    neutral = _neutral(scene.plant, supply, powers)
    if neutral is not None:
        text += f"; the neutral carries up to {shown(scene, neutral)}"
    return text


def _neutral(plant: Plant, supply: Supply, powers: dict[str, Quantity]) -> Figure | None:
    """Return the current in the neutral of a split phase with all loads on, in A."""
    if supply.legs != ("1", "2"):
        return None
    voltage = plant.rating(supply.units[0], "ac_voltage")
    first, second = (
        current_of_power.of(f"current of leg {leg}", power=powers[leg], voltage=voltage)
        for leg in supply.legs
    )
    found = neutral_current.of(
        "neutral current with all loads on", first=first, second=second, angle=_OPPOSED
    )
    return found if isinstance(found, Figure) else None


def _moves(scene: Scene, supply: Supply, limit: Figure) -> Iterator[Remedy]:
    """Yield moves of one load to another leg that bring the imbalance under the limit, the best first."""
    tried = []
    for load in loads_on(scene.plant, supply):
        if len(load_legs(load)) != 1:
            continue
        for leg in supply.legs:
            if leg == load.leg:
                continue
            after = _after(scene.plant, supply, {load.id: leg})
            if after is not None and after.value <= limit.value + 1e-9:
                tried.append((after, load, leg))
    for after, load, leg in sorted(tried, key=lambda one: one[0].value)[:4]:
        text = f"{load.label} on leg {leg} instead of leg {load.leg}: {after.value:.0%} off the mean then"
        yield Remedy(text, after.named("imbalance that passes"), (Change(f"{load.where}.leg", leg),))


def _after(plant: Plant, supply: Supply, moved: dict[str, str]) -> Figure | None:
    try:
        found = phase_imbalance.of(
            "imbalance after the move", loads=list(leg_powers(plant, supply, moved).values())
        )
    except FormulaError:
        return None
    return found if isinstance(found, Figure) else None
