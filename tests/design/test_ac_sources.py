"""AC sources that meet, sources that do not fit, and what breakers of the AC side must break."""

from __future__ import annotations

from typing import Any

import pytest

from commission.design.alternating_level import check_alternating_level
from commission.design.check import checked_sheet
from commission.design.coupled_legs import check_coupled_legs
from commission.design.joined_sources import check_joined_sources
from commission.design.source_fit import check_source_fit
from commission.figure import Figure
from commission.plant.change import Change, changed
from commission.plant.files import load_plant
from commission.plant.places import data_folder
from commission.plant.plant import Plant
from tests.design.alternating_plants import breaker, found, generator, inverter, kinds, supplied

_INPUTS: dict[str, Any] = {"inputs": {"generator": "generator-1"}}


def sample(site: str, **changes: Any) -> Plant:
    made = load_plant(data_folder("sample_sites") / f"{site}.toml").plant
    return changed(made, [Change(key, value) for key, value in changes.items()])


# sources that meet


def test_two_sources_on_one_panel_need_a_changeover() -> None:
    # NEC 702.5; IEC 60364-5-551, 551.6: standby supplies must not run in parallel unless made for it
    assert not kinds(check_joined_sources, sample("aldermere-clinic"))
    free = sample("aldermere-clinic", **{"interlocks[changeover]": None})
    assert kinds(check_joined_sources, free) == {("stop", "sources-joined:generator-1+utility")}


def test_an_inverter_with_two_inputs_of_its_own_parts_its_sources_itself() -> None:
    inputs = {"generator": "generator-1", "utility": "utility"}
    apart: dict[str, Any] = {"input_breakers": {"generator": "breaker-a", "utility": "breaker-b"}}
    joined: dict[str, Any] = {"input_breakers": {"generator": "breaker-a", "utility": "breaker-a"}}
    for breakers, raised in ((apart, set()), (joined, {("stop", "sources-joined:generator-1+utility")})):
        made = supplied(inverter(inputs=inputs, **breakers), generator(), utility={"connection": "single"})
        assert kinds(check_joined_sources, made) == raised


def test_two_sets_behind_one_input_device() -> None:
    inputs = {"generator": "generator-1", "utility": "generator-2"}
    made = supplied(
        inverter(inputs=inputs, input_breakers={"generator": "breaker-a", "utility": "breaker-a"}),
        generator(),
        generator("generator-2"),
    )
    assert ("stop", "sources-joined:generator-1+generator-2") in kinds(check_joined_sources, made)


def test_a_set_on_the_panel_of_inverters_that_do_not_know_it() -> None:
    guard = breaker("breaker-set", "generator-1")
    ident = "source-on-output:generator-1+inverter-1"
    made = supplied(inverter(), generator(), guards=[guard])
    assert kinds(check_joined_sources, made) == {("stop", ident)}
    known = supplied(inverter(**_INPUTS), generator(), guards=[guard])
    assert not kinds(check_joined_sources, known)
    lock = [{"id": "lock", "one_of": ["generator-1", "inverter-1"], "by": "changeover"}]
    assert not kinds(check_joined_sources, supplied(inverter(), generator(), guards=[guard], interlocks=lock))


# sources that do not fit


@pytest.mark.parametrize(
    ("volts", "kind"),
    [  # IEC 60038: equipment stands 10 % either way
        (230.0, None),
        (240.0, None),
        (253.0, None),
        (254.0, "stop"),
        (400.0, "stop"),
        (460.0, "stop"),
        (207.0, None),
        (206.0, "correct"),
        (120.0, "correct"),
    ],
)
def test_the_voltage_of_a_set_on_one_leg(volts: float, kind: str | None) -> None:
    made = supplied(inverter(**_INPUTS), generator(datasheet={"ac_voltage": volts}))
    ident = "source-fit:generator-1+inverter-1"
    assert kinds(check_source_fit, made) == (set() if kind is None else {(kind, ident)})


