"""Thresholds of loads and generator: where they lie, what they carry, and what keeps them apart."""

from __future__ import annotations

import math
from collections.abc import Sequence

from commission.errors import FormulaError
from commission.figure import formula
from commission.formulas.ranges import (
    require_finite,
    require_not_negative,
    require_positive,
    require_share,
)


@formula(expression="1 − depth", unit="1", source="definition of the depth of discharge")
def state_at_depth(depth: float) -> float:
    """State of charge at a depth of discharge.

    Parameters
    ----------
    depth
        Share of the capacity that is taken out. [1]

    Returns
    -------
    float
        Share that is left. [1]

    Raises
    ------
    FormulaError
        If the depth is no share.

    Examples
    --------
    >>> state_at_depth(0.8)
    0.2

    References
    ----------
    .. [1] Definition.
    """
    require_share(depth=depth)
    return 1.0 - depth


@formula(
    expression="low + part × (high − low)",
    unit="V",
    source="common practice: several thresholds spread evenly",
)
def threshold_between(low: float, high: float, part: float) -> float:
    """Voltage a part of the way from one threshold to another.

    Parameters
    ----------
    low
        Lower threshold. [V]
    high
        Upper threshold. [V]
    part
        Part of the way up. [1]

    Returns
    -------
    float
        Threshold between the two. [V]

    Raises
    ------
    FormulaError
        If a voltage is not a finite number, or ``part`` no share.

    Examples
    --------
    The middle of three starts between disconnect and the first of them:

    >>> threshold_between(45.6, 48.6, 0.667)
    47.601

    References
    ----------
    .. [1] Common practice; no published source.
    """
    require_finite(low=low, high=high)
    require_share(part=part)
    return low + part * (high - low)


@formula(expression="value + by", unit="V", source="definition of a distance")
def threshold_above(value: float, by: float) -> float:
    """Threshold a distance above another.

    Parameters
    ----------
    value
        Threshold below. [V]
    by
        Distance that is wanted. [V]

    Returns
    -------
    float
        Threshold above. [V]

    Raises
    ------
    FormulaError
        If ``value`` is not a finite number, or the distance is negative.

    Examples
    --------
    Reconnect of 24 lead cells, 0.13 V per cell over disconnect:

    >>> threshold_above(45.6, 24 * 0.13)
    48.72

    References
    ----------
    .. [1] Universal technical standard for solar home systems, 1998, hysteresis of the load disconnect
       (from memory).
    """
    require_finite(value=value)
    require_not_negative(by=by)
    return value + by


@formula(expression="value − by", unit="V", source="definition of a distance")
def threshold_below(value: float, by: float) -> float:
    """Threshold a distance below another.

    Parameters
    ----------
    value
        Threshold above. [V]
    by
        Distance that is wanted. [V]

    Returns
    -------
    float
        Threshold below. [V]

    Raises
    ------
    FormulaError
        If ``value`` is not a finite number, or the distance is negative.

    Examples
    --------
    >>> threshold_below(54.0, 1.2)
    52.8

    References
    ----------
    .. [1] Definition.
    """
    require_finite(value=value)
    require_not_negative(by=by)
    return value - by


@formula(expression="power ÷ voltage", unit="A", source="definition of power")
def current_of_power(power: float, voltage: float) -> float:
    """Steady current of a power that is drawn.

    Parameters
    ----------
    power
        Power drawn. [W]
    voltage
        Voltage at which it is drawn. [V]

    Returns
    -------
    float
        Current. [A]

    Raises
    ------
    FormulaError
        If the power is negative, or the voltage not positive.

    Examples
    --------
    >>> current_of_power(25.6, 51.2)
    0.5

    References
    ----------
    .. [1] Definition of power.
    """
    require_not_negative(power=power)
    require_positive(voltage=voltage)
    return power / voltage


@formula(expression="sum of powers", unit="W", source="conservation of energy")
def sum_of_powers(powers: Sequence[float]) -> float:
    """Power of loads that run together.

    Parameters
    ----------
    powers
        Power of each load; none at all makes 0 W. [W]

    Returns
    -------
    float
        Their sum. [W]

    Raises
    ------
    FormulaError
        If one of them is negative.

    Examples
    --------
    >>> sum_of_powers([120.0, 80.0, 45.5])
    245.5

    References
    ----------
    .. [1] Conservation of energy.
    """
    for power in powers:
        require_not_negative(powers=power)
    return math.fsum(powers)


@formula(
    expression="part ÷ sum of parts",
    unit="1",
    source="common practice: like devices share a load in proportion to their ratings",
)
def rating_share(part: float, parts: Sequence[float]) -> float:
    """Share of a common load that one of several devices carries.

    Parameters
    ----------
    part
        Rating of the device. [VA]
    parts
        Rating of every device that shares the load, the one in question among them. [VA]

    Returns
    -------
    float
        Share. [1]

    Raises
    ------
    FormulaError
        If a rating is not positive, or ``part`` is not among ``parts``.

    Examples
    --------
    >>> rating_share(5000.0, [5000.0, 5000.0, 3000.0])
    0.3846

    References
    ----------
    .. [1] Common practice; no published source.
    """
    for one in parts:
        require_positive(parts=one)
    if part not in parts:
        raise FormulaError(f"part = {part}: must be one of the ratings that share the load")
    return part / math.fsum(parts)


