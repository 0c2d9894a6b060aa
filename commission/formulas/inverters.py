"""Inverters and their loads: what is left of a rating, what loads ask for, how legs share them."""

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

ALTITUDE_START: Final = 2000.0
"""Altitude in m up to which an inverter that tells no derating keeps its rating (from memory)."""
ALTITUDE_LOSS: Final = 0.01
"""Share of the rating that is lost for each 100 m above it (from memory)."""


@formula(
    expression="1 − 0.01 × (altitude − 2000) ÷ 100, at most 1",
    unit="1",
    source="from memory: 1 % for each 100 m above 2000 m where the maker tells nothing",
)
def altitude_factor(altitude: float) -> float:
    """Share of an inverter's rating that is left at an altitude, where its maker tells nothing.

    Parameters
    ----------
    altitude
        Altitude above sea level. [m]

    Returns
    -------
    float
        Share that is left. [1]

    Raises
    ------
    FormulaError
        If the altitude is not finite, or so high that nothing is left.

    Examples
    --------
    >>> altitude_factor(3200.0)
    0.88

    References
    ----------
    .. [1] Thin air cools less; from memory. The maker's own rows go first.
    """
    require_finite(altitude=altitude)
    left = 1.0 - ALTITUDE_LOSS * max(0.0, altitude - ALTITUDE_START) / 100.0
    if left <= 0.0:
        raise FormulaError(f"altitude = {altitude:g} m: nothing of the rating is left by this rule")
    return left


@formula(
    expression="rating × by_temperature × by_altitude",
    unit="VA",
    source="makers' derating tables; factors multiply, common practice",
)
def derated_output(rating: float, by_temperature: float, by_altitude: float) -> float:
    """Power that an inverter gives for long in the air of its place.

    Parameters
    ----------
    rating
        Continuous rating. [VA]
    by_temperature
        Share that the temperature of the air leaves. [1]
    by_altitude
        Share that the altitude leaves. [1]

    Returns
    -------
    float
        Power for long. [VA]

    Raises
    ------
    FormulaError
        If the rating is negative, or a factor no share.

    Examples
    --------
    8 kVA at 90 °F and 7900 ft:

    >>> derated_output(8000.0, 0.928, 0.959)
    7119.6

    References
    ----------
    .. [1] Common practice.
    """
    require_not_negative(rating=rating)
    require_share(by_temperature=by_temperature, by_altitude=by_altitude)
    return rating * by_temperature * by_altitude


@formula(
    expression="load − direct, not under 0",
    unit="W",
    source="conservation of energy",
)
def alternating_part(load: float, direct: float) -> float:
    """Part of the whole load that runs through the inverters.

    Parameters
    ----------
    load
        Load of the whole plant. [W]
    direct
        DC loads that run with it for sure. [W]

    Returns
    -------
    float
        Load on the AC side. [W]

    Raises
    ------
    FormulaError
        If a load is negative.

    Examples
    --------
    >>> alternating_part(1800.0, 600.0)
    1200.0

    References
    ----------
    .. [1] Conservation of energy.
    """
    require_not_negative(load=load, direct=direct)
    return max(0.0, load - direct)


@formula(
    expression="power ÷ apparent, at most 1",
    unit="1",
    source="IEC 60050-131, 131-11-46: definition of the power factor",
)
def mean_power_factor(power: float, apparent: float) -> float:
    """Power factor of several loads together.

    Their apparent powers are added as numbers, which is never less than what really flows.

    Parameters
    ----------
    power
        Sum of their powers. [W]
    apparent
        Sum of their apparent powers. [VA]

    Returns
    -------
    float
        Power factor. [1]

    Raises
    ------
    FormulaError
        If a sum is not above zero.

    Examples
    --------
    >>> mean_power_factor(3800.0, 4111.0)
    0.92435

    References
    ----------
    .. [1] IEC 60050-131, 131-11-46.
    """
    require_positive(power=power, apparent=apparent)
    return min(1.0, power / apparent)


@formula(
    expression="multiple × running",
    unit="VA",
    source="from memory: locked-rotor current of small motors, 6 to 8 times the rated one",
)
def greatest_start(running: float, multiple: float) -> float:
    """Power that a load of an untold start can ask for at most when it starts.

    Parameters
    ----------
    running
        Apparent power once it runs. [VA]
    multiple
        Start over running, at most. [1]

    Returns
    -------
    float
        Power at start. [VA]

    Raises
    ------
    FormulaError
        If an input is negative.

    Examples
    --------
    >>> greatest_start(126.0, 8.0)
    1008.0

    References
    ----------
    .. [1] Code letters for locked rotors in NEMA MG 1; design N in IEC 60034-12 (from memory).
    """
    require_not_negative(running=running, multiple=multiple)
    return multiple * running


@formula(
    expression="alternating ÷ efficiency + direct",
    unit="W",
    source="conservation of energy; UFC 3-520-01 (2002), appendix E",
)
def bank_load(alternating: float, efficiency: float, direct: float) -> float:
    """Power that the loads of both sides take from the bank.

    Parameters
    ----------
    alternating
        Load of the inverters. [W]
    efficiency
        Efficiency of the inverters at that load. [1]
    direct
        DC loads that run beside it. [W]

    Returns
    -------
    float
        Power out of the bank. [W]

    Raises
    ------
    FormulaError
        If a load is negative, or the efficiency not greater than 0 and at most 1.

    Examples
    --------
    >>> bank_load(1200.0, 0.94, 600.0)
    1876.6

    References
    ----------
    .. [1] UFC 3-520-01, "Interior electrical systems", 2002, appendix E.
    """
    require_not_negative(alternating=alternating, direct=direct)
    require_efficiency(efficiency=efficiency)
    return alternating / efficiency + direct


@formula(
    expression="greatest |load − mean| of loads ÷ mean of loads",
    unit="1",
    source="NEMA MG 1 14.36: greatest deviation from the average; common practice",
)
def phase_imbalance(loads: Sequence[float]) -> float:
    """Imbalance of the loads on two legs or three phases.

    For two legs it is the difference of the two over their sum.

    Parameters
    ----------
    loads
        Load of each leg or phase. [W]

    Returns
    -------
    float
        Greatest deviation from their mean, as a share of it. [1]

    Raises
    ------
    FormulaError
        If there are fewer than two, one is negative, or all are zero.

    Examples
    --------
    >>> phase_imbalance([2600.0, 2100.0, 1200.0])
    0.3898

    References
    ----------
    .. [1] NEMA MG 1, 14.36, where it is told of voltages (from memory).
    """
    if len(loads) < 2:
        raise FormulaError("loads: at least two legs are compared")
    for load in loads:
        require_not_negative(loads=load)
    mean = math.fsum(loads) / len(loads)
    require_positive(mean_of_the_legs=mean)
    return max(abs(load - mean) for load in loads) / mean
