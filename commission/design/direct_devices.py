"""Whether DC breakers, fuses and isolators are of the right kind: direction, poles, made for DC."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice, product
from typing import Final

from commission.design.bank_fault import level_at
from commission.design.fault_paths import FaultPaths, fault_paths
from commission.design.main_protection import greatest_bank_voltage
from commission.design.standard import device_voltages_from, interrupting_from
from commission.design.types import Found, Later, Remedy, Scene
from commission.figure import Figure, Gap, given
from commission.plant.change import Change
from commission.plant.site import Protection
from commission.plant.values import UNKNOWN
from commission.sheet.known import not_checked
from commission.sheet.types import Finding

_ISOLATES: Final = frozenset({"breaker", "fuse", "switch"})
_AT_THE_BANK: Final = frozenset({"bank", "string"})
_ONE_POLE: Final = frozenset({"negative", "positive"})
_BOTH_WAYS: Final = given(
    1.0, "1", "a breaker that breaks both ways", source="IEC 60947-2: marked terminals bind the direction"
)


_ISOLATES_ARRAYS: Final = frozenset({"breaker", "switch"})


def check_direct_devices(scene: Scene) -> Iterator[Found]:
    """Find DC devices that break one way only, leave a live pole closed, or are made for AC."""
    paths = fault_paths(scene)
    for guard in paths.guards:
        if guard.kind == "breaker" and _two_way(paths, guard):
            yield from _direction(guard)
    yield from _poles(scene)
    yield from _array_poles(scene, paths)
    for device in scene.plant.site.protection:
        if device.current == "ac" and _on_direct_current(paths, device):
            yield _for_alternating(scene, paths, device)


# direction


def _two_way(paths: FaultPaths, guard: Protection) -> bool:
    """Whether current flows both ways through a device, working or into a fault.

    The bank charges and discharges; a controller's breaker carries charge one way and the bank's fault
    current the other. Towards DC loads, and out of a PV array as a whole, it flows one way; into a faulty
    one of several PV strings the others drive it back.
    """
    if guard.protects in _AT_THE_BANK:
        return True
    if paths.of_array(guard):
        return _one_of_several(paths, guard)
    sources = {source.id for source in paths.plant.sources}
    served = {guard.of} | {one.id for one in paths.plant.sources if one.protection == guard.id}
    for run in paths.runs_of(guard):
        served |= paths.points.beyond(run, paths.far(run))
    for panel in paths.plant.site.panels:
        if panel.main == guard.id and (way := paths.hops.get(panel.id)):
            served |= paths.points.beyond(way[-1][0], panel.id)
    return bool(served & sources) or paths.plant.bank.id in served


def _one_of_several(paths: FaultPaths, guard: Protection) -> bool:
    arrays = [one.array for one in paths.plant.site.charge_controllers if one.array is not None]
    return (
        guard.of in paths.pv_strings
        and not paths.runs_of(guard)
        and any(
            len(array.strings) > 1 and guard.of in {string.id for string in array.strings} for array in arrays
        )
    )


def _direction(guard: Protection) -> Iterator[Found]:
    if guard.polarised == UNKNOWN:
        missing = (Gap(f"whether {guard.label} breaks both ways", f"{guard.where}.polarised"),)
        yield Found(not_checked("polarised-breaker", (guard.id,), missing))
    elif guard.polarised is True:
        text = (
            f"{guard.label} breaks current one way only, but here it flows both ways: against its marks it "
            "may not put out the arc and can burn"
        )
        finding = Finding(
            "stop", "polarised-breaker", (guard.id,), text, "a breaker without polarity marks, or a fuse"
        )
        remedy = Remedy(
            f"{guard.label} of a kind that breaks both ways",
            passes=_BOTH_WAYS,
            change=(Change(f"{guard.where}.polarised", False),),
        )
        yield Found(finding, (remedy,))


# poles


def _poles(scene: Scene) -> Iterator[Found]:
    """Find devices that do not open every pole that is not earthed."""
    devices = [one for one in scene.plant.site.protection if one.current == "dc" and one.kind in _ISOLATES]
    earthed = scene.plant.site.earthing.dc
    single = [one for one in devices if one.poles < 2]
    if earthed == UNKNOWN and single:
        yield Found(
            not_checked(
                "dc-poles", ("site",), (Gap("which pole of the DC system is earthed", "earthing.dc"),)
            )
        )
    if earthed == UNKNOWN or earthed in _ONE_POLE:
        return
    needed = given(2.0, "1", "poles that are not earthed", kind="site", where="earthing.dc")
    for device in single:
        text = (
            f"{device.label} opens {device.poles} pole, but no pole of the DC system is earthed"
            if earthed == "floating"
            else f"{device.label} opens {device.poles} pole, but neither outer pole is earthed"
        )
        finding = Finding(
            "correct",
            "dc-poles",
            (device.id,),
            f"{text}: the other stays live when it is open, and a fault to earth there is not cleared",
            value=given(float(device.poles), "1", "poles", kind="site", where=f"{device.where}.poles"),
            limit=needed,
        )
        remedy = Remedy(
            f"{device.label} in both poles", passes=needed, change=(Change(f"{device.where}.poles", 2),)
        )
        yield Found(finding, (remedy,))


def _array_poles(scene: Scene, paths: FaultPaths) -> Iterator[Found]:
    """Find what isolates an array in one pole where the rule set wants all of them opened."""
    rules = scene.plant.rules
    if rules.pv_poles != "all" or scene.plant.site.earthing.dc not in _ONE_POLE:
        return  # where no pole is earthed every device opens both anyway
    needed = given(
        2.0,
        "1",
        "poles of a PV array",
        kind="rules",
        where=f"{rules.id}.pv_poles",
        source=rules.pv_poles_source,
    )
    for device in scene.plant.site.protection:
        isolates = device.current == "dc" and device.kind in _ISOLATES_ARRAYS and device.poles < 2
        if not isolates or not paths.of_array(device):
            continue
        finding = Finding(
            "correct",
            "array-poles",
            (device.id,),
            f"{device.label} opens {device.poles} pole of the PV array: the other stays live by day, and the "
            "array's own current still feeds an earth fault",
            value=given(float(device.poles), "1", "poles", kind="site", where=f"{device.where}.poles"),
            limit=needed,
        )
        remedy = Remedy(
            f"{device.label} in both poles", passes=needed, change=(Change(f"{device.where}.poles", 2),)
        )
        yield Found(finding, (remedy,))


# made for alternating current


def _on_direct_current(paths: FaultPaths, device: Protection) -> bool:
    named = {source.protection for source in paths.plant.sources}
    held = {
        position.holds
        for panel in paths.plant.site.panels
        if panel.kind == "dc"
        for position in panel.positions
    }
    return (
        device.protects in {*_AT_THE_BANK, "array"}
        or device.id in named | held
        or any(run.protection == device.id for run in paths.points.runs)
    )


def _for_alternating(scene: Scene, paths: FaultPaths, device: Protection) -> Found:
    finding = Finding(
        "stop",
        "ac-device-on-dc",
        (device.id,),
        f"{device.label} is made for AC and sits in a DC circuit: it may not put out the arc and can burn",
        "a breaker or fuse with a dc rating for this voltage and fault current",
        releasable=device.protects not in _AT_THE_BANK,
    )
    return Found(finding, Later(_direct_instead(scene, paths, device)))


def _direct_instead(scene: Scene, paths: FaultPaths, device: Protection) -> Iterator[Remedy]:
    level = level_at(paths, None if paths.of_array(device) else paths.place(device), device)
    voltage = greatest_bank_voltage(scene.plant)
    if paths.of_array(device) or not isinstance(level.high, Figure) or not isinstance(voltage, Figure):
        return
    volts = islice(device_voltages_from(scene.plant, voltage.value), 2)
    amps = islice(interrupting_from(scene.plant, level.high.value), 1)
    for rated, breaks in product(volts, amps):
        where = device.where
        changes = [
            Change(f"{where}.current", "dc"),
            Change(f"{where}.voltage", rated.value),
            Change(f"{where}.interrupting", breaks.value),
        ]
        if device.kind == "breaker":
            changes.append(Change(f"{where}.polarised", False))
        yield Remedy(
            f"{device.label} rated {rated.value:g} V dc that breaks {breaks.value:g} A dc",
            passes=breaks,
            change=tuple(changes),
        )
