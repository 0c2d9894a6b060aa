"""Resistance of cables, runs and joints, the voltage they drop and how parallel paths share a current."""

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

COPPER_RESISTIVITY_20: Final = 1.0 / 58.0
"""Resistivity of annealed copper at 20 °C in Ω·mm²/m (IEC 60028:1925)."""

COPPER_COEFFICIENT_20: Final = 0.00393
"""Change of the resistance of annealed copper with temperature, about 20 °C, in 1/K (IEC 60028:1925)."""

ALUMINIUM_RESISTIVITY_20: Final = 0.028264
"""Resistivity of conductor aluminium at 20 °C in Ω·mm²/m (IEC 60889:1987; from memory)."""

ALUMINIUM_COEFFICIENT_20: Final = 0.00403
"""Change of the resistance of conductor aluminium about 20 °C in 1/K (IEC 60889:1987; from memory)."""

GOOD_RUN_LOW: Final = 0.9
"""Share of the bare cable's drop below which a measured drop is not believed; common practice."""

GOOD_RUN_HIGH: Final = 1.1
"""Share of the drop of hot cable and joints above which a run is not good; common practice."""


@formula(expression="resistivity_20 ÷ area", unit="Ω/m", source="IEC 60028:1925; NBS Handbook 100 (1966)")
def resistance_per_length(area: float, resistivity_20: float) -> float:
    """Resistance of one metre of conductor at 20 °C from its cross-section.

    Parameters
    ----------
    area
        Cross-section of the metal. [mm²]
    resistivity_20
        Resistivity at 20 °C; 1/58 for annealed copper. [Ω·mm²/m]

    Returns
    -------
    float
        Resistance of one metre. [Ω/m]

    Raises
    ------
    FormulaError
        If ``area`` or ``resistivity_20`` is not above zero.

    Notes
    -----
    Stranded and flexible conductors are a few per cent above this; the table of a standard holds where there
    is one.

    Examples
    --------
    Annealed copper of 1 mm² by its definition, 17.241 mΩ a metre:

    >>> resistance_per_length(1.0, COPPER_RESISTIVITY_20)
    0.017241

    References
    ----------
    .. [1] IEC 60028:1925, International standard of resistance for copper, clause 1.
    """
    require_positive(area=area, resistivity_20=resistivity_20)
    return resistivity_20 / area


@formula(
    expression="resistance_20 × (1 + coefficient × (temperature − 20))", unit="Ω", source="IEC 60028:1925"
)
def resistance_at_temperature(resistance_20: float, coefficient: float, temperature: float) -> float:
    """Resistance of a conductor at the temperature that it has.

    Parameters
    ----------
    resistance_20
        Resistance at 20 °C, of a run or of one metre. [Ω]
    coefficient
        Change with temperature about 20 °C; 0.00393 for annealed copper. [1/K]
    temperature
        Temperature of the metal. [°C]

    Returns
    -------
    float
        Resistance at ``temperature``, of what ``resistance_20`` was of. [Ω]

    Raises
    ------
    FormulaError
        If ``resistance_20`` is negative or the temperature lies outside −60 to 250 °C.

    Notes
    -----
    The straight line holds for metals used as conductors between winter air and the short-circuit limit of
    their insulation.

    Examples
    --------
    Flexible 70 mm² copper, 0.272 Ω/km at 20 °C, at 60 °C:

    >>> resistance_at_temperature(0.272, 0.00393, 60.0)
    0.3148

    References
    ----------
    .. [1] IEC 60028:1925, International standard of resistance for copper, clause 2.
    """
    require_not_negative(resistance_20=resistance_20)
    return resistance_20 * _hot_factor(coefficient, temperature)


@formula(expression="resistance ÷ (1 + coefficient × (temperature − 20))", unit="Ω", source="IEC 60028:1925")
def resistance_at_20(resistance: float, coefficient: float, temperature: float) -> float:
    """Resistance at 20 °C of a conductor that was measured or tabulated warm.

    Parameters
    ----------
    resistance
        Resistance at ``temperature``. [Ω]
    coefficient
        Change with temperature about 20 °C; 0.00393 for annealed copper. [1/K]
    temperature
        Temperature of the metal. [°C]

    Returns
    -------
    float
        Resistance at 20 °C. [Ω]

    Raises
    ------
    FormulaError
        If ``resistance`` is negative or the temperature lies outside −60 to 250 °C.

    Examples
    --------
    1/0 AWG stranded, 0.4003 Ω/km at 75 °C:

    >>> resistance_at_20(0.4003, 0.00393, 75.0)
    0.3292

    References
    ----------
    .. [1] IEC 60028:1925, International standard of resistance for copper, clause 2.
    .. [2] IEC 60228:2004, annex on temperature correction (rounded coefficient 0.004).
    """
    require_not_negative(resistance=resistance)
    return resistance / _hot_factor(coefficient, temperature)


