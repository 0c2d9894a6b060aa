"""Size of a bank against its loads, and what its charger draws."""

from __future__ import annotations

import math

from commission.errors import FormulaError
from commission.figure import formula
from commission.formulas.ranges import (
    require_efficiency,
    require_exponent,
    require_not_negative,
    require_one_or_more,
    require_positive,
)

# A quotient of two decimal voltages may miss the whole number that it is.
_WHOLE = 1e-9


@formula(
    expression="voltage × current ÷ (efficiency × ac_voltage × power_factor)",
    unit="A",
    source="balance of power; from memory",
)
def charger_input_current(
    voltage: float, current: float, efficiency: float, ac_voltage: float, power_factor: float
) -> float:
    """AC current that a charger draws for its charge current.

    Parameters
    ----------
    voltage
        Voltage of the bank under charge. [V]
    current
        Charge current. [A]
    efficiency
        Efficiency of the charger. [1]
    ac_voltage
        Voltage of the AC source at the charger. [V]
    power_factor
        Power factor of the charger's input. [1]

    Returns
    -------
    float
        Current taken from the AC source. [A]

    Raises
    ------
    FormulaError
        If a voltage is not positive, the current negative, or efficiency or power factor not within 0 to 1.

    Examples
    --------
    Sixty amperes into twenty-four flooded cells in absorption, from 230 V:

    >>> charger_input_current(58.8, 60.0, 0.92, 230.0, 1.0)
    16.67

    References
    ----------
    .. [1] Conservation of energy.
    """
    require_positive(voltage=voltage, ac_voltage=ac_voltage)
    require_not_negative(current=current)
    require_efficiency(efficiency=efficiency, power_factor=power_factor)
    return voltage * current / (efficiency * ac_voltage * power_factor)


@formula(
    expression="power ÷ efficiency",
    unit="W",
    source="UFC 3-520-01 (2002), appendix E",
)
def battery_load(power: float, efficiency: float) -> float:
    """Power that an inverter takes from the bank.

    Parameters
    ----------
    power
        AC power of the loads. [W]
    efficiency
        Efficiency of the inverter at that power. [1]

    Returns
    -------
    float
        DC power. [W]

    Raises
    ------
    FormulaError
        If the power is negative, or the efficiency not greater than 0 and at most 1.

    Examples
    --------
    >>> battery_load(6000.0, 0.92)
    6521.7

    References
    ----------
    .. [1] UFC 3-520-01, "Interior electrical systems", 2002, appendix E.
    """
    require_not_negative(power=power)
    require_efficiency(efficiency=efficiency)
    return power / efficiency


@formula(
    expression=("daily_energy ÷ (efficiency × voltage) × days ÷ (depth × temperature_share)"),
    unit="Ah",
    source="IEEE 1013, PV battery; from memory",
)
def required_capacity(
    daily_energy: float,
    efficiency: float,
    voltage: float,
    days: float,
    depth: float,
    temperature_share: float,
) -> float:
    """Capacity that carries the loads through days without sun.

    Parameters
    ----------
    daily_energy
        Energy of the AC loads in a day. [Wh]
    efficiency
        Efficiency of the inverter. [1]
    voltage
        Nominal voltage of the bank. [V]
    days
        Days without charge. [1]
    depth
        Share of the capacity that may be taken. [1]
    temperature_share
        Share of the capacity that is there at the coldest battery. [1]

    Returns
    -------
    float
        Capacity of the bank. [Ah]

    Raises
    ------
    FormulaError
        If energy or days is negative, the voltage not positive, or a share not greater than 0 and at most 1.

    Examples
    --------
    >>> required_capacity(5000.0, 0.9, 48.0, 3, 0.8, 0.9)
    482.3

    References
    ----------
    .. [1] IEEE 1013, sizing lead-acid batteries for stand-alone photovoltaic systems (from memory).
    """
    require_not_negative(daily_energy=daily_energy, days=days)
    require_positive(voltage=voltage)
    require_efficiency(efficiency=efficiency, depth=depth, temperature_share=temperature_share)
    return daily_energy / (efficiency * voltage) * days / (depth * temperature_share)


