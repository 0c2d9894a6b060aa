"""Texts as a record can hold them: one line each, no longer than a line may be."""

from __future__ import annotations

from typing import Final

from commission.figure import Figure, line_text, why

LONGEST: Final = 400
_LINES: Final = 40
"""Lines of a derivation that are kept."""


def as_line(text: str) -> str:
    """Return a text as one line without control characters, cut where it is too long."""
    plain_text = "".join(letter if letter.isprintable() else " " for letter in text)
    return plain_text if len(plain_text) <= LONGEST else plain_text[: LONGEST - 1] + "…"


def derivation(*figures: Figure | None) -> tuple[str, ...]:
    """Return the lineage of figures, line by line."""
    lines = [as_line(line_text(line)) for figure in figures if figure is not None for line in why(figure)]
    return tuple(lines[:_LINES])
