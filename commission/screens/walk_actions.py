"""What can be said of a step beside its readings: notes, not here, put off, released, another meter."""

from __future__ import annotations

from collections.abc import Callable

from commission.checklist.types import Expected, Step
from commission.errors import CommissionError
from commission.screens import again_text as again
from commission.screens import walk_text as text
from commission.screens.attach import Attach
from commission.screens.own_app import app_of
from commission.screens.panels import Choice, ChoicePanel, HelpPanel, LinePanel, TextPanel, WhyPanel
from commission.visit.kit import label as meter_label
from commission.visit.standing import step_text
from commission.visit.types import Judgement

_PANEL = 66
"""Cells of a panel at 80 columns."""


class StepActions(Attach):
    """What the keys beside Enter do."""

    def action_why(self) -> None:
        """Show how the limits of the band came about."""
        if self._step is None:
            return
        expectation = self._expectation(self._asked)
        limits = self.limits_of(expectation) if isinstance(expectation, Expected) else []
        changes = "\n".join(self._of_change())
        if not limits:
            told = text.should_be(self._asked, expectation, self.visit.plant.site.site.units)
            because = f"{self._step.data.why}\n\nshould be  {told}\nsource     {self._step.data.source}"
            self.app.push_screen(TextPanel(self._step.title, f"{because}\n\n{changes}".rstrip()))
            return
        self.app.push_screen(WhyPanel(self._step.data.why, limits, before=changes))

    def _of_change(self) -> list[str]:
        """Return what is known of the reading from the visits before, and the limits of its change."""
        judged = self._shown or self._judged_now()
        system = self.visit.plant.site.site.units
        return list(again.history_lines(self._asked, self.visit.earlier, system, judged, _PANEL))

    def _judged_now(self) -> Judgement | None:
        standing = self.visit.current(self._asked.key)
        return None if standing is None else standing.judgement

    def action_help(self) -> None:
        step = self._step
        if step is None:
            return
        self.app.push_screen(HelpPanel(_help_of(step)))

    def action_note(self) -> None:
        """Keep a remark to the step."""
        step = self._step
        if step is None:
            return

        def keep(note: str) -> None:
            self.visit.note(step.key, note, app_of(self).now())

        def given(note: str | None) -> None:
            if note:
                self._paint()

        notes = [note.text for note in self.visit.visit.notes if (note.step, note.parts) == step.key]
        kept = "\n".join(f"kept: {note}" for note in notes[-4:])
        self.app.push_screen(
            LinePanel(f"Note to: {step.title}", kept or "One line, as you would say it", keep=keep), given
        )

    def action_not_here(self) -> None:
        """Put the step off, or say that it does not apply here; or take it up again."""
        step = self._step
        if step is None:
            return
        if self.visit.standing.set_aside(step) is not None:
            self._try(lambda: self.visit.applies_again(step.key, app_of(self).now()))
            return
        choices = [Choice("put off", "put off to a date: night, rain, no fuel, a part is missing")]
        if not step.data.hold:
            choices.append(Choice("never", "does not apply: there is nothing of the kind here"))

        def chosen(key: str | None) -> None:
            if key == "put off":
                self.action_put_off()
            elif key is not None:
                self._ask_why_never(step)

        title = "Not here: a hold point can only be put off" if step.data.hold else "Not here, or not now"
        self.app.push_screen(ChoicePanel(title, choices), chosen)

    def _ask_why_never(self, step: Step) -> None:
        def keep(reason: str) -> None:
            self.visit.not_applicable(step.key, reason, app_of(self).now())

        panel = LinePanel("This step does not apply here", "Why not?", keep=keep)
        self.app.push_screen(panel, self._left_behind)

    def _left_behind(self, told: str | None) -> None:
        """Go on to the next step once something was said that settles this one."""
        if told and self._step is not None:
            self._go_on_elsewhere()

    def action_put_off(self) -> None:
        """Put the step off to a date."""
        step = self._step
        if step is None:
            return
        technician = self.technician

        def keep(told: str) -> None:
            until, _, reason = told.partition(" ")
            self.visit.dispose(
                step_text(step.key),
                "deferred",
                reason=reason,
                by=technician,
                until=until,
                now=app_of(self).now(),
            )

        what = "Until when, and why: 2026-12-01 no fuel on site"
        self.app.push_screen(LinePanel(f"Put off: {step.title}", what, keep=keep), self._left_behind)

    def action_release(self) -> None:
        """Release a hold point as the person whom its data name."""
        step = self._step
        if step is None or not step.data.hold or step.data.released_by == "readings":
            self.app.notify("This step is no hold point that a person releases", markup=False)
            return
        role = step.data.released_by

        def keep(name: str) -> None:
            self.visit.release(step.key, by=name, role=role, now=app_of(self).now())

        what = f"Name of the {role} who releases it"
        self.app.push_screen(LinePanel(f"Release: {step.title}", what, keep=keep), self._left_behind)

    def action_meter(self) -> None:
        """Take another meter of the kit for this reading."""
        fitting = list(self.visit.visit.instruments)
        if not fitting:
            self._ask_for_kit()
            return
        choices = [Choice(meter.id, f"{meter.kind:<20} {meter_label(meter)}") for meter in fitting]

        def chosen(key: str | None) -> None:
            if key is not None:
                self._meter = next(meter for meter in fitting if meter.id == key)
                self._paint()

        self.app.push_screen(ChoicePanel("Meter for this reading", choices), chosen)

    def _ask_for_kit(self) -> None:
        def chosen(key: str | None) -> None:
            if key is not None:
                app_of(self).show("people")

        choices = [Choice("people", "people and instruments (F10): put the instruments in")]
        self.app.push_screen(ChoicePanel("The kit is empty: there is no meter to take", choices), chosen)

    def _try(self, act: Callable[[], None]) -> bool:
        """Do something to the visit; say in words what is wrong with it."""
        try:
            act()
        except CommissionError as error:
            app_of(self).tell(error, lambda: self._try(act))
            return False
        self._paint()
        return True


def _help_of(step: Step) -> str:
    caution = f"\n!  {step.data.caution}\n" if step.data.caution else ""
    sides = {"over": "over it: ", "under": "under it: ", "either": ""}
    likely = "\n".join(f"  {sides[one.side]}{one.cause}: {one.remedy}" for one in step.data.likely)
    out = f"\nOut of what it should be, most often:\n{likely}\n" if likely else ""
    return (
        f"{step.title}\n\n{step.do}\n{caution}\nwhy     {step.data.why}\nsource  {step.data.source}\n{out}\n"
        "  Enter         take what was typed; empty: go on\n"
        "  Up, Down      reading before, reading after\n"
        "  PgUp, PgDn    step before, step after\n"
        "  12.6 @14:05   a reading copied from paper, with the time it was measured\n"
        "  ctrl+t        another meter            ctrl+r  release a hold point\n"
        "  F4            not here: put off to a date, or does not apply; pressed again: here after all\n"
        "  ctrl+o        put the step off to a date at once\n"
        "  ctrl+g        attach a photograph or a log, or take one off\n"
        "  F6            go to a step; at a service visit also: add one that is not due\n"
        "  F5 settings   F7 plant   F8 findings   F9 sign-off   F10 people and instruments"
    )
