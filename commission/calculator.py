"""The registry of formulas as a calculator: what was typed becomes the inputs of a formula."""

from __future__ import annotations

from collections.abc import Sequence
from difflib import get_close_matches

from commission.errors import EntryError
from commission.figure import Argument, Formula, given


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
    """Return what was typed as a number, several numbers behind commas, or a word."""
    try:
        numbers = [given(float(part), "", key) for part in text.split(",") if part.strip()]
    except ValueError:
        if text.replace("-", "").isalpha():
            return text
        raise EntryError(f"{formula.name}: {key} = '{text}' is not a number, such as {key}=12.5") from None
    wants_several = "Sequence" in str(formula.function.__annotations__.get(key, ""))
    if not numbers or (len(numbers) > 1 and not wants_several):
        raise EntryError(f"{formula.name}: {key} = '{text}': one number is wanted, such as {key}=12.5")
    return numbers if wants_several else numbers[0]


def no_such_formula(name: str, known: dict[str, Formula[...]]) -> str:
    """Say that there is no formula of a name, with the nearest ones."""
    near = get_close_matches(name, list(known), n=3, cutoff=0.4)
    return f"there is no formula '{name}'" + (
        f"; did you mean {', '.join(near)}?" if near else "; see: commission formulas"
    )
