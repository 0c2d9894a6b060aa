"""What a plant looks up once and keeps must never be seen: not when compared, written, or copied."""

from __future__ import annotations

from commission.plant.plant import Plant
from tests.builders import plant


def _two_sources() -> Plant:
    return plant(
        inverters=({"id": "inverter-1", "profile": "inverter-48v-230-5000"},),
        controllers=({"id": "controller-1", "profile": "controller-48v-60-buck-150"},),
        place={"rules": "iec-230", "units": "metric"},
    )


def _look_up_everything(of: Plant) -> None:
    assert of.devices
    assert of.parts
    assert of.rested_table


def test_a_plant_that_was_asked_equals_one_that_was_not() -> None:
    asked, fresh = _two_sources(), _two_sources()
    _look_up_everything(asked)
    assert asked == fresh
    assert repr(asked) == repr(fresh)


def test_what_was_looked_up_is_not_written() -> None:
    asked, fresh = _two_sources(), _two_sources()
    _look_up_everything(asked)
    assert asked.model_dump(mode="json", by_alias=True) == fresh.model_dump(mode="json", by_alias=True)
    assert asked.model_dump_json() == fresh.model_dump_json()


def test_a_changed_copy_has_the_parts_of_its_own_site() -> None:
    whole = _two_sources()
    _look_up_everything(whole)
    without = whole.model_copy(
        update={"site": whole.site.model_copy(update={"charge_controllers": ()})}, deep=True
    )
    assert [source.id for source in without.sources] == ["inverter-1"]
    assert [device.id for device in without.devices] == ["inverter-1"]
    assert "controller-1" not in without.parts
    assert "controller-1" in whole.parts


def test_a_copy_with_another_battery_reads_that_battery_s_table() -> None:
    lead = _two_sources()
    _look_up_everything(lead)
    lithium = plant(chemistry="lfp", cells_per_block=16, blocks=1).battery
    states, voltages = lead.model_copy(update={"battery": lithium}).rested_table
    assert [figure.value for figure in states] == list(lithium.open_circuit_voltage.states)
    assert [figure.value for figure in voltages] == list(lithium.open_circuit_voltage.values)
