"""Colours that people with any kind of colour vision tell apart; words come before them everywhere."""

from __future__ import annotations

from textual.theme import Theme

# Okabe and Ito, "Color universal design", 2002: the set of eight.
THEME = Theme(
    name="site",
    primary="#56B4E9",
    secondary="#56B4E9",
    accent="#F0E442",
    success="#009E73",
    warning="#E69F00",
    error="#D55E00",
    foreground="#E8E8E8",
    background="#101010",
    surface="#101010",
    panel="#1C1C1C",
    dark=True,
)

VERDICT_STYLE = {
    "pass": "bold $text-success",
    "conditional pass": "bold $text-warning",
    "conditional fail": "bold $text-error",
    "fail": "bold $text-error",
    "stop work": "bold reverse $text-error",
    "not judged": "bold $text-warning",
    "recorded": "bold",
}
"""Style of each verdict's word."""

VERDICT_MARK = {
    "pass": "✓",
    "conditional pass": "≈",
    "conditional fail": "≉",
    "fail": "✗",
    "stop work": "■",
    "not judged": "?",
    "recorded": "·",
}
"""One cell beside the word."""
