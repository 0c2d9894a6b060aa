"""The battery monitor: its shunt, its count of charge, and when it takes the bank for full."""

from __future__ import annotations

import math

from commission.figure import formula
from commission.formulas.ranges import (
    require_efficiency,
    require_exponent,
    require_finite,
    require_not_negative,
    require_one_or_more,
    require_positive,
    require_share,
)


@formula(
    expression="rated_voltage ÷ rated_current",
    unit="Ω",
    source="definition of a shunt's rating",
)
def shunt_resistance(rated_current: float, rated_voltage: float) -> float:
    """Resistance of a shunt.

    Parameters
    ----------
    rated_current
        Current of the shunt's rating. [A]
    rated_voltage
        Voltage over its inner terminals at that current. [V]

    Returns
    -------
    float
        Resistance. [Ω]

    Raises
    ------
    FormulaError
        If a value is not positive.

    Examples
    --------
    >>> shunt_resistance(100.0, 0.075)
    0.00075

    References
    ----------
    .. [1] IEC 60051-8, accessories of indicating instruments (from memory).
    """
    require_positive(rated_current=rated_current, rated_voltage=rated_voltage)
    return rated_voltage / rated_current


@formula(
    expression="current × rated_voltage ÷ rated_current",
    unit="V",
    source="Ohm's law; from memory",
)
def shunt_voltage(current: float, rated_current: float, rated_voltage: float) -> float:
    """Voltage over a shunt, as a meter reads it on the inner terminals.

    Parameters
    ----------
    current
        Current; charge is positive. [A]
    rated_current
        Current of the shunt's rating. [A]
    rated_voltage
        Voltage over its inner terminals at that current. [V]

    Returns
    -------
    float
        Voltage with the sign of the current. [V]

    Raises
    ------
    FormulaError
        If the current is not a finite number, or a rating is not positive.

    Examples
    --------
    Discharge of 42 A through a shunt of 300 A and 75 mV:

    >>> shunt_voltage(-42.0, 300.0, 0.075)
    -0.0105

    References
    ----------
    .. [1] Ohm's law.
    """
    require_finite(current=current)
    require_positive(rated_current=rated_current, rated_voltage=rated_voltage)
    return current * rated_voltage / rated_current


@formula(
    expression="current² × rated_voltage ÷ rated_current",
    unit="W",
    source="Joule's law; from memory",
)
def shunt_dissipation(current: float, rated_current: float, rated_voltage: float) -> float:
    """Heat that a shunt has to give off.

    Parameters
    ----------
    current
        Current through the shunt. [A]
    rated_current
        Current of the shunt's rating. [A]
    rated_voltage
        Voltage over its inner terminals at that current. [V]

    Returns
    -------
    float
        Power turned into heat. [W]

    Raises
    ------
    FormulaError
        If the current is not a finite number, or a rating is not positive.

    Examples
    --------
    >>> shunt_dissipation(500.0, 500.0, 0.050)
    25.0

    References
    ----------
    .. [1] Joule's law.
    """
    require_finite(current=current)
    require_positive(rated_current=rated_current, rated_voltage=rated_voltage)
    return current**2 * rated_voltage / rated_current


@formula(
    expression="true_current × (fitted_voltage ÷ fitted_current) ÷ (set_voltage ÷ set_current)",
    unit="A",
    source="ratio of two shunt resistances; from memory",
)
def shunt_misreading(
    true_current: float, fitted_current: float, fitted_voltage: float, set_current: float, set_voltage: float
) -> float:
    """Wrong current that a monitor shows when it is set to another shunt than the one fitted.

    Parameters
    ----------
    true_current
        Current that flows. [A]
    fitted_current
        Rated current of the shunt that is fitted. [A]
    fitted_voltage
        Rated voltage of the shunt that is fitted. [V]
    set_current
        Rated current that the monitor is set to. [A]
    set_voltage
        Rated voltage that the monitor is set to. [V]

    Returns
    -------
    float
        Current shown. [A]

    Raises
    ------
    FormulaError
        If the current is not a finite number, or a rating is not positive.

    Examples
    --------
    500 A and 75 mV fitted, 500 A and 50 mV set:

    >>> shunt_misreading(60.0, 500.0, 0.075, 500.0, 0.050)
    90.0

    References
    ----------
    .. [1] Ohm's law.
    """
    require_finite(true_current=true_current)
    require_positive(
        fitted_current=fitted_current,
        fitted_voltage=fitted_voltage,
        set_current=set_current,
        set_voltage=set_voltage,
    )
    return true_current * (fitted_voltage / fitted_current) / (set_voltage / set_current)


