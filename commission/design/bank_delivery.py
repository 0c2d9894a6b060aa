"""The bank against its inverters and loads: discharge current, and the voltage that is left at a load."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from commission.design.bank_remedies import less_load, more_strings, thicker_cables
from commission.design.currents import bank_low, inverter_low
from commission.design.inverter_supplies import loads_on, supplies_of
from commission.design.output_load import (
    direct_loads,
    expected_alternating,
    load_for_long,
    start_is_told,
    start_load,
    together,
)
from commission.design.types import Found, Remedy, Scene
from commission.design.words import gap, shown
from commission.figure import Figure, Quantity, Unknown, given, greatest, least
from commission.formulas.charging import scaled_current
from commission.formulas.inverters import bank_load
from commission.formulas.load_control import current_of_power, sum_of_powers
from commission.formulas.low_end import sagged_voltage
from commission.formulas.sizing import battery_load
from commission.formulas.voltage_drops import power_at_voltage
from commission.plant.plant import Plant, fact, part_fact
from commission.plant.site import InverterCharger
from commission.sheet.bank_state import attempted, resistance_up_to, rested
from commission.sheet.discharge import discharge_by_cells, discharge_by_management
from commission.sheet.states import states_of
from commission.sheet.types import Finding, Kind

_HALF = given(
    0.5, "1", "half of the rested voltage: under it less power comes, not more", source="V² − E·V + P·R = 0"
)
_SLACK = 1e-6


@dataclass(frozen=True, slots=True)
class _Draw:
    """What is drawn from the bank: for long or at a start, as it is expected or as much as inverters can."""

    expected: Quantity
    most: Quantity
    word: str


def check_bank_delivery(scene: Scene) -> Iterator[Found]:
    """Find a bank that does not give the current or the voltage that its loads and inverters ask for."""
    plant = scene.plant
    inverters = plant.site.inverter_chargers
    if not inverters and not any(load.current == "dc" for load in plant.site.loads):
        return
    long = _Draw(_expected(plant), _rated(plant), "for long")
    yield from _current(scene, long)
    if not inverters:
        return
    start = _Draw(_largest_start(plant), _surge(plant), "at a start")
    yield from _management_at_start(scene, start)
    worst = _worst_place(plant)
    if isinstance(worst.most, Unknown):
        yield from _asked("bank-sag", (plant.bank.id,), worst.most)
        return
    yield from _sag(scene, worst, long, "bank-sag")
    yield from _sag(scene, worst, start, "bank-sag-at-start")


# what is drawn


def _efficiency(plant: Plant) -> Quantity:
    inverters = plant.site.inverter_chargers
    if not inverters:
        return given(1.0, "1", "no inverter between bank and loads", source="DC loads only")
    found = [plant.rating(one, "inverter_efficiency") for one in inverters]
    return least("least efficiency of the inverters", *found)


def _expected(plant: Plant) -> Quantity:
    """Return the power out of the bank at the load that is expected, or that runs day and night, in W."""
    loads = [load for load in plant.site.loads if load.current == "ac" and load.continuous]
    always = sum_of_powers.of(
        "AC loads that run day and night", powers=[part_fact(load, "power") for load in loads]
    )
    if not plant.site.inverter_chargers:
        return _direct_only(plant)
    told = expected_alternating(plant)
    alternating: Quantity
    if isinstance(told, Unknown) and loads:
        alternating = always
    else:
        alternating = greatest("AC load for long", told, always) if loads else told
    return bank_load.of(
        "power out of the bank at the load for long",
        alternating=alternating,
        efficiency=_efficiency(plant),
        direct=direct_loads(plant),
    )


def _direct_only(plant: Plant) -> Quantity:
    told, always = fact(plant.site.expected, "load", "expected"), direct_loads(plant)
    if isinstance(told, Figure) and isinstance(always, Figure):
        return greatest("DC load for long", told, always)
    return told if isinstance(told, Figure) or not isinstance(always, Figure) else always


def _rated(plant: Plant) -> Quantity:
    """Return the most that inverters at their ratings and DC loads draw for long, in W."""
    powers = [
        battery_load.of(
            f"power that {one.label} draws at its rating",
            power=plant.rating(one, "continuous_power"),
            efficiency=plant.rating(one, "inverter_efficiency"),
        )
        for one in plant.site.inverter_chargers
    ]
    if not powers:
        loads = [load for load in plant.site.loads if load.current == "dc"]
        return sum_of_powers.of("all DC loads together", powers=[part_fact(load, "power") for load in loads])
    return sum_of_powers.of(
        "power out of the bank at the inverters' ratings", powers=[*powers, direct_loads(plant)]
    )


def _surge(plant: Plant) -> Quantity:
    """Return the most that inverters draw for seconds, in W."""
    powers = [
        battery_load.of(
            f"power that {one.label} draws at its surge rating",
            power=plant.rating(one, "surge_power"),
            efficiency=plant.rating(one, "inverter_efficiency"),
        )
        for one in plant.site.inverter_chargers
    ]
    return sum_of_powers.of(
        "power out of the bank at the inverters' surge", powers=[*powers, direct_loads(plant)]
    )


def _largest_start(plant: Plant) -> Quantity:
    """Return the power out of the bank while the largest load starts beside what runs, in W."""
    supplies = supplies_of(plant)
    starts = [
        together(
            f"{load.label} starts",
            [
                start_load(plant, supply, load),
                *(load_for_long(plant, other) for other in supplies if other is not supply),
            ],
        )
        for supply in supplies
        for load in loads_on(plant, supply)
        if start_is_told(load)
    ]
    if not starts:
        return Unknown(("starting power of the loads",), "W", "largest start")
    known = [item for item in starts if isinstance(item, Figure)]
    return bank_load.of(
        "power out of the bank at the largest start",
        alternating=greatest("largest start", *known) if known else starts[0],
        efficiency=_efficiency(plant),
        direct=direct_loads(plant),
    )


# current


def _lowest(plant: Plant) -> Quantity:
    """Return the lowest voltage at which the load still runs, where its current is greatest, in V."""
    inverters = plant.site.inverter_chargers
    if not inverters:
        return bank_low(plant)
    return least("lowest voltage under load", *(inverter_low(plant, one) for one in inverters))


def _limit(plant: Plant) -> Quantity:
    """Return what the bank gives for long: its cells, and the management of its packs, in A."""
    return least("discharge limit of the bank", discharge_by_cells(plant), *discharge_by_management(plant))


def _amperes(plant: Plant, power: Quantity) -> Quantity:
    name = (
        power.name.replace("power", "current", 1)
        if power.name.startswith("power")
        else f"current, {power.name}"
    )
    return current_of_power.of(name, power=power, voltage=_lowest(plant))


def _current(scene: Scene, draw: _Draw) -> Iterator[Found]:
    plant = scene.plant
    limit = _limit(plant)
    expected, most = _amperes(plant, draw.expected), _amperes(plant, draw.most)
    if _within(most, limit):
        return
    if _over(expected, limit):
        yield _too_much(scene, draw.expected, expected, limit)
    elif isinstance(expected, Unknown) or isinstance(limit, Unknown):
        yield from _asked("bank-discharge", (plant.bank.id,), expected, limit)
    elif _over(most, limit):
        yield _too_much_at_rating(scene, most, limit)
    else:
        yield from _asked("bank-discharge", (plant.bank.id,), most)


def _within(value: Quantity, limit: Quantity) -> bool:
    return isinstance(value, Figure) and isinstance(limit, Figure) and value.value <= limit.value + _SLACK


def _over(value: Quantity, limit: Quantity) -> bool:
    return isinstance(value, Figure) and isinstance(limit, Figure) and value.value > limit.value + _SLACK


def _asked(check: str, parts: tuple[str, ...], *quantities: Quantity) -> Iterator[Found]:
    found = gap(check, parts, *quantities)
    if found is not None:
        yield found


def _too_much(scene: Scene, power: Quantity, current: Quantity, limit: Quantity) -> Found:
    assert isinstance(current, Figure) and isinstance(limit, Figure)  # noqa: S101, PT018 - compared before
    watts = f" ({shown(scene, power)})" if isinstance(power, Figure) else ""
    text = (
        f"the load that runs for long{watts} draws {shown(scene, current)} near the end of discharge; "
        f"the bank gives {shown(scene, limit)} for long ({limit.binding().name})"
    )
    finding = Finding("correct", "bank-discharge", (scene.plant.bank.id,), text, value=current, limit=limit)
    ratio = current.value / limit.value if limit.value > 0 else 1e9
    return Found(finding, (*more_strings(scene, ratio), *less_load(scene, ratio)))


def _too_much_at_rating(scene: Scene, current: Quantity, limit: Quantity) -> Found:
    assert isinstance(current, Figure) and isinstance(limit, Figure)  # noqa: S101, PT018 - compared before
    plant = scene.plant
    by_management = [one.name for one in discharge_by_management(plant)]
    opens = limit.binding().name in by_management or any(one in limit.binding().name for one in by_management)
    kind: Kind = "correct" if opens else "advise"
    cost = "past it the packs open and the site goes dark" if opens else "past it the cells age early"
    what = "the inverters at their ratings" if plant.site.inverter_chargers else "all DC loads together"
    text = (
        f"{what} can draw {shown(scene, current)} near the end of discharge; the bank gives "
        f"{shown(scene, limit)} for long ({limit.binding().name}): {cost}"
    )
    finding = Finding(
        kind, "bank-discharge", (plant.bank.id,), text, _hold(scene, limit), value=current, limit=limit
    )
    ratio = current.value / limit.value if limit.value > 0 else 1e9
    return Found(finding, tuple(more_strings(scene, ratio)))


def _hold(scene: Scene, limit: Figure) -> str:
    volts = _lowest(scene.plant)
    efficiency = _efficiency(scene.plant)
    if not isinstance(volts, Figure) or not isinstance(efficiency, Figure):
        return "a load that stays within it"
    watts = given(limit.value * volts.value * efficiency.value, "W", "load that passes")
    return f"loads that together stay under {shown(scene, watts)}, or a larger bank"


def _management_at_start(scene: Scene, draw: _Draw) -> Iterator[Found]:
    """Find a start whose current is over the management's limit, which may open the packs."""
    plant = scene.plant
    limits = discharge_by_management(plant)
    if not limits:
        return
    limit = least("limit of the management", *limits)
    current, most = _amperes(plant, draw.expected), _amperes(plant, draw.most)
    if _within(most, limit) or not _over(current, limit):
        return
    assert isinstance(current, Figure) and isinstance(limit, Figure)  # noqa: S101, PT018 - compared before
    text = (
        f"the largest start draws {shown(scene, current)}; the management of the packs allows "
        f"{shown(scene, limit)} for long, and opens if it allows no more for seconds"
    )
    ratio = current.value / limit.value if limit.value > 0 else 1e9
    finding = Finding(
        "advise",
        "management-at-start",
        (plant.bank.id,),
        text,
        "the management's limit for seconds, by its maker, over this current; else a softer start",
        value=current,
        limit=limit,
    )
    yield Found(finding, tuple(more_strings(scene, ratio)))


