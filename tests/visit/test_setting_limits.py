"""Settings that are left where the device cannot be, or where battery and device come to harm."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from commission.errors import EntryError, VisitError
from commission.figure import Unknown, given
from commission.plain import range_text
from commission.plant.equipment import Ability
from commission.plant.files import load_plant
from commission.plant.places import site_path
from commission.prepare import prepare_visit
from commission.sheet.types import Pair, Setting
from commission.units import UnitSystem
from commission.visit.limits import outside, outside_text, unaccepted
from commission.visit.session import OpenVisit
from commission.visit.settings import differs, read_setting, recommended_typed
from commission.visit.types import PlantChange
from tests.visit.walks import after, begun, setting, sheet, step, walk

WALK = walk(step("a"))
ABSORPTION = "absorption_voltage"


def told(visit: OpenVisit) -> list[tuple[str, str]]:
    """Return what is missing of the settings: where to go for it, and in words."""
    found = (item for item in visit.missing() if item.place in {"setting", "acceptance"})
    return [(item.place, item.says) for item in found]


def pairs() -> Setting:
    pair = Pair(given(47.2, "V", "start"), given(900.0, "s", "delay"))
    ability = Ability(unit="V", low=40, high=60, step=0.1, entries=2, delay_low=0, delay_high=3600)
    return setting("generator_start", recommended=(pair,), low=None, high=None, ability=ability)


# the device's own range


@pytest.mark.parametrize(
    ("made", "typed", "says"),
    [
        (
            setting(),
            "999",
            "the device takes 40.0 to 64.0 V; if the installed one takes more, its data sheet",
        ),
        (setting(), "12", "if the installed one takes less"),
        (pairs(), "47.2 15 min; 61 30 s", "the device takes 40.0 to 60.0 V"),
        (pairs(), "47.2 2 h", "the device takes a delay of 0 s to 1 h"),
    ],
)
def test_a_value_that_the_device_cannot_hold_is_not_taken_as_left(
    tmp_path: Path, made: Setting, typed: str, says: str
) -> None:
    """What was found there may be anything: that is the finding."""
    with begun(tmp_path, WALK, sheet(made)) as visit:
        with pytest.raises(EntryError, match=says):
            visit.set_left("inverter-1", made.setting, typed, after(1), reason="the owner wants it")
        assert visit.visit.settings == ()
        assert visit.set_found("inverter-1", made.setting, typed, after(1)).found_text == typed


@pytest.mark.parametrize("typed", ["40", "64.0", "64,0 V"])
def test_the_ends_of_what_the_device_takes_are_taken(tmp_path: Path, typed: str) -> None:
    with begun(tmp_path, WALK, sheet(setting(low=None, high=None))) as visit:
        assert visit.set_left("inverter-1", ABSORPTION, typed, after(1)).left_text == typed


# outside what is acceptable


@pytest.mark.parametrize(
    ("left", "side"),
    [(56.9, "under"), (57.0, None), (58.2, None), (58.3, "over"), ("off", None), (None, None)],
)
def test_on_a_limit_is_inside(left: float | str | None, side: str | None) -> None:
    assert outside(setting(), left) == side


def test_how_far_is_acceptable_is_told_with_the_value() -> None:
    assert outside_text(setting(), 58.3) == "over the greatest acceptable, 58.2 V"
    assert outside_text(setting(), 56.0) == "under the least acceptable, 57.0 V"
    assert outside_text(setting(), 57.6) == ""


def test_the_limit_that_is_told_is_one_that_the_device_can_hold_and_that_is_acceptable() -> None:
    """The page offers `acceptable 28.5 V to 29.3 V`; the same end is named when a value is outside."""
    rough = setting(
        "absorption_voltage", 28.8, low=given(28.44, "V", "least"), high=given(29.36, "V", "most")
    )
    assert range_text(rough, "metric") == "28.5 V to 29.3 V"
    assert outside_text(rough, 28.4) == "under the least acceptable, 28.5 V"
    assert outside_text(rough, 29.4) == "over the greatest acceptable, 29.3 V"


def test_a_number_where_only_off_is_acceptable_is_over(tmp_path: Path) -> None:
    """Equalising a bank that must not be; a ceiling has no room above its recommendation either."""
    ability = Ability(unit="V", low=48, high=64, step=0.1, off=True)
    never = setting("equalize_voltage", "off", low=None, high=None, ability=ability)
    assert outside_text(never, 60.0) == "on, where only off is acceptable"
    ceiling = setting("charge_voltage_ceiling", 58.0, low=None, high=None)
    assert (outside(ceiling, 58.1), outside(ceiling, 57.9)) == ("over", None)
    with begun(tmp_path, WALK, sheet(never)) as visit:
        visit.set_left("inverter-1", "equalize_voltage", "60", after(1), reason="maker's letter")
        assert [place for place, _ in told(visit)] == ["acceptance"]


def test_outside_what_is_acceptable_wants_its_reason_also_where_nothing_is_recommended(
    tmp_path: Path,
) -> None:
    """A time is no limit of danger: a reason is enough."""
    made = sheet(setting("low_voltage_warning", recommended=Unknown(("capacity",), "V")))
    with begun(tmp_path, WALK, made) as visit:
        visit.set_left("inverter-1", "low_voltage_warning", "60", after(1))
        ((place, says),) = told(visit)
        assert place == "setting"
        assert "low voltage warning left at 60, over the greatest acceptable, 58.2 V" in says
        visit.give_reason("inverter-1", "low_voltage_warning", "owner's wish", after(2))
        assert told(visit) == []


# over a limit of danger


def test_over_a_limit_of_danger_a_reason_and_a_second_person_are_wanted(tmp_path: Path) -> None:
    subject = f"inverter-1.{ABSORPTION}"
    with begun(tmp_path, WALK, sheet(setting())) as visit:
        visit.set_left("inverter-1", ABSORPTION, "60", after(1))
        assert [place for place, _ in told(visit)] == ["setting", "acceptance"]
        visit.give_reason("inverter-1", ABSORPTION, "maker's letter of May", after(2))
        ((place, says),) = told(visit)
        assert place == "acceptance"
        assert "absorption voltage left at 60, over the greatest acceptable, 58.2 V: set it right" in says
        with pytest.raises(VisitError, match="never by the visit's technician"):
            visit.dispose(subject, "accepted", reason="letter", by="runa  FELD", now=after(3))
        with pytest.raises(VisitError, match="'accepted', or set it right"):
            visit.dispose(
                subject, "deferred", reason="letter", by="Ole Berg", until="2026-12-24", now=after(3)
            )
        visit.dispose(subject, "accepted", reason="seen the letter", by="Ole Berg", now=after(3))
        assert told(visit) == []


def test_an_acceptance_holds_for_what_was_left_then(tmp_path: Path) -> None:
    """Not for another value, but for the same one read back once more; and not over a changed plant."""
    subject = f"inverter-1.{ABSORPTION}"
    accepted: dict[str, Any] = {"reason": "letter", "by": "Ole Berg"}
    with begun(tmp_path, WALK, sheet(setting())) as visit:
        visit.set_left("inverter-1", ABSORPTION, "60", after(1), reason="letter")
        visit.dispose(subject, "accepted", now=after(2), **accepted)
        visit.set_left("inverter-1", ABSORPTION, "60.0", after(3))
        assert told(visit) == []
        visit.set_left("inverter-1", ABSORPTION, "61", after(4), reason="letter")
        assert [place for place, _ in told(visit)] == ["acceptance"]
        visit.set_left("inverter-1", ABSORPTION, "57.6", after(5))
        assert told(visit) == []
        with pytest.raises(VisitError, match="nothing has to be accepted"):
            visit.dispose(subject, "accepted", now=after(6), **accepted)


def test_a_setting_under_its_least_wants_no_second_person(tmp_path: Path) -> None:
    with begun(tmp_path, WALK, sheet(setting())) as visit:
        visit.set_left("inverter-1", ABSORPTION, "56", after(1), reason="cold bank")
        assert told(visit) == []


def test_over_a_changed_plant_it_is_accepted_anew(tmp_path: Path) -> None:
    """Whoever accepted it saw another plant."""
    made = sheet(setting())
    with begun(tmp_path, WALK, made) as visit:
        visit.set_left("inverter-1", ABSORPTION, "60", after(1), reason="letter")
        visit.dispose(f"inverter-1.{ABSORPTION}", "accepted", reason="letter", by="Ole Berg", now=after(2))
        assert list(unaccepted(made, visit.visit)) == []
        change = PlantChange(before="a", after="b", reason="new bank", by="Runa Feld", at=after(3))
        changed = visit.visit.model_copy(update={"plant_changes": (change,)})
        assert [one.setting for one, _ in unaccepted(made, changed)] == [ABSORPTION]


# what = stands for


@pytest.mark.parametrize("name", ["fennick-homestead", "quillon-farm", "skarnow-lodge"])
def test_every_recommendation_can_be_typed_as_it_is_shown(name: str) -> None:
    """Times with their unit, times of the day, temperatures in the unit of the site."""
    plant = load_plant(site_path(Path(name))).plant
    made, _ = prepare_visit(plant, "commissioning", ())
    systems: tuple[UnitSystem, ...] = ("metric", "us")
    count = 0
    for one in made.settings:
        for system in systems:
            typed = recommended_typed(one, system)
            if typed is not None and one.changeable:
                value, _ = read_setting(one, typed, system, held=True)
                assert not differs(one, value), (one.key, typed)
                count += 1
    assert count > 100


def test_a_bare_temperature_is_in_the_unit_of_the_site() -> None:
    """77 °F are 25 °C; a unit that is typed always holds."""
    ability = Ability(unit="°C", low=0, high=50, step=1)
    made = setting("temperature_reference", 25.0, unit="°C", low=None, high=None, ability=ability)
    assert recommended_typed(made, "us") == "77 °F"
    value, text = read_setting(made, "77", "us")
    assert text == "77 °F"
    assert value == pytest.approx(25.0)
    assert read_setting(made, "25 °C", "us")[0] == pytest.approx(25.0)
    assert read_setting(made, "25", "metric") == (25.0, "25")
    with pytest.raises(EntryError, match="the device takes 32 to 122 °F"):
        read_setting(made, "200", "us", held=True)
