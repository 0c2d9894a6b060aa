"""What a supervisor reads: sites worst first in a sentence, and of a record what to look at first."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from random import Random
from typing import Any

import pytest

from commission.desk.index import Index
from commission.desk.links import _of as worked_out
from commission.desk.links import _surely_in_order
from commission.desk.sentences import NOTHING, record_sentence
from commission.desk.views import (
    concerns,
    filters,
    meter_lines,
    record_lines,
    record_view,
    site_lines,
    site_view,
    sites_found,
)
from tests.desk.made import BEGUN, NOW, reading, record, write

STEPS = {"volts": frozenset({"yearly"})}
ACCEPTED = [{"subject": "volts@string-a", "disposition": "accepted", "reason": "seen", "by": "Elin Corse"}]
FAILED = [reading(value=53.0, verdict="fail")]
SOON = BEGUN + timedelta(days=10)


def desk(folder: Path) -> Index:
    made = Index(folder.parent / "index.sqlite", [folder], lambda: STEPS)
    made.update()
    return made


@pytest.fixture
def index(tmp_path: Path) -> Iterator[Index]:
    """Return the index of six sites, each with another thing to say."""
    folder = tmp_path / "records"
    write(folder, record("calm", answer="countersigned"))
    write(folder, record("waits"))
    write(folder, record("accepts", readings=FAILED, dispositions=ACCEPTED))
    write(folder, record("fails", readings=FAILED, answer="countersigned"))
    write(folder, record("back", answer="returned"))
    stopped = record("stops", answer="countersigned")
    stopped["finding"] = [{"id": "f", "kind": "stop", "text": "no fuse at the bank"}]
    write(folder, stopped)
    with desk(folder) as made:
        yield made


def test_sites_come_worst_first_each_with_what_a_supervisor_would_say(index: Index) -> None:
    """The order is that of summaries.SCORE."""
    assert [(line.site, line.says) for line in site_lines(index, SOON)] == [
        ("stops", "1 finding that stops is open"),
        ("back", "1 record returned"),
        ("fails", "1 reading failed, nothing decided"),
        ("accepts", "1 reading accepted out of band · countersign waits 9 days"),
        ("waits", "countersign waits 9 days"),
        ("calm", NOTHING),
    ]


def test_service_is_spoken_of_when_it_is_near_or_past(index: Index) -> None:
    """A year after the visit of 2025-03-01."""
    for now, said in (
        (datetime.fromisoformat("2026-02-19T12:00:00+00:00"), "yearly service due in 10 days"),
        (datetime.fromisoformat("2026-03-01T12:00:00+00:00"), "yearly service due today"),
        (datetime.fromisoformat("2026-03-02T12:00:00+00:00"), "yearly service overdue by 1 day"),
        (datetime.fromisoformat("2026-03-11T12:00:00+00:00"), "yearly service overdue by 10 days"),
    ):
        view = site_view(index, "calm", now)
        assert view is not None
        assert view.line.says == said
        assert (view.line.next_text, view.line.next_interval) == ("2026-03-01", "yearly")


def test_a_list_is_filtered_and_searched(index: Index) -> None:
    assert [line.site for line in site_lines(index, SOON, only="accepted")] == ["accepts"]
    assert [line.site for line in site_lines(index, SOON, limit=1, offset=1)] == ["back"]
    assert [line.site for line in sites_found(index, "STOP runa", SOON)] == ["stops"]
    assert len(sites_found(index, "  ", SOON)) == 6
    assert sites_found(index, "nobody", SOON) == ()
    assert set(filters()) >= {"accepted", "waiting"}
    with pytest.raises(KeyError):
        site_lines(index, SOON, only="odd")


def test_one_site_shows_what_holds_its_records_and_its_dates(index: Index) -> None:
    view = site_view(index, "accepts", NOW)
    assert view is not None
    (first,) = view.first
    assert (first.kind, first.decided_by, first.site_name) == ("reading accepted", "Elin Corse", "Accepts")
    (line,) = view.records
    assert line.says == "not checked yet · signed by Runa Feld, 2025-03-01 13:00+00:00 · not countersigned"
    (due,) = view.due
    assert (due.every, due.on, due.days) == ("yearly", "2026-03-01", -92)
    assert view.readings == (("volts@string-a", "V", 1),)
    assert site_view(index, "nowhere", NOW) is None


def test_one_record_shows_what_to_look_at_first_and_then_everything(index: Index) -> None:
    (found,) = index.ask("records of site", site="back")
    view = record_view(index, found["record"])
    assert view is not None
    (comment,) = view.comments
    assert (comment.answer, comment.name, comment.step, comment.says) == (
        "returned", "Elin Corse", "volts", "torque again",
    )  # fmt: skip
    (shown,) = view.readings
    assert (shown.key, shown.shown, shown.band, shown.verdict) == (
        "volts@string-a", "54.4 V", "54.2 to 54.6 V", "pass",
    )  # fmt: skip
    assert view.settings[0]["as_left"] == 57.6
    assert {row["name"] for row in view.people} == {"Runa Feld", "Elin Corse"}
    assert record_view(index, 999) is None


def test_a_record_whose_file_is_gone_says_so(index: Index) -> None:
    (found,) = index.ask("records of site", site="calm")
    index.file_of(found).unlink()
    view = record_view(index, found["record"])
    assert view is not None
    assert "cannot be read" in view.wrong
    assert view.readings == ()


def test_lists_of_records_and_of_concerns(index: Index) -> None:
    assert [line.site for line in record_lines(index, "returned")] == ["back"]
    assert [(one.site, one.kind) for one in concerns(index, "finding open")] == [("stops", "finding open")]
    row: dict[str, Any] = index.ask("broken")[0] if index.ask("broken") else {}
    assert row == {}


def test_a_file_that_is_spoiled_says_only_that() -> None:
    assert record_sentence({"state": "malformed", "signed_by": "", "answer": ""}) == "malformed"


# what still holds


def test_a_failed_reading_holds_until_a_later_visit_reads_the_same(tmp_path: Path) -> None:
    folder = tmp_path / "records"
    write(folder, record("tor", readings=FAILED, dispositions=ACCEPTED))
    write(folder, record("tor", 1, readings=[reading("spread", at=BEGUN + timedelta(days=365))]))
    with desk(folder) as index:
        assert [one.kind for one in concerns(index, "reading accepted")] == ["reading accepted"]
        write(folder, record("tor", 2, readings=[reading(at=BEGUN + timedelta(days=730))]))
        index.update()
        assert concerns(index, "reading accepted") == ()


def test_a_step_that_was_put_off_holds_until_it_is_made_up(tmp_path: Path) -> None:
    folder = tmp_path / "records"
    put_off = [
        {"subject": "load@", "disposition": "deferred", "until": "2025-05-01", "reason": "rain", "by": "R"}
    ]
    write(folder, record("tor", dispositions=put_off))
    write(folder, record("tor", 1))
    with desk(folder) as index:
        (line,) = site_lines(index, NOW)
        assert "1 thing put off until 2025-05-01, which is past" in line.says
        made_up = reading("load.step", parts=[], at=BEGUN + timedelta(days=731))
        write(folder, record("tor", 2, readings=[made_up]))
        index.update()
        assert "put off" not in site_lines(index, NOW)[0].says


def test_what_is_put_off_at_every_visit_is_one_thing_with_its_newest_date(tmp_path: Path) -> None:
    folder = tmp_path / "records"
    for visit in range(3):
        put_off = {"subject": "load@", "disposition": "deferred", "until": f"{2027 + visit}-05-01", "by": "R"}
        write(folder, record("tor", visit, dispositions=[put_off]))
    with desk(folder) as index:
        assert "1 thing put off until 2029-05-01" in site_lines(index, NOW)[0].says
        assert [one.until_text for one in concerns(index, "put off")] == ["2029-05-01"]


def test_a_returned_record_holds_until_something_newer_is_signed(tmp_path: Path) -> None:
    folder = tmp_path / "records"
    write(folder, record("tor", answer="returned"))
    with desk(folder) as index:
        assert site_lines(index, SOON)[0].says == "1 record returned"
        write(folder, record("tor", 1, answer="countersigned"))
        index.update()
        assert "returned" not in site_lines(index, SOON)[0].says


def test_a_copy_from_before_it_was_countersigned_waits_for_nobody(tmp_path: Path) -> None:
    folder = tmp_path / "records"
    write(folder, record("tor"), "copy.toml")
    write(folder, record("tor", answer="countersigned"))
    with desk(folder) as index:
        assert site_lines(index, SOON)[0].says == NOTHING


# over all sites


def test_one_bad_meter_is_seen_across_sites(tmp_path: Path) -> None:
    """It reads 0.08 V high in bands of ±0.2 V: 0.4 half-widths; others scatter by ±0.1 V about the middle."""
    chance = Random(3)
    folder = tmp_path / "records"
    for place in range(40):
        bad = place % 5 == 0
        values = [54.4 + chance.uniform(-0.1, 0.1) + (0.08 if bad else 0.0) for _ in range(6)]
        readings = [reading(f"cell-{i}", value) for i, value in enumerate(values)]
        meter = "B-99" if bad else f"G-{place % 4}"
        write(folder, record(f"site-{place}", meter=meter, readings=readings))
    with desk(folder) as index:
        lines = meter_lines(index.ask("meters"))
    assert lines[0].meter == "B-99"
    assert lines[0].mean - lines[0].others == pytest.approx(0.4, abs=0.1)
    assert lines[0].sigmas > 5
    assert (lines[0].sites, lines[0].readings) == (8, 48)
    assert all(abs(line.sigmas) < lines[0].sigmas / 2 for line in lines[1:])


def test_a_chain_that_is_passed_over_has_nothing_odd() -> None:
    """Drawn chains: wherever the quick look finds nothing, working it out finds nothing either."""
    chance, passed = Random(8), 0
    for _ in range(8000):
        count = chance.randint(1, 4)
        digests = {record: [f"d{chance.randint(0, 4)}"] for record in range(count)}
        members = [
            (
                record, 0, f"{record}.toml", "s", f"v{chance.randint(0, 5)}",
                chance.choice(["intact", "not checked yet", "not checked yet", "changed"]),
                chance.choice(["", "R"]), chance.choice(["", *(f"d{i}" for i in range(5))]),
                chance.choice([None, 1, 2, 3]),
            )
            for record in range(count)
        ]  # fmt: skip
        if _surely_in_order(members, digests):
            passed += 1
            assert list(worked_out("s", members, digests)) == []
    assert passed > 100
