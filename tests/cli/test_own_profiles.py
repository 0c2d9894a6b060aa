"""A firm's own profiles beside the site file go before those of the program."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from commission.plant.places import data_folder

Command = Callable[..., Any]


def _site(folder: Path, old: str, new: str) -> Path:
    text = (data_folder("sample_sites") / "tarnwold-cabin.toml").read_text(encoding="utf-8")
    assert old in text
    path = folder / "site.toml"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    return path


def _profile(folder: Path, kind: str, of: str, ident: str, old: str, new: str) -> None:
    text = (data_folder("profiles") / kind / f"{of}.toml").read_text(encoding="utf-8")
    assert old in text
    into = folder / "profiles" / kind
    into.mkdir(parents=True)
    made = text.replace(f'id = "{of}"', f'id = "{ident}"', 1).replace(old, new, 1)
    (into / f"{ident}.toml").write_text(made, encoding="utf-8")


def _float(commission: Command, site: Path) -> float:
    rows = commission("sheet", site, "--json").data
    (found,) = [row for row in rows if (row["device"], row["setting"]) == ("inverter-1", "float_voltage")]
    value: float = found["recommended"]
    return value


@pytest.mark.parametrize(
    "ident", ["house-flooded", "flooded"], ids=["of its own", "in place of the usual one"]
)
def test_a_battery_profile_beside_the_site_counts(commission: Command, tmp_path: Path, ident: str) -> None:
    """2.20 V in place of 2.25 V per cell: 6 × 2.20 V are 13.2 V."""
    old = "float_voltage = { value = 2.25"
    _profile(tmp_path, "batteries", "flooded", ident, old, old.replace("2.25", "2.20"))
    site = _site(tmp_path, 'profile = "flooded"', f'profile = "{ident}"')
    assert _float(commission, site) == 13.2


def test_an_equipment_profile_beside_the_site_counts(commission: Command, tmp_path: Path) -> None:
    """A device that takes whole volts only is set to 13 V where 13.5 V would be right."""
    of, ident = "inverter-12v-120-2000", "house-inverter"
    text = (data_folder("profiles") / "equipment" / f"{of}.toml").read_text(encoding="utf-8")
    (line,) = [line for line in text.splitlines() if line.startswith("float_voltage = ")]
    whole = 'float_voltage = { unit = "V", low = 12.0, high = 16.0, step = 1.0 }'
    _profile(tmp_path, "equipment", of, ident, line, whole)
    assert _float(commission, _site(tmp_path, f'profile = "{of}"', f'profile = "{ident}"')) == 13.0


def test_a_mistyped_profile_is_answered_with_the_firm_s_own(commission: Command, tmp_path: Path) -> None:
    """The nearest name, wherever it stands."""
    _profile(tmp_path, "batteries", "flooded", "house-flooded", "vented = true", "vented = true")
    said = commission("sheet", _site(tmp_path, 'profile = "flooded"', 'profile = "house-floodet"'))
    assert said.code == 2
    assert "did you mean house-flooded?" in said.err


def test_an_own_checklist_that_says_a_word_nobody_knows_is_explained(
    commission: Command, tmp_path: Path
) -> None:
    """File, step, key, and the nearest word."""
    folder = tmp_path / "profiles" / "checklists"
    folder.mkdir(parents=True)
    (folder / "house.toml").write_text(
        'format = 1\nid = "house"\nname = "House"\n[[steps]]\nid = "own"\nstage = 18\neach = "invertr"\n'
        'title = "T"\ndo = "D"\nwhy = "W"\nsource = "S"\nreadings = [{ prompt = "p", kind = "yes or no" }]\n',
        encoding="utf-8",
    )
    site = _site(tmp_path, "format = 1", 'format = 1\nchecklists = ["house"]')
    said = commission("checklist", site)
    assert said.code == 2
    assert "house.toml: steps[own].each = 'invertr'" in said.err
    assert "did you mean 'inverter'?" in said.err
