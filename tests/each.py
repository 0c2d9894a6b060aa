"""One test for all rows of a long table, each told by its name where it fails.

Pytest takes some milliseconds for a test of its own, and every process that runs tests collects them all:
half a minute for thousands of rows that are looked at in microseconds.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any


def each(
    names: str | tuple[str, ...], rows: Iterable[Any], ids: Iterable[str] | None = None
) -> Callable[[Callable[..., None]], Callable[[], None]]:
    """Return what makes one test of a check of a row; used as ``pytest.mark.parametrize`` is.

    Parameters
    ----------
    names
        Of the parameters that take the row.
    rows
        Values, or ``pytest.param`` with an id each.
    ids
        Names of the rows, where they do not carry them.
    """
    several = (names,) if isinstance(names, str) else names
    rows = list(rows)
    if ids is None:
        table = [(row.id, row.values) for row in rows]
    else:
        whole = [(row,) if len(several) == 1 else tuple(row) for row in rows]
        table = list(zip(ids, whole, strict=True))
    assert table, "a table without rows checks nothing"
    return lambda check: _whole(check, [(name, dict(zip(several, row, strict=True))) for name, row in table])


def _whole(check: Callable[..., None], table: list[tuple[str, dict[str, Any]]]) -> Callable[[], None]:
    def test() -> None:
        wrong: list[Exception] = []
        for name, row in table:
            try:
                check(**row)
            except Exception as error:
                error.add_note(f"in the row: {name}")
                wrong.append(error)
        if wrong:
            raise ExceptionGroup(f"{len(wrong)} of {len(table)} rows", wrong)

    test.__name__, test.__qualname__, test.__doc__ = check.__name__, check.__qualname__, check.__doc__
    test.__module__ = check.__module__
    return test
