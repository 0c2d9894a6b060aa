"""Guards at low current, generators and the public supply, by hand arithmetic and published class limits."""

from __future__ import annotations

from typing import Any

import pytest

from commission.checklist.types import Expected
from commission.figure import given
from commission.plant.plant import Plant
from commission.plant.site import ChargeController, Silence
from commission.sheet.settle import make_sheet
from tests.builders import plant
from tests.checklist.bands import edges, is_inside, is_stopped, nominal, refusal, stops, waited_for
from tests.checklist.power_sites import Lefts, left, managed_plant, pv_plant, sheet
from tests.checklist.walks import Site

# guards


@pytest.mark.parametrize(
    ("recommended", "most"),
    [
        pytest.param(None, 10.0, id="C/20 of 200 Ah"),
        pytest.param(6.0, 6.0, id="or what the bank should get at all"),
    ],
)
def test_a_guard_is_tried_with_little_current(recommended: float | None, most: float) -> None:
    held = sheet()
    if recommended is not None:
        limit = given(recommended, "A", "recommended limit")
        held = type(held)((), (), held.bank_limit, limit, held.bus_maximum, {})
    outcome = Site(pv_plant(), held).judged("emergency-stop.after", "mppt-1", 0.0)
    assert edges(outcome) == (None, 1.0)
    outcome = Site(pv_plant(), held).judged("pv-first-closed.current", "mppt-1", 5.0)
    assert edges(outcome) == pytest.approx((1.0, most))


def test_nothing_flows_after_the_permission_is_withdrawn() -> None:
    site = Site(managed_plant(), sheet())
    assert edges(site.judged("charge-stop.time", "mppt-1", 3.0)) == (None, 5.0)
    after = site.judged("charge-stop.after", "mppt-1", 12.0)
    assert not is_inside(after, 12.0)
    assert is_inside(after, -0.4)


def test_every_kind_of_source_has_its_guards() -> None:
    unit = {"id": "inverter-1", "profile": "inverter-48v-120-240-8000", "inputs": {"generator": "set-1"}}
    made = plant(
        "lfp",
        cells_per_block=16,
        blocks=1,
        bank={"management": {"data_link": True, "charge_permit_contact": True}},
        inverters=({**unit, "on_battery_link": True},),
        controllers=({"id": "mppt-1", "profile": "controller-48v-80-buck-200", "on_battery_link": True},),
        ac_pv_inverters=[{"id": "roof-1", "profile": "ac-pv-240-5000-droop", "leg": "both"}],
        generators=[{"id": "set-1", "profile": "generator-diesel-split-12000"}],
    )
    walk = Site(made).checklist
    for guard, parts in (
        ("charge-stop", ("mppt-1",)),
        ("ac-pv-charge-stop", ("roof-1",)),
        ("charger-stop", ("inverter-1",)),
        ("permit-contact", ("mppt-1",)),
        ("ac-pv-permit-contact", ("roof-1",)),
        ("charger-permit-contact", ("inverter-1",)),
        ("link-lost", ("mppt-1",)),
        ("charger-link-lost", ("inverter-1",)),
        ("emergency-stop", ("mppt-1",)),
        ("ac-pv-emergency-stop", ("roof-1",)),
        ("charger-emergency-stop", ("inverter-1",)),
    ):
        assert [step.parts for step in walk.by_id[guard]] == [parts], guard
        assert walk.by_id[guard][0].data.hold


@pytest.mark.parametrize(
    ("silence", "lefts", "longest"),
    [
        # a tenth and 5 s more
        pytest.param({"after": 60.0, "does": "stops"}, {}, 71.0, id="the site file's time"),
        pytest.param(
            {"after": 60.0, "does": "stops"},
            {("mppt-1", "battery_link_silence_time"): left(30.0, "s")},
            38.0,
            id="the setting as left goes before it",
        ),
        pytest.param({}, {}, 71.0, id="not told: a minute"),
    ],
)
def test_a_lost_link_is_noticed_in_time(silence: dict[str, Any], lefts: Lefts, longest: float) -> None:
    made = managed_plant()
    controller = made.site.charge_controllers[0].model_copy(
        update={"silence": Silence.model_validate(silence)}
    )
    site = Site(_with_controller(made, controller), sheet(), lefts)
    assert edges(site.judged("link-lost.time", "mppt-1", 20.0)) == pytest.approx((None, longest))


