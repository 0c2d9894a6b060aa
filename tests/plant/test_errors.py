"""What is wrong with a site file is said all at once: file, key, value, and what would be right."""

from __future__ import annotations

import datetime as dt

import pytest

from commission.errors import SiteError
from commission.plant.files import load_plant
from commission.plant.toml import BY_HAND, parsed
from tests.plant.sites import content, problems, the_problem, warnings


def test_every_problem_is_told_at_once():
    site = content()
    site["bank"]["capacity"] = "370 V"
    site["bank"]["blocks_in_series"] = 0
    site["inverter_chargers"][1]["neutral_bond"] = "automatc"
    site["runs"][2]["length"] = True
    site["charge_controllers"][0]["profile"] = "controller-48v-80-buck-20"
    del site["loads"][0]["current"]
    found = {problem.key: problem for problem in problems(site)}
    assert set(found) == {
        "bank.capacity",
        "bank.blocks_in_series",
        "inverter_chargers[inverter-2].neutral_bond",
        "runs[run-main].length",
        "charge_controllers[controller-1].profile",
        "loads[load-well].current",
    }
    assert all(problem.file == "site.toml" and problem.wrong for problem in found.values())


def test_references_are_checked_all_at_once():
    site = content()
    site["runs"][0]["protection"] = "fuse-strng-a"
    site["panels"][0]["positions"][0]["holds"] = "inverter-1"
    site["generators"][0]["started_by"] = "controller-9"
    site["coordination"]["members"].append("generator-1")
    site["earthing"]["modes"][0]["mode"] = "iland"
    site["interlocks"] = [{"id": "lock-1", "one_of": ["generator-1", "load-well"], "by": "a switch"}]
    site["authority"]["state_of_charge"] = "monitor-2"
    found = {problem.key: problem for problem in problems(site)}
    assert found["runs[run-string-a].protection"].right == "did you mean 'fuse-string-a'?"
    assert found["panels[dc-panel].positions[1].holds"].wrong == "is an id of another kind of part"
    assert "controller-9" in found["generators[generator-1].started_by"].value
    assert "coordination.members" in found
    assert found["earthing.modes[number 1].mode"].right == "did you mean 'island'?"
    assert found["interlocks[lock-1].one_of"].value == "'load-well'"
    assert found["authority.state_of_charge"].right == "did you mean 'monitor-1'?"


@pytest.mark.parametrize(
    ("section", "key", "value"),
    [
        pytest.param("charge_controllers", "run", "run-controller-9", id="run of a controller"),
        pytest.param("charge_controllers", "protection", "load-well", id="protection of a controller"),
        pytest.param("charge_controllers", "panel", "inverter-1", id="panel of a controller"),
        pytest.param("inverter_chargers", "ac_breaker", "breaker-9", id="AC breaker"),
        pytest.param("inverter_chargers", "inputs", {"generator": "utility"}, id="AC source"),
        pytest.param("inverter_chargers", "input_breakers", {"generator": "x"}, id="breaker of an input"),
        pytest.param("generators", "panel", "run-main", id="panel of a generator"),
        pytest.param("runs", "from", "run-main-2", id="begin of a run"),
        pytest.param("runs", "to", "", id="end of a run"),
        pytest.param("protection", "of", "bnk", id="what a breaker protects"),
    ],
)
def test_a_reference_to_nothing_is_an_error(section, key, value):
    site = content()
    site[section][0][key] = value
    problem = the_problem(site)
    assert problem.key.startswith(f"{section}[{site[section][0]['id']}].{key}")
    assert problem.right


def test_an_id_given_twice_is_an_error():
    site = content()
    site["runs"][-1]["id"] = "fuse-main"
    assert "given to 2 parts" in the_problem(site).wrong


def test_a_string_and_a_part_do_not_share_an_id():
    site = content()
    site["bank"]["strings"][1]["id"] = "pv-1a"
    assert any("given to 2 parts" in problem.wrong for problem in problems(site))


def test_a_word_with_a_meaning_is_no_id():
    site = content()
    site["loads"][2]["id"] = "unknown"
    assert any(problem.wrong == "is a word with a meaning of its own" for problem in problems(site))


def test_a_position_of_a_panel_is_given_once():
    site = content()
    site["panels"][0]["positions"][1]["position"] = "1"
    assert the_problem(site).key == "panels[dc-panel].positions[1]"


@pytest.mark.parametrize(
    "ident", ["Inverter-1", "inverter 1", "inverter--1", "-inverter", "inverter_1", "", "ü"]
)
def test_an_id_has_small_letters_digits_and_hyphens(ident):
    site = content()
    site["loads"][0]["id"] = ident
    assert any("small letters" in problem.right for problem in problems(site))


