"""An independent solver of resistive networks: voltages at the nodes by nodal analysis."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np


def node_voltages(
    resistors: Iterable[tuple[str, str, float]], drawn: Mapping[str, float], *, ground: str = "bank"
) -> dict[str, float]:
    """Return the voltage of every node against the ground node, with currents drawn out of nodes in A."""
    branches = list(resistors)
    nodes = sorted({end for first, second, _ in branches for end in (first, second)} - {ground})
    place = {node: at for at, node in enumerate(nodes)}
    matrix = np.zeros((len(nodes), len(nodes)))
    for first, second, ohms in branches:
        for here, there in ((first, second), (second, first)):
            if here in place:
                matrix[place[here], place[here]] += 1.0 / ohms
                if there in place:
                    matrix[place[here], place[there]] -= 1.0 / ohms
    into = np.array([-drawn.get(node, 0.0) for node in nodes])
    return dict(zip(nodes, np.linalg.solve(matrix, into), strict=True)) | {ground: 0.0}


def branch_currents(
    resistors: Iterable[tuple[str, str, float]], drawn: Mapping[str, float], *, ground: str = "bank"
) -> list[float]:
    """Return the current in every branch from its first end to its second, in A."""
    branches = list(resistors)
    volts = node_voltages(branches, drawn, ground=ground)
    return [float(volts[first] - volts[second]) / ohms for first, second, ohms in branches]
