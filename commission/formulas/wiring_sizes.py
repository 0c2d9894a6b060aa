"""What conductors, their protective conductors and their protection must be, beside the plain tables."""

from __future__ import annotations

import math

from commission.errors import FormulaError
from commission.figure import formula
from commission.formulas.ranges import require_not_negative, require_positive, require_share


@formula(
    expression="power ÷ power_factor", unit="VA", source="definition of the power factor (IEC 60050-131)"
)
def apparent_power(power: float, power_factor: float) -> float:
    """Apparent power of a load.

    Parameters
    ----------
    power
        Active power. [W]
    power_factor
        Its power factor. [1]

    Returns
    -------
    float
        Apparent power, which makes the current. [VA]

    Raises
    ------
    FormulaError
        If the power is negative, or the power factor not above 0 and at most 1.

    Examples
    --------
    >>> apparent_power(900.0, 0.9)
    1000.0

    References
    ----------
    .. [1] IEC 60050-131, 131-11-46.
    """
    require_not_negative(power=power)
    require_share(power_factor=power_factor)
    require_positive(power_factor=power_factor)
    return power / power_factor


@formula(expression="module_voltage × modules", unit="V", source="Kirchhoff's voltage law")
def series_voltage(module_voltage: float, modules: float) -> float:
    """Voltage of PV modules in series at the operating point of one of them.

    Parameters
    ----------
    module_voltage
        Voltage of one module. [V]
    modules
        Modules in series. [1]

    Returns
    -------
    float
        Voltage of the string. [V]

    Raises
    ------
    FormulaError
        If the voltage is negative or there is no module.

    Examples
    --------
    >>> series_voltage(31.2, 4.0)
    124.8

    References
    ----------
    .. [1] Kirchhoff's voltage law.
    """
    require_not_negative(module_voltage=module_voltage)
    require_positive(modules=modules)
    return module_voltage * modules


@formula(
    expression="rating × (1 − loss × greatest of 0 and (ambient − reference))",
    unit="A",
    source="common practice: thermal releases lose a share of their rating per kelvin",
)
def derated_device(rating: float, loss: float, ambient: float, reference: float) -> float:
    """Greatest current that a breaker carries for long in warm air.

    Parameters
    ----------
    rating
        Its rating. [A]
    loss
        Share of it that is lost per kelvin over the reference. [1]
    ambient
        Temperature of the air around it. [°C]
    reference
        Temperature at which it carries its rating. [°C]

    Returns
    -------
    float
        What it carries for long without opening; never over its rating. [A]

    Raises
    ------
    FormulaError
        If the rating is not above zero, the loss negative, or nothing is left of the rating.

    Examples
    --------
    A 63 A breaker calibrated at 30 °C in a room of 50 °C:

    >>> derated_device(63.0, 0.005, 50.0, 30.0)
    56.7

    References
    ----------
    .. [1] Common practice; the maker's derating curve prevails.
    """
    require_positive(rating=rating)
    require_not_negative(loss=loss)
    left = 1.0 - loss * max(0.0, ambient - reference)
    if left <= 0.0:
        raise FormulaError(f"ambient = {ambient:g} °C: nothing is left of the rating")
    return rating * left


@formula(expression="share × area", unit="mm²", source="IEC 60364-5-54 table 54.2")
def share_of_area(share: float, area: float) -> float:
    """Least protective conductor as a share of the line conductor.

    Parameters
    ----------
    share
        Share of the line conductor. [1]
    area
        Cross-section of the line conductor. [mm²]

    Returns
    -------
    float
        Cross-section before the next standard size. [mm²]

    Raises
    ------
    FormulaError
        If the share lies not between 0 and 1 or the area is not above zero.

    Examples
    --------
    >>> share_of_area(0.5, 70.0)
    35.0

    References
    ----------
    .. [1] IEC 60364-5-54, table 54.2 (from memory).
    """
    require_share(share=share)
    require_positive(area=area)
    return share * area


@formula(expression="area × line ÷ least_line", unit="mm²", source="NEC 250.122(B)")
def grown_area(area: float, line: float, least_line: float) -> float:
    """Protective conductor that grows with a line conductor thicker than its current asks.

    Parameters
    ----------
    area
        Protective conductor of the table. [mm²]
    line
        Line conductor that is laid. [mm²]
    least_line
        Least line conductor that would carry the current and be protected. [mm²]

    Returns
    -------
    float
        Protective conductor in the same proportion; never under the table's. [mm²]

    Raises
    ------
    FormulaError
        If an area is not above zero.

    Examples
    --------
    A 40 A circuit in 6 AWG (13.30 mm²) where 8 AWG (8.37 mm²) would do; the table says 10 AWG:

    >>> grown_area(5.26, 13.30, 8.37)
    8.358

    References
    ----------
    .. [1] NEC 2023, 250.122(B).
    """
    require_positive(area=area, line=line, least_line=least_line)
    return area * max(1.0, line / least_line)


@formula(
    expression="current × (resistance × power_factor + reactance × √(1 − power_factor²))",
    unit="V",
    source="IEC 60364-5-52, annex G",
)
def impedance_drop(current: float, resistance: float, reactance: float, power_factor: float) -> float:
    """Voltage drop of an AC run from its resistance and reactance.

    Parameters
    ----------
    current
        Current in the line conductor. [A]
    resistance
        Resistance that it flows through, out and back for a circuit of two conductors. [Ω]
    reactance
        Reactance likewise. [Ω]
    power_factor
        Power factor of the load. [1]

    Returns
    -------
    float
        Fall of the voltage between the ends. [V]

    Raises
    ------
    FormulaError
        If a value is negative or the power factor is no share.

    Examples
    --------
    40 A over 80 m of conductor of 2.25 and 0.08 mΩ/m at a power factor of 0.8:

    >>> impedance_drop(40.0, 0.18, 0.0064, 0.8)
    5.9136

    References
    ----------
    .. [1] IEC 60364-5-52:2009, annex G (from memory).
    """
    require_not_negative(current=current, resistance=resistance, reactance=reactance)
    require_share(power_factor=power_factor)
    return current * (resistance * power_factor + reactance * math.sqrt(1.0 - power_factor**2))


@formula(expression="√3 × phase_voltage", unit="V", source="geometry of a symmetrical three-phase system")
def line_voltage(phase_voltage: float) -> float:
    """Voltage between two phases of a three-phase system.

    Parameters
    ----------
    phase_voltage
        Voltage between a phase and neutral. [V]

    Returns
    -------
    float
        Voltage between phases. [V]

    Raises
    ------
    FormulaError
        If the voltage is negative.

    Examples
    --------
    >>> line_voltage(230.0)
    398.37

    References
    ----------
    .. [1] IEC 60038: 230/400 V.
    """
    require_not_negative(phase_voltage=phase_voltage)
    return math.sqrt(3.0) * phase_voltage