@pytest.mark.parametrize(
    ("kind", "change", "near"),
    [
        pytest.param("bank", {"profile": "floded"}, "flooded", id="battery"),
        pytest.param("site", {"rules": "north-amerca"}, "north-america", id="rule set"),
        pytest.param("monitor", {"profile": "monitor-50a"}, "monitor-500a", id="monitor"),
    ],
)
def test_the_nearest_profile_is_suggested(kind, change, near):
    site = content()
    site[kind] |= change
    problem = the_problem(site)
    assert problem.wrong == "there is no such profile"
    assert problem.right == f"did you mean {near}?"


def test_a_profile_of_another_kind_is_an_error():
    site = content()
    site["generators"][0]["profile"] = "monitor-500a"
    problem = the_problem(site)
    assert problem.key == "generators[generator-1].profile"
    assert "generator is wanted" in problem.right


@pytest.mark.parametrize(
    ("place", "key", "near"),
    [
        ("site", "coldest_ambint", "coldest_ambient"),
        ("bank", "capacity_rat", "capacity_rate"),
        ("expected", "lod", "load"),
    ],
)
def test_an_unknown_key_is_warned_with_the_nearest_one(place, key, near):
    site = content()
    site[place][key] = 1
    (warning,) = warnings(site)
    assert warning.key == f"{place}.{key}"
    assert warning.right == f"did you mean {near}?"


def test_an_unknown_key_of_a_part_names_the_part_and_is_kept():
    site = content()
    site["runs"][0]["colour"] = "red"
    (warning,) = warnings(site)
    assert warning.key == "runs[run-string-a].colour"
    assert "known here: " in warning.right


def test_a_misspelt_section_is_warned():
    site = content()
    site["interlock"] = []
    assert warnings(site)[0].right == "did you mean interlocks?"


def test_a_misspelt_key_that_is_needed_is_recognised():
    site = content()
    site["bank"]["capcity"] = site["bank"].pop("capacity")
    problem = the_problem(site)
    assert (problem.key, problem.wrong, problem.right) == (
        "bank.capacity",
        "is missing",
        "is it meant by capcity?",
    )


@pytest.mark.parametrize(
    ("key", "value", "said"),
    [
        pytest.param("length", True, "a number in m is wanted", id="yes as a number"),
        pytest.param("length", [3], "a number in m is wanted", id="a list"),
        pytest.param("length", dt.date(2024, 1, 1), "a number in m is wanted", id="a date"),
        pytest.param("length", "5 V", "V cannot be read as m", id="another unit"),
        pytest.param("length", "five", "not a number", id="a word"),
        pytest.param("length", "> 5", "a single number", id="one-sided"),
        pytest.param("length", "1,200 ft", "1.200 or 1200 ft", id="two meanings"),
        pytest.param("length", -1, "must be at least 0 m", id="less than nothing"),
        pytest.param("length", float("nan"), "a finite number", id="not a number"),
        pytest.param("length", float("inf"), "a finite number", id="endless"),
        pytest.param("length", 10**400, "a finite number", id="four hundred digits"),
        pytest.param("area", "60 AWG", "4/0 to 40", id="no such gauge"),
        pytest.param("ambient", "-300 °F", "between -90 and 150 °C", id="colder than anything"),
        pytest.param("conductors", 0, "must be at least 1", id="no conductor"),
        pytest.param("conductors", True, "a whole number", id="yes as a count"),
        pytest.param("conductors", 1.5, "a whole number", id="half a conductor"),
        pytest.param("joints", "two", "a whole number or \"unknown\"", id="a word for a count"),
        pytest.param("kind", "DC", "did you mean 'dc'?", id="capitals"),
        pytest.param("material", "coper", "mean 'copper'? known: copper, aluminium, unknown", id="misspelt"),
    ],
)  # fmt: skip
def test_a_wrong_value_is_told_with_what_would_be_right(key, value, said):
    site = content()
    site["runs"][0][key] = value
    problem = the_problem(site)
    assert problem.key == f"runs[run-string-a].{key}"
    assert problem.value
    assert said in f"{problem.wrong} {problem.right}"


def test_a_share_over_one_is_told_with_its_range():
    site = content()
    site["loads"][0]["power_factor"] = 1.2
    assert the_problem(site).wrong == "must be between 0 and 1"


def test_a_yes_or_no_that_is_a_word_is_explained():
    site = content()
    site["inverter_chargers"][0]["sensor_fitted"] = "yes"
    assert the_problem(site).right == 'true or false or "unknown" is wanted'


