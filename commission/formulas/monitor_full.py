"""How long the current stays low before a charger ends absorption, and what a shunt carries for long."""

from __future__ import annotations

import math

from commission.errors import FormulaError
from commission.figure import formula
from commission.formulas.ranges import require_not_negative, require_positive


@formula(
    expression="time_constant × ln((full_current − floor_current) ÷ (end_current − floor_current))",
    unit="s",
    source="exponential fall of the current in absorption, fitted to logged charges of a sealed lead bank",
)
def time_at_low_current(
    full_current: float, end_current: float, floor_current: float, time_constant: float
) -> float:
    """Time from the monitor's full current down to the charger's end current.

    Parameters
    ----------
    full_current
        Current under which the monitor takes the bank for full. [A]
    end_current
        Current at which the charger ends absorption. [A]
    floor_current
        Current that still flows when nothing more is taken up. [A]
    time_constant
        Time constant of the fall; 3600 to 5800 s in one sealed lead bank. [s]

    Returns
    -------
    float
        Time that the charger stays in absorption at or under the monitor's current. [s]

    Raises
    ------
    FormulaError
        If a current is negative, the time constant not positive, or the three currents not in falling order.

    Examples
    --------
    2.5 % down to 2 % of 450 Ah over a floor of 1 %, one hour, in minutes:

    >>> time_at_low_current(11.25, 9.0, 4.5, 3600.0) / 60
    24.33

    References
    ----------
    .. [1] Woodbridge, J. L., Trans. AIEE, 1935, the ampere-hour law (from memory), with a floor.
    """
    require_not_negative(floor_current=floor_current, full_current=full_current, end_current=end_current)
    require_positive(time_constant=time_constant)
    if not floor_current < end_current < full_current:
        raise FormulaError(
            f"end_current = {end_current}: must lie between floor_current = {floor_current} "
            f"and full_current = {full_current}"
        )
    return time_constant * math.log((full_current - floor_current) / (end_current - floor_current))


@formula(
    expression="3600 × resistance_capacity × span ÷ rise",
    unit="s",
    source="first-order circuit of a cell at constant voltage, by the slope of its rested voltage",
)
def current_fall_time_constant(resistance_capacity: float, span: float, rise: float) -> float:
    """Time constant with which the current of a lithium cell falls at constant voltage near full.

    Parameters
    ----------
    resistance_capacity
        Resistance of one cell times its capacity. [Ω·Ah]
    span
        Part of the state of charge over which the rested voltage is looked at, up to full. [1]
    rise
        Rise of the rested voltage over that part. [V]

    Returns
    -------
    float
        Time constant. [s]

    Raises
    ------
    FormulaError
        If a value is not positive.

    Examples
    --------
    Iron phosphate from 90 to 100 % charge, 3.33 to 3.40 V:

    >>> current_fall_time_constant(0.15, 0.1, 0.07)
    771.4

    References
    ----------
    .. [1] First-order equivalent circuit of a cell; textbooks in general (from memory).
    """
    require_positive(resistance_capacity=resistance_capacity, span=span, rise=rise)
    return 3600.0 * resistance_capacity * span / rise


@formula(
    expression="current ÷ loading",
    unit="A",
    source="common practice: a shunt carries two thirds of its rating for long in still air",
)
def shunt_rating_needed(current: float, loading: float) -> float:
    """Least rating of a shunt for a current that flows for long.

    Parameters
    ----------
    current
        Greatest current that flows for long. [A]
    loading
        Share of its rating that a shunt carries for long. [1]

    Returns
    -------
    float
        Rating. [A]

    Raises
    ------
    FormulaError
        If the current is negative, or the loading not positive.

    Examples
    --------
    >>> shunt_rating_needed(200.0, 0.66)
    303.0

    References
    ----------
    .. [1] Common practice; no published source.
    """
    require_not_negative(current=current)
    require_positive(loading=loading)
    return current / loading


@formula(
    expression="share × rated_current",
    unit="A",
    source="common practice: zero of a monitor within 0.1 % of its shunt's rating",
)
def shunt_zero(share: float, rated_current: float) -> float:
    """Least current that a monitor tells from zero.

    Parameters
    ----------
    share
        Share of the shunt's rating; 0.001. [1]
    rated_current
        Current of the shunt's rating. [A]

    Returns
    -------
    float
        Current. [A]

    Raises
    ------
    FormulaError
        If the share is negative, or the rating not positive.

    Examples
    --------
    >>> shunt_zero(0.001, 500.0)
    0.5

    References
    ----------
    .. [1] Common practice; no published source.
    """
    require_not_negative(share=share)
    require_positive(rated_current=rated_current)
    return share * rated_current
