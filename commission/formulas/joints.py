"""Bolted joints: torque, the warmth of a joint under load and what it says."""

from __future__ import annotations

from typing import Final, Literal, TypeAlias

from commission.errors import FormulaError
from commission.figure import formula
from commission.formulas.ranges import require_finite, require_not_negative, require_positive, require_share

POUND_INCH: Final = 0.112984829
"""One pound-force inch in N·m (NIST SP 811, appendix B)."""

LEAST_LOAD_SHARE: Final = 0.4
"""Share of the full current below which a rise is not scaled up (NFPA 70B; from memory)."""

JointClass: TypeAlias = Literal[
    "no deficiency seen",
    "possible deficiency",
    "probable deficiency",
    "deficiency to be watched until mended",
    "major deficiency",
]
"""Classes of a joint by its warmth."""

# Greatest rise in K of each class; what lies between two printed steps goes to the worse class.
_LIKE: Final[tuple[tuple[float, JointClass], ...]] = (
    (3.0, "possible deficiency"),
    (15.0, "probable deficiency"),
)
_AMBIENT: Final[tuple[tuple[float, JointClass], ...]] = (
    (10.0, "possible deficiency"),
    (20.0, "probable deficiency"),
    (40.0, "deficiency to be watched until mended"),
)


@formula(expression="torque × (1 − tolerance)", unit="N·m", source="ISO 6789-1:2017; from memory")
def torque_low(torque: float, tolerance: float) -> float:
    """Least torque that a tool may have given.

    Parameters
    ----------
    torque
        Torque that was set. [N·m]
    tolerance
        Tolerance of the tool's class; 0.04. [1]

    Returns
    -------
    float
        Least torque. [N·m]

    Raises
    ------
    FormulaError
        If the torque is negative or the tolerance not between 0 and 1.

    Examples
    --------
    >>> torque_low(12.0, 0.04)
    11.52

    References
    ----------
    .. [1] ISO 6789-1:2017, hand torque tools (from memory).
    """
    require_not_negative(torque=torque)
    require_share(tolerance=tolerance)
    return torque * (1.0 - tolerance)


@formula(expression="torque × (1 + tolerance)", unit="N·m", source="ISO 6789-1:2017; from memory")
def torque_high(torque: float, tolerance: float) -> float:
    """Greatest torque that a tool may have given.

    Parameters
    ----------
    torque
        Torque that was set. [N·m]
    tolerance
        Tolerance of the tool's class; 0.04. [1]

    Returns
    -------
    float
        Greatest torque. [N·m]

    Raises
    ------
    FormulaError
        If the torque is negative or the tolerance not between 0 and 1.

    Examples
    --------
    >>> torque_high(12.0, 0.04)
    12.48

    References
    ----------
    .. [1] ISO 6789-1:2017, hand torque tools (from memory).
    """
    require_not_negative(torque=torque)
    require_share(tolerance=tolerance)
    return torque * (1.0 + tolerance)


@formula(expression="torque ÷ 0.112984829", unit="lb·in", source="NIST SP 811, appendix B")
def torque_in_pound_inches(torque: float) -> float:
    """Torque in pound-force inches.

    Parameters
    ----------
    torque
        Torque. [N·m]

    Returns
    -------
    float
        The same torque. [lb·in]

    Raises
    ------
    FormulaError
        If ``torque`` is negative.

    Examples
    --------
    >>> torque_in_pound_inches(12.0)
    106.209

    References
    ----------
    .. [1] NIST Special Publication 811, 2008, appendix B.
    """
    require_not_negative(torque=torque)
    return torque / POUND_INCH


@formula(expression="0.112984829 × torque", unit="N·m", source="NIST SP 811, appendix B")
def torque_from_pound_inches(torque: float) -> float:
    """Torque in newton metres from one in pound-force inches.

    Parameters
    ----------
    torque
        Torque. [lb·in]

    Returns
    -------
    float
        The same torque. [N·m]

    Raises
    ------
    FormulaError
        If ``torque`` is negative.

    Examples
    --------
    >>> torque_from_pound_inches(150.0)
    16.95

    References
    ----------
    .. [1] NIST Special Publication 811, 2008, appendix B.
    """
    require_not_negative(torque=torque)
    return POUND_INCH * torque


@formula(
    expression="rise × (full_current ÷ current)²",
    unit="K",
    source="heat grows with the square of the current; NFPA 70B, from memory",
)
def rise_at_full_load(rise: float, current: float, full_current: float) -> float:
    """Temperature rise of a joint, scaled from the load of the moment to full load.

    Parameters
    ----------
    rise
        Rise over a like joint or over the air, at ``current``. [K]
    current
        Current of the moment. [A]
    full_current
        Full current of the circuit. [A]

    Returns
    -------
    float
        Rise at full current. [K]

    Raises
    ------
    FormulaError
        If the rise is not finite, a current not above zero or the load under 40 %, where scaling misleads.

    Examples
    --------
    4 K at half load:

    >>> rise_at_full_load(4.0, 50.0, 100.0)
    16.0

    References
    ----------
    .. [1] NFPA 70B, infrared inspection: at least 40 % of nominal load (from memory).
    """
    require_finite(rise=rise)
    require_positive(current=current, full_current=full_current)
    if current < LEAST_LOAD_SHARE * full_current * (1.0 - 1e-9):
        least = LEAST_LOAD_SHARE * full_current
        raise FormulaError(f"current = {current:g} A: load the circuit to at least {least:g} A (40 %)")
    return rise * (full_current / current) ** 2


@formula(
    expression="10 × voltage_uncertainty ÷ resistance_limit",
    unit="A",
    source="common practice: a tenth of the limit",
)
def least_joint_current(voltage_uncertainty: float, resistance_limit: float) -> float:
    """Least current at which the voltage over a joint says something.

    Parameters
    ----------
    voltage_uncertainty
        Expanded uncertainty of the voltmeter on its lowest range. [V]
    resistance_limit
        Greatest resistance of a good joint. [Ω]

    Returns
    -------
    float
        Current at which the uncertainty is a tenth of the limit. [A]

    Raises
    ------
    FormulaError
        If the uncertainty is negative or the limit not above zero.

    Examples
    --------
    0.1 mV against 50 µΩ:

    >>> least_joint_current(0.0001, 50e-6)
    20.0

    References
    ----------
    .. [1] Common practice: uncertainty at most a tenth of what is judged.
    """
    require_not_negative(voltage_uncertainty=voltage_uncertainty)
    require_positive(resistance_limit=resistance_limit)
    return 10.0 * voltage_uncertainty / resistance_limit


def infrared_class(rise: float, against: Literal["similar joint", "ambient"]) -> JointClass:
    """Return the class of a joint by its temperature rise (ANSI/NETA MTS, table 100.18; from memory).

    Parameters
    ----------
    rise
        Rise over a similar joint under the same load, or over the air, at 40 % load or more. [K]
    against
        What the rise is taken over.

    Raises
    ------
    FormulaError
        If ``rise`` is not a finite number.
    """
    require_finite(rise=rise)
    if rise < 1.0:
        return "no deficiency seen"
    for greatest, word in _LIKE if against == "similar joint" else _AMBIENT:
        if rise <= greatest:
            return word
    return "major deficiency"
