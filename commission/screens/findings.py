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
from commission.screens.panels import WhyPanel
from commission.screens.visit_page import VisitPage
from commission.sheet.types import Finding
from commission.visit.state import disposition_of


class Findings(VisitPage):
    """Read what the check has found, why, and what would mend it."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("f2", "why", "why", id="why")]
    AUTO_FOCUS = "#findings"
    help_text = (
        "What the design check has found, worst first.\n\n"
        "  stop          must not be energised\n"
        "  correct       mend it, or accept it with a reason\n"
        "  not checked   something that the check needs is not known; it is no pass\n"
        "  advise        good to know\n\n"
        "  Up, Down      choose      F2  the numbers behind it\n"
        "What was done about a finding is said on the sign-off page (F9)."
    )

    def body(self) -> ComposeResult:
        yield Static(id="summary", markup=False)
        yield OptionList(id="findings", markup=False)
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
            listed.highlighted = min(at, len(self._findings) - 1)
        else:
            self.query_one("#finding", Static).update(
                Content("Nothing was found and nothing left unchecked.")
            )

    def _row(self, finding: Finding) -> str:
        disposed = disposition_of(self.visit.visit, finding.id)
        done = f"  ({disposed.disposition})" if disposed else ""
        return f"{finding.kind:<12} {', '.join(finding.parts)}: {finding.text}{done}"

    @on(OptionList.OptionHighlighted, "#findings")
    def _shown(self, event: OptionList.OptionHighlighted) -> None:
        finding = self._findings[event.option_index]
        text = f"{finding.text}\n\nwhat passes   {finding.remedy or 'nothing is known that would'}"
        if not finding.releasable:
            text += "\nNobody on site can release this one."
        self.query_one("#finding", Static).update(Content(text))

    def action_why(self) -> None:
        at = self.query_one("#findings", OptionList).highlighted
        if at is not None and self._findings:
            finding = self._findings[at]
            self.app.push_screen(WhyPanel(finding.text, list(plain.finding_why(finding))))