@pytest.mark.parametrize("text", ["a\x00b", "a\x1b[31mb", "a\nb", "a\u202eb", "a\u2028b", "a\x7fb", "a\x85b"])
def test_text_for_people_has_no_control_characters(text):
    site = content()
    site["site"]["name"] = text
    problem = the_problem(site)
    assert problem.wrong == "has characters that it may not have"
    assert str(problem).isprintable()


def test_notes_may_have_several_lines():
    site = content()
    site["site"]["notes"] = "first\nsecond"
    assert problems(site) == []


def test_a_key_with_control_characters_cannot_reach_the_terminal():
    site = content()
    site["site"]["\x1b[31m"] = 1
    site["bank"]["datasheet"]["\x1b[2J"] = 1
    assert all(str(problem).isprintable() for problem in problems(site))
    del site["bank"]["datasheet"]["\x1b[2J"]
    assert all(str(warning).isprintable() for warning in warnings(site))


@pytest.mark.parametrize(
    "day", ["2023-02-29", "2024-13-01", "2024-02-30", "31.12.2024", "spring", "24", "0000"]
)
def test_a_date_that_does_not_exist_is_refused(day):
    site = content()
    site["bank"]["strings"][0]["installed"] = day
    assert the_problem(site).key == "bank.strings[string-a].installed"


@pytest.mark.parametrize("day", ["", "unknown", "2024", "2024-02", "2024-02-29", dt.date(2024, 2, 29), 2024])
def test_a_year_a_month_or_a_day_is_a_date(day):
    site = content()
    site["bank"]["strings"][0]["installed"] = day
    assert problems(site) == []


@pytest.mark.parametrize("change", [{"quiet_from": "25:00"}, {"quiet_until": "7:00"}, {"quiet_until": ""}])
def test_no_start_hours_are_times_of_day_and_have_an_end(change):
    site = content()
    site["generators"][0] |= change
    assert the_problem(site).key.startswith("generators[generator-1].quiet_")


def test_single_brackets_for_a_list_of_tables_are_explained():
    site = content()
    site["runs"] = site["runs"][0]
    assert any(problem.right == "write [[runs]] with double brackets" for problem in problems(site))


def test_double_brackets_for_one_table_are_explained():
    site = content()
    site["bank"] = [site["bank"]]
    assert any(problem.right == "write [bank] with single brackets, once" for problem in problems(site))


def test_an_array_in_single_brackets_of_a_controller_is_explained():
    site = content()
    array = site["charge_controllers"][0]["array"]
    array["strings"] = array["strings"][0]
    problem = the_problem(site)
    assert problem.key == "charge_controllers[controller-1].array.strings"
    assert problem.right == "write [[charge_controllers.array.strings]] with double brackets"


# values of the installed model's own datasheet


def test_a_datasheet_value_that_the_profile_does_not_have_is_an_error():
    site = content()
    site["inverter_chargers"][0]["datasheet"] = {"dc_voltage_maximum": 66}
    problem = the_problem(site)
    assert problem.key == "inverter_chargers[inverter-1].datasheet.dc_voltage_maximum"
    assert problem.right == "did you mean dc_voltage_max?"


@pytest.mark.parametrize("name", ["kind", "id", "format"])
def test_a_datasheet_cannot_turn_a_device_into_another(name):
    site = content()
    site["inverter_chargers"][0]["datasheet"] = {name: "generator"}
    assert the_problem(site).wrong == "the profile has no such value"


def test_a_wrong_datasheet_value_is_told_with_its_key():
    site = content()
    site["generators"][0]["datasheet"] = {"rated_power": "12 kVA", "fuel": "deisel"}
    found = {problem.key: problem for problem in problems(site)}
    assert "kVA cannot be read as W" in found["generators[generator-1].datasheet.rated_power"].wrong
    assert found["generators[generator-1].datasheet.fuel"].right.startswith("did you mean 'diesel'?")


def test_wrong_values_of_a_battery_datasheet_are_told_together():
    site = content()
    site["bank"]["datasheet"] = {"absorption_voltage": "2.4 A", "flot_voltage": 2.25, "end_current": True}
    found = {problem.key: problem for problem in problems(site)}
    assert "A cannot be read as V" in found["bank.datasheet.absorption_voltage"].wrong
    assert found["bank.datasheet.flot_voltage"].right == "did you mean float_voltage?"
    assert "a number in 1 is wanted" in found["bank.datasheet.end_current"].wrong


def test_a_curve_that_falls_is_refused():
    site = content("wintersedge-relay")
    site["bank"]["datasheet"]["open_circuit_voltage"]["values"] = [2.14, 2.06, 1.96]
    assert "must rise" in the_problem(site).wrong


