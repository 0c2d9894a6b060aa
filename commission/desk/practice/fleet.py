"""Making a practice fleet: a folder of real records of invented sites, and the truth of it beside."""

from __future__ import annotations

import json
import multiprocessing
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import islice
from pathlib import Path
from random import Random
from typing import Any, Final

from commission.desk.practice.lives import (
    ANSWERED,
    HASTY,
    NEW_FIRMWARE,
    OFTEN,
    OLD_FIRMWARE,
    WRONG_FIRMWARE,
    YEAR,
    Crew,
    Life,
    Made,
    Plan,
    ageing_of,
    lived,
    tokens_of,
)
from commission.desk.practice.names import people, places
from commission.desk.practice.returns import returns_of
from commission.errors import Problem, RecordError
from commission.records.twins import last_digest, twin
from commission.visit.disk import reason_of

TRUTH: Final = "truth.json"
LIVES: Final = 60
"""Different lives of a large fleet; further sites are twins of these, at other places and on other days."""
BAD_METER: Final = ("dc voltmeter", 0.012)
"""The bad meter of the fleet: its kind, and the share by which it shows too much."""
_CREWS: Final = 6
"""Technicians of a fleet: the first has the bad meter, the second types too fast."""


@dataclass(frozen=True, slots=True)
class Fleet:
    """What was made."""

    folder: Path
    sites: int
    records: int
    bytes: int
    lives: int


@dataclass(frozen=True, slots=True)
class _Site:
    ident: str
    name: str
    place: str
    shift: timedelta


@dataclass(frozen=True, slots=True)
class _Task:
    folder: Path
    plan: Plan
    sites: tuple[_Site, ...]
    today: date


