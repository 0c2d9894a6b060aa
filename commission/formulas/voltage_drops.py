"""Voltage drop judged and designed: share, longest run, least size, constant power, AC runs."""

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
    require_positive,
    require_share,
)

COPPER_RESISTIVITY_SERVICE: Final = 0.0225
"""Resistivity of copper at normal service temperature in Ω·mm²/m, 1.25 × that at 20 °C (IEC 60364-5-52,
annex G; from memory)."""

CABLE_REACTANCE: Final = 0.00008
"""Reactance of one metre of a cable's conductor in Ω/m (IEC 60364-5-52, annex G; from memory)."""


@formula(expression="drop ÷ voltage", unit="1", source="common practice")
def drop_share(drop: float, voltage: float) -> float:
    """Voltage drop as a share of the circuit's nominal voltage.

    Parameters
    ----------
    drop
        Voltage drop. [V]
    voltage
        Nominal voltage of the circuit. [V]

    Returns
    -------
    float
        Share; 0.03 is 3 %. [1]

    Raises
    ------
    FormulaError
        If ``voltage`` is not above zero.

    Examples
    --------
    >>> drop_share(3.992, 24.0)
    0.1663

    References
    ----------
    .. [1] NEC 210.19 and 215.2, informational notes (3 % branch, 5 % in all).
    """
    require_finite(drop=drop)
    require_positive(voltage=voltage)
    return drop / voltage


@formula(
    expression="millivolts ÷ 1000 × current × length", unit="V", source="BS 7671, appendix 4, table 4E1B"
)
def drop_by_table(millivolts: float, current: float, length: float) -> float:
    """Voltage drop from a table's millivolts per ampere and metre of route.

    Parameters
    ----------
    millivolts
        The table's figure, out and back together. [mV/(A·m)]
    current
        Current. [A]
    length
        Length of the route, one way. [m]

    Returns
    -------
    float
        Voltage drop of the circuit. [V]

    Raises
    ------
    FormulaError
        If any of them is negative.

    Examples
    --------
    35 mm², two single cables on DC at 90 °C:

    >>> drop_by_table(1.35, 125.0, 12.0)
    2.025

    References
    ----------
    .. [1] BS 7671:2018, appendix 4, table 4E1B.
    """
    require_not_negative(millivolts=millivolts, current=current, length=length)
    return millivolts / 1000.0 * current * length


@formula(
    expression="1000 × drop ÷ (current × length)", unit="mV/(A·m)", source="BS 7671, appendix 4, section 6"
)
def table_figure_needed(drop: float, current: float, length: float) -> float:
    """Greatest millivolts per ampere and metre that keep a drop, to choose a cable from a table.

    Parameters
    ----------
    drop
        Allowed voltage drop. [V]
    current
        Current. [A]
    length
        Length of the route, one way. [m]

    Returns
    -------
    float
        The table's figure must not be above this. [mV/(A·m)]

    Raises
    ------
    FormulaError
        If any of them is not above zero.

    Examples
    --------
    >>> table_figure_needed(10.5, 100.0, 150.0)
    0.7

    References
    ----------
    .. [1] BS 7671:2018, appendix 4, section 6.
    """
    require_positive(drop=drop, current=current, length=length)
    return 1000.0 * drop / (current * length)


@formula(
    expression="drop ÷ (2 × current × resistance_per_metre)", unit="m", source="Ohm's law, two-wire circuit"
)
def longest_run(drop: float, current: float, resistance_per_metre: float) -> float:
    """Longest two-wire run that keeps a voltage drop.

    Parameters
    ----------
    drop
        Allowed voltage drop. [V]
    current
        Current. [A]
    resistance_per_metre
        Resistance of one metre of one conductor. [Ω/m]

    Returns
    -------
    float
        Length, one way. [m]

    Raises
    ------
    FormulaError
        If any of them is not above zero.

    Examples
    --------
    2 % of 48 V at 100 A in 4/0 AWG, 0.0608 Ω per 1000 ft, in feet:

    >>> longest_run(0.96, 100.0, 0.0608 / 304.8) / 0.3048
    78.9

    References
    ----------
    .. [1] NEC, chapter 9, table 8 (resistance at 75 °C).
    """
    require_positive(drop=drop, current=current, resistance_per_metre=resistance_per_metre)
    return drop / (2.0 * current * resistance_per_metre)


