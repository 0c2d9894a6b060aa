"""AC-coupled PV behind battery inverters: how frequency throttles it, when it trips and how it returns."""

from __future__ import annotations

from commission.errors import FormulaError
from commission.figure import formula
from commission.formulas.ranges import (
    require_efficiency,
    require_finite,
    require_not_negative,
    require_positive,
    require_share,
)


def _require_band(start: float, zero: float) -> None:
    require_positive(start=start, zero=zero)
    if not start < zero:
        raise FormulaError(f"zero = {zero} Hz: must lie above start = {start} Hz")


@formula(
    expression="power_before − (frequency − nominal − deadband) ÷ (nominal × droop), not below power_least",
    unit="1",
    source="IEEE 1547-2018, 6.5.2.7.2, table 23",
)
def droop_power_fraction(
    frequency: float,
    nominal: float,
    *,
    deadband: float,
    droop: float,
    power_before: float,
    power_least: float,
) -> float:
    """Output of a PV inverter that throttles by frequency droop, as a share of its rating.

    Parameters
    ----------
    frequency
        Frequency. [Hz]
    nominal
        Nominal frequency. [Hz]
    deadband
        Deviation up to which nothing happens; 0.036 by default. [Hz]
    droop
        Deviation, as a share of the nominal, that takes the whole rating away; 0.05 by default. [1]
    power_before
        Output as the frequency left the deadband, as a share of the rating. [1]
    power_least
        Least output that it can hold, as a share of the rating. [1]

    Returns
    -------
    float
        Output as a share of the rating. [1]

    Raises
    ------
    FormulaError
        If an input is outside its range.

    Notes
    -----
    The slope acts on the rating: a half-loaded inverter reaches nothing sooner. Trip thresholds are left
    out here; at and above the fast one the output is 0.

    Examples
    --------
    >>> droop_power_fraction(
    ...     61.0, 60.0, deadband=0.036, droop=0.05, power_before=1.0, power_least=0.0
    ... )
    0.6787

    References
    ----------
    .. [1] IEEE 1547-2018, 6.5.2.7.2, table 23 (formula) and table 24 (defaults).
    """
    require_positive(frequency=frequency, nominal=nominal, droop=droop)
    require_not_negative(deadband=deadband)
    require_share(power_before=power_before, power_least=power_least)
    excess = frequency - nominal - deadband
    if excess <= 0.0:
        return power_before
    return min(power_before, max(power_before - excess / (nominal * droop), power_least))


@formula(
    expression="nominal + deadband + droop × nominal × (power_before − power)",
    unit="Hz",
    source="IEEE 1547-2018, 6.5.2.7.2, table 23, turned round",
)
def droop_frequency(
    power: float, nominal: float, *, deadband: float, droop: float, power_before: float
) -> float:
    """Frequency at which a PV inverter with frequency droop holds a share of its rating.

    Parameters
    ----------
    power
        Output to be held, as a share of the rating; 0 gives the frequency of no output. [1]
    nominal
        Nominal frequency. [Hz]
    deadband
        Deviation up to which nothing happens. [Hz]
    droop
        Deviation, as a share of the nominal frequency, that takes away the whole rating. [1]
    power_before
        Output as the frequency left the deadband, as a share of the rating. [1]

    Returns
    -------
    float
        Frequency; above a trip threshold the share cannot be held. [Hz]

    Raises
    ------
    FormulaError
        If an input is outside its range or ``power`` is above ``power_before``.

    Examples
    --------
    No output from 40 % of the rating:

    >>> droop_frequency(0.0, 60.0, deadband=0.036, droop=0.05, power_before=0.4)
    61.236

    References
    ----------
    .. [1] IEEE 1547-2018, 6.5.2.7.2, table 23.
    """
    require_positive(nominal=nominal, droop=droop)
    require_not_negative(deadband=deadband)
    require_share(power=power, power_before=power_before)
    if power > power_before:
        raise FormulaError(f"power = {power}: must not be above power_before = {power_before}")
    return nominal + deadband + droop * nominal * (power_before - power)


