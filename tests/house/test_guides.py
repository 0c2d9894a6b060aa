"""What README and DEVELOPERS say is so: commands run, examples load, paths exist."""

from __future__ import annotations

import re
import shlex
import shutil
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

from commission.checklist.registry import EXPECTATIONS, PREDICATES, SELECTORS, SERIES, load_words
from commission.cli import main

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
BLOCK = re.compile(r"^```(\w+)\n(.*?)^```$", re.DOTALL | re.MULTILINE)
PATH = re.compile(
    r"`((?:commission|tests|profiles|sample_sites|\.ci|\.pictures)/[^`\s*<>…]*|[\w./-]+\.(?:py|toml|md))`"
)


def _blocks(text: str, kind: str) -> list[str]:
    return [body for found, body in BLOCK.findall(text) if found == kind]


def _examples() -> Iterator[str]:
    """Yield the command lines of the README that need no terminal, without their comments."""
    for block in _blocks(README, "sh"):
        for line in block.splitlines():
            words = shlex.split(line, comments=True)
            if words[:1] == ["commission"] and len(words) > 1 and "open" not in words:
                yield shlex.join(words[1:])


EXAMPLES = list(dict.fromkeys(_examples()))
TOML = _blocks(README, "toml")


def test_every_example_of_the_command_line_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """In the order in which they stand, since one writes what the next reads; none ends in bad input."""
    shutil.copytree(ROOT / "sample_sites", tmp_path / "sample_sites")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COMMISSION_INDEX", str(tmp_path / "index"))
    for line in EXAMPLES:
        code = main(shlex.split(line))
        said = capsys.readouterr()
        assert (code in {0, 1}, bool(said.out), said.err) == (True, True, ""), line


def test_every_command_has_an_example(capsys: pytest.CaptureFixture[str]) -> None:
    """And those that need a terminal, or a record that somebody signed, are there too."""
    with pytest.raises(SystemExit):
        main(["--help"])
    listed = re.findall(r"^    (\w+) {2,}", capsys.readouterr().out, re.MULTILINE)
    assert len(listed) >= 9
    apart = {
        "open": "open fennick-homestead",
        "countersign": "countersign REC",
        "return": "return REC",
        "compare": "compare A B",
        "service": "service raven-hut.toml",
        "handover": "handover REC",
    }
    shown = {shlex.split(line)[0] for line in EXAMPLES} | set(apart)
    assert set(listed) <= shown
    assert all(f"commission {example}" in README for example in apart.values())


def test_the_test_command_is_what_the_machines_run() -> None:
    """The same commands in the same order; the machines' linters begin between setting up and the tests."""
    (line,) = [
        line for block in _blocks(README, "sh") for line in block.splitlines() if line.endswith("-m pytest")
    ]
    whole = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    setting_up, tests = line.rsplit(" && ", 1)
    assert whole.count(f"{setting_up} ||") == 1
    assert f'"$ready" && {tests} ||' in whole.partition(setting_up)[2]


def test_both_commands_stand_at_the_top_of_the_readme() -> None:
    """A newcomer reads no further before they have seen it work."""
    first, second = _blocks(README, "sh")[:2]
    assert len(first.splitlines()) == len(second.splitlines()) == 1
    assert "commission open" in first
    assert README.index(second) < README.index("## ")


def test_the_site_of_the_readme_loads(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """It says that something is not known, and nothing is mistyped in it."""
    (text,) = [block for block in TOML if "[site]" in block]
    site = tmp_path / "raven-hut.toml"
    site.write_text(text, encoding="utf-8")
    assert main(["check", str(site)]) == 1
    said = capsys.readouterr()
    assert said.err == ""
    assert "not checked" in said.out
    assert main(["sheet", str(site)]) == 1


def test_the_readings_of_the_readme_are_judged(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Every reading in it is one that the sample cabin has."""
    (text,) = [block for block in TOML if "[[reading]]" in block]
    readings = tmp_path / "readings.toml"
    readings.write_text(text, encoding="utf-8")
    assert main(["judge", "tarnwold-cabin", str(readings), "--record", str(tmp_path / "records")]) in {0, 1}
    assert len(list((tmp_path / "records").iterdir())) == 1
    assert capsys.readouterr().err == ""


def test_the_checklist_of_the_readme_adds_its_step(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Beside the site file, named in it, once for each inverter of a plant with a generator."""
    (text,) = [block for block in TOML if "[[steps]]" in block]
    folder = tmp_path / "profiles" / "checklists"
    folder.mkdir(parents=True)
    (folder / f"{tomllib.loads(text)['id']}.toml").write_text(text, encoding="utf-8")
    (site_text,) = [block for block in TOML if "[site]" in block]
    site = tmp_path / "raven-hut.toml"
    site.write_text(
        site_text.replace("format = 1", 'format = 1\nchecklists = ["house-checks"]', 1), encoding="utf-8"
    )
    assert main(["checklist", str(site)]) == 1
    said = capsys.readouterr()
    assert said.err == ""
    assert said.out.count("Spare fuse for ") == 1


@pytest.mark.parametrize("text", [README, DEVELOPERS], ids=["README", "DEVELOPERS"])
def test_every_path_in_the_guides_is_there(text: str) -> None:
    """A guide that points to nothing is worse than none."""
    linked = {found for found in re.findall(r"\]\(([^)#:]+)\)", text) if "//" not in found}
    named = {found for found in PATH.findall(text) if "SITE" not in found and not found.startswith("house")}
    own = {"raven-hut.toml"}
    missing = [found for found in linked | (named - own) if not _there(found)]
    assert missing == []


def _there(named: str) -> bool:
    return (ROOT / named).exists() or bool(list((ROOT / "commission").rglob(Path(named).name)))


def test_the_guide_names_every_file_in_which_words_of_checklists_are_registered() -> None:
    """Selectors, predicates, series; of the many files of expectations it names the folder."""
    load_words()
    modules = {entry.call.__module__ for words in (SELECTORS, PREDICATES, SERIES) for entry in words}
    for module in modules:
        assert f"{module.replace('.', '/')}.py" in DEVELOPERS
    judged = {entry.call.__module__ for entry in EXPECTATIONS}
    assert any(module.startswith("commission.checklist.expectations.") for module in judged)
    assert "commission/checklist/expectations/" in DEVELOPERS
