"""Every query gives the same answer on every engine, and as a plain scan of the records in Python."""

from __future__ import annotations

import csv
import subprocess
import sys
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from random import Random
from typing import Any

import pytest

from commission.cli import main
from commission.desk.engines.duckdb import Fleet
from commission.desk.engines.postgres import Shared
from commission.desk.export import ExportError, export_csv, export_parquet
from commission.desk.index import Index
from commission.desk.queries import BY_NAME, QUERIES
from commission.desk.tables import CONCERNS, TABLES
from commission.errors import RecordError
from commission.records.fast import strict_tables
from tests.desk.made import BEGUN, METERS, NOW, TECHNICIANS, reading, record, write

STEPS = {"volts": frozenset({"yearly"})}
_DAY = 86400


def steps() -> dict[str, frozenset[str]]:
    return STEPS


def fill(folder: Path) -> None:
    """Write records of twelve sites; a fixed seed, with one of everything among them."""
    chance = Random(5)
    for place in range(12):
        site = f"site-{place:02d}"
        for visit in range(chance.randint(1, 3)):
            at = BEGUN + timedelta(days=365 * visit, minutes=5)
            failed = chance.random() < 0.3
            first = reading(value=53.0 if failed else 54.4, verdict="fail" if failed else "pass", at=at)
            second = reading("spread", chance.uniform(54.25, 54.55), at=at + timedelta(seconds=1))
            done = {"subject": "volts@string-a", "by": "Elin Corse", "reason": "seen"}
            what = chance.choice(["accepted", "deferred", ""])
            until = {"until": "2026-03-01"} if what == "deferred" else {}
            made = record(
                site, visit, readings=[first, second], technician=chance.choice(TECHNICIANS),
                meter=chance.choice(METERS), signed=chance.random() < 0.9, left=chance.choice([57.6, 58.2]),
                answer=chance.choice(["", "countersigned", "returned"]),
                profile=chance.choice(["agm", "lfp"]),
                dispositions=[done | until | {"disposition": what}] if failed and what else [],
            )  # fmt: skip
            if place == 3 and visit:
                made["header"]["previous"] = "sha256:" + "0" * 64
            made["finding"] = [
                {"id": "f", "kind": chance.choice(["stop", "correct", "advise"]), "text": f"drop {place} %"}
            ]
            write(folder / site, made)
    (folder / "site-01" / "site-01_2027-01-01_service_xx.toml").write_bytes(b"format = ")
    (folder / "keys.toml").write_bytes(b"format = 1")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("engines") / "records"
    made.mkdir()
    fill(made)
    return made


@pytest.fixture(scope="module")
def index(folder: Path) -> Iterator[Index]:
    with Index(folder.parent / "index.sqlite", [folder], steps) as made:
        made.update()
        yield made


@pytest.fixture(scope="module")
def fleet(index: Index, folder: Path) -> Iterator[Fleet]:
    export_parquet(index, str(folder.parent / "parquet"))
    with Fleet(str(folder.parent / "parquet")) as made:
        yield made


ASKED: dict[str, list[dict[str, Any]]] = {
    "site": [{"site": "site-03"}],
    "overview": [{"now": int(NOW.timestamp())}],
    "concerns": [{"kind": kind} for kind in CONCERNS] + [{"kind": "put off", "first": "runa"}],
    "uncountersigned": [{}, {"first": "runa", "second": "site-0", "third": "100%"}, {"second": "agm"}],
    "concerns of site": [{"site": "site-05"}],
    "put off": [{"until": int(NOW.timestamp())}],
    "chain of site": [{"site": "site-03"}],
    "due": [{"until": int(NOW.timestamp()) + 400 * _DAY}],
    "due at site": [{"site": "site-04"}],
    "tally": [
        {"dimension": name} for name in ("site", "technician", "chemistry", "device class", "instrument")
    ],
    "meters": [{"least": 1}],
    "meters of kind": [{"kind": "dc voltmeter"}],
    "banded readings of meter": [{"meter": METERS[0], "wide": 0.25}, {"meter": METERS[0], "wide": 0.001}],
    "readings of meter": [{"meter": METERS[0]}],
    "points of site": [{"site": "site-03"}],
    "recall": [
        {"kind": "battery profile", "value": "lfp"}, {"kind": "instrument", "value": METERS[1]},
        {"kind": "setting", "name": "absorption_voltage", "value": "58.2"},
    ],
    "recall between": [{"name": "absorption_voltage", "low": 58.0, "high": 59.0}],
    "held": [{"kind": kind} for kind in ("battery profile", "setting", "instrument", "firmware", "device")],
    "records of site": [{"site": "site-03"}],
    "records of technician": [{"technician": "runafeld"}, {"technician": "runafeld", "third": "torque"}],
    "record": [{"record": 3}],
    "record at": [{"root": 0, "path": "keys.toml"}],
    "concerns of record": [{"record": 4}],
    "comments of record": [{"record": number} for number in range(1, 9)],
}  # fmt: skip


