"""States of charge at which the low end acts, from the battery's depths and its management's cut-off."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from commission.figure import Figure, Quantity, Unknown, given, greatest, least
from commission.formulas.lead_acid import state_of_charge_from_table
from commission.formulas.lithium import standing_drain_share
from commission.formulas.load_control import current_of_power, standing_draw_allowed, state_at_depth
from commission.formulas.low_end import state_of_charge_step
from commission.plant.once import once
from commission.plant.plant import Plant, fact
from commission.sheet.bank_state import COMMON, attempted, capacity, whole
from commission.sheet.draft import Draft
from commission.sheet.known import not_checked as known_gaps
from commission.sheet.types import Finding

APART: Final = given(0.05, "1", "least distance of two states of charge", source=COMMON)
_WARNING: Final = given(0.10, "1", "warning over the generator's start", source=COMMON)
_MOST: Final = given(0.70, "1", "highest state of charge at which loads are disconnected", source=COMMON)
_FALLBACK: Final = {"disconnect": 0.05, "start": 0.07, "warning": 0.09}
"""States under 10 % for which a flat curve's voltages stand, where the count of charge has failed."""


@dataclass(frozen=True, slots=True)
class States:
    """States of charge at which the low end acts, and those for which its voltages stand."""

    warning: Quantity
    start: Quantity
    disconnect: Quantity
    reconnect: Quantity
    voltage_warning: Quantity
    voltage_start: Quantity
    voltage_disconnect: Quantity


@once
def states_of(plant: Plant) -> States:
    """Return the states of charge at which the low end acts."""
    start = state_at_depth.of("state of charge at the usual depth", depth=plant.cell("depth_usual"))
    disconnect = state_at_depth.of(
        "state of charge at the greatest depth", depth=plant.cell("depth_greatest")
    )
    floors, missing = management_floors(plant)
    if floors:
        name = "state of charge that disconnects the loads"
        disconnect = least(name, greatest(name, disconnect, *floors), _MOST)
    if missing and isinstance(disconnect, Figure):
        note = f"may have to be higher: {', '.join(missing)} not known"
        disconnect = disconnect.named(disconnect.name, note)
    over = _at_most_full("5 points over the disconnect", disconnect, APART)
    start = greatest("state of charge that starts a generator", start, over)
    warning = _at_most_full("state of charge of the warning", start, _WARNING)
    if plant.battery.curve == "sloped":
        return States(warning, start, disconnect, start, warning, start, disconnect)
    fallback = {word: _fallback(word, state) for word, state in _FALLBACK.items()}
    return States(
        warning,
        start,
        disconnect,
        start,
        fallback["warning"],
        fallback["start"],
        fallback["disconnect"],
    )


def _fallback(word: str, state: float) -> Figure:
    name = f"state of charge for which the {word} voltage stands, the count having failed"
    return given(state, "1", name, source=f"{COMMON}: under 10 % on a flat curve")


def _at_most_full(name: str, state: Quantity, step: Quantity) -> Quantity:
    if isinstance(state, Figure) and isinstance(step, Figure) and state.value + step.value > 1.0:
        return given(1.0, "1", name, source="more than the bank holds: full")
    return state_of_charge_step.of(name, state=state, step=step)


def management_floors(plant: Plant) -> tuple[list[Figure], tuple[str, ...]]:
    """Return the states under which a managed bank may open before it is charged again, and what is missing.

    One is 5 points over the battery's own cut-off, the other the cut-off and what the standing draw takes in
    the longest time without charge. What is not known is no candidate; it is told as missing.
    """
    cut_off = cut_off_state(plant)
    if cut_off is None:
        return [], ()
    found = [
        _at_most_full("5 points over the battery's own cut-off", cut_off, APART),
        _at_most_full(
            "cut-off and what the standing draw takes in the longest time without charge",
            cut_off,
            standing_drain(plant),
        ),
    ]
    known = [one for one in found if isinstance(one, Figure)]
    gaps = [gap for one in found if isinstance(one, Unknown) for gap in one.missing]
    return known, tuple(dict.fromkeys(gaps))


def cut_off_state(plant: Plant) -> Quantity | None:
    """Return the state of charge at which the management system opens under load, None where there is none.

    Where only its cell voltage is told, the battery's own table of rested voltages turns it into a state.
    """
    management = plant.bank.management
    if management is None:
        return None
    told = fact(management, "cut_off_state_of_charge", "bank.management")
    if isinstance(told, Figure):
        return told
    voltage = fact(management, "cut_off_low", "bank.management")
    if isinstance(voltage, Unknown):
        return told
    curve = plant.battery.open_circuit_voltage
    if voltage.value <= curve.values[0]:
        return given(0.0, "1", "cut-off of the management system, under the table's first row", source=COMMON)
    where = f"{plant.battery.id}.open_circuit_voltage"
    rows = {
        name: [given(value, unit, word, kind="profile", where=where) for value in values]
        for name, unit, word, values in (
            ("states", "1", "state of charge", curve.states),
            ("voltages", "V", "rested voltage", curve.values),
        )
    }
    name = "state of charge at the management system's low cut-off"
    return attempted(lambda: state_of_charge_from_table.of(name, voltage=voltage, **rows), "1", name)


def standing_drain(plant: Plant) -> Quantity:
    """Return the share of the charge that the standing draw takes in the longest time without charge."""
    current = current_of_power.of(
        "standing draw",
        power=fact(plant.bank, "standing_draw", "bank"),
        voltage=whole(plant, "nominal_cell_voltage"),
    )
    return standing_drain_share.of(
        "share of the charge that the standing draw takes",
        draw=current,
        time=fact(plant.site.site, "longest_time_without_charge", "site"),
        capacity=capacity(plant),
    )


def check_standing_draw(draft: Draft) -> None:
    """Find a standing draw that empties a managed bank before it is charged again."""
    plant = draft.plant
    cut_off, drain = cut_off_state(plant), standing_drain(plant)
    _, missing = management_floors(plant)
    if missing:
        draft.find(known_gaps("standing-draw", ("bank",), missing))
    if not isinstance(cut_off, Figure) or not isinstance(drain, Figure):
        return
    usual = state_at_depth.of("state of charge at the usual depth", depth=plant.cell("depth_usual"))
    room = max(0.0, (usual.value if isinstance(usual, Figure) else 0.0) - APART.value - cut_off.value)
    if drain.value <= room + 1e-9:
        return
    allowed = None if room <= 0 else _allowed_draw(plant, room)
    less = f"a standing draw of {allowed.value:.2f} W" if isinstance(allowed, Figure) else "less daily use"
    draft.find(
        Finding(
            "correct",
            "standing-draw",
            ("bank",),
            f"the standing draw takes {drain.value:.0%} of the charge in the longest time without charge; "
            f"{room:.0%} lie between the battery's own cut-off and what is used every day",
            f"{less}, or the bank disconnected by hand when the site is left",
            value=drain,
            limit=given(room, "1", "share that may be taken", source=COMMON),
            passes=allowed,
        )
    )


def _allowed_draw(plant: Plant, room: float) -> Quantity:
    return standing_draw_allowed.of(
        "standing draw that passes",
        share=given(room, "1", "room between cut-off and the usual depth less 5 points", source=COMMON),
        capacity=capacity(plant),
        voltage=whole(plant, "nominal_cell_voltage"),
        time=fact(plant.site.site, "longest_time_without_charge", "site"),
    )
