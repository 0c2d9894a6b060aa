"""Where the records of a site are: in the folder that is named, beside the site file, or the usual place."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from commission.errors import RecordError
from commission.records.earlier import SiteRecords, site_records


def record_folders(site_file: Path, named: Path | None, usual: Path) -> tuple[Path, ...]:
    """Return where records of a site are looked for, in this order.

    Parameters
    ----------
    named
        The folder, or a record, that a person named; then nothing else is looked into.
    usual
        Where sign-off offers to write a record: the folder in which the program was started.
    """
    if named is not None:
        return (named,)
    return tuple(dict.fromkeys(folder.absolute() for folder in (site_file.parent, usual)))


def records_in(folders: Iterable[Path], site: str) -> tuple[SiteRecords | None, tuple[str, ...]]:
    """Return the records of a site, of the folder whose last visit is the newest, and what is wrong else.

    None where there are none; what is wrong then says why files that look like records do not serve.
    """
    found: list[SiteRecords] = []
    said: list[str] = []
    for folder in folders:
        if folder.is_dir() and next(folder.glob(f"{site}_*.toml"), None) is None:
            continue
        try:
            found.append(site_records(folder, site))
        except RecordError as error:
            said.append(str(error))
    newest = max(found, key=lambda one: one.newest.record.visit.started_at, default=None)
    return newest, tuple(said)
