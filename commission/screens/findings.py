"""The findings of the design check, worst first, before the walk."""

from __future__ import annotations

from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from commission import plain
from commission.plant.plant import Plant
from commission.screens.decide import Decide
from commission.screens.own_app import app_of
from commission.screens.panels import TextPanel, WhyPanel
from commission.screens.visit_page import shown
from commission.sheet.types import Finding
from commission.visit.digest import confirmation_words
from commission.visit.state import finding_disposition


class FindingList(OptionList):
    """The list of findings; its Enter stands in the footer."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("enter", "select", "decide", show=True)]


class Findings(Decide):
    """Read what the check has found, why, and what would mend it; say what was done about it."""

    BINDINGS: ClassVar[list[BindingType]] = [
        *shown("why"),
        Binding("f4", "words", "words", id="words", tooltip="Confirmation words of a finding that stops"),
        *shown("settings", "go-to", "plant"),
        Binding("escape", "leave", "walk", id="back", tooltip="Back to the walk"),
    ]
    AUTO_FOCUS = "#findings"
    help_text = (
        "What the design check has found, worst first.\n\n"
        "  stop          must not be energised\n"
        "  correct       mend it, or accept it with a reason\n"
        "  not checked   something that the check needs is not known; it is no pass\n"
        "  advise        good to know\n\n"
        "  Up, Down      choose      F2  the numbers behind it\n"
        "  Enter         say what was done about it      Escape  the walk\n"
        "  F4            the words that a second person reads out to release a stop\n\n"
        "A stop bars every step that would energise what it concerns. It ends when the plant is\n"
        "changed: mend it, change the site file, open that file again and take the visit up with it."
    )

    def body(self) -> ComposeResult:
        yield Static(id="summary", markup=False)
        yield FindingList(id="findings", markup=False)
        yield Static(id="finding", markup=False)

    @property
    def _findings(self) -> tuple[Finding, ...]:
        return self.visit.sheet.findings

    def refresh_page(self) -> None:
        """List the findings anew."""
        listed = self.query_one("#findings", OptionList)
        at = listed.highlighted or 0
        listed.clear_options()
        listed.add_options([Option(self._row(finding)) for finding in self._findings])
        told = f"{plain.summary(self._findings)}\n{plain.SCOPE}"
        self.query_one("#summary", Static).update(Content(told))
        if self._findings:
            wanted, app_of(self).finding = app_of(self).finding, ""
            places = [place for place, one in enumerate(self._findings) if one.id == wanted]
            listed.highlighted = places[0] if places else min(at, len(self._findings) - 1)
        else:
            self.query_one("#finding", Static).update(
                Content("Nothing was found and nothing left unchecked.")
            )

    def _row(self, finding: Finding) -> str:
        disposed = finding_disposition(self.visit.visit, finding.id, stops=finding.kind == "stop")
        done = f"  ({disposed.disposition})" if disposed else ""
        return f"{finding.kind:<12} {', '.join(finding.parts)}: {finding.text}{done}"

    @on(OptionList.OptionHighlighted, "#findings")
    def _shown(self, event: OptionList.OptionHighlighted) -> None:
        finding = self._findings[event.option_index]
        self.query_one("#finding", Static).update(Content(_in_full(finding)))

    @on(OptionList.OptionSelected, "#findings")
    def _taken(self, event: OptionList.OptionSelected) -> None:
        event.stop()
        if self.visit.visit.sign_off is None:
            self.decide(self._findings[event.option_index].id)

    def settled(self, text: str) -> None:
        """Show the page after something was said about a finding."""
        self.refresh_page()
        self.refresh_title()
        self.app.notify(text, markup=False)

    @property
    def _chosen(self) -> Finding | None:
        at = self.query_one("#findings", OptionList).highlighted
        return self._findings[at] if at is not None and at < len(self._findings) else None

    def action_why(self) -> None:
        finding = self._chosen
        if finding is not None:
            title = f"{finding.kind}: {', '.join(finding.parts)}"
            self.app.push_screen(WhyPanel(title, list(plain.finding_why(finding)), before=_in_full(finding)))

    def action_words(self) -> None:
        finding = self._chosen
        if finding is not None:
            self.app.push_screen(TextPanel(finding.text, _words_text(self.visit.plant, finding)))


def _in_full(finding: Finding) -> str:
    text = f"{finding.text}\n\nwhat passes   {finding.remedy or 'nothing is known that would'}"
    return text if finding.releasable else f"{text}\nNobody on site can release this one."


def _words_text(plant: Plant, finding: Finding) -> str:
    if finding.kind != "stop":
        return "Only a finding that stops is released by a second person."
    if not finding.releasable:
        return "Nobody can release this one. It ends when the plant is changed."
    return (
        f"{confirmation_words(plant, finding.id)}\n\n"
        "Whoever releases it, never the visit's technician, opens the same site file, looks at this\n"
        "finding and reads these words out. They prove that both looked at the same plant, not who spoke."
    )
