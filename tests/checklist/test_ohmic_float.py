"""Ohmic values of sealed blocks: quarterly on float as the plant runs, yearly with the string off."""

from __future__ import annotations

from functools import cache

import pytest

from commission.checklist.build import build_checklist
from commission.checklist.check import check_data
from commission.checklist.service import ISOLATION, intervals_of, service_walk
from commission.checklist.types import Checklist, ReadingData, Step
from commission.errors import SiteError
from commission.plant.files import load_plant
from commission.plant.places import sample_sites
from commission.plant.plant import Plant
from commission.plant.service_plan import ServicePlan
from commission.prepare import usual
from commission.sheet.settle import make_sheet
from tests.checklist.walks import usual_data

SITES = {path.stem: path for path in sample_sites()}
SEALED = ("crookhollow-yard", "harrowick-relay", "quillon-farm", "saltpan-station", "wintersedge-relay")
OTHERS = tuple(sorted(SITES.keys() - set(SEALED)))


@cache
def whole(name: str) -> tuple[Plant, Checklist]:
    plant = load_plant(SITES[name]).plant
    return plant, build_checklist(plant, make_sheet(plant), usual())


def of_id(walk: Checklist, ident: str) -> list[Step]:
    return [step for step in walk.steps if step.data.id == ident]


def value_of(ident: str) -> ReadingData:
    step = next(step for file in usual_data() for step in file.steps if step.id == ident)
    return next(reading for reading in step.readings if reading.name is None)


@pytest.mark.parametrize("name", SEALED)
def test_a_quarterly_visit_of_a_sealed_bank_leaves_it_on_float(name):
    """IEEE 1188, from memory: ohmic values and voltages of the units each quarter, in float service."""
    plant, full = whole(name)
    walk = service_walk(full, plant, due=("quarterly",))
    assert not [step.key for step in walk.steps if step.data.stage == ISOLATION]
    assert not [step.key for step in walk.steps if step.data.back_on or step.data.raises_energy]
    assert not of_id(walk, "ohmic-value")
    read = of_id(walk, "ohmic-float")
    assert [step.parts for step in read] == [(string.id,) for string in plant.bank.strings]
    blocks = [ask for step in read for ask in step.asks if ask.data.series]
    assert len(blocks) == plant.bank.blocks_in_series * len(plant.bank.strings)
    asked = {step.data.id for step in walk.steps}
    assert {"job-talk", "instruments-proven", "battery-temperature", "blocks-on-float"} <= asked


@pytest.mark.parametrize("name", SEALED)
def test_a_yearly_visit_reads_them_with_the_string_off_too_and_after_it_was_proven_dead(name):
    plant, full = whole(name)
    walk = service_walk(full, plant, due=("yearly",))
    order = [step.key for step in walk.steps]
    for string in plant.bank.strings:
        off, on = order.index(("ohmic-value", (string.id,))), order.index(("ohmic-float", (string.id,)))
        assert (
            order.index(("isolate-string", (string.id,))) < off < order.index(("close-main", ("bank",))) < on
        )
        assert on < order.index(("no-open-change", ()))


@pytest.mark.parametrize("name", OTHERS)
def test_vented_and_lithium_banks_have_no_such_step(name):
    plant, full = whole(name)
    assert full.in_service == ()
    assert full.of_service is full
    assert not of_id(service_walk(full, plant, due=("two-yearly",)), "ohmic-float")
    assert not [step for step in full.steps if step.data.id.startswith("ohmic")]


@pytest.mark.parametrize("name", SEALED)
def test_a_commissioning_walks_the_same_steps_as_before(name):
    _, full = whole(name)
    assert not [step for step in (*full.steps, *full.aside) if step.data.service_only]
    assert of_id(full, "ohmic-value")
    more = {step.key for step in full.of_service.steps} - {step.key for step in full.steps}
    assert {ident for ident, _ in more} == {"ohmic-float"}
    assert [step for step in full.of_service.steps if step.key not in more] == list(full.steps)


def test_the_step_on_float_says_what_protects_and_what_has_to_be_alike():
    data = next(step for file in usual_data() for step in file.steps if step.id == "ohmic-float")
    words = f"{data.caution} {data.do}"
    for said in (
        "Never alone",
        "Insulated probes",
        "Never loosen",
        "Same tester",
        "on float",
        "no generator",
    ):
        assert said in words, said
    assert [reading.name for reading in data.readings] == ["safe", "held", None]
    assert data.needs == ("battery-temperature",)


