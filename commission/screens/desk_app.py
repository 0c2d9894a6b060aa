"""The supervisor's app: the records of many sites, an index that is asked on another thread."""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Callable, Iterable
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar, TypeVar, cast

from textual.app import SystemCommand
from textual.dom import DOMNode
from textual.screen import Screen

from commission.screens.app import CommissionApp
from commission.visit.shelf import visits_root

if TYPE_CHECKING:
    # the index loads quickly; what reads and seals records does not
    from commission.desk.drafts import Drafts
    from commission.desk.index import Index

Out = TypeVar("Out")


def _sites() -> Screen[None]:
    from commission.screens.desk_sites import Sites

    return Sites()


class DeskApp(CommissionApp):
    """Look over the records of many sites."""

    CSS_PATH = ["styles/site.tcss", "styles/desk.tcss"]
    MODES: ClassVar[dict[str, Callable[[], Screen[None]]]] = {"sites": _sites}
    DEFAULT_MODE = "sites"
    TITLE = "commission desk"

    def __init__(
        self,
        *,
        opening: Callable[[], Index],
        root: Path,
        clock: Callable[[], datetime] = lambda: datetime.now().astimezone(),
        colour: bool = True,
        check_all: bool = False,
    ) -> None:
        """Make the app.

        Parameters
        ----------
        opening
            Opens the index.
        root
            Folder of the visits, beside which the keys are.
        check_all
            Whether every record is checked by the strict reader at once.
        """
        super().__init__(root=root, clock=clock, colour=colour)
        self.check_all = check_all
        self._opening = opening
        self._asked = opening()
        self.folders = self._asked.roots
        self._one = threading.Lock()
        self.generation = 0
        """Grows with every change of the index."""
        self.leaving = threading.Event()
        """Is set when the app ends, so that work in the background stops."""

    def on_ready(self) -> None:
        """Nothing of a visit is loaded ahead here."""

    def moment(self) -> int:
        """Return the time in seconds since 1970."""
        return int(self.now().timestamp())

    def asking(self, work: Callable[[Index], Out]) -> Out:
        """Ask the index; on a thread of its own, since a question may take a while."""
        with self._one:
            return work(self._asked)

    def updating(self) -> Index:
        """Return another opening of the index, by which it is brought up to date while this one is asked."""
        return self._opening()

    @property
    def drafts(self) -> Drafts:
        """Comments that were typed and not sent yet."""
        from commission.desk.drafts import Drafts

        return Drafts(self._asked.path.parent / "comments")

    def begin_anew(self) -> None:
        """Let go of the index as it was, so that the next question is asked of the one that is there now."""
        with self._one:
            self._asked.close()
        self.generation += 1

    def get_system_commands(self, screen: Screen[object]) -> Iterable[SystemCommand]:
        yield SystemCommand("Quit", "Leave the desk", self.action_quit)

    def on_unmount(self) -> None:
        from multiprocessing import active_children

        self.leaving.set()
        for worker in active_children():  # reading on for nobody would keep the terminal waiting
            worker.terminate()


def desk_of(node: DOMNode) -> DeskApp:
    """Return the desk that a screen or widget belongs to."""
    return cast("DeskApp", node.app)


def run_desk(opening: Callable[[], Index], *, visits: Path | None = None, check_all: bool = False) -> int:
    """Run the desk until it is left; returns the exit code."""
    root = visits or visits_root(os.environ, sys.platform, Path.home())
    _ready_for_workers()
    app = DeskApp(opening=opening, root=root, colour="NO_COLOR" not in os.environ, check_all=check_all)
    app.run()
    return app.return_code or 0


def _ready_for_workers() -> None:
    """Start what watches over worker processes, since it wants a standard error that the app takes away."""
    if os.name == "posix":
        from multiprocessing import resource_tracker

        with suppress(OSError, ValueError):
            resource_tracker.ensure_running()
