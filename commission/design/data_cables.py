"""Communication cables: their length against the maker's or the standard's limit, and their termination."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from commission.design.types import Found, Remedy, Scene
from commission.design.words import gap, shown
from commission.figure import Figure, Gap, Quantity, Unknown, given
from commission.plant.change import Change
from commission.plant.plant import Plant, part_fact
from commission.plant.site import DataCable
from commission.plant.values import UNKNOWN
from commission.sheet.types import Finding
from commission.units import plain

_LENGTH: Final = "data-cable-length"
_END: Final = "data-cable-termination"
_LISTED: Final = "data-cable"

_CAN: Final = (
    (1_000_000.0, 40.0, "ISO 11898-2: 40 m at 1 Mbit/s; from memory"),
    (500_000.0, 100.0, "common practice by ISO 11898-2 bit timing: 100 m at 500 kbit/s; from memory"),
    (250_000.0, 250.0, "common practice by ISO 11898-2 bit timing: 250 m at 250 kbit/s; from memory"),
    (125_000.0, 500.0, "common practice by ISO 11898-2 bit timing: 500 m at 125 kbit/s; from memory"),
    (50_000.0, 1000.0, "common practice by ISO 11898-2 bit timing: 1000 m at 50 kbit/s; from memory"),
)
"""Bit rate in bit/s, longest bus in m, source; fastest first. Between two rates the faster one's length."""
_RS485: Final = (
    (10_000_000.0, 12.0, "TIA-485-A application notes: 12 m at 10 Mbit/s; from memory"),
    (1_000_000.0, 100.0, "TIA-485-A application notes: bit rate × length up to 10⁸ bit·m/s; from memory"),
    (100_000.0, 1200.0, "TIA-485-A application notes: 1200 m up to 100 kbit/s; from memory"),
)
_FIXED: Final = {
    "RS-232": (15.0, "TIA-232, earlier editions: 15 m (50 ft); from memory"),
    "Ethernet": (100.0, "ISO/IEC 11801 and IEEE 802.3: 100 m of twisted pair"),
}
_BY_RATE: Final = {"CAN": _CAN, "RS-485": _RS485}
_ENDED: Final = frozenset({"CAN", "RS-485"})
"""Kinds of bus whose two ends carry a resistor."""


def check_data_cables(scene: Scene) -> Iterator[Found]:
    """Find data cables that are too long or not terminated, and links that the file lists no cable for."""
    for cable in scene.plant.site.data_cables:
        yield from _length(scene, cable)
        yield from _termination(scene.plant, cable)
    yield from _unlisted(scene.plant)


# length


def _length(scene: Scene, cable: DataCable) -> Iterator[Found]:
    length, limit = part_fact(cable, "length"), _limit(cable)
    if isinstance(length, Figure) and isinstance(limit, Unknown):
        shortest = _fastest(cable)
        if shortest is not None and length.value <= shortest.value + 1e-9:
            return  # short enough at any bit rate
    missing = gap(_LENGTH, (cable.id,), length, limit)
    if missing is not None:
        yield missing
    if not isinstance(length, Figure) or not isinstance(limit, Figure):
        return
    if length.value <= limit.value + 1e-9:
        return
    text = (
        f"{cable.label}: {shown(scene, length, beside=limit)} of {cable.kind} cable, at most "
        f"{shown(scene, limit, beside=length)} may be: "
        "data get lost, and devices fall back to their own settings"
    )
    shorter = Remedy(
        f"a bus of at most {shown(scene, limit, beside=length)}, or a repeater that its makers allow",
        passes=limit,
        change=(Change(f"{cable.where}.length", limit.value),),
    )
    finding = Finding("correct", _LENGTH, (cable.id,), text, value=length, limit=limit)
    yield Found(finding, (shorter, *_slower(cable, length)))


