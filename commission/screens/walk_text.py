"""What the walk writes: band, verdict, causes, the table of a column of readings."""

from __future__ import annotations

import math
from datetime import datetime
from textwrap import wrap

from textual.content import Content

from commission import plain
from commission.checklist.types import Ask, Expectation, Expected, NotJudged, Step, Waits
from commission.screens.scale import draw
from commission.screens.theme import VERDICT_MARK, VERDICT_STYLE
from commission.units import UnitSystem, convert, show, shown_unit
from commission.units import plain as number
from commission.visit.changes import worth_telling
from commission.visit.session import OpenVisit
from commission.visit.types import Judgement, Reading

LABEL = 13
"""Cells of the label column."""


def labelled(label: str, text: str, width: int = 0) -> str:
    """Return a text with its label in the column of labels; wrapped beside it where a width is given."""
    return "\n".join(hanging(f"{label:<{LABEL}}", text, width)) if width else f"{label:<{LABEL}}{text}"


def hanging(head: str, text: str, width: int) -> list[str]:
    """Return a text as lines of a width, those below the first under where the text begins."""
    room = max(20, width - len(head))
    lines = [line for part in text.split("\n") for line in (wrap(part, room) or [""])]
    return [f"{head if at == 0 else ' ' * len(head)}{line}" for at, line in enumerate(lines)]


def should_be(ask: Ask, expectation: Expectation | None, system: UnitSystem) -> str:
    """Return what a reading should be, in words."""
    if ask.data.kind == "yes or no":
        return ask.data.wants
    if isinstance(expectation, Expected):
        band = plain.band_text(expectation.band, system)
        return f"{band}    {expectation.says}".rstrip()
    if isinstance(expectation, Waits):
        return f"waits: {expectation.why}"
    if isinstance(expectation, NotJudged):
        return f"cannot be judged now: {expectation.why}"
    if ask.data.choices:
        return f"one of {', '.join(ask.data.choices)}"
    return "nothing is expected of it; it is recorded"


def earlier(reading: Reading | None, system: UnitSystem) -> str:
    """Return the reading that holds so far, in words."""
    if reading is None:
        return "nothing yet in this visit"
    judged = reading.judgement
    verdict = "" if judged is None else f"  {judged.verdict}"
    return f"{reading_text(reading, system)}{verdict}  {reading.measured_at:%d %b %H:%M}"


def reading_text(reading: Reading, system: UnitSystem) -> str:
    """Return a reading with the digits that were typed."""
    if isinstance(reading.value, bool):
        return "yes" if reading.value else "no"
    if isinstance(reading.value, str) or reading.side != "exact":
        return reading.text
    typed = reading.text.partition(" ")[0].replace(",", ".")
    decimals = len(typed.partition(".")[2]) if typed.lstrip("+-").replace(".", "").isdigit() else None
    return show(reading.value, reading.unit, system, decimals) if decimals is not None else reading.text


def scale_of(
    judged: Judgement | None,
    value: float | None,
    expectation: Expectation | None,
    width: int,
    system: UnitSystem,
) -> str:
    """Return the band as a picture with its ends, empty where there is no band."""
    low, high, doubt, unit = None, None, None, ""
    if judged is not None and (judged.low is not None or judged.high is not None):
        low, high, doubt, unit = judged.low, judged.high, judged.uncertainty, judged.unit
        value = judged.compared if judged.compared is not None else value
    elif isinstance(expectation, Expected):
        band = expectation.band
        low = None if band.low is None else band.low.value
        high = None if band.high is None else band.high.value
        value, unit = None, band.unit
    if low is None and high is None:
        return ""
    ends = tuple("" if end is None else number(as_shown(end, unit, system)) for end in (low, high))
    return draw(value, low, high, doubt, width, (ends[0], ends[1]))


def as_shown(value: float, unit: str, system: UnitSystem) -> float:
    """Return a value in the unit in which the site shows it; a cross-section stays as it is."""
    wanted = shown_unit(unit, system)
    return value if wanted in {unit, "AWG"} else convert(value, unit, wanted)


def amount(value: float, unit: str, system: UnitSystem) -> str:
    """Return a difference with its unit as the site shows it: degrees of a difference have no zero."""
    wanted = shown_unit(unit, system)
    if wanted in {unit, "AWG"}:
        return f"{number(value)} {unit}".removesuffix(" 1").strip()
    return f"{number(convert(value, unit, wanted) - convert(0.0, unit, wanted))} {wanted}"


