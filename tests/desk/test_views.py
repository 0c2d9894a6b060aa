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
from commission.desk.listing import SHOWS, Wanted, site_ids, site_rows
from commission.desk.meters import meter_words, meters_told
from commission.desk.sentences import NOTHING, site_sentence, span
from commission.plant.places import site_path
from tests.desk.made import BEGUN, NOW, reading, record, write

STEPS = {"volts": frozenset({"yearly"})}
ACCEPTED = [{"subject": "volts@string-a", "disposition": "accepted", "reason": "seen", "by": "Elin Corse"}]
FAILED = [reading(value=53.0, verdict="fail")]
SOON = BEGUN + timedelta(days=10)


def desk(folder: Path) -> Index:
    made = Index(folder.parent / "index.sqlite", [folder], lambda: STEPS)
    made.update()
    return made


def told(index: Index, now: datetime, wanted: Wanted | None = None) -> list[tuple[str, str]]:
    """Return the sites of the list with their sentences, as the desk shows them."""
    ids = site_ids(index, wanted or Wanted(), int(now.timestamp()))
    rows = site_rows(index, ids)
    return [(ident, site_sentence(rows[ident], now)) for ident in ids]


def ids(index: Index, **wanted: str) -> list[str]:
    return [ident for ident, _ in told(index, SOON, Wanted(**wanted))]


