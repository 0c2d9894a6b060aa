"""Panels that ask: a few fields one under the other, or one question with yes."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.widgets import Input, Static

from commission.errors import CommissionError
from commission.screens.own_app import app_of
from commission.screens.panels import Panel


@dataclass(frozen=True, slots=True)
class Field:
    """One line of a form."""

    key: str
    label: str
    value: str = ""
    hint: str = ""
    secret: bool = False
    """What is typed is not shown, and taken as it is, blanks too."""
    wanted: str = ""
    """What is asked where nothing is typed; empty where the field may stay so."""
    replaced: bool = False
    """What stands in it is selected on entering, so that typing takes its place."""


class FormPanel(Panel):
    """A few fields; Enter goes down and, on the last one, keeps. What is refused stays as it was typed."""

    CSS_PATH = "styles/forms.tcss"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("down", "app.focus_next", show=False),
        Binding("up", "app.focus_previous", show=False),
    ]

    def __init__(
        self, title: str, what: str, fields: Sequence[Field], keep: Callable[[dict[str, str]], None]
    ) -> None:
        """Make a form; ``keep`` takes what was typed, or raises a CommissionError that says what is wrong."""
        super().__init__()
        self._title = title
        self._what = what
        self._fields = tuple(fields)
        self._keep = keep

    def compose(self) -> ComposeResult:
        with Vertical(classes="panel small"):
            yield Static(self._title, classes="panel-title", markup=False)
            yield Static(self._what, classes="form-what", markup=False)
            for field in self._fields:
                with Horizontal(classes="field"):
                    if field.label:
                        yield Static(field.label, classes="label", markup=False)
                    yield Input(
                        value=field.value,
                        placeholder=field.hint,
                        password=field.secret,
                        id=f"field-{field.key}",
                        select_on_focus=field.replaced,
                    )
            yield Static("", id="form-said", markup=False)
            yield Static(
                "Enter: next, keep after the last   Escape: back", classes="panel-foot", markup=False
            )

    @on(Input.Submitted)
    def _down(self, event: Input.Submitted) -> None:
        event.stop()
        ids = [f"field-{field.key}" for field in self._fields]
        here = self._fields[ids.index(str(event.input.id))]
        if self._lacks(here):
            return
        if event.input.id != ids[-1]:
            self.query_one(f"#{ids[ids.index(str(event.input.id)) + 1]}", Input).focus()
            return
        self._give()

    def _lacks(self, field: Field) -> bool:
        """Go to a field that may not stay empty and is, and ask for it."""
        lacks = bool(field.wanted) and not self._typed(field)
        if lacks:
            self.query_one(f"#field-{field.key}", Input).focus()
        self.query_one("#form-said", Static).update(Content(field.wanted if lacks else ""))
        return lacks

    def _give(self) -> None:
        if any(self._lacks(field) for field in self._fields):
            return
        typed = {field.key: self._typed(field) for field in self._fields}
        try:
            self._keep(typed)
        except CommissionError as error:
            self.query_one("#form-said", Static).update(Content(str(error)))
            app_of(self).offer_storage(error, self._give)
            return
        self.dismiss("kept")

    def _typed(self, field: Field) -> str:
        value = self.query_one(f"#field-{field.key}", Input).value
        return value if field.secret else value.strip()


class ConfirmPanel(Panel):
    """One question; Enter says yes."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("enter", "confirm", "yes", show=False)]

    def __init__(self, title: str, text: str, yes: str) -> None:
        super().__init__()
        self._title = title
        self._text = text
        self._yes = yes

    def compose(self) -> ComposeResult:
        with Vertical(classes="panel small"):
            yield Static(self._title, classes="panel-title", markup=False)
            yield Static(self._text, markup=False)
            yield Static(f"Enter: {self._yes}   Escape: back", classes="panel-foot", markup=False)

    def action_confirm(self) -> None:
        self.dismiss("yes")
