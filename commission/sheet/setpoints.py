"""Charging voltages: reference value, temperature policy, clamp, common grid, rounding.

Everything is worked out in whole-bank volts at the bank's posts and expressed last in the device's own basis.
All sources on the bus hold the same absorption and float; those without a sensor form a common value of their
own beside those with one.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from commission.figure import Figure, Gap, Quantity, Unknown, given, least
from commission.formulas.bank import bank_voltage
from commission.formulas.charging import clamped_temperature, voltage_at_other_reference
from commission.formulas.rounding import rounded_down
from commission.formulas.setpoints import lowered, reduction, with_millivolts
from commission.plant.plant import Plant, part_fact
from commission.plant.site import DirectCurrentSource
from commission.plant.values import in_words
from commission.sheet.clamp import Limits, charge_limits, clamped, device_maximum, note_reached
from commission.sheet.draft import Draft
from commission.sheet.grid import Grid, coarsest, shared_grid
from commission.sheet.setpoint_findings import tell_disagreement, tell_loads, tell_no_sensor, tell_offset
from commission.sheet.temperature import Climate, Regime, climate
from commission.sheet.types import Finding

_COMMON: Final = "common practice"
_HOT_ERROR: Final = given(30.0, "mV", "tolerated error of one cell at the hottest month", source=_COMMON)
_STAGES: Final = ("absorption", "float", "equalize")


def settle_setpoints(draft: Draft, regimes: dict[str, Regime]) -> None:
    """Settle absorption, float and equalise of every source, and the ceilings that hold them.

    Leaves in ``draft.numbers``: ``bus_maximum``, ``coarsest_step``, and for each stage and device
    ``absorption_coldest:ID``, ``absorption_hottest:ID`` and their like: what it reaches after its clamp.
    """
    if not regimes:
        draft.numbers["bus_maximum"] = device_maximum(draft.plant)
        return
    draft.numbers["coarsest_step"] = _coarsest_step(draft)
    draft.numbers["bus_maximum"] = device_maximum(draft.plant)
    limits = charge_limits(draft)
    weather = climate(draft.plant)
    for stage in _STAGES:
        _settle_stage(draft, stage, regimes, limits, weather)
    for regime in regimes.values():
        for stage in _STAGES:
            note_reached(draft, stage, regime, weather)
        errors = None if regime.sensed else _errors_without_sensor(draft, regime, weather)
        if errors is not None:
            tell_no_sensor(draft, regime.device, errors)
        tell_offset(draft, regime.device)
    tell_loads(draft, regimes)


def _coarsest_step(draft: Draft) -> Quantity:
    grids = _grids(draft, draft.plant.sources, "absorption_voltage")
    step = max((grid.step for _, grid in grids), default=0.1)
    return given(step, "V", "coarsest whole-bank step of all sources", source="least common setting step")


def _settle_stage(
    draft: Draft, stage: str, regimes: dict[str, Regime], limits: Limits, weather: Climate
) -> None:
    setting = f"{stage}_voltage"
    regimes = {ident: regime for ident, regime in regimes.items() if draft.ability(regime.device, setting)}
    field = _field_of(draft, stage, regimes)
    groups: dict[tuple[bool, float], list[Regime]] = {}
    for regime in regimes.values():
        if _switched_off(draft, stage, regime):
            continue
        reference = regime.reference.value if isinstance(regime.reference, Figure) else 25.0
        groups.setdefault((regime.sensed, reference), []).append(regime)
    for members in groups.values():
        _settle_group(draft, stage, field, members, limits, weather)


def _field_of(draft: Draft, stage: str, regimes: dict[str, Regime]) -> str:
    """Return the profile's field that stands for a stage: another where the chemistry must not have it."""
    plant = draft.plant
    if stage == "float" and not plant.has_stage("float_voltage"):
        return "hold_voltage"
    if stage == "equalize" and not plant.has_stage("equalize_voltage"):
        return "absorption_voltage"
    return f"{stage}_voltage"


def _switched_off(draft: Draft, stage: str, regime: Regime) -> bool:
    """Switch a forbidden stage off; where the device cannot, say what stands in its place."""
    plant, device = draft.plant, regime.device
    if stage == "absorption" or plant.has_stage(f"{stage}_voltage"):
        return False
    ability = draft.ability(device, f"{stage}_voltage")
    word = "float" if stage == "float" else "equalise"
    if ability is not None and ability.off:
        draft.word(device, f"{stage}_voltage", "off", note=f"this chemistry has no {word} stage")
        return True
    stands = (
        "its hold voltage" if stage == "float" else "absorption, with the least time and longest interval"
    )
    draft.find(
        Finding(
            "advise",
            f"{stage}-cannot-be-off",
            (device.id,),
            f"{device.label} cannot switch {word} off, which this chemistry must not have",
            f"{word} is set to {stands}; read it back",
            setting=f"{stage}_voltage",
        )
    )
    return False


