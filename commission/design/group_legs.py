"""The legs and phases of a group: none missing, none that cannot run with the others, all alike."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from commission.design.inverter_supplies import Supply, unit_legs
from commission.design.types import Found, Later, Remedy, Scene
from commission.design.words import gap, shown
from commission.figure import Figure, given
from commission.plant.change import Change
from commission.plant.plant import Plant
from commission.sheet.types import Finding


def check_three_phase(scene: Scene, supply: Supply) -> Iterator[Found]:
    """Find units of two opposed legs in a group of three phases."""
    plant = scene.plant
    two = [unit for unit in supply.units if len(unit_legs(plant, unit)) == 2]
    if not two or "3" not in supply.legs:
        return
    names = ", ".join(unit.label for unit in two)
    text = (
        f"{names} {'makes' if len(two) == 1 else 'make'} two legs in opposition (180°), the group "
        "three phases (120°): they are never in step"
    )
    remedy = "units of one leg for the phases, or no unit on leg 3"
    yield Found(Finding("stop", "two-legs-in-three-phase", supply.ids, text, remedy))


def check_missing_legs(scene: Scene, supply: Supply) -> Iterator[Found]:
    """Find a supply that has a leg of several and lacks one before it, or the third of three phases."""
    plant = scene.plant
    wanted = _legs_wanted(plant, supply)
    missing = [leg for leg in wanted if leg not in supply.legs]
    if not missing or not supply.legs or (len(supply.units) == 1 and len(supply.legs) == 1):
        return
    text = f"{supply.names} feed leg {' and '.join(supply.legs)}; nothing feeds leg {' and '.join(missing)}"
    finding = Finding("correct", "legs-missing", supply.ids, text, f"a unit on leg {' and '.join(missing)}")
    yield Found(finding, Later(_moved(plant, supply, missing[0])))


def _legs_wanted(plant: Plant, supply: Supply) -> tuple[str, ...]:
    if "3" in supply.legs or on_three_phases(plant, supply):
        return ("1", "2", "3")
    return ("1", "2") if "2" in supply.legs else ("1",)


def on_three_phases(plant: Plant, supply: Supply) -> bool:
    """Whether a group of single legs stands on a three-phase source."""
    if len(supply.units) < 2 or len(supply.legs) < 2:
        return False
    fed = {ident for unit in supply.units for ident in unit.inputs.values()}
    sets = [one for one in plant.site.generators if one.id in fed]
    utility = plant.site.utility
    return any(plant.generator_class(one).connection == "three" for one in sets) or (
        utility is not None and utility.id in fed and utility.connection == "three"
    )


def _moved(plant: Plant, supply: Supply, leg: str) -> Iterator[Remedy]:
    """Yield units that could feed the missing leg: those that are not the only one on theirs, then any."""
    counts = Counter(one for unit in supply.units for one in unit_legs(plant, unit))
    single = [unit for unit in supply.units if len(unit_legs(plant, unit)) == 1]
    single.sort(key=lambda unit: -counts[unit_legs(plant, unit)[0]])
    for unit in single[-1:] if len(single) == 2 else single[:2]:
        yield Remedy(f"{unit.label} on leg {leg}", change=(Change(f"{unit.where}.group_leg", leg),))


def check_unequal_legs(scene: Scene, supply: Supply) -> Iterator[Found]:
    """Find legs that are fed by unequal powers: the weakest sets what a balanced load may be."""
    plant = scene.plant
    if len(supply.legs) < 2 or set(_legs_wanted(plant, supply)) - set(supply.legs):
        return
    missing = gap(
        "legs-unequal", supply.ids, *(plant.rating(unit, "continuous_power") for unit in supply.units)
    )
    if missing is not None:
        yield missing
        return
    powers = {leg: _power(plant, supply, leg) for leg in supply.legs}
    least_leg = min(powers, key=lambda leg: powers[leg])
    most_leg = max(powers, key=lambda leg: powers[leg])
    if powers[most_leg] <= powers[least_leg] * 1.01 or powers[least_leg] <= 0:
        return
    value = given(
        powers[least_leg], "VA", f"inverters on leg {least_leg}", kind="site", where="inverter_chargers"
    )
    limit = given(
        powers[most_leg], "VA", f"inverters on leg {most_leg}", kind="site", where="inverter_chargers"
    )
    text = (
        f"leg {least_leg} has {shown(scene, value, beside=limit)} of inverters, leg {most_leg} "
        f"{shown(scene, limit, beside=value)}: "
        "loads on all legs are held to the weakest"
    )
    remedy = f"{shown(scene, limit, beside=value)} of inverters on each leg, where loads on all legs need it"
    yield Found(Finding("advise", "legs-unequal", supply.ids, text, remedy, value=value, limit=limit))


def _power(plant: Plant, supply: Supply, leg: str) -> float:
    total = 0.0
    for unit in supply.units:
        legs, rating = unit_legs(plant, unit), plant.rating(unit, "continuous_power")
        if leg in legs and isinstance(rating, Figure):
            total += rating.value / len(legs)
    return total
