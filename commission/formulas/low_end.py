"""The low end: voltage under load, what it rests at, and how long a reserve lasts."""

from __future__ import annotations

import math

from commission.errors import FormulaError
from commission.figure import formula
from commission.formulas.ranges import (
    require_efficiency,
    require_finite,
    require_not_negative,
    require_one_or_more,
    require_positive,
    require_share,
)


@formula(
    expression="cells × rested − resistance × current",
    unit="V",
    source="Kirchhoff's voltage law",
)
def voltage_under_load(cells: float, rested: float, resistance: float, current: float) -> float:
    """Voltage of a bank that rests at a known voltage while a current is drawn.

    Parameters
    ----------
    cells
        Cells in series. [1]
    rested
        Rested voltage of one cell at the state of charge in question. [V]
    resistance
        Resistance of the bank and of the cable up to where the voltage is read. [Ω]
    current
        Current drawn, without sign. [A]

    Returns
    -------
    float
        Voltage under load. [V]

    Raises
    ------
    FormulaError
        If ``cells`` is less than one, a value is negative, or the current is more than the bank can give.

    Examples
    --------
    Twenty-four flooded cells at half charge, 12 mΩ, 100 A:

    >>> voltage_under_load(24, 2.04, 0.012, 100.0)
    47.76

    References
    ----------
    .. [1] Kirchhoff's voltage law.
    """
    require_one_or_more(cells=cells)
    require_positive(rested=rested)
    require_not_negative(resistance=resistance, current=current)
    voltage = cells * rested - resistance * current
    if voltage < 0.0:
        raise FormulaError(f"current = {current}: more than the bank can give through {resistance} Ω")
    return voltage


@formula(
    expression="cells × resistance_capacity ÷ (capacity × strings)",
    unit="Ω",
    source="resistance of a cell in inverse proportion to its capacity; makers' data sheets in general",
)
def bank_resistance(cells: float, resistance_capacity: float, capacity: float, strings: float) -> float:
    """DC resistance of a bank, from what is usual for its kind of cell.

    Parameters
    ----------
    cells
        Cells in series. [1]
    resistance_capacity
        Resistance of one cell times its capacity. [Ω·Ah]
    capacity
        Capacity of one string. [Ah]
    strings
        Strings in parallel. [1]

    Returns
    -------
    float
        Resistance of the bank without its cables; good within a factor of two. [Ω]

    Raises
    ------
    FormulaError
        If a count is less than one, or another value is not positive.

    Examples
    --------
    Two strings of twenty-four flooded cells of 225 Ah:

    >>> bank_resistance(24, 0.20, 225.0, 2)
    0.01067

    References
    ----------
    .. [1] Makers' data sheets in general (from memory); a sheet for the model installed goes before it.
    """
    require_one_or_more(cells=cells, strings=strings)
    require_positive(resistance_capacity=resistance_capacity, capacity=capacity)
    return cells * resistance_capacity / (capacity * strings)


def _sagged(rest_voltage: float, resistance: float, power: float, efficiency: float) -> float:
    """Return the upper root of voltage² − rest_voltage × voltage + power ÷ efficiency × resistance = 0."""
    require_positive(rest_voltage=rest_voltage)
    require_not_negative(resistance=resistance, power=power)
    require_efficiency(efficiency=efficiency)
    discriminant = rest_voltage**2 - 4.0 * resistance * power / efficiency
    if discriminant < 0.0:
        most = efficiency * rest_voltage**2 / (4.0 * resistance)
        raise FormulaError(
            f"power = {power:.0f} W: {resistance:.4g} Ω at {rest_voltage:.4g} V passes at most {most:.0f} W"
        )
    return (rest_voltage + math.sqrt(discriminant)) / 2.0


@formula(
    expression="(rest_voltage + √(rest_voltage² − 4 × resistance × power ÷ efficiency)) ÷ 2",
    unit="V",
    source="constant power behind a resistance, upper root; from memory",
)
def sagged_voltage(rest_voltage: float, resistance: float, power: float, efficiency: float) -> float:
    """DC voltage at an inverter that draws constant power.

    Parameters
    ----------
    rest_voltage
        Rested voltage of the bank. [V]
    resistance
        Resistance of bank and cables together. [Ω]
    power
        AC power of the inverter. [W]
    efficiency
        Efficiency of the inverter at that power. [1]

    Returns
    -------
    float
        Voltage at the inverter's DC terminals. [V]

    Raises
    ------
    FormulaError
        If a value is out of its range, or the power is more than the resistance lets through.

    Examples
    --------
    >>> sagged_voltage(51.2, 0.015, 4000.0, 0.93)
    49.907

    References
    ----------
    .. [1] Conservation of energy and Kirchhoff's voltage law, V² − V_rest × V + P ÷ η × R = 0 (from memory).
    """
    return _sagged(rest_voltage, resistance, power, efficiency)


