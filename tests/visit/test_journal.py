"""The journal: whatever ends the process or spoils the disk, nothing that was confirmed is lost unnoticed."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
import time
import zlib
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from commission.errors import NotKeptError, VisitError
from commission.visit import disk, events, journal
from commission.visit.folder import new_visit_id, take_up
from commission.visit.framing import NAME
from commission.visit.journal import Journal
from commission.visit.replay import line_of, replay
from commission.visit.session import OpenVisit
from commission.visit.shelf import Holder, list_visits, visits_root
from commission.visit.state import replayed
from tests.visit.walks import HOLDER, NOON, after, begun, reading, resumed, step, walk

STEPS = walk(step("volts"), step("seen", reading(kind="yes or no")))
ROOT = Path(__file__).resolve().parents[2]


def noted(number: int) -> events.Moved:
    """Return a small event that can be told from others."""
    return events.Moved(at=NOON + timedelta(seconds=number), step=f"step-{number}")


def lines(count: int) -> bytes:
    return b"".join(line_of(noted(number)) for number in range(count))


def read(visit: OpenVisit, typed: str, minute: float) -> None:
    ask = visit.checklist.steps[0].asks[0]
    visit.take(ask, typed, measured_at=after(minute), now=after(minute), instrument="meter-1")


# the lines


def test_a_line_is_the_crc_of_space_and_json_in_small_hex() -> None:
    """CRC-32 of what follows it, the space included."""
    line = line_of(noted(1))
    check, body = line[:8], line[8:-1]
    assert check == f"{zlib.crc32(body):08x}".encode()
    assert (body[:2], line[-1:]) == (b" {", b"\n")


@pytest.mark.parametrize("behind", [b"", b"\0" * 40, b"garbage", line_of(noted(77))[5:40]])
def test_a_journal_torn_at_any_byte_gives_exactly_its_complete_lines(behind: bytes) -> None:
    """Followed by nothing, zeros, garbage or what stood there before; the rest is told."""
    whole = lines(6)
    ends = [at + 1 for at, byte in enumerate(whole) if byte == 0x0A]
    for cut in range(len(whole) + 1):
        found = replay(whole[:cut] + behind)
        complete = sum(end <= cut for end in ends)
        # bytes that the tear has put behind a whole line may complete nothing, never more than was written
        assert found.events == tuple(noted(number) for number in range(complete))
        assert found.size == (ends[complete - 1] if complete else 0)
        assert bool(found.damage) == (found.size != cut or bool(behind))


def test_no_flipped_bit_goes_unnoticed() -> None:
    """In the digits of the check, the separator, the data or the line end."""
    whole = lines(3)
    told = tuple(noted(number) for number in range(3))
    for place in range(len(whole)):
        for bit in range(8):
            spoiled = bytearray(whole)
            spoiled[place] ^= 1 << bit
            found = replay(bytes(spoiled))
            assert found.damage, (place, bit)
            assert found.events == told[: len(found.events)]
            assert all(event in told for event in found.after_damage)
            # a flipped line end spoils the two lines that it parts, everything else one
            assert len(found.events) + len(found.after_damage) >= 1


def test_lines_behind_a_damaged_one_are_reported() -> None:
    """And what else is bad there."""
    parts = lines(5).splitlines(keepends=True)
    parts[1] = parts[1].replace(b"step-1", b"step-9")
    parts[3] = b"nonsense\n"
    found = replay(b"".join(parts) + b"torn")
    assert found.events == (noted(0),)
    assert found.after_damage == (noted(2), noted(4))
    assert "line 2 of the journal is damaged; 2 entries behind it can be read" in found.damage
    assert "1 further lines are damaged" in found.damage


# the file


def test_a_torn_tail_is_cut_and_the_visit_goes_on(tmp_path: Path) -> None:
    """The next line does not stand behind half a line."""
    visit = begun(tmp_path, STEPS)
    read(visit, "54.1", 1)
    visit.close()
    path = tmp_path / visit.visit.id / NAME
    whole = path.read_bytes()
    path.write_bytes(whole + line_of(noted(5))[:30])
    with resumed(tmp_path, visit.visit.id, STEPS) as again:
        assert "cut short (30 bytes)" in again.messages[0]
        assert again.visit == visit.visit
        read(again, "54.2", 2)
    with resumed(tmp_path, visit.visit.id, STEPS) as last:
        assert last.messages == ()
        assert [item.text for item in last.visit.readings] == ["54.1", "54.2"]


def test_a_damaged_line_loses_itself_alone_and_the_damaged_file_is_kept(tmp_path: Path) -> None:
    """Entries behind it are written on; the person is told."""
    visit = begun(tmp_path, STEPS)
    for minute in (1, 2, 3):
        read(visit, f"54.{minute}", minute)
    visit.close()
    folder = tmp_path / visit.visit.id
    spoiled = (folder / NAME).read_bytes().replace(b'"text":"54.2"', b'"text":"54.9"')
    (folder / NAME).write_bytes(spoiled)
    with resumed(tmp_path, visit.visit.id, STEPS) as again:
        assert [item.text for item in again.visit.readings] == ["54.1", "54.3"]
        assert "is damaged; 1 entries behind it can be read" in again.messages[0]
        assert str(folder / "journal-damaged-1") in again.messages[-1]
    assert (folder / "journal-damaged-1").read_bytes() == spoiled
    with resumed(tmp_path, visit.visit.id, STEPS) as last:
        assert (last.messages, len(last.visit.readings)) == ((), 2)


def test_a_visit_without_its_beginning_cannot_be_taken_up_and_says_so(tmp_path: Path) -> None:
    """The plant stands there; the rest stays in the file."""
    visit = begun(tmp_path, STEPS)
    visit.close()
    path = tmp_path / visit.visit.id / NAME
    content = path.read_bytes()
    path.write_bytes(b"x" + content[1:])
    for _ in range(2):  # the lock is free again after the refusal
        with pytest.raises(VisitError, match=r"beginning of .* cannot be read.*2 further entries"):
            resumed(tmp_path, visit.visit.id, STEPS)
    assert path.read_bytes() == b"x" + content[1:]
    assert "cannot be read" in list_visits(tmp_path)[0].damage


def test_a_full_disk_refuses_the_reading_and_takes_it_once_there_is_room(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A short write is no error to the system: the rest is tried, and half a line taken away again."""
    visit = begun(tmp_path, STEPS)
    path = tmp_path / visit.visit.id / NAME
    before = path.read_bytes()
    whole = os.write
    room = [17]

    def short(handle: int, data: bytes) -> int:
        return whole(handle, bytes(data)[: room.pop()]) if room else 0

    monkeypatch.setattr(os, "write", short)
    with pytest.raises(NotKeptError, match=r"not kept: .*the disk is full: 17 of \d+ bytes found room"):
        read(visit, "54.1", 1)
    assert path.read_bytes() == before
    assert visit.visit.readings == ()
    monkeypatch.setattr(os, "write", whole)
    read(visit, "54.1", 2)
    visit.close()
    assert [item.text for item in replayed(replay(path.read_bytes()).events).readings] == ["54.1"]


