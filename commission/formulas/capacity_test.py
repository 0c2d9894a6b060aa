"""Capacity tests, corrected to the reference temperature by IEEE 450 or by IEC 60896-11."""

from __future__ import annotations

from typing import Final

from commission.errors import FormulaError
from commission.figure import formula
from commission.formulas.ranges import (
    require_finite,
    require_not_negative,
    require_positive,
)
from commission.formulas.tables import table_value

# fmt: off
RATE_FACTORS: Final = (
    (40.0, 1.30), (45.0, 1.25), (50.0, 1.19), (55.0, 1.15), (60.0, 1.11), (65.0, 1.08), (68.0, 1.056),
    (70.0, 1.04), (72.0, 1.029), (75.0, 1.011), (77.0, 1.00), (80.0, 0.98), (85.0, 0.96), (90.0, 0.94),
    (95.0, 0.93), (100.0, 0.91), (105.0, 0.89), (110.0, 0.88), (115.0, 0.87), (120.0, 0.86),
)
"""Temperature of the electrolyte in °F and the factor of the rate-adjusted method (IEEE 450; IEEE 485)."""

TIME_FACTORS: Final = (
    (40.0, 0.670), (45.0, 0.735), (50.0, 0.790), (55.0, 0.840), (60.0, 0.882), (65.0, 0.920), (68.0, 0.942),
    (70.0, 0.955), (72.0, 0.970), (75.0, 0.986), (77.0, 1.000), (80.0, 1.011), (85.0, 1.040), (90.0, 1.065),
    (95.0, 1.090), (100.0, 1.112), (105.0, 1.140), (110.0, 1.162), (115.0, 1.183), (120.0, 1.210),
)
"""Temperature of the electrolyte in °F and the factor of the time-adjusted method; not the reciprocal of the
other (IEEE 450)."""
# fmt: on

REPLACE_BELOW: Final = 0.80
"""Share of the rating under which a bank is replaced (US Reclamation FIST 3-6, 1997; IEEE 450)."""
TEST_YEARLY_BELOW: Final = 0.90
"""Share of the rating under which a bank is tested every year (US Reclamation FIST 3-6, 1997; IEEE 450)."""


def _factor(table: tuple[tuple[float, float], ...], temperature: float) -> float:
    """Return a factor at a temperature in °C: the tables are printed in °F."""
    require_finite(temperature=temperature)
    fahrenheit = temperature * 9.0 / 5.0 + 32.0
    low, high = table[0][0], table[-1][0]
    if not low - 1e-6 <= fahrenheit <= high + 1e-6:
        raise FormulaError(
            f"temperature = {temperature:g}: the table goes from {(low - 32) / 1.8:.1f}"
            f" to {(high - 32) / 1.8:.1f} °C"
        )
    held = min(max(fahrenheit, low), high)
    return table_value(held, [row[0] for row in table], [row[1] for row in table])


@formula(
    expression="table of IEEE 450 for the rate-adjusted method, at temperature",
    unit="1",
    source="IEEE 450 and 485, factor K by rate",
)
def rate_factor(temperature: float) -> float:
    """Temperature factor of the rate-adjusted method, and of sizing.

    Parameters
    ----------
    temperature
        Mean temperature of the electrolyte at the start. [°C]

    Returns
    -------
    float
        Factor; 1 at 25 °C, more in the cold. [1]

    Raises
    ------
    FormulaError
        If the temperature lies outside the table, 4.4 to 48.9 °C.

    Examples
    --------
    >>> rate_factor(25.0)
    1.00

    References
    ----------
    .. [1] IEEE 450 and IEEE 485, temperature correction factors for vented cells of 1.215 kg/L.
    """
    return _factor(RATE_FACTORS, temperature)


@formula(
    expression="table of IEEE 450 for the time-adjusted method, at temperature",
    unit="1",
    source="IEEE 450, factor K by time",
)
def time_factor(temperature: float) -> float:
    """Temperature factor of the time-adjusted method.

    Parameters
    ----------
    temperature
        Mean temperature of the electrolyte at the start. [°C]

    Returns
    -------
    float
        Factor; 1 at 25 °C, less in the cold. [1]

    Raises
    ------
    FormulaError
        If the temperature lies outside the table, 4.4 to 48.9 °C.

    Examples
    --------
    >>> time_factor(25.0)
    1.00

    References
    ----------
    .. [1] IEEE 450, temperature correction factors for the time-adjusted method.
    """
    return _factor(TIME_FACTORS, temperature)


