"""The desk without a screen: what it prints, its keys, its exit codes, and what it refuses."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from commission.cli import main
from commission.desk.series import Limit, Point
from commission.desk.told import held_lines
from commission.desk.trend import trend
from tests.desk.small_fleet import Made, small_fleet


@pytest.fixture(scope="module")
def fleet(tmp_path_factory: pytest.TempPathFactory) -> Made:
    """Five sites; nobody writes into them."""
    return small_fleet(tmp_path_factory.mktemp("fleet"))


@pytest.fixture(autouse=True)
def own_cache(fleet: Made, monkeypatch: pytest.MonkeyPatch) -> None:
    """Keep indexes beside the sites, so that the second command finds that of the first."""
    monkeypatch.setenv("COMMISSION_INDEX", str(fleet.folder.parent / "cache"))


def told(capsys: pytest.CaptureFixture[str], *arguments: object) -> tuple[int, str, str]:
    """Run a command; returns its exit code and what it said."""
    code = main([str(argument) for argument in arguments])
    said = capsys.readouterr()
    return code, said.out, said.err


def as_json(capsys: pytest.CaptureFixture[str], *arguments: object) -> tuple[int, Any]:
    code, out, _ = told(capsys, *arguments, "--json")
    return code, json.loads(out)


def test_the_desk_tells_all_sites_worst_first(fleet: Made, capsys: pytest.CaptureFixture[str]) -> None:
    code, found = as_json(capsys, "desk", fleet.folder)
    assert code == 1
    assert [site["name"] for site in found["sites"]][:2] == ["Ulenfell mill", "Marrowfell clinic"]
    assert "1 gap in the chain of records" in found["sites"][0]["says"]
    assert found["overview"]["records"] == 14
    assert found["states"] == {"not checked yet": 14}


def test_check_all_lets_the_strict_reader_say_how_each_record_stands(
    fleet: Made, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    _, found = as_json(capsys, "desk", fleet.folder, "--check-all", "--index", tmp_path / "own.sqlite")
    assert found["states"] == {"intact": 14}
    assert (tmp_path / "own.sqlite").is_file()


def test_the_app_wants_a_terminal(fleet: Made, capsys: pytest.CaptureFixture[str]) -> None:
    code, _, err = told(capsys, "desk", fleet.folder)
    assert code == 2
    assert "the app needs a terminal" in err
    assert "--json" in err


def test_what_is_due_by_a_day_is_listed_and_what_is_overdue_is_open(
    fleet: Made, capsys: pytest.CaptureFixture[str]
) -> None:
    """The newest visit was on 2026-11-24, and a plant without intervals of its own is seen each year."""
    code, out, _ = told(capsys, "due", fleet.folder, "--by", "2027-11-23")
    assert (code, out) == (0, "nothing is due by then\n")
    code, out, _ = told(capsys, "due", fleet.folder, "--by", "2027-11-24")
    assert code == 0
    assert len(out.splitlines()) == 5
    assert "site-0" in out
    assert "yearly       2027-11-24" in out
    code, rows = as_json(capsys, "due", fleet.folder, "--by", "2027-12-31")
    assert [row["overdue"] for row in rows] == [False] * 5


def test_a_day_that_is_past_lists_only_what_was_due_by_it(
    fleet: Made, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """On 2028-06-01 what was due on 2027-11-24 is overdue, but not by 2027-11-23."""
    monkeypatch.setattr("commission.cli_desk.moment", lambda: 1843430400)
    assert told(capsys, "due", fleet.folder, "--by", "2027-11-23")[1] == "nothing is due by then\n"
    code, out, _ = told(capsys, "due", fleet.folder)
    assert code == 1
    assert len(out.splitlines()) == 5


@pytest.mark.parametrize("content", [b"plain words", b"SQLite format 3\x00 and no more"])
def test_an_index_never_takes_the_place_of_another_file(
    fleet: Made, capsys: pytest.CaptureFixture[str], tmp_path: Path, content: bytes
) -> None:
    mine = tmp_path / "mine.toml"
    mine.write_bytes(content)
    code, _, err = told(capsys, "desk", fleet.folder, "--json", "--index", mine)
    assert (code, mine.read_bytes()) == (2, content)
    assert f"--index = {mine}: is no index of the desk" in err


@pytest.mark.parametrize("day", ["tomorrow", "2027-13-01", "31.12.2027", ""])
def test_a_date_that_is_none_is_refused(fleet: Made, capsys: pytest.CaptureFixture[str], day: str) -> None:
    with pytest.raises(SystemExit) as left:
        main(["due", str(fleet.folder), "--by", day])
    assert left.value.code == 2
    assert "is no date; write 2026-12-31" in capsys.readouterr().err


def test_a_trend_is_told_drawn_and_listed(fleet: Made, capsys: pytest.CaptureFixture[str]) -> None:
    """Readings of 54.35, 54.40 and 54.45 V a year apart rise by 50 mV a year."""
    code, out, _ = told(capsys, "trend", fleet.folder, "site-4", "VOLT", "--ascii")
    assert code == 0
    assert out.splitlines()[0] == "volts@"
    assert "so far +50 mV a year" in out
    assert out.count("o") > 3
    assert "2024-11-24" in out
    assert out.isascii() or "µ" not in out
    assert max(map(len, out.splitlines())) <= 80
    code, found = as_json(capsys, "trend", fleet.folder, "site-4", "volts@")
    assert found["slope_a_year"] == pytest.approx(0.05, abs=2e-4)  # a year is 365.25 days there
    assert [point["value"] for point in found["points"]] == pytest.approx([54.35, 54.4, 54.45])
    assert abs(datetime.fromisoformat(found["asked_at"]) - datetime.now(UTC)) < timedelta(hours=1)


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ("2033-06-01T08:00:00+02:00", "is reached about May 2034"),
        ("2034-11-28T08:00:00+02:00", "was to be reached about May 2034"),
    ],
)
def test_a_date_is_told_for_the_moment_of_asking(
    fleet: Made, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, asked: str, says: str
) -> None:
    """Five readings from May 2026 on that by their slope are at 80 % in the eighth year."""
    rows = [
        Point(datetime(2026 + place, 5, 4, 10, tzinfo=UTC), value, "%")
        for place, value in enumerate([100.0, 97.0, 95.0, 91.0, 90.0])
    ]
    found = trend(rows, [Limit(80.0, "low", "IEEE 450", "end of life")])
    monkeypatch.setattr("commission.desk.told.trend_of", lambda *_: found)
    monkeypatch.setattr("commission.cli_desk.now", lambda: datetime.fromisoformat(asked))
    code, out, _ = told(capsys, "trend", fleet.folder, "site-4", "VOLT")
    assert code == 0
    assert says in " ".join(out.split())
    _, keys = as_json(capsys, "trend", fleet.folder, "site-4", "VOLT")
    assert says in keys["outlook"]
    assert keys["asked_at"] == asked
    assert keys["limit"]["about"].startswith("2034-05-0")
    assert keys["next_limit"] is None


@pytest.mark.parametrize(
    ("site", "reading", "words"),
    [
        ("site-9", "volts", "no record here is of this site"),
        ("site-4", "nothing", "no reading of this site has these words"),
        ("site-4", "", "one of "),
        ("site-4", "e", "volts@"),
    ],
)
def test_a_site_or_reading_that_is_not_there_is_told_with_what_is(
    fleet: Made, capsys: pytest.CaptureFixture[str], site: str, reading: str, words: str
) -> None:
    code, out, err = told(capsys, "trend", fleet.folder, site, reading)
    if code == 0:
        assert reading == "e"
        assert out.startswith("seen@")
        return
    assert (code, out) == (2, "")
    assert words in err


def test_two_records_are_compared(fleet: Made, capsys: pytest.CaptureFixture[str]) -> None:
    first, second = fleet.records["site-0"][-2:]
    code, out, _ = told(capsys, "compare", first, second)
    assert code == 1
    assert "! volts@: 54.40 V, pass → 54.70 V, fail" in out
    assert "seen@" not in out
    code, out, _ = told(capsys, "compare", first, first)
    assert code == 0
    assert "nothing differs" in out
    code, found = as_json(capsys, "compare", first, second)
    assert [(one["subject"], one["what"]) for one in found["changes"]] == [("reading", "volts@")]


def test_a_file_that_is_no_record_is_not_compared(
    fleet: Made, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    (tmp_path / "list.toml").write_text("a = 1\n", encoding="utf-8")
    for other in (tmp_path / "list.toml", tmp_path / "none.toml", tmp_path):
        code, out, err = told(capsys, "compare", fleet.records["site-0"][0], other)
        assert (code, out) == (2, "")
        assert str(other) in err
        assert "Traceback" not in err


def test_lists_over_all_sites_are_counted_and_told(fleet: Made, capsys: pytest.CaptureFixture[str]) -> None:
    """14 records of five sites; one is countersigned, one reading is accepted, one failed."""
    code, many = as_json(capsys, "list", fleet.folder)
    assert code == 1
    told_of = ("waiting", "unsigned", "chains", "reading-accepted", "reading-failed")
    assert [many[key] for key in told_of] == [13, 0, 1, 1, 1]
    code, rows = as_json(capsys, "list", fleet.folder, "--of", "reading-accepted")
    assert code == 1
    assert [(row["site"], row["kind"], row["subject"]) for row in rows] == [
        ("site-0", "reading accepted", "volts@")
    ]
    code, out, _ = told(capsys, "list", fleet.folder, "--of", "waiting", "--words", "marrowfell")
    assert [line.split()[0] for line in out.splitlines()] == ["site-1"] * 3
    code, out, _ = told(capsys, "list", fleet.folder, "--of", "unsigned")
    assert (code, out) == (0, "nothing\n")
    _, rows = as_json(capsys, "list", fleet.folder, "--technician", "runa FELD")
    assert len(rows) == 14


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        (("--of", "wating"), "there is no such list; waiting"),
        (("--of", "waiting", "--technician", "Runa Feld"), "does not go with --of"),
    ],
)
def test_a_list_that_there_is_not_is_refused(
    fleet: Made, capsys: pytest.CaptureFixture[str], asked: tuple[str, ...], says: str
) -> None:
    code, out, err = told(capsys, "list", fleet.folder, *asked)
    assert (code, out) == (2, "")
    assert says in err


@pytest.mark.parametrize(
    ("asked", "sites"),
    [
        (["--profile", "agm"], 5),
        (["--firmware", "2.1"], 5),
        (["--firmware", "inverter-48v-230-5000=2.1"], 5),
        (["--firmware", "other=2.1"], 0),
        (["--instrument", "A-17"], 5),
        (["--setting", "float_voltage=54.0"], 5),
        (["--setting", "float_voltage=53.5..54.5"], 5),
        (["--setting", "float_voltage=54.1.."], 0),
        (["--profile", "agm", "--setting", "float_voltage=54.1.."], 0),
    ],
)
def test_recall_finds_the_sites_that_have_all_of_it(
    fleet: Made, capsys: pytest.CaptureFixture[str], asked: list[str], sites: int
) -> None:
    code, rows = as_json(capsys, "recall", fleet.folder, *asked)
    assert code == 0
    assert len({row["site"] for row in rows}) == sites


def test_recall_tells_what_there_is_and_how_it_is_asked(
    fleet: Made, capsys: pytest.CaptureFixture[str]
) -> None:
    _, out, _ = told(capsys, "recall", fleet.folder, "--list", "firmware")
    assert "2.1  at 5 sites" in out
    code, _, err = told(capsys, "recall", fleet.folder)
    assert code == 2
    assert "--profile" in err
    code, _, err = told(capsys, "recall", fleet.folder, "--setting", "float_voltage")
    assert code == 2
    assert "absorption_voltage=57.6..58.4" in err


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        (["--profile", "agn"], "the nearest: agm"),
        (["--profile", "gel"], "no record here has this battery profile"),
        (["--setting", "flot_voltage=54"], "float_voltage"),
        (["--setting", "nonsense=1..2"], "--list"),
        (["--instrument", "no-such-serial"], "no record here has this instrument"),
    ],
)
def test_a_mistyped_recall_does_not_look_like_nobody_has_it(
    fleet: Made, capsys: pytest.CaptureFixture[str], asked: list[str], says: str
) -> None:
    """No site would be read as all is well."""
    code, out, err = told(capsys, "recall", fleet.folder, *asked)
    assert (code, out) == (2, "")
    assert says in err


def test_one_site_is_counted_as_one() -> None:
    rows = [{"name": "lfp", "value": "", "unit": "", "sites": many} for many in (1, 2)]
    assert [line.split("at ")[1] for line in held_lines(rows)] == ["1 site", "2 sites"]


def test_an_outlook_says_how_little_it_knows_of_few_visits(
    fleet: Made, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, _ = told(capsys, "outlook", fleet.folder)
    assert code == 0
    assert "nothing comes to its limit" in out
    assert "are watched" in out


def test_every_table_is_written_as_csv(
    fleet: Made, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    code, found = as_json(capsys, "export", fleet.folder, "--to", tmp_path / "out")
    assert code == 0
    assert found["rows"]["record"] == 14
    assert len((tmp_path / "out" / "record.csv").read_text(encoding="utf-8").splitlines()) == 15
    code, out, _ = told(capsys, "export", fleet.folder, "--to", tmp_path / "one.csv", "--table", "site")
    assert "5  site" in out
    code, _, err = told(capsys, "export", fleet.folder, "--to", tmp_path / "x.csv", "--table", "sits")
    assert code == 2
    assert "site" in err


@pytest.mark.parametrize("command", ["desk", "due", "trend", "recall", "export"])
def test_a_folder_that_is_not_there_is_told(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, command: str
) -> None:
    more: dict[str, list[str]] = {"trend": ["site", "volts"], "export": ["--to", str(tmp_path / "out")]}
    code, _, err = told(capsys, command, tmp_path / "none", *more.get(command, []), "--json")
    assert code == 2
    assert "there is no such folder" in err
