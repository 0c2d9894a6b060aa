"""Bus bars of AC and DC panels: what feeds them against what they carry, and the device that guards them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import Final

from commission.design import currents
from commission.design.panel_mains import check_main
from commission.design.panel_supplies import Supply, sets_together, supplies_of
from commission.design.positions import check_positions
from commission.design.standard import ratings_down_from, ratings_from
from commission.design.types import Found, Remedy, Scene
from commission.design.words import gap, shown
from commission.figure import Figure, Gap, Quantity, Unknown, given, greatest
from commission.formulas.bus_bars import bus_bar_limit, bus_bar_needed
from commission.formulas.charging import sum_of_currents
from commission.formulas.overcurrent import largest_backfed_breaker
from commission.plant.change import Change
from commission.plant.plant import part_fact
from commission.plant.site import DirectCurrentSource, InverterCharger, Panel
from commission.sheet.source_limits import ac_pv_currents, binds_backfeed
from commission.sheet.types import Finding

_CHECK: Final = "bus-bar"
_ONE: Final = given(
    1.0,
    "1",
    "factor of a bus bar that is not fed from both ends",
    source="the sum of the supplying devices, not over the bus bar's rated current",
)


def check_panels(scene: Scene) -> Iterator[Found]:
    """Find bus bars that are fed with more than they carry or are not guarded, and faults of positions."""
    for panel in scene.plant.site.panels:
        if panel.kind == "ac":
            yield from _alternating(scene, panel)
        else:
            yield from _direct(scene, panel)
        yield from check_main(scene, panel)
    yield from check_positions(scene)


# alternating current


@dataclass(frozen=True, slots=True)
class _Feed:
    """The devices that feed one bus bar on one leg at one time."""

    supplies: tuple[Supply, ...]
    leg: str
    total: Quantity

    @property
    def both_ends(self) -> bool:
        """Whether sources stand at the end of the main device and at the other end too."""
        return len({one.position.far_end for one in self.supplies}) == 2


def _alternating(scene: Scene, panel: Panel) -> Iterator[Found]:
    """Judge the bus bar before the inverters and the one behind them apart: inverters stand between."""
    listed = supplies_of(scene.plant, panel)
    for before in (True, False):
        own = [one for one in listed if one.before_inverters is before]
        feeds = [feed for feed in _feeds(scene, own) if feed.supplies]
        if feeds:
            yield from _judged(scene, panel, feeds)


def _feeds(scene: Scene, supplies: Sequence[Supply]) -> Iterator[_Feed]:
    for running in sets_together(scene.plant, supplies):
        for leg in sorted({leg for one in running for leg in one.legs}):
            on_leg = tuple(one for one in running if leg in one.legs)
            yield _Feed(on_leg, leg, _sum(f"devices that feed leg {leg} together", on_leg))


def _sum(name: str, supplies: Iterable[Supply]) -> Quantity:
    return sum_of_currents.of(name, currents=[one.rating for one in supplies])


def _judged(scene: Scene, panel: Panel, feeds: Sequence[_Feed]) -> Iterator[Found]:
    bar = part_fact(panel, "bus_bar")
    missing = gap(_CHECK, (panel.id,), bar, *(feed.total for feed in feeds))
    if missing is not None:
        yield missing
    if not isinstance(bar, Figure) or bar.value <= 0:
        return
    over = [(feed, limit) for feed in feeds if (limit := _over(scene, bar, feed)) is not None]
    if not over:
        return
    feed, limit = max(over, key=lambda pair: _value(pair[0].total) / pair[1].value)
    unsure = [one for one in feed.supplies if not one.leg_told]
    if unsure:
        words = tuple(
            Unknown((Gap(f"leg that {one.guard.label} feeds", helps="its position in the panel, by leg"),))
            for one in unsure
        )
        found = gap(_CHECK, (panel.id,), *words)
        if found is not None and missing is None:
            yield found
        return
    yield _overfed(scene, panel, bar, feed, limit)


def _over(scene: Scene, bar: Figure, feed: _Feed) -> Figure | None:
    """Return the limit that a feed is over, None where it is not."""
    limit = bus_bar_limit.of("what may feed the bus bar", bus_bar=bar, factor=_factor(scene, feed))
    if not isinstance(limit, Figure) or not isinstance(feed.total, Figure):
        return None
    return limit if feed.total.value > limit.value + 1e-9 else None


def _factor(scene: Scene, feed: _Feed) -> Figure:
    return scene.plant.rule("bus_bar_factor") if feed.both_ends else _ONE


def _overfed(scene: Scene, panel: Panel, bar: Figure, feed: _Feed, limit: Figure) -> Found:
    devices = ", ".join(one.guard.label for one in feed.supplies)
    together = " together" if len(feed.supplies) > 1 else ""
    text = (
        f"{panel.label}: {devices} can feed {_shown(scene, feed.total)}{together} into bus "
        "bars of "
        f"{shown(scene, bar)}, at most {shown(scene, limit)}"
    )
    if feed.both_ends and limit.value > bar.value:
        text += " with sources at both ends"
    finding = Finding("correct", _CHECK, (panel.id,), text, value=feed.total, limit=limit)
    remedies = (
        *_moved(scene, panel, bar, feed),
        *_larger_bar(scene, panel, feed),
        *_smaller(scene, panel, bar, feed),
    )
    return Found(finding, remedies)


def _moved(scene: Scene, panel: Panel, bar: Figure, feed: _Feed) -> Iterator[Remedy]:
    """Offer the far end of the bus bar for everything that is no inverter's output."""
    factor = scene.plant.rule("bus_bar_factor")
    near = [
        one
        for one in feed.supplies
        if not one.position.far_end and one.source is not None and not isinstance(one.source, InverterCharger)
    ]
    if factor.value <= 1.0 or feed.both_ends or not near or len(near) == len(feed.supplies):
        return
    limit = bus_bar_limit.of(
        "what may feed the bus bar from both its ends together", bus_bar=bar, factor=factor
    )
    names = ", ".join(one.guard.label for one in near)
    yield Remedy(
        f"{names} at the end of the bus bars away from the others, which allows {_shown(scene, limit)}",
        passes=limit,
        change=tuple(
            Change(f"{panel.where}.positions[{one.position.position}].far_end", True) for one in near
        ),
    )


