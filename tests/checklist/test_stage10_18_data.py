"""The steps of stages 10 to 18 as data, and the walks that they make of plants with little and with much."""

from __future__ import annotations

from typing import Any

import pytest

from commission.checklist.build import barred_by
from commission.checklist.charging_now import ALSO
from commission.checklist.registry import EXPECTATIONS, load_words
from commission.checklist.types import Checklist, StepData
from commission.sheet.settle import make_sheet
from tests.builders import plant
from tests.checklist.power_sites import STATES, managed_plant, pv_plant
from tests.checklist.walks import usual_data, walk_of
from tests.each import each

load_words()
MINE = {step.id: step for file in usual_data() for step in file.steps if step.stage >= 10}
EACH = each("step", MINE.values(), ids=MINE)


def ids(walk: Checklist, stage: int | None = None) -> set[str]:
    return {step.data.id for step in walk.steps if stage is None or step.data.stage == stage}


def test_every_stage_has_steps() -> None:
    assert {step.stage for step in MINE.values()} == set(range(10, 19))


@EACH
def test_what_is_altered_is_read_back_at_the_end_of_its_step(step: StepData) -> None:
    if not step.alters:
        return
    last = [reading for reading in step.readings if not reading.optional][-1]
    assert last.name in {"back", "value"}
    assert last.kind == "yes or no" or last.expect.startswith("as left: ")


@EACH
def test_a_step_that_raises_energy_stands_on_something(step: StepData) -> None:
    assert step.stands_on or not step.raises_energy


@EACH
def test_a_step_with_power_in_it_has_a_caution(step: StepData) -> None:
    assert step.caution or not step.raises_energy


@EACH
def test_a_reading_that_is_judged_says_what_is_likely(step: StepData) -> None:
    judged = [reading for reading in step.readings if reading.expect]
    timed = all(reading.instrument == "timer" for reading in judged)
    if judged and not timed:
        assert step.likely


@EACH
def test_sentences_are_short(step: StepData) -> None:
    for sentence in step.do.replace("?", ".").replace(":", ".").split("."):
        assert len(sentence.split()) <= 34, sentence


@EACH
def test_currents_that_are_compared_come_from_one_meter(step: StepData) -> None:
    for reading in step.readings:
        alike = {"share of a string", "share of an inverter", "running strings alike"}
        if reading.expect in alike or reading.expect.startswith(("cell on float", "block on float")):
            assert reading.group, step.id


def test_the_states_that_bands_know_are_those_that_the_walk_offers() -> None:
    choices = next(
        reading.choices
        for file in usual_data()
        for step in file.steps
        if step.id == "charger-state"
        for reading in step.readings
    )
    assert choices == STATES
    known = {"bulk", "absorption", "float", "equalise", *(word for words in ALSO.values() for word in words)}
    assert known <= set(choices)


def test_every_expectation_of_these_stages_is_asked_for() -> None:
    readings = [reading for file in usual_data() for step in file.steps for reading in step.readings]
    asked = {word for reading in readings for word in (reading.expect, reading.service_expect)}
    rooms = {
        "guards",
        "read_back",
        "charging_stage",
        "pv_yield",
        "cells_full",
        "load_steps",
        "sharing",
        "joints_warm",
        "generators",
        "start_stop",
        "public_supply",
        "ac_coupling",
        "low_end",
        "monitoring",
    }
    own = {entry.name for entry in EXPECTATIONS if entry.call.__module__.rpartition(".")[2] in rooms}
    assert own
    assert own <= asked


# plants with little and with much


def test_sun_and_a_sealed_bank_make_a_short_walk() -> None:
    walk = walk_of(pv_plant())
    gone = {
        "charge-stop",
        "link-lost",
        "pack-opened",
        "generator-no-load",
        "utility-live",
        "ac-pv-charge",
        "density-full",
        "gas-alike",
        "cells-on-float",
        "equalise-ready",
        "string-share-charge",
        "monitor-full",
        "output-full",
        "emergency-stop-output",
        "battery-count",
        "cells-near-full",
    }
    assert not ids(walk) & gone
    assert not ids(walk, 13)
    assert not ids(walk, 15)
    assert {"emergency-stop", "bulk-current", "blocks-on-float", "absorption-voltage"} <= ids(walk)