@formula(expression="offset × time ÷ 3600", unit="Ah", source="definition of charge; from memory")
def zero_offset_drift(offset: float, time: float) -> float:
    """Charge that a monitor counts falsely because its zero is off.

    Parameters
    ----------
    offset
        Current shown with every breaker open. [A]
    time
        Time since the monitor was last set to full. [s]

    Returns
    -------
    float
        False count, with the sign of the offset. [Ah]

    Raises
    ------
    FormulaError
        If the offset is not a finite number, or the time is negative.

    Examples
    --------
    Two tenths of an ampere over thirty days:

    >>> zero_offset_drift(0.2, 2592000.0)
    144.0

    References
    ----------
    .. [1] Definition of charge.
    """
    require_finite(offset=offset)
    require_not_negative(time=time)
    return offset * time / 3600.0


@formula(expression="taken ÷ charge_efficiency", unit="Ah", source="definition; from memory")
def ampere_hours_to_return(taken: float, charge_efficiency: float) -> float:
    """Ampere-hours that must go in before a monitor counts the bank as full again.

    Parameters
    ----------
    taken
        Charge taken out. [Ah]
    charge_efficiency
        Ampere-hours out for each ampere-hour in. [1]

    Returns
    -------
    float
        Charge to put in. [Ah]

    Raises
    ------
    FormulaError
        If the charge is negative, or the efficiency is not greater than 0 and at most 1.

    Examples
    --------
    >>> ampere_hours_to_return(120.0, 0.92)
    130.43

    References
    ----------
    .. [1] Definition of charge efficiency.
    """
    require_not_negative(taken=taken)
    require_efficiency(charge_efficiency=charge_efficiency)
    return taken / charge_efficiency


@formula(expression="removed × factor", unit="Ah", source="a maker's data sheet: about 110 % for lead")
def recharge_charge(removed: float, factor: float) -> float:
    """Ampere-hours that must go in before what was taken out is back.

    Parameters
    ----------
    removed
        Charge removed. [Ah]
    factor
        Ampere-hours to return for each ampere-hour removed: lead 1.10, nickel-cadmium 1.40, lithium 1.01. [1]

    Returns
    -------
    float
        Charge to put in. [Ah]

    Raises
    ------
    FormulaError
        If the removed charge is negative, or the factor is under one.

    Examples
    --------
    >>> recharge_charge(60.0, 1.1)
    66.0

    References
    ----------
    .. [1] Makers' data sheets for lead-acid and nickel-cadmium cells in general.
    """
    require_not_negative(removed=removed)
    require_one_or_more(factor=factor)
    return removed * factor


@formula(
    expression="charge_out ÷ charge_in",
    unit="1",
    source="definition, between two points at which the bank was full; from memory",
)
def charge_efficiency_measured(charge_out: float, charge_in: float) -> float:
    """Charge efficiency of a bank, from what a monitor counted between two times it was full.

    Parameters
    ----------
    charge_out
        Ampere-hours taken out. [Ah]
    charge_in
        Ampere-hours put in. [Ah]

    Returns
    -------
    float
        Ampere-hours out for each ampere-hour in; above 1 the count is wrong. [1]

    Raises
    ------
    FormulaError
        If the charge out is negative, or the charge in is not positive.

    Examples
    --------
    >>> charge_efficiency_measured(850.0, 935.0)
    0.909

    References
    ----------
    .. [1] Definition of charge efficiency.
    """
    require_not_negative(charge_out=charge_out)
    require_positive(charge_in=charge_in)
    return charge_out / charge_in


@formula(
    expression="absorption − 0.1 × nominal_voltage ÷ 12",
    unit="V",
    source="common practice: 0.1 V for each 12 V under the least absorption",
)
def full_voltage(absorption: float, nominal_voltage: float) -> float:
    """Voltage above which a monitor may take the bank for full.

    Parameters
    ----------
    absorption
        Least absorption voltage over all sources at the hottest battery, less the drop of the run. [V]
    nominal_voltage
        Nominal voltage of the system. [V]

    Returns
    -------
    float
        Voltage to set. [V]

    Raises
    ------
    FormulaError
        If a value is not positive.

    Examples
    --------
    >>> full_voltage(56.4, 48.0)
    56.0

    References
    ----------
    .. [1] Common practice; no published source.
    """
    require_positive(absorption=absorption, nominal_voltage=nominal_voltage)
    return absorption - 0.1 * nominal_voltage / 12.0