def _with_controller(made: Plant, controller: ChargeController) -> Plant:
    place = made.site.model_copy(update={"charge_controllers": (controller,)})
    return made.model_copy(update={"site": place})


@pytest.mark.parametrize(
    ("does", "most"),
    [
        ("stops", 1.0),
        ("unknown", 1.0),
        ("carries on alone", 60.0),
    ],
)
def test_after_silence_it_stops_or_keeps_its_own_limit(does: str, most: float) -> None:
    made = managed_plant()
    own = made.site.charge_controllers[0]
    silent = own.model_copy(update={"silence": Silence.model_validate({"after": 60.0, "does": does})})
    lefts: Lefts = {("mppt-1", "charge_current_limit"): left(60.0, "A")}
    site = Site(_with_controller(made, silent), sheet(), lefts)
    assert edges(site.judged("link-lost.after", "mppt-1", 0.0)) == (None, most)


def test_the_packs_that_are_left_tell_their_share() -> None:
    # 8 packs of 50 A: seven of them 350 A
    site = Site(managed_plant(packs=8)).read("pack-opened.before", "bank", 400.0)
    assert edges(site.judged("pack-opened.after", "bank", 350.0)) == pytest.approx((343.0, 357.0))
    assert not is_inside(site.judged("pack-opened.after", "bank", 400.0), 400.0)


def test_a_charger_without_its_sensor_goes_by_what_its_sheet_says() -> None:
    assert edges(Site(pv_plant()).judged("sensor-off.assumed", "mppt-1", 25.0)) == pytest.approx((24.0, 26.0))
    silent = Site(pv_plant(datasheet={"unplugged_temperature": "unknown"}))
    outcome = silent.judged("sensor-off.assumed", "mppt-1", 25.0)
    assert edges(outcome) == (None, None)
    assert isinstance(outcome, Expected)
    assert "does not say" in outcome.says


def test_a_threshold_is_read_back_as_the_device_shows_it() -> None:
    # 57.6 V of the whole bank are 14.4 V per 12 V, half a step of 0.05 V either way
    made = pv_plant(datasheet={"settings": {"charge_disconnect_voltage": _per_12_volts()}})
    lefts: Lefts = {("mppt-1", "charge_disconnect_voltage"): left(60.0, "V")}
    site = Site(made, make_sheet(made), lefts)
    assert edges(site.judged("charge-disconnect.back", "mppt-1", 15.0)) == pytest.approx((14.975, 15.025))


def _per_12_volts() -> dict[str, Any]:
    return {"unit": "V", "low": 13.0, "high": 16.5, "step": 0.05, "basis": "per 12 V"}


# a set by itself


def with_set(
    profile: str = "generator-diesel-split-12000", unit: str = "inverter-48v-120-240-8000", **sheet_of: Any
) -> Plant:
    rules = "iec-230" if "230" in profile else "north-america"
    return plant(
        inverters=({"id": "inverter-1", "profile": unit, "inputs": {"generator": "set-1"}},),
        generators=[{"id": "set-1", "profile": profile, "datasheet": sheet_of}],
        place={"rules": rules},
    )


PETROL = {"profile": "generator-petrol-single-230-5000", "unit": "inverter-48v-230-5000"}


def test_the_set_is_judged_before_anything_takes_it() -> None:
    site = Site(with_set())
    # 120 V ± 5 %, stop at 1.2 × nominal
    outcome = site.judged("generator-no-load.leg", "set-1", 121.0)
    assert edges(outcome) == pytest.approx((114.0, 126.0))
    assert stops(outcome) == pytest.approx((None, 144.0))
    # 62.5 Hz by its data sheet ± 1.5 % of 60 Hz
    assert edges(site.judged("generator-no-load.frequency", "set-1", 62.4)) == pytest.approx((61.6, 63.4))


