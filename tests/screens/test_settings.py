"""Journeys over the settings sheet."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from commission.figure import Unknown, given, least
from commission.plant.equipment import Ability
from commission.screens.setting_rows import binding_text, table
from commission.sheet.types import Pair, Sheet
from commission.visit.session import OpenVisit
from commission.visit.state import setting_of
from commission.visit.types import SettingEntry
from tests.builders import plant as built
from tests.screens.pages import NARROW, TERMINALS, hands_on
from tests.visit.walks import begun, resumed, setting, sheet, step, walk

WALK = walk(step("look", title="Look around"))


def two_devices() -> Sheet:
    """Return the settings of an inverter and a monitor: numbers, a word, pairs, a gap, a fixed value."""
    pair = Pair(given(47.2, "V", "start voltage"), given(900.0, "s", "start delay"))
    return sheet(
        setting(),
        setting("absorption_time", 0.0, **seconds(9000.0)),
        setting(
            "group_role",
            "reference",
            unit="",
            low=None,
            high=None,
            ability=Ability(unit="", choices=("reference", "follower")),
        ),
        setting(
            "generator_start",
            recommended=(pair,),
            low=None,
            high=None,
            ability=Ability(unit="V", low=40, high=64, step=0.1, entries=2),
        ),
        setting("float_voltage", recommended=Unknown(("float of the battery",), "V"), low=None, high=None),
        setting("temperature_reference", **degrees(fixed=25.0)),
        setting("ac_input_current_limit", 17.0, input="generator", **amps()),
        setting("monitor_capacity", 200.0, device="shunt", **amps("Ah")),
    )


def seconds(value: float) -> dict[str, Any]:
    return {
        "recommended": given(value, "s", "absorption time"),
        "unit": "s",
        "low": None,
        "high": None,
        "ability": Ability(unit="s", low=0, high=86400, step=360),
    }


def amps(unit: str = "A") -> dict[str, Any]:
    return {"unit": unit, "low": None, "high": None, "ability": Ability(unit=unit, low=0, high=400, step=1)}


def degrees(**ability: Any) -> dict[str, Any]:
    return {
        "recommended": given(25.0, "°C", "reference of the battery"),
        "unit": "°C",
        "low": None,
        "high": None,
        "ability": Ability(unit="°C", **ability),
    }


def visit_of(root: Path, made: Sheet | None = None, units: str = "metric") -> OpenVisit:
    plant = built(
        inverters=({"id": "inverter-1", "profile": "inverter-48v-230-5000", "name": "Inverter [/x]"},),
        place={"rules": "iec-230", "units": units},
        monitor={"id": "shunt", "profile": "monitor-500a"},
    )
    return begun(root, WALK, made or two_devices(), plant=plant)


def on_disk(root: Path, visit: OpenVisit, name: str, of_input: str | None = None) -> SettingEntry | None:
    """Return a setting as the next start finds it."""
    again = resumed(root, visit.visit.id, WALK, two_devices())
    try:
        return setting_of(again.visit, "inverter-1", name, of_input)
    finally:
        again.close()


@pytest.mark.screen
@pytest.mark.parametrize(("size", "colour"), TERMINALS)
async def test_a_setting_is_entered_as_found_and_as_left(
    tmp_path: Path, size: tuple[int, int], colour: bool
) -> None:
    visit = visit_of(tmp_path)
    async with hands_on(visit, "settings", tmp_path, size, colour) as hands:
        assert "2 of 2 devices left" in hands.sees
        assert "Inverter [/x]" in hands.sees
        assert "as found, absorption voltage (V):" in hands.sees
        await hands.type("58,4")
        assert "58.4" in hands.line("absorption voltage  ")
        await hands.press("up", "ctrl+t")
        await hands.type("=")
        assert "same ✓" in hands.line("absorption voltage  ")
        assert "as left, absorption time (h, min or s):" in hands.sees
    entry = on_disk(tmp_path, visit, "absorption_voltage")
    assert entry is not None
    assert (entry.found, entry.found_text, entry.left) == (58.4, "58,4", 57.6)


@pytest.mark.screen
async def test_what_was_told_as_found_is_put_right_only_with_a_word(tmp_path: Path) -> None:
    """The earlier value stays known, with the time and the word; Escape leaves all as it was."""
    visit = visit_of(tmp_path)
    async with hands_on(visit, "settings", tmp_path) as hands:
        await hands.type("58.4")
        await hands.press("up", "ctrl+t")
        await hands.type("=")
        await hands.press("up", "ctrl+t")
        await hands.type("58.7")
        assert "told as found at 58.4 V, which stays in the record" in hands.reads
        await hands.press("escape")
        assert hands.typed == "58.7"
        assert visit.visit.settings[0].found == 58.4
        await hands.press("enter", "enter")
        assert "A few words are wanted" in hands.reads
        await hands.type("misread the display")
        assert "absorption voltage was found at 58.7 V" in hands.reads
        await hands.press("up")
        assert "told as found at 58.4 V first, put right" in hands.reads
    entry = on_disk(tmp_path, visit, "absorption_voltage")
    assert entry is not None
    assert (entry.found, [old.why for old in entry.found_before]) == (58.7, ["misread the display"])


@pytest.mark.screen
async def test_a_difference_asks_for_its_reason_on_the_spot(tmp_path: Path) -> None:
    visit = visit_of(tmp_path)
    async with hands_on(visit, "settings", tmp_path) as hands:
        await hands.press("ctrl+t")
        await hands.type("58.0")
        assert "why not 57.6 V?" in hands.sees
        assert "why?" in hands.line("absorption voltage  ")
        await hands.type("57.6")
        assert "'57.6' is no reason" in hands.reads
        assert hands.typed == "57.6"
        await hands.press("ctrl+u")
        await hands.type("maker's sheet of this batch")
        assert "differs" in hands.line("absorption voltage  ")
        assert "as left, absorption time" in hands.sees
    entry = on_disk(tmp_path, visit, "absorption_voltage")
    assert entry is not None
    assert (entry.left, entry.reason) == (58.0, "maker's sheet of this batch")


@pytest.mark.screen
async def test_a_reason_can_wait_and_the_value_is_kept_all_the_same(tmp_path: Path) -> None:
    visit = visit_of(tmp_path)
    async with hands_on(visit, "settings", tmp_path) as hands:
        await hands.press("ctrl+t")
        await hands.type("58.0")
        await hands.press("escape")
        assert hands.app.current_mode == "settings"
        assert "as left, absorption voltage (V):" in hands.sees
        assert "1 to explain" in hands.sees
        await hands.press("escape")
        assert hands.app.current_mode == "walk"
    entry = on_disk(tmp_path, visit, "absorption_voltage")
    assert entry is not None
    assert (entry.left, entry.reason) == (58.0, "")


@pytest.mark.screen
@pytest.mark.parametrize("typed", ["rubbish", "57.6 A", "1,2,3", "OL", "[/b]"])
async def test_rubbish_stays_as_typed_and_is_explained(tmp_path: Path, typed: str) -> None:
    visit = visit_of(tmp_path)
    async with hands_on(visit, "settings", tmp_path) as hands:
        await hands.type(typed)
        assert hands.typed == typed
        assert "the device takes 40.0 to 64.0 V" in hands.reads
        assert "as found, absorption voltage" in hands.sees
    assert on_disk(tmp_path, visit, "absorption_voltage") is None


@pytest.mark.screen
async def test_words_pairs_and_times_are_typed_as_people_write_them(tmp_path: Path) -> None:
    visit = visit_of(tmp_path)
    async with hands_on(visit, "settings", tmp_path) as hands:
        await hands.press("ctrl+t", "down")
        await hands.type("2 h 30")
        await hands.type("FOLLOWER")
        await hands.type("follows the first")
        await hands.type("47.2 15 min")
        assert "same ✓" in hands.line("generator start")
    told = {
        name: on_disk(tmp_path, visit, name) for name in ("absorption_time", "group_role", "generator_start")
    }
    assert {name: entry.left for name, entry in told.items() if entry} == {
        "absorption_time": 9000.0,
        "group_role": "follower",
        "generator_start": "47.2 V after 900 s",
    }


@pytest.mark.screen
async def test_the_recommended_value_stands_for_pairs_too(tmp_path: Path) -> None:
    visit = visit_of(tmp_path)
    async with hands_on(visit, "settings", tmp_path) as hands:
        await hands.press("ctrl+t", "down", "down", "down")
        await hands.type("=")
        assert "same ✓" in hands.line("generator start")


@pytest.mark.screen
async def test_where_nothing_is_recommended_the_short_way_is_refused(tmp_path: Path) -> None:
    visit = visit_of(tmp_path)
    async with hands_on(visit, "settings", tmp_path) as hands:
        await hands.press("ctrl+t", *["down"] * 4)
        assert "needs float of the battery" in hands.reads
        await hands.type("=")
        assert hands.typed == "="
        assert "'=' is not a number" in hands.sees
        await hands.press("ctrl+u")
        await hands.type("54")
        assert "entered" in hands.line("float voltage")


@pytest.mark.screen
async def test_a_whole_device_is_taken_as_recommended_after_a_question(tmp_path: Path) -> None:
    visit = visit_of(tmp_path)
    async with hands_on(visit, "settings", tmp_path) as hands:
        await hands.press("ctrl+t")
        await hands.type("58.0")
        await hands.type("maker says so")
        await hands.press("ctrl+r")
        # of seven: one is told, one fixed, one without a recommendation
        assert "4 settings of Inverter [/x] are not told yet" in hands.reads
        assert "1 more have no recommendation" in hands.reads
        await hands.press("escape")
        assert len(visit.visit.settings) == 1
        await hands.press("ctrl+r", "enter")
        assert "1 to enter" in hands.sees
    kept = on_disk(tmp_path, visit, "absorption_voltage")
    limit = on_disk(tmp_path, visit, "ac_input_current_limit", "generator")
    assert kept is not None
    assert kept.left == 58.0, "what was told before stays"
    assert limit is not None
    assert limit.left == 17.0
    assert on_disk(tmp_path, visit, "float_voltage") is None


@pytest.mark.screen
async def test_each_device_has_its_page_and_the_title_counts_those_that_are_left(tmp_path: Path) -> None:
    visit = visit_of(tmp_path)
    async with hands_on(visit, "settings", tmp_path) as hands:
        await hands.press("pagedown", "ctrl+t")
        assert "2 of 2  shunt" in hands.sees
        await hands.type("200")
        assert "1 of 2 devices left" in hands.sees
        await hands.press("alt+left")
        assert "1 of 2  Inverter" in hands.sees


@pytest.mark.screen
async def test_why_opens_over_what_was_typed(tmp_path: Path) -> None:
    visit = visit_of(tmp_path)
    async with hands_on(visit, "settings", tmp_path) as hands:
        await hands.press(*"57.", "f2")
        assert "57.6 V  absorption voltage" in hands.sees
        await hands.press("f2")
        assert hands.typed == "57."


@pytest.mark.screen
async def test_the_wide_terminal_shows_why_beside_the_table(tmp_path: Path) -> None:
    visit = visit_of(tmp_path)
    async with hands_on(visit, "settings", tmp_path, (140, 40)) as hands:
        assert "57.6 V  absorption voltage" in hands.sees
    again = resumed(tmp_path, visit.visit.id, WALK, two_devices())
    async with hands_on(again, "settings", tmp_path, NARROW) as hands:
        assert "57.6 V  absorption voltage" not in hands.sees


@pytest.mark.screen
async def test_values_that_arrive_together_stay_apart(tmp_path: Path) -> None:
    visit = visit_of(tmp_path)
    async with hands_on(visit, "settings", tmp_path) as hands:
        await hands.at_once("58.4\n2 h\nreference\n")
    assert [entry.found for entry in visit.visit.settings] == [58.4, 7200.0, "reference"]


@pytest.mark.screen
async def test_the_plate_is_typed_beside_the_settings(tmp_path: Path) -> None:
    visit = visit_of(tmp_path)
    async with hands_on(visit, "settings", tmp_path) as hands:
        await hands.press("ctrl+l")
        for text in ("S-100", "4.12", ""):
            await hands.type(text)
    assert [(one.part, one.serial, one.firmware) for one in visit.visit.devices] == [
        ("inverter-1", "S-100", "4.12")
    ]


@pytest.mark.screen
async def test_another_visit_begins_on_the_first_device_as_found(tmp_path: Path) -> None:
    first = visit_of(tmp_path)
    async with hands_on(first, "settings", tmp_path) as hands:
        await hands.press("pagedown", "ctrl+t", *"19")
        first.close()
        hands.app.open_visit = second = begun(tmp_path, WALK, two_devices(), plant=first.plant, seed=2)
        await hands.app.switch_mode("people")
        await hands.press("f5")
        assert "1 of 2  Inverter" in hands.sees
        assert "as found, absorption voltage" in hands.sees
        assert hands.typed == ""
    second.close()


@pytest.mark.screen
async def test_all_can_be_reached_by_keys_and_the_footer_fits(tmp_path: Path) -> None:
    visit = visit_of(tmp_path)
    async with hands_on(visit, "settings", tmp_path) as hands:
        assert hands.footer_fits
        assert hands.reached_by_tab == ["entry"]
        await hands.press("ctrl+r")
        assert "Enter: yes" in hands.sees


# outside what the device takes, or what is acceptable


@pytest.mark.screen
async def test_what_the_device_cannot_hold_is_found_there_but_never_left(tmp_path: Path) -> None:
    visit = visit_of(tmp_path)
    async with hands_on(visit, "settings", tmp_path) as hands:
        await hands.type("999")
        assert "absorption voltage was found at 999.0 V, over the greatest acceptable, 58.2 V" in hands.reads
        await hands.press("up", "ctrl+t")
        await hands.type("999")
        assert hands.typed == "999"
        assert (
            "the device takes 40.0 to 64.0 V; if the installed one takes more, its data sheet belongs into "
            "the site file"
        ) in hands.reads
    entry = on_disk(tmp_path, visit, "absorption_voltage")
    assert entry is not None
    assert (entry.found, entry.left) == (999.0, None)


@pytest.mark.screen
async def test_a_limit_of_danger_is_told_at_once_and_accepted_by_a_second_person(tmp_path: Path) -> None:
    """The reason is asked for on the spot, the second person at sign-off; until then it is missing."""
    visit = visit_of(tmp_path)
    async with hands_on(visit, "settings", tmp_path) as hands:
        await hands.press("ctrl+t")
        await hands.type("60")
        assert "left at 60.0 V, over the greatest acceptable, 58.2 V; a few words why" in hands.reads
        await hands.type("maker's sheet of this batch")
        assert "outside" in hands.line("absorption voltage  ")
        assert "a second person has to accept it, at sign-off (F9)" in hands.reads
        await hands.press("f9")
        for _ in range(20):
            if hands.line("▶").find("left at 60,") > 0:
                break
            await hands.press("down")
        assert "set it right, or a second person accepts it" in hands.reads
        await hands.press("enter", "enter")
        await hands.type("letter of the maker seen")
        await hands.type("Runa Feld")
        assert "accepted by a second person" in hands.reads
        await hands.press("ctrl+u")
        await hands.type("Ole Berg")
        assert "kept" in hands.sees
    (kept,) = visit.visit.dispositions
    assert (kept.subject, kept.by) == ("inverter-1.absorption_voltage", "Ole Berg")
    assert not any(item.place == "acceptance" for item in visit.missing())


# times and temperatures


@pytest.mark.screen
async def test_the_recommended_time_is_taken_by_its_sign(tmp_path: Path) -> None:
    """Half an hour, or two and a half: the prompt says which units are typed."""
    half = seconds(1800.0)
    visit = visit_of(tmp_path, sheet(setting("absorption_time", 0.0, **half)))
    async with hands_on(visit, "settings", tmp_path) as hands:
        await hands.press("ctrl+t")
        assert "as left, absorption time (h, min or s): type = to take 30 min" in hands.reads
        await hands.type("=")
        assert "same ✓" in hands.line("absorption time  ")
    (entry,) = visit.visit.settings
    assert (entry.left, entry.left_text) == (1800.0, "30 min")


@pytest.mark.screen
async def test_a_site_that_counts_in_fahrenheit_does_so_on_the_sheet_too(tmp_path: Path) -> None:
    """As the printed sheet does: 25 °C are 77 °F, typed without a unit as well."""
    made = sheet(setting("temperature_reference", **degrees(low=0, high=50, step=1)))
    visit = visit_of(tmp_path, made, "us")
    async with hands_on(visit, "settings", tmp_path) as hands:
        assert "77 °F" in hands.line("▶ temperature reference")
        assert "the device takes 32 to 122 °F by 1.8 °F" in hands.reads
        assert "as found, temperature reference (°F): type = to take 77 °F" in hands.reads
        await hands.type("68")
        assert "was found at 68 °F" in hands.reads
        await hands.press("ctrl+t")
        await hands.type("=")
        assert "same ✓" in hands.line("▶ temperature reference")
        assert "°C" not in hands.sees
    (entry,) = visit.visit.settings
    assert (entry.found_text, entry.left_text) == ("68 °F", "77 °F")
    assert [entry.found, entry.left] == pytest.approx([20.0, 25.0])


# the table by itself


def _texts(made: Sheet, visit: OpenVisit, width: int = 76) -> list[str]:
    settings = [one for one in made.settings if one.device == "inverter-1"]
    return [row.text.plain for row in table(settings, visit.visit, width, "left")[1]]


def test_points_stand_under_each_other_and_nothing_is_wider_than_the_table(tmp_path: Path) -> None:
    made = sheet(
        setting("low", 8.5),
        setting("high", 1200.0, unit="A", ability=Ability(unit="A", low=0, high=2000, step=1)),
        setting("word", "off"),
    )
    with visit_of(tmp_path, made) as visit:
        low, high, word = _texts(made, visit)
    assert low.index("8.5 V") + 1 == high.index("1200 A") + 4
    assert word.index("off") == high.index("1200 A")


@pytest.mark.parametrize("width", [66, 76, 100])
def test_the_table_keeps_its_width_whatever_the_names(tmp_path: Path, width: int) -> None:
    made = sheet(
        setting("ac_input_frequency_high_disconnect", 65.0, input="generator"),
        setting("load_disconnect_state_of_charge", 0.2, unit="1"),
        setting("temperature_coefficient", -4.0, unit="mV/K per cell"),
        setting("absorption_time", 0.0, **seconds(9000.0)),
    )
    with visit_of(tmp_path, made) as visit:
        visit.set_found("inverter-1", "absorption_time", "2 h 30", visit.visit.started_at)
        texts = _texts(made, visit, width)
    assert all(len(text) + 2 <= width for text in texts if text != "generator input")
    assert any("2 h 30 " in text for text in texts)


def test_the_limit_that_decided_is_named_only_where_it_is_the_number_itself() -> None:
    share, ability = given(45.0, "A", "share of the bank"), Ability(unit="A", low=0, high=100, step=1)
    limit = least("charge current limit", given(60.0, "A", "most of the device"), share)
    of_limit = setting("charge_current_limit", recommended=limit, unit="A", ability=ability)
    assert binding_text(of_limit) == "charge current limit: share of the bank decides, 45 A"
    assert binding_text(setting()) == ""
