"""AC-coupled PV on an island, against published droop lines and trip values."""

from __future__ import annotations

from typing import Any

import pytest

from tests.builders import plant
from tests.checklist.bands import edges, is_inside, is_stopped, nominal, refusal, stops, waited_for
from tests.checklist.power_sites import Lefts, left, sheet
from tests.checklist.walks import Site

FULL = "pv-full-bank"


def island(
    pv: tuple[dict[str, Any], ...],
    *,
    rules: str = "iec-230",
    unit: str = "inverter-48v-230-5000",
    lefts: Lefts | None = None,
    bus: float = 68.0,
    **more: Any,
) -> Site:
    made = plant(
        inverters=({"id": "inverter-1", "profile": unit},),
        ac_pv_inverters=list(pv),
        place={"rules": rules},
        **more,
    )
    return Site(made, sheet(200.0, bus), lefts or {})


def answering(power: float = 5000.0, ident: str = "roof-1", **response: Any) -> dict[str, Any]:
    """Return a PV inverter of 230 V with a response of its own."""
    told = {
        "kind": "droop",
        "base": "momentary",
        "start": 50.2,
        "zero": 52.7,
        "slow_trip": 51.5,
        "slow_trip_time": 0.2,
        "fast_trip": 51.5,
        "fast_trip_time": 0.2,
        "return_low": 49.5,
        "return_high": 50.2,
        "return_delay": 60.0,
        "return_ramp": 600.0,
        **response,
    }
    sheet_of = {"rated_power": power, "response": told}
    return {"id": ident, "profile": "ac-pv-230-5000-droop", "leg": "1", "datasheet": sheet_of}


LINEAR: dict[str, Any] = {"start": 50.25, "zero": 52.0, "slow_trip": 52.0, "fast_trip": 52.0}
"""Australia A of AS/NZS 4777.2:2020: linear from 50.25 to 52.0 Hz."""
DEFAULT_1547: dict[str, Any] = {
    "base": "rating",
    "start": 60.036,
    "zero": 63.036,
    "slow_trip": 61.2,
    "fast_trip": 62.0,
}
"""IEEE 1547-2018, tables 18 and 24: 0.036 Hz and 5 % of 60 Hz, trips at 61.2 and 62.0 Hz."""
STEEP_1547: dict[str, Any] = {
    "base": "rating",
    "start": 60.017,
    "zero": 61.217,
    "slow_trip": 61.2,
    "fast_trip": 62.0,
}
"""The steepest characteristic that IEEE 1547.1-2020 tests for category III: 0.017 Hz and 2 %."""
NORTH: dict[str, Any] = {"rules": "north-america", "unit": "inverter-48v-120-240-8000"}


def held(site: Site, before: float, load: float) -> Site:
    return site.read(f"{FULL}.before", (), before).read("ac-load", (), load)


# the frequency of a full bank: inverse of the droop


@pytest.mark.parametrize(
    ("response", "place", "before", "load", "hertz"),
    [
        # 1.5 of 5.0 kW on the line of AS/NZS 4777.2: 51.475 Hz, under its 52 Hz
        pytest.param(LINEAR, {}, 5000.0, 1500.0, 51.475, id="AS/NZS 4777.2"),
        # LFSM-O of EN 50549-1, power fraction 0.8 at 50.7 Hz and 0.68 at 51.0 Hz
        pytest.param({}, {}, 5000.0, 4000.0, 50.7, id="EN 50549-1, a fifth less"),
        pytest.param({}, {}, 2500.0, 1700.0, 51.0, id="EN 50549-1, of the power at that moment"),
        # IEEE 1547-2018: from half the rating 0.178667 of it at 61.0 Hz
        pytest.param(DEFAULT_1547, NORTH, 2500.0, 893.335, 61.0, id="IEEE 1547-2018, of the rating"),
        pytest.param(DEFAULT_1547, NORTH, 5000.0, 3393.335, 61.0, id="IEEE 1547-2018, 0.678667 at 61.0 Hz"),
        pytest.param(STEEP_1547, NORTH, 5000.0, 1500.0, 60.857, id="IEEE 1547-2018, steepest"),
    ],
)
def test_a_full_bank_is_held_on_the_line(
    response: dict[str, Any], place: dict[str, Any], before: float, load: float, hertz: float
) -> None:
    site = held(island((answering(**response),), **place), before, load)
    outcome = site.judged(f"{FULL}.frequency", (), hertz)
    assert nominal(outcome) == pytest.approx(hertz, abs=5e-4)
    assert is_inside(outcome, hertz)
    assert not is_inside(outcome, hertz - 0.5)


