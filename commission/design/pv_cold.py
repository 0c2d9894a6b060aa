"""PV strings in the cold: their open-circuit voltage against everything that has to stand it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import Final

from commission.design.pv_array import (
    PvArray,
    array_fact,
    by_table,
    cold_voltage,
    least_bank_voltage,
    string_fact,
)
from commission.design.pv_carriers import array_devices, array_runs
from commission.design.pv_found import Lack, PvFound, lacking
from commission.design.pv_remedies import (
    cable_voltages,
    controllers_for,
    device_voltages,
    fewer_in_series,
    module_voltages,
)
from commission.design.types import Found, Remedy
from commission.design.words import shown
from commission.figure import Figure, Gap, Quantity, Unknown, least
from commission.formulas.pv_ratings import limit_over_bank, open_circuit_voltage_by_diode
from commission.plant.plant import fact, part_fact
from commission.plant.site import PvString
from commission.plant.values import UNKNOWN
from commission.sheet.types import Finding, Kind

_CLOSE: Final = 0.03
"""Share under a limit within which the straight line of the coefficient is not to be relied on; the one-diode
model lies 1.1 % over it at −20 °C for the median module of a public database, 3.5 % for one in a hundred."""
_PARTS_CURRENT: Final = frozenset({"breaker", "fuse", "switch"})
_SLACK: Final = 1e-9


def check_cold(pv: PvArray) -> Iterator[PvFound]:
    """Find what the open-circuit voltage at the record low is too much for."""
    voltages = [(string, cold_voltage(pv, string)) for string in pv.kinds]
    yield from lacking("cold-voltage", (pv.id,), *(voltage for _, voltage in voltages))
    known = [(string, voltage) for string, voltage in voltages if isinstance(voltage, Figure)]
    if not known:
        return
    string, voltage = max(known, key=lambda pair: pair[1].value)
    yield from _controller(pv, string, voltage)
    yield from _modules(pv, string, voltage)
    yield from _devices(pv, string, voltage)
    yield from _cables(pv, string, voltage)
    yield from _building(pv, string, voltage)


def _says(pv: PvArray, string: PvString, voltage: Figure, limit: Figure) -> str:
    cold = fact(pv.plant.site.site, "coldest_ambient", "site")
    assert isinstance(cold, Figure)  # noqa: S101 - the voltage was worked out with it
    method = " (by the table of factors: no coefficient to go by)" if by_table(pv) else ""
    count = pv.count(string)
    gives = "gives" if count == 1 or not pv.alike else "give"
    return f"{pv.named(string)} {gives} {_v(pv, voltage, limit)} at {shown(pv.scene, cold)}{method}"


# the controller


def _over_bank(pv: PvArray) -> Quantity | None:
    """Return the limit that goes with the bank's voltage, at its lowest; None where there is no such rule."""
    over = pv.plant.rating_if_any(pv.controller, "pv_over_bank")
    if over is None:
        return None
    name = f"PV voltage that {pv.controller.label} takes with the bank discharged"
    return limit_over_bank.of(name, bank_voltage=least_bank_voltage(pv.plant), over=over)


def _operating(pv: PvArray) -> list[Quantity]:
    """Return the voltages over which the controller does not charge."""
    over = _over_bank(pv)
    fixed = pv.plant.rating(pv.controller, "pv_voltage_operating")
    return [fixed] if over is None else [fixed, over]