def test_both_legs_are_asked_for() -> None:
    step, _ = Site(with_set()).find("generator-no-load.leg", "set-1")
    labels = [ask.label for ask in step.asks if ask.data.name == "leg"]
    assert labels == ["leg 1 to neutral", "leg 2 to neutral"]
    outcome = Site(with_set()).judged("generator-legs", "set-1", 239.0)
    assert nominal(outcome) == pytest.approx(240.0)
    assert is_stopped(outcome, 3.0)


def test_a_loose_set_gets_more_room() -> None:
    site = Site(with_set(**PETROL))
    assert edges(site.judged("generator-no-load.leg", "set-1", 231.0)) == pytest.approx((207.0, 253.0))
    # 53.0 Hz by its sheet ± 2.5 % of 50 Hz
    assert edges(site.judged("generator-no-load.frequency", "set-1", 53.1)) == pytest.approx((51.75, 54.25))


def test_a_set_of_unknown_frequency_may_run_up_to_its_droop() -> None:
    # class G2: 60 to 60 × 1.05 Hz, 1.5 % either side
    site = Site(with_set(no_load_frequency="unknown"))
    assert edges(site.judged("generator-no-load.frequency", "set-1", 62.0)) == pytest.approx((59.1, 63.9))


def test_the_accept_window_narrows_what_a_set_may_do() -> None:
    lefts: Lefts = {
        ("inverter-1", "ac_input_voltage_high_connect"): left(124.0, "V"),
        ("inverter-1", "ac_input_frequency_high_connect"): left(62.0, "Hz"),
    }
    site = Site(with_set(), sheet(), lefts)
    assert edges(site.judged("generator-no-load.leg", "set-1", 123.0))[1] == pytest.approx(124.0)
    assert edges(site.judged("generator-no-load.frequency", "set-1", 61.8))[1] == pytest.approx(62.0)


def test_edges_of_one_leg_are_doubled_at_a_set_across_two() -> None:
    lefts: Lefts = {("inverter-1", "ac_input_voltage_high_connect"): left(124.0, "V")}
    made = with_set("generator-petrol-split-6500", connection="single", ac_voltage=240.0)
    site = Site(made, sheet(), lefts)
    assert edges(site.judged("generator-no-load.leg", "set-1", 241.0))[1] == pytest.approx(248.0)


# load on the set


def test_frequency_falls_along_the_line_of_the_governor() -> None:
    # 62.5 Hz without load, 60.0 Hz at full load, 40 % of 12 kW: 61.5 Hz
    site = Site(with_set(frequency_droop=2.5 / 60.0)).read("generator-no-load.frequency", "set-1", 62.5)
    site.read("generator-loaded.power", "set-1", 4800.0)
    outcome = site.judged("generator-loaded.frequency", "set-1", 61.4)
    assert nominal(outcome) == pytest.approx(61.5)
    assert edges(outcome) == pytest.approx((60.6, 62.4))


def test_the_line_begins_at_what_was_measured() -> None:
    site = Site(with_set()).read("generator-loaded.power", "set-1", 4800.0)
    wanted = waited_for(site.judged("generator-loaded.frequency", "set-1", 61.4))
    assert wanted == ["generator-no-load.frequency@set-1"]


@pytest.mark.parametrize(
    ("profile", "reading", "limit"),
    [
        # ISO 8528-5 class G2, as tenders quote it: −10 % of 60 Hz is 54.0 Hz; +25 % of 230 V is 287.5 V
        pytest.param({}, "generator-load-on.frequency", (54.0, None)),
        pytest.param({}, "generator-load-on.voltage", (96.0, None)),
        pytest.param({}, "generator-load-off.frequency", (None, 67.2)),
        pytest.param(
            {"profile": "generator-diesel-three-230-20000", "unit": "inverter-48v-230-5000"},
            "generator-load-off.voltage",
            (None, 287.5),
        ),
        # class G1 for a loose set: −15 % of 50 Hz, +35 % of 230 V
        pytest.param(PETROL, "generator-load-on.frequency", (42.5, None)),
        pytest.param(PETROL, "generator-load-off.voltage", (None, 310.5)),
    ],
)
def test_load_that_comes_and_goes_stays_in_its_class(
    profile: dict[str, str], reading: str, limit: tuple[float | None, float | None]
) -> None:
    outcome = Site(with_set(**profile)).judged(reading, "set-1", 50.0)
    assert edges(outcome) == pytest.approx(limit)


