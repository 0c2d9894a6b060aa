"""A bank as it is built: cells, voltage, capacity and energy."""

from __future__ import annotations

from commission.figure import formula
from commission.formulas.ranges import require_finite, require_one_or_more, require_positive


@formula(
    expression="blocks × block_voltage ÷ cell_voltage",
    unit="1",
    source="definition of cells in series",
)
def cells_in_series(blocks: float, block_voltage: float, cell_voltage: float) -> float:
    """Count the cells in series of a string of blocks.

    Parameters
    ----------
    blocks
        Blocks in series. [1]
    block_voltage
        Nominal voltage of one block. [V]
    cell_voltage
        Nominal voltage of one cell: lead 2.0, iron phosphate 3.2, nickel 1.2. [V]

    Returns
    -------
    float
        Cells in series. [1]

    Raises
    ------
    FormulaError
        If ``blocks`` is less than one, or a voltage is not positive.

    Examples
    --------
    Eight lead-acid blocks of 6 V:

    >>> cells_in_series(8, 6.0, 2.0)
    24.0

    References
    ----------
    .. [1] Definition.
    """
    require_one_or_more(blocks=blocks)
    require_positive(block_voltage=block_voltage, cell_voltage=cell_voltage)
    return blocks * block_voltage / cell_voltage


@formula(expression="cells × cell_voltage", unit="V", source="Kirchhoff's voltage law")
def bank_voltage(cells: float, cell_voltage: float) -> float:
    """Voltage of cells in series.

    Parameters
    ----------
    cells
        Cells in series. [1]
    cell_voltage
        Voltage of one cell: nominal, a setting, or as it is. [V]

    Returns
    -------
    float
        Voltage of the bank. [V]

    Raises
    ------
    FormulaError
        If ``cells`` is less than one, or ``cell_voltage`` is not a finite number.

    Examples
    --------
    >>> bank_voltage(16, 3.2)
    51.2

    References
    ----------
    .. [1] Kirchhoff's voltage law.
    """
    require_one_or_more(cells=cells)
    require_finite(cell_voltage=cell_voltage)
    return cells * cell_voltage


@formula(expression="capacity × strings", unit="Ah", source="Kirchhoff's current law")
def bank_capacity(capacity: float, strings: float) -> float:
    """Capacity of strings in parallel.

    Parameters
    ----------
    capacity
        Capacity of one string. [Ah]
    strings
        Strings in parallel. [1]

    Returns
    -------
    float
        Capacity of the bank at the same hour rate. [Ah]

    Raises
    ------
    FormulaError
        If ``capacity`` is not positive, or ``strings`` less than one.

    Examples
    --------
    >>> bank_capacity(225.0, 2)
    450.0

    References
    ----------
    .. [1] Kirchhoff's current law.
    """
    require_positive(capacity=capacity)
    require_one_or_more(strings=strings)
    return capacity * strings


@formula(expression="voltage × capacity", unit="Wh", source="definition")
def bank_energy(voltage: float, capacity: float) -> float:
    """Energy that a bank holds by its plate.

    Parameters
    ----------
    voltage
        Nominal voltage of the bank. [V]
    capacity
        Capacity of the bank. [Ah]

    Returns
    -------
    float
        Nominal energy. [Wh]

    Raises
    ------
    FormulaError
        If a value is not positive.

    Examples
    --------
    >>> bank_energy(48.0, 450.0)
    21600.0

    References
    ----------
    .. [1] Definition.
    """
    require_positive(voltage=voltage, capacity=capacity)
    return voltage * capacity


@formula(expression="block_slope ÷ cells", unit="mV/K", source="definition of cells in series")
def slope_per_cell(block_slope: float, cells: float) -> float:
    """Temperature coefficient of one cell, from that of a block.

    Parameters
    ----------
    block_slope
        Change of the block's voltage with temperature; negative for lead. [mV/K]
    cells
        Cells of the block. [1]

    Returns
    -------
    float
        Change of one cell's voltage with temperature. [mV/K]

    Raises
    ------
    FormulaError
        If ``cells`` is less than one, or ``block_slope`` is not a finite number.

    Examples
    --------
    A device that says −22 mV/K for a 12 V block:

    >>> slope_per_cell(-22.0, 6)
    -3.667

    References
    ----------
    .. [1] Definition.
    """
    require_finite(block_slope=block_slope)
    require_one_or_more(cells=cells)
    return block_slope / cells
