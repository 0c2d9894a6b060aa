"""When an AC source is accepted: its voltage and frequency windows, the delay before it and the ramp after.

The disconnect values are the window; a source is taken again only once it is a little inside. A set qualifies
without load, so its upper connect frequency lies over what it runs at then.
"""

from __future__ import annotations

from typing import Final

from commission.figure import Figure, Quantity, Unknown, given, greatest
from commission.formulas.governing import frequency_limit
from commission.formulas.windows import window_frequency, window_voltage
from commission.plant.equipment import Input
from commission.plant.plant import Plant, datasheet_gap, part_fact
from commission.plant.site import Generator, InverterCharger, Utility
from commission.sheet.draft import Draft, Side
from commission.sheet.known import not_checked
from commission.sheet.supplies import supply_of

_KINDS: Final[tuple[Input, ...]] = ("generator", "utility")
_PRACTICE: Final = "common practice"
_INSIDE_SHARE: Final = 0.02
"""Share of nominal by which the connect voltages lie inside the window."""
_INSIDE_FREQUENCY: Final = 0.5
"""Hz by which the connect frequencies lie inside the window."""
_OVER_NO_LOAD: Final = 0.5
"""Hz by which a set's upper frequency lies over what it runs at without load."""
_SET_VOLTAGE: Final = (0.85, 1.10)
_LOOSE: Final = 5.0
_CLOSE: Final = 2.0


def settle_windows(draft: Draft, device: InverterCharger) -> None:
    """Settle windows, delay and ramp of every input of a device that has a source."""
    for kind in _KINDS:
        supply = supply_of(draft.plant, device, kind)
        if supply is None or (kind == "utility" and _shared_with_generator(draft, device)):
            continue
        _voltages(draft, device, supply.part, kind)
        _frequencies(draft, device, supply.part, kind)
        _times(draft, device, supply.part, kind)


def _shared_with_generator(draft: Draft, device: InverterCharger) -> bool:
    """Whether one window serves both inputs: then the generator's, which is the wider one."""
    ability = draft.ability(device, "ac_input_voltage_low_disconnect")
    return "generator" in device.inputs and ability is not None and not ability.per_input


def _number(
    draft: Draft,
    device: InverterCharger,
    setting: str,
    wanted: Quantity,
    kind: Input,
    *,
    side: Side | None = None,
) -> Quantity | None:
    ability = draft.ability(device, setting)
    input_ = kind if ability is not None and ability.per_input else None
    return draft.number(device, setting, wanted, input_=input_, side=side)


def _rule(value: float, unit: str, name: str) -> Figure:
    return given(value, unit, name, source=_PRACTICE)


# voltage


def _voltages(draft: Draft, device: InverterCharger, part: Generator | Utility, kind: Input) -> None:
    plant = draft.plant
    nominal = _nominal_voltage(plant, device, part)
    low, high = (
        (plant.rule("utility_voltage_low"), plant.rule("utility_voltage_high"))
        if isinstance(part, Utility)
        else tuple(_rule(share, "1", "edge of a generator's voltage window") for share in _SET_VOLTAGE)
    )
    for word, edge, sign in (("low", low, 1.0), ("high", high, -1.0)):
        outer = window_voltage.of(f"{word} disconnect voltage of {part.label}", nominal=nominal, share=edge)
        share = _rule(edge.value + sign * _INSIDE_SHARE, "1", f"{_INSIDE_SHARE:.0%} inside the window")
        inner = window_voltage.of(f"{word} connect voltage of {part.label}", nominal=nominal, share=share)
        held = _number(draft, device, f"ac_input_voltage_{word}_disconnect", outer, kind)
        side: Side = "up" if word == "low" else "down"
        connect = f"ac_input_voltage_{word}_connect"
        taken = _number(draft, device, connect, inner, kind, side=side)
        _keep_inside(draft, device, connect, kind, (held, taken), sign)


def _nominal_voltage(plant: Plant, device: InverterCharger, part: Generator | Utility) -> Quantity:
    """Return the voltage of a leg as the device sees it, also where it lies across a single-phase source."""
    own = plant.rating(device, "ac_voltage")
    if isinstance(part, Utility):
        source = part_fact(part, "ac_voltage")
        source = source if isinstance(source, Figure) else plant.rule("ac_voltage")
    else:
        source = plant.rating(part, "ac_voltage")
    across = isinstance(source, Figure) and isinstance(own, Figure) and source.value > 1.5 * own.value
    return own if across or isinstance(source, Unknown) else source


def _keep_inside(
    draft: Draft,
    device: InverterCharger,
    setting: str,
    kind: Input,
    held: tuple[Quantity | None, Quantity | None],
    sign: float,
) -> None:
    """Move a connect value one step inside its disconnect value where rounding made them one."""
    outer, inner = held
    ability = draft.ability(device, setting)
    if not isinstance(outer, Figure) or not isinstance(inner, Figure) or ability is None:
        return
    if ability.step is None or sign * (inner.value - outer.value) > 1e-9:
        return
    moved = _rule(outer.value + sign * ability.step, ability.unit, f"{outer.name}, one step inside")
    _number(draft, device, setting, moved, kind, side="up" if sign > 0 else "down")


