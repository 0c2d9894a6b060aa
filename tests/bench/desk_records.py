"""Invented records for measuring the desk: small ones of 42 readings, and copies of a real one."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random
from typing import Final

from commission.plant.places import site_path
from commission.records.write import write_record
from tests import technician

VISITS: Final = 4
"""Of each site, half a year apart."""
_FOLDERS: Final = 256
_BEGUN: Final = datetime(2024, 3, 1, 9, tzinfo=UTC)
_CHEMISTRIES: Final = ("lead", "lithium", "nickel")
_NAMES: Final = ("Runa Feld", "Idris Vale", "Mara Holt", "Tove Lind", "Jon Esker", "Ansel Reyd", "Ilka Thorn")
_SUPERVISOR: Final = "Elin Corse"
_BAD_METER: Final = "S-0007"

_HEAD: Final = """format = 2

[header]
program = "0.2.0"
visit = "{visit}"
site = "{site}"
kind = "{kind}"
rules = "iec-230"
signed = true
previous = "{previous}"

[header.counts]
readings = 42
settings = 3
findings = 1
notes = 0
instruments = 2
dispositions = {disposed}

[visit]
id = "{visit}"
site = "{site}"
kind = "{kind}"
started_at = {at}
people = [{{ name = "{name}", role = "technician" }}]
instruments = [
    {{ id = "meter-1", kind = "dc voltmeter", name = "meter 1", serial = "{meter}", due = "2031-01-01" }},
    {{ id = "clamp-1", kind = "dc clamp", name = "clamp 1", serial = "C{meter}", due = "2031-01-01" }},
]
devices = [{{ part = "inverter-1", serial = "{site}", firmware = "{firmware}" }}]
{dispositions}
[plant.site.site]
id = "{site}"
name = "{title}"
place = "{where}"

[plant.site.bank]
profile = "{profile}"
capacity = 400.0
strings = [{{ id = "string-a" }}]

[plant.battery]
family = "{chemistry}"

[[plant.site.inverter_chargers]]
id = "inverter-1"
profile = "inverter-48v-{device}"

[[setting]]
device = "inverter-1"
setting = "absorption_voltage"
recommended = 57.6
left = {absorption}
left_text = "{absorption}"
differs = {differs}

[[setting]]
device = "inverter-1"
setting = "float_voltage"
recommended = 54.0
left = 54.0
left_text = "54.0"

[[finding]]
id = "drop-inverter:run-main"
kind = "advise"
text = "drop of 2.4 % from the bank to the inverter"
"""
_READING: Final = """
[[reading]]
step = "{step}"
parts = ["{part}"]
{index}kind = "number"
value = {value}
measured_at = {measured}
instrument = "{instrument}"
judgement = {{ verdict = "{verdict}", low = {low}, high = {high} }}
"""
_FOOT: Final = """
[sign_off]
name = "{name}"
role = "technician"
signed_as = "complete"
at = {at}

