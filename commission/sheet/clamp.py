"""What no charging voltage may pass, and how a compensated one is held under it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from commission.figure import Figure, Gap, Quantity, Unknown, given, greatest, least
from commission.formulas.bank import bank_voltage
from commission.formulas.charging import clamped_temperature, compensated_voltage, per_cell
from commission.formulas.lithium import charge_margin_voltage
from commission.formulas.rounding import in_bank_basis
from commission.formulas.setpoints import reference_for_limit, steps_below, temperature_for_limit
from commission.plant.plant import Plant, fact, part_fact
from commission.plant.site import DirectCurrentSource
from commission.plant.values import in_words
from commission.sheet.draft import Draft
from commission.sheet.known import not_checked
from commission.sheet.temperature import Climate, Regime
from commission.sheet.types import Finding

_COMMON: Final = "common practice"
_MARGIN: Final = given(0.050, "V", "margin of one cell under the cut-off", source=_COMMON)
_CLAMP_STEPS: Final = 2.0


@dataclass(frozen=True, slots=True)
class Limits:
    """What no charging voltage may pass, whole bank."""

    devices: Quantity
    """Two steps under the least device maximum."""
    bus: Quantity
    """The same, with the DC loads."""
    cell: Quantity
    """Of one cell: the chemistry's ceiling at the reference, or a cut-off less its margin."""


def device_maximum(plant: Plant) -> Quantity:
    """Return the least of the greatest DC voltages that the devices on the bus stand."""
    maxima = [plant.rating(device, "dc_voltage_max") for device in plant.sources]
    if not maxima:
        return Unknown(
            (Gap("greatest DC voltage of the devices on the bus", helps="a source in the site file"),),
            "V",
            "least device maximum",
        )
    return least("least device maximum on the DC bus", *maxima)


def load_maxima(plant: Plant) -> list[Figure]:
    """Return the greatest voltages that DC loads stand, of those that tell it."""
    loads = [part_fact(load, "voltage_max") for load in plant.site.loads if load.current == "dc"]
    return [load for load in loads if isinstance(load, Figure)]


def _load_maximum(plant: Plant) -> Quantity | None:
    known = load_maxima(plant)
    return least("least greatest voltage of the DC loads", *known) if known else None


def charge_limits(draft: Draft) -> Limits:
    """Return what no charging voltage may pass; say so where a maximum is not known."""
    step = draft.numbers["coarsest_step"]
    maximum = draft.numbers["bus_maximum"]
    name = "two steps under the least device maximum"
    devices = steps_below.of(name, limit=maximum, steps=_CLAMP_STEPS, step=step)
    loads = _load_maximum(draft.plant)
    bus = (
        devices if loads is None else least("highest voltage that devices and DC loads stand", devices, loads)
    )
    if isinstance(devices, Unknown):
        draft.find(not_checked("bus-maximum", ("bank",), devices.missing))
    return Limits(devices, bus, cell_limit(draft.plant))


def cell_limit(plant: Plant) -> Quantity:
    """Return what one cell's charging voltage may reach at the reference temperature.

    For lithium the cut-off (the ceiling where none is told) less the maker's margin or 50 mV.
    """
    ceiling = plant.cell("ceiling_voltage")
    if plant.battery.family != "lithium":
        return ceiling
    management = plant.bank.management
    cut_off: Quantity = ceiling
    margin: Quantity = _MARGIN
    if management is not None:
        told = fact(management, "cut_off_high", "bank.management")
        cut_off = told if isinstance(told, Figure) else ceiling
        own = fact(management, "margin", "bank.management")
        margin = own if isinstance(own, Figure) else _MARGIN
    return charge_margin_voltage.of(
        "cut-off of one cell less its margin", cells=1.0, cell_limit=cut_off, margin=margin
    )


def clamped(
    draft: Draft, stage: str, regime: Regime, wanted: Quantity, limits: Limits, weather: Climate
) -> Quantity:
    """Keep the coldest value under what the bus stands.

    By the device's own ceiling, else by the temperature at which it ends compensation, else by a lower value.
    """
    limit = limits.devices if stage == "equalize" else limits.bus
    device = regime.device
    ceiling = _ceiling(draft, regime, limits)
    coldest = _compensated(
        draft, regime, wanted, weather.coldest, f"{in_words(stage)} at the coldest battery"
    )
    if isinstance(coldest, Unknown):
        draft.find(not_checked("clamp-in-the-cold", (device.id,), coldest.missing))
    if not (isinstance(coldest, Figure) and isinstance(limit, Figure) and isinstance(wanted, Figure)):
        return wanted
    if coldest.value <= limit.value + 1e-9:
        return wanted
    if isinstance(ceiling, Figure) and ceiling.value <= limit.value + 1e-9:
        _tell_clamp(draft, stage, regime, coldest, limit, f"its ceiling of {ceiling.value:.2f} V holds it")
        return wanted
    moved = _raised_low_limit(draft, regime, wanted, limit)
    if moved is not None:
        _tell_clamp(draft, stage, regime, coldest, limit, f"compensation ends at {moved.value:.1f} °C")
        return wanted
    return _lowered_reference(draft, stage, regime, wanted, limit, weather, coldest, device)


