"""What the tests of this folder share: the content of a sample site, and what is wrong with a changed one."""

from __future__ import annotations

import copy
import functools
from pathlib import Path
from typing import Any

from commission.errors import Problem, SiteError
from commission.plant.files import plant_of
from commission.plant.places import data_folder
from commission.plant.toml import read_toml

NOWHERE = Path("no-such-folder") / "site.toml"
SAMPLES = sorted(data_folder("sample_sites").glob("*.toml"))


@functools.cache
def _content(name: str) -> dict[str, Any]:
    return read_toml(data_folder("sample_sites") / f"{name}.toml")


def content(name: str = "fennick-homestead") -> dict[str, Any]:
    """Return the content of a sample site, free to be changed."""
    return copy.deepcopy(_content(name))


def problems(data: dict[str, Any]) -> list[Problem]:
    """Return what is wrong with a site; none where it loads."""
    try:
        plant_of(data, NOWHERE)
    except SiteError as error:
        return list(error.problems)
    return []


def the_problem(data: dict[str, Any]) -> Problem:
    """Return the one thing that is wrong with a site."""
    found = problems(data)
    assert len(found) == 1, [str(problem) for problem in found]
    return found[0]


def warnings(data: dict[str, Any]) -> list[Problem]:
    """Return what is odd about a site that loads."""
    return list(plant_of(data, NOWHERE).warnings)
