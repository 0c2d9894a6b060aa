"""How far a reading has gone from an earlier one, and how sure that is."""

from __future__ import annotations

import math

from commission.errors import FormulaError
from commission.figure import formula
from commission.formulas.ranges import require_finite, require_not_negative, require_positive


@formula(expression="(now − before) ÷ |before|", unit="1", source="definition")
def change_share(now: float, before: float) -> float:
    """Change of a reading since an earlier one, as a share of the earlier.

    Parameters
    ----------
    now
        Reading of this visit. [unit of the reading]
    before
        The same of an earlier visit, restated to like conditions. [unit of the reading]

    Returns
    -------
    float
        Change; negative where it fell. [1]

    Raises
    ------
    FormulaError
        If a value is not finite, or the earlier one is zero.

    Examples
    --------
    A joint that has gone from 52 to 60 µΩ:

    >>> change_share(60.0, 52.0)
    0.15385

    References
    ----------
    .. [1] IEEE 450 and IEEE 1188: readings are compared with the baseline.
    """
    require_finite(now=now, before=before)
    if before == 0.0:
        raise FormulaError("before = 0: a change has no share of nothing")
    return (now - before) / abs(before)


@formula(
    expression="√(now_uncertainty² + (now ÷ before × before_uncertainty)²) ÷ |before|",
    unit="1",
    source="GUM, 5.1.2, of (now − before) ÷ before",
)
def change_share_uncertainty(
    now: float, before: float, *, now_uncertainty: float, before_uncertainty: float
) -> float:
    """Uncertainty, expanded, of a change that is told as a share of the earlier reading.

    Parameters
    ----------
    now
        Reading of this visit. [unit of the reading]
    before
        Reading of the earlier visit. [unit of the reading]
    now_uncertainty
        Expanded uncertainty of the reading now. [unit of the reading]
    before_uncertainty
        Expanded uncertainty of the earlier reading, with the same coverage. [unit of the reading]

    Returns
    -------
    float
        Expanded uncertainty of the share. [1]

    Raises
    ------
    FormulaError
        If a value is not finite, an uncertainty negative, or the earlier reading zero.

    Notes
    -----
    Between two visits a meter drifts and may be adjusted, so its error is not taken as common to both, other
    than between two readings of one minute.

    Examples
    --------
    52 µΩ ± 1.56 µΩ and 60 µΩ ± 1.8 µΩ:

    >>> change_share_uncertainty(60.0, 52.0, now_uncertainty=1.8, before_uncertainty=1.56)
    0.0490

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 5.1.2.
    """
    require_finite(now=now, before=before)
    require_not_negative(now_uncertainty=now_uncertainty, before_uncertainty=before_uncertainty)
    if before == 0.0:
        raise FormulaError("before = 0: a change has no share of nothing")
    return math.hypot(now_uncertainty, now / before * before_uncertainty) / abs(before)


@formula(expression="|drop| ÷ |current|", unit="Ω", source="Ohm's law")
def resistance_of_drop(drop: float, current: float) -> float:
    """Resistance along a conductor, so that drops at different currents compare.

    Parameters
    ----------
    drop
        Voltage along the conductor. [V]
    current
        Current through it at the moment. [A]

    Returns
    -------
    float
        Resistance of the conductor with its joints. [Ω]

    Raises
    ------
    FormulaError
        If the drop is not finite, or no current flows.

    Examples
    --------
    >>> resistance_of_drop(0.042, 60.0)
    0.0007

    References
    ----------
    .. [1] Ohm's law.
    """
    require_finite(drop=drop)
    require_positive(current=abs(current))
    return abs(drop) / abs(current)


@formula(
    expression="resistance × 2 ^ ((temperature − temperature_reference) ÷ 10)",
    unit="MΩ",
    source="IEEE 43 and test practice: insulation resistance halves for each 10 K; from memory",
)
def insulation_at_reference(resistance: float, temperature: float, temperature_reference: float) -> float:
    """Insulation resistance as it would be at the reference temperature.

    Parameters
    ----------
    resistance
        Insulation resistance as read. [MΩ]
    temperature
        Temperature of the insulation. [°C]
    temperature_reference
        Temperature at which readings are compared; 20 °C. [°C]

    Returns
    -------
    float
        Insulation resistance at the reference temperature. [MΩ]

    Raises
    ------
    FormulaError
        If the resistance is negative or a temperature not finite.

    Notes
    -----
    A rule of thumb for cables and windings; moisture changes far more than temperature.

    Examples
    --------
    >>> insulation_at_reference(100.0, 30.0, 20.0)
    200.0

    References
    ----------
    .. [1] IEEE 43, insulation resistance, correction to a base temperature (from memory).
    """
    require_not_negative(resistance=resistance)
    require_finite(temperature=temperature, temperature_reference=temperature_reference)
    return float(resistance * 2.0 ** ((temperature - temperature_reference) / 10.0))


@formula(expression="current × 1000 ÷ irradiance", unit="A", source="IEC 60891, first order")
def current_at_full_sun(current: float, irradiance: float) -> float:
    """Array current brought to 1000 W/m².

    Parameters
    ----------
    current
        Current as read. [A]
    irradiance
        Irradiance in the array's plane in the same minute. [W/m²]

    Returns
    -------
    float
        Current at 1000 W/m². [A]

    Raises
    ------
    FormulaError
        If the current is not finite or the irradiance under 400 W/m².

    Notes
    -----
    The change with module temperature, some hundredths of a percent for each kelvin, is left out.

    Examples
    --------
    >>> current_at_full_sun(7.4, 820.0)
    9.024

    References
    ----------
    .. [1] IEC 60891; IEC 62446-1: no test of current under 400 W/m².
    """
    require_finite(current=current, irradiance=irradiance)
    if irradiance < 400.0:
        raise FormulaError(
            f"irradiance = {irradiance}: too little light to compare currents; 400 W/m² and more"
        )
    return current * 1000.0 / irradiance
