"""How each source follows battery temperature: sensor, slope, reference and clamp (rules of charging)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from commission.figure import Figure, Gap, Quantity, Unknown, given, greatest
from commission.formulas.bank import bank_voltage
from commission.formulas.charging import clamped_temperature, slope_error
from commission.formulas.rounding import in_device_basis
from commission.formulas.setpoints import middle_temperature
from commission.plant.plant import Plant, datasheet_gap, fact
from commission.plant.site import DirectCurrentSource
from commission.plant.values import UNKNOWN
from commission.sheet.draft import Draft
from commission.sheet.known import not_checked
from commission.sheet.types import Finding

TOLERATED: Final = 50.0
"""mV per cell of error at the coldest or hottest month before a finding is raised; common practice."""
_COMMON: Final = "common practice"


@dataclass(frozen=True, slots=True)
class Regime:
    """How one source follows battery temperature."""

    device: DirectCurrentSource
    sensed: bool
    slope: Quantity
    """mV/K of one cell that the device holds; 0 without a sensor."""
    reference: Quantity
    """°C at which the device's setpoints hold."""
    low: Quantity
    """°C below which it holds the voltage of this temperature."""
    high: Quantity
    shift: Quantity | None = None
    """mV per cell by which its reference values are lowered for its slope."""


@dataclass(frozen=True, slots=True)
class Climate:
    """Battery temperatures of the site, each falling back on the next known one."""

    coldest: Quantity
    hottest: Quantity
    coldest_month: Quantity
    hottest_month: Quantity
    mean: Quantity


def climate(plant: Plant) -> Climate:
    """Return the battery temperatures that setpoints are worked out for."""
    place = plant.site.site
    coldest, hottest = (fact(place, field, "site") for field in ("coldest_battery", "hottest_battery"))
    months = []
    for field, extreme in (("coldest_month_battery", coldest), ("hottest_month_battery", hottest)):
        own = fact(place, field, "site")
        months.append(own if isinstance(own, Figure) else extreme)
    mean = fact(place, "mean_battery", "site")
    if isinstance(mean, Unknown):
        mean = middle_temperature.of(coldest=months[0], hottest=months[1])
    return Climate(coldest, hottest, months[0], months[1], mean)


def settle_temperature(draft: Draft) -> dict[str, Regime]:
    """Settle how every source follows temperature; returns its regime by device id."""
    return {device.id: _regime(draft, device) for device in draft.plant.sources}


def _regime(draft: Draft, device: DirectCurrentSource) -> Regime:
    plant = draft.plant
    reference = _reference(draft, device)
    low, high = _limits(draft, device)
    kind = plant.source_class(device).temperature_sensor
    if kind == UNKNOWN:
        gap = datasheet_gap(device, "temperature_sensor", f"temperature sensor of {device.label}")
        draft.find(not_checked("temperature-sensor", (device.id,), (gap,)))
    fitted = device.sensor_fitted
    if fitted == UNKNOWN and kind not in {"none", UNKNOWN}:
        draft.find(
            not_checked(
                "sensor-fitted",
                (device.id,),
                (
                    Gap(
                        f"whether the battery sensor of {device.label} is fitted",
                        f"{device.where}.sensor_fitted",
                    ),
                ),
            )
        )
    slope = _slope(draft, device)
    if kind in {"none", UNKNOWN} or fitted is False:
        flat = given(0.0, "mV/K", f"slope of {device.label}, no battery sensor", source=_COMMON)
        return Regime(device, False, flat, reference, low, high)
    if plant.battery.family == "lithium":
        return _lithium(draft, Regime(device, True, slope, reference, low, high))
    return _checked(draft, Regime(device, True, slope, reference, low, high))


def _reference(draft: Draft, device: DirectCurrentSource) -> Quantity:
    held = draft.number(device, "temperature_reference", draft.plant.cell("temperature_reference"))
    return held or given(
        25.0, "°C", f"reference temperature of {device.label}", source=f"{_COMMON}: it shows none"
    )


def _limits(draft: Draft, device: DirectCurrentSource) -> tuple[Quantity, Quantity]:
    low = draft.number(device, "temperature_low_limit", draft.plant.cell("temperature_clamp_low"))
    high = draft.number(device, "temperature_high_limit", draft.plant.cell("temperature_clamp_high"))
    return (
        low or draft.plant.cell("temperature_clamp_low"),
        high or draft.plant.cell("temperature_clamp_high"),
    )


def _slope(draft: Draft, device: DirectCurrentSource) -> Quantity:
    """Settle the coefficient and return what the device then holds for one cell, in mV/K."""
    cells = draft.plant.bank.cells
    wanted = draft.plant.cell("temperature_slope")
    ability = draft.ability(device, "temperature_coefficient")
    if ability is None:
        return given(0.0, "mV/K", f"slope of {device.label}, it has none", source=_COMMON)
    zero = isinstance(wanted, Figure) and wanted.value == 0
    if zero and ability.off:
        draft.word(device, "temperature_coefficient", "off", note="this chemistry is not compensated")
        return wanted.named(f"slope of {device.label}, off")
    bank = bank_voltage.of("slope of the whole bank", cells=cells, cell_voltage=wanted).in_unit("mV/K")
    held = draft.number(device, "temperature_coefficient", bank)
    if held is None:
        return wanted
    name = f"slope of one cell held by {device.label}"
    return in_device_basis.of(name, bank_value=held, count=cells).in_unit("mV/K")


