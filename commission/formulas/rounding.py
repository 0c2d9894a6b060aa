"""Values brought onto the steps that a device can be set to."""

from __future__ import annotations

import math

from commission.errors import FormulaError
from commission.figure import formula

_SLACK = 1e-6
"""Share of a step forgiven, so that 54.0 on a grid of 0.1 never becomes 53.9 in binary fractions."""


def _steps(value: float, start: float, step: float) -> float:
    if step <= 0:
        raise FormulaError(f"step = {step}: a device's resolution is greater than zero")
    return (value - start) / step


def _clean(start: float, step: float, count: int) -> float:
    return round(start + count * step, 9)


@formula(expression="start + ⌊(value − start) ÷ step⌋ × step", unit="", source="common practice")
def rounded_down(value: float, start: float, step: float) -> float:
    """Greatest value on the device's grid that is not over the wanted one.

    Parameters
    ----------
    value
        Wanted value. [unit of the setting]
    start
        A value on the grid, the low end of the device's range. [unit of the setting]
    step
        Resolution of the device. [unit of the setting]

    Returns
    -------
    float
        Value that can be entered. [unit of the setting]

    Raises
    ------
    FormulaError
        If ``step`` is not greater than zero.

    Examples
    --------
    >>> rounded_down(57.63, 40.0, 0.4)
    57.6
    >>> rounded_down(54.0, 40.0, 0.1)
    54.0

    References
    ----------
    .. [1] Common practice: limits that protect from too much are rounded down.
    """
    return _clean(start, step, math.floor(_steps(value, start, step) + _SLACK))


@formula(expression="start + ⌈(value − start) ÷ step⌉ × step", unit="", source="common practice")
def rounded_up(value: float, start: float, step: float) -> float:
    """Least value on the device's grid that is not under the wanted one.

    Parameters
    ----------
    value
        Wanted value. [unit of the setting]
    start
        A value on the grid, the low end of the device's range. [unit of the setting]
    step
        Resolution of the device. [unit of the setting]

    Returns
    -------
    float
        Value that can be entered. [unit of the setting]

    Raises
    ------
    FormulaError
        If ``step`` is not greater than zero.

    Examples
    --------
    >>> rounded_up(45.61, 40.0, 0.4)
    46.0

    References
    ----------
    .. [1] Common practice: limits that protect from too little are rounded up.
    """
    return _clean(start, step, math.ceil(_steps(value, start, step) - _SLACK))


@formula(expression="start + round((value − start) ÷ step) × step", unit="", source="common practice")
def rounded_nearest(value: float, start: float, step: float) -> float:
    """Value on the device's grid that is nearest to the wanted one; a tie goes down.

    Parameters
    ----------
    value
        Wanted value. [unit of the setting]
    start
        A value on the grid, the low end of the device's range. [unit of the setting]
    step
        Resolution of the device. [unit of the setting]

    Returns
    -------
    float
        Value that can be entered. [unit of the setting]

    Raises
    ------
    FormulaError
        If ``step`` is not greater than zero.

    Examples
    --------
    >>> rounded_nearest(-4.2, -8.0, 0.5)
    -4.0

    References
    ----------
    .. [1] Common practice: values with a danger on neither side go to the nearest step.
    """
    return _clean(start, step, math.ceil(_steps(value, start, step) - 0.5 - _SLACK))


@formula(expression="start + (⌊(value − start) ÷ step⌋ + 1) × step", unit="", source="common practice")
def step_over(value: float, start: float, step: float) -> float:
    """Least value on the device's grid that lies over a bound.

    Parameters
    ----------
    value
        Bound, itself not enough. [unit of the setting]
    start
        A value on the grid, the low end of the device's range. [unit of the setting]
    step
        Resolution of the device. [unit of the setting]

    Returns
    -------
    float
        Value that can be entered. [unit of the setting]

    Raises
    ------
    FormulaError
        If ``step`` is not greater than zero.

    Examples
    --------
    >>> step_over(46.0, 40.0, 0.4)
    46.4

    References
    ----------
    .. [1] Common practice: where rounding makes two settings equal that must differ, one is moved by a step.
    """
    return _clean(start, step, math.floor(_steps(value, start, step) + _SLACK) + 1)


@formula(expression="start + (⌈(value − start) ÷ step⌉ − 1) × step", unit="", source="common practice")
def step_under(value: float, start: float, step: float) -> float:
    """Greatest value on the device's grid that lies under a bound.

    Parameters
    ----------
    value
        Bound, itself too much. [unit of the setting]
    start
        A value on the grid, the low end of the device's range. [unit of the setting]
    step
        Resolution of the device. [unit of the setting]

    Returns
    -------
    float
        Value that can be entered. [unit of the setting]

    Raises
    ------
    FormulaError
        If ``step`` is not greater than zero.

    Examples
    --------
    >>> step_under(54.0, 40.0, 0.4)
    53.6

    References
    ----------
    .. [1] Common practice: where rounding makes two settings equal that must differ, one is moved by a step.
    """
    return _clean(start, step, math.ceil(_steps(value, start, step) - _SLACK) - 1)


@formula(expression="bank_value ÷ count", unit="", source="definition of the device's basis")
def in_device_basis(bank_value: float, count: float) -> float:
    """Whole-bank value as the device counts it: for the bank, per 12 V, or per cell.

    Parameters
    ----------
    bank_value
        Value for the whole bank. [unit of the setting]
    count
        Blocks of 12 V or cells in series; 1 for the whole bank. [1]

    Returns
    -------
    float
        Value to enter. [unit of the setting]

    Raises
    ------
    FormulaError
        If ``count`` is less than one.

    Examples
    --------
    >>> in_device_basis(57.6, 4)
    14.4

    References
    ----------
    .. [1] Definition.
    """
    if count < 1:
        raise FormulaError(f"count = {count}: at least one block or cell in series")
    return round(bank_value / count, 9)


@formula(expression="device_value × count", unit="", source="definition of the device's basis")
def in_bank_basis(device_value: float, count: float) -> float:
    """Value in the device's own basis as a whole-bank value.

    Parameters
    ----------
    device_value
        Value as entered at the device. [unit of the setting]
    count
        Blocks of 12 V or cells in series; 1 for the whole bank. [1]

    Returns
    -------
    float
        Value for the whole bank. [unit of the setting]

    Raises
    ------
    FormulaError
        If ``count`` is less than one.

    Examples
    --------
    >>> in_bank_basis(14.4, 4)
    57.6

    References
    ----------
    .. [1] Definition.
    """
    if count < 1:
        raise FormulaError(f"count = {count}: at least one block or cell in series")
    return round(device_value * count, 9)
