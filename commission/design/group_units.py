"""The units of one group against each other, and every source against the nominal voltage of the bank."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from commission.design.currents import bank_nominal
from commission.design.inverter_supplies import Supply
from commission.design.types import Found, Remedy, Scene
from commission.design.words import gap, shown
from commission.figure import Figure, Gap, Quantity, Unknown
from commission.plant.change import Change
from commission.plant.site import DirectCurrentSource, InverterCharger
from commission.plant.values import UNKNOWN
from commission.sheet.types import Finding

_APART: Final = 0.01
"""Share by which nominal values may differ and still be the same."""
_FITS: Final = 0.2
"""Share by which a bank may be off a device's nominal voltage: 19 nickel cells or 22 of titanate are 5 %."""


def check_units(scene: Scene, supply: Supply) -> Iterator[Found]:
    """Find units of one group that differ in voltage, frequency, legs, class, rating or firmware."""
    found = _voltage_or_frequency(scene, supply)
    if found is not None:
        yield found
    else:
        yield from _asked(scene, supply)
        yield from _class(scene, supply)
    yield from _firmware(supply)


def _asked(scene: Scene, supply: Supply) -> Iterator[Found]:
    """Ask for what is not known of the outputs, where all that is known is alike."""
    fields = ("ac_voltage", "ac_frequency")
    outputs = [_output(scene, unit, field) for unit in supply.units for field in fields]
    missing = gap("group-output", supply.ids, *outputs)
    if missing is not None:
        yield missing


def _voltage_or_frequency(scene: Scene, supply: Supply) -> Found | None:
    """Return what must never be joined: outputs of unlike voltage, frequency or number of legs."""
    plant = scene.plant
    for field, word in (("ac_voltage", "V"), ("ac_frequency", "Hz")):
        values = [(unit, _output(scene, unit, field)) for unit in supply.units]
        known = [(unit, value) for unit, value in values if isinstance(value, Figure)]
        if not known:
            continue
        low = min(known, key=lambda pair: pair[1].value)
        high = max(known, key=lambda pair: pair[1].value)
        if high[1].value > low[1].value * (1.0 + _APART):
            text = (
                f"{low[0].label} makes {low[1].value:g} {word}, {high[0].label} {high[1].value:g} {word}: "
                "outputs that are joined and not alike drive each other"
            )
            remedy = "units of one class, of one voltage and frequency"
            return Found(
                Finding("stop", "group-output", supply.ids, text, remedy, value=high[1], limit=low[1])
            )
    legs = {plant.inverter_class(unit).ac_legs for unit in supply.units}
    if len(legs) > 1:
        text = f"{supply.names}: units of one leg and units of two legs in one group"
        return Found(Finding("stop", "group-output", supply.ids, text, "units of one class"))
    return None


def _output(scene: Scene, unit: InverterCharger, field: str) -> Quantity:
    """Return what a unit puts out: a frequency that can be set as the sheet sets it, else its class's."""
    own = scene.plant.rating(unit, field)
    if field == "ac_frequency":
        held = scene.sheet.value(unit.id, "ac_output_frequency")
        return held if isinstance(held, Figure) else own
    return own


def _class(scene: Scene, supply: Supply) -> Iterator[Found]:
    plant = scene.plant
    classes = list(dict.fromkeys(plant.inverter_class(unit).id for unit in supply.units))
    if len(classes) > 1:
        text = f"{supply.names} are of {len(classes)} classes in one group: {', '.join(classes)}"
        yield Found(Finding("correct", "group-class", supply.ids, text, "units of one class and rating"))
        return
    ratings = [plant.rating(unit, "continuous_power") for unit in supply.units]
    known = [rating for rating in ratings if isinstance(rating, Figure)]
    least, most = min(known, key=_value, default=None), max(known, key=_value, default=None)
    if least is None or most is None or most.value <= least.value * (1.0 + _APART):
        missing = gap("group-class", supply.ids, *ratings)
        if missing is not None:
            yield missing
        return
    text = (
        f"units of {shown(scene, least, beside=most)} and of {shown(scene, most, beside=least)} in one "
        "group: they share a load "
        "alike, and the smaller are overloaded first"
    )
    changes = tuple(Change(f"{unit.where}.datasheet.continuous_power", most.value) for unit in supply.units)
    remedy = Remedy(
        f"units of {shown(scene, most, beside=least)} each", most.named("rating that passes"), changes
    )
    yield Found(Finding("correct", "group-class", supply.ids, text, value=least, limit=most), (remedy,))


def _value(figure: Figure) -> float:
    return figure.value


def _firmware(supply: Supply) -> Iterator[Found]:
    """Find versions that differ, and units of which none is told where others have theirs."""
    told = {unit.firmware for unit in supply.units if unit.firmware not in {"", UNKNOWN}}
    untold = [unit for unit in supply.units if unit.firmware in {"", UNKNOWN}]
    if len(told) > 1:
        text = (
            f"{supply.names} have versions {', '.join(sorted(told))} of firmware: one group wants one version"
        )
        best = _newest(told)
        changes = tuple(Change(f"{unit.where}.firmware", best) for unit in supply.units)
        remedy = Remedy(f"version {best} on all, if the maker releases it for groups", change=changes)
        yield Found(Finding("correct", "group-firmware", supply.ids, text), (remedy,))
    elif untold:
        gaps = [Unknown((Gap(f"firmware of {unit.label}", f"{unit.where}.firmware"),)) for unit in untold]
        missing = gap("group-firmware", supply.ids, *gaps)
        if missing is not None:
            yield missing


def _newest(versions: set[str]) -> str:
    """Return the highest version, number by number."""
    return max(versions, key=lambda text: [(len(piece), piece) for piece in text.split(".")])


# nominal voltage


def check_nominal_voltage(scene: Scene) -> Iterator[Found]:
    """Find sources that are made for another bank than this one."""
    plant = scene.plant
    bank = bank_nominal(plant)
    for source in plant.sources:
        own = plant.rating(source, "nominal_voltage")
        missing = gap("nominal-voltage", (source.id,), own, bank)
        if missing is not None:
            yield missing
            continue
        assert isinstance(own, Figure) and isinstance(bank, Figure)  # noqa: S101, PT018 - gaps left above
        if bank.value > own.value * (1.0 + _FITS):
            yield _made_for_less(scene, source, own, bank)
        elif bank.value < own.value * (1.0 - _FITS) and isinstance(source, InverterCharger):
            yield _made_for_more(scene, source, own, bank)


def _made_for_less(scene: Scene, source: DirectCurrentSource, own: Figure, bank: Figure) -> Found:
    text = (
        f"{source.label} is made for {shown(scene, own)}, the bank has {shown(scene, bank)} nominal: it is "
        "destroyed when it is connected"
    )
    return Found(_of_voltage("stop", source, text, own, bank))


def _made_for_more(scene: Scene, source: DirectCurrentSource, own: Figure, bank: Figure) -> Found:
    text = (
        f"{source.label} is made for {shown(scene, own)}, the bank has {shown(scene, bank)} nominal: it "
        "never runs"
    )
    return Found(_of_voltage("correct", source, text, own, bank))


def _of_voltage(kind: str, source: DirectCurrentSource, text: str, own: Figure, bank: Figure) -> Finding:
    remedy = f"a class for {bank.value:.0f} V, or a bank of {own.value:.0f} V"
    return Finding(
        "stop" if kind == "stop" else "correct",
        "nominal-voltage",
        (source.id,),
        text,
        remedy,
        value=bank,
        limit=own,
    )
