"""What the readings of the commissioning tests should be: pre-charge, joining, insulation, arcs, chargers."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from commission.errors import FormulaError
from commission.figure import formula
from commission.formulas.ranges import (
    require_finite,
    require_not_negative,
    require_one_or_more,
    require_positive,
)

SENSOR_ALLOWANCE: Final = 2.0
"""Difference in K between a charger's battery sensor and the battery that its voltage may show."""

CAPACITOR_HAZARD: Final = 20.0
"""Stored energy in J from which a capacitor is a hazard (IEC 62109-1; from memory)."""


@formula(
    expression="voltage × exp(−time ÷ (resistance × capacitance))",
    unit="V",
    source="discharge of a capacitor; from memory",
)
def precharge_residual(voltage: float, resistance: float, *, capacitance: float, time: float) -> float:
    """Voltage still across the open switch while the DC capacitors are pre-charged.

    Parameters
    ----------
    voltage
        Voltage of the bank. [V]
    resistance
        Pre-charge resistor. [Ω]
    capacitance
        Capacitance of all devices on the bus. [farad]
    time
        Time since pre-charging began. [s]

    Returns
    -------
    float
        Voltage still missing. [V]

    Raises
    ------
    FormulaError
        If voltage or time is negative or resistance or capacitance not above zero.

    Examples
    --------
    After five time constants:

    >>> precharge_residual(58.0, 25.0, capacitance=0.030, time=3.75)
    0.3908

    References
    ----------
    .. [1] Charging of a capacitor through a resistor.
    """
    require_not_negative(voltage=voltage, time=time)
    require_positive(resistance=resistance, capacitance=capacitance)
    return voltage * math.exp(-time / (resistance * capacitance))


@formula(expression="residual + standing_current × resistance", unit="V", source="Ohm's law; common practice")
def precharge_residual_under_draw(residual: float, standing_current: float, resistance: float) -> float:
    """Voltage still across the open switch while devices on the bus draw their standing current.

    Parameters
    ----------
    residual
        Voltage that would still be missing without draw. [V]
    standing_current
        Current that the devices draw meanwhile. [A]
    resistance
        Pre-charge resistor. [Ω]

    Returns
    -------
    float
        Voltage still missing; it does not fall below the drop of the standing current. [V]

    Raises
    ------
    FormulaError
        If an input is negative.

    Notes
    -----
    On the high side by a small part of the drop until the capacitors are charged.

    Examples
    --------
    >>> precharge_residual_under_draw(0.39, 0.05, 25.0)
    1.64

    References
    ----------
    .. [1] Ohm's law; common practice.
    """
    require_not_negative(residual=residual, standing_current=standing_current, resistance=resistance)
    return residual + standing_current * resistance


@formula(
    expression="resistance × capacitance × ln(voltage ÷ safe_voltage), not below 0",
    unit="s",
    source="discharge of a capacitor; from memory",
)
def decay_time(voltage: float, safe_voltage: float, *, resistance: float, capacitance: float) -> float:
    """Time in which a capacitor falls to a voltage that may be touched.

    Parameters
    ----------
    voltage
        Voltage at the start. [V]
    safe_voltage
        Voltage to be reached; 60. [V]
    resistance
        Discharge resistor. [Ω]
    capacitance
        Capacitance. [farad]

    Returns
    -------
    float
        Time. [s]

    Raises
    ------
    FormulaError
        If an input is not above zero.

    Examples
    --------
    2 mF from 400 V through 47 kΩ:

    >>> decay_time(400.0, 60.0, resistance=47000.0, capacitance=0.002)
    178.33

    References
    ----------
    .. [1] Discharge of a capacitor through a resistor; IEC 62109-1:2010, discharge times.
    """
    require_positive(
        voltage=voltage, safe_voltage=safe_voltage, resistance=resistance, capacitance=capacitance
    )
    return max(0.0, resistance * capacitance * math.log(voltage / safe_voltage))