@formula(expression="loss_share × voltage ÷ current", unit="Ω", source="Ohm's law")
def allowed_loop_resistance(voltage: float, current: float, loss_share: float) -> float:
    """Greatest loop resistance that keeps a share of loss.

    Parameters
    ----------
    voltage
        Working voltage. [V]
    current
        Working current. [A]
    loss_share
        Share of the voltage, or of the power, that may be lost; 0.03 is 3 %. [1]

    Returns
    -------
    float
        Resistance of the whole loop. [Ω]

    Raises
    ------
    FormulaError
        If voltage or current is not above zero or the share not between 0 and 1.

    Examples
    --------
    Two strings of five modules of 38 V and 9 A, 3 %:

    >>> allowed_loop_resistance(190.0, 18.0, 0.03)
    0.31667

    References
    ----------
    .. [1] Ohm's law.
    """
    require_positive(voltage=voltage, current=current)
    require_share(loss_share=loss_share)
    return loss_share * voltage / current


@formula(
    expression="least of areas with 2 × length × current × its one of resistances ≤ drop",
    unit="mm²",
    source="Ohm's law over a table of conductors",
)
def smallest_area_for_drop(
    drop: float, current: float, *, length: float, areas: Sequence[float], resistances: Sequence[float]
) -> float:
    """Smallest standard conductor of a two-wire run that keeps a voltage drop.

    Parameters
    ----------
    drop
        Allowed voltage drop. [V]
    current
        Current. [A]
    length
        Length of the run, one way. [m]
    areas
        Cross-sections of the table. [mm²]
    resistances
        Resistance of one metre of each of them, at the temperature that the conductor will have. [Ω/m]

    Returns
    -------
    float
        Cross-section of the table's size; the drop alone is looked at, not what the cable may carry. [mm²]

    Raises
    ------
    FormulaError
        If an input is not above zero, the lists differ in length or the largest size still drops more.

    Examples
    --------
    1 % of 48 V at 120 A over 3 m, flexible copper of 25, 35 and 50 mm² at 50 °C:

    >>> smallest_area_for_drop(
    ...     0.48, 120.0, length=3.0, areas=[25, 35, 50], resistances=[0.000872, 0.000619, 0.000432]
    ... )
    35

    References
    ----------
    .. [1] IEC 60228:2004, Conductors of insulated cables, table 3 (resistances of the example, at 50 °C).
    """
    require_positive(drop=drop, current=current, length=length)
    if len(areas) != len(resistances):
        raise FormulaError(f"areas: {len(areas)} sizes but {len(resistances)} resistances; give one for each")
    for area, resistance in zip(areas, resistances, strict=True):
        require_positive(areas=area, resistances=resistance)
    allowed = drop * (1.0 + 1e-9) / (2.0 * length * current)
    enough = [area for area, each in zip(areas, resistances, strict=True) if each <= allowed]
    if not enough:
        raise FormulaError(f"drop = {drop:g} V: no size of the table keeps it")
    return min(enough)


@formula(expression="current² × resistance", unit="W", source="Joule's law")
def conductor_loss(current: float, resistance: float) -> float:
    """Power lost in a run.

    Parameters
    ----------
    current
        Current. [A]
    resistance
        Resistance of the loop. [Ω]

    Returns
    -------
    float
        Heat. [W]

    Raises
    ------
    FormulaError
        If ``resistance`` is negative.

    Examples
    --------
    >>> conductor_loss(88.0, 0.0019)
    14.71

    References
    ----------
    .. [1] Joule's law.
    """
    require_finite(current=current)
    require_not_negative(resistance=resistance)
    return current**2 * resistance


@formula(
    expression="(rest_voltage + √(rest_voltage² − 4 × power × resistance)) ÷ 2",
    unit="V",
    source="Kirchhoff's laws, upper root for a constant-power load",
)
def loaded_voltage(rest_voltage: float, power: float, resistance: float) -> float:
    """Voltage at a constant-power load, such as an inverter, behind a resistance.

    Parameters
    ----------
    rest_voltage
        Voltage of the source without load. [V]
    power
        Power that the load takes; of an inverter its output divided by its efficiency. [W]
    resistance
        Resistance between source and load: bank, cable and joints as far as they lie between. [Ω]

    Returns
    -------
    float
        Voltage at the load. [V]

    Raises
    ------
    FormulaError
        If the source cannot deliver the power through the resistance: the voltage would collapse.

    Examples
    --------
    3 kW at the end of 3 m of 0.23546 Ω/km, both ways, from 48 V:

    >>> loaded_voltage(48.0, 3000.0, 2 * 3.0 * 0.00023546)
    47.91154

    References
    ----------
    .. [1] Kirchhoff's voltage law: V² − E·V + P·R = 0.
    """
    require_positive(rest_voltage=rest_voltage)
    require_not_negative(power=power, resistance=resistance)
    rest = rest_voltage**2 - 4.0 * power * resistance
    if rest < 0.0:
        most = rest_voltage**2 / (4.0 * resistance)
        raise FormulaError(f"power = {power:g} W: the voltage collapses; at most {most:.4g} W can be had")
    return (rest_voltage + math.sqrt(rest)) / 2.0


