"""What holds for every step of the program's own checklist files, and for the walk of every sample site."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import replace
from functools import cache, partial
from itertools import pairwise
from pathlib import Path

import pytest

from commission.checklist.build import barred_by
from commission.checklist.check import check_data
from commission.checklist.conditions import condition_ask, needed
from commission.checklist.expect import expected, find
from commission.checklist.registry import (
    EXPECTATIONS,
    PREDICATES,
    SELECTORS,
    SERIES,
    Judge,
    Named,
    load_words,
)
from commission.checklist.relations import relations
from commission.checklist.situation import Situation
from commission.checklist.types import (
    Ask,
    Checklist,
    Expected,
    NotJudged,
    Observation,
    ReadingKey,
    Step,
    StepData,
    Waits,
)
from commission.figure import given
from commission.plant.files import load_plant
from commission.plant.places import sample_sites
from commission.plant.plant import Plant
from commission.sheet.settle import make_sheet
from commission.sheet.types import Sheet
from tests.checklist.walks import NOON, usual_data, walk_of
from tests.each import each

load_words()
STEPS = {step.id: step for file in usual_data() for step in file.steps}
CONDITIONS = {condition.id: condition for file in usual_data() for condition in file.conditions}
EACH = each("step", STEPS.values(), ids=STEPS)
SITES = pytest.mark.parametrize("path", sample_sites(), ids=lambda path: path.stem)


# texts


@EACH
def test_every_text_of_a_step_says_something(step: StepData) -> None:
    texts = [step.title, step.do, step.why, step.source, *(reading.prompt for reading in step.readings)]
    texts += [text for likely in step.likely for text in (likely.cause, likely.remedy)]
    assert all(text.strip() == text and text for text in texts)
    assert len(step.do) < 420, "work that does not fit on a small screen"


@EACH
def test_only_titles_and_work_name_parts(step: StepData) -> None:
    others = [step.why, step.caution, *(reading.prompt for reading in step.readings)]
    others += [text for likely in step.likely for text in (likely.cause, likely.remedy)]
    assert not any("{" in text for text in others)
    assert set(re.findall(r"\{.*?\}", step.title + step.do)) <= {"{part}", "{other}"}


@EACH
def test_a_reading_with_a_band_says_what_is_likely_when_it_is_out(step: StepData) -> None:
    measured = any(reading.expect and reading.instrument != "timer" for reading in step.readings)
    excused = {"blocks-counted"}
    proofs = step.stage == 2
    if measured and not proofs and step.id not in excused and step.stage <= 9:
        assert step.likely or step.id in NOTHING_LIKELY


NOTHING_LIKELY = frozenset({"string-fuses", "device-clock", "state-of-charge"})
"""Readings whose only cause is that something else was fitted or set."""


@EACH
def test_a_number_from_a_meter_names_its_meter(step: StepData) -> None:
    for reading in step.readings:
        if reading.kind == "number" and reading.unit in ELECTRICAL:
            assert reading.instrument != "none"


ELECTRICAL = frozenset({"V", "A", "mV", "Ω", "MΩ", "mΩ", "µΩ", "Hz", "ms", "mA"})


@EACH
def test_a_hold_point_can_be_released(step: StepData) -> None:
    if step.hold and step.released_by == "readings":
        assert any(
            reading.expect or reading.kind == "yes or no" for reading in step.readings if not reading.optional
        )
    if step.released_by != "readings":
        assert step.hold


READ_BACK = frozenset({"back", "fitted", "value"})
"""Names of the readings by which a temporary change is ended."""


@EACH
def test_what_is_altered_ends_with_its_read_back_or_stays_locked(step: StepData) -> None:
    """The last reading of the step closes the change, so it must be one that can fail."""
    if not step.alters or "locked off" in step.alters:
        return
    last = step.readings[-1]
    assert last.name in READ_BACK
    assert last.kind == "yes or no" or last.expect


def test_all_eighteen_stages_have_a_title_and_a_caution() -> None:
    stages = [stage for file in usual_data() for stage in file.stages]
    assert [stage.number for stage in stages] == list(range(1, 19))
    assert all(stage.title and stage.caution for stage in stages)


def test_stages_one_to_nine_all_have_steps() -> None:
    assert {step.stage for step in STEPS.values()} >= set(range(1, 10))


def test_the_data_have_no_fault() -> None:
    check_data(usual_data())


# words


def test_every_registered_word_says_what_it_is() -> None:
    for words in (SELECTORS, PREDICATES, SERIES, EXPECTATIONS):
        assert all(entry.says.strip() for entry in words)


def test_every_expectation_has_a_source() -> None:
    assert all(entry.source.strip() for entry in EXPECTATIONS)


def test_every_expectation_of_these_stages_is_asked_for_by_a_step() -> None:
    readings = [reading for step in STEPS.values() for reading in step.readings]
    asked = {name for reading in readings for name in (reading.expect, reading.service_expect)}
    idle = {entry.name for entry in EXPECTATIONS if entry.name not in asked and module_of(entry) in ROOMS}
    assert not idle


ROOMS = frozenset(
    {"battery", "cells", "joining", "packs", "arrays", "wiring", "continuity", "dc_power", "ac_output"}
)
"""Modules of expectations of the stages up to the first ac power."""


def module_of(entry: Named[Judge]) -> str:
    """Return the last part of the name of the module that registers an expectation."""
    return str(entry.call.__module__).rpartition(".")[2]


def test_plain_bands_are_numbers_in_the_readings_unit() -> None:
    assert find("between 4 and 6.5") is not None
    assert find("at least -2") is not None
    assert find("at most x") is None


# conditions


@pytest.mark.parametrize("ident", CONDITIONS)
def test_every_condition_has_a_life_and_a_source(ident: str) -> None:
    condition = CONDITIONS[ident]
    assert isinstance(condition.life, float)
    assert condition.life > 0
    assert condition.source
    assert condition.life_at_rest is None or float(condition.life_at_rest) > condition.life


# every sample site


@cache
def site_of(path: Path) -> tuple[Plant, Sheet, Checklist]:
    plant = load_plant(path).plant
    sheet = make_sheet(plant)
    return plant, sheet, walk_of(plant, sheet).of_service  # all steps that there are


LAST = 9
"""Stage up to which these rules hold for every step; later stages have tests of their own."""


def everything(path: Path, last: int = 18) -> Iterator[tuple[Step, Ask]]:
    for step in site_of(path)[2].steps:
        if step.data.stage > last:
            return
        for ask in step.asks:
            yield step, ask


def shown(path: Path, step: Step, ask: Ask) -> Expected | Waits | NotJudged | None:
    """Return what a reading should be before anything has been read."""
    plant, sheet, walk = site_of(path)
    return expected(
        Situation(
            plant=plant,
            sheet=sheet,
            checklist=walk,
            step=step,
            ask=ask,
            now=NOON,
            latest=lambda _: None,
            left=sheet.value,
        )
    )


@SITES
def test_every_sample_site_has_a_walk(path: Path) -> None:
    walk = site_of(path)[2]
    assert len(walk.steps) > 60
    assert len(walk.by_key) == len(walk.steps)
    assert len(walk.asks) == sum(len(step.asks) for step in walk.steps)


@SITES
def test_no_text_of_a_walk_has_a_gap(path: Path) -> None:
    for step in site_of(path)[2].steps:
        assert "{" not in step.title + step.do, step.key
        assert step.title[0].isupper() or not step.title[0].isalpha()


@SITES
def test_a_walk_goes_stage_by_stage_and_nothing_stands_on_what_comes_later(path: Path) -> None:
    walk = site_of(path)[2]
    place = {step.key: number for number, step in enumerate(walk.steps)}
    stages = [step.data.stage for step in walk.steps]
    assert stages == sorted(stages)
    for step in walk.steps:
        assert all(place[key] < place[step.key] for key in (*step.stands_on, *step.holds))


@SITES
def test_every_part_that_is_named_is_on_the_site(path: Path) -> None:
    plant, _, walk = site_of(path)
    known = relations(plant)
    strings = {string.id for string in plant.bank.strings}
    arrays = {s.id for unit in plant.site.charge_controllers if unit.array for s in unit.array.strings}
    groups = {unit.group for unit in plant.site.inverter_chargers if unit.group}
    modes = {point.mode for point in plant.site.earthing.modes}
    there = set(plant.parts) | strings | arrays | groups | modes | {known.bank}
    assert all(set(step.parts) <= there for step in walk.steps)


@SITES
def test_every_band_is_made_waits_or_says_why_not(path: Path) -> None:
    for step, ask in everything(path):
        outcome = shown(path, step, ask)
        if isinstance(outcome, Expected):
            limits = [outcome.band.low, outcome.band.nominal, outcome.band.high]
            values = [limit.value for limit in limits if limit is not None]
            assert values == sorted(values), (step.key, values)
            assert outcome.compared is not None or outcome.band.unit == ask.data.unit
        elif outcome is not None:
            assert outcome.why


@SITES
def test_a_band_waits_only_for_what_its_step_asks_needs_or_stands_on(path: Path) -> None:
    walk = site_of(path)[2]
    for step, ask in everything(path, LAST):
        outcome = shown(path, step, ask)
        if isinstance(outcome, Waits):
            for key in outcome.keys:
                assert key in allowed(walk, step), f"{step.key} waits for {key}"


def allowed(walk: Checklist, step: Step) -> set[ReadingKey]:
    """Return the readings that a step may wait for: its own, its conditions, and what it stands on."""
    keys = {ask.key for ask in (*step.asks, *needed(walk, step))}
    waiting, met = list(step.stands_on), set(step.stands_on)
    while waiting:
        below = walk.by_key[waiting.pop()]
        keys |= {ask.key for ask in below.asks}
        waiting += [key for key in below.stands_on if key not in met]
        met |= set(below.stands_on)
    own = walk.by_id[step.data.id]
    return keys | {ask.key for other in own for ask in other.asks}


@SITES
def test_what_a_step_needs_can_be_asked_on_this_plant(path: Path) -> None:
    walk = site_of(path)[2]
    for step in walk.steps:
        for ident in step.data.needs if step.data.stage <= LAST else ():
            assert condition_ask(walk, step, walk.conditions_by_id[ident]) is not None, (step.key, ident)


@cache
def looked_at() -> frozenset[str]:
    """Return the conditions that the bands of the sample sites look at."""
    seen: set[str] = set()
    for path in sample_sites():
        plant, sheet, walk = site_of(path)
        for step, ask in everything(path):
            for value in (None, 0.0, 50.0):
                note = partial(noted, walk, seen, value)
                expected(Situation(plant, sheet, walk, step, ask, NOON, note, sheet.value))
    return frozenset(seen)


def noted(walk: Checklist, seen: set[str], value: float | None, key: ReadingKey) -> Observation | None:
    """Return a reading of some value, and remember the condition that it is."""
    found = walk.asks.get(key)
    if found is None:
        return None
    seen |= {found[1].data.condition or ""}
    return None if value is None else nonsense(found[1], value)


@pytest.mark.parametrize("ident", CONDITIONS)
def test_every_condition_has_a_consumer(ident: str) -> None:
    assert ident in looked_at()


@SITES
def test_nothing_raises_energy_before_dead_tests_polarity_and_job_talk_have_passed(path: Path) -> None:
    walk = site_of(path)[2]
    for step in walk.steps:
        if step.data.raises_energy and 7 <= step.data.stage <= LAST:
            bars = {key[0] for key in barred_by(walk, step, set())}
            assert bars >= {"job-talk", "design-findings"}, step.key
            if any(other.data.id == "dc-identity" for other in walk.steps):
                assert "dc-identity" in bars, step.key


@SITES
def test_a_bank_of_several_strings_is_joined_only_after_polarity_and_difference(path: Path) -> None:
    walk = site_of(path)[2]
    for step in walk.by_id.get("join-strings", ()):
        bars = barred_by(walk, step, set())
        assert ("join-difference", step.parts) in bars
        polarity = {"pack-voltage", "string-polarity"} & set(walk.by_id)
        assert polarity
        assert {key[0] for key in bars} >= polarity


@SITES
def test_no_array_is_put_on_before_its_strings_have_shown_the_right_polarity(path: Path) -> None:
    plant, _, walk = site_of(path)
    arrays = {unit.id: unit.array for unit in plant.site.charge_controllers if unit.array is not None}
    for step in walk.steps:
        for controller in set(step.parts) & set(arrays):
            if step.data.raises_energy and step.data.stage >= 10:
                wanted = {("array-string-polarity", (string.id,)) for string in arrays[controller].strings}
                assert wanted <= set(step.holds), step.key


@SITES
def test_a_source_is_closed_only_after_its_own_polarity_and_pre_charge(path: Path) -> None:
    walk = site_of(path)[2]
    for step in walk.by_id["close-source"]:
        assert {("source-polarity", step.parts), ("pre-charge", step.parts)} <= set(step.holds)


@SITES
def test_the_walk_changes_the_plants_state_seldom(path: Path) -> None:
    """Within a stage a state that has been left comes back only where what a step stands on asks for it."""
    for stage in site_of(path)[2].stages[:9]:
        states = [step.data.state for step in stage.steps if step.data.state != "any"]
        changes = sum(now != then for then, now in pairwise(states))
        assert changes <= len(set(states)), stage.data.title


@SITES
def test_the_same_site_makes_the_same_walk(path: Path) -> None:
    plant, sheet, walk = site_of(path)
    again = walk_of(plant, sheet).of_service
    assert [replace(step) for step in again.steps] == list(walk.steps)


@SITES
@pytest.mark.parametrize("value", [0.0, -1e6, 1e6, math.inf])
def test_nonsense_from_meters_never_breaks_a_band(path: Path, value: float) -> None:
    plant, sheet, walk = site_of(path)

    def everywhere(key: ReadingKey) -> Observation | None:
        # what was over a meter's range is no number for other readings
        found = walk.asks.get(key)
        return None if found is None or math.isinf(value) else nonsense(found[1], value)

    for step, ask in everything(path):
        situation = Situation(
            plant=plant,
            sheet=sheet,
            checklist=walk,
            step=step,
            ask=ask,
            now=NOON,
            latest=everywhere,
            left=sheet.value,
            reading=nonsense(ask, value),
        )
        assert isinstance(expected(situation), Expected | Waits | NotJudged | None)


def nonsense(ask: Ask, value: float) -> Observation:
    """Return a reading of some value, whatever is asked for; of a choice its first word."""
    value = 0.0 if ask.data.kind == "choice" else value
    return Observation(ask.key, given(value, ask.data.unit, "nonsense", kind="reading"), NOON, None)
