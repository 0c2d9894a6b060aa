"""The laws by which the plants of a practice fleet age. Stated, not measured: the truth of an exercise.

========================  ======================================================================
capacity                  new share − fade × years                                [% of the rating]
ohmic value of a block    new × (1 + growth × years)                                          [mΩ]
resistance of a joint     new × (1 + loosening × years²): every cycle of heat works it further  [µΩ]
insulation of an array    new × e^(−years ÷ time constant): damp creeps in                    [MΩ]
current of an array       1 − degradation × years − soiling of the season                     [share]
========================  ======================================================================
"""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass
from random import Random
from typing import Any, Final

END_OF_CAPACITY: Final = 80.0
END_OF_OHMIC: Final = 1.5
END_OF_JOINT: Final = 1.2


@dataclass(frozen=True, slots=True)
class Ageing:
    """How one plant ages, for as long as its battery is the same one."""

    capacity: float
    fade: float
    ohmic: float
    growth: float
    joint: float
    loosening: float
    insulation: float
    insulation_time: float
    degradation: float
    soiling: float

    def capacity_at(self, years: float) -> float:
        """Return the capacity in % of the rating."""
        return self.capacity - self.fade * years

    def ohmic_at(self, years: float) -> float:
        """Return the ohmic value of a block in mΩ."""
        return self.ohmic * (1.0 + self.growth * years)

    def joint_at(self, years: float) -> float:
        """Return the resistance of a joint at 20 °C in µΩ."""
        return self.joint * (1.0 + self.loosening * years**2)

    def insulation_at(self, years: float) -> float:
        """Return the insulation resistance of an array string in MΩ."""
        return self.insulation * math.exp(-years / self.insulation_time)

    def array_at(self, years: float) -> float:
        """Return the current of an array as a share of what it owes."""
        season = 0.5 - 0.5 * math.cos(2.0 * math.pi * years)
        return 1.0 - self.degradation * years - self.soiling * season

    def ends(self) -> dict[str, float | None]:
        """Return after how many years each limit is passed; None where never."""
        return {
            "capacity": (self.capacity - END_OF_CAPACITY) / self.fade if self.fade > 0.0 else None,
            "ohmic value": (END_OF_OHMIC - 1.0) / self.growth if self.growth > 0.0 else None,
            "joint": math.sqrt((END_OF_JOINT - 1.0) / self.loosening) if self.loosening > 0.0 else None,
        }

    def told(self) -> dict[str, Any]:
        """Return the law's numbers, and when the limits are passed."""
        return {**asdict(self), "years until": self.ends()}


def drawn(random: Random, ohmic: float, joint: float) -> Ageing:
    """Return how a plant ages; a fifth of the banks fade fast, a tenth of the joints loosen.

    Parameters
    ----------
    ohmic, joint
        Values of a new block and a new joint of this kind of plant. [mΩ, µΩ]
    """
    fade = random.uniform(3.0, 6.0) if random.random() < 0.2 else random.uniform(0.5, 2.5)
    return Ageing(
        capacity=random.uniform(100.0, 104.0),
        fade=fade,
        ohmic=ohmic * random.uniform(0.92, 1.08),
        growth=fade / 100.0 * random.uniform(1.2, 2.0),
        joint=joint * random.uniform(0.9, 1.1),
        loosening=random.uniform(0.004, 0.02) if random.random() < 0.1 else random.uniform(0.0, 0.0008),
        insulation=random.uniform(80.0, 200.0),
        insulation_time=random.uniform(4.0, 8.0) if random.random() < 0.1 else random.uniform(12.0, 40.0),
        degradation=random.uniform(0.003, 0.008),
        soiling=random.uniform(0.0, 0.03),
    )
