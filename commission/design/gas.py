"""What gas a bank makes by the settings of its sheet, and the air that carries it off."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from commission.design.settled import settled
from commission.design.types import Scene
from commission.figure import Figure, Quantity, given, greatest, least
from commission.formulas.charging import compensated_voltage, per_cell, sum_of_currents
from commission.formulas.ventilation import (
    GREATEST_GAS_CURRENT,
    air_flow,
    air_flow_for_current,
    gas_current_above_boost,
    source_gas_current,
)
from commission.plant.plant import Plant, fact
from commission.plant.site import DirectCurrentSource
from commission.plant.values import UNKNOWN
from commission.sheet.bank_state import cells
from commission.sheet.draft import Draft
from commission.sheet.reached import Stage
from commission.sheet.source_limits import ac_pv_currents, binds_backfeed

_STAGES: Final[tuple[Stage, ...]] = ("absorption", "equalize")
_TABLE: Final = "IEC 62485-2, table 1"
_BOOST: Final = {
    "lead": given(2.40, "V", "voltage of one cell that the table's boost column stands for", source=_TABLE),
    "nickel": given(1.55, "V", "voltage of one cell that the table's boost column stands for", source=_TABLE),
}
_AT: Final = given(25.0, "°C", "temperature at which stages are compared", source="gassing law; 25 °C")
_MOST: Final = given(
    GREATEST_GAS_CURRENT, "mA/Ah", "most that is reckoned for any stage", source="traction practice"
)


@dataclass(frozen=True, slots=True)
class Gas:
    """The gas of one stage of charging."""

    stage: Stage
    voltage: Quantity
    """V of one cell in the stage, at 25 °C."""
    current: Quantity
    """mA per Ah that count as gas."""

    @property
    def word(self) -> str:
        """Return what people call the stage."""
        return "equalise" if self.stage == "equalize" else self.stage


def makes_gas(plant: Plant) -> bool:
    """Return whether the bank gives off gas in normal use: lithium does not."""
    return plant.battery.family != "lithium" and plant.has_stage("gas_current_boost")


def capacity_of_all(plant: Plant) -> Quantity:
    """Return the capacity of all strings together, as told; a string's own where it has one."""
    own = fact(plant.bank, "capacity", "bank")
    each = [
        own if string.capacity is None else fact(string, "capacity", f"bank.strings[{string.id}]", string.id)
        for string in plant.bank.strings
    ]
    return sum_of_currents.of("capacity of all strings", currents=each).in_unit("Ah")


def gas_of_stages(scene: Scene) -> tuple[Gas, ...]:
    """Return the gas of every stage that counts: absorption, and equalise where it is set."""
    draft = settled(scene)
    return tuple(_of_stages(draft))


def greatest_gas(stages: tuple[Gas, ...]) -> Quantity:
    """Return the gas current that counts, of the stage that makes most."""
    named = [one.current.named(f"gas current in {one.word}") for one in stages]
    return greatest("gas current that counts", *named)


def air_needed(scene: Scene, gas: Quantity) -> Quantity:
    """Return the air that carries the gas off, in m³/h, by the method of the rule set."""
    plant = scene.plant
    name, factor = "air that the bank needs", plant.rule("vent_air_factor")
    counted = gas
    if plant.rules.vent_method == "charge current":
        sealed = None if plant.battery.vented else plant.rule_if_any("vent_sealed_current")
        if sealed is None:
            current = stage_current(settled(scene), "absorption")
            return air_flow_for_current.of(name, cells=cells(plant), current=current, factor=factor)
        counted = sealed
    capacity = capacity_of_all(plant)
    return air_flow.of(name, cells=cells(plant), gas_current=counted, capacity=capacity, factor=factor)


def stage_current(draft: Draft, stage: Stage) -> Quantity:
    """Return the greatest current into the bank in a stage: what all sources add, no more than it takes."""
    plant = draft.plant
    each = [_share(draft, source, stage) for source in plant.sources]
    if not binds_backfeed(plant):
        each += ac_pv_currents(plant).values()
    added = sum_of_currents.of("what all sources can add", currents=each)
    known = [one for one in (added, draft.numbers["bank_limit"]) if isinstance(one, Figure)]
    return least("greatest current of the stage", *known) if known else added


def _share(draft: Draft, source: DirectCurrentSource, stage: Stage) -> Quantity:
    share = draft.shares.get(source.id)
    if share is None:
        share = given(0.0, "A", f"share of {source.label}: it is fed by nothing", source="charge sharing")
    held = draft.value(source.id, "equalize_current_limit") if stage == "equalize" else None
    return least(f"current of {source.label}", share, held) if isinstance(held, Figure) else share


def _of_stages(draft: Draft) -> Iterator[Gas]:
    plant = draft.plant
    for stage in _STAGES:
        volts = [volt for one in plant.sources if (volt := _at_reference(draft, one, stage)) is not None]
        if volts:
            voltage = greatest("voltage of one cell at 25 °C", *volts)
            yield Gas(stage, voltage, _gas(draft, stage, voltage))


def _at_reference(draft: Draft, source: DirectCurrentSource, stage: Stage) -> Quantity | None:
    """Return what a source holds on one cell at 25 °C, None where it has no such stage."""
    plant, setting = draft.plant, f"{stage}_voltage"
    if draft.recommended(source.id, setting) == "off" or not plant.has_stage(setting):
        return None
    held = draft.value(source.id, setting)
    if held is None:
        return plant.cell(setting) if stage == "absorption" else None
    name = f"voltage of one cell by {source.label}"
    cell = per_cell.of(name, bank_voltage=held, cells=cells(plant))
    slope = draft.value(source.id, "temperature_coefficient")
    sensed = source.sensor_fitted is not False and plant.source_class(source).temperature_sensor != "none"
    if slope is None or not sensed or plant.source_class(source).temperature_sensor == UNKNOWN:
        return cell
    return compensated_voltage.of(
        f"{name}, at 25 °C",
        cells=1.0,
        reference=cell,
        slope=per_cell.of("slope of one cell", bank_voltage=slope, cells=cells(plant)).in_unit("mV/K"),
        temperature=_AT,
        temperature_reference=draft.value(source.id, "temperature_reference") or _AT,
    )


def _gas(draft: Draft, stage: Stage, voltage: Quantity) -> Quantity:
    """Return the gas current of a stage: the table's up to its voltage, above it the least that bounds it."""
    plant = draft.plant
    table = plant.cell("gas_current_boost").named("gas current of the table, boost")
    basis = _BOOST.get(plant.battery.family)
    if not isinstance(voltage, Figure) or not isinstance(table, Figure) or basis is None:
        return voltage if not isinstance(voltage, Figure) else table
    if voltage.value <= basis.value + 1e-6:
        return table
    current = source_gas_current.of(
        "all of the stage's greatest current",
        current=stage_current(draft, stage),
        capacity=capacity_of_all(plant),
    )
    if any(draft.ability(source, "absorption_voltage") is None for source in plant.sources):
        return current  # a source that no voltage holds back drives all its current through full cells
    bounds: list[Quantity] = [_MOST]
    if plant.battery.family == "lead":
        bounds.append(gas_current_above_boost.of("gas by the gassing law", table=table, voltage=voltage))
    if isinstance(current, Figure) and current.value > 0:  # no source today: one may be plugged in
        bounds.append(current)
    return least("gas current above the table's voltage", *bounds)
