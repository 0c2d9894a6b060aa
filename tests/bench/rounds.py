"""What the rounds of a measurement gave, and how they are told."""

from __future__ import annotations

from dataclasses import dataclass, field
from statistics import median, quantiles


@dataclass
class Measured:
    """One quantity over several rounds."""

    name: str
    unit: str
    values: list[float] = field(default_factory=list)
    aim: float | None = None

    def text(self) -> str:
        """Return the median, the spread and the aim in one line."""
        found = median(self.values)
        spread = f"{min(self.values):.1f} to {max(self.values):.1f}, {len(self.values)} rounds"
        if len(self.values) >= 200:
            spread += f", 99 of 100 under {quantiles(self.values, n=100)[-1]:.1f}"
        aim = "" if self.aim is None else f"  aim {self.aim:g} {self.unit}: {_kept(found <= self.aim)}"
        return f"{self.name:<46} {found:8.1f} {self.unit:<3}  ({spread}){aim}"


@dataclass
class Pair:
    """One quantity of the bare app and of ours, in the same rounds."""

    name: str
    unit: str
    aim: float | None = None
    """Greatest ratio of ours to bare."""
    bare: list[float] = field(default_factory=list)
    ours: list[float] = field(default_factory=list)

    def note(self, bare: float | None, ours: float | None) -> None:
        """Add a round in which the system may have told nothing."""
        if bare is not None and ours is not None:
            self.bare.append(bare)
            self.ours.append(ours)

    def text(self) -> str:
        """Return both medians, their ratio and the aim in one line."""
        if not self.bare:
            return f"{self.name:<46} not told by this system"
        bare, ours = median(self.bare), median(self.ours)
        ratio = ours / bare
        aim = "" if self.aim is None else f"  aim {self.aim:g}: {_kept(ratio <= self.aim)}"
        count = f"{len(self.bare)} rounds" if len(self.bare) > 1 else "1 round"
        numbers = f"{ours:8.1f} {self.unit:<3} beside {bare:.1f}"
        return f"{self.name:<46} {numbers}  = {ratio:.2f} times  ({count}){aim}"


def _kept(holds: bool) -> str:
    return "kept" if holds else "NOT kept"
