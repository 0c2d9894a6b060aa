"""Base of all pages of an open visit: the same keys, the same title line, the same way on."""

from __future__ import annotations

from collections.abc import Callable
from typing import ClassVar, Final

from textual import work
from textual.binding import Binding, BindingType
from textual.command import DiscoveryHit, Hit, Hits, Provider
from textual.content import Content
from textual.screen import Screen
from textual.widgets import Static

from commission.checklist.types import StepKey
from commission.errors import CommissionError
from commission.screens.adding import addition_text, found_by
from commission.screens.base import Page
from commission.screens.forms import Field, FormPanel
from commission.screens.naming import Who
from commission.screens.own_app import app_of
from commission.screens.panels import Choice, ChoicePanel
from commission.visit.adding import Addition
from commission.visit.session import OpenVisit
from commission.visit.types import EarlierReading

_KEYS: Final[dict[str, tuple[str, str, str, str]]] = {
    "why": ("f2", "why", "why", "Why: where the number in view comes from"),
    "note": ("f3", "note", "note", "Note to this step"),
    "not-here": (
        "f4",
        "not_here",
        "not here",
        "Put this step off to a date, or say that it does not apply here",
    ),
    "settings": ("f5", "page('settings')", "settings", "Settings sheet"),
    "go-to": ("f6", "go_to", "go to", "Go to a step of the walk"),
    "plant": ("f7", "page('plant')", "plant", "Plant at a glance"),
    "findings": ("f8", "page('findings')", "findings", "Findings of the design check"),
    "sign": ("f9", "page('sign')", "sign", "Sign-off"),
    "people": ("f10", "page('people')", "people", "People and instruments"),
}
"""Function keys that mean the same on every page of a visit: key, action, one word, plain name."""
_OF_THE_WALK: Final = frozenset({"note", "not-here"})


def shown(*names: str) -> list[BindingType]:
    """Return the bindings of some of the common keys, so that they stand in the footer of a page."""
    return [_binding(name, show=True) for name in names]


def _binding(name: str, *, show: bool) -> Binding:
    key, action, word, text = _KEYS[name]
    return Binding(key, action, word, id=name, tooltip=text, show=show)


class VisitCommands(Provider):
    """What a page's keys do, by its plain name, and every step of the walk to jump to."""

    async def discover(self) -> Hits:
        for text, key, call in self._of_keys():
            yield DiscoveryHit(Content(text), call, text=text, help=key)

    async def search(self, query: str) -> Hits:
        matcher = self.matcher(query)
        for text, beside, call in (*self._of_keys(), *self._of_steps()):
            score = matcher.match(text)
            if score > 0:
                # not highlighted: that would read the titles of steps as markup
                yield Hit(score, Content(text), call, text=text, help=beside)

    @property
    def _page(self) -> VisitPage | None:
        return self.screen if isinstance(self.screen, VisitPage) else None

    def _of_keys(self) -> list[tuple[str, str, Callable[[], object]]]:
        page = self._page
        if page is None:
            return []
        found = []
        for active in page.active_bindings.values():
            binding = active.binding
            if active.node is page and binding.tooltip and active.enabled:
                found.append((binding.tooltip, page.app.get_key_display(binding), page.call_of(binding)))
        return found

    def _of_steps(self) -> list[tuple[str, str, Callable[[], object]]]:
        page = self._page
        if page is None:
            return []
        return [
            (f"Step: {step.title}", " ".join(step.parts), page.jump_of(step.key))
            for step in page.visit.checklist.steps
        ]


