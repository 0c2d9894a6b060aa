"""When the disk does not take an entry: what was typed stays, and the visit can go on in another folder."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.content import Content
from textual.widgets import Input, Static

from commission.errors import CommissionError
from commission.screens.panels import Panel

_HOME = "commission-visits"

_WHAT = (
    "What you typed is still here, and all that was kept before is safe. Make room, put the stick back or "
    "unlock it, then try again; or go on in a folder on another disk or stick, into which the whole visit is "
    "written first. The old folder is left as it is."
)


def other_place(root: Path, usual: Path, home: Path) -> Path:
    """Return a folder to offer, on another disk than a root where one of the usual places is."""
    places = [place for place in (usual, home / _HOME, Path.cwd() / _HOME) if place != root]
    own = _disk_of(root)
    return next((place for place in places if _disk_of(place) not in {own, None}), places[0])


def _disk_of(folder: Path) -> int | None:
    """Return the disk that a folder is on, or would be on once it is made."""
    for at in (folder, *folder.parents):
        with suppress(OSError):
            return at.stat().st_dev
    return None


class FaultPanel(Panel):
    """Asks whether to try again or to go on in another folder."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("f2", "leave", "back", show=False)]

    def __init__(
        self, wrong: str, go_on_in: Callable[[Path], None], *, such_as: Path | None = None, what: str = _WHAT
    ) -> None:
        """Make the panel; ``go_on_in`` moves to a folder, or raises a CommissionError that says why not."""
        super().__init__()
        self._wrong = wrong
        self._go_on_in = go_on_in
        self._such_as = "" if such_as is None else str(such_as)
        self._what = what

    def compose(self) -> ComposeResult:
        with Vertical(classes="panel small"):
            yield Static("The disk does not take it", classes="panel-title", markup=False)
            yield Static(self._wrong, id="fault-wrong", markup=False)
            yield Static(self._what, id="fault-what", markup=False)
            yield Static("go on in another folder", markup=False)
            yield Input(placeholder=f"such as {self._such_as}" if self._such_as else "", id="fault-folder")
            yield Static(
                "Enter alone: try again   folder and Enter: go on there   Escape: back",
                classes="panel-foot",
                markup=False,
            )

    @on(Input.Submitted, "#fault-folder")
    def _chosen(self, event: Input.Submitted) -> None:
        event.stop()
        typed = event.value.strip()
        if typed:
            try:
                self._go_on_in(Path(typed).expanduser())
            except (CommissionError, RuntimeError) as error:  # a home folder that nobody has
                self.query_one("#fault-wrong", Static).update(Content(str(error)))
                return
        self.dismiss("again")
