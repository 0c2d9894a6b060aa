"""A few sites with records of several years, made in a moment: what the tests of the desk look at."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from commission.desk.index import Index
from commission.plant.plant import Plant
from commission.records.answer import answer_record
from commission.records.verify import verify
from commission.records.write import write_record
from commission.visit.types import Disposed, Judgement, Reading, Visit
from tests.builders import plant as built
from tests.records.sample import SHEET, signed
from tests.visit.walks import NOON

NAMES = ("Dunwether hut", "Marrowfell clinic", "Tarnwold cabin", "Ulenfell mill", "Yarnecroft barn")
TODAY = NOON + timedelta(days=30)
"""A month after the newest visit."""


@dataclass(frozen=True)
class Made:
    """What was made: the folder, and the records of each site, oldest first."""

    folder: Path
    records: dict[str, list[Path]]

    def opening(self) -> Index:
        """Open the index of it."""
        return Index(self.folder.parent / "index" / "desk.sqlite", [self.folder])


@cache
def _visit() -> Visit:
    with TemporaryDirectory() as folder:
        return signed(Path(folder))


def site_id(place: int) -> str:
    """Return the id of a site by its place."""
    return f"site-{place}"


def plant_of(place: int) -> Plant:
    """Return the plant of a site."""
    name = NAMES[place] if place < len(NAMES) else f"Site number {place}"
    return built(
        inverters=({"id": "inverter-1", "profile": "inverter-48v-230-5000"},),
        place={"rules": "iec-230", "units": "metric", "id": site_id(place), "name": name},
    )


def visit_of(place: int, year: int, *, value: float = 54.4, fails: str = "") -> Visit:
    """Return a visit of a site, so many years before the newest.

    Parameters
    ----------
    value
        The voltage that was read; its band is 54.2 to 54.6 V.
    fails
        What was done about it where it is out of band: ``accepted``, or ``nothing``.
    """
    base, at = _visit(), NOON - timedelta(days=365 * year)
    first, second = base.readings
    judged = Judgement(verdict="fail" if fails else "pass", low=54.2, high=54.6, unit="V")
    readings = (_moved(first, at, value, judged), _moved(second, at, None, second.judgement))
    made = list(base.dispositions)
    if fails == "accepted":
        key, when = str(first.key), at + timedelta(minutes=6)
        made.append(Disposed(subject=key, disposition="accepted", reason="old", by="Elin Corse", at=when))
    assert base.sign_off is not None
    return base.model_copy(
        update={
            "id": f"v{place}-{year}",
            "site": site_id(place),
            "started_at": at,
            "readings": readings,
            "dispositions": tuple(made),
            "sign_off": base.sign_off.model_copy(update={"at": at + timedelta(minutes=9)}),
        }
    )


def _moved(reading: Reading, at: datetime, value: float | None, judged: Judgement | None) -> Reading:
    told = {} if value is None else {"value": value, "text": f"{value:.2f}"}
    when = {"measured_at": at + timedelta(minutes=1), "entered_at": at + timedelta(minutes=2)}
    return reading.model_copy(update=told | when | {"judgement": judged})


def small_fleet(folder: Path) -> Made:
    """Make five sites: accepted out of band, nobody decided, countersigned, a gap, nothing."""
    made = Made(folder / "records", {})
    for site, files in _small_fleet().items():
        (made.folder / site).mkdir(parents=True)
        made.records[site] = [made.folder / site / name for name, _ in files]
        for name, content in files:
            (made.folder / site / name).write_bytes(content)
    return made


@cache
def _small_fleet() -> dict[str, list[tuple[str, bytes]]]:
    """Return the names and contents of the records of each site, made once: sealing them takes a while."""
    with TemporaryDirectory() as folder:
        made = _made(Path(folder), 3)
        return {
            site: [(path.name, path.read_bytes()) for path in paths] for site, paths in made.records.items()
        }


def _made(folder: Path, years: int) -> Made:
    made = Made(folder / "records", {})
    for place in range(len(NAMES)):
        plant, paths, before = plant_of(place), [], ""
        for year in reversed(range(years)):
            newest = year == 0
            fails = {0: "accepted", 1: "nothing"}.get(place, "") if newest else ""
            visit = visit_of(place, year, value=54.7 if fails else 54.3 + 0.05 * (years - year), fails=fails)
            path = write_record(made.folder / site_id(place), visit, plant, SHEET, previous=before)
            before = verify(path).digest
            paths.append(path)
        made.records[site_id(place)] = paths
    last = made.records[site_id(2)][-1]
    answer_record(last, "countersigned", name="Elin Corse", role="supervisor", now=NOON + timedelta(days=2))
    made.records[site_id(3)].pop(1).unlink()
    return made
