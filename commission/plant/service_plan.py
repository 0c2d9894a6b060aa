"""What was agreed with the owner about service visits, in the site file."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from commission.plant.values import Day, Ident, Interval, Model

_Intervals = Annotated[tuple[Interval, ...], Field(strict=False)]


class ServicePlan(Model):
    """How often the plant is visited, and what is moved from the usual intervals."""

    intervals: _Intervals = Field(
        default=(), description="agreed with the owner; empty: those of the checklists, none monthly"
    )
    steps: dict[Ident, _Intervals] = Field(
        default_factory=dict,
        description="steps of the checklists at other intervals than usual: ohmic-float = ['yearly']",
    )
    next_due: Day = Field(default="", description="date of the next visit that the owner was told")
    battery_use: Literal["cycled", "standby"] = Field(
        default="cycled", description="'standby' where the bank stands on float nearly always"
    )
    maker_adopts_float_limits: bool = Field(
        default=False, description="the battery's maker applies IEEE 450 or 1188 limits in cycled use too"
    )

    @property
    def float_limits_hold(self) -> bool:
        """Whether limits that were written for float service bind here, or only advise."""
        return self.battery_use == "standby" or self.maker_adopts_float_limits
