"""Managed lithium: limits that the battery tells, margins below its cut-off, and its own drain."""

from __future__ import annotations

from collections.abc import Sequence

from commission.errors import FormulaError
from commission.figure import formula
from commission.formulas.ranges import (
    require_finite,
    require_not_negative,
    require_one_or_more,
    require_positive,
)


@formula(
    expression="cells × (cell_limit − margin)",
    unit="V",
    source="common practice: 50 mV per cell under the limit of a cell",
)
def charge_margin_voltage(cells: float, cell_limit: float, margin: float) -> float:
    """Charging voltage that keeps every cell a margin under its limit.

    Parameters
    ----------
    cells
        Cells in series. [1]
    cell_limit
        Voltage at which the management system opens, or the chemistry's ceiling, of one cell. [V]
    margin
        Distance of one cell from it: 0.05 V unless the maker asks for more. [V]

    Returns
    -------
    float
        Highest charging voltage of the bank. [V]

    Raises
    ------
    FormulaError
        If ``cells`` is less than one, the margin is negative, or not less than the limit.

    Examples
    --------
    >>> charge_margin_voltage(16, 3.65, 0.05)
    57.6

    References
    ----------
    .. [1] Common practice; no published source. A maker's own margin goes before it.
    """
    require_one_or_more(cells=cells)
    require_positive(cell_limit=cell_limit)
    require_not_negative(margin=margin)
    if margin >= cell_limit:
        raise FormulaError(f"margin = {margin}: must be less than the limit of a cell, {cell_limit} V")
    return cells * (cell_limit - margin)


@formula(
    expression="cut_off − cells × margin",
    unit="V",
    source="common practice: 50 mV per cell under the cut-off",
)
def voltage_below_cut_off(cut_off: float, cells: float, margin: float) -> float:
    """Charging voltage that stays a margin under the cut-off of a whole pack.

    Parameters
    ----------
    cut_off
        Voltage of the pack at which its management system opens. [V]
    cells
        Cells in series. [1]
    margin
        Distance of one cell from it: 0.05 V unless the maker asks for more. [V]

    Returns
    -------
    float
        Highest charging voltage of the pack. [V]

    Raises
    ------
    FormulaError
        If ``cells`` is less than one, the margin is negative, or nothing is left under the cut-off.

    Examples
    --------
    >>> voltage_below_cut_off(58.4, 16, 0.05)
    57.6

    References
    ----------
    .. [1] Common practice; no published source. A maker's own margin goes before it.
    """
    require_positive(cut_off=cut_off)
    require_one_or_more(cells=cells)
    require_not_negative(margin=margin)
    if cells * margin >= cut_off:
        raise FormulaError(
            f"margin = {margin}: {cells} cells of it must be less than the cut-off, {cut_off} V"
        )
    return cut_off - cells * margin


@formula(
    expression="lesser of own and told",
    unit="A",
    source="common practice: a setting is a cap on what the battery tells",
)
def effective_limit(own: float, told: float) -> float:
    """Limit on a current that holds while the battery tells its own.

    Parameters
    ----------
    own
        Setting of the device, or its rating. [A]
    told
        Limit that the battery tells at this moment. [A]

    Returns
    -------
    float
        The lesser of the two. [A]

    Raises
    ------
    FormulaError
        If a limit is negative or not a finite number.

    Examples
    --------
    >>> effective_limit(120.0, 85.0)
    85.0

    References
    ----------
    .. [1] Common practice; no published source.
    """
    require_not_negative(own=own, told=told)
    return min(own, told)


@formula(
    expression="greatest of voltages − least of voltages",
    unit="V",
    source="definition",
)
def spread(voltages: Sequence[float]) -> float:
    """Spread of voltage over like cells or blocks.

    Parameters
    ----------
    voltages
        Voltage of each, taken in the same state; the highest and the lowest are enough. [V]

    Returns
    -------
    float
        Greatest less least. [V]

    Raises
    ------
    FormulaError
        If there are fewer than two, or one of them is not a finite number.

    Examples
    --------
    >>> spread([3.462, 3.455, 3.471])
    0.016

    References
    ----------
    .. [1] Definition.
    """
    if len(voltages) < 2:
        raise FormulaError(f"voltages has {len(voltages)} values: a spread needs at least two")
    for voltage in voltages:
        require_finite(voltages=voltage)
    return max(voltages) - min(voltages)


@formula(
    expression="draw × time ÷ (3600 × capacity)",
    unit="1",
    source="definition of charge",
)
def standing_drain_share(draw: float, time: float, capacity: float) -> float:
    """Share of its capacity that a bank loses to a standing draw.

    Parameters
    ----------
    draw
        What management system, monitor and sleeping devices draw together. [A]
    time
        Longest time without charge. [s]
    capacity
        Capacity of the bank. [Ah]

    Returns
    -------
    float
        Share of the capacity; above 1 the bank does not last. [1]

    Raises
    ------
    FormulaError
        If draw or time is negative, or the capacity is not positive.

    Examples
    --------
    Half an ampere for ten days on 280 Ah:

    >>> standing_drain_share(0.5, 864000.0, 280.0)
    0.4286

    References
    ----------
    .. [1] Definition of charge.
    """
    require_not_negative(draw=draw, time=time)
    require_positive(capacity=capacity)
    return draw * time / (3600.0 * capacity)


@formula(
    expression="packs × lesser of (rate × capacity) and pack_limit",
    unit="A",
    source="common practice: the lower of C rate and management limit, times packs",
)
def pack_current_limit(rate: float, capacity: float, pack_limit: float, packs: float) -> float:
    """Charge current of managed packs in parallel.

    Parameters
    ----------
    rate
        Charge current of a cell as a share of its capacity. [A/Ah]
    capacity
        Capacity of one pack. [Ah]
    pack_limit
        Limit of one pack's management system. [A]
    packs
        Packs in parallel that count: all, or one fewer where there is no data link. [1]

    Returns
    -------
    float
        Limit on the current into the bank. [A]

    Raises
    ------
    FormulaError
        If the rate, the limit or the count is negative, or the capacity not positive.

    Examples
    --------
    >>> pack_current_limit(0.5, 280.0, 100.0, 3)
    300.0

    References
    ----------
    .. [1] Common practice; no published source.
    """
    require_not_negative(rate=rate, pack_limit=pack_limit, packs=packs)
    require_positive(capacity=capacity)
    return packs * min(rate * capacity, pack_limit)


@formula(
    expression="limit × (packs − out) ÷ packs",
    unit="A",
    source="common practice: a pack that opened takes its share of the limit with it",
)
def limit_without_packs(limit: float, packs: float, out: float) -> float:
    """Limit that a bank of packs tells once some of them have opened.

    Parameters
    ----------
    limit
        Limit with every pack in. [A]
    packs
        Packs installed. [1]
    out
        Packs that are open. [1]

    Returns
    -------
    float
        Limit of those that are left. [A]

    Raises
    ------
    FormulaError
        If the limit is negative, ``packs`` less than one, or ``out`` not between 0 and ``packs``.

    Examples
    --------
    >>> limit_without_packs(300.0, 3, 1)
    200.0

    References
    ----------
    .. [1] Common practice; no published source.
    """
    require_not_negative(limit=limit, out=out)
    require_one_or_more(packs=packs)
    if out > packs:
        raise FormulaError(f"out = {out}: must be at most the {packs} packs installed")
    return limit * (packs - out) / packs
