"""Charging voltages, currents and times of a bank."""

from __future__ import annotations

import math
from collections.abc import Sequence

from commission.errors import FormulaError
from commission.figure import formula
from commission.formulas.ranges import (
    require_efficiency,
    require_finite,
    require_not_negative,
    require_one_or_more,
    require_order,
    require_positive,
    require_share,
)


@formula(
    expression="cells × (reference + slope ÷ 1000 × (temperature − temperature_reference))",
    unit="V",
    source="Dunlop, FSEC-CR-1292-97 (1997), temperature compensation; from memory",
)
def compensated_voltage(
    cells: float, reference: float, slope: float, temperature: float, temperature_reference: float
) -> float:
    """Charging voltage of a bank at battery temperature.

    Parameters
    ----------
    cells
        Cells in series. [1]
    reference
        Charging voltage of one cell at the reference temperature. [V]
    slope
        Change of one cell's voltage with temperature; negative for lead. [mV/K]
    temperature
        Battery temperature, already held within the device's or profile's clamp. [°C]
    temperature_reference
        Temperature at which ``reference`` holds. [°C]

    Returns
    -------
    float
        Charging voltage of the bank at ``temperature``. [V]

    Raises
    ------
    FormulaError
        If ``cells`` is less than one, or a value is not a finite number.

    Examples
    --------
    Twenty-four AGM cells on float in a hot room:

    >>> compensated_voltage(24, 2.27, -3.0, 40.0, 25.0)
    53.40

    References
    ----------
    .. [1] Dunlop, J. P., "Batteries and charge control in stand-alone photovoltaic systems", FSEC-CR-1292-97,
       1997, section on temperature compensation (from memory).
    """
    require_one_or_more(cells=cells)
    require_finite(
        reference=reference,
        slope=slope,
        temperature=temperature,
        temperature_reference=temperature_reference,
    )
    return cells * (reference + slope / 1000.0 * (temperature - temperature_reference))


@formula(
    expression="temperature, held between low and high",
    unit="°C",
    source="common practice: outside the clamp the voltage of the edge is held",
)
def clamped_temperature(temperature: float, low: float, high: float) -> float:
    """Battery temperature as a charger uses it for compensation.

    Parameters
    ----------
    temperature
        Battery temperature. [°C]
    low
        Below this the device holds the voltage of this temperature. [°C]
    high
        Above this the device holds the voltage of this temperature. [°C]

    Returns
    -------
    float
        ``temperature``, or the edge that it lies beyond. [°C]

    Raises
    ------
    FormulaError
        If ``low`` lies above ``high``, or a value is not a finite number.

    Examples
    --------
    >>> clamped_temperature(-20.0, 0.0, 40.0)
    0.0

    References
    ----------
    .. [1] Common practice of temperature-compensated charging; no published source.
    """
    require_finite(temperature=temperature, low=low, high=high)
    require_order(low=low, high=high)
    return max(low, min(high, temperature))


@formula(
    expression="reference + slope ÷ 1000 × (temperature_to − temperature_from)",
    unit="V",
    source="ZVEI practice for data given at 20 °C; from memory",
)
def voltage_at_other_reference(
    reference: float, slope: float, temperature_from: float, temperature_to: float
) -> float:
    """Charging voltage of one cell, restated at another reference temperature.

    Parameters
    ----------
    reference
        Charging voltage of one cell at ``temperature_from``. [V]
    slope
        Change of one cell's voltage with temperature; negative for lead. [mV/K]
    temperature_from
        Temperature at which ``reference`` holds, 20 °C in most European data. [°C]
    temperature_to
        Temperature at which the voltage is wanted. [°C]

    Returns
    -------
    float
        Charging voltage of one cell at ``temperature_to``. [V]

    Raises
    ------
    FormulaError
        If a value is not a finite number.

    Examples
    --------
    A tubular gel cell on float at 2.25 V, given at 20 °C:

    >>> voltage_at_other_reference(2.25, -3.0, 20.0, 25.0)
    2.235

    References
    ----------
    .. [1] ZVEI leaflets on stationary lead-acid batteries, reference temperature (from memory).
    """
    require_finite(
        reference=reference, slope=slope, temperature_from=temperature_from, temperature_to=temperature_to
    )
    return reference + slope / 1000.0 * (temperature_to - temperature_from)


@formula(expression="bank_voltage ÷ cells", unit="V", source="definition")
def per_cell(bank_voltage: float, cells: float) -> float:
    """Voltage of one cell of a string, on average.

    Parameters
    ----------
    bank_voltage
        Voltage over all cells in series. [V]
    cells
        Cells in series. [1]

    Returns
    -------
    float
        Mean voltage of one cell. [V]

    Raises
    ------
    FormulaError
        If ``cells`` is less than one, or ``bank_voltage`` is not a finite number.

    Examples
    --------
    A block of 12 V held at 14.4 V:

    >>> per_cell(14.4, 6)
    2.40

    References
    ----------
    .. [1] Definition of cells in series.
    """
    require_finite(bank_voltage=bank_voltage)
    require_one_or_more(cells=cells)
    return bank_voltage / cells


