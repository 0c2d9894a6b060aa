"""Tests under load: efficiency, dips, power taken and given."""

from __future__ import annotations

from commission.errors import FormulaError
from commission.figure import formula
from commission.formulas.ranges import require_not_negative, require_positive, require_share


@formula(expression="output ÷ (voltage × current)", unit="1", source="definition of efficiency")
def efficiency_measured(output: float, voltage: float, current: float) -> float:
    """Efficiency of an inverter at the load of the moment.

    Parameters
    ----------
    output
        Active power given. [W]
    voltage
        DC voltage at its terminals. [V]
    current
        DC current that it takes. [A]

    Returns
    -------
    float
        Share of the power taken that is given. [1]

    Raises
    ------
    FormulaError
        If the output is negative, or voltage or current not above zero.

    Examples
    --------
    4 kW from 49.9 V and 86.2 A:

    >>> efficiency_measured(4000.0, 49.907, 86.181)
    0.930

    References
    ----------
    .. [1] Definition.
    """
    require_not_negative(output=output)
    require_positive(voltage=voltage, current=current)
    return output / (voltage * current)


@formula(expression="voltage × current × power_factor × legs", unit="W", source="definition of active power")
def active_power(voltage: float, current: float, power_factor: float, legs: float) -> float:
    """Active power taken from an AC source over legs that carry the same current.

    Parameters
    ----------
    voltage
        Voltage of one leg to neutral. [V]
    current
        Current in one leg. [A]
    power_factor
        W over VA. [1]
    legs
        Legs that carry it. [1]

    Returns
    -------
    float
        Power. [W]

    Raises
    ------
    FormulaError
        If a value is negative, or the power factor is above 1.

    Examples
    --------
    >>> active_power(120.0, 24.0, 0.99, 2.0)
    5702.4

    References
    ----------
    .. [1] Definition.
    """
    require_not_negative(voltage=voltage, current=current, legs=legs)
    require_share(power_factor=power_factor)
    return voltage * current * power_factor * legs


@formula(
    expression="greatest of 0 and (power − load) × efficiency ÷ bank_voltage",
    unit="A",
    source="power balance",
)
def charge_current_from_power(power: float, load: float, *, efficiency: float, bank_voltage: float) -> float:
    """Charge current that a charger makes of the power that it takes, loads passing through it aside.

    Parameters
    ----------
    power
        Active power taken from the AC source. [W]
    load
        Load that passes through to the output. [W]
    efficiency
        DC out over AC in. [1]
    bank_voltage
        Voltage of the bank. [V]

    Returns
    -------
    float
        Charge current. [A]

    Raises
    ------
    FormulaError
        If a value is negative, the efficiency above 1 or the voltage not above zero.

    Examples
    --------
    >>> charge_current_from_power(5702.4, 1500.0, efficiency=0.93, bank_voltage=54.0)
    72.38

    References
    ----------
    .. [1] Power balance.
    """
    require_not_negative(power=power, load=load)
    require_share(efficiency=efficiency)
    require_positive(bank_voltage=bank_voltage)
    return max(0.0, power - load) * efficiency / bank_voltage


@formula(expression="rested − resistance × (current − current_before)", unit="V", source="Ohm's law")
def loaded_by_measured_resistance(
    rested: float, current_before: float, *, current: float, resistance: float
) -> float:
    """Voltage of the bank under a further load, by the resistance that the first load step has measured.

    Parameters
    ----------
    rested
        Voltage before the first step. [V]
    current_before
        Current out of the bank then. [A]
    current
        Current out of the bank now. [A]
    resistance
        Resistance that the first step measured. [Ω]

    Returns
    -------
    float
        Voltage at the posts. [V]

    Raises
    ------
    FormulaError
        If the voltage or the resistance is not above zero, or the result would not be.

    Examples
    --------
    51.2 V at 2 A, then 96 A through 11 mΩ:

    >>> loaded_by_measured_resistance(51.2, 2.0, current=96.0, resistance=0.011)
    50.166

    References
    ----------
    .. [1] Ohm's law.
    """
    require_positive(rested=rested, resistance=resistance)
    voltage = rested - resistance * (current - current_before)
    if voltage <= 0.0:
        raise FormulaError(f"current = {current:g} A: the bank has no voltage left at it")
    return voltage


@formula(expression="output ÷ rating", unit="1", source="definition")
def load_fraction(output: float, rating: float) -> float:
    """Load as a share of a rating, which may be over 1.

    Parameters
    ----------
    output
        Power given. [W]
    rating
        Rated power. [W]

    Returns
    -------
    float
        Share. [1]

    Raises
    ------
    FormulaError
        If the output is negative or the rating not above zero.

    Examples
    --------
    >>> load_fraction(4800.0, 12000.0)
    0.4

    References
    ----------
    .. [1] Definition.
    """
    require_not_negative(output=output)
    require_positive(rating=rating)
    return output / rating


@formula(expression="current ÷ total ÷ share − 1", unit="1", source="common practice")
def share_error(current: float, total: float, share: float) -> float:
    """How far the current of one of several parallel paths is from the share that it should carry.

    Parameters
    ----------
    current
        Current of the path. [A]
    total
        Current of all paths together, of the same sign. [A]
    share
        Share that it should carry. [1]

    Returns
    -------
    float
        Deviation as a share of what it should carry. [1]

    Raises
    ------
    FormulaError
        If the total is zero or the share not between 0 and 1.

    Examples
    --------
    Of 100 A 56 A in one of two like strings:

    >>> share_error(56.0, 100.0, 0.5)
    0.12

    References
    ----------
    .. [1] Common practice: 10 % is good, beyond 20 % something is wrong.
    """
    require_share(share=share)
    if total == 0.0 or share == 0.0:
        raise FormulaError("total, share: there is no current to share")
    return current / total / share - 1.0
