"""What a conductor may carry once the air around it and its neighbours are counted."""

from __future__ import annotations

import math

from commission.errors import FormulaError
from commission.figure import formula
from commission.formulas.ranges import require_finite, require_positive


@formula(
    expression="√((conductor_limit − ambient) ÷ (conductor_limit − reference))",
    unit="1",
    source="NEC 310.15(B), equation; IEC 60364-5-52, annex B",
)
def ambient_factor(conductor_limit: float, ambient: float, reference: float) -> float:
    """Correction of a conductor's ampacity for the temperature of the air.

    Parameters
    ----------
    conductor_limit
        Temperature that the insulation, or the terminal, allows. [°C]
    ambient
        Temperature of the air. [°C]
    reference
        Air temperature of the table; 30. [°C]

    Returns
    -------
    float
        Factor on the table's current; above one where the air is cooler. [1]

    Raises
    ------
    FormulaError
        If the air or the reference is not cooler than the limit.

    Notes
    -----
    Printed tables step to the hot end of each band and so lie at or below this.

    Examples
    --------
    >>> ambient_factor(75.0, 42.0, 30.0)
    0.8563

    References
    ----------
    .. [1] NEC 2023, 310.15(B), equation 310.15(B).
    """
    require_finite(conductor_limit=conductor_limit, ambient=ambient, reference=reference)
    if ambient >= conductor_limit or reference >= conductor_limit:
        raise FormulaError(f"ambient = {ambient:g} °C: must be below the conductor's {conductor_limit:g} °C")
    return math.sqrt((conductor_limit - ambient) / (conductor_limit - reference))


@formula(expression="table_current × ambient × grouping", unit="A", source="NEC 310.15(B), (C)")
def corrected_ampacity(table_current: float, ambient: float, grouping: float) -> float:
    """Ampacity of a conductor where it lies.

    Parameters
    ----------
    table_current
        Current of the table for its size and insulation. [A]
    ambient
        Factor for the air around it. [1]
    grouping
        Factor for the loaded conductors beside it; 1 where there are none. [1]

    Returns
    -------
    float
        Current that it may carry, before the limit of the terminals. [A]

    Raises
    ------
    FormulaError
        If any of them is not above zero.

    Examples
    --------
    2/0 AWG at 75 °C in air of 40 °C:

    >>> corrected_ampacity(175.0, 0.88, 1.0)
    154.0

    References
    ----------
    .. [1] NEC 2023, 310.15(B), 310.15(C)(1) and table 310.16.
    """
    require_positive(table_current=table_current, ambient=ambient, grouping=grouping)
    return table_current * ambient * grouping


@formula(expression="current ÷ factor", unit="A", source="NEC 310.15; IEC 60364-5-52, annex B")
def table_current_needed(current: float, factor: float) -> float:
    """Least current of a table's row for a conductor that carries a load where it lies.

    Parameters
    ----------
    current
        Current to be carried. [A]
    factor
        Product of the correction factors. [1]

    Returns
    -------
    float
        Least current of the row. [A]

    Raises
    ------
    FormulaError
        If either is not above zero.

    Examples
    --------
    >>> table_current_needed(167.0, 0.71)
    235.2

    References
    ----------
    .. [1] Teaching practice: 167 A ÷ 0.71 = 235 A, then the next row.
    """
    require_positive(current=current, factor=factor)
    return current / factor


@formula(
    expression="copper_current × factor",
    unit="A",
    source="NEC table 310.16, aluminium over copper 0.75 to 0.82; IEC 60364-5-52 about 0.78; from memory",
)
def aluminium_ampacity(copper_current: float, factor: float) -> float:
    """Ampacity of an aluminium conductor, from that of a copper one of its size.

    Parameters
    ----------
    copper_current
        Current of the table for copper. [A]
    factor
        Aluminium over copper; 0.75 is the least of the tables. [1]

    Returns
    -------
    float
        Current that the aluminium conductor may carry. [A]

    Raises
    ------
    FormulaError
        If the current or the factor is not above zero.

    Examples
    --------
    2/0 AWG, 175 A in copper at 75 °C; the table for aluminium has 135 A:

    >>> aluminium_ampacity(175.0, 0.75)
    131.25

    References
    ----------
    .. [1] NEC 2023, table 310.16; IEC 60364-5-52, tables B.52.2 to B.52.5 (from memory).
    """
    require_positive(copper_current=copper_current, factor=factor)
    return copper_current * factor
