"""A record whose digests are right and whose numbers follow may still say what no visit can have been."""

from __future__ import annotations

from collections.abc import Callable
from copy import deepcopy
from datetime import timedelta
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from commission import __version__
from commission.prepare import worked_out_anew
from commission.records.read import read_record, toml_of
from tests.records.tamper import sealed_anew, walked

Change = Callable[[dict[str, Any]], object]


def told(content: bytes, folder: Path) -> str:
    path = folder / "record.toml"
    path.write_bytes(content)
    found, explained = worked_out_anew(read_record(path), __version__)
    assert explained == ()
    return "\n".join(map(str, found.differences))


@cache
def _walked() -> dict[str, Any]:
    return toml_of(walked())


def forged(change: Change) -> bytes:
    data = deepcopy(_walked())
    change(data)
    return sealed_anew(data)


def reading(**fields: Any) -> Change:
    """Return a change of the last number that was read."""
    return lambda data: next(row for row in reversed(data["reading"]) if row["kind"] == "number").update(
        fields
    )


def later(**times: int) -> Change:
    def change(data: dict[str, Any]) -> None:
        row = data["reading"][3]
        for name, minutes in times.items():
            row[name] += timedelta(minutes=minutes)

    return change


def without(table: str, *, of: Callable[[dict[str, Any]], bool] = lambda _: True) -> Change:
    """Return a change that takes the first fitting row away from the visit and counts one less."""

    def change(data: dict[str, Any]) -> None:
        rows = data["visit"][table]
        rows.remove(next(row for row in rows if of(row)))
        if table in data["header"]["counts"]:
            data["header"]["counts"][table] -= 1

    return change


def sign_off(**fields: Any) -> Change:
    return lambda data: data["sign_off"].update(fields)


FORGERIES: dict[str, tuple[Change, str]] = {
    "another program in the header": (
        lambda data: data["header"].update(program="0.0.1"),
        "program is '0.0.1' in the record",
    ),
    "another rule of decision": (
        lambda data: data["header"].update(decision_rule="as one likes"),
        "decision rule is 'as one likes'",
    ),
    "another kind of visit": (lambda data: data["header"].update(kind="service"), "kind is 'service'"),
    "called unsigned": (lambda data: data["header"].update(signed=False), "signed is 'False'"),
    "what was typed": (reading(text="123.4"), "by what was typed, '123.4'"),
    "what nobody can type": (reading(text="about right"), "not understood"),
    "a correction of nothing": (
        lambda data: data["reading"][0].update(corrects=True),
        "there is no earlier one",
    ),
    "entered out of turn": (later(entered_at=60, measured_at=60), "entered before the reading above it"),
    "measured after it was entered": (later(measured_at=5), "entered before it was measured"),
    "signed before the last reading": (
        lambda data: (
            data["visit"].update(started_at=data["visit"]["started_at"])
            or data["reading"][-1].update(entered_at=data["sign_off"]["at"] + timedelta(minutes=1))
        ),
        "before the last reading",
    ),
    "signed in another role": (sign_off(role="owner"), "role"),
    "signed with another licence": (sign_off(licence="E-1"), "not among the people of the visit"),
    "signed for less": (sign_off(meaning="as far as I know"), "meaning is 'as far as I know'"),
    "signed as complete": (sign_off(signed_as="complete"), "is deferred, so the visit is not complete"),
    "nobody put the step off": (
        without("dispositions", of=lambda row: row["disposition"] == "deferred"),
        "refused: ",
    ),
    "a day that was past": (
        lambda data: next(row for row in data["visit"]["dispositions"] if row.get("until")).update(
            until="2026-01-01"
        ),
        "which is past",
    ),
    "no plate": (without("devices"), "serial number and firmware version missing"),
    "no signer": (without("people"), "not among the people"),
    "a note to no step": (lambda data: data["note"][0].update(step="none"), "not in the walk"),
    "a file at no step": (
        lambda data: data["visit"]["attachments"][0].update(step="none"),
        "attached file: step is 'none'",
    ),
}


@pytest.mark.slow
def test_the_record_of_a_walked_and_signed_visit_agrees_with_itself(tmp_path: Path) -> None:
    assert told(sealed_anew(toml_of(walked())), tmp_path) == ""


@pytest.mark.parametrize("name", FORGERIES)
def test_what_no_visit_can_have_been_is_told(tmp_path: Path, name: str) -> None:
    change, says = FORGERIES[name]
    assert says in told(forged(change), tmp_path)
