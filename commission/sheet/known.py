"""What is known counts, and what is not known is said: never a limit that passes in silence."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

from commission.figure import Figure, Gap, Quantity, Unknown, least
from commission.plant.values import in_words
from commission.sheet.draft import Draft
from commission.sheet.types import Finding

_CAPITALS: Final = {"ac": "AC", "dc": "DC", "pv": "PV"}
_WORDS: Final = {
    "ac-feed": "charging from the AC source",
    "ac-source": "current taken from the AC source",
    "array-run": "ampacity and voltage drop of the array",
    "backfeed": "charge limit for AC-coupled power",
    "bank-limit": "charge limit of the bank",
    "bank-limit-part": "charge limit of the bank by its wiring",
    "bank-sag": "voltage of the bank under load",
    "bank-start": "voltage of the bank when a load starts",
    "bus-maximum": "greatest voltage on the DC bus",
    "circuit": "current of the circuit",
    "clamp-in-the-cold": "charging voltage in the cold",
    "coupled-power": "AC-coupled power against the bank's limit",
    "drop-alternating": "voltage drop",
    "drop-array": "voltage drop of the array",
    "drop-controller": "voltage drop to the controller",
    "drop-direct-load": "voltage drop to the load",
    "drop-inverter": "voltage drop to the inverter",
    "earth-conductor": "size of the protective conductor",
    "full-time": "time at which the monitor counts the bank as full",
    "order-open": "order of the settings:",
    "panel-main": "main device of the panel",
    "pv-over-inverters": "PV power against the inverters",
    "setting-open": "setting",
    "sharing": "sharing of the charge current",
    "slope-mismatch": "temperature slope",
    "source-limit": "charge limit of the source",
    "word-unknown": "setting",
}
"""Checks whose name alone does not say what they look at."""


def check_words(check: str, setting: str | None = None) -> str:
    """Return what a check looks at, in the words of the trade: ``voltage drop``, ``fault level``."""
    words = _WORDS.get(check) or " ".join(_CAPITALS.get(word, word) for word in check.split("-"))
    return f"{words} {in_words(setting).replace('-', ' ')}" if setting else words


def not_checked(
    check: str, parts: tuple[str, ...], missing: Sequence[str], setting: str | None = None
) -> Finding:
    """Return the finding that something could not be checked, for want of what, and where that is stated."""
    gaps = tuple(dict.fromkeys(missing))
    return Finding(
        "not checked",
        check,
        parts,
        f"{check_words(check, setting)} not checked: {unknown_words(gaps)}",
        what_helps(gaps),
        setting=setting,
        missing=gaps,
    )


def unknown_words(gaps: Iterable[str]) -> str:
    """Return what is not known, as the end of a sentence."""
    return ", ".join(gaps).removesuffix(" unknown") + " unknown"


def what_helps(gaps: Iterable[str]) -> str:
    """Return which keys of the site file to state, or what helps where no key tells it."""
    told = [one if isinstance(one, Gap) else Gap(one) for one in gaps]
    keys = dict.fromkeys(one.key for one in told if one.key)
    helps = dict.fromkeys(one.helps for one in told if one.helps)
    state = [f"state {', '.join(keys)}"] if keys else []
    return "; ".join((*state, *helps))


def least_known(
    draft: Draft, name: str, candidates: Sequence[Quantity], *, check: str, parts: tuple[str, ...]
) -> Quantity:
    """Return the least of the candidates that are known; what is not known becomes a finding and a note.

    A limit from the known candidates is a real limit; it may be lower once the rest is known. Only where no
    candidate is known is the limit itself not known.
    """
    known = [item for item in candidates if isinstance(item, Figure)]
    missing = gaps(candidates)
    if missing:
        draft.find(not_checked(check, parts, missing))
    if not known:
        return Unknown(missing, candidates[0].unit, name)
    made = least(name, *known)
    return made.named(name, f"may be lower: {', '.join(missing)} not known") if missing else made


def gaps(quantities: Sequence[Quantity]) -> tuple[str, ...]:
    """Return everything that is missing for several quantities, each once."""
    unknown = [item for item in quantities if isinstance(item, Unknown)]
    return tuple(dict.fromkeys(gap for item in unknown for gap in item.missing))
