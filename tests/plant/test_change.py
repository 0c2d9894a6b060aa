"""Changes to a site file: fields, parts, items of lists, datasheets, and what they refuse."""

from __future__ import annotations

import copy
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.errors import SiteError
from commission.figure import Figure
from commission.plant.change import Change, changed, changed_data, grown, planned_changes
from commission.plant.files import load_plant, plant_of
from commission.plant.places import data_folder
from commission.plant.plant import Plant
from tests.plant.sites import NOWHERE, content, problems


def sample(site: str) -> Plant:
    return load_plant(data_folder("sample_sites") / f"{site}.toml").plant


# content of a file


def test_a_planned_string_has_its_day_also_where_its_own_is_told_empty() -> None:
    """As a record has it, which writes every field: the plant of a record grows as that of its site file."""
    plant = load_plant(data_folder("sample_sites") / "wintersedge-relay.toml").plant
    (planned,) = plant.site.planned
    whole = planned.model_validate(planned.model_dump(by_alias=True))
    assert planned.when
    assert grown(plant, whole) == grown(plant, planned)
    assert grown(plant, whole).bank.strings[-1].installed == planned.when


def test_a_field_of_a_part_gets_another_value_and_the_file_stays_as_it_was() -> None:
    site = content("tarnwold-cabin")
    kept = copy.deepcopy(site)
    made = changed_data(site, [Change("runs[run-main].area", 70.0)])
    assert next(run for run in made["runs"] if run["id"] == "run-main")["area"] == 70.0
    assert site == kept


def test_a_field_is_taken_away() -> None:
    made = changed_data(content("tarnwold-cabin"), [Change("protection[fuse-main].distance", None)])
    assert "distance" not in next(one for one in made["protection"] if one["id"] == "fuse-main")


def test_a_part_is_added_replaced_and_taken_away_in_its_place() -> None:
    fuse = {"kind": "fuse", "current": "dc", "rating": 100}
    added = changed_data(content("tarnwold-cabin"), [Change("protection[fuse-new]", fuse)])
    assert added["protection"][-1] == {"id": "fuse-new", **fuse}
    replaced = changed_data(added, [Change("protection[fuse-main]", fuse)])
    assert replaced["protection"][0] == {"id": "fuse-main", **fuse}
    gone = changed_data(replaced, [Change("protection[fuse-new]", None)])
    assert [one["id"] for one in gone["protection"]] == [one["id"] for one in replaced["protection"]][:-1]


@pytest.mark.parametrize(
    ("key", "value", "where", "by"),
    [
        ("earthing.modes[bypass]", {"earthing": "TN", "bonds": []}, ("earthing", "modes"), "mode"),
        ("panels[dc-panel].positions[9]", {"circuit": "spare"}, ("panels", 0, "positions"), "position"),
        ("planned[a shed]", {"when": "2030"}, ("planned",), "name"),
        ("interlocks[lock]", {"name": "Lock", "one_of": ["a", "b"], "by": "relay"}, ("interlocks",), "id"),
    ],
)
def test_a_new_item_is_known_by_what_its_list_goes_by(
    key: str, value: dict[str, Any], where: tuple[Any, ...], by: str
) -> None:
    made: Any = changed_data(content("tarnwold-cabin"), [Change(key, value)])
    for step in where:
        made = made[step]
    assert made[-1] == {by: key.rsplit("[", maxsplit=1)[-1].rstrip("]"), **value}


def test_an_item_of_a_list_within_a_part_gets_another_value() -> None:
    made = changed_data(
        content("tarnwold-cabin"), [Change("panels[ac-panel].positions[2].circuit", "ice box")]
    )
    panel = next(one for one in made["panels"] if one["id"] == "ac-panel")
    assert [one["circuit"] for one in panel["positions"]][2] == "ice box"


def test_a_single_part_may_be_named_with_and_without_its_id() -> None:
    for key in ("monitor.shunt_current", "monitor[monitor-1].shunt_current"):
        made = changed_data(content("aldermere-clinic"), [Change(key, 1000)])
        assert made["monitor"]["shunt_current"] == 1000


