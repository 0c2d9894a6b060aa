"""Gas of a bank and the air that carries it off."""

from __future__ import annotations

import math
from typing import Final

from commission.errors import FormulaError
from commission.figure import formula
from commission.formulas.ranges import (
    require_finite,
    require_not_negative,
    require_one_or_more,
    require_positive,
    require_share,
)

GREATEST_GAS_CURRENT: Final = 60.0
"""Gas current in mA/Ah beyond which no stage is reckoned (traction practice, second-hand)."""


@formula(
    expression="current × emission × safety",
    unit="mA/Ah",
    source="EN 50272-2 and IEC 62485-2, table 1",
)
def table_gas_current(current: float, emission: float, safety: float) -> float:
    """Gas current of a bank, by the table of the standard.

    Parameters
    ----------
    current
        Current at full charge; float 1 for all, boost 4 vented lead, 8 sealed lead, 10 nickel. [mA/Ah]
    emission
        Share of it that makes gas which leaves the cell: 1 vented, 0.2 sealed. [1]
    safety
        Allowance for faulty and aged cells: 5. [1]

    Returns
    -------
    float
        Gas current. [mA/Ah]

    Raises
    ------
    FormulaError
        If the current is negative, the emission no share, or the allowance under one.

    Examples
    --------
    Sealed lead in boost:

    >>> table_gas_current(8.0, 0.2, 5.0)
    8.0

    References
    ----------
    .. [1] EN 50272-2 and IEC 62485-2, table 1.
    """
    require_not_negative(current=current)
    require_share(emission=emission)
    require_one_or_more(safety=safety)
    return current * emission * safety


@formula(
    expression="table × exp(11 × (voltage − 2.40)), table itself up to 2.40 V",
    unit="mA/Ah",
    source="gassing law, Schiffer et al., J. Power Sources 168 (2007), 66-78; applied to the table here",
)
def gas_current_above_boost(table: float, voltage: float) -> float:
    """Gas current of lead cells in a stage above the voltage that the standard's table stands for.

    Parameters
    ----------
    table
        Gas current of the table for boost at 2.40 V per cell. [mA/Ah]
    voltage
        Voltage of one cell in the stage, at 25 °C. [V]

    Returns
    -------
    float
        Gas current by the law; the stage's greatest current may bound it. [mA/Ah]

    Raises
    ------
    FormulaError
        If the table's value or the voltage is not positive, or the voltage is none of a lead cell.

    Examples
    --------
    Vented lead equalised at 2.58 V:

    >>> gas_current_above_boost(20.0, 2.58)
    144.9

    References
    ----------
    .. [1] Schiffer, J., et al., J. Power Sources 168, 2007, 66-78, gassing current, 11 per volt.
    """
    require_positive(table=table, voltage=voltage)
    if voltage > 3.0:
        raise FormulaError(
            f"voltage = {voltage}: no lead cell is charged above 3.0 V; give the voltage of one cell"
        )
    return table * math.exp(11.0 * max(0.0, voltage - 2.40))


@formula(expression="1000 × current ÷ capacity", unit="mA/Ah", source="definition")
def source_gas_current(current: float, capacity: float) -> float:
    """Gas current if all of a stage's greatest current made gas.

    Parameters
    ----------
    current
        Greatest current of the stage, of all sources together. [A]
    capacity
        Capacity of the bank. [Ah]

    Returns
    -------
    float
        Upper bound of the gas current. [mA/Ah]

    Raises
    ------
    FormulaError
        If the current is negative, or the capacity is not positive.

    Examples
    --------
    >>> source_gas_current(25.0, 500.0)
    50.0

    References
    ----------
    .. [1] Faraday's law: no more gas than current.
    """
    require_not_negative(current=current)
    require_positive(capacity=capacity)
    return 1000.0 * current / capacity


