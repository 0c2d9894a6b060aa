"""DC runs: strings, mains, inverters, controllers, arrays, loads and panels."""

from __future__ import annotations

from collections.abc import Iterable

from commission.design import currents
from commission.design.points import Points
from commission.design.pv_array import (
    array_name,
    string_fact,
    string_short_circuit_current,
)
from commission.design.types import Circuit, Scene
from commission.figure import Figure, Gap, Quantity, Unknown, greatest, least
from commission.formulas.charging import sum_of_currents
from commission.formulas.load_control import current_of_power, share_of_current
from commission.formulas.load_tests import active_power
from commission.formulas.sizing import battery_load
from commission.formulas.wiring_sizes import series_voltage
from commission.plant.plant import Plant
from commission.plant.site import ChargeController, InverterCharger, Load, PvString, Run
from commission.sheet.bank_state import expected_power
from commission.sheet.gaps import serves_gap


def direct(scene: Scene, net: Points, run: Run) -> Circuit:
    """Return what flows through a DC run."""
    if net.of_string(run):
        return _string(scene, net, run)
    array = _array(scene, net, run)
    if array is not None:
        return array
    behind = _behind(net, run)
    if isinstance(behind, Unknown):
        return unclear(run, behind, currents.bank_nominal(scene.plant))
    return _by_what_is_behind(scene, net, run, behind)


def unclear(run: Run, why: Unknown, voltage: Quantity) -> Circuit:
    """Return the circuit of a run of which nobody can say what it serves."""
    return Circuit(run, "unclear", voltage, why, why, currents.one_of(1, "run"), run.id)


def _behind(net: Points, run: Run) -> tuple[str, ...] | Unknown:
    """Return the parts that a run joins to the bank, or what is not clear about it."""
    bank, ends = net.plant.bank.id, net.ends(run)
    sides = [net.beyond(run, end) for end in ends]
    away = [side for side in sides if bank not in side]
    if len(away) == 2:
        return Unknown(
            (Gap(f"way from {run.label} to the bank", helps="the runs and panels between them"),),
            "A",
            f"current of {run.label}",
        )
    if bank in ends:
        away = [sides[1 - ends.index(bank)]]
    if not away:
        gap = f"which way the current of {run.label} takes: several lead from it to the bank"
        helps = "one way to the bank, or its current by hand"
        return Unknown((Gap(gap, helps=helps),), "A", f"current of {run.label}")
    site = net.plant.site
    parts = [*net.plant.sources, *(load for load in site.loads if load.current == "dc")]
    behind = tuple(part.id for part in parts if part.id in away[0])
    return behind or Unknown((serves_gap(run),), "A", f"current of {run.label}")


def _by_what_is_behind(scene: Scene, net: Points, run: Run, behind: tuple[str, ...]) -> Circuit:
    plant, ends = scene.plant, {*net.ends(run), run.from_, run.to}
    named = [part for part in behind if part in ends] or [
        source.id for source in plant.sources if source.run == run.id and source.id in behind
    ]
    guard = plant.protection_of(run.protection)
    main = plant.bank.id in ends or (guard is not None and guard.protects == "bank")
    if len(behind) == 1 and (named or not main):
        return _of_part(scene, run, behind[0])
    role = "main" if main else "direct panel"
    part = plant.bank.id if main else next((end for end in net.ends(run) if end in plant.parts), run.id)
    most, usual = sums(scene, behind, run.label)
    factor = plant.rule("continuous_factor")
    return Circuit(run, role, currents.bank_nominal(plant), most, usual, factor, part)


def _of_part(scene: Scene, run: Run, ident: str) -> Circuit:
    plant = scene.plant
    nominal, factor = currents.bank_nominal(plant), plant.rule("continuous_factor")
    part = plant.parts[ident]
    if isinstance(part, InverterCharger):
        most, usual, role = (
            currents.inverter_current(plant, part),
            currents.inverter_working(plant, part),
            "inverter",
        )
    elif isinstance(part, ChargeController):
        most, usual, role = (
            currents.controller_output(plant, part),
            controller_working(scene, part),
            "controller",
        )
    else:
        assert isinstance(part, Load)  # noqa: S101 - only sources and DC loads are asked for
        most = currents.direct_load_current(plant, part, currents.bank_low(plant))
        role, usual = "direct load", currents.direct_load_current(plant, part, nominal)
    return Circuit(run, role, nominal, most, usual_of(usual, most), factor, ident)


def usual_of(usual: Quantity, most: Quantity) -> Quantity:
    """Return the usual current, the greatest where it is not known; never over the greatest."""
    if not isinstance(usual, Figure):
        return most
    return least(usual.name, usual, most) if isinstance(most, Figure) else usual


def controller_working(scene: Scene, controller: ChargeController) -> Quantity:
    """Return the output current of a controller with its array at test conditions, in A."""
    plant, rating = scene.plant, currents.controller_output(scene.plant, controller)
    if controller.array is None:
        return rating
    strings = [_string_power(controller, string) for string in controller.array.strings]
    power = sum_of_currents.of(f"power of {array_name(controller)}", currents=strings).in_unit("W")
    name = f"output of {controller.label} with its array at test conditions"
    voltage = currents.bank_nominal(plant)
    return usual_of(current_of_power.of(name, power=power, voltage=voltage), rating)


