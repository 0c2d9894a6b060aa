"""A visit in work: taken, corrected, judged later, taken up again, signed."""

from __future__ import annotations

from pathlib import Path
from random import Random
from typing import Any

import pytest

from commission import __version__
from commission.checklist.situation import Situation
from commission.checklist.types import (
    Checklist,
    ChecklistData,
    ConditionData,
    Expectation,
    Expected,
    ReadingKey,
    Waits,
)
from commission.errors import EntryError, VisitError
from commission.figure import Band, Figure, Unknown, given
from commission.plant.equipment import Ability
from commission.plant.plant import Plant
from commission.sheet.types import Finding, Kind, Pair, Sheet
from commission.visit.digest import confirmation_words
from commission.visit.session import OpenVisit
from commission.visit.settings import read_setting
from commission.visit.types import Judgement, Person, Service
from tests.visit.walks import (
    HOLDER,
    NOON,
    RUNA,
    after,
    begun,
    expecting,
    known,
    reading,
    resumed,
    setting,
    sheet,
    small_plant,
    step,
    verdict_now,
    verdicts,
    voltmeter,
    walk,
)

WARM = ReadingKey("warm")
CONDITION = ConditionData(
    id="battery-temperature",
    name="battery temperature",
    unit="°C",
    life=1800.0,
    step="warm",
    source="common practice",
)


def by_temperature(situation: Situation) -> Expectation:
    """54 V at 20 °C, 0.1 V less for each K more, half a volt either way; an hour old is too old."""
    found = situation.latest(WARM)
    if found is None or (situation.now - found.measured_at).total_seconds() > 1800.0:
        return Waits((WARM,), "the battery temperature is wanted")
    situation.look(WARM)
    middle = 54.0 - 0.1 * (found.figure.value - 20.0)
    ends = (given(middle + off, "V", "limit") for off in (-0.5, 0.5))
    low, high = ends
    return Expected(Band(low, None, high, "V"), f"at {found.figure.value:g} °C")


@pytest.fixture
def warm_walk(monkeypatch: pytest.MonkeyPatch) -> Checklist:
    """Return a walk whose second step is judged by the temperature of the first."""
    expecting(monkeypatch, "by temperature", by_temperature)
    return walk(
        step("warm", reading(unit="°C", instrument="display", condition="battery-temperature")),
        step("volts", reading(expect="by temperature")),
        step("third"),
        conditions=(CONDITION,),
    )


def take(visit: OpenVisit, ident: str, typed: str, minute: float, entered: float | None = None) -> Judgement:
    """Take the reading of a step as measured at a minute."""
    ask = visit.checklist.by_key[ident, ()].asks[0]
    meter = "meter-1" if ask.data.instrument == "dc voltmeter" else None
    now = after(minute if entered is None else entered)
    return visit.take(ask, typed, measured_at=after(minute), now=now, instrument=meter)


# readings and their conditions


def test_a_reading_is_judged_under_the_conditions_of_its_moment(tmp_path: Path, warm_walk: Checklist) -> None:
    """And keeps them."""
    with begun(tmp_path, warm_walk) as visit:
        take(visit, "warm", "30", 1)
        found = take(visit, "volts", "53.0", 2)
        assert (found.verdict, found.low, found.high) == ("pass", 52.5, 53.5)
        assert [(used.key, used.value) for used in found.used] == [(WARM, 30.0)]


def test_a_later_condition_never_judges_an_earlier_reading_anew(tmp_path: Path, warm_walk: Checklist) -> None:
    """The room warms up; what passed at noon has passed."""
    with begun(tmp_path, warm_walk) as visit:
        take(visit, "warm", "30", 1)
        before = take(visit, "volts", "53.0", 2)
        take(visit, "warm", "45", 10)
        assert verdict_now(visit, "volts") == before
        assert len(visit.history(ReadingKey("volts"))) == 1


def test_a_reading_copied_from_paper_is_judged_by_what_held_when_it_was_measured(
    tmp_path: Path, warm_walk: Checklist
) -> None:
    """Entered last, measured between two temperatures."""
    with begun(tmp_path, warm_walk) as visit:
        take(visit, "warm", "30", 1)
        take(visit, "warm", "45", 10)
        found = take(visit, "volts", "53.0", 5, entered=20)
        assert [used.value for used in found.used] == [30.0]
        assert found.verdict == "pass"


