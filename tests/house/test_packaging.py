"""A wheel has everything that the program needs, and a source archive everything that a wheel is made of."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path

import pytest
from hatchling.builders.sdist import SdistBuilder
from hatchling.builders.wheel import WheelBuilder

ROOT = Path(__file__).resolve().parents[2]


def _built(builder: type[SdistBuilder | WheelBuilder], root: Path, into: Path, version: str) -> Path:
    return Path(next(builder(str(root)).build(directory=str(into), versions=[version])))


def _unpacked(wheel: Path, into: Path) -> Path:
    with zipfile.ZipFile(wheel) as packed:
        packed.extractall(into)
    return into


def _source(archive: Path, into: Path) -> Path:
    with tarfile.open(archive) as packed:
        for member in packed.getmembers():
            content = packed.extractfile(member)
            if content is not None:
                (into / member.name).parent.mkdir(parents=True, exist_ok=True)
                (into / member.name).write_bytes(content.read())
    (made,) = into.iterdir()
    return made


def _files(folder: Path, suffix: str) -> set[str]:
    return {path.relative_to(folder).as_posix() for path in folder.rglob(f"*{suffix}")}


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel of this checkout."""
    return _built(WheelBuilder, ROOT, tmp_path_factory.mktemp("wheel"), "standard")


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the wheel's content, as an installer lays it down."""
    return _unpacked(wheel, tmp_path_factory.mktemp("installed"))


def test_the_wheel_has_every_module_stylesheet_profile_and_sample(installed: Path) -> None:
    """And neither tests nor anything else beside the package."""
    package = installed / "commission"
    assert _files(package, ".py") == _files(ROOT / "commission", ".py")
    assert _files(package, ".tcss") == _files(ROOT / "commission", ".tcss") != set()
    assert _files(package / "_data" / "profiles", ".toml") == _files(ROOT / "profiles", ".toml")
    assert _files(package / "_data" / "sample_sites", ".toml") == _files(ROOT / "sample_sites", ".toml")
    assert {path.name.partition("-")[0] for path in installed.iterdir()} == {"commission"}


def _run(installed: Path, here: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    told = os.environ | {"PYTHONPATH": str(installed), "PYTHONIOENCODING": "utf-8"}
    return subprocess.run(
        [sys.executable, "-m", "commission", *arguments],
        cwd=here, env=told, capture_output=True, encoding="utf-8", check=False,
    )  # fmt: skip


def test_what_was_installed_works_far_from_the_checkout(installed: Path, tmp_path: Path) -> None:
    """Samples, template, profiles and checklists are found inside the package."""
    sites = _run(installed, tmp_path, "sites", "--json")
    files = [Path(row["file"]) for row in json.loads(sites.stdout)]
    assert len(files) == len(list((ROOT / "sample_sites").glob("*.toml")))
    assert all(file.is_relative_to(installed) for file in files)
    assert _run(installed, tmp_path, "sheet", "tarnwold-cabin").returncode == 0
    assert _run(installed, tmp_path, "checklist", "tarnwold-cabin").returncode == 0
    assert _run(installed, tmp_path, "new", "raven-hut").returncode == 0
    assert _run(installed, tmp_path, "check", "raven-hut.toml").returncode == 1


def _packed(wheel: Path) -> set[str]:
    with zipfile.ZipFile(wheel) as packed:
        return set(packed.namelist())


def test_the_source_archive_makes_the_same_wheel(wheel: Path, tmp_path: Path) -> None:
    """So that whoever builds from it gets the same program."""
    archive = _built(SdistBuilder, ROOT, tmp_path / "made", "standard")
    source = _source(archive, tmp_path / "source")
    assert _packed(_built(WheelBuilder, source, tmp_path / "again", "standard")) == _packed(wheel)