@formula(
    expression="(device_slope − battery_slope) × (temperature − temperature_reference)",
    unit="mV",
    source="difference of two compensation laws; from memory",
)
def slope_error(
    device_slope: float, battery_slope: float, temperature: float, temperature_reference: float
) -> float:
    """Error of one cell's voltage where a device follows temperature with another slope than the battery's.

    Parameters
    ----------
    device_slope
        Slope that the device holds; 0 for a device without a sensor. [mV/K]
    battery_slope
        Slope that the battery asks for. [mV/K]
    temperature
        Battery temperature. [°C]
    temperature_reference
        Temperature at which both agree. [°C]

    Returns
    -------
    float
        Error of one cell; positive is overcharge. [mV]

    Raises
    ------
    FormulaError
        If a value is not a finite number.

    Examples
    --------
    A device without a sensor on cells of −5 mV/K at 35 °C:

    >>> slope_error(0.0, -5.0, 35.0, 25.0)
    50.0

    References
    ----------
    .. [1] Dunlop, J. P., FSEC-CR-1292-97, 1997, temperature compensation (from memory).
    """
    require_finite(
        device_slope=device_slope,
        battery_slope=battery_slope,
        temperature=temperature,
        temperature_reference=temperature_reference,
    )
    return (device_slope - battery_slope) * (temperature - temperature_reference)


@formula(
    expression="rate × capacity × strings",
    unit="A",
    source="definition of the C rate; rates by the battery's data sheet",
)
def charge_current_limit(rate: float, capacity: float, strings: float) -> float:
    """Charge current that a bank of strings in parallel takes at a C rate.

    Parameters
    ----------
    rate
        Charge current of a cell as a share of its capacity. [A/Ah]
    capacity
        Capacity of one string at the hour rate that ``rate`` refers to. [Ah]
    strings
        Strings in parallel. [1]

    Returns
    -------
    float
        Charge current of the bank. [A]

    Raises
    ------
    FormulaError
        If ``rate`` is negative, ``capacity`` not positive, or ``strings`` less than one.

    Examples
    --------
    >>> charge_current_limit(0.2, 415.0, 1)
    83.0

    References
    ----------
    .. [1] Definition; common practice.
    """
    require_not_negative(rate=rate)
    require_positive(capacity=capacity)
    require_one_or_more(strings=strings)
    return rate * capacity * strings


@formula(expression="current × count", unit="A", source="Kirchhoff's current law")
def scaled_current(current: float, count: float) -> float:
    """Sum of the currents of several like things in parallel.

    Parameters
    ----------
    current
        Current of one pack, string or device. [A]
    count
        How many of them are in parallel. [1]

    Returns
    -------
    float
        Current of all together. [A]

    Raises
    ------
    FormulaError
        If ``count`` is negative, or ``current`` is not a finite number.

    Examples
    --------
    Three packs whose management systems take 100 A each:

    >>> scaled_current(100.0, 3)
    300.0

    References
    ----------
    .. [1] Kirchhoff's current law.
    """
    require_finite(current=current)
    require_not_negative(count=count)
    return current * count


@formula(expression="sum of currents", unit="A", source="Kirchhoff's current law")
def sum_of_currents(currents: Sequence[float]) -> float:
    """Sum of the currents of sources that run together.

    Parameters
    ----------
    currents
        Current of each source; none at all makes 0 A. [A]

    Returns
    -------
    float
        Their sum. [A]

    Raises
    ------
    FormulaError
        If one of them is not a finite number.

    Examples
    --------
    >>> sum_of_currents([60.0, 45.0, 20.5])
    125.5

    References
    ----------
    .. [1] Kirchhoff's current law.
    """
    for current in currents:
        require_finite(currents=current)
    return math.fsum(currents)


@formula(
    expression="greatest of 0 and (limit − sum of others)",
    unit="A",
    source="common practice: limits of all sources together stay within the bank's",
)
def remaining_current(limit: float, others: Sequence[float]) -> float:
    """Charge current that is left for one source beside the others.

    Parameters
    ----------
    limit
        Limit on the current into the bank. [A]
    others
        What every other source that may run at the same time can add. [A]

    Returns
    -------
    float
        What is left, never below zero. [A]

    Raises
    ------
    FormulaError
        If ``limit`` or one of ``others`` is negative or not a finite number.

    Examples
    --------
    >>> remaining_current(125.0, [60.0, 45.0])
    20.0

    References
    ----------
    .. [1] Common practice; no published source.
    """
    require_not_negative(limit=limit)
    for other in others:
        require_not_negative(others=other)
    return max(0.0, limit - math.fsum(others))


