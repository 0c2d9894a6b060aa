"""Regional rule sets: every number that differs by region, as data."""

from __future__ import annotations

from typing import Final, Literal

from pydantic import Field, model_validator

from commission.plant.battery import Datum, datum
from commission.plant.equipment import Response
from commission.plant.values import Ident, Line, Model

MAY_BE_NONE: Final = frozenset(
    {
        "arc_fault_voltage",
        "dc_earth_conductor_enough",
        "disconnection_time",
        "disconnection_time_apart",
        "parallel_conductor",
        "pv_voltage_greatest",
        "string_fuse_most",
        "touch_voltage",
        "vent_sealed_current",
    }
)
"""What a region may have no rule for, or nobody knows; every other value of a rule set is a number."""


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


class ColdFactor(Model):
    """Open-circuit voltage over that at 25 °C; a row holds down to and including its temperature."""

    down_to: float = Field(description="°C")
    factor: float = Field(ge=1)


class TripCurve(Model):
    """The greatest multiple of its rating at which a breaker of a curve trips at once."""

    curve: Literal["B", "C", "D"]
    multiple: float = Field(gt=1)


class EarthConductor(Model):
    """Least protective conductor: a row holds up to and including its device or line conductor."""

    up_to: float = Field(gt=0, description="A of the overcurrent device, or mm² of the line conductor")
    area: float | None = Field(default=None, gt=0, description="mm², copper; None: as the line conductor")
    share: float | None = Field(default=None, gt=0, le=1, description="share of the line conductor instead")


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
    ampacity_reference: Datum = datum("°C", "°C of the air that the conductor table is made for")
    terminals_by_air: bool = Field(
        description="what a terminal carries falls in hot air by the factors of its column"
    )
    grouping_factors: tuple[GroupingFactor, ...] = Field(
        default=(), strict=False, description="beyond the last row, that row's factor"
    )
    grouping_source: Line = ""
    insulation: tuple[InsulationTest, ...] = Field(strict=False, min_length=2)
    insulation_source: Line
    torques: tuple[Torque, ...] = Field(strict=False)
    breaker_sizes: tuple[float, ...] = Field(strict=False, description="A, standard devices")
    breaker_source: Line
    # PV
    cold_factors: tuple[ColdFactor, ...] = Field(
        strict=False, min_length=2, description="for modules without a coefficient, warm to cold"
    )
    cold_source: Line
    pv_continuous_factor: Datum = datum("1", "conductor and device over the greatest PV current")
    pv_reverse_factor: Datum = datum("1", "over short-circuit current of the strings that feed a faulty one")
    string_fuse_least: Datum = datum("1", "string fuse over short-circuit current, at least")
    string_fuse_most: Datum = datum("1", "string fuse over short-circuit current, at most; 'none': no limit")
    pv_poles: Literal["all", "unearthed"] = Field(
        description="poles that what isolates a PV array opens: all, or those that are not earthed"
    )
    pv_poles_source: Line
    pv_voltage_greatest: Datum = datum("V", "V of PV circuits on a building, at most")
    earth_fault_detection: bool = Field(description="a PV array needs earth-fault detection")
    arc_fault_voltage: Datum = datum("V", "V dc from which PV on a building needs arc-fault detection")
    rapid_shutdown: bool = Field(description="PV conductors on a building need rapid shutdown")
    safety_source: Line
    # conductors and their protection
    protection_rounding: Datum = datum(
        "A", "A up to which the next standard device over the ampacity may protect a conductor; 0: none"
    )
    fuse_ampacity_share: Datum = datum("1", "fuse rating over ampacity, at most")
    drop_inverter: Datum = datum("1", "share of nominal, between bank and inverter")
    drop_array: Datum = datum("1", "share of maximum-power voltage, between array and controller")
    drop_controller: Datum = datum("1", "share of nominal, between controller and bank")
    drop_direct_load: Datum = datum("1", "share of nominal, between bank and DC load")
    drop_alternating: Datum = datum("1", "share of nominal, on an AC run")
    main_protection_distance: Datum = datum("m", "m of cable between post and main protection, at most")
    breaker_reference: Datum = datum("°C", "°C at which a breaker carries its rating")
    breaker_derating: Datum = datum("1", "share of its rating that a breaker loses per K above that")
    earth_conductors: tuple[EarthConductor, ...] = Field(strict=False, min_length=1)
    earth_conductors_by: Literal["device", "line"] = Field(description="what the rows go by")
    earth_conductors_source: Line
    earth_conductors_grow: bool = Field(
        description="a protective conductor grows with line conductors thicker than need be; not PV's"
    )
    electrode_conductor: Datum = datum("mm²", "mm² of copper to the earth electrode, at least")
    dc_earth_conductor: Datum = datum("mm²", "mm² of copper from the earthed DC pole to earth, at least")
    dc_earth_conductor_enough: Datum = datum(
        "mm²", "mm² that is always enough where it must equal the largest DC conductor; 'none': no such rule"
    )
    parallel_conductor: Datum = datum("mm²", "mm² of each of several conductors in parallel, at least")
    # fault level and disconnection
    fault_resistance_share: Datum = datum("1", "share of the bank's resistance in the greatest fault current")
    disconnection_time: Datum = datum("s", "s for a final circuit with its neutral earthed at the source")
    disconnection_time_apart: Datum = datum("s", "s for a final circuit with an earth electrode of its own")
    touch_voltage: Datum = datum("V", "V ac that may last on exposed metal")
    trip_curves: tuple[TripCurve, ...] = Field(default=(), strict=False)
    trip_curves_source: Line = ""
    residual_types: bool = Field(
        default=True, description="residual-current devices carry a type by IEC 60755: AC, A, F or B"
    )
    breaker_multiple: Datum = datum("1", "multiple of its rating at which a breaker of no told curve trips")
    breaker_sure_multiple: Datum = datum("1", "multiple of its rating at which a breaker opens in the end")
    fuse_multiple: Datum = datum("1", "multiple of its rating at which a fuse opens in the time allowed")
    generator_breaker_factor: Datum = datum("1", "device at a generator over its rated current, at most")
    neutral_poles_apart: bool = Field(
        description="with an earth electrode of its own, a device opens the neutral too"
    )
    selective_ratio: Datum = datum("1", "rating of the upstream device over the downstream one, at least")
    interrupting_classes: tuple[float, ...] = Field(
        default=(), strict=False, description="A, dc interrupting ratings that devices are sold with"
    )
    interrupting_source: Line = ""
    device_voltages: tuple[float, ...] = Field(
        default=(), strict=False, description="V, dc ratings that breakers and fuses are sold with"
    )
    device_voltages_source: Line = ""
    # panels and legs
    bus_bar_factor: Datum = datum("1", "sum of supplying devices over the bus bar's rating, at most")
    leg_imbalance: Datum = datum("1", "share: told from low on, mended from value on")
    # battery room
    vent_method: Literal["gas current", "charge current"] = Field(
        description="air by the gassing of the chemistry, or by the current of the sources"
    )
    vent_air_factor: Datum = datum("m³/Ah", "m³ of air for each Ah of gas, or of charge current")
    vent_sealed_current: Datum = datum(
        "mA/Ah", "mA per Ah counted for sealed cells where air goes by charge current; 'none': the whole"
    )
    vent_area_factor: Datum = datum("cm²·h/m³", "cm² of each opening for each m³/h of air")
    vent_source: Line
    note: Line = ""

    @model_validator(mode="after")
    def _numbers(self) -> RuleSet:
        for name in type(self).model_fields:
            value = getattr(self, name)
            if isinstance(value, Datum) and isinstance(value.value, str) and name not in MAY_BE_NONE:
                raise ValueError(f"{name} is '{value.value}', and the program needs a number there")
        return self
