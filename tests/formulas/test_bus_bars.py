"""What may feed a bus bar, against the rule's own figures."""

from __future__ import annotations

import pytest

from commission.errors import FormulaError
from commission.formulas.bus_bars import bus_bar_limit, bus_bar_needed
from commission.formulas.overcurrent import largest_backfed_breaker
from tests.formulas.worked import Row, row

NEC = "NEC 2020, 705.12(B)(3)(2): 120 % of the bus bar"

ROWS = [
    row("200 A bus bar fed from both ends", bus_bar_limit, 240.0, 1e-9, NEC, bus_bar=200, factor=1.2),
    row("225 A bus bar fed from both ends", bus_bar_limit, 270.0, 1e-9, NEC, bus_bar=225, factor=1.2),
    row("at one end", bus_bar_limit, 63.0, 1e-9, "IEC 61439-1: the rated current", bus_bar=63, factor=1.0),
    row("200 A main and 40 A at the other end", bus_bar_needed, 200.0, 1e-9, NEC, supplies=240, factor=1.2),
]


@pytest.mark.parametrize("example", ROWS)
def test_worked_examples(example: Row) -> None:
    assert example.value() == pytest.approx(example.expected, abs=example.tolerance)


def test_the_limit_leaves_the_published_breaker_beside_the_main() -> None:
    # published with NEC 705.12(B): bus bar 200 A, main 200 A, 40 A at the opposite end
    assert bus_bar_limit(200.0, 1.2) - 200.0 == pytest.approx(largest_backfed_breaker(200.0, 200.0, 1.2))


@pytest.mark.parametrize("bad", [{"bus_bar": 0.0, "factor": 1.2}, {"bus_bar": 200.0, "factor": 0.9}])
def test_what_is_no_bus_bar_is_refused(bad: dict[str, float]) -> None:
    with pytest.raises(FormulaError):
        bus_bar_limit(**bad)


@pytest.mark.parametrize("bad", [{"supplies": 0.0, "factor": 1.2}, {"supplies": 240.0, "factor": 0.9}])
def test_what_feeds_nothing_is_refused(bad: dict[str, float]) -> None:
    with pytest.raises(FormulaError):
        bus_bar_needed(**bad)