def test_a_corrected_condition_judges_anew_and_the_old_verdict_stays_visible(
    tmp_path: Path, warm_walk: Checklist
) -> None:
    """Typed 30 for 20: at 20 °C 53.0 V is out of band."""
    with begun(tmp_path, warm_walk) as visit:
        take(visit, "warm", "30", 1)
        take(visit, "volts", "53.0", 2)
        ask = visit.checklist.asks[WARM][1]
        with pytest.raises(VisitError, match="why is it corrected"):
            visit.correct(ask, "20", reason="", now=after(4))
        visit.correct(ask, "20", reason="typed 30 for 20", now=after(4))
        old, new = visit.history(ReadingKey("volts"))
        assert verdicts(visit, "volts") == ["pass", "fail"]
        assert (new.corrects, new.text, new.measured_at) == (True, "53.0", old.measured_at)
        assert visit.current(ReadingKey("volts")) == new
        assert [item.value for item in visit.history(WARM)] == [30.0, 20.0]
        assert known(visit.current(WARM)).measured_at == after(1)


def test_a_correction_leaves_alone_what_was_judged_by_another_reading(
    tmp_path: Path, warm_walk: Checklist
) -> None:
    """The temperature of noon is corrected; the reading of the evening used that of the evening."""
    with begun(tmp_path, warm_walk) as visit:
        take(visit, "warm", "30", 1)
        take(visit, "warm", "32", 40)
        take(visit, "volts", "52.9", 41)
        paper = visit.checklist.asks[WARM][1]
        visit.correct(paper, "31", reason="misread", now=after(50), measured_at=after(40))
        assert len(visit.history(ReadingKey("volts"))) == 2
        visit.correct(paper, "31.5", reason="misread", now=after(51))
        assert known(visit.current(WARM)).value == 31.5


def test_a_reading_that_waits_is_judged_once_what_it_waits_for_is_read(
    tmp_path: Path, warm_walk: Checklist
) -> None:
    """Until then it is not judged, and never a pass."""
    with begun(tmp_path, warm_walk) as visit:
        found = take(visit, "volts", "53.0", 1)
        assert (found.verdict, [item.key for item in found.waits]) == ("not judged", [WARM])
        assert visit.standing.status(visit.checklist.by_key["volts", ()]) == "waiting"
        take(visit, "warm", "30", 5)
        assert verdicts(visit, "volts") == ["not judged", "pass"]
        assert known(visit.current(ReadingKey("volts"))).measured_at == after(1)


def test_a_condition_that_comes_too_late_tells_nothing_about_an_earlier_reading(
    tmp_path: Path, warm_walk: Checklist
) -> None:
    """It lives half an hour, and that holds backwards too."""
    with begun(tmp_path, warm_walk) as visit:
        take(visit, "volts", "53.0", 1)
        take(visit, "warm", "30", 40)
        assert verdict_now(visit, "volts").verdict == "not judged"


def test_a_one_sided_value_is_no_condition_for_others(tmp_path: Path, warm_walk: Checklist) -> None:
    """More than 30 °C is no temperature to build a band on."""
    with begun(tmp_path, warm_walk) as visit:
        take(visit, "warm", ">30", 1)
        assert take(visit, "volts", "53.0", 2).verdict == "not judged"


def test_what_is_told_of_a_meter_later_judges_its_readings_anew(tmp_path: Path) -> None:
    """A calibration found to be past takes a clear pass away; the old verdict stays visible."""
    with begun(tmp_path, walk(step("volts", reading(expect="between 54.2 and 54.6")))) as visit:
        assert take(visit, "volts", "54.4", 1).verdict == "pass"
        visit.add_instrument(voltmeter(calibrated="2025-01-01"), after(5))
        assert verdicts(visit, "volts") == ["pass", "conditional pass"]
        with pytest.raises(VisitError, match="2026-03-01"):
            visit.add_instrument(voltmeter(due="soon"), after(6))


