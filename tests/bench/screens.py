"""How fast the app is on a terminal and how much memory it takes, beside a bare app in the same minutes."""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Final

from tests.bench.reading import LARGEST, first_answers, leave_at_a_reading
from tests.bench.rounds import Measured, Pair
from tests.bench.terminal import Terminal

ROUNDS: Final = 10
DIGITS: Final = 40
_BACKSPACE: Final = "\x7f"
_ENTER: Final = "\r"
_BARE: Final = (sys.executable, "-m", "tests.bench.bare")


def _environment() -> Mapping[str, str]:
    kept = {name: text for name, text in os.environ.items() if not name.startswith(("TEXTUAL", "COMMISSION"))}
    return kept | {"TERM": "xterm-256color", "COLORTERM": "truecolor", "PYTHONPATH": str(Path.cwd())}


def _app(visits: Path, *words: str) -> tuple[str, ...]:
    """Return the command that the installed program runs."""
    call = "from commission.cli import main; raise SystemExit(main())"
    return (sys.executable, "-c", call, "--visits", str(visits), *words)


def start(visits: Path) -> Pair:
    """Return the time from the start of the program to its first screen."""
    pair = Pair("start to first screen", "ms", aim=2.0)
    for _ in range(ROUNDS):
        pair.bare.append(_start(_BARE, "ready"))
        pair.ours.append(_start(_app(visits, "open", str(LARGEST)), f"begin       {LARGEST}"))
    return pair


def _start(arguments: tuple[str, ...], text: str) -> float:
    with Terminal(arguments, _environment()) as terminal:
        return (terminal.seen(text) - terminal.started) * 1000


def taken_up(visits: Path) -> Measured:
    """Return the time from Enter on a visit of the largest sample to its step on the screen."""
    measured = Measured("Enter on a visit to its step (largest sample)", "ms")
    typed = leave_at_a_reading(visits)
    for _ in range(ROUNDS):
        with Terminal(_app(visits), _environment()) as terminal:
            terminal.seen("take up")
            terminal.rest()
            measured.values.append((terminal.seen_after(_ENTER, typed.label)) * 1000)
    return measured


def next_reading(visits: Path) -> Measured:
    """Return the time from Enter on a typed reading to the next one on the screen, judged and on the disk."""
    measured = Measured("Enter on a reading to the next one", "ms")
    answers = first_answers(visits, count=ROUNDS)
    with Terminal(_app(visits), _environment()) as terminal:
        terminal.seen("take up")
        terminal.seen_after(_ENTER, f" {answers[0].done - 1} of ")
        terminal.rest()
        for answer in answers:
            for text in answer.texts[:-1]:
                terminal.press(f"{text}{_ENTER}")
                terminal.rest()
            terminal.press(answer.texts[-1])
            terminal.rest()
            measured.values.append(terminal.seen_after(_ENTER, f" {answer.done} of ") * 1000)
            terminal.rest()
    return measured


def verdict_and_memory(visits: Path) -> tuple[Pair, Pair, Pair]:
    """Return key to painted verdict, and peak memory at the first screen and in the walk."""
    typed = leave_at_a_reading(visits)
    key = Pair("last digit to painted verdict", "ms", aim=1.25)
    first, walking = Pair("peak memory, first screen", "MB"), Pair("peak memory, walk", "MB", aim=1.5)
    environment = _environment()
    with Terminal(_BARE, environment) as bare, Terminal(_app(visits), environment) as ours:
        bare.seen("ready")
        ours.seen("take up")
        ours.rest()
        first.note(bare.peak_memory(), ours.peak_memory())
        ours.press(_ENTER)
        ours.seen(typed.label)
        for terminal in (bare, ours):
            terminal.rest()
            terminal.press(typed.before)
            terminal.rest()
        for _ in range(DIGITS):
            key.bare.append(bare.seen_after(typed.last, f"seen {typed.before}{typed.last}.") * 1000)
            _take_back(bare)
            key.ours.append(ours.seen_after(typed.last, typed.verdict) * 1000)
            _take_back(ours)
        walking.note(bare.peak_memory(), ours.peak_memory())
    return key, first, walking


def _take_back(terminal: Terminal) -> None:
    terminal.rest()
    terminal.press(_BACKSPACE)
    terminal.rest()