@formula(
    expression=(
        "2 × power ÷ efficiency ÷ (rest_voltage + √(rest_voltage² − 4 × resistance × power ÷ efficiency))"
    ),
    unit="A",
    source="constant power behind a resistance, upper root; from memory",
)
def sagged_current(rest_voltage: float, resistance: float, power: float, efficiency: float) -> float:
    """DC current of an inverter that draws constant power.

    Parameters
    ----------
    rest_voltage
        Rested voltage of the bank. [V]
    resistance
        Resistance of bank and cables together. [Ω]
    power
        AC power of the inverter. [W]
    efficiency
        Efficiency of the inverter at that power. [1]

    Returns
    -------
    float
        Current drawn from the bank. [A]

    Raises
    ------
    FormulaError
        If a value is out of its range, or the power is more than the resistance lets through.

    Examples
    --------
    >>> sagged_current(51.2, 0.015, 4000.0, 0.93)
    86.18

    References
    ----------
    .. [1] Conservation of energy and Kirchhoff's voltage law, V² − V_rest × V + P ÷ η × R = 0 (from memory).
    """
    return power / (efficiency * _sagged(rest_voltage, resistance, power, efficiency))


@formula(
    expression="state + step",
    unit="1",
    source="common practice: thresholds of a flat curve at least 0.05 apart",
)
def state_of_charge_step(state: float, step: float) -> float:
    """State of charge a step above another, for the next threshold up.

    Parameters
    ----------
    state
        Threshold below: the battery's own cut-off, disconnect, or start. [1]
    step
        Distance of the next one: 0.05 at least, 0.10 from start to warning, or a standing drain. [1]

    Returns
    -------
    float
        Threshold above. [1]

    Raises
    ------
    FormulaError
        If a value is no share, or the threshold would lie above full.

    Examples
    --------
    >>> state_of_charge_step(0.10, 0.05)
    0.15

    References
    ----------
    .. [1] Common practice; no published source.
    """
    require_share(state=state, step=step)
    if state + step > 1.0:
        raise FormulaError(f"step = {step}: {state} and a step of it lie above full")
    return state + step


@formula(
    expression="3600 × capacity × (upper − lower) ÷ current",
    unit="s",
    source="definition of charge",
)
def reserve_time(capacity: float, upper: float, lower: float, current: float) -> float:
    """Time that the charge between two states of charge lasts.

    Parameters
    ----------
    capacity
        Capacity of the bank. [Ah]
    upper
        State of charge at the beginning. [1]
    lower
        State of charge at the end. [1]
    current
        Current drawn, without sign. [A]

    Returns
    -------
    float
        Time from one to the other. [s]

    Raises
    ------
    FormulaError
        If capacity or current is not positive, a state no share, or ``lower`` above ``upper``.

    Examples
    --------
    From the generator's start to disconnect, 20 points of 400 Ah at 40 A, 2 h:

    >>> reserve_time(400.0, 0.5, 0.3, 40.0)
    7200.0

    References
    ----------
    .. [1] Definition of charge.
    """
    require_positive(capacity=capacity, current=current)
    require_share(upper=upper, lower=lower)
    if lower > upper:
        raise FormulaError(f"lower = {lower}: must be at most upper, {upper}")
    return 3600.0 * capacity * (upper - lower) / current


@formula(
    expression="cells × (reconnect − disconnect)",
    unit="V",
    source="IEC 62509, load disconnect and reconnect; from memory",
)
def reconnect_hysteresis(cells: float, disconnect: float, reconnect: float) -> float:
    """Distance between disconnecting the loads and taking them back.

    Parameters
    ----------
    cells
        Cells in series. [1]
    disconnect
        Voltage of one cell at which loads are disconnected. [V]
    reconnect
        Voltage of one cell at which they are taken back. [V]

    Returns
    -------
    float
        Hysteresis of the bank; lead wants at least 0.13 V per cell. [V]

    Raises
    ------
    FormulaError
        If ``cells`` is less than one, or reconnect does not lie above disconnect.

    Examples
    --------
    >>> reconnect_hysteresis(24, 1.90, 2.10)
    4.8

    References
    ----------
    .. [1] IEC 62509:2010, load control; Universal technical standard for solar home
       systems, 1998 (from memory).
    """
    require_one_or_more(cells=cells)
    require_positive(disconnect=disconnect)
    require_finite(reconnect=reconnect)
    if reconnect <= disconnect:
        raise FormulaError(f"reconnect = {reconnect}: must lie above disconnect, {disconnect} V")
    return cells * (reconnect - disconnect)
