"""Voltages, currents and power of PV strings at the temperature and light of the day."""

from __future__ import annotations

import math
from typing import Final

from commission.errors import FormulaError
from commission.figure import formula
from commission.formulas.ranges import (
    require_finite,
    require_not_negative,
    require_one_or_more,
    require_positive,
)

REFERENCE_TEMPERATURE: Final = 25.0
"""Cell temperature of the standard test conditions in °C (IEC 60904-3)."""

REFERENCE_IRRADIANCE: Final = 1000.0
"""Irradiance of the standard test conditions in W/m² (IEC 60904-3)."""

KELVIN: Final = 273.15
"""Zero of the Celsius scale in K."""

THERMAL_SLOPE_SHARE: Final = 0.040
"""Thermal slope of a crystalline module as a share of its open-circuit voltage; own choice. The
median of the crystalline modules of a public database is 0.042; at 400 W/m² the two differ by 0.2 % of it."""


def _factor(coefficient: float, temperature: float) -> float:
    """Return 1 + coefficient × distance from the reference temperature; refuse what no module does."""
    require_finite(coefficient=coefficient, temperature=temperature)
    if not -5.0 <= coefficient <= 5.0:
        raise FormulaError(f"coefficient = {coefficient}: lies between -5 and 5 %/K, such as -0.28")
    factor = 1.0 + coefficient / 100.0 * (temperature - REFERENCE_TEMPERATURE)
    if factor <= 0.0:
        raise FormulaError(
            f"coefficient = {coefficient}, temperature = {temperature}: together they leave nothing"
        )
    return factor


@formula(expression="100 × slope ÷ reference", unit="%/K", source="IEC 61215-2:2016, MQT 04, change of units")
def relative_coefficient(slope: float, reference: float) -> float:
    """Temperature coefficient in per cent per kelvin from one in volts or amperes per kelvin.

    Parameters
    ----------
    slope
        Change with cell temperature. [V/K]
    reference
        Value of the same quantity at standard test conditions. [V]

    Returns
    -------
    float
        Relative coefficient. [%/K]

    Raises
    ------
    FormulaError
        If ``reference`` is not above zero.

    Notes
    -----
    Holds alike for currents, with amperes in place of volts.

    Examples
    --------
    −130 mV/K on 37.0 V:

    >>> relative_coefficient(-0.130, 37.0)
    -0.35135

    References
    ----------
    .. [1] IEC 61215-2:2016, MQT 04 (measurement of temperature coefficients).
    """
    require_finite(slope=slope)
    require_positive(reference=reference)
    return 100.0 * slope / reference


@formula(
    expression="modules × module_voltage × (1 + coefficient ÷ 100 × (temperature − 25))",
    unit="V",
    source="NEC 690.7(A)(1)",
)
def open_circuit_voltage_at(
    module_voltage: float, modules: float, *, coefficient: float, temperature: float
) -> float:
    """Open-circuit voltage of a string at a cell temperature, in full light.

    Parameters
    ----------
    module_voltage
        Open-circuit voltage of one module at standard test conditions. [V]
    modules
        Modules in series. [1]
    coefficient
        Temperature coefficient of the open-circuit voltage; negative. [%/K]
    temperature
        Cell temperature; for the cold limit the lowest air temperature at dawn. [°C]

    Returns
    -------
    float
        Open-circuit voltage of the string. [V]

    Raises
    ------
    FormulaError
        If an input is outside its range.

    Notes
    -----
    The straight line; in the cold a single-diode model lies 1 % higher for the median crystalline module and
    3.5 % higher for one in a hundred.

    Examples
    --------
    >>> open_circuit_voltage_at(49.0, 1, coefficient=-0.24, temperature=-7.2)
    52.79

    References
    ----------
    .. [1] NEC 2023, 690.7(A)(1), sum of the modules' voltages corrected by the maker's coefficients.
    """
    require_not_negative(module_voltage=module_voltage)
    require_one_or_more(modules=modules)
    return modules * module_voltage * _factor(coefficient, temperature)