def _limit(cable: DataCable) -> Quantity:
    """Return the longest that a bus may be: the maker's word, else the standard's."""
    own = part_fact(cable, "length_max")
    if isinstance(own, Figure):
        return own
    name = f"longest {cable.kind} bus"
    if cable.kind in _FIXED:
        most, source = _FIXED[cable.kind]
        return given(most, "m", name, source=source)
    rows = _BY_RATE.get(cable.kind)
    if rows is None:
        return own
    rate = part_fact(cable, "bit_rate")
    if isinstance(rate, Unknown):
        return Unknown(rate.missing, "m", name)
    held = [row for row in rows if row[0] >= rate.value - 1e-9]
    if not held:
        allowed = f"length that is allowed at {plain(rate.value)} bit/s for {cable.label}"
        return Unknown((Gap(allowed, f"{cable.where}.length_max"),), "m", name)
    most, source = held[-1][1:]
    return given(most, "m", f"{name} at {plain(rate.value)} bit/s", source=source)


def _fastest(cable: DataCable) -> Figure | None:
    """Return the longest bus at the greatest bit rate of its kind: what always holds."""
    rows = _BY_RATE.get(cable.kind)
    if rows is None or cable.bit_rate != UNKNOWN:
        return None
    return given(rows[0][1], "m", f"longest {cable.kind} bus at any bit rate", source=rows[0][2])


def _slower(cable: DataCable, length: Figure) -> Iterator[Remedy]:
    """Offer the fastest bit rate that allows the length, where the maker names no limit of his own."""
    if cable.length_max != UNKNOWN:
        return
    for rate, most, source in _BY_RATE.get(cable.kind, ()):
        if most >= length.value - 1e-9:
            passes = given(rate, "bit/s", "bit rate at which the length is allowed", source=source)
            yield Remedy(
                f"{plain(rate / 1000.0)} kbit/s on every device of the bus, where all of them can",
                passes=passes,
                change=(Change(f"{cable.where}.bit_rate", rate),),
            )
            return


# termination


def _termination(plant: Plant, cable: DataCable) -> Iterator[Found]:
    if cable.kind not in _ENDED:
        return
    if cable.terminated is False:
        finding = Finding(
            "correct",
            _END,
            (cable.id,),
            f"{cable.label}: not both ends of the bus carry their resistor: the link fails now and then",
        )
        remedy = Remedy(
            "a resistor at each of the two ends and nowhere else",
            change=(Change(f"{cable.where}.terminated", True),),
        )
        yield Found(finding, (remedy,))
    elif cable.terminated == UNKNOWN and _needed(plant, cable):
        found = gap(
            _END, (cable.id,), Unknown((Gap(f"termination of {cable.label}", f"{cable.where}.terminated"),))
        )
        if found is not None:
            yield found


def _needed(plant: Plant, cable: DataCable) -> bool:
    """Whether the managed battery, a group or the coordination lives on a cable."""
    ends = {cable.from_, cable.to}
    return bool(ends & (_battery_ends(plant) | _group_ends(plant)))


def _battery_ends(plant: Plant) -> set[str]:
    management = plant.bank.management
    if management is None or management.data_link is not True:
        return set()
    return {plant.bank.id, *(string.id for string in plant.bank.strings)}


def _group_ends(plant: Plant) -> set[str]:
    grouped = {device.id for device in plant.site.inverter_chargers if device.group is not None}
    coordination = plant.site.coordination
    if coordination.kind == "none":
        return grouped
    return grouped | set(coordination.members) | ({coordination.controller or ""} - {""})


# links without a cable


def _unlisted(plant: Plant) -> Iterator[Found]:
    """Ask once for the cables of a link that the plant has by other words of its file."""
    ends = {end for cable in plant.site.data_cables for end in (cable.from_, cable.to)}
    battery = _battery_ends(plant)
    missing: list[Quantity] = []
    if battery and not battery & ends:
        missing.append(
            Unknown((Gap(f"data cable between {plant.bank.id} and the devices on its link", "data_cables"),))
        )
    group = _group_ends(plant)
    if len(group) > 1 and not group & ends:
        missing.append(Unknown((Gap(f"data cable between {', '.join(sorted(group))}", "data_cables"),)))
    found = gap(_LISTED, (plant.bank.id if battery else "site",), *missing)
    if found is not None:
        yield found