def _string_power(controller: ChargeController, string: PvString) -> Quantity:
    voltage = operating_voltage(controller, string)
    current = string_fact(controller, string, "maximum_power_current")
    name = f"power of string {string.id}"
    return active_power.of(name, voltage=voltage, current=current, power_factor=1.0, legs=1.0)


# sums


def sums(scene: Scene, behind: Iterable[str], label: str) -> tuple[Quantity, Quantity]:
    """Return the greatest and the usual current of parts together, in A.

    The greatest is what they draw or what they charge, whichever is more; the two flow against each other.
    """
    plant, wanted = scene.plant, set(behind)
    inverters = [one for one in plant.site.inverter_chargers if one.id in wanted]
    controllers = [one for one in plant.site.charge_controllers if one.id in wanted]
    loads = [one for one in plant.site.loads if one.id in wanted]
    drawn = [currents.drawn_by(plant, one) for one in inverters]
    low = currents.bank_low(plant)
    drawn += [currents.direct_load_current(plant, one, low) for one in loads]
    charged = [plant.rating(one, "charger_current") for one in inverters if currents.charges(plant, one)] + [
        currents.controller_output(plant, one) for one in controllers
    ]
    ways = [
        sum_of_currents.of(f"{word} through {label}", currents=flows)
        for word, flows in (("discharge", drawn), ("charge", charged))
        if flows
    ]
    most = ways[0] if len(ways) == 1 else greatest(f"greatest current of {label}", *ways)
    return most, usual_of(_usual(plant, inverters, loads, label), most)


def _usual(plant: Plant, inverters: list[InverterCharger], loads: list[Load], label: str) -> Quantity:
    nominal = currents.bank_nominal(plant)
    name = f"current of {label} at the expected load"
    if inverters and len(inverters) == len(plant.site.inverter_chargers):
        efficiency = least(
            "least efficiency of the inverters",
            *(plant.rating(one, "inverter_efficiency") for one in inverters),
        )
        power = battery_load.of("expected load", power=expected_power(plant), efficiency=efficiency)
        return current_of_power.of(name, power=power, voltage=nominal)
    parts = [currents.inverter_working(plant, one) for one in inverters]
    parts += [currents.direct_load_current(plant, one, nominal) for one in loads]
    if not parts:
        return Unknown((Gap(f"expected load on {label}", "expected.load"),), "A", name)
    return sum_of_currents.of(name, currents=parts)


# strings of the battery


def _string(scene: Scene, net: Points, run: Run) -> Circuit:
    plant = scene.plant
    ident = run.from_ if run.from_ in net.strings else run.to
    parts = [source.id for source in plant.sources]
    parts += [load.id for load in plant.site.loads if load.current == "dc"]
    if not parts:
        gap = Unknown((serves_gap(run),), "A", f"current of {run.label}")
        return unclear(run, gap, currents.bank_nominal(plant))
    most, usual = sums(scene, parts, "all strings together")
    share = currents.one_of(len(net.strings), "strings")
    return Circuit(
        run,
        "string",
        currents.bank_nominal(plant),
        share_of_current.of(f"share of {ident} in the greatest current", share=share, current=most),
        share_of_current.of(
            f"share of {ident} in the current of the expected load", share=share, current=usual
        ),
        plant.rule("continuous_factor"),
        ident,
    )


# arrays


def _array(scene: Scene, net: Points, run: Run) -> Circuit | None:
    """Return what flows through a run on the PV side of a controller; None for any other run."""
    sides = [net.beyond(run, end) for end in net.ends(run)]
    for controller in scene.plant.site.charge_controllers:
        array = controller.array
        if array is None or run.id == controller.run:
            continue
        own = {string.id: string for string in array.strings}
        held = [side & own.keys() for side in sides]
        if any(held):
            away = held[0] if controller.id in sides[1] or not held[1] else held[1]
            return _of_array(scene, run, controller, [own[ident] for ident in own if ident in away])
        if controller.id in net.ends(run) and not any(scene.plant.bank.id in side for side in sides):
            return _of_array(scene, run, controller, list(array.strings))
    return None


def operating_voltage(controller: ChargeController, string: PvString) -> Quantity:
    """Return the voltage of a PV string at maximum power and test conditions, in V."""
    return series_voltage.of(
        f"voltage of string {string.id} at maximum power",
        module_voltage=string_fact(controller, string, "maximum_power_voltage"),
        modules=series_of(controller, string),
    )


def series_of(controller: ChargeController, string: PvString) -> Quantity:
    """Return the modules in series of a PV string."""
    return string_fact(controller, string, "series")


def _of_array(scene: Scene, run: Run, controller: ChargeController, strings: list[PvString]) -> Circuit:
    plant = scene.plant
    each = [string_short_circuit_current(scene, controller, string) for string in strings]
    usual = [string_fact(controller, string, "maximum_power_current") for string in strings]
    what = array_name(controller) if len(strings) > 1 else f"string {strings[0].id}"
    most = currents.together(f"greatest current of {what}", each)
    working = currents.together(f"current of {what} at maximum power", usual)
    voltages = [operating_voltage(controller, string) for string in strings]
    voltage = voltages[0] if len(voltages) == 1 else least(f"voltage of {what} at maximum power", *voltages)
    part = controller.id if len(strings) > 1 else strings[0].id
    return Circuit(
        run, "array", voltage, most, usual_of(working, most), plant.rule("pv_continuous_factor"), part
    )
