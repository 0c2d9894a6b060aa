"""The one reader of TOML for sites, profiles, rule sets and checklists, and the errors that it makes."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping, Sequence
from difflib import get_close_matches
from pathlib import Path
from typing import Any, Final, TypeVar

from pydantic import TypeAdapter, ValidationError

from commission.errors import Problem, SiteError
from commission.plant.values import Model

LARGEST: Final = 2_000_000
"""Bytes; no file written by hand comes near."""
T = TypeVar("T")


def read_toml(path: Path) -> dict[str, Any]:
    """Return a TOML file as a dictionary.

    Raises
    ------
    SiteError
        If the file cannot be read, is too large, is not UTF-8 or is not TOML.
    """
    name = path.name
    try:
        if path.stat().st_size > LARGEST:
            raise SiteError(
                [Problem(name, "file", "", f"larger than {LARGEST:,} bytes", "a file written by hand")]
            )
        return tomllib.loads(path.read_bytes().decode("utf-8"))
    except FileNotFoundError:
        raise SiteError([Problem(str(path), "file", "", "there is no such file", _nearby(path))]) from None
    except IsADirectoryError:
        raise SiteError([Problem(str(path), "file", "", "this is a folder", "name the file in it")]) from None
    except OSError as error:
        raise SiteError([Problem(str(path), "file", "", f"cannot be read: {error.strerror}", "")]) from None
    except UnicodeDecodeError as error:
        wrong = f"byte {error.start} is not UTF-8"
        raise SiteError([Problem(name, "file", "", wrong, "save it as UTF-8")]) from None
    except tomllib.TOMLDecodeError as error:
        raise SiteError([Problem(name, "file", "", f"not TOML: {error}", "")]) from None
    except RecursionError:
        raise SiteError(
            [Problem(name, "file", "", "nested too deeply", "tables a few levels deep")]
        ) from None


def _nearby(path: Path) -> str:
    folder = path.parent
    if not folder.is_dir():
        return f"the folder {folder} is not there either"
    near = get_close_matches(path.name, [found.name for found in folder.glob("*.toml")], n=1, cutoff=0.5)
    return f"did you mean {near[0]}?" if near else ""


def validated(model: type[T] | TypeAdapter[T], data: Mapping[str, Any], file: str, within: str = "") -> T:
    """Return a model made from a dictionary.

    Parameters
    ----------
    file
        Name of the file, for errors.
    within
        Key under which the data stand in the file, for errors.

    Raises
    ------
    SiteError
        With one problem for each thing wrong, all at once.
    """
    adapter = model if isinstance(model, TypeAdapter) else TypeAdapter(model)
    try:
        return adapter.validate_python(data)
    except ValidationError as error:
        problems = [_problem(item, data, file, within) for item in error.errors()]
        raise SiteError(_once(problems)) from None


def unknown_keys(model: Model, file: str, within: str = "") -> Iterator[Problem]:
    """Yield a warning for every key that no field of the model takes, with the nearest one that does."""
    names = _names(type(model))
    for key in model.model_extra or {}:
        near = get_close_matches(key, names, n=1, cutoff=0.6)
        right = f"did you mean {near[0]}?" if near else f"known here: {', '.join(sorted(names))}"
        yield Problem(
            file, f"{within}.{key}".lstrip("."), "", "unknown key; it is kept but has no effect", right
        )
    for field, info in type(model).model_fields.items():
        inner = f"{within}.{info.alias or field}".lstrip(".")
        yield from _unknown_within(getattr(model, field), file, inner)


def _unknown_within(value: Any, file: str, within: str) -> Iterator[Problem]:
    if isinstance(value, Model):
        yield from unknown_keys(value, file, within)
    elif isinstance(value, tuple | list):
        for index, item in enumerate(value):
            if isinstance(item, Model):
                yield from unknown_keys(item, file, f"{within}[{getattr(item, 'id', index)}]")
    elif isinstance(value, dict):
        for key, item in value.items():
            if isinstance(item, Model):
                yield from unknown_keys(item, file, f"{within}.{key}")


def _names(model: type[Model]) -> list[str]:
    return [info.alias or name for name, info in model.model_fields.items()]


def _once(problems: Sequence[Problem]) -> list[Problem]:
    """Drop repeats: a union reports the same slip once for each of its members."""
    return list({(problem.key, problem.wrong): problem for problem in problems}.values())


def _problem(item: Any, data: Mapping[str, Any], file: str, within: str) -> Problem:
    key = ".".join(part for part in (within, _path(item["loc"], data)) if part)
    value = item["input"]
    kind = item["type"]
    if kind == "missing":
        return Problem(file, key, "", "is missing", "add it")
    wrong = item["msg"].removeprefix("Value error, ").removeprefix("Input should be ")
    if kind == "literal_error":
        near = _nearest_word(value, wrong)
        return Problem(file, key, _shown(value), "is not one of the words known here", near)
    if kind == "string_pattern_mismatch":
        right = (
            "small letters, digits and single hyphens" if "a-z0-9" in item["ctx"]["pattern"] else "plain text"
        )
        return Problem(file, key, _shown(value), "has characters that it may not have", right)
    if kind.endswith(("_type", "_parsing")):
        return Problem(file, key, _shown(value), "is of the wrong kind", f"{wrong} is wanted")
    return Problem(file, key, _shown(value), wrong[0].lower() + wrong[1:], "")


def _nearest_word(value: Any, allowed: str) -> str:
    words = [word for word in allowed.split("'") if word.strip(" ,") not in {"", "or"}]
    near = get_close_matches(str(value), words, n=1, cutoff=0.5)
    listed = ", ".join(words)
    return f"did you mean '{near[0]}'? known: {listed}" if near else f"one of: {listed}"


def _path(location: Sequence[int | str], data: Any) -> str:
    """Return a location as the key a person finds: list items by their id, types of a union left out."""
    key = ""
    for step in location:
        if isinstance(step, int):
            item = data[step] if isinstance(data, list | tuple) and step < len(data) else None
            key += f"[{item['id'] if isinstance(item, dict) and isinstance(item.get('id'), str) else step}]"
            data = item
        elif isinstance(data, dict) and (step in data or not _is_type_name(step)):
            key += f".{step}" if key else step
            data = data.get(step)
    return key


def _is_type_name(step: str) -> bool:
    return "[" in step or step in {"float", "int", "str", "bool", "none"}


def _shown(value: Any) -> str:
    text = repr(value) if isinstance(value, str) else str(value)
    text = "".join(letter if letter.isprintable() else "�" for letter in text)
    return text if len(text) <= 60 else text[:57] + "…"
