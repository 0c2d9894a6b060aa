"""A group whose ratings nobody knows: the check goes on and says what is missing elsewhere."""

from __future__ import annotations

from commission.design.check import checked_sheet
from tests.builders import plant


def test_a_group_of_unknown_ratings_does_not_end_the_check() -> None:
    unknown = {"ac_voltage": "unknown", "continuous_power": "unknown"}
    units = tuple(
        {
            "id": f"inverter-{number}",
            "profile": "inverter-48v-230-5000",
            "group": "house",
            "group_role": "reference" if number == 1 else "follower",
            "datasheet": unknown,
        }
        for number in (1, 2)
    )
    made = plant(inverters=units, place={"rules": "iec-230", "units": "metric"})
    assert checked_sheet(made, ()).findings
