"""Going through the walk: forward after a reading, back to correct one, to what bars a step."""

from __future__ import annotations

from textual.content import Content

from commission.checklist.types import Step
from commission.errors import CommissionError
from commission.screens.entry import Entry
from commission.screens.own_app import app_of
from commission.screens.walk_view import WalkView


class WalkMoves(WalkView):
    """Which step and which reading is in work."""

    def begin_page(self) -> None:
        self._step = None
        self._last = Content("")

    def refresh_page(self) -> None:
        """Take up the step that the visit stands on, unless it is the one in work."""
        step = self.visit.at_step()
        if step is None:
            self._say("#step-title", "This plant's walk has no steps")
            return
        if self._step is None or self._step.key != step.key:
            self._clear_field()
            self._enter(step, self._first_open(step))
        else:
            self._paint()

    def _enter(self, step: Step, at: int = 0) -> None:
        try:
            self.visit.move_to(step.key, app_of(self).now())
        except CommissionError as error:
            app_of(self).tell(error)
        self._step, self._at = step, at
        self._begin_reading()

    def _begin_reading(self) -> None:
        self._without_conditions = False
        self._shown, self._shown_value, self._kept_on_screen = None, None, False
        self._meter = self.visit.instrument_for(self._asked)
        self.query_one("#reading", Entry).focus()
        self._paint()

    def _clear_field(self) -> None:
        """Drop what was typed but not taken: it belongs to the reading that is left."""
        field = self.query_one("#reading", Entry)
        with self.prevent(Entry.Changed):
            field.value = ""

    def _go_on_after_taking(self) -> None:
        step = self._step
        assert step is not None  # noqa: S101 - a reading belongs to a step
        own = step.asks[self._at]
        if self.visit.current(own.key) is None:
            self._begin_reading()  # a condition was taken; now the reading itself
        else:
            self._go_on()

    def _go_on(self) -> None:
        step = self._step
        assert step is not None  # noqa: S101 - set on entering
        if self._at + 1 < len(step.asks):
            self._at += 1
            self._begin_reading()
            return
        following = self._following(step)
        if following is not None:
            self._enter(following, self._first_open(following))
        else:
            self._begin_reading()

    def _go_on_elsewhere(self) -> None:
        """Leave a step that something was said about instead of its readings."""
        step = self._step
        assert step is not None  # noqa: S101 - set on entering
        following = self.visit.standing.next_when_set_aside(step)
        self._clear_field()
        if following is not None:
            self._enter(following, self._first_open(following))
        else:
            self._begin_reading()

    def action_step_on(self, by: int) -> None:
        """Go to the reading before or after, across steps."""
        step = self._step
        if step is None:
            return
        self._clear_field()
        if by > 0 and not self._without_conditions and self._asked.key != step.asks[self._at].key:
            self._without_conditions = True  # the reading can be taken first and is judged later
            self._meter = self.visit.instrument_for(self._asked)
            self._paint()
            return
        if 0 <= self._at + by < len(step.asks):
            self._at += by
            self._begin_reading()
        else:
            self.action_step_over(by)

    def action_step_over(self, by: int) -> None:
        """Go to the step before or after."""
        if self._step is None:
            return
        self._clear_field()
        steps = self.visit.checklist.steps
        place = self._place(self._step) + by
        if 0 <= place < len(steps):
            found = steps[place]
            self._enter(found, 0 if by > 0 else len(found.asks) - 1)

    def _place(self, step: Step) -> int:
        return next(at for at, found in enumerate(self.visit.checklist.steps) if found.key == step.key)
