"""How the bank is put together: its strings against each other, and how many there are."""

from __future__ import annotations

from collections.abc import Iterator

from commission.design.types import Found, Later, Remedy, Scene
from commission.design.words import gap, shown
from commission.errors import SiteError
from commission.figure import Figure, Gap, Quantity, Unknown, given
from commission.formulas.bank import bank_voltage
from commission.plant.battery import BatteryProfile
from commission.plant.change import Change, changed
from commission.plant.check import problems_between_parts
from commission.plant.plant import Plant, fact
from commission.plant.site import BatteryString
from commission.sheet.bank_state import whole
from commission.sheet.known import not_checked
from commission.sheet.types import Finding
from commission.units import show


def check_bank_build(scene: Scene) -> Iterator[Found]:
    """Find strings that do not fit each other, and more of them than the battery bears."""
    for string in scene.plant.bank.strings:
        yield from _string(scene, string)
    yield from _parallel(scene)


# one string against the others


def _string(scene: Scene, string: BatteryString) -> Iterator[Found]:
    """Find a string of another voltage, capacity or kind than the bank's."""
    plant = scene.plant
    battery = plant.battery_of(string)
    if battery is None:
        yield Found(
            not_checked(
                "string-voltage",
                (string.id,),
                (Gap(f"battery profile of {string.id}", f"bank.strings[{string.id}].profile"),),
            )
        )
        return
    own, bank = _voltage_of(plant, string, battery), whole(plant, "nominal_cell_voltage")
    missing = gap("string-voltage", (string.id,), own, bank)
    if missing is not None:
        yield missing
    if isinstance(own, Figure) and isinstance(bank, Figure):
        if abs(own.value - bank.value) > 1e-6:
            yield _other_voltage(scene, string, own, bank)
        elif battery.id != plant.battery.id:
            yield _other_kind(scene, string, battery)
    yield from _other_capacity(scene, string)


def _voltage_of(plant: Plant, string: BatteryString, battery: BatteryProfile) -> Quantity:
    blocks = string.blocks_in_series or plant.bank.blocks_in_series
    where = f"bank.strings[{string.id}]"
    cells = given(
        float(blocks * plant.bank.cells_per_block), "1", f"cells of {string.id}", kind="site", where=where
    )
    return bank_voltage.of(f"nominal voltage of {string.id}", cells=cells, cell_voltage=_cell(plant, battery))


def _cell(plant: Plant, battery: BatteryProfile) -> Quantity:
    if battery is plant.battery:
        return plant.cell("nominal_cell_voltage")
    datum, name = battery.nominal_cell_voltage, f"nominal cell voltage of {battery.name}"
    if isinstance(datum.value, str):
        gap = Gap(name, helps=f"a battery profile that tells it instead of {battery.id}")
        return Unknown((gap,), "V", name)
    where = f"{battery.id}.nominal_cell_voltage"
    return given(datum.value, "V", name, kind="profile", where=where, source=f"{datum.source}; {datum.known}")


def _other_voltage(scene: Scene, string: BatteryString, own: Figure, bank: Figure) -> Found:
    text = (
        f"{string.id} has {shown(scene, own, beside=bank)}, the bank {shown(scene, bank, beside=own)}: "
        "joined, the higher string "
        "drives a current into the lower one that only its resistance holds"
    )
    finding = Finding("stop", "string-voltage", (string.id,), text, value=own, limit=bank)
    return Found(finding, (_like_the_others(string, bank),))


def _other_kind(scene: Scene, string: BatteryString, battery: BatteryProfile) -> Found:
    text = (
        f"{string.id} is {battery.name}, the bank {scene.plant.battery.name}: they want other charging "
        "voltages, one of them is always charged wrongly"
    )
    finding = Finding("correct", "string-kind", (string.id,), text)
    return Found(finding, (_like_the_others(string, None),))


