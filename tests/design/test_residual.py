"""Residual-current devices: their type behind inverters, and the touch voltage with an electrode of its own.

Sources, from memory: IEC 60364-5-53 531.3.3 (type A or better with electronics), IEC 60364-7-712 (type B
before a PV inverter unless its maker says otherwise), IEC 60364-4-41 411.5.3 (electrode × residual current
at most 50 V).
"""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from commission.design.residual import check_residual
from commission.design.types import Scene
from commission.figure import Figure
from commission.plant.plant import Plant
from commission.sheet.settle import make_sheet
from tests.design.alternating_plants import breaker, found, inverter, kinds, mode, supplied

TYPE, TOUCH = "residual-type:breaker-load", "touch-voltage:breaker-load"


def apart(electrode: object, residual: object = 0.3, kind: str = "A", rules: str = "iec-230") -> Plant:
    """Return an inverter in a TT system with a residual-current release before its load."""
    return supplied(
        inverter(rules=rules),
        rules=rules,
        guards=[breaker("breaker-load", "load-1", residual_current=residual, residual_type=kind)],
        modes=[mode("island", "inverter-1", earthing="TT")],
        earthing={"electrode_resistance": electrode},
    )


def of_type(kind: str, *, before_pv: bool = False, rules: str = "iec-230") -> Plant:
    """Return an inverter with a residual-current release before a load or a PV inverter."""
    pv = {"id": "ac-pv-1", "profile": "ac-pv-230-3000-trip-only", "leg": "1", "panel_breaker": "breaker-load"}
    of = "ac-pv-1" if before_pv else "load-1"
    return supplied(
        inverter(rules=rules),
        rules=rules,
        guards=[breaker("breaker-load", of, residual_current=0.03, residual_type=kind)],
        modes=[mode("island", "inverter-1")],
        ac_pv_inverters=[pv] if before_pv else [],
    )


@pytest.mark.parametrize(
    ("kind", "before_pv", "raised"),
    [
        ("AC", False, {("correct", TYPE)}),
        ("A", False, set()),
        ("F", False, set()),
        ("B", False, set()),
        ("AC", True, {("correct", TYPE)}),
        ("A", True, {("advise", TYPE)}),
        ("B", True, set()),
        ("unknown", False, {("not checked", TYPE)}),
    ],
)
def test_the_type_sees_the_fault(kind: str, before_pv: bool, raised: set[tuple[str, str]]) -> None:
    assert kinds(check_residual, of_type(kind, before_pv=before_pv)) == raised


def test_types_are_not_asked_for_where_devices_carry_none() -> None:
    # UL 943 knows no types
    assert not found(check_residual, of_type("unknown", rules="north-america"))


@pytest.mark.parametrize(
    ("electrode", "residual", "raised"),
    [
        (166.6, 0.3, set()),  # 167 Ω by BS 7671 table 41.5
        (166.7, 0.3, {("correct", TOUCH)}),
        (500.0, 0.1, set()),
        (500.1, 0.1, {("correct", TOUCH)}),
        (1666.0, 0.03, set()),
        (1667.0, 0.03, {("correct", TOUCH)}),
        ("unknown", 0.3, {("not checked", "touch-voltage:site")}),
        (45.0, "unknown", {("not checked", TOUCH)}),
    ],
)
def test_the_touch_voltage_of_an_electrode(
    electrode: object, residual: object, raised: set[tuple[str, str]]
) -> None:
    assert kinds(check_residual, apart(electrode, residual)) == raised


def test_a_finer_device_is_offered_and_the_electrode_named() -> None:
    made = apart(400.0)
    (touch,) = check_residual(Scene(made, make_sheet(made)))
    assert isinstance(touch.finding.value, Figure)
    assert touch.finding.value.value == pytest.approx(120.0)
    assert "166.7 Ω" in touch.finding.remedy
    assert [change.value for remedy in touch.remedies for change in remedy.change] == [0.1, 0.03]


def test_a_system_earthed_at_its_source_has_no_such_limit() -> None:
    made = supplied(
        inverter(),
        guards=[breaker("breaker-load", "load-1", residual_current=0.3, residual_type="A")],
        modes=[mode("island", "inverter-1")],
        earthing={"electrode_resistance": 900.0},
    )
    assert not found(check_residual, made)


def test_a_region_without_a_touch_voltage_has_no_such_limit() -> None:
    assert not found(check_residual, apart(5000.0, rules="north-america"))


@settings(max_examples=25)
@given(
    electrode=st.floats(1.0, 3000.0),
    better=st.floats(0.1, 1.0),
    residual=st.sampled_from([0.03, 0.1, 0.3, 0.5]),
)
def test_a_better_electrode_never_adds_a_finding(electrode: float, better: float, residual: float) -> None:
    assert kinds(check_residual, apart(electrode * better, residual)) <= kinds(
        check_residual, apart(electrode, residual)
    )


def _any_type() -> st.SearchStrategy[Any]:
    return st.sampled_from(["AC", "A", "F", "B"])


@settings(max_examples=25)
@given(kind=_any_type(), before_pv=st.booleans())
def test_type_b_never_adds_a_finding(kind: str, before_pv: bool) -> None:
    assert kinds(check_residual, of_type("B", before_pv=before_pv)) <= kinds(
        check_residual, of_type(kind, before_pv=before_pv)
    )