@pytest.mark.parametrize(
    ("profile", "connection", "raised"),
    [
        ("inverter-48v-120-240-6000", "single", False),  # one unit makes both legs: 240 V lies across them
        ("inverter-48v-120-3600", "split", False),  # told across both legs of a split phase
        ("inverter-48v-120-3600", "single", True),  # two units share no voltage without a neutral
    ],
)
def test_twice_the_voltage_of_a_leg(profile: str, connection: str, raised: bool) -> None:
    made = supplied(
        inverter(rules="north-america", **_INPUTS) | {"profile": profile},
        generator(rules="north-america", datasheet={"ac_voltage": 240.0, "connection": connection}),
        rules="north-america",
    )
    assert bool(kinds(check_source_fit, made)) is raised


@pytest.mark.parametrize("field", ["ac_voltage", "ac_frequency"])
def test_a_source_of_unknown_voltage_or_frequency_is_asked_for(field: str) -> None:
    made = supplied(inverter(**_INPUTS), generator(datasheet={field: "unknown"}))
    told = {finding.check: finding for finding in checked_sheet(made, ()).findings}["source-fit"]
    assert told.kind == "not checked"
    assert [getattr(gap, "key", "") for gap in told.missing] == [f"generators[generator-1].datasheet.{field}"]


def test_a_frequency_is_told_once_and_the_windows_that_go_with_it_not_at_all() -> None:
    made = sample("aldermere-clinic", **{"utility.ac_frequency": 60.0})
    told = [one for one in checked_sheet(made, ()).findings if one.kind == "correct"]
    assert [one.check for one in told] == ["source-fit"]
    assert "60 Hz" in told[0].text
    assert "50 Hz" in told[0].text


# AC-coupled PV on its bus


@pytest.mark.parametrize(("watts", "raised"), [(4540.0, False), (4560.0, True)])
def test_pv_is_judged_by_what_an_inverter_gives_in_its_room(watts: float, raised: bool) -> None:
    # 5000 VA in a room of 34 °C: 91 % by the class's derating rows are 4550 VA
    change = {"array_power": 6000.0, "datasheet.rated_power": watts}
    made = sample(
        "quillon-farm", **{f"ac_pv_inverters[ac-pv-1].{key}": value for key, value in change.items()}
    )
    assert (("correct", "pv-over-inverters:ac-pv-1") in kinds(check_coupled_legs, made)) is raised


def test_a_nameplate_that_is_passed_is_told_where_the_room_is_not_known() -> None:
    change = {"array_power": 6000.0, "datasheet.rated_power": 5100.0}
    keys = {f"ac_pv_inverters[ac-pv-1].{key}": value for key, value in change.items()}
    made = sample("quillon-farm", **keys, **{"site.room_temperature": "unknown"})
    assert ("correct", "pv-over-inverters:ac-pv-1") in kinds(check_coupled_legs, made)


def test_a_shift_that_no_trip_can_end_soon_enough_offers_no_trip() -> None:
    # the farm's PV returns up to 51 Hz: a trip under a load's 50.5 Hz would keep it off for ever
    def remedies(hertz: float, **more: Any) -> set[str]:
        made = sample("quillon-farm", **{"loads[load-house].frequency_max": hertz}, **more)
        return {one.remedy for one in checked_sheet(made, ()).findings if one.check == "shift-end-over-load"}

    narrow = {f"ac_pv_inverters[ac-pv-{one}].response.return_high": 50.1 for one in (1, 2, 3)}
    assert all("no fast trip fits" in one for one in remedies(50.5))
    assert all("at most 50.70 Hz" in one for one in remedies(51.0, **narrow))
    assert remedies(50.5)
    assert remedies(51.0, **narrow)


def test_a_bank_under_the_cut_off_carries_no_load() -> None:
    half = checked_sheet(sample("harrowick-relay", **{"bank.blocks_in_series": 12}), ())
    told = [one for one in half.findings if one.check in {"bank-sag", "bank-start"}]
    assert all("no load can be carried" in one.text and "0 W" not in one.remedy for one in told)
    assert told