@pytest.mark.parametrize(
    ("response", "place", "hertz"),
    [
        # both published as not to be held: 51.95 Hz over a trip at 51.5 Hz, 62.136 Hz over those of IEEE 1547
        pytest.param({}, {}, "51.95 Hz", id="LFSM-O 50.2 Hz, 5 %"),
        pytest.param(DEFAULT_1547, NORTH, "62.14 Hz", id="IEEE 1547-2018 default"),
    ],
)
def test_pv_that_would_trip_first_is_not_judged_as_throttling(
    response: dict[str, Any], place: dict[str, Any], hertz: str
) -> None:
    site = held(island((answering(**response),), **place), 5000.0, 1500.0)
    why = refusal(site.judged(f"{FULL}.frequency", (), 51.0))
    assert why.startswith(f"{hertz} would hold 1500 W, over the slow trip")


def test_the_slow_trip_counts_and_not_the_fast_one() -> None:
    # 0.4 of the rating: no output at 61.236 Hz, over 61.2 Hz though under 62.0 Hz
    site = held(island((answering(**DEFAULT_1547),), **NORTH), 2000.0, 0.0)
    assert "61.24 Hz" in refusal(site.judged(f"{FULL}.frequency", (), 61.236))


def test_the_band_ends_at_the_slow_trip() -> None:
    site = held(island((answering(**STEEP_1547),), **NORTH), 5000.0, 500.0)
    # nominal 61.097 Hz; half-width √(0.06² + 0.1²) Hz would pass 61.2 Hz
    low, high = edges(site.judged(f"{FULL}.frequency", (), 61.1))
    assert low == pytest.approx(61.097 - 0.116619, abs=1e-4)
    assert high == pytest.approx(61.2)


def test_several_pv_inverters_share_one_line() -> None:
    two = (answering(3000.0), answering(2000.0, "roof-2"))
    site = held(island(two), 5000.0, 4000.0)
    assert nominal(site.judged(f"{FULL}.frequency", (), 50.7)) == pytest.approx(50.7)


@pytest.mark.parametrize(
    ("pv", "before", "load", "why"),
    [
        pytest.param((answering(), answering(ident="roof-2", start=50.5)), 5000.0, 4000.0, "differently"),
        pytest.param((answering(base="unknown"),), 5000.0, 4000.0, "rating or to the moment"),
        pytest.param((answering(),), 3000.0, 3500.0, "nothing is throttled"),
        pytest.param((answering(), answering(ident="roof-2", kind="none")), 5000.0, 4000.0, "only trips"),
    ],
)
def test_where_there_is_no_line_there_is_no_band(
    pv: tuple[dict[str, Any], ...], before: float, load: float, why: str
) -> None:
    site = held(island(pv), before, load)
    assert why in refusal(site.judged(f"{FULL}.frequency", (), 50.7))


def test_the_rule_set_stands_for_one_that_says_nothing() -> None:
    silent: dict[str, Any] = {
        "kind": "unknown",
        **dict.fromkeys(("base", "start", "zero", "slow_trip", "fast_trip"), "unknown"),
    }
    site = held(island((answering(**silent),)), 5000.0, 4000.0)
    # EN 50549-1 by the rule set
    assert nominal(site.judged(f"{FULL}.frequency", (), 50.7)) == pytest.approx(50.7)


def test_the_load_of_another_minute_is_asked_for_again() -> None:
    site = held(island((answering(),)), 5000.0, 4000.0).read("ac-load", (), 4000.0, ago=2.0)
    assert waited_for(site.judged(f"{FULL}.frequency", (), 50.7)) == ["ac-load@"]