def make_fleet(  # noqa: PLR0913 - a fleet is described once, with everything named
    folder: Path,
    sites: int,
    years: int,
    seed: int,
    *,
    today: date,
    lives: int = LIVES,
    kinds: Sequence[str] = OFTEN,
    processes: int = 1,
    progress: Callable[[int, int], None] = lambda done, whole: None,
) -> Fleet:
    """Make a fleet of invented sites with a yearly visit each, in a folder of each site's own.

    The records are the program's own: written by its writer, sealed, chained. Up to ``lives`` sites each live
    a life of their own, every reading of it taken and judged by the program; further sites are twins of these
    at other places, on other days. The truth goes to ``truth.json``.

    Parameters
    ----------
    years
        Service visits of each site after its commissioning.
    seed
        The same seed, numbers and day make the same fleet, byte for byte.
    today
        The newest visits lie within the year before this day.
    kinds
        Kinds of plant, taken in turn; one that is named twice comes twice as often.
    progress
        Called with the number of sites made and of all.

    Raises
    ------
    RecordError
        If a number is not positive, or the folder is not empty or cannot be written.
    """
    _check(folder, sites, years, lives, processes)
    places_ = _places(sites, seed, years, today)
    plans = _plans(years, seed, min(lives, sites), kinds)
    tasks = [_Task(folder, plan, tuple(places_[one :: len(plans)]), today) for one, plan in enumerate(plans)]
    told: dict[str, Any] = {}
    meters: dict[str, Any] = {}
    records = written = done = 0
    for task, (site_truths, count, size) in zip(tasks, _done(tasks, min(processes, len(tasks))), strict=True):
        told |= site_truths
        meters |= _meter_of(task.plan.crew)
        records, written, done = records + count, written + size, done + len(task.sites)
        progress(done, sites)
    truth = {
        "seed": seed,
        "years": years,
        "today": today.isoformat(),
        "bad meters": meters,
        "hasty": sorted({task.plan.crew.name for task in tasks if task.plan.crew.pace == HASTY}),
        "firmware with a wrong setting": WRONG_FIRMWARE,
        "sites": dict(sorted(told.items())),
    }
    (folder / TRUTH).write_text(json.dumps(truth, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    return Fleet(folder, sites, records, written, len(tasks))


def _check(folder: Path, sites: int, years: int, lives: int, processes: int) -> None:
    for name, value in (("sites", sites), ("years", years), ("lives", lives), ("processes", processes)):
        if value < 1:
            raise RecordError(
                [Problem("practice fleet", name, str(value), "must be one or more", "such as 20")]
            )
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if any(folder.iterdir()):
            wrong = "is not empty: practice records are never put beside others"
            raise RecordError([Problem(str(folder), "folder", "", wrong, "an empty or a new folder")])
    except OSError as error:
        wrong = f"cannot be written: {reason_of(error)}"
        raise RecordError([Problem(str(folder), "folder", "", wrong, "a folder that can be")]) from None


def _meter_of(crew: Crew) -> dict[str, Any]:
    return {
        f"{crew.kit} {kind}": {"technician": crew.name, "kit": crew.kit, "kind": kind, "off": off}
        for kind, off in crew.meters.items()
    }


# plans


def _places(sites: int, seed: int, years: int, today: date) -> list[_Site]:
    random = Random(f"places {seed}")  # noqa: S311 - an exercise, not a secret
    return [_site(random, name, years, today) for name in islice(places(random), sites)]


def _plans(years: int, seed: int, lives: int, kinds: Sequence[str]) -> list[Plan]:
    random = Random(seed)  # noqa: S311 - an exercise, not a secret
    crews = _crews(random, min(_CREWS, lives))
    return [
        _plan(random, place, years, kinds[place % len(kinds)], crews[place % len(crews)])
        for place in range(lives)
    ]


def _crews(random: Random, count: int) -> list[Crew]:
    kind, off = BAD_METER
    names = islice(people(random), count)
    made = [Crew(name, f"K{place:02}") for place, name in enumerate(names, start=1)]
    made[0] = Crew(made[0].name, made[0].kit, {kind: off})  # type: ignore[dict-item] # one of the kinds
    if count > 1:
        made[1] = Crew(made[1].name, made[1].kit, pace=HASTY)
    return made


def _plan(random: Random, place: int, years: int, kind: str, crew: Crew) -> Plan:
    """Draw what happens in a life; the first ones between them have everything that can happen."""
    rare = place if place < 12 else random.randrange(40)
    missing = max(1, years - 1) if rare == 3 and years > 1 else 0
    last = years - (rare == 4)
    unsigned = rare == 5
    signed = [one for one in range(1, last + 1 - unsigned) if one != missing]
    return Plan(
        kind=kind,
        years=years,
        seed=random.randrange(2**32),
        crew=crew,
        replaced=max(1, years // 2) if rare == 2 else 0,
        missing=missing,
        skipped=rare == 4,
        unsigned=unsigned,
        firmware=WRONG_FIRMWARE
        if rare in {0, 6}
        else NEW_FIRMWARE
        if random.random() < 0.5
        else OLD_FIRMWARE,
        returns=returns_of(random, place, signed),
    )


def _site(random: Random, name: str, years: int, today: date) -> _Site:
    """Draw a place, and the day of its commissioning: its last visit lies within the year before today."""
    began = today - years * YEAR - timedelta(days=random.randrange(20, 345))
    return _Site(name.lower(), name, f"Upper {name}", began - date(2001, 4, 2))


# records


def _done(tasks: Sequence[_Task], processes: int) -> Iterator[tuple[dict[str, Any], int, int]]:
    if processes == 1:
        yield from map(_written, tasks)
        return
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(processes, mp_context=context) as pool:
        yield from pool.map(_written, tasks)


def _written(task: _Task) -> tuple[dict[str, Any], int, int]:
    """Live a life and write it at all of its sites; return their truths, and records and bytes written."""
    life = lived(task.plan)
    told, records, size = {}, 0, 0
    for site in task.sites:
        truth, count, length = _write_site(task, site, life, twin_of=task.sites[0])
        told[site.ident] = truth
        records, size = records + count, size + length
    return told, records, size


def _write_site(task: _Task, site: _Site, life: Life, *, twin_of: _Site) -> tuple[dict[str, Any], int, int]:
    plan, made, law = life
    folder = task.folder / site.ident
    folder.mkdir()
    tokens = tokens_of(plan.kind, site.ident, site.name, site.place)
    files, size = [], 0
    for one in made:
        content = twin(one.mould, tokens, site.shift)
        tokens[one.digest] = last_digest(content)
        if one.puts_right and one.on + ANSWERED + site.shift >= task.today:
            continue
        lost = bool(one.place) and one.place == plan.missing
        name = _name(one, site)
        if not lost:
            (folder / name).write_bytes(content)
            size += len(content)
        files.append({"file": name, "lost": lost, "on": f"{one.on + site.shift}", **one.truth, **_seals(one)})
    truth = _truth(plan, site, made, law["laws"]) | {"visits": _answered(files, made, site)}
    if site is not twin_of:
        truth["twin of"] = twin_of.ident
    return truth, len(files) - sum(file["lost"] for file in files), size


def _name(made: Made, site: _Site) -> str:
    return f"{site.ident}_{made.on + site.shift}_{made.kind}_{made.letters}.toml"


def _answered(files: list[dict[str, Any]], made: Sequence[Made], site: _Site) -> list[dict[str, Any]]:
    """Return what is true of visits, with who answers those that were returned: null where nobody yet."""
    there = {file["file"] for file in files}
    by = {letters: one for one in made if _name(one, site) in there for letters in one.answers}
    for file in files:
        if file["seals"][-1] == "returned":
            answer = by.get(file["file"].removesuffix(".toml").rpartition("_")[2])
            file["answered in"] = None if answer is None else _name(answer, site)
    return files


def _seals(made: Made) -> dict[str, Any]:
    return {"seals": [seal.says for seal in made.mould.seals], "puts right": made.puts_right}


def _truth(plan: Plan, site: _Site, made: Sequence[Made], laws: Sequence[dict[str, Any]]) -> dict[str, Any]:
    days = [one.on + site.shift for one in made if not one.puts_right]
    place, law = ageing_of(laws)[-1]
    ends = {
        what: None if years is None or years > 200 else (days[place] + years * YEAR).isoformat()
        for what, years in law.ends().items()
    }
    return {
        "kind": plan.kind,
        "name": site.name,
        "technician": plan.crew.name,
        "limits passed on": ends,
        "battery replaced on": days[plan.replaced].isoformat() if plan.replaced else None,
        "last visit skipped": plan.skipped,
        "last visit not signed": plan.unsigned,
        "laws": list(laws),
    }


def read_truth(folder: Path) -> dict[str, Any]:
    """Return the truth of a practice fleet.

    Raises
    ------
    RecordError
        If it cannot be read.
    """
    try:
        told: dict[str, Any] = json.loads((folder / TRUTH).read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        wrong = f"cannot be read: {error}"
        raise RecordError(
            [Problem(str(folder / TRUTH), "file", "", wrong, "a practice fleet's folder")]
        ) from None
    return told