def _hot_factor(coefficient: float, temperature: float) -> float:
    if not -60.0 <= temperature <= 250.0:
        raise FormulaError(f"temperature = {temperature:g} °C: a conductor's lies between -60 and 250 °C")
    if not 0.0 <= coefficient <= 0.01:
        raise FormulaError(f"coefficient = {coefficient:g} 1/K: a conductor's lies between 0 and 0.01 1/K")
    return 1.0 + coefficient * (temperature - 20.0)


@formula(expression="resistance_per_metre × length", unit="Ω", source="Ohm's law")
def run_resistance(resistance_per_metre: float, length: float) -> float:
    """Resistance of one conductor of a run, one way.

    Parameters
    ----------
    resistance_per_metre
        Resistance of one metre at the temperature that counts. [Ω/m]
    length
        Length of the conductor, one way. [m]

    Returns
    -------
    float
        Resistance of the conductor. [Ω]

    Raises
    ------
    FormulaError
        If either is negative.

    Examples
    --------
    Twenty metres of 4 mm² fixed wiring, class 2:

    >>> run_resistance(0.00461, 20.0)
    0.0922

    References
    ----------
    .. [1] IEC 60364-6:2016, annex A, estimation of conductor resistance.
    """
    require_not_negative(resistance_per_metre=resistance_per_metre, length=length)
    return resistance_per_metre * length


@formula(
    expression="2 × resistance_per_metre × length ÷ parallel",
    unit="Ω",
    source="Kirchhoff's and Ohm's laws; NEC chapter 9, table 8",
)
def loop_resistance(resistance_per_metre: float, length: float, *, parallel: float) -> float:
    """Resistance of a two-wire run, out and back.

    Parameters
    ----------
    resistance_per_metre
        Resistance of one metre of one conductor at the temperature that counts. [Ω/m]
    length
        Length of the run, one way. [m]
    parallel
        Conductors in parallel in each pole, of equal size and length. [1]

    Returns
    -------
    float
        Resistance of the loop, without joints. [Ω]

    Raises
    ------
    FormulaError
        If a resistance or length is negative or ``parallel`` is less than one.

    Examples
    --------
    Two 2/0 AWG in each pole, 0.0967 Ω per 1000 ft, over 12 ft, in milliohms:

    >>> loop_resistance(0.0967 / 304.8, 12 * 0.3048, parallel=2) * 1000
    1.1604

    References
    ----------
    .. [1] NEC, chapter 9, table 8 (resistance of 2/0 AWG at 75 °C).
    """
    require_not_negative(resistance_per_metre=resistance_per_metre, length=length)
    require_one_or_more(parallel=parallel)
    return 2.0 * resistance_per_metre * length / parallel


@formula(expression="count × each", unit="Ω", source="common practice")
def joints_resistance(count: float, each: float) -> float:
    """Resistance of the joints in a run.

    Parameters
    ----------
    count
        Joints in series: lugs on posts, studs, fuse ends. [1]
    each
        Resistance of one good joint; 50 µΩ unless the site says. [Ω]

    Returns
    -------
    float
        Resistance of all joints. [Ω]

    Raises
    ------
    FormulaError
        If either is negative.

    Examples
    --------
    Six joints of 50 µΩ, in milliohms:

    >>> joints_resistance(6, 50e-6) * 1000
    0.3

    References
    ----------
    .. [1] Common practice: 10 mV over a bolted joint at 200 A is a good joint.
    """
    require_not_negative(count=count, each=each)
    return count * each


@formula(expression="sum(resistances)", unit="Ω", source="Kirchhoff's law")
def series_resistance(resistances: Sequence[float]) -> float:
    """Resistance of parts in series.

    Parameters
    ----------
    resistances
        Resistance of each part. [Ω]

    Returns
    -------
    float
        Resistance of the whole path. [Ω]

    Raises
    ------
    FormulaError
        If any of them is negative.

    Examples
    --------
    Bank, cable and joints, in milliohms:

    >>> series_resistance([12.0, 2.1, 0.4])
    14.5

    References
    ----------
    .. [1] Kirchhoff's voltage law.
    """
    for resistance in resistances:
        require_not_negative(resistances=resistance)
    return math.fsum(resistances)


@formula(expression="current × resistance", unit="V", source="Ohm's law")
def voltage_drop(current: float, resistance: float) -> float:
    """Voltage that a current drops over a resistance.

    Parameters
    ----------
    current
        Current; the drop has its sign. [A]
    resistance
        Resistance of the path. [Ω]

    Returns
    -------
    float
        Voltage drop. [V]

    Raises
    ------
    FormulaError
        If ``resistance`` is negative.

    Examples
    --------
    Four amperes over 100 ft of 16 AWG, out and back, 4.99 Ω per 1000 ft:

    >>> voltage_drop(4.0, 2 * 100 * 4.99 / 1000)
    3.992

    References
    ----------
    .. [1] Ohm's law.
    """
    require_finite(current=current)
    require_not_negative(resistance=resistance)
    return current * resistance