@formula(
    expression="1 − (frequency − threshold) ÷ (nominal × droop), within 0 and 1",
    unit="1",
    source="EN 50549-1:2019, 4.6.1; (EU) 2016/631, article 13(2)",
)
def threshold_power_fraction(frequency: float, threshold: float, *, droop: float, nominal: float) -> float:
    """Output of a PV inverter in limited frequency-sensitive mode, as a share of that at the threshold.

    Parameters
    ----------
    frequency
        Frequency. [Hz]
    threshold
        Frequency from which it throttles; 50.2 by default. [Hz]
    droop
        Deviation, as a share of the nominal frequency, that takes away all; 0.05 by default. [1]
    nominal
        Nominal frequency. [Hz]

    Returns
    -------
    float
        Output as a share of the power at the moment the threshold was passed. [1]

    Raises
    ------
    FormulaError
        If an input is not above zero.

    Notes
    -----
    The base is the momentary power, not the rating: the same frequency leaves other watts than a droop on the
    rating does.

    Examples
    --------
    >>> threshold_power_fraction(51.0, 50.2, droop=0.05, nominal=50.0)
    0.68

    References
    ----------
    .. [1] EN 50549-1:2019, 4.6.1, power response to over-frequency (from memory).
    .. [2] Commission Regulation (EU) 2016/631, article 13(2), figure 1.
    """
    require_positive(frequency=frequency, threshold=threshold, droop=droop, nominal=nominal)
    return min(1.0, max(0.0, 1.0 - (frequency - threshold) / (nominal * droop)))


@formula(
    expression="threshold + droop × nominal × (1 − power)",
    unit="Hz",
    source="EN 50549-1:2019, 4.6.1, turned round",
)
def threshold_frequency(power: float, threshold: float, *, droop: float, nominal: float) -> float:
    """Frequency at which a PV inverter in limited frequency-sensitive mode holds a share.

    Parameters
    ----------
    power
        Output to be held, as a share of that at the threshold; 0 gives the frequency of no output. [1]
    threshold
        Frequency from which it throttles. [Hz]
    droop
        Deviation, as a share of the nominal frequency, that takes away all. [1]
    nominal
        Nominal frequency. [Hz]

    Returns
    -------
    float
        Frequency; above a trip threshold the share cannot be held. [Hz]

    Raises
    ------
    FormulaError
        If an input is outside its range.

    Examples
    --------
    1.5 kW of 5 kW:

    >>> threshold_frequency(0.3, 50.2, droop=0.05, nominal=50.0)
    51.95

    References
    ----------
    .. [1] EN 50549-1:2019, 4.6.1, power response to over-frequency (from memory).
    """
    require_share(power=power)
    require_positive(threshold=threshold, droop=droop, nominal=nominal)
    return threshold + droop * nominal * (1.0 - power)


@formula(
    expression="(zero − frequency) ÷ (zero − start), within 0 and 1",
    unit="1",
    source="AS/NZS 4777.2:2020, 4.5; from memory",
)
def linear_power_fraction(frequency: float, start: float, zero: float) -> float:
    """Output of a PV inverter that throttles on a straight line, as a share of that at the start.

    Parameters
    ----------
    frequency
        Frequency. [Hz]
    start
        Frequency from which it throttles. [Hz]
    zero
        Frequency of no output. [Hz]

    Returns
    -------
    float
        Output as a share of the power at the start. [1]

    Raises
    ------
    FormulaError
        If a frequency is not above zero or ``zero`` not above ``start``.

    Examples
    --------
    >>> linear_power_fraction(51.0, 50.25, 52.0)
    0.5714

    References
    ----------
    .. [1] AS/NZS 4777.2:2020, 4.5, response to an increase in frequency (from memory).
    """
    require_positive(frequency=frequency)
    _require_band(start, zero)
    return min(1.0, max(0.0, (zero - frequency) / (zero - start)))


