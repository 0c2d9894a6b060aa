"""What every formula owes to the person who asks why: units, an example that runs, a source, a reference."""

from __future__ import annotations

import doctest
import importlib
import inspect
import re

from commission.figure import Formula
from commission.formulas import registry
from commission.units import symbol_of
from tests.each import each

FORMULAS = registry()
EACH = each("formula", FORMULAS.values(), ids=FORMULAS)
UNIT = re.compile(r"\[(unit of [^\[\]]+|[^\[\]\s]+)\]$")


def sections(formula: Formula[...]) -> dict[str, str]:
    """Return the sections of a docstring by their headings."""
    text = inspect.getdoc(formula.function) or ""
    parts = re.split(r"(?m)^(\w[\w ]*)\n-{3,}$", text)
    return {heading: body.strip("\n") for heading, body in zip(parts[1::2], parts[2::2], strict=True)}


def described(section: str) -> dict[str, str]:
    """Return each name of a section with its description in one line."""
    found: dict[str, list[str]] = {}
    names: list[str] = []
    for line in section.splitlines():
        if line and not line[0].isspace():
            names = [name.strip() for name in line.split(":")[0].split(",")]
            found.update({name: [] for name in names})
        elif line.strip():
            for name in names:
                found[name].append(line.strip())
    return {name: " ".join(lines) for name, lines in found.items()}


def unit_of(description: str) -> str:
    """Return the unit in square brackets at the end of a description; empty where there is none.

    A value whose unit is the caller's says so: ``[unit of the setting]``.
    """
    match = UNIT.search(description)
    return match[1] if match else ""


def test_the_registry_holds_formulas():
    assert len(FORMULAS) > 50


@EACH
def test_docstring_describes_exactly_the_parameters(formula):
    assert tuple(described(sections(formula)["Parameters"])) == tuple(
        inspect.signature(formula.function).parameters
    )


@EACH
def test_every_parameter_has_words_and_a_unit(formula):
    for name, description in described(sections(formula)["Parameters"]).items():
        unit = unit_of(description)
        assert unit, f"{name}: no unit in square brackets at the end of '{description}'"
        assert len(description) > len(unit) + 2, f"{name}: nothing but a unit"


@EACH
def test_units_are_spelled_as_the_program_shows_them(formula):
    texts = described(sections(formula)["Parameters"]).values()
    for unit in (formula.unit, *map(unit_of, texts)):
        assert symbol_of(unit) in {None, unit}, f"'{unit}' is written {symbol_of(unit)} here"


@EACH
def test_result_has_the_unit_that_the_formula_is_registered_with(formula):
    returned = described(sections(formula)["Returns"])
    assert list(returned) == ["float"]
    unit = unit_of(returned["float"])
    assert unit, "no unit in square brackets"
    assert formula.unit == ("" if unit.startswith("unit of ") else unit)


@EACH
def test_refusals_are_described(formula):
    assert described(sections(formula)["Raises"])["FormulaError"]


@EACH
def test_source_and_reference_are_given(formula):
    assert len(formula.source.strip()) > 3
    assert re.search(r"(?m)^\.\. \[1\] \S.{5}", sections(formula)["References"])


@EACH
def test_written_out_expression_names_every_parameter(formula):
    for name in inspect.signature(formula.function).parameters:
        assert re.search(rf"(?<![a-z_]){name}(?![a-z_])", formula.expression), (
            f"'{formula.expression}' lacks {name}"
        )


@EACH
def test_an_example_runs_as_a_test(formula):
    examples = doctest.DocTestParser().get_examples(sections(formula)["Examples"])
    calls = [example for example in examples if formula.name in example.source]
    assert calls, "no example calls the formula"
    assert all(example.want.strip() for example in calls), "an example without a result"
    module = importlib.import_module(formula.function.__module__)
    found = {test.name for test in doctest.DocTestFinder().find(module) if test.examples}
    assert f"{module.__name__}.{formula.name}" in found, "the test run does not find the example"


@EACH
def test_title_says_what_it_is(formula):
    title = (inspect.getdoc(formula.function) or "").splitlines()[0]
    assert title.endswith(".")
    assert formula.title == title.rstrip(".")


@EACH
def test_inputs_are_what_lineage_can_keep_and_the_result_is_a_float(formula):
    signature = inspect.signature(formula.function)
    allowed = {"float", "str", "Sequence[float]"}
    assert {str(one.annotation) for one in signature.parameters.values()} <= allowed
    assert signature.return_annotation == "float"
