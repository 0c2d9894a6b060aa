"""The index of ten thousand records in a moment: the rows of five real sites, laid down again and again.

Fourteen records are written, read and made into rows as always; their rows are then copied inside the index,
each time for five other sites of which no file is there. What is made of many records (newest, what still
holds, chains, sites, tallies) is worked out of all of them as after any update.
"""

from __future__ import annotations

import sqlite3
from pathlib import Path
from typing import Final

from commission.desk.engines import sqlite as store
from commission.desk.index import Index
from commission.desk.scan import Changes
from commission.desk.tables import OF_A_RECORD
from tests.desk.small_fleet import NAMES, Made, small_fleet

COPIES: Final = 715
"""Times that each of the five sites is there, the real ones among them."""
SITES: Final = COPIES * len(NAMES)
RECORDS: Final = 14 * COPIES
OTHER: Final = "Idris Vale"
"""Technician of every second copy, with a meter of his own for each five sites."""
BAD_METER: Final = "M-7"
OFF: Final = 0.004
"""Share by which that one reads too much."""
_STEP: Final = 100
"""Numbers of records from one copy to the next."""

_OWN: Final = {
    "record": f"record + {_STEP} * c_n", "site": "site || '-' || c_n", "site_name": "site_name || ' ' || c_n",
    "visit": "visit || '-' || c_n", "path": "'n' || c_n || '/' || path", "words": "words || ' n' || c_n",
    "digest": "digest || c_n", "first_digest": "first_digest || c_n", "last_digest": "last_digest || c_n",
    "previous": "CASE WHEN previous = '' THEN '' ELSE previous || c_n END",
}  # fmt: skip
"""What is otherwise in each copy, by the name of the column."""
_PEOPLE: Final = {"technician": "c_who", "technician_key": "c_key", "signed_by": "c_who"}
_METER: Final = {
    "meter": "c_meter", "serial": "c_meter", "deviation": "deviation + c_off * 54.4 / 0.2 * placed",
}  # fmt: skip
_VALUE: Final = {"value": "value * (1.0 + c_off)"}
_BESIDE: Final = {"record": _PEOPLE, "instrument": _METER, "reading": _VALUE}


class ManySites(Index):
    """The index of many sites; no file of theirs has changed."""

    def changes(self) -> Changes:
        """Return that nothing changed."""
        return Changes((), (), RECORDS)


def many_sites(folder: Path) -> Made:
    """Make the records of five sites in a folder, and the index of ten thousand records beside it."""
    made = small_fleet(folder)
    with Index(opening(made).path, [made.folder]) as index:
        index.update(processes=1)
    opened = sqlite3.connect(opening(made).path, isolation_level=None)
    with store.transaction(opened):
        opened.execute("CREATE TEMP TABLE own AS SELECT record FROM record")
        opened.execute("CREATE TEMP TABLE copy (c_n, c_who, c_key, c_meter, c_off)")
        opened.executemany("INSERT INTO copy VALUES (?, ?, ?, ?, ?)", map(_copy, range(1, COPIES)))
        for table in OF_A_RECORD:
            otherwise = _OWN | _BESIDE.get(table.name, {})
            columns = ", ".join(otherwise.get(name, name) for name in table.names)
            own = f"(SELECT * FROM {table.name} WHERE record IN (SELECT record FROM own))"
            opened.execute(f"INSERT INTO {table.name} SELECT {columns} FROM {own} CROSS JOIN copy")
        opened.execute("UPDATE search SET words = words || ' n0' WHERE record IN (SELECT record FROM own)")
        store.touch(opened, [row[0] for row in opened.execute("SELECT DISTINCT site FROM record")])
    store.summarise(opened)
    opened.close()
    return made


def opening(made: Made) -> Index:
    """Return the index of the many sites, not opened yet."""
    return ManySites(made.folder.parent / "many.sqlite", [made.folder])


def _copy(copy: int) -> tuple[int, str, str, str, float]:
    """Return what is otherwise in a copy: number, technician, the name as compared, meter, error."""
    person, meter = OTHER if copy % 2 else "Runa Feld", f"M-{copy % 10}"
    return copy, person, person.replace(" ", "").casefold(), meter, OFF if meter == BAD_METER else 0.0