@pytest.mark.parametrize(("minutes", "inside"), [(1.0, False), (5.0, False), (6.0, True)])
def test_it_is_held_past_the_slow_trip(minutes: float, inside: bool) -> None:
    outcome = island((answering(),)).judged(f"{FULL}.held", (), minutes)
    assert is_inside(outcome, minutes) is inside


def test_pv_gives_the_load_and_what_the_bank_takes() -> None:
    site = island((answering(),)).read("ac-load", (), 800.0).read("bank-voltage", "bank", 57.6)
    site.read("bank-standing-current", "bank", 2.0)
    # 800 W + 57.6 V × 2 A + 5 % of 5000 W
    assert edges(site.judged(f"{FULL}.power", (), 900.0)) == pytest.approx((None, 1165.2))
    site.read("bank-standing-current", "bank", -3.0)
    assert edges(site.judged(f"{FULL}.power", (), 900.0)) == pytest.approx((None, 1050.0))


# the voltage of a full bank


def test_a_full_bank_stays_near_absorption() -> None:
    lefts: Lefts = {("inverter-1", "absorption_voltage"): left(57.6, "V")}
    site = island((answering(),), lefts=lefts).read("battery-temperature", "bank", 25.0)
    outcome = site.judged(f"{FULL}.voltage", (), 58.0)
    assert edges(outcome) == pytest.approx((None, 57.6 * 1.02))
    # ceiling of 24 sealed cells at 25 °C
    assert stops(outcome) == pytest.approx((None, 60.0))
    assert is_stopped(site.judged(f"{FULL}.voltage", (), 60.0), 60.0)


def test_a_hot_bank_is_held_lower() -> None:
    lefts: Lefts = {("inverter-1", "absorption_voltage"): left(57.6, "V")}
    site = island((answering(),), lefts=lefts).read("battery-temperature", "bank", 35.0)
    assert edges(site.judged(f"{FULL}.voltage", (), 57.0))[1] == pytest.approx(56.64 * 1.02)


@pytest.mark.parametrize(
    ("bus", "margin", "most"),
    [
        pytest.param(68.0, 0.1, 56.8, id="16 × (3.65 − 0.10) V"),
        pytest.param(68.0, 0.02, 57.12, id="56 V + 2 %"),
        pytest.param(56.5, 0.02, 56.5, id="least device maximum"),
    ],
)
def test_the_least_of_all_limits_of_lithium_holds(bus: float, margin: float, most: float) -> None:
    lefts: Lefts = {("inverter-1", "absorption_voltage"): left(56.0, "V")}
    management = {"data_link": False, "cut_off_high": 3.65, "margin": margin}
    site = island(
        (answering(),),
        lefts=lefts,
        bus=bus,
        chemistry="lfp",
        cells_per_block=16,
        blocks=1,
        bank={"management": management},
    ).read("battery-temperature", "bank", 20.0)
    assert edges(site.judged(f"{FULL}.voltage", (), 56.0))[1] == pytest.approx(most)


# return, leaving, load rejection


def test_the_island_idles_inside_the_return_window() -> None:
    site = island((answering(),))
    assert edges(site.judged("idle-frequency", "roof-1", 50.0)) == pytest.approx((49.5, 50.2))
    assert not is_inside(site.judged("idle-frequency", "roof-1", 50.3), 50.3)


def test_pv_returns_after_delay_and_ramp() -> None:
    # IEEE 1547-2018, table 4: 300 s and 300 s; a tenth and 5 s either way
    site = island((answering(**DEFAULT_1547, return_delay=300.0, return_ramp=300.0),), **NORTH)
    assert edges(site.judged("pv-return.delay", "roof-1", 300.0)) == pytest.approx((265.0, 335.0))
    site.read("pv-return.full", "roof-1", 1.0, meter=None)
    assert edges(site.judged("pv-return.ramp", "roof-1", 300.0)) == pytest.approx((265.0, 335.0))
    site.read("pv-return.full", "roof-1", 0.0, meter=None)
    assert "sun or load changed" in refusal(site.judged("pv-return.ramp", "roof-1", 300.0))


