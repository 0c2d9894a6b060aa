"""AC-coupled PV on an islanded inverter: the window of the frequency shift, and what it must clear.

The shift starts inside the return window, so that PV comes back, and ends above the fast trip, so that it
surely stops. Its voltage lies at or under the absorption of the hottest battery, so that the bank is not held
above that.
"""

from __future__ import annotations

from typing import Final

from commission.figure import Figure, Quantity, given, greatest, least
from commission.formulas.frequency_shift import frequency_above, frequency_below
from commission.formulas.rounding import step_over
from commission.plant.plant import Plant, part_fact
from commission.plant.site import AcPvInverter, InverterCharger
from commission.sheet.bank_state import COMMON
from commission.sheet.coupled_power import check_coupled_power
from commission.sheet.draft import Draft
from commission.sheet.reached import lowest
from commission.sheet.responses import response_fact
from commission.sheet.settling import not_checked, put_aside, settled
from commission.sheet.types import Finding

_RISE: Final = given(0.2, "Hz", "most that the shift starts over nominal", source=COMMON)
_PAST_TRIP: Final = given(0.3, "Hz", "distance of the shift's end over the fast trip", source=COMMON)
_SHIFT: Final = ("frequency_shift_start", "frequency_shift_end", "frequency_shift_voltage")


def settle_coupling(draft: Draft) -> None:
    """Settle the frequency shift of every inverter, and check it against the PV inverters on its output."""
    plant = draft.plant
    able = [one for one in plant.site.inverter_chargers if draft.ability(one, _SHIFT[0])]
    if not plant.site.ac_pv_inverters:
        for inverter in able:
            _aside(draft, inverter)
        return
    _check_kinds(draft)
    if not able:
        _find_no_shift(draft)
    for inverter in able:
        _settle(draft, inverter)
    if plant.site.charge_controllers:
        _tell_which_yields(draft, able)
    for inverter in plant.site.inverter_chargers:
        for pv in plant.site.ac_pv_inverters:
            _check_idle(draft, inverter, pv)
    check_coupled_power(draft)


def _aside(draft: Draft, inverter: InverterCharger) -> None:
    note = "no AC-coupled PV on this site"
    put_aside(draft, inverter, "frequency_shift_start", "low", note)
    put_aside(draft, inverter, "frequency_shift_end", "low", note)
    put_aside(draft, inverter, "frequency_shift_voltage", "high", note)


def idle_frequency(plant: Plant, inverter: InverterCharger) -> Quantity:
    """Return the frequency that an inverter holds when it does not shift."""
    ability = plant.equipment[inverter.id].settings.get("ac_output_frequency")
    if ability is not None and ability.fixed is None:
        return plant.rule("ac_frequency")
    return plant.rating(inverter, "ac_frequency")


def shift_start(plant: Plant, inverter: InverterCharger) -> Quantity:
    """Return where the shift is to start: where PV still returns, and not after it begins to throttle."""
    nominal = idle_frequency(plant, inverter)
    found = [frequency_above.of("nominal and 0.2 Hz", frequency=nominal, by=_RISE)]
    for pv in plant.site.ac_pv_inverters:
        found.append(response_fact(plant, pv, "return_high"))
        if plant.ac_pv_class(pv).response.kind != "none":
            found.append(response_fact(plant, pv, "start"))
    return least("start of the frequency shift", *found)


def shift_end(plant: Plant) -> Quantity:
    """Return where the shift is to end: past every fast trip."""
    trips = [response_fact(plant, pv, "fast_trip") for pv in plant.site.ac_pv_inverters]
    highest = greatest("highest fast trip", *trips)
    return frequency_above.of("end of the frequency shift", frequency=highest, by=_PAST_TRIP)


def _settle(draft: Draft, inverter: InverterCharger) -> None:
    plant = draft.plant
    start = shift_start(plant, inverter)
    settled(draft, inverter, "frequency_shift_start", start, high=start, side="down")
    end = shift_end(plant)
    held = settled(draft, inverter, "frequency_shift_end", end, low=end, side="up")
    _check_end(draft, inverter, held, end)
    _check_loads(draft, inverter, held)
    limit = lowest(draft, "absorption")
    if limit is None:
        put_aside(draft, inverter, "frequency_shift_voltage", "low", "no charging voltage on this bus")
        return
    note = "at or under the absorption of the hottest battery"
    at = settled(draft, inverter, "frequency_shift_voltage", limit, high=limit, note=note)
    _check_voltage(draft, inverter, at, limit)