@formula(
    expression="actual_time ÷ (rated_time × factor of IEEE 450 by time at temperature)",
    unit="1",
    source="IEEE 450 and 1188, time-adjusted method; from memory",
)
def time_adjusted_capacity(actual_time: float, rated_time: float, temperature: float) -> float:
    """Capacity by the time that a discharge at the published current lasted.

    Parameters
    ----------
    actual_time
        Time until the end voltage was reached. [s]
    rated_time
        Time that the data sheet gives for that current at 25 °C; an hour or more. [s]
    temperature
        Mean temperature of the electrolyte at the start. [°C]

    Returns
    -------
    float
        Capacity as a share of the rating at 25 °C. [1]

    Raises
    ------
    FormulaError
        If the actual time is negative, the rated one under an hour, or the temperature outside the table.

    Examples
    --------
    Six and a half of eight hours at 15.6 °C (60 °F):

    >>> time_adjusted_capacity(23400.0, 28800.0, 15.5556)
    0.921

    References
    ----------
    .. [1] IEEE 450, capacity test, time-adjusted method; IEEE 1188 likewise (from memory).
    """
    require_not_negative(actual_time=actual_time)
    if rated_time < 3600.0:
        raise FormulaError(f"rated_time = {rated_time}: under an hour the rate-adjusted method is to be used")
    require_positive(rated_time=rated_time)
    return actual_time / (rated_time * _factor(TIME_FACTORS, temperature))


@formula(
    expression="published_current ÷ factor of IEEE 450 by rate at temperature",
    unit="A",
    source="IEEE 450, rate-adjusted method",
)
def rate_adjusted_current(published_current: float, temperature: float) -> float:
    """Test current of the rate-adjusted method.

    Parameters
    ----------
    published_current
        Current that the data sheet gives for the test's duration at 25 °C. [A]
    temperature
        Mean temperature of the electrolyte at the start. [°C]

    Returns
    -------
    float
        Current to discharge with. [A]

    Raises
    ------
    FormulaError
        If the current is not positive, or the temperature lies outside the table.

    Examples
    --------
    At 18.3 °C (65 °F):

    >>> rate_adjusted_current(400.0, 18.3333)
    370.4

    References
    ----------
    .. [1] IEEE 450, capacity test, rate-adjusted method.
    """
    require_positive(published_current=published_current)
    return published_current / _factor(RATE_FACTORS, temperature)


@formula(
    expression="test_current × factor of IEEE 450 by rate at temperature ÷ published_current",
    unit="1",
    source="IEEE 450, rate-adjusted method; from memory",
)
def rate_adjusted_capacity(test_current: float, published_current: float, temperature: float) -> float:
    """Capacity by the rate-adjusted method, for tests under an hour.

    Parameters
    ----------
    test_current
        Current that was drawn. [A]
    published_current
        Current that the data sheet gives at 25 °C for the time that was reached. [A]
    temperature
        Mean temperature of the electrolyte at the start. [°C]

    Returns
    -------
    float
        Capacity as a share of the rating at 25 °C. [1]

    Raises
    ------
    FormulaError
        If a current is not positive, or the temperature lies outside the table.

    Examples
    --------
    >>> rate_adjusted_capacity(370.4, 430.0, 18.3333)
    0.930

    References
    ----------
    .. [1] IEEE 450, capacity test, rate-adjusted method (from memory).
    """
    require_positive(test_current=test_current, published_current=published_current)
    return test_current * _factor(RATE_FACTORS, temperature) / published_current


@formula(
    expression="capacity ÷ (1 + coefficient × (temperature − 20))",
    unit="Ah",
    source="IEC 60896-11, correction of capacity; from memory",
)
def iec_corrected_capacity(capacity: float, temperature: float, coefficient: float) -> float:
    """Capacity at 20 °C from a test at another temperature.

    Parameters
    ----------
    capacity
        Capacity that was measured. [Ah]
    temperature
        Mean temperature of the cells at the start. [°C]
    coefficient
        0.006 for discharges of three hours and more, 0.010 for faster ones. [1/K]

    Returns
    -------
    float
        Capacity at 20 °C. [Ah]

    Raises
    ------
    FormulaError
        If the capacity or the coefficient is negative, or the correction leaves no capacity.

    Examples
    --------
    >>> iec_corrected_capacity(465.0, 12.0, 0.006)
    488.4

    References
    ----------
    .. [1] IEC 60896-11, capacity test, correction to the reference temperature (from memory).
    """
    require_not_negative(capacity=capacity, coefficient=coefficient)
    require_finite(temperature=temperature)
    divisor = 1.0 + coefficient * (temperature - 20.0)
    if divisor <= 0.0:
        raise FormulaError(
            f"temperature = {temperature}: too cold for a coefficient of {coefficient} a kelvin"
        )
    return capacity / divisor


@formula(expression="capacity ÷ rated_capacity", unit="1", source="definition")
def capacity_share(capacity: float, rated_capacity: float) -> float:
    """Capacity as a share of the rating.

    Parameters
    ----------
    capacity
        Capacity, corrected to the temperature of the rating. [Ah]
    rated_capacity
        Capacity of the data sheet at the same hour rate. [Ah]

    Returns
    -------
    float
        Share of the rating. [1]

    Raises
    ------
    FormulaError
        If the capacity is negative, or the rating is not positive.

    Examples
    --------
    >>> capacity_share(395.0, 500.0)
    0.79

    References
    ----------
    .. [1] Definition; limits in IEEE 450 and US Reclamation FIST 3-6, 1997, page 27.
    """
    require_not_negative(capacity=capacity)
    require_positive(rated_capacity=rated_capacity)
    return capacity / rated_capacity
