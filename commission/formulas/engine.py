"""Engines: the air they breathe, the power it leaves them and the fuel they burn."""

from __future__ import annotations

import math
from typing import Final

from commission.errors import FormulaError
from commission.figure import formula
from commission.formulas.ranges import (
    require_efficiency,
    require_not_negative,
    require_positive,
    require_share,
)

KELVIN: Final = 273.15
"""Zero of the Celsius scale in K."""

LITRES_PER_US_GALLON: Final = 3.785411784
"""Litres in a US liquid gallon (NIST Special Publication 811, appendix B)."""

ENGINE_EXPONENTS: Final[dict[str, tuple[float, float]]] = {
    "naturally aspirated diesel": (1.0, 0.75),
    "turbocharged diesel": (0.7, 2.0),
    "turbocharged diesel with charge cooling": (0.7, 1.2),
    "spark ignition": (0.86, 0.55),
}
"""Exponents of pressure and temperature by kind of engine (ISO 3046-1:2002, table; from memory). That with
charge cooling leaves out the coolant's temperature."""


@formula(
    expression="101.325 × (1 − 2.25577 × 10⁻⁵ × altitude)^5.25588",
    unit="kPa",
    source="ISO 2533:1975; from memory",
)
def standard_pressure(altitude: float) -> float:
    """Air pressure of the standard atmosphere.

    Parameters
    ----------
    altitude
        Height above the sea. [m]

    Returns
    -------
    float
        Pressure. [kPa]

    Raises
    ------
    FormulaError
        If ``altitude`` lies outside −500 to 11 000 m.

    Examples
    --------
    >>> standard_pressure(1500.0)
    84.556

    References
    ----------
    .. [1] ISO 2533:1975, Standard atmosphere.
    """
    if not -500.0 <= altitude <= 11000.0:
        raise FormulaError(f"altitude = {altitude} m: the formula holds from -500 to 11000 m")
    return 101.325 * math.pow(1.0 - 2.25577e-5 * altitude, 5.25588)


@formula(
    expression="(pressure ÷ reference_pressure)^pressure_exponent"
    " × ((reference_temperature + 273.15) ÷ (temperature + 273.15))^temperature_exponent",
    unit="1",
    source="ISO 3046-1:2002; from memory",
)
def indicated_power_ratio(
    pressure: float,
    temperature: float,
    *,
    reference_pressure: float,
    reference_temperature: float,
    pressure_exponent: float,
    temperature_exponent: float,
) -> float:
    """Ratio of an engine's indicated power under the site's air to that under the reference air.

    Parameters
    ----------
    pressure
        Air pressure of the site. [kPa]
    temperature
        Air temperature of the site. [°C]
    reference_pressure
        Reference pressure; 100. [kPa]
    reference_temperature
        Reference temperature; 25. [°C]
    pressure_exponent
        m, by kind of engine. [1]
    temperature_exponent
        n, by kind of engine. [1]

    Returns
    -------
    float
        Ratio k. [1]

    Raises
    ------
    FormulaError
        If a pressure is not above zero, a temperature below −60 °C or an exponent negative.

    Examples
    --------
    At about 3000 m, naturally aspirated:

    >>> indicated_power_ratio(
    ...     70.1, 25.0, reference_pressure=100.0, reference_temperature=25.0,
    ...     pressure_exponent=1.0, temperature_exponent=0.75,
    ... )
    0.701

    References
    ----------
    .. [1] ISO 3046-1:2002, clause on power adjustment (from memory).
    """
    require_positive(pressure=pressure, reference_pressure=reference_pressure)
    require_not_negative(pressure_exponent=pressure_exponent, temperature_exponent=temperature_exponent)
    for name, value in (("temperature", temperature), ("reference_temperature", reference_temperature)):
        if not -60.0 <= value <= 100.0:
            raise FormulaError(f"{name} = {value} °C: intake air lies between -60 and 100 °C")
    warm = (reference_temperature + KELVIN) / (temperature + KELVIN)
    return math.pow(pressure / reference_pressure, pressure_exponent) * math.pow(warm, temperature_exponent)


