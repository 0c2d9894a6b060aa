"""Every table as CSV, one file each, in a folder."""

from __future__ import annotations

from pathlib import Path

from commission.desk.export import export_csv
from commission.desk.index import Index
from commission.desk.tables import TABLES
from commission.errors import Problem, RecordError
from commission.visit.disk import reason_of


def export_all_csv(index: Index, folder: Path) -> dict[str, int]:
    """Write every table into a folder; returns how many rows each has.

    Raises
    ------
    RecordError
        If it cannot be written.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        wrong = f"is no folder and cannot be made: {reason_of(error)}"
        raise RecordError([Problem("export", "--to", str(folder), wrong, "a new folder")]) from None
    return {table.name: export_csv(index, table.name, folder / f"{table.name}.csv") for table in TABLES}
