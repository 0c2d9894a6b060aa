"""How parallel leads divide a current, against a solved network, and what is told of uneven ones."""

from __future__ import annotations

from typing import Any

import pytest

from commission.design.parallel_paths import check_parallel_paths, string_resistance
from commission.plant.change import changed
from commission.plant.plant import Plant
from commission.sheet.cables import cable_resistance
from tests.design.networks import branch_currents
from tests.design.run_plants import IEC, INVERTER, built, first, load, raised, run, value, wire


def strings(lengths: tuple[Any, ...], *, resistance: float = 0.004, area: float = 35.0) -> Plant:
    """Return a bank of strings with leads of some lengths."""
    runs = tuple(
        run(f"run-{number}", f"string-{number}", "dc-panel", area, length)
        for number, length in enumerate(lengths, 1)
    )
    return built(place=IEC, strings=len(lengths), bank={"resistance": resistance}, loads=(load(),), runs=runs)


def test_strings_share_like_a_solved_network() -> None:
    made = strings((1.0, 4.0, 8.0))
    inside = value(string_resistance(made))
    resistors = [("bank", "panel", inside + value(cable_resistance(one))) for one in made.site.runs]
    shares = branch_currents(resistors, {"panel": 1.0})
    finding = first(check_parallel_paths, made, "string-leads:bank").finding
    worst = max((share * 3.0 - 1.0 for share in shares), key=abs)
    assert value(finding.value) == pytest.approx(worst, rel=1e-9)


@pytest.mark.parametrize(
    ("second", "kind"),
    [
        # within 10 % good, over 20 % to be mended: common practice for strings in parallel
        (1.0, None),
        (1.5, None),
        (3.0, "advise"),
        (5.0, "correct"),
    ],
)
def test_uneven_leads_by_how_uneven_they_are(second: float, kind: str | None) -> None:
    made = strings((1.0, second))
    assert raised(check_parallel_paths, made) == ({"string-leads:bank": kind} if kind else {})


def test_a_share_exactly_at_the_limit_is_inside_it() -> None:
    # two paths of 11 and 9: shares 0.45 and 0.55, ten percent from even
    made = strings((1.0, 1.0), resistance=0.004)
    lead = value(cable_resistance(made.site.runs[0]))
    longer = ((0.004 + lead) * 11.0 / 9.0 - 0.004) / lead
    assert raised(check_parallel_paths, strings((1.0, longer - 1e-6))) == {}
    assert raised(check_parallel_paths, strings((1.0, longer + 1e-3))) == {"string-leads:bank": "advise"}


def test_the_remedy_makes_all_leads_alike() -> None:
    made = strings((1.0, 8.0, 2.0))
    found = first(check_parallel_paths, made, "string-leads:bank")
    assert found.remedies[0].text == "all 3 leads 8 m of 35 mm²"
    assert raised(check_parallel_paths, changed(made, found.remedies[0].change)) == {}


def test_like_leads_are_even_though_their_length_is_not_told() -> None:
    assert raised(check_parallel_paths, strings(("unknown", "unknown"))) == {}
    found = first(check_parallel_paths, strings((1.0, "unknown")), "string-leads:bank").finding
    assert (found.kind, found.text) == ("not checked", "string leads not checked: length of run-2 unknown")


def test_leads_of_some_strings_only_are_asked_for_and_of_none_are_told() -> None:
    made = strings((1.0, 1.0))
    one = built(strings=2, loads=(load(),), runs=(run("run-1", "string-1", "dc-panel"),))
    assert raised(check_parallel_paths, one) == {"string-leads:bank": "not checked"}
    none = built(strings=2, loads=(load(),), runs=(run("run-main", "bank", "dc-panel"),))
    assert raised(check_parallel_paths, none) == {"string-leads-untold:bank": "advise"}
    assert raised(check_parallel_paths, made) == {}


def test_an_unlike_run_side_by_side_is_found() -> None:
    runs = (run("run-a", "bank", "dc-panel", 70.0, 2.0), run("run-b", "bank", "dc-panel", 35.0, 2.0))
    made = built(loads=(load(),), runs=(*runs, run("run-load", "dc-panel", "load-a", 10.0)))
    # two thirds and one third: 33 % over an even share
    finding = first(check_parallel_paths, made, "parallel-runs:run-a").finding
    assert finding.kind == "correct"
    assert abs(value(finding.value)) == pytest.approx(1.0 / 3.0)


def group(second: float, leg: str = "1") -> Plant:
    """Return two inverters of a group with AC leads of unlike length."""
    units = tuple(
        INVERTER | {"id": f"inverter-{n}", "run": f"run-dc-{n}", "group": "house", "group_leg": on}
        for n, on in ((1, "1"), (2, leg))
    )
    runs = (
        wire("run-ac-1", "inverter-1", "ac-panel", 8.37, 3.0),
        wire("run-ac-2", "inverter-2", "ac-panel", 8.37, second),
        run("run-dc-1", "dc-panel", "inverter-1", 67.44, 1.0),
        run("run-dc-2", "dc-panel", "inverter-2", 67.44, 1.0),
        run("run-main", "bank", "dc-panel", 107.22, 1.0),
    )
    return built(inverters=units, runs=runs)


def test_inverters_on_one_leg_want_equal_ac_leads() -> None:
    assert raised(check_parallel_paths, group(3.0)) == {}
    assert raised(check_parallel_paths, group(4.0)) == {"inverter-ac-leads:house": "advise"}
    found = first(check_parallel_paths, group(6.0), "inverter-ac-leads:house")
    assert found.finding.kind == "correct"
    assert raised(check_parallel_paths, changed(group(6.0), found.remedies[0].change)) == {}


def test_inverters_on_two_legs_need_no_equal_ac_leads() -> None:
    assert raised(check_parallel_paths, group(6.0, leg="2")) == {}


def test_unlike_dc_leads_in_a_group_are_advice() -> None:
    made = group(3.0)
    runs = [one.model_copy(update={"length": 3.0}) if one.id == "run-dc-2" else one for one in made.site.runs]
    made = made.model_copy(update={"site": made.site.model_copy(update={"runs": tuple(runs)})})
    assert raised(check_parallel_paths, made) == {"inverter-dc-leads:house": "advise"}
