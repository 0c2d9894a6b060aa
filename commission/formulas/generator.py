"""What a generator set can give where it stands, and what of that may charge the bank."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from commission.errors import FormulaError
from commission.figure import formula
from commission.formulas.ranges import (
    require_efficiency,
    require_finite,
    require_not_negative,
    require_positive,
    require_share,
)
from commission.formulas.tables import table_value

SECONDS_PER_HOUR: Final = 3600.0


def _straight_derating(excess: float, loss: float, step: float) -> float:
    require_share(loss=loss)
    require_positive(step=step)
    factor = 1.0 - loss * max(0.0, excess) / step
    if factor <= 0.0:
        raise FormulaError(f"loss = {loss} for each {step:g}: nothing is left so far from its start")
    return factor


@formula(
    expression="1 − loss × greatest of 0 and (altitude − start) ÷ step",
    unit="1",
    source="rating notes of alternators after ISO 8528-1: 3 % for each 500 m above 1000 m",
)
def derating_by_altitude(altitude: float, start: float, *, loss: float, step: float) -> float:
    """Factor on a generator's rating for the altitude of the site.

    Parameters
    ----------
    altitude
        Altitude of the site. [m]
    start
        Altitude up to which the rating holds. [m]
    loss
        Share of the rating that is lost with each ``step``. [1]
    step
        Height to which ``loss`` refers. [m]

    Returns
    -------
    float
        Factor between 0 and 1. [1]

    Raises
    ------
    FormulaError
        If an input is outside its range or nothing of the rating would be left.

    Examples
    --------
    3 % for each 500 m above 1000 m, at 2500 m:

    >>> derating_by_altitude(2500.0, 1000.0, loss=0.03, step=500.0)
    0.91

    References
    ----------
    .. [1] ISO 8528-1:2018, clause on site conditions; the builder's own figures go first.
    """
    require_finite(altitude=altitude, start=start)
    return _straight_derating(altitude - start, loss, step)


@formula(
    expression="1 − loss × greatest of 0 and (temperature − start) ÷ step",
    unit="1",
    source="rating notes of alternators after ISO 8528-1: 3 % for each 5 K above 40 °C",
)
def derating_by_temperature(temperature: float, start: float, *, loss: float, step: float) -> float:
    """Factor on a generator's rating for the temperature of the air that it takes in.

    Parameters
    ----------
    temperature
        Temperature at the air intake. [°C]
    start
        Temperature up to which the rating holds. [°C]
    loss
        Share of the rating that is lost with each ``step``. [1]
    step
        Warming to which ``loss`` refers. [K]

    Returns
    -------
    float
        Factor between 0 and 1. [1]

    Raises
    ------
    FormulaError
        If an input is outside its range or nothing of the rating would be left.

    Examples
    --------
    3 % for each 5 K above 40 °C, at 50 °C:

    >>> derating_by_temperature(50.0, 40.0, loss=0.03, step=5.0)
    0.94

    References
    ----------
    .. [1] ISO 8528-1:2018, clause on site conditions; the builder's own figures go first.
    """
    require_finite(temperature=temperature, start=start)
    return _straight_derating(temperature - start, loss, step)


@formula(
    expression="factors at value, straight lines between the rows of values, the first factor before them",
    unit="1",
    source="straight lines between the rows of the builder's table; common practice",
)
def derating_between_rows(value: float, values: Sequence[float], factors: Sequence[float]) -> float:
    """Factor on a rating from the builder's table.

    Parameters
    ----------
    value
        Altitude of the site or temperature of its air, in the unit of ``values``. [1]
    values
        Altitudes or temperatures of the table's rows. [1]
    factors
        Factor of each row. [1]

    Returns
    -------
    float
        Factor at ``value``. [1]

    Raises
    ------
    FormulaError
        Beyond the last row, where nothing is known, or if a factor is no share.

    Examples
    --------
    A turbocharged set at 30 °C falls off steeply above 3000 m:

    >>> derating_between_rows(3250.0, [1000, 2000, 3000, 3500], [1.0, 0.95, 0.85, 0.65])
    0.75

    References
    ----------
    .. [1] Common practice; ISO 8528-1:2018 leaves the figures to the builder.
    """
    for factor in factors:
        require_share(factors=factor)
    if values and value < min(values):
        value = min(values)
    return table_value(value, values, factors)


@formula(
    expression="by_altitude × by_temperature",
    unit="1",
    source="rating notes of alternators: factors multiply",
)
def combined_derating(by_altitude: float, by_temperature: float) -> float:
    """Factor on a rating for altitude and temperature together.

    Parameters
    ----------
    by_altitude
        Factor for the altitude. [1]
    by_temperature
        Factor for the temperature. [1]

    Returns
    -------
    float
        Product of both. [1]

    Raises
    ------
    FormulaError
        If a factor is not between 0 and 1.

    Examples
    --------
    >>> combined_derating(0.94, 0.97)
    0.9118

    References
    ----------
    .. [1] Rating notes of alternators after ISO 8528-1: cumulative, the factors multiply.
    """
    require_share(by_altitude=by_altitude, by_temperature=by_temperature)
    return by_altitude * by_temperature


@formula(expression="voltage × current ÷ (efficiency × power_factor)", unit="VA", source="common practice")
def charger_draw(voltage: float, current: float, *, efficiency: float, power_factor: float) -> float:
    """Apparent power that a charger draws from its AC source.

    Parameters
    ----------
    voltage
        DC charging voltage; the highest that is held gives the greatest draw. [V]
    current
        DC charging current. [A]
    efficiency
        Efficiency of the charger, 0.85 to 0.93. [1]
    power_factor
        Power factor of the charger: 0.95 to 1 corrected, 0.6 to 0.7 not. [1]

    Returns
    -------
    float
        Apparent power. [VA]

    Raises
    ------
    FormulaError
        If voltage or current is negative or a share is not in 0 to 1.

    Examples
    --------
    A charger without power-factor correction loads the set with nearly twice its watts:

    >>> charger_draw(28.8, 70.0, efficiency=0.85, power_factor=0.65)
    3648.9

    References
    ----------
    .. [1] Common practice; definition of efficiency and power factor (IEC 60050-131).
    """
    require_not_negative(voltage=voltage, current=current)
    require_efficiency(efficiency=efficiency, power_factor=power_factor)
    return voltage * current / (efficiency * power_factor)


@formula(expression="rating × derating × loading", unit="VA", source="common practice")
def input_budget(rating: float, derating: float, loading: float) -> float:
    """Power that may be drawn from an AC source for long.

    Parameters
    ----------
    rating
        Rating of the source, or of one of its legs; likewise with watts. [VA]
    derating
        Factor for altitude and temperature. [1]
    loading
        Share that is drawn for long; 0.8. [1]

    Returns
    -------
    float
        Budget, before the breaker's limit. [VA]

    Raises
    ------
    FormulaError
        If the rating is negative or a factor is not in 0 to 1.

    Examples
    --------
    >>> input_budget(8000.0, 0.9, 0.8)
    5760.0

    References
    ----------
    .. [1] Common practice; ISO 8528-1:2018 allows a prime-rated set a mean of 70 % over a day.
    """
    require_not_negative(rating=rating)
    require_efficiency(derating=derating, loading=loading)
    return rating * derating * loading


@formula(expression="budget ÷ voltage", unit="A", source="common practice")
def input_current_limit(budget: float, voltage: float) -> float:
    """Limit on the current taken from an AC source on one leg.

    Parameters
    ----------
    budget
        What may be drawn on that leg, less the loads where the limit counts the charger alone. [VA]
    voltage
        Voltage of the leg. [V]

    Returns
    -------
    float
        Current limit before rounding. [A]

    Raises
    ------
    FormulaError
        If the budget is negative or the voltage not above zero.

    Examples
    --------
    >>> input_current_limit(5760.0, 230.0)
    25.043

    References
    ----------
    .. [1] Common practice; definition of apparent power (IEC 60050-131).
    """
    require_not_negative(budget=budget)
    require_positive(voltage=voltage)
    return budget / voltage


@formula(
    expression="greatest of 0 and (budget − load) × power_factor × efficiency ÷ bank_voltage",
    unit="A",
    source="common practice; apparent powers subtracted arithmetically, on the cautious side",
)
def charge_current_from_budget(
    budget: float, load: float, *, power_factor: float, efficiency: float, bank_voltage: float
) -> float:
    """Charging current that an AC source's budget leaves for the bank.

    Parameters
    ----------
    budget
        What may be drawn from the source. [VA]
    load
        Loads that run meanwhile. [VA]
    power_factor
        Power factor of the charger. [1]
    efficiency
        Efficiency of the charger. [1]
    bank_voltage
        Charging voltage of the bank. [V]

    Returns
    -------
    float
        Current into the bank; 0 if the loads take all. [A]

    Raises
    ------
    FormulaError
        If an input is outside its range.

    Examples
    --------
    >>> charge_current_from_budget(
    ...     5760.0, 1500.0, power_factor=0.95, efficiency=0.9, bank_voltage=54.0
    ... )
    67.45

    References
    ----------
    .. [1] Common practice.
    """
    require_not_negative(budget=budget, load=load)
    require_efficiency(power_factor=power_factor, efficiency=efficiency)
    require_positive(bank_voltage=bank_voltage)
    return max(0.0, budget - load) * power_factor * efficiency / bank_voltage


@formula(expression="rating ÷ line_voltage", unit="A", source="two legs in series; from memory")
def leg_rated_current(rating: float, line_voltage: float) -> float:
    """Rated current of each leg of a split-phase set.

    Parameters
    ----------
    rating
        Rating of the set between its lines. [VA]
    line_voltage
        Voltage between the lines. [V]

    Returns
    -------
    float
        Greatest current of either leg. [A]

    Raises
    ------
    FormulaError
        If the rating is negative or the voltage not above zero.

    Notes
    -----
    A charger on one leg gets half of the set's power.

    Examples
    --------
    >>> leg_rated_current(10000.0, 240.0)
    41.667

    References
    ----------
    .. [1] Definition of apparent power (IEC 60050-131).
    """
    require_not_negative(rating=rating)
    require_positive(line_voltage=line_voltage)
    return rating / line_voltage


@formula(
    expression="rating ÷ (3 × phase_voltage)", unit="A", source="symmetrical three-phase set; from memory"
)
def phase_rated_current(rating: float, phase_voltage: float) -> float:
    """Rated current of each phase of a three-phase set.

    Parameters
    ----------
    rating
        Rating of the set. [VA]
    phase_voltage
        Voltage between phase and neutral. [V]

    Returns
    -------
    float
        Greatest current of a phase; a single-phase charger may not take more. [A]

    Raises
    ------
    FormulaError
        If the rating is negative or the voltage not above zero.

    Examples
    --------
    >>> phase_rated_current(10000.0, 230.0)
    14.493

    References
    ----------
    .. [1] Definition of apparent power (IEC 60050-131).
    """
    require_not_negative(rating=rating)
    require_positive(phase_voltage=phase_voltage)
    return rating / (3.0 * phase_voltage)


@formula(
    expression="3600 × capacity × (stop − start) ÷ (current × charge_efficiency)",
    unit="s",
    source="common practice, without the taper of absorption",
)
def run_time(
    capacity: float, start: float, *, stop: float, current: float, charge_efficiency: float
) -> float:
    """Time that a generator runs to bring the bank from one state of charge to another.

    Parameters
    ----------
    capacity
        Capacity of the bank. [Ah]
    start
        State of charge at which it starts. [1]
    stop
        State of charge at which it stops. [1]
    current
        Charging current. [A]
    charge_efficiency
        Ampere-hours stored for each one put in. [1]

    Returns
    -------
    float
        Time. [s]

    Raises
    ------
    FormulaError
        If an input is outside its range or ``stop`` is below ``start``.

    Examples
    --------
    In hours:

    >>> run_time(800.0, 0.40, stop=0.85, current=120.0, charge_efficiency=0.92) / 3600
    3.261

    References
    ----------
    .. [1] Common practice.
    """
    require_positive(capacity=capacity, current=current)
    require_share(start=start, stop=stop)
    require_efficiency(charge_efficiency=charge_efficiency)
    if stop < start:
        raise FormulaError(f"stop = {stop}: must not be below start = {start}")
    return SECONDS_PER_HOUR * capacity * (stop - start) / (current * charge_efficiency)
