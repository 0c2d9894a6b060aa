"""What each source can add to the charge by itself: rating, breaker, conductor, array, AC source."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from commission.figure import Figure, Quantity, given, greatest
from commission.formulas.ac_coupling import backfed_charge_current
from commission.formulas.arrays import array_power
from commission.formulas.bank import bank_voltage
from commission.formulas.charging import array_current
from commission.plant.equipment import Ability
from commission.plant.plant import Plant, fact
from commission.plant.site import AcPvInverter, ChargeController, DirectCurrentSource, InverterCharger
from commission.plant.values import UNKNOWN
from commission.sheet.draft import Draft
from commission.sheet.known import least_known
from commission.sheet.run_limits import conductor_limit, protection_limit

SETTING: Final = "charge_current_limit"
_MARGIN: Final = given(
    1.1, "1", "what cold cells and bright clouds add to an array's power", source="common practice"
)


@dataclass(frozen=True, slots=True)
class SourceLimit:
    """One source on the DC bus as the sharing sees it."""

    device: DirectCurrentSource
    own: Quantity
    """A, the least of rating, breaker, conductor and, where nothing else holds it, AC source."""
    useful: Quantity | None
    """A that its array or AC source can deliver; None where that is no bound."""
    ability: Ability | None
    """Of its charge current limit; None where it cannot be commanded."""

    @property
    def ident(self) -> str:
        """Return the id of the device."""
        return self.device.id

    @property
    def settable(self) -> bool:
        """Whether its charge current can be limited by a setting in amperes."""
        return self.ability is not None and self.ability.fixed is None and self.ability.unit == "A"

    @property
    def is_pv(self) -> bool:
        """Whether it is a charge controller."""
        return isinstance(self.device, ChargeController)

    @property
    def most(self) -> float | None:
        """Return its own limit as a number; of one that cannot be commanded what it will add."""
        if self.ability is not None and self.ability.fixed is not None:
            return self.ability.fixed
        return self.own.value if isinstance(self.own, Figure) else None

    @property
    def deliverable(self) -> float | None:
        """Return what it can deliver within its own limit."""
        most = self.most
        if most is None or not isinstance(self.useful, Figure):
            return most
        return min(most, self.useful.value)


def source_limits(draft: Draft) -> dict[str, SourceLimit]:
    """Return every source on the DC bus with its own limit, by id, in the order of the file."""
    return {device.id: _source_limit(draft, device) for device in draft.plant.sources}


def _source_limit(draft: Draft, device: DirectCurrentSource) -> SourceLimit:
    ability = draft.ability(device, SETTING)
    feeds = _feeds(draft, device)
    candidates = [_rating(draft.plant, device)]
    settable = ability is not None and ability.fixed is None and ability.unit == "A"
    if settable:
        assert ability is not None  # noqa: S101 - just tested
        candidates += [_range_end(device, ability), *_wiring(draft.plant, device)]
        if draft.ability(device, "ac_input_current_limit") is None:
            candidates += feeds
    own = least_known(
        draft, f"own limit of {device.label}", candidates, check="source-limit", parts=(device.id,)
    )
    return SourceLimit(device, own, _useful(draft, device, feeds), ability)


def _rating(plant: Plant, device: DirectCurrentSource) -> Quantity:
    field = "charger_current" if isinstance(device, InverterCharger) else "output_current"
    return plant.rating(device, field).named(f"rating of {device.label}")


def _range_end(device: DirectCurrentSource, ability: Ability) -> Quantity:
    assert ability.high is not None  # noqa: S101 - by the ability's validator
    where = f"{device.profile}.settings.{SETTING}"
    return given(
        ability.high, "A", f"greatest that {device.label} can be set to", kind="profile", where=where
    )


def _wiring(plant: Plant, device: DirectCurrentSource) -> list[Quantity]:
    """Return what the device's own DC breaker or fuse and its conductors carry for long."""
    run = plant.run_of(device)
    guards = {device.protection, None if run is None else run.protection} - {None}
    found = [plant.protection_of(ident) for ident in sorted(ident for ident in guards if ident)]
    limits = [
        protection_limit(plant, guard)
        for guard in found
        if guard is not None and guard.kind in {"breaker", "fuse"} and guard.current == "dc"
    ]
    return limits if run is None else [*limits, conductor_limit(plant, run)]


