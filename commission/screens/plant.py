"""The plant at a glance: what hangs on what, the bank's limits, what has been proven."""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, VerticalScroll
from textual.content import Content
from textual.widgets import Static

from commission import plain
from commission.handover.diagram import DiagramLine, diagram
from commission.screens.own_app import app_of
from commission.screens.visit_page import VisitPage
from commission.visit.session import OpenVisit


class PlantAtAGlance(VisitPage):
    """See the whole plant before the walk, and come back to it at any time."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "walk", "walk", id="walk"),
        Binding("down", "scroll(1)", show=False),
        Binding("up", "scroll(-1)", show=False),
        Binding("pagedown", "scroll(10)", show=False),
        Binding("pageup", "scroll(-10)", show=False),
    ]
    help_text = (
        "The plant as the site file describes it: the bank with everything on the DC bus below it,\n"
        "then the AC side. Behind each part stands how many of its steps have passed.\n\n"
        "  Enter         go on: to what the check has found, then to the walk\n"
        "  Up, Down      scroll\n"
        "  F5 settings   F8 findings   F9 sign-off"
    )

    def body(self) -> ComposeResult:
        with Horizontal():
            with VerticalScroll(id="diagram-side", can_focus=False):
                yield Static(id="diagram", markup=False)
                yield Static(id="limits", markup=False)
            with VerticalScroll(id="stages-side", can_focus=False):
                yield Static(id="stages", markup=False)

    def refresh_page(self) -> None:
        """Draw the plant anew."""
        visit = self.visit
        proven = _proven(visit)
        lines = [_line(line, proven) for line in diagram(visit.plant)]
        self.query_one("#diagram", Static).update(Content("\n").join(lines))
        system = visit.plant.site.site.units
        limits = [*plain.limit_lines(visit.sheet, system), f"findings: {plain.summary(visit.sheet.findings)}"]
        self.query_one("#limits", Static).update(Content("\n" + "\n".join(limits)))
        self.query_one("#stages", Static).update(Content("\n".join(stage_lines(visit))))

    def action_walk(self) -> None:
        app_of(self).show("walk")

    def action_scroll(self, by: int) -> None:
        self.query_one("#diagram-side", VerticalScroll).scroll_relative(y=by, animate=False)


def _line(line: DiagramLine, proven: dict[str, tuple[int, int]]) -> Content:
    done, total = proven.get(line.part, (0, 0))
    mark = (
        f"  ✓ {done} of {total} proven"
        if total and done == total
        else f"  {done} of {total} proven"
        if total
        else ""
    )
    tree, text = line.tree, line.text
    if line.part == "bank":
        text = f"bank, {text}"
    return Content.from_markup("[dim]$tree[/dim]$text[dim]$mark[/dim]", tree=tree, text=text, mark=mark)


def _proven(visit: OpenVisit) -> dict[str, tuple[int, int]]:
    """Return for each part how many of its steps have passed, and of how many."""
    counts: dict[str, tuple[int, int]] = {}
    for step in visit.checklist.steps:
        passed = visit.standing.status(step) == "done"
        for part in step.parts or ("site",):
            done, total = counts.get(part, (0, 0))
            counts[part] = (done + passed, total + 1)
    return counts


def stage_lines(visit: OpenVisit, at: int | None = None) -> Iterator[str]:
    """Yield a line for each stage with how far it is; the stage in work is pointed at."""
    for stage in visit.standing.progress():
        pointer = "▶" if stage.number == at else " "
        yield f"{pointer}{stage.number:>2} {stage.title}"
        yield f"     {stage}"
