"""Coordination, and a managed battery that is lost under charge."""

from __future__ import annotations

from typing import Any

import pytest

from commission.design.battery_loss import check_battery_loss
from commission.design.check import checked_sheet
from commission.design.coordination import check_coordination
from commission.plant.change import changed
from commission.plant.plant import Plant
from tests.design.inverter_plants import findings, found, site, unit

CONTROLLER = {"id": "controller-1", "profile": "controller-48v-60-buck-150", "firmware": "2.0"}
MONITOR = {"id": "monitor-1", "profile": "monitor-500a"}
MEMBERS = ["inverter-1", "inverter-2", "controller-1"]


def pair() -> tuple[dict[str, Any], ...]:
    return (
        unit(1, group="one", group_role="reference"),
        unit(2, group="one", group_role="follower"),
    )


def coordinated(*, controllers: tuple[dict[str, Any], ...] = (CONTROLLER,), **own: Any) -> Plant:
    told = {"kind": "own outputs", "controller": "inverter-1", "members": MEMBERS, **own}
    sections: dict[str, Any] = {"monitor": MONITOR} if told.pop("with_monitor", False) else {}
    return site(*pair(), controllers=controllers, coordination=told, **sections)


def raised(of: Plant) -> dict[str, Any]:
    return findings(check_coordination, of)


def test_a_group_with_its_reference_as_controller_passes() -> None:
    assert raised(coordinated()) == {}
    assert raised(coordinated(kind="none", controller=None, members=[])) == {}


@pytest.mark.parametrize("controller", [None, "inverter-2"])
def test_somebody_leads(controller: str | None) -> None:
    of = coordinated(controller=controller)
    assert raised(of)["coordination-controller"].kind == "correct"
    for one in found(check_coordination, of):
        for remedy in one.remedies[:1]:
            assert raised(changed(of, remedy.change)) == {}


def test_a_controller_that_is_not_told_is_asked_for_by_the_settings_alone() -> None:
    of = coordinated(controller="unknown")
    assert raised(of) == {}
    asked = [one for one in checked_sheet(of).findings if "controller of the coordinated group" in one.text]
    assert [one.kind for one in asked] == ["not checked"]


def test_a_class_that_takes_no_part_cannot_lead() -> None:
    plain = {"id": "controller-1", "profile": "controller-12v-20-plain"}
    told = raised(coordinated(controllers=(plain,), controller="controller-1"))
    assert told["coordination-controller"].kind == "correct"


def test_the_banks_current_has_to_be_measured() -> None:
    assert raised(coordinated(kind="bank current"))["bank-current-not-measured"].kind == "correct"
    assert raised(coordinated(kind="bank current", with_monitor=True)) == {}


def test_a_battery_without_a_link_is_not_heard() -> None:
    of = coordinated(hears_battery=True)
    assert raised(of)["coordination-hears-nothing"].kind == "correct"
    (one,) = found(check_coordination, of)
    assert raised(changed(of, one.remedies[0].change)) == {}


def test_members_charge_over_the_bus() -> None:
    pv = {"id": "ac-pv-1", "profile": "ac-pv-230-3000-trip-only", "leg": "1"}
    told = {"kind": "own outputs", "controller": "inverter-1", "members": [*MEMBERS, "ac-pv-1"]}
    of = site(*pair(), controllers=(CONTROLLER,), ac_pv_inverters=[pv], coordination=told)
    assert raised(of)["member-not-charging"].parts == ("ac-pv-1",)
    (one,) = found(check_coordination, of)
    assert raised(changed(of, one.remedies[0].change)) == {}


def test_a_source_beside_the_group_is_told() -> None:
    told = raised(coordinated(members=["inverter-1", "inverter-2"]))["outside-the-group"]
    assert (told.kind, told.parts) == ("advise", ("controller-1",))


def test_members_that_are_alike_have_one_version() -> None:
    second = {**CONTROLLER, "id": "controller-2", "firmware": "2.1"}
    members = [*MEMBERS, "controller-2"]
    assert "member-firmware" in raised(coordinated(controllers=(CONTROLLER, second), members=members))
    same = {**second, "firmware": "2.0"}
    assert raised(coordinated(controllers=(CONTROLLER, same), members=members)) == {}


def test_a_controller_of_nothing_is_told() -> None:
    assert raised(coordinated(kind="none"))["coordination-idle"].kind == "advise"


# a managed battery that opens


def managed(
    *,
    survives: bool | str,
    tells: bool | str = False,
    loads: tuple[dict[str, Any], ...] = (),
) -> Plant:
    management = {
        "data_link": True,
        "charge_current": 100.0,
        "discharge_current": 200.0,
        "cut_off_high": 3.65,
        "tells_zero_before_opening": tells,
        "charge_permit_contact": True,
        "wakes_by": "button",
    }
    inverter = unit(sheet={"survives_battery_loss": survives}, on_battery_link=True)
    return site(
        inverter,
        loads=loads,
        chemistry="lfp",
        cells_per_block=16,
        blocks=1,
        strings=2,
        capacity=280.0,
        bank={"management": management},
    )


def test_the_settings_finding_gets_remedies_that_were_tried() -> None:
    of = managed(survives=False)
    finding = next(one for one in checked_sheet(of).findings if one.check == "bank-lost-under-charge")
    assert finding.change
    after = changed(of, finding.change)
    assert all(one.check != "bank-lost-under-charge" for one in checked_sheet(after).findings)


def test_a_survivor_or_a_told_zero_is_no_finding() -> None:
    for of in (managed(survives=True), managed(survives=False, tells=True)):
        assert findings(check_battery_loss, of) == {}


def test_a_device_of_which_nothing_is_told_is_asked_for_beside_a_weak_one() -> None:
    of = managed(survives=False)
    second = {"id": "controller-1", "profile": "controller-48v-60-buck-150", "on_battery_link": True,
              "datasheet": {"survives_battery_loss": "unknown"}}  # fmt: skip
    data = of.site.model_dump(by_alias=True, exclude_unset=True)
    both = site(
        *data["inverter_chargers"],
        controllers=(second,),
        chemistry="lfp",
        cells_per_block=16,
        blocks=1,
        strings=2,
        capacity=280.0,
        bank={"management": data["bank"]["management"]},
    )
    asked = findings(check_battery_loss, both)["survives-battery-loss"]
    assert (asked.kind, asked.parts) == ("not checked", ("controller-1",))


def test_direct_loads_on_a_bus_without_its_bank_are_told() -> None:
    radio = {"id": "radio", "current": "dc", "power": 50.0}
    told = findings(check_battery_loss, managed(survives=True, loads=(radio,)))
    assert told["loads-without-bank"].parts == ("radio",)
    assert findings(check_battery_loss, managed(survives=True, tells=True, loads=(radio,))) == {}
    lead = site(unit(), loads=[radio])
    assert findings(check_battery_loss, lead) == {}
