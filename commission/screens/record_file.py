"""Signing a visit and writing its record into a folder, in an order in which nothing is lost."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from commission.errors import EntryError
from commission.records.chain import Before, gone_on_from, named_before, record_before
from commission.records.keys import SigningKey, fingerprint, open_key
from commission.records.types import VerifyResult
from commission.records.verify import verify
from commission.records.write import write_record
from commission.visit.session import OpenVisit
from commission.visit.types import SignedAs


@dataclass(frozen=True, slots=True)
class Told:
    """Where a record goes, with which key it is sealed, and behind which record it stands."""

    folder: str
    key: Path | None = None
    """File of the key; None signs by name and digest only."""
    passphrase: str = ""
    after: str = ""
    """File of the record before; where it is empty, the newest of the site in the folder."""


def usual_folder() -> Path:
    """Return where a record goes unless told otherwise: the folder in which the program was started."""
    return Path.cwd()


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
    visit: OpenVisit, *, name: str, signed_as: SignedAs, told: Told, now: datetime
) -> tuple[str, ...]:
    """Sign a visit, write its record, read it back, and return that in words.

    What can be refused is asked before the visit is signed: folder, key, attached files, the record before.

    Raises
    ------
    CommissionError
        If it cannot be signed, or the record cannot be written.
    """
    folder = folder_of(told.folder)
    key = _opened(told)
    if key is not None:
        _check_signer(visit, key, name)
    amiss = visit.attached_amiss()
    if amiss:
        raise EntryError("; ".join(amiss))
    before = _before(visit, told, folder)
    visit.sign_off(name, signed_as, now)
    return _written(visit, folder, key, before)


def write_again(visit: OpenVisit, told: Told) -> tuple[str, ...]:
    """Write the record of a signed visit, read it back from the disk, and return that in words.

    Raises
    ------
    CommissionError
        If the key is not the signer's, or the record cannot be written or read back.
    """
    folder = folder_of(told.folder)
    return _written(visit, folder, _opened(told), _before(visit, told, folder))


def _opened(told: Told) -> SigningKey | None:
    return None if told.key is None else open_key(told.key, told.passphrase)


def _check_signer(visit: OpenVisit, key: SigningKey, name: str) -> None:
    """Refuse a key that is not that of the technician who signs."""
    technicians = [one.name for one in visit.visit.people if one.role == "technician"]
    if key.role != "technician" or key.name not in technicians:
        known = ", ".join(technicians) or "none yet"
        raise EntryError(
            f"the key is that of {key.name}, {key.role}; technicians of this visit, as they are written "
            f"there: {known}. Take another key, none, or put the name right (people and instruments)"
        )
    if _plain(name) != _plain(key.name):
        raise EntryError(f"the key is that of {key.name}: that name confirms, or take another key")


def _plain(name: str) -> str:
    return " ".join(name.split()).casefold()


def _before(visit: OpenVisit, told: Told, folder: Path) -> Before:
    made = visit.visit
    if told.after:
        found = named_before(Path(told.after).expanduser(), made.site)
    else:
        found = record_before(folder, made.site, made.id)
    if made.service is None or found.visit == made.id:
        return found
    return gone_on_from(made.service, found, named=bool(told.after))


def _written(visit: OpenVisit, folder: Path, key: SigningKey | None, before: Before) -> tuple[str, ...]:
    path = write_record(
        folder,
        visit.visit,
        visit.plant,
        visit.sheet,
        previous=before.digest,
        key=key,
        attached=visit.attached_files(),
    )
    read = verify(path)
    stands = "read back and intact" if read.intact else f"{read.word}: {'; '.join(read.reasons)}"
    who = "signed without a key" if key is None else f"signed with the key {fingerprint(key.public)}"
    return path.name, f"in {path.parent}", read.digest, stands, who, *_beside(read, before)


def _beside(read: VerifyResult, before: Before) -> Iterator[str]:
    there = sum(one.state == "there" for one in read.attachments)
    if there:
        yield f"{there} attached file{'s' if there > 1 else ''} in the folder of its name beside it"
    yield f"follows {before.name}" if before.name else "the first record of this site in that folder"
    yield from before.passed_over
