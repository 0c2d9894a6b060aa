"""Opening what takes some seconds on another thread, so that the page stays alive meanwhile."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final, TypeAlias

from textual import on, work
from textual.content import Content
from textual.widgets import Static
from textual.worker import Worker, WorkerState, get_current_worker

from commission.errors import CommissionError
from commission.screens.app_visit import StillWanted
from commission.screens.base import Page

Shows: TypeAlias = Callable[[], None]
"""Shows what was opened; called on the thread of the page."""
Job: TypeAlias = Callable[[StillWanted], Shows]
"""Opens something on another thread and returns what shows it."""
_GROUP: Final = "opening"


class Opening(Page):
    """A page that opens plants and visits, and says what it is at until they stand there."""

    def __init__(self) -> None:
        super().__init__()
        self._opening = ""

    def say(self, text: str) -> None:
        """Say something below the field."""
        self.query_one("#said", Static).update(Content(text))

    def busy(self) -> bool:
        """Whether something is being opened already; if so, that is said again."""
        if self._opening:
            self.say(f"{self._opening}; still at it")
        return bool(self._opening)

    def doing(self, what: str, job: Job, refused: Callable[[CommissionError], None] | None = None) -> None:
        """Say what is being done and do it on another thread.

        Parameters
        ----------
        refused
            Does what else belongs to an error that was said.
        """
        if self.busy():
            return
        self._opening = what
        self.say(f"{what} …")
        self._do(job, refused or (lambda _: None))

    @work(thread=True, group=_GROUP, exit_on_error=False)
    def _do(self, job: Job, refused: Callable[[CommissionError], None]) -> None:
        worker = get_current_worker()
        wanted: StillWanted = lambda: self.is_running and not worker.is_cancelled  # noqa: E731 - a question
        try:
            shows = job(wanted)
        except CommissionError as error:
            told = error  # the name of an exception ends with its block
            shows = lambda: self._refused(told, refused)  # noqa: E731 - as above
        if self.is_running:
            self.app.call_from_thread(self._done, shows)

    def _done(self, shows: Shows) -> None:
        self._opening = ""
        self.say("")
        shows()

    def _refused(self, error: CommissionError, refused: Callable[[CommissionError], None]) -> None:
        self.say(str(error))
        refused(error)

    @on(Worker.StateChanged)
    def _failed(self, event: Worker.StateChanged) -> None:
        if event.worker.group == _GROUP and event.state == WorkerState.ERROR:
            self._opening = ""
            self.say(f"it could not be opened: {event.worker.error}")
