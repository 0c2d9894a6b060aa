"""A managed battery on a data link: what silence does, what settings mean beside it, who is off it.

The battery tells limits; a setting of a linked device is a cap beside them and what it falls back to when the
link is silent. Devices off the link hold static values under the management's cut-off.
"""

from __future__ import annotations

from typing import Final

from commission.figure import Figure, Gap, Unknown, given
from commission.plant.site import Device, DirectCurrentSource
from commission.sheet.bank_state import COMMON
from commission.sheet.draft import Draft
from commission.sheet.hearing import linked_sources
from commission.sheet.link_loss import check_bank_loss, check_restart
from commission.sheet.link_static import check_static_sources
from commission.sheet.settling import annotate, not_checked, put_aside, settled
from commission.sheet.types import Finding

_SILENCE: Final = given(10.0, "s", "silence of the link before a device acts", source=COMMON)
_LONGEST_SILENCE: Final = given(60.0, "s", "longest silence before a device acts", source=COMMON)
_FALLBACK: Final = "cap beside what the battery tells, and fallback when the link is silent"
_LINKED: Final = (
    "absorption_voltage",
    "float_voltage",
    "charge_current_limit",
    "charge_disconnect_voltage",
    "discharge_current_limit",
)
_LINK_SETTINGS: Final = ("battery_link_silence_time", "battery_link_silence_action")


def settle_link(draft: Draft) -> None:
    """Settle what linked devices do in silence, and check the sources that no link stops."""
    management = draft.plant.bank.management
    if management is None or management.data_link is not True:
        _without_link(draft)
    if management is None:
        return
    not_told = management.data_link == "unknown"
    if not_told:
        missing = Gap("whether the management has a data link", "bank.management.data_link")
        gap = Unknown((missing,), "", "data link")
        not_checked(draft, "data-link", ("bank",), gap)
    linked = linked_sources(draft.plant)
    for device in linked:
        _settle_linked(draft, device)
    off_link = tuple(source for source in draft.plant.sources if source not in linked)
    if not not_told:
        check_static_sources(draft, management, off_link)
    check_bank_loss(draft, management)
    check_restart(draft, management)


def _without_link(draft: Draft) -> None:
    for device in draft.plant.devices:
        for setting in _LINK_SETTINGS:
            _put_word_aside(draft, device, setting, "no data link to a battery on this site")


def _put_word_aside(draft: Draft, device: Device, setting: str, note: str) -> None:
    ability = draft.ability(device, setting)
    if ability is None:
        return
    if ability.choices and not ability.off:
        draft.word(device, setting, _stopping(ability.choices) or ability.choices[0], note=note)
        return
    put_aside(draft, device, setting, "low", note)


def _stopping(choices: tuple[str, ...]) -> str | None:
    """Return the choice of a device that stops charging, None where it has none."""
    return next((word for word in choices if word.lower().startswith("stop")), None)


def _settle_linked(draft: Draft, device: DirectCurrentSource) -> None:
    settled(draft, device, "battery_link_silence_time", _SILENCE, high=_LONGEST_SILENCE)
    _settle_action(draft, device)
    for setting in _LINKED:
        annotate(draft, device, setting, _FALLBACK)
    _check_silence(draft, device)


def _settle_action(draft: Draft, device: DirectCurrentSource) -> None:
    ability = draft.ability(device, "battery_link_silence_action")
    if ability is None:
        return
    stop = _stopping(ability.choices)
    if stop is not None:
        draft.word(
            device, "battery_link_silence_action", stop, note="a bank that says nothing is not charged"
        )
    elif ability.choices:
        draft.word(device, "battery_link_silence_action", ability.choices[0], note=_FALLBACK)
        draft.find(_carries_on(draft, device))


def _check_silence(draft: Draft, device: DirectCurrentSource) -> None:
    """Say what silence does to a linked source that has no setting for it."""
    if draft.ability(device, "battery_link_silence_action") is not None:
        return
    does = device.silence.does
    if does == "unknown":
        name = f"what {device.label} does when the link is silent (taken as: stops)"
        gap = Unknown((Gap(name, f"{device.where}.silence.does"),), "", "silence")
        not_checked(draft, "link-silence", (device.id,), gap)
    elif does == "carries on alone":
        draft.find(_carries_on(draft, device))
    if device.silence.after == "unknown" and draft.ability(device, "battery_link_silence_time") is None:
        name = f"how long the link may be silent before {device.label} acts"
        gap = Unknown((Gap(name, f"{device.where}.silence.after"),), "s", "silence")
        not_checked(draft, "link-silence-time", (device.id,), gap)


def _carries_on(draft: Draft, device: DirectCurrentSource) -> Finding:
    held = draft.value(device.id, "charge_current_limit")
    share = draft.shares.get(device.id)
    flows = held if isinstance(held, Figure) else share
    amperes = f"up to {flows.value:.0f} A" if isinstance(flows, Figure) else "an unknown current"
    return Finding(
        "advise",
        "carries-on-in-silence",
        (device.id,),
        f"{device.label} goes on charging alone when the link is silent: {amperes}, held only by its own "
        "settings",
        "battery link silence action: stop; or a charge-permit contact that stops it",
        value=flows,
    )
