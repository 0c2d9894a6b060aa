"""The input under a list: what is typed ahead while the last entry is still being taken is not lost."""

from __future__ import annotations

from typing import ClassVar

from textual import events
from textual.binding import Binding, BindingType
from textual.widgets import Input


class Entry(Input, inherit_bindings=False):
    """Empties itself on Enter, before the page has looked at what was typed.

    Emptied by the page instead, it would swallow what a quick hand types in between.
    """

    # without those for scrolling, which would keep the page's own keys out of the footer
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "submit", "take", show=True),
        *(key for key in Input.BINDINGS if not (isinstance(key, Binding) and key.key == "enter")),
    ]

    def __init__(self, *, id: str) -> None:  # noqa: A002 - as every widget has it
        super().__init__(id=id, select_on_focus=False)

    async def on_key(self, event: events.Key) -> None:
        """Take Enter in its turn.

        As a binding it would run only after the keys behind it have been typed into the field: two readings
        that arrive together, as over a slow line, would become one number.
        """
        if event.key == "enter":
            event.stop()
            event.prevent_default()
            await self.action_submit()

    async def action_submit(self) -> None:
        """Hand over what was typed."""
        typed = self.value
        self.post_message(self.Submitted(self, typed))
        self.value = ""

    def submit_again(self) -> None:
        """Hand over once more what was refused and stands in the field, as if Enter were pressed."""
        self.call_later(self.action_submit)

    def give_back(self, typed: str) -> None:
        """Let what was refused stand in the field again, to be put right."""
        if not self.value:
            self.value = typed
            self.cursor_position = len(typed)