def _larger_bar(scene: Scene, panel: Panel, feed: _Feed) -> Iterator[Remedy]:
    needed = bus_bar_needed.of("least bus bar", supplies=feed.total, factor=_factor(scene, feed))
    if not isinstance(needed, Figure):
        return
    for rating in islice(ratings_from(scene.plant, needed.value), 2):
        yield Remedy(
            f"a panel with bus bars of {shown(scene, rating)}",
            passes=rating,
            change=(Change(f"{panel.where}.bus_bar", rating.value),),
        )


def _smaller(scene: Scene, panel: Panel, bar: Figure, feed: _Feed) -> Iterator[Remedy]:
    """Offer a smaller device where one source beside the inverters stands alone at the far end."""
    last = [
        one for one in feed.supplies if one.source is not None and not isinstance(one.source, InverterCharger)
    ]
    others = _sum("the other devices", [one for one in feed.supplies if one not in last])
    if len(last) != 1 or len(feed.supplies) < 2:
        return
    room = largest_backfed_breaker.of(
        f"greatest {last[0].guard.label}", bus_bar=bar, main=others, factor=_factor(scene, feed)
    )
    if not isinstance(room, Figure):
        return
    for rating in islice(ratings_down_from(scene.plant, room.value), 1):
        yield Remedy(
            f"{last[0].guard.label} of at most {shown(scene, rating)}",
            passes=rating,
            change=(Change(f"{last[0].guard.where}.rating", rating.value),),
        )


# direct current


def _direct(scene: Scene, panel: Panel) -> Iterator[Found]:
    devices = _on(scene, panel)
    flows = [item for item in (_charging(scene, devices), _discharging(scene, panel, devices)) if item]
    if not flows:
        return
    bar = part_fact(panel, "bus_bar")
    missing = gap(_CHECK, (panel.id,), bar, *flows)
    if missing is not None:
        yield missing
    known = [item for item in flows if isinstance(item, Figure)]
    if not isinstance(bar, Figure) or not known:
        return
    total = greatest(f"greatest current of the bus bars of {panel.label}", *known)
    if not isinstance(total, Figure) or total.value <= bar.value + 1e-9:
        return
    text = (
        f"{panel.label}: {shown(scene, total, beside=bar)} can flow through bus bars of "
        f"{shown(scene, bar, beside=total)} "
        f"({total.binding().name})"
    )
    remedies = tuple(
        Remedy(
            f"a panel with bus bars of {shown(scene, rating)}",
            passes=rating,
            change=(Change(f"{panel.where}.bus_bar", rating.value),),
        )
        for rating in islice(ratings_from(scene.plant, total.value), 2)
    )
    yield Found(Finding("correct", _CHECK, (panel.id,), text, value=total, limit=bar), remedies)


def _on(scene: Scene, panel: Panel) -> list[DirectCurrentSource]:
    """Return the sources on a DC panel: by their own word, by a position or by their run."""
    held = {position.holds for position in panel.positions} - {None}
    found = []
    for device in scene.plant.sources:
        run = scene.plant.run_of(device)
        ends = set() if run is None else {run.from_, run.to}
        if device.panel == panel.id or device.protection in held or panel.id in ends:
            found.append(device)
    return found


def _charging(scene: Scene, devices: Sequence[DirectCurrentSource]) -> Quantity | None:
    """Return the sum of what the sources of a panel can put onto it, whatever the bank's limit."""
    plant = scene.plant
    pv = [currents.controller_output(plant, one) for one in plant.site.charge_controllers if one in devices]
    inverters = [one for one in devices if isinstance(one, InverterCharger)]
    by_chargers = [plant.rating(one, "charger_current") for one in inverters if currents.charges(plant, one)]
    coupled = [] if binds_backfeed(plant) or not inverters else list(ac_pv_currents(plant).values())
    if not pv and not by_chargers and not coupled:
        return None
    fed = sum_of_currents.of("chargers of the inverters together", currents=by_chargers)
    if coupled:
        back = sum_of_currents.of("AC-coupled PV through the inverters", currents=coupled)
        fed = greatest("what the inverters can put onto the bus bars", fed, back)
    return sum_of_currents.of("sum of the limits of all sources", currents=[*pv, fed])


def _discharging(scene: Scene, panel: Panel, devices: Sequence[DirectCurrentSource]) -> Quantity | None:
    """Return the sum of what inverters and DC loads of a panel can draw from it."""
    plant = scene.plant
    voltage = currents.bank_low(plant)
    drawn = [currents.drawn_by(plant, one) for one in devices if isinstance(one, InverterCharger)]
    held = {position.holds for position in panel.positions}
    loads = [
        load
        for load in plant.site.loads
        if load.current == "dc" and any(one.of == load.id and one.id in held for one in plant.site.protection)
    ]
    drawn += [currents.direct_load_current(plant, load, voltage) for load in loads]
    return sum_of_currents.of("sum of what inverters and loads draw", currents=drawn) if drawn else None


def _value(quantity: Quantity) -> float:
    return quantity.value if isinstance(quantity, Figure) else 0.0


def _shown(scene: Scene, quantity: Quantity) -> str:
    return shown(scene, quantity) if isinstance(quantity, Figure) else "an unknown current"
