"""Legs, neutrals and inverters in parallel: phasor sums, shares and what a lost neutral does."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from commission.errors import FormulaError
from commission.figure import formula
from commission.formulas.ranges import require_finite, require_not_negative, require_positive


@dataclass(frozen=True, slots=True)
class SynchronisingLimits:
    """Greatest differences between two sources that may be joined."""

    frequency: float
    """Difference of the frequencies in Hz."""
    voltage: float
    """Difference of the voltages as a share."""
    angle: float
    """Difference of the phase angles in degrees."""


SYNCHRONISING_LIMITS: Final[dict[str, SynchronisingLimits]] = {
    "up to 500 kVA": SynchronisingLimits(0.3, 0.10, 20.0),
    "500 to 1500 kVA": SynchronisingLimits(0.2, 0.05, 15.0),
    "above 1500 kVA": SynchronisingLimits(0.1, 0.03, 10.0),
}
"""Limits by size of the plant (IEEE 1547-2018, table 5; from memory)."""


def _phasor(first: float, second: float, angle: float, sign: float) -> float:
    """Return the length of the sum (sign +1) or difference (−1) of two phasors."""
    square = first**2 + second**2 + sign * 2.0 * first * second * math.cos(math.radians(angle))
    return math.sqrt(max(0.0, square))


@formula(
    expression="√(first² + second² − 2 × first × second × cos(angle))",
    unit="V",
    source="phasors; from memory",
)
def line_to_line_voltage(first: float, second: float, angle: float) -> float:
    """Voltage between two legs or phases.

    Parameters
    ----------
    first
        Voltage of one leg to neutral. [V]
    second
        Voltage of the other leg to neutral. [V]
    angle
        Angle between them: 180 split phase, 120 three-phase, 0 an error. [°]

    Returns
    -------
    float
        Voltage between the legs. [V]

    Raises
    ------
    FormulaError
        If a voltage is negative.

    Examples
    --------
    >>> line_to_line_voltage(230.0, 230.0, 120.0)
    398.37

    References
    ----------
    .. [1] Law of cosines for phasors.
    """
    require_not_negative(first=first, second=second)
    require_finite(angle=angle)
    return _phasor(first, second, angle, -1.0)


@formula(expression="2 × voltage × |sin(angle ÷ 2)|", unit="V", source="phasors; from memory")
def contact_voltage(voltage: float, angle: float) -> float:
    """Voltage across an open contact between two sources of equal voltage.

    Parameters
    ----------
    voltage
        Voltage of each source to neutral. [V]
    angle
        Angle between the sources. [°]

    Returns
    -------
    float
        Voltage across the contact; below 5 V before it is closed. [V]

    Raises
    ------
    FormulaError
        If the voltage is negative.

    Examples
    --------
    >>> contact_voltage(120.0, 10.0)
    20.92

    References
    ----------
    .. [1] Difference of two phasors of equal length.
    """
    require_not_negative(voltage=voltage)
    require_finite(angle=angle)
    return 2.0 * voltage * abs(math.sin(math.radians(angle) / 2.0))


@formula(
    expression="√(first² + second² + 2 × first × second × cos(angle))",
    unit="A",
    source="phasors; from memory",
)
def neutral_current(first: float, second: float, angle: float) -> float:
    """Neutral current of two legs.

    Parameters
    ----------
    first
        Current of one leg. [A]
    second
        Current of the other leg. [A]
    angle
        Angle between the two currents: 180 in split phase with like loads, 0 if both legs are in phase. [°]

    Returns
    -------
    float
        Current in the neutral. [A]

    Raises
    ------
    FormulaError
        If a current is negative.

    Examples
    --------
    Both legs wrongly in phase: the neutral carries their sum.

    >>> neutral_current(30.0, 18.0, 0.0)
    48.0

    References
    ----------
    .. [1] Sum of two phasors; NEC 690.10(C), 710.15(C) forbid multiwire circuits on a single 120 V source.
    """
    require_not_negative(first=first, second=second)
    require_finite(angle=angle)
    return _phasor(first, second, angle, 1.0)


@formula(
    expression="line_voltage × resistance ÷ (resistance + other_resistance + conductors)",
    unit="V",
    source="series divider; from memory",
)
def lost_neutral_voltage(
    line_voltage: float, resistance: float, *, other_resistance: float, conductors: float
) -> float:
    """Voltage at the loads of one leg once the neutral is lost.

    Parameters
    ----------
    line_voltage
        Voltage between the legs. [V]
    resistance
        Resistance of the loads on this leg. [Ω]
    other_resistance
        Resistance of the loads on the other leg. [Ω]
    conductors
        Resistance of both line conductors together; 0 to leave it out. [Ω]

    Returns
    -------
    float
        Voltage at this leg's loads; the leg with the lighter load rises. [V]

    Raises
    ------
    FormulaError
        If a load's resistance is not above zero or another input negative.

    Examples
    --------
    >>> lost_neutral_voltage(240.0, 30.0, other_resistance=10.0, conductors=0.0)
    180.0

    References
    ----------
    .. [1] Two resistances in series.
    """
    require_not_negative(line_voltage=line_voltage, conductors=conductors)
    require_positive(resistance=resistance, other_resistance=other_resistance)
    return line_voltage * resistance / (resistance + other_resistance + conductors)


@formula(
    expression="voltage × (b + 2 × neutral) ÷ (a × b + neutral × (a + b)),"
    " a = resistance + line, b = other_resistance + line",
    unit="A",
    source="Kirchhoff's laws, two meshes with a common neutral",
)
def three_wire_leg_current(
    voltage: float, resistance: float, *, other_resistance: float, line: float, neutral: float
) -> float:
    """Leg current of a three-wire circuit with resistive loads on both legs.

    Parameters
    ----------
    voltage
        Voltage of each leg at the source, the two in opposite phase. [V]
    resistance
        Resistance of the loads on this leg. [Ω]
    other_resistance
        Resistance of the loads on the other leg. [Ω]
    line
        Resistance of each line conductor. [Ω]
    neutral
        Resistance of the neutral. [Ω]

    Returns
    -------
    float
        Current of this leg; times ``resistance`` the voltage at its loads. [A]

    Raises
    ------
    FormulaError
        If a load's resistance is not above zero or another input negative.

    Examples
    --------
    2 Ω against 6 Ω on conductors of 0.05 Ω, as voltage at the 2 Ω:

    >>> 2.0 * three_wire_leg_current(120.0, 2.0, other_resistance=6.0, line=0.05, neutral=0.05)
    115.245

    References
    ----------
    .. [1] Kirchhoff's laws.
    """
    require_not_negative(voltage=voltage, line=line, neutral=neutral)
    require_positive(resistance=resistance, other_resistance=other_resistance)
    own, other = resistance + line, other_resistance + line
    return voltage * (other + 2.0 * neutral) / (own * other + neutral * (own + other))


@formula(
    expression="resistance × (2 × current − other_current)", unit="V", source="Kirchhoff's laws; from memory"
)
def leg_drop(resistance: float, current: float, other_current: float) -> float:
    """Voltage drop of one leg of a three-wire circuit, in its line and in the neutral.

    Parameters
    ----------
    resistance
        Resistance of one conductor, one way; line and neutral alike. [Ω]
    current
        Current of this leg. [A]
    other_current
        Current of the other leg, of equal power factor. [A]

    Returns
    -------
    float
        Voltage drop; negative where the other leg lifts this one. [V]

    Raises
    ------
    FormulaError
        If an input is negative.

    Examples
    --------
    The light leg rises:

    >>> leg_drop(0.05, 20.0, 60.0)
    -1.0

    References
    ----------
    .. [1] Kirchhoff's laws: the neutral carries the difference.
    """
    require_not_negative(resistance=resistance, current=current, other_current=other_current)
    return resistance * (2.0 * current - other_current)


@formula(expression="|first − second| ÷ (first + second)", unit="1", source="common practice")
def leg_imbalance(first: float, second: float) -> float:
    """Imbalance of the load on two legs.

    Parameters
    ----------
    first
        Load of one leg. [W]
    second
        Load of the other leg. [W]

    Returns
    -------
    float
        Share by which each leg differs from their mean. [1]

    Raises
    ------
    FormulaError
        If a load is negative or both are zero.

    Examples
    --------
    >>> leg_imbalance(4800.0, 1200.0)
    0.6

    References
    ----------
    .. [1] Common practice; no standard for stand-alone split phase.
    """
    require_not_negative(first=first, second=second)
    require_positive(sum_of_both=first + second)
    return abs(first - second) / (first + second)


@formula(expression="current ÷ mean(currents) − 1", unit="1", source="common practice")
def share_deviation(current: float, currents: Sequence[float]) -> float:
    """Deviation of one of several parallel units from their mean.

    Parameters
    ----------
    current
        Current of the unit in question. [A]
    currents
        Currents of all units, that one among them. [A]

    Returns
    -------
    float
        Signed share of the mean; 0.1 is 10 % high. [1]

    Raises
    ------
    FormulaError
        If there are fewer than two, their mean is not above zero or ``current`` is not one of them.

    Examples
    --------
    >>> share_deviation(22.0, [22.0, 17.5])
    0.1139

    References
    ----------
    .. [1] Common practice: within 10 % of the mean above half load.
    """
    if len(currents) < 2:
        raise FormulaError("currents: at least two units are compared")
    for each in currents:
        require_finite(currents=each)
    if not any(math.isclose(current, each) for each in currents):
        raise FormulaError(f"current = {current} A: must be one of the currents compared")
    mean = math.fsum(currents) / len(currents)
    require_positive(mean=mean)
    return current / mean - 1.0


@formula(expression="difference ÷ (impedance + other_impedance)", unit="A", source="Ohm's law; from memory")
def circulating_current(difference: float, impedance: float, other_impedance: float) -> float:
    """Circulating current of two units in parallel without load.

    Parameters
    ----------
    difference
        Difference of their voltages. [V]
    impedance
        Impedance of one unit with its cable. [Ω]
    other_impedance
        Impedance of the other. [Ω]

    Returns
    -------
    float
        Circulating current. [A]

    Raises
    ------
    FormulaError
        If the difference is not finite or an impedance not above zero.

    Examples
    --------
    >>> circulating_current(1.0, 0.02, 0.02)
    25.0

    References
    ----------
    .. [1] Ohm's law.
    """
    require_finite(difference=difference)
    require_positive(impedance=impedance, other_impedance=other_impedance)
    return difference / (impedance + other_impedance)


def may_be_joined(
    *, frequency_difference: float, voltage_difference: float, angle: float, limits: SynchronisingLimits
) -> bool:
    """Say whether two sources lie within the synchronising limits; exactly on a limit counts as inside."""
    require_finite(
        frequency_difference=frequency_difference, voltage_difference=voltage_difference, angle=angle
    )
    return (
        abs(frequency_difference) <= limits.frequency
        and abs(voltage_difference) <= limits.voltage
        and abs(angle) <= limits.angle
    )
