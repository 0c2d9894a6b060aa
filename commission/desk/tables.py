"""The one definition of rows: every table and column of the desk, with what it means.

The embedded index, the Parquet files and the PostgreSQL database are all made from :data:`TABLES`, and the
queries of :mod:`commission.desk.queries` are asked of each of them. Times are seconds since 1970 in UTC, and
beside them, where they are shown, the local text. Yes and no are 1 and 0. What a record does not tell is null
in a number, and empty in a text.
"""

from __future__ import annotations

from typing import Final

from commission.desk.tables_of_all import HELD, LINK, SITE, TALLY
from commission.desk.tables_of_record import (
    COMMENT,
    CONCERN,
    DEVICE,
    DISPOSITION,
    DUE,
    FINDING,
    INSTRUMENT,
    PERSON,
    POINT,
    READING,
    RECORD,
    SEAL,
    SEARCH,
    SETTING,
)

SCHEMA: Final = 10
"""Raised with every change of the tables or of how rows are made; an index of another is made anew."""
NOT_CHECKED: Final = "not checked yet"
"""State of a record that only the fast reader has seen; nothing is called valid by that."""

TABLES: Final = (
    RECORD, SEARCH, READING, POINT, SETTING, FINDING, DISPOSITION, INSTRUMENT, DEVICE, PERSON, SEAL, COMMENT,
    DUE, CONCERN, LINK, SITE, HELD, TALLY,
)  # fmt: skip
BY_NAME: Final = {table.name: table for table in TABLES}
OF_A_RECORD: Final = tuple(table for table in TABLES if table.made == "of a record")

CONCERNS: Final[dict[str, str]] = {
    "stops work": "a reading that stops work",
    "finding open": "a finding that stops or has to be mended, and is neither mended nor accepted",
    "returned": "a record that was returned, and nobody has answered",
    "reading failed": "a reading out of band that was not accepted; one that was put off stands there too",
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
