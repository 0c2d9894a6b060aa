"""The sheet while it is being made: what is settled so far, and how a number is brought onto a device."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final, Literal, TypeAlias

from commission.figure import Figure, Formula, Quantity, Unknown, given
from commission.formulas.rounding import (
    in_bank_basis,
    in_device_basis,
    rounded_down,
    rounded_nearest,
    rounded_up,
)
from commission.plant.equipment import Ability, DirectCurrentDevice, Input
from commission.plant.plant import Plant
from commission.plant.site import Device
from commission.plant.values import in_words
from commission.sheet.types import Finding, Pair, Recommended, Setting

Side: TypeAlias = Literal["down", "up", "nearest"]

_SIDES: Final[dict[str, Side]] = {
    "load_disconnect_voltage": "up",
    "load_disconnect_state_of_charge": "up",
    "load_reconnect_voltage": "up",
    "load_reconnect_state_of_charge": "up",
    "low_voltage_warning": "up",
    "generator_start": "up",
    "generator_start_state_of_charge": "up",
    "generator_emergency_voltage": "up",
    "charge_low_temperature": "up",
    "absorption_time": "up",
    "generator_cool_down_time": "up",
    "ac_input_connect_delay": "up",
    "charge_disconnect_voltage": "up",
    "temperature_coefficient": "nearest",
    "temperature_reference": "nearest",
    "monitor_capacity": "nearest",
    "monitor_capacity_rate": "nearest",
    "monitor_peukert_exponent": "nearest",
    "monitor_charge_efficiency": "nearest",
    "ac_output_frequency": "nearest",
    "ac_output_voltage": "nearest",
    "ac_input_frequency_low_disconnect": "nearest",
    "ac_input_frequency_low_connect": "nearest",
    "ac_input_frequency_high_disconnect": "nearest",
    "ac_input_frequency_high_connect": "nearest",
    "frequency_shift_start": "down",
    "frequency_shift_end": "up",
    "temperature_low_limit": "up",
}
"""The side to which a setting is rounded; one that is not here goes down: charging or discharging less."""

_ROUNDED: Final[dict[Side, Formula[...]]] = {
    "down": rounded_down,
    "up": rounded_up,
    "nearest": rounded_nearest,
}


@dataclass
class Draft:
    """Settings and findings gathered step by step; each step reads what the earlier ones settled."""

    plant: Plant
    settings: dict[tuple[str, str, Input | None], Setting] = field(default_factory=dict)
    findings: list[Finding] = field(default_factory=list)
    numbers: dict[str, Quantity] = field(default_factory=dict)
    """Numbers of the plant as a whole that later steps need, by the names that the making step documents."""
    shares: dict[str, Quantity] = field(default_factory=dict)

    def ability(self, device: Device, setting: str) -> Ability | None:
        """Return what a device can do about a setting, None where it has none."""
        return self.plant.equipment[device.id].settings.get(setting)

    def count(self, device: Device, ability: Ability) -> float:
        """Return by how much a whole-bank value is divided for the device's display."""
        if ability.basis == "per cell":
            return float(self.plant.bank.cells)
        if ability.basis == "per 12 V":
            nominal = self._nominal_voltage(device)
            return float(max(1, round(nominal / 12.0)))
        return 1.0

    def _nominal_voltage(self, device: Device) -> float:
        """Return the nominal voltage of a device; of one without, such as a monitor, that of its system."""
        own = self.plant.equipment[device.id]
        others = [self.plant.equipment[source.id] for source in self.plant.sources]
        for found in (own, *others):
            nominal = found.nominal_voltage if isinstance(found, DirectCurrentDevice) else "unknown"
            if isinstance(nominal, float | int):
                return nominal
        cell = self.plant.battery.nominal_cell_voltage.value
        return self.plant.bank.cells * cell if isinstance(cell, float | int) else 12.0

    def unit(self, ability: Ability) -> str:
        """Return the unit of a setting as the device shows it."""
        return (
            ability.unit if ability.basis == "bank" or not ability.unit else f"{ability.unit} {ability.basis}"
        )

    def number(
        self,
        device: Device,
        setting: str,
        wanted: Quantity,
        *,
        input_: Input | None = None,
        low: Quantity | None = None,
        high: Quantity | None = None,
        side: Side | None = None,
        note: str = "",
    ) -> Quantity | None:
        """Settle a number on a device and return it in whole-bank volts or the setting's own unit.

        Parameters
        ----------
        wanted
            In whole-bank volts at the posts, or in the setting's unit where it is no voltage.
        low, high
            What is acceptable, likewise.
        side
            The side to round to; the rule of the setting where None.

        Returns
        -------
        Quantity | None
            What the device will hold; None where it has no such setting.
        """
        ability = self.ability(device, setting)
        if ability is None:
            return None
        count = self.count(device, ability)
        held = self._held(device, setting, ability, count, wanted, side or _SIDES.get(setting, "down"))
        made = Setting(
            device.id,
            setting,
            input_,
            held,
            self.unit(ability),
            _in_basis(low, count),
            _in_basis(high, count),
            ability,
            note,
            _at_posts(held, count, f"{in_words(setting)} of {device.label}"),
        )
        self.settings[made.key] = made
        return made.at_posts

    def word(
        self, device: Device, setting: str, word: str, *, input_: Input | None = None, note: str = ""
    ) -> bool:
        """Settle a word (``off`` or one of the device's choices); false where there is no such setting."""
        ability = self.ability(device, setting)
        if ability is None:
            return False
        made = Setting(device.id, setting, input_, word, self.unit(ability), None, None, ability, note)
        self.settings[made.key] = made
        return True

    def unknown_word(
        self, device: Device, setting: str, missing: str, *, input_: Input | None = None
    ) -> None:
        """Keep a setting open because something that it needs is not known."""
        ability = self.ability(device, setting)
        if ability is not None:
            gap = Unknown((missing,), self.unit(ability), f"{in_words(setting)} of {device.label}")
            made = Setting(device.id, setting, input_, gap, self.unit(ability), None, None, ability)
            self.settings[made.key] = made

    def pairs(
        self, device: Device, setting: str, pairs: tuple[Pair, ...] | Unknown, *, note: str = ""
    ) -> None:
        """Settle a list of value-delay pairs, already on the device's grid."""
        ability = self.ability(device, setting)
        if ability is not None:
            made = Setting(device.id, setting, None, pairs, self.unit(ability), None, None, ability, note)
            self.settings[made.key] = made

    def find(self, finding: Finding) -> None:
        """Add a finding; the same one twice counts once."""
        if all(finding.id != standing.id for standing in self.findings):
            self.findings.append(finding)

    def recommended(self, device: str, setting: str, input_: Input | None = None) -> Recommended | None:
        """Return what is settled so far in the device's own basis, None where nothing is."""
        found = self.settings.get((device, setting, input_))
        return None if found is None else found.recommended

    def value(self, device: str, setting: str, input_: Input | None = None) -> Quantity | None:
        """Return what is settled so far in whole-bank volts or its own unit, None where it is no number."""
        found = self.settings.get((device, setting, input_))
        return None if found is None else found.at_posts

    def _held(
        self, device: Device, setting: str, ability: Ability, count: float, wanted: Quantity, side: Side
    ) -> Quantity:
        name = f"{in_words(setting)} of {device.label}"
        where = f"{self.plant.equipment[device.id].id}.settings.{setting}"
        if isinstance(wanted, Unknown):
            return Unknown(wanted.missing, self.unit(ability), name)
        if ability.fixed is not None:
            return given(ability.fixed, ability.unit, f"{name}, fixed", kind="profile", where=where)
        asked = (
            in_device_basis.of(f"{name}, wanted", bank_value=wanted, count=count) if count != 1 else wanted
        )
        rounded = on_grid(asked, ability, side, name=name, where=where)
        return self._within(device, setting, ability, asked, rounded)

    def _within(
        self, device: Device, setting: str, ability: Ability, asked: Quantity, rounded: Quantity
    ) -> Quantity:
        """Hold a rounded value inside the device's range; say so where that moves it more than rounding."""
        if not isinstance(rounded, Figure) or not isinstance(asked, Figure):
            return rounded
        assert ability.low is not None and ability.high is not None and ability.step is not None  # noqa: S101, PT018 - by its validator
        if ability.low - 1e-9 <= rounded.value <= ability.high + 1e-9:
            return rounded
        where = f"{self.plant.equipment[device.id].id}.settings.{setting}"
        end = ability.low if rounded.value < ability.low else ability.high
        word = "least" if end == ability.low else "greatest"
        held = given(
            end,
            self.unit(ability),
            f"{word} {in_words(setting)} of {device.label}",
            kind="profile",
            where=where,
        )
        if abs(asked.value - end) > ability.step:
            self.find(self._outside(device, setting, ability, asked, held))
        return held

    def _outside(
        self, device: Device, setting: str, ability: Ability, asked: Figure, held: Figure
    ) -> Finding:
        unit, wanted = self.unit(ability), f"{asked.value:.6g}"
        return Finding(
            "correct",
            "outside-device-range",
            (device.id,),
            f"{in_words(setting)}: {wanted} {unit} is wanted, "
            f"{device.label} takes {ability.low:g} to {ability.high:g}",
            f"a device that takes {wanted} {unit}; until then {held.value:g} is entered",
            value=asked,
            limit=held,
            passes=asked,
            setting=setting,
        )


def on_grid(asked: Quantity, ability: Ability, side: Side, *, name: str, where: str) -> Quantity:
    """Return a value on the grid of a setting, in the device's own basis."""
    assert ability.low is not None  # noqa: S101 - by the ability's validator
    assert ability.step is not None  # noqa: S101 - by the ability's validator
    start = given(ability.low, ability.unit, "low end of the device's range", kind="profile", where=where)
    step = given(ability.step, ability.unit, "step of the device", kind="profile", where=where)
    return _ROUNDED[side].of(name, value=asked, start=start, step=step).in_unit(ability.unit)


def _in_basis(quantity: Quantity | None, count: float) -> Quantity | None:
    if quantity is None or count == 1:
        return quantity
    return in_device_basis.of(quantity.name, bank_value=quantity, count=count).in_unit(quantity.unit)


def _at_posts(held: Quantity, count: float, name: str) -> Quantity:
    if count == 1 or isinstance(held, Unknown):
        return held
    return in_bank_basis.of(f"{name}, whole bank", device_value=held, count=count).in_unit(held.unit)