@formula(
    expression="limit × rating ÷ sum of ratings",
    unit="A",
    source="common practice: a shared limit split by rating; from memory",
)
def shared_current(limit: float, rating: float, ratings: Sequence[float]) -> float:
    """Share of one source in a common charge limit, in proportion to its rating.

    Parameters
    ----------
    limit
        Limit on the current of all together. [A]
    rating
        Greatest current of the source in question. [A]
    ratings
        Greatest current of every source that shares, the one in question among them. [A]

    Returns
    -------
    float
        Its share, which may be more than its rating where the limit is above the sum. [A]

    Raises
    ------
    FormulaError
        If ``limit`` is negative, a rating not positive, or ``rating`` is not among ``ratings``.

    Examples
    --------
    >>> shared_current(125.0, 120.0, [120.0, 70.0])
    78.95

    References
    ----------
    .. [1] Common practice; no published source.
    """
    require_not_negative(limit=limit)
    for one in ratings:
        require_positive(ratings=one)
    if rating not in ratings:
        raise FormulaError(f"rating = {rating}: must be one of the ratings that share the limit")
    return limit * rating / math.fsum(ratings)


@formula(
    expression="3600 × capacity × depth ÷ (current × charge_efficiency)",
    unit="s",
    source="common practice: charge put back with its losses",
)
def bulk_time(capacity: float, depth: float, current: float, charge_efficiency: float) -> float:
    """Time at constant current until what was taken out is put back.

    Parameters
    ----------
    capacity
        Capacity of the bank. [Ah]
    depth
        Share of the capacity that was taken out. [1]
    current
        Current into the bank. [A]
    charge_efficiency
        Ampere-hours out for each ampere-hour in. [1]

    Returns
    -------
    float
        Time in bulk; absorption comes on top. [s]

    Raises
    ------
    FormulaError
        If capacity or current is not positive, or depth or efficiency is no share.

    Examples
    --------
    Half of 400 Ah at 50 A, 4.44 h:

    >>> bulk_time(400.0, 0.5, 50.0, 0.9)
    16000.0

    References
    ----------
    .. [1] Common practice; no published source.
    """
    require_positive(capacity=capacity, current=current)
    require_share(depth=depth)
    require_efficiency(charge_efficiency=charge_efficiency)
    return 3600.0 * capacity * depth / (current * charge_efficiency)


@formula(
    expression="load + factor × removed × 3600 ÷ time",
    unit="A",
    source="IEEE 946, charger sizing; from memory",
)
def recharge_current(load: float, factor: float, removed: float, time: float) -> float:
    """Charger current that feeds the load and puts back what was taken out within a time.

    Parameters
    ----------
    load
        Continuous load beside the charge. [A]
    factor
        Ampere-hours to return for each ampere-hour removed: 1.1 for lead, 1.4 for nickel-cadmium. [1]
    removed
        Charge removed. [Ah]
    time
        Time allowed for the recharge. [s]

    Returns
    -------
    float
        Current that the charger must give. [A]

    Raises
    ------
    FormulaError
        If load or removed charge is negative, the factor is under one, or the time is not positive.

    Examples
    --------
    200 Ah out of nickel-cadmium cells, back in 8 h beside 20 A of load:

    >>> recharge_current(20.0, 1.4, 200.0, 28800.0)
    55.0

    References
    ----------
    .. [1] IEEE 946, design of DC auxiliary power systems, charger sizing (from memory).
    """
    require_not_negative(load=load, removed=removed)
    require_one_or_more(factor=factor)
    require_positive(time=time)
    return load + factor * removed * 3600.0 / time


@formula(expression="share × capacity", unit="A", source="definition; common practice")
def end_current(share: float, capacity: float) -> float:
    """End current: absorption ends when the current has fallen to it.

    Parameters
    ----------
    share
        End current as a share of the capacity. [A/Ah]
    capacity
        Capacity of the whole bank. [Ah]

    Returns
    -------
    float
        Current into the bank at which it counts as full. [A]

    Raises
    ------
    FormulaError
        If the share or the capacity is not positive.

    Examples
    --------
    >>> end_current(0.02, 450.0)
    9.0

    References
    ----------
    .. [1] Common practice; no published source.
    """
    require_positive(share=share, capacity=capacity)
    return share * capacity


@formula(
    expression="power × margin ÷ voltage",
    unit="A",
    source="common practice: what an array can deliver at the lowest bulk voltage",
)
def array_current(power: float, margin: float, voltage: float) -> float:
    """Charge current that a PV array can deliver at most.

    Parameters
    ----------
    power
        Power of the array at standard test conditions. [W]
    margin
        What cold cells and bright clouds add: 1.1 unless the site knows better. [1]
    voltage
        Lowest voltage of the bank in bulk. [V]

    Returns
    -------
    float
        Current into the bank. [A]

    Raises
    ------
    FormulaError
        If power is negative, or margin or voltage is not positive.

    Examples
    --------
    >>> array_current(2400.0, 1.1, 48.0)
    55.0

    References
    ----------
    .. [1] Common practice; no published source.
    """
    require_not_negative(power=power)
    require_positive(margin=margin, voltage=voltage)
    return power * margin / voltage
