"""What the bus bars of a panel may be fed with."""

from __future__ import annotations

from commission.figure import formula
from commission.formulas.ranges import require_one_or_more, require_positive


@formula(expression="bus_bar × factor", unit="A", source="NEC 705.12(B)(3); IEC 61439-1")
def bus_bar_limit(bus_bar: float, factor: float) -> float:
    """Greatest sum of the devices that may feed a bus bar together.

    Parameters
    ----------
    bus_bar
        Rated current of the bus bar. [A]
    factor
        The rule set's factor where the sources stand at opposite ends, else 1. [1]

    Returns
    -------
    float
        Greatest sum of the ratings of the supplying devices. [A]

    Raises
    ------
    FormulaError
        If the rating is not above zero or the factor is below one.

    Examples
    --------
    >>> bus_bar_limit(225.0, 1.2)
    270.0

    References
    ----------
    .. [1] NEC 2020, 705.12(B)(3)(2): 120 % at opposite ends.
    .. [2] IEC 61439-1: not over the rated current of the bus bar.
    """
    require_positive(bus_bar=bus_bar)
    require_one_or_more(factor=factor)
    return bus_bar * factor


@formula(expression="supplies ÷ factor", unit="A", source="NEC 705.12(B)(3), the rule turned round")
def bus_bar_needed(supplies: float, factor: float) -> float:
    """Least rating of a bus bar that given devices may feed together.

    Parameters
    ----------
    supplies
        Sum of the ratings of the supplying devices. [A]
    factor
        The rule set's factor where the sources stand at opposite ends, else 1. [1]

    Returns
    -------
    float
        Least rated current of the bus bar. [A]

    Raises
    ------
    FormulaError
        If the sum is not above zero or the factor is below one.

    Examples
    --------
    >>> bus_bar_needed(240.0, 1.2)
    200.0

    References
    ----------
    .. [1] NEC 2020, 705.12(B)(3)(2), solved for the bus bar.
    """
    require_positive(supplies=supplies)
    require_one_or_more(factor=factor)
    return supplies / factor