@formula(expression="voltage − current × resistance", unit="V", source="Ohm's and Kirchhoff's laws")
def voltage_after_drop(voltage: float, current: float, resistance: float) -> float:
    """Voltage at the far end of a run.

    Parameters
    ----------
    voltage
        Voltage at the near end, such as the bank's posts. [V]
    current
        Current from the near to the far end. [A]
    resistance
        Resistance of the loop. [Ω]

    Returns
    -------
    float
        Voltage at the far end. [V]

    Raises
    ------
    FormulaError
        If ``resistance`` is negative.

    Examples
    --------
    A cut-off wanted at 22.0 V at the bank, seen by the inverter at 110 A through 1.9 mΩ:

    >>> voltage_after_drop(22.0, 110.0, 0.0019)
    21.791

    References
    ----------
    .. [1] Ohm's and Kirchhoff's laws.
    """
    require_finite(voltage=voltage, current=current)
    require_not_negative(resistance=resistance)
    return voltage - current * resistance


@formula(
    expression="(1 ÷ resistance) ÷ sum(1 ÷ each of resistances)", unit="1", source="Kirchhoff's current law"
)
def parallel_share(resistance: float, resistances: Sequence[float]) -> float:
    """Share of a current that one of several parallel paths carries.

    Parameters
    ----------
    resistance
        Resistance of the path in question. [Ω]
    resistances
        Resistance of every path, the one in question among them. [Ω]

    Returns
    -------
    float
        Share between 0 and 1. [1]

    Raises
    ------
    FormulaError
        If a resistance is not above zero or ``resistance`` is not one of ``resistances``.

    Notes
    -----
    Holds for paths between the same two points; strings must have equal voltages at rest.

    Examples
    --------
    Two paths of 8 and 12 mΩ:

    >>> parallel_share(0.008, [0.008, 0.012])
    0.6

    References
    ----------
    .. [1] Kirchhoff's current law.
    """
    require_positive(resistance=resistance)
    for each in resistances:
        require_positive(resistances=each)
    if not any(math.isclose(resistance, each) for each in resistances):
        raise FormulaError(f"resistance = {resistance:g} Ω: must be one of the paths' resistances")
    return (1.0 / resistance) / math.fsum(1.0 / each for each in resistances)


@formula(
    expression="ambient + rise_at_full × (current ÷ full_current)²",
    unit="°C",
    source="heat grows with the square of the current; IEC 60287-1-1",
)
def conductor_temperature(
    ambient: float, rise_at_full: float, *, current: float, full_current: float
) -> float:
    """Temperature of a conductor that carries part of its rated current for long.

    Parameters
    ----------
    ambient
        Temperature of the air around it. [°C]
    rise_at_full
        Rise over that air at the full rated current. [K]
    current
        Current that it carries. [A]
    full_current
        Rated current at which the rise is ``rise_at_full``. [A]

    Returns
    -------
    float
        Temperature of the metal once steady. [°C]

    Raises
    ------
    FormulaError
        If the rise is negative or the rated current is not above zero.

    Examples
    --------
    Half current leaves a quarter of the rise of 40 K:

    >>> conductor_temperature(30.0, 40.0, current=60.0, full_current=120.0)
    40.0

    References
    ----------
    .. [1] IEC 60287-1-1:2023, current rating equations: loss proportional to the square of the current.
    """
    require_finite(ambient=ambient, current=current)
    require_not_negative(rise_at_full=rise_at_full)
    require_positive(full_current=full_current)
    return ambient + rise_at_full * (current / full_current) ** 2


@formula(expression="0.9 × current × cable_cold", unit="V", source="common practice")
def good_run_drop_low(current: float, cable_cold: float) -> float:
    """Least voltage drop that is believed of a run under load.

    Parameters
    ----------
    current
        Current in the run. [A]
    cable_cold
        Resistance of the bare cable at ambient temperature. [Ω]

    Returns
    -------
    float
        Least drop; a reading below it was taken at the wrong points or at another current. [V]

    Raises
    ------
    FormulaError
        If either is negative.

    Examples
    --------
    >>> good_run_drop_low(100.0, 0.002)
    0.18

    References
    ----------
    .. [1] Common practice: length and temperature of a run are known within a tenth.
    """
    require_not_negative(current=current, cable_cold=cable_cold)
    return GOOD_RUN_LOW * current * cable_cold


@formula(expression="1.1 × current × (cable_hot + joints)", unit="V", source="common practice")
def good_run_drop_high(current: float, cable_hot: float, joints: float) -> float:
    """Greatest voltage drop of a good run under load.

    Parameters
    ----------
    current
        Current in the run. [A]
    cable_hot
        Resistance of the cable at its working temperature. [Ω]
    joints
        Resistance of its joints. [Ω]

    Returns
    -------
    float
        Greatest drop. [V]

    Raises
    ------
    FormulaError
        If any of them is negative.

    Examples
    --------
    >>> good_run_drop_high(100.0, 0.0022, 0.0003)
    0.275

    References
    ----------
    .. [1] Common practice: length and temperature of a run are known within a tenth.
    """
    require_not_negative(current=current, cable_hot=cable_hot, joints=joints)
    return GOOD_RUN_HIGH * current * (cable_hot + joints)
