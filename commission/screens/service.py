"""Before a service visit: what the last one left, what is due, and what this one shall do."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, ClassVar, Final

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.widgets import OptionList, Static

from commission.checklist.intervals import covered
from commission.errors import CommissionError, EntryError
from commission.plant.values import Interval
from commission.revisit.offer import Offer, Wanted
from commission.revisit.summary import day
from commission.revisit.told import (
    changed_lines,
    drifted_lines,
    due_text,
    last_text,
    note_lines,
    open_lines,
    record_lines,
    returned_head,
    returned_lines,
    uncovered_lines,
)
from commission.screens.forms import Field, FormPanel
from commission.screens.opening import Opening
from commission.screens.own_app import app_of
from commission.screens.rows import Row, RowList, heading, plain_row

if TYPE_CHECKING:
    from commission.screens.app_visit import StillWanted
    from commission.visit.session import OpenVisit

_TICK: Final = "tick|"
_EVENT: Final = "event|"
_PUT_OFF: Final = "put-off|"
_RETURNED: Final = "returned|"
_FIRST_VIEW: Final = 13
"""Lines below which the first choice would not stand in view together with the top of the page."""


class OfferList(RowList):
    """What the last visit left, and what this one shall do; its Enter begins."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("enter", "select", "begin", show=True)]


class ServicePage(Opening):
    """See what the last visit left and what is due, choose what this one does, begin."""

    CSS_PATH = "styles/service.tcss"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("space", "tick", "tick", id="tick", show=True),
        Binding("f3", "event", "event", id="event", show=True, tooltip="After an event: what and where"),
        Binding("escape", "leave", "home", id="back", show=True),
    ]
    AUTO_FOCUS = "#offer"
    help_text = (
        "Here a service visit begins. The list tells what the last visit left for you, first of all its\n"
        "note to the next technician, then what is due, what was changed, what was put off.\n\n"
        "  Up, Down      move; the line in view stands whole below\n"
        "  Space         do this interval, or leave it; a longer one brings the shorter ones along;\n"
        "                at a returned record: only the steps of the comments, or a service visit instead\n"
        "  F3            after an event: what happened, and which parts it concerns\n"
        "  Enter         begin\n"
        "  Escape        home; nothing was begun\n\n"
        "Only what is due is walked; the plant is isolated only where a step needs it off. Parts that\n"
        "the site file tells otherwise than the last record, or that were replaced, are read as new\n"
        "ones and get a new baseline. Settings are entered as found first, before anything is touched."
    )

    def __init__(self) -> None:
        super().__init__()
        self._wanted = Wanted()
        self._offer: Offer | None = None

    def body(self) -> ComposeResult:
        yield Static(id="last", markup=False)
        yield OfferList(id="offer", takes_focus=True)
        yield Static(id="in-full", markup=False)
        yield Static("", id="said", markup=False)

    # what is shown

    def on_screen_resume(self) -> None:
        offered = app_of(self).offered
        if offered is None:
            return
        if offered[0] is not self._offer:
            self._offer, self._wanted = offered
            self.say("")
            self._show(first=True)
            for warning in self._offer.warnings:
                self.app.notify(warning, severity="warning", timeout=15, markup=False)

    def _show(self, *, first: bool = False) -> None:
        offer = self._offer
        if offer is None:
            return
        walk = offer.walk(self._wanted)
        self.say_where(
            f"{offer.plant.site.site.name}  service visit, {day(offer.today)}",
            f"{len(walk.steps)} of {len(offer.whole.steps)} steps",
        )
        self.query_one("#last", Static).update(Content(f"Last visited: {last_text(offer)}"))
        rows = list(_rows(offer, self._wanted))
        listed = self.query_one("#offer", RowList)
        listed.set_rows(rows)
        if first:
            choices = (_TICK, _RETURNED)
            at = next((place for place, row in enumerate(rows) if row.key.startswith(choices)), 0)
            fallback = next((row.key for row in rows if row.key), "")
            listed.point_at(rows[at].key if at <= _FIRST_VIEW else fallback)
        self._in_full()

    @on(OptionList.OptionHighlighted, "#offer")
    def _in_view(self, event: OptionList.OptionHighlighted) -> None:
        event.stop()
        self._in_full()

    def _in_full(self) -> None:
        kind, _, what = self.query_one("#offer", RowList).key.partition("|")
        told = what
        if kind == "tick":
            done = what in covered(self._wanted.due)
            told = f"Space: {'leave' if done else 'do'} what is due {what}"
        elif kind == "put-off":
            told = f"Space: {'leave' if self._wanted.put_off else 'do'} what was put off"
        elif kind == "returned":
            other = "a service visit instead" if self._wanted.returned else "only what was returned"
            told = f"Space: {other}"
        elif kind == "event":
            told = "F3: what happened, which parts it concerns, which parts are new"
        self.query_one("#in-full", Static).update(Content(told))

    # choosing

    def action_tick(self) -> None:
        kind, _, what = self.query_one("#offer", RowList).key.partition("|")
        offer = self._offer
        if kind == "event":
            self.action_event()
        elif kind == "put-off":
            self._wanted = replace(self._wanted, put_off=not self._wanted.put_off)
            self._show()
        elif kind == "returned" and offer is not None:
            again = self._wanted.returned
            self._wanted = offer.at_hand_but_returned if again else Wanted(returned=True)
            self._show()
        elif kind == "tick" and offer is not None:
            self._wanted = replace(self._wanted, due=_ticked(offer, self._wanted, what))
            self._show()

    def action_event(self) -> None:
        """Ask what happened, and which parts it concerns or are new."""
        offer, wanted = self._offer, self._wanted
        if offer is None:
            return
        fields = (
            Field("event", "what happened", wanted.event, "battery replaced, fault call"),
            Field("parts", "parts that it concerns", " ".join(wanted.parts), "ids, a blank between"),
            Field("replaced", "parts that are new", " ".join(wanted.replaced), "begun anew; may be empty"),
        )

        def keep(typed: dict[str, str]) -> None:
            asked = replace(
                self._wanted,
                event=typed["event"],
                parts=_ids(typed["parts"]),
                replaced=_ids(typed["replaced"]),
            )
            if asked.parts and not asked.event:
                raise EntryError("what happened? a few words, such as 'battery replaced'")
            if asked.event and not (asked.parts or asked.replaced):
                raise EntryError(f"which parts does it concern? {', '.join(_known(offer))}")
            offer.service(asked)  # refuses a part that is not there, with those that are
            self._wanted = asked

        def done(answer: str | None) -> None:
            if answer:
                self._show()

        text = f"All steps of these parts are done again. Parts: {', '.join(_known(offer))}"
        self.app.push_screen(FormPanel("After an event", text, fields, keep), done)

    # beginning

    @on(OptionList.OptionSelected, "#offer")
    def _begin(self, event: OptionList.OptionSelected) -> None:
        event.stop()
        if self._offer is not None:
            self._begin_visit(self._offer, self._wanted)

    def _begin_visit(self, offer: Offer, wanted: Wanted) -> None:
        """Gather what the visits before left, and work the walk out."""
        app = app_of(self)

        def begin(still: StillWanted) -> Callable[[], None]:
            opened = app.new_service(offer, offer.service(wanted), still)
            return lambda: self._begun(opened)

        def refused(error: CommissionError) -> None:
            app.offer_storage(error, lambda: self._begin_visit(offer, wanted))

        self.doing("the records are read and the walk is worked out", begin, refused)

    def _begun(self, opened: OpenVisit) -> None:
        app = app_of(self)
        app.offered = None
        app.show_visit(opened)

    def action_leave(self) -> None:
        if not self.busy():
            app_of(self).go_home()