@formula(
    expression="start + (zero − start) × (1 − power)",
    unit="Hz",
    source="AS/NZS 4777.2:2020, 4.5, turned round; from memory",
)
def linear_frequency(power: float, start: float, zero: float) -> float:
    """Frequency at which a PV inverter that throttles on a straight line holds a share.

    Parameters
    ----------
    power
        Output to be held, as a share of that at the start. [1]
    start
        Frequency from which it throttles. [Hz]
    zero
        Frequency of no output. [Hz]

    Returns
    -------
    float
        Frequency. [Hz]

    Raises
    ------
    FormulaError
        If the share is not between 0 and 1 or ``zero`` not above ``start``.

    Examples
    --------
    >>> linear_frequency(0.3, 50.25, 52.0)
    51.475

    References
    ----------
    .. [1] AS/NZS 4777.2:2020, 4.5, response to an increase in frequency (from memory).
    """
    require_share(power=power)
    _require_band(start, zero)
    return start + (zero - start) * (1.0 - power)


@formula(expression="delay + ramp", unit="s", source="IEEE 1547-2018, 4.10.3 and table 4")
def return_time(delay: float, ramp: float) -> float:
    """Time from the return of frequency and voltage until a PV inverter gives its full power.

    Parameters
    ----------
    delay
        Time that frequency and voltage must stay inside the return window; 300 by default. [s]
    ramp
        Time of the ramp to full power; 300 by default, 0 of old units. [s]

    Returns
    -------
    float
        Time until full power. [s]

    Raises
    ------
    FormulaError
        If either is negative.

    Examples
    --------
    >>> return_time(300.0, 300.0)
    600.0

    References
    ----------
    .. [1] IEEE 1547-2018, 4.10.3 and table 4 (enter service).
    """
    require_not_negative(delay=delay, ramp=ramp)
    return delay + ramp


@formula(expression="time ÷ ramp, not above 1", unit="1", source="AS/NZS 4777.2:2020; from memory")
def ramp_fraction(time: float, ramp: float) -> float:
    """Share of full power that a PV inverter has reached on its way back.

    Parameters
    ----------
    time
        Time since the ramp began. [s]
    ramp
        Time of the ramp to full power. [s]

    Returns
    -------
    float
        Share of full power. [1]

    Raises
    ------
    FormulaError
        If the time is negative or the ramp not above zero.

    Examples
    --------
    Two minutes into a ramp of six:

    >>> ramp_fraction(120.0, 360.0)
    0.3333

    References
    ----------
    .. [1] AS/NZS 4777.2:2020, return to power at 16.7 % a minute (from memory).
    """
    require_not_negative(time=time)
    require_positive(ramp=ramp)
    return min(1.0, time / ramp)


@formula(expression="nominal × threshold", unit="V", source="IEEE 1547-2018, table 13")
def voltage_trip(nominal: float, threshold: float) -> float:
    """Voltage at which a PV inverter trips.

    Parameters
    ----------
    nominal
        Nominal voltage. [V]
    threshold
        Threshold as a share of the nominal voltage; 1.10 slow, 1.20 fast. [1]

    Returns
    -------
    float
        Trip voltage. [V]

    Raises
    ------
    FormulaError
        If either is not above zero.

    Examples
    --------
    >>> voltage_trip(240.0, 1.2)
    288.0

    References
    ----------
    .. [1] IEEE 1547-2018, table 13 (category III).
    """
    require_positive(nominal=nominal, threshold=threshold)
    return nominal * threshold


def trips(frequency: float, duration: float, threshold: float, clearing_time: float) -> bool:
    """Say whether an over-frequency lasts past a unit's clearing time, so that it trips."""
    require_finite(frequency=frequency, threshold=threshold)
    require_not_negative(duration=duration, clearing_time=clearing_time)
    return frequency > threshold and duration >= clearing_time


