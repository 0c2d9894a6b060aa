"""Rows of one record: the same by either reader, and never an exception, whatever a file holds."""

from __future__ import annotations

import copy
import subprocess
import sys
from collections.abc import Callable
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from commission.desk.names import concern_text
from commission.desk.reading_rows import FAST
from commission.desk.rows import FileSeen, Rows, record_rows
from commission.desk.tables import BY_NAME, CONCERNS, NOT_CHECKED, TABLES
from commission.desk.work import rows_of_file
from commission.records import fast
from commission.records.fast import fast_reader, fast_tables, is_flat, small_reader, strict_tables
from commission.visit.state import name_key
from tests.bench.desk_records import small_record
from tests.desk.made import BEGUN, SAMPLES, dicts, reading, record, write

FILE = FileSeen(0, "fell-hut_2025-03-01_commissioning_v0.toml", 1, 1)
STEPS = {"volts": frozenset({"monthly", "yearly"})}
FILES = sorted(SAMPLES.glob("*.toml"))


def rows_of(data: dict[str, Any]) -> Rows:
    return record_rows(7, FILE, "", data, STEPS)


def one(data: dict[str, Any]) -> dict[str, Any]:
    (row,) = dicts("record", rows_of(data))
    return row


def concerns(data: dict[str, Any]) -> list[tuple[str, str]]:
    return [(row["kind"], concern_text(row)) for row in dicts("concern", rows_of(data))]


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_both_readers_give_the_same_rows_of_every_sample(path: Path) -> None:
    """And the same tables, types too, of every kind of record."""
    assert fast_reader() is not None, "the package of the extra 'desk' belongs to the tests"
    content = path.read_bytes()
    strict = strict_tables(content)
    for in_worker in (False, True):
        fast = fast_tables(content, in_worker=in_worker)
        assert same(fast, strict)
        assert rows_of(fast) == rows_of(strict)


@pytest.mark.parametrize(
    "text",
    [
        "a = '''x\r\ny'''", "a = 1979-05-27T07:32:00.999999-07:00", "a = inf\nb = -0.0",
        "a = 0x10\nb = 1_000", "a = 99999999999999999999", "a = 1e400",
        "a = 10:20:30\nb = 2026-01-02", "\ufeffa = 1",
        "a = 2026-01-02 03:04:05",
    ],
)  # fmt: skip
def test_both_readers_agree_about_corners_of_toml(text: str) -> None:
    for in_worker in (False, True):
        assert same(fast_tables(text.encode(), in_worker=in_worker), strict_tables(text.encode()))


def same(one: Any, other: Any) -> bool:
    """Say whether two values are the same, kinds and signs of zero and offsets too."""
    if isinstance(one, dict):
        return list(one) == list(other) and all(same(one[key], other[key]) for key in one)
    if isinstance(one, list):
        return len(one) == len(other) and all(map(same, one, other))
    if isinstance(one, datetime):
        return bool(one == other) and one.isoformat() == other.isoformat()
    return type(one) is type(other) and repr(one) == repr(other)


@pytest.mark.parametrize(
    "content",
    [
        b"a = ",
        b"\xff\xfe",
        b"a = 1\na = 2",
        b"x = " + b"[" * 90_000,
        b"x = " + b"{a = " * 90_000,
        b"a = 2026-13-01",
        b"a = '''\r\r\nb'''",
    ],
)
def test_both_readers_refuse_the_same(content: bytes) -> None:
    """Also what nests so deeply that a reader could end the process."""
    for read in (fast_tables, partial(fast_tables, in_worker=True), strict_tables):
        with pytest.raises(ValueError, match=r"\w"):
            read(content)


