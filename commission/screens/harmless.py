"""What is painted holds no command to the terminal, wherever it came from: a name of a file, a journal."""

from __future__ import annotations

from rich.segment import Segment
from textual.color import Color
from textual.filter import LineFilter

from commission.errors import harmless


class Harmless(LineFilter):
    """Takes out of every line what a terminal would take as a command; none of it has a width."""

    def apply(self, segments: list[Segment], background: Color) -> list[Segment]:
        """Return the segments of a line without commands."""
        if all(segment.control or segment.text.isprintable() for segment in segments):
            return segments
        return [
            segment if segment.control else Segment(harmless(segment.text, ""), segment.style)
            for segment in segments
        ]