# frequency


def _frequencies(draft: Draft, device: InverterCharger, part: Generator | Utility, kind: Input) -> None:
    plant = draft.plant
    nominal = _nominal_frequency(plant, part)
    width = _width(plant, part)
    for word, sign in (("low", -1.0), ("high", 1.0)):
        far = _rule(sign * width.value, "Hz", f"{word} side of the frequency window")
        outer = window_frequency.of(f"{word} disconnect frequency of {part.label}", frequency=nominal, by=far)
        near = _rule(sign * (width.value - _INSIDE_FREQUENCY), "Hz", f"{_INSIDE_FREQUENCY} Hz inside")
        inner = window_frequency.of(f"{word} connect frequency of {part.label}", frequency=nominal, by=near)
        bound = _over_no_load(draft, part) if word == "high" else None
        _frequency_pair(draft, device, kind, word, (outer, inner, bound))


def _nominal_frequency(plant: Plant, part: Generator | Utility) -> Quantity:
    if isinstance(part, Generator):
        return plant.rating(part, "ac_frequency")
    own = part_fact(part, "ac_frequency")
    return own if isinstance(own, Figure) else plant.rule("ac_frequency")


def _width(plant: Plant, part: Generator | Utility) -> Figure:
    if isinstance(part, Utility):
        return plant.rule("utility_frequency")
    close = plant.generator_class(part).governed == "close"
    return _rule(_CLOSE if close else _LOOSE, "Hz", "window of a closely governed set" if close else "window")


def _over_no_load(draft: Draft, part: Generator | Utility) -> Quantity | None:
    """Return the least upper frequency at which a set without load is taken; None for a public supply."""
    if isinstance(part, Utility):
        return None
    plant = draft.plant
    idle = plant.rating(part, "no_load_frequency")
    if isinstance(idle, Unknown):
        droop = plant.rating(part, "frequency_droop")
        idle = frequency_limit.of(
            f"no-load frequency of {part.label}, by its droop",
            nominal=plant.rating(part, "ac_frequency"),
            deviation=droop,
        )
    if isinstance(idle, Unknown):
        gap = datasheet_gap(part, "no_load_frequency", f"no-load frequency of {part.label}")
        draft.find(not_checked("accept-window", (part.id,), (gap,)))
        return None
    margin = _rule(_OVER_NO_LOAD, "Hz", "distance over the no-load frequency")
    return window_frequency.of(f"over the no-load frequency of {part.label}", frequency=idle, by=margin)


def _frequency_pair(
    draft: Draft,
    device: InverterCharger,
    kind: Input,
    word: str,
    wanted: tuple[Quantity, Quantity, Quantity | None],
) -> None:
    """Settle disconnect and connect of one side; both lie at or over the bound where there is one."""
    outer, inner, bound = wanted
    disconnect, connect = (f"ac_input_frequency_{word}_{end}" for end in ("disconnect", "connect"))
    if bound is not None:
        inner = greatest(inner.name, inner, bound)
        away = _rule(_INSIDE_FREQUENCY, "Hz", "distance of disconnect over connect")
        beyond = bound
        if draft.ability(device, connect) is not None:
            beyond = window_frequency.of("over the connect frequency", frequency=inner, by=away)
        outer = greatest(outer.name, outer, beyond)
    held = _at_or_over(draft, device, disconnect, outer, kind, bound)
    taken = _at_or_over(draft, device, connect, inner, kind, bound)
    sign = 1.0 if word == "low" else -1.0
    _keep_inside(draft, device, connect, kind, (held, taken), sign)


def _at_or_over(
    draft: Draft, device: InverterCharger, setting: str, wanted: Quantity, kind: Input, bound: Quantity | None
) -> Quantity | None:
    """Settle a frequency to the nearest step, or to the one above where the nearest is under the bound."""
    held = _number(draft, device, setting, wanted, kind)
    if isinstance(bound, Figure) and isinstance(held, Figure) and held.value < bound.value - 1e-9:
        return _number(draft, device, setting, wanted, kind, side="up")
    return held


# times


def _times(draft: Draft, device: InverterCharger, part: Generator | Utility, kind: Input) -> None:
    if isinstance(part, Utility):
        delay = draft.plant.rule("utility_return_delay")
        ramp = _rule(10.0, "s", "ramp on a public supply")
    else:
        delay = _rule(30.0, "s", "time inside the window before a set is taken")
        close = draft.plant.generator_class(part).governed == "close"
        slow = _rule(60.0, "s", "ramp on a loosely governed set: no more than a quarter of it in 15 s")
        quick = _rule(20.0, "s", "ramp on a closely governed set: a quarter of it in 5 s")
        ramp = quick if close else slow
    for setting, value, low, high in (
        ("ac_input_connect_delay", delay, 10.0, None),
        ("charge_ramp_time", ramp, 10.0, 60.0),
    ):
        ability = draft.ability(device, setting)
        input_ = kind if ability is not None and ability.per_input else None
        least_time = _rule(low, "s", "least usual")
        most = None if high is None else _rule(high, "s", "greatest usual")
        draft.number(device, setting, value, input_=input_, low=least_time, high=most, side="up")
