"""When a generator is started and stopped by itself: delays, loads and run times."""

from __future__ import annotations

import math
from collections.abc import Sequence

from commission.figure import formula
from commission.formulas.ranges import require_not_negative, require_positive, require_share


@formula(
    expression="1.5 × run, not under 14400 nor over 43200",
    unit="s",
    source="common practice: reached, it means that something is wrong",
)
def run_time_limit(run: float) -> float:
    """Longest time that a generator may run in one go before it is stopped with an alarm.

    Parameters
    ----------
    run
        Run that is expected from start to stop. [s]

    Returns
    -------
    float
        Limit, within 4 and 12 h. [s]

    Raises
    ------
    FormulaError
        If the run is negative or not a finite number.

    Examples
    --------
    A run of 4 h is limited at 6 h:

    >>> run_time_limit(14400.0)
    21600.0

    References
    ----------
    .. [1] Common practice; no published source.
    """
    require_not_negative(run=run)
    return min(43200.0, max(14400.0, 1.5 * run))


@formula(
    expression="delay × lesser of 1 and (reserve ÷ (2 × total))",
    unit="s",
    source="common practice: the delays of all starts together take at most half of the reserve",
)
def delay_within_reserve(delay: float, total: float, reserve: float) -> float:
    """Start delay, shortened where all of them together would use up the reserve.

    Parameters
    ----------
    delay
        Usual delay of this threshold. [s]
    total
        Usual delays of all thresholds together. [s]
    reserve
        Time that the charge between start and disconnect lasts. [s]

    Returns
    -------
    float
        Delay to be set. [s]

    Raises
    ------
    FormulaError
        If a delay or the reserve is negative, or the total not positive.

    Examples
    --------
    15 min of 20 min in all, where the reserve lasts only 20 min:

    >>> delay_within_reserve(900.0, 1200.0, 1200.0)
    450.0

    References
    ----------
    .. [1] Common practice; no published source.
    """
    require_not_negative(delay=delay, reserve=reserve)
    require_positive(total=total)
    return delay * min(1.0, reserve / (2.0 * total))


@formula(expression="sum of times", unit="s", source="definition")
def sum_of_times(times: Sequence[float]) -> float:
    """Time that steps take one after the other.

    Parameters
    ----------
    times
        Time of each; none at all makes 0 s. [s]

    Returns
    -------
    float
        Their sum. [s]

    Raises
    ------
    FormulaError
        If one of them is negative.

    Examples
    --------
    Start delays, warm-up and qualification:

    >>> sum_of_times([900.0, 300.0, 60.0, 60.0, 20.0])
    1340.0

    References
    ----------
    .. [1] Definition.
    """
    for time in times:
        require_not_negative(times=time)
    return math.fsum(times)


@formula(
    expression="share × rating",
    unit="VA",
    source="common practice: started over 80 to 90 % of the inverters' rating, stopped under 60 %",
)
def load_threshold(share: float, rating: float) -> float:
    """Load at which a generator is started or stopped.

    Parameters
    ----------
    share
        Share of the inverters' rating. [1]
    rating
        Continuous rating of the inverters together. [VA]

    Returns
    -------
    float
        Load. [VA]

    Raises
    ------
    FormulaError
        If ``share`` is no share, or the rating not positive.

    Examples
    --------
    >>> load_threshold(0.8, 10000.0)
    8000.0

    References
    ----------
    .. [1] Common practice; no published source.
    """
    require_share(share=share)
    require_positive(rating=rating)
    return share * rating
