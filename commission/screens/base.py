"""What stands in every screen: where am I, how far, a rule above and below, the keys."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.screen import Screen
from textual.widgets import Footer, Static

RULE = "─" * 400
"""Longer than any terminal is wide; the widget cuts it."""


class Page(Screen[None]):
    """Base of all full screens. Subclasses give ``body`` and the two ends of the title line."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "leave", "back", id="back", show=False),
        Binding("f1", "help", "help", id="help"),
    ]
    HORIZONTAL_BREAKPOINTS = [(0, "-narrow"), (80, "-normal"), (120, "-wide")]
    help_text: ClassVar[str] = ""
    """What the person does here and which keys serve, for the help panel."""

    def compose(self) -> ComposeResult:
        with Horizontal(id="title"):
            yield Static(id="where", markup=False)
            yield Static(id="far", markup=False)
        yield Static(RULE, classes="rule", markup=False)
        with Vertical(id="body"):
            yield from self.body()
        yield Static(RULE, classes="rule", markup=False)
        yield Footer(show_command_palette=False)

    def body(self) -> ComposeResult:
        """Yield what stands between the two rules."""
        yield from ()

    def say_where(self, where: str, far: str = "") -> None:
        """Set the two ends of the title line."""
        self.query_one("#where", Static).update(Content(where))
        self.query_one("#far", Static).update(Content(far))

    def action_leave(self) -> None:
        if len(self.app.screen_stack) > 1:
            self.app.pop_screen()

    def action_help(self) -> None:
        from commission.screens.panels import HelpPanel

        self.app.push_screen(HelpPanel(self.help_text))
