"""Prospective short-circuit current of a bank, by each of the ways that the trade works it out.

The ways differ by some 20 %; which one counts is the rule set's choice. A figure of the maker for the model
installed goes before all of them.
"""

from __future__ import annotations

from commission.errors import FormulaError
from commission.figure import formula
from commission.formulas.ranges import (
    require_not_negative,
    require_one_or_more,
    require_positive,
)


@formula(expression="voltage ÷ resistance", unit="A", source="Ohm's law")
def short_circuit_current(voltage: float, resistance: float) -> float:
    """Short-circuit current of a source behind a resistance.

    Parameters
    ----------
    voltage
        Open-circuit voltage. [V]
    resistance
        Resistance of the whole loop. [Ω]

    Returns
    -------
    float
        Prospective current. [A]

    Raises
    ------
    FormulaError
        If a value is not positive.

    Examples
    --------
    >>> short_circuit_current(12.0, 0.005)
    2400.0

    References
    ----------
    .. [1] Ohm's law.
    """
    require_positive(voltage=voltage, resistance=resistance)
    return voltage / resistance


@formula(
    expression=(
        "cells × cell_voltage ÷ (cells × cell_resistance + connection_resistance + cable_resistance)"
    ),
    unit="A",
    source="basic form with joints and cable; common practice",
)
def bank_short_circuit_current(
    cells: float,
    cell_voltage: float,
    cell_resistance: float,
    connection_resistance: float,
    cable_resistance: float,
) -> float:
    """Short-circuit current of one string at the end of its cables.

    Parameters
    ----------
    cells
        Cells in series. [1]
    cell_voltage
        Open-circuit voltage of one cell, or the rule set's fault voltage: 2.0 V for lead by IEEE 946. [V]
    cell_resistance
        DC resistance of one cell. [Ω]
    connection_resistance
        All joints and links of the string together. [Ω]
    cable_resistance
        Cables out and back to the fault, cold. [Ω]

    Returns
    -------
    float
        Prospective current. [A]

    Raises
    ------
    FormulaError
        If ``cells`` is less than one, voltage or cell resistance not positive, or another value negative.

    Examples
    --------
    >>> bank_short_circuit_current(24, 2.06, 0.00028, 0.00072, 0.001158) / 1000
    5.750

    References
    ----------
    .. [1] Common practice; IEEE 946 for the voltage of a cell (from memory).
    """
    require_one_or_more(cells=cells)
    require_positive(cell_voltage=cell_voltage, cell_resistance=cell_resistance)
    require_not_negative(connection_resistance=connection_resistance, cable_resistance=cable_resistance)
    return cells * cell_voltage / (cells * cell_resistance + connection_resistance + cable_resistance)


@formula(expression="string_current × strings", unit="A", source="Kirchhoff's current law; from memory")
def parallel_short_circuit_current(string_current: float, strings: float) -> float:
    """Short-circuit current of strings in parallel.

    Parameters
    ----------
    string_current
        Prospective current of one string. [A]
    strings
        Strings that feed the fault; a string's own fuse sees all but one. [1]

    Returns
    -------
    float
        Prospective current of all together. [A]

    Raises
    ------
    FormulaError
        If a value is negative.

    Examples
    --------
    >>> parallel_short_circuit_current(5200.0, 3)
    15600.0

    References
    ----------
    .. [1] Kirchhoff's current law.
    """
    require_not_negative(string_current=string_current, strings=strings)
    return string_current * strings


@formula(
    expression="(rested − loaded) ÷ current",
    unit="Ω",
    source="textbook: internal resistance by a load step",
)
def load_step_resistance(rested: float, loaded: float, current: float) -> float:
    """Resistance of a bank by one step of load from rest.

    Parameters
    ----------
    rested
        Voltage before the step. [V]
    loaded
        Voltage after it, with the current held, at a time that goes with the figure. [V]
    current
        Current of the step, without sign. [A]

    Returns
    -------
    float
        Resistance. [Ω]

    Raises
    ------
    FormulaError
        If a value is not positive, or the voltage did not fall.

    Examples
    --------
    >>> load_step_resistance(12.7, 12.1, 100.0)
    0.006

    References
    ----------
    .. [1] Textbooks of electrical engineering, internal resistance of a cell.
    """
    require_positive(rested=rested, loaded=loaded, current=current)
    if loaded >= rested:
        raise FormulaError(f"loaded = {loaded}: must lie under the voltage at rest, {rested} V")
    return (rested - loaded) / current


