"""Temperature of PV cells and modules from air, irradiance and wind."""

from __future__ import annotations

import math
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

OPEN_RACK_LOSS: Final = 25.0
"""Constant heat loss of an open rack in W/(m²·K) (Faiman 2008; IEC 61853-2)."""

OPEN_RACK_WIND_LOSS: Final = 6.84
"""Heat loss of an open rack per metre a second of wind in W·s/(m³·K) (Faiman 2008; IEC 61853-2)."""

EXPONENTIAL_MOUNTINGS: Final[dict[str, tuple[float, float, float]]] = {
    "open rack, glass and glass": (-3.47, -0.0594, 3.0),
    "open rack, glass and polymer": (-3.56, -0.075, 3.0),
    "close roof mount, glass and glass": (-2.98, -0.0471, 1.0),
    "insulated back, glass and polymer": (-2.81, -0.0455, 0.0),
}
"""Offset, slope with wind in s/m, and cell over back in K, by way of mounting (SAND2004-3535, table 1)."""

LOSS_FACTORS: Final[dict[str, float]] = {"free": 29.0, "semi-integrated": 20.0, "insulated": 15.0}
"""Constant heat loss in W/(m²·K) by way of mounting, without wind; common practice of yield calculations."""


def _require_wind(irradiance: float, wind: float) -> None:
    require_not_negative(irradiance=irradiance, wind=wind)


@formula(
    expression="air + (nominal_cell_temperature − 20) × irradiance ÷ 800",
    unit="°C",
    source="IEC 61215, definition of the nominal operating cell temperature",
)
def cell_temperature_nominal(air: float, irradiance: float, nominal_cell_temperature: float) -> float:
    """Cell temperature from the nominal operating cell temperature (NOCT) of the datasheet.

    Parameters
    ----------
    air
        Air temperature. [°C]
    irradiance
        Irradiance in the plane of the array. [W/m²]
    nominal_cell_temperature
        NOCT of the module: its cells at 800 W/m², 20 °C air and 1 m/s of wind. [°C]

    Returns
    -------
    float
        Cell temperature. [°C]

    Raises
    ------
    FormulaError
        If ``irradiance`` is negative or ``nominal_cell_temperature`` is below 20 °C.

    Examples
    --------
    >>> cell_temperature_nominal(40.0, 1000.0, 45.0)
    71.25

    References
    ----------
    .. [1] IEC 61215-2:2016, MQT 05 (definition of NOCT).
    """
    require_finite(air=air)
    require_not_negative(irradiance=irradiance)
    if not 20.0 <= nominal_cell_temperature < 100.0:
        raise FormulaError(
            f"nominal_cell_temperature = {nominal_cell_temperature}: lies between 20 and 100 °C, such as 46"
        )
    return air + (nominal_cell_temperature - 20.0) * irradiance / 800.0


@formula(
    expression="air + irradiance ÷ (loss + wind_loss × wind)",
    unit="°C",
    source="Faiman 2008; IEC 61853-2:2016",
)
def module_temperature_faiman(
    air: float, irradiance: float, *, wind: float, loss: float, wind_loss: float
) -> float:
    """Temperature of a module from air, irradiance and wind, for an open rack.

    Parameters
    ----------
    air
        Air temperature. [°C]
    irradiance
        Irradiance in the plane of the array. [W/m²]
    wind
        Wind at the module. [m/s]
    loss
        Constant heat loss; 25 for an open rack. [W/(m²·K)]
    wind_loss
        Heat loss that wind adds; 6.84 for an open rack. [W·s/(m³·K)]

    Returns
    -------
    float
        Module temperature. [°C]

    Raises
    ------
    FormulaError
        If ``loss`` is not above zero or another input but ``air`` is negative.

    Examples
    --------
    >>> module_temperature_faiman(40.0, 1000.0, wind=1.0, loss=25.0, wind_loss=6.84)
    71.407

    References
    ----------
    .. [1] Faiman, D., "Assessing the outdoor operating temperature of photovoltaic modules", Progress in
       Photovoltaics 16(4), 2008, 307-315, doi:10.1002/pip.813.
    """
    require_finite(air=air)
    _require_wind(irradiance, wind)
    require_positive(loss=loss)
    require_not_negative(wind_loss=wind_loss)
    return air + irradiance / (loss + wind_loss * wind)


@formula(
    expression="air + irradiance × exp(offset + slope × wind)", unit="°C", source="SAND2004-3535, equation 11"
)
def back_temperature(air: float, irradiance: float, *, wind: float, offset: float, slope: float) -> float:
    """Temperature of a module's back from air, irradiance and wind, by way of mounting.

    Parameters
    ----------
    air
        Air temperature. [°C]
    irradiance
        Irradiance in the plane of the array. [W/m²]
    wind
        Wind at 10 m height. [m/s]
    offset
        First figure of the mounting; −3.47 for an open rack of glass and glass. [1]
    slope
        Second figure of the mounting; −0.0594 for an open rack of glass and glass. [s/m]

    Returns
    -------
    float
        Temperature of the back. [°C]

    Raises
    ------
    FormulaError
        If irradiance or wind is negative.

    Examples
    --------
    >>> back_temperature(20.0, 900.0, wind=5.0, offset=-3.47, slope=-0.0594)
    40.81

    References
    ----------
    .. [1] Sandia National Laboratories, "Photovoltaic array performance model", SAND2004-3535, 2004,
       equation 11 and table 1.
    """
    require_finite(air=air, offset=offset, slope=slope)
    _require_wind(irradiance, wind)
    return air + irradiance * math.exp(offset + slope * wind)


