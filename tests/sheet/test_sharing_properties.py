"""Whatever the plant: no set of sources overcharges the bank without a finding that says so.

The sets are enumerated here in another way than in the program, and the settings are added up as a person
would read them from the sheet.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator

import pytest
from hypothesis import given, settings

from commission.figure import Figure, Quantity
from commission.plant.equipment import ChargeControllerClass, InverterChargerClass
from commission.plant.plant import Plant
from commission.plant.site import ChargeController, DirectCurrentSource
from commission.sheet.ac_sources import settle_ac_sources
from commission.sheet.bank_limit import settle_bank_limit
from commission.sheet.compatible import compatible_sets
from commission.sheet.draft import Draft
from commission.sheet.sharing import settle_sharing
from tests.strategies import plants

pytestmark = pytest.mark.slow

LIMIT = "charge_current_limit"
SLACK = 1e-5


def settled(of: Plant) -> Draft:
    draft = Draft(of)
    settle_bank_limit(draft)
    settle_ac_sources(draft)
    settle_sharing(draft)
    return draft


def known(value: Quantity | None) -> float | None:
    return value.value if isinstance(value, Figure) else None


def everyone(of: Plant) -> set[str]:
    site = of.site
    parts = (*of.sources, *site.ac_pv_inverters, *site.generators)
    return {part.id for part in parts} | ({site.utility.id} if site.utility else set())


def allowed_sets(of: Plant) -> Iterator[set[str]]:
    """Yield for every choice of one survivor of each interlock, or none, those that can then run."""
    groups = [set(interlock.one_of) for interlock in of.site.interlocks]
    for survivors in itertools.product(*(sorted(group) for group in groups)):
        barred = set().union(*(group - {one} for group, one in zip(groups, survivors, strict=True)))
        yield everyone(of) - barred


def settable(draft: Draft, source: DirectCurrentSource) -> bool:
    ability = draft.ability(source, LIMIT)
    return ability is not None and ability.fixed is None


def adds(draft: Draft, source: DirectCurrentSource) -> float | None:
    """Return what a source may add: its setting, or without one its rating, an array giving no more."""
    if settable(draft, source):
        return known(draft.value(source.id, LIMIT))
    found = draft.plant.equipment[source.id]
    assert isinstance(found, ChargeControllerClass | InverterChargerClass)
    rating = found.output_current if isinstance(found, ChargeControllerClass) else found.charger_current
    if not isinstance(rating, float):
        return None
    array = source.array if isinstance(source, ChargeController) else None
    if array is None or not isinstance(array.module_power, float) or not isinstance(array.series, int):
        return rating
    nominal = draft.plant.battery.nominal_cell_voltage.value
    assert isinstance(nominal, float)
    watts = array.module_power * array.series * len(array.strings)
    return min(rating, watts * 1.1 / (nominal * draft.plant.bank.cells))


def running(of: Plant, one: set[str]) -> list[DirectCurrentSource]:
    fed = [inverter for inverter in of.site.inverter_chargers if one & set(inverter.inputs.values())]
    return [source for source in (*fed, *of.site.charge_controllers) if source.id in one]


def coupled(draft: Draft, one: set[str]) -> float:
    """Return what AC-coupled PV drives into the bank: rating × best charger efficiency ÷ nominal voltage."""
    of = draft.plant
    inverters = [of.inverter_class(device) for device in of.site.inverter_chargers]
    if not inverters:
        return 0.0
    shares = [found.charger_efficiency for found in inverters]
    best = 1.0 if "unknown" in shares else max(share for share in shares if isinstance(share, float))
    nominal = of.battery.nominal_cell_voltage.value
    assert isinstance(nominal, float)
    watts = [of.ac_pv_class(device).rated_power for device in of.site.ac_pv_inverters if device.id in one]
    return sum(watt for watt in watts if isinstance(watt, float)) * best / (nominal * of.bank.cells)


def members(draft: Draft) -> set[str]:
    coordination = draft.plant.site.coordination
    return {
        source.id
        for source in draft.plant.sources
        if coordination.kind != "none"
        and source.id in coordination.members
        and settable(draft, source)
        and draft.plant.source_class(source).coordinable is not False
    }


def goes_on(draft: Draft, source: DirectCurrentSource) -> bool:
    coordination = draft.plant.site.coordination
    does = source.silence.does
    if does == "unknown":
        return source.id == coordination.controller or coordination.silence.does == "carries on alone"
    return does == "carries on alone"


def told(draft: Draft, check: str) -> float | None:
    """Return the current that the finding of a check speaks of; None where there is none."""
    return next((known(finding.value) for finding in draft.findings if finding.check == check), None)


def greatest_sets(of: Plant) -> list[set[str]]:
    """Return the allowed sets, without chargers that nothing feeds, that are part of no other."""
    found = [fed_only(of, one) for one in allowed_sets(of)]
    return [one for one in found if not any(one < other for other in found)]


def fed_only(of: Plant, one: set[str]) -> set[str]:
    fed = {source.id for source in running(of, one)}
    return one - ({inverter.id for inverter in of.site.inverter_chargers} - fed)


def at_least(draft: Draft, source: DirectCurrentSource) -> bool:
    """Whether a source is set as low as it can be."""
    ability = draft.ability(source, LIMIT)
    value = known(draft.value(source.id, LIMIT))
    return ability is None or ability.low is None or value is None or value <= ability.low + 1e-9


def in_normal_use(draft: Draft, one: set[str]) -> tuple[float, float]:
    """Return what commanded sources and what all sources together add in a set, group at its limit."""
    group = known(draft.numbers.get("group_limit"))
    grouped = members(draft)
    sources = running(draft.plant, one)
    inside = sum(adds(draft, source) or 0.0 for source in sources if source.id in grouped)
    outside = [source for source in sources if source.id not in grouped]
    commanded = sum(adds(draft, source) or 0.0 for source in outside if settable(draft, source))
    fixed = sum(adds(draft, source) or 0.0 for source in outside if not settable(draft, source))
    if group is not None and draft.plant.site.coordination.kind == "own outputs":
        commanded += min(group, inside)
    return commanded, commanded + fixed + coupled(draft, one)


def limits(draft: Draft) -> tuple[float, float] | None:
    daily, never = (known(draft.numbers[name]) for name in ("recommended_limit", "bank_limit"))
    return None if daily is None or never is None else (daily, never)


@given(plants(inverters=12, controllers=12))
def test_the_worst_set_over_a_limit_of_the_bank_is_told_and_nothing_else(of: Plant) -> None:
    draft = settled(of)
    held = limits(draft)
    if held is None:
        assert any(finding.check == "bank-limit" for finding in draft.findings)
        return
    daily, never = held
    flows = [in_normal_use(draft, one) for one in greatest_sets(of)]
    over_never = [total for _, total in flows if total > never + SLACK]
    over_daily = [
        commanded for commanded, total in flows if total <= never + SLACK and commanded > daily + SLACK
    ]
    assert told(draft, "bank-limit") == (pytest.approx(max(over_never), abs=SLACK) if over_never else None)
    assert told(draft, "daily-limit") == (pytest.approx(max(over_daily), abs=SLACK) if over_daily else None)


@given(plants(inverters=6, controllers=6))
def test_a_limit_is_exceeded_only_by_what_cannot_be_set_lower(of: Plant) -> None:
    draft = settled(of)
    held = limits(draft)
    for one in allowed_sets(of) if held is not None else ():
        commanded, total = in_normal_use(draft, one)
        assert held is not None
        if total > held[1] + SLACK or commanded > held[0] + SLACK:
            group = known(draft.numbers.get("group_limit")) or 0.0
            for source in running(of, one):
                free = source.id in members(draft) and (
                    of.site.coordination.kind == "bank current" or group < SLACK
                )
                assert free or at_least(draft, source), source.id


@given(plants(inverters=12, controllers=12))
def test_what_silence_lets_through_is_told(of: Plant) -> None:
    """Once the controller is silent: who carries on keeps its setting, who stops may flow until it has."""
    draft = settled(of)
    held, grouped = limits(draft), members(draft)
    if held is None or not grouped:
        return
    for_ever, meanwhile = [], []
    for one in greatest_sets(of):
        sources = running(of, one)
        stopping = [source for source in sources if source.id in grouped and not goes_on(draft, source)]
        for_ever.append(in_silence(draft, one))
        if any(known_delay(draft, source) != 0.0 for source in stopping):
            meanwhile.append(sum(adds(draft, source) or 0.0 for source in sources) + coupled(draft, one))
    worst = max((flow for flow in for_ever if flow > held[1] + SLACK), default=None)
    assert told(draft, "silence") == (None if worst is None else pytest.approx(worst, abs=SLACK))
    longest = max((flow for flow in meanwhile if flow > held[1] + SLACK), default=None)
    assert (told(draft, "silence-delay") is None) == (longest is None)
    assert longest is None or held[1] < (told(draft, "silence-delay") or 0.0) <= longest + SLACK


@given(plants(inverters=6, controllers=6))
def test_what_carries_on_alone_fits_unless_it_cannot_be_set_lower(of: Plant) -> None:
    draft = settled(of)
    held, grouped = limits(draft), members(draft)
    for one in allowed_sets(of) if held is not None and grouped else ():
        assert held is not None
        stays = [source for source in running(of, one) if source.id not in grouped or goes_on(draft, source)]
        if in_silence(draft, one) > held[1] + SLACK:
            leads = of.site.coordination.controller
            assert all(at_least(draft, source) for source in stays if source.id != leads)


def known_delay(draft: Draft, source: DirectCurrentSource) -> float | None:
    group = draft.plant.site.coordination.silence.after
    after = group if source.silence.after == "unknown" else source.silence.after
    return after if isinstance(after, float) else None


def in_silence(draft: Draft, one: set[str]) -> float:
    """Return what flows once who stops has stopped; a controlling source still keeps its group's limit."""
    coordination, grouped = draft.plant.site.coordination, members(draft)
    stays = [
        source for source in running(draft.plant, one) if source.id not in grouped or goes_on(draft, source)
    ]
    leads = next((one for one in stays if one.id == coordination.controller and one.id in grouped), None)
    others = sum(adds(draft, source) or 0.0 for source in stays if source is not leads) + coupled(draft, one)
    if leads is None:
        return others
    group = known(draft.numbers.get("group_limit"))
    assert group is not None
    left = group - others if coordination.kind == "bank current" else group
    return others + min(adds(draft, leads) or 0.0, max(0.0, left))


