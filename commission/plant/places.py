"""Where the program's own data and its sample sites stand; no file is opened here."""

from __future__ import annotations

from functools import cache
from pathlib import Path


@cache
def data_folder(name: str) -> Path:
    """Return the folder of the program's own data: ``profiles`` or ``sample_sites``.

    A checkout has it beside the package, an installed wheel inside.
    """
    package = Path(__file__).resolve().parent.parent
    inside = package / "_data" / name
    return inside if inside.is_dir() else package.parent / name


@cache
def sample_sites() -> tuple[Path, ...]:
    """Return the sample sites that come with the program, by name."""
    return tuple(sorted(data_folder("sample_sites").glob("*.toml")))


def site_path(named: Path) -> Path:
    """Return the file that a person means: the path itself, else the sample site of that name."""
    if named.exists() or named.parent != Path():
        return named
    return next((sample for sample in sample_sites() if sample.stem == named.stem), named)
