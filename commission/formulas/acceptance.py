"""Limits by which a bank is taken over and later kept: joints, ohmic values, spreads, joined strings."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from commission.errors import FormulaError
from commission.figure import formula
from commission.formulas.ranges import (
    require_finite,
    require_not_negative,
    require_one_or_more,
    require_positive,
)

OHMIC_STEPS: Final = ((0.20, "watch"), (0.30, "investigate"), (0.50, "replace"))
"""Rise of a sealed block's ohmic value over its baseline, and what to do (makers' sheets; IEEE 1188)."""
GRAVITY_STEPS: Final = ((0.015, "watch"), (0.030, "equalise"), (0.050, "replace"))
"""Spread of gravity over a bank in kg/L, and what to do (US Army TM 5-3740-214-14 and dealers' practice)."""
EQUALIZE_BELOW: Final = 2.13
"""Float voltage of a cell of 1.215 kg/L under which it is equalised at once, in V (IEEE 450-1987, 4.4)."""
SERVICE_RISE: Final = 0.20
"""Rise of a joint's resistance over its baseline at which it is remade (IEEE 450 and 1188)."""
JOINT_SPREAD: Final = 0.50
"""Highest joint over the lowest, as a share of it, above which it is looked into (ANSI/NETA ATS 7.18.1)."""


def step_reached(value: float, steps: Sequence[tuple[float, str]]) -> str:
    """Return the action of the highest step that a value has passed; empty below the first.

    Exactly on a limit counts as inside it.
    """
    passed = [action for limit, action in sorted(steps) if value > limit]
    return passed[-1] if passed else ""


@formula(
    expression="greater of 1.1 × mean and (mean + 0.000005)",
    unit="Ω",
    source="a stationary maker's sheet: mean + 10 % or + 5 µΩ, whichever is greater",
)
def connection_resistance_limit(mean: float) -> float:
    """Highest resistance of a new joint beside its like.

    Parameters
    ----------
    mean
        Mean over the joints of the same kind. [Ω]

    Returns
    -------
    float
        Limit; a joint above it is remade. [Ω]

    Raises
    ------
    FormulaError
        If the mean is not positive.

    Examples
    --------
    >>> connection_resistance_limit(70e-6) * 1e6
    77.0

    References
    ----------
    .. [1] Installation sheet of a maker of stationary batteries.
    """
    require_positive(mean=mean)
    return max(1.1 * mean, mean + 5e-6)


@formula(
    expression="(reading − baseline) ÷ baseline",
    unit="1",
    source="IEEE 450 and 1188: readings are compared with the baseline",
)
def rise_over_baseline(reading: float, baseline: float) -> float:
    """Rise of a resistance since the baseline was taken.

    Parameters
    ----------
    reading
        Resistance of a joint, or ohmic value of a block. [Ω]
    baseline
        The same of the baseline, by the same meter at like temperature and charge. [Ω]

    Returns
    -------
    float
        Rise as a share of the baseline; negative where it fell. [1]

    Raises
    ------
    FormulaError
        If a value is not positive.

    Examples
    --------
    >>> rise_over_baseline(40e-6, 32e-6)
    0.25

    References
    ----------
    .. [1] IEEE 450 and IEEE 1188, connection resistance and internal ohmic values.
    """
    require_positive(reading=reading, baseline=baseline)
    return reading / baseline - 1.0


@formula(
    expression="baseline × (1 + rise)", unit="Ω", source="IEEE 450 and 1188: baseline + 20 % for a joint"
)
def resistance_limit(baseline: float, rise: float) -> float:
    """Resistance at which a rise over the baseline is used up.

    Parameters
    ----------
    baseline
        Resistance of the baseline. [Ω]
    rise
        Rise that is allowed: 0.20 for a joint in service. [1]

    Returns
    -------
    float
        Limit. [Ω]

    Raises
    ------
    FormulaError
        If the baseline is not positive, or the rise is negative.

    Examples
    --------
    >>> resistance_limit(32e-6, 0.20) * 1e6
    38.4

    References
    ----------
    .. [1] IEEE 450 and IEEE 1188, connection resistance.
    """
    require_positive(baseline=baseline)
    require_not_negative(rise=rise)
    return baseline * (1.0 + rise)


@formula(
    expression="(highest − lowest) ÷ lowest",
    unit="1",
    source="ANSI/NETA ATS 7.18.1, 50 % above the lowest",
)
def highest_over_lowest(highest: float, lowest: float) -> float:
    """Distance of the highest of like joints from the lowest.

    Parameters
    ----------
    highest
        Highest resistance. [Ω]
    lowest
        Lowest resistance. [Ω]

    Returns
    -------
    float
        Distance as a share of the lowest. [1]

    Raises
    ------
    FormulaError
        If a value is not positive, or ``highest`` is under ``lowest``.

    Examples
    --------
    >>> highest_over_lowest(31e-6, 20e-6)
    0.55

    References
    ----------
    .. [1] ANSI/NETA ATS, section 7.18.1, connections of batteries.
    """
    require_positive(highest=highest, lowest=lowest)
    if highest < lowest:
        raise FormulaError(f"highest = {highest}: must not be under the lowest, {lowest} Ω")
    return highest / lowest - 1.0


@formula(
    expression="deviation × √cells",
    unit="V",
    source="ZVEI leaflet practice, square-root rule; from memory",
)
def float_deviation_limit(deviation: float, cells: float) -> float:
    """Deviation from the mean that a block on float may show.

    Parameters
    ----------
    deviation
        The same of a single cell; vented +0.10 and −0.05 V, sealed +0.20 and −0.10 V. [V]
    cells
        Cells of the block. [1]

    Returns
    -------
    float
        Deviation that a block may show, with the sign of the cell's. [V]

    Raises
    ------
    FormulaError
        If ``cells`` is less than one, or ``deviation`` is not a finite number.

    Examples
    --------
    A sealed block of 12 V below the mean:

    >>> float_deviation_limit(-0.10, 6)
    -0.245

    References
    ----------
    .. [1] ZVEI leaflets on stationary lead-acid batteries, float voltage of blocks (from memory).
    """
    require_finite(deviation=deviation)
    require_one_or_more(cells=cells)
    return deviation * math.sqrt(cells)


@formula(expression="(value − mean) ÷ mean", unit="1", source="definition")
def deviation_from_mean(value: float, mean: float) -> float:
    """Deviation of one string's current, or one cell's voltage, from the mean of its like.

    Parameters
    ----------
    value
        Current or voltage of the one. [unit of mean]
    mean
        Mean of all. [unit of mean]

    Returns
    -------
    float
        Deviation as a share of the mean. [1]

    Raises
    ------
    FormulaError
        If ``value`` is not a finite number, or the mean is zero.

    Examples
    --------
    >>> deviation_from_mean(27.0, 30.0)
    -0.10

    References
    ----------
    .. [1] Definition.
    """
    require_finite(value=value, mean=mean)
    if mean == 0.0:
        raise FormulaError("mean = 0: nothing deviates from nothing; the strings must carry current")
    return (value - mean) / mean


@formula(expression="share × nominal_voltage", unit="V", source="common practice: 0.5 % of nominal for lead")
def voltage_match_limit(share: float, nominal_voltage: float) -> float:
    """Difference of voltage up to which strings may be joined.

    Parameters
    ----------
    share
        Difference allowed as a share of the nominal voltage: 0.005 for lead. [1]
    nominal_voltage
        Nominal voltage of the bank. [V]

    Returns
    -------
    float
        Difference allowed. [V]

    Raises
    ------
    FormulaError
        If a value is not positive.

    Examples
    --------
    >>> voltage_match_limit(0.005, 48.0)
    0.24

    References
    ----------
    .. [1] Common practice; no published source.
    """
    require_positive(share=share, nominal_voltage=nominal_voltage)
    return share * nominal_voltage


@formula(expression="difference ÷ resistance", unit="A", source="Ohm's law; from memory")
def joining_current(difference: float, resistance: float) -> float:
    """Balancing current that flows when a string is joined to others.

    Parameters
    ----------
    difference
        Difference of the two voltages before, without sign. [V]
    resistance
        Resistance of the whole loop: both strings and their leads. [Ω]

    Returns
    -------
    float
        Current at the first moment; it must stay under the string's limit and fuse. [A]

    Raises
    ------
    FormulaError
        If the difference is negative, or the resistance is not positive.

    Examples
    --------
    >>> joining_current(0.9, 0.026)
    34.6

    References
    ----------
    .. [1] Ohm's law.
    """
    require_not_negative(difference=difference)
    require_positive(resistance=resistance)
    return difference / resistance
