"""The tables that are filled from one record each; see :mod:`commission.desk.tables`."""

from __future__ import annotations

from typing import Final

from commission.desk.table import Table, columns

RECORD: Final = Table(
    "record",
    "one file, with what is asked of it most",
    columns("""
    record I number of the file in this index
    root I place of its folder among the folders that were named
    path T path below that folder, with /
    size I bytes
    mtime I nanoseconds, when it was last written
    digest T SHA-256 of the file
    state T not checked yet; what the strict reader says: intact, rewritten, changed, incomplete, malformed
    checked_at I when the strict reader said so
    says T what is wrong with it, in words
    format I in which it was written
    visit T id of the visit
    site T id of the site
    site_name T name of the site
    place T where it is
    kind T commissioning or service
    event T what happened, where the visit follows an event
    program T version that wrote it
    rules T id of the rule set
    signed I has a signature block
    signed_as T complete, in service with deferred steps, made safe
    signed_by T name in the signature block
    signed_at I when it was signed
    signed_text T the same, local
    started_at I when the visit began
    started_text T the same, local
    previous T digest of the record of the visit before, as this one names it
    first_digest T of its first seal
    last_digest T of its last seal
    answer T what the last seal behind the first says: countersigned, returned
    answered_by T who
    answered_at I when
    answered_text T the same, local
    puts_right T visit that was returned and that this one puts right
    puts_right_at I when that was returned
    technician T who signed, else the first technician
    technician_key T the name as it is compared
    supervisor T who answers for the site
    chemistry T family of the battery
    profile T id of the battery profile
    capacity R Ah of the bank
    readings I readings that count, corrected ones aside
    judged I of them with a band
    passed I pass
    conditional I conditional pass
    failed I conditional fail, fail, stop work
    not_judged I not judged
    undecided I failed and nothing was done about it
    accepted I failed and accepted
    deferred I put off: readings, findings, steps; a failed reading that was put off is counted as failed too
    deferred_until I the earliest date of them
    open_findings I findings to mend or that stop, neither mended nor accepted
    stop_findings I of them those that stop
    unchecked_findings I what could not be checked
    differing I settings left otherwise than recommended
    released I hold points released by a person
    late I corrections made long after the entry
    overturned I corrections by which a failed reading passed
    fast I readings typed faster than they can be measured
    drifts_act I readings that went so far that something has to be done
    drifts_advise I readings that went far
    uncalibrated I instruments past their date when the visit began
    not_applicable I steps that were said not to apply
    left_settings I settings whose value as left is told
    latest I 1: the newest of its site
    """),
    ("record",),
    (
        ("root", "path", "size", "mtime"),
        ("site", "started_at"),
        ("state",),
        ("technician_key",),
        ("signed", "answer", "signed_at"),
        ("visit",),
    ),
)
SEARCH: Final = Table(
    "search",
    "what is searched of a record",
    columns("""
    record I file
    site T id of the site
    words T site, place, people, serial numbers, notes, comments: each word once, small letters
    """),
    ("record",),
)
READING: Final = Table(
    "reading",
    "one reading as entered, corrected ones too",
    columns("""
    record I file
    place I place in the file, from 0
    point I what was read
    value R number; 1 and 0 of a yes or no; null of a text
    text T of what is no number
    low R end of the band
    high R end of the band
    compared R what was judged, where not the reading itself
    verdict T verdict; empty where none
    measured_at I when
    entered_at I when it was typed
    instrument T id of the meter in this record
    corrects I replaces an earlier reading of the same point
    superseded I was replaced by a later one
    disposition T what was done about it
    fast I typed faster than it can be measured
    """),
    ("record", "place"),
    many=True,
)
POINT: Final = Table(
    "point",
    "what is read: step, parts, index in the series, unit",
    columns("""
    point I number made of the rest
    name T key as it is written: step@part+part#index
    step T step and reading
    parts T ids joined by +
    step_key T key of the step, as a disposition names it
    series I index in its series
    unit T unit of the number
    """),
    ("point",),
    (("name",), ("step",)),
    made="of a point",
)
SETTING: Final = Table(
    "setting",
    "one setting of one device",
    columns("""
    record I file
    place I place in the file
    device T id of the device
    setting T id of the setting
    input T generator or utility, where it is of an input
    recommended R number, in the device's unit and basis
    recommended_text T where it is a word
    unit T unit
    as_found R number as found
    as_found_text T the number in that unit, however it was typed, or a word
    as_left R number as left; of a service visit also as the visit before left it
    as_left_text T the number in that unit, however it was typed, or a word
    carried I 1: not touched in this visit, as the one before left it
    differs I left otherwise than recommended
    drifted I found otherwise than the visit before left it
    reason T why
    """),
    ("record", "place"),
)
FINDING: Final = Table(
    "finding",
    "one result of the design check",
    columns("""
    record I file
    place I place in the file
    finding T its id
    kind T stop, correct, advise, not checked
    check_name T which check
    parts T ids joined by +
    says T text
    remedy T what would mend it
    disposition T what was done
    open I 1: stops or has to be mended, and is neither mended nor accepted
    """),
    ("record", "place"),
)
DISPOSITION: Final = Table(
    "disposition",
    "what was done about a finding, a reading, a setting or a step",
    columns("""
    record I file
    place I place in the file
    subject T what it is about
    about T finding, reading, setting, step
    disposition T mended, isolated and locked, accepted, deferred
    reason T why
    decided_by T who
    until_at I date, of what is deferred
    until_text T the same, as written
    stays_off T what stays off until then
    at_time I when
    at_text T the same, local
    """),
    ("record", "place"),
)
INSTRUMENT: Final = Table(
    "instrument",
    "one instrument of a visit, with how its readings lay",
    columns("""
    record I file
    instrument T its id in the record
    meter T what tells it from others: serial number, else site and id
    kind T dc voltmeter, …
    name T as it is called
    serial T serial number
    calibrated T date
    due T date of the next calibration
    expired I 1: that was past when the visit began
    readings I taken with it
    judged I of them with a verdict
    failed I of them out of band
    placed I of them with a band of two ends
    deviation R sum of how far they lay from the middle, in half-widths of the band
    deviation_squares R sum of the squares
    """),
    ("record", "instrument"),
    (("meter", "record"),),
)
DEVICE: Final = Table(
    "device",
    "one device as it stood",
    columns("""
    record I file
    part T its id
    section T what it is: inverter_chargers, …
    class T id of its profile
    serial T serial number
    firmware T version
    date_code T date code
    """),
    ("record", "part"),
)
PERSON: Final = Table(
    "person",
    "who took part, signed or answered",
    columns("""
    record I file
    place I place in the list
    name T name
    name_key T as it is compared
    role T technician, supervisor, witness, owner
    licence T licence
    employer T employer
    """),
    ("record", "place"),
    (("name_key",),),
)
SEAL: Final = Table(
    "seal",
    "who stands for a record",
    columns("""
    record I file
    place I place among the seals
    says T judged, signed, countersigned, returned
    name T who
    role T as what
    at_time I when
    at_text T the same, local
    digest T that it carries
    keyed I 1: it carries a signature made with a key
    """),
    ("record", "place"),
    (("digest",),),
)
COMMENT: Final = Table(
    "comment",
    "what was said to a step when a record was countersigned or returned",
    columns("""
    record I file
    seal I place of the seal
    place I place among its comments
    step T step; empty: the whole record
    parts T ids joined by +
    says T text
    settles T visit that was returned and that this countersign settles
    """),
    ("record", "seal", "place"),
)
DUE: Final = Table(
    "due",
    "when an interval that a visit covered is due again",
    columns("""
    record I file
    every T monthly, quarterly, yearly, two-yearly; agreed: a date told to the owner
    due_at I first second of that day
    due_text T the day
    holds I 1: the plant has steps of that interval, or it was agreed
    """),
    ("record", "every"),
)
CONCERN: Final = Table(
    "concern",
    "what a supervisor looks at first",
    columns("""
    record I file
    place I place among those of the record
    site T id of the site
    kind T one of CONCERNS
    rank I 0 is worst
    subject T key of the reading, id of the finding, device and setting, step
    point I of a reading
    says T what there is to say of the subject
    disposition T what was done
    decided_by T who decided
    until_at I date, of what is deferred
    until_text T the same, as written
    at_time I when
    alive I 1: it still holds; see summaries.ALIVE
    """),
    ("record", "place"),
    (("kind", "alive", "rank", "site"), ("site", "alive")),
)
