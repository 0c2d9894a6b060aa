"""The settings sheet, one device a page: recommended, as found, as left."""

from __future__ import annotations

from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.content import Content
from textual.widgets import Input, OptionList, Static

from commission import plain
from commission.errors import CommissionError, EntryError
from commission.plant.site import Device
from commission.screens import again_text as again
from commission.screens.entry import Entry
from commission.screens.forms import ConfirmPanel
from commission.screens.own_app import app_of
from commission.screens.panels import LinePanel, WhyPanel, lineage
from commission.screens.plates import plate_form
from commission.screens.rows import RowList
from commission.screens.setting_rows import (
    COLUMN_NAME,
    Column,
    details,
    entered,
    key_of,
    mark_of,
    table,
    unit_text,
    value_text,
)
from commission.screens.visit_page import VisitPage, shown
from commission.sheet.types import Setting
from commission.units import UnitSystem
from commission.visit.limits import outside_text, unaccepted, unexplained, wants_second_person
from commission.visit.service import last_left
from commission.visit.settings import not_told, recommended_typed
from commission.visit.types import SettingEntry

RECOMMENDED = "="
"""Typed alone, it stands for the recommended value."""
_SIDE = 84
"""Columns of the table where the lineage stands beside it."""


class Settings(VisitPage):
    """Enter each setting as it was found and as it was left, device by device."""

    CSS_PATH = "styles/settings.tcss"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("down", "move(1)", show=False),
        Binding("up", "move(-1)", show=False),
        Binding("ctrl+t", "column", "found/left", id="column", tooltip="Change between as found and as left"),
        Binding("ctrl+r", "as_recommended", "all same", id="all-same", tooltip="All as recommended"),
        Binding("pagedown", "device(1)", "device", id="next-device", tooltip="Next device"),
        Binding("pageup", "device(-1)", id="device-before", tooltip="Device before", show=False),
        Binding("alt+right", "device(1)", show=False),
        Binding("alt+left", "device(-1)", show=False),
        Binding("ctrl+l", "plate", id="plate", tooltip="Plate of this device: serial, firmware", show=False),
        *shown("why", "sign"),
    ]
    AUTO_FOCUS = "#entry"
    help_text = (
        "Here you enter what stands in each device, one device a page.\n\n"
        "  Up, Down          choose a setting\n"
        "  Enter             take what is typed and go to the next; nothing typed: only go on\n"
        f"  {RECOMMENDED}  then Enter     the device holds the recommended value\n"
        "  ctrl+t            enter the other column: as found, before you touch it; as left, read\n"
        "                    back from the device after\n"
        "  PgDn, PgUp        next device, device before (alt+right, alt+left too)\n"
        "  ctrl+r            all that is not told yet of this device was read back as recommended\n"
        "  ctrl+l            serial number, firmware and date code of this device\n"
        "At a service visit '=' and ctrl+r mean, as long as you enter as found, as the last visit left\n"
        "it; the sign behind as found says so: = as left then, ≠ found otherwise.\n"
        "  F2                where the recommended value comes from\n\n"
        "Numbers are those that the device shows: 14.4 on a device that counts volts per 12 V\n"
        "block, 57.6 on one that shows the whole bank. 'off' and the device's own words are typed\n"
        "as words; a time with its unit, 30 min or 2 h 30; a voltage with its delay as\n"
        "47.2 15 min, several with ; between. What differs from the recommendation needs a\n"
        "reason, which is asked for at once. What could harm battery or device is accepted by a\n"
        "second person too (F9). What the device cannot hold is not taken as left."
    )

    def __init__(self) -> None:
        super().__init__()
        self._device = 0
        self._column: Column = "left"
        self._asks_reason = False

    def body(self) -> ComposeResult:
        with Horizontal(id="device-line"):
            yield Static(id="device", markup=False)
            yield Static(id="told", markup=False)
        yield Static(id="drifted", markup=False)
        with Horizontal(id="sides"):
            with Vertical(id="sheet-side"):
                yield Static(id="heads")
                yield RowList(id="settings")
                yield Static(id="details", markup=False)
            with VerticalScroll(id="why-side", can_focus=False):
                yield Static(id="why-beside")
        with Horizontal(id="entry-line"):
            yield Static(id="prompt", markup=False)
            yield Entry(id="entry")
        yield Static("", id="said", markup=False)

    # what is shown

    @property
    def _system(self) -> UnitSystem:
        return self.visit.plant.site.site.units

    @property
    def _devices(self) -> tuple[Device, ...]:
        told = {setting.device for setting in self.visit.sheet.settings}
        return tuple(device for device in self.visit.plant.devices if device.id in told)

    @property
    def _shown_device(self) -> Device | None:
        devices = self._devices
        return devices[self._device % len(devices)] if devices else None

    def _of_device(self) -> tuple[Setting, ...]:
        device = self._shown_device
        sheet = self.visit.sheet
        return tuple(setting for setting in sheet.settings if device and setting.device == device.id)

    @property
    def _setting(self) -> Setting | None:
        key = self.query_one("#settings", RowList).key
        return next((setting for setting in self._of_device() if key_of(setting) == key), None)

    def begin_page(self) -> None:
        # as found is read before anything is touched, so it comes first as long as nothing is told
        self._column = "left" if self.visit.visit.settings else "found"
        self._device = 0
        self._fresh_entry()
        if self._column == "found":
            same = "; ctrl+r: all as last left" if self._again else ""
            self.say_below(f"first as found, before anything is touched; ctrl+t for as left{same}")

    def refresh_page(self) -> None:
        """Show the device as it stands."""
        width = min(self.size.width, _SIDE + 2) if self.has_class("-wide") else self.size.width
        heads, rows = table(self._of_device(), self.visit.visit, width - 4, self._column, self._system)
        self.query_one("#heads", Static).update(heads)
        self.query_one("#settings", RowList).set_rows(rows)
        self._show_device()
        self._show_drifts()
        self._show_setting()

    @property
    def _again(self) -> bool:
        """Whether the last visit left settings that those found can be held against."""
        service = self.visit.visit.service
        return service is not None and bool(service.left)

    def _show_drifts(self) -> None:
        """Tell on top what was found otherwise than it was left."""
        told = again.drifted_settings(self.visit, self.size.width - 2)
        place = self.query_one("#drifted", Static)
        place.display = bool(told)
        place.update(Content(told))

    def on_resize(self) -> None:
        if app_of(self).open_visit is not None:
            self.refresh_page()

    def _show_device(self) -> None:
        device = self._shown_device
        if device is None:
            self.query_one("#device", Static).update("No device of this plant has settings")
            return
        name = self.visit.plant.equipment[device.id].name
        where = f"{self._device % len(self._devices) + 1} of {len(self._devices)}"
        marks = [mark_of(setting, entered(self.visit.visit, setting)) for setting in self._of_device()]
        open_ = f"{marks.count('to enter')} to enter" if "to enter" in marks else "all told"
        why = f", {marks.count('why?')} to explain" if "why?" in marks else ""
        self.query_one("#device", Static).update(Content(f"{where}  {device.label}, {name}"))
        self.query_one("#told", Static).update(Content(open_ + why))

    def _show_setting(self) -> None:
        setting = self._setting
        if setting is None:
            return
        visit = self.visit.visit
        before = last_left(visit, *setting.key)
        told = "\n".join(details(setting, entered(visit, setting), self._system, before))
        self.query_one("#details", Static).update(Content(told))
        self.query_one("#why-beside", Static).update(lineage(list(plain.setting_why(setting))))
        self.query_one("#prompt", Static).update(Content(self._prompt(setting)))
        field = self.query_one("#entry", Entry)
        field.placeholder = "" if self._asks_reason else self._hint(setting)

    def _prompt(self, setting: Setting) -> str:
        name = plain.setting_name(setting)
        if self._asks_reason:
            wanted = recommended_typed(setting, self._system)
            return f"why not {self._recommended(setting)}?" if wanted is not None else "why so?"
        told = unit_text(setting, self._system)
        unit = f" ({told})" if told not in {"", "1"} else ""
        return f"{COLUMN_NAME[self._column]}, {name}{unit}:"

    def _recommended(self, setting: Setting) -> str:
        return plain.setting_text(setting, self._system)

    def _hint(self, setting: Setting) -> str:
        before = self._as_left_then(setting)
        if before is not None:
            return f"{RECOMMENDED} as last left, {value_text(before.left, setting, self._system)}"
        typed = recommended_typed(setting, self._system)
        return f"type {RECOMMENDED} to take {self._recommended(setting)}" if typed is not None else ""

    def _as_left_then(self, setting: Setting) -> SettingEntry | None:
        """Return what '=' stands for while settings are entered as found: as the last visit left it."""
        return last_left(self.visit.visit, *setting.key) if self._column == "found" else None

    def progress(self) -> str:
        if self.visit.visit.sign_off is not None:
            return "signed"
        sheet, visit = self.visit.sheet, self.visit.visit
        told = (*unexplained(sheet, visit), *unaccepted(sheet, visit))
        open_ = set(not_told(sheet, visit)) | {setting.device for setting, _ in told}
        count = len(self._devices)
        if open_:
            return f"{len(open_)} of {count} devices left" if count > 1 else "1 device left"
        return f"all {count} devices told" if count > 1 else "the device is told"

    # moving

    def point_at(self, device: str, setting: str, of_input: str) -> None:
        """Bring a setting into view, to be entered as left."""
        ids = [shown_device.id for shown_device in self._devices]
        if device in ids:
            self._device, self._column = ids.index(device), "left"
            self._fresh_entry()
            self.refresh_page()
            self.query_one("#settings", RowList).point_at(f"{setting}|{of_input}")

    @on(OptionList.OptionHighlighted, "#settings")
    def _in_view(self, event: OptionList.OptionHighlighted) -> None:
        event.stop()
        self._show_setting()

    def action_move(self, by: int) -> None:
        self._fresh_entry()
        self.query_one("#settings", RowList).move(by)
        self._show_setting()

    def action_device(self, by: int) -> None:
        if self._devices:
            self._device = (self._device + by) % len(self._devices)
            self._fresh_entry()
            self.refresh_page()
            self.query_one("#settings", RowList).move(-len(self._of_device()))

    def action_column(self) -> None:
        self._column = "found" if self._column == "left" else "left"
        self._fresh_entry()
        self.refresh_page()
        self.say_below(f"now entering {COLUMN_NAME[self._column]}")

    def action_leave(self) -> None:
        if self._asks_reason:
            self._fresh_entry()
            self._show_setting()
        else:
            super().action_leave()

    def _fresh_entry(self) -> None:
        self._asks_reason = False
        self.query_one("#entry", Entry).clear()
        self.say_below("")

    # entering

    @on(Input.Submitted, "#entry")
    def _typed(self, event: Input.Submitted) -> None:
        event.stop()
        setting, typed = self._setting, event.value.strip()
        if setting is None:
            return
        try:
            if self._asks_what_was_wrong(setting, typed):
                return
            entry = self._take(setting, typed) if typed or self._asks_reason else None
        except CommissionError as error:
            field = self.query_one("#entry", Entry)
            field.give_back(event.value)
            self.say_below(str(error), wrong=True)
            app_of(self).offer_storage(error, field.submit_again)
            return
        self._after(setting, entry)

    def _take(self, setting: Setting, typed: str) -> SettingEntry:
        visit, now = self.visit, app_of(self).now()
        device, name, of_input = setting.key
        if self._asks_reason:
            if typed and not any(letter.isalpha() for letter in typed):
                # a number typed ahead is meant for the next setting
                raise EntryError(f"'{typed}' is no reason; a few words are wanted, or Escape to say it later")
            return visit.give_reason(device, name, typed, now, input_=of_input)
        typed = self._meant(setting, typed)
        if self._column == "found":
            return visit.set_found(device, name, typed, now, input_=of_input)
        return visit.set_left(device, name, typed, now, input_=of_input)

    def _meant(self, setting: Setting, typed: str) -> str:
        """Return what was typed, with what the short sign stands for."""
        if typed != RECOMMENDED:
            return typed
        before = self._as_left_then(setting)
        if before is not None:
            return before.left_text or str(before.left)
        return recommended_typed(setting, self._system) or typed

    def _asks_what_was_wrong(self, setting: Setting, typed: str) -> bool:
        """Ask what was wrong, where what is typed is another value than was told as found."""
        if self._column != "found" or not typed:
            return False
        (device, name, of_input), meant = setting.key, self._meant(setting, typed)
        before = self.visit.found_otherwise(device, name, meant, input_=of_input)
        if before is None:
            return False
        kept: list[SettingEntry] = []

        def keep(why: str) -> None:
            now = app_of(self).now()
            kept.append(self.visit.set_found(device, name, meant, now, input_=of_input, why=why))

        def done(answer: str | None) -> None:
            if answer is None:
                self.query_one("#entry", Entry).give_back(typed)
            else:
                self._after(setting, kept[-1])

        title = f"Correct as found: {plain.setting_name(setting)}"
        told = value_text(before.found, setting, self._system)
        what = f"It was told as found at {told}, which stays in the record. What was wrong with it?"
        self.app.push_screen(LinePanel(title, what, keep=keep), done)
        return True

    def _after(self, setting: Setting, entry: SettingEntry | None) -> None:
        """Show what was kept and go on: to its reason where one is wanted, else to the next setting."""
        self._asks_reason = False
        self.say_below("")
        self.refresh_page()
        self.refresh_title()
        if entry is not None:
            self.say_below(self._kept(setting, entry))
            if self._column == "left" and mark_of(setting, entry) == "why?":
                self._asks_reason = True
                self._show_setting()
                return
        self.query_one("#settings", RowList).move(1)
        self._show_setting()

    def _kept(self, setting: Setting, entry: SettingEntry) -> str:
        """Say what was kept, and at once where it is outside what is acceptable."""
        value = entry.found if self._column == "found" else entry.left
        beyond = outside_text(setting, value, self._system)
        told = value_text(value, setting, self._system) + (f", {beyond}" if beyond else "")
        name = plain.setting_name(setting)
        if self._column == "found":
            return f"{name} was found at {told}"
        if mark_of(setting, entry) == "why?":
            differs = "" if beyond else ", which differs"
            return f"{name} is left at {told}{differs}; a few words why, or Escape to say it later"
        if wants_second_person(setting, value):
            return f"{name} is left at {told}: a second person has to accept it, at sign-off (F9)"
        return f"{name} is left at {told}"

    # the whole device

    def action_as_recommended(self) -> None:
        device = self._shown_device
        if device is None:
            return
        if self._again and self._column == "found":
            self._ask_as_left(device)
            return
        waiting = not_told(self.visit.sheet, self.visit.visit).get(device.id, [])
        known = [setting for setting in waiting if recommended_typed(setting, self._system) is not None]
        if not known:
            self.say_below("nothing of this device is left to be told as recommended")
            return
        rest = len(waiting) - len(known)
        beside = f" {rest} more have no recommendation and stay to be entered." if rest else ""
        text = (
            f"{len(known)} settings of {device.label} are not told yet. Each of them was read back from the "
            f"device and stands as recommended?{beside}"
        )

        def answered(answer: str | None) -> None:
            if answer:
                self._keep_all(device)

        self.app.push_screen(ConfirmPanel("All as recommended", text, "yes, all read back"), answered)

    def _keep_all(self, device: Device) -> None:
        try:
            count = self.visit.left_as_recommended(device.id, app_of(self).now())
        except CommissionError as error:
            self.say_below(str(error), wrong=True)
            app_of(self).offer_storage(error, lambda: self._keep_all(device))
            return
        self._fresh_entry()
        self.refresh_page()
        self.refresh_title()
        self.say_below(f"{count} settings of {device.label} kept as left as recommended")

    def _ask_as_left(self, device: Device) -> None:
        """Ask whether all of a device was found as the last visit left it."""
        nothing = again.nothing_to_find(self.visit, device.id, device.label)
        if nothing:
            self.say_below(nothing)
            return
        text = (
            f"Each setting of {device.label} that is not entered as found yet was read from the device "
            "itself, and stands as the last visit left it?"
        )

        def answered(answer: str | None) -> None:
            if answer:
                self._keep_as_left(device)

        self.app.push_screen(ConfirmPanel("All as last left", text, "yes, all read"), answered)

    def _keep_as_left(self, device: Device) -> None:
        try:
            count = self.visit.found_as_left(device.id, app_of(self).now())
        except CommissionError as error:
            self.say_below(str(error), wrong=True)
            app_of(self).offer_storage(error, lambda: self._keep_as_left(device))
            return
        self._fresh_entry()
        self.refresh_page()
        self.refresh_title()
        waiting = [one.label for one in self._devices if again.not_found(self.visit, one.id)]
        then = f"PgDn: {waiting[0]}" if waiting else "all devices are told as found; Escape: the walk"
        self.say_below(f"{count} settings of {device.label} kept as found as last left; {then}")

    def action_plate(self) -> None:
        device = self._shown_device
        if device is not None:
            self.app.push_screen(plate_form(self.visit, device.id, app_of(self).now))

    def action_why(self) -> None:
        setting = self._setting
        if setting is not None:
            title = f"{plain.setting_name(setting)}: {self._recommended(setting)}"
            self.app.push_screen(WhyPanel(title, list(plain.setting_why(setting))))
