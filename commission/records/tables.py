"""Nested data as TOML: every row under its own ``[[name]]``, however short, so that a person finds it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import lru_cache
from typing import Any, TypeGuard

import tomli_w


def toml_text(data: Mapping[str, Any]) -> str:
    """Return a dictionary as TOML, without what is None.

    Texts are written on one line each: over several, carriage returns would be lost.
    """
    return tomli_w.dumps(listed(data), multiline_strings=False)


def table_text(name: str, data: Mapping[str, Any], *, rows: bool = False) -> str:
    """Return a table of a name as TOML, or one row of such tables; tables within it under full names."""
    return "\n".join(_blocks(_key(name), listed(data), rows=rows))


def listed(value: Any) -> Any:
    """Return nested data with lists for tuples, which TOML does not know, and nothing for None."""
    if isinstance(value, Mapping):
        return {key: listed(item) for key, item in value.items() if item is not None}
    if isinstance(value, tuple | list):
        return [listed(item) for item in value]
    return value


def _blocks(path: str, data: Mapping[str, Any], *, rows: bool) -> Iterator[str]:
    plain = {key: value for key, value in data.items() if not isinstance(value, dict) and not _is_rows(value)}
    head = f"[[{path}]]" if rows else f"[{path}]"
    yield f"{head}\n{tomli_w.dumps(plain, multiline_strings=False)}"
    for key, value in data.items():
        inner = f"{path}.{_key(key)}"
        if isinstance(value, dict):
            yield from _blocks(inner, value, rows=False)
        elif _is_rows(value):
            for row in value:
                yield from _blocks(inner, row, rows=True)


def _is_rows(value: Any) -> TypeGuard[list[dict[str, Any]]]:
    return isinstance(value, list) and bool(value) and all(isinstance(row, dict) for row in value)


@lru_cache(maxsize=4096)
def _key(name: str) -> str:
    """Return a key as TOML writes it, quoted where it has to be."""
    return tomli_w.dumps({name: 0}).removesuffix(" = 0\n")
