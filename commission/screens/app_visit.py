"""The visit that is open: begun, taken up, looked at, gone on with, given free."""

from __future__ import annotations

import os
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from random import SystemRandom
from typing import TYPE_CHECKING, Any, TypeAlias

from textual.app import App

from commission import __version__
from commission.errors import CommissionError, NotKeptError, VisitError
from commission.screens.ahead import LoadingAhead
from commission.visit.shelf import Holder

if TYPE_CHECKING:
    # the first screen needs neither plants nor visits, and they take longer to load than all the rest
    from commission.plant.plant import Plant
    from commission.revisit.offer import Offer
    from commission.visit.session import OpenVisit
    from commission.visit.types import Service

StillWanted: TypeAlias = Callable[[], bool]
"""Says whether what is being opened on another thread is wanted still."""


def _always() -> bool:
    return True


class VisitApp(App[None]):
    """What the app does with the visit that is open."""

    def __init__(
        self,
        *,
        root: Path,
        site: Path | None,
        records: Path | None,
        clock: Callable[[], datetime],
        colour: bool,
    ) -> None:
        super().__init__(ansi_color=not colour)
        self.root = root
        self.site = site
        self.records = records
        """Folder of records that was named, or one of them."""
        self.clock = clock
        self.open_visit: OpenVisit | None = None
        self.ahead = LoadingAhead()

    @property
    def visit(self) -> OpenVisit:
        """The visit that is open; pages of a visit are shown only while there is one."""
        assert self.open_visit is not None  # noqa: S101 - see above
        return self.open_visit

    def now(self) -> datetime:
        """Return the time with its offset, whole seconds; never before the newest entry of the open visit.

        A clock that was put back would otherwise let an older reading count for newer than the last one.
        """
        moment = self.clock().replace(microsecond=0)
        if self.open_visit is None or moment >= self.open_visit.newest:
            return moment
        return self.open_visit.newest

    def new_visit(self, plant: Plant, beside: Path | None, wanted: StillWanted = _always) -> OpenVisit:
        """Begin the commissioning of a plant; nothing is shown of it yet, so that any thread may do it.

        Raises
        ------
        CommissionError
            If the visit's folder cannot be written, or nobody wants the visit any more.
        """
        from commission.prepare import own_checklists, prepare_visit

        own = own_checklists(plant, beside)
        return self._begun(plant, prepare_visit, wanted, kind="commissioning", checklists=own)

    def new_service(self, offer: Offer, service: Service, wanted: StillWanted = _always) -> OpenVisit:
        """Begin a service visit; nothing is shown of it yet, so that any thread may do it.

        Raises
        ------
        CommissionError
            If the visit's folder cannot be written, or nobody wants the visit any more.
        """
        more = {"checklists": offer.own, "service": service, "records": offer.folder}
        return self._begun(offer.plant, offer.prepare, wanted, kind="service", **more)

    def _begun(self, plant: Plant, prepare: Any, wanted: StillWanted, **more: Any) -> OpenVisit:
        from commission.visit.session import OpenVisit

        return OpenVisit.start(
            self.root,
            plant,
            _if_wanted(prepare, wanted),
            program=__version__,
            now=self.now(),
            holder=holder(),
            random=SystemRandom(),
            **more,
        )

    def taken_up(self, ident: str) -> OpenVisit:
        """Take up a visit as it was left; nothing is shown of it yet, so that any thread may do it.

        Raises
        ------
        CommissionError
            If somebody else holds it or it cannot be read.
        """
        self.ahead.finish()
        from commission.prepare import prepare_visit
        from commission.visit.session import OpenVisit

        ident = self._followed(ident)  # goes to the folder first in which the visit went on
        return OpenVisit.resume(self.root, ident, prepare_visit, holder=holder())

    def looked_at(self, ident: str) -> OpenVisit:
        """Look at a visit that somebody else has open; nothing can be entered, and nothing is shown yet.

        Raises
        ------
        CommissionError
            If it cannot be read.
        """
        self.ahead.finish()
        from commission.prepare import prepare_visit
        from commission.visit.session import OpenVisit

        return OpenVisit.look(self.root, ident, prepare_visit)

    def show_visit(self, opened: OpenVisit) -> None:
        """Show a visit that was opened, on the page where it stands; the one before is given free."""
        self.close_visit()
        self.open_visit = opened
        for message in opened.messages:
            self.notify(message, severity="warning", timeout=20, markup=False)
        visit = opened.visit
        page = "walk" if visit.people else "people"
        self.switch_mode("sign" if visit.sign_off is not None else page)

    @property
    def record_folder(self) -> Path | None:
        """Folder of the records before, of a service visit."""
        return None if self.open_visit is None else self.open_visit.records_before

    def folders_of_records(self) -> tuple[Path, ...]:
        """Return where the records of the site of the open visit may be."""
        beside = () if self.site is None else (self.site.parent,)
        return tuple(dict.fromkeys((*filter(None, (self.record_folder, self.records)), *beside, Path.cwd())))

    def copy_visit(self, ident: str, root: Path) -> str:
        """Copy a visit whose folder takes nothing into another root; returns its id there.

        Raises
        ------
        CommissionError
            If that folder cannot be written either.
        """
        from commission.visit.moving import copied

        folder, said = copied(self.root, ident, root, holder())
        self.root = folder.parent
        for message in said:
            self.notify(message, severity="warning", timeout=30, markup=False)
        return folder.name

    def _followed(self, ident: str) -> str:
        """Go to the folder in which a visit went on; returns its id there."""
        from commission.visit.shelf import followed

        root, there = followed(self.root, ident)
        if root != self.root:
            self.root = root
            self.notify(f"the visit went on in {root}; visits are kept there now", timeout=15, markup=False)
        return there

    def go_on_with(self, ident: str, plant: Plant, beside: Path | None, told: dict[str, str]) -> None:
        """Take up a visit with a changed plant.

        Parameters
        ----------
        told
            ``by`` and ``reason``; ``worked_on`` is ``yes`` where the parts themselves were changed.

        Raises
        ------
        CommissionError
            If somebody else holds the visit, it cannot be read, or too little is told.
        """
        self.ahead.finish()
        from commission.prepare import own_checklists, prepare_visit
        from commission.visit.session import OpenVisit

        self.close_visit()
        ident = self._followed(ident)
        held = OpenVisit.resume(self.root, ident, prepare_visit, holder=holder())
        try:
            self.open_visit = held.go_on_with(
                plant,
                prepare_visit,
                by=told["by"],
                reason=told["reason"],
                worked_on=told["worked_on"] == "yes",
                now=max(self.now(), held.newest),
                checklists=own_checklists(plant, beside),
            )
        except NotKeptError:
            self.open_visit = held  # so that it can go on in another folder
            raise
        except CommissionError:
            held.close()
            raise

    def close_visit(self) -> None:
        """Give the visit free for others."""
        if self.open_visit is not None:
            self.open_visit.close()
            self.open_visit = None


def _if_wanted(prepare: Any, wanted: StillWanted) -> Any:
    """Return what makes sheet and walk, and refuses once they are made where nobody waits any more.

    Nothing was written then: no visit stays behind that nobody has seen.
    """

    def prepared(*told: Any) -> Any:
        made = prepare(*told)
        if not wanted():
            raise VisitError("the program was left before the visit had begun")
        return made

    return prepared


def holder() -> Holder:
    """Return who holds a visit that is opened here: the process, its machine and its user."""
    import getpass
    import socket

    try:
        user = getpass.getuser()
    except (OSError, KeyError):
        user = ""
    return Holder(os.getpid(), socket.gethostname(), user)
