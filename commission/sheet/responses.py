"""What AC-coupled PV inverters do when the frequency rises, as figures."""

from __future__ import annotations

from commission.figure import Gap, Quantity, Unknown, given
from commission.plant.plant import Plant
from commission.plant.site import AcPvInverter
from commission.plant.values import UNKNOWN

_UNITS = {"return_delay": "s", "return_ramp": "s", "slow_trip_time": "s", "fast_trip_time": "s"}


def response_fact(plant: Plant, inverter: AcPvInverter, field: str) -> Quantity:
    """Return a number of a PV inverter's response to frequency.

    The site's own value goes before the class's; the rule set's stands for one that says nothing at all.
    """
    found = plant.ac_pv_class(inverter)
    value = getattr(found.response, field)
    unit = _UNITS.get(field, "Hz")
    name = f"{field.replace('_', ' ')} of {inverter.label}"
    gap = Gap(name, f"{inverter.where}.response.{field}")
    if value == UNKNOWN and found.response.kind == "unknown":
        return _of_rules(plant, field, unit, gap)
    if value == UNKNOWN:
        return Unknown((gap,), unit, name)
    if field in inverter.response or "response" in inverter.datasheet:
        return given(float(value), unit, name, kind="site", where=f"{inverter.where}.response.{field}")
    source = f"{found.sources.get('response', found.source)}; {found.known}"
    where = f"{found.id}.response.{field}"
    return given(float(value), unit, name, kind="profile", where=where, source=source)


def _of_rules(plant: Plant, field: str, unit: str, name: Gap) -> Quantity:
    value = getattr(plant.rules.response, field)
    if value == UNKNOWN:
        return Unknown((name,), unit, str(name))
    where, source = f"{plant.rules.id}.response.{field}", plant.rules.response_source
    return given(float(value), unit, f"{name}, by the rule set", kind="rules", where=where, source=source)