@formula(expression="capacitance × voltage² ÷ 2", unit="J", source="energy of a capacitor; from memory")
def capacitor_energy(voltage: float, capacitance: float) -> float:
    """Energy in the DC capacitors.

    Parameters
    ----------
    voltage
        Voltage. [V]
    capacitance
        Capacitance. [farad]

    Returns
    -------
    float
        Energy; above 20 J it is a hazard. [J]

    Raises
    ------
    FormulaError
        If an input is negative.

    Examples
    --------
    >>> capacitor_energy(58.0, 0.030)
    50.46

    References
    ----------
    .. [1] Energy of a capacitor; IEC 62109-1:2010, hazardous energy level 20 J (from memory).
    """
    require_not_negative(voltage=voltage, capacitance=capacitance)
    return capacitance * voltage**2 / 2.0


@formula(expression="difference ÷ resistance", unit="A", source="Ohm's law; from memory")
def equalising_current(difference: float, resistance: float) -> float:
    """Equalising current in the moment in which a string is joined to others.

    Parameters
    ----------
    difference
        Difference of their voltages. [V]
    resistance
        Resistance of both, their leads and joints. [Ω]

    Returns
    -------
    float
        Current, with the sign of the difference; below the string's limit and its fuse. [A]

    Raises
    ------
    FormulaError
        If the difference is not finite or the resistance not above zero.

    Examples
    --------
    >>> equalising_current(0.9, 0.026)
    34.615

    References
    ----------
    .. [1] Ohm's law.
    """
    require_finite(difference=difference)
    require_positive(resistance=resistance)
    return difference / resistance


@formula(expression="1 ÷ sum(1 ÷ each of resistances)", unit="Ω", source="parallel resistances; from memory")
def parallel_insulation(resistances: Sequence[float]) -> float:
    """Insulation resistance that circuits measured together show.

    Parameters
    ----------
    resistances
        Insulation resistance of each circuit; infinite where the tester is over its range. [Ω]

    Returns
    -------
    float
        Insulation resistance of all together. [Ω]

    Raises
    ------
    FormulaError
        If there is none or one is not above zero.

    Examples
    --------
    In megohms:

    >>> parallel_insulation([20.0, 50.0, 4.0])
    3.125

    References
    ----------
    .. [1] Parallel resistances; IEC 60364-6:2016, 6.4.3.3 (circuits measured together).
    """
    if not resistances:
        raise FormulaError("resistances: at least one circuit is needed")
    for each in resistances:
        if not each > 0.0:
            raise FormulaError(f"resistances = {each}: must be greater than zero")
    conductance = math.fsum(1.0 / each for each in resistances)
    return 1.0 / conductance if conductance > 0.0 else math.inf


@formula(expression="voltage × current", unit="W", source="power; from memory")
def no_load_power(voltage: float, current: float) -> float:
    """Power that an inverter draws without load.

    Parameters
    ----------
    voltage
        DC voltage. [V]
    current
        DC current. [A]

    Returns
    -------
    float
        Power, to be compared with the datasheet. [W]

    Raises
    ------
    FormulaError
        If an input is negative.

    Examples
    --------
    >>> no_load_power(51.8, 0.62)
    32.12

    References
    ----------
    .. [1] Definition of power (IEC 60050-131).
    """
    require_not_negative(voltage=voltage, current=current)
    return voltage * current


@formula(expression="current × resistance", unit="V", source="Ohm's law; from memory")
def joint_voltage(current: float, resistance: float) -> float:
    """Voltage expected over a joint.

    Parameters
    ----------
    current
        Current through it. [A]
    resistance
        Resistance of a good joint. [Ω]

    Returns
    -------
    float
        Voltage. [V]

    Raises
    ------
    FormulaError
        If an input is negative.

    Examples
    --------
    100 A through 50 µΩ:

    >>> joint_voltage(100.0, 50e-6)
    0.005

    References
    ----------
    .. [1] Ohm's law.
    """
    require_not_negative(current=current, resistance=resistance)
    return current * resistance