def _ceiling(draft: Draft, regime: Regime, limits: Limits) -> Quantity | None:
    """Settle the device's own ceiling: what the bus and the cells stand, or less where it takes no more."""
    device = regime.device
    standing = draft.value(device.id, "charge_voltage_ceiling")
    ability = draft.ability(device, "charge_voltage_ceiling")
    if standing is not None or ability is None:
        return standing
    candidates = [limits.devices]
    if ability.high is not None:
        greatest_value = given(ability.high, "V", f"greatest ceiling of {device.label}", kind="profile")
        count = draft.count(device, ability)
        candidates.append(
            in_bank_basis.of(greatest_value.name, device_value=greatest_value, count=count).in_unit("V")
        )
    if draft.plant.battery.family == "lithium":
        name = "highest that the cells stand"
        cells = draft.plant.bank.cells
        candidates.append(bank_voltage.of(name, cells=cells, cell_voltage=limits.cell))
    return draft.number(
        device, "charge_voltage_ceiling", least("ceiling of compensated voltage", *candidates)
    )


def _compensated(draft: Draft, regime: Regime, value: Quantity, temperature: Quantity, name: str) -> Quantity:
    """Return the whole-bank voltage that a device makes of a setpoint at a battery temperature."""
    if not regime.sensed or (isinstance(regime.slope, Figure) and regime.slope.value == 0):
        return value
    low = draft.value(regime.device.id, "temperature_low_limit") or regime.low
    held = clamped_temperature.of(temperature=temperature, low=low, high=regime.high)
    return compensated_voltage.of(
        name,
        cells=draft.plant.bank.cells,
        reference=one_cell_of(value, draft.plant.bank.cells),
        slope=regime.slope,
        temperature=held,
        temperature_reference=regime.reference,
    )


def one_cell_of(value: Quantity, cells: int) -> Quantity:
    """Return a whole-bank voltage per cell."""
    return per_cell.of(f"{value.name} of one cell", bank_voltage=value, cells=cells)


def _raised_low_limit(draft: Draft, regime: Regime, wanted: Figure, limit: Figure) -> Figure | None:
    device = regime.device
    ability = draft.ability(device, "temperature_low_limit")
    slope = regime.slope
    if ability is None or ability.fixed is not None or not isinstance(slope, Figure) or slope.value >= 0:
        return None
    temperature = temperature_for_limit.of(
        "temperature at which compensation has to end",
        limit=limit,
        cells=draft.plant.bank.cells,
        reference=one_cell_of(wanted, draft.plant.bank.cells),
        slope=slope,
        temperature_reference=regime.reference,
    )
    standing = draft.value(device.id, "temperature_low_limit") or regime.low
    held = draft.number(
        device, "temperature_low_limit", greatest("low limit of compensation", temperature, standing)
    )
    enough = (
        isinstance(held, Figure)
        and isinstance(temperature, Figure)
        and held.value >= temperature.value - 1e-6
    )
    return held if enough and isinstance(held, Figure) else None


def _lowered_reference(
    draft: Draft,
    stage: str,
    regime: Regime,
    wanted: Figure,
    limit: Figure,
    weather: Climate,
    coldest: Figure,
    device: DirectCurrentSource,
) -> Quantity:
    cells = draft.plant.bank.cells
    low = draft.value(device.id, "temperature_low_limit") or regime.low
    slope: Quantity = regime.slope if regime.sensed else given(0.0, "mV/K", "no slope", source=_COMMON)
    one_cell = reference_for_limit.of(
        f"{in_words(stage)} of one cell that keeps the coldest value under the limit",
        limit=limit,
        cells=cells,
        slope=slope,
        temperature=clamped_temperature.of(temperature=weather.coldest, low=low, high=regime.high),
        temperature_reference=regime.reference,
    )
    lower = bank_voltage.of(
        f"{in_words(stage)} lowered for the bus maximum", cells=cells, cell_voltage=one_cell
    )
    if isinstance(lower, Figure):
        draft.numbers[f"{stage}_lowered:{device.id}"] = lower
        lost = (wanted.value - lower.value) / cells * 1000.0
        _tell_clamp(
            draft, stage, regime, coldest, limit,
            f"the reference value comes down to {lower.value:.2f} V and loses {lost:.0f} mV a cell",
        )  # fmt: skip
    return lower


def _tell_clamp(draft: Draft, stage: str, regime: Regime, coldest: Figure, limit: Figure, how: str) -> None:
    draft.find(
        Finding(
            "advise",
            "clamped-in-the-cold",
            (regime.device.id,),
            f"{in_words(stage)} of {regime.device.label} would reach {coldest.value:.2f} V at the coldest "
            f"battery, {limit.value:.2f} V is the most here; {how}",
            "equipment with a higher DC maximum, or a warmer battery room",
            value=coldest,
            limit=limit,
            setting=f"{stage}_voltage",
        )
    )


def note_reached(draft: Draft, stage: str, regime: Regime, weather: Climate) -> None:
    """Note what a source reaches at the coldest and hottest battery, after its clamp."""
    held = draft.value(regime.device.id, f"{stage}_voltage")
    if held is None:
        return
    ceiling = draft.value(regime.device.id, "charge_voltage_ceiling")
    for word, temperature in (("coldest", weather.coldest), ("hottest", weather.hottest)):
        name = f"{in_words(stage)} of {regime.device.label} at the {word} battery"
        value = _compensated(draft, regime, held, temperature, name)
        if isinstance(ceiling, Figure):
            value = least(name, value, ceiling)
        draft.numbers[f"{stage}_{word}:{regime.device.id}"] = value