def test_the_band_can_be_shown_before_anything_is_read(tmp_path: Path, warm_walk: Checklist) -> None:
    """It waits, then it stands."""
    with begun(tmp_path, warm_walk) as visit:
        ask = visit.checklist.asks[ReadingKey("volts")][1]
        assert isinstance(visit.expectation_for(ask, after(1)), Waits)
        take(visit, "warm", "20", 1)
        found = visit.expectation_for(ask, after(2))
        assert isinstance(found, Expected)
        assert known(found.band.high).value == pytest.approx(54.5)
        assert visit.expectation_for(visit.checklist.asks[WARM][1], after(2)) is None


def test_a_column_is_taken_row_by_row_and_judged_when_it_is_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Spread of four cells at most 0.05 V; each waits for the others."""
    cells = step("cells", reading(series="cells", expect="spread"), rows=4)

    def spread(situation: Situation) -> Expectation:
        keys = [ask.key for ask in cells.asks if ask.key != situation.ask.key]
        found = [situation.look(key) for key in keys]
        missing = tuple(key for key, item in zip(keys, found, strict=True) if item is None)
        if missing:
            return Waits(missing, f"{len(missing)} cells are not read yet")
        values = [item.figure.value for item in (*found, situation.reading) if item]
        value = given(max(values) - min(values), "V", "spread of the cells")
        return Expected(Band(None, None, given(0.05, "V", "most"), "V"), compared=value)

    expecting(monkeypatch, "spread", spread)
    ranges = voltmeter().ranges
    fine = voltmeter(ranges=tuple(item.model_copy(update={"resolution": 1e-4}) for item in ranges))
    with begun(tmp_path, walk(cells)) as visit:
        visit.add_instrument(fine, NOON)
        times: dict[str, Any] = {"measured_at": after(1), "now": after(1), "instrument": "meter-1"}
        found = visit.take_column(cells.asks, ["2.110", "2.11x", "2.120"], **times)
        assert list(found.wrong) == [1]
        assert [item and item.verdict for item in found.judgements] == [
            "not judged",
            None,
            "not judged",
            None,
        ]
        found = visit.take_column(cells.asks[1:], ["2.115", "", "2.112"], **times)
        now = [known(known(visit.current(ask.key)).judgement) for ask in cells.asks]
        assert [item.verdict for item in now] == ["pass"] * 4
        assert now[0].compared == pytest.approx(0.010)


def test_the_meter_of_a_group_is_offered_again(tmp_path: Path) -> None:
    """Comparisons are taken with one meter; else the last of the kind is offered."""
    a = step("a", reading(group="drops"))
    b, c = step("b", reading(group="drops")), step("c")
    with begun(tmp_path, walk(a, b, c)) as visit:
        visit.add_instrument(voltmeter(id="meter-2"), NOON)
        assert known(visit.instrument_for(a.asks[0])).id == "meter-1"
        visit.take(a.asks[0], "54", measured_at=after(1), now=after(1), instrument="meter-2")
        visit.take(c.asks[0], "54", measured_at=after(2), now=after(2), instrument="meter-1")
        assert known(visit.instrument_for(b.asks[0])).id == "meter-2"
        assert known(visit.instrument_for(c.asks[0])).id == "meter-1"


def test_what_cannot_be_taken_changes_nothing(tmp_path: Path) -> None:
    """Nonsense, a meter that is not in the kit, a time to come."""
    with begun(tmp_path, walk(step("volts"))) as visit:
        ask = visit.checklist.steps[0].asks[0]
        before = visit.visit
        with pytest.raises(EntryError):
            visit.take(ask, "abc", measured_at=NOON, now=NOON)
        with pytest.raises(VisitError, match="no instrument meter-9 in the kit; known: meter-1"):
            visit.take(ask, "54", measured_at=NOON, now=NOON, instrument="meter-9")
        with pytest.raises(VisitError, match="still to come"):
            visit.take(ask, "54", measured_at=after(60), now=NOON)
        with pytest.raises(VisitError, match="read by"):
            visit.take(ask, "54", measured_at=NOON, now=NOON, read_by="a\nb")
        assert visit.visit == before


# taken up again


def test_a_visit_is_taken_up_on_the_same_step_with_everything_in_it(
    tmp_path: Path, warm_walk: Checklist
) -> None:
    """Also where the site file is gone: the plant is in the journal."""
    visit = begun(tmp_path, warm_walk)
    take(visit, "warm", "30", 1)
    take(visit, "volts", "53.0", 2)
    visit.move_to(("third", ()), after(3))
    visit.note(("third", ()), "lid is cracked\nreplace", after(3))
    visit.leave(
        after(4), next_technician="beware of the dog", spares="2 fuses 125 A", codes_kept="with owner"
    )
    before, ident = visit.visit, visit.visit.id
    visit.close()
    again = resumed(tmp_path, ident, warm_walk)
    assert again.visit == before
    assert again.plant == small_plant()
    assert known(again.at_step()).key == ("third", ())
    assert again.messages == ()
    assert verdict_now(again, "volts").verdict == "pass"
    again.close()


def test_a_reading_that_waited_before_the_machine_died_is_judged_after(
    tmp_path: Path, warm_walk: Checklist
) -> None:
    """What it waits for is known from the journal."""
    visit = begun(tmp_path, warm_walk)
    take(visit, "volts", "53.0", 1)
    visit.close()
    with resumed(tmp_path, visit.visit.id, warm_walk) as again:
        take(again, "warm", "30", 5)
        assert verdict_now(again, "volts").verdict == "pass"


def _without_its_last_line(root: Path, ident: str) -> None:
    path = root / ident / "journal"
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join(lines[:-1]))


def test_what_follows_from_a_correction_is_made_good_when_the_machine_died_in_between(
    tmp_path: Path, warm_walk: Checklist
) -> None:
    """The correction is on the disk, the new verdict was not: the next entry finds it out."""
    visit = begun(tmp_path, warm_walk)
    take(visit, "warm", "30", 1)
    take(visit, "volts", "53.0", 2)
    visit.correct(visit.checklist.asks[WARM][1], "20", reason="typed 30 for 20", now=after(4))
    assert verdicts(visit, "volts") == ["pass", "fail"]
    visit.close()
    _without_its_last_line(tmp_path, visit.visit.id)
    with resumed(tmp_path, visit.visit.id, warm_walk) as again:
        assert verdicts(again, "volts") == ["pass"]
        take(again, "third", "1", 5)
        assert verdicts(again, "volts") == ["pass", "fail"]


def test_a_verdict_that_was_due_when_the_machine_died_is_given_after(
    tmp_path: Path, warm_walk: Checklist
) -> None:
    """What it waited for is there, the verdict was not written yet."""
    visit = begun(tmp_path, warm_walk)
    take(visit, "volts", "53.0", 1)
    take(visit, "warm", "30", 2)
    visit.close()
    _without_its_last_line(tmp_path, visit.visit.id)
    with resumed(tmp_path, visit.visit.id, warm_walk) as again:
        assert verdicts(again, "volts") == ["not judged"]
        take(again, "third", "1", 5)
        assert verdicts(again, "volts") == ["not judged", "pass"]


def test_checklists_of_the_site_are_kept_with_the_visit(tmp_path: Path) -> None:
    """So that the site's folder is not needed to take it up again."""
    own = ChecklistData(format=1, id="firm", name="steps of the firm", steps=(step("firm-step").data,))
    seen: list[tuple[str, ...]] = []

    def prepare(
        _plant: Plant, kind: str, own: tuple[ChecklistData, ...], _: Service | None
    ) -> tuple[Sheet, Checklist]:
        seen.append((kind, *(item.id for item in own)))
        return sheet(), walk(step("a"))

    visit = OpenVisit.start(
        tmp_path,
        small_plant(),
        prepare,
        kind="service",
        program=__version__,
        now=NOON,
        holder=HOLDER,
        random=Random(1),
        checklists=(own,),
    )
    visit.close()
    OpenVisit.resume(tmp_path, visit.visit.id, prepare, holder=HOLDER).close()
    assert seen == [("service", "firm"), ("service", "firm")]