@formula(
    expression="power × time ÷ (3600 × cells × end_voltage) × temperature_factor × age × design",
    unit="Ah",
    source="sizing by constant power, with the factors of IEEE 485",
)
def constant_power_capacity(
    power: float,
    time: float,
    cells: float,
    end_voltage: float,
    temperature_factor: float,
    age: float,
    design: float,
) -> float:
    """Capacity for a constant power over a time, worked out at the end voltage.

    Parameters
    ----------
    power
        DC power taken from the bank. [W]
    time
        For how long. [s]
    cells
        Cells in series. [1]
    end_voltage
        Voltage of one cell at the end of discharge. [V]
    temperature_factor
        Factor of the coldest battery; 1 at 25 °C, more in the cold. [1]
    age
        Allowance for age: 1.25 for a bank kept down to 80 %. [1]
    design
        Allowance for growth: 1.10. [1]

    Returns
    -------
    float
        Capacity at the rate of that time. [Ah]

    Raises
    ------
    FormulaError
        If ``cells`` is less than one, or another value is not positive.

    Examples
    --------
    Ten kVA at 0.8 and 85 % for half an hour:

    >>> constant_power_capacity(9411.76, 1800.0, 108, 1.75, 1.0, 1.25, 1.10)
    34.24

    References
    ----------
    .. [1] IEEE 485, sizing lead-acid batteries, temperature, age and design factors (from memory).
    """
    require_one_or_more(cells=cells)
    require_positive(
        power=power,
        time=time,
        end_voltage=end_voltage,
        temperature_factor=temperature_factor,
        age=age,
        design=design,
    )
    return power * time / (3600.0 * cells * end_voltage) * temperature_factor * age * design


@formula(
    expression="whole part of (greatest_voltage ÷ cell_voltage)",
    unit="1",
    source="IEEE 485 and 1013, number of cells; UFC 3-520-01 (2002), step E-2.1.3",
)
def most_cells(greatest_voltage: float, cell_voltage: float) -> float:
    """Most cells in series that the equipment's greatest voltage lets be charged.

    Parameters
    ----------
    greatest_voltage
        Greatest DC voltage that all connected equipment takes. [V]
    cell_voltage
        Highest voltage of one cell that is to be reached, equalise or float. [V]

    Returns
    -------
    float
        Cells in series, a whole number. [1]

    Raises
    ------
    FormulaError
        If a value is not positive, or not even one cell fits.

    Examples
    --------
    >>> most_cells(60.0, 2.58)
    23.0

    References
    ----------
    .. [1] IEEE 485 and IEEE 1013, number of cells (from memory); UFC 3-520-01, 2002, step E-2.1.3.
    """
    require_positive(greatest_voltage=greatest_voltage, cell_voltage=cell_voltage)
    cells = math.floor(greatest_voltage / cell_voltage + _WHOLE)
    if cells < 1:
        raise FormulaError(
            f"greatest_voltage = {greatest_voltage}: not even one cell of {cell_voltage} V fits"
        )
    return float(cells)


@formula(
    expression="least whole number not under least_voltage ÷ cell_voltage",
    unit="1",
    source="IEEE 485 and 1013, number of cells; from memory",
)
def least_cells(least_voltage: float, cell_voltage: float) -> float:
    """Least cells in series that keep the equipment running until they are empty.

    Parameters
    ----------
    least_voltage
        Least DC voltage at which all connected equipment runs. [V]
    cell_voltage
        Voltage of one cell at the end of discharge. [V]

    Returns
    -------
    float
        Cells in series, a whole number. [1]

    Raises
    ------
    FormulaError
        If a value is not positive.

    Examples
    --------
    >>> least_cells(42.0, 1.75)
    24.0

    References
    ----------
    .. [1] IEEE 485 and IEEE 1013, number of cells (from memory).
    """
    require_positive(least_voltage=least_voltage, cell_voltage=cell_voltage)
    return float(max(1, math.ceil(least_voltage / cell_voltage - _WHOLE)))


