"""A region is data alone: no code knows a rule set's name, and an unseen one works from beside the site."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from commission.design.check import checked_sheet
from commission.plant.files import load_plant
from commission.plant.places import data_folder
from tests.each import each

ROOT = Path(__file__).resolve().parents[2]
IDENTS = sorted(path.stem for path in (data_folder("profiles") / "rules").glob("*.toml"))
METRIC = [
    path
    for path in sorted(data_folder("sample_sites").glob("*.toml"))
    if 'rules = "iec-230"' in path.read_text(encoding="utf-8")
]


def _beside(folder: Path, site: Path, ident: str) -> Path:
    """Put a site into a folder of its own with its rule set under an id that the program never saw."""
    text = site.read_text(encoding="utf-8")
    standing = next(old for old in IDENTS if f'rules = "{old}"' in text)
    own = folder / "profiles" / "rules"
    own.mkdir(parents=True)
    table = (data_folder("profiles") / "rules" / f"{standing}.toml").read_text(encoding="utf-8")
    (own / f"{ident}.toml").write_text(table.replace(f'id = "{standing}"', f'id = "{ident}"'), "utf-8")
    file = folder / site.name
    file.write_text(text.replace(f'rules = "{standing}"', f'rules = "{ident}"'), "utf-8")
    return file


def test_there_are_three_regions() -> None:
    assert set(IDENTS) >= {"australia-new-zealand", "iec-230", "north-america"}


HISTORY = ROOT / "commission" / "records" / "migrate.py"
"""Knows which rule sets there were when records had an earlier format, and what these lacked."""
CODE = [path for path in sorted((ROOT / "commission").rglob("*.py")) if path != HISTORY]


@each("path", CODE, ids=map(str, CODE))
def test_no_code_knows_a_rule_set_by_its_name(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    named = [ident for ident in IDENTS if re.search(rf"[\"']{ident}[\"']", text)]
    assert named == []
    assert not re.search(r"rules\.id\s*(==|!=|in\b)", text)


@pytest.mark.parametrize("site", ["quillon-farm", "tarnwold-cabin"])
def test_a_rule_set_of_another_name_beside_the_site_gives_the_same_check(site: str, tmp_path: Path) -> None:
    path = data_folder("sample_sites") / f"{site}.toml"
    known = checked_sheet(load_plant(path).plant)
    own = checked_sheet(load_plant(_beside(tmp_path, path, "house-rules")).plant)
    assert [one.id for one in own.findings] == [one.id for one in known.findings]
    assert [one.text for one in own.findings] == [one.text for one in known.findings]
    assert len(own.settings) == len(known.settings)


@pytest.mark.parametrize("path", METRIC, ids=lambda path: path.stem)
def test_a_plant_of_50_hertz_is_checked_by_the_third_rule_set_too(path: Path, tmp_path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    file = tmp_path / path.name
    file.write_text(text.replace('rules = "iec-230"', 'rules = "australia-new-zealand"'), "utf-8")
    plant = load_plant(file).plant
    assert plant.rules.id == "australia-new-zealand"
    assert checked_sheet(plant).settings
