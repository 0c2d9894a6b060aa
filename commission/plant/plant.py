"""The plant: a site with every profile resolved, whose values can be asked for as figures."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache, cached_property
from typing import Any, Final, TypeVar

from pydantic import Field
from pydantic.fields import FieldInfo

from commission.figure import Figure, Gap, Leaf, Quantity, Unknown, given
from commission.plant.battery import BatteryProfile, Curve, Datum
from commission.plant.equipment import (
    AcPvInverterClass,
    ChargeControllerClass,
    DirectCurrentDevice,
    EquipmentBase,
    EquipmentClass,
    GeneratorClass,
    InverterChargerClass,
)
from commission.plant.once import kept_with
from commission.plant.rules import RuleSet
from commission.plant.site import (
    AcPvInverter,
    Bank,
    BatteryString,
    ChargeController,
    Device,
    DirectCurrentSource,
    Generator,
    InverterCharger,
    Protection,
    Run,
    Site,
)
from commission.plant.values import UNKNOWN, Line, Measured, Model, Part, in_words

Kind = TypeVar("Kind", bound=EquipmentBase)


class Plant(Model):
    """Everything installed on one site, with the profiles and the rule set that hold for it."""

    site: Site
    battery: BatteryProfile
    batteries: dict[str, BatteryProfile] | None = Field(
        default=None, description="profiles of strings that are not of the bank's kind, by profile id"
    )
    equipment: dict[str, EquipmentClass] = Field(
        description="class of each device by the device's id, resolved"
    )
    rules: RuleSet
    brought: tuple[Line, ...] | None = Field(
        default=None,
        strict=False,
        description="profiles and rule set that stood beside the site file: 'batteries/house-agm'; "
        "the others are the program's own",
    )

    def model_copy(self, *, update: Mapping[str, Any] | None = None, deep: bool = False) -> Plant:
        """Return a copy that looks up for itself what may have been updated."""
        copied = super().model_copy(update=update, deep=deep)
        for name in _LOOKED_UP:
            copied.__dict__.pop(name, None)
        return copied

    # what stands on the site

    @property
    def bank(self) -> Bank:
        """Return the bank."""
        return self.site.bank

    @cached_property
    def sources(self) -> tuple[DirectCurrentSource, ...]:
        """Return what charges over the DC bus: inverter/chargers, then controllers, as the file has them."""
        return (*self.site.inverter_chargers, *self.site.charge_controllers)

    @cached_property
    def devices(self) -> tuple[Device, ...]:
        """Return every device with a profile, in the order of the site file's sections."""
        monitor = () if self.site.monitor is None else (self.site.monitor,)
        return (*self.sources, *self.site.ac_pv_inverters, *self.site.generators, *monitor)

    @cached_property
    def parts(self) -> dict[str, Part]:
        """Return every part that has an id of its own, by id (strings and the bank aside)."""
        site = self.site
        utility = () if site.utility is None else (site.utility,)
        others: tuple[Part, ...] = (
            *site.runs,
            *site.protection,
            *site.panels,
            *site.interlocks,
            *site.loads,
            *site.data_cables,
        )
        return {part.id: part for part in (*self.devices, *utility, *others)}

    def run_of(self, device: DirectCurrentSource) -> Run | None:
        """Return the conductor run between a source and the bank, if the file has it."""
        return next((run for run in self.site.runs if run.id == device.run), None)

    def protection_of(self, ident: str | None) -> Protection | None:
        """Return a protective device by its id."""
        return next((device for device in self.site.protection if device.id == ident), None)

    def battery_of(self, string: BatteryString) -> BatteryProfile | None:
        """Return the profile of a string: the bank's, or its own; None where that was not loaded."""
        if string.profile is None or string.profile == self.bank.profile:
            return self.battery
        return (self.batteries or {}).get(string.profile)

    # classes of the devices

    def inverter_class(self, device: InverterCharger) -> InverterChargerClass:
        """Return the resolved class of an inverter/charger."""
        return self._class(device, InverterChargerClass)

    def controller_class(self, device: ChargeController) -> ChargeControllerClass:
        """Return the resolved class of a charge controller."""
        return self._class(device, ChargeControllerClass)

    def ac_pv_class(self, device: AcPvInverter) -> AcPvInverterClass:
        """Return the resolved class of an AC-coupled PV inverter."""
        return self._class(device, AcPvInverterClass)

    def generator_class(self, device: Generator) -> GeneratorClass:
        """Return the resolved class of a generator."""
        return self._class(device, GeneratorClass)

    def source_class(self, device: DirectCurrentSource) -> DirectCurrentDevice:
        """Return the resolved class of a source on the DC bus."""
        return self._class(device, DirectCurrentDevice)

    def _class(self, device: Device, kind: type[Kind]) -> Kind:
        found = self.equipment[device.id]
        assert isinstance(found, kind)  # noqa: S101 - the loader has checked the kind
        return found

    # values as figures

    def rating(self, device: Device, field: str) -> Quantity:
        """Return a field of a device's class as a figure: the site's datasheet value over the profile's."""
        known, key = kept_with(self), ("rating", id(device), field)
        if key not in known:
            known[key] = device, self._rating(device, field)  # with the device, so that its id stays its own
        made: Quantity = known[key][1]
        return made

    def _rating(self, device: Device, field: str) -> Quantity:
        found = self.equipment[device.id]
        value = getattr(found, field)
        unit = _field_unit(type(found), field)
        name = f"{in_words(field)} of {device.label}"
        if value == UNKNOWN:
            return Unknown((datasheet_gap(device, field, name),), unit, name)
        if field in device.datasheet:
            leaf = Leaf("site", f"{device.where}.datasheet.{field}", "datasheet of the installed model")
        else:
            source = found.sources.get(field, found.source)
            leaf = Leaf("profile", f"{found.id}.{field}", f"{source}; {found.known}")
        return Figure(float(value), unit, name, leaf)

    def rating_if_any(self, device: Device, field: str) -> Quantity | None:
        """Return a field of a device's class as a figure; None where its maker knows no such limit."""
        return None if getattr(self.equipment[device.id], field) == "none" else self.rating(device, field)

    def cell(self, field: str) -> Quantity:
        """Return a value of the battery per cell: the site's own datasheet value over the profile's."""
        known, key = kept_with(self), ("cell", field)
        if key not in known:
            known[key] = self._cell(field)
        made: Quantity = known[key]
        return made

    def _cell(self, field: str) -> Quantity:
        datum = getattr(self.battery, field)
        assert isinstance(datum, Datum)  # noqa: S101 - field names are the program's own
        unit = _datum_unit(type(self.battery), field)
        name = f"{in_words(field)} of the battery"
        if datum.value == "none":
            helps = f"another battery profile than {self.battery.id}"
            return Unknown((Gap(f"{name} (the chemistry has none)", helps=helps),), unit, name)
        if datum.value == "unknown":
            return Unknown((Gap(name, f"bank.datasheet.{field}"),), unit, name)
        return self._datum_figure(datum, datum.value, field, unit, name)

    def cell_range(self, field: str) -> tuple[Quantity | None, Quantity | None]:
        """Return the low and high end of a value of the battery, None where the profile gives none."""
        datum = getattr(self.battery, field)
        assert isinstance(datum, Datum)  # noqa: S101 - field names are the program's own
        unit = _datum_unit(type(self.battery), field)
        low, high = (
            None if end is None else self._datum_figure(datum, end, field, unit, f"{word} {in_words(field)}")
            for word, end in (("least", datum.low), ("greatest", datum.high))
        )
        return low, high

    def voltage_reference(self, field: str) -> Quantity:
        """Return the temperature at which a charging voltage holds: the datasheet's for its own values."""
        if field in self.bank.datasheet and self.bank.voltages_at != UNKNOWN:
            return fact(self.bank, "voltages_at", self.bank.where)
        return self.cell("temperature_reference")

    def has_stage(self, field: str) -> bool:
        """Return whether the chemistry has a stage at all (its value is not ``none``)."""
        datum = getattr(self.battery, field)
        return isinstance(datum, Datum) and datum.value != "none"

    def rule(self, field: str) -> Figure:
        """Return a number of the rule set as a figure."""
        known, key = kept_with(self.rules), ("rule", field)
        if key not in known:
            known[key] = self._rule(field)
        made: Figure = known[key]
        return made

    def _rule(self, field: str) -> Figure:
        datum = getattr(self.rules, field)
        assert isinstance(datum, Datum)  # noqa: S101 - field names are the program's own
        assert isinstance(datum.value, float | int)  # noqa: S101 - rule sets hold numbers; the loader checks
        source = f"{datum.source}; {datum.known}"
        unit = _datum_unit(type(self.rules), field)
        return given(
            float(datum.value),
            unit,
            in_words(field),
            kind="rules",
            where=f"{self.rules.id}.{field}",
            source=source,
        )

    def rule_if_any(self, field: str) -> Quantity | None:
        """Return a number of the rule set; None where the region has no such rule, else what is unknown."""
        datum = getattr(self.rules, field)
        assert isinstance(datum, Datum)  # noqa: S101 - field names are the program's own
        if datum.value == "none":
            return None
        if datum.value == "unknown":
            name = f"{in_words(field)} in the rule set {self.rules.id}"
            gap = Gap(name, helps=f"a rule set that tells {field}")
            return Unknown((gap,), _datum_unit(type(self.rules), field), name)
        return self.rule(field)

    def curve(self, field: str = "open_circuit_voltage") -> Curve | None:
        """Return a table against state of charge, per cell."""
        found = getattr(self.battery, field)
        return found if isinstance(found, Curve) else None

    @cached_property
    def rested_table(self) -> tuple[tuple[Figure, ...], tuple[Figure, ...]]:
        """Return the battery's table of rested cell voltage: states of charge, and the voltages at them."""
        curve = self.battery.open_circuit_voltage
        where, source = f"{self.battery.id}.open_circuit_voltage", f"{curve.source}; {curve.known}"
        states = tuple(
            given(value, "1", "state of charge", kind="profile", where=where, source=source)
            for value in curve.states
        )
        voltages = tuple(
            given(value, "V", "rested voltage", kind="profile", where=where, source=source)
            for value in curve.values
        )
        return states, voltages

    def _datum_figure(self, datum: Datum, value: float, field: str, unit: str, name: str) -> Figure:
        if field in self.bank.datasheet:
            leaf = Leaf("site", f"bank.datasheet.{field}", "datasheet of the installed battery")
        else:
            leaf = Leaf("profile", f"{self.battery.id}.{field}", f"{datum.source}; {datum.known}")
        return Figure(float(value), unit, name, leaf)


