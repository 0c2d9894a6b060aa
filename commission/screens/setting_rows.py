"""A device's settings as lines of a table, and the setting in view as a person would tell it."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final, Literal, TypeAlias

from textual.content import Content

from commission import plain
from commission.figure import Choice, Derived, Figure
from commission.plant.equipment import Input as AcInput
from commission.screens.rows import BLANK, Row, heading
from commission.sheet.types import Setting
from commission.units import UnitSystem, convert, show, show_time, shown_unit
from commission.units import plain as number
from commission.visit.limits import outside, outside_text
from commission.visit.service import apart, last_left
from commission.visit.settings import CLOCK, differs, recommended_value
from commission.visit.state import setting_of
from commission.visit.types import SettingEntry, Visit

Column: TypeAlias = Literal["found", "left"]
COLUMN_NAME: Final[dict[Column, str]] = {"found": "as found", "left": "as left"}
_WHOLE: Final = re.compile(r"[−-]?\d+")
_HOURS: Final = re.compile(r"^(\d+ h \d+) min$")
_INPUTS: Final[tuple[AcInput | None, ...]] = (None, "generator", "utility")
_LEAST_NAME: Final = 18
_WIDEST: Final = 16
_FROM_WHERE: Final = 80
"""Cells from which the column 'last left' has room; below, one sign tells whether it is as left."""
SAME, OTHERWISE = "=", "≠"
"""Found as the last visit left it, or otherwise."""
_NARROW: Final = 9
"""Most cells of a value as found or as left."""


@dataclass(frozen=True, slots=True)
class _Cells:
    """One setting as texts."""

    key: str
    name: str
    recommended: str
    found: str
    left: str
    mark: str
    last: str = ""
    """As the last visit left it."""
    same: str = ""
    """One sign: found as it was left last, or otherwise; empty where that is not known."""


def key_of(setting: Setting) -> str:
    """Return the key of a setting's line within its device."""
    return f"{setting.setting}|{setting.input or ''}"


def entered(visit: Visit, setting: Setting) -> SettingEntry | None:
    """Return what was entered for a setting."""
    return setting_of(visit, *setting.key)


def value_text(value: float | str | None, setting: Setting, system: UnitSystem) -> str:
    """Return a value as found or as left, as it would be typed."""
    if isinstance(value, float | int):
        return plain.device_number(value, setting, system)
    return value or ""


def unit_text(setting: Setting, system: UnitSystem) -> str:
    """Return in which unit a value is typed; of times no number is taken without one."""
    if setting.setting.startswith(CLOCK):
        return "hour:minute"
    return "h, min or s" if setting.unit == "s" else shown_unit(setting.unit, system)


def mark_of(setting: Setting, entry: SettingEntry | None) -> str:
    """Return in a word where a setting stands: told or not, as recommended or not."""
    if entry is None or entry.left is None:
        return "to enter" if setting.changeable else "fixed"
    if outside(setting, entry.left):
        return "outside" if entry.reason else "why?"
    if recommended_value(setting) is None:
        return "entered"
    if not differs(setting, entry.left):
        return "same ✓"
    return "differs" if entry.reason else "why?"


# the table


def table(
    settings: Sequence[Setting], visit: Visit, width: int, column: Column, system: UnitSystem = "metric"
) -> tuple[Content, list[Row]]:
    """Return the heads of the columns and the lines, in a width, grouped by the AC input that they are of."""
    groups = [(which, [setting for setting in settings if setting.input == which]) for which in _INPUTS]
    cells = {which: [_cells(setting, visit, system) for setting in group] for which, group in groups if group}
    again = visit.service is not None
    widths = _widths([cell for group in cells.values() for cell in group], width, again=again)
    rows: list[Row] = []
    for which, group in cells.items():
        if which is not None:
            rows.append(heading(f"{which} input"))
        rows += [_row(cell, widths) for cell in group]
    return _heads(widths, column), rows


def _cells(setting: Setting, visit: Visit, system: UnitSystem) -> _Cells:
    entry = entered(visit, setting)
    name = plain.setting_name(setting).removesuffix(f", {setting.input}")
    found, left = (None, None) if entry is None else (entry.found, entry.left)
    before = last_left(visit, *setting.key)
    return _Cells(
        key_of(setting),
        name.removeprefix("ac input ") if setting.input else name,
        plain.setting_text(setting, system).replace(" per ", "/"),
        _bare(found, setting, system),
        _bare(left, setting, system),
        mark_of(setting, entry),
        "" if before is None else _bare(before.left, setting, system),
        same_as_left(setting, entry, before),
    )