def rounded(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Return rows with sums of floats in another order made equal."""
    return [
        {name: round(value, 9) if isinstance(value, float) else value for name, value in row.items()}
        for row in rows
    ]


@pytest.mark.parametrize("query", QUERIES, ids=lambda query: query.name)
def test_duckdb_answers_as_sqlite_does(query: Any, index: Index, fleet: Fleet) -> None:
    for asked in ASKED.get(query.name, [{}]):
        expected = rounded(index.ask(query.name, **asked))
        assert rounded(fleet.ask(query.name, **asked)) == expected, asked


def test_postgresql_answers_as_sqlite_does(index: Index, folder: Path, database: str) -> None:
    """Every query; then again after files were changed, which another one brings in."""
    with Shared(database, steps) as shared:
        assert shared.update([folder], processes=1).added == len(index.rows("SELECT 1 FROM record"))
        for query in QUERIES:
            for asked in ASKED.get(query.name, [{}]):
                expected = rounded(index.ask(query.name, **asked))
                assert rounded(shared.ask(query.name, **asked)) == expected, (query.name, asked)
    with Shared(database, steps) as other:
        assert other.update([folder], processes=1).unchanged == len(index.rows("SELECT 1 FROM record"))


def test_postgresql_keeps_the_folders_of_others(tmp_path: Path, database: str) -> None:
    """Two offices bring in a folder each; one changes; what the other brought in stays."""
    north, south = tmp_path / "north", tmp_path / "south"
    write(north, record("north-hut"))
    path = write(south, record("south-hut"))
    with Shared(database, steps) as shared:
        shared.update([north], processes=1)
        shared.update([south], processes=1)
        path.unlink()
        write(south, record("south-mill", left=58.2))
        done = shared.update([south], processes=1)
        assert (done.added, done.removed) == (1, 1)
        found = {row["site"] for row in shared.ask("sites")}
        assert {"north-hut", "south-mill"} <= found
        assert "south-hut" not in found


def test_every_query_is_asked_here() -> None:
    for query in QUERIES:
        for asked in ASKED.get(query.name, [{}]):
            query.values(asked)
    assert set(ASKED) <= set(BY_NAME)


def test_a_wrong_question_is_refused(index: Index) -> None:
    with pytest.raises(KeyError, match="asks for"):
        index.ask("site", place="here")
    with pytest.raises(KeyError):
        index.ask("site")


# as a plain scan


@pytest.fixture(scope="module")
def plain(folder: Path) -> list[dict[str, Any]]:
    """Return the tables of all records, read by the strict reader."""
    found = []
    for path in sorted(folder.rglob("*.toml")):
        try:
            data = strict_tables(path.read_bytes())
        except ValueError:
            continue
        if "header" in data:
            found.append(data)
    return found


def newest(plain: list[dict[str, Any]]) -> dict[str, dict[str, Any]]:
    """Return the newest record of each site."""
    found: dict[str, dict[str, Any]] = {}
    for data in sorted(plain, key=lambda one: one["visit"]["started_at"]):
        found[data["header"]["site"]] = data
    return found


def visits(rows: list[dict[str, Any]]) -> list[str]:
    return sorted(Path(row["path"]).stem for row in rows)


def stems(found: list[dict[str, Any]]) -> list[str]:
    return sorted(
        f"{one['header']['site']}_{one['visit']['started_at']:%Y-%m-%d}_{one['header']['kind']}_"
        f"{one['header']['visit'][-2:]}"
        for one in found
    )


def test_signatures_and_answers_as_scanned(index: Index, plain: list[dict[str, Any]]) -> None:
    signed = [one for one in plain if "sign_off" in one]
    answered = {
        name: [one for one in signed if one["seal"][-1]["says"] == name] for name in ("signed", "returned")
    }
    assert visits(index.ask("unsigned")) == stems([one for one in plain if "sign_off" not in one])
    assert visits(index.ask("uncountersigned")) == stems(answered["signed"])
    back = {(row["site"], row["subject"]) for row in index.ask("concerns", kind="returned")}
    assert back == {(one["header"]["site"], one["visit"]["id"]) for one in answered["returned"]}
    assert len(signed) < len(plain)


def test_open_findings_and_settings_that_differ_as_scanned(index: Index, plain: list[dict[str, Any]]) -> None:
    """Of the newest record of each site."""
    last = newest(plain)
    opened = sorted(site for site, one in last.items() if one["finding"][0]["kind"] in {"stop", "correct"})
    differing = sorted(site for site, one in last.items() if one["setting"][0]["left"] != 57.6)
    assert [row["site"] for row in index.ask("concerns", kind="finding open")] == opened
    assert [row["site"] for row in index.ask("concerns", kind="setting differs")] == differing
    assert sorted(row["site"] for row in index.ask("sites") if row["differing"]) == differing
    recalled = index.ask("recall", kind="setting", name="absorption_voltage", value="58.2")
    assert [row["site"] for row in recalled] == differing
    assert opened


def test_failed_readings_hold_until_the_same_was_read_again(
    index: Index, plain: list[dict[str, Any]]
) -> None:
    """Every visit reads the same, so those of the newest records hold, accepted, put off or neither."""
    found: dict[str, list[str]] = {"accepted": [], "deferred": [], "": []}
    for site, one in sorted(newest(plain).items()):
        if one["reading"][0]["judgement"]["verdict"] == "fail":
            disposed = one["visit"]["dispositions"]
            found[disposed[0]["disposition"] if disposed else ""].append(site)
    for kind, what in (("reading accepted", "accepted"), ("reading failed", ""), ("put off", "deferred")):
        assert [row["site"] for row in index.ask("concerns", kind=kind)] == found[what]
    assert any(found.values())


def test_due_dates_as_scanned(index: Index, plain: list[dict[str, Any]]) -> None:
    """A year after the newest signed visit; the step that is read belongs to the yearly service."""
    expected = {}
    for one in sorted(plain, key=lambda one: one["visit"]["started_at"]):
        if "sign_off" in one:
            begun = one["visit"]["started_at"]
            expected[one["header"]["site"]] = f"{begun.year + 1}-{begun:%m-%d}"
    far = int(NOW.timestamp()) + 4000 * _DAY
    assert {row["site"]: row["next_text"] for row in index.ask("due", until=far)} == expected
    assert [row["next_due"] for row in index.ask("due", until=far)] == sorted(
        row["next_due"] for row in index.ask("due", until=far)
    )


def test_groups_as_scanned(index: Index, plain: list[dict[str, Any]]) -> None:
    for name in TECHNICIANS:
        own = [one for one in plain if one["visit"]["people"][0]["name"] == name]
        failed = sum(one["reading"][0]["judgement"]["verdict"] == "fail" for one in own)
        (row,) = [row for row in index.ask("tally", dimension="technician") if row["label"] == name]
        assert (row["records"], row["readings"], row["failed"]) == (len(own), 2 * len(own), failed)
        assert row["sites"] == len({one["header"]["site"] for one in own})
        assert row["rate"] == pytest.approx(failed / (2 * len(own)))


def test_a_list_is_narrowed_by_words_as_scanned(index: Index, plain: list[dict[str, Any]]) -> None:
    answered = [
        one for one in plain if len(one["seal"]) > 1 and one["visit"]["people"][0]["name"] == TECHNICIANS[0]
    ]
    found = index.ask("records of technician", technician="runafeld", first="torque", second="elin")
    assert visits(found) == stems(answered)
    assert 0 < len(found) < len(index.ask("records of technician", technician="runafeld"))


def test_a_chain_with_a_gap_is_told(index: Index, plain: list[dict[str, Any]]) -> None:
    """As records.chain tells it; the generator spoils that of one site."""
    spoiled = [
        one for one in plain if one["header"]["site"] == "site-03" and one["header"]["kind"] == "service"
    ]
    rows = [row for row in index.ask("chains") if row["site"] == "site-03" and row["gap"]]
    assert len(spoiled) > 0
    assert any("is missing before it" in row["says"] for row in rows)


def test_sites_come_worst_first(index: Index) -> None:
    scores = [row["score"] for row in index.ask("sites")]
    assert scores == sorted(scores)


# export


def test_an_export_on_another_store_is_asked_there(index: Index) -> None:
    """fsspec's store in memory stands for any other."""
    export_parquet(index, "memory://desk")
    with Fleet("memory://desk") as fleet:
        assert rounded(fleet.ask("sites")) == rounded(index.ask("sites"))


def test_rows_of_a_record_lie_in_the_year_of_its_visit(index: Index, folder: Path, fleet: Fleet) -> None:
    assert fleet.ask("sites")
    years = {path.parent.name for path in (folder.parent / "parquet" / "reading").rglob("*.parquet")}
    assert {"year=2025", "year=2026", "year=2027"} <= years


def test_an_export_never_takes_the_place_of_something_else(index: Index, tmp_path: Path) -> None:
    (tmp_path / "letter.txt").write_text("mine")
    with pytest.raises(ExportError, match="something else lies there"):
        export_parquet(index, str(tmp_path))
    with pytest.raises(ExportError, match="no export lies there"):
        Fleet(str(tmp_path))
    target = tmp_path / "export"
    counts = export_parquet(index, str(target))
    assert export_parquet(index, str(target)) == counts
    assert counts["record"] == len(index.rows("SELECT 1 FROM record"))


@pytest.mark.parametrize("place", ["nowhere://desk", "zip://"])
def test_a_store_that_there_is_not_is_told(index: Index, place: str) -> None:
    with pytest.raises(ExportError, match="cannot be reached"):
        Fleet(place)
    with pytest.raises(ExportError, match="cannot be reached"):
        export_parquet(index, place)


def test_a_spoiled_file_of_an_export_is_told(index: Index, tmp_path: Path) -> None:
    export_parquet(index, str(tmp_path / "export"))
    for path in (tmp_path / "export").rglob("*.parquet"):
        path.write_bytes(path.read_bytes()[:-9])
    with pytest.raises(ExportError, match="export it again"):
        Fleet(str(tmp_path / "export"))


def test_a_table_as_csv(index: Index, tmp_path: Path) -> None:
    """And nothing in it is taken for a formula by a spreadsheet."""
    path = tmp_path / "sites.csv"
    assert export_csv(index, "site", path) == 12
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["site"] for row in rows] == sorted(row["site"] for row in index.ask("sites"))
    with pytest.raises(RecordError, match="no such table"):
        export_csv(index, "sites", path)


