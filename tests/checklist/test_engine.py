"""The walk as it is made of data: repeated, vanished, resolved, ordered, held."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from commission.checklist.build import barred_by, build_checklist, unmet
from commission.checklist.types import Checklist, ChecklistData
from commission.errors import SiteError
from commission.figure import given
from commission.plant.equipment import Ability
from commission.plant.plant import Plant
from commission.sheet.types import Recommended, Setting
from tests.builders import plant
from tests.checklist.walks import empty_sheet

INVERTER = {"profile": "inverter-48v-120-3600"}
CONTROLLER = {"profile": "controller-48v-80-buck-200"}
ARRAY = {"series": 3, "strings": [{"id": "pv-a"}, {"id": "pv-b"}]}


def step(ident: str, **fields: Any) -> dict[str, Any]:
    return {
        "id": ident,
        "stage": 1,
        "title": f"title of {ident}",
        "do": "do it",
        "why": "because",
        "readings": [{"prompt": "seen", "kind": "yes or no"}],
        "source": "common practice",
    } | fields


def data(*steps: dict[str, Any], **fields: Any) -> ChecklistData:
    stages = [{"number": number, "title": f"stage {number}", "caution": "care"} for number in range(1, 19)]
    content = {"format": 1, "id": "own", "name": "own", "stages": stages, "steps": list(steps)}
    return ChecklistData.model_validate(content | fields)


def built(*steps: dict[str, Any], of: Plant | None = None, **fields: Any) -> Checklist:
    return build_checklist(of or small(), empty_sheet(), [data(*steps, **fields)])


def small() -> Plant:
    """Two strings, two inverters of one group, two controllers of which one has an array, no generator."""
    grouped = INVERTER | {"group": "house", "run": "run-1"}
    return plant(
        "agm",
        strings=2,
        inverters=({"id": "inverter-1", **grouped}, {"id": "inverter-2", **grouped, "run": "run-2"}),
        controllers=(
            {"id": "controller-1", **CONTROLLER, "array": ARRAY},
            {"id": "controller-2", **CONTROLLER},
        ),
        runs=[
            {"id": "run-1", "kind": "dc", "from": "bank", "to": "inverter-1"},
            {"id": "run-2", "kind": "dc", "from": "bank", "to": "inverter-2"},
        ],
    )


def keys(checklist: Checklist) -> list[tuple[str, tuple[str, ...]]]:
    return [found.key for found in checklist.steps]


# repeated and vanished


def test_a_step_is_repeated_for_every_part_that_its_selector_yields() -> None:
    walk = built(step("look", each="dc source"), step("count", each="string"))
    assert keys(walk) == [
        ("look", ("inverter-1",)),
        ("look", ("inverter-2",)),
        ("look", ("controller-1",)),
        ("look", ("controller-2",)),
        ("count", ("string-1",)),
        ("count", ("string-2",)),
    ]


def test_a_step_vanishes_where_the_plant_has_nothing_of_the_kind() -> None:
    assert keys(built(step("start", each="generator"), step("look"))) == [("look", ())]


@pytest.mark.parametrize(
    ("word", "stays"),
    [
        ("sealed", True),
        ("not sealed", False),
        ("vented", False),
        ("not vented", True),
        ("several strings", True),
        ("grouped", True),
        ("has generator", False),
        ("not has generator", True),
    ],
)
def test_a_step_stays_only_where_its_predicate_holds(word: str, stays: bool) -> None:
    walk = built(step("look", when=[word]), step("other"))
    assert (("look", ()) in keys(walk)) is stays


def test_what_the_site_file_does_not_say_keeps_a_step_whichever_way_it_is_asked() -> None:
    walk = built(step("yes", when=["negative earthed"]), step("no", when=["not negative earthed"]))
    assert keys(walk) == [("yes", ()), ("no", ())]


def test_a_predicate_may_look_at_the_part() -> None:
    bonded = plant(inverters=({"id": "a", **INVERTER, "group": "g"}, {"id": "b", **INVERTER, "group": "g"},
                              {"id": "c", **INVERTER}))  # fmt: skip
    walk = built(step("look", each="inverter", when=["grouped"]), of=bonded)
    assert keys(walk) == [("look", ("a",)), ("look", ("b",))]


@pytest.mark.parametrize(
    ("recommended", "stays"),
    [
        pytest.param(given(57.6, "V", "equalise"), ["inverter-1"], id="set to a value"),
        pytest.param("off", [], id="switched off"),
    ],
)
def test_a_step_may_ask_for_a_setting_that_is_not_off(recommended: Recommended, stays: list[str]) -> None:
    ability = Ability(unit="V", low=48.0, high=64.0, step=0.2, off=True)
    setting = Setting("inverter-1", "equalize_voltage", None, recommended, "V", None, None, ability)
    sheet = replace(empty_sheet(), settings=(setting,))
    asked = step("one", each="dc source", when=["has setting equalize_voltage"])
    any_ = step("any", when=["has setting equalize_voltage"])
    none = step("none", when=["not has setting equalize_voltage"])
    walk = build_checklist(small(), sheet, [data(asked, any_, none)])
    assert [key[1] for key in keys(walk) if key[0] == "one"] == [(device,) for device in stays]
    assert (("any", ()) in keys(walk), ("none", ()) in keys(walk)) == (bool(stays), not stays)


def test_titles_and_work_name_the_part_and_its_companion() -> None:
    walk = built(
        step("drop", each="inverter run", title="drop along {part}, to {other}", do="at {other} on {part}")
    )
    assert walk.steps[0].title == "Drop along run-1, to inverter-1"
    assert walk.steps[0].do == "at inverter-1 on run-1"


def test_a_column_of_like_readings_is_asked_for_by_index() -> None:
    reading = {"name": "volts", "prompt": "voltage", "unit": "V", "series": "blocks"}
    walk = built(step("blocks", each="string", readings=[reading]))
    asks = walk.steps[0].asks
    assert [str(ask.key) for ask in asks] == [
        "blocks.volts@string-1",
        "blocks.volts@string-1#1",
        "blocks.volts@string-1#2",
        "blocks.volts@string-1#3",
    ]
    assert [ask.label for ask in asks] == ["block 1 of 4", "block 2 of 4", "block 3 of 4", "block 4 of 4"]


def test_cells_links_and_array_strings_are_columns_too() -> None:
    readings = [{"name": name, "prompt": "x", "unit": "V", "series": name.replace("-", " ")}
                for name in ("cells", "links")]  # fmt: skip
    strings = {"prompt": "x", "unit": "V", "series": "array strings"}
    walk = built(
        step("bank-side", each="string", readings=readings),
        step("pv-side", each="controller with array", readings=[strings]),
    )
    assert len(walk.steps[0].asks) == 24 + 3
    assert [ask.label for ask in walk.steps[-1].asks] == ["string pv-a", "string pv-b"]


def test_the_same_input_makes_the_same_walk() -> None:
    steps = (step("a", each="dc source", state="dead"), step("b", stands_on=["a"]), step("c", state="island"))
    assert built(*steps) == built(*steps)


# order


def test_stages_come_in_order_whatever_the_order_of_the_data() -> None:
    walk = built(step("late", stage=7), step("early", stage=2))
    assert [stage.data.number for stage in walk.stages] == [2, 7]
    assert keys(walk) == [("early", ()), ("late", ())]
    assert [stage.number for stage in walk.without] == [n for n in range(1, 19) if n not in {2, 7}]


def test_steps_of_one_plant_state_come_together() -> None:
    walk = built(
        step("cut-1", state="dead"),
        step("run-1", state="island"),
        step("cut-2", state="dead"),
        step("run-2", state="island"),
    )
    assert [key[0] for key in keys(walk)] == ["cut-1", "cut-2", "run-1", "run-2"]


def test_grouping_by_state_never_puts_a_step_before_what_it_stands_on() -> None:
    walk = built(
        step("cut-1", state="dead"),
        step("run-1", state="island"),
        step("cut-2", state="dead", stands_on=["run-1"]),
        step("run-2", state="island"),
    )
    assert [key[0] for key in keys(walk)] == ["cut-1", "run-1", "run-2", "cut-2"]


def test_a_step_that_needs_no_state_keeps_its_place() -> None:
    walk = built(step("cut-1", state="dead"), step("note"), step("cut-2", state="dead"))
    assert [key[0] for key in keys(walk)] == ["cut-1", "note", "cut-2"]


def test_the_state_of_one_stage_is_kept_into_the_next() -> None:
    walk = built(
        step("run", state="island"),
        step("cut", stage=2, state="dead"),
        step("run-on", stage=2, state="island"),
    )
    assert [key[0] for key in keys(walk)] == ["run", "run-on", "cut"]


def test_what_a_step_stands_on_comes_first_even_if_the_data_say_it_later() -> None:
    walk = built(step("b", stands_on=["a"]), step("a"))
    assert [key[0] for key in keys(walk)] == ["a", "b"]


# what a step stands on


def stands(walk: Checklist, ident: str, *parts: str) -> list[tuple[str, tuple[str, ...]]]:
    return list(walk.by_key[ident, parts].stands_on)


def test_a_step_stands_on_its_own_part_first() -> None:
    walk = built(step("off", each="dc source"), step("test", each="dc source", stands_on=["off"]))
    assert stands(walk, "test", "controller-1") == [("off", ("controller-1",))]


def test_a_part_of_something_stands_on_its_container() -> None:
    walk = built(step("off", each="controller"), step("test", each="array string", stands_on=["off"]))
    assert stands(walk, "test", "pv-b") == [("off", ("controller-1",))]


def test_a_container_stands_on_all_that_it_holds() -> None:
    walk = built(step("test", each="array string"), step("on", each="controller", stands_on=["test"]))
    assert stands(walk, "on", "controller-1") == [("test", ("pv-a",)), ("test", ("pv-b",))]


def test_a_run_stands_on_the_source_at_its_end_alone() -> None:
    walk = built(step("off", each="dc source"), step("torque", each="dc run", stands_on=["off"]))
    assert stands(walk, "torque", "run-2") == [("off", ("inverter-2",))]


def test_a_pair_stands_on_both_of_its_parts() -> None:
    walk = built(step("out", each="inverter"), step("across", each="inverter pair", stands_on=["out"]))
    pair = ("inverter-2", "inverter-1")
    assert set(stands(walk, "across", *pair)) == {("out", ("inverter-1",)), ("out", ("inverter-2",))}


def test_a_step_of_the_site_holds_for_every_part_and_every_part_for_the_site() -> None:
    walk = built(
        step("talk"), step("look", each="string", stands_on=["talk"]), step("end", stands_on=["look"])
    )
    assert stands(walk, "look", "string-2") == [("talk", ())]
    assert stands(walk, "end") == [("look", ("string-1",)), ("look", ("string-2",))]


def test_parts_that_have_nothing_in_common_stand_on_all() -> None:
    walk = built(step("join", each="string"), step("close", each="controller", stands_on=["join"]))
    assert stands(walk, "close", "controller-2") == [("join", ("string-1",)), ("join", ("string-2",))]


def test_a_chain_does_not_break_where_a_step_has_vanished() -> None:
    walk = built(
        step("off", hold=True),
        step("crank", each="generator", stands_on=["off"]),
        step("test", stands_on=["crank"]),
    )
    assert stands(walk, "test") == [("off", ())]


# hold points


def test_an_open_hold_bars_what_stands_on_it_directly_or_through_others() -> None:
    walk = built(
        step("dead", hold=True),
        step("look", stands_on=["dead"]),
        step("torque", stands_on=["look"]),
        step("note"),
    )
    torque, note = walk.by_key["torque", ()], walk.by_key["note", ()]
    assert barred_by(walk, torque, set()) == [("dead", ())]
    assert barred_by(walk, torque, {("dead", ())}) == []
    assert barred_by(walk, note, set()) == []


def test_what_is_no_hold_point_bars_nothing_but_is_named() -> None:
    walk = built(step("look"), step("torque", stands_on=["look"]))
    torque = walk.by_key["torque", ()]
    assert barred_by(walk, torque, set()) == []
    assert unmet(torque, set()) == [("look", ())]


def test_an_open_hold_bars_every_later_step_that_raises_the_energy_of_its_circuit() -> None:
    walk = built(
        step("polarity", each="dc source", hold=True),
        step("close", each="dc source", raises_energy=True),
        step("look", each="dc source"),
    )
    close, look = walk.by_key["close", ("inverter-2",)], walk.by_key["look", ("inverter-2",)]
    assert barred_by(walk, close, set()) == [("polarity", ("inverter-2",))]
    assert barred_by(walk, look, set()) == []


def test_a_hold_on_the_run_bars_the_closing_of_its_device() -> None:
    walk = built(step("ring", each="dc run", hold=True), step("close", each="inverter", raises_energy=True))
    assert barred_by(walk, walk.by_key["close", ("inverter-1",)], set()) == [("ring", ("run-1",))]


def test_a_hold_on_the_site_or_the_bank_bars_all_that_raises_energy() -> None:
    walk = built(
        step("talk", hold=True),
        step("rest", each="bank", hold=True),
        step("close", each="controller", raises_energy=True),
    )
    assert barred_by(walk, walk.by_key["close", ("controller-2",)], set()) == [
        ("talk", ()),
        ("rest", ("bank",)),
    ]


def test_a_later_hold_does_not_bar_an_earlier_step() -> None:
    walk = built(
        step("close", each="inverter", raises_energy=True),
        step("measure", stage=2, each="inverter", hold=True),
    )
    assert barred_by(walk, walk.by_key["close", ("inverter-1",)], set()) == []


def test_untested_array_strings_at_night_leave_the_controllers_bank_side_open() -> None:
    walk = built(
        step("sun", each="array string", hold=True),
        step("close", each="controller", raises_energy=True),
        step("pv-on", each="controller with array", raises_energy=True, stands_on=["sun"]),
    )
    assert barred_by(walk, walk.by_key["close", ("controller-1",)], set()) == []
    assert barred_by(walk, walk.by_key["pv-on", ("controller-1",)], set()) == [
        ("sun", ("pv-a",)),
        ("sun", ("pv-b",)),
    ]


# what can be wrong in the data


def problems(*steps: dict[str, Any], **fields: Any) -> list[str]:
    with pytest.raises(SiteError) as caught:
        built(*steps, **fields)
    return [str(problem) for problem in caught.value.problems]


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"each": "invertor"}, "each = 'invertor': there is no such selector; did you mean 'inverter'?"),
        ({"when": ["vent"]}, "steps[a].when = 'vent': there is no such predicate; did you mean 'vented'?"),
        ({"when": ["not vent"]}, "there is no such predicate; did you mean 'vented'?"),
        ({"stands_on": ["bb"]}, "steps[a].stands_on = 'bb': there is no such step; did you mean 'b'?"),
        ({"stands_on": ["late"]}, "is of stage 9, this step of stage 1"),
        ({"needs": ["heat"]}, "steps[a].needs = 'heat': there is no such condition"),
        ({"readings": [{"prompt": "x", "unit": "V", "expect": "block at rst"}]}, "mean 'block at rest'?"),
        ({"readings": [{"prompt": "x", "unit": "V", "expect": "at most five"}]}, "at most 5"),
        ({"readings": [{"prompt": "x", "unit": "V", "series": "block"}]}, "did you mean 'blocks'?"),
        ({"readings": [{"prompt": "x", "unit": "volts"}]}, "'volts': is no unit known here"),
        ({"readings": [{"prompt": "x", "unit": ""}]}, "is no unit known here"),
        ({"readings": [{"prompt": "x", "unit": "V"}] * 2}, "2 readings share it"),
        ({"readings": [{"prompt": "x", "kind": "choice"}]}, "go with kind 'choice'"),
        ({"readings": [{"prompt": "x", "unit": "V", "condition": "heat"}]}, "there is no such condition"),
        ({"readings": [{"prompt": "x", "unit": "V", "service_expect": "block at rst"}]},
         "mean 'block at rest'?"),
        ({"readings": [{"prompt": "x", "unit": "MΩ", "restated": "insulation at 20"}]},
         "there is no such restatement; did you mean 'insulation at 20 °C'?"),
        ({"readings": [{"prompt": "x", "unit": "V", "compares": "among"}]}, "there is no column"),
        ({"readings": [{"prompt": "x", "unit": "V", "change": [{"source": "s"}]}]},
         "change[1]: has no limit"),
        ({"readings": [{"prompt": "x", "unit": "V", "change": [{"more": 1, "unit": "volts", "source": ""}]}]},
         "'volts': is no unit known here"),
        ({"readings": [{"prompt": "x", "kind": "text", "change": [{"more": 1, "source": "s"}]}]},
         "only a number changes"),
        ({"stand_on": ["b"]}, "there is no such key; did you mean stands_on?"),
        ({"stage": 1, "hold_point": True}, "there is no such key"),
    ],
)  # fmt: skip
def test_a_wrong_word_is_named_with_file_key_and_the_nearest_right_one(
    fields: dict[str, Any], said: str
) -> None:
    found = problems(step("a", **fields), step("b"), step("late", stage=9))
    assert len(found) == 1
    assert found[0].startswith("own.toml: ")
    assert said in found[0]


def test_steps_that_stand_on_each_other_in_a_ring_are_shown_as_the_ring() -> None:
    found = problems(
        step("a", stands_on=["c"]),
        step("b", stands_on=["a"]),
        step("c", stands_on=["b"]),
        step("d", stands_on=["a"]),
    )
    assert len(found) == 1
    assert "a → c → b → a: stand on each other in a ring" in found[0]


def test_a_step_that_stands_on_itself_is_a_ring() -> None:
    assert "a → a" in problems(step("a", stands_on=["a"]))[0]


def test_an_id_given_twice_is_refused_also_across_files() -> None:
    other = data(step("b"), step("a"), id="firm", stages=[])
    with pytest.raises(SiteError) as caught:
        build_checklist(small(), empty_sheet(), [data(step("a")), other])
    assert "'a': stands 2 times (own.toml, firm.toml)" in str(caught.value)


def test_a_stage_without_a_title_is_refused() -> None:
    assert "no stage of this number has a title" in problems(step("a", stage=3), stages=[])[0]


def test_a_condition_must_be_given_by_a_reading_of_its_step() -> None:
    heat = {"id": "heat", "name": "heat", "unit": "°C", "life": 60, "step": "a", "source": "common practice"}
    assert "no reading of this step gives it" in problems(step("a"), conditions=[heat])[0]
    assert "there is no such step" in problems(step("a"), conditions=[heat | {"step": "aa"}])[0]


def test_all_problems_come_at_once() -> None:
    assert len(problems(step("a", each="x", needs=["y"], stands_on=["z"]), step("b", when=["w"]))) == 4
