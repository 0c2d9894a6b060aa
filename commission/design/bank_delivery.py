"""The bank against its inverters and loads: the current that it gives for long."""

from __future__ import annotations

from collections.abc import Iterator

from commission.design.bank_draws import efficiency_of, long_power, rated_power, start_power, surge_power
from commission.design.bank_remedies import less_load, more_strings
from commission.design.compared import asked, over, within
from commission.design.currents import bank_low, inverter_low
from commission.design.types import Found, Later, Scene
from commission.design.words import shown
from commission.figure import Figure, Quantity, Unknown, given, least
from commission.formulas.load_control import current_of_power
from commission.plant.plant import Plant
from commission.sheet.discharge import discharge_by_cells, discharge_by_management
from commission.sheet.types import Finding, Kind


def check_bank_delivery(scene: Scene) -> Iterator[Found]:
    """Find a bank that does not give the current that its loads and inverters ask for."""
    site = scene.plant.site
    if site.inverter_chargers or any(load.current == "dc" for load in site.loads):
        yield from _current(scene)
    if site.inverter_chargers:
        yield from _management_at_start(scene)


def _lowest(plant: Plant) -> Quantity:
    """Return the lowest voltage at which the load still runs, where its current is greatest, in V."""
    inverters = plant.site.inverter_chargers
    if not inverters:
        return bank_low(plant)
    return least("lowest voltage under load", *(inverter_low(plant, one) for one in inverters))


def _limit(plant: Plant) -> Quantity:
    """Return what the bank gives for long: its cells, and the management of its packs, in A."""
    return least("discharge limit of the bank", discharge_by_cells(plant), *discharge_by_management(plant))


def _amperes(plant: Plant, power: Quantity) -> Quantity:
    name = (
        power.name.replace("power", "current", 1)
        if power.name.startswith("power")
        else f"current, {power.name}"
    )
    return current_of_power.of(name, power=power, voltage=_lowest(plant))


def _current(scene: Scene) -> Iterator[Found]:
    plant = scene.plant
    limit, expected_power = _limit(plant), long_power(plant)
    expected, most = _amperes(plant, expected_power), _amperes(plant, rated_power(plant))
    if within(most, limit):
        return
    if isinstance(limit, Unknown) or isinstance(expected, Unknown):
        yield from asked("bank-discharge", (plant.bank.id,), limit, expected)
        return
    at_load = over(expected, limit)
    if at_load:
        yield _too_much(scene, expected_power, expected, limit)
    if over(most, limit):
        if not at_load or _opens(plant, limit):
            yield _too_much_at_rating(scene, most, limit)
    elif not at_load:
        yield from asked("bank-discharge", (plant.bank.id,), most)


def _opens(plant: Plant, limit: Figure) -> bool:
    """Whether the management of the packs is what limits: it opens them."""
    return limit.binding().name in {one.name for one in discharge_by_management(plant)}


def _too_much(scene: Scene, power: Quantity, current: Quantity, limit: Quantity) -> Found:
    assert isinstance(current, Figure) and isinstance(limit, Figure)  # noqa: S101, PT018 - compared before
    watts = f" ({shown(scene, power)})" if isinstance(power, Figure) else ""
    text = (
        f"the load that runs for long{watts} draws {shown(scene, current, beside=limit)} near the end of "
        "discharge; "
        f"the bank gives {shown(scene, limit, beside=current)} for long ({limit.binding().name})"
    )
    finding = Finding("correct", "bank-discharge", (scene.plant.bank.id,), text, value=current, limit=limit)
    ratio = current.value / limit.value if limit.value > 0 else 1e9
    return Found(finding, (*more_strings(scene, ratio), *less_load(scene, ratio)))


def _too_much_at_rating(scene: Scene, current: Quantity, limit: Quantity) -> Found:
    assert isinstance(current, Figure) and isinstance(limit, Figure)  # noqa: S101, PT018 - compared before
    plant = scene.plant
    opens = _opens(plant, limit)
    kind: Kind = "correct" if opens else "advise"
    cost = "past it the packs open and the site goes dark" if opens else "past it the cells age early"
    what = "the inverters at their ratings" if plant.site.inverter_chargers else "all DC loads together"
    text = (
        f"{what} can draw {shown(scene, current, beside=limit)} near the end of discharge; the bank gives "
        f"{shown(scene, limit, beside=current)} for long ({limit.binding().name}): {cost}"
    )
    finding = Finding(
        kind, "bank-rating", (plant.bank.id,), text, _hold(scene, limit), value=current, limit=limit
    )
    ratio = current.value / limit.value if limit.value > 0 else 1e9
    return Found(finding, Later(more_strings(scene, ratio)))


def _hold(scene: Scene, limit: Figure) -> str:
    volts = _lowest(scene.plant)
    efficiency = efficiency_of(scene.plant)
    if not isinstance(volts, Figure) or not isinstance(efficiency, Figure):
        return "a load that stays within it"
    watts = given(limit.value * volts.value * efficiency.value, "W", "load that passes")
    return f"loads that together stay under {shown(scene, watts)}, or a larger bank"


def _management_at_start(scene: Scene) -> Iterator[Found]:
    """Find a start whose current is over the management's limit, which may open the packs."""
    plant = scene.plant
    limits = discharge_by_management(plant)
    if not limits:
        return
    limit = least("limit of the management", *limits)
    start = start_power(plant)
    current = limit if start is None else _amperes(plant, start)
    if within(_amperes(plant, surge_power(plant)), limit) or not over(current, limit):
        return
    assert isinstance(current, Figure) and isinstance(limit, Figure)  # noqa: S101, PT018 - compared before
    text = (
        f"the largest start draws {shown(scene, current, beside=limit)}; the management of the packs allows "
        f"{shown(scene, limit, beside=current)} for long, and opens if it allows no more for seconds"
    )
    ratio = current.value / limit.value if limit.value > 0 else 1e9
    finding = Finding(
        "advise",
        "management-at-start",
        (plant.bank.id,),
        text,
        "the management's limit for seconds, by its maker, over this current; else a softer start",
        value=current,
        limit=limit,
    )
    yield Found(finding, Later(more_strings(scene, ratio)))