# what must be broken


def guarded(interrupting: Any, **more: Any) -> Plant:
    """Return a plant whose set feeds an inverter through one breaker."""
    feeder = {"id": "run-set", "kind": "ac", "from": "generator-1", "to": "inverter-1", "area": 6.0}
    feeder |= {"length": more.pop("length", 10.0), "protection": "breaker-set"}
    guard = breaker("breaker-set", "generator-1", interrupting=interrupting)
    outputs = {"protection[breaker-inverter-1].interrupting": 6000.0}
    made = supplied(inverter(**_INPUTS), generator(**more), guards=[guard], runs=[feeder])
    return changed(made, [Change(key, value) for key, value in outputs.items()])


@pytest.mark.parametrize(
    ("interrupting", "kind"),
    [  # 10 kVA, 230 V: 43.48 A over Xd'' of 0.20 and of 0.08 are 217 A and 543 A
        (200.0, "stop"),
        (250.0, "correct"),
        (540.0, "correct"),
        (544.0, None),
        ("unknown", "not checked"),
    ],
)
def test_the_first_current_of_a_set(interrupting: Any, kind: str | None) -> None:
    raised = kinds(check_alternating_level, guarded(interrupting))
    assert raised == (set() if kind is None else {(kind, "interrupting-rating:breaker-set")})


def test_a_told_reactance_leaves_no_range() -> None:
    told = {"datasheet": {"subtransient_reactance": 0.1}}  # 434.8 A
    assert kinds(check_alternating_level, guarded(430.0, **told)) == {
        ("stop", "interrupting-rating:breaker-set")
    }
    assert not kinds(check_alternating_level, guarded(435.0, **told))


def public(**fields: Any) -> Plant:
    return sample("aldermere-clinic", **{f"utility.{key}": value for key, value in fields.items()})


def test_the_public_supply_at_its_own_breaker_and_behind_its_cable() -> None:
    # 12 m of 16 mm² out and back are 0.0259 Ω: with 230 V ÷ 12 kA at right angles 7146 A are left
    at = {
        one.id: one for one in found(check_alternating_level, public(fault_current_greatest=12000.0)).values()
    }
    values = {ident: one.value.value for ident, one in at.items() if isinstance(one.value, Figure)}
    assert values["interrupting-rating:breaker-utility"] == pytest.approx(12000.0)
    assert values["interrupting-rating:breaker-input-1"] == pytest.approx(7146.0, rel=0.005)
    assert not kinds(check_alternating_level, public(fault_current_greatest=6000.0))


def test_what_is_known_least_counts_where_the_greatest_is_not_known() -> None:
    unknown = {"fault_current_greatest": "unknown"}
    once = {("not checked", "interrupting-rating:utility")}
    assert kinds(check_alternating_level, public(**unknown)) == once
    strong = public(**unknown, fault_current_least=10001.0)
    assert ("stop", "interrupting-rating:breaker-utility") in kinds(check_alternating_level, strong)


def test_a_transformer_stands_for_an_untold_current() -> None:
    # 25 kVA, 240 V, 1.5 %: 1.5 × 6944 A from a leg to neutral; the observatory's device breaks 10 kA
    near = {"runs[run-grid].length": 0.1}
    assert not kinds(check_alternating_level, sample("pellard-observatory", **near))
    stiff = sample("pellard-observatory", **near, **{"utility.transformer_impedance": 0.015})
    assert ("stop", "interrupting-rating:breaker-input-1") in kinds(check_alternating_level, stiff)


def test_a_stronger_supply_never_takes_a_finding_away() -> None:
    before: set[tuple[str, str]] = set()
    for amps in (1000.0, 5500.0, 6500.0, 8000.0, 10500.0, 20000.0):
        now = kinds(check_alternating_level, public(fault_current_greatest=amps))
        assert before <= now
        before = now
    assert before
