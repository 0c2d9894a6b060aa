"""Protective and earthing conductors against the tables of the NEC and of IEC 60364-5-54."""

from __future__ import annotations

from typing import Any

import pytest

from commission.design.earth_conductors import check_earth_conductors
from commission.plant.change import changed
from commission.plant.plant import Plant
from tests.design.run_plants import EARTHED, IEC, breaker, built, controller, first, raised, run, value, wire

GOOD = EARTHED | {"electrode_conductor": 25.0, "dc_conductor": 90.0}
AWG = {
    "14": 2.08,
    "12": 3.31,
    "10": 5.26,
    "8": 8.37,
    "6": 13.3,
    "4": 21.15,
    "3": 26.66,
    "2": 33.63,
    "1/0": 53.51,
    "2/0": 67.44,
    "4/0": 107.22,
}


def with_earth(
    rating: float,
    area: float,
    earth: Any,
    *,
    current: float = 1.0,
    place: dict[str, str] | None = None,
    **more: Any,
) -> Plant:
    """Return a controller behind a breaker with a protective conductor beside its run."""
    guard = breaker("guard", "device", "controller-1", rating)
    wires = (
        run(
            "run-a",
            "bank",
            "controller-1",
            area,
            1.0,
            ambient=30.0,
            protection="guard",
            earth_area=earth,
            **more,
        ),
    )
    return built(
        place=place, earthing=GOOD, controllers=(controller(current),), runs=wires, protection=(guard,)
    )


@pytest.mark.parametrize(
    ("rating", "line", "least", "under"),
    [
        # NEC table 250.122, copper, line conductors no thicker than the device asks
        (15.0, "14", "14", None),
        (20.0, "12", "12", "14"),
        (60.0, "6", "10", "12"),
        (100.0, "3", "8", "10"),
        (175.0, "2/0", "6", "8"),
        (250.0, "4/0", "4", "6"),
    ],
)
def test_the_nec_s_table_by_device(rating: float, line: str, least: str, under: str | None) -> None:
    current = rating / 1.25
    good = with_earth(rating, AWG[line], AWG[least], current=current)
    assert raised(check_earth_conductors, good) == {}
    if under is not None:
        bad = with_earth(rating, AWG[line], AWG[under], current=current)
        assert raised(check_earth_conductors, bad) == {"earth-conductor:run-a": "correct"}


def test_it_grows_with_thicker_line_conductors() -> None:
    # NEC 250.122(B): 40 A in 6 AWG where 8 AWG would do: 10 380 × 26 240 ÷ 16 510 = 16 498 cmil, 8 AWG
    bad = with_earth(40.0, AWG["6"], AWG["10"], current=32.0)
    found = first(check_earth_conductors, bad, "earth-conductor:run-a")
    assert value(found.finding.limit) == pytest.approx(16498 * 5.0671e-4, rel=0.005)
    assert found.remedies[0].text == "protective conductor of run-a in 8 AWG"
    assert raised(check_earth_conductors, changed(bad, found.remedies[0].change)) == {}


def test_it_never_needs_to_be_thicker_than_the_line_conductor() -> None:
    made = with_earth(15.0, AWG["4"], AWG["4"], current=1.0)
    assert raised(check_earth_conductors, made) == {}


@pytest.mark.parametrize(
    ("line", "least"),
    [
        # IEC 60364-5-54 table 54.2: as the line up to 16 mm², 16 mm² up to 35 mm², then half
        (10.0, 10.0),
        (16.0, 16.0),
        (25.0, 16.0),
        (35.0, 16.0),
        (70.0, 35.0),
        (95.0, 47.5),
        (120.0, 60.0),
    ],
)
def test_the_iec_table_by_line_conductor(line: float, least: float) -> None:
    good = with_earth(63.0, line, least, place=IEC)
    assert raised(check_earth_conductors, good) == {}
    bad = with_earth(63.0, line, least * 0.9, place=IEC)
    found = first(check_earth_conductors, bad, "earth-conductor:run-a")
    assert value(found.finding.limit) == pytest.approx(least)
    assert raised(check_earth_conductors, changed(bad, found.remedies[0].change)) == {}


def test_an_ac_run_without_one_is_asked_about_and_a_dc_run_is_not() -> None:
    made = built(
        earthing=GOOD,
        loads=({"id": "load-a", "current": "ac", "power": 100.0},),
        runs=(wire("run-ac", "ac-panel", "load-a", 3.31), run("run-dc", "bank", "panel")),
    )
    assert raised(check_earth_conductors, made) == {"earth-conductor:run-ac": "not checked"}


@pytest.mark.parametrize(("place", "least"), [(None, 8.37), (IEC, 16.0)])
def test_the_conductor_to_the_electrode(place: dict[str, str] | None, least: float) -> None:
    # NEC table 250.66: 8 AWG; IEC 60364-5-54 table 54.1: 16 mm²
    bad = built(place=place, earthing=GOOD | {"electrode_conductor": least * 0.7})
    found = first(check_earth_conductors, bad, "electrode-conductor:site")
    assert value(found.finding.limit) == least
    assert raised(check_earth_conductors, changed(bad, found.remedies[0].change)) == {}


@pytest.mark.parametrize(
    ("area", "laid", "raises"),
    [
        # NEC 250.166: as the largest conductor, not under 8 AWG, never over 3/0 AWG
        (3.31, 8.37, False),
        (33.63, 21.15, True),
        (33.63, 33.63, False),
        (107.22, 85.03, False),
        (107.22, 67.44, True),
    ],
)
def test_the_conductor_of_the_earthed_pole(area: float, laid: float, raises: bool) -> None:
    made = built(earthing=GOOD | {"dc_conductor": laid}, runs=(run("run-main", "bank", "dc-panel", area),))
    assert ("dc-earth-conductor:site" in raised(check_earth_conductors, made)) is raises


def test_a_floating_bank_needs_none() -> None:
    made = built(earthing={"dc": "floating", "electrode_conductor": 25.0})
    assert raised(check_earth_conductors, made) == {}


def test_sizes_not_told_are_asked_for() -> None:
    made = built(earthing=EARTHED)
    assert raised(check_earth_conductors, made) == {
        "electrode-conductor:site": "not checked",
        "dc-earth-conductor:site": "not checked",
    }
