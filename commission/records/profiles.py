"""The rule set and the profiles inside a record, held against the program's own of the same names.

A record carries them whole, so that it can be worked out anew for ever; but whoever changes a record can
change them with it. What the program has a file of is compared; what the site brought along is told.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from commission.plant.files import named_devices
from commission.plant.plant import Plant
from commission.plant.shipped import Shipped, shipped
from commission.records.differing import difference_text
from commission.records.types import Record
from commission.visit.recompute import Difference, same, shown

_OWN: Final = "in the program's own"


@dataclass(frozen=True, slots=True)
class Carried:
    """How the profiles that a record carries stand to those of the program."""

    differences: tuple[Difference, ...]
    """Where one says otherwise than the program's own of that name."""
    own: tuple[str, ...]
    """What the site brought along, as a person would say it; its values are believed."""
    in_the_way: tuple[str, ...]
    """What the site brought along under a name of the program's own, and what it says otherwise."""


def carried(record: Record) -> Carried:
    """Return how the rule set, profiles and checklists that a record carries stand to the program's own."""
    differences: list[Difference] = []
    own: list[str] = []
    in_the_way: list[str] = []
    for one in shipped(record.plant):
        found = tuple(_of(one))
        if one.own is None and not one.refused:
            own.append(f"{one.place}: not one of this program's, brought along by the site")
        elif one.brought and found:
            says = "; ".join(difference_text(row) for row in found[:_MOST])
            in_the_way.append(f"{one.place}: the site's own file under a name of the program's: {says}")
        else:
            differences += found
    own += [f"checklist {one.id}: brought along by the site" for one in record.visit.checklists]
    return Carried((*differences, *_without_profile(record.plant)), tuple(own), tuple(in_the_way))


_MOST: Final = 5
"""Differences of one file of the site's own that are told."""


def _of(one: Shipped) -> Iterator[Difference]:
    """Yield where a profile of a record says otherwise than the program's own of that name."""
    if one.refused:
        says = f"{_OWN} the datasheet is refused: {one.refused}"
        yield Difference(one.place, "datasheet", "there", f"refused: {one.refused}", where=_OWN, says=says)
    elif one.told is None:
        says = "is missing in the record"
        yield Difference(one.place, "profile", "missing", "there", where=_OWN, says=says)
    elif one.own is not None:
        told, found = (model.model_dump(exclude_none=True) for model in (one.told, one.own))
        for field, value, other in _unlike("", told, found):
            texts = shown(value), shown(other)
            yield Difference(one.place, field, *texts, where=_OWN, values=(value, other))


def _without_profile(plant: Plant) -> Iterator[Difference]:
    """Yield profiles that nothing of the site names, which nobody has compared."""
    named = {device.id for _, device in named_devices(plant.site)}
    for ident in plant.equipment:
        if ident not in named:
            says = "is in the record, and no device of this site has it"
            yield Difference(
                f"profile of {ident}", "device", "there", "not one of this site", excusable=False, says=says
            )


def _unlike(field: str, told: Any, own: Any) -> Iterator[tuple[str, Any, Any]]:
    """Yield the innermost fields in which two values differ; numbers at nine significant digits."""
    if same(told, own):
        return
    if isinstance(told, Mapping) and isinstance(own, Mapping):
        for name in dict.fromkeys((*told, *own)):
            deeper = f"{field}.{name}" if field else str(name)
            yield from _unlike(deeper, told.get(name), own.get(name))
    elif _rows(told) and _rows(own) and len(told) == len(own):
        for place, (one, other) in enumerate(zip(told, own, strict=True), 1):
            yield from _unlike(f"{field}[{place}]", one, other)
    else:
        yield field.removesuffix(".value"), told, own


def _rows(value: Any) -> bool:
    return isinstance(value, Sequence) and not isinstance(value, str)