def test_a_fresh_visit_stands_on_its_first_open_step(tmp_path: Path, warm_walk: Checklist) -> None:
    """There is no position yet."""
    with begun(tmp_path, warm_walk) as visit:
        assert known(visit.at_step()).key == ("warm", ())
        with pytest.raises(VisitError, match="no step nowhere"):
            visit.move_to(("nowhere", ()), after(1))


# settings


def test_settings_are_kept_as_found_and_as_left(tmp_path: Path) -> None:
    """A difference asks for a reason; a reason for one value does not explain the next."""
    made = sheet(setting(), setting("float_voltage", 54.2))
    with begun(tmp_path, walk(step("a")), made) as visit:
        visit.set_found("inverter-1", "absorption_voltage", "58,4", after(1))
        entry = visit.set_left("inverter-1", "absorption_voltage", "57.4 V", after(2))
        assert (entry.found, entry.found_text, entry.left) == (58.4, "58,4", 57.4)
        assert any("57.6 V is recommended; why?" in item.says for item in visit.missing())
        visit.give_reason("inverter-1", "absorption_voltage", "owner's wish", after(3))
        assert not any("why?" in item.says for item in visit.missing())
        visit.set_left("inverter-1", "absorption_voltage", "57.2", after(4))
        assert any("57.6 V is recommended; why?" in item.says for item in visit.missing())
        assert visit.left_as_recommended("inverter-1", after(5)) == 1
        assert visit.visit.settings[1].left == 54.2
        with pytest.raises(EntryError, match=r"40\.0 to 64\.0 V"):
            visit.set_left("inverter-1", "float_voltage", "lots", after(6))
        with pytest.raises(VisitError, match="no setting float"):
            visit.set_left("inverter-1", "float", "54", after(6))


