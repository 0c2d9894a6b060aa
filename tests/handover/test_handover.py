"""The document of a visit: what it tells is what the records hold, and it fits on paper.

The records are read here as plain TOML, beside the code. After a change that is meant, the picture is written
anew with ``NEW_PICTURES=1`` in the environment; look at the difference before it is committed.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import tomllib
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from commission.cli import main
from commission.desk.practice.fleet import make_fleet
from commission.errors import RecordError
from commission.handover.blocks import Document, Fact, Facts, Part, Row, Table
from commission.handover.compared import drifted_readings
from commission.handover.document import document_of, handover_of
from commission.handover.file import form_of, write_document
from commission.handover.matter import Matter, exact, matter_of
from commission.handover.page import html_page
from commission.handover.text import LINES, WIDTH, text_lines, text_pages
from commission.units import plain
from tests.handover.made import ADDED, FIRST_ONLY, NOTE, Made, after_lightning, put_right
from tests.technician import SUPERVISOR, TECHNICIAN

PICTURE = Path(__file__).with_name("service.txt")
CLOSING = "The program advises."
BEHIND = "EVERY READING BESIDE ITS BASELINE AND ITS LAST VALUE"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Made:
    return after_lightning(tmp_path_factory.mktemp("lightning"))


@pytest.fixture(scope="module")
def answered(tmp_path_factory: pytest.TempPathFactory) -> Made:
    return put_right(tmp_path_factory.mktemp("answered"))


@pytest.fixture(scope="module")
def matter(made: Made) -> Matter:
    return matter_of(made.record)


@pytest.fixture(scope="module")
def document(matter: Matter) -> Document:
    return document_of(matter, CLOSING)


@pytest.fixture(scope="module")
def raw(made: Made) -> dict[str, Any]:
    return raw_of(made.record)


def raw_of(path: Path) -> dict[str, Any]:
    return tomllib.loads(path.read_text(encoding="utf-8"))


def part(document: Document, title: str) -> Part:
    return next(one for one in document.parts if one.title.startswith(title))


def rows(found: Part) -> Iterator[Row]:
    for block in found.blocks:
        if isinstance(block, Table):
            yield from block.rows


def told(found: Part) -> dict[str, list[tuple[str, ...]]]:
    """Return the facts of a part by their words."""
    made: dict[str, list[tuple[str, ...]]] = {}
    for block in found.blocks:
        for fact in block.facts if isinstance(block, Facts) else ():
            made.setdefault(fact.word, []).append(fact.texts)
    return made


def key(row: dict[str, Any]) -> tuple[str, tuple[str, ...], int]:
    return row["step"], tuple(row.get("parts", ())), row.get("index", 0)


def number(cell: str) -> float:
    return float(cell.lstrip("<> ").split()[0].replace("−", "-"))


# what it looks like


def test_a_service_visit_looks_as_it_did(document: Document) -> None:
    """The main part, digests left out: they change with every byte of a record."""
    lines = list(text_lines(document))
    seen = "\n".join(lines[: lines.index(BEHIND)]).rstrip()
    seen = re.sub(r"\b[0-9a-f]{12}…", "0123456789ab…", seen) + "\n"
    if os.environ.get("NEW_PICTURES"):
        PICTURE.write_text(seen, encoding="utf-8", newline="\n")
    assert seen == PICTURE.read_text(encoding="utf-8")


def test_every_page_holds_its_lines_and_says_which_one_it_is(document: Document) -> None:
    """No line is cut off by paper, no heading stands alone at the end of a page."""
    pages = text_pages(document).split("\f")
    assert len(pages) > 2
    for count, page in enumerate(pages, start=1):
        lines = page.rstrip("\n").split("\n")
        assert len(lines) == LINES
        assert max(map(len, lines)) <= WIDTH
        assert lines[-1].startswith(document.foot)
        assert lines[-1].endswith(f"page {count} of {len(pages)}")
        assert lines[0].strip()
        body = [line for line in lines[:-1] if line]
        assert not body[-1].startswith("---")


def test_a_page_that_begins_within_a_table_says_its_heads_again(document: Document) -> None:
    pages = text_pages(document).split("\f")
    behind = next(at for at, page in enumerate(pages) if BEHIND in page)
    begun = [page.splitlines()[0] for page in pages[behind + 1 :]]
    assert len(begun) > 1
    assert all(line.startswith(("reading ", "baseline of", "NEW BASELINES")) for line in begun)


def test_text_and_page_tell_the_same(document: Document) -> None:
    """Each cell and each fact stands in both, in the same order."""
    page = re.sub(r"<style>.*?</style>", "", html_page(document), flags=re.DOTALL)
    words = re.sub(r"\s+", "", re.sub(r"<[^>]+>", " ", page)).replace("&#x27;", "'").replace("&lt;", "<")
    words = words.replace("&gt;", ">").replace("&quot;", '"').replace("&amp;", "&")
    text = re.sub(r"\s+", "", "\n".join(text_lines(document)))
    for found in document.parts:
        for row in rows(found):
            for cell in (*row.cells, *row.notes, row.group):
                assert re.sub(r"\s+", "", cell) in words
        for texts in told(found).values():
            for line in (line for one in texts for line in one):
                assert re.sub(r"\s+", "", line) in words
                assert re.sub(r"\s+", "", line) in text


def test_what_somebody_wrote_is_text_on_paper_and_in_a_browser() -> None:
    """Neither markup nor a command to a terminal or printer, nor the end of the stylesheet."""
    evil = '</style><script>alert(1)</script>\x1b[2J\f"; } @import "x'
    facts = Facts((Fact(evil, (evil,)),))
    document = Document(evil, evil, (Part(evil, (facts,)),), evil)
    page = html_page(document)
    assert "<script" not in page
    assert page.count("</style>") == 1
    assert '@import "' not in page
    assert not {"\x1b", "\f"} & set(page)
    assert "\x1b" not in text_pages(document)
    assert text_pages(document).count("\f") == 0


# what it says is what the record holds


@pytest.fixture(scope="module")
def aged(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The third service visit of a mast: its readings have a baseline and a last value that differ."""
    folder = tmp_path_factory.mktemp("mast")
    make_fleet(folder, 1, 3, 4, today=date(2026, 11, 28), lives=1, kinds=["mast"])
    found = sorted(folder.rglob("*_service_*.toml"), key=lambda path: path.name)
    return [path for path in found if "returned" not in raw_of(path)["visit"]["service"]][-1]