@formula(
    expression="factor × cells × gas_current × capacity ÷ 1000",
    unit="m³/h",
    source="EN 50272-2 and IEC 62485-2, air flow, factor 0.05 m³/Ah",
)
def air_flow(cells: float, gas_current: float, capacity: float, factor: float = 0.05) -> float:
    """Air that a battery room needs.

    Parameters
    ----------
    cells
        Cells in series. [1]
    gas_current
        Gas current. [mA/Ah]
    capacity
        Capacity of the bank, all strings together. [Ah]
    factor
        Air for each ampere-hour of gas: 0.05, or unrounded 0.0504 (24 × 0.00042 × 5). [m³/Ah]

    Returns
    -------
    float
        Air flow. [m³/h]

    Raises
    ------
    FormulaError
        If ``cells`` is less than one, the gas current negative, or another value not positive.

    Examples
    --------
    Twenty-four vented lead cells of 500 Ah on float:

    >>> air_flow(24, 5.0, 500.0)
    3.0

    References
    ----------
    .. [1] EN 50272-2 and IEC 62485-2, clause 7, ventilation.
    """
    require_one_or_more(cells=cells)
    require_not_negative(gas_current=gas_current)
    require_positive(capacity=capacity, factor=factor)
    return factor * cells * gas_current * capacity / 1000.0


@formula(
    expression="factor × flow",
    unit="cm²",
    source="EN 50272-2 and IEC 62485-2, openings at 0.1 m/s, factor 28 cm²·h/m³",
)
def opening_area(flow: float, factor: float = 28.0) -> float:
    """Free area of the inlet, and of the outlet, of a naturally ventilated room.

    Parameters
    ----------
    flow
        Air flow needed. [m³/h]
    factor
        Area of each opening for each cubic metre of air an hour. [cm²·h/m³]

    Returns
    -------
    float
        Area of each of the two openings. [cm²]

    Raises
    ------
    FormulaError
        If the flow is negative or the factor not positive.

    Examples
    --------
    >>> opening_area(3.0)
    84.0

    References
    ----------
    .. [1] EN 50272-2 and IEC 62485-2, natural ventilation.
    """
    require_not_negative(flow=flow)
    require_positive(factor=factor)
    return factor * flow


@formula(
    expression="area ÷ factor",
    unit="m³/h",
    source="EN 50272-2 and IEC 62485-2, openings at 0.1 m/s, turned round",
)
def air_through_openings(area: float, factor: float = 28.0) -> float:
    """Air that an inlet and an outlet of a free area let through a naturally ventilated room.

    Parameters
    ----------
    area
        Free area of each of the two openings. [cm²]
    factor
        Area of each opening for each cubic metre of air an hour. [cm²·h/m³]

    Returns
    -------
    float
        Air flow. [m³/h]

    Raises
    ------
    FormulaError
        If the area is negative or the factor not positive.

    Examples
    --------
    >>> air_through_openings(84.0)
    3.0

    References
    ----------
    .. [1] EN 50272-2 and IEC 62485-2, natural ventilation.
    """
    require_not_negative(area=area)
    require_positive(factor=factor)
    return area / factor


@formula(
    expression="flow ÷ (factor × cells)",
    unit="A",
    source="EN 50272-2 and IEC 62485-2, air flow, turned round",
)
def current_for_air(flow: float, cells: float, factor: float = 0.05) -> float:
    """Gas-making current of a bank that a flow of air carries off.

    Parameters
    ----------
    flow
        Air flow of the room. [m³/h]
    cells
        Cells in series. [1]
    factor
        Air for each ampere-hour of gas: 0.05, or unrounded 0.0504. [m³/Ah]

    Returns
    -------
    float
        Current of the whole bank. [A]

    Raises
    ------
    FormulaError
        If the flow is negative, ``cells`` is less than one or the factor not positive.

    Examples
    --------
    >>> current_for_air(12.0, 24)
    10.0

    References
    ----------
    .. [1] EN 50272-2 and IEC 62485-2, clause 7, ventilation.
    """
    require_not_negative(flow=flow)
    require_one_or_more(cells=cells)
    require_positive(factor=factor)
    return flow / (factor * cells)