def _settle_group(
    draft: Draft, stage: str, field: str, members: list[Regime], limits: Limits, weather: Climate
) -> None:
    plant = draft.plant
    cells = plant.bank.cells
    setting = f"{stage}_voltage"
    per_cell = _policy(plant, field, members[0], limits, weather)
    wanted = bank_voltage.of(f"{in_words(stage)} of the whole bank", cells=cells, cell_voltage=per_cell)
    common = _common(draft, setting, wanted, [regime.device for regime in members])
    low, high = _range(plant, field, members[0], limits)
    for regime in members:
        _settle_device(draft, stage, regime, common, limits, weather, (low, high))
    tell_disagreement(draft, stage, members, common)


def _policy(plant: Plant, field: str, regime: Regime, limits: Limits, weather: Climate) -> Quantity:
    """Return the voltage of one cell that a source is to hold, at its reference or for the whole year."""
    value = least(f"{field.replace('_', ' ')} of one cell", plant.cell(field), limits.cell)
    slope = plant.cell("temperature_slope")
    start = plant.voltage_reference(field)
    if regime.sensed or plant.battery.family == "lithium":
        if _same(start, regime.reference):
            return value
        name = f"{field.replace('_', ' ')} at the device's reference temperature"
        return voltage_at_other_reference.of(
            name, reference=value, slope=slope, temperature_from=start, temperature_to=regime.reference
        )
    hot = _at(plant, field, value, start, weather.hottest_month, "hottest month")
    if not plant.battery.vented:
        return hot
    year = _at(plant, field, value, start, weather.mean, "mean of the year")
    bound = with_millivolts.of(
        "hottest month's value plus the error tolerated", voltage=hot, millivolts=_HOT_ERROR
    )
    return least(f"{field.replace('_', ' ')} of one cell without a sensor", year, bound)


def _same(first: Quantity, second: Quantity) -> bool:
    return isinstance(first, Figure) and isinstance(second, Figure) and first.value == second.value


def _at(
    plant: Plant, field: str, value: Quantity, start: Quantity, temperature: Quantity, word: str
) -> Quantity:
    held = clamped_temperature.of(
        f"battery temperature, {word}",
        temperature=temperature,
        low=plant.cell("temperature_clamp_low"),
        high=plant.cell("temperature_clamp_high"),
    )
    return voltage_at_other_reference.of(
        f"{field.replace('_', ' ')} of one cell, {word}",
        reference=value,
        slope=plant.cell("temperature_slope"),
        temperature_from=start,
        temperature_to=held,
    )


def _grids(
    draft: Draft, devices: Sequence[DirectCurrentSource], setting: str
) -> list[tuple[DirectCurrentSource, Grid]]:
    found = []
    for device in devices:
        ability = draft.ability(device, setting)
        if ability is None or ability.low is None or ability.step is None or ability.fixed is not None:
            continue
        count = draft.count(device, ability)
        found.append((device, Grid(ability.low * count, ability.step * count)))
    return found


def _common(draft: Draft, setting: str, wanted: Quantity, devices: Sequence[DirectCurrentSource]) -> Quantity:
    """Bring a value onto the grid that all devices share, or onto the coarsest where they share none."""
    grids = [grid for _, grid in _grids(draft, devices, setting)]
    if not grids:
        return wanted
    shared = shared_grid(grids)
    widest = coarsest(grids)
    used = shared if shared is not None and shared.step <= 2 * widest.step + 1e-9 else widest
    start = given(used.start, "V", "a value on the common grid", source="devices' ranges and steps")
    step = given(used.step, "V", "step of the common grid", source="devices' ranges and steps")
    return rounded_down.of(f"common {in_words(setting)}", value=wanted, start=start, step=step).in_unit("V")


def _range(
    plant: Plant, field: str, regime: Regime, limits: Limits
) -> tuple[Quantity | None, Quantity | None]:
    ends: list[Quantity | None] = []
    for end in plant.cell_range(field):
        if end is None:
            ends.append(None)
            continue
        capped = least(end.name, end, limits.cell)
        ends.append(bank_voltage.of(f"{end.name} of the bank", cells=plant.bank.cells, cell_voltage=capped))
    return ends[0], ends[1]


