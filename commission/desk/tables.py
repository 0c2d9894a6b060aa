"""The one definition of rows: every table and column of the desk, with what it means.

The embedded index, the Parquet files and the PostgreSQL database are all made from :data:`TABLES`, and the
queries of :mod:`commission.desk.queries` are asked of each of them. Times are seconds since 1970 in UTC, and
beside them, where they are shown, the local text. Yes and no are 1 and 0. What a record does not tell is null
in a number, and empty in a text.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final, Literal, TypeAlias

Kind: TypeAlias = Literal["text", "integer", "real"]
Row: TypeAlias = tuple[Any, ...]

SCHEMA: Final = 2
"""Raised with every change of what is below or of how rows are made; an index of another is made anew."""
NOT_CHECKED: Final = "not checked yet"
"""State of a record that only the fast reader has seen; nothing is called valid by that."""


@dataclass(frozen=True, slots=True)
class Column:
    """One column."""

    name: str
    kind: Kind
    meaning: str


@dataclass(frozen=True, slots=True)
class Table:
    """One table."""

    name: str
    meaning: str
    columns: tuple[Column, ...]
    key: tuple[str, ...] = ()
    indexes: tuple[tuple[str, ...], ...] = ()
    many: bool = False
    """So many rows that SQLite had better append them and sort their keys once."""
    made: Literal["of a record", "of a point", "of all"] = "of a record"
    """From one record; a name that records share; from the rows of many records (``summaries``)."""

    @property
    def names(self) -> tuple[str, ...]:
        """Return the names of the columns."""
        return tuple(column.name for column in self.columns)

    def row(self, values: dict[str, Any]) -> Row:
        """Return a row in the order of the columns; what is not given is null or empty.

        Raises
        ------
        KeyError
            If a value is of no column.
        """
        blank = _blank(self)
        made = blank | values
        if len(made) != len(blank):
            raise KeyError(f"{self.name} has no {', '.join(sorted(values.keys() - blank.keys()))}")
        return tuple(made.values())


_BLANKS: Final[dict[str, dict[str, Any]]] = {}
"""What a row of a table is without values; many rows are made."""


def _blank(table: Table) -> dict[str, Any]:
    found = _BLANKS.get(table.name)
    if found is None:
        found = {column.name: "" if column.kind == "text" else None for column in table.columns}
        _BLANKS[table.name] = found
    return found


def _columns(text: str) -> tuple[Column, ...]:
    """Read columns written as ``name kind meaning``, one a line."""
    kinds: dict[str, Kind] = {"T": "text", "I": "integer", "R": "real"}
    rows = (line.split(None, 2) for line in text.strip().splitlines())
    return tuple(Column(name, kinds[kind], meaning) for name, kind, meaning in rows)


RECORD: Final = Table(
    "record",
    "one file, with what is asked of it most",
    _columns("""
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
    deferred I put off: readings, findings, steps
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
    _columns("""
    record I file
    site T id of the site
    words T site, place, people, serial numbers, notes, comments: each word once, small letters
    """),
    ("record",),
)
READING: Final = Table(
    "reading",
    "one reading as entered, corrected ones too",
    _columns("""
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
    _columns("""
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
    _columns("""
    record I file
    place I place in the file
    device T id of the device
    setting T id of the setting
    input T generator or utility, where it is of an input
    recommended R number, in the device's unit and basis
    recommended_text T where it is a word
    unit T unit
    as_found R number as found
    as_found_text T as typed, or a word
    as_left R number as left; of a service visit also as the visit before left it
    as_left_text T as typed, or a word
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
    _columns("""
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
    _columns("""
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
    _columns("""
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
    _columns("""
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
    _columns("""
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
    _columns("""
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
    _columns("""
    record I file
    seal I place of the seal
    place I place among its comments
    step T step; empty: the whole record
    parts T ids joined by +
    says T text
    """),
    ("record", "seal", "place"),
)
DUE: Final = Table(
    "due",
    "when an interval that a visit covered is due again",
    _columns("""
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
    _columns("""
    record I file
    place I place among those of the record
    site T id of the site
    kind T one of CONCERNS
    rank I 0 is worst
    subject T key of the reading, id of the finding, device and setting, step
    point I of a reading
    says T in words
    disposition T what was done
    decided_by T who decided
    until_at I date, of what is deferred
    until_text T the same, as written
    at_time I when
    alive I 1: it still holds: the record is the newest, or nothing newer was read or put off there
    """),
    ("record", "place"),
    (("kind", "alive", "rank", "site"), ("site", "alive")),
)
LINK: Final = Table(
    "link",
    "what is odd about a record's place in the chain of its site",
    _columns("""
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
    _columns("""
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
    broken I records that are changed, incomplete or malformed
    gaps I gaps in the chain
    unsigned I records without a signature
    waiting I signed and neither countersigned nor returned
    waiting_since I the earliest signature of them
    returned I returned, and nothing newer of that visit
    stopped I readings that stop work
    undecided I failed readings about which nothing was done
    accepted I failed readings that were accepted
    accepted_findings I findings that stop or have to be mended, and were accepted
    deferred I put off and not yet made up
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
    _columns("""
    kind T battery profile, firmware, device, setting, instrument
    name T of a firmware the device's class, of a setting its id, of an instrument its kind
    value T as text
    number R as number, where it is one
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
    _columns("""
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

TABLES: Final = (
    RECORD, SEARCH, READING, POINT, SETTING, FINDING, DISPOSITION, INSTRUMENT, DEVICE, PERSON, SEAL, COMMENT,
    DUE, CONCERN, LINK, SITE, HELD, TALLY,
)  # fmt: skip
BY_NAME: Final = {table.name: table for table in TABLES}
OF_A_RECORD: Final = tuple(table for table in TABLES if table.made == "of a record")

CONCERNS: Final[dict[str, str]] = {
    "stops work": "a reading that stops work",
    "finding open": "a finding that stops or has to be mended, and is neither mended nor accepted",
    "reading failed": "a reading out of band about which nothing was done",
    "reading accepted": "a reading out of band that was accepted",
    "finding accepted": "a finding that stops or has to be mended, and was accepted",
    "put off": "a reading, finding or step that was put off",
    "hold point": "a hold point that a person released",
    "drift": "a reading that went far from its baseline or last value",
    "setting moved": "a setting found otherwise than the visit before left it",
    "setting differs": "a setting left otherwise than recommended",
    "overturned": "a correction by which a failed reading passed",
    "corrected late": "a correction made long after the entry",
    "typed fast": "readings typed faster than they can be measured",
    "meter expired": "an instrument past its calibration date",
    "plant changed": "the site file was changed during the visit",
    "not applicable": "a step that was said not to apply",
}
"""What a supervisor looks at first, worst first."""
RANK: Final = {kind: place for place, kind in enumerate(CONCERNS)}


# the same tables in each engine

Engine: TypeAlias = Literal["sqlite", "duckdb", "postgres"]
_TYPES: Final[dict[Engine, dict[Kind, str]]] = {
    "sqlite": {"text": "TEXT", "integer": "INTEGER", "real": "REAL"},
    "duckdb": {"text": "VARCHAR", "integer": "BIGINT", "real": "DOUBLE"},
    "postgres": {"text": 'TEXT COLLATE "C"', "integer": "BIGINT", "real": "DOUBLE PRECISION"},
}


def create(table: Table, engine: Engine) -> str:
    """Return the statement that makes a table."""
    types = _TYPES[engine]
    lines = [f"{column.name} {types[column.kind]}" for column in table.columns]
    if table.key and not (table.many and engine == "sqlite"):
        lines.append(f"PRIMARY KEY ({', '.join(table.key)})")
    rowid = " WITHOUT ROWID" if engine == "sqlite" and len(table.key) > 1 and not table.many else ""
    return f"CREATE TABLE {table.name} ({', '.join(lines)}){rowid}"


def create_indexes(table: Table, engine: Engine) -> tuple[str, ...]:
    """Return the statements that make the indexes of a table beside its key."""
    if table.many and engine == "sqlite":
        return (f"CREATE INDEX {table.name}_by_{table.key[0]} ON {table.name} ({table.key[0]})",)
    return tuple(
        f"CREATE INDEX {table.name}_by_{'_'.join(columns)} ON {table.name} ({', '.join(columns)})"
        for columns in table.indexes
    )


def insert(table: Table) -> str:
    """Return the statement that puts a row into a table of SQLite or DuckDB."""
    return f"INSERT INTO {table.name} VALUES ({', '.join('?' * len(table.columns))})"  # noqa: S608 - our own names
