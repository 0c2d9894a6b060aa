"""What a source should hold and give now: by its settings as left, its report and what the battery tells."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from commission.checklist.bands import missing, together
from commission.checklist.conditions import Found, condition, condition_ask
from commission.checklist.lookup import known_or, limit, source_of, whole
from commission.checklist.runs import joints_of
from commission.checklist.situation import Situation
from commission.checklist.types import Expected, NotJudged, Waits
from commission.figure import Band, Figure, Quantity, Unknown, given, least
from commission.formulas.charging import clamped_temperature, compensated_voltage, per_cell, scaled_current
from commission.formulas.commissioning_tests import charger_voltage_half_width
from commission.formulas.conductors import series_resistance, voltage_after_drop
from commission.plant.equipment import Ability
from commission.plant.plant import Plant
from commission.plant.site import ChargeController, Device, DirectCurrentSource
from commission.plant.values import UNKNOWN, in_words
from commission.sheet.bank_state import cells
from commission.sheet.cables import cable_resistance, path_to_bank
from commission.sheet.clamp import load_maxima
from commission.sheet.draft import Draft
from commission.units import show

ALSO: Final = {"bulk": frozenset({"current limit"})}
"""What a charger may say in place of a stage: at its current limit it is in bulk."""
NO_SHEET: Final = 0.005
"""Accuracy of a device's voltage where its sheet is silent; common practice."""
NEAR_LIMIT: Final = 0.98
"""Share of its current limit from which a source counts as limited by it; common practice."""


def stage(situation: Situation) -> str | Waits | NotJudged:
    """Return which state a source shows at the moment, in the words of the checklist data."""
    found = condition(situation, "charger-state")
    if not isinstance(found, Figure):
        return found
    data = situation.checklist.conditions_by_id["charger-state"]
    ask = condition_ask(situation.checklist, situation.step, data)
    assert ask is not None  # noqa: S101 - the condition was found by it
    return ask.data.choices[round(found.value)]


def wanted_stage(situation: Situation, wanted: str) -> Waits | NotJudged | None:
    """Return why a reading cannot be judged: the source is in another stage. None where it is in this one."""
    found = stage(situation)
    if not isinstance(found, str):
        return found
    if found == wanted or found in ALSO.get(wanted, ()):
        return None
    return NotJudged(f"charger in {found}, not in {wanted}")


# settings as left, in whole-bank volts or their own unit


def left(situation: Situation, device: Device, setting: str) -> Quantity | None:
    """Return a setting as left; None where the device has none of that name or it is no number."""
    return situation.left(device.id, setting, None)


def basis_count(plant: Plant, device: Device, ability: Ability) -> float:
    """Return by how much a whole-bank value is divided for the device's display."""
    return Draft(plant).count(device, ability)


def step_of(plant: Plant, device: Device, setting: str) -> Figure:
    """Return the step of a setting in whole-bank volts or its own unit; nothing where it is not told."""
    ability = plant.equipment[device.id].settings.get(setting)
    value = 0.0 if ability is None or ability.step is None else ability.step
    count = 1.0 if ability is None else basis_count(plant, device, ability)
    unit = "" if ability is None else ability.unit
    where = f"{plant.equipment[device.id].id}.settings.{setting}"
    return given(value * count, unit, f"step of {device.label}", kind="profile", where=where)


def own_limit(situation: Situation, source: DirectCurrentSource) -> Quantity:
    """Return the charge current limit of a source: as left, else what it is rated for."""
    held = left(situation, source, "charge_current_limit")
    if held is not None:
        return held
    field = "output_current" if isinstance(source, ChargeController) else "charger_current"
    return situation.plant.rating(source, field)


# what the battery tells


def hears_battery(plant: Plant, source: DirectCurrentSource) -> bool | None:
    """Return whether a source follows what the battery tells; None where the site file does not say."""
    management = plant.bank.management
    if management is None or management.data_link is False:
        return False
    coordination = plant.site.coordination
    if source.on_battery_link or (coordination.hears_battery and source.id in coordination.members):
        return True
    return None if source.on_battery_link is None or management.data_link == UNKNOWN else False


def told(situation: Situation, source: DirectCurrentSource, ident: str) -> Found | None:
    """Return what the battery tells a source at the moment; None where the source does not hear it."""
    hears = hears_battery(situation.plant, source)
    if hears is None:
        return NotJudged(f"not known: whether {source.label} hears the battery's limits")
    return condition(situation, ident) if hears else None


