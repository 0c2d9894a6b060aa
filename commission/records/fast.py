"""The fast reading of records, for what looks at many: the same data as the strict reader, sooner.

Nothing that was read here is called valid: that is said by ``verify`` alone. Without the package ``rtoml``
(the extra ``desk``) the standard library's reader is used, which takes some ten times as long. Another
package, ``toml-rs``, is faster still and was tried: brackets that nest fifty thousand deep
end the whole process.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import Any, Final

Loads = Callable[[str], dict[str, Any]]
LARGEST: Final = 25_000_000
"""Bytes of a record that is read; as in ``read``."""


def fast_tables(content: bytes) -> dict[str, Any]:
    """Return the tables of a record.

    What the fast reader does not take is read by the strict one, so that both know the same files.

    Raises
    ------
    ValueError
        If it is too large, not UTF-8, not TOML, or nests too deeply; the text says which.
    """
    loads = fast_reader()
    if loads is not None and len(content) <= LARGEST:
        try:
            text = content.decode("utf-8").removeprefix("\ufeff")
            # line ends within texts count as the standard library's reader has them
            return loads(text.replace("\r\n", "\n"))
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


@cache
def fast_reader() -> Loads | None:
    """Return the fast reader of TOML, None where it is not installed."""
    try:
        import rtoml
    except ImportError:
        return None
    return rtoml.loads