# voltage


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


def _sag(scene: Scene, place: _Place, draw: _Draw, check: str) -> Iterator[Found]:
    plant = scene.plant
    if _within(draw.most, place.most):
        return
    if _over(draw.expected, place.most):
        yield _sags(scene, place, draw.expected, check, "correct")
    elif isinstance(draw.expected, Unknown):
        yield from _asked(check, (plant.bank.id,), draw.expected)
    elif _over(draw.most, place.most):
        yield _sags(scene, place, draw.most, check, "advise")
    else:
        yield from _asked(check, (plant.bank.id,), draw.most)


def _sags(scene: Scene, place: _Place, power: Quantity, check: str, kind: Kind) -> Found:
    most, cut_off = place.most, place.cut_off
    assert isinstance(power, Figure) and isinstance(most, Figure)  # noqa: S101, PT018 - compared before
    assert isinstance(cut_off, Figure)  # noqa: S101 - the power before it is known
    text = (
        f"{_what(check, kind)} takes {shown(scene, power)} from the bank; at its usual depth "
        f"{_falls(scene, place, power)}; {place.unit.label} stops at {shown(scene, cut_off)}, with "
        f"{shown(scene, most)}{_by_usual(scene.plant)}"
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
    remedies: list[Remedy] = [*thicker_cables(scene, place.unit), *more_strings(scene, ratio)]
    if kind == "correct" and check == "bank-sag":
        remedies += less_load(scene, ratio)
    return Found(finding, tuple(remedies))


def _what(check: str, kind: str) -> str:
    if kind == "correct":
        return "the load that runs for long" if check == "bank-sag" else "the largest start"
    return "an inverter load at full rating" if check == "bank-sag" else "the full surge of the inverters"


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
    if kind == "correct":
        return f"loads that together take less than {shown(scene, most)} from the bank"
    return f"loads that together take less than {shown(scene, most)} from the bank, as they are expected to"
