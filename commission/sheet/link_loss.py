"""A managed bank that opens: under charge the sources lose their bank, empty the bus goes dead."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from commission.figure import Figure, Gap, Quantity, Unknown, given
from commission.formulas.bank import bank_voltage
from commission.formulas.charging import sum_of_currents
from commission.plant.plant import datasheet_gap
from commission.plant.site import DirectCurrentSource, Management
from commission.sheet.bank_state import cells
from commission.sheet.clamp import cell_limit
from commission.sheet.coupled_power import coupled_current
from commission.sheet.draft import Draft
from commission.sheet.gaps import survival_gap
from commission.sheet.hearing import hears_battery
from commission.sheet.settling import not_checked
from commission.sheet.types import Finding

_NOTHING: Final = given(0.0, "A", "charge current as the bank opens", source="told limit at zero before")


def check_bank_loss(draft: Draft, management: Management) -> None:
    """Find devices that do not survive a bank that opens under charge."""
    plant = draft.plant
    weak = [one for one in plant.sources if plant.source_class(one).survives_battery_loss is False]
    open_ones = [one for one in plant.sources if plant.source_class(one).survives_battery_loss == "unknown"]
    told = management.tells_zero_before_opening
    heard = all(hears_battery(plant, source) for source in plant.sources) and not plant.site.ac_pv_inverters
    if heard and told is True:
        return
    parts = tuple(one.id for one in (*weak, *open_ones))
    if heard and told == "unknown" and parts:
        name = "whether the management tells a limit of zero before it opens"
        gap = Gap(name, "bank.management.tells_zero_before_opening")
        not_checked(draft, "bank-lost-under-charge", parts, Unknown((gap,), "", "told limit"))
    elif weak:
        _find_weak(draft, management, weak)
    elif open_ones:
        gaps = tuple(survival_gap(one) for one in open_ones)
        not_checked(draft, "bank-lost-under-charge", parts, Unknown(gaps, "", "survival"))


def possible_current(draft: Draft) -> Quantity:
    """Return the charge current that may flow at the moment in which the bank opens."""
    plant = draft.plant
    found = [draft.shares.get(source.id) for source in plant.sources]
    currents = [share for share in found if share is not None]
    currents += [coupled_current(draft, one) for one in plant.site.ac_pv_inverters]
    return sum_of_currents.of("charge current possible as the bank opens", currents=currents)


def _find_weak(draft: Draft, management: Management, weak: Sequence[DirectCurrentSource]) -> None:
    plant = draft.plant
    current = possible_current(draft)
    under = bank_voltage.of(
        "absorption that stays clear of the cut-off", cells=cells(plant), cell_voltage=cell_limit(plant)
    )
    volts = f"{under.value:.2f} V" if isinstance(under, Figure) else "its margin under the cut-off"
    amperes = f"{current.value:.0f} A" if isinstance(current, Figure) else "an unknown current"
    names = ", ".join(one.label for one in weak)
    told = management.tells_zero_before_opening
    why = {
        True: "and not every source hears the limit that it tells",
        False: "without telling a limit of zero",
    }
    reason = why[told] if isinstance(told, bool) else "and whether it tells a limit of zero before is unknown"
    draft.find(
        Finding(
            "correct",
            "bank-lost-under-charge",
            tuple(one.id for one in weak),
            f"the management may open at {amperes} of charge, {reason}; not made to lose their bank: {names}",
            f"a told limit that reaches zero before the cut-off, absorption at {volts} or less, and a clamp "
            "or a small bank that stays on the bus",
            value=current,
            limit=_NOTHING,
            passes=under,
        )
    )


def check_restart(draft: Draft, management: Management) -> None:
    """Find a plant in which nothing brings the bus back once the battery is open or asleep."""
    plant = draft.plant
    if not management.wakes_by:
        missing = Gap("how a sleeping pack is woken", "bank.management.wakes_by")
        gap = Unknown((missing,), "", "wake-up")
        not_checked(draft, "wake-up", ("bank",), gap)
    controllers = plant.site.charge_controllers
    needs = {one.id: plant.controller_class(one).needs_battery_first for one in controllers}
    if any(value is False for value in needs.values()):
        return
    gaps = [
        datasheet_gap(one, "needs_battery_first", f"whether {one.label} starts without a battery")
        for one in controllers
        if needs[one.id] == "unknown"
    ]
    gaps += [
        Gap(
            f"whether {one.label} starts from its AC input on a dead bus",
            helps="its maker's word, tried on site",
        )
        for one in plant.site.inverter_chargers
        if one.inputs
    ]
    if gaps:
        not_checked(draft, "bus-restart", ("bank",), Unknown(tuple(gaps), "", "restart"))
        return
    draft.find(
        Finding(
            "correct",
            "bus-restart",
            ("bank",),
            "once the battery is open or asleep nothing on this site brings the DC bus back",
            "a source that starts without a battery, a charger on a generator that does, or a way to wake "
            "the packs by hand that is written down on site",
        )
    )
