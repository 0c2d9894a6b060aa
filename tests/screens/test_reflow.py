"""Help at any width: nothing is lost, nothing is wider, and what a key does hangs beside it."""

from __future__ import annotations

import pytest

from commission.screens.desk_sites import Sites
from commission.screens.panels import COMMON_HELP
from commission.screens.reflow import reflowed

TEXT = """One line
and the next.

  F3            a comment at its step; on a line of no step,
                to the whole."""


def test_paragraphs_are_filled_and_keys_hang() -> None:
    assert reflowed(TEXT, 40) == (
        "One line and the next.\n"
        "\n"
        "  F3            a comment at its step;\n"
        "                on a line of no step, to\n"
        "                the whole."
    )
    assert reflowed(TEXT, 90).splitlines()[-1].endswith("of no step, to the whole.")


def test_headed_lines_stay_lines() -> None:
    assert (
        reflowed("why     a joint ages\nsource  IEC 62446-2", 40)
        == "why     a joint ages\nsource  IEC 62446-2"
    )


@pytest.mark.parametrize("width", [40, 66, 110])
def test_no_word_is_lost_and_no_line_is_wider(width: int) -> None:
    text = Sites.help_text + COMMON_HELP
    filled = reflowed(text, width)
    assert filled.split() == text.split()
    assert max(map(len, filled.splitlines())) <= width
