"""Greatest current of a short circuit on the AC side: of a transformer, of a generator, behind a cable."""

from __future__ import annotations

import math

from commission.figure import formula
from commission.formulas.ranges import require_not_negative, require_positive


@formula(
    expression="factor × power ÷ (phases × voltage × impedance)",
    unit="A",
    source="IEC 60909-0 and the textbooks: rated current over short-circuit impedance, the network strong",
)
def transformer_fault_current(
    power: float, phases: float, voltage: float, impedance: float, factor: float
) -> float:
    """Greatest current of a short circuit at the terminals of a transformer on a strong network.

    Parameters
    ----------
    power
        Rating of the transformer. [VA]
    phases
        3 of three phases, else 1. [1]
    voltage
        Voltage from phase to neutral, of a split phase across both legs. [V]
    impedance
        Short-circuit impedance as a share. [1]
    factor
        1; of a split phase 1.5 for a fault from one leg to neutral, which half the winding feeds. [1]

    Returns
    -------
    float
        Current. [A]

    Raises
    ------
    FormulaError
        If a value is not positive.

    Examples
    --------
    A transformer of 400 kVA, 400 V, 4 %:

    >>> transformer_fault_current(400000.0, 3, 230.94, 0.04, 1.0) / 1000
    14.434

    References
    ----------
    .. [1] IEC 60909-0:2016.
    .. [2] Point-to-point method of the fuse makers: 1.5 times from leg to neutral of a centre-tapped winding
       (from memory).
    """
    require_positive(power=power, phases=phases, voltage=voltage, impedance=impedance, factor=factor)
    return factor * power / (phases * voltage * impedance)


@formula(
    expression="current ÷ reactance",
    unit="A",
    source="IEC 60909-0 and IEEE 141: a generator's first current is its rated current over Xd''",
)
def generator_fault_current(current: float, reactance: float) -> float:
    """Alternating part of the first current of a short circuit at a generator's terminals.

    Parameters
    ----------
    current
        Rated current. [A]
    reactance
        Subtransient reactance Xd'' as a share. [1]

    Returns
    -------
    float
        Current. [A]

    Raises
    ------
    FormulaError
        If a value is not positive.

    Examples
    --------
    >>> generator_fault_current(43.48, 0.12)
    362.3

    References
    ----------
    .. [1] IEC 60909-0:2016; IEEE 141-1993, chapter 4 (from memory).
    """
    require_positive(current=current, reactance=reactance)
    return current / reactance


@formula(
    expression="voltage ÷ √((voltage ÷ current)² + resistance²)",
    unit="A",
    source="Ohm's law; the source counted as reactance, the cable as resistance, so that nothing is left out",
)
def current_behind_cable(voltage: float, current: float, resistance: float) -> float:
    """Greatest current of a short circuit at the end of a cable.

    Parameters
    ----------
    voltage
        Voltage that drives the fault. [V]
    current
        Greatest current of the source at its own terminals. [A]
    resistance
        Resistance of the cables between, cold. [Ω]

    Returns
    -------
    float
        Current. [A]

    Raises
    ------
    FormulaError
        If voltage or current is not positive, or the resistance negative.

    Notes
    -----
    Source and cable added as numbers would give less; at right angles they give the most that can be.

    Examples
    --------
    >>> current_behind_cable(230.0, 5000.0, 0.027)
    4312.1

    References
    ----------
    .. [1] Ohm's law with impedances; IEC 60909-0:2016.
    """
    require_positive(voltage=voltage, current=current)
    require_not_negative(resistance=resistance)
    return voltage / math.hypot(voltage / current, resistance)