@formula(expression="volume × limit ÷ hydrogen × 3600", unit="s", source="definition; no air is exchanged")
def hydrogen_time(volume: float, limit: float, hydrogen: float) -> float:
    """Time until hydrogen reaches a share of the air of a closed room.

    Parameters
    ----------
    volume
        Free volume of the room. [m³]
    limit
        Share of hydrogen; 0.04 begins to burn. [1]
    hydrogen
        Flow of hydrogen. [m³/h]

    Returns
    -------
    float
        Time. [s]

    Raises
    ------
    FormulaError
        If a value is not positive, or the limit no share.

    Examples
    --------
    >>> hydrogen_time(10.0, 0.04, 0.1)
    14400.0

    References
    ----------
    .. [1] Definition; NFPA 1 and IEC 62485-2 for the 4 % at which hydrogen begins to burn.
    """
    require_positive(volume=volume, limit=limit, hydrogen=hydrogen)
    require_share(limit=limit)
    return 3600.0 * volume * limit / hydrogen


@formula(
    expression="0.0288 × ∛cells × ∛gas_current × ∛capacity",
    unit="m",
    source="EN 50272-2 clause 8 and IEC 62485-2, safety distance; from memory",
)
def safety_distance(gas_current: float, capacity: float, cells: float) -> float:
    """Distance from a cell's vent within which nothing may spark or glow.

    Parameters
    ----------
    gas_current
        Gas current. [mA/Ah]
    capacity
        Capacity of the cell. [Ah]
    cells
        Cells of a block whose gas leaves through one vent. [1]

    Returns
    -------
    float
        Distance. [m]

    Raises
    ------
    FormulaError
        If the gas current is negative, or the capacity or the count is not positive.

    Examples
    --------
    >>> safety_distance(5.0, 800.0, 1.0)
    0.457

    A block of six such cells with one vent:

    >>> safety_distance(5.0, 800.0, 6.0)
    0.8307

    References
    ----------
    .. [1] EN 50272-2 clause 8 and IEC 62485-2, close vicinity to the battery, with the note on monobloc
       batteries with a common vent (from memory).
    """
    require_not_negative(gas_current=gas_current)
    require_positive(capacity=capacity, cells=cells)
    return 0.0288 * math.cbrt(cells) * math.cbrt(gas_current) * math.cbrt(capacity)


@formula(
    expression="0.000418 × cells × current × (temperature + 273.15) ÷ 273.15",
    unit="m³/h",
    source="Faraday's law and the molar volume of a gas; EN 50272-2 rounds to 0.42 L/Ah at 0 °C",
)
def hydrogen_flow(cells: float, current: float, temperature: float) -> float:
    """Hydrogen that a current sets free once the cells are full.

    Parameters
    ----------
    cells
        Cells in series. [1]
    current
        Current that makes gas. [A]
    temperature
        Temperature of the room. [°C]

    Returns
    -------
    float
        Flow of hydrogen at normal pressure. [m³/h]

    Raises
    ------
    FormulaError
        If ``cells`` is less than one, the current negative, or the temperature below absolute zero.

    Examples
    --------
    One cell, one ampere, at 25 °C:

    >>> hydrogen_flow(1, 1.0, 25.0)
    0.000456

    References
    ----------
    .. [1] Faraday's law, one molecule of hydrogen for two electrons; 22.414 L/mol at 0 °C and 101.325 kPa.
    """
    require_one_or_more(cells=cells)
    require_not_negative(current=current)
    require_finite(temperature=temperature)
    if temperature <= -273.15:
        raise FormulaError(f"temperature = {temperature}: must be above absolute zero")
    per_ampere_hour = 3600.0 / (2.0 * 96485.332) * 0.022414
    return per_ampere_hour * cells * current * (temperature + 273.15) / 273.15


