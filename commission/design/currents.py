"""The greatest and the usual current of every part that a conductor run can serve."""

from __future__ import annotations

from typing import Final

from commission.design.types import Scene
from commission.figure import Figure, Gap, Quantity, Unknown, given, greatest, least
from commission.formulas.ac_input import leg_power
from commission.formulas.charging import scaled_current, sum_of_currents
from commission.formulas.load_control import current_of_power, share_of_current
from commission.formulas.overcurrent import inverter_direct_current
from commission.formulas.sizing import battery_load
from commission.formulas.wiring_sizes import apparent_power
from commission.plant.equipment import Input
from commission.plant.once import once
from commission.plant.plant import Plant, part_fact
from commission.plant.site import AcPvInverter, ChargeController, Generator, InverterCharger, Load, Utility
from commission.sheet.bank_state import expected_power, share_of, whole

SUPPLY_FACTOR: Final = given(
    1.0,
    "1",
    "factor of a supply",
    source="the source holds its own rating: NEC 445.13(A) exception; common practice",
)
_LEGS: Final = {"single": 1, "split": 2, "three": 3}
_LOAD_LEGS: Final = {"1": 1, "2": 1, "3": 1, "both": 2, "all": 3}


@once
def bank_nominal(plant: Plant) -> Quantity:
    """Return the nominal voltage of the bank, in V."""
    return whole(plant, "nominal_cell_voltage").named("nominal voltage of the bank")


@once
def bank_low(plant: Plant) -> Quantity:
    """Return the voltage of the bank at the end of its discharge, in V."""
    return whole(plant, "end_of_discharge_voltage").named("voltage of the bank at the end of discharge")


def inverter_low(plant: Plant, device: InverterCharger) -> Quantity:
    """Return the lowest voltage at which an inverter runs, in V: its own cut-off, not under the bank's end.

    One of the two stands for both where the other is not known: the greater would only be less strict.
    """
    own, end = plant.rating(device, "low_cut_off"), bank_low(plant)
    known = [item for item in (own, end) if isinstance(item, Figure)]
    if not known:
        return own
    return greatest(f"lowest voltage at which {device.label} runs", *known)


def drawn_by(plant: Plant, device: InverterCharger) -> Quantity:
    """Return the direct current of an inverter at rated power and its lowest voltage, in A."""
    return inverter_direct_current.of(
        f"current of {device.label} at rated power and lowest voltage",
        power=plant.rating(device, "continuous_power"),
        efficiency=plant.rating(device, "inverter_efficiency"),
        voltage=inverter_low(plant, device),
    )


def nominal_draw(plant: Plant, device: InverterCharger) -> Quantity:
    """Return the direct current of an inverter at rated power and nominal voltage, in A."""
    return inverter_direct_current.of(
        f"current of {device.label} at rated power and nominal voltage",
        power=plant.rating(device, "continuous_power"),
        efficiency=plant.rating(device, "inverter_efficiency"),
        voltage=bank_nominal(plant),
    )


def charges(plant: Plant, device: InverterCharger) -> bool:
    """Whether an inverter/charger has anything to charge from: an AC source, or PV on its output."""
    return bool(device.inputs) or bool(plant.site.ac_pv_inverters)


def inverter_current(plant: Plant, device: InverterCharger) -> Quantity:
    """Return the greatest current between an inverter/charger and the bank, either way, in A."""
    drawn = drawn_by(plant, device)
    if not charges(plant, device):
        return drawn
    charger = plant.rating(device, "charger_current")
    return greatest(f"greatest direct current of {device.label}", drawn, charger)


def inverter_working(plant: Plant, device: InverterCharger) -> Quantity:
    """Return an inverter's direct current at its share of the expected load and nominal voltage, in A."""
    power = _expected_of(plant, device)
    taken = battery_load.of(
        f"power that {device.label} takes from the bank",
        power=power,
        efficiency=plant.rating(device, "inverter_efficiency"),
    )
    name = f"current of {device.label} at the expected load"
    return current_of_power.of(name, power=taken, voltage=bank_nominal(plant))


def _expected_of(plant: Plant, device: InverterCharger) -> Quantity:
    return share_of_current.of(
        f"{device.label}'s share of the expected load",
        share=share_of(plant, [device]),
        current=expected_power(plant),
    ).in_unit("W")


def controller_output(plant: Plant, device: ChargeController) -> Quantity:
    """Return the greatest output current of a charge controller, in A."""
    return plant.rating(device, "output_current").named(f"rated output current of {device.label}")


def direct_load_current(plant: Plant, load: Load, voltage: Quantity) -> Quantity:
    """Return the current of a DC load at a voltage of the bank, in A."""
    return current_of_power.of(f"current of {load.label}", power=part_fact(load, "power"), voltage=voltage)


# alternating current


def leg_voltage(plant: Plant) -> Quantity:
    """Return the voltage between a leg or phase and neutral, in V: the inverters', else the rule set's."""
    told = [plant.rating(device, "ac_voltage") for device in plant.site.inverter_chargers]
    return told[0] if told else plant.rule("ac_voltage")


def across(voltage: Quantity, legs: int) -> Quantity:
    """Return the voltage between the conductors of a circuit: twice the leg's across two legs, in V."""
    if legs != 2:
        return voltage
    return scaled_current.of("voltage between the two legs", current=voltage, count=2.0).in_unit("V")


def output_legs(plant: Plant, device: InverterCharger) -> int:
    """Return the legs that one inverter makes."""
    return plant.inverter_class(device).ac_legs


