"""The tables that are made of the rows of many records, by :mod:`commission.desk.summaries`."""

from __future__ import annotations

from typing import Final

from commission.desk.table import Table, columns

LINK: Final = Table(
    "link",
    "what is odd about a record's place in the chain of its site",
    columns("""
    record I file
    place I place among those of the record
    site T id of the site
    says T in words
    gap I 1: a record is missing, false or beside the chain
    """),
    ("record", "place"),
    (("site",),),
    made="of all",
)
SITE: Final = Table(
    "site",
    "one site, as its newest record tells it, with what its other records still wait for",
    columns("""
    site T id
    name T name
    place T where
    record I its newest record
    records I how many
    kind T of the newest
    started_at I when that visit began
    started_text T the same, local
    technician T of the newest
    chemistry T of the newest
    profile T of the newest
    state T of the newest
    answer T of the newest
    broken I records that are not as they were sealed: changed, rewritten, incomplete, malformed
    unreadable I files that cannot be read and may be no records
    gaps I gaps in the chain
    unsigned I records without a signature
    waiting I signed and neither countersigned nor returned
    waiting_since I the earliest signature of them
    returned I returned, and nobody has answered
    returned_since I the earliest of them
    stopped I readings that stop work
    failed I readings out of band, whatever was decided
    undecided I of them those about which nothing was done
    accepted I of them those that were accepted
    failed_deferred I of them those that were put off
    accepted_findings I findings that stop or have to be mended, and were accepted
    deferred I put off and not yet made up, failed readings too
    deferred_until I the earliest date of them
    stop_findings I open, of those that stop
    open_findings I open in all
    unchecked_findings I could not be checked
    differing I settings
    released I hold points
    late I corrections
    overturned I corrections
    fast I readings
    drifts_act I readings
    drifts_advise I readings
    uncalibrated I instruments
    next_due I date of the next service, first second of the day
    next_text T the same
    next_interval T which
    score I 0 is worst; see summaries.SCORE
    """),
    ("site",),
    (("score", "next_due", "site"), ("next_due",)),
    made="of all",
)
HELD: Final = Table(
    "held",
    "what a site has now, to find all that have the same: profile, firmware, setting, instrument",
    columns("""
    kind T battery profile, firmware, device, setting, instrument
    name T of a firmware the device's class, of a setting its id, of an instrument its kind
    value T as text
    number R as number, where it is one
    unit T of a setting that is a number
    site T id of the site
    part T id of the device or instrument
    record I newest record that tells it
    """),
    (),
    (("kind", "name", "value", "site"), ("kind", "value"), ("kind", "name", "number"), ("site",)),
    made="of all",
)
TALLY: Final = Table(
    "tally",
    "counts by site, technician, chemistry, device class, instrument",
    columns("""
    dimension T site, technician, chemistry, device class, instrument
    name T which
    label T as it is shown
    kind T of an instrument its kind
    sites I sites
    records I records
    readings I readings
    judged I of them judged
    failed I of them out of band
    accepted I of them accepted
    placed I of an instrument: readings with a band of two ends
    deviation R sum of how far they lay from the middle, in half-widths
    deviation_squares R sum of the squares
    rate R failed of judged
    """),
    (),
    (("dimension", "rate"), ("dimension", "name")),
    made="of all",
)
