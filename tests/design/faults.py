"""The catalogue of seeded design faults: a small change to a sound sample, and what the check must say."""

from __future__ import annotations

import tomllib
from collections.abc import Container
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from commission.design.check import checked_sheet
from commission.plant.change import Change, changed_data
from commission.plant.files import plant_of
from commission.plant.places import data_folder
from commission.sheet.types import Finding

CATALOGUE = Path(__file__).parent / "catalogue"


@dataclass(frozen=True, eq=False)
class Fault:
    """One seeded fault."""

    name: str
    site: str
    changes: tuple[Change, ...]
    raises: frozenset[tuple[str, str]]
    """Kind and id of every finding that is new: ``("stop", "cold-voltage:controller-1")``."""


def catalogue() -> list[Fault]:
    """Return every fault of the catalogue, file by file."""
    found = []
    for path in sorted(CATALOGUE.glob("*.toml")):
        for row in tomllib.loads(path.read_text())["fault"]:
            changes = tuple(
                Change(key, None if value == "" else value) for key, value in row["change"].items()
            )
            raises = frozenset(_parted(entry) for entry in row["raises"])
            found.append(Fault(f"{path.stem}: {row['name']}", row["site"], changes, raises))
    return found


def _parted(entry: str) -> tuple[str, str]:
    """Return an entry as kind and id; 'not checked' becomes one word."""
    word, ident = entry.replace("not checked ", "not-checked ").split(" ", 1)
    return word, ident


@cache
def data_of(site: str) -> dict[str, Any]:
    """Return the content of a sample site."""
    return tomllib.loads((data_folder("sample_sites") / f"{site}.toml").read_text())


def findings_of(data: dict[str, Any], site: str, wanted: Container[str] | None = None) -> dict[str, Finding]:
    """Return the findings of the content of a site file, by id; remedies only of those wanted."""
    plant = plant_of(data, data_folder("sample_sites") / f"{site}.toml").plant
    return {finding.id: finding for finding in checked_sheet(plant, wanted).findings}


@cache
def faulty(fault: Fault) -> dict[str, Finding]:
    """Return the findings of a sample with a fault, with the remedies of those that the fault raises."""
    data = changed_data(data_of(fault.site), fault.changes)
    return findings_of(data, fault.site, {ident for _, ident in fault.raises})


@cache
def sound(site: str) -> dict[str, Finding]:
    """Return the findings of a sample as it stands."""
    return findings_of(data_of(site), site, ())


def kind(finding: Finding) -> str:
    """Return the kind as one word."""
    return finding.kind.replace(" ", "-")
