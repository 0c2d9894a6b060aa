"""What a reading, a step or a setting is called: the checklist's words for its key, as the walk has them.

Parts keep their ids, since many sites are told at once and none is built for it. A key that no checklist of
this program knows, of another version or of a site's own steps, stays as it is written.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Any, Final

from commission.desk.setting_values import number_shown
from commission.desk.site_visits import key_of

if TYPE_CHECKING:
    from commission.checklist.types import ReadingData, StepData

_BANK: Final = "bank"


@dataclass(frozen=True, slots=True)
class _Named:
    step: StepData
    reading: ReadingData | None = None
    several: bool = False
    """Its step has other readings, or another step has its title: what is read belongs to the words."""


@cache
def _known() -> dict[str, _Named]:
    """Return the steps and readings of the usual checklists, by what keys name them by."""
    from commission.checklist.build import USUAL, reading_name
    from commission.checklist.types import ChecklistData
    from commission.plant.files import load_profiles

    found: dict[str, _Named] = {}
    steps = [step for one in load_profiles("checklists", ChecklistData, USUAL) for step in one.steps]
    titles = Counter(step.title for step in steps)
    for step in steps:
        found[step.id] = _Named(step)
        several = len(step.readings) > 1 or titles[step.title] > 1
        for reading in step.readings:
            found[reading_name(step, reading)] = _Named(step, reading, several)
    return found


def load() -> None:
    """Read the checklists now, on a thread that nobody waits for: it takes half a second."""
    _known()


@lru_cache(maxsize=20_000)
def words_of(key: str, *, step_only: bool = False) -> str:
    """Return the words for the key of a reading or step: ``step@part+part#index``; else the key itself.

    Parameters
    ----------
    step_only
        It is the key of a step, which a reading of that step may have too.
    """
    told = key_of(key)
    step, _, name = told.step.partition(".")
    named = (_known().get(told.step) or _known().get(step)) if "@" in key else None
    if named is None:
        return key
    words, reading = [_title(named.step, told.parts)], named.reading
    if step_only:
        return words[0]
    if reading is None:
        words += [name.replace("-", " ")] if name else []  # a reading of another version of this step
    elif named.several:
        words.append(reading.prompt)
    if reading is not None and reading.series:
        # 'cells', 'array strings', 'pairs of legs': one of them
        one = reading.series.partition(" of ")[0].split()[-1].removesuffix("s")
        words.append(f"{one} {told.index + 1}")
    return ", ".join(words)


def _title(step: StepData, parts: tuple[str, ...]) -> str:
    """Return the title of a step with the ids of its parts in it."""
    part = "the bank" if step.each == _BANK else next(iter(parts), "it")
    title = step.title if len(parts) > 1 else step.title.replace(", {other}", "")
    title = title.replace("{other}", parts[1] if len(parts) > 1 else "the other").replace("{part}", part)
    # an id stays as it is written everywhere else
    return title if title.startswith(tuple(parts)) else title[:1].upper() + title[1:]


def limits_change(key: str) -> bool:
    """Say whether the checklist limits how far a reading may go from its baseline: of what ages it does."""
    named = _known().get(key_of(key).step)
    return named is not None and named.reading is not None and bool(named.reading.change)


def step_words(step: str, parts: tuple[str, ...]) -> str:
    """Return the words for a step, or a reading of it, and its parts; as they are written where unknown."""
    words = words_of(f"{step}@{'+'.join(parts)}", step_only="." not in step)
    return " ".join((step, *parts)) if "@" in words else words


def setting_words(key: str) -> str:
    """Return the words for the key of a setting: ``device.input.setting``."""
    return key.replace(".", " ").replace("_", " ")


def held_words(row: Mapping[str, Any]) -> str:
    """Return what a site has, of a row of ``held`` or ``recall``: name and value, with its unit."""
    return " ".join(one for one in (row["name"].replace("_", " "), held_value(row)) if one)


def held_value(row: Mapping[str, Any]) -> str:
    """Return a value with its unit; a word as it is."""
    told = row.get("number")
    return str(row["value"]) if told is None else number_shown(told, row["unit"], row["name"])


def concern_line(row: Mapping[str, Any]) -> str:
    """Return what a supervisor looks at as a line: its kind, its subject, what there is to say."""
    return f"{row['kind']:<17} {concern_text(row)}"


def concern_text(row: Mapping[str, Any]) -> str:
    """Return what a supervisor looks at, in words, with the key behind it where the words are not the key."""
    key, says = str(row["subject"]), str(row["says"])
    if row["kind"] == "typed fast":
        says = f"{says}, the first: {words_of(key)}"
    elif row["kind"].startswith("setting"):
        return f"{setting_words(key)}: {says}"
    elif "@" in key:
        says = f"{words_of(key, step_only=row['point'] is None)}: {says}"
    return says if "@" not in key or words_of(key) == key else f"{says}  ({key})"