def _lithium(draft: Draft, regime: Regime) -> Regime:
    """Leave the sensor off where the slope cannot be made nothing and cold charging is blocked elsewhere."""
    slope = regime.slope
    if not isinstance(slope, Figure) or slope.value == 0:
        return regime
    device, plant = regime.device, draft.plant
    unplugged = plant.rating(device, "unplugged_temperature")
    management = plant.bank.management
    blocked = draft.ability(device, "charge_low_temperature") is not None or (
        management is not None and management.charge_low_temperature != UNKNOWN
    )
    reference = regime.reference
    same = (
        isinstance(unplugged, Figure) and isinstance(reference, Figure) and unplugged.value == reference.value
    )
    safe = same and blocked
    draft.find(
        Finding(
            "advise" if safe else "correct",
            "slope-on-lithium",
            (device.id,),
            f"{device.label} changes its voltage by {slope.value:g} mV/K a cell and cannot be told not to; "
            f"this chemistry must not be compensated",
            "leave its battery sensor unplugged: it then assumes its reference temperature"
            if safe
            else "a device whose coefficient can be 0 mV/K, and a block of charging in the cold",
            value=slope,
            limit=given(0.0, "mV/K", "slope of this chemistry", source=_COMMON),
            passes=given(0.0, "mV/K", "slope that passes", source=_COMMON),
        )
    )
    if safe:
        flat = given(0.0, "mV/K", f"slope of {device.label}, sensor left unplugged", source=_COMMON)
        return Regime(device, False, flat, reference, regime.low, regime.high)
    return _shifted(draft, regime, tolerated=0.0)


def _checked(draft: Draft, regime: Regime) -> Regime:
    slope, wanted = regime.slope, draft.plant.cell("temperature_slope")
    if isinstance(slope, Figure) and isinstance(wanted, Figure) and slope.value * wanted.value < 0:
        draft.find(
            Finding(
                "stop",
                "slope-of-wrong-sign",
                (regime.device.id,),
                f"{regime.device.label} raises its voltage with temperature ({slope.value:+g} mV/K a cell): "
                "a hot bank would be driven into thermal runaway",
                f"set {wanted.value:g} mV/K a cell; where that cannot be set, another device",
                value=slope,
                limit=wanted,
                passes=wanted,
                setting="temperature_coefficient",
            )
        )
        return regime
    return _shifted(draft, regime, tolerated=TOLERATED)


def _shifted(draft: Draft, regime: Regime, *, tolerated: float) -> Regime:
    """Lower the reference values of a device whose slope errs by too much; say what that costs."""
    weather = climate(draft.plant)
    wanted = draft.plant.cell("temperature_slope")
    errors = [
        slope_error.of(
            f"error of one cell in the {word} month",
            device_slope=regime.slope,
            battery_slope=wanted,
            temperature=clamped_temperature.of(temperature=month, low=regime.low, high=regime.high),
            temperature_reference=regime.reference,
        )
        for word, month in (("coldest", weather.coldest_month), ("hottest", weather.hottest_month))
    ]
    worst = greatest("overcharge of one cell by the device's slope", *errors)
    if isinstance(worst, Unknown):
        draft.find(not_checked("slope-mismatch", (regime.device.id,), worst.missing))
        return regime
    if worst.value > tolerated + 1e-9:
        draft.find(_overcharge(regime, worst, tolerated))
        return Regime(regime.device, True, regime.slope, regime.reference, regime.low, regime.high, worst)
    least_error = min((error for error in errors if isinstance(error, Figure)), key=lambda error: error.value)
    if least_error.value < -TOLERATED - 1e-9:
        draft.find(_undercharge(regime, least_error))
    return regime


def _overcharge(regime: Regime, worst: Figure, tolerated: float) -> Finding:
    return Finding(
        "correct",
        "slope-overcharges",
        (regime.device.id,),
        f"the slope of {regime.device.label} overcharges a cell by {worst.value:.0f} mV in the worst month",
        f"its voltages are lowered by {worst.value:.0f} mV a cell, which undercharges at the other end of "
        "the year; better a device whose slope can be set",
        value=worst,
        limit=given(tolerated, "mV", "tolerated error of one cell", source=_COMMON),
        passes=worst.named("lowering of one cell that passes"),
    )


def _undercharge(regime: Regime, error: Figure) -> Finding:
    return Finding(
        "advise",
        "slope-undercharges",
        (regime.device.id,),
        f"the slope of {regime.device.label} undercharges a cell by {-error.value:.0f} mV in the worst "
        "month: longer absorption, more equalising, less capacity in the cold",
        "a device whose slope can be set to the battery's",
        value=error,
        limit=given(-TOLERATED, "mV", "tolerated error of one cell", source=_COMMON),
    )
