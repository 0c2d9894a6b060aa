"""What PV arrays ask of the devices and modules beside them: two-sided modules, string fuses, margins."""

from __future__ import annotations

from commission.figure import formula
from commission.formulas.ranges import require_not_negative


@formula(
    expression="current × (1 + rear_gain)",
    unit="A",
    source="IEC 62548-1:2023, two-sided modules; from memory",
)
def two_sided_current(current: float, rear_gain: float) -> float:
    """Short-circuit current of a module that also takes light from behind.

    Parameters
    ----------
    current
        Short-circuit current of the front at standard test conditions. [A]
    rear_gain
        What the rear adds, as a share of that current. [1]

    Returns
    -------
    float
        Short-circuit current for ratings. [A]

    Raises
    ------
    FormulaError
        If either is negative.

    Examples
    --------
    >>> two_sided_current(13.9, 0.1)
    15.29

    References
    ----------
    .. [1] IEC 62548-1:2023 (rated by bifaciality and rear irradiance); from memory.
    """
    require_not_negative(current=current, rear_gain=rear_gain)
    return current * (1.0 + rear_gain)
