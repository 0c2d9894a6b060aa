"""The balance of a day: what the loads take, what the sun gives, and how long bank and fuel last."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from commission.errors import FormulaError
from commission.figure import formula
from commission.formulas.ranges import (
    require_efficiency,
    require_exponent,
    require_finite,
    require_not_negative,
    require_one_or_more,
    require_positive,
    require_share,
)
from commission.formulas.tables import table_value

HOURS_PER_DAY: Final = 24.0
SECONDS_PER_HOUR: Final = 3600.0
SECONDS_PER_DAY: Final = 86400.0

# fmt: off
SIZING_FACTORS: Final = (
    (25.0, 1.52), (30.0, 1.43), (35.0, 1.35), (40.0, 1.30), (45.0, 1.25), (50.0, 1.19), (55.0, 1.15),
    (60.0, 1.11), (65.0, 1.08), (68.0, 1.056), (70.0, 1.04), (72.0, 1.029), (75.0, 1.011), (77.0, 1.00),
)
"""Temperature of a lead cell in °F and how much larger it must be (IEEE 485, table 1; rows under 40 °F from
memory)."""
# fmt: on


@formula(
    expression="sum of direct + sum of alternating ÷ efficiency + 24 × sum of standing",
    unit="Wh",
    source="IEEE 1013 and IEEE 1562, load of a day; from memory",
)
def daily_energy_of_bank(
    direct: Sequence[float], alternating: Sequence[float], efficiency: float, standing: Sequence[float]
) -> float:
    """Energy that a plant takes from its DC bus in a day.

    Parameters
    ----------
    direct
        Energy of each DC load in a day. [Wh]
    alternating
        Energy of each AC load in a day. [Wh]
    efficiency
        Efficiency of the inverter. [1]
    standing
        Powers that are drawn day and night: idle inverters, control. [W]

    Returns
    -------
    float
        Energy in a day. [Wh]

    Raises
    ------
    FormulaError
        If an energy or power is negative, or the efficiency not greater than 0 and at most 1.

    Examples
    --------
    >>> daily_energy_of_bank([240.0], [600.0, 800.0], 0.87, [20.0, 0.5])
    2341.2

    References
    ----------
    .. [1] IEEE 1013, sizing lead-acid batteries for stand-alone photovoltaic systems, load determination
       (from memory).
    """
    for each in direct:
        require_not_negative(direct=each)
    for each in alternating:
        require_not_negative(alternating=each)
    for each in standing:
        require_not_negative(standing=each)
    require_efficiency(efficiency=efficiency)
    return math.fsum(direct) + math.fsum(alternating) / efficiency + HOURS_PER_DAY * math.fsum(standing)


@formula(expression="24 × power", unit="Wh", source="definition")
def energy_of_a_day(power: float) -> float:
    """Energy of a load that runs day and night.

    Parameters
    ----------
    power
        Its power. [W]

    Returns
    -------
    float
        Energy in a day. [Wh]

    Raises
    ------
    FormulaError
        If the power is negative.

    Examples
    --------
    >>> energy_of_a_day(600.0)
    14400.0

    References
    ----------
    .. [1] Definition.
    """
    require_not_negative(power=power)
    return HOURS_PER_DAY * power


@formula(expression="energy ÷ (24 × voltage)", unit="A", source="definition of energy and power")
def mean_current(energy: float, voltage: float) -> float:
    """Mean current of a day's energy.

    Parameters
    ----------
    energy
        Energy in a day. [Wh]
    voltage
        Nominal voltage of the bank. [V]

    Returns
    -------
    float
        Current, day and night. [A]

    Raises
    ------
    FormulaError
        If the energy is negative, or the voltage not positive.

    Examples
    --------
    >>> mean_current(5555.6, 48.0)
    4.8225

    References
    ----------
    .. [1] Definition.
    """
    require_not_negative(energy=energy)
    require_positive(voltage=voltage)
    return energy / (HOURS_PER_DAY * voltage)


@formula(
    expression="factor of IEEE 485 at temperature, not under 1",
    unit="1",
    source="IEEE 485, table 1, temperature correction for sizing; rows under 4.4 °C from memory",
)
def sizing_factor(temperature: float) -> float:
    """Factor by which a lead battery must be larger to give its capacity in the cold.

    Parameters
    ----------
    temperature
        Coldest temperature of the cells. [°C]

    Returns
    -------
    float
        Factor; 1 from 25 °C on, since warmth earns no credit. [1]

    Raises
    ------
    FormulaError
        Below −3.9 °C (25 °F), where the table ends.

    Examples
    --------
    At 10 °C (50 °F):

    >>> sizing_factor(10.0)
    1.19

    References
    ----------
    .. [1] IEEE 485, sizing lead-acid batteries for stationary applications, table 1.
    """
    require_finite(temperature=temperature)
    fahrenheit = temperature * 9.0 / 5.0 + 32.0
    low, high = SIZING_FACTORS[0][0], SIZING_FACTORS[-1][0]
    if fahrenheit < low - 1e-6:
        raise FormulaError(f"temperature = {temperature:g} °C: the table ends at −3.9 °C")
    held = min(max(fahrenheit, low), high)
    return table_value(held, [row[0] for row in SIZING_FACTORS], [row[1] for row in SIZING_FACTORS])


@formula(expression="1 ÷ factor", unit="1", source="IEEE 485, temperature correction for sizing")
def share_in_cold(factor: float) -> float:
    """Share of its capacity that a lead battery gives in the cold.

    Parameters
    ----------
    factor
        Sizing factor of its temperature. [1]

    Returns
    -------
    float
        Share of the capacity at 25 °C. [1]

    Raises
    ------
    FormulaError
        If the factor is under 1.

    Examples
    --------
    >>> share_in_cold(1.19)
    0.840

    References
    ----------
    .. [1] IEEE 485, sizing lead-acid batteries for stationary applications, table 1.
    """
    require_one_or_more(factor=factor)
    return 1.0 / factor


@formula(
    expression="shares at temperature, straight lines between the rows of temperatures; above them the last",
    unit="1",
    source="straight lines between the rows of the battery's table; common practice",
)
def share_from_table(temperature: float, temperatures: Sequence[float], shares: Sequence[float]) -> float:
    """Share of its capacity that a battery gives in the cold, by a table.

    Parameters
    ----------
    temperature
        Coldest temperature of the cells. [°C]
    temperatures
        Temperatures of the rows. [°C]
    shares
        Share of the capacity at each. [1]

    Returns
    -------
    float
        Share of the capacity. [1]

    Raises
    ------
    FormulaError
        Below the coldest row, or if a share is none.

    Examples
    --------
    >>> share_from_table(10.0, [-20.0, 0.0, 25.0], [0.6, 0.85, 1.0])
    0.91

    References
    ----------
    .. [1] Linear interpolation between the rows of the table that is given.
    """
    for share in shares:
        require_share(shares=share)
    held = min([temperature, max(temperatures)]) if temperatures else temperature
    return table_value(held, temperatures, shares)


@formula(
    expression=(
        "time × current ÷ (3600 × depth × temperature_share); where current × rate exceeds it,"
        " (that × (current × rate)^(exponent − 1))^(1 ÷ exponent)"
    ),
    unit="Ah",
    source="IEEE 1013 with Peukert's law, no credit under the rated current; common practice",
)
def capacity_for_autonomy(
    time: float, current: float, depth: float, temperature_share: float, rate: float, exponent: float
) -> float:
    """Capacity that carries a constant load for a time without any charge.

    Parameters
    ----------
    time
        Time without charge. [s]
    current
        Current drawn, without sign. [A]
    depth
        Share of the capacity that may be taken. [1]
    temperature_share
        Share of the capacity that is there at the coldest battery. [1]
    rate
        Hour rate at which the capacity is wanted. [h]
    exponent
        Peukert's exponent, found from the same hour rate. [1]

    Returns
    -------
    float
        Capacity at ``rate`` and 25 °C. [Ah]

    Raises
    ------
    FormulaError
        If time, current or rate is not positive, the exponent outside 1 to 2, or a share not in 0 to 1.

    Examples
    --------
    Three days of 5 kWh through an inverter of 90 % from 48 V, to 80 % and at 90 %:

    >>> capacity_for_autonomy(259200.0, 4.8225, 0.8, 0.9, 20.0, 1.25)
    482.3

    References
    ----------
    .. [1] IEEE 1013, autonomy (from memory).
    .. [2] Peukert, W., Elektrotechnische Zeitschrift 20, 1897 (from memory).
    """
    require_positive(time=time, current=current, rate=rate)
    require_efficiency(depth=depth, temperature_share=temperature_share)
    require_exponent(exponent=exponent)
    plain = time * current / (SECONDS_PER_HOUR * depth * temperature_share)
    if current * rate <= plain:
        return plain
    return math.pow(plain * math.pow(current * rate, exponent - 1.0), 1.0 / exponent)


@formula(
    expression="power × sun_hours × efficiency × charge_efficiency",
    unit="Wh",
    source="IEEE 1562, array output with its losses; from memory",
)
def array_energy(power: float, sun_hours: float, *, efficiency: float, charge_efficiency: float) -> float:
    """Energy that a PV array gives to the loads in a day.

    Parameters
    ----------
    power
        Power at 1000 W/m², or what its controller takes of it. [W]
    sun_hours
        Hours a day at 1000 W/m² in its plane. [h]
    efficiency
        Efficiency between the array and the bus. [1]
    charge_efficiency
        Ampere-hours out of the bank for each one put in. [1]

    Returns
    -------
    float
        Energy in a day. [Wh]

    Raises
    ------
    FormulaError
        If power or sun hours is negative, or an efficiency not greater than 0 and at most 1.

    Examples
    --------
    >>> array_energy(3960.0, 5.0, efficiency=0.97, charge_efficiency=0.95)
    18245.7

    References
    ----------
    .. [1] IEEE 1562, array and battery sizing in stand-alone photovoltaic systems (from memory).
    """
    require_not_negative(power=power, sun_hours=sun_hours)
    require_efficiency(efficiency=efficiency, charge_efficiency=charge_efficiency)
    return power * sun_hours * efficiency * charge_efficiency


@formula(expression="available ÷ taken", unit="1", source="IEEE 1562, array-to-load ratio; from memory")
def array_to_load_ratio(available: float, taken: float) -> float:
    """Array-to-load ratio of the design month.

    Parameters
    ----------
    available
        Energy that the arrays give in a day of the design month. [Wh]
    taken
        Energy that the plant takes in a day of that month. [Wh]

    Returns
    -------
    float
        Ratio; 1.1 to 1.2 for ordinary loads, 1.3 to 1.4 for those that must not fail. [1]

    Raises
    ------
    FormulaError
        If the available energy is negative, or the other not positive.

    Examples
    --------
    >>> array_to_load_ratio(18245.7, 15640.0)
    1.167

    References
    ----------
    .. [1] IEEE 1562, array and battery sizing in stand-alone photovoltaic systems (from memory).
    """
    require_not_negative(available=available)
    require_positive(taken=taken)
    return available / taken


@formula(
    expression="ratio × taken − available", unit="Wh", source="IEEE 1562, array-to-load ratio; from memory"
)
def missing_energy(available: float, taken: float, ratio: float) -> float:
    """Energy of a day that the arrays lack to reach a ratio to the load.

    Parameters
    ----------
    available
        Energy that the arrays give in a day. [Wh]
    taken
        Energy that the plant takes in a day. [Wh]
    ratio
        Ratio that is wanted; under 1 where a generator gives the rest. [1]

    Returns
    -------
    float
        Energy that is missing; 0 where none is. [Wh]

    Raises
    ------
    FormulaError
        If a value is negative.

    Examples
    --------
    >>> missing_energy(4000.0, 5000.0, 1.1)
    1500.0

    References
    ----------
    .. [1] IEEE 1562, array and battery sizing in stand-alone photovoltaic systems (from memory).
    """
    require_not_negative(available=available, taken=taken, ratio=ratio)
    return max(0.0, ratio * taken - available)


@formula(
    expression="greatest of 0 and 1 − available ÷ taken", unit="1", source="conservation of energy; IEEE 1561"
)
def shortfall_share(available: float, taken: float) -> float:
    """Share of a month's energy that the sun does not give.

    Parameters
    ----------
    available
        Energy that the arrays give in a day of the month. [Wh]
    taken
        Energy that the plant takes in a day of the month. [Wh]

    Returns
    -------
    float
        Share that a generator has to give. [1]

    Raises
    ------
    FormulaError
        If the available energy is negative, or the other not positive.

    Examples
    --------
    >>> shortfall_share(9000.0, 20915.0)
    0.570

    References
    ----------
    .. [1] Conservation of energy; IEEE 1561, lead-acid batteries in stand-alone hybrid systems.
    """
    require_not_negative(available=available)
    require_positive(taken=taken)
    return max(0.0, 1.0 - available / taken)


@formula(
    expression="(passing + lasting × (24 − sun_hours) ÷ 24) ÷ (voltage × capacity)",
    unit="1",
    source="IEEE 1013, daily depth of discharge; lasting loads fed past the bank while the sun shines",
)
def daily_depth(
    passing: float, lasting: float, sun_hours: float, *, voltage: float, capacity: float
) -> float:
    """Depth to which a bank is discharged on an ordinary day.

    Parameters
    ----------
    passing
        Energy in a day of what may all run at night. [Wh]
    lasting
        Energy in a day of what runs day and night. [Wh]
    sun_hours
        Hours a day at 1000 W/m²; 0 without PV. [h]
    voltage
        Nominal voltage of the bank. [V]
    capacity
        Capacity of the bank. [Ah]

    Returns
    -------
    float
        Share of the capacity that is taken in a day. [1]

    Raises
    ------
    FormulaError
        If an energy is negative, the sun hours not within 0 to 24, or voltage or capacity not positive.

    Examples
    --------
    >>> daily_depth(40.0, 15600.0, 5.0, voltage=48.0, capacity=600.0)
    0.430

    References
    ----------
    .. [1] IEEE 1013, sizing lead-acid batteries for stand-alone photovoltaic systems (from memory).
    """
    require_not_negative(passing=passing, lasting=lasting, sun_hours=sun_hours)
    require_positive(voltage=voltage, capacity=capacity)
    if sun_hours > HOURS_PER_DAY:
        raise FormulaError(f"sun_hours = {sun_hours}: a day has 24")
    night = (HOURS_PER_DAY - sun_hours) / HOURS_PER_DAY
    return (passing + lasting * night) / (voltage * capacity)


@formula(expression="value × wanted ÷ given", unit="1", source="rule of three")
def in_proportion(value: float, wanted: float, given: float) -> float:
    """Value that grows with another in proportion.

    Parameters
    ----------
    value
        Value as it is, in any unit. [1]
    wanted
        What the other should be. [1]
    given
        What the other is. [1]

    Returns
    -------
    float
        Value that belongs to ``wanted``. [1]

    Raises
    ------
    FormulaError
        If a value is negative, or ``given`` not positive.

    Examples
    --------
    A string of 150 Ah where the bank of 600 Ah should have 800 Ah:

    >>> in_proportion(150.0, 800.0, 600.0)
    200.0

    References
    ----------
    .. [1] Rule of three.
    """
    require_not_negative(value=value, wanted=wanted)
    require_positive(given=given)
    return value * wanted / given


@formula(
    expression="86400 × depth × voltage × capacity ÷ missing",
    unit="s",
    source="conservation of energy",
)
def time_between_charges(depth: float, voltage: float, capacity: float, missing: float) -> float:
    """Time in which a daily deficit takes a share of the bank's charge.

    Parameters
    ----------
    depth
        Share of the capacity that may be taken. [1]
    voltage
        Nominal voltage of the bank. [V]
    capacity
        Capacity of the bank. [Ah]
    missing
        Energy of a day that the sun does not give. [Wh]

    Returns
    -------
    float
        Time until a generator has to charge. [s]

    Raises
    ------
    FormulaError
        If the depth is no share, or another value not positive.

    Examples
    --------
    Half of 600 Ah at 24 V against 2 kWh a day, 3.6 days:

    >>> time_between_charges(0.5, 24.0, 600.0, 2000.0) / 86400
    3.6

    References
    ----------
    .. [1] Conservation of energy.
    """
    require_share(depth=depth)
    require_positive(voltage=voltage, capacity=capacity, missing=missing)
    return SECONDS_PER_DAY * depth * voltage * capacity / missing


@formula(expression="rate × time ÷ 3600", unit="L", source="definition")
def fuel_of_run(rate: float, time: float) -> float:
    """Fuel that a set burns in a time.

    Parameters
    ----------
    rate
        Fuel rate. [L/h]
    time
        Time that it runs. [s]

    Returns
    -------
    float
        Fuel. [L]

    Raises
    ------
    FormulaError
        If a value is negative.

    Examples
    --------
    A 20 kW set at half load for four hours, 3.4 L/h by the chart:

    >>> fuel_of_run(3.4, 14400.0)
    13.6

    References
    ----------
    .. [1] Definition.
    """
    require_not_negative(rate=rate, time=time)
    return rate * time / SECONDS_PER_HOUR


@formula(
    expression="86400 × store ÷ rate × power × charge_efficiency ÷ energy",
    unit="s",
    source="conservation of energy: hours of fuel times the power into the bank, over the energy of a day",
)
def time_of_store(
    store: float, rate: float, power: float, *, charge_efficiency: float, energy: float
) -> float:
    """Time that a store of fuel carries the loads without any sun.

    Parameters
    ----------
    store
        Fuel that is there. [L]
    rate
        Fuel rate while the set charges. [L/h]
    power
        Power into the bank meanwhile. [W]
    charge_efficiency
        Ampere-hours out of the bank for each one put in. [1]
    energy
        Energy that the plant takes from its bus in a day. [Wh]

    Returns
    -------
    float
        Time until the store is empty. [s]

    Raises
    ------
    FormulaError
        If the store is negative, the efficiency not in 0 to 1, or another value not positive.

    Examples
    --------
    20 L at 2 L/h are ten hours of 2 kW, which 8 kWh a day use up in two and a quarter days:

    >>> time_of_store(20.0, 2.0, 2000.0, charge_efficiency=0.9, energy=8000.0) / 86400
    2.25

    References
    ----------
    .. [1] Conservation of energy.
    """
    require_not_negative(store=store)
    require_positive(rate=rate, power=power, energy=energy)
    require_efficiency(charge_efficiency=charge_efficiency)
    return SECONDS_PER_DAY * store / rate * power * charge_efficiency / energy


@formula(
    expression="until − begin, a day later where it is not after it",
    unit="s",
    source="definition of the time of day",
)
def time_until(begin: float, until: float) -> float:
    """Length of a part of the day.

    Parameters
    ----------
    begin
        Its begin, after midnight. [s]
    until
        Its end, after midnight. [s]

    Returns
    -------
    float
        Time from one to the other. [s]

    Raises
    ------
    FormulaError
        If a time is not within a day.

    Examples
    --------
    From 21:30 until 06:30:

    >>> time_until(77400.0, 23400.0) / 3600
    9.0

    References
    ----------
    .. [1] Definition.
    """
    for name, value in (("begin", begin), ("until", until)):
        if not 0.0 <= value <= SECONDS_PER_DAY:
            raise FormulaError(f"{name} = {value}: seconds of one day")
    return (until - begin) % SECONDS_PER_DAY
