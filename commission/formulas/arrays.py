"""PV arrays as sources of charge: their power, and what is lost where a limit holds them back."""

from __future__ import annotations

from commission.figure import formula
from commission.formulas.ranges import require_not_negative, require_one_or_more, require_positive


@formula(
    expression="module_power × series × strings", unit="W", source="definition of power at test conditions"
)
def array_power(module_power: float, series: float, strings: float) -> float:
    """Power of a PV array at standard test conditions.

    Parameters
    ----------
    module_power
        Power of one module at standard test conditions. [W]
    series
        Modules in series in one string. [1]
    strings
        Strings in parallel. [1]

    Returns
    -------
    float
        Power of the array. [W]

    Raises
    ------
    FormulaError
        If the power is negative, or there is less than one module or string.

    Examples
    --------
    >>> array_power(400.0, 3, 2)
    2400.0

    References
    ----------
    .. [1] IEC 61215-1:2021, standard test conditions.
    """
    require_not_negative(module_power=module_power)
    require_one_or_more(series=series, strings=strings)
    return module_power * series * strings


@formula(expression="current × bank_voltage", unit="W", source="definition of power")
def charging_power(current: float, bank_voltage: float) -> float:
    """Power of a charging current, or what a limit on it costs.

    Parameters
    ----------
    current
        Current into the bank. [A]
    bank_voltage
        Voltage of the bank. [V]

    Returns
    -------
    float
        Power. [W]

    Raises
    ------
    FormulaError
        If the current is negative or the voltage not above zero.

    Examples
    --------
    >>> charging_power(15.0, 48.0)
    720.0

    References
    ----------
    .. [1] Definition of power.
    """
    require_not_negative(current=current)
    require_positive(bank_voltage=bank_voltage)
    return current * bank_voltage
