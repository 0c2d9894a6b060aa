"""How old the strings of a bank are, against each other: a new string beside an old one ages with it."""

from __future__ import annotations

import calendar
import datetime as dt
from collections.abc import Iterator
from typing import Final, Literal

from commission.design.types import Found, Scene
from commission.figure import Figure, Gap, given
from commission.formulas.bands import difference
from commission.plant.values import UNKNOWN
from commission.sheet.known import not_checked
from commission.sheet.types import Finding

_YEAR: Final = 365.25 * 86400.0
_TOLD: Final = given(_YEAR, "s", "age apart that is told", source="common practice, lead: 12 months")
_MENDED: Final = given(2.0 * _YEAR, "s", "age apart at most", source="common practice, lead: 2 years")
_EPOCH: Final = dt.date(1900, 1, 1)


def check_bank_age(scene: Scene) -> Iterator[Found]:
    """Find lead strings whose blocks are of different age, where the file tells when they were installed.

    A month or a year alone counts with the day that brings it nearest to the others, so that nothing is
    claimed that the file does not say.
    """
    strings = scene.plant.bank.strings
    if scene.plant.battery.family != "lead" or len(strings) < 2:
        return
    told = {one.id: _days(one.installed) for one in strings if one.installed not in {"", UNKNOWN}}
    missing = tuple(
        Gap(f"when {one.id} was installed", f"bank.strings[{one.id}].installed")
        for one in strings
        if one.id not in told
    )
    if missing:
        yield Found(not_checked("age-of-strings", (scene.plant.bank.id,), missing))
    if len(told) < 2:
        return
    oldest = min(told, key=lambda ident: told[ident][1])
    newest = max(told, key=lambda ident: told[ident][0])
    apart = difference.of(
        f"age of {oldest} over {newest}",
        first=_figure(newest, told[newest][0]),
        second=_figure(oldest, told[oldest][1]),
    ).in_unit("s")
    if isinstance(apart, Figure) and apart.value > _TOLD.value:
        yield _unlike(scene, oldest, newest, apart)


def _days(text: str) -> tuple[dt.date, dt.date]:
    """Return the first and the last day that a day, a month or a year can mean."""
    pieces = [int(piece) for piece in text.split("-")]
    year = pieces[0]
    first, last = (pieces[1], pieces[1]) if len(pieces) > 1 else (1, 12)
    if len(pieces) > 2:
        day = dt.date(year, first, pieces[2])
        return day, day
    return dt.date(year, first, 1), dt.date(year, last, calendar.monthrange(year, last)[1])


def _figure(ident: str, day: dt.date) -> Figure:
    name = f"day on which {ident} was installed, {day.isoformat()}"
    seconds = (day - _EPOCH).days * 86400.0
    return given(seconds, "s", name, kind="site", where=f"bank.strings[{ident}].installed")


def _unlike(scene: Scene, oldest: str, newest: str, apart: Figure) -> Found:
    over = apart.value > _MENDED.value
    limit = _MENDED if over else _TOLD
    years = apart.value / _YEAR
    text = (
        f"{newest} is {years:.1f} years younger than {oldest}, at most {limit.value / _YEAR:.0f} should be "
        "between them: the old string limits the new one and ages it"
    )
    remedy = f"one age in one bank: {oldest} renewed with the next change, or a bank of its own"
    kind: Literal["correct", "advise"] = "correct" if over else "advise"
    finding = Finding(
        kind, "strings-of-unlike-age", (scene.plant.bank.id,), text, remedy, value=apart, limit=limit
    )
    return Found(finding)
