"""The panels of signing: with which key, into which folder, behind which record, under whose name."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Final

from textual.app import App

from commission.records.keys import KeyFile, keys_in
from commission.screens.forms import Field
from commission.screens.panels import Choice, ChoicePanel
from commission.screens.record_file import Told
from commission.visit.types import Visit

_WITHOUT: Final = "without"
SIGNER: Final = "technician"


def own_keys(folder: Path, visit: Visit) -> tuple[KeyFile, ...]:
    """Return the keys of technicians in a folder, first those of the visit's own."""
    names = {one.name for one in visit.people if one.role == SIGNER}
    found = [key for key in keys_in(folder) if key.role == SIGNER]
    return tuple(sorted(found, key=lambda key: key.name not in names))


def ask_key(app: App[None], keys: Sequence[KeyFile], then: Callable[[KeyFile | None], None]) -> None:
    """Ask with which key is signed, where there is one, and go on with it; Escape goes back."""
    if not keys:
        then(None)
        return
    choices = [
        Choice(str(at), f"{key.name}, {key.role}\n    {key.fingerprint}") for at, key in enumerate(keys)
    ]
    choices.append(Choice(_WITHOUT, "without a key: by name and digest only, and shown as such"))

    def chosen(answer: str | None) -> None:
        if answer is not None:
            then(None if answer == _WITHOUT else keys[int(answer)])

    app.push_screen(ChoicePanel("Sign with which key?", choices), chosen)


def fields(visit: Visit, folder: Path, key: KeyFile | None, *, name: bool) -> tuple[Field, ...]:
    """Return what is asked for; ``name`` where the visit is signed with it, not only written again."""
    asked = [Field("folder", "folder of the record", str(folder))]
    if visit.kind == "service":
        asked.append(Field("after", "record before this one", hint="the newest of this site in that folder"))
    if key is not None:
        asked.append(Field("passphrase", "passphrase of the key", secret=True))
    if name:
        asked.append(Field("name", "your name confirms"))
    return tuple(asked)


def told(typed: dict[str, str], key: KeyFile | None) -> Told:
    """Return what was typed."""
    return Told(
        folder=typed["folder"],
        key=None if key is None else key.path,
        passphrase=typed.get("passphrase", ""),
        after=typed.get("after", ""),
    )
