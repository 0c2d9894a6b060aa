"""The walk of a service visit: what is due, what a change makes due again, and what keeps people safe."""

from __future__ import annotations

from functools import cache
from itertools import pairwise

import pytest

from commission.checklist.build import build_checklist
from commission.checklist.conditions import needed
from commission.checklist.intervals import MONTHS, ORDER, covered
from commission.checklist.service import ISOLATION, agreed_intervals, intervals_of, service_walk
from commission.checklist.types import Checklist, Expected, ReadingKey, Step, StepKey
from commission.errors import SiteError
from commission.plant.files import load_plant
from commission.plant.places import sample_sites
from commission.plant.plant import Plant
from commission.plant.service_plan import ServicePlan
from commission.prepare import usual
from commission.sheet.settle import make_sheet
from tests.builders import plant as built
from tests.checklist.walks import Site

DATED = tuple(sorted(MONTHS, key=ORDER.index))


@cache
def small() -> Plant:
    """Return a plant of two AGM strings, an inverter/charger and two controllers."""
    return built(
        bank={"strings": [{"id": "string-a"}, {"id": "string-b"}]},
        inverters=({"id": "inverter-1", "profile": "inverter-48v-230-5000"},),
        controllers=(
            {"id": "controller-1", "profile": "controller-48v-60-buck-150"},
            {"id": "controller-2", "profile": "controller-48v-60-buck-150"},
        ),
        place={"rules": "iec-230"},
    )


@cache
def commissioning() -> Checklist:
    return build_checklist(small(), make_sheet(small()), usual())


def whole() -> Checklist:
    """Return the whole walk that service visits are made of."""
    return commissioning().of_service


def planned(plan: ServicePlan) -> Plant:
    site = small().site.model_copy(update={"service": plan})
    return small().model_copy(update={"site": site})


def keys(walk: Checklist) -> set[StepKey]:
    return {step.key for step in walk.steps}


def test_what_is_due_at_a_shorter_interval_is_due_at_every_longer_one():
    walks = [keys(service_walk(whole(), small(), due=(interval,))) for interval in ORDER]
    assert all(shorter <= longer for shorter, longer in pairwise(walks))
    assert len(walks[-1]) > len(walks[0]) > 0


def test_a_visit_keeps_the_steps_of_its_interval_and_leaves_out_those_of_longer_ones():
    walk = service_walk(whole(), small(), due=("quarterly",))
    for step in whole().steps:
        wanted = set(step.data.service) & {"every visit", "monthly", "quarterly"}
        if wanted:
            assert step.key in keys(walk)
        elif step.data.service:
            assert step.key not in keys(walk) or step.data.back_on
    assert ("ohmic-float", ("string-a",)) in keys(walk)
    assert not {("link-resistance", ("string-a",)), ("ohmic-value", ("string-a",))} & keys(walk)


def test_steps_stay_in_walking_order_and_none_is_lost():
    walk = service_walk(whole(), small(), due=("yearly",))
    order = {step.key: place for place, step in enumerate(whole().steps)}
    places = [order[step.key] for step in walk.steps]
    assert places == sorted(places)
    assert keys(walk) | {step.key for step in walk.aside} == set(order)
    numbers = [*(stage.data.number for stage in walk.stages), *(stage.number for stage in walk.without)]
    assert sorted(numbers) == sorted(
        [*(stage.data.number for stage in whole().stages), *(stage.number for stage in whole().without)]
    )


def under(walk: Checklist, key: StepKey) -> set[StepKey]:
    """Return everything that a step stands on, directly or through others."""
    found: set[StepKey] = set()
    left = [key]
    while left:
        more = set(walk.by_key[left.pop()].stands_on) - found
        found |= more
        left += more
    return found


def works_dead(step: Step) -> bool:
    """Whether somebody works on a plant that has to be off, or closes what has to be open before."""
    off = step.data.state in {"dead", "dc only"} or step.data.raises_energy
    return off and not step.data.as_it_runs


@pytest.mark.parametrize("due", [(), ("monthly",), ("quarterly",), ("yearly",), ("two-yearly",)])
@pytest.mark.parametrize("changed", [(), ("controller-1",), ("string-b",), ("site",)])
def test_nobody_works_on_what_was_not_proven_dead(due, changed):
    """Whatever is done on a plant that is off has the whole isolation before it that the plant has."""
    walk = service_walk(whole(), small(), due=due, changed=changed)
    isolation = {step.key for step in whole().steps if step.data.stage == ISOLATION}
    needs = [key for key in keys(walk) if works_dead(walk.by_key[key]) and under(whole(), key) & isolation]
    assert bool(needs) == bool(keys(walk) & isolation)
    if needs:
        assert isolation <= keys(walk)


