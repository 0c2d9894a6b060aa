"""Prospective short-circuit currents of the bank: the greatest that a device breaks, the least it sees."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final, Literal, TypeAlias

from commission.design.fault_paths import FaultPaths, Hop
from commission.design.hot_cables import hot_resistance
from commission.figure import Figure, Gap, Quantity, Unknown, given, greatest
from commission.formulas.bank import bank_voltage
from commission.formulas.bank_wiring import parallel_resistance, resistance_beyond
from commission.formulas.fault_current import (
    fault_resistance,
    nominal_fault_voltage,
    short_circuit_current,
    told_fault_resistance,
)
from commission.formulas.low_end import bank_resistance
from commission.plant.once import once
from commission.plant.plant import Plant, fact, part_fact
from commission.plant.site import BatteryString, Protection, Run
from commission.sheet.bank_state import cells, rested, whole
from commission.sheet.cables import cable_resistance, shared_series
from commission.sheet.known import gaps

End: TypeAlias = Literal["least", "greatest"]
"""Which end of the range of a resistance that is only estimated."""

_ENDS: Final[tuple[End, End]] = ("greatest", "least")
_EMPTY: Final = given(0.0, "1", "state of charge of an empty bank", source="least voltage behind a fault")


@dataclass(frozen=True, slots=True)
class Level:
    """What a short circuit at a point drives, from the highest to the lowest resistance of the bank."""

    low: Quantity
    high: Quantity
    missing: tuple[str, ...] = ()
    """Cables that are not known: both currents are without them, and so too high."""


@once
def fault_voltage(plant: Plant) -> Quantity:
    """Return the voltage behind the greatest fault current, in V.

    Lead by the rule set; for lithium and nickel, of which the standards on stationary lead batteries do not
    speak, the full rested cell.
    """
    name = "voltage of the bank behind a fault"
    if plant.battery.family != "lead":
        full = given(1.0, "1", "state of charge of a full bank", source="greatest voltage behind a fault")
        return rested(plant, full).named(name)
    rule = plant.rule("fault_voltage")
    if plant.rules.fault_voltage_kind == "per lead cell":
        return bank_voltage.of(name, cells=cells(plant), cell_voltage=rule.in_unit("V"))
    return nominal_fault_voltage.of(name, factor=rule, nominal_voltage=whole(plant, "nominal_cell_voltage"))


def string_resistance(plant: Plant, string: BatteryString, end: End, *, settled: bool = False) -> Quantity:
    """Return the resistance of one string between its posts, in Ω.

    The maker's short-circuit current goes before his resistance, and both before what is usual for the
    chemistry. The rule set's share of the resistance counts for the greatest current, of every chemistry;
    ``settled`` takes the whole resistance.
    """
    name, share = f"resistance of {string.id}", plant.rule("fault_resistance_share")
    own_kind = string.profile is None or string.profile == plant.bank.profile
    current = fact(plant.bank, "short_circuit_current", "bank", "one string")
    if own_kind and isinstance(current, Figure):
        return told_fault_resistance.of(name, voltage=fault_voltage(plant), current=current)
    told = fact(plant.bank, "resistance", "bank", "one string")
    whole_one = told if own_kind and isinstance(told, Figure) else _usual(plant, string, end)
    if settled:
        return whole_one
    return fault_resistance.of(f"{name} in a fault", share=share, resistance=whole_one)


def _usual(plant: Plant, string: BatteryString, end: End) -> Quantity:
    """Return the resistance of a string by what is usual for its chemistry."""
    name = f"resistance of {string.id}, {end} that is usual"
    profile = plant.battery_of(string)
    if profile is None:
        return Unknown(
            (Gap(f"battery profile of {string.id}", f"bank.strings[{string.id}].profile"),), "Ω", name
        )
    own = plant if profile is plant.battery else plant.model_copy(update={"battery": profile})
    low, high = own.cell_range("resistance_capacity")
    told = fact(string, "capacity", f"bank.strings[{string.id}]", string.id)
    return bank_resistance.of(
        name,
        cells=cells(plant),
        resistance_capacity=(low if end == "least" else high) or own.cell("resistance_capacity"),
        capacity=told if isinstance(told, Figure) else fact(plant.bank, "capacity", "bank", "one string"),
        strings=1.0,
    )


# greatest current


def level_at(paths: FaultPaths, point: str | None, guard: Protection | None = None) -> Level:
    """Return what the whole bank drives into a short circuit at a point, cables at 20 °C without joints.

    A point that nothing tells is taken at the posts, where the current is greatest.
    """
    way = None if point is None else paths.hops.get(point)
    missing: tuple[str, ...] = ()
    if way is None:
        called = point if guard is None else guard.label
        missing = (Gap(f"conductor run between the bank and {called}", "runs"),)
    strings = paths.plant.bank.strings
    return _level(paths, strings, way or (), f"at {point or 'the posts'}", missing)


def level_of_string(paths: FaultPaths, string: str, guard: Protection) -> Level:
    """Return what the device of one string sees: its own string, or the others from the far end of its lead.

    The others come over their own leads and over what of this string's lead lies beyond the device: nothing
    where it stands at the panel.
    """
    strings = paths.plant.bank.strings
    alone = _level(paths, [one for one in strings if one.id == string], (), f"of {string} alone", leads=False)
    others = [one for one in strings if one.id != string]
    if not others:
        return alone
    back = _back(paths, others, string, guard)
    return Level(
        greatest(f"short-circuit current at {string}, least estimate", alone.low, back.low),
        greatest(f"short-circuit current at {string}, greatest estimate", alone.high, back.high),
        back.missing,
    )


def _back(paths: FaultPaths, others: Sequence[BatteryString], string: str, guard: Protection) -> Level:
    lead, where = paths.lead(string), f"into {string} from the other strings"
    if not lead:
        return _level(paths, others, (), where)
    length, distance = part_fact(lead[0], "length"), part_fact(guard, "distance")
    if isinstance(length, Figure) and isinstance(distance, Figure) and distance.value >= length.value:
        return _level(paths, others, (), where)
    beyond = resistance_beyond.of(
        f"lead of {string} beyond {guard.label}", resistance=_hop(lead), length=length, distance=distance
    )
    return _level(paths, others, (), where, beyond=beyond)


def _level(
    paths: FaultPaths,
    strings: Sequence[BatteryString],
    way: Iterable[Hop],
    where: str,
    missing: tuple[str, ...] = (),
    *,
    leads: bool = True,
    beyond: Quantity | None = None,
) -> Level:
    plant, hops = paths.plant, [_hop(hop) for hop in way]
    hops += [] if beyond is None else [beyond]
    known = [one for one in hops if isinstance(one, Figure)]
    found: list[Quantity] = []
    for end in _ENDS:
        behind = [(_with_leads if leads else _inside)(paths)[end][one.id] for one in strings]
        source = parallel_resistance.of(f"resistance of the bank {where}", resistances=behind)
        loop = shared_series(f"resistance of the loop {where}", source, list(known)) if known else source
        name = f"short-circuit current {where}"
        found.append(short_circuit_current.of(name, voltage=fault_voltage(plant), resistance=loop))
    lead_hops = [_leads(paths)[one.id] for one in strings if leads and one.id in _leads(paths)]
    unknown = gaps([*hops, *lead_hops])
    return Level(found[0], found[1], tuple(dict.fromkeys((*missing, *unknown))))


@once
def _leads(paths: FaultPaths) -> dict[str, Quantity]:
    """Return the cold resistance of each string's lead that the file has, in Ω."""
    return {one.id: _hop(lead) for one in paths.plant.bank.strings if (lead := paths.lead(one.id))}


