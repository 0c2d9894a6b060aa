"""Sign-off: what is missing, what was decided, and the technician's name under it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import ClassVar, Final

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.content import Content
from textual.widgets import OptionList, Static

from commission.records.keys import KeyFile
from commission.screens.decide import Decide
from commission.screens.forms import Field, FormPanel
from commission.screens.own_app import app_of
from commission.screens.panels import Choice, ChoicePanel
from commission.screens.people import People
from commission.screens.plates import plate_form
from commission.screens.record_file import sign_and_write, usual_folder, write_again
from commission.screens.rows import RowList, WholeRowList
from commission.screens.settings import Settings
from commission.screens.sign_form import ask_key, fields, own_keys, told
from commission.screens.sign_rows import (
    GOES,
    LEFT,
    STATE_TEXT,
    STATES,
    disposed_text,
    rows,
    signed_rows,
)
from commission.screens.visit_page import shown
from commission.visit.missing import Missing
from commission.visit.shelf import keys_root
from commission.visit.types import SignedAs

_ENTER_DOES: Final = {
    "state": "Enter: another state to be signed as",
    "sign": "Enter: sign, or go to the first that is missing",
    "plate": "Enter: serial number, firmware version, date code",
}


class Sign(Decide):
    """See what is missing, settle it, and sign."""

    CSS_PATH = "styles/sign.tcss"
    BINDINGS: ClassVar[list[BindingType]] = [*shown("settings", "go-to", "findings")]
    AUTO_FOCUS = "#signing"
    help_text = (
        "Here the visit is signed. First the list says what is missing, one line each.\n\n"
        "  Up, Down      choose a line\n"
        "  Enter         go there, or say here what was done about it\n\n"
        "Three states can be signed:\n"
        + "".join(f"  {state:<32}{text}\n" for state, text in STATE_TEXT.items())
        + "\nA failed reading is mended and read again, accepted by a second person, or put off to a\n"
        "date with what stays off until then. A conditional verdict wants a reason. What stops work\n"
        "is mended, or isolated and locked.\n\n"
        "Signing writes one record file with a digest over every byte of it, attached files in a folder\n"
        "beside it. With a key of yours (commission keys --new) it also proves who signed. It names\n"
        "the site's record before it in that folder, so that a missing one shows. Nothing can be\n"
        "added to a signed visit; what comes after belongs into a new one."
    )

    def __init__(self) -> None:
        super().__init__()
        self._signed_as: SignedAs = "complete"
        self._missing: tuple[Missing, ...] = ()
        self._record: tuple[str, ...] = ()

    def body(self) -> ComposeResult:
        with Horizontal(id="sides"):
            with Vertical(id="sign-side"):
                yield WholeRowList(id="signing", takes_focus=True)
                yield Static(id="in-full", markup=False)
            with VerticalScroll(id="stages-side", can_focus=False):
                yield Static(id="stages", markup=False)
        yield Static("", id="said", markup=False)

    # what is shown

    def begin_page(self) -> None:
        self._signed_as, self._record = "complete", ()
        self.say_below("")

    def refresh_page(self) -> None:
        """List anew what is missing and what is told."""
        signed = self.visit.visit.sign_off is not None
        self._missing = () if signed else self.visit.missing(self._signed_as)
        listed = (
            signed_rows(self.visit, self._record)
            if signed
            else rows(self.visit, self._signed_as, self._missing)
        )
        self.query_one("#signing", RowList).set_rows(listed)
        self.query_one("#stages", Static).update(Content(self._stages()))
        self._show_in_full()

    def _stages(self) -> str:
        lines = [
            f"{stage.number:>2}  {stage.title[:34]:<34} {stage}" for stage in self.visit.standing.progress()
        ]
        return "\n".join(("Stages", "", *lines))

    def _show_in_full(self) -> None:
        self.query_one("#in-full", Static).update(Content(self._in_full()))

    def _in_full(self) -> str:
        kind, _, what = self._chosen
        if kind == "missing" and int(what) < len(self._missing):
            item = self._missing[int(what)]
            return f"{item.says}\n{GOES['finding' if item.reading else item.place]}"
        if kind == "left":
            told = getattr(self.visit.visit, what)
            beside = ", never the codes themselves" if what == "codes_kept" else ""
            return f"{LEFT[what]}{beside}: {told or 'nothing yet'}"
        if kind == "decided":
            newest = [one for one in self.visit.visit.dispositions if one.subject == what]
            return disposed_text(self.visit, newest[-1]) if newest else ""
        if kind == "told":
            return what
        if kind == "record" and self._record:
            return self._record[int(what)]
        return _ENTER_DOES.get(kind, "")

    @property
    def _chosen(self) -> tuple[str, str, str]:
        return self.query_one("#signing", RowList).key.partition("|")

    @on(OptionList.OptionHighlighted, "#signing")
    def _in_view(self, event: OptionList.OptionHighlighted) -> None:
        event.stop()
        self._show_in_full()

    def settled(self, text: str) -> None:
        """Show the page after something was said about a fault."""
        self.say_below(text)
        self.refresh_page()
        self.refresh_title()

    # Enter on a line

    @on(OptionList.OptionSelected, "#signing")
    async def _taken(self, event: OptionList.OptionSelected) -> None:
        event.stop()
        self.say_below("")
        kind, _, what = self._chosen
        if kind == "missing":
            await self._settle(self._missing[int(what)])
        elif self.visit.visit.sign_off is not None:
            self._with_key(self._ask_folder)
        elif kind == "plate":
            self._ask_plate(what)
        elif kind == "decided":
            self.decide(what)
        elif kind == "told":
            return
        else:
            {"state": self._ask_state, "sign": self._ask_key}.get(kind, lambda: self._ask_left(what))()

    async def _settle(self, item: Missing) -> None:
        if item.place in {"finding", "acceptance"}:
            self.decide(item.key[0])
        elif item.place == "step" and item.reading is not None:
            self.decide(str(item.reading))
        elif item.place == "step":
            self.jump((item.key[0], item.key[1:]))
        elif item.place == "device":
            self._ask_plate(item.key[0])
        elif item.place == "setting":
            await self.app.switch_mode("settings")
            if isinstance(self.app.screen, Settings):
                self.app.screen.point_at(item.key[0], item.key[1], item.key[2])
        elif item.place in {"person", "instrument"}:
            await self.app.switch_mode("people")
            if isinstance(self.app.screen, People):
                self.app.screen.point_at(item.place, item.key)

    def _ask_plate(self, part: str) -> None:
        def done(answer: str | None) -> None:
            if answer:
                self.settled("kept")

        self.app.push_screen(plate_form(self.visit, part, app_of(self).now), done)

    def _ask_left(self, field: str) -> None:
        def keep(typed: dict[str, str]) -> None:
            self.visit.leave(app_of(self).now(), **typed)

        def done(answer: str | None) -> None:
            if answer:
                self.settled("kept")

        text = "Where, never the codes themselves." if field == "codes_kept" else "In a few words."
        standing = str(getattr(self.visit.visit, field))
        self.app.push_screen(FormPanel(LEFT[field], text, (Field(field, "", standing),), keep), done)

    def _ask_state(self) -> None:
        def chosen(state: str | None) -> None:
            self._signed_as = next((known for known in STATES if known == state), self._signed_as)
            self.refresh_page()

        choices = [Choice(state, f"{state:<32}{STATE_TEXT[state]}") for state in STATES]
        self.app.push_screen(ChoicePanel("To be signed as", choices, at=self._signed_as), chosen)

    # signing

    def _ask_key(self) -> None:
        if self._missing:
            self.query_one("#signing", RowList).point_at("missing|0")
            self.say_below(f"cannot be signed as {self._signed_as} yet; the first that is missing is in view")
            return
        self._with_key(self._ask_name)

    @property
    def _folder(self) -> Path:
        """Where the record goes unless told otherwise: beside the records of the visits before."""
        return app_of(self).record_folder or usual_folder()

    def _with_key(self, then: Callable[[KeyFile | None], None]) -> None:
        ask_key(self.app, own_keys(keys_root(app_of(self).root), self.visit.visit), then)

    def _ask_name(self, key: KeyFile | None) -> None:
        def keep(typed: dict[str, str]) -> None:
            if self.visit.visit.sign_off is not None:  # the record alone was refused, and is tried again
                self._record = write_again(self.visit, told(typed, key))
                return
            self._record = sign_and_write(
                self.visit,
                name=typed["name"],
                signed_as=self._signed_as,
                told=told(typed, key),
                now=app_of(self).now(),
            )

        text = (
            f"Signed as: {self._signed_as}, {_with(key)}By your name you say that you made these "
            "measurements and settings and answer for this record. Nothing can be added after."
        )
        asked = fields(self.visit.visit, self._folder, key, name=True)
        self.app.push_screen(FormPanel("Sign", text, asked, keep), self._signed)

    def _signed(self, answer: str | None) -> None:
        """Show how it stands; also where the record could not be written after the visit was signed."""
        self.refresh_page()
        self.refresh_title()
        self.query_one("#signing", RowList).point_at("record|0")
        if answer:
            self.say_below("signed; the record is written and was read back")
        elif self.visit.visit.sign_off is not None:
            self.say_below("signed, but the record is not written: Enter asks for another folder", wrong=True)

    def _ask_folder(self, key: KeyFile | None) -> None:
        def keep(typed: dict[str, str]) -> None:
            self._record = write_again(self.visit, told(typed, key))

        asked = fields(self.visit.visit, self._folder, key, name=False)
        text = f"One file, {_with(key)}".rstrip()
        self.app.push_screen(FormPanel("Write the record", text, asked, keep), self._signed)


def _with(key: KeyFile | None) -> str:
    """Say with which key; its fingerprint stands on a line of its own, so that it is never broken."""
    return "without a key. " if key is None else f"with the key of {key.name}\n{key.fingerprint}\n"
