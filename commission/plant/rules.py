"""Regional rule sets: every number that differs by region, as data."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from commission.plant.battery import Datum, datum
from commission.plant.equipment import Response
from commission.plant.values import Ident, Line, Model


class ConductorSize(Model):
    """One row of a conductor table."""

    size: Line = Field(description="as the trade of the region says it: '2/0 AWG', '70 mm²'")
    area: float = Field(gt=0, description="mm²")
    resistance: float = Field(gt=0, description="Ω per m of one copper conductor at the table's temperature")
    ampacity_60: float | None = Field(default=None, description="A with 60 °C insulation or terminals")
    ampacity_70: float | None = Field(default=None, description="A with 70 °C insulation")
    ampacity_75: float | None = Field(default=None, description="A with 75 °C insulation or terminals")
    ampacity_90: float | None = Field(default=None, description="A with 90 °C insulation")
    protection_max: float | None = Field(
        default=None, description="A, greatest overcurrent device whatever the ampacity; small sizes only"
    )


class AmbientFactor(Model):
    """Correction of ampacity for ambient temperature; a row holds up to and including its temperature."""

    up_to: float = Field(description="°C")
    factor_60: float | None = None
    factor_70: float | None = None
    factor_75: float | None = None
    factor_90: float | None = None


class GroupingFactor(Model):
    """Correction of ampacity for loaded circuits side by side; a row holds up to and including its count."""

    up_to: int = Field(ge=1, description="circuits of two loaded conductors each")
    factor: float = Field(gt=0, le=1, description="share of the ampacity that is left")


class InsulationTest(Model):
    """Test voltage and least resistance for circuits up to a nominal voltage."""

    up_to: float = Field(description="V, nominal voltage of the circuit")
    test_voltage: float = Field(description="V, dc")
    least: float = Field(description="Ω")


class Torque(Model):
    """Torque for a bolted joint where the maker gives none."""

    thread: Line
    torque: float = Field(gt=0, description="N·m")
    source: Line


class RuleSet(Model):
    """The numbers of one region."""

    format: Literal[1] = 1
    id: Ident
    name: Line
    units: Literal["metric", "us"]
    ac_voltage: Datum = datum("V", "V, leg or phase to neutral")
    ac_voltage_low: Datum = datum("1", "share of nominal, least service voltage")
    ac_voltage_high: Datum = datum("1", "share of nominal, greatest service voltage")
    ac_frequency: Datum = datum("Hz", "Hz")
    frequency_tolerance: Datum = datum("Hz", "Hz either way for a source in good order")
    split_phase: bool = Field(description="two legs of the AC voltage in opposition are usual")
    continuous_factor: Datum = datum("1", "device and conductor over continuous current: 1.25 in the NEC")
    pv_current_factor: Datum = datum("1", "over short-circuit current for irradiance above 1000 W/m²")
    utility_voltage_low: Datum = datum("1", "share of nominal, accept window")
    utility_voltage_high: Datum = datum("1", "share of nominal, accept window")
    utility_frequency: Datum = datum("Hz", "Hz either way, accept window")
    utility_return_delay: Datum = datum("s", "s inside the window before connection")
    island_time: Datum = datum("s", "s within which a lost utility is left")
    response: Response = Field(description="of an AC-coupled PV inverter that says nothing of its own")
    response_source: Line
    fault_voltage: Datum = datum("1", "V per lead cell, or share of nominal, for the fault level")
    fault_voltage_kind: Literal["per lead cell", "times nominal"]
    residual_time: Datum = datum("s", "s, residual-current device at rated current")
    residual_current: Datum = datum("A", "A, usual rated residual current")
    neutral_earth_voltage: Datum = datum("V", "V between neutral and earth under load, at most")
    bond_resistance: Datum = datum("Ω", "Ω of a fitted neutral-earth bond, at most")
    dead_voltage_ac: Datum = datum("V", "V ac under which a circuit counts as dead")
    dead_voltage_dc: Datum = datum("V", "V dc under which a circuit counts as dead")
    earth_resistance: Datum = datum("Ω", "Ω of the earth electrode, at most")
    conductor_temperature: Datum = datum("°C", "°C of the conductor resistance table")
    conductors: tuple[ConductorSize, ...] = Field(strict=False, min_length=5)
    conductors_source: Line
    ambient_factors: tuple[AmbientFactor, ...] = Field(strict=False, min_length=2)
    ambient_source: Line
    grouping_factors: tuple[GroupingFactor, ...] = Field(
        default=(), strict=False, description="beyond the last row, that row's factor"
    )
    grouping_source: Line = ""
    insulation: tuple[InsulationTest, ...] = Field(strict=False, min_length=2)
    insulation_source: Line
    torques: tuple[Torque, ...] = Field(strict=False)
    breaker_sizes: tuple[float, ...] = Field(strict=False, description="A, standard devices")
    breaker_source: Line
    note: Line = ""