_LOOKED_UP: Final = ("sources", "devices", "parts", "rested_table")
"""What a plant looks up once; the steps of a sheet ask for it hundreds of times."""


def fact(owner: Any, field: str, where: str, label: str = "") -> Quantity:
    """Return a field of a part of the site file as a figure, or what is not known.

    Parameters
    ----------
    owner
        The model that holds the field: a part, the place, the bank, an array.
    field
        Name of the field.
    where
        Key of the owner in the site file: ``bank``, ``site``, ``runs[run-b2]``.
    label
        What people call the owner; ``where`` where empty.
    """
    value = getattr(owner, field)
    model: type[Model] = type(owner)
    unit = _field_unit(model, field)
    name = f"{in_words(field)} of {label or where}"
    if value is None or value == UNKNOWN:
        return Unknown((Gap(name, f"{where}.{field}"),), unit, name)
    return given(float(value), unit, name, kind="site", where=f"{where}.{field}")


def datasheet_gap(device: Device, field: str, name: str) -> Gap:
    """Return what is not known of a device's class, which its datasheet's table in the site file can tell."""
    return Gap(name, f"{device.where}.datasheet.{field}")


def part_fact(part: Part, field: str) -> Quantity:
    """Return a field of a part that has an id as a figure, or what is not known."""
    known = kept_with(part)
    if field not in known:
        known[field] = fact(part, field, part.where, part.label)
    made: Quantity = known[field]
    return made


@cache
def _field_unit(model: type[Model], field: str) -> str:
    info: FieldInfo = model.model_fields[field]
    unit = next((item.unit for item in info.metadata if isinstance(item, Measured)), "")
    return unit or _unit_of_union(info)


def _unit_of_union(info: FieldInfo) -> str:
    """Find the unit inside an optional field: ``Amps | None``."""
    for member in getattr(info.annotation, "__args__", ()):
        for item in getattr(member, "__metadata__", ()):
            if isinstance(item, Measured):
                return item.unit
    return "1"


@cache
def _datum_unit(model: type[Model], field: str) -> str:
    """Return the unit of a profile field."""
    extra = model.model_fields[field].json_schema_extra
    return str(extra["unit"]) if isinstance(extra, dict) else "1"
