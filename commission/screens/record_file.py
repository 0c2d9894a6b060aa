"""Signing a visit and writing its record into a folder, in an order in which nothing is lost."""

from __future__ import annotations

import os
import sys
from datetime import datetime
from pathlib import Path

from commission.errors import EntryError
from commission.records.verify import verify
from commission.records.write import write_record
from commission.visit.session import OpenVisit
from commission.visit.shelf import visits_root
from commission.visit.types import SignedAs


def usual_folder(root: Path) -> Path:
    """Return where a record goes unless told otherwise: here, or beside the visits where these were moved."""
    not_moved = {name: text for name, text in os.environ.items() if name != "COMMISSION_VISITS"}
    usual = visits_root(not_moved, sys.platform, Path.home())
    return Path.cwd() if root == usual else root.resolve().parent


def folder_of(typed: str) -> Path:
    """Return the folder that was typed, made if it is not there.

    Raises
    ------
    EntryError
        If a record could not be written into it. That is asked before the visit is signed, since a signed
        visit cannot be changed.
    """
    if not typed:
        raise EntryError("into which folder? '.' is the one in which the program was started")
    folder = Path(typed).expanduser()
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise EntryError(f"{folder} is no folder and cannot be made: {error.strerror or error}") from None
    if not os.access(folder, os.W_OK):
        raise EntryError(f"{folder} cannot be written to; another folder is wanted")
    return folder.resolve()


def sign_and_write(
    visit: OpenVisit, *, name: str, signed_as: SignedAs, folder: str, now: datetime
) -> tuple[str, ...]:
    """Sign a visit, write its record, read it back, and return that in words.

    Raises
    ------
    CommissionError
        If it cannot be signed, or the record cannot be written.
    """
    where = folder_of(folder)
    visit.sign_off(name, signed_as, now)
    return write_and_verify(visit, where)


def write_and_verify(visit: OpenVisit, folder: Path) -> tuple[str, ...]:
    """Write the record of a signed visit, read it back from the disk, and return that in words.

    Raises
    ------
    RecordError
        If it cannot be written or read back.
    """
    path = write_record(folder, visit.visit, visit.plant, visit.sheet)
    read = verify(path)
    stands = "read back and intact" if read.intact else f"{read.state}: {'; '.join(read.reasons)}"
    return path.name, f"in {path.parent}", read.digest, stands
