"""The rule set and the profiles inside a record are held against the program's own; no name excuses them."""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from commission import __version__
from commission.cli import main
from commission.plant.files import load_plant
from commission.plant.places import data_folder, sample_sites
from commission.plant.shipped import shipped
from commission.records.canonical import DIGEST
from commission.records.keys import known_text, make_key, open_key, read_key
from commission.records.profiles import carried
from commission.records.read import read_record, toml_of
from commission.records.seals import sealed
from commission.records.tables import toml_text
from commission.records.write import write_record
from commission.visit.digest import canonical_json
from commission.visit.recompute import same
from tests.records.sample import SHEET, signed
from tests.visit.walks import NOON, small_plant

SITE = data_folder("sample_sites") / "tarnwold-cabin.toml"
READINGS = data_folder("sample_sites") / "readings" / "tarnwold-cabin.toml"
PHRASE = "seven grey geese over the fell"
Change = Callable[[dict[str, Any]], None]


def judged(site: Path, folder: Path) -> Path:
    """Return the record of readings that were judged."""
    main(["judge", str(site), str(READINGS), "--record", str(folder)])
    (path,) = folder.glob("*.toml")
    return path


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return judged(SITE, tmp_path_factory.mktemp("judged"))


def forged(record: Path, folder: Path, *changes: Change) -> Path:
    """Return a record whose data were changed and whose digests were all worked out anew."""
    data = toml_of(record.read_bytes())
    del data["seal"]
    for change in changes:
        change(data)
    data["header"]["plant_digest"] = DIGEST + hashlib.sha256(canonical_json(data["plant"])).hexdigest()
    above = toml_text(data).encode()
    path = folder / "forged.toml"
    path.write_bytes(sealed(above, toml_of(above), says="judged"))
    return path


def milder_rule(data: dict[str, Any]) -> None:
    data["plant"]["rules"]["continuous_factor"]["value"] = 1.05


def stronger_device(data: dict[str, Any]) -> None:
    data["plant"]["equipment"]["inverter-1"]["charger_current"] += 5.0


def softer_battery(data: dict[str, Any]) -> None:
    data["plant"]["battery"]["absorption_voltage"]["high"] = 2.6


def other_version(data: dict[str, Any]) -> None:
    data["header"]["program"] = data["visit"]["program"] = "0.0.1"


def other_walk(data: dict[str, Any]) -> None:
    data["visit"]["walk"] = "0" * 64


@pytest.mark.parametrize("site", sample_sites(), ids=lambda path: path.stem)
def test_a_plant_as_it_was_loaded_carries_the_programs_own_profiles(site: Path) -> None:
    plant = load_plant(site).plant
    assert plant.brought is None
    for one in shipped(plant):
        assert one.told is not None, one.place
        assert one.own is not None, one.place
        assert same(one.told.model_dump(), one.own.model_dump()), one.place


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (milder_rule, "rule set north-america: continuous_factor is 1.05 in the record and 1.25 in the"),
        (stronger_device, "profile inverter-12v-120-2000 of inverter-1: charger_current is"),
        (softer_battery, "profile flooded of bank: absorption_voltage.high is 2.6 in the record and"),
    ],
)  # fmt: skip
def test_a_changed_rule_or_profile_is_named(record: Path, tmp_path: Path, change: Change, says: str) -> None:
    """1.25 is the continuous factor of NEC 690.8(B), as the program's own rule set has it."""
    found = carried(read_record(forged(record, tmp_path, change)))
    assert [str(one)[: len(says)] for one in found.differences] == [says]
    assert (found.own, found.in_the_way) == ((), ())