@pytest.mark.parametrize("call", ["write", "flush"])
def test_an_error_of_the_disk_refuses_the_reading(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, call: str
) -> None:
    """Nothing of it is in the file or in the visit."""
    visit = begun(tmp_path, STEPS)
    path = tmp_path / visit.visit.id / NAME
    before = path.read_bytes()
    spent: list[int] = []

    def fails(*_: object) -> int:
        if spent:  # the file is cut back and flushed after the failure
            return 0
        spent.append(1)
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(*((os, "write") if call == "write" else (journal, "flush")), fails)
    with pytest.raises(VisitError, match="No space left"):
        read(visit, "54.1", 1)
    monkeypatch.undo()
    assert (path.read_bytes(), visit.visit.readings) == (before, ())
    visit.close()


def test_every_reading_is_flushed_before_it_is_confirmed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Written, then flushed, then judged aloud."""
    visit = begun(tmp_path, STEPS)
    calls: list[str] = []
    write, flush = os.write, disk.flush

    def writes(handle: int, data: bytes) -> int:
        calls.append("write")
        return write(handle, data)

    def flushes(handle: int) -> None:
        calls.append("flush")
        flush(handle)

    monkeypatch.setattr(os, "write", writes)
    monkeypatch.setattr(journal, "flush", flushes)
    read(visit, "54.1", 1)
    visit.close()
    assert calls == ["write", "flush"]


def test_a_closed_visit_takes_nothing(tmp_path: Path) -> None:
    """It says so."""
    visit = begun(tmp_path, STEPS)
    visit.close()
    with pytest.raises(VisitError, match="closed"):
        read(visit, "54.1", 1)


def test_a_journal_that_cannot_be_cut_back_takes_nothing_more_until_it_can(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A line behind half a line would be lost."""
    path = tmp_path / "journal"
    kept = Journal(path, 0)
    kept.append(noted(1))
    whole = os.write
    room = [3]

    def short(handle: int, data: bytes) -> int:
        return whole(handle, bytes(data)[: room.pop()]) if room else 0

    def refuses(*_: object) -> None:
        raise OSError(errno.EIO, "Input/output error")

    monkeypatch.setattr(os, "write", short)
    monkeypatch.setattr(os, "ftruncate", refuses)
    with pytest.raises(NotKeptError, match="3 of"):
        kept.append(noted(2))
    monkeypatch.setattr(os, "write", whole)
    assert path.read_bytes() == line_of(noted(1)) + line_of(noted(2))[:3]
    with pytest.raises(NotKeptError, match="does not answer or was taken out: Input/output error"):
        kept.append(noted(3))
    monkeypatch.undo()
    kept.append(noted(4))
    kept.close()
    assert replay(path.read_bytes()).events == (noted(1), noted(4))