@given(plants(inverters=6, controllers=6))
def test_no_setting_is_rounded_up_over_what_bounds_it(of: Plant) -> None:
    """A setting lies on the device's steps, under its rating and wiring, unless nothing lower can be set."""
    draft = settled(of)
    for source in of.sources:
        ability, value = draft.ability(source, LIMIT), known(draft.value(source.id, LIMIT))
        if ability is None or value is None or ability.low is None or ability.step is None:
            continue
        steps = (value - ability.low) / ability.step
        assert steps == pytest.approx(round(steps), abs=1e-6)
        rating = known(
            of.rating(source, "charger_current" if source in of.site.inverter_chargers else "output_current")
        )
        breaker = of.protection_of(source.protection)
        if value > ability.low + 1e-9:
            assert rating is None or value <= rating + 1e-9
            if breaker is not None and isinstance(breaker.rating, float):
                factor = 1.0 if breaker.full_rated else of.rule("continuous_factor").value
                assert value <= breaker.rating / factor + 1e-9


@given(plants(inverters=4, controllers=4))
def test_the_same_plant_gives_the_same_sheet(of: Plant) -> None:
    first, second = settled(of), settled(of)
    assert list(first.settings.items()) == list(second.settings.items())
    assert first.findings == second.findings
    assert first.shares == second.shares


@given(plants(inverters=4, controllers=4))
def test_every_source_has_a_share_and_every_known_limit_says_what_binds(of: Plant) -> None:
    draft = settled(of)
    assert set(draft.shares) == {source.id for source in of.sources}
    for (device, setting, _), made in draft.settings.items():
        if setting == LIMIT and isinstance(made.recommended, Figure):
            commanded = of.equipment[device].settings[LIMIT].fixed is None
            assert made.note.startswith("bound by ") or not commanded


@given(plants(inverters=6, controllers=6))
@settings(max_examples=50)
def test_the_sets_are_the_greatest_that_the_interlocks_allow(of: Plant) -> None:
    """Each allowed set, its unfed chargers left out, is part of a listed one; every listed one is allowed."""
    made = compatible_sets(of)
    listed = [frozenset(fed_only(of, one)) for one in allowed_sets(of)]
    assert all(any(one <= whole for whole in made) for one in listed)
    assert all(whole in listed for whole in made)
    assert len(set(made)) == len(made)
    assert not any(one < other for one in made for other in made)
