"""The settings of a finished sheet as the sheet's own helpers read them."""

from __future__ import annotations

from commission.design.types import Scene
from commission.sheet.draft import Draft


def settled(scene: Scene) -> Draft:
    """Return a draft that holds what the sheet has settled; nothing that is done to it reaches the sheet."""
    sheet = scene.sheet
    draft = Draft(scene.plant, settings={one.key: one for one in sheet.settings}, shares=dict(sheet.shares))
    draft.numbers["bus_maximum"] = sheet.bus_maximum
    draft.numbers["bank_limit"] = sheet.bank_limit
    draft.numbers["recommended_limit"] = sheet.recommended_limit
    return draft
