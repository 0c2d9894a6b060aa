"""The grid that devices share: checked by listing the values of each grid and looking for common ones."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.sheet.grid import Grid, coarsest, shared_grid


def _values(grid: Grid) -> set[int]:
    """Millivolts on a grid, from its start up to a span that holds many shared values."""
    return {round((grid.start + count * grid.step) * 1000) for count in range(4000)}


@pytest.mark.parametrize(
    ("grids", "start", "step"),
    [
        # 0.05 V per 12 V is 0.2 V on 48 V, beside a device of 0.1 V: every 0.2 V of the coarser one
        pytest.param([Grid(48.0, 0.1), Grid(48.0, 0.2)], 48.0, 0.2, id="one step a multiple of the other"),
        pytest.param([Grid(40.0, 0.4), Grid(40.2, 0.2)], 40.4, 0.4, id="grids that start apart"),
        pytest.param([Grid(0.0, 0.3), Grid(0.0, 0.4)], 0.0, 1.2, id="least common multiple"),
        pytest.param([Grid(1.0, 0.5)], 1.0, 0.5, id="one device alone"),
    ],
)
def test_devices_share_a_grid(grids: list[Grid], start: float, step: float) -> None:
    shared = shared_grid(grids)
    assert shared is not None
    steps = (shared.start - start) / step  # any value of the shared grid may stand as its start
    assert steps == pytest.approx(round(steps), abs=1e-6)
    assert shared.step == pytest.approx(step, abs=1e-9)


def test_grids_that_never_meet_share_nothing() -> None:
    assert shared_grid([Grid(0.0, 0.2), Grid(0.1, 0.2)]) is None


def test_the_coarsest_step_is_the_greatest() -> None:
    assert coarsest([Grid(0, 0.1), Grid(0, 0.4), Grid(0, 0.2)]).step == 0.4


@given(
    st.lists(st.tuples(st.integers(0, 40), st.sampled_from([50, 100, 200, 300, 400])), min_size=1, max_size=4)
)
def test_a_shared_grid_holds_exactly_the_values_that_all_devices_have(rows: list[tuple[int, int]]) -> None:
    grids = [Grid(start * 0.05, step / 1000) for start, step in rows]
    shared = shared_grid(grids)
    common = set.intersection(*(_values(grid) for grid in grids))
    top = min(max(_values(grid)) for grid in grids)
    expected = {value for value in common if value >= max(round(grid.start * 1000) for grid in grids)}
    if shared is None:
        assert not expected
        return
    found = {value for value in _values(shared) if value <= top}
    assert found >= expected
    assert {value for value in found if value >= max(round(grid.start * 1000) for grid in grids)} <= common
