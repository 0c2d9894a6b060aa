"""A table that is checked in one test still tells each row that fails."""

from __future__ import annotations

import pytest

from tests.each import each


def test_every_row_that_fails_is_named_and_the_others_are_checked() -> None:
    seen: list[int] = []

    @each("number", [1, 2, 3, 4], ids=["one", "two", "three", "four"])
    def odd(number: int) -> None:
        seen.append(number)
        assert number % 2, number

    with pytest.raises(ExceptionGroup, match="2 of 4 rows") as raised:
        odd()
    assert seen == [1, 2, 3, 4]
    assert [error.__notes__ for error in raised.value.exceptions] == [
        ["in the row: two"],
        ["in the row: four"],
    ]


def test_rows_may_carry_their_names_and_have_several_values() -> None:
    seen: list[tuple[str, int]] = []

    @each(("name", "number"), [pytest.param("a", 1, id="first"), pytest.param("b", 2, id="second")])
    def checked(name: str, number: int) -> None:
        seen.append((name, number))
        raise ValueError(name)

    with pytest.raises(ExceptionGroup) as raised:
        checked()
    assert seen == [("a", 1), ("b", 2)]
    assert [error.__notes__ for error in raised.value.exceptions] == [
        ["in the row: first"],
        ["in the row: second"],
    ]


def test_no_table_is_empty() -> None:
    """It would check nothing for ever after."""
    with pytest.raises(AssertionError, match="without rows"):
        each("number", [], ids=[])
