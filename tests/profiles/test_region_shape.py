"""What every rule set must be: numbers throughout, and tables in their order."""

from __future__ import annotations

from itertools import pairwise

import pytest

from tests.profiles.shelf import RULES, data, number, rules


@pytest.mark.parametrize("region", RULES)
def test_tables_of_a_region_stand_in_order(region):
    table = rules(region)
    for earlier, later in pairwise(table.conductors):
        assert earlier.area < later.area
        assert earlier.resistance > later.resistance
        for rating in ("ampacity_60", "ampacity_70", "ampacity_75", "ampacity_90"):
            smaller, larger = getattr(earlier, rating), getattr(later, rating)
            assert smaller is None or (larger is not None and smaller < larger), (later.size, rating)
    assert list(table.breaker_sizes) == sorted(set(table.breaker_sizes))
    assert [row.up_to for row in table.ambient_factors] == sorted(
        {row.up_to for row in table.ambient_factors}
    )
    assert [row.up_to for row in table.grouping_factors] == sorted(
        {row.up_to for row in table.grouping_factors}
    )
    assert all(early.factor > late.factor for early, late in pairwise(table.grouping_factors))
    assert [row.up_to for row in table.insulation] == sorted({row.up_to for row in table.insulation})
    assert table.grouping_source


@pytest.mark.parametrize("region", RULES)
def test_every_value_of_a_region_is_a_number(region):
    for field in data(rules(region)):
        number(rules(region), field)
