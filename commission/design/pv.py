"""PV strings and the controllers that they feed: in the cold, in the heat, by current, among themselves."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Final

from commission.design.pv_array import PvArray, pv_arrays
from commission.design.pv_cold import check_cold
from commission.design.pv_current import check_clipping, check_input_current
from commission.design.pv_found import PvFound, asked_once
from commission.design.pv_fuses import check_array_devices, check_string_fuses
from commission.design.pv_hot import check_hot
from commission.design.pv_strings import check_strings
from commission.design.types import Found, Scene

_ASPECTS: Final[tuple[Callable[[PvArray], Iterator[PvFound]], ...]] = (
    check_cold,
    check_hot,
    check_input_current,
    check_string_fuses,
    check_array_devices,
    check_clipping,
    check_strings,
)
"""What is asked of every array, the most dangerous first."""


def check_pv(scene: Scene) -> Iterator[Found]:
    """Find PV strings that endanger their controller, cannot charge the bank, or lack protection."""
    found = (one for pv in pv_arrays(scene) for aspect in _ASPECTS for one in aspect(pv))
    yield from asked_once(found)