def test_half_a_step_of_the_device_is_no_difference(tmp_path: Path) -> None:
    """The recommendation of 57.63 V is 57.6 V on a display in tenths."""
    made = sheet(setting(value=57.63))
    with begun(tmp_path, walk(step("a")), made) as visit:
        visit.set_left("inverter-1", "absorption_voltage", "57.6", after(1))
        assert not any("why?" in item.says for item in visit.missing())
        visit.set_left("inverter-1", "absorption_voltage", "57.7", after(2))
        assert any("why?" in item.says for item in visit.missing())


def test_words_off_and_pairs_are_settings_too() -> None:
    """The device's own words, off, and pairs of voltage and delay."""
    role = setting(
        "group_role", "reference", unit="", ability=Ability(unit="", choices=("alone", "reference"))
    )
    assert read_setting(role, "Reference") == ("reference", "Reference")
    with pytest.raises(EntryError, match="did you mean reference"):
        read_setting(role, "refrence")
    off = setting(ability=Ability(unit="V", low=40.0, high=64.0, step=0.1, off=True))
    assert read_setting(off, "OFF") == ("off", "OFF")
    pair = Pair(given(47.2, "V", "start"), given(900.0, "s", "delay"))
    listed = setting(
        "generator_start",
        recommended=(pair, pair),
        ability=Ability(unit="V", low=40.0, high=60.0, step=0.1, entries=2),
    )
    typed = read_setting(listed, "47.2 V after 15 min; 46 30 s")[0]
    assert typed == "47.2 V after 900 s; 46 V after 30 s"
    with pytest.raises(EntryError, match="the device holds 2"):
        read_setting(listed, "47 1 s; 46 1 s; 45 1 s")


