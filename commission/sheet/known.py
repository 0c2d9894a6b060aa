"""What is known counts, and what is not known is said: never a limit that passes in silence."""

from __future__ import annotations

from collections.abc import Sequence

from commission.figure import Figure, Quantity, Unknown, least
from commission.sheet.draft import Draft
from commission.sheet.types import Finding


def not_checked(check: str, parts: tuple[str, ...], missing: Sequence[str]) -> Finding:
    """Return the finding that something could not be checked, and for want of what."""
    gaps = ", ".join(dict.fromkeys(missing))
    return Finding("not checked", check, parts, f"not checked: {gaps} unknown", "state it in the site file")


def least_known(
    draft: Draft, name: str, candidates: Sequence[Quantity], *, check: str, parts: tuple[str, ...]
) -> Quantity:
    """Return the least of the candidates that are known; what is not known becomes a finding and a note.

    A limit from the known candidates is a real limit; it may be lower once the rest is known. Only where no
    candidate is known is the limit itself not known.
    """
    known = [item for item in candidates if isinstance(item, Figure)]
    missing = gaps(candidates)
    if missing:
        draft.find(not_checked(check, parts, missing))
    if not known:
        return Unknown(missing, candidates[0].unit, name)
    made = least(name, *known)
    return made.named(name, f"may be lower: {', '.join(missing)} not known") if missing else made


def gaps(quantities: Sequence[Quantity]) -> tuple[str, ...]:
    """Return everything that is missing for several quantities, each once."""
    unknown = [item for item in quantities if isinstance(item, Unknown)]
    return tuple(dict.fromkeys(gap for item in unknown for gap in item.missing))
