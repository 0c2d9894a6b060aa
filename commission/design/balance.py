"""The balance of a day in the design month: what the plant takes from its bus and what the sun gives it."""

from __future__ import annotations

from typing import Final

from commission.figure import Figure, Gap, Quantity, Unknown, given, least
from commission.formulas.arrays import array_power, charging_power
from commission.formulas.charging import scaled_current
from commission.formulas.energy import array_energy, daily_energy_of_bank, energy_of_a_day
from commission.formulas.load_control import sum_of_powers
from commission.formulas.pv_limits import array_power_at_full_output
from commission.plant.plant import Plant, fact, part_fact
from commission.plant.site import AcPvInverter, Array, ChargeController, Generator, Load
from commission.sheet.bank_state import COMMON, whole

_NO_INVERTER: Final = given(1.0, "1", "no AC load: no inverter in between", source=COMMON)


def nominal(plant: Plant) -> Quantity:
    """Return the nominal voltage of the bank."""
    return whole(plant, "nominal_cell_voltage")


def energy_of(load: Load) -> Quantity:
    """Return the energy of a load in a day: as told, else its power day and night where it never stops."""
    told = part_fact(load, "daily_energy")
    if isinstance(told, Unknown) and load.continuous:
        power = part_fact(load, "power")
        if isinstance(power, Figure):
            return energy_of_a_day.of(f"{load.label}, day and night", power=power)
    return told


def taken(plant: Plant) -> Quantity:
    """Return the energy that the plant takes from its bus in a day, with losses and all that idles."""
    return _of_loads(plant, plant.site.loads, "energy of a day", standing=True)


def taken_at_any_time(plant: Plant) -> Quantity:
    """Return the part of a day's energy that may all be taken at night."""
    loads = tuple(load for load in plant.site.loads if not load.continuous)
    return _of_loads(plant, loads, "energy of what may all run at night", standing=False)


def taken_without_end(plant: Plant) -> Quantity:
    """Return the part of a day's energy that is taken day and night alike."""
    loads = tuple(load for load in plant.site.loads if load.continuous)
    return _of_loads(plant, loads, "energy of what runs day and night", standing=True)


def standing_powers(plant: Plant) -> list[Quantity]:
    """Return what is drawn day and night without any load: idle inverters, and what stays on the bank."""
    idle = [plant.rating(device, "idle_power") for device in plant.site.inverter_chargers]
    return [*idle, fact(plant.bank, "standing_draw", "bank")]


def inverter_efficiency(plant: Plant) -> Quantity:
    """Return the least efficiency of the inverters; 1 where no load is behind one."""
    if not any(load.current == "ac" for load in plant.site.loads):
        return _NO_INVERTER
    inverters = plant.site.inverter_chargers
    if not inverters:
        return Unknown(
            (Gap("inverter that feeds the AC loads", "inverter_chargers"),),
            "1",
            "efficiency of the inverters",
        )
    ratings = [plant.rating(one, "inverter_efficiency") for one in inverters]
    return ratings[0] if len(ratings) == 1 else least("least efficiency of the inverters", *ratings)


def _of_loads(plant: Plant, loads: tuple[Load, ...], name: str, *, standing: bool) -> Quantity:
    if not plant.site.loads:
        return Unknown((Gap("loads of the site and their daily energy", "loads"),), "Wh", name)
    return daily_energy_of_bank.of(
        name,
        direct=[energy_of(load) for load in loads if load.current == "dc"],
        alternating=[energy_of(load) for load in loads if load.current == "ac"],
        efficiency=inverter_efficiency(plant),
        standing=standing_powers(plant) if standing else [],
    )


# the sun


def has_array(plant: Plant) -> bool:
    """Whether any PV feeds the plant."""
    arrays = [one for one in plant.site.charge_controllers if one.array is not None]
    return bool(arrays or plant.site.ac_pv_inverters)


def from_sun(plant: Plant) -> Quantity:
    """Return the energy that all PV gives to the loads in a day of the design month."""
    parts = [_of_controller(plant, one) for one in plant.site.charge_controllers if one.array is not None]
    parts += [_of_coupled(plant, one) for one in plant.site.ac_pv_inverters]
    name = "energy from the sun in a day of the design month"
    return sum_of_powers.of(name, powers=parts).in_unit("Wh")


