"""What the sign-off of a service visit tells of the next one is what the next one then finds."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path

import pytest

from commission.checklist.service import agreed_intervals
from commission.records.write import write_record
from commission.revisit.offer import Wanted, offer_of
from commission.revisit.summary import day, next_lines
from commission.visit.types import SignedAs
from tests.revisit.sites import begun_service, commissioned
from tests.technician import TECHNICIAN, Clock, settle, walk

MADE = datetime.fromisoformat("2026-06-01T08:00:00+00:00")
NEXT = date(2026, 7, 1)


@pytest.mark.parametrize("signed_as", ["in service with deferred steps", "made safe, not in service"])
def test_what_is_told_to_be_due_next_is_what_the_next_offer_counts_from(
    signed_as: SignedAs, tmp_path: Path
) -> None:
    """A visit that leaves the plant off counts as none, so no later date may be told for it."""
    site, _ = commissioned(tmp_path)
    offer, _ = offer_of(site, today=MADE.date())
    assert offer is not None
    clock = Clock(MADE)
    with begun_service(tmp_path, offer, Wanted(("quarterly", "yearly")), clock) as visit:
        walk(visit, clock)
        settle(visit, clock)
        agreed = agreed_intervals(visit.checklist, visit.plant.site.service)
        told = "\n".join(next_lines(visit.visit, agreed, signed_as))
        visit.sign_off(TECHNICIAN, signed_as, clock())
        write_record(tmp_path, visit.visit, visit.plant, visit.sheet)
    after, _ = offer_of(site, today=NEXT)
    assert after is not None
    rows = {row.interval: row for row in after.due}
    if signed_as == "made safe, not in service":
        assert [rows[one].last for one in ("quarterly", "yearly")] == [date(2025, 5, 12)] * 2
        assert told == "the plant stays off, so this visit counts as none of them; each date stays as it was"
    else:
        for interval in ("quarterly", "yearly"):
            assert f"{interval:<12}{day(rows[interval].on)}" in told
        assert "two-yearly  not done now; its date stays as it was" in told