@formula(expression="(cells − 2 × reversed_cells) × cell_voltage", unit="V", source="Kirchhoff's law")
def string_voltage_with_reversed(cells: float, reversed_cells: float, cell_voltage: float) -> float:
    """Voltage of a string in which some cells are connected the wrong way round.

    Parameters
    ----------
    cells
        Cells in series. [1]
    reversed_cells
        Cells that are reversed; 0 in a sound string. [1]
    cell_voltage
        Voltage of one cell at rest. [V]

    Returns
    -------
    float
        Voltage of the string. [V]

    Raises
    ------
    FormulaError
        If there is no cell, more are reversed than there are, or the voltage is negative.

    Examples
    --------
    Twenty-four cells, one block of six reversed:

    >>> string_voltage_with_reversed(24, 6, 2.12)
    25.44

    References
    ----------
    .. [1] Kirchhoff's voltage law.
    """
    require_one_or_more(cells=cells)
    require_not_negative(reversed_cells=reversed_cells, cell_voltage=cell_voltage)
    if reversed_cells > cells:
        raise FormulaError(f"reversed_cells = {reversed_cells:g}: there are only {cells:g} cells")
    return (cells - 2.0 * reversed_cells) * cell_voltage


@formula(
    expression="0.01 × voltage × bolted_current ÷ 2 × time ÷ (100 × distance)²",
    unit="cal/cm²",
    source="NFPA 70E, D.5.1; from memory",
)
def arc_incident_energy(voltage: float, bolted_current: float, *, time: float, distance: float) -> float:
    """Greatest incident energy of a DC arc in open air.

    Parameters
    ----------
    voltage
        System voltage. [V]
    bolted_current
        Bolted fault current; the arc takes half of it. [A]
    time
        Time that the arc burns; 2 where no faster clearing is known. [s]
    distance
        Working distance. [m]

    Returns
    -------
    float
        Incident energy. [cal/cm²]

    Raises
    ------
    FormulaError
        If an input is negative, the distance not above zero or the voltage above 1000 V.

    Notes
    -----
    The greatest-power method, which is cautious: arcs below about 60 V hardly hold. In a box it is three
    times as much. It chooses clothing; it does not make live work right.

    Examples
    --------
    >>> arc_incident_energy(54.0, 6000.0, time=2.0, distance=0.457)
    1.5514

    References
    ----------
    .. [1] NFPA 70E, informative annex D, D.5.1 (from memory).
    """
    require_not_negative(voltage=voltage, bolted_current=bolted_current, time=time)
    require_positive(distance=distance)
    if voltage > 1000.0:
        raise FormulaError(f"voltage = {voltage} V: the method holds up to 1000 V")
    return 0.01 * voltage * bolted_current / 2.0 * time / (100.0 * distance) ** 2


@formula(
    expression="√((accuracy × voltage)² + (step ÷ 2)² + (slope ÷ 1000 × cells × 2)²)",
    unit="V",
    source="GUM, 5.1.2; allowances by common practice",
)
def charger_voltage_half_width(
    voltage: float, accuracy: float, *, step: float, slope: float, cells: float
) -> float:
    """Half-width of the band in which a charger's voltage should lie.

    Parameters
    ----------
    voltage
        Voltage that it should hold. [V]
    accuracy
        Accuracy of the device as a share of the voltage; 0.005 where its sheet is silent. [1]
    step
        Step of its setting, in whole-bank volts. [V]
    slope
        Temperature coefficient of one cell; 0 where it does not compensate. [mV/K]
    cells
        Cells in series. [1]

    Returns
    -------
    float
        Half-width, before the meter's own uncertainty. [V]

    Raises
    ------
    FormulaError
        If an input is outside its range.

    Notes
    -----
    The last part allows for a sensor 2 K from the battery.

    Examples
    --------
    57.6 V at 0.5 %, steps of 0.1 V, −4 mV/K on 24 cells:

    >>> charger_voltage_half_width(57.6, 0.005, step=0.1, slope=-4.0, cells=24)
    0.350

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 5.1.2 (combination); allowances by common practice.
    """
    require_not_negative(voltage=voltage, accuracy=accuracy, step=step)
    require_finite(slope=slope)
    require_one_or_more(cells=cells)
    return math.hypot(accuracy * voltage, step / 2.0, slope / 1000.0 * cells * SENSOR_ALLOWANCE)