def test_each_number_behind_is_the_one_of_the_record(
    document: Document, matter: Matter, raw: dict[str, Any]
) -> None:
    """Baseline, last, now as they were read; change, limit and verdict as they were judged."""
    check_numbers(document, matter, raw)


def test_each_number_of_a_later_visit_is_the_one_of_the_record(aged: Path) -> None:
    """Where the last value is another than the baseline, and a reading has a limit for each."""
    matter, raw = matter_of(aged), raw_of(aged)
    drifts = [one.get("judgement", {}).get("drifts", ()) for one in raw["reading"]]
    assert any(len(two) == 2 for two in drifts)
    assert any(not one.get("baseline", False) for one in raw["visit"]["service"]["earlier"])
    document = document_of(matter, CLOSING)
    check_numbers(document, matter, raw)
    newest = {key(one): one for one in raw["reading"]}.values()
    verdicts = [{drift["verdict"] for drift in one.get("judgement", {}).get("drifts", ())} for one in newest]
    hold, open_ = verdicts.count({"holds"}), sum("not compared" in found for found in verdicts)
    words = told(part(document, "Readings that drifted"))[""][0][0]
    whole = sum(bool(found) for found in verdicts)
    more = f", {open_} could not be compared" if open_ else ""
    assert words == f"{hold} of {whole} readings with a limit of change hold{more}; all are told behind."


def check_numbers(document: Document, matter: Matter, raw: dict[str, Any]) -> None:
    newest = {key(one): one for one in raw["reading"]}
    earlier: dict[Any, dict[bool, dict[str, Any]]] = {}
    for one in raw["visit"]["service"]["earlier"]:
        earlier.setdefault(key(one), {})[one.get("baseline", False)] = one
    names = {matter.reading(one.key): key(one.model_dump()) for one in matter.readings}
    seen, drifts, now = set(), 0, key(raw["reading"][0])
    for row in rows(part(document, "Every reading")):
        if row.cells[1]:
            now = names[_name(row)]
            seen.add(now)
            base, last = earlier[now][True], earlier[now].get(False)
            assert number(row.cells[1]) == pytest.approx(base["value"], rel=5e-6, abs=1e-12)
            if last is None:
                assert row.cells[2] == "same"
            else:
                assert number(row.cells[2]) == pytest.approx(last["value"], rel=5e-6, abs=1e-12)
            assert number(row.cells[3]) == number(newest[now]["text"])
        if len(row.cells) > 4:
            drifts += 1
            _check_change(row, newest[now]["judgement"]["drifts"])
    assert seen == set(newest) & set(earlier)
    assert drifts == sum(len(one.get("judgement", {}).get("drifts", ())) for one in newest.values())