def _feeds(draft: Draft, device: DirectCurrentSource) -> list[Quantity]:
    """Return what each AC source of an inverter/charger can feed through it."""
    if not isinstance(device, InverterCharger):
        return []
    keys = [f"ac_feed:{device.id}:{ident}" for ident in dict.fromkeys(device.inputs.values())]
    return [draft.numbers[key] for key in keys if key in draft.numbers]


def _useful(draft: Draft, device: DirectCurrentSource, feeds: list[Quantity]) -> Quantity | None:
    if isinstance(device, ChargeController):
        return array_charge(draft.plant, device)
    known = [feed for feed in feeds if isinstance(feed, Figure)]
    if not known or len(known) < len(feeds):
        return None
    return greatest(f"charge current that AC sources feed through {device.label}", *known)


def lowest_bulk_voltage(plant: Plant) -> Quantity:
    """Return the lowest voltage of the bank in bulk: cells at their nominal voltage."""
    return bank_voltage.of(
        "lowest voltage of the bank in bulk",
        cells=plant.bank.cells,
        cell_voltage=plant.cell("nominal_cell_voltage"),
    )


def array_charge(plant: Plant, device: ChargeController) -> Quantity | None:
    """Return what a controller's array can deliver into the bank, in A; None where the file has no array."""
    array = device.array
    if array is None:
        return None
    where = f"{device.where}.array"
    power = array_power.of(
        f"array of {device.label}",
        module_power=fact(array, "module_power", where, f"the array of {device.label}"),
        series=fact(array, "series", where, f"the array of {device.label}"),
        strings=float(len(array.strings)),
    )
    return array_current.of(
        f"what the array of {device.label} can deliver",
        power=power,
        margin=_MARGIN,
        voltage=lowest_bulk_voltage(plant),
    )


def ac_pv_currents(plant: Plant) -> dict[str, Quantity]:
    """Return what each AC-coupled PV inverter can drive into the bank, in A, at full rating and no load."""
    if not plant.site.inverter_chargers:
        return {}
    return {device.id: _ac_pv_current(plant, device) for device in plant.site.ac_pv_inverters}


def _ac_pv_current(plant: Plant, device: AcPvInverter) -> Quantity:
    return backfed_charge_current.of(
        f"AC-coupled PV of {device.label} into the bank",
        power=plant.rating(device, "rated_power"),
        efficiency=_back_efficiency(plant),
        bank_voltage=lowest_bulk_voltage(plant),
    )


def _back_efficiency(plant: Plant) -> Quantity:
    """Return the efficiency from AC to DC: the best of the chargers, 1 where one of them is not known."""
    found = [plant.rating(device, "charger_efficiency") for device in plant.site.inverter_chargers]
    known = [item for item in found if isinstance(item, Figure)]
    if len(known) < len(found):
        return given(1.0, "1", "no loss counted", source="efficiency of a charger not known: cautious")
    return greatest("best efficiency from AC to DC", *known)


def binds_backfeed(plant: Plant) -> bool:
    """Whether every inverter/charger's own charge limit also holds back AC-coupled power."""
    inverters = plant.site.inverter_chargers
    found = [plant.inverter_class(device).limit_binds_backfeed for device in inverters]
    return bool(found) and all(item is True for item in found)


def backfeed_unknown(plant: Plant) -> tuple[str, ...]:
    """Return the inverter/chargers of which it is not told whether their limit holds AC-coupled power."""
    if not plant.site.ac_pv_inverters:
        return ()
    return tuple(
        device.id
        for device in plant.site.inverter_chargers
        if plant.inverter_class(device).limit_binds_backfeed == UNKNOWN
    )
