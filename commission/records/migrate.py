"""Records of earlier formats: brought to the newest one step by step, for ever.

A step is a function from the content of one format to that of the next. It never asks what the program's
profiles say today: what an earlier format did not hold stands in ``past/`` and stays as it is. A sample of
every format is kept with the tests.

Format 2 brought seals that say what they mean and carry the digest of the data; the numbers of a rule set for
PV, conductors, fault level, panels and the battery room; of a visit its checklists and walk, changes of its
plant and earlier settings.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any, Final

from commission.plant.formats import Formats
from commission.plant.toml import guarded

_PAST: Final = Path(__file__).with_name("past")
_NOT_HELD: Final = {
    "value": "unknown",
    "known": "common practice",
    "source": "not held by records of format 1",
}


def _from_1(data: Mapping[str, Any]) -> dict[str, Any]:
    """Add what the check of the whole design asks of battery and rule set."""
    plant = data.get("plant")
    if not isinstance(plant, Mapping):
        return dict(data)
    battery, rules = plant.get("battery"), plant.get("rules")
    made = dict(plant)
    if isinstance(battery, Mapping):
        made["battery"] = {"strings_max": _NOT_HELD} | dict(battery)
    if isinstance(rules, Mapping):
        made["rules"] = _numbers_of_2(rules) | dict(rules)
    return dict(data) | {"plant": made}


def _numbers_of_2(rules: Mapping[str, Any]) -> dict[str, Any]:
    """Return the numbers that format 2 brought, of the rule set itself, else of the one nearest to it."""
    known = _past(2)["rules"]
    near = "north-america" if rules.get("split_phase") is True else "iec-230"
    found: dict[str, Any] = known.get(str(rules.get("id")), known[near])
    return found


@cache
def _past(format_: int) -> dict[str, Any]:
    """Return what records before a format do not hold."""
    return guarded((_PAST / f"format-{format_}.toml").read_bytes())


RECORDS: Final = Formats(newest=2, steps={1: _from_1})