def fed(lefts: Lefts, current: float = 24.0, load: float = 1425.0) -> Site:
    """Return a unit of 230 V that charges with 5760 VA at a power factor of 0.95 and 0.90 efficiency."""
    sheet_of = {"charger_power_factor": 0.95, "charger_efficiency": 0.9, "current_accuracy": 0.02}
    made = plant(
        inverters=(
            {
                "id": "inverter-1",
                "profile": "inverter-48v-230-5000",
                "inputs": {"generator": "set-1"},
                "datasheet": sheet_of,
            },
        ),
        generators=[{"id": "set-1", "profile": "generator-petrol-single-230-5000"}],
        place={"rules": "iec-230"},
    )
    site = Site(made, sheet(), lefts).read("bank-voltage", "bank", 54.0)
    pair = ("inverter-1", "set-1")
    site.read("generator-charge.input", pair, current).read("generator-charge.voltage", pair, 240.0)
    return site.read("generator-charge.load", pair, load)


PAIR = ("inverter-1", "set-1")


def test_the_charge_current_follows_the_power_that_is_taken() -> None:
    # (5760 VA − 1500 VA) × 0.95 × 0.90 ÷ 54.0 V = 67.45 A; 240 V × 24 A, 1500 VA at 0.95 are 1425 W
    site = fed({("inverter-1", "charge_current_limit"): left(120.0, "A")})
    outcome = site.judged("generator-charge.charge", PAIR, 66.0)
    assert nominal(outcome) == pytest.approx(67.45, abs=5e-3)
    assert edges(outcome) == pytest.approx((60.705, 74.195), abs=1e-2)


def test_a_charger_at_its_own_limit_is_not_over_it() -> None:
    site = fed({("inverter-1", "charge_current_limit"): left(62.0, "A")})
    high = edges(site.judged("generator-charge.charge", PAIR, 62.0))[1]
    assert high is not None
    assert 62.0 < high < 64.0


def test_the_input_takes_no_more_than_it_was_left_with() -> None:
    site = fed({("inverter-1", "ac_input_current_limit"): left(20.0, "A")})
    low, high = edges(site.judged("generator-charge.input", PAIR, 20.2))
    assert low is None
    assert high == pytest.approx(20.4 + 0.5 * _input_step(site))


def _input_step(site: Site) -> float:
    ability = site.plant.equipment["inverter-1"].settings["ac_input_current_limit"]
    assert ability.step is not None
    return ability.step


def test_a_limit_of_the_charger_alone_is_judged_by_the_charge() -> None:
    made = with_set()
    site = Site(
        plant(
            inverters=(
                {
                    "id": "inverter-1",
                    "profile": "inverter-48v-120-240-8000",
                    "inputs": {"generator": "set-1"},
                    "datasheet": {"ac_limit_counts": "charger only"},
                },
            ),
            generators=[made.site.generators[0].model_dump()],
        ),
        sheet(),
        {("inverter-1", "ac_input_current_limit"): left(20.0, "A")},
    )
    assert "charger only" in refusal(site.judged("generator-charge.input", PAIR, 20.0))


@pytest.mark.parametrize(
    ("delay", "window"),
    [
        pytest.param(30.0, (22.0, 38.0), id="a tenth and 5 s"),
        pytest.param(None, (5.0, 300.0), id="not told: what the trade has"),
    ],
)
def test_a_set_is_accepted_after_its_delay(delay: float | None, window: tuple[float, float]) -> None:
    lefts: Lefts = {}
    if delay is not None:
        lefts["inverter-1", "ac_input_connect_delay"] = left(delay, "s")
    outcome = Site(with_set(), sheet(), lefts).judged("generator-accepted.time", PAIR, 30.0)
    assert edges(outcome) == pytest.approx(window)


# bonds


