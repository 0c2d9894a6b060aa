"""Which sites come to a limit soon: the trends of the readings by which a plant ages."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Final, Literal, TypeAlias

from commission.checklist.types import ReadingKey
from commission.desk.alike import restated_keys
from commission.desk.history import trend_of
from commission.desk.names import limits_change
from commission.desk.series import Trend
from commission.desk.site_visits import key_of
from commission.desk.subjects import subject_of
from commission.visit.types import Visit

Caution: TypeAlias = Literal["likely", "possible"]
"""``likely``: by the slope itself; ``possible``: by the quick end of its interval, so that few are missed."""
SOON: Final = timedelta(days=365)


@dataclass(frozen=True, slots=True)
class Watched:
    """The trend of one reading at one site."""

    site: str
    key: ReadingKey
    trend: Trend


def watched(visits: Sequence[Visit]) -> Iterator[Watched]:
    """Yield the trends of all readings of one site's visits by which a plant ages.

    Those are the readings for which trade practice has a limit of its own, and those that service visits
    compare as physics restates them: drops, insulation, the current of an array.
    """
    keys = {reading.key for visit in visits for reading in visit.readings if reading.kind == "number"}
    own = {key for key in keys if subject_of(key.step).limit is not None}
    for key in sorted(own | (keys & restated_keys(visits))):
        yield Watched(visits[0].site, key, trend_of(visits, key))


def ageing_first(rows: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
    """Return what was read at a site, first that by which a plant ages and which was read more than once."""

    def ages(row: dict[str, Any]) -> bool:
        name = row["name"]
        own = subject_of(key_of(name).step).limit is not None
        return row["readings"] > 1 and (own or limits_change(name))

    return sorted(rows, key=lambda row: not ages(row))


def comes_to_limit(found: Trend, until: datetime, caution: Caution = "likely") -> bool:
    """Say whether a limit is reached up to a moment, or is passed already.

    A newest reading that allows values on both sides of the limit is possibly there.
    """
    reached = found.reached
    if reached is None:
        return False
    if reached.when == "reached" or (reached.when == "open" and caution == "possible"):
        return True
    if reached.when not in {"dated", "open"} or found.slope_low is None or found.slope_high is None:
        return False
    if caution == "likely" and found.slope_low <= 0.0 <= found.slope_high:
        return False
    moment = reached.middle if caution == "likely" else reached.earliest
    return moment is not None and moment <= until


def soon(
    trends: Iterable[Watched], now: datetime, caution: Caution = "likely", within: timedelta = SOON
) -> tuple[Watched, ...]:
    """Return what comes to its limit within a time: first what is passed, then the soonest first."""
    found = [one for one in trends if comes_to_limit(one.trend, now + within, caution)]
    return tuple(sorted(found, key=lambda one: (not _passed(one), _moment(one, now), one.site, one.key)))


def _passed(one: Watched) -> bool:
    return one.trend.reached is not None and one.trend.reached.when == "reached"


def _moment(one: Watched, now: datetime) -> datetime:
    reached = one.trend.reached
    if reached is None or reached.when == "reached":
        return now
    return reached.middle or reached.earliest or now