# the folder


def test_a_visit_is_held_by_one_at_a_time_and_the_second_is_told_by_whom(tmp_path: Path) -> None:
    """Also from the same process."""
    visit = begun(tmp_path, STEPS)
    with pytest.raises(VisitError, match=r"open already, by runa on bench \(process 4711\)"):
        resumed(tmp_path, visit.visit.id, STEPS, holder=Holder(1, "other", "max"))
    assert list_visits(tmp_path)[0].open_by.startswith("runa on bench")
    visit.close()
    assert list_visits(tmp_path)[0].open_by == ""
    resumed(tmp_path, visit.visit.id, STEPS).close()


def test_a_visit_that_is_not_there_is_answered_with_those_that_are(tmp_path: Path) -> None:
    """By id."""
    visit = begun(tmp_path, STEPS)
    visit.close()
    with pytest.raises(VisitError, match=f"no visit else .*known: {visit.visit.id}"):
        take_up(tmp_path, "else", HOLDER)


def test_visits_are_listed_newest_first_with_what_is_in_them(tmp_path: Path) -> None:
    """Readings, and what is wrong with a journal."""
    first = begun(tmp_path, STEPS, seed=1)
    read(first, "54.1", 1)
    read(first, "54.2", 2)
    first.close()
    second = begun(tmp_path, STEPS, kind="service", seed=2)
    second.close()
    (tmp_path / "leftover").mkdir()
    found = {item.id: item for item in list_visits(tmp_path)}
    assert set(found) == {first.visit.id, second.visit.id}
    one = found[first.visit.id]
    assert (one.site, one.kind, one.readings, one.signed, one.damage) == (
        "test-site",
        "commissioning",
        2,
        False,
        "",
    )
    assert one.started_at == NOON
    path = tmp_path / first.visit.id / NAME
    path.write_bytes(path.read_bytes().replace(b'"text":"54.2"', b'"text":"54.9"'))
    assert "1 of 5 lines" in {item.id: item for item in list_visits(tmp_path)}[first.visit.id].damage
    assert list_visits(tmp_path / "nowhere") == ()