@formula(
    expression="load ÷ cells",
    unit="W",
    source="sizing by constant power for each cell, a maker's block manual",
)
def power_per_cell(load: float, cells: float) -> float:
    """Power that each cell has to give.

    Parameters
    ----------
    load
        DC power taken from the bank. [W]
    cells
        Cells in series. [1]

    Returns
    -------
    float
        Power of one cell. [W]

    Raises
    ------
    FormulaError
        If the load is negative, or ``cells`` less than one.

    Examples
    --------
    >>> power_per_cell(5300.0, 120)
    44.17

    References
    ----------
    .. [1] Definition; tables of constant power in makers' block manuals.
    """
    require_not_negative(load=load)
    require_one_or_more(cells=cells)
    return load / cells


@formula(
    expression="cell_power ÷ specific_power",
    unit="Ah",
    source="sizing by constant power for each cell, a maker's block manual",
)
def capacity_by_cell_power(cell_power: float, specific_power: float) -> float:
    """Capacity by a maker's table of constant power.

    Parameters
    ----------
    cell_power
        Power that each cell has to give. [W]
    specific_power
        Power of a cell for each ampere-hour, of the table at end voltage and time. [W/Ah]

    Returns
    -------
    float
        Capacity. [Ah]

    Raises
    ------
    FormulaError
        If the power is negative, or the table's value is not positive.

    Examples
    --------
    >>> capacity_by_cell_power(44.17, 1.872)
    23.59

    References
    ----------
    .. [1] Tables of constant power in makers' block manuals.
    """
    require_not_negative(cell_power=cell_power)
    require_positive(specific_power=specific_power)
    return cell_power / specific_power


@formula(
    expression="capacity ÷ current",
    unit="h",
    source="IEEE 1013, functional-hour rate; from memory",
)
def functional_hour_rate(capacity: float, current: float) -> float:
    """Hour rate by which a bank's capacity is to be looked up.

    Parameters
    ----------
    capacity
        Capacity adjusted for depth, temperature and age. [Ah]
    current
        Greatest running current. [A]

    Returns
    -------
    float
        Functional-hour rate; the published rate next below it counts. [h]

    Raises
    ------
    FormulaError
        If a value is not positive.

    Examples
    --------
    >>> functional_hour_rate(482.3, 25.0)
    19.3

    References
    ----------
    .. [1] IEEE 1013, functional hour rate (from memory).
    """
    require_positive(capacity=capacity, current=current)
    return capacity / current


@formula(
    expression=(
        "3600 × depth × temperature_share × capacity ÷"
        " (current × (greater of 1 and current × rate ÷ capacity) ^ (exponent − 1))"
    ),
    unit="s",
    source="IEEE 1013 with Peukert's law, no credit under the rated current; common practice",
)
def autonomy_time(
    capacity: float, rate: float, exponent: float, depth: float, temperature_share: float, current: float
) -> float:
    """Time that a charged bank carries a constant load without any charge.

    Parameters
    ----------
    capacity
        Capacity at ``rate`` and 25 °C. [Ah]
    rate
        Hour rate at which ``capacity`` holds. [h]
    exponent
        Peukert's exponent, found from the same hour rate. [1]
    depth
        Share of the capacity that may be taken. [1]
    temperature_share
        Share of the capacity that is there at the coldest battery. [1]
    current
        Current drawn, without sign. [A]

    Returns
    -------
    float
        Time until ``depth`` is reached. [s]

    Raises
    ------
    FormulaError
        If capacity, rate or current is not positive, the exponent outside 1 to 2, or a share not in 0 to 1.

    Examples
    --------
    At its rated current a bank of 20 h lasts 16 h to 80 %:

    >>> autonomy_time(400.0, 20.0, 1.25, 0.8, 1.0, 20.0) / 3600
    16.0

    References
    ----------
    .. [1] IEEE 1013, autonomy (from memory).
    .. [2] Peukert, W., Elektrotechnische Zeitschrift 20, 1897 (from memory).
    """
    require_positive(capacity=capacity, rate=rate, current=current)
    require_exponent(exponent=exponent)
    require_efficiency(depth=depth, temperature_share=temperature_share)
    ratio = max(1.0, current * rate / capacity)
    return 3600.0 * depth * temperature_share * capacity / (current * math.pow(ratio, exponent - 1.0))
