"""The checks of inverters on any plant: each says one thing once, in one line, and fails on none."""

from __future__ import annotations

from typing import Final

from hypothesis import HealthCheck, given, settings

from commission.design.bank_delivery import check_bank_delivery
from commission.design.bank_sag import check_bank_sag
from commission.design.battery_loss import check_battery_loss
from commission.design.composition import check_composition
from commission.design.coordination import check_coordination
from commission.design.group_units import check_nominal_voltage
from commission.design.inverter_output import check_inverter_output
from commission.design.legs import check_legs
from commission.design.types import Check, Scene
from commission.plant.plant import Plant
from commission.sheet.settle import make_sheet
from tests.strategies import plants

CHECKS: Final[tuple[Check, ...]] = (
    check_nominal_voltage,
    check_composition,
    check_legs,
    check_inverter_output,
    check_bank_delivery,
    check_bank_sag,
    check_coordination,
    check_battery_loss,
)


@settings(max_examples=20, deadline=None, suppress_health_check=list(HealthCheck))
@given(plants())
def test_each_thing_is_said_once_and_mended_without_an_empty_word(plant: Plant) -> None:
    scene = Scene(plant, make_sheet(plant))
    found = [one for check in CHECKS for one in check(scene)]
    idents = [one.finding.id for one in found]
    assert len(idents) == len(set(idents))
    for one in found:
        assert "\n" not in one.finding.text
        assert one.finding.remedy or one.remedies
        assert all(remedy.text for remedy in one.remedies)
