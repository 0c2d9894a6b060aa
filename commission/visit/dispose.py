"""What may be done about what is wrong: a finding, a reading out of band, a step put off."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date
from typing import Final

from commission.errors import VisitError
from commission.plant.plant import Plant
from commission.sheet.types import Finding, Kind
from commission.visit.digest import confirmation_words
from commission.visit.kit import day
from commission.visit.state import name_key, technicians
from commission.visit.types import Disposed, Disposition, Verdict, Visit

_ANY: Final[tuple[Disposition, ...]] = ("mended", "isolated and locked", "accepted", "deferred")
_OF_VERDICT: Final[Mapping[Verdict, tuple[Disposition, ...]]] = {
    "stop work": ("mended", "isolated and locked"),
    "fail": ("mended", "accepted", "deferred"),
    "conditional fail": _ANY,
    "conditional pass": _ANY,
    "not judged": ("accepted", "deferred"),
}
_OF_FINDING: Final[Mapping[Kind, tuple[Disposition, ...]]] = {
    "stop": ("isolated and locked", "accepted"),  # mended: by the changed plant
    "correct": ("mended", "accepted", "deferred"),
    "not checked": _ANY,
    "advise": _ANY,
}


def allowed_for_reading(verdict: Verdict) -> tuple[Disposition, ...]:
    """Return what may be done about a reading with a verdict; nothing where nothing has to be done."""
    return _OF_VERDICT.get(verdict, ())


def allowed_for_finding(finding: Finding) -> tuple[Disposition, ...]:
    """Return what may be done about a finding; accepted only where anybody on site can release it."""
    allowed = _OF_FINDING[finding.kind]
    if finding.kind == "stop" and not finding.releasable:
        return tuple(one for one in allowed if one != "accepted")
    return allowed


def needs_second_person(disposition: Disposition, of: Finding | Verdict) -> bool:
    """Say whether somebody other than the visit's technician has to decide."""
    return disposition == "accepted" and (of.kind == "stop" if isinstance(of, Finding) else of == "fail")


def check_disposition(disposed: Disposed, today: date) -> None:
    """Refuse a disposition that says too little, whatever it is about.

    Raises
    ------
    VisitError
        If the reason or the person is missing, or a deferral names no day to come or not what stays off.
    """
    if not disposed.reason.strip():
        raise VisitError("a reason is wanted: what was done, or why it may stay as it is")
    if not disposed.by.strip():
        raise VisitError("a name is wanted: who decided it")
    if disposed.disposition != "deferred":
        return
    until = day(disposed.until)
    if until is None:
        raise VisitError("deferred until when? a date such as 2026-12-24 is wanted")
    if until < today:
        raise VisitError(f"deferred until {disposed.until}, which is past; a day to come is wanted")


def check_reading_disposition(disposed: Disposed, verdict: Verdict, visit: Visit) -> None:
    """Refuse a disposition that a reading's verdict does not allow.

    Raises
    ------
    VisitError
        If the verdict needs none or another one, or a second person where the technician decides.
    """
    allowed = allowed_for_reading(verdict)
    if not allowed:
        raise VisitError(f"the verdict is '{verdict}'; nothing has to be done about it")
    _check_allowed(disposed.disposition, allowed, f"a reading with the verdict '{verdict}'")
    if verdict != "fail":
        return
    if needs_second_person(disposed.disposition, verdict):
        check_second_person(disposed, visit, "a failed reading")
    if disposed.disposition == "deferred" and not disposed.stays_off.strip():
        raise VisitError("what stays off until then? a failed reading is deferred only with that")


def check_finding_disposition(disposed: Disposed, finding: Finding, plant: Plant, visit: Visit) -> None:
    """Refuse a disposition that a finding does not allow.

    Raises
    ------
    VisitError
        If nobody on site can release it, a second person is needed, or the confirmation words are not those
        of this plant and finding.
    """
    _check_allowed(disposed.disposition, _OF_FINDING[finding.kind], f"a finding of the kind '{finding.kind}'")
    if not needs_second_person(disposed.disposition, finding):
        return
    if not finding.releasable:
        raise VisitError(f"nobody on site can release this: {finding.text}; it ends by a changed plant")
    check_second_person(disposed, visit, "a finding that stops work")
    words = re.findall(r"[a-z]+", disposed.words.casefold())
    if words != confirmation_words(plant, finding.id).split():
        raise VisitError(
            "the confirmation words are not those of this plant and finding; the second person has them by "
            "opening the same site file, and reads them out"
        )


def _check_allowed(disposition: Disposition, allowed: tuple[Disposition, ...], of: str) -> None:
    if disposition not in allowed:
        raise VisitError(f"'{disposition}' does not end {of}; {_either(allowed)}")


def _either(words: tuple[Disposition, ...]) -> str:
    quoted = [f"'{word}'" for word in words]
    return quoted[0] if len(quoted) == 1 else f"{', '.join(quoted[:-1])} or {quoted[-1]}"


def check_second_person(disposed: Disposed, visit: Visit, what: str) -> None:
    """Refuse an acceptance by the visit's technician, or by nobody.

    Raises
    ------
    VisitError
        If no technician is named yet, or it is that one who accepts.
    """
    if not technicians(visit):
        raise VisitError(f"name the technician first (people): {what} is accepted by somebody else")
    if name_key(disposed.by) in technicians(visit) or not name_key(disposed.by):
        raise VisitError(f"{what} is accepted by a second person, never by the visit's technician")