def test_a_band_is_made_of_settings_as_left_in_whole_bank_volts(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """14.3 V per 12 V on the display is 57.2 V at the posts; the recommendation until it is told."""
    seen: list[float | None] = []

    def looks(situation: Situation) -> Expectation:
        left = situation.left("inverter-1", "absorption_voltage", None)
        seen.append(left.value if isinstance(left, Figure) else None)
        return Waits((), "looked")

    expecting(monkeypatch, "looks", looks)
    per_12 = setting(
        recommended=given(14.4, "V per 12 V", "absorption"),
        unit="V per 12 V",
        low=None,
        high=None,
        ability=Ability(unit="V", low=12.0, high=16.0, step=0.1, basis="per 12 V"),
        at_posts=given(57.6, "V", "absorption"),
    )
    with begun(tmp_path, walk(step("volts", reading(expect="looks"))), sheet(per_12)) as visit:
        ask = visit.checklist.steps[0].asks[0]
        visit.expectation_for(ask, after(1))
        visit.set_left("inverter-1", "absorption_voltage", "14.3", after(2))
        visit.expectation_for(ask, after(3))
        assert seen == pytest.approx([57.6, 57.2])


# findings


def _finding(kind: Kind, **fields: Any) -> Finding:
    return Finding(kind, "no-protection", ("bank",), "no protection at the bank", "fit a fuse", **fields)


def test_a_finding_that_stops_work_is_accepted_by_a_second_person_with_the_words_alone(
    tmp_path: Path,
) -> None:
    """The words prove that both looked at the same plant."""
    finding = _finding("stop")
    words = confirmation_words(small_plant(), finding.id)
    told: dict[str, Any] = {"reason": "seen on site last week", "now": after(1)}
    with begun(tmp_path, walk(step("a")), sheet(findings=(finding,))) as visit:
        with pytest.raises(VisitError, match="second person"):
            visit.dispose(finding.id, "accepted", by="RUNA FELD", words=words, **told)
        with pytest.raises(VisitError, match="confirmation words"):
            visit.dispose(finding.id, "accepted", by="Elin Corse", words="river lamp", **told)
        visit.dispose(finding.id, "accepted", by="Elin Corse", words=words.upper(), **told)
        assert visit.visit.dispositions[0].by == "Elin Corse"


def test_a_finding_that_nobody_on_site_can_release_stays(tmp_path: Path) -> None:
    """It ends by a changed plant."""
    finding = _finding("stop", releasable=False)
    words = confirmation_words(small_plant(), finding.id)
    with begun(tmp_path, walk(step("a")), sheet(findings=(finding,))) as visit:
        with pytest.raises(VisitError, match="nobody on site"):
            visit.dispose(finding.id, "accepted", reason="r", by="Elin Corse", words=words, now=after(1))
        with pytest.raises(VisitError, match="does not end"):
            visit.dispose(finding.id, "deferred", reason="r", by="E", until="2026-12-01", now=after(1))
        with pytest.raises(VisitError, match="does not end"):
            visit.dispose(finding.id, "mended", reason="fuse fitted", by="Runa Feld", now=after(1))
        with pytest.raises(VisitError, match="reason"):
            visit.dispose(finding.id, "isolated and locked", reason="", by="Runa Feld", now=after(1))
        with pytest.raises(VisitError, match="no finding, reading, setting or step 'else'"):
            visit.dispose("else", "mended", reason="r", by="Runa Feld", now=after(1))
        visit.dispose(finding.id, "isolated and locked", reason="locked", by="Runa Feld", now=after(1))


# the end


def _complete(visit: OpenVisit) -> None:
    take(visit, "warm", "20", 1)
    take(visit, "volts", "54.0", 2)
    take(visit, "third", "1", 3)
    visit.left_as_recommended("inverter-1", after(4))
    visit.identify("inverter-1", after(4), serial="SN-1")
    visit.identify("inverter-1", after(4), firmware="2.1")
    visit.dispose("no-protection:bank", "mended", reason="fitted", by="Runa Feld", now=after(5))


def test_sign_off_is_barred_until_nothing_is_missing(tmp_path: Path, warm_walk: Checklist) -> None:
    """Each gap is a sentence and a place to go to; they go one by one."""
    made = sheet(setting(), findings=(_finding("correct"),))
    with begun(tmp_path, warm_walk, made) as visit:
        visit.add_instrument(voltmeter(serial="", calibrated=""), after(0))
        places = {(item.place, item.key) for item in visit.missing()}
        assert places == {
            ("finding", ("no-protection:bank",)),
            ("step", ("warm",)),
            ("step", ("volts",)),
            ("step", ("third",)),
            ("setting", ("inverter-1", "absorption_voltage", "")),
            ("device", ("inverter-1",)),
        }
        with pytest.raises(VisitError, match=r"cannot be signed as 'complete': .*; and 1 more"):
            visit.sign_off("Runa Feld", "complete", after(9))
        _complete(visit)
        assert [item.place for item in visit.missing()] == ["instrument"]
        visit.add_instrument(voltmeter(), after(6))
        assert visit.missing() == ()
        with pytest.raises(VisitError, match="only a technician"):
            visit.sign_off("Elin Corse", "complete", after(9))
        with pytest.raises(VisitError, match="whose name"):
            visit.sign_off(" ", "complete", after(9))
        signed = visit.sign_off("Runa Feld", "complete", after(9))
        assert (known(signed.sign_off).licence, known(signed.sign_off).signed_as) == ("E-118", "complete")
        with pytest.raises(VisitError, match="is signed"):
            take(visit, "third", "2", 10)


def test_a_conditional_verdict_wants_a_reason_before_the_signature(
    tmp_path: Path, warm_walk: Checklist
) -> None:
    """Given with the reading, or after it."""
    with begun(tmp_path, warm_walk, sheet(setting(), findings=(_finding("correct"),))) as visit:
        _complete(visit)
        assert take(visit, "volts", "54.49", 6).verdict == "conditional pass"
        assert [item.reading for item in visit.missing()] == [ReadingKey("volts")]
        ask = visit.checklist.asks[ReadingKey("volts")][1]
        told: dict[str, Any] = {"measured_at": after(7), "now": after(7), "instrument": "meter-1"}
        visit.take(ask, "54.49", reason="edge of the band, stable", **told)
        assert visit.missing() == ()


def test_a_name_without_licence_is_not_enough(tmp_path: Path, warm_walk: Checklist) -> None:
    """And a mistyped name is replaced, not doubled."""
    with begun(tmp_path, warm_walk) as visit:
        visit.add_person(Person(name="Runa Field", role="technician"), after(1), instead_of="Runa Feld")
        assert [person.name for person in visit.visit.people] == ["Runa Field"]
        assert any("licence of Runa Field" in item.says for item in visit.missing())
        visit.add_person(RUNA, after(2), instead_of="Runa Field")
        assert not any("licence" in item.says for item in visit.missing())


def test_steps_put_off_allow_service_but_not_completion(tmp_path: Path, warm_walk: Checklist) -> None:
    """ "In service with deferred steps" says what is put off."""
    with begun(tmp_path, warm_walk, sheet(setting(), findings=(_finding("correct"),))) as visit:
        _complete(visit)
        take(visit, "volts", "40", 6)
        visit.dispose(
            "volts@",
            "deferred",
            reason="part missing",
            by="Runa Feld",
            until="2026-12-01",
            stays_off="inverter 1",
            now=after(7),
        )
        assert any("not complete" in item.says for item in visit.missing("complete"))
        assert visit.missing("in service with deferred steps") == ()
        visit.sign_off("Runa Feld", "in service with deferred steps", after(8))


def test_a_plant_left_safe_is_signed_with_open_steps_but_not_with_open_danger(tmp_path: Path) -> None:
    """Made safe: the danger has ended, the rest is for another day."""
    steps = walk(step("dead", reading(kind="yes or no"), stops_work=True), step("later"))
    with begun(tmp_path, steps, sheet(setting())) as visit:
        take(visit, "dead", "no", 1)
        assert [item.place for item in visit.missing("made safe, not in service")] == ["step"]
        visit.dispose("dead@", "isolated and locked", reason="lock 7", by="Runa Feld", now=after(2))
        assert visit.missing("made safe, not in service") == ()
        assert any("isolated and locked" in item.says for item in visit.missing("complete"))
        visit.sign_off("Runa Feld", "made safe, not in service", after(3))


def test_an_unknown_recommendation_asks_for_the_value_left_but_for_no_reason(tmp_path: Path) -> None:
    """What is not known cannot be differed from; silence is not a value either."""
    made = sheet(setting(recommended=Unknown(("capacity",), "V")))
    with begun(tmp_path, walk(step("a")), made) as visit:
        assert visit.left_as_recommended("inverter-1", after(1)) == 0
        assert any(item.place == "setting" for item in visit.missing())
        visit.set_left("inverter-1", "absorption_voltage", "57", after(2))
        assert not any(item.place == "setting" for item in visit.missing())


def test_the_kit_is_held_against_the_bands_before_the_walk(tmp_path: Path) -> None:
    """A voltmeter of 0.05 % cannot decide a band of 0.02 V at 54 V."""
    steps = walk(
        step("fine", reading(expect="between 54.39 and 54.41")),
        step("wide", reading(expect="between 54.0 and 55.0")),
    )
    with begun(tmp_path, steps) as visit:
        assert [item.key.step for item in visit.too_coarse(NOON)] == ["fine"]
