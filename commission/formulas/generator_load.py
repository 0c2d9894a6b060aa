"""How a generator set is loaded: by a start, by steps, and unevenly over its phases."""

from __future__ import annotations

import math

from commission.figure import formula
from commission.formulas.ranges import require_not_negative, require_positive, require_share


@formula(
    expression="others + starting", unit="VA", source="arithmetic sum, on the cautious side; common practice"
)
def load_during_start(others: float, starting: float) -> float:
    """Apparent power on a set while a motor starts beside other loads.

    Parameters
    ----------
    others
        Loads that run already. [VA]
    starting
        What the motor draws while it starts. [VA]

    Returns
    -------
    float
        Sum. [VA]

    Raises
    ------
    FormulaError
        If a power is negative.

    Examples
    --------
    >>> load_during_start(1000.0, 3800.0)
    4800.0

    References
    ----------
    .. [1] Common practice; no published source.
    """
    require_not_negative(others=others, starting=starting)
    return others + starting


@formula(expression="power ÷ rating", unit="1", source="definition; ISO 8528-5, load acceptance")
def step_share(power: float, rating: float) -> float:
    """Load that is put on at once, as a share of what a set can give.

    Parameters
    ----------
    power
        Load that is put on. [W]
    rating
        Rated power where the set stands. [W]

    Returns
    -------
    float
        Share. [1]

    Raises
    ------
    FormulaError
        If the power is negative, or the rating not positive.

    Examples
    --------
    >>> step_share(5000.0, 16500.0)
    0.303

    References
    ----------
    .. [1] ISO 8528-5:2018, load acceptance.
    """
    require_not_negative(power=power)
    require_positive(rating=rating)
    return power / rating


@formula(expression="power ÷ share", unit="W", source="definition")
def rating_for_share(power: float, share: float) -> float:
    """Rated power at which a power is just a share of it.

    Parameters
    ----------
    power
        Power that is drawn. [W]
    share
        Share that it should be. [1]

    Returns
    -------
    float
        Rated power. [W]

    Raises
    ------
    FormulaError
        If the power is negative, or the share not greater than 0 and at most 1.

    Examples
    --------
    Largest diesel set that 3 kW load to 30 %:

    >>> rating_for_share(3000.0, 0.3)
    10000.0

    References
    ----------
    .. [1] Definition.
    """
    require_not_negative(power=power)
    require_share(share=share)
    require_positive(share=share)
    return power / share


@formula(
    expression="√(first² + second² + third² − first×second − second×third − third×first) ÷ (3 × rated)",
    unit="1",
    source="symmetrical components, loads of like power factor; limit in IEC 60034-1, 7.2.3, from memory",
)
def negative_sequence_share(first: float, second: float, third: float, rated: float) -> float:
    """Negative-sequence current of a three-phase set that is loaded unevenly, as a share of its rating.

    Parameters
    ----------
    first
        Load of one phase. [VA]
    second
        Load of the next phase. [VA]
    third
        Load of the last phase. [VA]
    rated
        Rating of one phase. [VA]

    Returns
    -------
    float
        Share; 0.08 is what a set stands for long. [1]

    Raises
    ------
    FormulaError
        If a load is negative, or the rating not positive.

    Examples
    --------
    One phase fully loaded and the others not at all, a third:

    >>> negative_sequence_share(6667.0, 0.0, 0.0, 6667.0)
    0.333

    References
    ----------
    .. [1] Fortescue, C. L., "Method of symmetrical co-ordinates", Transactions of the AIEE 37, 1918.
    .. [2] IEC 60034-1, rotating electrical machines, rating and performance, 7.2.3 (from memory).
    """
    require_not_negative(first=first, second=second, third=third)
    require_positive(rated=rated)
    squares = first**2 + second**2 + third**2 - first * second - second * third - third * first
    return math.sqrt(max(0.0, squares)) / (3.0 * rated)
