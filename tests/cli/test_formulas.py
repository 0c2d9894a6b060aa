"""``commission formulas``: the list, the description, and the calculator."""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from math import isfinite
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from commission.calculator import worked_out
from commission.errors import EntryError
from commission.figure import line_text, why
from commission.formulas import registry

Command = Callable[..., Any]
KEYS = {"name", "title", "expression", "unit", "parameters", "source"}
FORMULAS = registry()
NAMES = sorted(FORMULAS)
BANK = ("cells=24", "reference=2.27", "slope=-3", "temperature=40", "temperature_reference=25")


def test_the_list_has_every_formula_with_its_source(commission: Command) -> None:
    """So that nobody has to believe a number."""
    rows = commission("formulas", "--json").data
    assert [row["name"] for row in rows] == NAMES
    assert all(set(row) == KEYS and row["source"] and row["expression"] for row in rows)
    text = commission("formulas").out.splitlines()
    assert [line.split()[0] for line in text] == NAMES


def test_a_formula_describes_itself(commission: Command) -> None:
    """Expression, inputs with units, source."""
    said = commission("formulas", "compensated_voltage")
    assert said.code == 0
    assert "cells × (reference" in said.out
    assert "[mV/K]" in said.out
    assert "References" in said.out


def test_a_formula_is_worked_out_with_its_inputs(commission: Command) -> None:
    """24 cells at 2.27 V, 15 K above 25 °C, −3 mV/K: 24 × (2.27 − 0.045) = 53.4 V."""
    said = commission("formulas", "compensated_voltage", *BANK, "--json")
    assert said.code == 0
    assert said.data["value"] == pytest.approx(53.4, abs=1e-9)
    assert said.data["inputs"]["slope"] == "-3"
    text = commission("formulas", "compensated_voltage", *BANK)
    assert text.out.startswith("53.4 V")


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        pytest.param(("compensated_voltge",), "compensated_voltage", id="a name mistyped"),
        pytest.param(("compensated_voltage", *BANK[:4]), "temperature_reference", id="an input missing"),
        pytest.param(("compensated_voltage", *BANK, "wind=3"), "wind", id="an input that is none"),
        pytest.param(("compensated_voltage", "cells"), "cells", id="no equals sign"),
        pytest.param(("compensated_voltage", *BANK[:4], "temperature_reference=2x"), "2x", id="no number"),
        pytest.param(("compensated_voltage", "cells=0", *BANK[1:]), "cells", id="out of its range"),
        pytest.param(("compensated_voltage", "cells=nan", *BANK[1:]), "cells", id="no finite number"),
        pytest.param(
            ("compensated_voltage", *BANK[:2], "slope=1e308", "temperature=1e308", BANK[4]),
            "finite",
            id="huge",
        ),
    ],
)
def test_what_cannot_be_worked_out_is_explained(
    commission: Command, arguments: tuple[str, ...], says: str
) -> None:
    """Exit code 2, and the text names what was wrong."""
    said = commission("formulas", *arguments)
    assert said.code == 2
    assert said.out == ""
    assert says in said.err


_TYPED = st.one_of(
    st.floats().map(str),
    st.integers(-10, 1000).map(str),
    st.sampled_from(["", "0", "1e400", "lead", "nan", "-inf", "1,2,3", "12,5", "½", "²", "0x10", "1_000"]),
)


@pytest.mark.parametrize("name", NAMES)
@settings(max_examples=20)
@given(data=st.data())
def test_no_input_of_a_formula_ends_in_a_traceback(name: str, data: st.DataObject) -> None:
    """Whatever is typed: a finite number with its reasons, or a sentence that says what is wrong."""
    formula = FORMULAS[name]
    pairs = [f"{key}={data.draw(_TYPED)}" for key in formula.parameters]
    with contextlib.suppress(EntryError):
        result = worked_out(formula, pairs)
        assert isfinite(result.value)
        assert all(line_text(line).strip() for line in why(result))