def test_what_a_spreadsheet_takes_for_a_formula_is_text(tmp_path: Path) -> None:
    write(tmp_path / "records", record("tor", technician='=HYPERLINK("x")'))
    with Index(tmp_path / "index.sqlite", [tmp_path / "records"]) as index:
        index.update()
        export_csv(index, "person", tmp_path / "people.csv")
    assert "'=HYPERLINK" in (tmp_path / "people.csv").read_text(encoding="utf-8")


def test_the_engines_are_imported_only_when_asked_for() -> None:
    code = (
        "import sys, commission.desk.listing, commission.desk.export, commission.desk.opening\n"
        "extra = {'duckdb', 'pyarrow', 'fsspec', 'psycopg', 'rtoml', 'toml_rs'}\n"
        "print(sorted(extra & sys.modules.keys()))"
    )
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert told.stdout.strip() == "[]"


def test_a_database_that_does_not_answer_is_said() -> None:
    with pytest.raises(ExportError, match="does not answer"):
        Shared("postgresql://desk@127.0.0.1:1/none?connect_timeout=1")


def test_each_engine_has_the_same_tables(fleet: Fleet, index: Index) -> None:
    for table in TABLES:
        count = f"SELECT count(*) AS many FROM {table.name}"
        (row,) = index.rows(count)
        assert fleet._open.execute(count).fetchone() == (row["many"],)


def test_the_commands_ask_a_database_or_an_export_as_they_ask_the_index(
    index: Index, folder: Path, database: str, capsys: pytest.CaptureFixture[str]
) -> None:
    place = str(folder.parent / "asked")
    export_parquet(index, place)
    for command in (
        ["due", "--by", "2028-01-01"],
        ["recall", "--profile", "lfp"],
        ["recall", "--list", "profile"],
    ):
        said = []
        for more in (
            [str(folder), "--index", str(folder.parent / "own.sqlite")],
            [str(folder), "--postgres", database],
            ["--postgres", database],
            ["--parquet", place],
        ):
            main([command[0], *more, *command[1:], "--json"])
            said.append(capsys.readouterr().out)
        assert len(set(said)) == 1
        assert said[0].count("{") > 1


@pytest.mark.parametrize(
    "more",
    [
        [],
        ["--parquet", "a", "--postgres", "b"],
        ["records", "--parquet", "a"],
        ["--parquet", "a", "--check-all"],
    ],
)
def test_what_is_asked_has_to_be_one_thing(more: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["due", *more]) == 2
    assert "Traceback" not in capsys.readouterr().err