@cache
def samples() -> dict[str, tuple[Plant, Checklist]]:
    found = {}
    for path in sample_sites():
        plant = load_plant(path).plant
        found[path.stem] = plant, build_checklist(plant, make_sheet(plant), usual()).of_service
    return found


@pytest.mark.parametrize("site", [path.stem for path in sample_sites()])
@pytest.mark.parametrize("due", ORDER)
def test_nothing_is_switched_off_that_no_due_step_needs_off(site, due):
    """And what bars a step that is done, because of what can hurt there, is always in the walk."""
    plant, full = samples()[site]
    walk = service_walk(full, plant, due=(due,))
    wanted = covered((due,))
    isolation = {step.key for step in full.steps if step.data.stage == ISOLATION}
    in_need = [
        step
        for step in full.steps
        if wanted & set(intervals_of(step.data, plant.site.service))
        and works_dead(step)
        and under(full, step.key) & isolation
    ]
    opened = [step.key for step in walk.steps if step.key in isolation or step.data.back_on]
    assert bool(opened) == bool(in_need)
    assert not opened or isolation <= keys(walk)
    for step in walk.steps:
        bars = {*under(full, step.key), *full.by_key[step.key].holds}
        assert {key for key in bars if full.by_key[key].data.hazard} <= keys(walk)
        if works_dead(step):
            assert bars & isolation <= keys(walk)


@pytest.mark.parametrize("site", [path.stem for path in sample_sites()])
def test_a_monthly_visit_leaves_the_plant_running(site):
    """IEEE 450 and 1188 ask each month for what is seen and read on the bank in service."""
    plant, full = samples()[site]
    walk = service_walk(full, plant, due=("monthly",))
    assert not [step.key for step in walk.steps if step.data.stage == ISOLATION or works_dead(step)]
    told = {step.data.id for step in walk.steps}
    assert {
        "bank-voltage",
        "air-temperature",
        "battery-temperature",
        "battery-place",
        "blocks-counted",
    } <= told
    full_ids = {step.data.id for step in full.steps}
    assert full_ids & {"cell-level", "charge-room", "generator-ready", "generator-loaded"} <= told


def test_what_was_isolated_is_switched_on_again_step_by_step():
    """The bank is joined and closed, and each device pre-charged, before anything is done live."""
    walk = service_walk(whole(), small(), due=("yearly",))
    for ident in ("join-difference", "close-main", "pre-charge", "close-source"):
        assert walk.by_id[ident][0].key in keys(walk), ident
    state = walk.by_key["charger-state", ("controller-1",)]
    assert ("close-source", ("controller-1",)) in state.stands_on


def test_a_step_stands_only_on_what_is_in_its_walk_and_keeps_what_is_under_a_step_left_out():
    walk = service_walk(whole(), small(), due=("quarterly",))
    for step in walk.steps:
        assert set(step.stands_on) <= keys(walk)
        assert set(step.holds) <= keys(walk)
    # in the whole walk post-torque lies between, which a service visit leaves out
    yearly = service_walk(whole(), small(), due=("yearly",))
    assert ("string-polarity", ("string-a",)) in yearly.by_key["link-resistance", ("string-a",)].stands_on
    assert ("post-torque", ("string-a",)) not in keys(yearly)


def test_a_replaced_controller_is_commissioned_again_and_nothing_else():
    plain = service_walk(whole(), small(), due=())
    walk = service_walk(whole(), small(), due=(), changed=("controller-1",))
    more = keys(walk) - keys(plain)
    own = {step.key for step in whole().steps if "controller-1" in step.parts}
    assert own <= keys(walk)
    assert {"source-polarity", "pv-first-closed", "absorption-voltage", "emergency-stop"} <= {
        k[0] for k in more
    }
    for key in more:
        if "controller-2" in key[1] or "inverter-1" in key[1]:  # switched off and on again beside it
            step = walk.by_key[key]
            assert step.data.stage == ISOLATION or step.data.back_on, key


def test_a_new_string_is_tested_and_so_is_the_bank_above_it():
    walk = service_walk(whole(), small(), due=(), changed=("string-b",))
    found = keys(walk)
    assert {step.key for step in whole().steps if "string-b" in step.parts} <= found
    assert ("close-main", ("bank",)) in found
    assert ("link-resistance", ("string-a",)) not in found


def test_new_parts_are_judged_as_new_and_the_others_by_their_age():
    walk = service_walk(whole(), small(), due=("two-yearly",), changed=("string-b",))
    old, new = (walk.by_key["link-resistance", (part,)].asks[0].data for part in ("string-a", "string-b"))
    assert (old.expect, new.expect) == ("link in service", "link among its like")
    assert len({id(ask.data) for ask in walk.by_key["link-resistance", ("string-a",)].asks}) == 1


