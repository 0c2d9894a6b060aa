"""Currents that conductors and protective devices must be chosen for, and what a given device allows."""

from __future__ import annotations

import math
from collections.abc import Sequence

from commission.errors import FormulaError
from commission.figure import formula
from commission.formulas.ranges import (
    require_efficiency,
    require_not_negative,
    require_one_or_more,
    require_positive,
    require_share,
)


@formula(expression="rating ÷ factor", unit="A", source="NEC 210.20(A), 215.3, the rule turned round")
def continuous_limit(rating: float, factor: float) -> float:
    """Greatest continuous current behind a given protective device or conductor.

    Parameters
    ----------
    rating
        Rating of the device, or what the conductor may carry. [A]
    factor
        The rule set's factor for current of three hours or more: 1.25, or 1 for devices listed for
        continuous duty. [1]

    Returns
    -------
    float
        Current that may be set. [A]

    Raises
    ------
    FormulaError
        If the rating is not above zero or the factor is below one.

    Examples
    --------
    >>> continuous_limit(175.0, 1.25)
    140.0

    References
    ----------
    .. [1] NEC 2023, 210.20(A), 215.3 and 690.8(B).
    """
    require_positive(rating=rating)
    require_one_or_more(factor=factor)
    return rating / factor


@formula(expression="current × factor", unit="A", source="NEC 210.20(A), 215.3, 690.8(B)")
def device_for_load(current: float, factor: float) -> float:
    """Least rating of a protective device or conductor for a continuous current.

    Parameters
    ----------
    current
        Current that may flow for three hours or more. [A]
    factor
        The rule set's factor: 1.25, or 1 for devices listed for continuous duty. [1]

    Returns
    -------
    float
        Least rating, before the next standard size. [A]

    Raises
    ------
    FormulaError
        If the current is negative or the factor is below one.

    Examples
    --------
    A 60 A charge controller:

    >>> device_for_load(60.0, 1.25)
    75.0

    References
    ----------
    .. [1] NEC 2023, 210.20(A), 215.3 and 690.8(B).
    """
    require_not_negative(current=current)
    require_one_or_more(factor=factor)
    return current * factor


@formula(expression="least of ratings that is not below current", unit="A", source="NEC 240.6(A)")
def next_standard_rating(current: float, ratings: Sequence[float]) -> float:
    """Next standard rating of a protective device.

    Parameters
    ----------
    current
        Least rating that will do. [A]
    ratings
        The standard ratings of the rule set, in any order. [A]

    Returns
    -------
    float
        The smallest rating that is not below ``current``. [A]

    Raises
    ------
    FormulaError
        If the current is negative or above the largest rating, or a rating is not above zero.

    Examples
    --------
    >>> next_standard_rating(102.6, [90.0, 100.0, 110.0, 125.0])
    110.0

    References
    ----------
    .. [1] NEC 2023, 240.6(A); IEC 60059:1999.
    """
    require_not_negative(current=current)
    for rating in ratings:
        require_positive(ratings=rating)
    # A product such as 80 × 1.25 must not be pushed to the next size by its last binary digit.
    enough = [rating for rating in ratings if rating >= current * (1.0 - 1e-9)]
    if not enough:
        raise FormulaError(f"current = {current:g} A: above the largest standard rating given")
    return min(enough)


@formula(expression="power ÷ (efficiency × voltage)", unit="A", source="NEC 705.60, 710; common practice")
def inverter_direct_current(power: float, efficiency: float, voltage: float) -> float:
    """Direct current that an inverter draws.

    Parameters
    ----------
    power
        Output, continuous or surge. [W]
    efficiency
        Efficiency at that output. [1]
    voltage
        DC voltage at its terminals; the lowest at which it still runs gives the greatest current. [V]

    Returns
    -------
    float
        Mean direct current. [A]

    Raises
    ------
    FormulaError
        If power is negative, voltage not above zero or efficiency not in 0 to 1.

    Examples
    --------
    2.5 kW at 85 % from 22 V:

    >>> inverter_direct_current(2500.0, 0.85, 22.0)
    133.7

    References
    ----------
    .. [1] Teaching practice for conductors between battery and inverter: 2500/(0.85 × 22) = 134 A.
    """
    require_not_negative(power=power)
    require_efficiency(efficiency=efficiency)
    require_positive(voltage=voltage)
    return power / (efficiency * voltage)


@formula(expression="mean × √(1 + ripple_share² ÷ 2)", unit="A", source="Fourier: mean and double-line wave")
def ripple_heating_current(mean: float, ripple_share: float) -> float:
    """Effective current of a single-phase inverter's DC side, which heats conductors and fuses.

    Parameters
    ----------
    mean
        Mean direct current. [A]
    ripple_share
        Peak of the wave at twice line frequency as a share of the mean; 1 with no smoothing. [1]

    Returns
    -------
    float
        Root mean square of the current. [A]

    Raises
    ------
    FormulaError
        If the current is negative or the share not between 0 and 1.

    Examples
    --------
    >>> ripple_heating_current(100.0, 1.0)
    122.47

    References
    ----------
    .. [1] Root mean square of Idc·(1 − k·cos 2ωt).
    """
    require_not_negative(mean=mean)
    require_share(ripple_share=ripple_share)
    return mean * math.sqrt(1.0 + ripple_share**2 / 2.0)


@formula(expression="factor × bus_bar − main", unit="A", source="NEC 705.12(B)(3)(2)")
def largest_backfed_breaker(bus_bar: float, main: float, factor: float) -> float:
    """Largest breaker that may feed a bus bar at the end opposite its main breaker.

    Parameters
    ----------
    bus_bar
        Rating of the bus bar. [A]
    main
        Rating of the main breaker. [A]
    factor
        The rule set's factor; 1.2. [1]

    Returns
    -------
    float
        Greatest rating of the fed-in breaker; zero or less: none fits. [A]

    Raises
    ------
    FormulaError
        If a rating is not above zero or the factor is below one.

    Examples
    --------
    >>> largest_backfed_breaker(200.0, 200.0, 1.2)
    40.0

    References
    ----------
    .. [1] NEC 2020, 705.12(B)(3)(2).
    """
    require_positive(bus_bar=bus_bar, main=main)
    require_one_or_more(factor=factor)
    return factor * bus_bar - main