def test_a_changed_rule_is_false_under_the_programs_own_version(
    record: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = forged(record, tmp_path, milder_rule)
    capsys.readouterr()
    assert main(["verify", str(path), "--json"]) == 1
    (told,) = json.loads(capsys.readouterr().out)
    assert (told["state"], told["verdict"]) == ("intact", "false")
    assert any("continuous_factor is 1.05" in text for text in told["recomputed"]["differences"])


def test_another_version_in_a_record_leaves_it_unconfirmed_and_says_what_that_is_worth(
    record: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = forged(record, tmp_path, milder_rule, other_version, other_walk)
    capsys.readouterr()
    assert main(["verify", str(path)]) == 3
    told = capsys.readouterr().out
    assert f"it was made by version 0.0.1, this is version {__version__}" in told
    assert "NOT CONFIRMED: " in told
    assert "sealed without a key, so anybody may have written its numbers and the version in it" in told


def test_another_version_does_not_excuse_a_record_that_disagrees_with_itself(
    record: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def later_than_entered(data: dict[str, Any]) -> None:
        data["reading"][0]["measured_at"] += timedelta(days=36500)

    path = forged(record, tmp_path, other_version, later_than_entered)
    capsys.readouterr()
    assert main(["verify", str(path)]) == 1
    assert "no other version or format explains all of them" in capsys.readouterr().out


def test_another_walk_than_follows_from_the_plant_is_false(record: Path, tmp_path: Path) -> None:
    assert main(["verify", str(forged(record, tmp_path, other_walk))]) == 1


def house_site(folder: Path, ident: str) -> Path:
    """Return a site with a battery profile of its own beside it, 2.20 V float in place of 2.25 V."""
    text = (data_folder("profiles") / "batteries" / "flooded.toml").read_text(encoding="utf-8")
    into = folder / "profiles" / "batteries"
    into.mkdir(parents=True)
    text = text.replace('id = "flooded"', f'id = "{ident}"', 1)
    text = text.replace("float_voltage = { value = 2.25", "float_voltage = { value = 2.20", 1)
    (into / f"{ident}.toml").write_text(text, encoding="utf-8")
    site = SITE.read_text(encoding="utf-8").replace('profile = "flooded"', f'profile = "{ident}"', 1)
    (folder / SITE.name).write_text(site, encoding="utf-8")
    return folder / SITE.name


def test_a_profile_of_the_sites_own_is_told_and_believed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = judged(house_site(tmp_path, "house-flooded"), tmp_path / "records")
    assert read_record(path).plant.brought == ("batteries/house-flooded",)
    capsys.readouterr()
    assert main(["verify", str(path)]) == 0
    told = "believed as it stands: profile house-flooded of bank: not one of this program's"
    assert told in capsys.readouterr().out


@pytest.mark.parametrize("how", ["brought along", "forged as brought along"])
def test_a_profile_of_the_sites_own_under_a_name_of_the_programs_is_not_confirmed(
    record: Path, tmp_path: Path, how: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """What it says otherwise is told, since the name promises the program's own."""

    def as_if_brought(data: dict[str, Any]) -> None:
        data["plant"]["brought"] = ["rules/north-america"]

    if how == "brought along":
        path, field = (
            judged(house_site(tmp_path, "flooded"), tmp_path / "records"),
            "float voltage 2.2 in the record, 2.25",
        )
        found = carried(read_record(path))
        assert main(["verify", str(path)]) == 3
        assert "NOT CONFIRMED: numbers of the site's own" in capsys.readouterr().out
    else:
        path = forged(record, tmp_path, milder_rule, as_if_brought)
        found, field = carried(read_record(path)), "continuous factor 1.05 in the record, 1.25"
    assert found.differences == ()
    assert field in found.in_the_way[0]


def test_a_seal_that_is_not_of_the_named_list_has_an_exit_code_of_its_own(tmp_path: Path) -> None:
    """A list that is named asks a key of every seal; the usual one a key of those who have one there."""
    made = {
        name: make_key(tmp_path, name, "technician", PHRASE, now=NOON, random=os.urandom).path
        for name in ("Runa Feld", "Ove Starn")
    }
    visit = signed(tmp_path / "visits")
    keys = tmp_path / "keys"
    keys.mkdir()
    lists = {}
    for name, path in made.items():
        lists[name] = tmp_path / f"{path.stem}-known.toml"
        lists[name].write_text("format = 1\n" + known_text((read_key(path),)), encoding="utf-8")

    def codes(record: Path) -> list[int]:
        words = ["--visits", str(tmp_path / "visits"), "verify", str(record), "--seals-only"]
        none = main(words)
        named = [main([*words, "--known", str(lists[name])]) for name in made]
        (keys / "known.toml").write_bytes(lists["Ove Starn"].read_bytes())
        return [none, *named, main(words)]

    key = open_key(made["Runa Feld"], PHRASE)
    with_key = write_record(tmp_path / "a", visit, small_plant(), SHEET, key=key)
    assert codes(with_key) == [0, 0, 4, 4]
    (keys / "known.toml").unlink()
    assert codes(write_record(tmp_path / "b", visit, small_plant(), SHEET)) == [0, 4, 4, 0]


def test_a_judged_record_of_a_walk_with_checklists_of_the_sites_own_is_worked_out_by_them(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "profiles" / "checklists"
    folder.mkdir(parents=True)
    (folder / "house-checks.toml").write_text(
        'format = 1\nid = "house-checks"\nname = "Checks of the house"\n[[steps]]\nid = "house-spares"\n'
        'stage = 18\neach = "inverter"\ntitle = "Spares for {part}"\ndo = "Count."\nwhy = "Far shop."\n'
        'readings = [{ name = "count", prompt = "fuses", unit = "1", instrument = "eye" }]\n'
        'source = "house rule"\n',
        encoding="utf-8",
    )
    site = tmp_path / SITE.name
    site.write_text('checklists = ["house-checks"]\n' + SITE.read_text(encoding="utf-8"), encoding="utf-8")
    path = judged(site, tmp_path / "records")
    capsys.readouterr()
    assert main(["verify", str(path)]) == 0
    assert (
        "believed as it stands: checklist house-checks: brought along by the site" in capsys.readouterr().out
    )
