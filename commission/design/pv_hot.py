"""PV strings in the heat and in winter: whether they can still charge the bank; what a switched one loses."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

from commission.design.pv_array import PvArray, array_name, cold_voltage, least_bank_voltage
from commission.design.pv_cold import all_limits
from commission.design.pv_found import PvFound, lacking
from commission.design.pv_heat import (
    Season,
    between,
    heat,
    hot_voltage,
    hottest_cell,
    least_count,
    needed_voltage,
    winter,
)
from commission.design.pv_remedies import controllers_for, fewer_in_series, more_in_series
from commission.design.types import Found, Remedy
from commission.design.words import shown
from commission.figure import Figure, Unknown, given, greatest
from commission.formulas.pv_ratings import share_lost_switched
from commission.plant.change import Change
from commission.plant.plant import fact
from commission.plant.site import PvString
from commission.sheet.types import Finding, Kind

_SLACK: Final = 1e-9
_LOST: Final = given(0.25, "1", "share of the power that a switched array may lose", source="common practice")


@dataclass(frozen=True)
class _Weakest:
    """The string that holds least against what the controller needs of it, in one season."""

    season: Season
    string: PvString
    cell: Figure
    charge: Figure
    holds: Figure
    needs: Figure

    @property
    def fails(self) -> bool:
        """Whether it holds less than is needed."""
        return self.holds.value < self.needs.value - _SLACK

    @property
    def ratio(self) -> float:
        """What it holds over what is needed."""
        return self.holds.value / self.needs.value


def check_hot(pv: PvArray) -> Iterator[PvFound]:
    """Find strings that cannot charge the bank in the heat or in winter, and what a switched one loses."""
    if pv.topology == "boost":
        yield from _boost(pv)
        return
    pairs: list[_Weakest] = []
    for season in (heat(pv), winter(pv)):
        yield from _lacks(pv, season)
        pairs += _weakest(pv, season)
    failing = [one for one in pairs if one.fails]
    if failing:
        yield _low(pv, min(failing, key=lambda one: one.ratio))
    elif pairs:
        yield from (_off_season(pv, one) for one in _weakest(pv, between(pv)) if one.fails)
    if pairs:
        yield from _taken(pv)
    if pv.topology == "switched":
        yield from _switched(pv)


def _lacks(pv: PvArray, season: Season) -> Iterator[PvFound]:
    needs = [needed_voltage(pv, string, season.charge) for string in pv.kinds]
    holds = [hot_voltage(pv, string, season.cell) for string in pv.kinds]
    yield from lacking("hot-voltage", (pv.id,), *needs, *holds)


def _weakest(pv: PvArray, season: Season) -> list[_Weakest]:
    """Return the weakest string of a season; none where something is not known."""
    cell, charge = season.cell, season.charge
    if not isinstance(cell, Figure) or not isinstance(charge, Figure):
        return []
    found = []
    for string in pv.kinds:
        holds, needs = hot_voltage(pv, string, cell), needed_voltage(pv, string, charge)
        if isinstance(holds, Figure) and isinstance(needs, Figure):
            found.append(_Weakest(season, string, cell, charge, holds, needs))
    return sorted(found, key=lambda one: one.ratio)[:1]


def _says(pv: PvArray, one: _Weakest) -> str:
    cell, charge = shown(pv.scene, one.cell, 0), shown(pv.scene, one.charge)
    count = pv.count(one.string)
    holds = "holds" if count == 1 or not pv.alike else "hold"
    told = " (taken, not told)" if " taken" in _names(one.cell) else ""
    return (
        f"{pv.named(one.string)} {holds} {shown(pv.scene, one.holds)} {one.season.words}, cells at "
        f"{cell}{told}; {pv.controller.label} needs {shown(pv.scene, one.needs)} to charge to {charge}"
    )


def _taken(pv: PvArray) -> Iterator[Found]:
    """Say so where the hottest cells are not worked out from what the site file tells."""
    cell = hottest_cell(pv)
    if not isinstance(cell, Figure) or " taken" not in _names(cell):
        return
    air = fact(pv.plant.site.site, "hottest_ambient", "site")
    untold = isinstance(air, Unknown)
    missing = "the site's hottest air" if untold else "the modules' NOCT"
    noct = f"{pv.controller.where}.array.nominal_cell_temperature"
    state = f"state {'site.hottest_ambient' if untold else noct}"
    text = (
        f"{missing} is not told: {array_name(pv.controller)} is judged with cells at "
        f"{shown(pv.scene, cell, 0)}, as is usual"
    )
    yield Found(Finding("advise", "cell-temperature", (pv.id,), text, state, value=cell))


def _names(figure: Figure) -> str:
    """Return what a figure and what it was worked out from are called, one level down."""
    inputs = getattr(figure.origin, "inputs", ())
    return " ".join([figure.name, *(value.name for _, value in inputs if isinstance(value, Figure))])


def _low(pv: PvArray, one: _Weakest) -> Found:
    finding = Finding("correct", "hot-voltage", (pv.id,), _says(pv, one), value=one.holds, limit=one.needs)
    longer, note = more_in_series(pv, all_limits(pv))
    if note:
        finding = replace(finding, text=f"{finding.text}; {note}")
        longer = tuple(_with_larger_class(pv, one.string))
    return Found(finding, longer)


def _with_larger_class(pv: PvArray, string: PvString) -> Iterator[Remedy]:
    """Yield enough modules for the heat on a controller that stands them in the cold."""
    least = least_count(pv, string)
    cold = cold_voltage(pv, string, modules=least)
    if pv.alike and isinstance(cold, Figure):
        yield from controllers_for(pv, cold, least)


def _off_season(pv: PvArray, one: _Weakest) -> Found:
    text = f"{_says(pv, one)}: on a hot day after a cold spell the charge ends lower"
    finding = Finding(
        "advise",
        "hot-voltage-cold-bank",
        (pv.id,),
        text,
        "accept it, or a longer string where the cold allows",
        value=one.holds,
        limit=one.needs,
    )
    return Found(finding)


# controllers that raise the voltage


def _boost(pv: PvArray) -> Iterator[PvFound]:
    """Find strings whose cold voltage is over the bank's: through a boost stage nothing holds them back."""
    voltages = [(string, cold_voltage(pv, string)) for string in pv.kinds]
    bank, full = least_bank_voltage(pv.plant), heat(pv).charge
    yield from lacking("boost-voltage", (pv.id,), bank, full, *(voltage for _, voltage in voltages))
    known = [(string, voltage) for string, voltage in voltages if isinstance(voltage, Figure)]
    if not known or not isinstance(bank, Figure):
        return
    string, voltage = max(known, key=lambda pair: pair[1].value)
    if voltage.value <= bank.value + _SLACK:
        return
    overcharges = isinstance(full, Figure) and voltage.value > full.value + _SLACK
    kind: Kind = "stop" if overcharges else "correct"
    harm = "overcharges the bank and nothing stops it" if overcharges else "cannot hold the current back"
    text = (
        f"{pv.named(string)}: {shown(pv.scene, voltage)} at the record low, the bank falls to "
        f"{shown(pv.scene, bank)}; a controller that raises the PV voltage {harm}"
    )
    fewer, note = fewer_in_series(pv, bank)
    finding = Finding(kind, "boost-voltage", (pv.id,), text, value=voltage, limit=bank)
    if note:
        finding = replace(finding, text=f"{text}; {note}")
    yield Found(finding, fewer)


