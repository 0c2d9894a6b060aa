"""The walk as it is painted: where am I, what do I do, what should I see, what did I see, what comes next."""

from __future__ import annotations

from collections.abc import Sequence

from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.content import Content
from textual.widgets import Static

from commission.checklist.types import Ask, Expectation, Expected, Step, Waits
from commission.errors import EntryError
from commission.figure import WhyLine, why
from commission.screens import again_text as again
from commission.screens import walk_text as text
from commission.screens.entry import Entry
from commission.screens.own_app import app_of
from commission.screens.panels import lineage
from commission.screens.plant import stage_lines
from commission.screens.visit_page import VisitPage
from commission.units import read_number, shown_unit
from commission.visit.kit import label as meter_label
from commission.visit.service import comments_at, service_now, why_repeated
from commission.visit.standing import Bar
from commission.visit.types import Instrument, Judgement


def goes_on(judged: Judgement) -> bool:
    """Whether the walk goes on by itself: a good reading, or one that only waits for others of its column."""
    return judged.verdict in {"pass", "recorded"} or (judged.verdict == "not judged" and bool(judged.waits))


_STAYS_IN_PLACE = frozenset({"#scale", "#verdict", "#more"})
"""What is painted at every key and has its size from the style sheet: nothing around it has to move."""
_BELOW, _BELOW_FULL = 4, 6
"""Lines of the verdict and what belongs to it; where they do not do, what comes next gives way to it."""
_UNDER_FIELD = 8
"""Lines from the field that is typed into on, at all times: it never moves."""
_FLEXIBLE = ("#step-title", "#comment", "#do", "#caution", "#asked", "#should", "#earlier")
_MORE = " … F1"
_SIDE = 43
"""Cells of the side where a wide terminal tells why, and what was before."""
_NEVER_CUT = 1
"""Lines of what to do that stay in view in any case."""


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
                yield Static(id="comment", markup=False)
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
        place = self.query_one(where, Static)
        if where in _FLEXIBLE:
            place.display = bool(content)
        place.update(content, layout=where not in _STAYS_IN_PLACE)

    @property
    def _width(self) -> int:
        return max(40, self.query_one("#middle").size.width - 2)

    def _say_wrong(self, told: str) -> None:
        """Say below the field what is wrong, whole."""
        self._say_lines([Content(line) for line in text.hanging("", told, self._width)])

    def _say_lines(self, lines: Sequence[Content], beside: Sequence[Sequence[str]] = ()) -> None:
        """Say something below the field: first some lines, then what belongs to it as far as there is room.

        What does not fit is in the help of the step.
        """
        said = list(lines)
        count = len(said) + sum(map(len, beside))
        self.set_class(count > _BELOW, "-full")
        room = _BELOW if count <= _BELOW else _BELOW_FULL
        for at, more in enumerate(beside):
            last = 0 if at == len(beside) - 1 else 1
            if len(said) + len(more) + last > room:
                fits = max(room - len(said) - 1, 0)
                said += [Content(line) for line in more[:fits]]
                rest = "the rest" if fits else f"{len(beside) - at} more"
                said.append(Content(" " * text.LABEL + f"F1 tells {rest}"))
                break
            said += [Content(line) for line in more]
        self._say("#verdict", said[0] if said else "")
        self._say("#more", Content("\n").join(said[1:]))

    def on_resize(self) -> None:
        """Wrap anew what is wrapped by hand."""
        if app_of(self).open_visit is not None and self._step is not None:
            self.call_after_refresh(self._paint)

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
        self._fit(step)
        self._paint_next(step)
        self._say("#stages", "\n".join(stage_lines(self.visit, step.data.stage)))

    def _paint_step(self, step: Step) -> None:
        stage = next(stage for stage in self.visit.checklist.stages if stage.data.number == step.data.stage)
        place = next(at for at, found in enumerate(stage.steps, start=1) if found.key == step.key)
        count = len(self.visit.attached_to(step.key))
        attached = f" · {count} file{'s' if count > 1 else ''}" if count else ""
        because = self._because(step)
        self._say("#stage", f"{stage.data.title} · step {place} of {len(stage.steps)}{attached}")
        hold = "" if because and not step.data.hold else self._hold_text(step, stage.steps)
        self._say("#ahead", " · ".join(part for part in (because, hold) if part))
        self._say("#step-title", step.title)
        service = service_now(self.visit.visit)
        self._say("#comment", "\n".join(again.comment_lines(step.key, service)))
        self._say("#do", step.do)
        caution = step.data.caution or stage.data.caution
        self._say("#caution", f"!  {caution}" if caution else "")

    def _because(self, step: Step) -> str:
        """Return why a step is in the walk of a service visit."""
        service = service_now(self.visit.visit)
        if service is not None and service.returned is not None and comments_at(step.key, service):
            return f"commented by {service.returned.by}"  # the comment itself stands below
        return "" if service is None else why_repeated(step, self.visit.plant, service)

    def _fit(self, step: Step) -> None:
        """Give up blank lines, then the end of what is to be done, where not all has room above the field."""
        room = self.query_one("#middle").size.height - _UNDER_FIELD
        rows = {where: self._rows(where) for where in _FLEXIBLE}
        needed = 1 + sum(rows.values())
        self.set_class(needed + 2 > room, "-tight")
        left = rows["#do"] - max(0, needed - room)
        if room > 0 and left < rows["#do"]:
            lines = text.hanging("", step.do, self._width - len(_MORE))[: max(_NEVER_CUT, left)]
            self._say("#do", "\n".join((*lines[:-1], lines[-1] + _MORE)))

    def _rows(self, where: str) -> int:
        """Return how many lines a text takes."""
        told = str(self.query_one(where, Static).content)
        return len(text.hanging("", told, self._width)) if told else 0

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
        told = text.should_be(ask, expectation, system)
        self._say("#should", text.labelled("should be", told, self._width))
        self._say("#earlier", self._before(ask))
        self.set_class(ask.data.kind in {"text", "choice"}, "-words")
        first = ask.key != own.key
        several = len(self._step.asks) > 1 and not first
        count = f" ({self._at + 1} of {len(self._step.asks)})" if several else ""
        self._say("#asked", f"{'first: ' if first else ''}{ask.label}{count}")
        self._say("#prompt", text.labelled("reading", ""))
        self._say("#unit", self._unit(ask))
        self._paint_verdict(self._shown, self._shown_value, expectation)
        self._paint_why(expectation)

    def _before(self, ask: Ask) -> str:
        """Return what was read already: in the visits before, and in this one."""
        system, current = self.visit.plant.site.site.units, self.visit.current(ask.key)
        service = service_now(self.visit.visit)
        known = service is not None and ask.data.condition is None
        before = (
            ""
            if service is None or not known
            else again.before_text(ask, self.visit.earlier, service, system)
        )
        if not before:
            return text.labelled("earlier", text.earlier(current, system), self._width)
        now = f" · now {text.earlier(current, system)}" if current is not None else ""
        return text.labelled("before", before + now, self._width)

    def _unit(self, ask: Ask) -> str:
        if ask.data.kind == "yes or no":
            return "yes or no"
        shown = shown_unit(ask.data.unit, self.visit.plant.site.site.units) if ask.data.unit else ""
        return "" if shown == "1" else shown

    def _paint_barred(self, reason: str) -> None:
        self._say("#should", text.labelled("barred", reason, self._width))
        for where in ("#asked", "#earlier", "#why", "#prompt", "#unit", "#scale"):
            self._say(where, "")
        self._say_lines([Content(text.labelled("", "Enter goes to what bars it"))])

    def _paint_verdict(
        self, judged: Judgement | None, value: float | None, expectation: Expectation | None
    ) -> None:
        system = self.visit.plant.site.site.units
        step, width = self._step, self._width
        assert step is not None  # noqa: S101 - set on entering
        self._say(
            "#scale", " " * text.LABEL + text.scale_of(judged, value, expectation, width - text.LABEL, system)
        )
        meter = meter_label(self._meter) if self._meter is not None else ""
        lines = (
            [] if judged is None else text.verdict_lines(again.without_drifts(judged), meter, system, width)
        )
        drifts = [] if judged is None else again.drift_lines(judged, width)
        if judged is not None and (drifts or not goes_on(judged)):
            out = judged.verdict != "not judged" and not goes_on(judged)
            causes = text.causes(step, judged, value, width) if out else []
            self._say_lines(lines, [*drifts, *causes])
            return
        self._say_lines(lines)
        if text.is_column(step):
            rows = _BELOW - max(1, len(lines))
            table = text.column_table(self.visit, step, self._at, width=width, rows=max(1, rows))
            more = Content("\n").join([*lines[1:], table])
            self._say("#more", more)

    def _paint_why(self, expectation: Expectation | None) -> None:
        lines = self.limits_of(expectation) if isinstance(expectation, Expected) else []
        history = again.history_lines(
            self._asked, self.visit.earlier, self.visit.plant.site.site.units, self._shown, _SIDE
        )
        self._say(
            "#why",
            Content("\n").join([*map(Content, history), *([Content("")] if history else []), lineage(lines)]),
        )

    @staticmethod
    def limits_of(expectation: Expected) -> list[WhyLine]:
        """Return how both limits of a band came about."""
        limits = (expectation.band.low, expectation.band.high)
        return [line for figure in limits if figure is not None for line in why(figure)]

    def _paint_next(self, step: Step) -> None:
        bar = next(self.visit.standing.bars(step), None)
        told = self._comes_next(step) if bar is None else self._bars_it(bar)
        self._say("#next", text.labelled("next", told))
        self._say("#last", self._last)

    def _bars_it(self, bar: Bar) -> str:
        """Return where Enter goes from a step that is barred."""
        by = None if bar.by is None else self.visit.checklist.by_key.get(bar.by)
        return "the findings of the design check" if by is None else by.title

    def _comes_next(self, step: Step) -> str:
        following = self._more_asks(step)
        if following:
            return following
        expected = self._expected(step)
        return "nothing more is open now; F9 sign-off" if expected is None else expected.title

    def _more_asks(self, step: Step) -> str:
        return step.asks[self._at + 1].label if self._at + 1 < len(step.asks) else ""

    def _expected(self, step: Step) -> Step | None:
        """Return where the walk goes on from here if what is read now passes."""
        found = self.visit.standing.next_once_passed(step)
        return None if found is None or found.key == step.key else found

    def _following(self, step: Step) -> Step | None:
        found = self.visit.standing.next_step(step.key)
        return None if found is None or found.key == step.key else found

    def _number_in(self, typed: str) -> float | None:
        """Return what was typed as a number of the reading's unit, None where it is none."""
        try:
            return read_number(typed, self._asked.data.unit or "1").value
        except EntryError:
            return None