def test_a_table_that_is_not_there_is_made() -> None:
    made = changed_data(content("tarnwold-cabin"), [Change("bank.management.data_link", True)])
    assert made["bank"]["management"] == {"data_link": True}


def test_changes_follow_one_another() -> None:
    fuse = {"kind": "fuse", "current": "dc"}
    made = changed_data(
        content("tarnwold-cabin"),
        [Change("protection[fuse-new]", fuse), Change("protection[fuse-new].rating", 80)],
    )
    assert made["protection"][-1]["rating"] == 80


@pytest.mark.parametrize(
    ("key", "value", "told"),
    [
        ("runs[run-x].area", 70.0, "no part has this id"),
        ("Runs", 70.0, "is no key of a site file"),
        ("", 70.0, "is no key of a site file"),
        ("runs[].area", 70.0, "is no key of a site file"),
        ("site.units[metric]", {}, "holds no parts"),
        ("protection[fuse-new]", 3, "is no table"),
    ],
)
def test_a_key_that_names_nothing_is_refused_with_the_key(key: str, value: Any, told: str) -> None:
    with pytest.raises(SiteError, match=told) as error:
        changed_data(content("tarnwold-cabin"), [Change(key, value)], "cabin.toml")
    assert error.value.problems[0].file == "cabin.toml"
    assert error.value.problems[0].key == key


@given(st.text(max_size=40))
def test_no_key_does_harm(key: str) -> None:
    site = content("tarnwold-cabin")
    try:
        made = changed_data(site, [Change(key, "other")])
    except SiteError:
        return
    assert made != site


# a plant


def test_a_plant_sees_the_change_in_the_unit_of_the_key() -> None:
    made = changed(sample("tarnwold-cabin"), [Change("runs[run-main].length", "10 ft")])
    run = next(one for one in made.site.runs if one.id == "run-main")
    assert run.length == pytest.approx(3.048)  # 1 ft = 0.3048 m


def test_a_datasheet_value_is_laid_over_the_profile() -> None:
    plant = sample("tarnwold-cabin")
    key = "inverter_chargers[inverter-1].datasheet.charger_current"
    made = changed(plant, [Change(key, 42.0)])
    rating = made.rating(made.site.inverter_chargers[0], "charger_current")
    assert isinstance(rating, Figure)
    assert rating.value == 42.0
    before = plant.rating(plant.site.inverter_chargers[0], "charger_current")
    assert isinstance(before, Figure)
    assert before.value != 42.0


def test_a_value_of_the_batterys_datasheet_is_laid_over_its_profile() -> None:
    made = changed(sample("tarnwold-cabin"), [Change("bank.datasheet.float_voltage", 2.2)])
    floating = made.cell("float_voltage")
    assert isinstance(floating, Figure)
    assert floating.value == 2.2


def test_response_settings_of_a_pv_inverter_change_with_its_table() -> None:
    plant = sample("skarnow-lodge")
    made = changed(plant, [Change("ac_pv_inverters[ac-pv-1].response.return_delay", 120.0)])
    assert made.ac_pv_class(made.site.ac_pv_inverters[0]).response.return_delay == 120.0


def test_what_a_plant_has_looked_up_is_looked_up_again() -> None:
    plant = sample("tarnwold-cabin")
    assert "breaker-new" not in plant.parts
    fuse = {"kind": "breaker", "current": "dc"}
    assert "breaker-new" in changed(plant, [Change("protection[breaker-new]", fuse)]).parts


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("inverter_chargers[inverter-1].profile", "inverter-24v-120-4000"),
        ("bank.profile", "agm"),
        ("site.rules", "iec-230"),
        ("runs[run-main].area", "thick"),
        ("runs[run-main].area", "3 V"),
        ("inverter_chargers[inverter-1].datasheet.charger_curent", 40),
        ("inverter_chargers[inverter-1].datasheet.charger_current", "much"),
        ("bank.datasheet.float_voltage", "high"),
    ],
)
def test_what_does_not_fit_the_plant_is_refused(key: str, value: Any) -> None:
    with pytest.raises(SiteError):
        changed(sample("tarnwold-cabin"), [Change(key, value)])


