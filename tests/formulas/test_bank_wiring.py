"""Shares of parallel strings over their leads and links, against nodal solutions."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.errors import FormulaError
from commission.formulas.bank_wiring import ladder_share, parallel_resistance, resistance_beyond
from commission.formulas.conductors import parallel_share

NODES = "nodal analysis"

LADDERS = [
    pytest.param(4, 5.0, 0.3, "diagonal", 100, [26.42, 23.58, 23.58, 26.42], id=f"four, diagonal ({NODES})"),
    pytest.param(3, 4.0, 0.4, "one end", 120, [51.25, 37.5, 31.25], id=f"three, leads at one end ({NODES})"),
    pytest.param(3, 4.0, 0.4, "diagonal", 120, [41.25, 37.5, 41.25], id=f"three, diagonal ({NODES})"),
    pytest.param(2, 3.0, 0.5, "one end", 100, [57.14, 42.86], id=f"two, leads at one end ({NODES})"),
]
"""Strings, mΩ of a string, mΩ of a link, take-off, load in A; then A of each string to 0.02."""


@pytest.mark.parametrize(("strings", "string", "link", "take_off", "load", "expected"), LADDERS)
def test_strings_joined_by_links_share_as_the_nodes_say(
    strings: int, string: float, link: float, take_off: str, load: float, expected: list[float]
) -> None:
    currents = [
        load * ladder_share(place, strings, string_resistance=string, link_resistance=link, take_off=take_off)
        for place in range(1, strings + 1)
    ]
    assert currents == pytest.approx(expected, abs=0.02)


def test_strings_with_unequal_leads_share_by_their_whole_path() -> None:
    """50 V, 8 mΩ each, leads of 0.5, 1 and 2 mΩ, 150 A: shares to 0.02 A, bus to 0.001 V (nodal analysis)."""
    paths = [0.0085, 0.009, 0.010]
    currents = [150 * parallel_share(path, paths) for path in paths]
    assert currents == pytest.approx([53.68, 50.7, 45.63], abs=0.02)
    assert 50 - 150 * parallel_resistance(paths) == pytest.approx(49.544, abs=0.001)


def solved(strings: int, string: float, link: float, take_off: str) -> list[float]:
    """Return the shares by solving for the voltage of every node of both rails with one ampere drawn."""
    nodes = np.zeros((2 * strings, 2 * strings))
    injected = np.zeros(2 * strings)

    def join(one: int, other: int, ohms: float) -> None:
        for near, far in ((one, other), (other, one)):
            nodes[near, near] += 1 / ohms
            nodes[near, far] -= 1 / ohms

    source = 50.0
    for place in range(strings):
        join(place, strings + place, string)
        injected[place] += source / string
        injected[strings + place] -= source / string
    for place in range(strings - 1):
        join(place, place + 1, link)
        join(strings + place, strings + place + 1, link)
    injected[0] -= 1.0
    last = strings - 1 if take_off == "diagonal" else 0
    injected[strings + last] += 1.0
    nodes[0, :] = 0.0
    nodes[0, 0] = 1.0
    injected[0] = 0.0
    voltages = np.linalg.solve(nodes, injected)
    return [float((source - (voltages[k] - voltages[strings + k])) / string) for k in range(strings)]


@given(
    st.integers(1, 6),
    st.floats(1.0, 20.0),
    st.floats(0.05, 1.0),
    st.sampled_from(["one end", "diagonal"]),
)
def test_ladder_agrees_with_every_node_solved(
    strings: int, string: float, link: float, take_off: str
) -> None:
    ours = [
        ladder_share(place, strings, string_resistance=string, link_resistance=link, take_off=take_off)
        for place in range(1, strings + 1)
    ]
    assert ours == pytest.approx(solved(strings, string, link, take_off), abs=1e-6)
    assert sum(ours) == pytest.approx(1.0)


@given(st.integers(1, 6), st.sampled_from(["one end", "diagonal"]))
def test_without_links_all_strings_carry_alike(strings: int, take_off: str) -> None:
    for place in range(1, strings + 1):
        share = ladder_share(place, strings, string_resistance=3.0, link_resistance=0.0, take_off=take_off)
        assert share == pytest.approx(1 / strings)


@given(st.integers(2, 6), st.floats(1.0, 20.0), st.floats(0.05, 1.0))
def test_the_string_at_the_leads_carries_most_and_diagonal_leads_even_it_out(
    strings: int, string: float, link: float
) -> None:
    near, far = (
        ladder_share(place, strings, string_resistance=string, link_resistance=link, take_off="one end")
        for place in (1, strings)
    )
    even = ladder_share(1, strings, string_resistance=string, link_resistance=link, take_off="diagonal")
    assert far < near
    assert 1 / strings - 1e-9 <= even < near


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"position": 4}, "from 1 to 3"),
        ({"position": 1.5}, "position"),
        ({"take_off": "middle"}, "'one end' or 'diagonal'"),
        ({"string_resistance": 0}, "string_resistance"),
        ({"link_resistance": float("nan")}, "link_resistance"),
    ],
)
def test_out_of_range_is_refused_with_what_came(changed, says):
    sound = {
        "position": 1, "strings": 3, "string_resistance": 4.0, "link_resistance": 0.4, "take_off": "diagonal",
    }  # fmt: skip
    with pytest.raises(FormulaError, match=says):
        ladder_share(**{**sound, **changed})


@pytest.mark.parametrize("paths", [[], [0.01, 0.0], [float("nan")]])
def test_no_path_or_a_path_without_resistance_is_refused(paths: list[float]) -> None:
    with pytest.raises(FormulaError, match="resistances"):
        parallel_resistance(paths)


@pytest.mark.parametrize(("distance", "left"), [(0.0, 0.001), (0.5, 0.00075), (2.0, 0.0)])
def test_of_a_lead_what_lies_beyond_a_device_is_left(distance, left):
    """Resistance in proportion to length: a lead of 2 m and 1 mΩ."""
    assert resistance_beyond(0.001, 2.0, distance) == pytest.approx(left)


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ((0.0, 2.0, 1.0), "resistance = 0"),
        ((0.001, 0.0, 0.0), "length = 0"),
        ((0.001, 2.0, -1.0), "distance = -1"),
        ((0.001, 2.0, 2.5), "distance = 2.5 m"),
    ],
)
def test_a_device_outside_its_lead_is_refused(arguments, says):
    with pytest.raises(FormulaError, match=says):
        resistance_beyond(*arguments)