class VisitPage(Page):
    """Base of the pages of a visit. Subclasses give ``body``, ``progress`` and ``refresh_page``."""

    COMMANDS = Screen.COMMANDS | {VisitCommands}
    BINDINGS: ClassVar[list[BindingType]] = [
        _binding(name, show=False) for name in _KEYS if name not in _OF_THE_WALK
    ]

    def __init__(self) -> None:
        super().__init__()
        self._of_visit = ""

    @property
    def visit(self) -> OpenVisit:
        """The open visit."""
        return app_of(self).visit

    def on_screen_resume(self) -> None:
        if app_of(self).open_visit is None:
            return
        if self._of_visit != self.visit.visit.id:
            self._of_visit = self.visit.visit.id
            self.begin_page()
        self.refresh_page()
        self.refresh_title()

    def begin_page(self) -> None:
        """Set the page to its beginning, since another visit is open than when it was last shown."""

    def refresh_page(self) -> None:
        """Show the visit as it stands."""

    # the title line

    def refresh_title(self) -> None:
        """Say where the visit is, how far it is, and what is altered for a test."""
        visit = self.visit.visit
        site = self.visit.plant.site.site.name
        self.say_where(
            f"{site}  {visit.kind}, {visit.started_at.day} {visit.started_at:%b %Y}", self._far_text()
        )

    def _far_text(self) -> str:
        changes = len(self.visit.standing.open_changes())
        told = ["READ-ONLY"] if self.visit.read_only else []
        told += [f"{changes} change{'s' if changes > 1 else ''} open"] if changes else []
        failed = sum(stage.failed for stage in self.visit.standing.progress())
        told += [f"{failed} failed"] if failed else []
        return " · ".join((*told, self.progress()))

    def progress(self) -> str:
        """Return how far it is, at the right end of the title line."""
        if self.visit.visit.sign_off is not None:
            return "signed"
        stages = self.visit.standing.progress()
        return f"{sum(stage.done for stage in stages)} of {sum(stage.total for stage in stages)} done"

    def say_below(self, text: str, *, wrong: bool = False) -> None:
        """Say something in the line below the field, on pages that have one."""
        said = self.query_one("#said", Static)
        said.set_class(wrong, "wrong")
        said.update(Content(text))

    # the common keys

    def action_leave(self) -> None:
        app_of(self).show("walk")

    def action_page(self, page: str) -> None:
        app_of(self).show(page)

    def action_why(self) -> None:
        self.app.notify("No number is in view here", timeout=4)

    def action_go_to(self) -> None:
        standing = self.visit.standing
        steps = self.visit.checklist.steps
        choices = [
            Choice(str(at), f"{standing.status(step):<14} {step.data.stage:>2}  {step.title}", found_by(step))
            for at, step in enumerate(steps)
        ]
        aside = () if self.visit.visit.sign_off is not None else self.visit.checklist.aside
        left_out = "no part" if self._corrects else "not due"
        choices += [
            Choice(str(at), f"{left_out:<14} {step.data.stage:>2}  {step.title}: add it", found_by(step))
            for at, step in enumerate(aside, len(steps))
        ]
        here = self.visit.at_step()
        at = next((str(place) for place, step in enumerate(steps) if here and step.key == here.key), "")

        def chosen(key: str | None) -> None:
            if key is not None:
                self.jump((*steps, *aside)[int(key)].key)

        title = "Go to a step, or add one that is left out" if aside else "Go to a step"
        self.app.push_screen(ChoicePanel(title, choices, at=at), chosen)

    @property
    def _corrects(self) -> bool:
        """Whether the visit only puts a returned record right."""
        service = self.visit.visit.service
        return service is not None and service.returned is not None

    def jump(self, step: StepKey) -> None:
        """Show a step in the walk; the next start is there too. One that is left out is added first."""
        app = app_of(self)
        if step not in self.visit.checklist.by_key:
            self.app.notify("working out what this step needs …", timeout=4)
            self._work_out(self.visit, step)
            return
        if self.visit.visit.sign_off is None:
            try:
                self.visit.move_to(step, app.now())
            except CommissionError as error:
                app.tell(error)
                return
        if app.current_mode == "walk":
            self.refresh_page()
            self.refresh_title()
        else:
            app.show("walk")

    @work(thread=True, exclusive=True, group="adding", exit_on_error=False)
    def _work_out(self, visit: OpenVisit, step: StepKey) -> None:
        """Work out what a step brings into the walk; the screen stays alive meanwhile."""
        app = app_of(self)
        from commission.prepare import prepare_visit
        from commission.revisit.added import earlier_of

        try:
            more = visit.with_step(step, prepare_visit)
            earlier = earlier_of(more, visit.visit, app.folders_of_records())
        except CommissionError as error:
            app.call_from_thread(app.tell, error)
            return
        app.call_from_thread(self._ask_who_adds, more, earlier)

    def _ask_who_adds(self, more: Addition, earlier: tuple[EarlierReading, ...]) -> None:
        app = app_of(self)
        people = self.visit.visit.people
        first = next((person.name for person in people if person.role == "technician"), "")

        who = Who(self.visit.visit, "who adds it", first)

        def keep(typed: dict[str, str]) -> None:
            typed["by"] = who.named(typed["by"])
            app.open_visit = self.visit.add(more, now=app.now(), earlier=earlier, **typed)

        def done(answer: str | None) -> None:
            if answer:
                self.jump(more.step.key)

        why = Field("reason", "why, in a few words", wanted="why is it added? a few words are wanted")
        fields = (why, who.field)
        app.push_screen(FormPanel(f"Add: {more.step.title}", addition_text(more), fields, keep), done)

    def jump_of(self, step: StepKey) -> Callable[[], None]:
        """Return what the palette calls to show a step."""
        return lambda: self.jump(step)

    def call_of(self, binding: Binding) -> Callable[[], object]:
        """Return what the palette calls for a key of this page."""
        return lambda: self.run_action(binding.action)