# what lies beside a block on float: the rest of its string, closed by an impedance of z blocks


def shown(rise: float, blocks: int, beside: float) -> float:
    """Return what a tester shows of a block of 1 Ω that has risen, as two resistances in parallel."""
    own, rest = 1.0 + rise, blocks - 1.0 + beside
    return 1.0 / (1.0 / own + 1.0 / rest)


@pytest.mark.parametrize("blocks", [2, 3, 4, 6, 8, 24])
@pytest.mark.parametrize("beside", [0.0, 0.5, 4.0, 100.0])
def test_float_shows_the_share_that_is_written_beside_the_step(blocks, beside):
    assert shown(0.0, blocks, beside) == pytest.approx((blocks - 1 + beside) / (blocks + beside))
    for rise in (0.2, 0.3, 0.5):
        told = rise * (blocks - 1 + beside) / (blocks + beside + rise)
        assert shown(rise, blocks, beside) / shown(0.0, blocks, beside) - 1.0 == pytest.approx(told)


def test_four_blocks_show_three_quarters_and_21_percent_of_a_rise_of_30():
    """By hand: 1 × 3 ÷ 4, and 1.3 × 3 ÷ 4.3 = 0.9070 of which 0.9070 ÷ 0.75 = 1.209."""
    assert shown(0.0, 4, 0.0) == pytest.approx(0.75)
    assert shown(0.3, 4, 0.0) / 0.75 == pytest.approx(1.209, abs=5e-4)


@pytest.mark.parametrize(("blocks", "rise"), [*((blocks, 0.30) for blocks in (3, 4, 6, 12, 24)), (2, 0.36)])
def test_the_limit_that_watches_sees_the_rise_at_which_a_block_is_tested(blocks, rise):
    """30 % over the baseline: IEEE 1188 practice, from memory. Nothing but the string lies beside it."""
    watched = min(limit.more for limit in value_of("ohmic-float").change if limit.more is not None)
    assert 100.0 * (shown(rise, blocks, 0.0) / shown(0.0, blocks, 0.0) - 1.0) > watched


def test_day_one_with_the_string_off_would_hide_a_rise_by_half_on_float():
    """Hence a baseline of its own: of four blocks 1.5 × 3 ÷ 4.5 = 1.0 of the value with the string off."""
    assert shown(0.5, 4, 0.0) == pytest.approx(1.0)
    assert value_of("ohmic-float").provisional == value_of("ohmic-value").provisional == "six months"
    off, on = ({limit.more for limit in value_of(name).change} for name in ("ohmic-value", "ohmic-float"))
    assert off == {20.0, 30.0, 50.0, None}
    assert on == {15.0, 30.0, 50.0, None}


# the data


def test_a_step_of_service_visits_alone_needs_an_interval_and_bears_no_other():
    files = usual_data()
    place = next(at for at, file in enumerate(files) if any(step.id == "ohmic-float" for step in file.steps))

    def refused(**changes: dict[str, object]) -> str:
        steps = tuple(
            step.model_copy(update=changes.get(step.id.replace("-", "_"), {})) for step in files[place].steps
        )
        made = (*files[:place], files[place].model_copy(update={"steps": steps}), *files[place + 1 :])
        with pytest.raises(SiteError) as error:
            check_data(made)
        return str(error.value)

    assert "nothing ever asks for it" in refused(ohmic_float={"service": ()})
    said = refused(high_disconnect={"stands_on": ("ohmic-float",)})
    assert "is in service visits only" in said


def test_the_sites_own_plan_moves_it_like_any_other():
    plant, full = whole("saltpan-station")
    step = of_id(full.of_service, "ohmic-float")[0]
    assert intervals_of(step.data, None) == ("quarterly",)
    plan = ServicePlan(steps={"ohmic-float": ("yearly",)})
    moved = plant.model_copy(update={"site": plant.site.model_copy(update={"service": plan})})
    assert not of_id(service_walk(full, moved, due=("quarterly",)), "ohmic-float")
    assert of_id(service_walk(full, moved, due=("yearly",)), "ohmic-float")
