"""What the sheet consists of: settings and findings, each with its lineage."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final, Literal, TypeAlias

from commission.figure import Figure, Quantity, Unknown
from commission.plant.change import Change
from commission.plant.equipment import Ability, Input

Kind: TypeAlias = Literal["stop", "correct", "not checked", "advise"]
KINDS: Final[tuple[Kind, ...]] = ("stop", "correct", "not checked", "advise")
"""Worst first."""


@dataclass(frozen=True, slots=True)
class Pair:
    """A voltage and how long it must last, as of an automatic generator start."""

    voltage: Figure
    delay: Figure


Recommended: TypeAlias = Figure | Unknown | str | tuple[Pair, ...]
"""A number, what is missing for one, a word (``off`` or one of the device's choices), or pairs."""


@dataclass(frozen=True, slots=True)
class Setting:
    """One programmable value of one device. Numbers are in the device's own unit and basis."""

    device: str
    setting: str
    input: Input | None
    recommended: Recommended
    unit: str
    """Unit as the device shows it: ``V``, ``V per 12 V``, ``V per cell``, ``A``, ``s``, ``mV/K``…"""
    low: Quantity | None
    """Least value that is acceptable; None where there is no such limit."""
    high: Quantity | None
    ability: Ability
    note: str = ""
    """The policy that was applied, in a few words."""
    at_posts: Quantity | None = None
    """Of a voltage: the recommended value in whole-bank volts."""

    @property
    def key(self) -> tuple[str, str, Input | None]:
        """Device, setting and input, which together are unique."""
        return self.device, self.setting, self.input

    @property
    def decimals(self) -> int:
        """Digits after the point that the device has."""
        step = self.ability.step or self.ability.fixed
        if step is None:
            return 2
        return next((count for count in range(5) if abs(round(step, count) - step) < 1e-9), 5)

    @property
    def changeable(self) -> bool:
        """Whether the device lets it be changed."""
        return self.ability.fixed is None


@dataclass(frozen=True, slots=True)
class Finding:
    """A result of the design check, with a remedy whose number passes."""

    kind: Kind
    check: str
    """The check, in small letters and hyphens; with the parts it makes the finding's id."""
    parts: tuple[str, ...]
    """Ids of the parts that it concerns; the bank is ``bank``, the whole site ``site``."""
    text: str
    remedy: str = ""
    value: Quantity | None = None
    limit: Quantity | None = None
    passes: Quantity | None = None
    """The number in the remedy: with it the finding is gone."""
    setting: str | None = None
    releasable: bool = True
    """A ``stop`` that a second person may release at all."""
    change: tuple[Change, ...] = ()
    """The remedy as keys of the site file and their values; empty where it is words only."""
    missing: tuple[str, ...] = ()
    """Of ``not checked``: what is not known, each a :class:`Gap` with its key where one is known."""

    @property
    def id(self) -> str:
        """Return what the finding is known by in records."""
        return ":".join((self.check, "+".join(self.parts), *((self.setting,) if self.setting else ())))


@dataclass(frozen=True)
class Sheet:
    """All settings and findings of a plant, and the numbers that the checklist builds on."""

    settings: tuple[Setting, ...]
    findings: tuple[Finding, ...]
    bank_limit: Quantity
    """A into the bank, never exceeded."""
    recommended_limit: Quantity
    """A into the bank, for daily use."""
    bus_maximum: Quantity
    """V, least greatest DC voltage of everything on the bus."""
    shares: dict[str, Quantity]
    """A that each source may put into the bank when it runs with all the others, by device id."""
    numbers: dict[str, Quantity] = field(default_factory=dict)
    """What the settings were worked out from and a later check reads: ``ac_feed:DEVICE:SOURCE``,
    ``absorption_coldest:DEVICE``."""

    def setting(self, device: str, setting: str, input_: Input | None = None) -> Setting | None:
        """Return a setting, or None where the device has none of that name."""
        return self._index.get((device, setting, input_))

    def value(self, device: str, setting: str, input_: Input | None = None) -> Quantity | None:
        """Return the recommended number in whole-bank volts or the setting's unit, None if no number."""
        found = self.setting(device, setting, input_)
        if found is None or not isinstance(found.recommended, Figure | Unknown):
            return None
        return found.at_posts or found.recommended

    @property
    def _index(self) -> dict[tuple[str, str, Input | None], Setting]:
        made: dict[tuple[str, str, Input | None], Setting] | None = self.__dict__.get("_made_index")
        if made is None:
            made = {setting.key: setting for setting in self.settings}
            self.__dict__["_made_index"] = made
        return made

    def worst(self) -> Kind | None:
        """Return the worst kind of finding, None where there is none."""
        kinds = {finding.kind for finding in self.findings}
        return next((kind for kind in KINDS if kind in kinds), None)