@formula(expression="power × efficiency ÷ bank_voltage", unit="A", source="power balance; common practice")
def backfed_charge_current(power: float, efficiency: float, bank_voltage: float) -> float:
    """Charging current from AC-coupled PV that flows backwards through the inverters.

    Parameters
    ----------
    power
        PV power that no load takes. [W]
    efficiency
        Efficiency of the way from AC to DC; 0.90 to 0.95. [1]
    bank_voltage
        Voltage of the bank. [V]

    Returns
    -------
    float
        Current into the bank. [A]

    Raises
    ------
    FormulaError
        If the power is negative, the efficiency not in 0 to 1 or the voltage not above zero.

    Examples
    --------
    5 kW at 94 % into 56.4 V:

    >>> backfed_charge_current(5000.0, 0.94, 56.4)
    83.33

    References
    ----------
    .. [1] Power balance over the inverter.
    """
    require_not_negative(power=power)
    require_efficiency(efficiency=efficiency)
    require_positive(bank_voltage=bank_voltage)
    return power * efficiency / bank_voltage


@formula(
    expression="current × bank_voltage ÷ efficiency + load", unit="W", source="common practice, bank rule"
)
def largest_coupled_power(current: float, bank_voltage: float, *, efficiency: float, load: float) -> float:
    """Largest AC-coupled PV that a bank takes at full sun before throttling acts.

    Parameters
    ----------
    current
        Greatest charging current of the bank. [A]
    bank_voltage
        Absorption voltage of the bank. [V]
    efficiency
        Efficiency of the way from AC to DC; 0.90 to 0.95. [1]
    load
        Least load that always runs. [W]

    Returns
    -------
    float
        Greatest rating of the PV inverters. [W]

    Raises
    ------
    FormulaError
        If a value is negative or the efficiency not in 0 to 1.

    Examples
    --------
    80 A at 57.6 V, no sure load:

    >>> largest_coupled_power(80.0, 57.6, efficiency=0.9, load=0.0)
    5120.0

    References
    ----------
    .. [1] Common practice: full PV, no load, before throttling acts.
    """
    require_not_negative(current=current, bank_voltage=bank_voltage, load=load)
    require_efficiency(efficiency=efficiency)
    return current * bank_voltage / efficiency + load


@formula(expression="voltage + current × resistance", unit="V", source="Ohm's law")
def dc_voltage_overshoot(voltage: float, current: float, resistance: float) -> float:
    """Voltage of the DC bus in the moment in which PV is driven backwards into the bank.

    Parameters
    ----------
    voltage
        Voltage before. [V]
    current
        Current driven into the bank. [A]
    resistance
        Resistance of bank and cable. [Ω]

    Returns
    -------
    float
        Voltage until the throttle acts, after 0.1 to 2 s. [V]

    Raises
    ------
    FormulaError
        If the voltage is not above zero or another input negative.

    Examples
    --------
    >>> dc_voltage_overshoot(56.4, 80.0, 0.012)
    57.36

    References
    ----------
    .. [1] Ohm's law; time of the throttle by common practice.
    """
    require_positive(voltage=voltage)
    require_not_negative(current=current, resistance=resistance)
    return voltage + current * resistance


@formula(expression="(limit − voltage) ÷ resistance", unit="A", source="Ohm's law, turned round")
def current_for_overshoot(limit: float, voltage: float, resistance: float) -> float:
    """Driven current at which the bank's voltage reaches a limit.

    Parameters
    ----------
    limit
        Voltage that is not to be passed. [V]
    voltage
        Voltage before. [V]
    resistance
        Resistance of bank and cable. [Ω]

    Returns
    -------
    float
        Current into the bank. [A]

    Raises
    ------
    FormulaError
        If the voltage or the resistance is not above zero, or the limit lies under the voltage.

    Examples
    --------
    >>> current_for_overshoot(57.36, 56.4, 0.012)
    80.0

    References
    ----------
    .. [1] Ohm's law.
    """
    require_positive(voltage=voltage, resistance=resistance)
    require_finite(limit=limit)
    if limit < voltage:
        raise FormulaError(f"limit = {limit} V: lies under the voltage before, {voltage} V")
    return (limit - voltage) / resistance