def test_the_frequency_never_passes_the_end_of_the_shift() -> None:
    lefts: Lefts = {("inverter-1", "frequency_shift_end"): left(51.8, "Hz")}
    site = island((answering(),), lefts=lefts)
    assert edges(site.judged("pv-leaves.frequency", (), 51.7)) == pytest.approx((None, 51.9))
    assert "no inverter shifts" in refusal(island((answering(),)).judged("pv-leaves.frequency", (), 51.7))


def test_a_load_that_goes_leaves_voltages_under_the_published_trips() -> None:
    # IEEE 1547-2018, table 13: 1.10 and 1.20 of nominal; 264 and 288 V of 240 V are 132 and 144 V a leg
    site = island((answering(**DEFAULT_1547),), **NORTH)
    assert edges(site.judged("pv-load-rejection.second", (), 125.0)) == pytest.approx((None, 132.0))
    peak = site.judged("pv-load-rejection.peak", (), 140.0)
    assert edges(peak) == pytest.approx((None, 144.0))
    assert is_stopped(peak, 144.0)


def test_the_bus_stays_under_every_disconnect() -> None:
    lefts: Lefts = {("inverter-1", "load_high_disconnect_voltage"): left(59.2, "V")}
    outcome = island((answering(),), lefts=lefts).judged("pv-load-rejection.bus", (), 58.5)
    assert edges(outcome) == pytest.approx((None, 59.2))
    assert stops(outcome) == pytest.approx((None, 60.0))


def test_a_set_never_gets_power_back() -> None:
    units = ({"id": "inverter-1", "profile": "inverter-48v-230-5000", "inputs": {"generator": "set-1"}},)
    made = plant(
        inverters=units,
        ac_pv_inverters=[answering()],
        generators=[{"id": "set-1", "profile": "generator-petrol-single-230-5000"}],
        interlocks=[{"id": "lock-1", "one_of": ["roof-1", "set-1"], "by": "contactor"}],
        place={"rules": "iec-230"},
    )
    site = Site(made)
    assert edges(site.judged("ac-pv-interlock.time", "lock-1", 0.5)) == (None, 1.0)
    outcome = site.judged("ac-pv-interlock.power", "lock-1", -100.0)
    assert not is_inside(outcome, -100.0)
    # 5 % of 5 kW backwards
    assert is_stopped(outcome, -250.0)
    assert not is_stopped(outcome, -100.0)
    assert not site.checklist.by_id.get("ac-pv-never-beside")
    locked = {step.parts for step in site.checklist.by_id["ac-pv-locked"]}
    assert locked == {("roof-1",)}


def test_pv_that_only_trips_has_a_step_of_its_own() -> None:
    walk = island((answering(kind="none"),)).checklist
    assert walk.by_id.get("pv-full-bank-trips")
    assert not walk.by_id.get(FULL)
    unknown = island((answering(kind="unknown"),)).checklist
    assert unknown.by_id.get("pv-full-bank-trips")
    assert unknown.by_id.get(FULL), "what may be there is looked for"


# AC-coupled PV as a charger


def test_ac_pv_charges_with_what_the_load_leaves() -> None:
    sheet_of = {"charger_efficiency": 0.9}
    units = ({"id": "inverter-1", "profile": "inverter-48v-230-5000", "datasheet": sheet_of},)
    made = plant(inverters=units, ac_pv_inverters=[answering()], place={"rules": "iec-230"})
    site = Site(made, sheet(200.0, 68.0)).read("bank-voltage", "bank", 54.0)
    site.read("ac-pv-power", "roof-1", 4000.0).read("ac-load", (), 1000.0)
    # 3000 W × 0.9 ÷ 54 V = 50 A
    assert nominal(site.judged("ac-pv-charge.balance", "roof-1", 50.0)) == pytest.approx(50.0)
    # 5000 W × 0.9 ÷ 48 V, a tenth more
    assert edges(site.judged("ac-pv-charge.limit", "roof-1", 50.0))[1] == pytest.approx(103.125)
    small = Site(made, sheet(80.0, 68.0))
    assert edges(small.judged("ac-pv-charge.limit", "roof-1", 50.0))[1] == pytest.approx(80.0)
    site.read("ac-load", (), 4500.0)
    assert "nothing is left" in refusal(site.judged("ac-pv-charge.balance", "roof-1", 0.0))
