"""Windows of voltage and frequency within which an AC source is accepted."""

from __future__ import annotations

from commission.errors import FormulaError
from commission.figure import formula
from commission.formulas.ranges import require_finite, require_positive


@formula(expression="nominal × share", unit="V", source="definition of a share of nominal")
def window_voltage(nominal: float, share: float) -> float:
    """Edge of the voltage window of an AC source.

    Parameters
    ----------
    nominal
        Nominal voltage. [V]
    share
        Edge of the window as a share of it. [1]

    Returns
    -------
    float
        Voltage of the edge. [V]

    Raises
    ------
    FormulaError
        If the voltage or the share is not above zero.

    Examples
    --------
    15 % under 230 V:

    >>> window_voltage(230.0, 0.85)
    195.5

    References
    ----------
    .. [1] Definition; the shares are common practice or the rule set's.
    """
    require_positive(nominal=nominal, share=share)
    return nominal * share


@formula(expression="frequency + by", unit="Hz", source="definition")
def window_frequency(frequency: float, by: float) -> float:
    """Edge of the frequency window of an AC source.

    Parameters
    ----------
    frequency
        Frequency from which the edge is counted: nominal, or that of a set without load. [Hz]
    by
        Distance of the edge; negative for the lower one. [Hz]

    Returns
    -------
    float
        Frequency of the edge. [Hz]

    Raises
    ------
    FormulaError
        If the frequency is not above zero, the distance no finite number, or the edge not above zero.

    Examples
    --------
    >>> window_frequency(60.0, -5.0)
    55.0

    References
    ----------
    .. [1] Definition; the distances are common practice or the rule set's.
    """
    require_positive(frequency=frequency)
    require_finite(by=by)
    if frequency + by <= 0.0:
        raise FormulaError(f"by = {by} Hz: the edge of a window about {frequency:g} Hz is above zero")
    return frequency + by