def _check_end(draft: Draft, inverter: InverterCharger, held: Quantity | None, wanted: Quantity) -> None:
    """Find a shift that cannot go past the trips: PV may never stop."""
    if not isinstance(held, Figure) or not isinstance(wanted, Figure) or held.value >= wanted.value - 1e-9:
        return
    down = frequency_below.of("fast trip that passes", frequency=held, by=_PAST_TRIP)
    hertz = f"{down.value:.2f} Hz" if isinstance(down, Figure) else "less"
    draft.find(
        Finding(
            "correct",
            "shift-end-under-trip",
            (inverter.id,),
            f"the shift of {inverter.label} ends at {held.value:.2f} Hz, {wanted.value:.2f} Hz are needed to "
            "be past every fast trip: PV may go on charging a full bank",
            f"fast trips of the PV inverters at most {hertz}, or a device whose shift ends at "
            f"{wanted.value:.2f} Hz",
            value=held,
            limit=wanted,
            passes=wanted,
            setting="frequency_shift_end",
        )
    )


def _check_loads(draft: Draft, inverter: InverterCharger, held: Quantity | None) -> None:
    """Find AC loads that do not stand the end of the shift; the trips must then come down."""
    for load in draft.plant.site.loads:
        most = part_fact(load, "frequency_max")
        if load.current != "ac" or not isinstance(most, Figure) or not isinstance(held, Figure):
            continue
        if held.value <= most.value + 1e-9:
            continue
        down = frequency_below.of("fast trip that passes", frequency=most, by=_PAST_TRIP)
        hertz = f"{down.value:.2f} Hz" if isinstance(down, Figure) else "less"
        begins = _throttles_from(draft.plant)
        room = begins is None or (isinstance(down, Figure) and down.value > begins.value + 1e-9)
        trips = f"fast trips of the PV inverters at most {hertz}, so that the shift can end at "
        draft.find(
            Finding(
                "correct",
                "shift-end-over-load",
                (inverter.id, load.id),
                f"the shift of {inverter.label} goes up to {held.value:.2f} Hz, {load.label} stands "
                f"{most.value:.2f} Hz",
                f"{trips}{most.value:.2f} Hz; else this load off the output"
                if room or begins is None
                else f"this load off the output, or another that stands more: PV needs its frequency up to "
                f"{begins.value:.2f} Hz to run and to return, so no fast trip fits under {most.value:.2f} Hz",
                value=held,
                limit=most,
                passes=down if room else None,
                setting="frequency_shift_end",
            )
        )


def _throttles_from(plant: Plant) -> Figure | None:
    """Return the highest frequency at which PV still has to run: its response and return window lie there."""
    known = [
        value
        for pv in plant.site.ac_pv_inverters
        for field in ("start", "return_high")
        if isinstance(value := response_fact(plant, pv, field), Figure)
    ]
    found = greatest("frequency up to which PV must run", *known) if known else None
    return found if isinstance(found, Figure) else None


def _check_voltage(draft: Draft, inverter: InverterCharger, held: Quantity | None, limit: Quantity) -> None:
    """Find a shift that starts over absorption: AC-coupled PV would lift the bank above it."""
    if isinstance(held, Figure) and isinstance(limit, Figure) and held.value > limit.value + 1e-9:
        draft.find(
            Finding(
                "correct",
                "shift-over-absorption",
                (inverter.id,),
                f"the shift of {inverter.label} starts at {held.value:.2f} V, the bank is held at "
                f"{limit.value:.2f} V: AC-coupled PV would lift it above absorption",
                f"a shift from {limit.value:.2f} V or less",
                value=held,
                limit=limit,
                passes=limit,
                setting="frequency_shift_voltage",
            )
        )


def _tell_which_yields(draft: Draft, able: list[InverterCharger]) -> None:
    """Tell which PV gives way first on a full bank, once for all inverters that do it alike."""
    limit = lowest(draft, "absorption")
    alike: dict[float, list[InverterCharger]] = {}
    for inverter in able:
        held = draft.value(inverter.id, "frequency_shift_voltage")
        if isinstance(held, Figure):
            alike.setdefault(held.value, []).append(inverter)
    for inverters in alike.values():
        held = draft.value(inverters[0].id, "frequency_shift_voltage")
        if isinstance(held, Figure) and isinstance(limit, Figure):
            draft.find(_which_yields(draft, inverters, held, limit))


def _which_yields(draft: Draft, inverters: list[InverterCharger], held: Figure, limit: Figure) -> Finding:
    over = held.value > limit.value + 1e-9
    first, second = ("DC", "AC") if over else ("AC", "DC")
    other = limit if over else _over_absorption(draft, inverters[0], held, limit)
    volts = f"{other.value:.2f} V" if isinstance(other, Figure) else "over absorption"
    return Finding(
        "advise",
        "which-pv-yields",
        tuple(inverter.id for inverter in inverters),
        f"{first}-coupled PV yields first: the shift starts at {held.value:.2f} V, the controllers hold "
        f"{limit.value:.2f} V",
        f"ask which is wanted; for {second}-coupled PV to yield first, a shift from {volts}"
        f"{' or less' if over else ', which holds the bank above absorption'}",
        value=held,
        limit=limit,
        setting="frequency_shift_voltage",
    )