def test_a_vented_bank_brings_acid_gas_and_equalise() -> None:
    made = pv_plant("flooded")
    walk = walk_of(made, make_sheet(made))
    assert {"density-full", "gas-alike", "cells-on-float", "equalise-ready", "equalise-voltage"} <= ids(walk)
    cells = next(step for step in walk.steps if step.data.id == "cells-on-float")
    assert len(cells.asks) == 1 + 24


def test_lithium_loses_what_lead_has_and_gains_its_guards() -> None:
    walk = walk_of(managed_plant())
    assert not ids(walk) & {"density-full", "equalise-ready", "charge-room", "blocks-on-float", "rest-after"}
    assert {"charge-stop", "link-lost", "pack-opened", "battery-told", "cells-near-full"} <= ids(walk)
    assert {"hold-at-full", "battery-blocks-cold", "string-share-full"} <= ids(walk)
    assert "pack-opened" not in ids(walk_of(managed_plant(packs=1)))
    silent = managed_plant(data_link=False)
    assert not ids(walk_of(silent)) & {"link-lost", "battery-told", "told-while-charging"}


def grid_of_units(count: int, **more: Any) -> Checklist:
    units = tuple(
        {
            "id": f"inverter-{number}",
            "profile": "inverter-48v-120-3600",
            "group": "house" if count > 1 else None,
            "group_leg": "1",
        }
        for number in range(1, count + 1)
    )
    return walk_of(plant(inverters=units, **more))


def test_steps_are_repeated_for_every_unit_that_is_there() -> None:
    one, four = grid_of_units(1), grid_of_units(4)
    assert "inverter-shares" not in ids(one)
    assert [step.parts for step in four.by_id["inverter-shares"]] == [
        (f"inverter-{number}",) for number in range(1, 5)
    ]
    assert [step.parts for step in four.by_id["output-full"]] == [("house",)]
    assert [step.parts for step in one.by_id["output-full"]] == [("inverter-1",)]
    assert not ids(one) & {"unit-lost", "reference-lost"}
    assert {"unit-lost", "reference-lost"} <= ids(four)


def test_a_single_leg_of_120_v_is_marked() -> None:
    panel = [{"id": "panel-1", "kind": "ac"}]
    assert "label-one-leg" in ids(grid_of_units(1, panels=panel))
    both = {"id": "inverter-1", "profile": "inverter-48v-120-240-8000", "group_leg": "both"}
    assert "label-one-leg" not in ids(walk_of(plant(inverters=(both,), panels=panel)))
    units = ({"id": "inverter-1", "profile": "inverter-48v-230-5000"},)
    assert "label-one-leg" not in ids(
        walk_of(plant(inverters=units, panels=panel, place={"rules": "iec-230"}))
    )


def test_what_the_site_file_does_not_know_is_looked_for() -> None:
    unknown = managed_plant(data_link="unknown", charge_permit_contact="unknown")
    assert {"battery-told", "permit-contact", "link-lost"} <= ids(walk_of(unknown))


@pytest.mark.parametrize(
    ("shift", "gone", "there"),
    [
        pytest.param(59.0, "ac-pv-first", "dc-pv-first", id="over absorption: DC-coupled PV yields first"),
        pytest.param(56.0, "dc-pv-first", "ac-pv-first", id="under absorption: AC-coupled PV yields first"),
    ],
)
def test_which_pv_yields_first_follows_the_settings(shift: float, gone: str, there: str) -> None:
    made = plant(
        inverters=({"id": "inverter-1", "profile": "inverter-48v-120-240-8000"},),
        controllers=({"id": "mppt-1", "profile": "controller-48v-80-buck-200"},),
        ac_pv_inverters=[{"id": "roof-1", "profile": "ac-pv-240-5000-droop", "leg": "both"}],
    )
    sheet = make_sheet(made)
    moved = tuple(
        _at(setting, shift) if setting.setting == "frequency_shift_voltage" else setting
        for setting in sheet.settings
    )
    walk = walk_of(made, type(sheet)(moved, (), sheet.bank_limit, sheet.bank_limit, sheet.bus_maximum, {}))
    assert there in ids(walk)
    assert gone not in ids(walk)


