"""The command line of the practice fleet: invented sites with years of records, to try the desk on."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from commission.desk.practice.fleet import Fleet


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add what ``commission practice-fleet`` takes."""
    parser.add_argument("folder", type=Path, help="a new or empty folder")
    parser.add_argument("--sites", type=int, default=20, help="how many sites; 20 where none is told")
    parser.add_argument("--years", type=int, default=7, help="yearly visits of each; 7 where none is told")
    parser.add_argument("--seed", type=int, default=1, help="the same seed and day make the same fleet")
    parser.add_argument(
        "--lives", type=int, help="sites with a life of their own; the others are their twins elsewhere"
    )
    parser.add_argument("--today", help="day up to which it reaches, as 2026-11-28; today where none is told")


def made_by(
    options: argparse.Namespace, today: date, processes: int, progress: Callable[[int, int], None]
) -> Fleet:
    """Return the fleet that was asked for, made.

    Raises
    ------
    CommissionError
        If a number or the day is none, or the folder cannot be used.
    """
    from commission.desk.practice.fleet import LIVES, make_fleet

    day = today if options.today is None else _day(options.today)
    return make_fleet(
        options.folder,
        options.sites,
        options.years,
        options.seed,
        today=day,
        lives=LIVES if options.lives is None else options.lives,
        processes=processes,
        progress=progress,
    )


def _day(text: str) -> date:
    from commission.errors import Problem, RecordError

    try:
        return date.fromisoformat(text)
    except ValueError:
        right = "year-month-day, such as 2026-11-28"
        raise RecordError([Problem("practice fleet", "today", text, "is no date", right)]) from None


def told(fleet: Fleet) -> str:
    """Return what was made, in words."""
    twins = fleet.sites - fleet.lives
    lives = f", {twins} of them twins of the other {fleet.lives}" if twins else ""
    size = f"{fleet.bytes / 1e6:.1f} MB"
    return (
        f"{fleet.sites} invented sites{lives}: {fleet.records} records, {size}, in {fleet.folder};"
        " what is true of them stands in truth.json"
    )
