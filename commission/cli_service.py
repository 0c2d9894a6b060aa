"""The command line of the service visit: what would be due, and its beginning in the app."""

from __future__ import annotations

import argparse
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from commission.revisit.offer import Offer, Wanted

INTERVALS: Final = ("monthly", "quarterly", "yearly", "two-yearly")
"""As the checklists have them, beside every visit; written here so that help comes at once."""

NOTHING_ASKED: Final[dict[str, object]] = {
    "interval": [], "event": "", "part": [], "replaced": [], "put_off": False, "list": False, "json": False,
}  # fmt: skip
"""Options of the service visit where a record is opened: what is due, or what was returned."""


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add what ``commission service`` takes beside ``--json``."""
    parser.add_argument("site", type=Path, help="site file or sample site, or the record of the last visit")
    parser.add_argument(
        "--records", type=Path, metavar="FOLDER", help="records of the site; else beside its file, or here"
    )
    parser.add_argument(
        "--interval",
        action="append",
        default=[],
        choices=INTERVALS,
        help="what to repeat; without one, what is due",
    )
    parser.add_argument("--event", default="", help='what happened: "battery replaced", "fault call"')
    parser.add_argument(
        "--part", action="append", default=[], metavar="ID", help="part that the event concerns"
    )
    parser.add_argument(
        "--replaced", action="append", default=[], metavar="ID", help="part that is new: it begins anew"
    )
    parser.add_argument("--put-off", action="store_true", help="also the steps that were put off")
    parser.add_argument("--list", action="store_true", help="only print what the visit would do")


def offer_for(options: argparse.Namespace, today: date) -> Offer:
    """Return what a service visit could be of what was named.

    Raises
    ------
    CommissionError
        If the site or its records cannot be used.
    """
    from commission.errors import Problem, RecordError
    from commission.revisit.offer import offer_of

    offer, said = offer_of(options.site, today=today, records=options.records)
    if offer is None:
        told = "; ".join(("no signed record of this site was found beside it or here", *said))
        right = "the folder of its records (--records), or the last record itself"
        raise RecordError([Problem(str(options.site), "records", "", told, right)])
    return offer


def wanted_by(options: argparse.Namespace, offer: Offer) -> Wanted:
    """Return what was asked for; where nothing was, what is due, or what a supervisor has returned."""
    from commission.revisit.offer import Wanted

    if not (options.interval or options.event or options.part or options.replaced or options.put_off):
        return offer.at_hand
    return Wanted(
        tuple(options.interval),
        options.event,
        tuple(options.part),
        tuple(options.replaced),
        put_off=options.put_off,
    )
