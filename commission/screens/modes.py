"""Which pages there are, each loaded when it is shown for the first time."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from textual.screen import Screen


def _home() -> Screen[None]:
    from commission.screens.home import Home

    return Home()


def _service() -> Screen[None]:
    from commission.screens.service import ServicePage

    return ServicePage()


def _people() -> Screen[None]:
    from commission.screens.people import People

    return People()


def _plant() -> Screen[None]:
    from commission.screens.plant import PlantAtAGlance

    return PlantAtAGlance()


def _findings() -> Screen[None]:
    from commission.screens.findings import Findings

    return Findings()


def _settings() -> Screen[None]:
    from commission.screens.settings import Settings

    return Settings()


def _walk() -> Screen[None]:
    from commission.screens.walk import Walk

    return Walk()


def _sign() -> Screen[None]:
    from commission.screens.sign import Sign

    return Sign()


MODES: Final[dict[str, Callable[[], Screen[None]]]] = {
    "home": _home,
    "service": _service,
    "people": _people,
    "plant": _plant,
    "findings": _findings,
    "settings": _settings,
    "walk": _walk,
    "sign": _sign,
}
PAGES: Final = {
    "walk": "Go on with the walk",
    "settings": "Settings sheet",
    "plant": "Plant at a glance",
    "findings": "Findings of the design check",
    "people": "People and instruments",
    "sign": "Sign-off",
}
"""Pages of an open visit and what the palette calls them."""