def _settle_device(
    draft: Draft,
    stage: str,
    regime: Regime,
    common: Quantity,
    limits: Limits,
    weather: Climate,
    acceptable: tuple[Quantity | None, Quantity | None],
) -> None:
    device, setting = regime.device, f"{stage}_voltage"
    wanted = _with_shift(draft, regime, _with_offset(device, common))
    wanted = clamped(draft, stage, regime, wanted, limits, weather)
    if _over_chemistry(draft, regime, setting, limits):
        name = f"a value of {in_words(setting)} that both the battery and {device.label} accept"
        wanted = Unknown((Gap(name, helps=_helps_over_chemistry(draft.plant, device)),), "V", setting)
    low, high = acceptable
    low = low if low is None else least(low.name, low, wanted)
    note = (
        "" if regime.sensed or draft.plant.battery.family == "lithium" else "fixed value, no battery sensor"
    )
    draft.number(device, setting, wanted, low=low, high=high, note=note)


def _with_offset(device: DirectCurrentSource, common: Quantity) -> Quantity:
    if not device.offset:
        return common
    by = part_fact(device, "offset")
    return lowered.of(f"common value less the offset of {device.label}", value=common, by=by)


def _with_shift(draft: Draft, regime: Regime, value: Quantity) -> Quantity:
    if regime.shift is None:
        return value
    cells = draft.plant.bank.cells
    by = reduction.of("lowering for the slope, whole bank", cells=cells, millivolts=regime.shift)
    return lowered.of("value lowered for the device's slope", value=value, by=by)


def _over_chemistry(draft: Draft, regime: Regime, setting: str, limits: Limits) -> bool:
    """Find a device whose least value is over what the cells stand: no value passes."""
    ability = draft.ability(regime.device, setting)
    assert ability is not None  # noqa: S101 - devices without it were left out
    bottom = ability.low if ability.fixed is None else ability.fixed
    bank = bank_voltage.of(
        "highest that the cells stand", cells=draft.plant.bank.cells, cell_voltage=limits.cell
    )
    if bottom is None or not isinstance(bank, Figure):
        return False
    lowest = bottom * draft.count(regime.device, ability)
    if lowest <= bank.value + 1e-9:
        return False
    device = regime.device
    draft.find(
        Finding(
            "stop",
            "device-over-chemistry",
            (device.id,),
            f"{in_words(setting)}: {device.label} cannot go under {lowest:.2f} V, "
            f"the cells stand {bank.value:.2f} V",
            f"no value passes: {_helps_over_chemistry(draft.plant, device, bank)}",
            value=given(lowest, "V", f"least value of {device.label}", kind="profile"),
            limit=bank,
            passes=bank,
            setting=setting,
        )
    )
    return True


def _helps_over_chemistry(plant: Plant, device: DirectCurrentSource, bank: Figure | None = None) -> str:
    """Return what helps where a device's least value is over what the cells stand.

    A class for several voltages is taken at its highest until the site file says at which it works.
    """
    another = "another device" if bank is None else f"a device that takes {bank.value:.2f} V or less"
    own, cell = plant.source_class(device).nominal_voltage, plant.cell("nominal_cell_voltage")
    if not isinstance(own, float) or not isinstance(cell, Figure):
        return another
    nominal = 12 * max(1, round(plant.bank.cells * cell.value / 12))
    if own < 1.5 * nominal:
        return another
    key = f"{device.where}.datasheet.nominal_voltage = {nominal}"
    return f"if it works at {nominal} V too, state {key}; else {another}"


def _errors_without_sensor(draft: Draft, regime: Regime, weather: Climate) -> tuple[float, float] | None:
    """Return the error of one cell in mV at the coldest and the hottest month; None where there is none."""
    plant, device = draft.plant, regime.device
    held = draft.value(device.id, "absorption_voltage")
    if plant.battery.family == "lithium" or not isinstance(held, Figure):
        return None
    start, value = plant.voltage_reference("absorption_voltage"), plant.cell("absorption_voltage")
    errors = []
    for month, word in ((weather.coldest_month, "coldest month"), (weather.hottest_month, "hottest month")):
        right = _at(plant, "absorption_voltage", value, start, month, word)
        if not isinstance(right, Figure):
            return None
        errors.append((held.value / plant.bank.cells - right.value) * 1000.0)
    return errors[0], errors[1]