def _controller(pv: PvArray, string: PvString, voltage: Figure) -> Iterator[PvFound]:
    absolute = pv.plant.rating(pv.controller, "pv_voltage_absolute")
    operating = _operating(pv)
    yield from lacking("operating-voltage", (pv.id,), *operating)
    known = [item for item in operating if isinstance(item, Figure)]
    charging = least(f"PV voltage up to which {pv.controller.label} charges", *known) if known else absolute
    if isinstance(absolute, Figure) and voltage.value > absolute.value + _SLACK:
        text = (
            f"{_says(pv, string, voltage, absolute)}; {pv.controller.label} is damaged over "
            f"{_v(pv, absolute, voltage)}"
        )
        yield _over(pv, "stop", text, voltage, absolute, releasable=False)
    elif isinstance(charging, Figure) and voltage.value > charging.value + _SLACK:
        text = (
            f"{_says(pv, string, voltage, charging)}; {pv.controller.label} {_pauses(pv, charging, voltage)}"
        )
        yield _over(pv, "correct", text, voltage, charging)
    else:
        yield from _close(pv, string, voltage, charging)


def _v(pv: PvArray, voltage: Figure, beside: Figure) -> str:
    return shown(pv.scene, voltage, beside=beside)


def _pauses(pv: PvArray, limit: Figure, voltage: Figure) -> str:
    over = _over_bank(pv)
    if isinstance(over, Figure) and limit.value == over.value:
        return f"does not charge over {_v(pv, limit, voltage)} while the bank is discharged"
    return f"does not charge over {_v(pv, limit, voltage)}"


def _over(
    pv: PvArray, kind: Kind, text: str, voltage: Figure, limit: Figure, *, releasable: bool = True
) -> Found:
    finding = Finding(kind, "cold-voltage", (pv.id,), text, value=voltage, limit=limit, releasable=releasable)
    fewer, none = fewer_in_series(pv, all_limits(pv))
    finding = _with_note(finding, none)
    return Found(finding, (*fewer, *controllers_for(pv, voltage)))


def _with_note(finding: Finding, note: str) -> Finding:
    if not note:
        return finding
    return replace(finding, text=f"{finding.text}; {note}")


def _close(pv: PvArray, string: PvString, voltage: Figure, limit: Quantity) -> Iterator[PvFound]:
    """Advise where the straight line passes but a real module may not."""
    if not isinstance(limit, Figure):
        return
    curved = _by_diode(pv, string)
    over = isinstance(curved, Figure) and curved.value > limit.value + _SLACK
    if voltage.value <= (1.0 - _CLOSE) * limit.value + _SLACK and not over:
        return
    beside = (
        f"the one-diode model makes it {shown(pv.scene, curved)}"
        if isinstance(curved, Figure)
        else "the one-diode model puts most modules 1 to 3.5 % over their coefficient's line"
    )
    near = f"close to the {_v(pv, limit, voltage)} of {pv.controller.label}"
    text = f"{_says(pv, string, voltage, limit)}, {near}: {beside}"
    remedy = "ask the maker of the modules for their voltage at that cold, and check the record low"
    yield Found(
        Finding(
            "advise",
            "cold-voltage-margin",
            (pv.id,),
            text,
            remedy,
            value=curved if isinstance(curved, Figure) else voltage,
            limit=limit,
        )
    )


def _by_diode(pv: PvArray, string: PvString) -> Quantity:
    """Return the string's cold voltage by the one-diode model, where the module's thermal slope is told."""
    return open_circuit_voltage_by_diode.of(
        "open-circuit voltage of a string at the record low, one-diode model",
        module_voltage=string_fact(pv.controller, string, "open_circuit_voltage"),
        modules=string_fact(pv.controller, string, "series"),
        thermal_slope=array_fact(pv.controller, "thermal_slope"),
        temperature=fact(pv.plant.site.site, "coldest_ambient", "site"),
    )


# modules, devices, cables, the building


def _fixed(
    pv: PvArray,
    finding: tuple[Kind, str, str],
    text: str,
    pair: tuple[Figure, Figure],
    remedies: Iterable[Remedy] = (),
) -> Found:
    kind, check, part = finding
    first = tuple(remedies)
    fewer, none = fewer_in_series(pv, all_limits(pv))
    made = Finding(kind, check, (part,), text, value=pair[0], limit=pair[1])
    return Found(made if first else _with_note(made, none), (*first, *fewer))