@formula(
    expression="least_voltage × (rest_voltage − least_voltage) ÷ resistance",
    unit="W",
    source="Kirchhoff's laws",
)
def power_at_voltage(rest_voltage: float, least_voltage: float, resistance: float) -> float:
    """Power that can be drawn before the voltage at the load falls to a limit.

    Parameters
    ----------
    rest_voltage
        Voltage of the source without load. [V]
    least_voltage
        Voltage at the load that must not be passed, such as an inverter's cut-off. [V]
    resistance
        Resistance between source and load. [Ω]

    Returns
    -------
    float
        Power at the load's terminals. [W]

    Raises
    ------
    FormulaError
        If the limit is not between half and the whole of ``rest_voltage``, or an input is not above zero.

    Examples
    --------
    >>> power_at_voltage(24.8, 21.0, 0.015)
    5320.0

    References
    ----------
    .. [1] Kirchhoff's voltage law.
    """
    require_positive(rest_voltage=rest_voltage, resistance=resistance)
    if not rest_voltage / 2.0 <= least_voltage <= rest_voltage:
        raise FormulaError(
            f"least_voltage = {least_voltage:g} V: must lie between half and the whole of {rest_voltage:g} V"
        )
    return least_voltage * (rest_voltage - least_voltage) / resistance


@formula(
    expression="conductors × current × length"
    " × (0.0225 ÷ area × power_factor + 0.00008 × √(1 − power_factor²))",
    unit="V",
    source="IEC 60364-5-52, annex G; from memory",
)
def alternating_drop(
    current: float, length: float, *, area: float, power_factor: float, conductors: float
) -> float:
    """Voltage drop of an AC run, with the reactance of its cable.

    Parameters
    ----------
    current
        Design current. [A]
    length
        Length of the run, one way. [m]
    area
        Cross-section of one conductor. [mm²]
    power_factor
        Power factor of the load. [1]
    conductors
        2 for a single-phase circuit, 1 for a balanced three-phase one (drop to neutral). [1]

    Returns
    -------
    float
        Voltage drop. [V]

    Raises
    ------
    FormulaError
        If an input is not above zero or the power factor above one.

    Examples
    --------
    40 A over 40 m of 10 mm² at a power factor of 0.8:

    >>> alternating_drop(40.0, 40.0, area=10.0, power_factor=0.8, conductors=2)
    5.914

    References
    ----------
    .. [1] IEC 60364-5-52:2009, annex G (from memory).
    """
    require_positive(current=current, length=length, area=area, conductors=conductors)
    require_efficiency(power_factor=power_factor)
    reactive = math.sqrt(1.0 - power_factor**2)
    per_metre = COPPER_RESISTIVITY_SERVICE / area * power_factor + CABLE_REACTANCE * reactive
    return conductors * current * length * per_metre


@formula(
    expression="√(h + √(h² − (power² + q²) × (resistance² + reactance²))),"
    " h = source_voltage² ÷ 2 − power × resistance − q × reactance, q = power × tan(acos(power_factor))",
    unit="V",
    source="two-bus load flow, closed form",
)
def alternating_end_voltage(
    source_voltage: float, power: float, *, power_factor: float, resistance: float, reactance: float
) -> float:
    """Voltage at a constant-power AC load behind the loop resistance and reactance of its run.

    Parameters
    ----------
    source_voltage
        Voltage at the supply's end. [V]
    power
        Power of the load. [W]
    power_factor
        Power factor of the load, lagging. [1]
    resistance
        Resistance of the loop. [Ω]
    reactance
        Reactance of the loop. [Ω]

    Returns
    -------
    float
        Voltage at the load. [V]

    Raises
    ------
    FormulaError
        If the power cannot be delivered through the run.

    Examples
    --------
    3 kW at a power factor of 0.8, 40 m of 3.3 and 0.1 Ω/km each way:

    >>> alternating_end_voltage(230.0, 3000.0, power_factor=0.8, resistance=0.264, reactance=0.008)
    226.409

    References
    ----------
    .. [1] Closed form of the two-bus load flow; agrees with an iterated load flow to 0.001 V.
    """
    require_positive(source_voltage=source_voltage)
    require_not_negative(power=power, resistance=resistance, reactance=reactance)
    require_efficiency(power_factor=power_factor)
    reactive = power * math.tan(math.acos(power_factor))
    half = source_voltage**2 / 2.0 - power * resistance - reactive * reactance
    inner = half**2 - (power**2 + reactive**2) * (resistance**2 + reactance**2)
    if half <= 0.0 or inner < 0.0:
        raise FormulaError(f"power = {power:g} W: the voltage collapses, the run cannot deliver it")
    return math.sqrt(half + math.sqrt(inner))
