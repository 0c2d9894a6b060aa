"""The fast reading of records, for what looks at many: the same data as the strict reader, sooner.

Nothing that was read here is called valid: that is said by ``verify`` alone. Without the packages ``rtoml``
and ``toml-rs`` (the extra ``desk``) the standard library's reader is used, which takes some ten times as
long. ``toml-rs`` takes half as long as ``rtoml``, but some hundreds of brackets within each other, or some
thousands of signs in a row, would end the whole process with it: it is given only what has few of them, and
only in workers, without which the index is made all the same.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache, partial
from typing import Any, Final

Loads = Callable[[str], dict[str, Any]]
LARGEST: Final = 25_000_000
"""Bytes of a record that is read; as in ``read``."""
_SHORT: Final = 100_000
"""Bytes of a text that is given to the fastest reader: numbers take it the square of their length in time."""
_NESTS: Final = 250
"""Brackets and braces of such a text. Were all within each other, it would need some 0.5 MB of stack (1.9 kB
a brace, measured); threads have 1 MB and more."""
_DOTS: Final = 250
"""Dots of such a text: keys take the square of theirs in memory."""
_BUT_MARKS: Final = bytes(set(range(256)) - set(b"[{."))
_AS_ONE: Final = bytes.maketrans(b"=+", b"--")
_RUN: Final = b"-" * 100
"""Equals signs and signs of numbers in a row, outside of texts: some thousands end the process too."""


def fast_tables(content: bytes, *, in_worker: bool = False) -> dict[str, Any]:
    """Return the tables of a record.

    What the fast reader does not take is read by the strict one, so that all that this one knows is known.
    The other way round, what nests more deeply than the strict one allows may be taken, and TOML 1.1 by a
    newer ``rtoml``: nothing of it is called valid, and on opening it is malformed.

    Parameters
    ----------
    in_worker
        Whether this process may end without harm, since another one would go on in its place: only there the
        fastest reader is used, for what it is given is guarded as far as it is known.

    Raises
    ------
    ValueError
        If it is too large, not UTF-8, not TOML, or nests too deeply; the text says which.
    """
    loads = (small_reader() if in_worker and is_flat(content) else None) or fast_reader()
    if loads is not None and len(content) <= LARGEST:
        try:
            text = content.decode("utf-8").removeprefix("\ufeff")
            if "\r" not in text:
                return loads(text)
            # line ends within texts count as the standard library's reader has them
            text = text.replace("\r\n", "\n")
            if "\r" not in text:
                return loads(text)
        except (ValueError, RecursionError, OverflowError):
            pass  # the strict reader says why, or knows better
    return strict_tables(content)


def strict_tables(content: bytes) -> dict[str, Any]:
    """Return the tables of a record as the strict reader has them.

    Raises
    ------
    ValueError
        As for :func:`fast_tables`.
    """
    from commission.records.read import toml_of

    return toml_of(content.removeprefix(b"\xef\xbb\xbf"))


def is_flat(content: bytes) -> bool:
    """Whether a text is short and has nothing that could nest deeply, whatever else it is."""
    if len(content) > _SHORT:
        return False
    marks = content.translate(None, _BUT_MARKS)
    dots = marks.count(b".")
    return dots <= _DOTS and len(marks) - dots <= _NESTS and _RUN not in content.translate(_AS_ONE)


@cache
def small_reader() -> Loads | None:
    """Return the fastest reader of TOML, for flat texts only; None where it is not installed."""
    try:
        import toml_rs
    except ImportError:
        return None
    return partial(toml_rs.loads, toml_version="1.0.0")


@cache
def fast_reader() -> Loads | None:
    """Return the fast reader of TOML, None where it is not installed."""
    try:
        import rtoml
    except ImportError:
        return None
    return rtoml.loads