def _modules(pv: PvArray, string: PvString, voltage: Figure) -> Iterator[PvFound]:
    most = array_fact(pv.controller, "module_voltage_max")
    yield from lacking("module-voltage", (pv.id,), most)
    if isinstance(most, Figure) and voltage.value > most.value + _SLACK:
        says = _says(pv, string, voltage, most)
        text = f"{says}; the modules are built for {_v(pv, most, voltage)} at most"
        made = _fixed(pv, ("correct", "module-voltage", pv.id), text, (voltage, most))
        yield replace(made, remedies=(*made.remedies, *module_voltages(pv, voltage)))


def _devices(pv: PvArray, string: PvString, voltage: Figure) -> Iterator[PvFound]:
    for device in array_devices(pv):
        rated = part_fact(device, "voltage")
        yield from lacking("array-device-voltage", (device.id,), rated)
        if not isinstance(rated, Figure) or voltage.value <= rated.value + _SLACK:
            continue
        parts_current = device.kind in _PARTS_CURRENT
        harm = "cannot put out an arc" if parts_current else "conducts and burns"
        says = _says(pv, string, voltage, rated)
        text = f"{says}; over its {_v(pv, rated, voltage)} {device.label} {harm}"
        kind: Kind = "stop" if parts_current else "correct"
        yield _fixed(
            pv,
            (kind, "array-device-voltage", device.id),
            text,
            (voltage, rated),
            device_voltages(pv, device, voltage),
        )


def _cables(pv: PvArray, string: PvString, voltage: Figure) -> Iterator[PvFound]:
    for run in array_runs(pv):
        rated = part_fact(run, "voltage")
        yield from lacking("array-cable-voltage", (run.id,), rated)
        if isinstance(rated, Figure) and voltage.value > rated.value + _SLACK:
            says = _says(pv, string, voltage, rated)
            text = f"{says}; the insulation of {run.label} is rated for {_v(pv, rated, voltage)}"
            yield _fixed(
                pv,
                ("correct", "array-cable-voltage", run.id),
                text,
                (voltage, rated),
                cable_voltages(pv, run, voltage),
            )


def _building(pv: PvArray, string: PvString, voltage: Figure) -> Iterator[PvFound]:
    most = pv.plant.rule_if_any("pv_voltage_greatest")
    on_building = pv.plant.site.safety.array_on_building
    if not isinstance(most, Figure) or voltage.value <= most.value + _SLACK or on_building is False:
        return
    if on_building == UNKNOWN:
        missing = Gap(f"whether {pv.controller.label}'s array is on a building", "safety.array_on_building")
        yield Lack("array-building-voltage", (pv.id,), (missing,))
        return
    text = f"{_says(pv, string, voltage, most)}; {_v(pv, most, voltage)} is allowed on a building"
    yield _fixed(pv, ("correct", "array-building-voltage", pv.id), text, (voltage, most))


def all_limits(pv: PvArray) -> Quantity:
    """Return the least of everything known that has to stand the array's cold voltage, in V."""
    most = pv.plant.rule_if_any("pv_voltage_greatest")
    on_building = pv.plant.site.safety.array_on_building is not False
    asked = [
        pv.plant.rating(pv.controller, "pv_voltage_absolute"),
        *_operating(pv),
        array_fact(pv.controller, "module_voltage_max"),
        *(part_fact(device, "voltage") for device in array_devices(pv)),
        *(part_fact(run, "voltage") for run in array_runs(pv)),
        *([most] if most is not None and on_building else []),
    ]
    known = [item for item in asked if isinstance(item, Figure)]
    if not known:
        return Unknown(
            (Gap("a voltage limit", f"{pv.controller.where}.datasheet.pv_voltage_absolute"),),
            "V",
            "what stands the array's voltage",
        )
    return least("what stands the array's voltage", *known)