[[seal]]
kind = "digest"
says = "signed"
name = "{name}"
role = "technician"
at = {at}
digest = "sha256:{digest}"
"""
_ANSWER: Final = """
[[seal]]
kind = "digest"
says = "countersigned"
name = "Elin Corse"
role = "supervisor"
at = {at}
digest = "sha256:{digest}"
"""
_STEPS: Final = (
    ("cell.volts", "bank", 24, 12.9, 13.5, "V", "meter-1"),
    ("joint.drop", "run-1", 10, 0.1, 0.5, "mV", "meter-1"),
    ("load.amps", "inv-1", 8, 40.0, 60.0, "A", "clamp-1"),
)


def small_record(number: int) -> tuple[str, str]:
    """Return the name and text of one of many records: sites of four visits, one bad meter, few failures."""
    site, visit = divmod(number, VISITS)
    chance = Random(number)
    home = Random(site)
    begun = _BEGUN + timedelta(days=182 * visit + home.randrange(170), minutes=home.randrange(400))
    person = home.randrange(len(_NAMES) * 20)
    name = f"{_NAMES[person % len(_NAMES)]} {'abcdefghijklmnopqrstuvwxyz'[person // len(_NAMES)].upper()}."
    ident = f"site-{site:06d}"
    facts = {
        "visit": f"{ident}-v{visit}", "site": ident, "kind": "service" if visit else "commissioning",
        "previous": f"sha256:{_digest(number - 1)}" if visit else "", "at": begun.isoformat(" "),
        "name": name, "meter": f"S-{person:04d}", "title": f"Station {site}",
        "where": f"valley {site % 997}", "profile": ("agm", "lfp", "nickel-cadmium")[site % 3],
        "chemistry": _CHEMISTRIES[site % 3], "device": (2000, 3000, 5000)[site % 3],
        "firmware": f"2.{site % 7}", "absorption": 57.8 if site % 40 == 0 else 57.6,
        "differs": str(site % 40 == 0).lower(), "digest": _digest(number),
    }  # fmt: skip
    readings = list(_readings(chance, begun, bad=facts["meter"] == _BAD_METER))
    failed = [key for key, text in readings if '"fail"' in text]
    disposed = (
        [
            f'\n[[visit.dispositions]]\nsubject = "{key}"\ndisposition = "accepted"\n'
            f'reason = "seen"\nby = "{_SUPERVISOR}"\n'
            for key in failed
        ]
        if site % 2
        else []
    )
    text = _HEAD.format(**facts, disposed=len(disposed), dispositions="".join(disposed))
    text += "".join(text for _, text in readings) + _FOOT.format(**facts)
    if visit < VISITS - 1:
        text += _ANSWER.format(at=(begun + timedelta(days=3)).isoformat(" "), digest=_digest(number))
    return f"{ident}_{begun:%Y-%m-%d}_{facts['kind']}_v{visit}.toml", text


def _digest(number: int) -> str:
    return f"{number:064x}"


def _readings(chance: Random, begun: datetime, *, bad: bool) -> Iterator[tuple[str, str]]:
    minute = 0
    for step, part, count, low, high, _unit, instrument in _STEPS:
        for index in range(count):
            minute += 1
            value = chance.uniform(low + 0.2 * (high - low), high - 0.2 * (high - low))
            value += 0.2 * (high - low) * (bad and instrument == "meter-1")
            if chance.random() < 0.0011:
                value = high + 0.3 * (high - low)
            verdict = "pass" if low <= value <= high else "fail"
            key = f"{step}@{part}" + (f"#{index}" if index else "")
            yield key, _READING.format(
                step=step, part=part, index=f"index = {index}\n" if index else "", value=round(value, 3),
                instrument=instrument, verdict=verdict, low=low, high=high,
                measured=f"{begun + timedelta(minutes=minute):%Y-%m-%dT%H:%M:%S}Z",
            )  # fmt: skip


def make_small(folder: Path, count: int) -> int:
    """Make many small records in 256 folders; return their bytes together."""
    size = 0
    for place in range(_FOLDERS):
        (folder / f"{place:03d}").mkdir(parents=True, exist_ok=True)
    for number in range(count):
        name, text = small_record(number)
        (folder / f"{number // VISITS % _FOLDERS:03d}" / name).write_text(
            text, encoding="utf-8", newline="\n"
        )
        size += len(text)
    return size


def real_record(folder: Path) -> Path:
    """Walk a whole visit of a sample site as a technician would, and return its record."""
    from commission.plant.files import load_plant

    clock = technician.Clock(_BEGUN)
    plant = load_plant(site_path(Path("tarnwold-cabin"))).plant
    with technician.begin(folder / "visits", plant, clock) as visit:
        technician.walk(visit, clock)
        return write_record(folder, visit.visit, plant, visit.sheet)


def make_real(folder: Path, count: int, real: Path) -> int:
    """Make copies of a real record for as many sites; their seals do not hold, which only ``verify`` sees."""
    text = real.read_text(encoding="utf-8")
    folder.mkdir(parents=True, exist_ok=True)
    size = 0
    for number in range(count):
        made = text.replace("tarnwold-cabin", f"cabin-{number:06d}")
        path = folder / f"cabin-{number:06d}_2024-03-01_commissioning_abcd.toml"
        path.write_text(made, encoding="utf-8", newline="\n")
        size += len(made)
    return size
