"""What every rule set must be: numbers throughout, and tables in their order."""

from __future__ import annotations

from itertools import pairwise

import pytest
from pydantic import ValidationError

from commission.plant.rules import MAY_BE_NONE, RuleSet
from tests.profiles.shelf import RULES, data, number, raw, rules


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
def test_every_value_of_a_region_is_a_number_or_told_as_none(region):
    for field, datum in data(rules(region)).items():
        if field not in MAY_BE_NONE or datum.value != "none":
            number(rules(region), field)


def test_what_may_be_none_is_a_value_of_a_rule_set():
    assert set(data(rules(RULES[0]))) >= MAY_BE_NONE


@pytest.mark.parametrize("word", ["none", "unknown"])
def test_a_rule_set_without_a_number_that_the_program_needs_is_refused(word):
    content = raw(f"rules/{RULES[0]}")
    content["earth_resistance"]["value"] = word
    with pytest.raises(ValidationError, match="earth_resistance is"):
        RuleSet.model_validate(content)
