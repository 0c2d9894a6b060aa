"""The walk: one thing at a time, from where am I to what comes next."""

from __future__ import annotations

from typing import ClassVar

from textual import on
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.widgets import Input

from commission.checklist.types import Ask
from commission.errors import CommissionError
from commission.screens import walk_text as text
from commission.screens.own_app import app_of
from commission.screens.panels import Choice, ChoicePanel, LinePanel
from commission.screens.visit_page import shown
from commission.screens.walk_actions import StepActions
from commission.screens.walk_view import goes_on
from commission.visit.types import Judgement


class Walk(StepActions):
    """Do what the step says, type what the meter shows, see at once whether it is right."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "take", "take", id="take", show=True),
        *shown("why", "note", "not-here", "go-to"),
        Binding("down", "step_on(1)", show=False),
        Binding("up", "step_on(-1)", show=False),
        Binding("pagedown", "step_over(1)", show=False),
        Binding("pageup", "step_over(-1)", show=False),
        Binding("ctrl+t", "meter", "other meter", show=False, id="meter"),
        Binding("ctrl+r", "release", "release hold point", show=False, id="release"),
        Binding("ctrl+o", "put_off", "put the step off", show=False, id="put-off"),
    ]
    AUTO_FOCUS = "#reading"

    @on(Input.Changed, "#reading")
    def _typing(self, event: Input.Changed) -> None:
        """Show the verdict that the reading would get, while it is typed."""
        event.stop()
        if self._step is None or next(self.visit.standing.bars(self._step), None) is not None:
            return
        self._shown = None
        problem = ""
        typed, moment = text.measured_at(event.value.strip(), app_of(self).now())
        if typed and self._asked.data.kind == "number":
            meter = None if self._meter is None else self._meter.id
            try:
                self._shown = self.visit.weigh(self._asked, typed, measured_at=moment, instrument=meter)
            except CommissionError as error:
                problem = str(error)
        self._paint_verdict(self._shown, self._typed_value(), self._expectation(self._asked))
        if problem:
            self._say("#verdict", problem)

    @on(Input.Submitted, "#reading")
    def _entered(self, event: Input.Submitted) -> None:
        event.stop()
        self.action_take()

    def action_take(self) -> None:
        """Take what was typed; an empty field goes on, to what bars the step where it is barred."""
        step = self._step
        if step is None:
            return
        bar = next(iter(self.visit.standing.bars(step)), None)
        typed = self.query_one("#reading", Input).value.strip()
        if bar is not None:
            barring = self.visit.checklist.by_key.get(bar.by)
            if barring is not None:
                self._enter(barring, self._first_open(barring))
        elif not typed:
            self._go_on()
        elif self.visit.current(self._asked.key) is not None:
            self._ask_again_or_slip(typed)
        else:
            self._take(typed)

    def _ask_again_or_slip(self, typed: str) -> None:
        choices = [
            Choice("anew", "measured anew: the earlier reading stays in the record"),
            Choice("slip", "the earlier one was mistyped: what was judged by it is judged anew"),
        ]

        def chosen(key: str | None) -> None:
            if key == "anew":
                self._take(typed)
            elif key == "slip":
                self._correct(typed)

        self.app.push_screen(ChoicePanel("There is a reading already", choices), chosen)

    def _correct(self, typed: str) -> None:
        value, _ = text.measured_at(typed, app_of(self).now())

        def given(reason: str | None) -> None:
            if reason is None:
                return
            try:
                judged = self.visit.correct(self._asked, value, reason=reason, now=app_of(self).now())
            except CommissionError as error:
                self._say("#verdict", str(error))
                return
            self._taken(judged, value)

        self.app.push_screen(LinePanel("Correct a reading", "What was wrong with the earlier one?"), given)

    def _take(self, typed: str) -> None:
        now = app_of(self).now()
        value, moment = text.measured_at(typed, now)
        try:
            judged = self.visit.take(
                self._asked,
                value,
                measured_at=moment,
                now=now,
                instrument=None if self._meter is None else self._meter.id,
            )
        except CommissionError as error:
            self._say("#verdict", str(error))
            return
        self._taken(judged, value)

    def _taken(self, judged: Judgement, typed: str) -> None:
        """Go on after a good reading; stay where it is out, with what to do about it."""
        step, ask = self._step, self._asked_before
        assert step is not None  # noqa: S101 - a reading belongs to a step
        line = text.verdict_line(judged, "")
        self._last = Content.from_markup(
            "$label$what  $typed  ", label=text.labelled("last", ""), what=ask, typed=typed
        )
        self._last = self._last + line
        if goes_on(judged):
            self._go_on_after_taking()
            return
        self._shown = judged
        self._paint()
        if judged.verdict in {"conditional pass", "conditional fail"}:
            self._ask_reason(judged)

    @property
    def _asked_before(self) -> str:
        assert self._step is not None  # noqa: S101 - a reading belongs to a step
        return self._step.asks[self._at].label

    def _ask_reason(self, judged: Judgement) -> None:
        ask = self._asked

        def given(reason: str | None) -> None:
            if reason:
                self._accept(ask, reason)

        what = f"{judged.says or judged.verdict}\nWhy may it stay? Escape leaves it open until sign-off."
        self.app.push_screen(LinePanel(judged.verdict.capitalize(), what), given)

    def _accept(self, ask: Ask, reason: str) -> None:
        technician = self.technician
        now = app_of(self).now()
        try:
            self.visit.dispose(str(ask.key), "accepted", reason=reason, by=technician, now=now)
        except CommissionError as error:
            app_of(self).tell(error)
            return
        self._go_on_after_taking()