def concerns(index: Index, kind: str) -> list[dict[str, Any]]:
    return index.ask("concerns", kind=kind)


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
    assert told(index, SOON) == [
        ("stops", "1 finding that stops is open"),
        ("back", "1 returned record not answered for 8 days"),
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
        assert dict(told(index, now))["calm"] == said
    (row,) = index.ask("site", site="calm")
    assert (row["next_text"], row["next_interval"]) == ("2026-03-01", "yearly")


@pytest.mark.parametrize(
    ("days", "says"),
    [(0, "since today"), (1, "1 day"), (89, "89 days"), (90, "2 months"), (365, "12 months"),
     (729, "23 months"), (730, "2 years"), (2341, "6 years")],
)  # fmt: skip
def test_what_has_lasted_is_told_in_days_then_months_then_years(days: int, says: str) -> None:
    assert span(days * 86400) == says


def test_a_list_is_filtered_and_searched(index: Index) -> None:
    assert ids(index, words="STOP runa") == ["stops"]
    assert len(ids(index, words="  ")) == 6
    assert ids(index, words="nobody") == []
    assert ids(index, show="accepted", words="runa") == ["accepts"]
    assert ids(index, show="accepted", words="stop") == []
    assert ids(index, dimension="chemistry", member="no such") == []


def test_every_way_to_narrow_the_list_shows_those_sites_and_no_others(index: Index) -> None:
    """In the same order as all sites; what no site here has is left empty."""
    every = ids(index)
    shown = {one.key: ids(index, show=one.key) for one in SHOWS}
    assert {key: found for key, found in shown.items() if found} == {
        "all": every,
        "look": [site for site in every if site != "calm"],
        "stops": ["stops"],
        "open": ["stops"],
        "failed": ["fails"],
        "out": ["fails", "accepts"],
        "accepted": ["accepts"],
        "waiting": ["accepts", "waits"],
        "returned": ["back"],
    }


@pytest.mark.parametrize(
    ("on", "shown"),
    [
        ("2025-11-20", set()),
        ("2025-12-15", {"quarter"}),
        ("2026-02-10", {"month", "quarter"}),
        ("2026-03-02", {"overdue"}),
    ],
)
def test_sites_are_shown_by_the_date_of_their_next_service(index: Index, on: str, shown: set[str]) -> None:
    """Due on 2026-03-01, at the end of that day."""
    now = datetime.fromisoformat(f"{on}T12:00:00+00:00")
    dated = ("overdue", "month", "quarter", "never")
    assert {key for key in dated if told(index, now, Wanted(show=key))} == shown


def test_one_site_shows_what_holds_and_its_dates(index: Index) -> None:
    (first,) = index.ask("concerns of site", site="accepts")
    assert (first["kind"], first["decided_by"], first["site_name"]) == (
        "reading accepted", "Elin Corse", "Accepts",
    )  # fmt: skip
    (due,) = index.ask("due at site", site="accepts")
    assert (due["every"], due["due_text"]) == ("yearly", "2026-03-01")
    assert [(row["name"], row["readings"]) for row in index.ask("points of site", site="accepts")] == [
        ("volts@string-a", 1)
    ]
    assert index.ask("site", site="nowhere") == []


def test_a_returned_record_shows_its_comment(index: Index) -> None:
    (found,) = index.ask("records of site", site="back")
    (comment,) = index.ask("comments of record", record=found["record"])
    assert [comment[name] for name in ("answer", "name", "step", "says")] == [
        "returned", "Elin Corse", "volts", "torque again",
    ]  # fmt: skip


def test_lists_of_records_and_of_concerns(index: Index) -> None:
    assert [row["site"] for row in index.ask("concerns", kind="returned")] == ["back"]
    assert [row["site"] for row in concerns(index, "finding open")] == ["stops"]
    assert index.ask("broken") == []


# what still holds


def test_a_failed_reading_holds_until_a_later_visit_reads_the_same(tmp_path: Path) -> None:
    folder = tmp_path / "records"
    write(folder, record("tor", readings=FAILED, dispositions=ACCEPTED))
    write(folder, record("tor", 1, readings=[reading("spread", at=BEGUN + timedelta(days=365))]))
    with desk(folder) as index:
        assert [one["kind"] for one in concerns(index, "reading accepted")] == ["reading accepted"]
        write(folder, record("tor", 2, readings=[reading(at=BEGUN + timedelta(days=730))]))
        index.update()
        assert concerns(index, "reading accepted") == []


def test_a_step_that_was_put_off_holds_until_it_is_made_up(tmp_path: Path) -> None:
    folder = tmp_path / "records"
    put_off = [
        {"subject": "load@", "disposition": "deferred", "until": "2025-05-01", "reason": "rain", "by": "R"}
    ]
    write(folder, record("tor", dispositions=put_off))
    write(folder, record("tor", 1))
    with desk(folder) as index:
        ((_, says),) = told(index, NOW)
        assert "1 thing put off until 2025-05-01, which is past" in says
        write(
            folder,
            record("fen", dispositions=[*put_off, put_off[0] | {"subject": "bus@", "until": "2029-05-01"}]),
        )
        index.update()
        first = "2 things put off, the first until 2025-05-01, which is past"
        assert [first in one for _, one in told(index, NOW)].count(True) == 1
        made_up = reading("load.step", parts=[], at=BEGUN + timedelta(days=731))
        write(folder, record("tor", 2, readings=[made_up]))
        index.update()
        assert "1 thing put off" not in " ".join(one for _, one in told(index, NOW))


def test_a_step_that_was_read_before_the_end_of_its_visit_is_not_put_off(tmp_path: Path) -> None:
    folder = tmp_path / "records"
    off = {"disposition": "deferred", "until": "2025-05-01", "reason": "rain", "by": "R", "at": BEGUN}
    subjects = ("load@", "rest@")
    made_up = reading("load.step", parts=[], at=BEGUN + timedelta(hours=2))
    write(
        folder, record("tor", readings=[made_up], dispositions=[off | {"subject": one} for one in subjects])
    )
    with desk(folder) as index:
        assert [one["subject"] for one in concerns(index, "put off")] == ["rest@"]


def test_a_failed_reading_that_was_put_off_is_both_until_it_is_read_again(tmp_path: Path) -> None:
    """In the counts, in what is looked at first, in words; a later put-off takes no failure away."""
    folder = tmp_path / "records"
    off = {"subject": "volts@string-a", "disposition": "deferred", "reason": "rain", "by": "Runa Feld"}
    write(folder, record("tor", readings=FAILED, dispositions=[off | {"until": "2026-04-01"}]))
    write(folder, record("tor", 1, readings=[], dispositions=[off | {"until": "2027-04-01"}]))
    with desk(folder) as index:
        still = [(row["kind"], row["until_text"]) for row in index.ask("concerns of site", site="tor")]
        assert still == [("reading failed", "2026-04-01"), ("put off", "2027-04-01")]
        (site,) = index.ask("sites")
        assert [site[name] for name in ("failed", "failed_deferred", "deferred", "undecided")] == [1, 1, 1, 0]
        says = told(index, NOW)[0][1]
        assert "1 reading failed and was put off" in says
        assert "1 thing put off until 2027-04-01" in says
        assert ids(index, show="out") == ids(index, show="deferred") == ["tor"]
        write(folder, record("tor", 2))
        index.update()
        assert index.ask("concerns of site", site="tor") == []


@pytest.mark.parametrize("done", ["mended", "isolated and locked"])
def test_a_failed_reading_that_was_mended_or_isolated_is_not_called_undecided(
    tmp_path: Path, done: str
) -> None:
    write(
        tmp_path / "records",
        record("tor", readings=FAILED, dispositions=[ACCEPTED[0] | {"disposition": done}]),
    )
    with desk(tmp_path / "records") as index:
        assert "1 failed reading mended or isolated" in told(index, SOON)[0][1]
        assert ids(index, show="failed") == []
        assert ids(index, show="out") == ["tor"]


# files that are no records


def test_only_records_count_as_records_that_are_not_as_they_were_sealed(tmp_path: Path) -> None:
    """Neither a site file nor a list of keys, whole or spoiled; a spoiled record does, whatever its name."""
    folder = tmp_path / "records"
    whole = write(folder, record("tor")).read_bytes()
    site = site_path(Path("tarnwold-cabin")).read_bytes()
    (folder / "tarnwold-cabin.toml").write_bytes(site)
    (folder / "known.toml").write_bytes(b"format = 1\n\n[[key]]\nname = 'Elin Corse'\n")
    (folder / "half-done.toml").write_bytes(site + b"\n[[inverter_chargers")
    (folder / "keys.toml").write_bytes(b"format = ")
    with desk(folder) as index:
        index.check_all(NOW)
        (over,) = index.ask("overview", now=0)
        assert (over["records"], over["unreadable"]) == (1, 2)
        assert dict(told(index, SOON))[""] == "2 files cannot be read, they may be no records"
        assert [row["path"] for row in index.ask("no records")] == ["known.toml", "tarnwold-cabin.toml"]
        (folder / "copy.toml").write_bytes(whole[: len(whole) // 2])
        index.update()
        # the record that was made here has no true digest, which checking all found out
        assert "2 records are not as they were sealed" in dict(told(index, SOON))["tor"]
        assert [row["state"] for row in index.ask("broken")] == ["changed", "malformed"]


def test_what_is_put_off_at_every_visit_is_one_thing_with_its_newest_date(tmp_path: Path) -> None:
    folder = tmp_path / "records"
    for visit in range(3):
        put_off = {"subject": "load@", "disposition": "deferred", "until": f"{2027 + visit}-05-01", "by": "R"}
        write(folder, record("tor", visit, dispositions=[put_off]))
    with desk(folder) as index:
        assert "1 thing put off until 2029-05-01" in told(index, NOW)[0][1]
        assert [one["until_text"] for one in concerns(index, "put off")] == ["2029-05-01"]


# what was returned


def returned_sites(index: Index) -> list[str]:
    return [row["site"] for row in index.ask("sites") if row["returned"]]


def putting_right(visit: int, **changed: Any) -> dict[str, Any]:
    """Return the record of a visit that does again what was asked where the visit before was returned."""
    made = record("tor", visit, **changed)
    doubted = {"by": "Elin Corse", "at": BEGUN + timedelta(days=2), "kind": "commissioning"}
    comments = [{"text": "torque again", "step": "volts"}]
    made["visit"]["service"] = {"previous_visit": "tor-v0", "returned": doubted | {"comments": comments}}
    return made


def countersigned_with(visit: int, comment: str) -> dict[str, Any]:
    """Return the record of a visit that was countersigned with a comment to the whole."""
    made = record("tor", visit, answer="countersigned")
    made["seal"][-1]["comments"] = [{"text": comment}]
    return made


def test_a_returned_record_is_open_however_many_newer_ones_are_signed(tmp_path: Path) -> None:
    """With who returned it, when, and what was asked; countersigning a newer one is no answer by itself."""
    folder = tmp_path / "records"
    write(folder, record("tor", answer="returned"))
    with desk(folder) as index:
        assert told(index, SOON)[0][1] == "1 returned record not answered for 8 days"
        write(folder, record("tor", 1))
        write(folder, record("tor", 2, answer="countersigned"))
        index.update()
        assert "1 returned record not answered" in told(index, SOON)[0][1]
        assert ids(index, show="returned") == ["tor"]
        (still,) = [row for row in index.ask("concerns of site", site="tor") if row["kind"] == "returned"]
        assert still["says"] == "by Elin Corse 2025-03-03: torque again"
        assert (still["decided_by"], still["started_text"][:10]) == ("Elin Corse", "2025-03-01")


@pytest.mark.parametrize(
    ("answer", "is_open"),
    [
        (putting_right(1), False),
        (putting_right(1, signed=False), True),
        (countersigned_with(1, "Settles the returned visit tor-v0: it was the meter"), False),
        (countersigned_with(1, "settles the returned visit tor-v00"), True),
        (countersigned_with(1, "tor-v0 looks better now"), True),
    ],
)
def test_what_answers_a_returned_record(tmp_path: Path, answer: dict[str, Any], is_open: bool) -> None:
    folder = tmp_path / "records"
    write(folder, record("tor", answer="returned"))
    write(folder, answer)
    with desk(folder) as index:
        assert bool(returned_sites(index)) == is_open
        again = record("tor", answer="returned")
        again["seal"].append(again["seal"][-1] | {"at": BEGUN + timedelta(days=900)})
        write(folder, again)
        index.update()
        assert returned_sites(index) == ["tor"], "returned once more: what was answered is asked again"


def test_of_copies_of_a_returned_record_one_counts_and_a_later_seal_on_one_answers_it(tmp_path: Path) -> None:
    folder = tmp_path / "records"
    write(folder, record("tor", answer="returned"))
    write(folder, record("tor", answer="returned"), "copy.toml")
    with desk(folder) as index:
        assert [row["returned"] for row in index.ask("sites")] == [1]
        again = record("tor", answer="returned")
        again["seal"].append(again["seal"][-1] | {"says": "countersigned", "at": BEGUN + timedelta(days=9)})
        write(folder, again)
        index.update()
        assert returned_sites(index) == []


def test_a_copy_from_before_it_was_countersigned_waits_for_nobody(tmp_path: Path) -> None:
    folder = tmp_path / "records"
    write(folder, record("tor"), "copy.toml")
    write(folder, record("tor", answer="countersigned"))
    with desk(folder) as index:
        assert told(index, SOON)[0][1] == NOTHING


# over all sites


def test_one_bad_meter_is_seen_across_sites(tmp_path: Path) -> None:
    """It reads 0.16 V high at 54.4 V, 0.29 %; the others scatter by 0.1 V about the middle of their bands."""
    chance = Random(3)
    folder = tmp_path / "records"
    for place in range(40):
        bad = place % 5 == 0
        values = [54.4 + chance.uniform(-0.1, 0.1) + (0.16 if bad else 0.0) for _ in range(6)]
        readings = [reading(f"cell-{i}", value) for i, value in enumerate(values)]
        meter = "B-99" if bad else f"G-{place % 4}"
        write(folder, record(f"site-{place}", meter=meter, readings=readings))
    write(folder, record("alone", meter="H-1", readings=[reading(f"cell-{i}", 54.6) for i in range(6)] * 9))
    with desk(folder) as index:
        told = meters_told(index)
    assert next(one.row["name"] for one in told) == "B-99"
    assert "H-1" not in {one.row["name"] for one in told}, "one site tells nothing of a meter"
    first, *others = [one.found for one in told if one.found is not None]
    assert [first.odd, *(one.odd for one in others)] == [True, False, False, False, False]
    assert first.least < 0.16 / 54.4 < first.most
    assert (first.sites, first.readings) == (8, 48)
    assert f"reads {100.0 * first.off:.2f} % more than the others (" in meter_words(told[0])
    assert "over 48 readings at 8 sites: have it calibrated" in meter_words(told[0])


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
