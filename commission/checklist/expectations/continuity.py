"""Dead tests: conductors, bonds, electrode, insulation."""

from __future__ import annotations

from typing import Final

from commission.checklist.bands import band, edge_high
from commission.checklist.conditions import condition
from commission.checklist.lookup import limit, mode_of, nominal_voltage, run_of
from commission.checklist.registry import expectation
from commission.checklist.runs import cold_resistance, joints_of
from commission.checklist.situation import Situation
from commission.checklist.types import Expectation, NotJudged
from commission.figure import Figure, Quantity, Unknown, given, least
from commission.formulas.bands import share_of
from commission.formulas.conductors import series_resistance
from commission.formulas.insulation import greatest_electrode_resistance
from commission.plant.plant import Plant, part_fact
from commission.plant.site import BondPoint
from commission.plant.values import UNKNOWN

CONTACT: Final = 0.05
"""What probes and the last digit of a low-ohm meter add once its leads are nulled, Ω; common practice."""
TOUCH: Final = 50.0
"""Touch voltage that may stay, V (IEC 60364-4-41)."""


@expectation(
    "conductor resistance",
    says="at most 1.1 × conductor and joints at the temperature of the air, and 0.05 Ω for the contacts",
    source="IEC 60364-6: consistent with length and cross-section; allowances by common practice",
)
def _conductor(situation: Situation) -> Expectation:
    air = condition(situation, "air-temperature")
    if not isinstance(air, Figure):
        return air
    plant, run = situation.plant, run_of(situation)
    whole = series_resistance.of(
        f"{run.label} with its joints", resistances=[cold_resistance(plant, run, air), joints_of(run)]
    )
    most = share_of.of("with a tenth for length and strands", value=whole, share=1.1).in_unit("Ω")
    return band(situation, high=edge_high(most, limit(CONTACT, "Ω", "contacts")))


# bonds and electrode


def dead_bonds(plant: Plant, point: BondPoint) -> Quantity:
    """Return how many neutral-earth bonds a mode has with the plant dead: an automatic one is open then."""
    if point.earthing == UNKNOWN:
        return Unknown((f"earthing system in the mode {point.mode}",), "1", "fixed bonds")
    units = {unit.id: unit for unit in plant.site.inverter_chargers}
    named = [units[place] for place in point.bonds if place in units]
    open_ = [unit.label for unit in named if unit.neutral_bond == UNKNOWN]
    if open_:
        return Unknown(tuple(f"neutral bond of {label}" for label in open_), "1", "fixed bonds")
    wanted = 0 if point.earthing == "IT" else 1
    automatic = any(unit.neutral_bond == "automatic" for unit in named)
    where = f"earthing.modes[{point.mode}]"
    return given(float(wanted and not automatic), "1", "fixed bonds, dead", kind="site", where=where)


@expectation(
    "fixed bonds",
    says="bonds that the earthing system asks for in this mode with the plant dead; missing or double stops",
    source="IEC 60364-5-55, 551; NEC 250.24, 250.30: one bond in TN and TT, none in IT",
)
def _bonds(situation: Situation) -> Expectation:
    count = dead_bonds(situation.plant, mode_of(situation))
    one = limit(1.0, "1", "one bond")
    more = edge_high(count, one, "a bond too many")
    missing = limit(0.0, "1", "the bond is missing") if isinstance(count, Figure) and count.value else None
    return band(situation, low=count, nominal=count, high=count, stop_below=missing, stop_above=more)


@expectation("fitted bond", says="at most what the rule set allows for a fitted bond", source="rule set")
def _fitted(situation: Situation) -> Expectation:
    return band(situation, high=situation.plant.rule("bond_resistance"))


@expectation(
    "earth electrode",
    says="at most the rule set's value; in a TT system also 50 V over the residual current of its devices",
    source="rule set; IEC 60364-4-41, 411.5.3",
)
def _electrode(situation: Situation) -> Expectation:
    plant = situation.plant
    limits: list[Quantity] = [plant.rule("earth_resistance")]
    if any(point.earthing == "TT" for point in plant.site.earthing.modes):
        touch = limit(TOUCH, "V", "touch voltage that may stay", "IEC 60364-4-41")
        devices = [guard for guard in plant.site.protection if guard.residual_current is not None]
        limits += [
            greatest_electrode_resistance.of(
                f"with {guard.label}",
                touch_voltage=touch,
                residual_current=part_fact(guard, "residual_current"),
            )
            for guard in devices
        ]
        if not devices:
            return NotJudged("a TT system without a residual-current device in the site file")
    return band(situation, high=least("resistance of the electrode", *limits))


# insulation


def insulation_row(plant: Plant, voltage: Figure) -> tuple[Quantity, str]:
    """Return the least insulation resistance for a circuit's voltage, and the test voltage in words."""
    row = next((row for row in plant.rules.insulation if voltage.value <= row.up_to), None)
    if row is None:
        gap = f"insulation test for {voltage.value:g} V in the rule set"
        return Unknown((gap,), "Ω", "least insulation resistance"), ""
    where = f"{plant.rules.id}.insulation[{row.up_to:g} V]"
    source = plant.rules.insulation_source
    low = given(row.least, "Ω", "least insulation resistance", kind="rules", where=where, source=source)
    return low, f"at {row.test_voltage:g} V dc, for a circuit of {voltage.value:.4g} V"


@expectation(
    "insulation of an ac circuit",
    says="least insulation resistance of the rule set for the nominal AC voltage",
    source="IEC 60364-6 table 6.1, by the rule set's table",
)
def _ac(situation: Situation) -> Expectation:
    low, says = insulation_row(situation.plant, situation.plant.rule("ac_voltage"))
    return band(situation, low=low, says=says)


@expectation(
    "insulation of the dc side",
    says="least insulation resistance of the rule set for the bank's nominal voltage",
    source="IEC 60364-6 table 6.1, by the rule set's table",
)
def _dc(situation: Situation) -> Expectation:
    voltage = nominal_voltage(situation.plant)
    if isinstance(voltage, Unknown):
        return band(situation, low=voltage)
    low, says = insulation_row(situation.plant, voltage)
    return band(situation, low=low, says=says)
