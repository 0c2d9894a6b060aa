"""Who takes part in a visit and with what, what is left for those who come after, and the signature."""

from __future__ import annotations

from datetime import datetime
from typing import Final

from commission.errors import EntryError, VisitError
from commission.visit import events
from commission.visit.book import made
from commission.visit.judging import Judging
from commission.visit.kit import checked
from commission.visit.missing import Missing, missing_for_sign_off
from commission.visit.settling import Settling
from commission.visit.state import accepted_by, instrument_of, name_key
from commission.visit.types import Instrument, Person, SignedAs, SignOff, Visit

LISTED: Final = 5
"""Reasons that a refusal to sign names; the whole list is :meth:`Ending.missing`."""


class Ending(Judging, Settling):
    """The frame of a visit: its people, its kit, its end."""

    # people, instruments, what is left

    def add_person(self, person: Person, now: datetime, *, instead_of: str = "") -> None:
        """Add a person, or put what is told of one right; ``instead_of`` is the name that was mistyped."""
        if not person.name.strip():
            raise VisitError("a name is wanted")
        if person.role == "technician" and name_key(person.name) in accepted_by(self.visit):
            raise VisitError(
                f"{person.name} has accepted something here as the second person, so is no technician"
            )
        self._keep(made(events.Joined, at=now, person=person, instead_of=instead_of))

    def add_instrument(self, instrument: Instrument, now: datetime) -> None:
        """Put an instrument into the kit, or put what is told of one right.

        Readings taken with it are judged anew where its accuracy or its calibration was told otherwise.
        """
        before = instrument_of(self.visit, instrument.id)
        try:
            event = made(events.Equipped, at=now, instrument=checked(instrument))
        except EntryError as error:
            raise VisitError(str(error)) from None
        self._keep(event)
        if before is not None and before != instrument:
            self._judge_anew_by(instrument, now)

    def leave(
        self,
        now: datetime,
        *,
        next_technician: str | None = None,
        spares: str | None = None,
        codes_kept: str | None = None,
    ) -> None:
        """Keep what is left for those who come after; what is None stays as it was."""
        event = made(
            events.Left, at=now, next_technician=next_technician, spares=spares, codes_kept=codes_kept
        )
        self._keep(event)

    # the end

    def missing(self, signed_as: SignedAs = "complete") -> tuple[Missing, ...]:
        """Return what keeps the visit from being signed in a state, each with where to go for it."""
        return missing_for_sign_off(self.plant, self.sheet, self.standing, signed_as)

    def sign_off(self, name: str, signed_as: SignedAs, now: datetime) -> Visit:
        """Sign the visit as its technician; nothing can be added after.

        Raises
        ------
        VisitError
            If something is missing, or the name is not that of a technician of this visit.
        """
        self._left_over(now)
        missing = self.missing(signed_as)
        if missing:
            told = "; ".join(item.says for item in missing[:LISTED])
            more = f"; and {len(missing) - LISTED} more" if len(missing) > LISTED else ""
            raise VisitError(f"cannot be signed as '{signed_as}': {told}{more}")
        technicians = [one for one in self.visit.people if one.role == "technician"]
        wanted = " ".join(name.split()).casefold()
        signer = next((one for one in technicians if " ".join(one.name.split()).casefold() == wanted), None)
        if signer is None:
            known = ", ".join(one.name for one in technicians)
            if not wanted:
                raise VisitError(f"whose name? a technician of this visit signs it: {known}")
            raise VisitError(f"{name} is not a technician of this visit; only a technician signs it: {known}")
        sign_off = made(
            SignOff,
            name=signer.name,
            role=signer.role,
            licence=signer.licence,
            employer=signer.employer,
            signed_as=signed_as,
            at=now,
        )
        self._keep(events.Signed(at=now, sign_off=sign_off))
        return self.visit
