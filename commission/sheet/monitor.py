"""The battery monitor: what it counts by, and when it takes the bank for full."""

from __future__ import annotations

from typing import Final

from commission.figure import Figure, Gap, Quantity, Unknown, given, least
from commission.formulas.bank import bank_capacity
from commission.formulas.charging import sum_of_currents
from commission.formulas.lead_acid import capacity_at_rate
from commission.formulas.monitor_full import shunt_rating_needed, shunt_zero
from commission.plant.plant import Plant, fact
from commission.plant.site import Monitor
from commission.sheet.bank_state import COMMON, expected_current, rested
from commission.sheet.draft import Draft
from commission.sheet.monitor_full import settle_full
from commission.sheet.settling import not_checked, put_aside, settled
from commission.sheet.states import states_of
from commission.sheet.types import Finding

_ZERO_SHARE: Final = given(0.001, "1", "zero of a monitor, share of its shunt's rating", source=COMMON)
_LOADING: Final = given(0.66, "1", "share of its rating that a shunt carries for long", source=COMMON)
_LEAD_CAPACITY: Final = given(
    0.6,
    "%/K",
    "change of a lead bank's capacity with temperature",
    source="IEC 60896-11, 0.006 per K; from memory",
)


def settle_monitor(draft: Draft) -> None:
    """Settle the monitor's settings and check what it can see."""
    monitor = draft.plant.site.monitor
    if monitor is None:
        return
    _counting(draft, monitor)
    _shunt(draft, monitor)
    settle_full(draft, monitor, zero_of(draft.plant, monitor))
    _temperature(draft, monitor)
    _check_place(draft, monitor)
    _check_rating(draft, monitor)
    _check_authority(draft, monitor)


def _counting(draft: Draft, monitor: Monitor) -> None:
    plant = draft.plant
    rate = own_rate(plant)
    held = settled(draft, monitor, "monitor_capacity_rate", rate) or rate
    note = (
        ""
        if draft.ability(monitor, "monitor_capacity_rate")
        else "the monitor does not ask for its hour rate"
    )
    settled(draft, monitor, "monitor_capacity", _capacity(plant, rate, held), note=note)
    settled(draft, monitor, "monitor_peukert_exponent", plant.cell("peukert_exponent"))
    settled(draft, monitor, "monitor_charge_efficiency", plant.cell("charge_efficiency"))


def own_rate(plant: Plant) -> Quantity:
    """Return the hour rate at which the site file states the capacity; the profile's where it does not."""
    told = fact(plant.bank, "capacity_rate", "bank")
    return told if isinstance(told, Figure) else plant.cell("capacity_rate")


def _capacity(plant: Plant, rate: Quantity, held: Quantity) -> Quantity:
    """Return the capacity of the bank at the hour rate that the monitor works with."""
    one = fact(plant.bank, "capacity", "bank", "one string")
    same = isinstance(rate, Figure) and isinstance(held, Figure) and abs(rate.value - held.value) < 1e-9
    if not same and plant.battery.family != "lithium":
        one = capacity_at_rate.of(
            "capacity of one string at the monitor's hour rate",
            capacity=one,
            rate=rate,
            exponent=plant.cell("peukert_exponent"),
            wanted_rate=held,
        )
    return bank_capacity.of("capacity of the bank", capacity=one, strings=float(len(plant.bank.strings)))


def _shunt(draft: Draft, monitor: Monitor) -> None:
    for setting, field in (
        ("monitor_shunt_current", "shunt_current"),
        ("monitor_shunt_voltage", "shunt_voltage"),
    ):
        fitted = fact(monitor, field, monitor.where, monitor.label)
        settled(draft, monitor, setting, fitted, low=fitted, high=fitted, side="nearest")
    settled(draft, monitor, "monitor_zero_threshold", zero_of(draft.plant, monitor), side="up")


def zero_of(plant: Plant, monitor: Monitor) -> Quantity:
    """Return the least current that a monitor tells from zero."""
    name = f"zero of {monitor.label}"
    rated = fact(monitor, "shunt_current", monitor.where, monitor.label)
    if isinstance(rated, Figure) and rated.value <= 0:
        rated = Unknown((Gap(f"{rated.name}: 0 A is none", f"{monitor.where}.shunt_current"),), "A", name)
    return shunt_zero.of(name, share=_ZERO_SHARE, rated_current=rated)