@formula(
    expression="modules × module_voltage × (1 + coefficient ÷ 100 × (temperature − 25))",
    unit="V",
    source="common practice: power coefficient as stand-in for that of the maximum-power voltage",
)
def hot_maximum_power_voltage(
    module_voltage: float, modules: float, *, coefficient: float, temperature: float
) -> float:
    """Voltage of a string at maximum power when its cells are hot.

    Parameters
    ----------
    module_voltage
        Voltage of one module at maximum power at standard test conditions. [V]
    modules
        Modules in series. [1]
    coefficient
        Temperature coefficient of the maximum power; negative. [%/K]
    temperature
        Cell temperature. [°C]

    Returns
    -------
    float
        Maximum-power voltage of the string. [V]

    Raises
    ------
    FormulaError
        If an input is outside its range.

    Notes
    -----
    The coefficient of the open-circuit voltage would flatter the result by 1.5 to 4.6 %.

    Examples
    --------
    >>> hot_maximum_power_voltage(30.3, 3, coefficient=-0.507476, temperature=70.0)
    70.14

    References
    ----------
    .. [1] Common practice; within 1.5 % of a single-diode model on seven modules of a public database.
    """
    require_not_negative(module_voltage=module_voltage)
    require_one_or_more(modules=modules)
    return modules * module_voltage * _factor(coefficient, temperature)


@formula(
    expression="0.040 × open_circuit_voltage",
    unit="V",
    source="common practice; a share near the middle of crystalline modules",
)
def thermal_slope_default(open_circuit_voltage: float) -> float:
    """Thermal slope (a_ref) of a module whose datasheet gives none.

    Parameters
    ----------
    open_circuit_voltage
        Open-circuit voltage of one module at standard test conditions. [V]

    Returns
    -------
    float
        Diode factor times cells in series times thermal voltage at 25 °C. [V]

    Raises
    ------
    FormulaError
        If ``open_circuit_voltage`` is negative.

    Examples
    --------
    >>> thermal_slope_default(45.0)
    1.8

    References
    ----------
    .. [1] De Soto, W., Klein, S. A. and Beckman, W. A., "Improvement and validation of a model for
       photovoltaic array performance", Solar Energy 80(1), 2006, 78-88 (definition of a).
    """
    require_not_negative(open_circuit_voltage=open_circuit_voltage)
    return THERMAL_SLOPE_SHARE * open_circuit_voltage


@formula(
    expression="modules × (module_voltage × (1 + coefficient ÷ 100 × (temperature − 25))"
    " + thermal_slope × (temperature + 273.15) ÷ 298.15 × ln(irradiance ÷ 1000))",
    unit="V",
    source="De Soto, Klein and Beckman 2006, at open circuit; IEC 62446-1:2016, 6.4",
)
def expected_open_circuit_voltage(
    modules: float,
    module_voltage: float,
    *,
    coefficient: float,
    temperature: float,
    irradiance: float,
    thermal_slope: float,
) -> float:
    """Open-circuit voltage that a sound string shows under the light and warmth of the moment.

    Parameters
    ----------
    modules
        Modules in series. [1]
    module_voltage
        Open-circuit voltage of one module at standard test conditions. [V]
    coefficient
        Temperature coefficient of the open-circuit voltage; negative. [%/K]
    temperature
        Cell temperature. [°C]
    irradiance
        Irradiance in the plane of the array. [W/m²]
    thermal_slope
        a_ref of one module. [V]

    Returns
    -------
    float
        Expected open-circuit voltage of the string. [V]

    Raises
    ------
    FormulaError
        If an input is outside its range; without light there is no voltage to expect.

    Notes
    -----
    Without the logarithm a good string looks 4 % low at 400 W/m².

    Examples
    --------
    >>> expected_open_circuit_voltage(
    ...     1, 45.53, coefficient=-0.31, temperature=25.0, irradiance=200.0, thermal_slope=1.821
    ... )
    42.60

    References
    ----------
    .. [1] De Soto, W., Klein, S. A. and Beckman, W. A., "Improvement and validation of a model for
       photovoltaic array performance", Solar Energy 80(1), 2006, 78-88, doi:10.1016/j.solener.2005.06.010.
    .. [2] IEC 62446-1:2016, 6.4 (open-circuit voltage within 5 % of what is expected).
    """
    require_not_negative(module_voltage=module_voltage, thermal_slope=thermal_slope)
    require_one_or_more(modules=modules)
    require_positive(irradiance=irradiance)
    warm = module_voltage * _factor(coefficient, temperature)
    light = math.log(irradiance / REFERENCE_IRRADIANCE)
    kelvins = (temperature + KELVIN) / (REFERENCE_TEMPERATURE + KELVIN)
    return modules * (warm + thermal_slope * kelvins * light)


