"""Planned additions: what they would bring is told ahead, with what would have to change."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

import pytest

from commission.cli import main
from commission.design.check import checked_sheet
from commission.design.growth import slug
from commission.plant.change import changed_data
from commission.plant.files import plant_of
from commission.sheet.types import Finding
from tests.design.faults import data_of

HERE = Path("no-such-folder") / "site.toml"
BREAKER = {
    "id": "breaker-new", "kind": "breaker", "current": "ac", "rating": 100, "voltage": 240,
    "interrupting": 10000, "protects": "device", "of": "ac-pv-new", "poles": 2,
}  # fmt: skip
ROOF = {
    "id": "ac-pv-new", "name": "New roof", "profile": "ac-pv-240-5000-droop", "leg": "both",
    "array_power": 5600, "panel_breaker": "breaker-new", "panel": "ac-panel",
}  # fmt: skip
ON_THE_PANEL = {
    "panels[ac-panel].positions[11]": {"holds": "breaker-new", "circuit": "new roof", "far_end": True}
}


def findings(data: dict[str, Any]) -> dict[str, Finding]:
    return {one.id: one for one in checked_sheet(plant_of(data, HERE).plant).findings}


def cabin(**planned: Any) -> dict[str, Any]:
    """Return the cabin with planned additions, each under its name with underscores for blanks."""
    data = copy.deepcopy(data_of("tarnwold-cabin"))
    data["planned"] = [{"name": name.replace("_", " "), **what} for name, what in planned.items()]
    return data


def fuse(rating: float, ident: str = "fuse-new") -> dict[str, Any]:
    return {
        "changes": {
            "protection[fuse-main].rating": rating,
            "panels[dc-panel].bus_bar": 300,
            "loads[load-lights].name": ident,
        }
    }


def of_growth(found: dict[str, Finding], name: str) -> dict[str, Finding]:
    return {ident: one for ident, one in found.items() if ident.startswith(f"growth-{slug(name)}-")}


def test_what_an_addition_brings_is_advice_with_the_number_that_passes() -> None:
    # the main fuse of 350 A over bus bars that the plan makes 300 A
    one = findings(cabin(a_smaller_panel=fuse(350)))["growth-a-smaller-panel-panel-main:dc-panel"]
    assert one.kind == "advise"
    assert one.text.startswith("with a smaller panel: to be mended before it: DC panel: fuse-main")
    assert "300 A" in one.text
    assert one.passes is not None
    assert one.remedy


def test_the_remedy_belongs_to_the_plan_and_leaves_the_plant_alone() -> None:
    data = cabin(a_smaller_panel=fuse(350))
    before = findings(data)
    one = before["growth-a-smaller-panel-panel-main:dc-panel"]
    assert one.change[0].key == "planned[a smaller panel].changes"
    mended = changed_data(data, one.change)
    assert {key: value for key, value in mended.items() if key != "planned"} == {
        key: value for key, value in data.items() if key != "planned"
    }
    assert one.id not in findings(mended)


def test_what_the_plant_has_already_is_not_told_again() -> None:
    data = changed_data(cabin(a_smaller_panel=fuse(350)), [])
    data["panels"][0]["bus_bar"] = 300
    found = findings(data)
    assert found["panel-main:dc-panel"].kind == "correct"
    assert "growth-a-smaller-panel-panel-main:dc-panel" not in found


def test_what_becomes_worse_is_told() -> None:
    data = cabin(a_smaller_panel=fuse(350))
    data["protection"][0]["rating"] = "unknown"
    found = findings(data)
    assert found["panel-main:dc-panel"].kind == "not checked"
    assert "to be mended" in found["growth-a-smaller-panel-panel-main:dc-panel"].text


def test_two_plans_are_told_apart() -> None:
    found = findings(cabin(first_panel=fuse(350), second_panel=fuse(400)))
    assert of_growth(found, "first panel")
    assert of_growth(found, "second panel")
    assert "400 A" in found["growth-second-panel-panel-main:dc-panel"].text


def test_a_plan_stands_alone_and_not_on_another() -> None:
    lone = of_growth(findings(cabin(second_panel=fuse(400))), "second panel")
    both = of_growth(findings(cabin(first_panel=fuse(350), second_panel=fuse(400))), "second panel")
    assert {one.text for one in lone.values()} == {one.text for one in both.values()}


def test_a_plan_that_fits_brings_nothing() -> None:
    load = {"id": "load-radio", "current": "dc", "power": 20, "daily_energy": 60, "voltage_max": 30}
    found = findings(cabin(a_radio={"loads": [load]}))
    assert [one.text for one in of_growth(found, "a radio").values() if "must not" in one.text] == []


def test_what_a_plan_leaves_open_is_asked_for() -> None:
    controller = {"id": "controller-2", "profile": "controller-12v-20-plain", "sensor_fitted": "unknown"}
    found = of_growth(findings(cabin(more_sun={"charge_controllers": [controller]})), "more sun")
    open_ = [one for one in found.values() if one.missing]
    assert open_
    assert all(one.text.startswith("with more sun: ") and " not checked: " in one.text for one in open_)
    fitted = next(one for one in open_ if one.check.endswith("sensor-fitted"))
    assert fitted.remedy == "state planned[more sun].charge_controllers[controller-2].sensor_fitted"


def test_a_second_roof_overfeeds_the_bus_bars() -> None:
    # own arithmetic: 4 × 50 A + 2 × 30 A stand; 100 A more make 360 A against 225 A × 1.2 = 270 A
    data = copy.deepcopy(data_of("skarnow-lodge"))
    plan = {"name": "a second roof", "when": "2030", "ac_pv_inverters": [ROOF], "protection": [BREAKER]}
    data["planned"] = [{**plan, "changes": ON_THE_PANEL}]
    one = findings(data)["growth-a-second-roof-bus-bar:ac-panel"]
    assert one.text.startswith("with a second roof (2030): to be mended before it:")
    assert "360 A" in one.text
    assert "bus bars of 300 A" in one.remedy  # 360 A ÷ 1.2, a standard size of NEC 240.6(A)


def test_a_stop_of_a_plan_is_told_as_a_stop_and_can_be_put_aside() -> None:
    data = copy.deepcopy(data_of("harrowick-relay"))
    data["planned"][0]["charge_controllers"][0]["array"]["series"] = 6
    found = of_growth(findings(data), "the ridge array")
    stops = [one for one in found.values() if "it must not be energised" in one.text]
    assert stops  # six modules of 40.6 V in the cold against an absolute 150 V
    assert all(one.kind == "advise" and one.releasable for one in stops)


@pytest.mark.parametrize(
    ("name", "made"), [("the Ridge array", "the-ridge-array"), ("№ 2", "2"), ("…", "addition")]
)
def test_a_name_becomes_part_of_an_id(name: str, made: str) -> None:
    assert slug(name) == made


def test_findings_of_a_plan_stand_in_the_machine_readable_check(capsys: pytest.CaptureFixture[str]) -> None:
    main(["check", "wintersedge-relay", "--json"])
    told = json.loads(capsys.readouterr().out)
    ahead = [one for one in told if one["check"].startswith("growth-the-fifth-string-")]
    assert ahead
    assert all(one["kind"] == "advise" and one["text"].startswith("with the fifth string") for one in ahead)


def test_a_plan_that_is_wrong_is_refused_by_the_check(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "cabin.toml"
    text = 'name = "x"\nchanges = { "runs[run-x].area" = 3 }\n'
    source = (Path(__file__).parents[2] / "sample_sites" / "tarnwold-cabin.toml").read_text()
    file.write_text(f"{source}\n[[planned]]\n{text}")
    assert main(["check", str(file)]) != 0
    told = capsys.readouterr().err
    assert "planned[number 1].changes: runs[run-x].area" in told