@formula(expression="hydrogen ÷ limit", unit="m³/h", source="IEEE 1635, dilution")
def dilution_flow(hydrogen: float, limit: float) -> float:
    """Air that keeps hydrogen under a share of the room's air.

    Parameters
    ----------
    hydrogen
        Flow of hydrogen. [m³/h]
    limit
        Share of hydrogen that is allowed: 0.01 by IEEE 1635 and fire codes. [1]

    Returns
    -------
    float
        Air flow. [m³/h]

    Raises
    ------
    FormulaError
        If the flow is negative, or the limit not above 0 and under 0.04, where hydrogen begins to burn.

    Examples
    --------
    >>> dilution_flow(0.0504, 0.01)
    5.04

    References
    ----------
    .. [1] IEEE 1635, ventilation and thermal management of batteries.
    """
    require_not_negative(hydrogen=hydrogen)
    if not 0.0 < limit < 0.04:
        raise FormulaError(f"limit = {limit}: must be above 0 and under 0.04, such as 0.01")
    return hydrogen / limit


@formula(
    expression="factor × cells × current",
    unit="m³/h",
    source="EN 50272-3, traction: factor 0.05 m³/Ah on the gassing current",
)
def air_flow_for_current(cells: float, current: float, factor: float = 0.05) -> float:
    """Air that a battery room needs, from the current that makes gas.

    Parameters
    ----------
    cells
        Cells in series. [1]
    current
        Current that makes gas at the end of charge, of the whole bank. [A]
    factor
        Air for each ampere-hour of gas: 0.05, or unrounded 0.0504 (24 × 0.00042 × 5). [m³/Ah]

    Returns
    -------
    float
        Air flow. [m³/h]

    Raises
    ------
    FormulaError
        If ``cells`` is less than one, the current negative, or the factor not positive.

    Examples
    --------
    An unregulated charger of 100 A of which 40 % make gas:

    >>> air_flow_for_current(24, 40.0, 0.0504)
    48.4

    References
    ----------
    .. [1] EN 50272-3 and IEC 62485-3, ventilation of traction batteries.
    """
    require_one_or_more(cells=cells)
    require_not_negative(current=current)
    require_positive(factor=factor)
    return factor * cells * current


@formula(
    expression="0.0216 × cells × current",
    unit="m³/h",
    source="AS/NZS 4509.2, 0.006 L/s for each ampere and cell; from memory",
)
def stand_alone_air_flow(cells: float, current: float) -> float:
    """Air that the room of a stand-alone plant's bank needs.

    Parameters
    ----------
    cells
        Cells in series. [1]
    current
        Greatest charge current of vented cells; sealed cells 0.5 A for each 100 Ah. [A]

    Returns
    -------
    float
        Air flow, 3.6 times the figure in litres a second. [m³/h]

    Raises
    ------
    FormulaError
        If ``cells`` is less than one, or the current is negative.

    Examples
    --------
    >>> stand_alone_air_flow(24, 60.0)
    31.1

    References
    ----------
    .. [1] AS/NZS 4509.2, stand-alone power systems, ventilation (from memory).
    """
    require_one_or_more(cells=cells)
    require_not_negative(current=current)
    return 0.006 * 3.6 * cells * current


@formula(
    expression="100 × flow ÷ 3.6",
    unit="cm²",
    source="AS/NZS 4509.2, 100 cm² for each L/s; from memory",
)
def stand_alone_opening_area(flow: float) -> float:
    """Free area of each opening of a stand-alone plant's battery room.

    Parameters
    ----------
    flow
        Air flow needed. [m³/h]

    Returns
    -------
    float
        Area of each of the two openings. [cm²]

    Raises
    ------
    FormulaError
        If the flow is negative.

    Examples
    --------
    >>> stand_alone_opening_area(31.104)
    864.0

    References
    ----------
    .. [1] AS/NZS 4509.2, stand-alone power systems, ventilation (from memory).
    """
    require_not_negative(flow=flow)
    return 100.0 * flow / 3.6
