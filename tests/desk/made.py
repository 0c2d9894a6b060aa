"""Small records for the tests of the desk, made from a sample with some fields changed."""

from __future__ import annotations

import copy
import os
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Final

import tomli_w

from commission.desk.rows import Rows
from commission.desk.tables import BY_NAME
from commission.records.fast import strict_tables

SAMPLES: Final = Path(__file__).parent.parent / "records" / "samples"
BEGUN: Final = datetime(2025, 3, 1, 9, tzinfo=UTC)
NOW: Final = datetime(2026, 6, 1, 12, tzinfo=UTC)
_SAMPLE: Final = strict_tables((SAMPLES / "format-2-signed.toml").read_bytes())
TECHNICIANS: Final = ("Runa Feld", "Idris Vale", "Tove Lind")
METERS: Final = ("A-17", "B-20", "C-31")


def reading(
    step: str = "volts", value: float = 54.4, *, minute: int = 1, verdict: str = "pass", **more: Any
) -> dict[str, Any]:
    """Return a reading between 54.2 and 54.6 V."""
    at = more.pop("at", BEGUN + timedelta(minutes=minute))
    return {
        "step": step, "parts": ["string-a"], "index": 0, "kind": "number", "value": value, "text": f"{value}",
        "unit": "V", "measured_at": at, "entered_at": at, "instrument": "meter-1",
        "judgement": {"verdict": verdict, "low": 54.2, "high": 54.6},
    } | more  # fmt: skip


def record(site: str = "fell-hut", visit: int = 0, **changed: Any) -> dict[str, Any]:
    """Return the tables of a record.

    Parameters
    ----------
    visit
        Counted from 0, a year apart; later ones are services that name the one before.
    changed
        ``readings``, ``technician``, ``meter``, ``signed``, ``answer``, ``left``, ``due``, ``profile``,
        ``dispositions``.
    """
    data: dict[str, Any] = copy.deepcopy(
        {name: table for name, table in _SAMPLE.items() if name not in {"note", "finding"}}
    )
    begun = BEGUN + timedelta(days=365 * visit)
    name = changed.get("technician", TECHNICIANS[0])
    kind = "service" if visit else "commissioning"
    data["header"] |= {
        "site": site, "visit": f"{site}-v{visit}", "kind": kind,
        "previous": digest(site, visit - 1) if visit else "",
    }  # fmt: skip
    own = data["visit"]
    own |= {
        "id": f"{site}-v{visit}", "site": site, "kind": kind, "started_at": begun,
        "people": [{"name": name, "role": "technician"}], "dispositions": changed.get("dispositions", []),
    }  # fmt: skip
    if visit:
        own["service"] = {"due": changed.get("due", ["yearly"])}
    own["instruments"][0] |= {"serial": changed.get("meter", METERS[0]), "due": "2030-01-01"}
    data["plant"]["site"]["site"] |= {"id": site, "name": site.replace("-", " ").title()}
    data["plant"]["site"]["bank"]["profile"] = changed.get("profile", "agm")
    left = changed.get("left", 57.6)
    data["setting"] = [
        {"device": "inverter-1", "setting": "absorption_voltage", "recommended": 57.6, "unit": "V",
         "left": left, "left_text": f"{left}", "differs": left != 57.6, "reason": "owner's wish"}
    ]  # fmt: skip
    data["reading"] = changed.get("readings", [reading(at=begun + timedelta(minutes=1))])
    data["sign_off"] |= {"name": name, "at": begun + timedelta(hours=4)}
    signed = {"kind": "digest", "says": "signed", "name": name, "role": "technician",
              "at": begun + timedelta(hours=4), "digest": digest(site, visit)}  # fmt: skip
    data["seal"] = [signed]
    if not changed.get("signed", True):
        del data["sign_off"]
        data["seal"] = [{"kind": "digest", "says": "judged", "digest": digest(site, visit)}]
    if answer := changed.get("answer", ""):
        data["seal"].append(
            {"kind": "digest", "says": answer, "name": "Elin Corse", "role": "supervisor",
             "at": begun + timedelta(days=2), "digest": digest(site, visit, 1),
             "comments": [{"text": "torque again", "step": "volts"}]}
        )  # fmt: skip
    return data


def digest(site: str, visit: int, seal: int = 0) -> str:
    """Return a digest that no bytes have; what only ``verify`` sees."""
    return f"sha256:{site.encode().hex()[:40]:0<60}{visit:02d}{seal:02d}"


def write(folder: Path, data: dict[str, Any], name: str = "") -> Path:
    """Write a record into a folder, under the name that it should have."""
    header = data["header"]
    day = f"{data['visit']['started_at']:%Y-%m-%d}"
    path = folder / (name or f"{header['site']}_{day}_{header['kind']}_{header['visit'][-2:]}.toml")
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(tomli_w.dumps(data).encode())
    return path


def replaced_unseen(path: Path, old: bytes, new: bytes) -> None:
    """Replace bytes in a file by as many others, and give it the time that it had."""
    assert len(old) == len(new)
    told, content = path.stat(), path.read_bytes()
    assert old in content
    path.write_bytes(content.replace(old, new))
    os.utime(path, ns=(told.st_atime_ns, told.st_mtime_ns))


def dicts(table: str, rows: Rows) -> Iterator[dict[str, Any]]:
    """Yield the rows of a table by the names of its columns."""
    names = BY_NAME[table].names
    for row in rows[table]:
        yield dict(zip(names, row, strict=True))
