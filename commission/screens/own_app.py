"""The running app by its own type; the library's attribute is not so narrow."""

from __future__ import annotations

from typing import TYPE_CHECKING, cast

from textual.dom import DOMNode

if TYPE_CHECKING:
    from commission.screens.app import CommissionApp


def app_of(node: DOMNode) -> CommissionApp:
    """Return the app that a screen or widget belongs to."""
    return cast("CommissionApp", node.app)