NESTS: list[Callable[[int], str]] = [
    lambda deep: "a = " + "[" * deep,
    lambda deep: "a = " + "[\n" * deep + "]" * deep,
    lambda deep: "a = " + "{a=" * deep + "1" + "}" * deep,
    lambda deep: "a" + ".a" * deep + " = 1",
    lambda deep: "[" + "a." * (deep - 1) + "a]\nb = 1",
    lambda deep: "a = " + "[{a.b = " * (deep // 3) + "1" + "}]" * (deep // 3),
    lambda deep: "a = " + "-" * deep,
    lambda deep: "a = " + "+-" * (deep // 2),
    lambda deep: "a " + "=" * deep,
]
_DEEP = """
import sys, threading
from commission.records.fast import small_reader
def read():
    try:
        small_reader()(sys.stdin.read())
    except ValueError:
        pass
threading.stack_size(1 << 20)
thread = threading.Thread(target=read)
thread.start()
thread.join()
"""


@pytest.mark.parametrize("nested", NESTS)
def test_the_fastest_reader_is_given_only_what_cannot_nest_too_deeply(nested: Callable[[int], str]) -> None:
    """The deepest that it is given ends no process, in a thread with a stack of 1 MiB."""
    deepest = max(deep for deep in range(90, 520) if is_flat(nested(deep).encode()))
    assert deepest < 519
    assert not is_flat(nested(60_000).encode())
    ended = subprocess.run([sys.executable, "-c", _DEEP], input=nested(deepest), text=True, check=False)
    assert ended.returncode == 0


def test_the_fastest_reader_is_given_no_number_of_any_length() -> None:
    assert is_flat(b"a = " + b"9" * 90_000)
    assert not is_flat(b"a = " + b"9" * 110_000)


def test_the_fastest_reader_is_given_small_texts_in_workers_only(monkeypatch: pytest.MonkeyPatch) -> None:
    used: list[str] = []
    fastest = small_reader()
    assert fastest is not None

    def noted(text: str) -> dict[str, Any]:
        used.append(text)
        return fastest(text)

    monkeypatch.setattr(fast, "small_reader", lambda: noted)
    small = small_record(7)[1].encode()
    assert same(fast_tables(small, in_worker=True), strict_tables(small))
    assert len(used) == 1
    assert same(fast_tables(small), strict_tables(small))
    assert {is_flat(path.read_bytes()) for path in FILES} == {True, False}
    for path in FILES:
        fast_tables(path.read_bytes(), in_worker=True)
    assert len(used) == 1 + sum(is_flat(path.read_bytes()) for path in FILES)


def test_rows_have_the_columns_of_their_tables() -> None:
    for path in FILES:
        for name, found in rows_of(fast_tables(path.read_bytes())).items():
            assert {len(row) for row in found} <= {len(BY_NAME[name].columns)}, name


def test_every_column_says_what_it_means() -> None:
    for table in TABLES:
        assert table.meaning
        assert all(column.meaning for column in table.columns)
        assert set(table.key) <= set(table.names)
        assert {name for index in table.indexes for name in index} <= set(table.names)


def test_nothing_is_called_valid_by_the_fast_reader() -> None:
    assert one(record())["state"] == NOT_CHECKED


JUNK: st.SearchStrategy[Any] = st.sampled_from(
    [None, 0, -1, 1.5, float("nan"), float("inf"), "", "x\x1b[2J", "é" * 50, [], [1, "a", {}], {},
     {"a": [{}]}, True, 10**30, BEGUN, BEGUN.replace(tzinfo=None), BEGUN.date(), [[]], [{"id": 3}], [None]]
)  # fmt: skip


@given(st.data())
@settings(max_examples=150)
def test_no_content_makes_an_exception(data: st.DataObject) -> None:
    """A value anywhere in a record may be anything that TOML can hold, or be missing."""
    made = record(answer="returned", readings=[reading(), reading(value=53.0, verdict="fail", corrects=True)])
    made["visit"]["releases"] = [{"step": "volts", "parts": ["a"], "by": "Elin Corse", "at": BEGUN}]
    for _ in range(data.draw(st.integers(1, 4))):
        at: Any = made
        while True:
            keys = list(at) if isinstance(at, dict) else list(range(len(at)))
            key = data.draw(st.sampled_from(keys))
            inner = at[key]
            if isinstance(inner, dict | list) and inner and data.draw(st.booleans()):
                at = inner
                continue
            at[key] = copy.deepcopy(data.draw(JUNK))
            break
    for name, found in rows_of(made).items():
        assert {len(row) for row in found} <= {len(BY_NAME[name].columns)}


@pytest.mark.parametrize("kind", [{"a": 1}, [1], 7])
def test_a_finding_of_a_kind_that_is_no_text_is_not_open(kind: Any) -> None:
    made = record()
    made["finding"] = [{"id": "ampacity:run-1", "kind": kind, "text": "thin"}]
    assert [row["open"] for row in dicts("finding", rows_of(made))] == [0]


def test_a_file_that_is_no_record_says_so(tmp_path: Path) -> None:
    """A broken record stands with its site, which its name tells; another file is no record of any site."""
    for name, content, state, site in (
        ("fell-hut_2025-03-01_commissioning_ab.toml", b"format = ", "malformed", "fell-hut"),
        ("keys.toml", b"format = 1", "no record", ""),
        ("fell-hut_2025-03-01_commissioning_cd.toml", b"\xff", "malformed", "fell-hut"),
    ):
        (tmp_path / name).write_bytes(content)
        rows = rows_of_file([str(tmp_path)], (1, FileSeen(0, name, len(content), 1)), {})
        (row,) = dicts("record", rows)
        assert (row["state"], row["site"]) == (state, site)
        assert row["says"]


def test_a_missing_file_is_a_row_with_the_reason(tmp_path: Path) -> None:
    (row,) = dicts("record", rows_of_file([str(tmp_path)], (1, FileSeen(0, "gone.toml", 1, 1)), {}))
    assert "cannot be read" in row["says"]


# what is told


def test_a_corrected_reading_counts_once_and_the_correction_is_looked_at() -> None:
    """A fail corrected to a pass is said, and one made another day is late (8 h, common practice)."""
    first = reading(value=53.0, verdict="fail")
    again = reading(corrects=True, reason="clip slipped", at=BEGUN + timedelta(hours=9))
    row = one(record(readings=[first, again]))
    assert (row["readings"], row["failed"], row["overturned"], row["late"]) == (1, 0, 1, 1)
    assert [kind for kind, _ in concerns(record(readings=[first, again]))] == ["overturned", "corrected late"]


def test_a_difference_is_told_beside_the_band_that_judged_it() -> None:
    judged = {
        "verdict": "fail",
        "low": -0.13,
        "high": 0.13,
        "unit": "V",
        "compared": 0.292,
        "says": "against 25.6 V",
    }
    failed = reading(value=25.9, judgement=judged)
    assert concerns(record(readings=[failed]))[0][1] == (
        "volts@string-a: 25.9 V is fail, 0.292 V against 25.6 V, band -0.13 to 0.13 V; "
        "nothing was done about it"
    )


def test_a_failed_reading_is_undecided_accepted_or_put_off() -> None:
    failed = [reading(value=53.0, verdict="fail")]
    key = "volts@string-a"
    assert concerns(record(readings=failed))[0][0] == "reading failed"
    accepted = [{"subject": key, "disposition": "accepted", "reason": "seen", "by": "Elin Corse"}]
    assert concerns(record(readings=failed, dispositions=accepted))[0] == (
        "reading accepted",
        "volts@string-a: 53.0 V is fail, band 54.2 to 54.6; accepted by Elin Corse: seen",
    )
    later = [{"subject": key, "disposition": "deferred", "until": "2025-09-01", "by": "R", "reason": "rain"}]
    row = one(record(readings=failed, dispositions=later))
    assert (row["deferred"], row["undecided"]) == (1, 0)
    (disposed,) = dicts("disposition", rows_of(record(readings=failed, dispositions=later)))
    assert (disposed["about"], disposed["until_text"], disposed["until_at"]) == (
        "reading",
        "2025-09-01",
        1756684800,
    )


def test_readings_typed_at_once_are_too_fast_but_not_when_copied_from_paper() -> None:
    """The time between entries counts; what was measured long before it was typed is copied (rule 10.9)."""
    typed = [reading(f"s{i}", at=BEGUN + timedelta(seconds=(FAST - 1) * i)) for i in range(3)]
    assert one(record(readings=typed))["fast"] == 2
    copied = copy.deepcopy(typed)
    for row in copied:
        row["measured_at"] -= timedelta(minutes=30)
    assert one(record(readings=copied))["fast"] == 0
    slow = [reading(f"s{i}", at=BEGUN + timedelta(seconds=(FAST + 1) * i)) for i in range(3)]
    assert one(record(readings=slow))["fast"] == 0


def test_a_meter_is_told_by_where_its_readings_lie_in_their_bands() -> None:
    """At the middle 0, at the upper end 1: (54.6 − 54.4) / 0.2."""
    rows = rows_of(record(readings=[reading("a", 54.4), reading("b", 54.6), reading("c", 54.3)]))
    (row,) = dicts("instrument", rows)
    assert (row["meter"], row["placed"]) == ("A-17", 3)
    assert row["deviation"] == pytest.approx(0.0 + 1.0 - 0.5)
    assert row["deviation_squares"] == pytest.approx(1.25)


def test_due_dates_follow_the_visit_and_what_the_plant_has() -> None:
    """Months by the calendar; intervals of the steps that were read, a monthly one only as agreed."""
    due = {row["every"]: (row["due_text"], row["holds"]) for row in dicts("due", rows_of(record()))}
    assert due == {
        "monthly": ("2025-04-01", 0), "quarterly": ("2025-06-01", 0), "yearly": ("2026-03-01", 1),
        "two-yearly": ("2027-03-01", 0),
    }  # fmt: skip
    service = {row["every"] for row in dicts("due", rows_of(record(visit=1, due=["monthly"])))}
    assert service == {"monthly"}
    for plan in ({"intervals": ["monthly"]}, {"steps": {"volts": ["monthly"]}}):
        data = record()
        data["plant"]["site"]["service"] = plan
        held = {row["every"] for row in dicts("due", rows_of(data)) if row["holds"]}
        assert held == {"monthly"}
    assert not rows_of(record(signed=False))["due"]


def test_what_a_service_visit_did_not_touch_is_carried_from_the_visit_before() -> None:
    data = record(visit=1)
    data["setting"] = [
        {"device": "inverter-1", "setting": "float_voltage", "before": 54.1, "before_text": "54.1"}
    ]
    (row,) = dicts("setting", rows_of(data))
    assert (row["as_left"], row["as_left_text"], row["carried"]) == (54.1, "54.1", 1)


def test_concerns_are_worst_first_and_of_known_kinds() -> None:
    data = record(readings=[reading(value=1.0, verdict="stop work")], left=58.0)
    data["finding"] = [{"id": "f", "kind": "stop", "text": "no fuse"}]
    data["visit"]["releases"] = [{"step": "s", "parts": [], "by": "Elin Corse", "at": BEGUN}]
    kinds = [kind for kind, _ in concerns(data)]
    assert kinds == ["stops work", "finding open", "hold point", "setting differs"]
    assert set(kinds) <= set(CONCERNS)
    assert one(data)["stop_findings"] == 1


def test_a_reading_inside_its_band_that_failed_by_its_change_says_so() -> None:
    drift = {"since": "baseline", "before": 54.6, "now": 54.3, "verdict": "act", "says": "-0.3 V since 2020"}
    judged = {"verdict": "conditional fail", "low": 54.2, "high": 54.6, "drifts": [drift]}
    (failed, _) = concerns(record(readings=[reading(value=54.3, judgement=judged)]))
    told = "volts@string-a: 54.3 V is conditional fail, band 54.2 to 54.6, went from 54.6 to 54.3 V: -0.3 V"
    assert failed == ("reading failed", f"{told} since 2020; nothing was done about it")


def test_drifts_are_told_by_what_they_ask_for() -> None:
    drift = {"since": "baseline", "before": 54.4, "now": 53.1, "verdict": "act", "says": "limit 1 V"}
    odd = reading(judgement={"verdict": "pass", "low": 50.0, "high": 60.0, "drifts": [drift]})
    row = one(record(readings=[odd]))
    assert (row["drifts_act"], row["drifts_advise"]) == (1, 0)
    assert concerns(record(readings=[odd])) == [
        ("drift", "volts@string-a: went from 54.4 to 53.1 V since baseline: limit 1 V")
    ]


def test_names_are_compared_as_everywhere() -> None:
    for name in ("Joe  Rain.", "joe rain", "Élin Ćorse", ""):
        (row,) = dicts("person", rows_of(record(technician=name or "x")))
        assert row["name_key"] == name_key(name or "x")


def test_what_is_searched_holds_each_word_once(tmp_path: Path) -> None:
    path = write(tmp_path, record(answer="returned"))
    (row,) = dicts("search", rows_of(fast_tables(path.read_bytes())))
    words = row["words"].split()
    assert len(words) == len(set(words))
    assert {"fell-hut", "runa", "elin", "a-17", "torque"} <= set(words)