def _temperature(draft: Draft, monitor: Monitor) -> None:
    """Settle how the counted capacity follows temperature: only where a sensor sits on the bank."""
    setting = "monitor_temperature_coefficient"
    if draft.ability(monitor, setting) is None:
        return
    if monitor.temperature_sensor is False:
        put_aside(draft, monitor, setting, "low", "no temperature sensor on the bank")
    elif monitor.temperature_sensor == "unknown":
        missing = Gap(f"temperature sensor of {monitor.label}", f"{monitor.where}.temperature_sensor")
        gap = Unknown((missing,), "%/K", "temperature coefficient")
        settled(draft, monitor, setting, gap)
    elif draft.plant.battery.family == "lead":
        settled(draft, monitor, setting, _LEAD_CAPACITY, side="nearest")
    else:
        put_aside(draft, monitor, setting, "low", "no coefficient of this chemistry is at hand")


def _check_place(draft: Draft, monitor: Monitor) -> None:
    """Find parts whose current the shunt misses."""
    parts = draft.plant.parts
    for ident in monitor.on_battery_side:
        label = parts[ident].label if ident in parts else ident
        draft.find(
            Finding(
                "correct",
                "current-past-shunt",
                (monitor.id, ident),
                f"{label} is connected between shunt and bank: {monitor.label} misses its current",
                f"{label} on the load side of the shunt; nothing but the bank's own conductor on the other",
            )
        )


def _check_rating(draft: Draft, monitor: Monitor) -> None:
    """Find a shunt that is too small for the current that flows for long."""
    plant = draft.plant
    rating = fact(monitor, "shunt_current", monitor.where, monitor.label)
    draw = expected_current(plant, monitor, rested(plant, states_of(plant).start))
    charge = _charge_current(draft)
    currents = [draw] if charge is None else [draw, charge]
    for current in currents:
        needed = shunt_rating_needed.of("shunt rating needed", current=current, loading=_LOADING)
        lower = least("shunt rating", rating, needed)
        if not_checked(draft, "shunt-rating", (monitor.id,), lower):
            continue
        assert isinstance(needed, Figure) and isinstance(rating, Figure)  # noqa: S101, PT018 - checked above
        if rating.value < needed.value - 1e-9:
            draft.find(_too_small(monitor, rating, needed, current))


def _charge_current(draft: Draft) -> Quantity | None:
    """Return the charge current that may flow for long: the sources' shares within the bank's limit."""
    found = [draft.shares.get(source.id) for source in draft.plant.sources]
    shares = [share for share in found if share is not None]
    limit = draft.numbers.get("bank_limit")
    if not shares:
        return limit
    total = sum_of_currents.of("charge current of all sources", currents=shares)
    return total if limit is None else least("charge current for long", total, limit)


def _too_small(monitor: Monitor, rating: Figure, needed: Figure, current: Quantity) -> Finding:
    amperes = f"{current.value:.0f} A" if isinstance(current, Figure) else ""
    return Finding(
        "advise",
        "shunt-rating",
        (monitor.id,),
        f"the shunt of {monitor.label} is rated {rating.value:.0f} A; {amperes} may flow for long, and a "
        "shunt carries two thirds of its rating",
        f"a shunt of {needed.value:.0f} A or more",
        value=rating,
        limit=needed,
        passes=needed,
    )


def _check_authority(draft: Draft, monitor: Monitor) -> None:
    """Find a managed bank whose own count is not the one that is believed."""
    management = draft.plant.bank.management
    believed = draft.plant.site.authority.state_of_charge
    if management is None or management.data_link is not True:
        if believed == "none":
            draft.find(_no_authority(monitor))
        return
    if believed != "battery":
        draft.find(
            Finding(
                "advise",
                "count-of-managed-bank",
                (monitor.id,),
                "the managed battery counts its own charge and "
                f"{'nothing' if believed == 'none' else believed} is believed instead",
                f"authority.state_of_charge = 'battery'; {monitor.label} stands beside it as a witness",
            )
        )


def _no_authority(monitor: Monitor) -> Finding:
    return Finding(
        "advise",
        "count-not-used",
        (monitor.id,),
        f"{monitor.label} counts the charge and no device goes by it",
        f"authority.state_of_charge = '{monitor.id}'",
    )
