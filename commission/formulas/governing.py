"""Governors: speed over load, and how a set answers a step of load, by class."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from commission.errors import FormulaError
from commission.figure import formula
from commission.formulas.ranges import require_not_negative, require_positive, require_share


@dataclass(frozen=True, slots=True)
class GoverningClass:
    """How well a set holds frequency and voltage; all are shares of the nominal value, times in seconds."""

    droop: float
    frequency_band: float
    voltage_band: float
    frequency_rise: float
    """Greatest rise when load is thrown off."""
    frequency_dip: float
    """Greatest dip when load is put on."""
    voltage_rise: float
    voltage_dip: float
    frequency_recovery: float
    voltage_recovery: float


GOVERNING_CLASSES: Final[dict[str, GoverningClass]] = {
    "G1": GoverningClass(0.08, 0.025, 0.05, 0.18, 0.15, 0.35, 0.25, 5.0, 10.0),
    "G2": GoverningClass(0.05, 0.015, 0.025, 0.12, 0.10, 0.25, 0.20, 5.0, 6.0),
    "G3": GoverningClass(0.03, 0.005, 0.01, 0.10, 0.07, 0.20, 0.15, 3.0, 4.0),
}
"""Performance classes (ISO 8528-5:2018; G2 as quoted in tenders, G1 and G3 from memory)."""

LOAD_STEPS_G2: Final = ((0.0, 0.5), (0.5, 0.8), (0.8, 1.0))
"""Steps of load, as shares of the rating, that prove class G2 (as quoted in tenders)."""


@formula(expression="(no_load − rated) ÷ nominal", unit="1", source="ISO 8528-5:2018; from memory")
def frequency_droop(no_load: float, rated: float, nominal: float) -> float:
    """Frequency droop of a set.

    Parameters
    ----------
    no_load
        Frequency without load. [Hz]
    rated
        Frequency at rated load. [Hz]
    nominal
        Nominal frequency. [Hz]

    Returns
    -------
    float
        Droop as a share of the nominal frequency; class G2 allows 0.05. [1]

    Raises
    ------
    FormulaError
        If a frequency is not above zero.

    Examples
    --------
    >>> frequency_droop(52.3, 50.1, 50.0)
    0.044

    References
    ----------
    .. [1] ISO 8528-5:2018, definition of frequency droop.
    """
    require_positive(no_load=no_load, rated=rated, nominal=nominal)
    return (no_load - rated) / nominal


@formula(
    expression="no_load − load_share × (no_load − full_load)",
    unit="Hz",
    source="straight governor line; common practice",
)
def frequency_at_load(no_load: float, full_load: float, load_share: float) -> float:
    """Frequency of a set at part load.

    Parameters
    ----------
    no_load
        Frequency without load. [Hz]
    full_load
        Frequency at rated load. [Hz]
    load_share
        Load as a share of the rating. [1]

    Returns
    -------
    float
        Steady frequency. [Hz]

    Raises
    ------
    FormulaError
        If a frequency is not above zero or the share not between 0 and 1.

    Examples
    --------
    A loose governor at 40 % load:

    >>> frequency_at_load(62.5, 60.0, 0.4)
    61.5

    References
    ----------
    .. [1] Common practice; ISO 8528-5:2018, droop characteristic.
    """
    require_positive(no_load=no_load, full_load=full_load)
    require_share(load_share=load_share)
    return no_load - load_share * (no_load - full_load)


@formula(expression="nominal × (1 + deviation)", unit="Hz", source="ISO 8528-5:2018")
def frequency_limit(nominal: float, deviation: float) -> float:
    """Limit of a set's frequency while its load changes.

    Parameters
    ----------
    nominal
        Nominal frequency. [Hz]
    deviation
        What its class allows, as a share; negative for a dip. [1]

    Returns
    -------
    float
        Frequency that must not be passed. [Hz]

    Raises
    ------
    FormulaError
        If ``nominal`` is not above zero or the deviation is not between −1 and 1.

    Examples
    --------
    Class G2, sudden load:

    >>> frequency_limit(60.0, -0.1)
    54.0

    References
    ----------
    .. [1] ISO 8528-5:2018, performance classes.
    """
    return _limit(nominal, deviation)


@formula(expression="nominal × (1 + deviation)", unit="V", source="ISO 8528-5:2018")
def voltage_limit(nominal: float, deviation: float) -> float:
    """Limit of a set's voltage while its load changes.

    Parameters
    ----------
    nominal
        Nominal voltage. [V]
    deviation
        What its class allows, as a share; negative for a dip. [1]

    Returns
    -------
    float
        Voltage that must not be passed. [V]

    Raises
    ------
    FormulaError
        If ``nominal`` is not above zero or the deviation is not between −1 and 1.

    Examples
    --------
    Class G2, load thrown off:

    >>> voltage_limit(230.0, 0.25)
    287.5

    References
    ----------
    .. [1] ISO 8528-5:2018, performance classes.
    """
    return _limit(nominal, deviation)


def _limit(nominal: float, deviation: float) -> float:
    require_positive(nominal=nominal)
    if not -1.0 <= deviation <= 1.0:
        raise FormulaError(f"deviation = {deviation}: a share between -1 and 1, such as -0.1")
    return nominal * (1.0 + deviation)


@formula(expression="rating × (after − before)", unit="VA", source="ISO 8528-5:2018, as quoted in tenders")
def load_step(rating: float, before: float, after: float) -> float:
    """Step of load that proves a class.

    Parameters
    ----------
    rating
        Rating of the set. [VA]
    before
        Share of the rating that it carries before. [1]
    after
        Share of the rating that it carries after. [1]

    Returns
    -------
    float
        Load to be put on at once. [VA]

    Raises
    ------
    FormulaError
        If the rating is negative, a share not between 0 and 1 or ``after`` below ``before``.

    Examples
    --------
    The second step of class G2 for 20 kVA:

    >>> load_step(20000.0, 0.5, 0.8)
    6000.0

    References
    ----------
    .. [1] ISO 8528-5:2018, load acceptance.
    """
    require_not_negative(rating=rating)
    require_share(before=before, after=after)
    if after < before:
        raise FormulaError(f"after = {after}: must not be below before = {before}")
    return rating * (after - before)
