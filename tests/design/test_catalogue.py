"""Seeded faults: each raises what the catalogue lists and nothing else new, and its remedy mends it."""

from __future__ import annotations

import pytest

from commission.plant.change import changed_data
from tests.design.faults import Fault, catalogue, data_of, faulty, findings_of, kind, sound

FAULTS = catalogue()


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.name)
def test_a_fault_raises_what_is_listed_and_nothing_else(fault: Fault) -> None:
    before = sound(fault.site)
    after = faulty(fault)
    new = {
        (kind(one), one.id)
        for one in after.values()
        if one.id not in before or one.kind != before[one.id].kind
    }
    assert new == set(fault.raises)


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.name)
def test_a_remedy_with_a_number_or_a_part_mends_it(fault: Fault) -> None:
    data = changed_data(data_of(fault.site), fault.changes)
    before = faulty(fault)
    for _, ident in sorted(fault.raises):
        finding = before[ident]
        if not finding.change:
            continue
        after = findings_of(changed_data(data, finding.change), fault.site, ())
        assert ident not in after
        brought = {one.id for one in after.values() if one.kind != "advise"} - set(before)
        assert not brought or "no single change passes both" in finding.remedy
