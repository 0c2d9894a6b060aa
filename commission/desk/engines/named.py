"""An engine that answers queries by their names as the index does, and is let go of when that is done."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, ClassVar, Self

from commission.desk.queries import BY_NAME as QUERIES
from commission.desk.queries import plain_rows
from commission.desk.table import Engine


class Named(ABC):
    """What engines share; each says how it runs a text and how it is let go of."""

    engine: ClassVar[Engine]

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @abstractmethod
    def close(self) -> None:
        """Let go of what is open."""

    @abstractmethod
    def _answer(self, sql: str, given: Mapping[str, Any]) -> tuple[Sequence[str], Iterable[Sequence[Any]]]:
        """Return the names of the columns and the rows that answer a text of SQL."""

    def ask(self, name: str, /, **asked: Any) -> list[dict[str, Any]]:
        """Return the rows that answer a query by its name.

        Raises
        ------
        KeyError
            If there is no such query, or it asks for something else.
        ExportError
            If what lies there cannot be read.
        """
        query = QUERIES[name]
        return plain_rows(*self._answer(query.text(self.engine), query.values(asked)))
