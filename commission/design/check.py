"""The whole check of a plant: what the settings found, and every subject of the design."""

from __future__ import annotations

from collections.abc import Container, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

from commission.design.ac_coupled import check_ac_coupled
from commission.design.agreeing import all_mended
from commission.design.alternating_guards import check_alternating_guards
from commission.design.alternating_insulation import check_alternating_insulation
from commission.design.alternating_level import check_alternating_level
from commission.design.autonomy import check_autonomy
from commission.design.bank_age import check_bank_age
from commission.design.bank_build import check_bank_build
from commission.design.bank_climate import check_bank_climate
from commission.design.bank_delivery import check_bank_delivery
from commission.design.bank_sag import check_bank_sag
from commission.design.battery_loss import check_battery_loss
from commission.design.battery_room import check_battery_room
from commission.design.bonds import check_bonds
from commission.design.composition import check_composition
from commission.design.conductors import check_conductors
from commission.design.coordination import check_coordination
from commission.design.coupled_bank import check_coupled_bank
from commission.design.coupled_legs import check_coupled_legs
from commission.design.coupled_window import check_coupled_window
from commission.design.data_cables import check_data_cables
from commission.design.device_voltages import check_device_voltages
from commission.design.direct_clearing import check_direct_clearing
from commission.design.direct_devices import check_direct_devices
from commission.design.direct_insulation import check_direct_insulation
from commission.design.disconnection import check_disconnection
from commission.design.drops import check_drops
from commission.design.earth_conductors import check_earth_conductors
from commission.design.emergency_stop import check_emergency_stop
from commission.design.energy import check_energy
from commission.design.fault_level import check_fault_level
from commission.design.fuel import check_fuel
from commission.design.generator_load import check_generator_load
from commission.design.generator_settings import check_generator_settings
from commission.design.generator_steps import check_generator_steps
from commission.design.group_units import check_nominal_voltage
from commission.design.growth import ahead
from commission.design.guard_values import check_guard_values
from commission.design.inverter_output import check_inverter_output
from commission.design.joined_sources import check_joined_sources
from commission.design.legs import check_legs
from commission.design.main_protection import check_main_protection
from commission.design.mending import After, Trials
from commission.design.neighbours import check_neighbours
from commission.design.output_trips import check_output_trips
from commission.design.overcurrent import check_overcurrent
from commission.design.panels import check_panels
from commission.design.parallel_paths import check_parallel_paths
from commission.design.poles import check_poles
from commission.design.pv import check_pv
from commission.design.residual import check_residual
from commission.design.safety import check_safety
from commission.design.selectivity import check_selectivity
from commission.design.source_fit import check_source_fit, without_ranges
from commission.design.touched import touched
from commission.design.types import Check, Found, Scene
from commission.plant.change import Change
from commission.plant.plant import Plant
from commission.plant.site import Planned
from commission.sheet.settle import make_sheet, worst_first
from commission.sheet.types import Finding, Sheet

CHECKS: Final[tuple[Check, ...]] = (
    check_main_protection,
    check_fault_level,
    check_direct_clearing,
    check_selectivity,
    check_direct_devices,
    check_guard_values,
    check_direct_insulation,
    check_conductors,
    check_overcurrent,
    check_device_voltages,
    check_alternating_insulation,
    check_poles,
    check_alternating_level,
    check_alternating_guards,
    check_output_trips,
    check_drops,
    check_parallel_paths,
    check_earth_conductors,
    check_pv,
    check_panels,
    check_data_cables,
    check_bonds,
    check_disconnection,
    check_residual,
    check_safety,
    check_emergency_stop,
    check_nominal_voltage,
    check_joined_sources,
    check_source_fit,
    check_composition,
    check_legs,
    check_inverter_output,
    check_bank_delivery,
    check_bank_sag,
    check_coordination,
    check_battery_loss,
    check_ac_coupled,
    check_coupled_legs,
    check_coupled_window,
    check_coupled_bank,
    check_battery_room,
    check_neighbours,
    check_bank_climate,
    check_bank_build,
    check_bank_age,
    check_generator_load,
    check_generator_steps,
    check_generator_settings,
    check_fuel,
    check_energy,
    check_autonomy,
)
"""Every subject, in the order in which a person would go through the plant."""


def checked_sheet(plant: Plant, wanted: Container[str] | None = None) -> Sheet:
    """Return the settings of a plant, with the findings of the settings and of the whole design.

    Parameters
    ----------
    wanted
        Ids of the findings whose remedies are tried, which takes most of the time; all where None.
    """
    looked = Look.at(plant)
    sheet, standing = looked.sheet, looked.after
    trials = Trials(plant, standing, looked.again)
    tried = [one for one in looked.all if wanted is None or one.finding.id in wanted]
    mendable = {one.id: one for one in all_mended(trials, tried)}
    # a check may give a finding of the settings its remedies: then it stands in its place
    findings = {ident: mendable.get(ident, one.finding) for ident, one in standing.items()}
    later = [one for planned in plant.site.planned for one in _of_growth(plant, planned, findings, wanted)]
    whole = {one.id: one for one in reversed(without_ranges((*findings.values(), *later)))}
    return replace(sheet, findings=tuple(sorted(whole.values(), key=worst_first)))


@dataclass(frozen=True)
class Look:
    """What was settled and found on a plant, check by check."""

    plant: Plant
    sheet: Sheet
    found: Mapping[Check, tuple[Found, ...]]

    @classmethod
    def at(cls, plant: Plant) -> Look:
        """Settle a plant and check all of it."""
        sheet = make_sheet(plant)
        scene = Scene(plant, sheet)
        return cls(plant, sheet, {check: tuple(check(scene)) for check in CHECKS})

    @property
    def all(self) -> tuple[Found, ...]:
        """Return what every check found, in their order."""
        return tuple(one for each in self.found.values() for one in each)

    @cached_property
    def after(self) -> After:
        """Return findings of the design and of the settings by id; of two with one id the first counts."""
        made: dict[str, Found] = {}
        for one in (*self.all, *(Found(finding) for finding in self.sheet.findings)):
            made.setdefault(one.finding.id, one)
        return made

    def again(self, plant: Plant, changes: tuple[Change, ...]) -> After:
        """Return the findings of the plant with changes made; what they cannot touch is taken over."""
        subjects = touched(self.plant, changes)
        if subjects is None:
            return Look.at(plant).after
        scene = Scene(plant, self.sheet)
        checks = {check for check in CHECKS if check.__name__.removeprefix("check_") in subjects}
        found = {
            check: tuple(check(scene)) if check in checks else standing
            for check, standing in self.found.items()
        }
        return Look(plant, self.sheet, found).after


def _of_growth(
    plant: Plant, planned: Planned, standing: dict[str, Finding], wanted: Container[str] | None
) -> tuple[Finding, ...]:
    """Return what planned additions would bring, as advice: what would have to change with them."""
    return tuple(ahead(plant, planned, standing, Look.at, wanted))
