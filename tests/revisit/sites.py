"""A site that was commissioned and signed, its record beside its file."""

from __future__ import annotations

import shutil
from collections.abc import Mapping
from datetime import datetime
from functools import cache
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory

import pytest

from commission import __version__
from commission.checklist.types import Ask
from commission.plant.files import load_plant
from commission.plant.places import data_folder
from commission.records.write import write_record
from commission.revisit.offer import Offer, Wanted, offer_of
from commission.visit.session import OpenVisit
from commission.visit.shelf import Holder
from commission.visit.types import Accuracy, Instrument, Person
from tests import technician
from tests.technician import SUPERVISOR, TECHNICIAN, Clock, begin, fresh_kit, settle, sign, walk

BEACON = "northspar-beacon"
COMMISSIONED = datetime.fromisoformat("2025-05-12T08:00:00+00:00")
LATER = datetime.fromisoformat("2025-11-20T08:00:00+00:00")
NOTE = "The hatch sticks, lift and pull.\nOne fan is noisy."


def commissioned(folder: Path) -> tuple[Path, Path]:
    """Put a site file and the signed record of its commissioning into a folder; returns both paths."""
    site = Path(shutil.copy(data_folder("sample_sites") / f"{BEACON}.toml", folder / f"{BEACON}.toml"))
    name, content = _record()
    record = folder / name
    record.write_bytes(content)
    return site, record


def kit_of(year: int) -> tuple[Instrument, ...]:
    """Return a kit that is in calibration in a year."""
    told = {"calibrated": f"{year}-01-05", "due": f"{year + 1}-01-05"}
    return tuple(one.model_copy(update=told) for one in fresh_kit())


@cache
def _record() -> tuple[str, bytes]:
    clock = Clock(COMMISSIONED)
    plant = load_plant(data_folder("sample_sites") / f"{BEACON}.toml").plant
    with TemporaryDirectory() as folder, begin(Path(folder) / "visits", plant, clock) as visit:
        for instrument in kit_of(2025):
            visit.add_instrument(instrument, clock())
        walk(visit, clock)
        settle(visit, clock)
        visit.leave(clock(), next_technician=NOTE, spares="one 30 A fuse", codes_kept="harbour office")
        sign(visit, clock)
        path = write_record(Path(folder), visit.visit, visit.plant, visit.sheet)
        return path.name, path.read_bytes()


def begun_service(
    root: Path, offer: Offer, wanted: Wanted, clock: Clock, year: int = 2026, visit_id: int = 3
) -> OpenVisit:
    """Begin a service visit of what is offered, with the technician and a kit that is in calibration."""
    visit = OpenVisit.start(
        root / "visits",
        offer.plant,
        offer.prepare,
        kind="service",
        program=__version__,
        now=clock(),
        holder=Holder(1, "bench", "tester"),
        random=Random(visit_id),
        service=offer.service(wanted),
    )
    visit.add_person(Person(name=TECHNICIAN, role="technician", licence="E-1042"), clock())
    for instrument in kit_of(year):
        visit.add_instrument(instrument, clock())
    return visit


# a plant that was visited before, with readings of its own


def micro_ohmmeter(year: int) -> Instrument:
    """Return a meter of the kit that tells micro-ohms, as the step on links asks for."""
    usual = next(one for one in kit_of(year) if one.kind == "low-ohm meter")
    micro = Accuracy(unit="Ω", up_to=600e-6, percent=0.5, digits=2, resolution=1e-7)
    return usual.model_copy(update={"ranges": (micro, *usual.ranges)})


def visited_twice(folder: Path, first: Mapping[str, str], second: Mapping[str, str]) -> Path:
    """Put a site file with the records of its commissioning and of a service visit after it into a folder.

    Parameters
    ----------
    first, second
        What was typed at each visit, by the id of the reading; everything else as it should be.
    """
    site = Path(shutil.copy(data_folder("sample_sites") / f"{BEACON}.toml", folder / f"{BEACON}.toml"))
    plant, clock = load_plant(site).plant, Clock(COMMISSIONED)
    with begin(folder / "visits", plant, clock) as visit:
        _done(visit, clock, first, folder)
    offer, _ = offer_of(site, today=LATER.date())
    assert offer is not None
    wanted = Wanted(("yearly", "two-yearly"))
    with begun_service(folder, offer, wanted, Clock(LATER), 2025) as visit:
        visit.add_person(Person(name=SUPERVISOR, role="supervisor", licence="S-77"), LATER)
        _done(visit, Clock(LATER), second, folder)
    return site


def _done(visit: OpenVisit, clock: Clock, told: Mapping[str, str], folder: Path) -> None:
    """Walk a visit, type what is told, sign it and write its record."""
    usual = technician.typed

    def typed(visit: OpenVisit, ask: Ask, now: datetime) -> str:
        return told.get(ask.key.step) or usual(visit, ask, now)

    for instrument in (*kit_of(2025), micro_ohmmeter(2025)):
        visit.add_instrument(instrument, clock())
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(technician, "typed", typed)
        walk(visit, clock)
    settle(visit, clock)
    sign(visit, clock)
    write_record(folder, visit.visit, visit.plant, visit.sheet)
