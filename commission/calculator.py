"""The registry of formulas as a calculator: what was typed becomes the inputs of a formula."""

from __future__ import annotations

from collections.abc import Sequence
from difflib import get_close_matches
from math import isfinite
from typing import Final

from commission.errors import EntryError
from commission.figure import Argument, Figure, Formula, Unknown, given

_BEYOND: Final = "with these numbers it has no finite result; look for a slip of digits or of the unit"


def typed_arguments(formula: Formula[...], pairs: Sequence[str]) -> dict[str, Argument]:
    """Return the inputs of a formula from ``key=value`` texts.

    Raises
    ------
    EntryError
        If an input is missing, unknown or no number; the text says what is wanted.
    """
    found: dict[str, Argument] = {}
    for pair in pairs:
        key, equals, text = pair.partition("=")
        if not equals or key not in formula.parameters:
            known = ", ".join(formula.parameters)
            raise EntryError(
                f"{formula.name}: '{pair}' is not one of its inputs; give key=value with: {known}"
            )
        found[key] = _argument(formula, key, text)
    missing = [key for key in formula.parameters if key not in found]
    if missing:
        raise EntryError(f"{formula.name}: still wanted: {', '.join(f'{key}=…' for key in missing)}")
    return found


def _argument(formula: Formula[...], key: str, text: str) -> Argument:
    """Return what was typed as a number, several numbers behind commas, or a word, as the input wants it."""
    wanted = str(formula.function.__annotations__.get(key, ""))
    if wanted == "str":
        return text
    try:
        numbers = [float(part) for part in text.split(",") if part.strip()]
    except ValueError:
        raise EntryError(f"{formula.name}: {key} = '{text}' is not a number, such as {key}=12.5") from None
    if not all(isfinite(number) for number in numbers):
        raise EntryError(f"{formula.name}: {key} = '{text}' is not a finite number, such as {key}=12.5")
    figures = [given(number, "", key) for number in numbers]
    several = "Sequence" in wanted
    if not figures or (len(figures) > 1 and not several):
        raise EntryError(f"{formula.name}: {key} = '{text}': one number is wanted, such as {key}=12.5")
    return figures if several else figures[0]


def worked_out(formula: Formula[...], pairs: Sequence[str]) -> Figure:
    """Return the result of a formula, with its lineage, from ``key=value`` texts.

    Raises
    ------
    EntryError
        If an input cannot be used, or the numbers are beyond what can be computed.
    """
    arguments = typed_arguments(formula, pairs)
    try:
        result = formula.of(**arguments)
    except (ArithmeticError, ValueError):
        raise EntryError(f"{formula.name}: {_BEYOND}") from None
    if isinstance(result, Unknown):
        raise EntryError(f"{formula.name}: {', '.join(result.missing)}")
    if not isfinite(result.value):
        raise EntryError(f"{formula.name}: {_BEYOND}")
    return result


def no_such_formula(name: str, known: dict[str, Formula[...]]) -> str:
    """Say that there is no formula of a name, with the nearest ones."""
    near = get_close_matches(name, list(known), n=3, cutoff=0.4)
    return f"there is no formula '{name}'" + (
        f"; did you mean {', '.join(near)}?" if near else "; see: commission formulas"
    )
