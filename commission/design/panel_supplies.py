"""What feeds a panel: its supplying devices leg by leg, and which of them can feed it together."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final, TypeAlias

from commission.figure import Quantity
from commission.plant.plant import Plant, part_fact
from commission.plant.site import (
    AcPvInverter,
    Generator,
    InverterCharger,
    Panel,
    Position,
    Protection,
    Utility,
)
from commission.plant.values import UNKNOWN
from commission.sheet.compatible import compatible_sets

_LEGS: Final[dict[str, tuple[str, ...]]] = {
    "1": ("1",),
    "2": ("2",),
    "3": ("3",),
    "both": ("1", "2"),
    "all": ("1", "2", "3"),
    "single": ("1",),
    "split": ("1", "2"),
    "three": ("1", "2", "3"),
}
_EVERY: Final = ("1", "2", "3")

AcSource: TypeAlias = InverterCharger | AcPvInverter | Generator | Utility


@dataclass(frozen=True, slots=True)
class Supply:
    """One device of a panel through which a source feeds it."""

    source: AcSource | None
    """None where it is a main device behind which the sources stand."""
    guard: Protection
    position: Position
    legs: tuple[str, ...]
    leg_told: bool
    before_inverters: bool
    """It feeds what the inverters take from, which is a bus bar of its own."""

    @property
    def rating(self) -> Quantity:
        """Return the rating of the supplying device, in A."""
        return part_fact(self.guard, "rating")


def supplies_of(plant: Plant, panel: Panel) -> tuple[Supply, ...]:
    """Return the devices through which sources feed an AC panel, in the order of its positions."""
    feeding = dict(_feeding(plant))
    made = []
    for position in (*_main(panel), *panel.positions):
        guard = plant.protection_of(position.holds)
        source = feeding.get(guard.id) if guard is not None else None
        if guard is not None and (source is not None or guard.id == panel.main):
            made.append(_supply(plant, source, guard, position))
    return tuple(made)


def _main(panel: Panel) -> tuple[Position, ...]:
    """Return the place of a main device that is on none of the panel's positions."""
    listed = {position.holds for position in panel.positions}
    if panel.main is None or panel.main in listed:
        return ()
    return (Position(position="main", holds=panel.main),)


def sets_together(plant: Plant, supplies: Iterable[Supply]) -> tuple[tuple[Supply, ...], ...]:
    """Return the sets of supplies that the interlocks allow at one time, greatest ones only."""
    listed = tuple(supplies)
    made: list[tuple[Supply, ...]] = []
    for running in compatible_sets(plant):
        one = tuple(item for item in listed if _runs(plant, item.source, running))
        if one and one not in made:
            made.append(one)
    return tuple(made)


def _runs(plant: Plant, source: AcSource | None, running: frozenset[str]) -> bool:
    """Whether a source feeds beside others; an inverter does, unless an interlock parts them."""
    if source is None:
        return True
    if not isinstance(source, InverterCharger):
        return source.id in running
    parted = [set(one.one_of) - {source.id} for one in plant.site.interlocks if source.id in one.one_of]
    return not any(others & running for others in parted)


def _feeding(plant: Plant) -> Iterator[tuple[str, AcSource]]:
    """Yield every device that a source feeds through, with the source."""
    site = plant.site
    for inverter in site.inverter_chargers:
        if inverter.ac_breaker is not None:
            yield inverter.ac_breaker, inverter
    for coupled in site.ac_pv_inverters:
        if coupled.panel_breaker is not None:
            yield coupled.panel_breaker, coupled
    sources = {one.id: one for one in (*site.generators, *(() if site.utility is None else (site.utility,)))}
    for guard in site.protection:
        if guard.of in sources and guard.current == "ac" and guard.kind in {"breaker", "fuse"}:
            yield guard.id, sources[guard.of]


def _supply(plant: Plant, source: AcSource | None, guard: Protection, position: Position) -> Supply:
    if source is None:
        return Supply(None, guard, position, _EVERY, leg_told=True, before_inverters=False)
    told = _leg(plant, source)
    inputs = {ident for inverter in plant.site.inverter_chargers for ident in inverter.inputs.values()}
    legs = _LEGS.get(told, _EVERY)
    return Supply(source, guard, position, legs, told != UNKNOWN, source.id in inputs)


def _leg(plant: Plant, source: AcSource) -> str:
    if isinstance(source, InverterCharger):
        return source.group_leg
    if isinstance(source, AcPvInverter):
        return source.leg
    if isinstance(source, Utility):
        return source.connection
    return plant.generator_class(source).connection