def sun_hours(plant: Plant) -> Quantity:
    """Return the hours of full sun in a day of the design month."""
    return fact(plant.site.expected, "sun_hours", "expected", "the design month")


def power_of(device: ChargeController, array: Array) -> Quantity:
    """Return the power of a controller's array at test conditions."""
    where, label = f"{device.where}.array", f"the array of {device.label}"
    power = fact(array, "module_power", where, label)
    own = [string.series for string in array.strings]
    name = f"array of {device.label}"
    if all(one is None for one in own):
        series = fact(array, "series", where, label)
        return array_power.of(name, module_power=power, series=series, strings=float(len(own)))
    common = fact(array, "series", where, label)
    parts = [
        array_power.of(
            f"string {string.id}",
            module_power=power,
            series=common if string.series is None else float(string.series),
            strings=1.0,
        )
        for string in array.strings
    ]
    return sum_of_powers.of(name, powers=parts)


def stc_power(plant: Plant) -> Quantity:
    """Return the power of all PV at test conditions."""
    arrays = [power_of(one, one.array) for one in plant.site.charge_controllers if one.array is not None]
    coupled = [part_fact(one, "array_power") for one in plant.site.ac_pv_inverters]
    return sum_of_powers.of("power of all PV", powers=[*arrays, *coupled])


def _of_controller(plant: Plant, device: ChargeController) -> Quantity:
    assert device.array is not None  # noqa: S101 - the caller has left out those without
    efficiency = plant.rating(device, "efficiency")
    most = array_power_at_full_output.of(
        f"what {device.label} can take",
        rating=plant.rating(device, "output_current"),
        bank_voltage=nominal(plant),
        efficiency=efficiency,
    )
    return array_energy.of(
        f"energy through {device.label}",
        power=least(f"power of {device.label}", _at_bank(plant, device, device.array), most),
        sun_hours=sun_hours(plant),
        efficiency=efficiency,
        charge_efficiency=plant.cell("charge_efficiency"),
    )


def _at_bank(plant: Plant, device: ChargeController, array: Array) -> Quantity:
    """Return the power of an array on its controller: a switched one pulls it down to the bank's voltage."""
    if plant.controller_class(device).topology != "switched":
        return power_of(device, array)
    where, label = f"{device.where}.array", f"the array of {device.label}"
    current = scaled_current.of(
        f"current of {label}",
        current=fact(array, "maximum_power_current", where, label),
        count=float(len(array.strings)),
    )
    return charging_power.of(
        f"array of {device.label} at the bank's voltage", current=current, bank_voltage=nominal(plant)
    )


def _of_coupled(plant: Plant, device: AcPvInverter) -> Quantity:
    power = least(
        f"power of {device.label}", part_fact(device, "array_power"), plant.rating(device, "rated_power")
    )
    inverters = plant.site.inverter_chargers
    name = "way from the AC side into the bank"
    efficiency = (
        least(name, *(plant.rating(one, "charger_efficiency") for one in inverters))
        if inverters
        else Unknown(
            (Gap(f"inverter/charger that makes the grid of {device.label}", "inverter_chargers"),), "1", name
        )
    )
    return array_energy.of(
        f"energy through {device.label}",
        power=power,
        sun_hours=sun_hours(plant),
        efficiency=efficiency,
        charge_efficiency=plant.cell("charge_efficiency"),
    )


# what stands behind it


def feeding_sets(plant: Plant) -> tuple[Generator, ...]:
    """Return the generators that are on the input of a charger."""
    fed = {ident for one in plant.site.inverter_chargers for ident in one.inputs.values()}
    return tuple(one for one in plant.site.generators if one.id in fed)


def has_utility(plant: Plant) -> bool:
    """Whether a public supply feeds a charger."""
    utility = plant.site.utility
    return utility is not None and any(
        utility.id in one.inputs.values() for one in plant.site.inverter_chargers
    )
