"""The command line of the formulas: list them, or work one out by hand."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from commission.cli_voice import BAD_INPUT, OK, Commands, Voice

if TYPE_CHECKING:
    from commission.figure import Formula


def add_command(command: Commands) -> None:
    """Add the command of the formulas."""
    formulas = command("formulas", _formulas, "list the formulas, or work one out by hand", json=True)
    formulas.add_argument("name", nargs="?", help="the formula's name")
    formulas.add_argument("values", nargs="*", metavar="key=value", help="its inputs, in the units it names")


def _formulas(options: argparse.Namespace, voice: Voice) -> int:
    from commission.calculator import no_such_formula
    from commission.formulas import registry

    known = registry()
    if options.name is None:
        return _list_formulas(known, voice, as_json=options.json)
    formula = known.get(options.name)
    if formula is None:
        voice.complain(no_such_formula(options.name, known))
        return BAD_INPUT
    if not options.values:
        return _describe(formula, voice, as_json=options.json)
    return _work_out(formula, options.values, voice, as_json=options.json)


def _list_formulas(known: dict[str, Formula[...]], voice: Voice, *, as_json: bool) -> int:
    if as_json:
        voice.print_json([_formula_json(formula) for formula in known.values()])
        return OK
    for name, formula in known.items():
        voice.say(f"{name:<40} {formula.title}")
    return OK


def _formula_json(formula: Formula[...]) -> dict[str, Any]:
    return {
        "name": formula.name,
        "title": formula.title,
        "expression": formula.expression,
        "unit": formula.unit,
        "parameters": list(formula.parameters),
        "source": formula.source,
    }


def _describe(formula: Formula[...], voice: Voice, *, as_json: bool) -> int:
    import inspect

    if as_json:
        voice.print_json(_formula_json(formula))
        return OK
    voice.say(f"{formula.name}({', '.join(formula.parameters)})")
    voice.say(f"= {formula.expression}    ({formula.unit or 'unit of its input'})")
    voice.say(f"source: {formula.source}")
    voice.say("")
    voice.say(inspect.getdoc(formula.function) or "")
    return OK


def _work_out(formula: Formula[...], pairs: Sequence[str], voice: Voice, *, as_json: bool) -> int:
    from commission.calculator import worked_out
    from commission.figure import line_text, why

    result = worked_out(formula, pairs)
    if as_json:
        inputs = dict(pair.split("=", 1) for pair in pairs)
        voice.print_json(_formula_json(formula) | {"inputs": inputs, "value": result.value})
        return OK
    for line in why(result):
        voice.say(line_text(line))
    return OK
