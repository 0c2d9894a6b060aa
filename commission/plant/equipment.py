"""Classes of equipment: ratings, behaviours and the settings that a device of the class has."""

from __future__ import annotations

from typing import Annotated, Literal, TypeAlias

from pydantic import Field, model_validator

from commission.plant.values import (
    UNKNOWN,
    Altitude,
    Amps,
    Celsius,
    Farads,
    Hertz,
    Ident,
    Line,
    Model,
    Number,
    PerKelvin,
    Ratio,
    Seconds,
    Share,
    Unknowable,
    VoltAmperes,
    Volts,
    Watts,
)

Input: TypeAlias = Literal["generator", "utility"]
Joining: TypeAlias = Literal["parallel", "split", "three"]
Basis: TypeAlias = Literal["bank", "per 12 V", "per cell"]
Provenance: TypeAlias = Literal["seen", "recalled", "common practice"]


class Ability(Model):
    """One setting that a device has: the values that it takes, in the device's own basis."""

    unit: Line = Field(
        description="unit of low, high, step and fixed: V, A, s, °C, Hz, mV/K, 1, or empty for words"
    )
    low: float | None = Field(default=None, description="least value that can be entered")
    high: float | None = Field(default=None, description="greatest value that can be entered")
    step: float | None = Field(default=None, gt=0, description="resolution, counted from low")
    basis: Basis = Field(default="bank", description="whole-bank volts, volts per 12 V, or per cell")
    off: bool = Field(default=False, description="can be switched off")
    fixed: float | None = Field(default=None, description="the value cannot be changed and is this")
    choices: tuple[Line, ...] = Field(
        default=(), strict=False, description="words, for a setting that is no number"
    )
    entries: int = Field(default=1, ge=1, description="how many value-delay pairs a list setting holds")
    delay_low: float | None = Field(default=None, description="s, of a value-delay pair")
    delay_high: float | None = Field(default=None, description="s, of a value-delay pair")
    delay_step: float | None = Field(default=None, gt=0, description="s, of a value-delay pair")
    reference: Literal["own output", "bank"] | None = Field(
        default=None, description="what an end current is compared with, where it differs from the device's"
    )
    per_input: bool = Field(default=False, description="the device holds one value for each AC input")

    @model_validator(mode="after")
    def _complete(self) -> Ability:
        if self.choices or self.fixed is not None:
            return self
        if self.low is None or self.high is None or self.step is None:
            raise ValueError("low, high and step are wanted, or fixed, or choices")
        if self.low > self.high:
            raise ValueError("low is greater than high")
        return self


class Response(Model):
    """How an AC-coupled PV inverter answers a raised frequency, and when it leaves the bus."""

    kind: Literal["droop", "none", "unknown"] = Field(
        description="lowers its power in proportion, or only trips"
    )
    base: Literal["rating", "momentary"] | Unknowable = Field(
        default=UNKNOWN,
        description="what the slope refers to: rated power or the power when the band was left",
    )
    start: Hertz = Field(default=UNKNOWN, description="Hz at which power begins to fall")
    zero: Hertz = Field(default=UNKNOWN, description="Hz at which power would be nothing")
    slow_trip: Hertz = Field(default=UNKNOWN, description="Hz of the slow over-frequency trip")
    slow_trip_time: Seconds = Field(default=UNKNOWN, description="s")
    fast_trip: Hertz = Field(default=UNKNOWN, description="Hz of the fast over-frequency trip")
    fast_trip_time: Seconds = Field(default=UNKNOWN, description="s")
    return_low: Hertz = Field(default=UNKNOWN, description="Hz, lower edge of the return window")
    return_high: Hertz = Field(default=UNKNOWN, description="Hz, upper edge of the return window")
    return_delay: Seconds = Field(default=UNKNOWN, description="s inside the window before it returns")
    return_ramp: Seconds = Field(default=UNKNOWN, description="s from nothing to full power")


class DeratingRow(Model):
    """One row of a derating table; straight lines between rows."""

    at: float = Field(description="°C or m")
    factor: float = Field(ge=0, le=1.1, description="share of the rating that is left")


