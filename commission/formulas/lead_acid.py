"""Lead-acid cells: gravity, rested voltage, state of charge, and capacity against rate.

An hour rate is a number of hours, as the trade speaks of it (the 20 h rate); times are in seconds.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from commission.errors import FormulaError
from commission.figure import formula
from commission.formulas.ranges import (
    require_exponent,
    require_finite,
    require_not_negative,
    require_one_or_more,
    require_positive,
    require_share,
)
from commission.formulas.tables import table_value

_LEAST_GRAVITY, _GREATEST_GRAVITY = 1.0, 1.4


def _require_gravity(gravity: float) -> None:
    if not _LEAST_GRAVITY <= gravity <= _GREATEST_GRAVITY:
        raise FormulaError(f"gravity = {gravity}: must be between 1.0 and 1.4 kg/L, such as 1.265")


@formula(
    expression="gravity + 0.845",
    unit="V",
    source="IEEE 450 annex and handbooks; from memory",
)
def open_circuit_voltage_from_gravity(gravity: float) -> float:
    """Rested voltage of a lead-acid cell, from the specific gravity of its acid.

    Parameters
    ----------
    gravity
        Specific gravity at 25 °C. [kg/L]

    Returns
    -------
    float
        Rested voltage of one cell at 25 °C. [V]

    Raises
    ------
    FormulaError
        If the gravity is none of a lead-acid cell.

    Notes
    -----
    The constant is 0.84 to 0.85 by source.

    Examples
    --------
    A charged deep-cycle cell:

    >>> open_circuit_voltage_from_gravity(1.265)
    2.110

    References
    ----------
    .. [1] IEEE 450, annex; handbooks in general (from memory).
    """
    _require_gravity(gravity)
    return gravity + 0.845


@formula(
    expression="voltage − 0.845",
    unit="kg/L",
    source="IEEE 450 annex and handbooks, turned round; from memory",
)
def gravity_from_open_circuit_voltage(voltage: float) -> float:
    """Specific gravity of the acid of a lead-acid cell, from its rested voltage.

    Parameters
    ----------
    voltage
        Rested voltage of one cell at 25 °C. [V]

    Returns
    -------
    float
        Specific gravity at 25 °C. [kg/L]

    Raises
    ------
    FormulaError
        If the voltage is none of a rested lead-acid cell.

    Notes
    -----
    Holds for sealed cells too, whose acid cannot be measured.

    Examples
    --------
    >>> gravity_from_open_circuit_voltage(2.11)
    1.265

    References
    ----------
    .. [1] IEEE 450, annex; handbooks in general (from memory).
    """
    require_finite(voltage=voltage)
    gravity = voltage - 0.845
    _require_gravity(gravity)
    return gravity


_FREEZING: Final = (
    (1.0, 0.0), (1.05, -3.3), (1.1, -7.7), (1.15, -15.0), (1.2, -27.0), (1.25, -52.0), (1.265, -55.0),
)  # fmt: skip
"""Specific gravity at 25 °C and °C at which the acid begins to freeze."""


@formula(
    expression="freezing point of the acid, on a straight line between the two rows of gravity beside it",
    unit="°C",
    source="open data: battery handbook, 1.150 kg/L −15 °C and 1.265 kg/L −55 °C; rows between from memory",
)
def freezing_temperature(gravity: float) -> float:
    """Temperature at which the acid of a lead-acid cell begins to freeze.

    Parameters
    ----------
    gravity
        Specific gravity at 25 °C. [kg/L]

    Returns
    -------
    float
        Temperature; of acid over 1.265 kg/L the last row's, which it stays under. [°C]

    Raises
    ------
    FormulaError
        If the gravity is none of a lead-acid cell.

    Notes
    -----
    Weak acid freezes to slush first and bursts the case later; handbooks differ by several kelvin.

    Examples
    --------
    A discharged cell:

    >>> freezing_temperature(1.125)
    -11.35

    References
    ----------
    .. [1] Open data: battery handbook; tables of sulphuric acid in handbooks in general (from memory).
    """
    _require_gravity(gravity)
    rows = [row for row, _ in _FREEZING]
    return table_value(min(gravity, rows[-1]), rows, [point for _, point in _FREEZING])


@formula(
    expression="gravity + per_kelvin × (temperature − temperature_reference)",
    unit="kg/L",
    source="service manuals, 0.004 per 10 °F; US Reclamation FIST 3-6 (1997), 0.001 per 3 °F",
)
def gravity_at_reference(
    gravity: float, temperature: float, temperature_reference: float, per_kelvin: float
) -> float:
    """Specific gravity as it would read at the reference temperature.

    Parameters
    ----------
    gravity
        Reading of the hydrometer. [kg/L]
    temperature
        Temperature of the acid. [°C]
    temperature_reference
        Temperature that the hydrometer and the cell's data refer to. [°C]
    per_kelvin
        Correction for each kelvin: 0.0007 between the rules met, 0.00072 by 0.004 per 10 °F. [kg/(L·K)]

    Returns
    -------
    float
        Corrected specific gravity. [kg/L]

    Raises
    ------
    FormulaError
        If the gravity is none of a lead-acid cell, or a value is not a finite number.

    Examples
    --------
    >>> gravity_at_reference(1.255, 10.0, 25.0, 0.0007)
    1.2445

    References
    ----------
    .. [1] US Bureau of Reclamation, FIST 3-6, "Storage battery maintenance", 1997, page 2.
    """
    _require_gravity(gravity)
    require_finite(
        temperature=temperature, temperature_reference=temperature_reference, per_kelvin=per_kelvin
    )
    return gravity + per_kelvin * (temperature - temperature_reference)


@formula(
    expression="greatest of gravities − least of gravities",
    unit="kg/L",
    source="definition",
)
def gravity_spread(gravities: Sequence[float]) -> float:
    """Spread of specific gravity over the cells of a bank.

    Parameters
    ----------
    gravities
        Gravity of each cell, all corrected to one temperature. [kg/L]

    Returns
    -------
    float
        Greatest less least. [kg/L]

    Raises
    ------
    FormulaError
        If there are fewer than two, or one of them is none of a lead-acid cell.

    Examples
    --------
    >>> gravity_spread([1.262, 1.265, 1.247])
    0.018

    References
    ----------
    .. [1] US Army TM 9-6140-200-14, para 4-7, limits of the spread.
    """
    if len(gravities) < 2:
        raise FormulaError(f"gravities has {len(gravities)} values: a spread needs at least two")
    for gravity in gravities:
        _require_gravity(gravity)
    return max(gravities) - min(gravities)


@formula(
    expression="states at voltage, on a straight line between the two rows of voltages beside it",
    unit="1",
    source="table of rested voltage of the profile or of the battery's data sheet",
)
def state_of_charge_from_table(voltage: float, voltages: Sequence[float], states: Sequence[float]) -> float:
    """State of charge by a table of rested voltage (or of gravity).

    Parameters
    ----------
    voltage
        Rested voltage on the table's basis: of a cell or of a block. [V]
    voltages
        Rested voltages of the table. [V]
    states
        State of charge of each row. [1]

    Returns
    -------
    float
        State of charge. [1]

    Raises
    ------
    FormulaError
        If ``voltage`` lies outside the table, a state is no share, or a voltage comes twice.

    Notes
    -----
    Good for ±0.10 at best: published tables differ by that much.

    Examples
    --------
    >>> state_of_charge_from_table(12.35, [12.24, 12.45], [0.50, 0.75])
    0.631

    References
    ----------
    .. [1] Linear interpolation between the rows of the table that is given.
    """
    for state in states:
        require_share(states=state)
    return table_value(voltage, voltages, states)


@formula(
    expression="voltages at state, on a straight line between the two rows of states beside it",
    unit="V",
    source="table of rested voltage of the profile or of the battery's data sheet",
)
def rested_voltage_from_table(state: float, states: Sequence[float], voltages: Sequence[float]) -> float:
    """Rested voltage at a state of charge, by a table.

    Parameters
    ----------
    state
        State of charge. [1]
    states
        State of charge of each row. [1]
    voltages
        Rested voltages of the table, of a cell or of a block. [V]

    Returns
    -------
    float
        Rested voltage on the table's basis. [V]

    Raises
    ------
    FormulaError
        If ``state`` lies outside the table, a state is no share, or a state comes twice.

    Examples
    --------
    >>> rested_voltage_from_table(0.85, [0.75, 1.00], [12.45, 12.65])
    12.53

    References
    ----------
    .. [1] Linear interpolation between the rows of the table that is given.
    """
    require_share(state=state)
    for one in states:
        require_share(states=one)
    return table_value(state, states, voltages)


@formula(
    expression="cells × per_cell",
    unit="V",
    source="Kirchhoff's voltage law",
)
def rest_voltage(cells: float, per_cell: float) -> float:
    """Rested voltage of a string of cells.

    Parameters
    ----------
    cells
        Cells in series. [1]
    per_cell
        Rested voltage of one cell. [V]

    Returns
    -------
    float
        Rested voltage of the string. [V]

    Raises
    ------
    FormulaError
        If ``cells`` is less than one, or ``per_cell`` is not positive.

    Examples
    --------
    >>> rest_voltage(24, 2.12)
    50.88

    References
    ----------
    .. [1] Kirchhoff's voltage law.
    """
    require_one_or_more(cells=cells)
    require_positive(per_cell=per_cell)
    return cells * per_cell


@formula(
    expression="capacity × (wanted_rate ÷ rate) ^ (1 − 1 ÷ exponent)",
    unit="Ah",
    source="Peukert's law in the rated-hour form; from memory",
)
def capacity_at_rate(capacity: float, rate: float, exponent: float, wanted_rate: float) -> float:
    """Capacity at another hour rate.

    Parameters
    ----------
    capacity
        Capacity at ``rate``. [Ah]
    rate
        Hour rate at which ``capacity`` holds. [h]
    exponent
        Peukert's exponent. [1]
    wanted_rate
        Hour rate at which the capacity is wanted. [h]

    Returns
    -------
    float
        Capacity at ``wanted_rate``. [Ah]

    Raises
    ------
    FormulaError
        If a value is not positive, or the exponent is outside 1 to 2.

    Examples
    --------
    One hundred ampere-hours at 20 h, asked for at 5 h:

    >>> capacity_at_rate(100.0, 20.0, 1.2, 5.0)
    79.37

    References
    ----------
    .. [1] Peukert, W., Elektrotechnische Zeitschrift 20, 1897, in the form with a rated hour (from memory).
    """
    require_positive(capacity=capacity, rate=rate, wanted_rate=wanted_rate)
    require_exponent(exponent=exponent)
    return capacity * math.pow(wanted_rate / rate, 1.0 - 1.0 / exponent)


@formula(
    expression="3600 × rate × (capacity ÷ (current × rate)) ^ exponent",
    unit="s",
    source="Peukert's law in the rated-hour form; from memory",
)
def peukert_time(capacity: float, rate: float, current: float, exponent: float) -> float:
    """Time that a charged bank lasts at a constant current.

    Parameters
    ----------
    capacity
        Capacity at ``rate``. [Ah]
    rate
        Hour rate at which ``capacity`` holds. [h]
    current
        Discharge current, without sign. [A]
    exponent
        Peukert's exponent, found from the same hour rate. [1]

    Returns
    -------
    float
        Time until the bank is empty. [s]

    Raises
    ------
    FormulaError
        If capacity, rate or current is not positive, or the exponent is outside 1 to 2.

    Examples
    --------
    One hundred ampere-hours at 20 h, drawn at 10 A, last 8.7 h:

    >>> peukert_time(100.0, 20.0, 10.0, 1.2) / 3600
    8.706

    References
    ----------
    .. [1] Peukert, W., Elektrotechnische Zeitschrift 20, 1897, in the form with a rated hour (from memory).
    """
    require_positive(capacity=capacity, rate=rate, current=current)
    require_exponent(exponent=exponent)
    return 3600.0 * rate * math.pow(capacity / (current * rate), exponent)


@formula(
    expression="3600 × capacity ÷ current ^ exponent",
    unit="s",
    source="Peukert's law in the one-ampere form",
)
def peukert_time_one_ampere(capacity: float, current: float, exponent: float) -> float:
    """Time that a charged bank lasts, from its capacity at one ampere.

    Parameters
    ----------
    capacity
        Capacity at a current of 1 A; the capacity at 20 h in its place is wrong by hours. [Ah]
    current
        Discharge current, without sign. [A]
    exponent
        Peukert's exponent. [1]

    Returns
    -------
    float
        Time until the bank is empty. [s]

    Raises
    ------
    FormulaError
        If capacity or current is not positive, or the exponent is outside 1 to 2.

    Examples
    --------
    >>> peukert_time_one_ampere(250.0, 20.0, 1.3) / 3600
    5.0886

    References
    ----------
    .. [1] Peukert, W., Elektrotechnische Zeitschrift 20, 1897, as printed in textbooks.
    """
    require_positive(capacity=capacity, current=current)
    require_exponent(exponent=exponent)
    return 3600.0 * capacity / math.pow(current, exponent)


@formula(
    expression="ln(rate ÷ other_rate) ÷ ln((other_capacity ÷ other_rate) ÷ (capacity ÷ rate))",
    unit="1",
    source="Peukert's law at two rates of a data sheet; from memory",
)
def peukert_exponent(capacity: float, rate: float, other_capacity: float, other_rate: float) -> float:
    """Exponent of a bank from its capacities at two hour rates.

    Parameters
    ----------
    capacity
        Capacity at ``rate``. [Ah]
    rate
        One hour rate. [h]
    other_capacity
        Capacity at ``other_rate``. [Ah]
    other_rate
        Another hour rate. [h]

    Returns
    -------
    float
        Peukert's exponent. [1]

    Raises
    ------
    FormulaError
        If a value is not positive, the rates are equal, or the shorter rate has the greater capacity.

    Examples
    --------
    >>> peukert_exponent(500.0, 10.0, 405.0, 3.0)
    1.2122

    References
    ----------
    .. [1] Peukert, W., Elektrotechnische Zeitschrift 20, 1897, solved for the exponent (from memory).
    """
    require_positive(capacity=capacity, rate=rate, other_capacity=other_capacity, other_rate=other_rate)
    if rate == other_rate:
        raise FormulaError(f"rate and other_rate are both {rate}: two different hour rates are needed")
    if (capacity - other_capacity) * (rate - other_rate) < 0.0:
        raise FormulaError(
            f"{capacity} Ah at {rate} h and {other_capacity} Ah at {other_rate} h: the longer rate must have"
            " at least the capacity of the shorter"
        )
    ratio = (other_capacity / other_rate) / (capacity / rate)
    return math.log(rate / other_rate) / math.log(ratio)


@formula(
    expression="current × (current × rate ÷ capacity) ^ (exponent − 1)",
    unit="A",
    source="Peukert's law in the rated-hour form; from memory",
)
def effective_discharge_current(current: float, capacity: float, rate: float, exponent: float) -> float:
    """Discharge current at which a bank empties as if it had its rated capacity.

    Parameters
    ----------
    current
        Discharge current, without sign. [A]
    capacity
        Capacity at ``rate``. [Ah]
    rate
        Hour rate at which ``capacity`` holds. [h]
    exponent
        Peukert's exponent, found from the same hour rate. [1]

    Returns
    -------
    float
        Effective current; above ``current`` only where that is above the rated one. [A]

    Raises
    ------
    FormulaError
        If the current is negative, capacity or rate not positive, or the exponent outside 1 to 2.

    Examples
    --------
    >>> effective_discharge_current(80.0, 400.0, 20.0, 1.2)
    105.56

    References
    ----------
    .. [1] Peukert, W., Elektrotechnische Zeitschrift 20, 1897, in the form with a rated hour (from memory).
    """
    require_not_negative(current=current)
    require_positive(capacity=capacity, rate=rate)
    require_exponent(exponent=exponent)
    return current * math.pow(current * rate / capacity, exponent - 1.0)


@formula(expression="current × time ÷ 3600", unit="Ah", source="definition")
def delivered_charge(current: float, time: float) -> float:
    """Charge that a constant current moves.

    Parameters
    ----------
    current
        Current, without sign. [A]
    time
        For how long. [s]

    Returns
    -------
    float
        Charge. [Ah]

    Raises
    ------
    FormulaError
        If a value is negative.

    Examples
    --------
    >>> delivered_charge(10.0, 31320.0)
    87.0

    References
    ----------
    .. [1] Definition of charge.
    """
    require_not_negative(current=current, time=time)
    return current * time / 3600.0
