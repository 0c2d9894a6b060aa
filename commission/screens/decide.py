"""Asking what was done about a fault: a finding of the design check, or a reading out of its band."""

from __future__ import annotations

from typing import TypeAlias

from commission.checklist.types import ReadingKey
from commission.screens.forms import Field, FormPanel
from commission.screens.naming import Who
from commission.screens.own_app import app_of
from commission.screens.panels import Choice, ChoicePanel
from commission.screens.sign_rows import DISPOSITION_TEXT, subject_text
from commission.screens.visit_page import VisitPage
from commission.sheet.types import Finding, Setting
from commission.visit.dispose import allowed_for_finding, allowed_for_reading, needs_second_person
from commission.visit.limits import setting_named
from commission.visit.types import Disposition, Verdict

_GO = "go"
REASON = "a reason is wanted: what was done, or why it may stay as it is"
Fault: TypeAlias = Finding | Setting | Verdict
"""What something can be said about: a finding, a setting over a limit of danger, a reading's verdict."""


class Decide(VisitPage):
    """A page on which can be said what was done about faults."""

    def settled(self, text: str) -> None:
        """Show the page after something was said about a fault."""

    def decide(self, subject: str) -> None:
        """Ask what was done about a finding (its id) or a reading (its key as text)."""
        of = self._fault(subject)
        go = self._way(subject)
        choices = [Choice(_GO, f"{'go there':<22}see the step in the walk, read again")] if go else []
        for disposition in self._allowed(of):
            second = " (a second person)" if _second(disposition, of) else ""
            text = f"{disposition:<22}{DISPOSITION_TEXT[disposition]}{second}"
            choices.append(Choice(disposition, text))

        def chosen(key: str | None) -> None:
            if key == _GO and go is not None:
                self.jump(self.visit.checklist.asks[go][0].key)
            found = next((one for one in DISPOSITION_TEXT if one == key), None)
            if found is not None:
                self._ask_reason(subject, found, of)

        self.app.push_screen(ChoicePanel(subject_text(self.visit, subject), choices), chosen)

    def _fault(self, subject: str) -> Fault | None:
        finding = next((one for one in self.visit.sheet.findings if one.id == subject), None)
        found = finding or setting_named(self.visit.sheet, subject)
        key = self._way(subject)
        if found is not None or key is None:
            return found
        reading = self.visit.current(key)
        return None if reading is None or reading.judgement is None else reading.judgement.verdict

    def _way(self, subject: str) -> ReadingKey | None:
        """Return the reading that is meant, None where it is none."""
        return next((key for key in self.visit.checklist.asks if str(key) == subject), None)

    @staticmethod
    def _allowed(of: Fault | None) -> tuple[Disposition, ...]:
        if isinstance(of, Finding):
            return allowed_for_finding(of)
        if isinstance(of, Setting):
            return ("accepted",)
        return ("deferred",) if of is None else allowed_for_reading(of)

    def _ask_reason(self, subject: str, disposition: Disposition, of: Fault | None) -> None:
        second = _second(disposition, of)
        people = self.visit.visit.people
        first = next((one.name for one in people if (one.role == "technician") != second), "")
        who = Who(self.visit.visit, "who decided", first)
        fields = [Field("reason", "what was done, or why", wanted=REASON), who.field]
        if disposition == "deferred":
            fields.append(Field("until", "until (year-month-day)", hint="such as 2026-12-24"))
            fields.append(Field("stays_off", "what stays off until then"))
        text = DISPOSITION_TEXT[disposition]
        if second and isinstance(of, Finding):
            fields.append(Field("words", "confirmation words"))
            text += (
                "; a second person, never the technician, opens the same site file, looks at the same "
                "finding and reads out its confirmation words"
            )

        def keep(typed: dict[str, str]) -> None:
            typed["by"] = who.named(typed["by"])
            self.visit.dispose(subject, disposition, now=app_of(self).now(), **typed)

        def done(answer: str | None) -> None:
            if answer:
                again = disposition == "mended" and not isinstance(of, Finding)
                self.settled("kept; now read it again, which proves it" if again else "kept")

        title = f"{disposition}: {subject_text(self.visit, subject)}"
        self.app.push_screen(FormPanel(title, text, fields, keep), done)


def _second(disposition: Disposition, of: Fault | None) -> bool:
    """Say whether somebody other than the visit's technician has to decide."""
    if isinstance(of, Setting):
        return disposition == "accepted"
    return of is not None and needs_second_person(disposition, of)
