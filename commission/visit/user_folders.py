"""Where each system keeps what belongs to one user: what must not be lost, and what can be made anew."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Final, Literal

_MAC: Final = {"data": "Application Support", "cache": "Caches"}
_LINUX: Final = {"data": ("XDG_DATA_HOME", ".local/share"), "cache": ("XDG_CACHE_HOME", ".cache")}


def user_folder(
    kind: Literal["data", "cache"], environment: Mapping[str, str], platform: str, home: Path
) -> Path:
    """Return the program's folder among those of the user.

    Parameters
    ----------
    kind
        ``data`` must not be lost, ``cache`` can be made anew.
    environment
        Environment variables.
    platform
        ``sys.platform``.
    home
        The user's home folder.
    """
    if platform == "win32":
        return Path(environment.get("LOCALAPPDATA") or home / "AppData" / "Local") / "commission"
    if platform == "darwin":
        return home / "Library" / _MAC[kind] / "commission"
    name, usual = _LINUX[kind]
    told = environment.get(name, "")
    return (Path(told) if told.startswith("/") else home / usual) / "commission"
