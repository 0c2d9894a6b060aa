"""What the charging setpoints give rise to: sources that disagree, missing sensors, loads to isolate."""

from __future__ import annotations

from commission.figure import Figure, Quantity
from commission.plant.plant import part_fact
from commission.plant.site import DirectCurrentSource
from commission.plant.values import UNKNOWN, in_words
from commission.sheet.draft import Draft
from commission.sheet.temperature import Regime
from commission.sheet.types import Finding


def tell_disagreement(draft: Draft, stage: str, members: list[Regime], common: Quantity) -> None:
    """Find sources that hold another value than the common one without a stated reason."""
    setting = f"{stage}_voltage"
    if stage == "equalize" or not isinstance(common, Figure):
        return
    for regime in members:
        device = regime.device
        if regime.shift is not None:
            continue  # lowered for its own slope, which is a finding of its own
        held = draft.value(device.id, setting)
        meant = device.offset if isinstance(device.offset, float | int) and device.offset_reason else 0.0
        if not isinstance(held, Figure) or abs(held.value + meant - common.value) < 5e-3:
            continue
        if f"{stage}_lowered:{device.id}" in draft.numbers:
            _tell_lowered(draft, stage, regime, members, held)
            continue
        draft.find(
            Finding(
                "advise",
                "sources-disagree",
                (device.id,),
                f"{in_words(stage)} of {device.label} is {held.value:.2f} V, the other sources hold "
                f"{common.value:.2f} V: the highest carries the bus and the others idle",
                f"{common.value:.2f} V on all, or state an offset with its reason in the site file",
                value=held,
                limit=common,
                passes=common,
                setting=setting,
            )
        )


def _tell_lowered(draft: Draft, stage: str, regime: Regime, members: list[Regime], held: Figure) -> None:
    """Say that others hold more than a source whose value came down for what the bus stands in the cold.

    The others' value on it would pass what the bus stands: its own is the one that all may hold.
    """
    device, setting = regime.device, f"{stage}_voltage"
    others = [(one.device, draft.value(one.device.id, setting)) for one in members if one is not regime]
    known = [(one, value) for one, value in others if isinstance(value, Figure)]
    above = [(one, value) for one, value in known if value.value > held.value + 5e-3]
    if not above:
        return
    first, most = max(above, key=lambda pair: pair[1].value)
    least_held = min([held, *(value for _, value in known)], key=_volts)
    draft.find(
        Finding(
            "advise",
            "sources-disagree",
            (device.id,),
            f"{in_words(stage)} of {device.label} came down to {held.value:.2f} V for what the bus stands "
            f"in the cold, {first.label} keeps within it by other means and holds {most.value:.2f} V: it "
            "carries the bus and the others idle",
            f"{least_held.value:.2f} V on all, which every one of them may hold; never more on "
            f"{device.label}",
            value=held,
            limit=most,
            passes=least_held,
            setting=setting,
        )
    )


def _volts(figure: Figure) -> float:
    return figure.value


def tell_no_sensor(draft: Draft, device: DirectCurrentSource, errors: tuple[float, float]) -> None:
    """Say what a device without a battery sensor costs: error in mV of a cell, coldest and hottest month."""
    draft.find(
        Finding(
            "advise",
            "no-battery-sensor",
            (device.id,),
            f"{device.label} does not know the battery's temperature: absorption is {_error(errors[0])} in "
            f"the coldest month and {_error(errors[1])} in the hottest",
            "fit its battery temperature sensor, or a device that has one",
        )
    )


def _error(millivolts: float) -> str:
    """Return an error of one cell as a person says it."""
    whole = round(millivolts)
    return "right" if whole == 0 else f"{abs(whole)} mV a cell too {'high' if whole > 0 else 'low'}"


def tell_offset(draft: Draft, device: DirectCurrentSource) -> None:
    """Find a source that is set lower on purpose without a stated reason."""
    if device.offset in {None, UNKNOWN, 0} or device.offset_reason:
        return
    draft.find(
        Finding(
            "advise",
            "offset-without-reason",
            (device.id,),
            f"{device.label} is set {device.offset:g} V lower than the other sources and the site file gives "
            "no reason",
            "state offset_reason, or take the offset out",
        )
    )


def tell_loads(draft: Draft, regimes: dict[str, Regime]) -> None:
    """Name the DC loads that do not stand the equalise voltage."""
    reached = [draft.numbers.get(f"equalize_coldest:{ident}") for ident in regimes]
    known = [value for value in reached if isinstance(value, Figure)]
    if not known or not draft.plant.has_stage("equalize_voltage"):
        return
    highest = max(known, key=lambda value: value.value)
    for load in draft.plant.site.loads:
        most = part_fact(load, "voltage_max")
        if load.current == "dc" and isinstance(most, Figure) and most.value < highest.value - 1e-9:
            draft.find(
                Finding(
                    "advise",
                    "isolate-during-equalise",
                    (load.id,),
                    f"{load.label} stands {most.value:g} V, equalise reaches {highest.value:.2f} V",
                    "isolate it during equalise",
                    value=highest,
                    limit=most,
                )
            )