class EquipmentBase(Model):
    """What every class of device states."""

    format: Literal[1] = 1
    id: Ident
    name: Line
    source: Line = Field(description="where the values come from")
    known: Provenance = Field(description="how they are known")
    sources: dict[str, Line] = Field(default_factory=dict, description="source of single fields that differ")
    settings: dict[str, Ability] = Field(default_factory=dict, description="every setting the device has")
    ambient_derating: tuple[DeratingRow, ...] = Field(default=(), strict=False, description="rows of °C")
    altitude_derating: tuple[DeratingRow, ...] = Field(default=(), strict=False, description="rows of m")


class DirectCurrentDevice(EquipmentBase):
    """A device on the DC bus."""

    nominal_voltage: Volts = Field(description="V of the bank that it is made for")
    dc_voltage_max: Volts = Field(default=UNKNOWN, description="V, greatest DC voltage in operation")
    senses_voltage: Literal["own terminals", "remote"] | Unknowable = Field(
        default=UNKNOWN, description="where it measures the bank's voltage"
    )
    end_current_reference: Literal["own output", "bank"] | Unknowable = Field(
        default=UNKNOWN, description="what it compares its end current with"
    )
    temperature_sensor: Literal["none", "fixed slope", "adjustable slope"] | Unknowable = Field(
        default=UNKNOWN, description="battery temperature sensor and its coefficient"
    )
    unplugged_temperature: Celsius = Field(
        default=UNKNOWN, description="°C that it assumes when its battery sensor is missing"
    )
    survives_battery_loss: bool | Unknowable = Field(
        default=UNKNOWN, description="is not damaged when the bank is lost under charge"
    )
    coordinable: bool | Unknowable = Field(default=UNKNOWN, description="can follow a controller of a group")
    voltage_accuracy: Share = Field(default=UNKNOWN, description="share of reading")
    current_accuracy: Share = Field(default=UNKNOWN, description="share of reading")
    idle_power: Watts = Field(default=UNKNOWN, description="W from the bank without load")
    capacitance: Farads = Field(default=UNKNOWN, description="F across its DC terminals")
    precharge_resistance: Ratio = Field(
        default=UNKNOWN, description="Ω of the pre-charge resistor, if built in"
    )


class InverterChargerClass(DirectCurrentDevice):
    """An inverter/charger."""

    kind: Literal["inverter_charger"]
    ac_voltage: Volts = Field(description="V, output per leg")
    ac_legs: Literal[1, 2] = Field(default=1, description="2: one device makes both legs of a split phase")
    ac_frequency: Hertz = Field(description="Hz, nominal")
    continuous_power: VoltAmperes = Field(description="VA at 25 °C")
    surge_power: VoltAmperes = Field(default=UNKNOWN, description="VA")
    surge_time: Seconds = Field(default=UNKNOWN, description="s of the surge power")
    short_circuit_current: Amps = Field(default=UNKNOWN, description="A, ac, into a short circuit")
    short_circuit_time: Seconds = Field(default=UNKNOWN, description="s of the short-circuit current")
    inverter_efficiency: Share = Field(default=UNKNOWN, description="AC out over DC in at rated power")
    charger_current: Amps = Field(description="A, dc, greatest charge current")
    charger_efficiency: Share = Field(default=UNKNOWN, description="DC out over AC in")
    charger_power_factor: Share = Field(default=UNKNOWN, description="W over VA drawn")
    low_cut_off: Volts = Field(default=UNKNOWN, description="V, whole bank, at which it stops by itself")
    ac_limit_counts: Literal["whole input", "charger only", "none"] | Unknowable = Field(
        default=UNKNOWN, description="what the AC input current limit counts"
    )
    ac_limit_per: Literal["unit", "group"] | Unknowable = Field(default=UNKNOWN, description="")
    limit_binds_backfeed: bool | Unknowable = Field(
        default=UNKNOWN, description="its charge limit also holds back AC-coupled power flowing to the bank"
    )
    transfer_current: Amps = Field(default=UNKNOWN, description="A, ac, of its transfer relay")
    output_voltage_tolerance: Share = Field(default=UNKNOWN, description="share of nominal, no load")
    output_frequency_tolerance: Ratio = Field(default=UNKNOWN, description="Hz")
    combines: Annotated[tuple[Joining, ...], Field(strict=False)] | Unknowable = Field(
        default=UNKNOWN,
        description="how units join into one supply: on one leg, as two legs, as three phases; none: alone",
    )
    units_max: Ratio = Field(default=UNKNOWN, description="units that one group may have, all legs together")
    group_by_controller: bool | Unknowable = Field(
        default=False,
        description="a group of more than one needs a separate controller, not a reference unit",
    )


