"""The least app that does the same work at a terminal: a field, and a label that repeats what is typed."""

from __future__ import annotations

from textual.app import App, ComposeResult
from textual.widgets import Input, Static


class Bare(App[None]):
    """An app of two widgets."""

    def compose(self) -> ComposeResult:
        yield Static("ready", id="label", markup=False)
        yield Input(id="field")

    def on_input_changed(self, event: Input.Changed) -> None:
        self.query_one("#label", Static).update(f"seen {event.value}.")


if __name__ == "__main__":
    Bare().run()
