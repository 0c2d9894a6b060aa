"""What kind of file a file is, so that one named in the place of another is told as what it is."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final, Literal, TypeAlias

from commission.errors import Problem
from commission.plant.explain import problem

Kind: TypeAlias = Literal[
    "site file", "record", "file of readings", "list of known keys", "key", "profile", "empty file"
]
_USE: Final[dict[Kind, str]] = {
    "site file": "'commission check {file}' reads one, 'commission open {file}' begins with it",
    "record": "'commission verify {file}' checks one, 'commission service {file}' goes on from it",
    "file of readings": "'commission judge SITE {file}' reads one",
    "list of known keys": "'commission verify --known {file} RECORD' reads one",
    "key": "'commission countersign RECORD --key {file}' signs with one",
    "profile": "a site file names one by its id",
    "empty file": "",
}
"""What each kind is for."""
_MADE: Final[dict[Kind, str]] = {
    "site file": "'commission new FILE' writes one to be filled in",
    "record": "sign-off and 'commission judge' write one",
    "file of readings": "it holds [[reading]] tables, see the README",
    "list of known keys": "'commission keys --line KEY' prints its lines",
    "key": "'commission keys --new NAME' makes one",
    "profile": "",
    "empty file": "",
}
"""Where each kind comes from."""


def kind_of(data: Mapping[str, Any]) -> Kind | None:
    """Return what a file is by the tables that only its kind has; None where they do not tell."""
    if not data:
        return "empty file"
    signs: dict[Kind, bool] = {
        "record": isinstance(data.get("header"), Mapping) and isinstance(data.get("visit"), Mapping),
        "site file": isinstance(data.get("site"), Mapping),
        "file of readings": isinstance(data.get("reading"), list),
        "list of known keys": isinstance(data.get("key"), list),
        "key": "private" in data and "public" in data,
        "profile": isinstance(data.get("id"), str) and isinstance(data.get("name"), str),
    }
    return next((kind for kind, has in signs.items() if has), None)


def wrong_kind(data: Mapping[str, Any], wanted: Kind, file: str) -> Problem | None:
    """Return that a file is plainly of another kind than is wanted, and what that one is for; None else.

    Parameters
    ----------
    file
        Its name, as the problem tells it.
    """
    found = kind_of(data)
    if found is None or found == wanted:
        return None
    use = _USE[found].format(file=file) or _MADE[wanted]
    article = "an" if found[0] in "aeiou" else "a"
    return problem(file, "file", "", f"this is {article} {found}, and a {wanted} is wanted here", use)