@formula(
    expression="rested × current ÷ (rested − loaded)",
    unit="A",
    source="textbook: short-circuit current by a load step",
)
def load_step_short_circuit_current(rested: float, loaded: float, current: float) -> float:
    """Short-circuit current of a bank by one step of load from rest.

    Parameters
    ----------
    rested
        Voltage before the step. [V]
    loaded
        Voltage after it, with the current held. [V]
    current
        Current of the step, without sign. [A]

    Returns
    -------
    float
        Prospective current. [A]

    Raises
    ------
    FormulaError
        If a value is not positive, or the voltage did not fall.

    Examples
    --------
    >>> load_step_short_circuit_current(12.7, 12.1, 100.0) / 1000
    2.117

    References
    ----------
    .. [1] Textbooks of electrical engineering, internal resistance of a cell.
    """
    require_positive(rested=rested, loaded=loaded, current=current)
    if loaded >= rested:
        raise FormulaError(f"loaded = {loaded}: must lie under the voltage at rest, {rested} V")
    return rested * current / (rested - loaded)


def _require_two_points(
    first_voltage: float, first_current: float, second_voltage: float, second_current: float
) -> None:
    require_positive(first_voltage=first_voltage, second_voltage=second_voltage)
    require_not_negative(first_current=first_current, second_current=second_current)
    if second_current <= first_current:
        raise FormulaError(
            f"second_current = {second_current}: must be more than the first, {first_current} A"
        )
    if second_voltage >= first_voltage:
        raise FormulaError(
            f"second_voltage = {second_voltage}: must lie under the first, {first_voltage} V, for it was read"
            " at more current"
        )


@formula(
    expression="(first_voltage − second_voltage) ÷ (second_current − first_current)",
    unit="Ω",
    source="IEC 60896-11 and -21, internal resistance by two points; from memory",
)
def two_point_resistance(
    first_voltage: float, first_current: float, second_voltage: float, second_current: float
) -> float:
    """Resistance of a cell or bank by two currents.

    Parameters
    ----------
    first_voltage
        Voltage at the lesser current. [V]
    first_current
        Lesser current, without sign; by the standard 4 to 6 times the 10 h current, after 20 s. [A]
    second_voltage
        Voltage at the greater current. [V]
    second_current
        Greater current, without sign; by the standard 20 to 40 times the 10 h current, after 5 s. [A]

    Returns
    -------
    float
        Resistance. [Ω]

    Raises
    ------
    FormulaError
        If a voltage is not positive, or the greater current does not go with the lesser voltage.

    Examples
    --------
    >>> two_point_resistance(1.98, 100.0, 1.90, 500.0)
    0.0002

    References
    ----------
    .. [1] IEC 60896-11 and IEC 60896-21, short-circuit current and internal resistance (from memory).
    """
    _require_two_points(first_voltage, first_current, second_voltage, second_current)
    return (first_voltage - second_voltage) / (second_current - first_current)