@formula(
    expression="lesser of 1 and load ÷ whole",
    unit="1",
    source="conservation of energy",
)
def load_share(load: float, whole: float) -> float:
    """Share that some loads have in the load of the whole plant.

    Parameters
    ----------
    load
        Power of these loads. [W]
    whole
        Power of all loads that are expected. [W]

    Returns
    -------
    float
        Share, at most all of it. [1]

    Raises
    ------
    FormulaError
        If the load is negative, or the whole not positive.

    Examples
    --------
    >>> load_share(120.0, 1600.0)
    0.075

    References
    ----------
    .. [1] Conservation of energy.
    """
    require_not_negative(load=load)
    require_positive(whole=whole)
    return min(1.0, load / whole)


@formula(
    expression="share × resistance",
    unit="Ω",
    source="Ohm's law: a run that carries a share of the current drops as much as that share of it",
)
def shared_resistance(resistance: float, share: float) -> float:
    """Resistance of a run that carries only a share of the bank's current, seen from the whole current.

    Parameters
    ----------
    resistance
        Resistance of the run. [Ω]
    share
        Share of the bank's current that it carries. [1]

    Returns
    -------
    float
        Resistance that, times the whole current, gives the run's drop. [Ω]

    Raises
    ------
    FormulaError
        If the resistance is negative, or ``share`` no share.

    Examples
    --------
    The run of one of two like inverters, in milliohms:

    >>> shared_resistance(2.4, 0.5)
    1.2

    References
    ----------
    .. [1] Ohm's law.
    """
    require_not_negative(resistance=resistance)
    require_share(share=share)
    return share * resistance


@formula(
    expression="rate × capacity",
    unit="A",
    source="definition of the C rate; rates by the battery's data sheet",
)
def discharge_current(rate: float, capacity: float) -> float:
    """Discharge current that a bank gives for long at a C rate.

    Parameters
    ----------
    rate
        Discharge current as a share of the capacity. [A/Ah]
    capacity
        Capacity of the bank. [Ah]

    Returns
    -------
    float
        Discharge current of the bank, without sign. [A]

    Raises
    ------
    FormulaError
        If the rate is negative, or the capacity not positive.

    Examples
    --------
    >>> discharge_current(0.25, 450.0)
    112.5

    References
    ----------
    .. [1] Definition.
    """
    require_not_negative(rate=rate)
    require_positive(capacity=capacity)
    return rate * capacity


@formula(
    expression="share × current",
    unit="A",
    source="common practice: like devices share a limit in proportion to their ratings",
)
def share_of_current(share: float, current: float) -> float:
    """Share of a common current limit that one device is given.

    Parameters
    ----------
    share
        Its share of the load. [1]
    current
        Limit of all together. [A]

    Returns
    -------
    float
        Limit of the one. [A]

    Raises
    ------
    FormulaError
        If ``share`` is no share, or the current is negative.

    Examples
    --------
    >>> share_of_current(0.5, 225.0)
    112.5

    References
    ----------
    .. [1] Common practice; no published source.
    """
    require_share(share=share)
    require_not_negative(current=current)
    return share * current


@formula(
    expression="share × capacity × voltage × 3600 ÷ time",
    unit="W",
    source="definition of charge and power",
)
def standing_draw_allowed(share: float, capacity: float, voltage: float, time: float) -> float:
    """Standing draw that takes a share of the charge in the longest time without charging.

    Parameters
    ----------
    share
        Share of the capacity that may be lost. [1]
    capacity
        Capacity of the bank. [Ah]
    voltage
        Nominal voltage of the bank. [V]
    time
        Longest time without charge. [s]

    Returns
    -------
    float
        Power that may stay on the bank. [W]

    Raises
    ------
    FormulaError
        If ``share`` is no share, or another value not positive.

    Examples
    --------
    Five points of 280 Ah at 51.2 V over ten days:

    >>> standing_draw_allowed(0.05, 280.0, 51.2, 864000.0)
    2.987

    References
    ----------
    .. [1] Definition of charge.
    """
    require_share(share=share)
    require_positive(capacity=capacity, voltage=voltage, time=time)
    return share * capacity * voltage * 3600.0 / time


@formula(
    expression="highest × (1 + margin)",
    unit="V",
    source="common practice: charging is cut at least 2 % over the highest charging voltage",
)
def charge_cut_voltage(highest: float, margin: float) -> float:
    """Voltage at which charging is cut, above every charging voltage.

    Parameters
    ----------
    highest
        Highest voltage that a source reaches, at the coldest battery. [V]
    margin
        Distance as a share of it; 0.02 for cells with a watery electrolyte. [1]

    Returns
    -------
    float
        Voltage at which charging is cut. [V]

    Raises
    ------
    FormulaError
        If the voltage is not positive, or the margin negative.

    Examples
    --------
    Twenty-four flooded cells that are equalised up to 62.0 V in the cold:

    >>> charge_cut_voltage(62.0, 0.02)
    63.24

    References
    ----------
    .. [1] Common practice; no published source.
    """
    require_positive(highest=highest)
    require_not_negative(margin=margin)
    return highest * (1.0 + margin)