def _over_absorption(draft: Draft, inverter: InverterCharger, held: Figure, limit: Figure) -> Quantity:
    """Return the first value of a device's grid that lies over absorption."""
    ability = draft.ability(inverter, "frequency_shift_voltage")
    if ability is None or ability.step is None:
        return limit
    size = ability.step * draft.count(inverter, ability)
    step = given(size, "V", f"step of {inverter.label}, whole bank", kind="profile")
    return step_over.of("first value over absorption", value=limit, start=held, step=step).in_unit("V")


def _check_kinds(draft: Draft) -> None:
    plant = draft.plant
    for pv in plant.site.ac_pv_inverters:
        kind = plant.ac_pv_class(pv).response.kind
        trip = response_fact(plant, pv, "fast_trip")
        if kind == "unknown":
            draft.find(
                Finding(
                    "not checked",
                    "response-kind",
                    (pv.id,),
                    f"not checked: whether {pv.label} lowers its power with frequency or only trips unknown",
                    "state response.kind in the site file",
                )
            )
        elif kind == "none":
            at = f"at {trip.value:.2f} Hz" if isinstance(trip, Figure) else "at its trip"
            draft.find(
                Finding(
                    "advise",
                    "pv-only-trips",
                    (pv.id,),
                    f"{pv.label} cannot lower its power: the shift switches it off {at} each time the "
                    "bank is full, and it comes back after its return delay",
                    "a PV inverter with a frequency response, or a contact that a full bank opens",
                    value=trip,
                )
            )


def _find_no_shift(draft: Draft) -> None:
    parts = tuple(pv.id for pv in draft.plant.site.ac_pv_inverters)
    draft.find(
        Finding(
            "correct",
            "no-frequency-shift",
            parts,
            "no inverter on this site shifts its frequency: nothing throttles AC-coupled PV on a full bank",
            "an inverter with a frequency shift, or a contactor that takes the PV off at absorption",
        )
    )


def _check_idle(draft: Draft, inverter: InverterCharger, pv: AcPvInverter) -> None:
    """Find an idle frequency outside a PV inverter's return window, or nearer its edge than it is exact."""
    plant = draft.plant
    parts = (inverter.id, pv.id)
    idle = idle_frequency(plant, inverter)
    low, high = (response_fact(plant, pv, field) for field in ("return_low", "return_high"))
    within = greatest("idle frequency inside the return window", low, least("upper side", idle, high))
    if not_checked(draft, "idle-in-return-window", parts, within):
        return
    assert isinstance(idle, Figure) and isinstance(within, Figure)  # noqa: S101, PT018 - checked above
    assert isinstance(low, Figure) and isinstance(high, Figure)  # noqa: S101, PT018 - as above
    if within.value != idle.value:
        draft.find(_idle_outside(parts, inverter, pv, (idle, low, high, within)))
        return
    tolerance = plant.rating(inverter, "output_frequency_tolerance").in_unit("Hz")
    if not_checked(draft, "idle-in-return-window", parts, tolerance) or not isinstance(tolerance, Figure):
        return
    room = min(idle.value - low.value, high.value - idle.value)
    if tolerance.value > room + 1e-9:
        draft.find(_idle_at_edge(parts, inverter, pv, tolerance, room))


def _idle_outside(
    parts: tuple[str, str],
    inverter: InverterCharger,
    pv: AcPvInverter,
    found: tuple[Figure, Figure, Figure, Figure],
) -> Finding:
    idle, low, high, within = found
    return Finding(
        "correct",
        "idle-in-return-window",
        parts,
        f"{inverter.label} idles at {idle.value:.2f} Hz, {pv.label} returns between {low.value:.2f} and "
        f"{high.value:.2f} Hz: it never comes back",
        f"a return window that holds {idle.value:.2f} Hz, or an idle frequency of {within.value:.2f} Hz",
        value=idle,
        limit=within,
        passes=within,
    )


def _idle_at_edge(
    parts: tuple[str, str], inverter: InverterCharger, pv: AcPvInverter, tolerance: Figure, room: float
) -> Finding:
    allowed = given(room, "Hz", "room between idle frequency and the return window's edge", source=COMMON)
    return Finding(
        "advise",
        "idle-in-return-window",
        parts,
        f"the frequency of {inverter.label} may be off by {tolerance.value:.2f} Hz, the return window of "
        f"{pv.label} leaves {room:.2f} Hz: it may not come back",
        f"a measured idle frequency within {room:.2f} Hz of nominal, or a wider return window",
        value=tolerance,
        limit=allowed,
        passes=allowed,
    )