# controllers that only switch


def _switched(pv: PvArray) -> Iterator[Found]:
    """Find strings whose voltage lies so far over the bank's that a switched controller wastes it."""
    season = heat(pv)
    holds = [hot_voltage(pv, string, season.cell) for string in pv.kinds]
    if not isinstance(season.charge, Figure) or not all(isinstance(one, Figure) for one in holds):
        return
    voltage = greatest("maximum-power voltage of a string with hot cells", *holds)
    lost = share_lost_switched.of(
        "share of the power lost", maximum_power_voltage=voltage, bank_voltage=season.charge
    )
    if not isinstance(lost, Figure) or not isinstance(voltage, Figure) or lost.value <= _LOST.value + _SLACK:
        return
    text = (
        f"the array's best voltage is {shown(pv.scene, voltage)} in the heat, the bank's "
        f"{shown(pv.scene, season.charge)}: {pv.controller.label} only switches, so that {lost.value:.0%} of "
        "the power is lost"
    )
    finding = Finding("advise", "switched-power", (pv.id,), text, value=lost, limit=_LOST)
    fewer, _ = fewer_in_series(pv, all_limits(pv))
    tracking = Remedy(
        "a controller that tracks the maximum power",
        passes=given(0.0, "1", "share lost by a controller that tracks", source="power balance"),
        change=(Change(f"{pv.controller.where}.datasheet.topology", "buck"),),
    )
    yield Found(finding, (*fewer, tracking))
