"""How long the bank carries the loads alone, and how deep an ordinary day goes, against what was promised."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

from commission.design.balance import (
    has_array,
    nominal,
    sun_hours,
    taken,
    taken_at_any_time,
    taken_without_end,
)
from commission.design.less import (
    energy_shown,
    larger_strings,
    less_energy,
    string_capacity,
    time_shown,
)
from commission.design.types import Found, Later, Remedy, Scene
from commission.design.words import gap, shown
from commission.figure import Figure, Gap, Quantity, Unknown, given
from commission.formulas.energy import (
    capacity_for_autonomy,
    daily_depth,
    in_proportion,
    mean_current,
    share_from_table,
    share_in_cold,
    sizing_factor,
)
from commission.formulas.load_control import state_at_depth
from commission.formulas.sizing import autonomy_time
from commission.plant.change import Change
from commission.plant.plant import Plant, fact
from commission.sheet.bank_state import capacity
from commission.sheet.states import states_of
from commission.sheet.types import Finding
from commission.units import show

_HOUR: Final = 3600.0
_IN_COLD: Final = {
    "lithium": ((-20.0, 0.60), (0.0, 0.85), (25.0, 1.0)),
    "nickel": ((-40.0, 0.45), (-20.0, 0.70), (0.0, 0.85), (25.0, 1.0)),
}
"""Temperature in °C and the share of the capacity that is left, for what IEEE 485 has no table of."""
_THIN: Final = "data sheets in general, on the low side; from memory: the maker's own goes first"
_NO_SUN: Final = given(0.0, "h", "no sun hours told: the whole day from the bank", source="on the safe side")


def check_autonomy(scene: Scene) -> Iterator[Found]:
    """Find a bank that carries the loads for less than was promised, or is used deeper than it likes."""
    yield from _alone(scene)
    yield from _ordinary_day(scene)


def cold_share(plant: Plant) -> Quantity:
    """Return the share of its capacity that the bank gives at its coldest: its maker's word goes first."""
    told = fact(plant.bank, "cold_capacity", "bank")
    if isinstance(told, Figure):
        return told
    coldest = fact(plant.site.site, "coldest_battery", "site")
    name = "share of the capacity at the coldest battery"
    if plant.battery.family == "lead":
        share = share_in_cold.of(
            name, factor=sizing_factor.of("sizing factor of the coldest battery", temperature=coldest)
        )
    else:
        share = _by_table(plant, name, coldest)
    if isinstance(share, Unknown) and isinstance(coldest, Figure):
        cold = show(coldest.value, "°C", plant.site.site.units)
        return Unknown((Gap(f"{told.name} (the table ends above {cold})", "bank.cold_capacity"),), "1", name)
    return share


def _by_table(plant: Plant, name: str, coldest: Quantity) -> Quantity:
    rows = _IN_COLD[plant.battery.family]
    temperatures = [given(at, "°C", "battery temperature", source=_THIN) for at, _ in rows]
    shares = [given(share, "1", "share of the capacity", source=_THIN) for _, share in rows]
    return share_from_table.of(name, temperature=coldest, temperatures=temperatures, shares=shares)


# alone


def _alone(scene: Scene) -> Iterator[Found]:
    plant, bank = scene.plant, scene.plant.bank
    promised = fact(plant.site.expected, "autonomy", "expected")
    energy = taken(plant)
    if not isinstance(promised, Figure) or not isinstance(energy, Figure) or energy.value <= 0:
        return  # what is unknown of the loads is asked for once, with the energy of a day
    lasts = autonomy(plant)
    missing = gap("autonomy", (bank.id,), lasts)
    if missing is not None:
        yield missing
    if not isinstance(lasts, Figure) or lasts.value >= promised.value - 1e-6:
        return
    share = cold_share(plant)
    cold = f" at {_percent(share)} of its capacity in the cold" if _percent(share) != "100 %" else ""
    text = (
        f"the bank carries {energy_shown(energy)} a day alone for {time_shown(lasts)}{cold}, "
        f"{time_shown(promised)} were promised{_takes(scene, promised)}"
    )
    finding = Finding("advise", "autonomy", (bank.id,), text, value=lasts, limit=promised)
    yield Found(finding, Later(_of_autonomy(scene, lasts, promised, energy)))