@formula(expression="back + irradiance ÷ 1000 × difference", unit="°C", source="SAND2004-3535, equation 12")
def cell_temperature_over_back(back: float, irradiance: float, difference: float) -> float:
    """Cell temperature from the temperature measured, or worked out, at the module's back.

    Parameters
    ----------
    back
        Temperature of the back. [°C]
    irradiance
        Irradiance in the plane of the array. [W/m²]
    difference
        Cell over back at 1000 W/m²; 3 for an open rack, 0 for an insulated back. [K]

    Returns
    -------
    float
        Cell temperature. [°C]

    Raises
    ------
    FormulaError
        If irradiance or difference is negative.

    Examples
    --------
    >>> cell_temperature_over_back(40.81, 900.0, 3.0)
    43.51

    References
    ----------
    .. [1] Sandia National Laboratories, "Photovoltaic array performance model", SAND2004-3535, 2004,
       equation 12 and table 1.
    """
    require_finite(back=back)
    require_not_negative(irradiance=irradiance, difference=difference)
    return back + irradiance / 1000.0 * difference


@formula(
    expression="air + irradiance × absorptance × (1 − efficiency) ÷ (loss + wind_loss × wind)",
    unit="°C",
    source="energy balance of the module; common practice of yield calculations",
)
def cell_temperature_from_losses(
    air: float,
    irradiance: float,
    *,
    wind: float,
    loss: float,
    wind_loss: float,
    absorptance: float,
    efficiency: float,
) -> float:
    """Cell temperature from a module's heat balance.

    Parameters
    ----------
    air
        Air temperature. [°C]
    irradiance
        Irradiance in the plane of the array. [W/m²]
    wind
        Wind at the module. [m/s]
    loss
        Constant heat loss; 29 free, 20 semi-integrated, 15 with an insulated back. [W/(m²·K)]
    wind_loss
        Heat loss that wind adds; 0 where the constant holds it. [W·s/(m³·K)]
    absorptance
        Share of the light that is taken in; 0.9. [1]
    efficiency
        Share of the light that leaves as electricity; 0.1 by custom. [1]

    Returns
    -------
    float
        Cell temperature. [°C]

    Raises
    ------
    FormulaError
        If ``loss`` is not above zero, a share is outside 0 to 1 or irradiance or wind is negative.

    Examples
    --------
    >>> cell_temperature_from_losses(
    ...     35.0, 900.0, wind=1.0, loss=20.0, wind_loss=0.0, absorptance=0.9, efficiency=0.1
    ... )
    71.45

    References
    ----------
    .. [1] Heat balance of a module; loss factors by common practice of yield calculations.
    """
    require_finite(air=air)
    _require_wind(irradiance, wind)
    require_positive(loss=loss)
    require_not_negative(wind_loss=wind_loss)
    require_share(absorptance=absorptance, efficiency=efficiency)
    return air + irradiance * absorptance * (1.0 - efficiency) / (loss + wind_loss * wind)


@formula(
    expression="air + irradiance ÷ 800 × (nominal − 20) × (1 − efficiency ÷ 0.9) × 9.5 ÷ (5.7 + 3.8 × wind)",
    unit="°C",
    source="Duffie and Beckman, Solar Engineering of Thermal Processes, section on cell temperature",
)
def cell_temperature_nominal_wind(
    air: float, irradiance: float, *, nominal: float, wind: float, efficiency: float
) -> float:
    """Cell temperature from the NOCT, corrected for wind and for the power that is drawn.

    Parameters
    ----------
    air
        Air temperature. [°C]
    irradiance
        Irradiance in the plane of the array. [W/m²]
    nominal
        NOCT of the module, with any addition for its mounting. [°C]
    wind
        Wind at the module: 0.51 of that at 10 m on one storey or lower, 0.61 higher. [m/s]
    efficiency
        Efficiency of the module. [1]

    Returns
    -------
    float
        Cell temperature. [°C]

    Raises
    ------
    FormulaError
        If irradiance or wind is negative, the NOCT below 20 °C or the efficiency not in 0 to 0.9.

    Examples
    --------
    >>> cell_temperature_nominal_wind(25.0, 1000.0, nominal=45.0, wind=0.51, efficiency=0.2)
    55.231

    References
    ----------
    .. [1] Duffie, J. A. and Beckman, W. A., Solar Engineering of Thermal Processes, section 23.3; with the
       wind correction printed by the Sandia modelling collaborative, page on NOCT cell temperature.
    """
    require_finite(air=air)
    _require_wind(irradiance, wind)
    require_efficiency(efficiency=efficiency)
    if not (nominal >= 20.0 and efficiency < 0.9):
        raise FormulaError(f"nominal = {nominal} °C, efficiency = {efficiency}: at least 20 °C and below 0.9")
    heat_kept = 1.0 - efficiency / 0.9
    return air + irradiance / 800.0 * (nominal - 20.0) * heat_kept * 9.5 / (5.7 + 3.8 * wind)
