"""What is wrong with a file, said in words that the person who wrote it can act on."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from difflib import get_close_matches
from typing import Any, Final

from pydantic import ValidationError

from commission.errors import Problem

_WANTED: Final = {
    "bool_type": "true or false",
    "bool_parsing": "true or false",
    "string_type": "text in quotes",
    "string_unicode": "plain text",
    "float_type": "a number",
    "float_parsing": "a number",
    "int_type": "a whole number",
    "int_parsing": "a whole number",
    "int_from_float": "a whole number",
    "int_parsing_size": "a smaller whole number",
    "model_type": "a table",
    "model_attributes_type": "a table",
    "dict_type": "a table",
    "tuple_type": "a list in square brackets",
    "list_type": "a list in square brackets",
    "finite_number": "a finite number",
}
_BOUND: Final = {
    "greater_than": ("gt", "must be more than"),
    "greater_than_equal": ("ge", "must be at least"),
    "less_than": ("lt", "must be less than"),
    "less_than_equal": ("le", "must be at most"),
}
_MEMBERS: Final = frozenset({"float", "int", "str", "bool", "none"})
"""How the parts of a union are named in a place; they are no keys of the file."""


def problem(file: str, key: str, value: str, wrong: str, right: str) -> Problem:
    """Return a problem whose texts can be shown on a terminal, whatever the file or its name holds."""
    return Problem(*(printable(text, 2000) for text in (file, key, value, wrong, right)))


def printable(text: str, longest: int = 60) -> str:
    """Return text without control characters, shortened."""
    plain = text[: longest + 1]
    if not plain.isprintable():
        plain = "".join(letter if letter.isprintable() else "�" for letter in plain)
    return plain if len(plain) <= longest else plain[: longest - 1] + "…"


def explained(error: ValidationError, data: Mapping[str, Any], file: str, within: str = "") -> list[Problem]:
    """Return one problem for each value that is wrong; the parts of a union speak as one."""
    at: dict[str, list[Any]] = {}
    for item in error.errors(include_url=False):
        key = ".".join(part for part in (within, _path(item["loc"], data)) if part)
        at.setdefault(key, []).append(item)
    return [_problem(items, key, data, file) for key, items in at.items()]


def _problem(items: list[Any], key: str, data: Mapping[str, Any], file: str) -> Problem:
    own = next((item for item in items if item["type"] in {"value_error", "assertion_error"}), None)
    first = own or items[0]
    if first["type"] == "missing":
        return problem(file, key, "", "is missing", _meant(first))
    value = _shown(first["input"])
    if own is not None:
        return problem(file, key, value, own["msg"].removeprefix("Value error, "), "")
    brackets = _brackets(first, key)
    if brackets:
        return problem(file, key, "", *brackets)
    plain = next((item for item in items if not _is_kind(item)), None)
    if plain is not None:
        return problem(file, key, value, *_out_of_bounds(plain))
    words = [word for item in items for word in _words(item)]
    kinds = [_WANTED[item["type"]] for item in items if item["type"] in _WANTED]
    if isinstance(first["input"], str) and len(words) > 1:
        return problem(
            file, key, value, "is not one of the words known here", _nearest(first["input"], words)
        )
    wanted = list(dict.fromkeys([*kinds, *(f'"{word}"' for word in words)]))
    return problem(file, key, value, "is of the wrong kind", f"{' or '.join(wanted)} is wanted")


def _is_kind(item: Any) -> bool:
    return item["type"] in _WANTED or item["type"] == "literal_error"


def _words(item: Any) -> list[str]:
    if item["type"] != "literal_error":
        return []
    expected = item["ctx"]["expected"]
    return re.findall(r"'([^']*)'", expected) or re.findall(r"\d+", expected)


def _nearest(value: str, words: Sequence[str]) -> str:
    small = {word.lower(): word for word in words}
    near = get_close_matches(value.lower(), small, n=1, cutoff=0.5)
    listed = ", ".join(words)
    return f"did you mean '{small[near[0]]}'? known: {listed}" if near else f"one of: {listed}"


def _brackets(item: Any, key: str) -> tuple[str, str] | None:
    """Return what is wrong where [table] and [[list of tables]] were taken for each other."""
    name = re.sub(r"\[[^\]]*\]", "", key)
    if item["type"] == "tuple_type" and isinstance(item["input"], dict):
        return "is one table where a list of tables is wanted", f"write [[{name}]] with double brackets"
    if item["type"] in {"model_type", "dict_type"} and isinstance(item["input"], list):
        return "is a list where one table is wanted", f"write [{name}] with single brackets, once"
    return None


def _out_of_bounds(item: Any) -> tuple[str, str]:
    kind, context = item["type"], item.get("ctx", {})
    if kind in _BOUND:
        name, says = _BOUND[kind]
        return f"{says} {context[name]:g}", ""
    if kind == "string_pattern_mismatch":
        ident = "a-z0-9" in context["pattern"]
        right = "small letters, digits and single hyphens" if ident else "plain text on one line"
        return "has characters that it may not have", right
    if kind == "too_short":
        return "has too few entries", f"at least {context['min_length']} wanted"
    if kind == "string_too_long":
        return "is too long", f"at most {context['max_length']} characters"
    if kind.startswith("union_tag"):
        words = re.findall(r"'([^']*)'", context.get("expected_tags", ""))
        return "its kind is missing or not known", f"kind is one of: {', '.join(words)}"
    message = str(item["msg"]).removeprefix("Input should be ")
    return message[:1].lower() + message[1:], ""


def _meant(item: Any) -> str:
    """Return what to do about a missing key: the one beside it that looks like it, else to add it."""
    around = item["input"]
    name = str(item["loc"][-1])
    if isinstance(around, dict):
        near = get_close_matches(name, [str(key) for key in around], n=1, cutoff=0.8)
        if near:
            return f"is it meant by {near[0]}?"
    return "add it"


def _path(location: Sequence[int | str], data: Any) -> str:
    """Return a place as the key a person finds: list items by their id, parts of a union left out."""
    key = ""
    for step in location:
        if isinstance(step, int):
            item: Any = data[step] if isinstance(data, list | tuple) and step < len(data) else None
            key += f"[{_name(item, step)}]"
            data = item
        elif isinstance(data, dict) and (step in data or not _is_member(step, data)):
            key += f".{printable(step)}" if key else printable(step)
            data = data.get(step)
    return key


def _name(item: Any, index: int) -> str:
    """Return the id of a list item, else its number as a person counts."""
    ident = item.get("id") if isinstance(item, dict) else None
    return printable(ident) if isinstance(ident, str) else f"number {index + 1}"


def _is_member(step: str, data: Mapping[str, Any]) -> bool:
    return "[" in step or step in _MEMBERS or step.startswith("constrained-") or data.get("kind") == step


def _shown(value: Any) -> str:
    if isinstance(value, dict | list):
        return "a table" if isinstance(value, dict) else "a list"
    try:
        text = repr(value) if isinstance(value, str) else str(value)
    except ValueError:  # more digits than Python writes
        text = "a very long number"
    if isinstance(value, bool):
        text = text.lower()
    return printable(text)