# planned additions


def test_a_plant_grows_by_everything_that_is_planned() -> None:
    plant = sample("aldermere-clinic")
    planned = plant.site.planned[0]
    larger = grown(plant, planned)
    assert [one.id for one in larger.site.inverter_chargers] == ["inverter-1", "inverter-2", "inverter-3"]
    assert larger.parts["run-inverter-3"] is not None
    assert larger.site.planned == ()
    assert {one.key for one in planned_changes(planned)} == set(planned.changes)
    assert larger.site.data_cables[1].to == "inverter-3"
    rating = larger.rating(larger.site.inverter_chargers[2], "continuous_power")
    assert isinstance(rating, Figure)


def test_strings_grow_too() -> None:
    plant = sample("wintersedge-relay")
    larger = grown(plant, plant.site.planned[0])
    assert [one.id for one in larger.bank.strings][-1] == "string-e"
    assert len(plant.bank.strings) == 4


@pytest.mark.parametrize(
    "site", ["aldermere-clinic", "harrowick-relay", "pellard-observatory", "quillon-farm"]
)
def test_a_plant_as_grown_is_the_plant_that_a_file_with_the_additions_describes(site: str) -> None:
    plant = sample(site)
    larger = grown(plant, plant.site.planned[0])
    data = larger.site.model_dump(by_alias=True, exclude_unset=True)
    assert plant_of(data, NOWHERE).plant.equipment == larger.equipment


# what is wrong in a plan


def _harrowick(**changes: Any) -> dict[str, Any]:
    site = content("harrowick-relay")
    site["planned"][0]["changes"] = changes
    return site


@pytest.mark.parametrize(
    ("key", "value", "told"),
    [
        ("runs[run-x].area", 3, "no part has this id"),
        ("runs[run-main].aera", 3, "did you mean area?"),
        ("runs[run-main].area", "thick", "'thick' is not a number"),
        ("nothing.area", 3, "no field has this name"),
        ("inverter_chargers[inverter-1].datasheet.charger_curent", 3, "did you mean charger_current?"),
    ],
)
def test_a_change_of_a_plan_that_does_not_fit_names_file_plan_and_key(
    key: str, value: Any, told: str
) -> None:
    (found,) = problems(_harrowick(**{key: value}))
    text = str(found)
    assert text.startswith(f"{NOWHERE.name}: planned[number 1].changes: ")
    assert told in text
    assert key.split(".", maxsplit=1)[0] in text


@pytest.mark.parametrize(
    ("table", "field", "value", "told"),
    [
        ("charge_controllers", "profile", "nope", "there is no such profile"),
        ("charge_controllers", "profile", "inverter-48v-230-5000", "is the profile of a inverter charger"),
        ("charge_controllers", "datasheet", {"nope": 1}, "the profile has no such value"),
        ("charge_controllers", "panel", "nowhere", "no part has this id"),
        ("runs", "area", "thick", "'thick' is not a number"),
        ("runs", "to", "nowhere", "no part has this id"),
        ("runs", "id", "run-main", "given to 2 parts"),
    ],
)
def test_a_planned_part_that_is_wrong_is_named_with_its_key_and_value(
    table: str, field: str, value: Any, told: str
) -> None:
    site = content("harrowick-relay")
    site["planned"][0][table][0][field] = value
    text = str(problems(site)[0])
    assert text.startswith(f"{NOWHERE.name}: planned[number 1].")
    assert told in text
    assert "nope" in text or str(value) in text


def test_two_plans_share_neither_name_nor_ids() -> None:
    site = content("harrowick-relay")
    site["planned"].append(copy.deepcopy(site["planned"][0]))
    texts = [str(one) for one in problems(site)]
    assert f"{NOWHERE.name}: planned.name = 'the ridge array': given to 2 planned additions" in texts[0]
    assert any("planned.id = 'controller-3': given to 2 planned parts" in text for text in texts)