def current_limit(situation: Situation, source: DirectCurrentSource) -> Found:
    """Return the least of a source's own charge current limit and of what the battery tells it."""
    own = own_limit(situation, source)
    if isinstance(own, Unknown):
        return NotJudged(f"not known: {missing(own)}")
    heard = told(situation, source, "told-charge-limit")
    if heard is None:
        return own
    if not isinstance(heard, Figure):
        return heard
    return _figure(least(f"charge current limit of {source.label} at the moment", own, heard))


def bank_current_limit(situation: Situation) -> Found:
    """Return the most that may flow into the bank now: by the sheet, and by what the battery tells."""
    own = situation.sheet.bank_limit
    if isinstance(own, Unknown):
        return NotJudged(f"not known: {missing(own)}")
    management = situation.plant.bank.management
    if management is None or management.data_link is not True:
        return own
    heard = condition(situation, "told-charge-limit")
    if not isinstance(heard, Figure):
        return heard
    return _figure(least("limit of the current into the bank at the moment", own, heard))


# voltages


@dataclass(frozen=True, slots=True)
class Held:
    """The voltage at the bank's posts that a source should hold, and how far it may be from it."""

    nominal: Figure
    half_width: Quantity
    says: str


def held_voltage(situation: Situation, setting: str) -> Held | Waits | NotJudged:
    """Return what a source should hold at the posts in a stage, with the temperature that it reports itself.

    Parameters
    ----------
    setting
        ``absorption_voltage``, ``float_voltage`` or ``equalize_voltage``.
    """
    source = source_of(situation)
    setpoint = left(situation, source, setting)
    if not isinstance(setpoint, Figure):
        gap = f"{source.label} has none as left" if setpoint is None else f"not known: {missing(setpoint)}"
        return NotJudged(f"{in_words(setting)}: {gap}")
    conditions = _conditions(situation, source)
    if not isinstance(conditions, _Moment):
        return conditions
    own = _compensated(situation, source, setpoint, conditions.temperature)
    nominal = own
    if conditions.told is not None:
        nominal = least("least of setting and told voltage", own, conditions.told)
    at_posts = _less_drop(situation.plant, source, nominal, conditions.current)
    if not isinstance(at_posts, Figure):
        return NotJudged(f"not known: {missing(at_posts)}")
    width = _half_width(situation, source, setting, at_posts, slope=conditions.temperature is not None)
    return Held(at_posts, width, _says(situation, conditions))


@dataclass(frozen=True, slots=True)
class _Moment:
    temperature: Figure | None
    """°C that the source reports or assumes; None where its voltage does not follow temperature."""
    current: Figure | None
    """A in its own run; None where it measures at the bank."""
    told: Figure | None
    """V that the battery tells at most; None where the source does not hear it."""


def _conditions(situation: Situation, source: DirectCurrentSource) -> _Moment | Waits | NotJudged:
    senses = situation.plant.source_class(source).senses_voltage
    if senses == UNKNOWN:
        return NotJudged(f"not known: where {source.label} measures the bank's voltage")
    asked: dict[str, Found | None] = {
        "temperature": reported_temperature(situation, source),
        "current": condition(situation, "source-current") if senses == "own terminals" else None,
        "told": told(situation, source, "told-voltage-limit"),
    }
    held = together(*(found for found in asked.values() if found is not None))
    if not isinstance(held, tuple):
        return held
    figures = {name: found if isinstance(found, Figure) else None for name, found in asked.items()}
    return _Moment(figures["temperature"], figures["current"], figures["told"])


def reported_temperature(situation: Situation, source: DirectCurrentSource) -> Found | None:
    """Return the battery temperature that a source goes by; None where its voltage does not follow it."""
    slope = left(situation, source, "temperature_coefficient")
    kind = situation.plant.source_class(source).temperature_sensor
    if kind == "none" or slope is None or (isinstance(slope, Figure) and slope.value == 0.0):
        return None
    if source.sensor_fitted is False:
        assumed = situation.plant.rating(source, "unplugged_temperature")
        return assumed if isinstance(assumed, Figure) else NotJudged(f"not known: {missing(assumed)}")
    return condition(situation, "charger-temperature")


def _compensated(
    situation: Situation, source: DirectCurrentSource, setpoint: Figure, temperature: Figure | None
) -> Quantity:
    if temperature is None:
        return setpoint
    plant = situation.plant
    ends = {
        end: left(situation, source, f"temperature_{end}_limit") or plant.cell(f"temperature_clamp_{end}")
        for end in ("low", "high")
    }
    held = clamped_temperature.of(temperature=temperature, low=ends["low"], high=ends["high"])
    slope = left(situation, source, "temperature_coefficient") or limit(0.0, "mV/K", "no coefficient")
    value = compensated_voltage.of(
        "voltage for the temperature that it reports",
        cells=cells(plant),
        reference=per_cell.of("setpoint of one cell", bank_voltage=setpoint, cells=cells(plant)),
        slope=per_cell.of("coefficient of one cell", bank_voltage=slope, cells=cells(plant)).in_unit("mV/K"),
        temperature=held,
        temperature_reference=left(situation, source, "temperature_reference")
        or limit(25.0, "°C", f"reference temperature of {source.label}, which shows none"),
    )
    ceiling = left(situation, source, "charge_voltage_ceiling")
    return value if ceiling is None else least("voltage under the device's own ceiling", value, ceiling)


