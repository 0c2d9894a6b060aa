"""A finding that stops keeps its circuit closed, and ends when the plant is changed."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from commission.checklist.types import Checklist
from commission.errors import VisitError
from commission.plant.change import Change, changed
from commission.plant.compare import changed_parts
from commission.plant.plant import Plant
from commission.sheet.types import Finding, Sheet
from commission.visit.dangers import dangers
from commission.visit.digest import confirmation_words, plant_digest
from commission.visit.session import OpenVisit
from commission.visit.types import Person
from tests.builders import plant as built
from tests.visit.walks import HOLDER, RUNA, after, begun, reading, sheet, small_plant, step, walk

YES_OR_NO = reading(kind="yes or no")
LOOK = step("look", YES_OR_NO)
CLOSE = step("close", YES_OR_NO, parts=("inverter-1",), raises_energy=True)
OTHER = step("other", YES_OR_NO, parts=("controller-1",), raises_energy=True)
WALK = walk(LOOK, CLOSE, OTHER)


def stop(part: str, **fields: Any) -> Finding:
    return Finding("stop", "fuse", (part,), f"{part} cannot be safe", "another fuse", **fields)


def barred(visit: OpenVisit) -> dict[str, list[str]]:
    """Return the findings that bar each step."""
    standing = visit.standing
    return {one.data.id: [bar.finding for bar in standing.bars(one)] for one in visit.checklist.steps}


def test_a_stop_at_a_device_bars_the_steps_that_energise_it_and_no_others(tmp_path: Path) -> None:
    with begun(tmp_path, WALK, sheet(findings=(stop("inverter-1"),))) as visit:
        assert barred(visit) == {"look": [], "close": ["fuse:inverter-1"], "other": []}
        assert visit.standing.status(CLOSE) == "barred"


def test_a_stop_at_the_bank_bars_everything_that_raises_energy(tmp_path: Path) -> None:
    with begun(tmp_path, WALK, sheet(findings=(stop("bank"),))) as visit:
        assert barred(visit) == {"look": [], "close": ["fuse:bank"], "other": ["fuse:bank"]}


def test_what_is_isolated_and_locked_stays_barred(tmp_path: Path) -> None:
    """It is not to be energised; at the bank nothing is."""
    for number, part in enumerate(("bank", "controller-1")):
        finding = Finding("stop", "fuse", (part,), "no", "yes", releasable=False)
        with begun(tmp_path / str(number), WALK, sheet(findings=(finding,))) as visit:
            before = barred(visit)
            visit.dispose(finding.id, "isolated and locked", reason="locked", by="Runa Feld", now=after(1))
            assert barred(visit) == before
            assert before["other"] == [finding.id]


@pytest.mark.parametrize(
    "state", ["dc only", "island", "generator", "utility", "charging", "full", "loads out"]
)
def test_whatever_needs_its_circuit_live_is_barred(tmp_path: Path, state: str) -> None:
    """Not only the step that closes the breaker: a part discharge of an unsafe bank is none either."""
    live = step("live", YES_OR_NO, parts=("inverter-1",), state=state)
    dead = step("dead", YES_OR_NO, parts=("inverter-1",), state="dead")
    with begun(tmp_path, walk(live, dead), sheet(findings=(stop("inverter-1"),))) as visit:
        assert barred(visit) == {"live": ["fuse:inverter-1"], "dead": []}


def test_a_step_that_a_stop_bars_is_not_passed_by_as_not_applicable(tmp_path: Path) -> None:
    with begun(tmp_path, WALK, sheet(findings=(stop("bank"),))) as visit:
        with pytest.raises(VisitError, match="cannot be passed by: the design check stops it"):
            visit.not_applicable(CLOSE.key, "no main switch here", after(1))
        visit.not_applicable(LOOK.key, "no papers", after(1))


def test_nobody_says_that_no_stop_is_open_while_one_is(tmp_path: Path) -> None:
    """The program knows better than a tired 'yes'."""
    asked = step("papers", reading(kind="yes or no", expect="no finding that stops is open"), hold=True)
    finding = stop("inverter-1")
    words = confirmation_words(small_plant(), finding.id)
    with begun(tmp_path, walk(asked), sheet(findings=(finding,))) as visit:
        judged = visit.take(asked.asks[0], "yes", measured_at=after(1), now=after(1))
        assert judged.verdict == "not judged"
        assert judged.says == "1 finding that stops is open (F8): inverter-1 cannot be safe"
        assert not visit.standing.passed(asked)
        visit.dispose(finding.id, "accepted", reason="seen", by="Elin Corse", words=words, now=after(2))
        judged = visit.take(asked.asks[0], "yes", measured_at=after(3), now=after(3))
        assert judged.verdict == "pass"
        assert visit.standing.passed(asked)


@pytest.mark.parametrize("name", ["Runa Feld", "RUNA FELD", "runa  feld", "Runa Feld.", "Runa-Feld", " "])
def test_the_technician_is_no_second_person_however_the_name_is_written(tmp_path: Path, name: str) -> None:
    finding = stop("inverter-1")
    words = confirmation_words(small_plant(), finding.id)
    with (
        begun(tmp_path, WALK, sheet(findings=(finding,))) as visit,
        pytest.raises(VisitError, match=r"second person|a name is wanted"),
    ):
        visit.dispose(finding.id, "accepted", reason="seen", by=name, words=words, now=after(1))


def test_the_second_person_does_not_become_the_technician_and_none_comes_before_one(tmp_path: Path) -> None:
    finding = stop("inverter-1")
    told: dict[str, Any] = {"reason": "seen", "words": confirmation_words(small_plant(), finding.id)}
    with begun(tmp_path, WALK, sheet(findings=(finding,))) as visit:
        visit.add_person(RUNA.model_copy(update={"role": "witness"}), after(0))
        with pytest.raises(VisitError, match="name the technician first"):
            visit.dispose(finding.id, "accepted", by="Elin Corse", now=after(1), **told)
        visit.add_person(RUNA, after(1))
        visit.dispose(finding.id, "accepted", by="Elin Corse", now=after(2), **told)
        with pytest.raises(VisitError, match="as the second person"):
            visit.add_person(Person(name="elin  corse", role="technician"), after(3))


def test_words_may_be_written_as_they_are_heard(tmp_path: Path) -> None:
    finding = stop("inverter-1")
    heard = ", ".join(confirmation_words(small_plant(), finding.id).upper().split()) + "."
    with begun(tmp_path, WALK, sheet(findings=(finding,))) as visit:
        visit.dispose(finding.id, "accepted", reason="seen", by="Elin Corse", words=heard, now=after(1))
        assert barred(visit)["close"] == []


def test_a_second_person_with_the_words_opens_the_way(tmp_path: Path) -> None:
    finding = stop("inverter-1")
    words = confirmation_words(small_plant(), finding.id)
    with begun(tmp_path, WALK, sheet(findings=(finding,))) as visit:
        visit.dispose(finding.id, "accepted", reason="seen", by="Elin Corse", words=words, now=after(1))
        assert barred(visit)["close"] == []


def wired() -> Plant:
    """Return a plant whose main fuse, main run, string and inverter run are told."""
    return built(
        inverters=({"id": "inverter-1", "profile": "inverter-48v-230-5000", "run": "run-inverter"},),
        place={"rules": "iec-230", "units": "metric"},
        runs=[
            {"id": "run-main", "kind": "dc", "from": "bank", "to": "panel", "area": 70.0},
            {"id": "run-inverter", "kind": "dc", "from": "panel", "to": "inverter-1", "area": 50.0},
        ],
        panels=[{"id": "panel", "kind": "dc"}],
        protection=[
            {"id": "main", "kind": "fuse", "current": "dc", "protects": "bank", "of": "bank"},
            {"id": "own", "kind": "fuse", "current": "dc", "protects": "device", "of": "inverter-1"},
        ],
    )


@pytest.mark.parametrize(
    ("part", "everywhere"),
    [
        ("bank", True),
        ("site", True),
        ("string-1", True),
        ("main", True),
        ("run-main", True),
        ("panel", True),
        ("own", False),
        ("run-inverter", False),
        ("inverter-1", False),
    ],
)
def test_what_everything_hangs_on_bars_everything(part: str, everywhere: bool) -> None:
    found = dangers(wired(), [stop(part), Finding("correct", "thin", (part,), "", "")])
    assert [(one.finding, one.everywhere) for one in found] == [(f"fuse:{part}", everywhere)]


def test_parts_that_are_told_otherwise_are_found() -> None:
    before = wired()
    after_ = changed(
        before,
        [
            Change("runs[run-main].area", 95.0),
            Change("protection[new]", {"kind": "fuse", "current": "dc"}),
            Change("protection[own]", None),
            Change("inverter_chargers[inverter-1].datasheet.charger_current", 40.0),
            Change("site.altitude", 900.0),
        ],
    )
    assert set(changed_parts(before, after_)) == {"run-main", "new", "own", "inverter-1", "site"}
    assert changed_parts(before, before) == ()


def mended(sheets: dict[str, Sheet], checklist: Checklist = WALK) -> Any:
    """Return what prepares a visit with a sheet for each plant."""
    return lambda plant, *_: (sheets[plant_digest(plant)], checklist)


def test_a_visit_goes_on_with_the_mended_plant(tmp_path: Path) -> None:
    """What was read of the changed part is read again; the rest stays; the record tells of the change."""
    old = small_plant()
    new = changed(old, [Change("inverter_chargers[inverter-1].name", "Other inverter")])
    sheets = {
        plant_digest(old): sheet(findings=(stop("inverter-1"),)),
        plant_digest(new): sheet(),
    }
    walked = walk(LOOK, step("seen", YES_OR_NO, parts=("inverter-1",)), CLOSE)
    visit = begun(tmp_path, walked, sheets[plant_digest(old)])
    for ident in ("look", "seen"):
        one = walked.by_key[ident, () if ident == "look" else ("inverter-1",)]
        visit.take(one.asks[0], "yes", measured_at=after(1), now=after(1))
    told: dict[str, Any] = {"reason": "inverter replaced", "by": "Runa Feld", "now": after(2)}
    with pytest.raises(VisitError, match="nothing has changed"):
        visit.go_on_with(old, mended(sheets, walked), worked_on=True, **told)
    with pytest.raises(VisitError, match="a few words and a name"):
        visit.go_on_with(new, mended(sheets, walked), worked_on=True, **(told | {"reason": " "}))
    visit = visit.go_on_with(new, mended(sheets, walked), worked_on=True, **told)
    as_it_stands(visit, old, new)
    visit.close()
    with OpenVisit.resume(tmp_path, visit.visit.id, mended(sheets, walked), holder=HOLDER) as again:
        as_it_stands(again, old, new)


def as_it_stands(visit: OpenVisit, old: Plant, new: Plant) -> None:
    """Look at a visit that went on with another inverter."""
    assert visit.plant.site.inverter_chargers[0].label == "Other inverter"
    assert barred(visit)["close"] == []
    statuses = {one.data.id: visit.standing.status(one) for one in visit.checklist.steps}
    assert (statuses["look"], statuses["seen"]) == ("done", "open")
    assert len(visit.visit.readings) == 2
    (change,) = visit.visit.plant_changes
    assert (change.parts, change.by) == (("inverter-1",), "Runa Feld")
    assert (change.before, change.after) == (plant_digest(old), plant_digest(new))


def test_what_is_only_told_better_needs_no_new_reading(tmp_path: Path) -> None:
    old = small_plant()
    new = changed(old, [Change("inverter_chargers[inverter-1].name", "Other inverter")])
    sheets = {plant_digest(one): sheet() for one in (old, new)}
    walked = walk(step("seen", YES_OR_NO, parts=("inverter-1",)))
    visit = begun(tmp_path, walked, sheets[plant_digest(old)])
    seen = walked.steps[0]
    visit.take(seen.asks[0], "yes", measured_at=after(1), now=after(1))
    visit = visit.go_on_with(
        new, mended(sheets, walked), worked_on=False, reason="name", by="Runa Feld", now=after(2)
    )
    assert visit.standing.status(seen) == "done"
    assert visit.visit.plant_changes[0].parts == ()
    visit.close()
