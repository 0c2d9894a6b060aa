"""Edges of expected bands, differences, and the middle of like readings."""

from __future__ import annotations

import statistics
from collections.abc import Sequence

from commission.errors import FormulaError
from commission.figure import formula
from commission.formulas.ranges import require_finite, require_not_negative


@formula(expression="nominal − half_width", unit="", source="definition")
def band_low(nominal: float, half_width: float) -> float:
    """Lower edge of an expected band.

    Parameters
    ----------
    nominal
        Middle of the band. [unit of the reading]
    half_width
        Distance to either edge, in the unit of the middle. [unit of the reading]

    Returns
    -------
    float
        Lower edge. [unit of the reading]

    Raises
    ------
    FormulaError
        If the half-width is negative, or a value is not a finite number.

    Examples
    --------
    >>> band_low(230.0, 4.6)
    225.4

    References
    ----------
    .. [1] Definition.
    """
    require_finite(nominal=nominal)
    require_not_negative(half_width=half_width)
    return nominal - half_width


@formula(expression="nominal + half_width", unit="", source="definition")
def band_high(nominal: float, half_width: float) -> float:
    """Upper edge of an expected band.

    Parameters
    ----------
    nominal
        Middle of the band. [unit of the reading]
    half_width
        Distance to either edge, in the unit of the middle. [unit of the reading]

    Returns
    -------
    float
        Upper edge. [unit of the reading]

    Raises
    ------
    FormulaError
        If the half-width is negative, or a value is not a finite number.

    Examples
    --------
    >>> band_high(230.0, 4.6)
    234.6

    References
    ----------
    .. [1] Definition.
    """
    require_finite(nominal=nominal)
    require_not_negative(half_width=half_width)
    return nominal + half_width


@formula(expression="share × value", unit="", source="definition")
def share_of(value: float, share: float) -> float:
    """Part of a value, as a tolerance that is given as a share.

    Parameters
    ----------
    value
        The whole. [unit of the reading]
    share
        Share of it; 0.05 is 5 %. [1]

    Returns
    -------
    float
        The part, in the unit of the whole. [unit of the reading]

    Raises
    ------
    FormulaError
        If the share is negative, or a value is not a finite number.

    Examples
    --------
    >>> share_of(120.0, 0.02)
    2.4

    References
    ----------
    .. [1] Definition.
    """
    require_finite(value=value)
    require_not_negative(share=share)
    return share * value


@formula(expression="first − second", unit="", source="definition")
def difference(first: float, second: float) -> float:
    """Difference of two readings or of a reading and what it is compared with.

    Parameters
    ----------
    first
        The one. [unit of the reading]
    second
        The other, in the same unit. [unit of the reading]

    Returns
    -------
    float
        How far the first lies over the second; negative where under. [unit of the reading]

    Raises
    ------
    FormulaError
        If a value is not a finite number.

    Examples
    --------
    >>> difference(12.74, 12.81)
    -0.07

    References
    ----------
    .. [1] Definition.
    """
    require_finite(first=first, second=second)
    return first - second


@formula(
    expression="middle of values, of an even count the mean of the two in the middle",
    unit="",
    source="definition",
)
def median_of(values: Sequence[float]) -> float:
    """Middle of like readings, which one odd reading hardly moves.

    Parameters
    ----------
    values
        Readings of one unit. [unit of the reading]

    Returns
    -------
    float
        The median. [unit of the reading]

    Raises
    ------
    FormulaError
        If there is no value, or one is not a finite number.

    Examples
    --------
    >>> median_of([2.14, 2.13, 1.98, 2.14])
    2.135

    References
    ----------
    .. [1] Definition.
    """
    if not values:
        raise FormulaError("values: at least one reading is needed")
    for value in values:
        require_finite(value=value)
    return statistics.median(values)


@formula(expression="factor × value", unit="", source="SI prefixes")
def in_other_unit(value: float, factor: float) -> float:
    """Value in another unit of its kind: volts as millivolts, ohms as megohms.

    Parameters
    ----------
    value
        Value in its own unit. [unit of the reading]
    factor
        How many of the other unit make one of its own. [1]

    Returns
    -------
    float
        Value in the other unit. [unit of the reading]

    Raises
    ------
    FormulaError
        If a value is not a finite number.

    Examples
    --------
    >>> in_other_unit(0.0784, 1000.0)
    78.4

    References
    ----------
    .. [1] BIPM, The International System of Units, 9th edition, section 3.
    """
    require_finite(value=value, factor=factor)
    return factor * value


@formula(expression="sum of values ÷ their count", unit="", source="definition")
def mean_of(values: Sequence[float]) -> float:
    """Mean of like readings.

    Parameters
    ----------
    values
        Readings of one unit. [unit of the reading]

    Returns
    -------
    float
        The mean. [unit of the reading]

    Raises
    ------
    FormulaError
        If there is no value, or one is not a finite number.

    Examples
    --------
    >>> mean_of([412.0, 409.0, 388.0])
    403.0

    References
    ----------
    .. [1] Definition.
    """
    if not values:
        raise FormulaError("values: at least one reading is needed")
    for value in values:
        require_finite(value=value)
    return statistics.fmean(values)


@formula(expression="|value|", unit="", source="definition")
def magnitude(value: float) -> float:
    """Size of a reading without its sign.

    Parameters
    ----------
    value
        Reading with its sign. [unit of the reading]

    Returns
    -------
    float
        The same without sign. [unit of the reading]

    Raises
    ------
    FormulaError
        If the value is not a finite number.

    Examples
    --------
    >>> magnitude(-96.4)
    96.4

    References
    ----------
    .. [1] Definition.
    """
    require_finite(value=value)
    return abs(value)
