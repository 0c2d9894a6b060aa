"""What one leg of an AC source may give to a charger and to the loads that run meanwhile."""

from __future__ import annotations

from commission.figure import formula
from commission.formulas.ranges import (
    require_efficiency,
    require_not_negative,
    require_one_or_more,
    require_positive,
)


@formula(
    expression="rating ÷ legs",
    unit="VA",
    source="two legs of a split-phase set, three phases of a three-phase set: alike by construction",
)
def leg_power(rating: float, legs: float) -> float:
    """Power of one leg or phase of an AC source.

    Parameters
    ----------
    rating
        Power of the whole source; likewise with watts, or with a load spread evenly. [VA]
    legs
        Legs or phases of the source: 1, 2 or 3. [1]

    Returns
    -------
    float
        Power of one of them. [VA]

    Raises
    ------
    FormulaError
        If the rating is negative or there is less than one leg.

    Examples
    --------
    A single-phase charger on a three-phase set gets one third:

    >>> leg_power(10000.0, 3)
    3333.3

    References
    ----------
    .. [1] Construction of split-phase and three-phase sets; definition of apparent power (IEC 60050-131).
    """
    require_not_negative(rating=rating)
    require_one_or_more(legs=legs)
    return rating / legs


@formula(
    expression="load + greatest of 0 and (active − load) ÷ power_factor",
    unit="VA",
    source="power balance; loads counted at power factor 1, on the cautious side",
)
def apparent_budget(active: float, load: float, power_factor: float) -> float:
    """Apparent power that loads and a charger may draw together within a budget of watts.

    Parameters
    ----------
    active
        Watts that may be drawn. [W]
    load
        Loads that run meanwhile. [VA]
    power_factor
        Power factor of the charger. [1]

    Returns
    -------
    float
        Apparent power at which the watts are used up. [VA]

    Raises
    ------
    FormulaError
        If a power is negative or the power factor not in 0 to 1.

    Examples
    --------
    Of 6400 W a load takes 1000 VA, a charger of power factor 0.9 the rest:

    >>> apparent_budget(6400.0, 1000.0, 0.9)
    7000.0

    References
    ----------
    .. [1] Definition of power factor (IEC 60050-131).
    """
    require_not_negative(active=active, load=load)
    require_efficiency(power_factor=power_factor)
    return load + max(0.0, active - load) / power_factor


@formula(expression="current × voltage × legs", unit="VA", source="definition of apparent power")
def drawn_power(current: float, voltage: float, legs: float) -> float:
    """Apparent power that a device draws at a current on each of its legs.

    Parameters
    ----------
    current
        Current on each leg. [A]
    voltage
        Voltage of a leg. [V]
    legs
        Legs from which it draws. [1]

    Returns
    -------
    float
        Apparent power. [VA]

    Raises
    ------
    FormulaError
        If the current is negative, the voltage not above zero or there is less than one leg.

    Examples
    --------
    >>> drawn_power(25.0, 120.0, 2)
    6000.0

    References
    ----------
    .. [1] Definition of apparent power (IEC 60050-131).
    """
    require_not_negative(current=current)
    require_positive(voltage=voltage)
    require_one_or_more(legs=legs)
    return current * voltage * legs