@formula(
    expression="ratio − 0.7 × (1 − ratio) × (1 ÷ mechanical_efficiency − 1)",
    unit="1",
    source="ISO 3046-1:2002; from memory",
)
def power_adjustment(ratio: float, mechanical_efficiency: float) -> float:
    """Factor on an engine's rated power for the air of the site.

    Parameters
    ----------
    ratio
        Ratio of indicated powers, k. [1]
    mechanical_efficiency
        Mechanical efficiency of the engine; 0.8 if not known. [1]

    Returns
    -------
    float
        Factor; above one in dense air, where the rating still holds. [1]

    Raises
    ------
    FormulaError
        If the ratio is not above zero, the efficiency not in 0 to 1 or nothing is left.

    Examples
    --------
    >>> power_adjustment(0.701, 0.8)
    0.6487

    References
    ----------
    .. [1] ISO 3046-1:2002, clause on power adjustment (from memory).
    """
    require_positive(ratio=ratio)
    require_efficiency(mechanical_efficiency=mechanical_efficiency)
    factor = ratio - 0.7 * (1.0 - ratio) * (1.0 / mechanical_efficiency - 1.0)
    if factor <= 0.0:
        raise FormulaError(f"ratio = {ratio}: so little air leaves the engine no power")
    return factor


@formula(
    expression="idle × rating ÷ 1000 + slope × power ÷ 1000",
    unit="L/h",
    source="Skarstein and Uhlen 1989; from memory",
)
def fuel_rate(rating: float, power: float, *, idle: float, slope: float) -> float:
    """Fuel that a diesel set burns, as a straight line over its load.

    Parameters
    ----------
    rating
        Rated power of the set. [W]
    power
        Power that it gives. [W]
    idle
        Fuel for turning, for each kilowatt of rating; 0.08145. [L/(h·kW)]
    slope
        Fuel for each kilowatt-hour given; 0.246. [L/kWh]

    Returns
    -------
    float
        Fuel rate. [L/h]

    Raises
    ------
    FormulaError
        If an input is negative or the power above the rating by more than a tenth.

    Examples
    --------
    A 20 kW set at a quarter load:

    >>> fuel_rate(20000.0, 5000.0, idle=0.08145, slope=0.246)
    2.859

    References
    ----------
    .. [1] Skarstein, O. and Uhlen, K., "Design considerations with respect to long-term diesel saving in
       wind/diesel plants", Wind Engineering 13(2), 1989, 72-87 (from memory).
    """
    require_not_negative(rating=rating, power=power, idle=idle, slope=slope)
    if power > 1.1 * rating:
        raise FormulaError(f"power = {power:g} W: above the set's rating of {rating:g} W")
    return (idle * rating + slope * power) / 1000.0


@formula(expression="1000 × fuel ÷ power", unit="L/kWh", source="definition; fuel charts of diesel sets")
def specific_consumption(fuel: float, power: float) -> float:
    """Fuel for each kilowatt-hour at a load.

    Parameters
    ----------
    fuel
        Fuel rate. [L/h]
    power
        Power that the set gives. [W]

    Returns
    -------
    float
        Specific consumption. [L/kWh]

    Raises
    ------
    FormulaError
        If the fuel rate is negative or the power not above zero.

    Examples
    --------
    2.3 L/h for a quarter of 20 kW:

    >>> specific_consumption(2.3, 5000.0)
    0.46

    References
    ----------
    .. [1] Published fuel charts of diesel sets (fuel by load).
    """
    require_not_negative(fuel=fuel)
    require_positive(power=power)
    return 1000.0 * fuel / power


@formula(expression="3.785411784 × gallons", unit="L/h", source="NIST SP 811, appendix B")
def fuel_in_litres(gallons: float) -> float:
    """Fuel rate of a chart in US gallons an hour, in litres an hour.

    Parameters
    ----------
    gallons
        Fuel rate in US gallons. [gal/h]

    Returns
    -------
    float
        The same rate. [L/h]

    Raises
    ------
    FormulaError
        If ``gallons`` is negative.

    Examples
    --------
    >>> fuel_in_litres(1.6)
    6.06

    References
    ----------
    .. [1] NIST Special Publication 811, 2008, appendix B.
    """
    require_not_negative(gallons=gallons)
    return LITRES_PER_US_GALLON * gallons


@formula(expression="rating × share", unit="W", source="ISO 8528-1:2018, prime rated power")
def greatest_mean_load(rating: float, share: float) -> float:
    """Greatest mean load of a prime-rated set over a day.

    Parameters
    ----------
    rating
        Prime rated power. [W]
    share
        Share allowed as a mean over 24 h; 0.7. [1]

    Returns
    -------
    float
        Greatest mean load. [W]

    Raises
    ------
    FormulaError
        If the rating is negative or the share not between 0 and 1.

    Examples
    --------
    >>> greatest_mean_load(16000.0, 0.7)
    11200.0

    References
    ----------
    .. [1] ISO 8528-1:2018, 14.3.3 (prime power).
    """
    require_not_negative(rating=rating)
    require_share(share=share)
    return rating * share
