"""The voltage that is left at the inverters under load and at a start, against their cut-off."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from commission.design.bank_draws import long_power, rated_power, start_power, surge_power, untold_starts
from commission.design.bank_remedies import less_load, more_strings, thicker_cables
from commission.design.compared import asked, over, within
from commission.design.types import Found, Remedy, Scene
from commission.design.words import shown
from commission.figure import Figure, Quantity, Unknown, given, greatest
from commission.formulas.charging import scaled_current
from commission.formulas.low_end import sagged_voltage
from commission.formulas.voltage_drops import power_at_voltage
from commission.plant.plant import Plant, fact
from commission.plant.site import InverterCharger
from commission.sheet.bank_state import attempted, resistance_up_to, rested
from commission.sheet.states import states_of
from commission.sheet.types import Finding, Kind

_HALF: Final = given(
    0.5, "1", "half of the rested voltage: under it less power comes, not more", source="V² − E·V + P·R = 0"
)


def check_bank_sag(scene: Scene) -> Iterator[Found]:
    """Find loads and starts that pull the voltage under the cut-off of an inverter."""
    plant = scene.plant
    if not plant.site.inverter_chargers:
        return
    worst = _worst_place(plant)
    if isinstance(worst.most, Unknown):
        yield from asked("bank-sag", (plant.bank.id,), worst.most)
        return
    yield from _for_long(scene, worst)
    yield from _at_start(scene, worst)


@dataclass(frozen=True, slots=True)
class _Place:
    """The inverter that stops first as the voltage falls, and what can be drawn before it does."""

    unit: InverterCharger
    rest: Quantity
    cut_off: Quantity
    resistance: Quantity
    most: Quantity
    """W out of the bank, of all loads together, before its cut-off."""


def _worst_place(plant: Plant) -> _Place:
    places = [_place(plant, unit) for unit in plant.site.inverter_chargers]
    known = [place for place in places if isinstance(place.most, Figure)]
    unknown = [place for place in places if place not in known]
    if unknown:
        return unknown[0]
    return min(known, key=lambda place: place.most.value if isinstance(place.most, Figure) else 0.0)


def _place(plant: Plant, unit: InverterCharger) -> _Place:
    rest = rested(plant, states_of(plant).start)
    cut_off = plant.rating(unit, "low_cut_off")
    resistance = resistance_up_to(plant, unit)
    name = f"power before {unit.label} cuts off"
    floor = greatest(
        f"least voltage at {unit.label}",
        cut_off,
        scaled_current.of(_HALF.name, current=rest, count=_HALF).in_unit("V"),
    )
    if isinstance(floor, Figure) and isinstance(rest, Figure) and floor.value >= rest.value:
        most: Quantity = given(
            0.0, "W", f"{name}: its cut-off lies over the rested voltage", source="comparison"
        )
    else:
        most = attempted(
            lambda: power_at_voltage.of(name, rest_voltage=rest, least_voltage=floor, resistance=resistance),
            "W",
            name,
        )
    return _Place(unit, rest, cut_off, resistance, most)


def _for_long(scene: Scene, place: _Place) -> Iterator[Found]:
    plant, expected, most = scene.plant, long_power(scene.plant), rated_power(scene.plant)
    if within(most, place.most):
        return
    if over(expected, place.most):
        yield _sags(scene, place, expected, "bank-sag", "correct")
    elif isinstance(expected, Unknown):
        yield from asked("bank-sag", (plant.bank.id,), expected)
    elif over(most, place.most):
        yield _sags(scene, place, most, "bank-sag-at-rating", "advise")
    else:
        yield from asked("bank-sag", (plant.bank.id,), most)


def _at_start(scene: Scene, place: _Place) -> Iterator[Found]:
    plant, start, most = scene.plant, start_power(scene.plant), surge_power(scene.plant)
    if within(most, place.most):
        return
    if start is not None and over(start, place.most):
        yield _sags(scene, place, start, "bank-start", "correct")
        return
    open_ = [] if start is None else [start]
    open_ += [missing for power, missing in untold_starts(plant) if not within(power, place.most)]
    if any(isinstance(item, Unknown) for item in open_):
        yield from asked("bank-start", (plant.bank.id,), *open_)
    elif over(most, place.most):
        yield _sags(scene, place, most, "bank-start-at-rating", "advise")


def _sags(scene: Scene, place: _Place, power: Quantity, check: str, kind: Kind) -> Found:
    most, cut_off = place.most, place.cut_off
    assert isinstance(power, Figure) and isinstance(most, Figure)  # noqa: S101, PT018 - compared before
    assert isinstance(cut_off, Figure)  # noqa: S101 - the power before it is known
    text = (
        f"{_WHAT[check]} takes {shown(scene, power)} from the bank: {_falls(scene, place, power)} at its "
        f"usual depth; {place.unit.label} stops at {shown(scene, cut_off)}, {_reached(scene, most)}"
        f"{_by_usual(scene.plant)}"
    )
    finding = Finding(
        kind,
        check,
        (scene.plant.bank.id,),
        text,
        _words(scene, most, kind),
        value=power,
        limit=most,
    )
    ratio = power.value / most.value if most.value > 0 else 1e9
    remedies: list[Remedy] = [
        *thicker_cables(scene, place.unit, _ohmsover(place, ratio)),
        *more_strings(scene, ratio),
    ]
    if check == "bank-sag":
        remedies += less_load(scene, ratio)
    return Found(finding, tuple(remedies))


def _reached(scene: Scene, most: Figure) -> str:
    if most.value > 0:
        return f"reached with {shown(scene, most)}"
    return "over its voltage at rest: no load can be carried"


_WHAT: Final = {
    "bank-sag": "the load that runs for long",
    "bank-start": "the largest start",
    "bank-sag-at-rating": "an inverter load at full rating",
    "bank-start-at-rating": "the full surge of the inverters",
}


def _ohmsover(place: _Place, ratio: float) -> float:
    """Return by how many Ω the way to the inverter resists too much: the power goes with 1 over them."""
    resistance = place.resistance
    return resistance.value * (1.0 - 1.0 / ratio) if isinstance(resistance, Figure) else 0.0


def _falls(scene: Scene, place: _Place, power: Figure) -> str:
    left = sagged_voltage.of(
        "voltage left",
        rest_voltage=place.rest,
        resistance=place.resistance,
        power=power,
        efficiency=1.0,
    )
    return f"{shown(scene, left)} is left" if isinstance(left, Figure) else "the voltage collapses"


def _by_usual(plant: Plant) -> str:
    told = isinstance(fact(plant.bank, "resistance", "bank"), Figure)
    return "" if told else " (by the resistance usual for these cells; the first load step measures it)"


def _words(scene: Scene, most: Figure, kind: str) -> str:
    if most.value <= 0:
        return "a bank of the voltage that the inverter is made for: with this one no load can be carried"
    if kind == "correct":
        return f"loads that together take less than {shown(scene, most)} from the bank"
    return f"loads that together take less than {shown(scene, most)} from the bank, as they are expected to"
