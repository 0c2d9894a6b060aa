"""The window in which an islanded inverter shifts its frequency to throttle AC-coupled PV."""

from __future__ import annotations

from commission.figure import formula
from commission.formulas.ranges import require_not_negative, require_positive


@formula(
    expression="frequency + by",
    unit="Hz",
    source="common practice: start at most 0.2 Hz over nominal, end 0.3 Hz over the fast trip",
)
def frequency_above(frequency: float, by: float) -> float:
    """Frequency a distance above another.

    Parameters
    ----------
    frequency
        Nominal frequency, or a trip of the PV inverter. [Hz]
    by
        Distance. [Hz]

    Returns
    -------
    float
        Frequency. [Hz]

    Raises
    ------
    FormulaError
        If the frequency is not positive, or the distance negative.

    Examples
    --------
    End of the shift over a fast trip at 62.0 Hz:

    >>> frequency_above(62.0, 0.3)
    62.3

    References
    ----------
    .. [1] Common practice; no published source.
    """
    require_positive(frequency=frequency)
    require_not_negative(by=by)
    return frequency + by


@formula(
    expression="frequency − by",
    unit="Hz",
    source="common practice: a fast trip lies 0.3 Hz under the end of the shift",
)
def frequency_below(frequency: float, by: float) -> float:
    """Frequency a distance below another.

    Parameters
    ----------
    frequency
        End of the shift, or the highest that a load stands. [Hz]
    by
        Distance. [Hz]

    Returns
    -------
    float
        Frequency. [Hz]

    Raises
    ------
    FormulaError
        If the frequency is not positive, or the distance negative.

    Examples
    --------
    Trip wanted where the shift cannot end above 51.5 Hz:

    >>> frequency_below(51.5, 0.3)
    51.2

    References
    ----------
    .. [1] Common practice; no published source.
    """
    require_positive(frequency=frequency)
    require_not_negative(by=by)
    return frequency - by
