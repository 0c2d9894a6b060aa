"""Insulation tests of PV arrays and the earth electrode of circuits with residual-current protection."""

from __future__ import annotations

import math
from typing import Final

from commission.figure import formula
from commission.formulas.ranges import require_not_negative, require_positive

SYSTEM_VOLTAGE_FACTOR: Final = 1.25
"""System voltage of an array over its open-circuit voltage (IEC 62446-1:2016, insulation test)."""

# System voltage up to which a row holds, test voltage in V, least resistance in Ω. The first row ends below
# 120 V; the others hold up to their limit (IEC 62446-1:2016; least resistances from memory).
_EXTRA_LOW: Final = (120.0, 250.0, 0.5e6)
_ROWS: Final = ((500.0, 500.0, 1e6), (1000.0, 1000.0, 1e6), (math.inf, 1500.0, 1e6))


def _row(system_voltage: float) -> tuple[float, float, float]:
    require_not_negative(system_voltage=system_voltage)
    if system_voltage < _EXTRA_LOW[0]:
        return _EXTRA_LOW
    return next(row for row in _ROWS if system_voltage <= row[0])


@formula(expression="1.25 × open_circuit_voltage", unit="V", source="IEC 62446-1:2016, insulation test")
def insulation_system_voltage(open_circuit_voltage: float) -> float:
    """System voltage by which a PV array's insulation test is chosen.

    Parameters
    ----------
    open_circuit_voltage
        Open-circuit voltage of the string at standard test conditions. [V]

    Returns
    -------
    float
        System voltage. [V]

    Raises
    ------
    FormulaError
        If the voltage is negative.

    Examples
    --------
    >>> insulation_system_voltage(91.8)
    114.8

    References
    ----------
    .. [1] IEC 62446-1:2016, table of the insulation test.
    """
    require_not_negative(open_circuit_voltage=open_circuit_voltage)
    return SYSTEM_VOLTAGE_FACTOR * open_circuit_voltage


@formula(
    expression="row of the table for system_voltage", unit="V", source="IEC 62446-1:2016, insulation test"
)
def insulation_test_voltage(system_voltage: float) -> float:
    """Test voltage of a PV array's insulation test.

    Parameters
    ----------
    system_voltage
        1.25 times the open-circuit voltage at standard test conditions. [V]

    Returns
    -------
    float
        Test voltage: 250 below 120 V, 500 to 500 V, 1000 to 1000 V, 1500 above. [V]

    Raises
    ------
    FormulaError
        If the voltage is negative.

    Examples
    --------
    >>> insulation_test_voltage(172.1)
    500.0

    References
    ----------
    .. [1] IEC 62446-1:2016 with amendment 1, table of the insulation test.
    """
    return _row(system_voltage)[1]


@formula(
    expression="row of the table for system_voltage",
    unit="Ω",
    source="IEC 62446-1:2016, insulation test; from memory",
)
def least_insulation_resistance(system_voltage: float) -> float:
    """Least insulation resistance of a PV array.

    Parameters
    ----------
    system_voltage
        1.25 times the open-circuit voltage at standard test conditions. [V]

    Returns
    -------
    float
        Least resistance: 0.5 MΩ below 120 V, else 1 MΩ. [Ω]

    Raises
    ------
    FormulaError
        If the voltage is negative.

    Examples
    --------
    >>> least_insulation_resistance(114.8)
    500000.0

    References
    ----------
    .. [1] IEC 62446-1:2016, table of the insulation test (from memory).
    """
    return _row(system_voltage)[2]


@formula(
    expression="touch_voltage ÷ residual_current", unit="Ω", source="IEC 60364-4-41, 411.5.3; from memory"
)
def greatest_electrode_resistance(touch_voltage: float, residual_current: float) -> float:
    """Greatest resistance of the earth electrode with residual-current protection in a TT system.

    Parameters
    ----------
    touch_voltage
        Touch voltage that may stay; 50. [V]
    residual_current
        Rated residual current of the device. [A]

    Returns
    -------
    float
        Greatest resistance; above 200 Ω a reading is not stable. [Ω]

    Raises
    ------
    FormulaError
        If an input is not above zero.

    Examples
    --------
    >>> greatest_electrode_resistance(50.0, 0.03)
    1666.7

    References
    ----------
    .. [1] IEC 60364-4-41:2005, 411.5.3 (from memory).
    """
    require_positive(touch_voltage=touch_voltage, residual_current=residual_current)
    return touch_voltage / residual_current