def _name(row: Row) -> str:
    """Return what a row is about: its group without what was compared, and its place there."""
    told = re.sub(r" \([^)]*\)$", "", row.group), row.cells[0].replace("since the last", "").rstrip(", ")
    return ", ".join(one for one in told if one)


def _check_change(row: Row, drifts: list[dict[str, Any]]) -> None:
    change, limit, verdict = row.cells[4:]
    since = "last" if "since the last" in row.cells[0] else "baseline"
    (one,) = [drift for drift in drifts if drift["since"] == since]
    ends = [] if limit == "–" else [number(end) for end in limit.lstrip("±").split()]
    wanted = [one[end] for end in ("high", "low") if end in one]
    assert ends == (wanted[:1] if "±" in limit else wanted)
    assert "±" not in limit or wanted[0] == -wanted[1]
    assert verdict == one["verdict"]
    if "now_side" in one or "before_side" in one or verdict in {"not judged", "not compared"}:
        assert change == "see below"
        assert one["says"] in row.notes
    else:
        assert change.removeprefix("+") == f"{plain(one['change'])} {one['unit']}"
        assert change.startswith("+") == (one["change"] > 0)


def test_only_what_drifted_stands_in_the_main_part(document: Document, raw: dict[str, Any]) -> None:
    """One cell moved by 0.053 V against 0.05 V; of the conductor only a bound was read."""
    facts = told(part(document, "Readings that drifted"))
    newest = {key(one): one for one in raw["reading"]}.values()
    judged = [(one, drift) for one in newest for drift in one.get("judgement", {}).get("drifts", ())]
    (moved,) = [pair for pair in judged if pair[1]["verdict"] == "advise"]
    assert moved[0]["step"] == FIRST_ONLY
    (advised,) = facts["advise"]
    assert advised[-1] == moved[1]["says"]
    assert "baseline 1.31 V (12 May 2025)" in advised[1]
    assert advised[2] == "now 1.3630 V, conditional fail"
    assert len(facts["open"]) == sum(drift["verdict"] == "not judged" for _, drift in judged) == 1
    (((words,),)) = facts[""]
    whole = sum(bool(one.get("judgement", {}).get("drifts")) for one in newest)
    assert words.startswith(f"{whole - 2} of {whole} readings")


def test_many_that_drifted_alike_stand_in_a_line_each(matter: Matter) -> None:
    """As where every link of a string has risen: one heading, a line each, and the furthest in full."""
    readings = []
    for one in matter.visit.readings:
        judged = one.judgement
        if one.step == "block-voltage" and judged is not None and judged.drifts:
            wrong = {"verdict": "advise", "change": 0.06, "says": f"cell {one.index}"}
            drift = judged.drifts[0].model_copy(update=wrong)
            judged = judged.model_copy(update={"drifts": (drift,)})
        readings.append(one.model_copy(update={"judgement": judged}))
    visit = matter.visit.model_copy(update={"readings": tuple(readings)})
    record = replace(matter.record, visit=visit)
    found = drifted_readings(Matter(replace(matter.held, record=record), matter.offer))
    assert found is not None
    facts = told(found)["advise"]
    (many,) = [texts for texts in facts if texts[0] == "Each block of the string at rest: 19 readings"]
    assert many[1] == "baseline of 12 May 2025, now"
    assert many[2] == "cell 1 of 19: 1.29 V, 1.2900 V, +0.06 V; pass"
    assert len(many) == 2 + 19 + 1
    assert many[-1].startswith("furthest, cell 1 of 19: cell ")


def test_settings_that_moved_stand_as_left_found_and_left(document: Document, raw: dict[str, Any]) -> None:
    found = part(document, "Settings found otherwise")
    moved = [one for one in raw["setting"] if one.get("drifted")]
    assert [one["setting"] for one in moved] == ["monitor_capacity"]
    (row,) = rows(found)
    assert [number(cell) for cell in row.cells[1:]] == [
        moved[0][name] for name in ("before", "found", "left")
    ]
    assert [number(cell) for cell in row.cells[1:]] == [340, 300, 340]
    (((words,),)) = told(found)[""]
    known = [one for one in raw["setting"] if "before" in one]
    assert words == f"{len(known) - 1} of {len(known)} settings were found as the visit before left them."