def test_a_misspelt_response_is_an_error_and_not_passed_over():
    site = content("skarnow-lodge")
    site["ac_pv_inverters"][0]["response"] = {"slow_trp": 61.2}
    problem = the_problem(site)
    assert problem.key == "ac_pv_inverters[ac-pv-1].response.slow_trp"
    assert problem.right == "did you mean slow_trip?"


def test_a_wrong_response_is_told_with_its_key():
    site = content("skarnow-lodge")
    site["ac_pv_inverters"][0]["response"] = {"slow_trip": "61 s"}
    assert the_problem(site).key == "ac_pv_inverters[ac-pv-1].response.slow_trip"


# the file as a whole


def _refused(raw: bytes) -> str:
    with pytest.raises(SiteError) as caught:
        parsed(raw, "site.toml")
    (problem,) = caught.value.problems
    assert problem.file == "site.toml"
    return f"{problem.wrong}; {problem.right}"


@pytest.mark.parametrize(
    ("raw", "said"),
    [
        pytest.param(b"a = \xff", "not UTF-8", id="not UTF-8"),
        pytest.param("a = 1".encode("utf-16"), "not UTF-8", id="UTF-16"),
        pytest.param(b"a = ", "not TOML", id="no value"),
        pytest.param(b"a = unknown", "text stands in quotes", id="no quotes"),
        pytest.param(b"a = 1\na = 2", "each key once", id="a key twice"),
        pytest.param(b"[a]\n[a]", "each [table] once", id="a table twice"),
        pytest.param(b"a = 2023-02-30", "a date of the calendar", id="the thirtieth of February"),
        pytest.param(b"a = " + b"9" * 5000, "thousands of digits", id="thousands of digits"),
        pytest.param(b"a = " + b"[" * 100_000, "nested too deeply", id="lists in lists"),
        pytest.param(b"a = " + b"[" * 60 + b"]" * 60, "nested too deeply", id="sixty lists in lists"),
        pytest.param(b".".join([b"a"] * 60) + b" = 1", "nested too deeply", id="sixty tables in tables"),
        pytest.param(b" . ".join([b"a"] * 300_000) + b" = 1", "nested too deeply", id="endless key"),
        pytest.param(b'a = "\x00"', "not TOML", id="null character"),
        pytest.param(b'a = "\\ud800"', "not TOML", id="half a character"),
    ],
)
def test_a_file_that_cannot_be_read_is_explained(raw, said):
    assert said in _refused(raw)


def test_a_mark_before_the_text_does_no_harm():
    assert parsed(b"\xef\xbb\xbfa = 1\r\n", "site.toml") == {"a": 1}


def test_long_words_without_points_are_no_keys():
    assert parsed(b'a = "' + b"b" * 1_000_000 + b'"', "site.toml")["a"].startswith("bbb")


def test_a_huge_file_is_refused_unread(tmp_path):
    path = tmp_path / "huge.toml"
    path.write_bytes(b"#" * (BY_HAND.largest + 1))
    with pytest.raises(SiteError, match="larger than"):
        load_plant(path)


def test_a_folder_a_missing_file_and_a_null_name_are_explained(tmp_path):
    (tmp_path / "cabin.toml").write_text("format = 1")
    with pytest.raises(SiteError, match="is a folder"):
        load_plant(tmp_path)
    with pytest.raises(SiteError, match=r"did you mean cabin\.toml"):
        load_plant(tmp_path / "cabn.toml")
    with pytest.raises(SiteError, match="is not there either"):
        load_plant(tmp_path / "no" / "cabin.toml")
    with pytest.raises(SiteError, match=r"no such file|no name of a file"):
        load_plant("cabin\x00.toml")


def test_a_device_file_is_not_read_to_its_end(tmp_path):
    import os

    if not hasattr(os, "mkfifo"):
        pytest.skip("no named pipes here")
    os.mkfifo(tmp_path / "pipe.toml")
    with pytest.raises(SiteError, match="no ordinary file"):
        load_plant(tmp_path / "pipe.toml")


def test_a_file_with_nothing_of_use_names_every_section_that_is_missing(tmp_path):
    path = tmp_path / "begun.toml"
    path.write_text('note = "to be filled in"\n')
    with pytest.raises(SiteError) as caught:
        load_plant(path)
    assert {problem.key for problem in caught.value.problems} == {"format", "site", "bank"}


def test_a_format_of_the_future_is_refused():
    site = content()
    site["format"] = 2
    assert the_problem(site).key == "format"


def test_a_profile_of_a_name_that_no_file_can_have_is_an_error():
    """Also where the file cannot be read as a whole, so that nobody has measured its names."""
    site = content()
    site["site"]["rules"] = "a" * 5000
    found = problems(site)
    assert any(problem.key == "site.rules" for problem in found)
