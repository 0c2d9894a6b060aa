"""The walk as it is painted: where am I, what do I do, what should I see, what did I see, what comes next."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.content import Content
from textual.widgets import Static

from commission.checklist.types import Ask, Expectation, Expected, Step, Waits
from commission.errors import EntryError
from commission.figure import WhyLine, why
from commission.screens import walk_text as text
from commission.screens.entry import Entry
from commission.screens.own_app import app_of
from commission.screens.panels import lineage
from commission.screens.plant import stage_lines
from commission.screens.visit_page import VisitPage
from commission.units import read_number, shown_unit
from commission.visit.kit import label as meter_label
from commission.visit.types import Instrument, Judgement


def goes_on(judged: Judgement) -> bool:
    """Whether the walk goes on by itself: a good reading, or one that only waits for others of its column."""
    return judged.verdict in {"pass", "recorded"} or (judged.verdict == "not judged" and bool(judged.waits))


_STAYS_IN_PLACE = frozenset({"#scale", "#verdict", "#more"})
"""What is painted at every key and has its size from the style sheet: nothing around it has to move."""


class WalkView(VisitPage):
    """The step and the reading in work, and how they are shown."""

    def __init__(self) -> None:
        super().__init__()
        self._step: Step | None = None
        self._at = 0
        self._meter: Instrument | None = None
        self._last: Content = Content("")
        self._without_conditions = False
        self._shown: Judgement | None = None
        self._shown_value: float | None = None
        self._kept_on_screen = False

    # what stands on the screen

    def body(self) -> ComposeResult:
        with Horizontal():
            with VerticalScroll(id="stages-side", can_focus=False):
                yield Static(id="stages", markup=False)
            with Vertical(id="middle"):
                with Horizontal(id="stage-line"):
                    yield Static(id="stage", markup=False)
                    yield Static(id="ahead", markup=False)
                yield Static(id="step-title", classes="bold", markup=False)
                yield Static(id="do", markup=False)
                yield Static(id="caution", markup=False)
                yield Static(id="asked", markup=False)
                yield Static(id="should", markup=False)
                yield Static(id="earlier", markup=False)
                with Horizontal(id="field"):
                    yield Static(id="prompt", markup=False)
                    yield Entry(id="reading")
                    yield Static(id="unit", markup=False)
                yield Static(id="scale", markup=False)
                yield Static(id="verdict", markup=False)
                yield Static(id="more", markup=False)
                yield Static(id="next", markup=False)
                yield Static(id="last", markup=False)
            with VerticalScroll(id="why-side", can_focus=False):
                yield Static(id="why", markup=False)

    def _say(self, where: str, content: str | Content) -> None:
        content = Content(content) if isinstance(content, str) else content
        self.query_one(where, Static).update(content, layout=where not in _STAYS_IN_PLACE)

    def _first_open(self, step: Step) -> int:
        found = (place for place, ask in enumerate(step.asks) if self.visit.current(ask.key) is None)
        return next(found, 0)

    @property
    def technician(self) -> str:
        """Name of the visit's technician, empty where none is named yet."""
        return next((person.name for person in self.visit.visit.people if person.role == "technician"), "")

    # where the walk is

    @property
    def _asked(self) -> Ask:
        """The reading in work: the step's own, or first a condition that it waits for."""
        assert self._step is not None  # noqa: S101 - set on entering
        own = self._step.asks[self._at]
        waited = None if self._without_conditions else self._waited(own)
        return waited or own

    def _waited(self, ask: Ask) -> Ask | None:
        expectation = self._expectation(ask)
        if not isinstance(expectation, Waits):
            return None
        for key in expectation.keys:
            found = self.visit.checklist.asks.get(key)
            if found is not None and not next(self.visit.standing.bars(found[0]), None):
                return found[1]
        return None

    def _expectation(self, ask: Ask) -> Expectation | None:
        return self.visit.expectation_for(ask, app_of(self).now())

    # painting

    def _paint(self) -> None:
        step = self._step
        if step is None:
            return
        self.refresh_title()
        self._paint_step(step)
        self._paint_reading()
        self._paint_next(step)
        self._say("#stages", "\n".join(stage_lines(self.visit, step.data.stage)))

    def _paint_step(self, step: Step) -> None:
        stage = next(stage for stage in self.visit.checklist.stages if stage.data.number == step.data.stage)
        place = next(at for at, found in enumerate(stage.steps, start=1) if found.key == step.key)
        count = len(self.visit.attached_to(step.key))
        attached = f" · {count} file{'s' if count > 1 else ''}" if count else ""
        self._say("#stage", f"{stage.data.title} · step {place} of {len(stage.steps)}{attached}")
        self._say("#ahead", self._hold_text(step, stage.steps))
        self._say("#step-title", step.title)
        self._say("#do", step.do)
        caution = step.data.caution or stage.data.caution
        self._say("#caution", f"!  {caution}" if caution else "")

    def _hold_text(self, step: Step, steps: tuple[Step, ...]) -> str:
        if step.data.hold:
            who = step.data.released_by
            return "hold point" if who == "readings" else f"hold point: {who} releases, ctrl+r"
        ahead = steps[steps.index(step) + 1 :]
        return "hold point ahead" if any(found.data.hold for found in ahead) else ""

    def _paint_reading(self) -> None:
        assert self._step is not None  # noqa: S101 - set on entering
        ask, system = self._asked, self.visit.plant.site.site.units
        own = self._step.asks[self._at]
        bars = list(self.visit.standing.bars(self._step))
        if bars:
            self._paint_barred(bars[0].why)
            return
        expectation = self._expectation(ask)
        self._say("#should", text.labelled("should be", text.should_be(ask, expectation, system)))
        self._say("#earlier", text.labelled("earlier", text.earlier(self.visit.current(ask.key), system)))
        first = ask.key != own.key
        several = len(self._step.asks) > 1 and not first
        count = f" ({self._at + 1} of {len(self._step.asks)})" if several else ""
        self._say("#asked", f"{'first: ' if first else ''}{ask.label}{count}")
        self._say("#prompt", text.labelled("reading", ""))
        self._say("#unit", self._unit(ask))
        self._paint_verdict(self._shown, self._shown_value, expectation)
        self._paint_why(expectation)

    def _unit(self, ask: Ask) -> str:
        if ask.data.kind == "yes or no":
            return "yes or no"
        return shown_unit(ask.data.unit, self.visit.plant.site.site.units) if ask.data.unit else ""

    def _paint_barred(self, reason: str) -> None:
        self._say("#should", text.labelled("barred", reason))
        self._say("#earlier", text.labelled("", "Enter goes to what bars it"))
        self._say("#asked", "")
        self._say("#why", "")
        for where in ("#prompt", "#unit", "#scale", "#verdict", "#more"):
            self._say(where, "")

    def _paint_verdict(
        self, judged: Judgement | None, value: float | None, expectation: Expectation | None
    ) -> None:
        system = self.visit.plant.site.site.units
        step, width = self._step, max(40, self.query_one("#middle").size.width - 2)
        assert step is not None  # noqa: S101 - set on entering
        self._say(
            "#scale", " " * text.LABEL + text.scale_of(judged, value, expectation, width - text.LABEL, system)
        )
        meter = meter_label(self._meter) if self._meter is not None else ""
        self._say("#verdict", Content("") if judged is None else text.verdict_line(judged, meter, system))
        if judged is not None and not goes_on(judged):
            lines = text.causes(step, judged, value)
            self._say("#more", "\n".join(" " * text.LABEL + line for line in lines))
        elif text.is_column(step):
            self._say("#more", text.column_table(self.visit, step, self._at, width=width, rows=3))
        else:
            self._say("#more", "")

    def _paint_why(self, expectation: Expectation | None) -> None:
        lines = self.limits_of(expectation) if isinstance(expectation, Expected) else []
        self._say("#why", lineage(lines))

    @staticmethod
    def limits_of(expectation: Expected) -> list[WhyLine]:
        """Return how both limits of a band came about."""
        limits = (expectation.band.low, expectation.band.high)
        return [line for figure in limits if figure is not None for line in why(figure)]

    def _paint_next(self, step: Step) -> None:
        following = self._following(step)
        if following is None:
            told = "nothing more is open now; F9 sign-off" if not self._more_asks(step) else ""
        else:
            told = following.title
        more = self._more_asks(step)
        self._say("#next", text.labelled("next", more or told))
        self._say("#last", self._last)

    def _more_asks(self, step: Step) -> str:
        return step.asks[self._at + 1].label if self._at + 1 < len(step.asks) else ""

    def _following(self, step: Step) -> Step | None:
        found = self.visit.standing.next_step(step.key)
        return None if found is None or found.key == step.key else found

    def _number_in(self, typed: str) -> float | None:
        """Return what was typed as a number of the reading's unit, None where it is none."""
        try:
            return read_number(typed, self._asked.data.unit or "1").value
        except EntryError:
            return None