class ChargeControllerClass(DirectCurrentDevice):
    """A PV charge controller."""

    kind: Literal["charge_controller"]
    topology: Literal["buck", "boost", "switched"] = Field(
        description="lowers, raises, or only switches the PV voltage"
    )
    output_current: Amps = Field(description="A, dc, greatest charge current")
    pv_voltage_operating: Volts = Field(default=UNKNOWN, description="V, charging pauses above it")
    pv_voltage_absolute: Volts = Field(description="V, damage above it")
    pv_over_bank: Volts | Literal["none"] = Field(
        default=UNKNOWN,
        description="V over the bank's voltage that the PV voltage may have; 'none': no such rule",
    )
    pv_start_over_bank: Volts = Field(
        default=UNKNOWN, description="V over the bank's voltage that it needs to start"
    )
    pv_input_current: Amps = Field(
        default=UNKNOWN, description="A, greatest short-circuit current of the array"
    )
    pv_backfeed_current: Amps = Field(
        default=0.0, description="A that it can drive back into the array's fault; 0: it blocks"
    )
    efficiency: Share = Field(default=UNKNOWN, description="DC out over PV in at rated power")
    needs_battery_first: bool | Unknowable = Field(default=UNKNOWN, description="battery side before PV side")


class AcPvInverterClass(EquipmentBase):
    """An AC-coupled PV inverter."""

    kind: Literal["ac_pv_inverter"]
    rated_power: Watts = Field(description="W")
    ac_voltage: Volts = Field(description="V at its terminals; 240 across two legs")
    ac_frequency: Hertz = Field(description="Hz, nominal")
    across_legs: bool = Field(description="true: connected leg to leg and loads both alike")
    response: Response


class GeneratorClass(EquipmentBase):
    """A generator set."""

    kind: Literal["generator"]
    fuel: Literal["diesel", "petrol", "gas"]
    rated_apparent_power: VoltAmperes = Field(description="VA, prime")
    rated_power: Watts = Field(description="W, nameplate")
    connection: Literal["single", "split", "three"] = Field(description="phases of the set")
    ac_voltage: Volts = Field(description="V, leg or phase to neutral")
    ac_frequency: Hertz = Field(description="Hz, nominal")
    power_factor: Share = Field(default=UNKNOWN, description="rated")
    breaker: Amps = Field(default=UNKNOWN, description="A per leg, of the set's own breaker")
    no_load_frequency: Hertz = Field(default=UNKNOWN, description="Hz")
    frequency_droop: Share = Field(default=UNKNOWN, description="share of nominal from no load to full load")
    governed: Literal["loose", "close"] | Unknowable = Field(
        default=UNKNOWN, description="loose sets need a wide window"
    )
    start_kind: Literal["two-wire", "three-wire", "by hand"] | Unknowable = Field(
        default=UNKNOWN, description=""
    )
    least_load: Share = Field(
        default=UNKNOWN, description="share of rated power under which it must not run long"
    )
    sustained_current: Amps = Field(default=UNKNOWN, description="A, ac, sustained into a short circuit")
    subtransient_reactance: Share = Field(
        default=UNKNOWN,
        description="Xd'' as a share: rated current over the first current of a short circuit",
    )
    fuel_idle: Number = Field(default=UNKNOWN, description="L/h per rated kW without load")
    fuel_slope: Number = Field(default=UNKNOWN, description="L/kWh")
    step_max: Share = Field(
        default=UNKNOWN, description="share of rated power that it accepts in one step within its limits"
    )


class BatteryMonitorClass(EquipmentBase):
    """A battery monitor with its shunt."""

    kind: Literal["battery_monitor"]
    current_accuracy: Share = Field(default=UNKNOWN, description="share of reading")
    voltage_accuracy: Share = Field(default=UNKNOWN, description="share of reading")
    temperature_input: bool | Unknowable = Field(default=UNKNOWN, description="")
    altitude_max: Altitude = Field(default=UNKNOWN, description="m")
    temperature_drift: PerKelvin = Field(default=UNKNOWN, description="%/K")


EquipmentClass: TypeAlias = Annotated[
    InverterChargerClass | ChargeControllerClass | AcPvInverterClass | GeneratorClass | BatteryMonitorClass,
    Field(discriminator="kind"),
]