def test_a_visit_id_says_site_day_and_kind_and_is_never_given_twice(tmp_path: Path) -> None:
    """The same lot drawn twice is drawn again."""
    one = begun(tmp_path, STEPS, seed=3)
    two = begun(tmp_path, STEPS, seed=3)
    for visit in (one, two):
        stem, letters = visit.visit.id.rsplit("-", 1)
        assert stem == "test-site-2026-11-24-commissioning"
        assert len(letters) == 4
        assert set(letters) <= set("abcdefghijklmnopqrstuvwxyz234567")
        visit.close()
    assert one.visit.id != two.visit.id


def test_the_id_of_a_site_with_a_long_name_still_fits(tmp_path: Path) -> None:
    """Sixty-four characters at most."""
    from random import Random

    made = new_visit_id(tmp_path, "a" * 33 + "-" + "b" * 30, NOON, "commissioning", Random(1))
    assert len(made) <= 64
    assert "--" not in made


@pytest.mark.parametrize(
    ("platform", "environment", "expected"),
    [
        ("linux", {}, "home/.local/share/commission/visits"),
        ("linux", {"XDG_DATA_HOME": "/data"}, "/data/commission/visits"),
        ("linux", {"XDG_DATA_HOME": "relative"}, "home/.local/share/commission/visits"),
        ("darwin", {}, "home/Library/Application Support/commission/visits"),
        ("win32", {"LOCALAPPDATA": "C:/local"}, "C:/local/commission/visits"),
        ("win32", {}, "home/AppData/Local/commission/visits"),
        ("linux", {"COMMISSION_VISITS": "/stick"}, "/stick"),
    ],
)
def test_visits_live_in_the_users_data_folder(platform: Any, environment: Any, expected: Any) -> None:
    """Of each system, or where told."""
    assert visits_root(environment, platform, Path("home")) == Path(expected)


# kill -9

WRITER = """
import sys
from pathlib import Path
from tests.visit.test_journal import STEPS, read
from tests.visit.walks import resumed
visit = resumed(Path(sys.argv[1]), sys.argv[2], STEPS)
number = len(visit.visit.readings)
while True:
    read(visit, f"{number % 60}.00", number)
    number += 1
    print(number, flush=True)
"""


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="kills by signal")
def test_everything_confirmed_is_there_after_kills(tmp_path: Path) -> None:
    """Kill -9 at any moment: no confirmed reading is missing, at most one more is there."""
    visit = begun(tmp_path, STEPS)
    visit.close()
    confirmed = 0
    for round_ in range(6):
        confirmed = _killed(tmp_path, visit.visit.id, wait=0.001 * ((round_ * 7) % 20))
        with resumed(tmp_path, visit.visit.id, STEPS) as again:
            texts = [item.text for item in again.visit.readings]
        assert texts == [f"{number % 60}.00" for number in range(len(texts))]
        assert confirmed <= len(texts) <= confirmed + 1
    assert confirmed >= 6


def _killed(root: Path, ident: str, *, wait: float) -> int:
    """Let a writer work for a moment after its first confirmation, kill it, return what it confirmed last."""
    writer = subprocess.Popen(
        [sys.executable, "-c", WRITER, str(root), ident],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert writer.stdout is not None
    first = writer.stdout.readline()
    time.sleep(wait)
    writer.kill()
    rest = writer.stdout.read().split("\n")
    writer.stdout.close()
    writer.wait()
    # the last line may itself be cut
    whole = [line for line in (first.strip(), *rest[:-1]) if line]
    return int(whole[-1])
