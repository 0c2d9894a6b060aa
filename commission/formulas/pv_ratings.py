"""What PV arrays ask of the devices and modules beside them: two-sided modules, string fuses, margins."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from commission.errors import FormulaError
from commission.figure import formula
from commission.formulas.pv_strings import KELVIN, REFERENCE_TEMPERATURE
from commission.formulas.ranges import (
    require_finite,
    require_not_negative,
    require_one_or_more,
    require_positive,
    require_share,
)

SILICON_GAP: Final = 1.121
"""Band gap of crystalline silicon at 25 °C in eV (De Soto and others 2006)."""

SILICON_GAP_SLOPE: Final = -0.0002677
"""Change of that band gap with temperature, as a share of it in 1/K (De Soto and others 2006)."""

BOLTZMANN: Final = 8.617333262e-5
"""Boltzmann constant in eV/K (SI, exact to these digits)."""


@formula(
    expression="current × (1 + rear_gain)",
    unit="A",
    source="IEC 62548-1:2023, two-sided modules; from memory",
)
def two_sided_current(current: float, rear_gain: float) -> float:
    """Short-circuit current of a module that also takes light from behind.

    Parameters
    ----------
    current
        Short-circuit current of the front at standard test conditions. [A]
    rear_gain
        What the rear adds, as a share of that current. [1]

    Returns
    -------
    float
        Short-circuit current for ratings. [A]

    Raises
    ------
    FormulaError
        If either is negative.

    Examples
    --------
    >>> two_sided_current(13.9, 0.1)
    15.29

    References
    ----------
    .. [1] IEC 62548-1:2023 (rated by bifaciality and rear irradiance); from memory.
    """
    require_not_negative(current=current, rear_gain=rear_gain)
    return current * (1.0 + rear_gain)


@formula(
    expression="modules × T ÷ T0 × (module_voltage − thermal_slope × (3 × ln(T ÷ T0) + gap(T0) ÷ (k × T0) "
    "− gap(T) ÷ (k × T))), T = temperature + 273.15",
    unit="V",
    source="De Soto, Klein and Beckman 2006, diode current with temperature",
)
def open_circuit_voltage_by_diode(
    module_voltage: float, modules: float, *, thermal_slope: float, temperature: float
) -> float:
    """Open-circuit voltage of a string of crystalline silicon by the one-diode model, in full light.

    Parameters
    ----------
    module_voltage
        Open-circuit voltage of one module at standard test conditions. [V]
    modules
        Modules in series. [1]
    thermal_slope
        Thermal slope a_ref of one module at 25 °C. [V]
    temperature
        Cell temperature. [°C]

    Returns
    -------
    float
        Open-circuit voltage of the string. [V]

    Raises
    ------
    FormulaError
        If an input is outside its range, or the temperature at or under absolute zero.

    Notes
    -----
    It mostly lies over the straight line of the coefficient on the data sheet: at −20 °C by 1.1 % for the
    median module of a public database, by 3.5 % for one in a hundred. Change of light current and shunt
    resistance are left out; for 99 of 100 modules the full model differs by less than 0.25 %.

    Examples
    --------
    >>> open_circuit_voltage_by_diode(36.9, 10, thermal_slope=1.5, temperature=25.0)
    369.0

    References
    ----------
    .. [1] De Soto, W., Klein, S. A. and Beckman, W. A., "Improvement and validation of a model for
       photovoltaic array performance", Solar Energy 80(1), 2006, 78-88, doi:10.1016/j.solener.2005.06.010.
    """
    require_not_negative(module_voltage=module_voltage)
    require_one_or_more(modules=modules)
    require_positive(thermal_slope=thermal_slope)
    require_finite(temperature=temperature)
    kelvin, reference = temperature + KELVIN, REFERENCE_TEMPERATURE + KELVIN
    if kelvin <= 0.0:
        raise FormulaError(f"temperature = {temperature} °C: lies under absolute zero")
    gap = SILICON_GAP * (1.0 + SILICON_GAP_SLOPE * (kelvin - reference))
    exponent = SILICON_GAP / (BOLTZMANN * reference) - gap / (BOLTZMANN * kelvin)
    shift = thermal_slope * (3.0 * math.log(kelvin / reference) + exponent)
    return modules * kelvin / reference * (module_voltage - shift)


@formula(expression="voltage × (1 − allowance)", unit="V", source="common practice: allowance for age")
def aged_voltage(voltage: float, allowance: float) -> float:
    """Maximum-power voltage of a string when its modules have aged.

    Parameters
    ----------
    voltage
        Voltage of the new string. [V]
    allowance
        What age takes, as a share. [1]

    Returns
    -------
    float
        Voltage of the aged string. [V]

    Raises
    ------
    FormulaError
        If the voltage is negative or the allowance outside 0 to 1.

    Examples
    --------
    >>> aged_voltage(100.0, 0.05)
    95.0

    References
    ----------
    .. [1] Common practice; no published source.
    """
    require_not_negative(voltage=voltage)
    require_share(allowance=allowance)
    return voltage * (1.0 - allowance)


@formula(
    expression="charge_voltage + headroom + drop", unit="V", source="Kirchhoff's voltage law; common practice"
)
def needed_string_voltage(charge_voltage: float, headroom: float, drop: float) -> float:
    """Voltage that a string must hold at maximum power for a controller that lowers it or passes it on.

    Parameters
    ----------
    charge_voltage
        Charging voltage of the bank. [V]
    headroom
        What the controller needs over its battery. [V]
    drop
        What the conductors between array and controller take. [V]

    Returns
    -------
    float
        Least voltage of the string. [V]

    Raises
    ------
    FormulaError
        If the charging voltage is not above zero, or the headroom or drop negative.

    Examples
    --------
    >>> needed_string_voltage(58.8, 5.0, 1.2)
    65.0

    References
    ----------
    .. [1] Kirchhoff's voltage law; the headroom from the controller's own sheet.
    """
    require_positive(charge_voltage=charge_voltage)
    require_not_negative(headroom=headroom, drop=drop)
    return charge_voltage + headroom + drop


@formula(expression="bank_voltage + over", unit="V", source="the controller's own sheet")
def limit_over_bank(bank_voltage: float, over: float) -> float:
    """Greatest PV voltage of a controller whose limit goes with the bank's voltage.

    Parameters
    ----------
    bank_voltage
        Voltage of the bank; the lowest gives the lowest limit. [V]
    over
        What the PV voltage may have over it. [V]

    Returns
    -------
    float
        Limit. [V]

    Raises
    ------
    FormulaError
        If either is negative.

    Examples
    --------
    >>> limit_over_bank(44.0, 136.0)
    180.0

    References
    ----------
    .. [1] Data sheets of controllers that state such a rule.
    """
    require_not_negative(bank_voltage=bank_voltage, over=over)
    return bank_voltage + over


@formula(
    expression="1 − bank_voltage ÷ maximum_power_voltage, at least 0",
    unit="1",
    source="power balance: the array works at the bank's voltage",
)
def share_lost_switched(maximum_power_voltage: float, bank_voltage: float) -> float:
    """Share of an array's power that a controller loses which only switches.

    Parameters
    ----------
    maximum_power_voltage
        Maximum-power voltage of a string at the temperature of its cells. [V]
    bank_voltage
        Voltage of the bank, at which the string then works. [V]

    Returns
    -------
    float
        Share of the power that is lost. [1]

    Raises
    ------
    FormulaError
        If a voltage is not above zero.

    Notes
    -----
    Taken with the current of maximum power; below that voltage a module gives up to 6 % more.

    Examples
    --------
    >>> share_lost_switched(32.0, 14.4)
    0.55

    References
    ----------
    .. [1] IEC 62509:2010, controllers without tracking; power balance.
    """
    require_positive(maximum_power_voltage=maximum_power_voltage, bank_voltage=bank_voltage)
    return max(0.0, 1.0 - bank_voltage / maximum_power_voltage)


@formula(
    expression="(greatest of voltages − least of voltages) ÷ greatest of voltages",
    unit="1",
    source="common practice: like strings on one input",
)
def voltage_mismatch(voltages: Sequence[float]) -> float:
    """How far the voltages of strings on one input lie apart.

    Parameters
    ----------
    voltages
        Maximum-power voltage of each string. [V]

    Returns
    -------
    float
        Difference as a share of the greatest. [1]

    Raises
    ------
    FormulaError
        If there is none, or the greatest is not above zero.

    Examples
    --------
    >>> voltage_mismatch([124.8, 124.8, 93.6])
    0.25

    References
    ----------
    .. [1] Common practice; NEC 690.4, IEC 62548:2016 5.1 (strings in parallel alike).
    """
    for voltage in voltages:
        require_not_negative(voltages=voltage)
    most = max(voltages, default=0.0)
    require_positive(voltages=most)
    return (most - min(voltages)) / most


@formula(
    expression="factor × sum of currents + backfeed", unit="A", source="IEC 62548:2016, 6.3; NEC 690.9(A)"
)
def fault_feed(currents: Sequence[float], *, factor: float, backfeed: float) -> float:
    """Reverse current that everything beside a faulty string can drive into it.

    Parameters
    ----------
    currents
        Short-circuit current of each of the other strings. [A]
    factor
        The rule set's factor: 1 (IEC) or 1.25 (NEC). [1]
    backfeed
        What the controller can drive back. [A]

    Returns
    -------
    float
        Reverse current; above the module's series fuse, each string needs its own fuse. [A]

    Raises
    ------
    FormulaError
        If a current is negative or the factor below one.

    Examples
    --------
    >>> fault_feed([13.9, 13.9], factor=1.25, backfeed=0.0)
    34.75

    References
    ----------
    .. [1] IEC 62548:2016, 6.3; NEC 2023, 690.9(A).
    """
    for current in currents:
        require_not_negative(currents=current)
    require_not_negative(backfeed=backfeed)
    require_one_or_more(factor=factor)
    return factor * math.fsum(currents) + backfeed