@formula(
    expression=(
        "(first_voltage × second_current − second_voltage × first_current) ÷ (first_voltage − second_voltage)"
    ),
    unit="A",
    source="IEC 60896-11 and -21, short-circuit current by two points; from memory",
)
def two_point_short_circuit_current(
    first_voltage: float, first_current: float, second_voltage: float, second_current: float
) -> float:
    """Short-circuit current of a cell or bank by two currents.

    Parameters
    ----------
    first_voltage
        Voltage at the lesser current. [V]
    first_current
        Lesser current, without sign; by the standard 4 to 6 times the 10 h current, after 20 s. [A]
    second_voltage
        Voltage at the greater current. [V]
    second_current
        Greater current, without sign; by the standard 20 to 40 times the 10 h current, after 5 s. [A]

    Returns
    -------
    float
        Prospective current, where the line through both points meets 0 V. [A]

    Raises
    ------
    FormulaError
        If a voltage is not positive, or the greater current does not go with the lesser voltage.

    Examples
    --------
    A cell of 2.00 V behind 0.2 mΩ:

    >>> two_point_short_circuit_current(1.98, 100.0, 1.90, 500.0)
    10000.0

    References
    ----------
    .. [1] IEC 60896-11 and IEC 60896-21, short-circuit current and internal resistance (from memory).
    """
    _require_two_points(first_voltage, first_current, second_voltage, second_current)
    return (first_voltage * second_current - second_voltage * first_current) / (
        first_voltage - second_voltage
    )


@formula(
    expression="10 × one_minute_current",
    unit="A",
    source="IEEE 946, one-minute rule; from memory",
)
def one_minute_short_circuit_current(one_minute_current: float) -> float:
    """Short-circuit current of vented lead cells where only the one-minute rating is known.

    Parameters
    ----------
    one_minute_current
        Current that the cells give for one minute down to 1.75 V per cell. [A]

    Returns
    -------
    float
        Prospective current, cautious for what a device must interrupt. [A]

    Raises
    ------
    FormulaError
        If the current is not positive.

    Examples
    --------
    >>> one_minute_short_circuit_current(450.0)
    4500.0

    References
    ----------
    .. [1] IEEE 946, design of DC auxiliary power systems (from memory).
    """
    require_positive(one_minute_current=one_minute_current)
    return 10.0 * one_minute_current


@formula(
    expression="1.05 × nominal_voltage ÷ (0.9 × bank_resistance + path_resistance)",
    unit="A",
    source="IEC 61660-1 clause 2.4, maximum; from memory",
)
def peak_short_circuit_current(
    nominal_voltage: float, bank_resistance: float, path_resistance: float
) -> float:
    """Peak of the short-circuit current of a charged bank.

    Parameters
    ----------
    nominal_voltage
        Nominal voltage of the bank. [V]
    bank_resistance
        DC resistance of the bank. [Ω]
    path_resistance
        Joints, links and cables up to the fault. [Ω]

    Returns
    -------
    float
        Peak current. [A]

    Raises
    ------
    FormulaError
        If voltage or bank resistance is not positive, or the path's resistance is negative.

    Examples
    --------
    >>> peak_short_circuit_current(48.0, 0.0072, 0.0010)
    6738.0

    References
    ----------
    .. [1] IEC 61660-1:1997, clause 2.4, stationary lead-acid batteries (from memory).
    """
    require_positive(nominal_voltage=nominal_voltage, bank_resistance=bank_resistance)
    require_not_negative(path_resistance=path_resistance)
    return 1.05 * nominal_voltage / (0.9 * bank_resistance + path_resistance)


@formula(
    expression="0.95 × 1.05 × nominal_voltage ÷ (bank_resistance + path_resistance)",
    unit="A",
    source="IEC 61660-1 clause 2.4, maximum; from memory",
)
def quasi_steady_short_circuit_current(
    nominal_voltage: float, bank_resistance: float, path_resistance: float
) -> float:
    """Short-circuit current of a charged bank after its peak, up to a second.

    Parameters
    ----------
    nominal_voltage
        Nominal voltage of the bank. [V]
    bank_resistance
        DC resistance of the bank. [Ω]
    path_resistance
        Joints, links and cables up to the fault. [Ω]

    Returns
    -------
    float
        Current that a protective device sees. [A]

    Raises
    ------
    FormulaError
        If voltage or bank resistance is not positive, or the path's resistance is negative.

    Examples
    --------
    >>> quasi_steady_short_circuit_current(48.0, 0.0072, 0.0010)
    5839.0

    References
    ----------
    .. [1] IEC 61660-1:1997, clause 2.4, stationary lead-acid batteries; its 0.9 and 0.1 of the bank's
       resistance add up to one (from memory).
    """
    require_positive(nominal_voltage=nominal_voltage, bank_resistance=bank_resistance)
    require_not_negative(path_resistance=path_resistance)
    return 0.95 * 1.05 * nominal_voltage / (bank_resistance + path_resistance)