def _rows(offer: Offer, wanted: Wanted) -> Iterator[Row]:
    """Yield the lines of the page; the note to the next technician comes first of all."""
    if offer.returned is not None:
        said = returned_lines(offer.returned, offer.whole)
        yield from _group(returned_head(offer.returned), said, leading=False)
    yield from _group("Note to the next technician", note_lines(offer), leading=offer.returned is not None)
    yield from _blank_heading("What this visit does")
    yield from _choices(offer, wanted)
    yield from _group("Changed since the last visit", changed_lines(offer))
    yield from _group("Drifted at the last visit", drifted_lines(offer))
    yield from _group("Not covered", uncovered_lines(offer, wanted))
    yield from _group("Left open by the last visit", open_lines(offer))
    yield from _group("Records", record_lines(offer))


def _choices(offer: Offer, wanted: Wanted) -> Iterator[Row]:
    """Yield what can be done or left; of a returned record first of all what was returned."""
    if offer.returned is not None:
        count = len(offer.returned.comments)
        text = f"{count} comment{'s' if count > 1 else ''}: only their steps, and what keeps them safe"
        yield plain_row(f"{_word(wanted.returned)}{'returned':<12}{text}", _RETURNED)
        if wanted.returned:
            return
    done = covered(wanted.due)
    for row in offer.due:
        word = _word(row.interval in done)
        yield plain_row(f"{word}{row.interval:<12}{due_text(row)}", f"{_TICK}{row.interval}")
    if offer.put_off:
        count = len(offer.put_off)
        text = f"{count} step{'s' if count > 1 else ''} that were put off"
        yield plain_row(f"{_word(wanted.put_off)}{'put off':<12}{text}", _PUT_OFF)
    yield plain_row(_event_text(wanted), _EVENT)


def _word(done: bool) -> str:
    return f"{'do' if done else 'leave':<7}"


def _event_text(wanted: Wanted) -> str:
    told = [wanted.event] if wanted.event else []
    told += [", ".join(wanted.parts)] if wanted.parts else []
    told += [f"new: {', '.join(wanted.replaced)}"] if wanted.replaced else []
    text = "; ".join(told) or "F3: something happened or was replaced"
    return f"{'do' if told else 'none':<7}{'event':<12}{text}"


def _group(head: str, lines: Iterable[str], *, leading: bool = True) -> Iterator[Row]:
    told = list(lines)
    if told:
        yield from _blank_heading(head) if leading else (heading(head),)
        yield from (plain_row(line, f"text|{line}") for line in told)


def _blank_heading(text: str) -> tuple[Row, Row]:
    return Row(Content("")), heading(text)


def _ticked(offer: Offer, wanted: Wanted, interval: str) -> tuple[Interval, ...]:
    """Return the intervals once one is done or left: with a longer one go the shorter ones."""
    order = [row.interval for row in offer.due]
    at = order.index(next(known for known in order if known == interval))
    done = interval in covered(wanted.due)
    return tuple(order[:at] if done else order[: at + 1])


def _ids(typed: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(typed.replace(",", " ").split()))


def _known(offer: Offer) -> tuple[str, ...]:
    """Return the parts that a person would name: the bank, its strings, the devices."""
    plant = offer.plant
    strings = (string.id for string in plant.bank.strings)
    return (plant.bank.id, *strings, *(device.id for device in plant.devices))
