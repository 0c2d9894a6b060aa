"""The one reader of TOML: of all files written by hand, and of records through ``guarded``."""

from __future__ import annotations

import re
import stat
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache, lru_cache
from pathlib import Path
from typing import Any, Final, TypeVar

from pydantic import TypeAdapter, ValidationError

from commission.errors import Problem, SiteError
from commission.plant.explain import explained, printable, problem
from commission.plant.formats import FIRST, Formats, brought_up
from commission.plant.kinds import Kind, wrong_kind
from commission.plant.places import sample_sites
from commission.plant.values import Model


@dataclass(frozen=True, slots=True)
class Limits:
    """What a file may hold at most, so that no file can stop the program."""

    largest: int
    """Bytes."""
    usual: str
    """What kind of file is meant, for one that is larger."""
    deepest: int = 24
    """Tables within tables; a site has six, a record nine."""
    mark: bool = False
    """A byte-order mark may stand before the text, as some editors put one."""


BY_HAND: Final = Limits(largest=2_000_000, usual="a file written by hand", mark=True)
"""No file written by hand comes near."""
_TEXTS: Final = re.compile(
    r'"""(?:[^"\\]++|\\.|"{1,2}(?!"))*+(?:"{3,5})?'
    r"|'''(?:[^']++|'{1,2}(?!'))*+(?:'{3,5})?"
    r'|"(?:[^"\\\n]++|\\[^\n])*+"?'
    r"|'[^'\n]*+'?"
    r"|#[^\n]*+",
    re.DOTALL,
)
"""Texts and comments, as the TOML reader tells them apart."""
_HOLDERS: Final = (Model, tuple, list, dict)
"""What can have keys of its own inside."""
T = TypeVar("T")


class UnfitError(ValueError):
    """Bytes that are no TOML, or more than the program takes in: what is wrong, what would be right."""

    def __init__(self, wrong: str, right: str) -> None:
        super().__init__(wrong)
        self.wrong, self.right = wrong, right


def guarded(content: bytes, limits: Limits = BY_HAND) -> dict[str, Any]:
    """Return the tables of TOML that anybody may have written, in a time that grows with its length only.

    Raises
    ------
    UnfitError
        If it is too large, not UTF-8, not TOML, nests too deeply, or holds a number of thousands of digits.
    """
    if len(content) > limits.largest:
        raise _too_large(limits)
    try:
        text = content.decode("utf-8-sig" if limits.mark else "utf-8")
        if _long_key(limits.deepest).search(_TEXTS.sub(_stand_in, text)):
            raise _too_deep()
        data = tomllib.loads(text)
    except UnicodeDecodeError as error:
        raise UnfitError(f"byte {error.start} is not UTF-8", "save it as UTF-8") from None
    except tomllib.TOMLDecodeError as error:
        raise UnfitError(f"not TOML: {printable(str(error), 200)}", _toml_advice(str(error))) from None
    except RecursionError:
        raise _too_deep() from None
    except UnfitError:
        raise
    except ValueError:  # more digits than Python reads
        wrong = "holds a number of thousands of digits"
        raise UnfitError(wrong, "numbers as a person writes them") from None
    if _depth(data) > limits.deepest:
        raise _too_deep()
    return data


def bounded(path: Path, limits: Limits = BY_HAND) -> bytes:
    """Return the bytes of an ordinary file that is not too large; nothing else is ever opened.

    Raises
    ------
    UnfitError
        If it is no ordinary file, or too large.
    OSError
        If it cannot be read.
    """
    told = path.stat()
    if stat.S_ISDIR(told.st_mode):
        raise UnfitError("this is a folder", "name the file in it")
    if not stat.S_ISREG(told.st_mode):
        raise UnfitError("this is no ordinary file", "name a file that ends in .toml")
    if told.st_size > limits.largest:
        raise _too_large(limits)
    with path.open("rb") as opened:
        return opened.read(limits.largest + 1)  # it may have grown since


def _too_deep() -> UnfitError:
    return UnfitError("nested too deeply", "tables a few levels deep")


def _too_large(limits: Limits) -> UnfitError:
    return UnfitError(f"larger than {limits.largest:,} bytes", limits.usual)


def _stand_in(found: re.Match[str]) -> str:
    """Return what stands for a text or comment while keys are looked at: one letter, or nothing."""
    return "" if found[0][0] == "#" else "x"


