"""Loading what a visit needs while the person looks at the first screen."""

from __future__ import annotations

from contextlib import suppress
from threading import Thread

from commission.errors import CommissionError


class LoadingAhead:
    """A thread that loads rooms and checklists; nothing of a visit may be loaded beside it."""

    def __init__(self) -> None:
        self._thread: Thread | None = None

    def begin(self) -> None:
        """Begin to load; the screen stays alive meanwhile."""
        self._thread = Thread(target=_load, name="loading-ahead", daemon=True)
        self._thread.start()

    def finish(self) -> None:
        """Wait until all is loaded: two threads that load the same rooms could wait for each other."""
        if self._thread is not None:
            self._thread.join()


def _load() -> None:
    """Load plants, sheet, walk and visits; what is wrong with a file is told when it is asked for."""
    import commission.visit.session  # noqa: F401 - loaded for those who come after
    from commission.checklist.registry import load_words
    from commission.prepare import usual

    load_words()
    with suppress(CommissionError):
        usual()
