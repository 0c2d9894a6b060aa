"""The trade's equations as pure functions of floats, one module a subject."""

from __future__ import annotations

import importlib
import pkgutil
from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from commission.figure import Formula


def registry() -> dict[str, Formula[...]]:
    """Import every module of formulas and return them by name."""
    from commission.figure import REGISTRY

    _import_all()
    return dict(sorted(REGISTRY.items()))


@cache
def _import_all() -> None:
    for module in pkgutil.iter_modules(__path__):
        importlib.import_module(f"{__name__}.{module.name}")
