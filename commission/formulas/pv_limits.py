"""How many modules and strings fit a controller, in the cold, in the heat and by current."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from commission.errors import FormulaError
from commission.figure import formula
from commission.formulas.ranges import (
    require_efficiency,
    require_finite,
    require_not_negative,
    require_one_or_more,
    require_positive,
)

COLD_FACTORS: Final[tuple[tuple[float, float], ...]] = (
    (20.0, 1.02), (15.0, 1.04), (10.0, 1.06), (5.0, 1.08), (0.0, 1.10), (-5.0, 1.12), (-10.0, 1.14),
    (-15.0, 1.16), (-20.0, 1.18), (-25.0, 1.20), (-30.0, 1.21), (-35.0, 1.23), (-40.0, 1.25),
)  # fmt: skip
"""Lowest whole degree of each band and its factor, crystalline silicon (NEC table 690.7(A))."""


@formula(expression="row of the table for the lowest temperature", unit="1", source="NEC table 690.7(A)")
def cold_factor(temperature: float) -> float:
    """Correction of a crystalline module's open-circuit voltage for cold where no coefficient is known.

    Parameters
    ----------
    temperature
        Lowest expected air temperature. [°C]

    Returns
    -------
    float
        Factor on the open-circuit voltage at 25 °C. [1]

    Raises
    ------
    FormulaError
        Below −40 °C, where the table ends: then the module's coefficient is needed.

    Notes
    -----
    Between whole degrees the colder band is taken. The table is not always the safe one: the median module's
    voltage rises by 18 % at −20 °C, one in six rises by more.

    Examples
    --------
    >>> cold_factor(-20.0)
    1.18

    References
    ----------
    .. [1] NEC 2023, table 690.7(A), voltage correction factors for crystalline silicon modules.
    """
    require_finite(temperature=temperature)
    if temperature > 25.0:
        return 1.0
    whole = math.floor(temperature)
    for lowest, factor in COLD_FACTORS:
        if whole >= lowest:
            return factor
    raise FormulaError(f"temperature = {temperature} °C: the table ends at -40 °C; give the coefficient")


@formula(expression="modules × module_voltage × factor", unit="V", source="NEC 690.7(A)(2)")
def cold_voltage_by_factor(module_voltage: float, modules: float, factor: float) -> float:
    """Open-circuit voltage of a string in the cold by the table's factor.

    Parameters
    ----------
    module_voltage
        Open-circuit voltage of one module at standard test conditions. [V]
    modules
        Modules in series. [1]
    factor
        Factor of the table for the lowest temperature. [1]

    Returns
    -------
    float
        Cold open-circuit voltage of the string. [V]

    Raises
    ------
    FormulaError
        If the voltage is negative or ``modules`` or ``factor`` is below one.

    Examples
    --------
    >>> cold_voltage_by_factor(38.9, 2, 1.18)
    91.8

    References
    ----------
    .. [1] NEC 2023, 690.7(A)(2).
    """
    require_not_negative(module_voltage=module_voltage)
    require_one_or_more(modules=modules, factor=factor)
    return modules * module_voltage * factor


@formula(expression="floor(limit ÷ module_voltage)", unit="1", source="NEC 690.7(A)")
def most_in_series(limit: float, module_voltage: float) -> float:
    """Greatest count of modules in series below a voltage limit.

    Parameters
    ----------
    limit
        Least of the limits of controller, wiring, modules and code. [V]
    module_voltage
        Open-circuit voltage of one module at the coldest. [V]

    Returns
    -------
    float
        Count of modules; exactly on the limit counts as inside. [1]

    Raises
    ------
    FormulaError
        If either is not above zero.

    Examples
    --------
    >>> most_in_series(150.0, 43.24)
    3.0

    References
    ----------
    .. [1] NEC 2023, 690.7(A).
    """
    require_positive(limit=limit, module_voltage=module_voltage)
    return float(math.floor(limit / module_voltage + 1e-9))


@formula(expression="ceil((charge_voltage + headroom) ÷ module_voltage)", unit="1", source="common practice")
def least_in_series(charge_voltage: float, headroom: float, module_voltage: float) -> float:
    """Least count of modules in series that still charges the bank when the cells are hot.

    Parameters
    ----------
    charge_voltage
        Highest charging voltage of the bank. [V]
    headroom
        Voltage that the controller needs above its battery to work. [V]
    module_voltage
        Maximum-power voltage of one module at the hottest. [V]

    Returns
    -------
    float
        Count of modules. [1]

    Raises
    ------
    FormulaError
        If a voltage is not above zero or the headroom negative.

    Examples
    --------
    >>> least_in_series(58.8, 5.0, 35.6)
    2.0

    References
    ----------
    .. [1] Common practice; headroom from the controller's own sheet.
    """
    require_positive(charge_voltage=charge_voltage, module_voltage=module_voltage)
    require_not_negative(headroom=headroom)
    return float(math.ceil((charge_voltage + headroom) / module_voltage - 1e-9))


@formula(expression="factor × strings × current", unit="A", source="NEC 690.8(A)(1)")
def greatest_array_current(current: float, strings: float, factor: float) -> float:
    """Greatest current of parallel strings for conductors, devices and the controller's input.

    Parameters
    ----------
    current
        Short-circuit current of one string at standard test conditions. [A]
    strings
        Strings in parallel. [1]
    factor
        The rule set's factor for bright days; 1.25, or 1.56 with continuous duty. [1]

    Returns
    -------
    float
        Greatest current. [A]

    Raises
    ------
    FormulaError
        If the current is negative or ``strings`` or ``factor`` is below one.

    Examples
    --------
    >>> greatest_array_current(11.2, 1, 1.25)
    14.0

    References
    ----------
    .. [1] NEC 2023, 690.8(A)(1) and 690.8(B).
    """
    require_not_negative(current=current)
    require_one_or_more(strings=strings, factor=factor)
    return factor * strings * current


@formula(expression="factor × (strings − 1) × current", unit="A", source="IEC 62548:2016, 6.3; NEC 690.9(A)")
def reverse_current(current: float, strings: float, factor: float) -> float:
    """Reverse current that the other strings can drive into a faulted one.

    Parameters
    ----------
    current
        Short-circuit current of one string at standard test conditions. [A]
    strings
        Strings in parallel. [1]
    factor
        The rule set's factor: 1 (IEC) or 1.25 (NEC). [1]

    Returns
    -------
    float
        Reverse current; above the module's series fuse, each string needs its own fuse. [A]

    Raises
    ------
    FormulaError
        If the current is negative or ``strings`` or ``factor`` is below one.

    Examples
    --------
    >>> reverse_current(10.2, 2, 1.0)
    10.2

    References
    ----------
    .. [1] IEC 62548:2016, 6.3; NEC 2023, 690.9(A).
    """
    require_not_negative(current=current)
    require_one_or_more(strings=strings, factor=factor)
    return factor * (strings - 1.0) * current


@formula(expression="power × efficiency ÷ bank_voltage", unit="A", source="IEC 62509:2010; power balance")
def controller_output_current(power: float, efficiency: float, bank_voltage: float) -> float:
    """Output current of a tracking controller that nothing limits.

    Parameters
    ----------
    power
        Power of the array. [W]
    efficiency
        Efficiency of the controller. [1]
    bank_voltage
        Voltage of the bank; the lowest working one gives the greatest current. [V]

    Returns
    -------
    float
        Output current. [A]

    Raises
    ------
    FormulaError
        If the power is negative, the voltage not above zero or the efficiency not in 0 to 1.

    Examples
    --------
    >>> controller_output_current(2400.0, 0.97, 25.6)
    90.94

    References
    ----------
    .. [1] Power balance over the controller.
    """
    require_not_negative(power=power)
    require_efficiency(efficiency=efficiency)
    require_positive(bank_voltage=bank_voltage)
    return power * efficiency / bank_voltage


@formula(
    expression="greatest of 0 and power − rating × bank_voltage ÷ efficiency",
    unit="W",
    source="power balance over the controller",
)
def clipped_power(power: float, rating: float, *, efficiency: float, bank_voltage: float) -> float:
    """Array power that a controller leaves unused because its output is at its limit.

    Parameters
    ----------
    power
        Power of the array. [W]
    rating
        Output current of the controller, or the limit set in it. [A]
    efficiency
        Efficiency of the controller. [1]
    bank_voltage
        Voltage of the bank. [V]

    Returns
    -------
    float
        Power that is not taken. [W]

    Raises
    ------
    FormulaError
        If power or rating is negative, the voltage not above zero or the efficiency not in 0 to 1.

    Examples
    --------
    >>> clipped_power(2400.0, 80.0, efficiency=0.97, bank_voltage=25.6)
    288.7

    References
    ----------
    .. [1] Power balance over the controller.
    """
    require_not_negative(power=power, rating=rating)
    require_efficiency(efficiency=efficiency)
    require_positive(bank_voltage=bank_voltage)
    return max(0.0, power - rating * bank_voltage / efficiency)


@formula(
    expression="rating × bank_voltage ÷ efficiency", unit="W", source="power balance over the controller"
)
def array_power_at_full_output(rating: float, bank_voltage: float, efficiency: float) -> float:
    """Array power that brings a controller to its full output.

    Parameters
    ----------
    rating
        Output current of the controller. [A]
    bank_voltage
        Voltage of the bank. [V]
    efficiency
        Efficiency of the controller. [1]

    Returns
    -------
    float
        Power of the array at that moment. [W]

    Raises
    ------
    FormulaError
        If the rating is negative, the voltage not above zero or the efficiency not in 0 to 1.

    Examples
    --------
    >>> array_power_at_full_output(80.0, 56.0, 0.97)
    4618.6

    References
    ----------
    .. [1] Power balance over the controller.
    """
    require_not_negative(rating=rating)
    require_positive(bank_voltage=bank_voltage)
    require_efficiency(efficiency=efficiency)
    return rating * bank_voltage / efficiency


@formula(
    expression="of values the one furthest from their mean, ÷ mean − 1",
    unit="1",
    source="IEC 62446-1:2016, 6.4 and 6.5, comparison of like strings",
)
def worst_deviation(values: Sequence[float]) -> float:
    """Deviation from the mean of that one of like strings which differs most.

    Parameters
    ----------
    values
        Readings of like strings in the same steady light. [1]

    Returns
    -------
    float
        Signed share of the mean; −0.05 is 5 % low. [1]

    Raises
    ------
    FormulaError
        If there are fewer than two readings or their mean is not above zero.

    Examples
    --------
    >>> worst_deviation([412.0, 409.0, 388.0])
    -0.0372

    References
    ----------
    .. [1] IEC 62446-1:2016, 6.4 and 6.5 (identical strings within 5 % in steady light).
    """
    if len(values) < 2:
        raise FormulaError("values: at least two strings are compared")
    mean = math.fsum(values) / len(values)
    require_positive(mean=mean)
    return max((value / mean - 1.0 for value in values), key=abs)