def test_the_visit_says_why_it_was_made_who_came_and_what_was_before(
    document: Document, made: Made, raw: dict[str, Any]
) -> None:
    facts = {word: texts[0] for word, texts in told(part(document, "This visit")).items()}
    before, own = (
        raw_of(path)["seal"][-1]["digest"].removeprefix("sha256:") for path in (made.before, made.record)
    )
    assert raw["header"]["previous"] == f"sha256:{before}"
    assert facts["why"][0].startswith("due yearly; lightning close by: controller-1")
    assert [line.split(",")[0] for line in facts["came"]] == [TECHNICIAN, SUPERVISOR]
    assert facts["this record"] == (f"visit {raw['visit']['id']}, digest {own[:12]}…",)
    visit = raw["visit"]["service"]["previous_visit"]
    assert facts["before it"] == (f"commissioning of 12 May 2025, visit {visit}, digest {before[:12]}…",)
    assert own[:12] in document.foot


def test_what_was_put_off_by_this_and_earlier_visits_stands_until_it_is_read(
    document: Document, made: Made, raw: dict[str, Any]
) -> None:
    """A step of the commissioning that was read now is put off no more; the others say that they are late."""
    facts = told(part(document, "Put off"))
    dates = {one["until"] for one in raw["visit"]["dispositions"] if one["disposition"] == "deferred"}
    old = {one["until"] for one in raw_of(made.before)["visit"]["dispositions"] if one.get("until")}
    assert (
        set(facts) == {f"until {day}" for day in (*dates, *old)} == {"until 2025-07-03", "until 2026-07-23"}
    )
    (earlier,), (now,) = facts["until 2025-07-03"], facts["until 2026-07-23"]
    assert earlier[-1].startswith(f"by {TECHNICIAN} at the commissioning of 12 May 2025: not on this day")
    assert earlier[-1].endswith("THE DATE IS PAST")
    assert now[-1].startswith(f"by {TECHNICIAN} at this visit, 1 Jun 2026: not on this day")
    assert "PAST" not in now[-1]
    assert "Lamp and radar reflector runs on dc" in earlier
    assert not any("link of the string" in line for line in (*earlier, *now))
    assert any(one["step"] == "link-resistance" for one in raw["reading"])


def test_new_baselines_stand_beside_those_that_they_follow(
    document: Document, matter: Matter, made: Made, raw: dict[str, Any]
) -> None:
    """Of the new controller: the old number as the commissioning read it, the new one as it was typed."""
    old = {key(one): one for one in raw_of(made.before)["reading"]}
    new = {key(one): one for one in raw["reading"]}
    names = {matter.reading(one.key): key(one.model_dump()) for one in matter.readings}
    found = list(rows(part(document, "New baselines, and")))
    assert found
    for row in found:
        of = names[row.cells[0].removesuffix(" *")]
        assert "controller-1" in of[1]
        assert row.cells[2] == "12 May 2025"
        assert number(row.cells[1]) == pytest.approx(old[of]["value"], rel=5e-6, abs=1e-12)
        assert number(row.cells[3]) == pytest.approx(new[of]["value"], rel=5e-6, abs=1e-12)
    (((words, *_),)) = told(part(document, "New baselines"))[""]
    assert words.startswith(f"Begun anew with controller-1: {len(found)} readings.")


def test_added_steps_due_dates_and_the_note_are_told(document: Document, raw: dict[str, Any]) -> None:
    """Dates by hand: three months and a year after 1 Jun 2026, two years after 12 May 2025."""
    (added,) = told(part(document, "Done although"))["added"]
    assert raw["visit"]["service"]["added"][0]["step"] == ADDED[0]
    assert added == ("Posts and links of the string", f"by {TECHNICIAN}, 1 Jun 2026: the owner asks")
    due = told(part(document, "Due next"))
    assert due["quarterly"] == [("1 Sep 2026, last done 1 Jun 2026",)]
    assert due["yearly"] == [("1 Jun 2027, last done 1 Jun 2026",)]
    assert due["two-yearly"] == [("12 May 2027, last done 12 May 2025",)]
    assert told(part(document, "For the next"))["note"] == [tuple(NOTE.splitlines())]


def test_what_did_not_pass_is_all_told_with_what_was_decided(document: Document, raw: dict[str, Any]) -> None:
    facts = told(part(document, "What did not pass"))
    newest = {key(one): one for one in raw["reading"]}
    verdicts = [one["judgement"]["verdict"] for one in newest.values() if "judgement" in one]
    for verdict in ("conditional pass", "conditional fail", "not judged"):
        lines = [line for texts in facts[verdict] for line in texts[:-1]]
        assert len(lines) == verdicts.count(verdict)
    assert facts["conditional fail"][0][-1].startswith(f"deferred until 2026-07-23 by {TECHNICIAN}")


