"""Who commissions the plant and with what, and what this kit cannot decide."""

from __future__ import annotations

from typing import ClassVar, Final

from textual import on, work
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.content import Content
from textual.message import Message
from textual.widgets import Input, OptionList, Static
from textual.worker import Worker, WorkerState

from commission.errors import CommissionError, EntryError
from commission.screens.entry import Entry
from commission.screens.own_app import app_of
from commission.screens.panels import Choice, ChoicePanel, TextPanel
from commission.screens.people_rows import (
    INSTRUMENT_FIELDS,
    KINDS,
    NEW_INSTRUMENT,
    NEW_PERSON,
    PERSON_FIELDS,
    ROLES,
    ROOM_OF_ACCURACY,
    WHOLE_KIT,
    another,
    in_kit,
    instrument_hint,
    instrument_value,
    offered,
    person_hint,
    rows,
    too_coarse_lines,
    usual_kit,
)
from commission.screens.rows import RowList
from commission.screens.visit_page import VisitPage, shown
from commission.visit.accuracy import accuracy_text, read_accuracy
from commission.visit.kit import TooCoarse, label
from commission.visit.session import OpenVisit
from commission.visit.types import Instrument, Person

NOTHING: Final = "-"
"""Typed alone, it empties a field."""
_PROMPTS: Final = {
    "role": "role",
    "licence": "licence",
    "employer": "employer",
    "serial": "serial number",
    "calibrated": "calibrated on",
    "due": "due again on",
    "accuracy": "accuracy",
    "name": "name",
}


