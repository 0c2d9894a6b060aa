"""Attaching a photograph or a log to the step in work, and taking one off again."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Final
from urllib.parse import unquote, urlsplit
from urllib.request import url2pathname

from commission.checklist.types import Step
from commission.errors import EntryError
from commission.screens.forms import Field, FormPanel
from commission.screens.own_app import app_of
from commission.screens.panels import Choice, ChoicePanel, LinePanel
from commission.screens.walk_moves import WalkMoves
from commission.visit.attachments import LARGEST
from commission.visit.types import Attachment

_NEW: Final = "new"
_WHAT: Final = (
    f"A photograph, a log, a page: up to {LARGEST // 1_000_000} MB. A copy is kept with the visit and lies "
    "beside its record. Type the path, or drop the file onto the terminal."
)


class Attach(WalkMoves):
    """The key that attaches."""

    def action_attach(self) -> None:
        """Attach a file to the step in work, or choose one that is attached already to take it off."""
        step = self._step
        if step is None:
            return
        attached = self.visit.attached_to(step.key)
        if not attached:
            self._ask_file(step)
            return
        choices = [
            Choice(_NEW, "attach another file"),
            *(Choice(str(at), f"take off   {attached_text(one)}") for at, one in enumerate(attached)),
        ]

        def chosen(key: str | None) -> None:
            if key == _NEW:
                self._ask_file(step)
            elif key is not None:
                self._ask_off(attached[int(key)])

        title = f"Attached to: {step.title}"
        self.app.push_screen(ChoicePanel(title, choices), chosen)

    def _ask_file(self, step: Step) -> None:
        def keep(typed: dict[str, str]) -> None:
            path = path_typed(typed["path"])
            self.visit.attach(step.key, path, typed["caption"], app_of(self).now())

        fields = (Field("path", "file"), Field("caption", "what it shows"))
        panel = FormPanel(f"Attach to: {step.title}", _WHAT, fields, keep)
        self.app.push_screen(panel, self._after_attaching)

    def _ask_off(self, attachment: Attachment) -> None:
        def keep(reason: str) -> None:
            self.visit.take_off(attachment, reason, app_of(self).now())

        panel = LinePanel(f"Take off: {attachment.name}", "Why? The record says so.", keep=keep)
        self.app.push_screen(panel, self._after_attaching)

    def _after_attaching(self, answer: str | None) -> None:
        if answer:
            self._paint()


def attached_text(one: Attachment) -> str:
    """Return an attached file in a line."""
    size = f"{one.size / 1e6:.1f} MB" if one.size >= 100_000 else f"{one.size / 1e3:.1f} kB"
    return f"{one.name}, {size}{f': {one.caption}' if one.caption else ''}"


def path_typed(typed: str) -> Path:
    """Return the path that was typed, or that a terminal types for a file that is dropped onto it.

    Raises
    ------
    EntryError
        If nothing was typed.
    """
    text = typed.strip()
    if len(text) > 1 and text[0] == text[-1] and text[0] in "\"'":
        text = text[1:-1]
    if not text:
        raise EntryError("which file? its path is wanted")
    if text.startswith("file://"):
        text = url2pathname(urlsplit(text).path) if os.name == "nt" else unquote(urlsplit(text).path)
    path = _expanded(text)
    if "\\" in text and os.name != "nt" and not path.exists():
        path = _expanded(text.replace("\\", ""))  # a shell's way to write a blank
    return path


def _expanded(text: str) -> Path:
    try:
        return Path(text).expanduser()
    except RuntimeError:  # a home folder that nobody has
        return Path(text)