def test_what_a_kept_step_needs_can_still_be_asked_in_it():
    """The light is no step of a service visit, and yet asked where an array's current is read."""
    walk = service_walk(whole(), small(), due=("yearly",))
    for step in walk.steps:
        wanted = {ask.key for ask in needed(whole(), whole().by_key[step.key])}
        assert {ask.key for ask in needed(walk, step)} == wanted
        assert wanted <= set(walk.asks)


def test_a_fault_call_does_every_step_of_the_part_it_concerns():
    walk = service_walk(whole(), small(), due=(), parts=("inverter-1",))
    assert {step.key for step in whole().steps if "inverter-1" in step.parts} <= keys(walk)


def test_the_sites_own_plan_moves_steps_and_names_the_intervals():
    plan = ServicePlan(
        intervals=("yearly",), steps={"ohmic-value": ("yearly",), "link-resistance": ("quarterly",)}
    )
    walk = service_walk(whole(), planned(plan), due=("quarterly",))
    found = {step.data.id for step in walk.steps}
    assert "link-resistance" in found
    assert "ohmic-value" not in found
    assert agreed_intervals(whole(), plan) == ("yearly",)
    # a monthly visit is nobody's to miss unless it was agreed, or a step was moved there
    usual = ("quarterly", "yearly", "two-yearly")
    assert agreed_intervals(whole(), None) == agreed_intervals(whole(), ServicePlan()) == usual
    moved = ServicePlan(steps={"link-resistance": ("monthly",)})
    assert agreed_intervals(whole(), moved) == ("monthly", *usual)
    assert agreed_intervals(whole(), ServicePlan(intervals=("monthly",))) == ("monthly",)


def test_a_plan_that_moves_a_step_nobody_knows_is_refused():
    plant = planned(ServicePlan(steps={"ohmic-valeu": ("yearly",)}))
    with pytest.raises(SiteError, match="did you mean 'ohmic-value'"):
        build_checklist(plant, make_sheet(plant), usual())


def test_every_step_without_a_plan_keeps_its_own_intervals():
    for step in whole().steps:
        assert intervals_of(step.data, None) == step.data.service
        assert intervals_of(step.data, ServicePlan()) == step.data.service


def aged(site: Site, name: str, part: str) -> Site:
    """Return a site whose walk asks for a reading as a service visit does."""
    site.checklist = service_walk(site.checklist, site.plant, due=("two-yearly",))
    assert site.checklist.asks[ReadingKey(name, (part,))][1].data.expect.endswith("in service")
    return site


@pytest.mark.parametrize(
    ("links", "high"),
    [
        # 50 % above the lowest; ANSI/NETA ATS 7.18.1, from memory
        pytest.param((20.0, 31.0, 22.0), 30.0, id="31 over 20 µΩ is looked into"),
        pytest.param((40.0, 41.0, 60.0), 60.0, id="exactly half as much again"),
    ],
)
def test_links_of_an_aged_bank_are_held_to_half_above_the_least(links, high):
    site = aged(Site(small()), "link-resistance", "string-a").read("link-resistance", "string-a", *links)
    outcome = site.judged("link-resistance", "string-a", links[0])
    assert isinstance(outcome, Expected)
    assert outcome.band.high is not None
    assert outcome.band.high.value == pytest.approx(high, abs=0.05)


@pytest.mark.parametrize(
    ("hours", "percent", "word"),
    [
        # 2 × 200 Ah in 20 h, 20 A at 25 °C: under 90 % yearly, under 80 % replace; IEEE 450, FIST 3-6
        pytest.param(19.0, 95.0, "", id="well"),
        pytest.param(17.0, 85.0, "test every year", id="under 90 %"),
        pytest.param(15.6, 78.0, "", id="78 %: replace"),
    ],
)
def test_capacity_of_an_aged_bank_is_held_to_four_fifths(hours, percent, word):
    site = aged(Site(small()), "capacity-test.time", "bank")
    site.read("capacity-test.current", "bank", -20.0).read("battery-temperature", "bank", 25.0)
    outcome = site.judged("capacity-test.time", "bank", hours)
    assert isinstance(outcome, Expected)
    assert outcome.compared is not None
    assert outcome.band.low is not None
    assert outcome.compared.value == pytest.approx(percent, abs=1e-3)
    assert outcome.band.low.value == pytest.approx(80.0)
    assert (word in outcome.says) if word else ("year" not in outcome.says)
