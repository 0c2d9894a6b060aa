"""Strings that do not go together on one input, and values of modules that can be no module's."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from commission.design.pv_array import STEEPEST_BELIEVED, PvArray, array_fact, array_name, string_fact
from commission.design.pv_found import PvFound, lacking
from commission.design.types import Found, Later, Remedy
from commission.design.words import shown
from commission.figure import Figure, Quantity, given, greatest
from commission.formulas.pv_ratings import voltage_mismatch
from commission.formulas.pv_strings import hot_maximum_power_voltage
from commission.plant.change import Change
from commission.sheet.types import Finding, Kind
from commission.units import plain

_TOLERATED: Final = given(
    0.02, "1", "difference of maximum-power voltage on one input, at most", source="common practice"
)
_TURNED: Final = given(
    10.0, "°", "difference of azimuth or tilt on one input without advice", source="common practice"
)
_SLACK: Final = 1e-9
_USUAL: Final = {"voltage_coefficient": (-0.45, -0.2), "power_coefficient": (-0.6, -0.22)}
"""%/K between which 99 of 100 crystalline modules of a public database lie, with some room (thin film)."""
_MEANS: Final = {
    "voltage_coefficient": "open-circuit voltage",
    "power_coefficient": "maximum power",
}


def check_strings(pv: PvArray) -> Iterator[PvFound]:
    """Find strings of different voltage or direction on one input, and odd coefficients."""
    yield from _coefficients(pv)
    if len(pv.array.strings) < 2:
        return
    if not pv.alike:
        yield from _mismatch(pv)
    yield from _directions(pv)


# values that can be no module's


def _coefficients(pv: PvArray) -> Iterator[Found]:
    for field, (steepest, flattest) in _USUAL.items():
        told = array_fact(pv.controller, field)
        if isinstance(told, Figure) and not steepest - _SLACK <= told.value <= flattest + _SLACK:
            yield _odd(pv, field, told, (steepest, flattest))


def _odd(pv: PvArray, field: str, told: Figure, usual: tuple[float, float]) -> Found:
    steepest, flattest = usual
    wrong = told.value > STEEPEST_BELIEVED
    kind: Kind = "correct" if wrong else "advise"
    believed = "can be no module's" if wrong else "is unusual"
    text = (
        f"{shown(pv.scene, told)} for the {_MEANS[field]} of {array_name(pv.controller)} {believed}: "
        f"crystalline modules lie between {plain(steepest)} and {plain(flattest)} %/K"
    )
    edge = given(
        flattest if told.value > flattest else steepest,
        "%/K",
        f"usual coefficient of {_MEANS[field]}",
        source="CEC database of modules; from 99 of 100, with room for thin film",
    )
    finding = Finding(
        kind,
        f"{field.replace('_', '-')}",
        (pv.id,),
        text,
        "the coefficient of the module's own sheet, negative and in %/K",
        value=told,
        limit=edge,
    )
    return Found(finding, Later(_meant(pv, field, told, usual)) if wrong else ())


def _meant(pv: PvArray, field: str, told: Figure, usual: tuple[float, float]) -> Iterator[Remedy]:
    """Yield what a slip probably meant: the sign turned, or a share per kelvin taken for per cent."""
    for meant in (-told.value, 100.0 * told.value, -100.0 * told.value):
        if usual[0] <= meant <= usual[1]:
            value = round(meant, 6)
            text = f"{plain(value)} %/K, if the sheet says so"
            passes = given(value, "%/K", "coefficient as it was probably meant", source="common practice")
            yield Remedy(text, passes=passes, change=(Change(f"{pv.controller.where}.array.{field}", value),))


# strings that differ


def _best_voltage(pv: PvArray, ident: str) -> Quantity:
    string = next(one for one in pv.array.strings if one.id == ident)
    return hot_maximum_power_voltage.of(
        f"maximum-power voltage of string {ident} at test conditions",
        module_voltage=string_fact(pv.controller, string, "maximum_power_voltage"),
        modules=string_fact(pv.controller, string, "series"),
        coefficient=0.0,
        temperature=25.0,
    )


def _mismatch(pv: PvArray) -> Iterator[PvFound]:
    voltages = {string.id: _best_voltage(pv, string.id) for string in pv.array.strings}
    apart = voltage_mismatch.of(
        f"difference between the strings of {array_name(pv.controller)}", voltages=list(voltages.values())
    )
    yield from lacking("string-mismatch", (pv.id,), apart)
    if not isinstance(apart, Figure) or apart.value <= _TOLERATED.value + _SLACK:
        return
    known = {ident: one for ident, one in voltages.items() if isinstance(one, Figure)}
    high = max(known, key=lambda ident: known[ident].value)
    low = min(known, key=lambda ident: known[ident].value)
    text = (
        f"strings of different voltage share one input: {high} {shown(pv.scene, known[high])}, {low} "
        f"{shown(pv.scene, known[low])} at maximum power, {apart.value:.0%} apart against at most "
        f"{_TOLERATED.value:.0%}"
    )
    finding = Finding(
        "correct",
        "string-mismatch",
        (pv.id,),
        text,
        "strings of equal voltage, or a controller for each",
        value=apart,
        limit=_TOLERATED,
    )
    yield Found(finding, Later(_evened(pv)))


def _evened(pv: PvArray) -> Iterator[Remedy]:
    """Yield the strings with equal counts of like modules: each count that one of them has now."""
    where = f"{pv.controller.where}.array.strings"
    counts = sorted({count for one in pv.array.strings if (count := pv.count(one)) is not None})
    if any(one.maximum_power_voltage is not None for one in pv.array.strings):
        return
    for count in counts:
        change = tuple(
            Change(f"{where}[{one.id}].series", count) for one in pv.array.strings if pv.count(one) != count
        )
        passes = given(0.0, "1", "difference between equal strings", source="by their counts")
        yield Remedy(f"{count} in series in every string", passes=passes, change=change)


def _directions(pv: PvArray) -> Iterator[PvFound]:
    """Advise where strings look different ways: together on one input they lose a little."""
    for field, word in (("azimuth", "directions"), ("tilt", "tilts")):
        told = [string_fact(pv.controller, one, field) for one in pv.array.strings]
        known = [one for one in told if isinstance(one, Figure)]
        if all(getattr(one, field) is None for one in pv.array.strings):
            continue
        yield from lacking(f"string-{field}", (pv.id,), *told)
        if len(known) < 2:
            continue
        low, high = min(known, key=_value), max(known, key=_value)
        apart = high.value - low.value
        if field == "azimuth":
            apart = min(apart, 360.0 - apart)
        if apart <= _TURNED.value + _SLACK:
            continue
        text = (
            f"strings of {array_name(pv.controller)} have different {word}: {shown(pv.scene, low)} and "
            f"{shown(pv.scene, high)}; on one input they never all give their most"
        )
        remedy = "accept it, or a controller or input for each direction"
        value = greatest(f"{field} of the strings", *known)
        yield Found(Finding("advise", f"string-{field}", (pv.id,), text, remedy, value=value, limit=_TURNED))


def _value(figure: Figure) -> float:
    return figure.value