# other records


def test_a_visit_that_answers_a_returned_record_says_what_it_puts_right(answered: Made) -> None:
    document = handover_of(answered.record, CLOSING)
    facts = told(part(document, "What it puts right"))
    digest = raw_of(answered.before)["seal"][-1]["digest"].removeprefix("sha256:")[:12]
    assert facts["returned"] == [
        (f"Record {digest}… was returned by {SUPERVISOR}, supervisor, 20 May 2025.",)
    ]
    first, second = facts["comment"]
    assert first[0].startswith("Each link of the string: which meter? (read then: ")
    assert first[1].startswith("now: 1 µΩ, pass; ")
    assert first[1].endswith("and 12 more")  # 18 links, of which six are told
    assert second == ("to the whole: photographs, please",)
    titles = [one.title for one in document.parts]
    assert not any(title.startswith(("Settings found", "Readings that drifted")) for title in titles)
    due = told(
        part(document, "Due next")
    )  # a year later nothing was serviced yet, and this visit counts as none
    assert due["quarterly"] == [("12 Aug 2025, last done 12 May 2025; OVERDUE at this visit",)]
    assert due["two-yearly"] == [("12 May 2027, last done 12 May 2025",)]


def test_a_commissioning_tells_what_fits(made: Made) -> None:
    document = handover_of(made.before, CLOSING)
    titles = [one.title for one in document.parts]
    assert not any(title.startswith(("Settings found", "Readings that", "Every reading")) for title in titles)
    assert told(part(document, "Due next"))["yearly"] == [("12 May 2026, last done 12 May 2025",)]
    (((words, *_),)) = told(part(document, "Baselines"))[""]
    assert int(words.split()[0]) > 100
    assert "why" not in told(part(document, "This visit"))


def test_a_record_alone_says_what_it_cannot_know(made: Made, tmp_path: Path) -> None:
    document = handover_of(Path(shutil.copy(made.record, tmp_path)), CLOSING)
    lines = " ".join(text_lines(document))
    assert "The old baselines stay in their records, which are not beside this one." in lines
    assert "The record before is missing here" in lines
    assert "until 2025-07-03" not in lines
    assert told(part(document, "Due next"))["two-yearly"] == [("never done in the records that are here",)]


def test_a_record_that_was_changed_is_not_printed(made: Made, tmp_path: Path) -> None:
    path = Path(shutil.copy(made.record, tmp_path))
    path.write_bytes(path.read_bytes().replace(b"the owner asks", b"the owner begs"))
    with pytest.raises(RecordError, match="is changed"):
        handover_of(path, CLOSING)


# numbers, files, the command


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (25.407, "25.407"), (600.0, "600"), (-0.0858, "−0.0858"), (0.0, "0"), (-0.0, "0"),
        (6.3e-05, "0.000063"), (1234567.0, "1234570"), (100.0, "100"), (float("inf"), "over range"),
    ],
)  # fmt: skip
def test_a_number_keeps_the_digits_that_it_was_read_with(value: float, text: str) -> None:
    assert exact(value) == text


def test_a_file_is_written_once_and_only_under_a_name_that_says_what_it_is(tmp_path: Path) -> None:
    document = Document("title", "foot", (), CLOSING)
    file = tmp_path / "visit.html"
    form = form_of(file)
    write_document(document, file, form)
    before = file.read_bytes()
    with pytest.raises(RecordError, match="is there already"):
        form_of(file)
    with pytest.raises(FileExistsError):
        write_document(document, file, form)
    assert file.read_bytes() == before
    with pytest.raises(RecordError, match=r"ends in \.txt or \.html"):
        form_of(tmp_path / "visit.pdf")


def test_the_command_tells_prints_and_gives_json(
    made: Made, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def run(*more: str) -> str:
        assert main(["handover", str(made.record), *more]) == 0
        return capsys.readouterr().out

    assert run().startswith("Northspar beacon: service visit of 1 Jun 2026\n")
    file = tmp_path / "visit.txt"
    data = json.loads(run("--json", "--to", str(file)))
    assert set(data) == {"title", "foot", "parts"}
    assert {frozenset(one) for one in data["parts"]} == {frozenset({"title", "behind", "blocks"})}
    assert file.read_text(encoding="utf-8").startswith("Northspar beacon")
    assert main(["handover", str(made.record), "--to", str(file)]) == 2
    assert "is there already" in capsys.readouterr().err
