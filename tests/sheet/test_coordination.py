"""Sources that a controller coordinates, and what its silence lets through; each case shows its sums."""

from __future__ import annotations

from typing import Any

import pytest

from tests.builders import plant
from tests.sheet.sharing_cases import (
    AC_SUN,
    ALONE,
    APART,
    PETROL,
    STOPS,
    SUN,
    SUN_60,
    SUN_100,
    WIDE,
    amperes,
    array,
    bank,
    checks,
    found,
    number,
    settled,
)


def group(kind: str, members: tuple[str, ...], **fields: Any) -> dict[str, Any]:
    return {"coordination": {"kind": kind, "members": list(members), "controller": "monitor-1", **fields}}


MONITOR: dict[str, Any] = {"monitor": {"id": "monitor-1", "profile": "monitor-500a"}}


def test_a_group_that_stops_in_silence_keeps_its_own_limits_under_the_groups() -> None:
    """100 and 60 A, the group 100 A; in silence both stop at once."""
    suns = (SUN_100 | {"silence": STOPS}, SUN_60 | {"silence": STOPS})
    draft = settled(bank(500.0, *suns, **group("own outputs", ("sun-3", "sun-2")), **MONITOR))
    assert amperes(draft) == {"sun-3": 100.0, "sun-2": 60.0}
    assert number(draft.numbers["group_limit"]) == pytest.approx(100.0, abs=1e-9)
    assert not {"silence", "silence-delay"} & checks(draft)
    assert "bank-limit" not in checks(draft)
    # 100 A by 100 : 60
    assert number(draft.shares["sun-3"]) == pytest.approx(62.5, abs=1e-9)
    assert number(draft.shares["sun-2"]) == pytest.approx(37.5, abs=1e-9)


def test_where_the_group_s_limit_has_no_place_on_the_sheet_it_is_told() -> None:
    suns = (SUN_100 | {"silence": STOPS}, SUN_60 | {"silence": STOPS})
    draft = settled(bank(500.0, *suns, **group("own outputs", ("sun-3", "sun-2")), **MONITOR))
    assert "100 A" in found(draft, "group-limit").remedy.replace("100.0", "100")


def test_who_carries_on_alone_keeps_a_value_that_fits_without_a_controller() -> None:
    """As if nothing were coordinated: 63 and 37 A."""
    suns = (SUN_100 | {"silence": ALONE}, SUN_60 | {"silence": ALONE})
    draft = settled(bank(500.0, *suns, **group("bank current", ("sun-3", "sun-2")), **MONITOR))
    assert amperes(draft) == {"sun-3": 63.0, "sun-2": 37.0}
    assert not {"silence", "silence-delay"} & checks(draft)


def test_what_can_flow_until_members_stop_is_told_with_its_time() -> None:
    """240 A of own limits, never 150: for 30 s an advice, for 10 min to correct; 0 s nothing."""
    for after, kind, word in ((30.0, "advise", "30 s"), (600.0, "correct", "10 min")):
        silence = {"after": after, "does": "stops"}
        suns = [one | {"silence": silence} for one in (SUN, SUN_60, SUN_100)]
        draft = settled(bank(500.0, *suns, **group("bank current", ("sun-1", "sun-2", "sun-3")), **MONITOR))
        finding = found(draft, "silence-delay")
        assert finding.kind == kind
        assert word in finding.text
        assert number(finding.value) == pytest.approx(240.0, abs=1e-9)
        # 100 A by 80 : 60 : 100 = 33.3, 25 and 41.7: 33, 25, 42
        assert number(finding.passes) == pytest.approx(100.0, abs=1e-9)


def test_a_silence_that_is_not_told_is_taken_as_stopping_and_asked_for() -> None:
    suns = [one | {"silence": {}} for one in (SUN, SUN_60, SUN_100)]
    draft = settled(bank(500.0, *suns, **group("bank current", ("sun-1", "sun-2", "sun-3")), **MONITOR))
    assert amperes(draft) == {"sun-1": 80.0, "sun-2": 60.0, "sun-3": 100.0}
    assert found(draft, "silence-not-told").kind == "not checked"
    assert "time that is not known" in found(draft, "silence-delay").text