@once
def _inside(paths: FaultPaths) -> dict[End, dict[str, Quantity]]:
    """Return the resistance of each string in a fault, in Ω, at either end of the estimate."""
    plant = paths.plant
    return {end: {one.id: string_resistance(plant, one, end) for one in plant.bank.strings} for end in _ENDS}


@once
def _with_leads(paths: FaultPaths) -> dict[End, dict[str, Quantity]]:
    """Return the resistance of each string in a fault with its lead, where that is known, in Ω."""
    return {
        end: {ident: _and_lead(paths, ident, inside) for ident, inside in each.items()}
        for end, each in _inside(paths).items()
    }


def _and_lead(paths: FaultPaths, string: str, inside: Quantity) -> Quantity:
    lead = _leads(paths).get(string)
    if not isinstance(lead, Figure):
        return inside
    return shared_series(f"resistance of {string} with its lead", inside, [lead])


def _hop(hop: Hop) -> Quantity:
    """Return the cold resistance of runs side by side, out and back."""
    return side_by_side([cable_resistance(run) for run in hop], hop)


def side_by_side(each: Sequence[Quantity], hop: Hop) -> Quantity:
    """Return the resistance of runs in parallel; a single one stays itself."""
    if len(each) == 1:
        return each[0]
    return parallel_resistance.of(" and ".join(run.label for run in hop), resistances=each)


# least current


def least_current(paths: FaultPaths, run: Run) -> Quantity:
    """Return the least current of a short circuit at the far end of a run, in A.

    The bank is empty, its resistance at the high end of the estimate, every cable as hot as its load
    makes it; joints and age, which nobody can tell beforehand, are left out. A string's lead is fed by its
    own string.
    """
    plant, points = paths.plant, paths.points
    strings = [one for one in plant.bank.strings if one.id in {run.from_, run.to}] or plant.bank.strings
    own_lead = points.of_string(run)
    near = paths.near(run)
    way: list[Hop] = [points.twins(run)]
    if not own_lead and near is not None:
        way = [*paths.hops[near], *way]
    settled = (_settled if own_lead else _settled_with_leads)(paths)
    behind = [settled[string.id] for string in strings]
    source = parallel_resistance.of("resistance of the bank, greatest", resistances=behind)
    loop = shared_series(
        f"loop to the far end of {run.label}, hot", source, [_hot_hop(plant, hop) for hop in way]
    )
    name = f"least short-circuit current at the far end of {run.label}"
    return short_circuit_current.of(name, voltage=_empty_voltage(plant), resistance=loop)


@once
def _empty_voltage(plant: Plant) -> Quantity:
    return rested(plant, _EMPTY)


@once
def _settled(paths: FaultPaths) -> dict[str, Quantity]:
    """Return the whole resistance of each string, the high end of the estimate, in Ω."""
    strings = paths.plant.bank.strings
    return {one.id: string_resistance(paths.plant, one, "greatest", settled=True) for one in strings}


@once
def _settled_with_leads(paths: FaultPaths) -> dict[str, Quantity]:
    """Return the whole resistance of each string with its hot lead, where the file has one, in Ω."""
    made = {}
    for ident, inside in _settled(paths).items():
        lead = paths.lead(ident)
        parts = [_hot_hop(paths.plant, lead)] if lead else []
        made[ident] = shared_series(f"{ident} with its lead, hot", inside, parts) if parts else inside
    return made


def _hot_hop(plant: Plant, hop: Hop) -> Quantity:
    return side_by_side([hot_resistance(plant, run) for run in hop], hop)