@cache
def _long_key(deepest: int) -> re.Pattern[str]:
    """Return a pattern of dotted keys that nest too deeply.

    The TOML reader takes the square of their length in time.
    """
    return re.compile(rf"(?<![\w-])(?:[\w-]++[ \t]*+\.[ \t]*+){{{deepest + 1}}}")


_KEPT: Final = 256
"""Files whose content is kept: more than a plant or a desk of many plants has profiles."""
ENTRIES: Final = 1000
"""Entries of one list of a file written by hand: what is looked up in a list is looked up often."""


def read_toml(
    path: Path, formats: Formats = FIRST, entries: int = ENTRIES, wanted: Kind | None = None
) -> dict[str, Any]:
    """Return a TOML file written by hand as a dictionary, in the newest of its formats.

    Parameters
    ----------
    wanted
        What kind of file it should be; one that is plainly another is refused as that.

    Raises
    ------
    SiteError
        If the file cannot be read, is too large, is not UTF-8, is not TOML, nests too deeply, is of another
        kind or a later format, or has a list with too many entries.
    """
    told = parsed(_bytes(path), path.name)
    other = None if wanted is None else wrong_kind(told, wanted, path.name)
    if other is not None:
        raise SiteError([other])
    data = brought_up(told, formats, path.name)
    check_entries(data, entries, path.name)
    return data


def read_kept(path: Path) -> Mapping[str, Any]:
    """Return a file as :func:`read_toml` does, to be looked at only: the same bytes are parsed once.

    Raises
    ------
    SiteError
        As :func:`read_toml` does.
    """
    return _tables(_bytes(path), path.name)


def read_as(model: type[T] | TypeAdapter[T], path: Path) -> T:
    """Return a file as an unchanging model; the same bytes make the same model.

    Raises
    ------
    SiteError
        As :func:`read_toml` and :func:`validated` do.
    """
    wanted: Any = model
    made: T = _made(wanted, _bytes(path), path.name)
    return made


@lru_cache(maxsize=_KEPT)
def _tables(content: bytes, name: str) -> dict[str, Any]:
    data = brought_up(parsed(content, name), FIRST, name)
    check_entries(data, ENTRIES, name)
    return data


@lru_cache(maxsize=_KEPT)
def _made(model: Any, content: bytes, name: str) -> Any:
    return validated(model, _tables(content, name), name)


def _bytes(path: Path) -> bytes:
    try:
        return bounded(path)
    except UnfitError as error:
        raise _whole(str(path), error.wrong, error.right) from None
    except FileNotFoundError:
        raise _whole(str(path), "there is no such file", _nearby(path)) from None
    except OSError as error:
        raise _whole(str(path), f"cannot be read: {error.strerror or error}", "") from None
    except ValueError:  # the name holds a null character
        raise _whole(str(path), "this is no name of a file", "") from None


def parsed(content: bytes, name: str) -> dict[str, Any]:
    """Return the bytes of a TOML file as a dictionary.

    Raises
    ------
    SiteError
        If they are not UTF-8, not TOML, or nest too deeply.
    """
    try:
        return guarded(content)
    except UnfitError as error:
        raise _whole(name, error.wrong, error.right) from None


def check_entries(data: Mapping[str, Any], most: int, file: str) -> None:
    """Refuse lists that are longer than what a file of its kind needs.

    Raises
    ------
    SiteError
        With every one of them.
    """
    problems = [
        problem(file, key, "", f"has {len(found):,} entries", f"at most {most:,} in one list")
        for key, found in _lists("", data)
        if len(found) > most
    ]
    if problems:
        raise SiteError(problems)


def _lists(key: str, data: object) -> Iterator[tuple[str, list[Any]]]:
    """Yield the lists in tables and lists, with their keys; the depth is bounded already."""
    if isinstance(data, Mapping):
        for name, item in data.items():
            if not isinstance(item, str | float | int):  # most are, and have nothing inside
                yield from _lists(f"{key}.{printable(str(name))}".lstrip("."), item)
    elif isinstance(data, list):
        yield key, data
        for item in data:
            if isinstance(item, Mapping | list):
                yield from _lists(key, item)


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
    names = [found.name for found in folder.glob("*.toml")]
    if path.parent == Path():
        names += [sample.stem for sample in sample_sites()]
    near = get_close_matches(path.name, names, n=1, cutoff=0.5)
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
