"""Fault loops of AC circuits: least current to a protective device, greatest loop for it."""

from __future__ import annotations

from typing import Final

from commission.figure import formula
from commission.formulas.ranges import require_positive, require_share

LEAST_VOLTAGE_FACTOR: Final = 0.95
"""Least voltage of a supply over nominal, for the least fault current (IEC 60909-0, c_min; BS 7671)."""


@formula(
    expression="factor × voltage ÷ resistance",
    unit="A",
    source="IEC 60364-4-41, 411.4.4, with the least voltage factor of IEC 60909-0; from memory",
)
def least_loop_current(voltage: float, factor: float, resistance: float) -> float:
    """Least current of a fault between a line conductor and the protective conductor.

    Parameters
    ----------
    voltage
        Nominal voltage of the line conductor to earth. [V]
    factor
        Least voltage over nominal; 0.95. [1]
    resistance
        Resistance of the loop of line and protective conductor, hot. [Ω]

    Returns
    -------
    float
        Least fault current that the loop lets flow. [A]

    Raises
    ------
    FormulaError
        If voltage or resistance is not above zero, or the factor not a share.

    Notes
    -----
    Reactance is left out; it matters from about 35 mm² on.

    Examples
    --------
    >>> least_loop_current(230.0, 0.95, 1.366)
    159.95

    References
    ----------
    .. [1] IEC 60364-4-41:2005, 411.4.4: loop impedance × operating current ≤ voltage to earth (from memory).
    """
    require_positive(voltage=voltage, resistance=resistance)
    require_share(factor=factor)
    return factor * voltage / resistance


@formula(
    expression="factor × voltage ÷ current",
    unit="Ω",
    source="IEC 60364-4-41, 411.4.4; BS 7671 table 41.3; from memory",
)
def greatest_loop_resistance(voltage: float, factor: float, current: float) -> float:
    """Greatest loop impedance with which a protective device acts in its time.

    Parameters
    ----------
    voltage
        Nominal voltage of the line conductor to earth. [V]
    factor
        Least voltage over nominal; 0.95. [1]
    current
        Current at which the device acts in the time allowed. [A]

    Returns
    -------
    float
        Greatest impedance of the loop, conductors hot. [Ω]

    Raises
    ------
    FormulaError
        If voltage or current is not above zero, or the factor not a share.

    Examples
    --------
    A breaker of curve B, 32 A:

    >>> greatest_loop_resistance(230.0, 0.95, 160.0)
    1.3656

    References
    ----------
    .. [1] IEC 60364-4-41:2005, 411.4.4.
    .. [2] BS 7671:2018, table 41.3: B 32 A 1.37 Ω, C 16 A 1.37 Ω, B 6 A 7.28 Ω (from memory).
    """
    require_positive(voltage=voltage, current=current)
    require_share(factor=factor)
    return factor * voltage / current


@formula(
    expression="resistance × current",
    unit="V",
    source="IEC 60364-4-41, 411.5.3; from memory",
)
def touch_voltage_at_trip(resistance: float, current: float) -> float:
    """Touch voltage that a residual-current device leaves standing with an earth electrode of its own.

    Parameters
    ----------
    resistance
        Resistance of the earth electrode and its conductor. [Ω]
    current
        Rated residual current of the device. [A]

    Returns
    -------
    float
        Voltage of exposed metal to earth just under the trip. [V]

    Raises
    ------
    FormulaError
        If an input is not above zero.

    Examples
    --------
    >>> touch_voltage_at_trip(45.0, 0.3)
    13.5

    References
    ----------
    .. [1] IEC 60364-4-41:2005, 411.5.3: at most 50 V (from memory).
    """
    require_positive(resistance=resistance, current=current)
    return resistance * current
