"""Parts that guard an array or a supply, as they would be bought for this plant."""

from __future__ import annotations

from typing import Final

from commission.design.currents import supply_voltage
from commission.design.fresh import fresh_id
from commission.design.pv_array import PvArray, array_short_circuit_current, cold_voltage
from commission.design.standard import device_voltages_from, ratings_from
from commission.design.types import Remedy, Scene
from commission.design.words import shown
from commission.figure import Figure
from commission.formulas.charging import scaled_current
from commission.formulas.overcurrent import device_for_load
from commission.plant.change import Change
from commission.plant.site import Utility

_POLES: Final = 2
"""Both conductors of an array are parted and guarded: either can be live by day."""
_AT_ARRAY: Final = "at the array's entry"
_AT_ENTRY: Final = "at the entry"
_SOURCE: Final = "IEC 62548, IEC 61643-32 at an array; IEC 60364-5-53, 534 at the entry of a supply"


def isolator(pv: PvArray) -> Remedy:
    """Return a load-break switch for an array, rated for its greatest current and voltage."""
    needed = device_for_load.of(
        f"current that parts the array of {pv.controller.label}",
        current=array_short_circuit_current(pv.scene, pv.controller),
        factor=pv.plant.rule("pv_continuous_factor"),
    )
    rating = next(ratings_from(pv.plant, needed.value), None) if isinstance(needed, Figure) else None
    voltage = _voltage(pv)
    part = {
        "kind": "switch",
        "current": "dc",
        "rating": None if rating is None else rating.value,
        "voltage": None if voltage is None else voltage.value,
        "poles": _POLES,
        "polarised": False,
        "protects": "array",
        "of": pv.id,
    }
    size = "" if rating is None else f" of {shown(pv.scene, rating)}"
    stands = "" if voltage is None else f" for {shown(pv.scene, voltage)} dc"
    name = fresh_id(pv.plant, f"switch-{pv.id}")
    text = f"a load-break dc switch of {_POLES} poles{size}{stands} between array and controller"
    if rating is None or voltage is None:
        return Remedy(text)
    return Remedy(text, rating, (Change(f"protection[{name}]", part),))


def array_surge(pv: PvArray) -> Remedy:
    """Return surge protection for an array."""
    voltage = _voltage(pv)
    part = {
        "kind": "surge",
        "current": "dc",
        "voltage": None if voltage is None else voltage.value,
        "poles": _POLES,
        "protects": "array",
        "of": pv.id,
    }
    if voltage is None:
        return Remedy(f"surge protection {_AT_ARRAY}")
    text = f"surge protection for {shown(pv.scene, voltage)} dc {_AT_ARRAY}"
    rated = voltage.named("rated voltage of the surge protection", _SOURCE)
    return Remedy(text, rated, (Change(f"protection[{fresh_id(pv.plant, f'surge-{pv.id}')}]", part),))


def entry_surge(scene: Scene, utility: Utility) -> Remedy:
    """Return surge protection for the entry of the public supply, for its greatest voltage."""
    voltage = scaled_current.of(
        f"greatest voltage of {utility.label}",
        current=supply_voltage(scene.plant, utility),
        count=scene.plant.rule("ac_voltage_high"),
    ).in_unit("V")
    if not isinstance(voltage, Figure):
        return Remedy(f"surge protection {_AT_ENTRY}")
    part = {
        "kind": "surge",
        "current": "ac",
        "voltage": round(voltage.value, 1),
        "poles": _POLES,
        "of": utility.id,
    }
    change = (Change(f"protection[{fresh_id(scene.plant, f'surge-{utility.id}')}]", part),)
    rated = voltage.named(voltage.name, _SOURCE)
    return Remedy(f"surge protection for at least {shown(scene, voltage)} ac {_AT_ENTRY}", rated, change)


def _voltage(pv: PvArray) -> Figure | None:
    """Return the next rated voltage over the array's at the record low, None where that is not known."""
    cold = [cold_voltage(pv, string) for string in pv.kinds]
    known = [one.value for one in cold if isinstance(one, Figure)]
    if len(known) < len(cold):
        return None
    return next(device_voltages_from(pv.plant, max(known)), None)
