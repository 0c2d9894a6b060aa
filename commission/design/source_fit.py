"""Whether the voltage and frequency of every AC source are those of the inverters that it feeds."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from commission.design.currents import supply_voltage
from commission.design.inverter_supplies import unit_legs
from commission.design.types import Found, Later, Remedy, Scene
from commission.design.words import gap, shown
from commission.figure import Figure, Quantity, given
from commission.formulas.bands import difference
from commission.formulas.windows import window_voltage
from commission.plant.change import Change
from commission.plant.plant import Plant, part_fact
from commission.plant.site import Generator, InverterCharger, Utility
from commission.plant.values import UNKNOWN
from commission.sheet.coupling import idle_frequency
from commission.sheet.types import Finding

CHECK: Final = "source-fit"
STANDS: Final = given(1.1, "1", "voltage over nominal that equipment stands", source="IEC 60038, EN 50160")
SINKS: Final = given(0.9, "1", "voltage under nominal at which it works", source="IEC 60038, EN 50160")
_BOTH_LEGS: Final = given(2.0, "1", "two legs in opposition over one", source="definition of split phase")
_OFF: Final = given(
    2.0, "Hz", "nominal frequencies that differ by more are two", source="50 Hz and 60 Hz; common practice"
)


@dataclass(frozen=True, slots=True)
class _Misfit:
    """How a source and one inverter differ."""

    unit: InverterCharger
    voltage: Figure | None = None
    """V that the inverter is made for, where the source has another."""
    limit: Figure | None = None
    """V that the voltage of the source is over or under."""
    over: bool = False
    frequency: Figure | None = None
    """Hz that the inverter is made for, where the source has another."""


def check_source_fit(scene: Scene) -> Iterator[Found]:
    """Find generators and public supplies of another voltage or frequency than the inverters they feed."""
    site = scene.plant.site
    sources: list[Generator | Utility] = [*site.generators, *([site.utility] if site.utility else [])]
    for source in sources:
        units = [unit for unit in site.inverter_chargers if source.id in unit.inputs.values()]
        misfits = [one for unit in units if (one := _misfit(scene.plant, source, unit)) is not None]
        if misfits:
            yield _found(scene, source, misfits)
        missing = gap(CHECK, (source.id,), *_compared(scene.plant, source, units))
        if missing is not None:
            yield missing


def _compared(
    plant: Plant, source: Generator | Utility, units: Sequence[InverterCharger]
) -> Iterator[Quantity]:
    """Yield the voltages and frequencies that are held against each other."""
    if units:
        yield from (supply_voltage(plant, source), _frequency(plant, source))
    for unit in units:
        yield from (plant.rating(unit, "ac_voltage"), idle_frequency(plant, unit))


def without_ranges(findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """Leave out that inverters cannot take the windows of a source that does not fit: it is told once."""
    misfit = {part for one in findings if one.check.endswith(CHECK) for part in one.parts[1:]}
    return tuple(
        one
        for one in findings
        if not (
            one.check.endswith("outside-device-range")
            and misfit.issuperset(one.parts)
            and (one.setting or "").startswith("ac_input_")
        )
    )


def _misfit(plant: Plant, source: Generator | Utility, unit: InverterCharger) -> _Misfit | None:
    given_, own = supply_voltage(plant, source), plant.rating(unit, "ac_voltage")
    frequency = _of_another_frequency(plant, source, unit)
    if not isinstance(given_, Figure) or not isinstance(own, Figure):
        return None if frequency is None else _Misfit(unit, frequency=frequency)
    nominal = [own, *_across(plant, source, unit, own)]
    nearest = min(nominal, key=lambda volts: abs(volts.value - given_.value))
    stands = window_voltage.of("voltage that its input stands", nominal=nearest, share=STANDS)
    sinks = window_voltage.of("least voltage of its input", nominal=nearest, share=SINKS)
    assert isinstance(stands, Figure) and isinstance(sinks, Figure)  # noqa: S101, PT018 - both known
    over = given_.value > stands.value + 1e-9
    if over or given_.value < sinks.value - 1e-9:
        return _Misfit(unit, own, stands if over else sinks, over, frequency)
    return None if frequency is None else _Misfit(unit, frequency=frequency)


def _across(
    plant: Plant, source: Generator | Utility, unit: InverterCharger, own: Figure
) -> Iterator[Figure]:
    """Yield twice the voltage of a leg where a source may be told, or connected, across two legs.

    One unit that makes both legs takes them from a single voltage across them. Two units of one leg each
    have no neutral there: nothing shares such a voltage between them.
    """
    if plant.inverter_class(unit).ac_legs == 2 or _connection(plant, source) in {"split", UNKNOWN}:
        both = window_voltage.of("voltage across both legs", nominal=own, share=_BOTH_LEGS)
        if isinstance(both, Figure):
            yield both


def _connection(plant: Plant, source: Generator | Utility) -> str:
    if isinstance(source, Generator):
        return plant.generator_class(source).connection
    return source.connection


def _frequency(plant: Plant, source: Generator | Utility) -> Quantity:
    if isinstance(source, Generator):
        return plant.rating(source, "ac_frequency")
    own = part_fact(source, "ac_frequency")
    return own if isinstance(own, Figure) else plant.rule("ac_frequency")


def _of_another_frequency(plant: Plant, source: Generator | Utility, unit: InverterCharger) -> Figure | None:
    """Return the frequency of an inverter that a source of another one feeds, None where they are alike."""
    own = idle_frequency(plant, unit)
    off = difference.of("off its frequency", first=_frequency(plant, source), second=own)
    if isinstance(off, Figure) and isinstance(own, Figure) and abs(off.value) > _OFF.value:
        return own
    return None


def _found(scene: Scene, source: Generator | Utility, misfits: list[_Misfit]) -> Found:
    plant = scene.plant
    volts, hertz = supply_voltage(plant, source), _frequency(plant, source)
    worst = next((one for one in misfits if one.over), misfits[0])
    names = " and ".join(one.unit.label for one in misfits)
    take = "takes" if len(misfits) == 1 else "take"
    gives, wants = [], []
    if worst.voltage is not None and isinstance(volts, Figure):
        single = "" if _connection(plant, source) == "single" else " from leg to neutral"
        gives.append(f"{shown(scene, volts)}{single}")
        wants.append(shown(scene, worst.voltage))
    odd = next((one.frequency for one in misfits if one.frequency is not None), None)
    if odd is not None and isinstance(hertz, Figure):
        gives.append(shown(scene, hertz))
        wants.append(shown(scene, odd))
    end = "it may be destroyed" if worst.over else "it never connects"
    if len(misfits) > 1:
        end = end.replace("it ", "they ").replace("connects", "connect")
    frequency_alone = worst.voltage is None
    finding = Finding(
        "stop" if worst.over else "correct",
        CHECK,
        (source.id, *(one.unit.id for one in misfits)),
        f"{source.label} does not fit: it gives {' '.join(gives)}, {names} {take} {' '.join(wants)}: {end}",
        "measure the source before anything is joined to it",
        value=hertz if frequency_alone and isinstance(hertz, Figure) else volts,
        limit=odd if frequency_alone else worst.limit,
    )
    return Found(finding, Later(_remedies(scene, source, worst, odd)))


def _remedies(
    scene: Scene, source: Generator | Utility, worst: _Misfit, odd: Figure | None
) -> Iterator[Remedy]:
    plant, told = scene.plant, [one for one in (worst.voltage, odd) if one is not None]
    words = " ".join(shown(scene, one) for one in told)
    if isinstance(source, Utility):
        changes = [] if worst.voltage is None else [Change("utility.ac_voltage", worst.voltage.value)]
        changes += [] if odd is None else [Change("utility.ac_frequency", odd.value)]
        means = "a transformer made for it" if odd is None else "inverters made for this supply"
        text = f"{words} in the site file if that is what is measured, else {means}"
        yield Remedy(text, passes=told[0], change=tuple(changes))
        return
    where = f"{source.where}.datasheet"
    changes = [] if worst.voltage is None else [Change(f"{where}.ac_voltage", worst.voltage.value)]
    if odd is not None:
        changes.append(Change(f"{where}.ac_frequency", odd.value))
        changes += _idle(plant, source, odd, where)
    wanted = _phases(plant, source)
    of_phases = ""
    if worst.voltage is not None and wanted not in {None, plant.generator_class(source).connection}:
        changes.append(Change(f"{where}.connection", wanted))
        of_phases = {"single": ", single phase", "split": " in split phase"}.get(
            str(wanted), ", three phases"
        )
    yield Remedy(f"a set of {words}{of_phases}", passes=told[0], change=tuple(changes))


def _phases(plant: Plant, source: Generator | Utility) -> str | None:
    """Return the connection that the inverters fed by a source need, None where their legs are not known."""
    legs = {leg for unit in _fed(plant, source) for leg in unit_legs(plant, unit)}
    if not legs:
        return None
    return "three" if "3" in legs else "split" if len(legs) > 1 else "single"


def _fed(plant: Plant, source: Generator | Utility) -> tuple[InverterCharger, ...]:
    return tuple(unit for unit in plant.site.inverter_chargers if source.id in unit.inputs.values())


def _idle(plant: Plant, source: Generator, odd: Figure, where: str) -> Iterator[Change]:
    """Yield the no-load frequency of a set of another frequency, as much above it as now."""
    idle, own = plant.rating(source, "no_load_frequency"), plant.rating(source, "ac_frequency")
    if isinstance(idle, Figure) and isinstance(own, Figure):
        yield Change(f"{where}.no_load_frequency", round(odd.value * idle.value / own.value, 1))