def same_as_left(setting: Setting, entry: SettingEntry | None, before: SettingEntry | None) -> str:
    """Return in one sign whether a setting was found as the last visit left it; empty where not known."""
    if entry is None or entry.found is None or before is None or before.left is None:
        return ""
    return OTHERWISE if apart(setting, before.left, entry.found) else SAME


def _bare(value: float | str | None, setting: Setting, system: UnitSystem) -> str:
    """Return a value without the unit, which stands beside the recommendation."""
    text = value_text(value, setting, system)
    if setting.unit == "s":
        return _HOURS.sub(r"\1", text)
    return text.removesuffix(f" {shown_unit(setting.unit, system)}")


@dataclass(frozen=True, slots=True)
class _Widths:
    name: int
    recommended: int
    found: int
    left: int
    whole: tuple[int, int, int, int]
    """Digits before the point of the columns of values."""
    last: int = 0
    """Of the column that a service visit has: as left last; 0 where there is no room or no such visit."""
    same: int = 0


def _widths(cells: Sequence[_Cells], width: int, *, again: bool = False) -> _Widths:
    columns = [[getattr(cell, name) for cell in cells] for name in ("recommended", "found", "left", "last")]
    whole = [max((_whole(text) for text in texts), default=0) for texts in columns]
    wide = [
        max([least, *(len(_aligned(text, before)) for text in texts)])
        for texts, before, least in zip(columns, whole, (11, _NARROW, _NARROW, _NARROW), strict=True)
    ]
    wide = [min(wide[0], _WIDEST), min(wide[1], _NARROW), min(wide[2], _NARROW)]
    name = max([len("setting"), *(len(cell.name) for cell in cells)])
    room = width - len(BLANK) - sum(wide) - 4 - len("to enter") - (2 if again else 0)
    last = _NARROW if again and width >= _FROM_WHERE and room - _NARROW - 1 >= _LEAST_NAME else 0
    return _Widths(
        max(_LEAST_NAME, min(name, room - (last + 1 if last else 0))),
        wide[0],
        wide[1],
        wide[2],
        (whole[0], whole[1], whole[2], whole[3]),
        last,
        1 if again else 0,
    )


def _whole(text: str) -> int:
    match = _WHOLE.match(text)
    return len(match[0]) if match else 0


def _aligned(text: str, whole: int) -> str:
    """Return a number with its point where those of the column are; a word begins where they begin."""
    length = _whole(text)
    return " " * (whole - length) + text if length else text


def _cut(text: str, width: int) -> str:
    return text.ljust(width) if len(text) <= width else text[: width - 1] + "…"


def _row(cell: _Cells, widths: _Widths) -> Row:
    recommended, found, left, last = (
        _cut(_aligned(text, whole), width) if width else ""
        for text, whole, width in zip(
            (cell.recommended, cell.found, cell.left, cell.last),
            widths.whole,
            (widths.recommended, widths.found, widths.left, widths.last),
            strict=True,
        )
    )
    # the sign stands right before what was found, and behind as it was left last: 29.1 ≠ 14.1
    again = ([last] if widths.last else []) + ([cell.same.ljust(1)] if widths.same else [])
    line = " ".join((_cut(cell.name, widths.name), recommended, *again, found, left))
    style = {
        "why?": "bold $text-warning",
        "outside": "bold $text-warning",
        "differs": "$text-warning",
        "same ✓": "$text-success",
    }
    text = Content.from_markup(f"$line [{style.get(cell.mark, 'dim')}]$mark[/]", line=line, mark=cell.mark)
    return Row(text, cell.key)


def _heads(widths: _Widths, column: Column) -> Content:
    """Return the heads; that of the column which is being entered is underlined."""
    heads = [
        (BLANK + "setting", widths.name + len(BLANK), False),
        ("recommended", widths.recommended, False),
        ("last left", widths.last, False),
        ("", widths.same, False),
        (COLUMN_NAME["found"], widths.found, column == "found"),
        (COLUMN_NAME["left"], widths.left, column == "left"),
    ]
    heads = [head for head in heads if head[1]]
    return Content(" ").join(
        Content.styled(text, "bold underline" if active else "dim") + " " * (width - len(text))
        for text, width, active in heads
    )