def _like_the_others(string: BatteryString, passes: Figure | None) -> Remedy:
    where = f"bank.strings[{string.id}]"
    change = [
        Change(f"{where}.{field}", None)
        for field in ("profile", "blocks_in_series")
        if getattr(string, field)
    ]
    return Remedy(f"{string.id} of the same blocks as the other strings", passes=passes, change=tuple(change))


def _other_capacity(scene: Scene, string: BatteryString) -> Iterator[Found]:
    if string.capacity is None:
        return
    where = f"bank.strings[{string.id}]"
    own = fact(string, "capacity", where, string.id)
    bank = fact(scene.plant.bank, "capacity", "bank", "the other strings")
    missing = gap("string-capacity", (string.id,), own, bank)
    if missing is not None:
        yield missing
    if not isinstance(own, Figure) or not isinstance(bank, Figure) or abs(own.value - bank.value) < 1e-9:
        return
    text = (
        f"{string.id} has {shown(scene, own, beside=bank)}, the other strings "
        f"{shown(scene, bank, beside=own)}: they do not share the "
        "current alike, and the limits of this sheet count the others"
    )
    remedy = Remedy(
        f"{string.id} of {shown(scene, bank, beside=own)}",
        passes=bank,
        change=(Change(f"{where}.capacity", None),),
    )
    yield Found(Finding("correct", "string-capacity", (string.id,), text, value=own, limit=bank), (remedy,))


# how many


def _parallel(scene: Scene) -> Iterator[Found]:
    """Find more strings in parallel than the chemistry bears, or than its maker allows."""
    plant = scene.plant
    strings = plant.bank.strings
    if len(strings) < 2:
        return
    most = plant.cell("strings_max")
    missing = gap("strings-in-parallel", (plant.bank.id,), most)
    if missing is not None:
        yield missing
    if not isinstance(most, Figure):
        return
    count = given(float(len(strings)), "1", "strings in parallel", kind="site", where="bank.strings")
    usual = plant.cell_range("strings_max")[0]
    told = usual if isinstance(usual, Figure) else most
    if count.value <= told.value + 1e-9:
        return
    over = count.value > most.value + 1e-9
    limit = most if over else told
    usually = "are" if over else "usually are"
    text = (
        f"{len(strings)} strings in parallel, the most {usually} {limit.value:.0f}: unlike leads and ageing "
        "let some carry the others"
    )
    finding = Finding(
        "correct" if over else "advise",
        "strings-in-parallel",
        (plant.bank.id,),
        text,
        value=count,
        limit=limit,
    )
    yield Found(finding, Later(_fewer(scene, limit)))


def _fewer(scene: Scene, limit: Figure) -> Iterator[Remedy]:
    """Yield the same capacity in as many strings as pass, with what is wired to the others taken away."""
    plant = scene.plant
    bank = plant.bank
    count = max(1, int(limit.value))
    each = bank.capacity * len(bank.strings) / count if isinstance(bank.capacity, float | int) else None
    gone = [string.id for string in bank.strings[count:]]
    change = [Change(f"bank.strings[{ident}]", None) for ident in gone]
    change += [Change(f"runs[{run.id}]", None) for run in plant.site.runs if {run.from_, run.to} & set(gone)]
    change += [Change(f"protection[{one.id}]", None) for one in plant.site.protection if one.of in gone]
    size = ""
    if each is not None:
        change.append(Change("bank.capacity", round(each, 3)))
        size = f" of {show(each, 'Ah', plant.site.site.units)}"
    held = tuple(change) if _whole(plant, change) else ()
    word = "string" if count == 1 else "strings"
    yield Remedy(f"{count} {word}{size} instead", passes=limit, change=held)


def _whole(plant: Plant, change: list[Change]) -> bool:
    """Return whether the site still holds together: nothing names a part that is gone."""
    try:
        after = changed(plant, change)
    except SiteError:
        return False
    return not problems_between_parts(after.site, after.equipment, "site")
