"""The sheet of a plant: every step in its order, each building on what the earlier ones settled."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from commission.figure import Gap
from commission.plant.equipment import Input
from commission.plant.plant import Plant
from commission.plant.site import Device, InverterCharger
from commission.sheet.ac_sources import settle_ac_sources
from commission.sheet.bank_limit import settle_bank_limit
from commission.sheet.coupling import settle_coupling
from commission.sheet.draft import Draft
from commission.sheet.generator import settle_generator
from commission.sheet.link import settle_link
from commission.sheet.low_end import settle_low_end
from commission.sheet.monitor import settle_monitor
from commission.sheet.orders import check_orders
from commission.sheet.outputs import settle_outputs
from commission.sheet.setpoints import settle_setpoints
from commission.sheet.sharing import settle_sharing
from commission.sheet.temperature import settle_temperature
from commission.sheet.times import settle_times
from commission.sheet.types import KINDS, Finding, Setting, Sheet


def _settle_voltages(draft: Draft) -> None:
    settle_setpoints(draft, settle_temperature(draft))


_STEPS: Final[tuple[Callable[[Draft], None], ...]] = (
    _settle_voltages,
    settle_times,
    settle_bank_limit,
    settle_ac_sources,
    settle_sharing,
    settle_low_end,
    settle_generator,
    settle_monitor,
    settle_coupling,
    settle_link,
    settle_outputs,
    check_orders,
)


def make_sheet(plant: Plant) -> Sheet:
    """Return the settings and findings of a plant; the same plant always gives the same sheet."""
    draft = Draft(plant)
    for step in _STEPS:
        step(draft)
    _keep_open(draft)
    return Sheet(
        settings=tuple(_in_order(draft)),
        findings=tuple(sorted(draft.findings, key=worst_first)),
        bank_limit=draft.numbers["bank_limit"],
        recommended_limit=draft.numbers["recommended_limit"],
        bus_maximum=draft.numbers["bus_maximum"],
        shares=dict(draft.shares),
        numbers=dict(draft.numbers),
    )


def worst_first(finding: Finding) -> tuple[int, str]:
    """Return the key by which findings are sorted: the worst kind first, then by id."""
    return KINDS.index(finding.kind), finding.id


def _keep_open(draft: Draft) -> None:
    """Keep every setting that a device has on the sheet, also one that nothing here asks for."""
    for device in draft.plant.devices:
        for setting, ability in draft.plant.equipment[device.id].settings.items():
            for input_ in _inputs(device) if ability.per_input else (None,):
                if (device.id, setting, input_) not in draft.settings:
                    draft.unknown_word(
                        device, setting, Gap("a part of this plant that asks for it"), input_=input_
                    )


def _inputs(device: Device) -> tuple[Input, ...]:
    return tuple(device.inputs) if isinstance(device, InverterCharger) else ()


def _in_order(draft: Draft) -> list[Setting]:
    """Return the settings by device and in the order in which its class lists them."""
    found = []
    for device in draft.plant.devices:
        for setting in draft.plant.equipment[device.id].settings:
            keys = [(device.id, setting, input_) for input_ in (None, "generator", "utility")]
            found += [draft.settings[key] for key in keys if key in draft.settings]
    return found
