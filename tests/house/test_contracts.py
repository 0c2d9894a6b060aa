"""The house keeps its one-way rule, and the linter notices when it is broken."""

from __future__ import annotations

import ast
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "commission"
LINTER = shutil.which("lint-imports", path=str(Path(sys.executable).parent))
BREACHES = {
    "a formula that knows the plant": ("formulas/ohm.py", "import commission.plant.plant"),
    "a plant that knows a formula": ("plant/ohm.py", "import commission.formulas.bank"),
    "a sheet that knows the walk": ("sheet/ohm.py", "import commission.checklist.types"),
    "a walk that knows the visit": ("checklist/ohm.py", "import commission.visit.types"),
    "a visit that knows its record": ("visit/ohm.py", "import commission.records.types"),
    "a record that knows the text": ("records/ohm.py", "import commission.plain"),
    "a room that knows the screens": ("handover/ohm.py", "import commission.screens.theme"),
    "a screen that knows the command line": ("screens/ohm.py", "import commission.cli"),
    "a late import of it, too": ("sheet/ohm.py", "def late():\n    import commission.visit.types"),
    "a room that knows the terminal": ("visit/ohm.py", "import textual.app"),
    "a room that knows rich": ("sheet/ohm.py", "from rich.text import Text"),
    "a formula that opens files": ("formulas/ohm.py", "from pathlib import Path"),
    "a formula with models": ("formulas/ohm.py", "import pydantic"),
    "a walk that reads TOML": ("checklist/ohm.py", "import tomllib"),
    "a screen that writes TOML": ("screens/ohm.py", "import tomli_w"),
    "a screen with an equation": ("screens/ohm.py", "from commission.formulas.bank import bank_voltage"),
    "a room without a place": ("attic/__init__.py", '"""No place in the order."""'),
}


@pytest.fixture(scope="module")
def copy(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the package that may be broken."""
    folder = tmp_path_factory.mktemp("house")
    shutil.copytree(PACKAGE, folder / "commission", ignore=shutil.ignore_patterns("__pycache__", "_data"))
    shutil.copy(ROOT / "pyproject.toml", folder)
    return folder


def _linted(folder: Path) -> subprocess.CompletedProcess[str]:
    assert LINTER is not None
    told = os.environ | {"PYTHONPATH": str(folder), "PYTHONIOENCODING": "utf-8"}
    return subprocess.run(
        [LINTER, "--no-cache"], cwd=folder, env=told, capture_output=True, encoding="utf-8", check=False
    )


def test_the_house_as_it_stands_keeps_every_contract(copy: Path) -> None:
    """Else the breaches below would prove nothing."""
    done = _linted(copy)
    assert done.returncode == 0, done.stdout
    assert "0 broken" in done.stdout


@pytest.mark.parametrize(("where", "line"), BREACHES.values(), ids=BREACHES)
def test_a_breach_is_noticed(copy: Path, where: str, line: str) -> None:
    """One module with one wrong import in it."""
    path = copy / "commission" / where
    made = not path.parent.exists()
    path.parent.mkdir(exist_ok=True)
    path.write_text(f"{line}\n", encoding="utf-8")
    try:
        done = _linted(copy)
    finally:
        shutil.rmtree(path.parent) if made else path.unlink()
    assert done.returncode == 1, done.stdout
    assert "BROKEN" in done.stdout


def _modules() -> Iterator[Path]:
    return (path for path in PACKAGE.rglob("*.py") if "_data" not in path.parts)


def test_only_the_command_line_prints() -> None:
    """A room returns what it has to say."""
    calls = {
        path.relative_to(PACKAGE).as_posix()
        for path in _modules()
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "print"
    }
    assert calls == {"cli.py"}


@pytest.mark.parametrize(
    "room", sorted(path.name for path in PACKAGE.iterdir() if (path / "__init__.py").is_file())
)
def test_a_room_says_what_it_is_and_imports_nothing_by_it(room: str) -> None:
    """Its docstring, and no more than names for typing and functions that import late."""
    tree = ast.parse((PACKAGE / room / "__init__.py").read_text(encoding="utf-8"))
    assert ast.get_docstring(tree)
    imported = [node for node in tree.body if isinstance(node, ast.Import | ast.ImportFrom)]
    names = {alias.name for node in imported if isinstance(node, ast.Import) for alias in node.names}
    names |= {node.module or "" for node in imported if isinstance(node, ast.ImportFrom)}
    assert names <= {"__future__", "importlib", "pkgutil", "functools", "typing", "collections.abc"}


def test_every_module_says_what_it_is() -> None:
    """The map of the rooms is read from these lines."""
    silent = [
        path.relative_to(PACKAGE).as_posix()
        for path in _modules()
        if not ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))
    ]
    assert silent == []