def _current(
    current: float, *, coefficient: float, temperature: float, irradiance: float, strings: float
) -> float:
    require_not_negative(current=current, irradiance=irradiance)
    require_one_or_more(strings=strings)
    return strings * current * irradiance / REFERENCE_IRRADIANCE * _factor(coefficient, temperature)


@formula(
    expression="strings × current × irradiance ÷ 1000 × (1 + coefficient ÷ 100 × (temperature − 25))",
    unit="A",
    source="IEC 60891:2021, procedure 1; IEC 62446-1:2016, 6.5",
)
def expected_short_circuit_current(
    current: float, coefficient: float, *, temperature: float, irradiance: float, strings: float
) -> float:
    """Short-circuit current that sound strings show under the light and warmth of the moment.

    Parameters
    ----------
    current
        Short-circuit current of one module at standard test conditions. [A]
    coefficient
        Temperature coefficient of the short-circuit current. [%/K]
    temperature
        Cell temperature. [°C]
    irradiance
        Irradiance in the plane of the array. [W/m²]
    strings
        Strings in parallel. [1]

    Returns
    -------
    float
        Expected short-circuit current. [A]

    Raises
    ------
    FormulaError
        If an input is outside its range.

    Examples
    --------
    >>> expected_short_circuit_current(9.06, 0.05, temperature=45.0, irradiance=700.0, strings=1)
    6.405

    References
    ----------
    .. [1] IEC 60891:2021, procedure 1, current axis.
    .. [2] IEC 62446-1:2016, 6.5 (short-circuit or operating current).
    """
    return _current(
        current, coefficient=coefficient, temperature=temperature, irradiance=irradiance, strings=strings
    )


@formula(
    expression="strings × current × irradiance ÷ 1000 × (1 + coefficient ÷ 100 × (temperature − 25))",
    unit="A",
    source="IEC 60891:2021, procedure 1; IEC 62446-1:2016, 6.5",
)
def expected_maximum_power_current(
    current: float, coefficient: float, *, temperature: float, irradiance: float, strings: float
) -> float:
    """Maximum-power current of sound strings under the light and warmth of the moment.

    Parameters
    ----------
    current
        Current of one module at maximum power at standard test conditions. [A]
    coefficient
        Temperature coefficient; that of the short-circuit current stands in for it. [%/K]
    temperature
        Cell temperature. [°C]
    irradiance
        Irradiance in the plane of the array. [W/m²]
    strings
        Strings in parallel. [1]

    Returns
    -------
    float
        Expected current. [A]

    Raises
    ------
    FormulaError
        If an input is outside its range.

    Notes
    -----
    Holds only while the controller tracks the maximum power.

    Examples
    --------
    Three strings of 10.0 A at 600 W/m² and 25 °C:

    >>> expected_maximum_power_current(10.0, 0.05, temperature=25.0, irradiance=600.0, strings=3)
    18.0

    References
    ----------
    .. [1] IEC 60891:2021, procedure 1, current axis.
    """
    return _current(
        current, coefficient=coefficient, temperature=temperature, irradiance=irradiance, strings=strings
    )


@formula(
    expression="power × irradiance ÷ 1000 × (1 + coefficient ÷ 100 × (temperature − 25))",
    unit="W",
    source="IEC 61724-1:2021, power at the temperature of the moment",
)
def array_power_at(power: float, coefficient: float, *, temperature: float, irradiance: float) -> float:
    """Power of an array at its maximum under the light and warmth of the moment.

    Parameters
    ----------
    power
        Power of the array at standard test conditions. [W]
    coefficient
        Temperature coefficient of the maximum power; negative. [%/K]
    temperature
        Cell temperature. [°C]
    irradiance
        Irradiance in the plane of the array. [W/m²]

    Returns
    -------
    float
        Power. [W]

    Raises
    ------
    FormulaError
        If an input is outside its range.

    Examples
    --------
    A 300 W module that loses 2 W per kelvin, at 40 °C in full light:

    >>> array_power_at(300.0, -0.66667, temperature=40.0, irradiance=1000.0)
    270.0

    References
    ----------
    .. [1] IEC 61724-1:2021, temperature-corrected performance ratio.
    """
    require_not_negative(power=power, irradiance=irradiance)
    return power * irradiance / REFERENCE_IRRADIANCE * _factor(coefficient, temperature)