def _at(setting: Any, volts: float) -> Any:
    from dataclasses import replace

    from commission.figure import given

    value = given(volts, "V", "shift voltage")
    return replace(setting, recommended=value, at_posts=value)


# order and bars


def test_nobody_charges_in_earnest_before_the_guards_have_passed() -> None:
    walk = walk_of(managed_plant(charge_permit_contact=True))
    first = walk.by_id["first-charge"][0]
    bars = {key[0] for key in barred_by(walk, first, set())}
    assert {"charge-stop", "permit-contact", "link-lost", "emergency-stop", "settings-read-back"} <= bars


def test_a_guard_that_fails_on_one_source_does_not_bar_another() -> None:
    first = {"id": "mppt-1", "profile": "controller-48v-80-buck-200"}
    second = {"id": "mppt-2", "profile": "controller-48v-80-buck-200"}
    walk = walk_of(plant(controllers=(first, second)))
    passed = {step.key for step in walk.steps if step.key != ("emergency-stop", ("mppt-1",))}
    charges = {step.parts[0]: step for step in walk.by_id["first-charge"]}
    assert barred_by(walk, charges["mppt-1"], passed) == [("emergency-stop", ("mppt-1",))]
    assert barred_by(walk, charges["mppt-2"], passed) == []


def test_the_load_waits_for_no_sun() -> None:
    """Night: guards and first charge are put off; loads, generator and what follows stay open."""
    unit = {"id": "inverter-1", "profile": "inverter-48v-120-240-8000", "inputs": {"generator": "set-1"}}
    made = plant(
        inverters=(unit,),
        controllers=({"id": "mppt-1", "profile": "controller-48v-80-buck-200"},),
        generators=[{"id": "set-1", "profile": "generator-diesel-split-12000"}],
    )
    walk = walk_of(made)
    sunny = {"pv-first-closed", "emergency-stop", "first-charge", "bulk-current", "all-sources-together"}
    passed = {step.key for step in walk.steps if step.data.id not in sunny}
    for name in ("load-half", "load-full", "generator-no-load", "generator-accepted", "generator-charge"):
        assert barred_by(walk, walk.by_id[name][0], passed) == [], name


def test_no_set_runs_beside_pv_without_a_proven_interlock() -> None:
    unit = {"id": "inverter-1", "profile": "inverter-48v-120-240-8000", "inputs": {"generator": "set-1"}}
    made = plant(
        inverters=(unit,),
        ac_pv_inverters=[{"id": "roof-1", "profile": "ac-pv-240-5000-droop", "leg": "both"}],
        generators=[{"id": "set-1", "profile": "generator-diesel-split-12000"}],
        interlocks=[{"id": "lock-1", "one_of": ["roof-1", "set-1"], "by": "contactor"}],
    )
    walk = walk_of(made)
    assert ("ac-pv-locked", ("roof-1",)) in barred_by(walk, walk.by_id["generator-no-load"][0], set())
    released = walk.by_id["ac-pv-released"][0]
    assert ("ac-pv-interlock", ("lock-1",)) in barred_by(walk, released, set())


def test_full_load_is_not_left_half_way() -> None:
    walk = grid_of_units(2)
    place = {step.data.id: number for number, step in enumerate(walk.steps)}
    order = ["load-ready", "load-rest", "load-half", "load-three-quarters", "load-full", "loads-back"]
    assert [place[name] for name in order] == sorted(place[name] for name in order)


def test_a_clinic_is_cut_once() -> None:
    """The loads go in one row of steps; nothing that needs them on lies between."""
    made = plant(
        inverters=({"id": "inverter-1", "profile": "inverter-48v-120-240-8000"},),
        loads=[{"id": "pump", "current": "dc", "power": 60.0}],
    )
    walk = walk_of(made, make_sheet(made))
    states = [step.data.state for step in walk.steps if step.data.stage == 16]
    cut = [number for number, state in enumerate(states) if state == "loads out"]
    assert cut
    assert cut == list(range(cut[0], cut[0] + len(cut)))