def _less_drop(
    plant: Plant, source: DirectCurrentSource, nominal: Quantity, current: Figure | None
) -> Quantity:
    if current is None:
        return nominal
    return voltage_after_drop.of(
        "voltage at the posts", voltage=nominal, current=current, resistance=way_to_bank(plant, source)
    )


def way_to_bank(plant: Plant, source: DirectCurrentSource) -> Quantity:
    """Return what the conductors between a source and the posts resist, out and back, joints included."""
    path = path_to_bank(plant, source.id)
    if path is None:
        gap = f"conductor run between {source.label} and the bank"
        return Unknown((gap,), "Ω", gap)
    parts = []
    for run in path:
        both = scaled_current.of(f"joints of {run.label}, both poles", current=joints_of(run), count=2.0)
        parts += [cable_resistance(run), both.in_unit("Ω")]
    return series_resistance.of(f"conductors of {source.label}, out and back", resistances=parts)


def _half_width(
    situation: Situation, source: DirectCurrentSource, setting: str, nominal: Figure, *, slope: bool
) -> Quantity:
    plant = situation.plant
    held = left(situation, source, "temperature_coefficient") if slope else None
    one = (
        limit(0.0, "mV/K", "no compensation")
        if held is None
        else per_cell.of("coefficient of one cell", bank_voltage=held, cells=cells(plant)).in_unit("mV/K")
    )
    return charger_voltage_half_width.of(
        "half-width of the band",
        voltage=nominal,
        accuracy=known_or(plant.rating(source, "voltage_accuracy"), NO_SHEET),
        step=step_of(plant, source, setting),
        slope=one,
        cells=cells(plant),
    )


def _says(situation: Situation, moment: _Moment) -> str:
    system = situation.plant.site.site.units
    figures = [item for item in (moment.temperature, moment.current) if item is not None]
    shown = [show(item.value, item.unit, system) for item in figures]
    if moment.told is not None:
        shown.append(f"{show(moment.told.value, 'V', system)} told by the battery")
    return f"at {', '.join(shown)}" if shown else ""


def recorded(situation: Situation, says: str) -> Expected:
    """Return a band without limits: what is read is kept, and nothing is expected of it here."""
    return Expected(Band(None, None, None, situation.ask.data.unit), says)


# what no charging voltage may reach


def stop_voltage(situation: Situation) -> Quantity:
    """Return the voltage of the bank at which charging stops work at once.

    The greatest of a chemistry that is never exceeded, which for lead and nickel moves with the battery's
    temperature, and the least greatest voltage of everything on the DC bus.
    """
    plant = situation.plant
    candidates = [situation.sheet.bus_maximum, *load_maxima(plant)]
    ceiling = ceiling_now(situation)
    known = [item for item in (*candidates, ceiling) if isinstance(item, Figure)]
    gaps = missing(*candidates, ceiling)
    name = "voltage that is never to be reached"
    if not known:
        return Unknown((gaps,), "V", name)
    return least(name, *known).named(name, f"may be lower: {gaps} not known" if gaps else "")


def ceiling_now(situation: Situation) -> Quantity:
    """Return the chemistry's ceiling for the whole bank at the battery temperature of the moment."""
    plant = situation.plant
    ceiling = plant.cell("ceiling_voltage")
    if plant.battery.family == "lithium":
        return whole(plant, ceiling, "ceiling of the chemistry, whole bank")
    temperature = condition(situation, "battery-temperature")
    if not isinstance(temperature, Figure):
        temperature = limit(25.0, "°C", "battery temperature, not read today", "the profile's reference")
    held = clamped_temperature.of(
        temperature=temperature,
        low=plant.cell("temperature_clamp_low"),
        high=plant.cell("temperature_clamp_high"),
    )
    return compensated_voltage.of(
        "ceiling of the chemistry at this temperature, whole bank",
        cells=cells(plant),
        reference=ceiling,
        slope=plant.cell("temperature_slope"),
        temperature=held,
        temperature_reference=plant.cell("temperature_reference"),
    )


def _figure(quantity: Quantity) -> Found:
    return quantity if isinstance(quantity, Figure) else NotJudged(f"not known: {missing(quantity)}")