# the setting in view


def details(
    setting: Setting,
    entry: SettingEntry | None,
    system: UnitSystem,
    before: SettingEntry | None = None,
) -> Iterator[str]:
    """Yield what is to be known of the setting in view, most useful first.

    Parameters
    ----------
    before
        The setting as the last visit left it.
    """
    if before is not None and before.left is not None:
        yield _last_text(setting, entry, before, system)
    beyond = "" if entry is None else outside_text(setting, entry.left, system)
    if beyond:
        yield f"left {beyond}"
    if len(plain.setting_text(setting, system)) > _WIDEST:
        yield f"recommended {plain.setting_text(setting, system)}"
    range_text = plain.range_text(setting, system)
    acceptable = f"acceptable {range_text}; " if range_text else ""
    yield f"{acceptable}{device_takes(setting, system)}"
    beside = "; ".join(part for part in (plain.gaps_of(setting), binding_text(setting), setting.note) if part)
    if beside:
        yield beside
    if entry is not None:
        yield from _cut_values(setting, entry, system)
    if entry is not None and entry.reason:
        yield f"left so because: {entry.reason}"
    for old in () if entry is None else entry.found_before:
        told = value_text(old.found, setting, system)
        yield f"told as found at {told} first, put right {old.at:%H:%M}: {old.why}"


def _last_text(setting: Setting, entry: SettingEntry | None, before: SettingEntry, system: UnitSystem) -> str:
    """Return how the last visit left a setting, and that it was found otherwise where it was."""
    told = f"last left {value_text(before.left, setting, system)}, {before.at:%Y-%m-%d}"
    if entry is not None and same_as_left(setting, entry, before) == OTHERWISE:
        return f"{told}: FOUND OTHERWISE, {value_text(entry.found, setting, system)}"
    return f"{told}; left so because: {before.reason}" if before.reason else told


def _cut_values(setting: Setting, entry: SettingEntry, system: UnitSystem) -> Iterator[str]:
    """Yield what was found and left where the column of the table is too narrow for it."""
    for word, value in (("found", entry.found), ("left", entry.left)):
        told = _bare(value, setting, system)
        if len(told) > _NARROW:
            yield f"{word} {told}"


def device_takes(setting: Setting, system: UnitSystem) -> str:
    """Return what the device can hold."""
    ability = setting.ability
    if not setting.changeable:
        return "fixed in the device"
    off = ", or off" if ability.off else ""
    if ability.choices:
        return f"the device takes {', '.join(ability.choices)}{off}"
    low, high = (
        plain.device_number(end, setting, system) if end is not None else "?"
        for end in (ability.low, ability.high)
    )
    step = "" if ability.step is None else f" by {_step_text(ability.step, setting, system)}"
    return f"the device takes {low.removesuffix(f' {shown_unit(setting.unit, system)}')} to {high}{step}{off}"


def _step_text(step: float, setting: Setting, system: UnitSystem) -> str:
    """Return the step of a device: of a temperature it is a difference, which has no zero."""
    if setting.unit == "s":
        return show_time(step)
    unit = shown_unit(setting.unit, system)
    if unit != setting.unit:
        return f"{number(convert(step, setting.unit, unit) - convert(0.0, setting.unit, unit))} {unit}"
    return plain.device_number(step, setting, system)


def binding_text(setting: Setting) -> str:
    """Return which of several limits decided the recommendation, empty where nothing was chosen."""
    shown = setting.at_posts or setting.recommended
    chosen = _chosen(shown) if isinstance(shown, Figure) else None
    if chosen is None or not isinstance(shown, Figure):
        return ""
    if abs(chosen.value - shown.value) > max(setting.ability.step or 0.0, 1e-9 * abs(shown.value)):
        return ""  # it went into the number only as a part
    decided = chosen.binding()
    return f"{chosen.name}: {decided.name} decides, {show(decided.value, decided.unit)}"


def _chosen(figure: Figure, deepest: int = 4) -> Figure | None:
    """Return the nearest choice among limits that a figure was made from, in the figure's own unit."""
    if isinstance(figure.origin, Choice):
        return figure
    if not isinstance(figure.origin, Derived) or deepest == 0:
        return None
    inputs = (value for _, value in figure.origin.inputs if isinstance(value, Figure))
    found = (_chosen(value, deepest - 1) for value in inputs if value.unit == figure.unit)
    return next((choice for choice in found if choice is not None), None)
