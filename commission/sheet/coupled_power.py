"""AC-coupled PV that nothing commands, with every DC source beside it, against what the bank takes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from commission.figure import Figure, Quantity, given, least
from commission.formulas.ac_coupling import backfed_charge_current, largest_coupled_power
from commission.formulas.charging import remaining_current, sum_of_currents
from commission.plant.plant import Plant, part_fact
from commission.plant.site import AcPvInverter, InverterCharger
from commission.sheet.bank_state import whole
from commission.sheet.draft import Draft
from commission.sheet.settling import not_checked
from commission.sheet.types import Finding

_NO_LOAD: Final = given(0.0, "W", "no credit for loads", source="the case that counts: full sun, nothing on")


def coupled_current(draft: Draft, inverter: AcPvInverter) -> Quantity:
    """Return what a PV inverter can drive into the bank: as settled before, else at its nominal voltage."""
    plant = draft.plant
    told = draft.numbers.get(f"ac_pv_current:{inverter.id}")
    if told is not None:
        return told
    rated = plant.rating(inverter, "rated_power")
    array = part_fact(inverter, "array_power")
    power = least(f"power of {inverter.label}", rated, array) if isinstance(array, Figure) else rated
    return backfed_charge_current.of(
        f"charge current of {inverter.label}",
        power=power,
        efficiency=_efficiency(plant),
        bank_voltage=whole(plant, "nominal_cell_voltage"),
    )


def _efficiency(plant: Plant) -> Quantity:
    found = [plant.rating(one, "charger_efficiency") for one in plant.site.inverter_chargers]
    if not found:
        return given(1.0, "1", "no inverter between PV and bank", source="no loss counted")
    return least("efficiency from AC to DC", *found)


def check_coupled_power(draft: Draft) -> None:
    """Find AC-coupled PV that, with the DC sources that can run then, is more than the bank takes."""
    plant = draft.plant
    inverters = plant.site.ac_pv_inverters
    limit = draft.numbers.get("bank_limit")
    if limit is None or not plant.site.inverter_chargers or _told_or_held(draft):
        return
    coupled = sum_of_currents.of(
        "AC-coupled PV into the bank", currents=[coupled_current(draft, one) for one in inverters]
    )
    others = _others(draft)
    total = sum_of_currents.of("all that can flow into the bank", currents=[coupled, *others])
    parts = tuple(one.id for one in inverters)
    if not_checked(draft, "coupled-power", parts, least("coupled power", total, limit)):
        return
    assert isinstance(total, Figure) and isinstance(limit, Figure)  # noqa: S101, PT018 - checked above
    if total.value > limit.value + 1e-6:
        draft.find(_too_much(plant, parts, total, limit, _power_that_passes(plant, limit, others)))


def _told_or_held(draft: Draft) -> bool:
    """Return whether the sharing of the limit has told of too much, or the chargers' own limits hold it."""
    plant = draft.plant
    if all(plant.inverter_class(one).limit_binds_backfeed is True for one in plant.site.inverter_chargers):
        return True
    return any(one.check == "bank-limit" and one.kind != "not checked" for one in draft.findings)


def _others(draft: Draft) -> list[Quantity]:
    """Return the shares of the DC sources that can run beside the PV: chargers only on a source that can."""
    plant = draft.plant
    running = [
        source
        for source in plant.sources
        if not isinstance(source, InverterCharger) or _fed_beside_pv(plant, source)
    ]
    found = [draft.shares.get(source.id) for source in running]
    return [share for share in found if share is not None]


def _fed_beside_pv(plant: Plant, inverter: InverterCharger) -> bool:
    """Return whether an AC source can feed a charger while some PV inverter runs."""
    parted = [set(interlock.one_of) for interlock in plant.site.interlocks]
    return any(
        not any({supply, pv.id} <= group for group in parted)
        for supply in inverter.inputs.values()
        for pv in plant.site.ac_pv_inverters
    )


def _power_that_passes(plant: Plant, limit: Figure, others: Sequence[Quantity]) -> Quantity:
    room = remaining_current.of("what the DC sources leave of the bank's limit", limit=limit, others=others)
    return largest_coupled_power.of(
        "AC-coupled PV that passes",
        current=room,
        bank_voltage=whole(plant, "nominal_cell_voltage"),
        efficiency=_efficiency(plant),
        load=_NO_LOAD,
    )


def _too_much(
    plant: Plant, parts: tuple[str, ...], total: Figure, limit: Figure, passes: Quantity
) -> Finding:
    watts = f"{passes.value:.0f} W" if isinstance(passes, Figure) else "less"
    names = ", ".join(one.label for one in plant.site.ac_pv_inverters)
    return Finding(
        "correct",
        "coupled-power",
        parts,
        f"{names} and the DC sources beside them can drive {total.value:.0f} A into the bank, which takes "
        f"{limit.value:.0f} A",
        f"at most {watts} of AC-coupled PV, or lower limits of the DC sources, or a larger bank",
        value=total,
        limit=limit,
        passes=passes,
    )