def verdict_lines(judged: Judgement, meter: str, system: UnitSystem, width: int) -> list[Content]:
    """Return the verdict: the word first, the mark, how far from the limit, the meter."""
    parts = [_margin(judged, system), _doubt(judged, meter, system)]
    if judged.verdict in {"not judged", "conditional pass", "conditional fail", "stop work"} or not any(
        parts
    ):
        parts.append(judged.says)
    style = VERDICT_STYLE[judged.verdict]
    word = f"{f'{judged.verdict} {VERDICT_MARK[judged.verdict]}':<{LABEL - 2}}  "
    first, *rest = hanging(word, "; ".join(part for part in parts if part), width)
    head = Content.from_markup(f"[{style}]$word[/]$said", word=word, said=first.removeprefix(word))
    return [head, *(Content(line) for line in rest)]


def last_line(judged: Judgement, what: str) -> Content:
    """Return what became of the reading before: its verdict first, since the line may be cut."""
    style = VERDICT_STYLE[judged.verdict]
    word = f"{judged.verdict} {VERDICT_MARK[judged.verdict]}"
    changed = [drift.verdict for drift in judged.drifts if worth_telling(drift)]
    what = f"{changed[0]}: its change (Up, then F2)  {what}" if changed else what
    label = labelled("last", "")
    return Content.from_markup(f"$label[{style}]$word[/]  $what", label=label, word=word, what=what)


def _margin(judged: Judgement, system: UnitSystem) -> str:
    if judged.margin is None:
        return ""
    told = amount(abs(judged.margin), judged.unit, system)
    return f"{told} inside" if judged.margin >= 0 else f"{told} {_side(judged)}"


def _side(judged: Judgement) -> str:
    if judged.low is None:
        return "over"
    if judged.high is None:
        return "under"
    return "outside"


def _doubt(judged: Judgement, meter: str, system: UnitSystem) -> str:
    if not judged.uncertainty:
        return ""
    told = amount(_rounded_up(judged.uncertainty), judged.unit, system)
    return f"meter ± {told}, {meter}" if meter else f"meter ± {told}"


def _rounded_up(doubt: float) -> float:
    """Return an uncertainty with two digits, never less than it is."""
    decimals = max(0, 1 - math.floor(math.log10(doubt)))
    scale: float = 10.0**decimals
    return math.ceil(doubt * scale - 1e-9) / scale


def causes(step: Step, judged: Judgement, value: float | None, width: int, most: int = 3) -> list[list[str]]:
    """Return what a reading out of band usually means and what to do, most likely first, each as lines.

    One alone has no number, which would read as a count of it.
    """
    side = _out_on(judged, value)
    fitting = [cause for cause in step.data.likely if side == "either" or cause.side in {side, "either"}]
    heads = [f"{place}. " for place in range(1, most + 1)] if len(fitting) > 1 else [""]
    return [
        hanging(" " * LABEL + head, f"{cause.cause}: {cause.remedy}", width)
        for head, cause in zip(heads, fitting, strict=False)
    ]


def _out_on(judged: Judgement, value: float | None) -> str:
    found = judged.compared if judged.compared is not None else value
    if found is None:
        return "either"
    if judged.high is not None and found > judged.high:
        return "over"
    if judged.low is not None and found < judged.low:
        return "under"
    return "either"


def is_column(step: Step) -> bool:
    """Whether the step asks for a column of like readings."""
    return len(step.asks) > 3 and len({ask.key.step for ask in step.asks}) == 1


def column_table(visit: OpenVisit, step: Step, at: int, *, width: int, rows: int) -> Content:
    """Return the column of readings around the one in work; a skipped one is visibly empty."""
    across = max(1, width // 19)
    shown = across * rows
    first = max(0, min(at - shown // 2, len(step.asks) - shown))
    cells = [_cell(visit, ask, place == at, place) for place, ask in enumerate(step.asks)][
        first : first + shown
    ]
    lines = [Content("").join(cells[row * across : (row + 1) * across]) for row in range(rows)]
    return Content("\n").join(lines)


def _cell(visit: OpenVisit, ask: Ask, here: bool, place: int) -> Content:
    reading = visit.current(ask.key)
    text = "·····" if reading is None else reading.text
    mark = "" if reading is None or reading.judgement is None else VERDICT_MARK[reading.judgement.verdict]
    shown = f"{'▶' if here else ' '}{place + 1:>3} {text:<10} {mark:<2}"[:19]
    return Content.styled(f"{shown:<19}", "bold" if here else "")


def measured_at(typed: str, now: datetime) -> tuple[str, datetime]:
    """Split ``12.6 @14:05`` into what was read and when; the day before where the time is still to come."""
    from datetime import timedelta

    text, mark, clock = typed.partition("@")
    hours, colon, minutes = clock.strip().partition(":")
    if not mark or not colon or not (hours.isdigit() and minutes.isdigit()):
        return typed, now
    if int(hours) > 23 or int(minutes) > 59:
        return typed, now
    moment = now.replace(hour=int(hours), minute=int(minutes), second=0)
    return text.strip(), moment if moment <= now else moment - timedelta(days=1)