def output_current(plant: Plant, device: InverterCharger, power: Quantity | None = None) -> Quantity:
    """Return the current of an inverter's output on each leg, in A, at rated power or at another."""
    legs = output_legs(plant, device)
    rating = power or plant.rating(device, "continuous_power")
    one = leg_power.of(f"power on each leg of {device.label}", rating=rating, legs=float(legs))
    name = f"rated output current of {device.label}" if power is None else f"output current of {device.label}"
    return current_of_power.of(name, power=one, voltage=plant.rating(device, "ac_voltage"))


def output_working(plant: Plant, device: InverterCharger) -> Quantity:
    """Return the current of an inverter's output at its share of the expected load, in A."""
    return output_current(plant, device, _expected_of(plant, device))


def input_current(scene: Scene, device: InverterCharger, kinds: tuple[Input, ...]) -> Quantity:
    """Return the greatest current that an inverter/charger takes from its AC inputs, in A per leg.

    The limit that the sheet sets where it counts the whole input; its transfer relay passes the rest.
    """
    plant = scene.plant
    relay = plant.rating(device, "transfer_current").named(f"transfer relay of {device.label}")
    found = plant.inverter_class(device)
    limits = [limit for kind in kinds if (limit := _limit(scene, device, kind)) is not None]
    if found.ac_limit_counts != "whole input" or not limits:
        return relay
    known = [limit for limit in limits if isinstance(limit, Figure)]
    if len(known) < len(limits):
        return relay if isinstance(relay, Figure) else limits[0]
    name = f"current that {device.label} takes from its AC input"
    most = greatest(name, *known)
    return least(name, most, relay) if isinstance(relay, Figure) else most


def _limit(scene: Scene, device: InverterCharger, kind: Input) -> Quantity | None:
    sheet = scene.sheet
    value = sheet.value(device.id, "ac_input_current_limit", kind)
    if value is None:
        value = sheet.value(device.id, "ac_input_current_limit")
    if value is None or scene.plant.inverter_class(device).ac_limit_per != "group" or device.group is None:
        return value
    members = [one for one in scene.plant.site.inverter_chargers if one.group == device.group]
    return scaled_current.of(
        f"part of {device.label} in the limit of its group", current=value, count=1.0 / len(members)
    )


def coupled_current(plant: Plant, device: AcPvInverter) -> Quantity:
    """Return the rated output current of an AC-coupled PV inverter, in A per leg."""
    legs = 3 if device.leg == "all" else 1
    power = plant.rating(device, "rated_power")
    one = leg_power.of(f"power on each leg of {device.label}", rating=power, legs=float(legs))
    voltage = plant.rating(device, "ac_voltage")
    return current_of_power.of(f"rated current of {device.label}", power=one, voltage=voltage)


def coupled_legs(plant: Plant, device: AcPvInverter) -> int:
    """Return the legs that an AC-coupled PV inverter feeds at once."""
    if device.leg == "all":
        return 3
    return 2 if plant.ac_pv_class(device).across_legs else 1


def supply_legs(plant: Plant, source: Generator | Utility) -> int | None:
    """Return the legs or phases of an AC source, None where that is not known."""
    told = plant.generator_class(source).connection if isinstance(source, Generator) else source.connection
    return _LEGS.get(told)


def supply_current(plant: Plant, source: Generator | Utility) -> Quantity:
    """Return the current that an AC source gives at most on each leg, in A.

    A generator's rating; a public supply's own breaker, which holds it.
    """
    if isinstance(source, Utility):
        return part_fact(source, "supply_breaker")
    legs = supply_legs(plant, source) or 1
    rating = plant.rating(source, "rated_apparent_power")
    one = leg_power.of(f"rating of {source.label} on one leg", rating=rating, legs=float(legs))
    voltage = plant.rating(source, "ac_voltage")
    return current_of_power.of(f"rated current of {source.label}", power=one, voltage=voltage)


def supply_voltage(plant: Plant, source: Generator | Utility) -> Quantity:
    """Return the voltage between a leg of an AC source and neutral, in V."""
    if isinstance(source, Generator):
        return plant.rating(source, "ac_voltage")
    own = part_fact(source, "ac_voltage")
    return own if isinstance(own, Figure) else plant.rule("ac_voltage")


def load_legs(load: Load) -> int | None:
    """Return how many legs an AC load takes its power from, None where that is not known."""
    return _LOAD_LEGS.get(load.leg)


def load_current(plant: Plant, load: Load) -> Quantity:
    """Return the current of an AC load in each of its line conductors, in A."""
    legs = load_legs(load)
    if legs is None:
        return Unknown((Gap(f"leg of {load.label}", f"{load.where}.leg"),), "A", f"current of {load.label}")
    factor = part_fact(load, "power_factor")
    apparent = apparent_power.of(
        f"apparent power of {load.label}", power=part_fact(load, "power"), power_factor=factor
    )
    one = leg_power.of(f"{load.label} on one leg", rating=apparent, legs=float(legs))
    return current_of_power.of(f"current of {load.label}", power=one, voltage=leg_voltage(plant))


def together(name: str, currents: list[Quantity]) -> Quantity:
    """Return the sum of currents; a single one stays itself."""
    return currents[0] if len(currents) == 1 else sum_of_currents.of(name, currents=currents)


def one_of(count: int, what: str) -> Figure:
    """Return the share of each of several like things."""
    return given(1.0 / count, "1", f"share of each of {count} {what}", source="like paths carry like shares")
