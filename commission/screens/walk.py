"""The walk: one thing at a time, from where am I to what comes next."""

from __future__ import annotations

from collections.abc import Callable
from typing import ClassVar

from textual import on
from textual.binding import Binding, BindingType
from textual.widgets import Input

from commission.checklist.types import Ask
from commission.errors import CommissionError, VisitError
from commission.screens import walk_text as text
from commission.screens.entry import Entry
from commission.screens.own_app import app_of
from commission.screens.panels import Choice, ChoicePanel, LinePanel
from commission.screens.visit_page import shown
from commission.screens.walk_actions import StepActions
from commission.screens.walk_view import goes_on
from commission.visit.types import Judgement


class Walk(StepActions):
    """Do what the step says, type what the meter shows, see at once whether it is right."""

    BINDINGS: ClassVar[list[BindingType]] = [
        *shown("why", "note", "not-here", "go-to", "sign"),
        Binding("down", "step_on(1)", show=False),
        Binding("up", "step_on(-1)", show=False),
        Binding("pagedown", "step_over(1)", show=False),
        Binding("pageup", "step_over(-1)", show=False),
        Binding("ctrl+t", "meter", "other meter", show=False, id="meter"),
        Binding("ctrl+r", "release", "release hold point", show=False, id="release"),
        Binding("ctrl+o", "put_off", "put the step off", show=False, id="put-off"),
        Binding(
            "ctrl+g",
            "attach",
            "attach a file",
            show=False,
            id="attach",
            tooltip="Attach a photograph or a log to this step",
        ),
    ]
    AUTO_FOCUS = "#reading"

    @on(Input.Changed, "#reading")
    def _typing(self, event: Input.Changed) -> None:
        """Show the verdict that the reading would get, while it is typed."""
        event.stop()
        if self._step is None or next(self.visit.standing.bars(self._step), None) is not None:
            return
        if not event.value and self._kept_on_screen:
            return  # the field has emptied itself; the verdict on what stood there stays in view
        self._kept_on_screen = False
        self._shown, self._shown_value = None, None
        problem = ""
        typed, moment = text.measured_at(event.value.strip(), app_of(self).now())
        if typed and self._asked.data.kind == "number":
            meter = None if self._meter is None else self._meter.id
            self._shown_value = self._number_in(typed)
            try:
                self._shown = self.visit.weigh(self._asked, typed, measured_at=moment, instrument=meter)
            except CommissionError as error:
                problem = str(error)
        self._paint_verdict(self._shown, self._shown_value, self._expectation(self._asked))
        if problem:
            self._say_wrong(problem)

    @on(Input.Submitted, "#reading")
    def _entered(self, event: Input.Submitted) -> None:
        """Take what was typed; an empty field goes on, to what bars the step where it is barred."""
        event.stop()
        step, typed = self._step, event.value.strip()
        if step is None:
            return
        bar = next(iter(self.visit.standing.bars(step)), None)
        if bar is not None and typed:
            told = f"barred, so not taken: {bar.why}; Enter on an empty field goes there"
            self._refused(VisitError(told), typed)
        elif bar is not None and bar.by is None:
            app_of(self).show_finding(bar.finding)
        elif bar is not None:
            barring = None if bar.by is None else self.visit.checklist.by_key.get(bar.by)
            if barring is not None:
                self._enter(barring, self._first_open(barring))
        elif not typed:
            self._go_on()
        elif self.visit.current(self._asked.key) is not None:
            self._ask_again_or_slip(typed)
        else:
            self._take(typed)

    def _refused(self, error: CommissionError, typed: str, again: Callable[[], None] | None = None) -> None:
        """Say what is wrong; what was typed stands in the field again."""
        self._kept_on_screen = True
        field = self.query_one("#reading", Entry)
        with self.prevent(Entry.Changed):
            field.give_back(typed)
        self._say_wrong(str(error))
        app_of(self).offer_storage(error, again or field.submit_again)

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
            else:
                self.query_one("#reading", Entry).give_back(typed)

        self.app.push_screen(ChoicePanel("There is a reading already", choices), chosen)

    def _correct(self, typed: str) -> None:
        value, _ = text.measured_at(typed, app_of(self).now())

        def given(reason: str | None) -> None:
            if reason is None:
                self.query_one("#reading", Entry).give_back(typed)
                return
            ask = self._asked
            try:
                judged = self.visit.correct(ask, value, reason=reason, now=app_of(self).now())
            except CommissionError as error:
                self._refused(error, typed, lambda: given(reason))
                return
            self._clear_field()
            self._taken(ask, judged, value)

        self.app.push_screen(LinePanel("Correct a reading", "What was wrong with the earlier one?"), given)

    def _take(self, typed: str) -> None:
        now = app_of(self).now()
        value, moment = text.measured_at(typed, now)
        ask = self._asked
        try:
            judged = self.visit.take(
                ask,
                value,
                measured_at=moment,
                now=now,
                instrument=None if self._meter is None else self._meter.id,
            )
        except CommissionError as error:
            self._refused(error, typed)
            return
        self._taken(ask, judged, value)

    def _taken(self, ask: Ask, judged: Judgement, typed: str) -> None:
        """Go on after a good reading; stay where it is out, with what to do about it."""
        self._last = text.last_line(judged, f"{typed}  {ask.label}")
        if goes_on(judged):
            self._go_on_after_taking()
            return
        self._shown, self._shown_value, self._kept_on_screen = judged, self._number_in(typed), True
        self._paint()
        if judged.verdict in {"conditional pass", "conditional fail"}:
            self._ask_reason(ask, judged, typed)

    def _ask_reason(self, ask: Ask, judged: Judgement, typed: str) -> None:

        def keep(reason: str) -> None:
            now = app_of(self).now()
            self.visit.dispose(str(ask.key), "accepted", reason=reason, by=self.technician, now=now)

        def given(reason: str | None) -> None:
            if reason:
                self._go_on_after_taking()

        says = f"{judged.says}\n" if judged.says else ""
        what = f"{ask.label}: {typed}\n{says}Why may it stay? Escape leaves it open until sign-off."
        self.app.push_screen(LinePanel(judged.verdict.capitalize(), what, keep=keep), given)