def autonomy(plant: Plant) -> Quantity:
    """Return how long the charged bank carries the mean load until the loads are dropped, in s."""
    return autonomy_time.of(
        "time that the bank carries the loads alone",
        capacity=capacity(plant),
        rate=plant.cell("capacity_rate"),
        exponent=plant.cell("peukert_exponent"),
        depth=_depth_allowed(plant),
        temperature_share=cold_share(plant),
        current=_mean(plant),
    )


def _depth_allowed(plant: Plant) -> Quantity:
    """Return the depth at which the loads are dropped: the greatest, less where the management cuts off."""
    return state_at_depth.of(
        "depth at which the loads are disconnected", depth=states_of(plant).disconnect
    ).named("depth at which the loads are disconnected", "1 less the state of charge there")


def _mean(plant: Plant) -> Quantity:
    return mean_current.of("mean current of the loads", energy=taken(plant), voltage=nominal(plant))


def _of_autonomy(scene: Scene, lasts: Figure, promised: Figure, energy: Figure) -> Iterator[Remedy]:
    yield from larger_strings(scene, capacity(scene.plant), _wanted(scene.plant, promised))
    yield from less_energy(scene, energy.value * (1.0 - lasts.value / promised.value))
    hours = math.floor(lasts.value / _HOUR + 1e-6)
    if hours > 0:
        holds = given(hours * _HOUR, "s", "autonomy that holds", source="rounded down to a whole hour")
        yield Remedy(f"{hours} h promised instead", holds, (Change("expected.autonomy", holds.value),))


def _wanted(plant: Plant, promised: Figure) -> Quantity:
    return capacity_for_autonomy.of(
        "capacity of the bank that passes",
        time=promised,
        current=_mean(plant),
        depth=_depth_allowed(plant),
        temperature_share=cold_share(plant),
        rate=plant.cell("capacity_rate"),
        exponent=plant.cell("peukert_exponent"),
    )


def _takes(scene: Scene, promised: Figure) -> str:
    """Return what the promise would take, in words."""
    one = string_capacity(scene, capacity(scene.plant), _wanted(scene.plant, promised))
    if one is None:
        return ""
    count = len(scene.plant.bank.strings)
    return f"; that takes {one.value:g} Ah" + ("" if count == 1 else f" in each of the {count} strings")


def _percent(share: Quantity) -> str:
    return f"{share.value * 100:.0f} %" if isinstance(share, Figure) else "100 %"


# an ordinary day


def _ordinary_day(scene: Scene) -> Iterator[Found]:
    plant, bank = scene.plant, scene.plant.bank
    usual, depth = plant.cell("depth_usual"), depth_of_day(plant)
    if not isinstance(depth, Figure) or not isinstance(usual, Figure) or depth.value <= usual.value + 1e-9:
        return
    text = (
        f"an ordinary day takes {depth.value:.0%} of the bank's {shown(scene, _total(plant))}, "
        f"{usual.value:.0%} are usual for this battery: it ages sooner"
    )
    finding = Finding("advise", "daily-depth", (bank.id,), text, value=depth, limit=usual)
    yield Found(finding, Later(_of_depth(scene, depth, usual)))


def _total(plant: Plant) -> Figure:
    total = capacity(plant)
    assert isinstance(total, Figure)  # noqa: S101 - a depth was worked out with it
    return total


def depth_of_day(plant: Plant) -> Quantity:
    """Return the share of the bank's charge that an ordinary day takes.

    What runs day and night is fed past the bank while the sun shines; all else may run at night.
    """
    return daily_depth.of(
        "depth of an ordinary day",
        passing=taken_at_any_time(plant),
        lasting=taken_without_end(plant),
        sun_hours=_sun(plant),
        voltage=nominal(plant),
        capacity=capacity(plant),
    )


def _sun(plant: Plant) -> Figure:
    sun = sun_hours(plant)
    return sun if isinstance(sun, Figure) and has_array(plant) else _NO_SUN


def _of_depth(scene: Scene, depth: Figure, usual: Figure) -> Iterator[Remedy]:
    plant = scene.plant
    total = capacity(plant)
    wanted = in_proportion.of("capacity of the bank that passes", value=total, wanted=depth, given=usual)
    yield from larger_strings(scene, total, wanted.in_unit("Ah"))
    voltage = nominal(plant)
    if isinstance(voltage, Figure) and isinstance(total, Figure):
        excess = (depth.value - usual.value) * voltage.value * total.value
        yield from less_energy(scene, excess, 1.0 - _sun(plant).value / 24.0)