@formula(
    expression="factor × nominal_voltage", unit="V", source="IEC 61660-1 clause 2.4, maximum; from memory"
)
def nominal_fault_voltage(factor: float, nominal_voltage: float) -> float:
    """Voltage that drives a fault, from the nominal voltage of the bank.

    Parameters
    ----------
    factor
        Times nominal for a charged bank; 1.05 by IEC 61660-1. [1]
    nominal_voltage
        Nominal voltage of the bank. [V]

    Returns
    -------
    float
        Voltage behind the bank's resistance. [V]

    Raises
    ------
    FormulaError
        If a value is not positive.

    Examples
    --------
    >>> nominal_fault_voltage(1.05, 48.0)
    50.4

    References
    ----------
    .. [1] IEC 61660-1:1997, clause 2.4, stationary lead-acid batteries (from memory).
    """
    require_positive(factor=factor, nominal_voltage=nominal_voltage)
    return factor * nominal_voltage


@formula(expression="share × resistance", unit="Ω", source="IEC 61660-1 clause 2.4, maximum; from memory")
def fault_resistance(share: float, resistance: float) -> float:
    """Resistance of a bank or string as it counts in the greatest fault current.

    Parameters
    ----------
    share
        Part of the resistance that counts before the current has settled; 0.9 by IEC 61660-1. [1]
    resistance
        DC resistance of the bank or string. [Ω]

    Returns
    -------
    float
        Resistance for the greatest current. [Ω]

    Raises
    ------
    FormulaError
        If a value is not positive.

    Examples
    --------
    >>> fault_resistance(0.9, 0.0072) * 1000
    6.48

    References
    ----------
    .. [1] IEC 61660-1:1997, clause 2.4, stationary lead-acid batteries (from memory).
    """
    require_positive(share=share, resistance=resistance)
    return share * resistance


@formula(expression="voltage ÷ current", unit="Ω", source="Ohm's law")
def told_fault_resistance(voltage: float, current: float) -> float:
    """Resistance of a string whose short-circuit current its maker states.

    Parameters
    ----------
    voltage
        Voltage that drives the fault by the rules of the region. [V]
    current
        Short-circuit current at the string's own posts as its maker states it. [A]

    Returns
    -------
    float
        Resistance behind which that voltage drives that current. [Ω]

    Raises
    ------
    FormulaError
        If a value is not positive.

    Examples
    --------
    >>> told_fault_resistance(48.0, 4000.0) * 1000
    12.0

    References
    ----------
    .. [1] Ohm's law; it gives the maker's figure back at the posts and less behind a cable.
    """
    require_positive(voltage=voltage, current=current)
    return voltage / current


@formula(
    expression="multiple × rating",
    unit="A",
    source="IEC 60898-1, instantaneous tripping; IEC 60269-1, gates of gG fuse-links; from memory",
)
def clearing_current(rating: float, multiple: float) -> float:
    """Least current at which a breaker or fuse opens without delay.

    Parameters
    ----------
    rating
        Rated current of the device. [A]
    multiple
        Times the rating: upper end of a breaker's instantaneous range, or where a fuse opens in the time
        allowed. [1]

    Returns
    -------
    float
        Fault current that is needed at least. [A]

    Raises
    ------
    FormulaError
        If a value is not positive.

    Examples
    --------
    A breaker of curve C:

    >>> clearing_current(32.0, 10.0)
    320.0

    References
    ----------
    .. [1] IEC 60898-1:2015, table 7 (from memory).
    .. [2] IEC 60269-1:2006, gates of gG fuse-links (from memory).
    """
    require_positive(rating=rating, multiple=multiple)
    return multiple * rating