def test_a_source_outside_the_group_shares_with_the_group_as_a_whole() -> None:
    """Group of 100 + 60 by one of 80 outside, 100 A: 100 × 80 ÷ 240 = 33.3 → 33; the group 67."""
    suns = (SUN, SUN_60 | {"silence": STOPS}, SUN_100 | {"silence": STOPS})
    draft = settled(bank(500.0, *suns, **group("own outputs", ("sun-3", "sun-2")), **MONITOR))
    assert amperes(draft) == {"sun-1": 33.0, "sun-2": 60.0, "sun-3": 100.0}
    assert number(draft.numbers["group_limit"]) == pytest.approx(67.0, abs=1e-9)


def test_a_controller_that_measures_the_bank_leaves_those_outside_their_own_limits() -> None:
    """80 A outside are under 100 A; the group is held at what the bank shows, 100 A."""
    suns = (SUN, SUN_60 | {"silence": STOPS}, SUN_100 | {"silence": STOPS})
    draft = settled(bank(500.0, *suns, **group("bank current", ("sun-3", "sun-2")), **MONITOR))
    assert amperes(draft) == {"sun-1": 80.0, "sun-2": 60.0, "sun-3": 100.0}
    assert number(draft.numbers["group_limit"]) == pytest.approx(100.0, abs=1e-9)
    # the group's part beside 80 A: 20 A by 60 : 100
    assert number(draft.shares["sun-2"]) == pytest.approx(7.5, abs=1e-9)


def test_a_group_yields_to_ac_coupled_pv_in_the_set_in_which_both_run() -> None:
    """150 − 95.83 = 54.17 A for the group without an interlock. With one the group holds 100 A beside the
    set, and the controller's own setting the 54.17 A beside the AC-coupled PV: 54.
    """
    members = group("own outputs", ("inv-1", "sun-1"))
    sources = (WIDE | {"silence": STOPS}, SUN | {"silence": STOPS, "array": array(4800.0)})
    common: dict[str, Any] = {"generators": [PETROL], "ac_pv_inverters": [AC_SUN], **members, **MONITOR}
    free = settled(bank(500.0, *sources, **common))
    apart = settled(bank(500.0, *sources, **common, interlocks=[APART]))
    assert number(free.numbers["group_limit"]) == pytest.approx(54.17, abs=0.005)
    assert number(apart.numbers["group_limit"]) == pytest.approx(100.0, abs=1e-9)
    assert amperes(free) == {"inv-1": 100.0, "sun-1": 80.0}
    assert amperes(apart) == {"inv-1": 100.0, "sun-1": 54.0}


def test_a_member_that_cannot_follow_is_held_like_one_outside() -> None:
    """24 V, 300 Ah: 60 A by 40 (steps of 10 from 10) and a group of 60: 24 → 20 and 40 left: 40."""
    deaf = {"id": "sun-4", "profile": "controller-24v-40-no-sensor"}
    able = {"id": "sun-5", "profile": "controller-24v-60-buck-150", "silence": STOPS}
    of = plant(
        "agm",
        blocks=2,
        capacity=300.0,
        controllers=(deaf, able),
        **group("own outputs", ("sun-4", "sun-5")),
        **MONITOR,
    )
    draft = settled(of)
    assert amperes(draft) == {"sun-4": 20.0, "sun-5": 60.0}
    assert number(draft.numbers["group_limit"]) == pytest.approx(40.0, abs=1e-9)
    assert found(draft, "member-cannot-follow").parts == ("sun-4",)


def test_a_group_without_members_is_no_coordination_and_is_asked_for() -> None:
    draft = settled(bank(500.0, SUN_100, SUN_60, **group("own outputs", ()), **MONITOR))
    assert amperes(draft) == {"sun-3": 63.0, "sun-2": 37.0}
    assert found(draft, "group-members").kind == "not checked"


def test_a_controlling_charger_goes_on_by_the_groups_limit_when_its_members_fall_silent() -> None:
    """A charger of 100 A leads two that stop at once: it keeps 100 A, which the bank takes a day."""
    suns = (WIDE, SUN | {"silence": STOPS}, SUN_60 | {"silence": STOPS})
    members: dict[str, Any] = {
        "coordination": {
            "kind": "own outputs",
            "controller": "inv-1",
            "members": ["inv-1", "sun-1", "sun-2"],
        }
    }
    draft = settled(bank(500.0, *suns, generators=[PETROL], **members))
    assert amperes(draft) == {"inv-1": 100.0, "sun-1": 80.0, "sun-2": 60.0}
    assert not {"silence", "silence-delay"} & checks(draft)
    assert "inv-1" in found(draft, "group-limit").parts