@formula(
    expression="end_current + greater of (0.005 × capacity) and shunt_zero",
    unit="A",
    source="common practice: above the charger's end current by 0.5 % of capacity",
)
def full_current(end_current: float, capacity: float, shunt_zero: float) -> float:
    """Charge current below which a monitor may take the bank for full.

    Parameters
    ----------
    end_current
        The charger's end current, referred to the bank. [A]
    capacity
        Capacity of the bank. [Ah]
    shunt_zero
        Least current that the monitor tells from zero. [A]

    Returns
    -------
    float
        Current to set. [A]

    Raises
    ------
    FormulaError
        If the capacity is not positive, or another value negative.

    Examples
    --------
    >>> full_current(9.0, 450.0, 0.5)
    11.25

    References
    ----------
    .. [1] Common practice; no published source.
    """
    require_not_negative(end_current=end_current, shunt_zero=shunt_zero)
    require_positive(capacity=capacity)
    return end_current + max(0.005 * capacity, shunt_zero)


def counts_as_full(
    *,
    voltage: float,
    full_voltage: float,
    current: float,
    full_current: float,
    time: float,
    full_time: float,
) -> bool:
    """Tell whether a monitor takes the bank for full: all three conditions, and never while discharging."""
    return voltage >= full_voltage and 0.0 <= current <= full_current and time >= full_time


@formula(
    expression=(
        "start + time ÷ (3600 × capacity) × (current × charge_efficiency when charging,"
        " current × (|current| × rate ÷ capacity) ^ (exponent − 1) when discharging), held within 0 and 1"
    ),
    unit="1",
    source="counting of charge with charge efficiency and Peukert's law; from memory",
)
def state_of_charge_counted(
    start: float,
    current: float,
    time: float,
    capacity: float,
    rate: float,
    exponent: float,
    charge_efficiency: float,
) -> float:
    """State of charge as a monitor counts it through a time of constant current.

    Parameters
    ----------
    start
        State of charge at the beginning. [1]
    current
        Current; charge is positive. [A]
    time
        For how long. [s]
    capacity
        Capacity set in the monitor. [Ah]
    rate
        Hour rate at which that capacity holds. [h]
    exponent
        Peukert's exponent set in the monitor; 1 for none. [1]
    charge_efficiency
        Charge efficiency set in the monitor. [1]

    Returns
    -------
    float
        State of charge at the end, which a monitor never shows below 0 or above 1. [1]

    Raises
    ------
    FormulaError
        If a value is outside its range.

    Examples
    --------
    >>> state_of_charge_counted(1.0, -30.0, 21600.0, 400.0, 20.0, 1.0, 0.9)
    0.55

    References
    ----------
    .. [1] Peukert, W., Elektrotechnische Zeitschrift 20, 1897, in the form with a rated hour (from memory).
    """
    require_share(start=start)
    require_finite(current=current)
    require_not_negative(time=time)
    require_positive(capacity=capacity, rate=rate)
    require_efficiency(charge_efficiency=charge_efficiency)
    require_exponent(exponent=exponent)
    if current >= 0.0:
        counted = current * charge_efficiency
    else:
        counted = current * math.pow(-current * rate / capacity, exponent - 1.0)
    return min(1.0, max(0.0, start + counted * time / (3600.0 * capacity)))


@formula(
    expression="charge × (1 − loss) ^ months",
    unit="Ah",
    source="self-discharge compounded by the month; from memory",
)
def charge_after_standing(charge: float, loss: float, months: float) -> float:
    """Charge that a bank still holds after standing without a charger.

    Parameters
    ----------
    charge
        Charge at the beginning. [Ah]
    loss
        Share lost in a month: about 0.05 for flooded lead at 25 °C, twice that for each 10 K more. [1]
    months
        Months without charge. [1]

    Returns
    -------
    float
        Charge left, without the draw of any device. [Ah]

    Raises
    ------
    FormulaError
        If charge or months is negative, or the loss is no share.

    Examples
    --------
    >>> charge_after_standing(450.0, 0.05, 3)
    385.8

    References
    ----------
    .. [1] Makers' data sheets in general (from memory).
    """
    require_not_negative(charge=charge, months=months)
    require_share(loss=loss)
    return charge * math.pow(1.0 - loss, months)
