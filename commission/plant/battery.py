"""What is known of a kind of battery: one profile per chemistry, values per cell at 25 °C."""

from __future__ import annotations

from itertools import pairwise
from typing import Any, Literal, TypeAlias

from pydantic import Field, model_validator

from commission.plant.values import Ident, Line, Model

Known: TypeAlias = Literal["seen", "recalled", "common practice"]
Family: TypeAlias = Literal["lead", "lithium", "nickel"]


class Datum(Model):
    """One value of a profile, the range met in the trade, and how it is known."""

    value: float | Literal["none", "unknown"]
    """``none`` where the chemistry must not have it (a stage that is forbidden)."""
    low: float | None = None
    high: float | None = None
    source: Line
    known: Known

    @model_validator(mode="after")
    def _in_order(self) -> Datum:
        if self.low is not None and self.high is not None and self.low > self.high:
            raise ValueError("low is greater than high")
        if isinstance(self.value, float | int):
            if self.low is not None and self.value < self.low:
                raise ValueError("value is less than low")
            if self.high is not None and self.value > self.high:
                raise ValueError("value is greater than high")
        return self


def datum(unit: str, description: str) -> Any:
    """Return the field of a profile value whose unit is told by name."""
    return Field(description=description, json_schema_extra={"unit": unit})


class Curve(Model):
    """A table of one quantity against state of charge, rising."""

    states: tuple[float, ...] = Field(description="state of charge, share 0 to 1, rising", strict=False)
    values: tuple[float, ...] = Field(description="V per cell, or kg/L; rising with the state", strict=False)
    spread: float = Field(
        description="half-width within which a healthy cell lies, in the unit of the values"
    )
    source: Line
    known: Known

    @model_validator(mode="after")
    def _rises(self) -> Curve:
        if len(self.states) != len(self.values) or len(self.states) < 2:
            raise ValueError("states and values need the same count, two at least")
        for row in (self.states, self.values):
            if any(later <= earlier for earlier, later in pairwise(row)):
                raise ValueError("states and values must rise from row to row")
        return self


class BatteryProfile(Model):
    """A chemistry. Voltages are per cell at the reference temperature, currents per ampere-hour."""

    format: Literal[1] = 1
    id: Ident
    name: Line
    family: Family
    vented: bool = Field(description="has free electrolyte: water, acid, gas")
    curve: Literal["sloped", "flat"] = Field(description="flat where voltage does not tell the charge (LFP)")
    managed: bool = Field(description="a management system is usual")
    nominal_cell_voltage: Datum = datum("V", "V")
    absorption_voltage: Datum = datum("V", "V per cell")
    float_voltage: Datum = datum("V", "V per cell; 'none' where there is no float stage")
    hold_voltage: Datum = datum("V", "V per cell held where a device cannot switch float off")
    equalize_voltage: Datum = datum("V", "V per cell; 'none' where forbidden")
    ceiling_voltage: Datum = datum("V", "V per cell never to be exceeded (lead, nickel: at reference)")
    gassing_voltage: Datum = datum("V", "V per cell at which gassing begins")
    end_of_discharge_voltage: Datum = datum("V", "V per cell under load")
    temperature_slope: Datum = datum("mV/K", "mV/K per cell, negative for lead and nickel, 0 for lithium")
    temperature_reference: Datum = datum("°C", "°C at which the voltages hold")
    temperature_clamp_low: Datum = datum("°C", "°C below which compensation stops")
    temperature_clamp_high: Datum = datum("°C", "°C above which compensation stops")
    charge_temperature_low: Datum = datum("°C", "°C below which charging is blocked")
    charge_temperature_high: Datum = datum("°C", "°C above which charging is blocked")
    charge_rate_recommended: Datum = datum("1", "share of capacity in A per Ah")
    charge_rate_least: Datum = datum("1", "A per Ah; under it charging does harm or never ends")
    charge_rate_greatest: Datum = datum("1", "A per Ah, never exceeded")
    discharge_rate_greatest: Datum = datum("1", "A per Ah, continuous")
    capacity_rate: Datum = datum("h", "hours of the rate to which the rates refer: 20, 10 or 5")
    end_current: Datum = datum("1", "share of capacity at which absorption ends; 'none' for time only")
    floor_current: Datum = datum("1", "share of capacity that still flows when full at absorption")
    absorption_time: Datum = datum("s", "s; low and high are the usual range")
    absorption_time_limit: Datum = datum("s", "s, the longest day in absorption")
    equalize_time: Datum = datum("s", "s; 'none' where forbidden")
    equalize_interval: Datum = datum("s", "s between equalise charges; 'none' where forbidden")
    load_disconnect_voltage: Datum = datum("V", "V per cell under load")
    load_reconnect_voltage: Datum = datum("V", "V per cell")
    depth_usual: Datum = datum("1", "share discharged on an ordinary day, at most")
    depth_greatest: Datum = datum("1", "share discharged, never exceeded")
    charge_efficiency: Datum = datum("1", "Ah out per Ah in")
    energy_efficiency: Datum = datum("1", "Wh out per Wh in")
    peukert_exponent: Datum = datum("1", "exponent that belongs to capacity_rate")
    self_discharge: Datum = datum("1", "share of charge lost in a month at 25 °C")
    resistance_capacity: Datum = datum("Ω·Ah", "Ω·Ah per cell, dc, charged, 25 °C; range is the estimate's")
    strings_max: Datum = datum(
        "1", "strings in parallel, at most; more than low is told; lithium by its maker"
    )
    gas_current_float: Datum = datum("mA/Ah", "mA per Ah for ventilation on float (IEC 62485-2)")
    gas_current_boost: Datum = datum("mA/Ah", "mA per Ah for ventilation on boost (IEC 62485-2)")
    gravity_full: Datum = datum("kg/L", "kg/L fully charged at 25 °C; 'none' without free acid")
    gravity_slope: Datum = datum("kg/L/K", "kg/L per K; 'none' without free acid")
    gravity_spread: Datum = datum(
        "kg/L", "kg/L between cells: watch at low, equalise at value, replace at high"
    )
    rest_spread: Datum = datum("V", "V per cell between cells at rest before commissioning")
    float_spread_low: Datum = datum("V", "V per cell that a cell may lie under the mean on float")
    float_spread_high: Datum = datum("V", "V per cell that a cell may lie over the mean on float")
    full_spread: Datum = datum("V", "V per cell between cells near full charge")
    join_difference: Datum = datum("V", "V per cell between strings before they are joined")
    temperature_spread: Datum = datum("K", "K between cells of a string")
    rest_time: Datum = datum("s", "s of rest before a voltage is a rest voltage")
    rest_slope: Datum = datum("mV/K", "mV/K per cell of the rest voltage, never used for charging")
    connection_rise: Datum = datum("1", "share over baseline at which a joint is remade")
    ohmic_rise: Datum = datum("1", "share over baseline: watch at low, investigate at value, replace at high")
    capacity_acceptance: Datum = datum("1", "share of rated capacity asked for when new")
    capacity_end_of_life: Datum = datum("1", "share of rated capacity at which a bank is replaced")
    open_circuit_voltage: Curve = Field(description="rested V per cell against state of charge at 25 °C")
    gravity: Curve | None = Field(default=None, description="kg/L at 25 °C against state of charge")
    note: Line = ""
