"""The window in which an islanded inverter shifts its frequency to throttle AC-coupled PV."""

from __future__ import annotations

from commission.errors import FormulaError
from commission.figure import formula
from commission.formulas.ranges import require_not_negative, require_positive, require_share


@formula(
    expression="frequency + by",
    unit="Hz",
    source="common practice: start at most 0.2 Hz over nominal, end 0.3 Hz over the fast trip",
)
def frequency_above(frequency: float, by: float) -> float:
    """Frequency a distance above another.

    Parameters
    ----------
    frequency
        Nominal frequency, or a trip of the PV inverter. [Hz]
    by
        Distance. [Hz]

    Returns
    -------
    float
        Frequency. [Hz]

    Raises
    ------
    FormulaError
        If the frequency is not positive, or the distance negative.

    Examples
    --------
    End of the shift over a fast trip at 62.0 Hz:

    >>> frequency_above(62.0, 0.3)
    62.3

    References
    ----------
    .. [1] Common practice; no published source.
    """
    require_positive(frequency=frequency)
    require_not_negative(by=by)
    return frequency + by


@formula(
    expression="frequency − by",
    unit="Hz",
    source="common practice: a fast trip lies 0.3 Hz under the end of the shift",
)
def frequency_below(frequency: float, by: float) -> float:
    """Frequency a distance below another.

    Parameters
    ----------
    frequency
        End of the shift, or the highest that a load stands. [Hz]
    by
        Distance. [Hz]

    Returns
    -------
    float
        Frequency. [Hz]

    Raises
    ------
    FormulaError
        If the frequency is not positive, or the distance negative.

    Examples
    --------
    Trip wanted where the shift cannot end above 51.5 Hz:

    >>> frequency_below(51.5, 0.3)
    51.2

    References
    ----------
    .. [1] Common practice; no published source.
    """
    require_positive(frequency=frequency)
    require_not_negative(by=by)
    return frequency - by


@formula(
    expression="start + (zero − start) × (power_before − power)",
    unit="Hz",
    source="the line of a droop through its two ends; IEEE 1547-2018, 6.5.2.7.2; EN 50549-1:2019, 4.6.1",
)
def held_frequency(power: float, power_before: float, start: float, zero: float) -> float:
    """Frequency at which a PV inverter holds a share of power, by the two ends of its line.

    Parameters
    ----------
    power
        Output to be held, as a share of what the line refers to. [1]
    power_before
        Output as the frequency passed the start, as a share of the same; 1 where the line refers to it. [1]
    start
        Frequency at which the output begins to fall. [Hz]
    zero
        Frequency at which the whole of what the line refers to is taken away. [Hz]

    Returns
    -------
    float
        Frequency; at or above a trip threshold the share cannot be held. [Hz]

    Raises
    ------
    FormulaError
        If a share is outside 0 to 1, ``power`` is above ``power_before`` or the line does not rise.

    Examples
    --------
    1.5 of 5 kW on a line from 50.2 to 52.7 Hz that refers to the power of the moment:

    >>> held_frequency(0.3, 1.0, 50.2, 52.7)
    51.95

    References
    ----------
    .. [1] IEEE 1547-2018, 6.5.2.7.2, table 23: start = nominal + deadband, zero − start = droop × nominal.
    .. [2] EN 50549-1:2019, 4.6.1, with zero − start = droop × nominal (from memory).
    """
    require_share(power=power, power_before=power_before)
    require_positive(start=start, zero=zero)
    if not start < zero:
        raise FormulaError(f"zero = {zero} Hz: must lie above start = {start} Hz")
    if power > power_before:
        raise FormulaError(f"power = {power}: must not be above power_before = {power_before}")
    return start + (zero - start) * (power_before - power)


@formula(
    expression="start + (frequency − start) ÷ (1 − power)",
    unit="Hz",
    source="the line of a droop through its two ends, turned round",
)
def zero_for_frequency(power: float, frequency: float, start: float) -> float:
    """Frequency at which a line must end, so that it holds a share of power at a lower frequency.

    Parameters
    ----------
    power
        Output to be held, as a share of that at the start. [1]
    frequency
        Frequency at which it is to be held, such as one under the slow trip. [Hz]
    start
        Frequency at which the output begins to fall. [Hz]

    Returns
    -------
    float
        Frequency of no output. [Hz]

    Raises
    ------
    FormulaError
        If the share is not under 1, or ``frequency`` does not lie over ``start``.

    Examples
    --------
    30 % held at 51.4 Hz on a line from 50.2 Hz:

    >>> zero_for_frequency(0.3, 51.4, 50.2)
    51.91

    References
    ----------
    .. [1] EN 50549-1:2019, 4.6.1, and IEEE 1547-2018, 6.5.2.7.2, for the line itself.
    """
    require_share(power=power)
    require_positive(start=start, frequency=frequency)
    if power >= 1.0:
        raise FormulaError(f"power = {power}: the whole power is held at every frequency up to the start")
    if frequency <= start:
        raise FormulaError(f"frequency = {frequency} Hz: must lie above start = {start} Hz")
    return start + (frequency - start) / (1.0 - power)


@formula(
    expression="delay + ramp × power",
    unit="s",
    source="IEEE 1547-2018, 4.10.3; EN 50549-1, 4.10: delay, then a ramp",
)
def time_between_trips(delay: float, ramp: float, power: float) -> float:
    """Time in which a PV inverter that trips on a full bank is back and trips again.

    Parameters
    ----------
    delay
        Time inside the return window before it comes back. [s]
    ramp
        Time from nothing to full power. [s]
    power
        What the loads take, as a share of its full power; above it the bank is charged again. [1]

    Returns
    -------
    float
        Least time from trip to trip. [s]

    Raises
    ------
    FormulaError
        If a time is negative or the power no share.

    Notes
    -----
    The bank's own fall in voltage between the two is left out: a full bank under small loads hardly falls.

    Examples
    --------
    >>> time_between_trips(60.0, 600.0, 0.3)
    240.0

    References
    ----------
    .. [1] IEEE 1547-2018, 4.10.3 and EN 50549-1, 4.10.
    """
    require_not_negative(delay=delay, ramp=ramp)
    require_share(power=power)
    return delay + ramp * power


@formula(
    expression="time_between − ramp × power, not below 0", unit="s", source="delay, then a ramp, turned round"
)
def delay_for_time(time_between: float, ramp: float, power: float) -> float:
    """Return delay with which a PV inverter trips no more often than in a time.

    Parameters
    ----------
    time_between
        Least time from trip to trip. [s]
    ramp
        Time from nothing to full power. [s]
    power
        What the loads take, as a share of its full power. [1]

    Returns
    -------
    float
        Delay inside the return window. [s]

    Raises
    ------
    FormulaError
        If a time is negative or the power no share.

    Examples
    --------
    >>> delay_for_time(200.0, 600.0, 0.1)
    140.0

    References
    ----------
    .. [1] IEEE 1547-2018, 4.10.3 and EN 50549-1, 4.10.
    """
    require_not_negative(time_between=time_between, ramp=ramp)
    require_share(power=power)
    return max(0.0, time_between - ramp * power)
