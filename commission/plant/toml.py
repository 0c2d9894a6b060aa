"""The one reader of TOML for sites, profiles, rule sets and checklists."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from difflib import get_close_matches
from pathlib import Path
from typing import Any, Final, TypeVar

from pydantic import TypeAdapter, ValidationError

from commission.errors import Problem, SiteError
from commission.plant.explain import explained, printable, problem
from commission.plant.values import Model

LARGEST: Final = 2_000_000
"""Bytes; no file written by hand comes near."""
DEEPEST: Final = 24
"""Tables within tables; a site has six."""
_LONG_KEY: Final = re.compile(r"(?<![\w\"'-])(?:[\w\"'-]++\s*+\.\s*+){25}")
"""Dotted keys that nest too deeply; the TOML reader takes the square of their length in time."""
_HOLDERS: Final = (Model, tuple, list, dict)
"""What can have keys of its own inside."""
T = TypeVar("T")


def read_toml(path: Path) -> dict[str, Any]:
    """Return a TOML file as a dictionary.

    Raises
    ------
    SiteError
        If the file cannot be read, is too large, is not UTF-8, is not TOML or nests too deeply.
    """
    return parsed(_bytes(path), path.name)


def _bytes(path: Path) -> bytes:
    try:
        if path.is_dir():
            raise _whole(str(path), "this is a folder", "name the file in it")
        if not path.exists():
            raise _whole(str(path), "there is no such file", _nearby(path))
        if not path.is_file():
            raise _whole(str(path), "this is no ordinary file", "name a file that ends in .toml")
        if path.stat().st_size > LARGEST:
            raise _whole(path.name, f"larger than {LARGEST:,} bytes", "a file written by hand")
        return path.read_bytes()
    except OSError as error:
        raise _whole(str(path), f"cannot be read: {error.strerror}", "") from None
    except ValueError:  # the name holds a null character
        raise _whole(str(path), "this is no name of a file", "") from None


def parsed(content: bytes, name: str) -> dict[str, Any]:
    """Return the bytes of a TOML file as a dictionary.

    Raises
    ------
    SiteError
        If they are not UTF-8, not TOML, or nest too deeply.
    """
    deep = _whole(name, "nested too deeply", "tables a few levels deep")
    try:
        text = content.decode("utf-8-sig")
        if _LONG_KEY.search(text):
            raise deep
        data = tomllib.loads(text)
    except UnicodeDecodeError as error:
        raise _whole(name, f"byte {error.start} is not UTF-8", "save it as UTF-8") from None
    except tomllib.TOMLDecodeError as error:
        raise _whole(name, f"not TOML: {error}", _toml_advice(str(error))) from None
    except RecursionError:
        raise deep from None
    except ValueError:  # more digits than Python reads
        raise _whole(
            name, "holds a number of thousands of digits", "numbers as a person writes them"
        ) from None
    if _depth(data) > DEEPEST:
        raise deep
    return data


def _whole(name: str, wrong: str, right: str) -> SiteError:
    return SiteError([problem(name, "file", "", wrong, right)])


def _toml_advice(error: str) -> str:
    if "date" in error:
        return "a date of the calendar, such as 2021-06-30"
    if "Invalid value" in error:
        return 'text stands in quotes: "unknown", "40 ft"; numbers have a point: 13.2'
    if "overwrite" in error or "twice" in error:
        return "each key once, each [table] once; lists of tables have double brackets: [[runs]]"
    return ""


def _depth(data: object) -> int:
    """Return how deep tables and lists nest, without recursion."""
    depth, level = 0, [data]
    while level:
        depth += 1
        inner: list[object] = []
        for item in level:
            if isinstance(item, dict):
                inner += item.values()
            elif isinstance(item, list):
                inner += item
        level = inner
    return depth


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
        raise SiteError(explained(error, data, file, within)) from None


def unknown_keys(model: Model, file: str, within: str = "") -> Iterator[Problem]:
    """Yield a warning for every key that no field of the model takes, with the nearest one that does."""
    fields = type(model).model_fields
    names = [info.alias or name for name, info in fields.items()] if model.model_extra else []
    for key in model.model_extra or {}:
        near = get_close_matches(key, names, n=1, cutoff=0.6)
        right = f"did you mean {near[0]}?" if near else f"known here: {', '.join(sorted(names))}"
        where = f"{within}.{printable(key)}".lstrip(".")
        yield problem(file, where, "", "unknown key; it is kept but has no effect", right)
    for field, info in fields.items():
        value = getattr(model, field)
        if isinstance(value, _HOLDERS):
            yield from _unknown_within(value, file, f"{within}.{info.alias or field}".lstrip("."))


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
                yield from unknown_keys(item, file, f"{within}.{printable(str(key))}")
