"""AC-coupled PV on each leg, against the inverters that must take it back when the loads go off."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from commission.design.compared import over
from commission.design.coupled_units import limited, power_of, pv_legs, units_beside
from commission.design.inverter_supplies import unit_legs
from commission.design.output_load import output_for_long
from commission.design.types import Found, Scene
from commission.design.words import gap, shown
from commission.figure import Figure, Gap, Quantity, Unknown, given
from commission.formulas.bands import share_of
from commission.formulas.load_control import sum_of_powers
from commission.plant.site import AcPvInverter, InverterCharger
from commission.sheet.known import not_checked
from commission.sheet.types import Finding


def check_coupled_legs(scene: Scene) -> Iterator[Found]:
    """Find a leg on which PV gives more than its inverters can take back when the loads go off."""
    plant = scene.plant
    if not plant.site.inverter_chargers:
        return
    supplies: dict[tuple[str, ...], list[AcPvInverter]] = {}
    for pv in plant.site.ac_pv_inverters:
        supplies.setdefault(tuple(unit.id for unit in units_beside(plant, pv)), []).append(pv)
    for feeding in supplies.values():
        yield from _supply(scene, feeding, units_beside(plant, feeding[0]))


def _supply(
    scene: Scene, feeding: Sequence[AcPvInverter], units: Sequence[InverterCharger]
) -> Iterator[Found]:
    plant = scene.plant
    untold = [Gap(f"leg of {pv.label}", f"{pv.where}.leg") for pv in feeding if not pv_legs(plant, pv)]
    untold += [
        Gap(f"group leg of {unit.label}", f"{unit.where}.group_leg")
        for unit in units
        if not unit_legs(plant, unit)
    ]
    if untold:
        yield Found(not_checked("pv-over-inverters", tuple(pv.id for pv in feeding), untold))
        return
    worst: dict[tuple[str, ...], tuple[float, Found]] = {}
    for leg in sorted({leg for pv in feeding for leg in pv_legs(plant, pv)}):
        here = [pv for pv in feeding if leg in pv_legs(plant, pv)]
        found = _leg(scene, leg, here, [unit for unit in units if leg in unit_legs(plant, unit)])
        if found is not None:
            parts = found[1].finding.parts
            worst[parts] = max((worst.get(parts, found), found), key=_badness)
    yield from (found for _, found in worst.values())


def _badness(found: tuple[float, Found]) -> float:
    return found[0]


def _leg(
    scene: Scene, leg: str, feeding: Sequence[AcPvInverter], holding: Sequence[InverterCharger]
) -> tuple[float, Found] | None:
    plant = scene.plant
    parts = tuple(pv.id for pv in feeding)
    power = sum_of_powers.of(
        f"AC-coupled PV on leg {leg}",
        powers=[_on_one_leg(power_of(plant, pv), len(pv_legs(plant, pv))) for pv in feeding],
    )
    nameplate = sum_of_powers.of(
        f"inverters on leg {leg} by their nameplates",
        powers=[
            _on_one_leg(plant.rating(unit, "continuous_power"), len(unit_legs(plant, unit)))
            for unit in holding
        ],
    )
    ratings = [output_for_long(plant, unit, leg) for unit in holding]
    rating = sum_of_powers.of(f"inverters on leg {leg} in their room", powers=ratings)
    if isinstance(rating, Unknown) and over(power, nameplate):
        rating = nameplate  # too much already, whatever heat and altitude leave
    missing = gap("pv-over-inverters", parts, power, rating)
    if missing is not None:
        return math.inf, missing
    assert isinstance(power, Figure) and isinstance(rating, Figure)  # noqa: S101, PT018 - gaps left above
    if power.value > rating.value + 1e-6:
        return math.inf, _over(scene, leg, feeding, power, rating)
    known = [one for one in ratings if isinstance(one, Figure)]
    if len(known) < 2:
        return None  # where the only inverter of a leg is out, the leg is dead and the PV with it
    left = sum_of_powers.of(
        f"inverters on leg {leg} with the largest out", powers=sorted(known, key=_value)[:-1]
    )
    if not isinstance(left, Figure) or power.value <= left.value + 1e-6:
        return None
    return power.value / left.value, _over_the_rest(scene, leg, feeding, power, left)


def _value(figure: Figure) -> float:
    return figure.value


def _on_one_leg(power: Quantity, legs: int) -> Quantity:
    if legs == 1:
        return power
    part = given(1.0 / legs, "1", "part on one leg", source="it loads its legs alike")
    return share_of.of(f"{power.name}, one leg", value=power, share=part).in_unit(power.unit)


def _over(scene: Scene, leg: str, feeding: Sequence[AcPvInverter], power: Figure, rating: Figure) -> Found:
    names = ", ".join(pv.label for pv in feeding)
    text = (
        f"{names} can give {shown(scene, power, beside=rating)} on leg {leg}, its inverters take "
        f"{shown(scene, rating, beside=power)} in "
        "their room: "
        "when the loads go off all of it flows back through them"
        if rating.value > 0
        else f"{names} feeds leg {leg}, and no inverter makes that leg: nothing holds its voltage"
    )
    finding = Finding(
        "correct", "pv-over-inverters", tuple(pv.id for pv in feeding), text, value=power, limit=rating
    )
    remedy = limited(scene.plant, feeding, rating, power)
    return Found(finding, () if remedy is None else (remedy,))


def _over_the_rest(
    scene: Scene, leg: str, feeding: Sequence[AcPvInverter], power: Figure, left: Figure
) -> Found:
    names = ", ".join(pv.label for pv in feeding)
    text = (
        f"with the largest inverter of leg {leg} out, {names} can give {shown(scene, power, beside=left)} "
        "against "
        f"{shown(scene, left, beside=power)} of inverters: all of them then trip and return together"
    )
    finding = Finding(
        "advise", "pv-over-one-fewer", tuple(pv.id for pv in feeding), text, value=power, limit=left
    )
    remedy = limited(scene.plant, feeding, left, power)
    return Found(finding, () if remedy is None else (remedy,))