@pytest.mark.parametrize(("earthing", "most"), [("TN", 2.0), ("TT", 2.0), ("IT", None)])
def test_neutral_and_earth_on_the_set(earthing: str, most: float | None) -> None:
    made = with_set()
    point = {"mode": "set-1", "earthing": earthing, "bonds": []}
    site = Site(
        plant(
            inverters=(made.site.inverter_chargers[0].model_dump(exclude={"silence"}),),
            generators=[{"id": "set-1", "profile": "generator-diesel-split-12000"}],
            earthing={"modes": [point]},
        )
    )
    assert edges(site.judged("generator-bond.voltage", "set-1", 0.4)) == (None, most)
    outcome = site.judged("generator-bond.earth", "set-1", 2.5)
    assert not is_inside(outcome, 2.5), "a second bond makes the earth carry load"
    assert is_inside(outcome, 0.02)


# automatic start


def started(**lefts: float) -> Site:
    units = ({"id": "inverter-1", "profile": "inverter-48v-120-240-8000", "inputs": {"generator": "set-1"}},)
    sets = [{"id": "set-1", "profile": "generator-diesel-split-12000", "started_by": "inverter-1"}]
    made = plant(inverters=units, generators=sets)
    held: Lefts = {("inverter-1", name): left(value, "s") for name, value in lefts.items()}
    return Site(made, make_sheet(made), held)


START = ("set-1", "inverter-1")


def test_times_of_the_set_are_watched() -> None:
    site = started(generator_cool_down_time=180.0, generator_warm_up_time=60.0)
    assert edges(site.judged("stop-cool-down", START, 180.0)) == pytest.approx((157.0, 203.0))
    assert edges(site.judged("start-warm-up", START, 60.0)) == pytest.approx((49.0, 71.0))


def test_the_call_comes_after_the_delay_that_was_entered() -> None:
    site = started().read("start-by-voltage.delay", START, 60.0)
    assert edges(site.judged("start-by-voltage.time", START, 60.0)) == pytest.approx((49.0, 71.0))


def test_the_load_is_on_the_set_after_cranking_warm_up_and_delay() -> None:
    # (45 + 60 + 30) s, a tenth and 5 s more
    site = started(generator_warm_up_time=60.0, ac_input_connect_delay=30.0)
    assert edges(site.judged("start-called.load", START, 100.0)) == pytest.approx((None, 153.5))


def test_a_set_that_nothing_starts_has_no_automatic_steps() -> None:
    assert not Site(with_set()).checklist.by_id.get("start-called")
    assert Site(with_set()).checklist.by_id.get("generator-no-load")


# the public supply


def on_supply() -> Site:
    units = ({"id": "inverter-1", "profile": "inverter-48v-230-5000", "inputs": {"utility": "utility"}},)
    utility = {"connection": "single", "supply_breaker": 32.0}
    lefts: Lefts = {("inverter-1", "ac_input_connect_delay"): left(90.0, "s")}
    return Site(plant(inverters=units, utility=utility, place={"rules": "iec-230"}), sheet(), lefts)


def test_the_supply_lies_in_its_window() -> None:
    site = on_supply()
    assert edges(site.judged("utility-live.leg", "utility", 231.0)) == pytest.approx((207.0, 253.0))
    assert edges(site.judged("utility-live.frequency", "utility", 50.0)) == pytest.approx((48.0, 52.0))


def test_a_lost_supply_is_left_within_two_seconds_and_not_fed() -> None:
    # IEC 62116: 2 s
    site = on_supply()
    assert edges(site.judged("utility-lost.time", "utility", 1.2)) == (None, 2.0)
    assert is_stopped(site.judged("utility-lost.back-feed", "utility", 230.0), 230.0)
    assert not is_stopped(site.judged("utility-lost.back-feed", "utility", 3.0), 3.0)


def test_a_supply_is_taken_back_no_sooner_than_the_rule_set_says() -> None:
    outcome = on_supply().judged("utility-back", ("inverter-1", "utility"), 95.0)
    assert edges(outcome) == pytest.approx((54.0, 135.0))
    assert not is_inside(outcome, 20.0)


def test_the_longest_run_is_the_one_that_was_entered() -> None:
    site = started().read("longest-run.entered", START, 60.0)
    # 60 min, a tenth and 5 s either way
    assert edges(site.judged("longest-run.time", START, 60.0)) == pytest.approx(
        (54.0 - 5 / 60, 66.0 + 5 / 60)
    )