class People(VisitPage):
    """Say who is here and with which instruments."""

    CSS_PATH = "styles/people.tcss"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("down", "move(1)", show=False),
        Binding("up", "move(-1)", show=False),
        Binding("pagedown", "move(10)", show=False),
        Binding("pageup", "move(-10)", show=False),
        Binding("f2", "why", "kit limits", id="why", tooltip="What this kit cannot decide"),
        *shown("plant", "findings", "settings"),
    ]
    AUTO_FOCUS = "#entry"
    help_text = (
        "Here stands who commissions the plant, and with which instruments.\n\n"
        "  Up, Down      choose a line\n"
        "  Enter         take what is typed and ask for the next field of the line; nothing\n"
        "                typed: leave the field as it is\n"
        f"  {NOTHING}  then Enter   empty the field\n"
        "  F2            which readings this kit is too coarse for, and what class of meter would do\n"
        "  F7            on to the plant, as soon as the technician is named\n\n"
        "An instrument is in the kit when its serial number is given. Its accuracy is written as\n"
        "its maker does, 0.5 % + 2 digits; where the ranges differ each with its end and its least\n"
        "digit: 0.5 % + 2 to 60 V by 0.01; 0.8 % + 3 to 600 V by 0.1. A meter past its calibration\n"
        "cannot carry a clear pass."
    )

    class KitWeighed(Message):
        """What a kit cannot decide has been worked out."""

        def __init__(self, visit: OpenVisit, found: tuple[TooCoarse, ...]) -> None:
            super().__init__()
            self.visit = visit
            self.found = found

    def __init__(self) -> None:
        super().__init__()
        self._field = 0
        self._limits: tuple[str, ...] = ()

    def body(self) -> ComposeResult:
        with Horizontal(id="sides"):
            with Vertical(id="people-side"):
                yield RowList(id="people")
            with VerticalScroll(id="limits-side", can_focus=False):
                yield Static(id="limits-beside", markup=False)
        yield Static(id="whole", markup=False)
        yield Static(id="limits", markup=False)
        with Horizontal(id="entry-line"):
            yield Static(id="prompt", markup=False)
            yield Entry(id="entry")
        yield Static("", id="said", markup=False)

    # what is shown

    def begin_page(self) -> None:
        self._field = 0
        self.say_below("")
        self.query_one("#entry", Entry).clear()
        self._show_rows(NEW_PERSON if not self.visit.visit.people else "")

    def refresh_page(self) -> None:
        """Show people and kit as they stand, and work out anew what the kit cannot decide."""
        self._show_rows()
        self._weigh_kit()

    def _show_rows(self, at: str = "") -> None:
        self.query_one("#people", RowList).set_rows(rows(self.visit.visit, app_of(self).now().date()), at)
        self._show_field()

    @property
    def _key(self) -> str:
        return self.query_one("#people", RowList).key

    @property
    def _person(self) -> Person | None:
        return next((one for one in self.visit.visit.people if f"person|{one.name}" == self._key), None)

    @property
    def _instrument(self) -> Instrument | None:
        found = (one for one in offered(self.visit.visit) if f"instrument|{one.id}" == self._key)
        return next(found, None)

    @property
    def _fields(self) -> tuple[str, ...]:
        if self._instrument is not None:
            return INSTRUMENT_FIELDS
        return PERSON_FIELDS if self._person is not None else ("name",)

    def _show_field(self) -> None:
        prompt, hint = self._asked()
        self.query_one("#prompt", Static).update(Content(f"{prompt}:" if prompt else ""))
        self.query_one("#entry", Entry).placeholder = hint
        whole = self.query_one("#whole", Static)
        told = self._cut_accuracy()
        whole.display = bool(told)
        whole.update(Content(told))

    def _cut_accuracy(self) -> str:
        """Return the accuracy of the instrument in view where its line has no room for it."""
        instrument = self._instrument
        if instrument is None or not in_kit(self.visit.visit, instrument):
            return ""
        told = accuracy_text(instrument.ranges)
        return f"accuracy  {told}" if len(told) > ROOM_OF_ACCURACY else ""

    def _asked(self) -> tuple[str, str]:
        """Return the prompt of the field in view and what may be typed there."""
        field = self._fields[min(self._field, len(self._fields) - 1)]
        person, instrument = self._person, self._instrument
        if person is not None:
            return f"{_PROMPTS[field]} of {person.name}", person_hint(field, person)
        if instrument is not None:
            known = in_kit(self.visit.visit, instrument)
            hint = instrument_hint(field, instrument, known=known)
            return f"{label(instrument)}: {_PROMPTS[field]}", hint
        if self._key == NEW_PERSON:
            technician = self._default_role() == "technician"
            return ("name of the technician", "") if technician else ("name", "Enter alone: nobody else")
        return "", "Enter"

    # moving

    def point_at(self, kind: str, key: tuple[str, ...]) -> None:
        """Bring a field of a person or an instrument into view, or the line for a new one."""
        self._show_rows(f"{kind}|{key[0] if key else ''}")
        self._field = self._fields.index(key[1]) if len(key) > 1 else 0
        self._show_field()

    @on(OptionList.OptionHighlighted, "#people")
    def _in_view(self, event: OptionList.OptionHighlighted) -> None:
        event.stop()
        self._show_field()

    def action_move(self, by: int) -> None:
        self._field = 0
        self.query_one("#entry", Entry).clear()
        self.say_below("")
        self.query_one("#people", RowList).move(by)
        self._show_field()

    def _go_on(self) -> None:
        """Ask for the next field of the line, after the last one for the first of the next line."""
        self._field += 1
        if self._field >= len(self._fields):
            self._field = 0
            self.query_one("#people", RowList).move(1)
        self._show_field()

    # entering

    @on(Input.Submitted, "#entry")
    def _typed(self, event: Input.Submitted) -> None:
        event.stop()
        try:
            self._take(event.value.strip())
        except CommissionError as error:
            field = self.query_one("#entry", Entry)
            field.give_back(event.value)
            self.say_below(str(error), wrong=True)
            app_of(self).offer_storage(error, field.submit_again)

    def _take(self, typed: str) -> None:
        self.say_below("")
        person, instrument = self._person, self._instrument
        if self._key == WHOLE_KIT:
            self._take_kit()
        elif self._key == NEW_INSTRUMENT:
            self._ask_kind()
        elif self._key == NEW_PERSON:
            self._take_new_person(typed)
        elif person is not None:
            self._take_person(person, self._fields[self._field], typed)
        elif instrument is not None:
            self._take_instrument(instrument, self._fields[self._field], typed)

    def _default_role(self) -> str:
        named = any(person.role == "technician" for person in self.visit.visit.people)
        return "supervisor" if named else "technician"

    def _take_new_person(self, typed: str) -> None:
        if not typed:
            if self._default_role() == "technician":
                raise EntryError("the technician's name is wanted; a visit is signed by its technician")
            self._go_on()
            return
        if any(person.name == typed for person in self.visit.visit.people):
            raise EntryError(f"{typed} is here already; choose the line above to change what is told")
        self.visit.add_person(
            Person.model_validate({"name": as_line(typed), "role": self._default_role()}),
            app_of(self).now(),
        )
        self._show_rows(f"person|{typed}")
        self._field = PERSON_FIELDS.index("role")
        self._show_field()
        self.say_below(f"{typed} is kept. F7 shows the plant, Escape the walk; or Enter on, field by field")

    def _take_person(self, person: Person, field: str, typed: str) -> None:
        if typed:
            value = "" if typed == NOTHING else as_line(typed)
            value = role_of(value) if field == "role" else value
            changed = Person.model_validate(person.model_dump() | {field: value})
            self.visit.add_person(changed, app_of(self).now(), instead_of=person.name)
            self._show_rows(f"person|{changed.name}")
        self._go_on()

    def _take_instrument(self, instrument: Instrument, field: str, typed: str) -> None:
        if not typed and not in_kit(self.visit.visit, instrument):
            self._field = 0
            self.query_one("#people", RowList).move(1)
            self._show_field()
            return
        if typed and typed != instrument_value(field, instrument):
            self.visit.add_instrument(_with(instrument, field, typed), app_of(self).now())
            self._show_rows()
            self._weigh_kit()
        self._go_on()

    def _take_kit(self) -> None:
        missing = [one for one in usual_kit(self.visit.visit) if not in_kit(self.visit.visit, one)]
        for instrument in missing:
            self.visit.add_instrument(instrument, app_of(self).now())
        self._show_rows()
        self._weigh_kit()
        service = self.visit.visit.service
        if service is not None and service.kit:
            told = "as the last visit had them put in; compare serial numbers, and see which are due again"
        else:
            told = (
                "of ordinary accuracy put in; give each that you use its serial number, calibration and own "
                "accuracy"
            )
        self.say_below(f"{len(missing)} instruments {told}")
        self._go_on()

    def _ask_kind(self) -> None:
        def chosen(kind: str | None) -> None:
            found = next((known for known in KINDS if known == kind), None)
            if found is None:
                return
            instrument = another(self.visit.visit, found)
            try:
                self.visit.add_instrument(instrument, app_of(self).now())
            except CommissionError as error:
                self.say_below(str(error), wrong=True)
                app_of(self).offer_storage(error, lambda: chosen(kind))
                return
            self._field = 0
            self._show_rows(f"instrument|{instrument.id}")
            self._weigh_kit()

        choices = [Choice(kind, kind) for kind in KINDS]
        self.app.push_screen(ChoicePanel("What kind of instrument", choices), chosen)

    # what the kit cannot decide

    def _weigh_kit(self) -> None:
        if not self.visit.visit.instruments:
            self._show_limits("no instrument in the kit yet", ())
            return
        self._show_limits("working out what this kit can decide …", ())
        self._weigh(self.visit)

    @work(thread=True, exclusive=True, group="kit", exit_on_error=False)
    def _weigh(self, visit: OpenVisit) -> None:
        self.post_message(self.KitWeighed(visit, visit.too_coarse(app_of(self).now())))

    @on(KitWeighed)
    def _weighed(self, message: KitWeighed) -> None:
        message.stop()
        if message.visit is not app_of(self).open_visit:
            return
        lines = tuple(too_coarse_lines(message.visit, message.found))
        count = len(message.found)
        told = (
            f"this kit cannot decide {count} of the readings: F2 lists them with what would do"
            if count
            else "this kit can decide every reading whose band is known already"
        )
        self._show_limits(told, lines)

    @on(Worker.StateChanged)
    def _failed(self, event: Worker.StateChanged) -> None:
        if event.worker.group == "kit" and event.state == WorkerState.ERROR:
            self._show_limits(f"what this kit can decide could not be worked out: {event.worker.error}", ())

    def _show_limits(self, told: str, lines: tuple[str, ...]) -> None:
        self._limits = lines
        self.query_one("#limits", Static).update(Content(told))
        beside = "\n".join(("What this kit cannot decide", "", *lines)) if lines else ""
        self.query_one("#limits-beside", Static).update(Content(beside))

    def action_why(self) -> None:
        text = "\n".join(self._limits) or "Nothing that can be told already."
        self.app.push_screen(TextPanel("What this kit cannot decide", text))


def as_line(typed: str) -> str:
    """Return what was typed if it is one line without control characters.

    Raises
    ------
    EntryError
        If it is not, or is too long to stand in a record.
    """
    if not typed.isprintable():
        raise EntryError("it has characters that cannot stand in a record; type it anew")
    if len(typed) > 400:
        raise EntryError(f"it has {len(typed)} characters; at most 400 are kept")
    return typed


def role_of(typed: str) -> str:
    """Return the role that begins with what was typed.

    Raises
    ------
    EntryError
        If none does.
    """
    found = [role for role in ROLES if typed and role.startswith(typed.casefold())]
    if len(found) != 1:
        raise EntryError(f"'{typed}' is no role; one of: {', '.join(ROLES)}")
    return found[0]


def _with(instrument: Instrument, field: str, typed: str) -> Instrument:
    """Return an instrument with one field as typed."""
    value = "" if typed == NOTHING else as_line(typed)
    if field == "accuracy":
        return instrument.model_copy(update={"ranges": read_accuracy(value, instrument.ranges)})
    return instrument.model_copy(update={field: value})
