"""Remedies that are tried and that agree with each other, on toy checks whose answers are plain."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from commission.design.agreeing import all_mended
from commission.design.mending import After, Trials, is_worse
from commission.design.types import Found, Remedy
from commission.figure import given
from commission.plant.change import Change, changed_data
from commission.plant.files import load_plant
from commission.plant.places import site_path
from commission.plant.plant import Plant
from commission.sheet.types import Finding, Kind
from tests.design.faults import data_of, findings_of

CABIN = load_plant(site_path(Path("tarnwold-cabin"))).plant
AREA, FUSE = "runs[run-main].area", "protection[fuse-main].rating"
Toy = Callable[[Plant], Found | None]


def area(plant: Plant) -> float:
    return float(next(run.area for run in plant.site.runs if run.id == "run-main"))


def rating(plant: Plant) -> float:
    return float(next(one.rating for one in plant.site.protection if one.id == "fuse-main"))


def found(check: str, *remedies: Remedy, kind: Kind = "stop", part: str = "run-main") -> Found:
    return Found(Finding(kind, check, (part,), f"{check} is wrong"), remedies)


def sized(*areas: float) -> tuple[Remedy, ...]:
    return tuple(Remedy(f"run-main in {one:g} mm²", change=(Change(AREA, one),)) for one in areas)


def fused(*amperes: float) -> tuple[Remedy, ...]:
    return tuple(Remedy(f"fuse of {one:g} A", change=(Change(FUSE, one),)) for one in amperes)


def mended(*toys: Toy) -> dict[str, Finding]:
    """Return the findings of toy checks on the cabin, with the remedies that are offered."""

    def look(plant: Plant, _: tuple[Change, ...] = ()) -> After:
        seen = [one for toy in toys if (one := toy(plant)) is not None]
        return {one.finding.id: one for one in seen}

    standing = look(CABIN)
    return {one.check: one for one in all_mended(Trials(CABIN, standing, look), standing.values())}


def under(least: float, check: str, *remedies: Remedy, kind: Kind = "stop") -> Toy:
    return lambda plant: found(check, *remedies, kind=kind) if area(plant) < least else None


# one key, several values


def test_who_mends_by_one_line_mends_by_all() -> None:
    # the cable is 3/0 AWG, 85 mm²: 90 would do for the drop, 150 for the current, 95 for the device
    told = mended(
        under(89.0, "drop", *sized(90.0), kind="advise"),
        under(149.0, "ampacity", *sized(150.0)),
        under(94.0, "device", *sized(95.0), kind="correct"),
    )
    assert {one.change for one in told.values()} == {(Change(AREA, 150.0),)}
    assert all(one.remedy.startswith("run-main in 150 mm², which also mends ") for one in told.values())
    assert told["drop"].remedy == "run-main in 150 mm², which also mends device, ampacity"


def test_of_a_rating_the_least_can_be_the_one_for_all() -> None:
    def over(most: float, check: str) -> Toy:
        return lambda plant: found(check, *fused(most)) if rating(plant) > most else None

    told = mended(over(300.0, "cable"), over(250.0, "bus bar"))
    assert {one.change for one in told.values()} == {(Change(FUSE, 250.0),)}


def test_the_greatest_of_each_key_is_tried_where_no_remedy_alone_passes() -> None:
    def small(plant: Plant) -> Found | None:
        both = (Change(AREA, 95.0), Change(FUSE, 500.0))
        return (
            found("small", Remedy("both", change=both)) if area(plant) < 94 or rating(plant) < 499 else None
        )

    told = mended(small, under(149.0, "ampacity", *sized(150.0)))
    assert {one.change for one in told.values()} == {(Change(AREA, 150.0), Change(FUSE, 500.0))}


def test_values_that_no_remedy_brings_together_stay_apart() -> None:
    def out_of(low: float, high: float, check: str, remedy: float) -> Toy:
        return lambda plant: None if low < rating(plant) < high else found(check, *fused(remedy))

    told = mended(out_of(400.0, 500.0, "load", 450.0), out_of(100.0, 200.0, "cable", 150.0))
    assert told["load"].change == (Change(FUSE, 450.0),)
    assert told["cable"].change == (Change(FUSE, 150.0),)


# what stands already


def outside(check: str, value: float, limit: float, *remedies: Remedy, kind: Kind = "correct") -> Found:
    numbers = {"value": given(value, "A", "value"), "limit": given(limit, "A", "limit")}
    return Found(Finding(kind, check, ("fuse-main",), f"{check} is wrong", **numbers), remedies)  # type: ignore[arg-type]


def large(*remedies: Remedy, most: float = 200.0) -> Toy:
    """A fuse that is too large for its cable, the more the larger it is."""
    return lambda plant: (
        outside("large", rating(plant), most, *remedies)
        if rating(plant) > most and area(plant) < 149
        else None
    )


def small(least: float, *remedies: Remedy) -> Toy:
    return lambda plant: found("small", *remedies) if rating(plant) < least else None


def test_a_remedy_that_makes_worse_what_stands_takes_its_remedy_along() -> None:
    told = mended(small(499.0, *fused(500.0)), large(*sized(150.0)))
    assert told["small"].remedy == "fuse of 500 A; and with it run-main in 150 mm²"


def test_what_stays_as_far_outside_as_it_was_bars_no_remedy() -> None:
    def stands(plant: Plant) -> Found | None:
        return outside("stands", 0.01 * area(plant) + 300.0, 200.0)  # 0.1 A more with 95 mm²

    told = mended(under(94.0, "thin", *sized(95.0)), stands)
    assert told["thin"].remedy == "run-main in 95 mm²"


def test_what_no_pair_keeps_from_growing_is_told_as_worse() -> None:
    told = mended(small(499.0, *fused(500.0)), large())
    assert told["small"].remedy == (
        "fuse of 500 A; but it makes worse correct at fuse-main: large is wrong; no single change passes both"
    )


def test_the_second_remedy_is_offered_where_the_first_makes_worse_what_stands() -> None:
    def thin(plant: Plant) -> Found | None:
        wrong = area(plant) < 94 and rating(plant) < 499
        return found("thin", *fused(500.0), *sized(95.0)) if wrong else None

    told = mended(thin, large())
    assert told["thin"].remedy == "run-main in 95 mm²"


def numbered(kind: Kind, value: float | None, limit: float, unit: str = "V") -> Finding:
    known = None if value is None else given(value, unit, "value")
    return Finding(kind, "check", ("part",), "text", value=known, limit=given(limit, "V", "limit"))


@pytest.mark.parametrize(
    ("before", "after", "worse"),
    [
        (numbered("correct", 216.0, 200.0), numbered("correct", 240.0, 200.0), True),
        (numbered("correct", 240.0, 200.0), numbered("correct", 216.0, 200.0), False),
        (numbered("correct", 150.0, 200.0), numbered("correct", 100.0, 200.0), True),  # under a least value
        (numbered("correct", 216.0, 200.0), numbered("correct", 216.0, 180.0), True),  # the limit came down
        (numbered("correct", 216.0, 200.0), numbered("correct", 226.0, 200.0), False),  # within a twentieth
        (numbered("correct", 216.0, 200.0), numbered("correct", 228.0, 200.0), True),
        (numbered("correct", 216.0, 200.0), numbered("stop", 210.0, 200.0), True),  # graver
        (numbered("stop", 216.0, 200.0), numbered("correct", 240.0, 200.0), False),  # milder
        (numbered("correct", None, 200.0), numbered("correct", 240.0, 200.0), False),
        (numbered("correct", 216.0, 200.0, "A"), numbered("correct", 240.0, 200.0, "A"), False),
    ],
)
def test_worse_is_further_outside_or_graver(before: Finding, after: Finding, worse: bool) -> None:
    assert is_worse(before, after) is worse


# symptoms


def test_a_symptom_goes_with_its_cause() -> None:
    def symptom(plant: Plant) -> Found | None:
        other = Remedy("a larger fuse", change=(Change(FUSE, 800.0),))
        wrong = area(plant) < 94 and rating(plant) < 700
        return found("symptom", other, kind="correct", part="fuse-main") if wrong else None

    told = mended(symptom, under(94.0, "cause", *sized(95.0)))
    assert told["symptom"].remedy == "goes with: run-main in 95 mm² (cause of run-main)"
    assert told["symptom"].change == told["cause"].change == (Change(AREA, 95.0),)
    assert told["cause"].remedy == "run-main in 95 mm², which also mends symptom of fuse-main"


def test_a_stop_waits_for_no_advice() -> None:
    def stop(plant: Plant) -> Found | None:
        wrong = area(plant) < 94 and rating(plant) < 700
        return found("stop-here", *fused(800.0)) if wrong else None

    told = mended(stop, under(94.0, "advice", *sized(95.0), kind="advise"))
    assert told["stop-here"].change == (Change(FUSE, 800.0),)


def test_two_remedies_that_each_mend_both_are_left() -> None:
    def either(check: str, *remedies: Remedy) -> Toy:
        return lambda plant: found(check, *remedies) if area(plant) < 94 and rating(plant) < 700 else None

    told = mended(either("one", *sized(95.0)), either("other", *fused(800.0)))
    assert told["one"].remedy == "run-main in 95 mm²"
    assert told["other"].remedy == "fuse of 800 A"


# pairs


def test_a_remedy_takes_along_what_it_brings() -> None:
    def bar(plant: Plant) -> Found | None:
        return found("bar", *sized(150.0), part="bar") if rating(plant) > 400 and area(plant) < 149 else None

    def small(plant: Plant) -> Found | None:
        return found("small", *fused(500.0)) if rating(plant) < 499 else None

    told = mended(small, bar)
    assert told["small"].remedy == "fuse of 500 A; and with it run-main in 150 mm²"
    assert told["small"].change == (Change(FUSE, 500.0), Change(AREA, 150.0))


def test_a_pair_that_sets_one_key_twice_is_the_second_alone() -> None:
    def thick(plant: Plant) -> Found | None:
        return found("thick", *sized(150.0)) if 90 < area(plant) < 149 else None

    told = mended(under(94.0, "thin", *sized(95.0)), thick)
    assert told["thin"].remedy == "run-main in 150 mm²"


def test_what_no_pair_mends_is_told_in_short() -> None:
    def brought(number: int) -> Toy:
        text = f"number {number}: " + "long words " * 40
        return lambda plant: (
            Found(Finding("correct", f"brought-{number}", ("bar",), text)) if area(plant) > 94 else None
        )

    told = mended(under(94.0, "thin", *sized(95.0)), *(brought(number) for number in range(5)))
    remedy = told["thin"].remedy
    assert remedy.startswith("run-main in 95 mm²; but it brings correct at bar: number 0: long words")
    assert remedy.endswith("; and 3 more; no single change passes both")
    assert len(remedy) < 300


def test_a_change_is_tried_once() -> None:
    tries: list[float] = []

    def look(plant: Plant, _: tuple[Change, ...] = ()) -> After:
        tries.append(area(plant))
        return {}

    standing = {one.finding.id: one for one in (found("one", *sized(95.0)), found("other", *sized(95.0)))}
    all_mended(Trials(CABIN, standing, look), standing.values())
    assert tries == [95.0]


# on real plants


def test_no_larger_fuse_on_a_cable_that_the_standing_one_does_not_protect() -> None:
    """A 160 A main fuse on 35 mm² that stands for 97.9 A: 355 A alone would mend the selectivity."""
    data = changed_data(data_of("saltpan-station"), (Change(AREA, 35.0), Change(FUSE, 160.0)))
    selectivity = "selectivity:fuse-inverter-1+fuse-main"
    before = findings_of(data, "saltpan-station", {selectivity})
    too_large = "conductor-protection:run-main+fuse-main"
    assert before[too_large].kind == "correct"
    finding = before[selectivity]
    assert {one.key for one in finding.change} == {AREA, FUSE}
    after = findings_of(changed_data(data, finding.change), "saltpan-station", ())
    assert not {selectivity, too_large} & after.keys()


def with_remedies(site: str, **changes: object) -> dict[str, Finding]:
    made = changed_data(data_of(site), [Change(key, value) for key, value in changes.items()])
    return findings_of(made, site)


def test_nine_modules_in_series_are_mended_by_one_not_by_devices_that_stand_them() -> None:
    told = with_remedies("tarnwold-cabin", **{"charge_controllers[controller-1].array.series": 9})
    for ident in ("array-device-voltage:breaker-pv-1", "arc-fault-detection:site"):
        assert told[ident].remedy.startswith("goes with: at most 1 in series")
        assert told[ident].change == told["cold-voltage:controller-1"].change


@pytest.mark.parametrize("size", ["6 AWG", 10.0, "4 AWG"])
def test_one_size_of_a_thin_string_lead_serves_all_that_is_wrong_with_it(size: object) -> None:
    told = with_remedies("tarnwold-cabin", **{"runs[run-string-a].area": size})
    sizes = {
        change.value
        for one in told.values()
        for change in one.change
        if change.key == "runs[run-string-a].area"
    }
    assert len(sizes) == 1


def test_a_fuse_of_ten_times_what_its_cable_carries_is_found() -> None:
    told = with_remedies("tarnwold-cabin", **{FUSE: 3500})
    assert told["conductor-protection:run-main+fuse-main"].change == (Change(FUSE, 400.0),)
