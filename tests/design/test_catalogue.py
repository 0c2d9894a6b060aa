"""Seeded faults: each raises what the catalogue lists and nothing else new, and its remedy mends it."""

from __future__ import annotations

import pytest

from commission.plant.change import changed_data
from tests.design.faults import Fault, catalogue, data_of, faulty, findings_of, kind, sound


@pytest.mark.parametrize("fault", catalogue(), ids=lambda fault: fault.name)
def test_a_fault_raises_what_is_listed_and_nothing_else_and_a_remedy_mends_it(fault: Fault) -> None:
    """Both in one test, since what the check says of the faulty plant takes the time of it."""
    before = faulty(fault)
    assert _raised_by(fault) == set(fault.raises)
    data = changed_data(data_of(fault.site), fault.changes)
    for _, ident in sorted(fault.raises):
        finding = before[ident]
        if not finding.change:
            continue
        after = findings_of(changed_data(data, finding.change), fault.site, ())
        assert ident not in after
        brought = {one.id for one in after.values() if one.kind != "advise"} - set(before)
        assert not brought or "no single change passes both" in finding.remedy


def _raised_by(fault: Fault) -> set[tuple[str, str]]:
    """Return kind and id of what stands in the faulty sample and not, or not so, in the sound one."""
    before = sound(fault.site)
    return {
        (kind(one), one.id)
        for one in faulty(fault).values()
        if one.id not in before or one.kind != before[one.id].kind
    }
