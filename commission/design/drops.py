"""Voltage lost in the conductors: bank to inverter, array to controller to bank, DC loads and AC runs."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from commission.design.drop_ways import Piece, Way, drop_in, drop_of, ways
from commission.design.sizes import size_remedy, thicker
from commission.design.types import Found, Later, Remedy, Scene
from commission.design.words import gap, shown
from commission.figure import Figure, Quantity
from commission.plant.plant import part_fact
from commission.plant.site import Run
from commission.sheet.types import Finding


def check_drops(scene: Scene) -> Iterator[Found]:
    """Find ways on which more voltage is lost than is good practice."""
    asked: set[str] = set()
    for way in ways(scene):
        yield from _untold(way, asked)
        yield from _judged(scene, way)


def _untold(way: Way, asked: set[str]) -> Iterator[Found]:
    """Ask for the lengths that are not told, each once."""
    runs = [piece.circuit.run for piece in way.pieces if piece.circuit.run.id not in asked]
    asked |= {run.id for run in runs}
    missing = gap(way.check, way.parts, *(part_fact(run, "length") for run in runs))
    if missing is not None:
        yield missing


def _judged(scene: Scene, way: Way) -> Iterator[Found]:
    share = drop_of(scene, way)
    if not isinstance(share, Figure) or share.value <= way.limit.value + 1e-9:
        return  # what else is unknown is asked for with the ampacity of its run
    if share.value >= 1.0:
        yield _impossible(scene, way, share)
        return
    usual = drop_of(scene, way, usual=True)
    expected = (
        f", {_percent(usual)} {_usually(way)}"
        if isinstance(usual, Figure) and usual.value < share.value * 0.995
        else ""
    )
    text = (
        f"{_percent(share)} of the voltage is lost {way.what} at {_rating(way)}{expected}; "
        f"{_percent(way.limit)} is good practice"
    )
    finding = Finding(
        "advise",
        way.check,
        way.parts,
        text,
        "thicker conductors, or a shorter way",
        value=share,
        limit=way.limit,
    )
    yield Found(finding, Later(_thicker(scene, way)))


def _impossible(scene: Scene, way: Way, share: Figure) -> Found:
    """Return the finding of a way that would lose all its voltage: most likely a length in the wrong unit."""
    longest = max(way.pieces, key=lambda piece: _value(part_fact(piece.circuit.run, "length")))
    run = longest.circuit.run
    told = part_fact(run, "length")
    assert isinstance(told, Figure)  # noqa: S101 - the drop was worked out with it
    text = (
        f"more than all of the voltage would be lost {way.what} at {_rating(way)}: the current cannot "
        "flow with "
        f"{run.label} {shown(scene, told)} long and as thick as it is told"
    )
    millimetres = Figure(told.value / 1000.0, "m", "length, if millimetres were meant", told.origin)
    finding = Finding(
        "correct",
        way.check,
        way.parts,
        text,
        f"look at runs[{run.id}].length: {shown(scene, millimetres)} if millimetres were meant; measure it",
        value=share,
        limit=way.limit,
    )
    return Found(finding)


def _rating(way: Way) -> str:
    words = {
        "drop-inverter": "rated power",
        "drop-controller": "rated output",
        "drop-array": "maximum power",
        "drop-direct-load": "its full power",
    }
    return words.get(way.check, "its rating")


def _usually(way: Way) -> str:
    if way.check == "drop-controller":
        return "with its array at test conditions"
    return "at the load that is expected"


def _percent(share: Figure) -> str:
    return f"{share.value * 100:.3g} %"


def _thicker(scene: Scene, way: Way) -> Iterator[Remedy]:
    """Yield thicker conductors for the run that loses most, then for the next, then for all of them."""
    order = sorted(way.pieces, key=lambda piece: -_value(drop_in(scene.plant, way, piece, False, {})))
    for piece in order:
        for row, made in thicker(scene, piece.circuit, _passes(scene, way, ()), most=2):
            yield size_remedy(scene, piece.circuit, row, made)
    if len(order) == 2:
        yield from _both(scene, way, order)


def _both(scene: Scene, way: Way, order: Sequence[Piece]) -> Iterator[Remedy]:
    for row, first in thicker(scene, order[0].circuit, lambda run: True, most=12):
        for other, second in thicker(scene, order[1].circuit, lambda run: True, most=12):
            if _passes(scene, way, second)(first[0]):
                one = size_remedy(scene, order[0].circuit, row, first)
                two = size_remedy(scene, order[1].circuit, other, second)
                yield Remedy(f"{one.text}, {two.text}", passes=one.passes, change=(*one.change, *two.change))
                return


def _passes(scene: Scene, way: Way, besides: Sequence[Run]) -> Callable[[Run], bool]:
    ids = {piece.circuit.run.id for piece in way.pieces}

    def passes(run: Run) -> bool:
        if run.id not in ids:
            return True
        share = drop_of(scene, way, instead=(run, *besides))
        return isinstance(share, Figure) and share.value <= way.limit.value + 1e-9

    return passes


def _value(quantity: Quantity) -> float:
    return quantity.value if isinstance(quantity, Figure) else 0.0
