"""The plant's digest, and the words by which two people make sure over a telephone that both mean it."""

from __future__ import annotations

import hashlib
import math
from json.encoder import encode_basestring
from typing import Any, Final

from commission.checklist.types import Checklist
from commission.plant.plant import Plant

WORDS: Final = (
    "anchor", "apple", "arrow", "autumn", "badger", "barley", "basket", "beacon", "beetle", "bridge",
    "bucket", "butter", "cabin", "candle", "canvas", "carrot", "castle", "cedar", "cherry", "chimney",
    "cinder", "clover", "cobalt", "copper", "cotton", "cradle", "crane", "cricket", "dagger", "daisy",
    "desert", "dolphin", "donkey", "dragon", "eagle", "ember", "engine", "falcon", "feather", "fiddle",
    "flint", "forest", "garden", "ginger", "glacier", "gravel", "hammer", "harbour", "hazel", "helmet",
    "honey", "island", "ivory", "jacket", "jungle", "kettle", "ladder", "lantern", "lemon", "linen",
    "magnet", "maple", "marble", "meadow",
)  # fmt: skip
"""Sixty-four plain words, so that each carries six bits."""
_COUNT: Final = 5
"""Words read out: thirty bits, far more than anybody guesses while the other listens."""


def canonical_json(value: Any) -> bytes:
    """Return a value as canonical JSON (RFC 8785): keys by UTF-16 units, no white space, shortest numbers.

    Raises
    ------
    ValueError
        If it holds what JSON cannot: a number that is not finite, or a kind of value that it has not.
    """
    return "".join(_pieces(value)).encode("utf-8")


def _pieces(value: Any) -> list[str]:
    if isinstance(value, str):
        return [encode_basestring(value)]  # what json.dumps calls in the end, at a fifth of the time
    if value is None or isinstance(value, bool):
        return ["null" if value is None else "true" if value else "false"]
    if isinstance(value, int | float):
        return [_number(float(value))]
    if isinstance(value, list | tuple):
        rows = ["".join(_pieces(item)) for item in value]
        return ["[", ",".join(rows), "]"]
    if isinstance(value, dict):
        keys = sorted(value, key=lambda key: key.encode("utf-16-be"))
        rows = [f"{encode_basestring(key)}:{''.join(_pieces(value[key]))}" for key in keys]
        return ["{", ",".join(rows), "}"]
    raise ValueError(f"{type(value).__name__} has no place in JSON")


def _number(value: float) -> str:
    """Return a number as ECMAScript writes it: shortest digits, exponent from 1e21 and under 1e-6 on."""
    if not math.isfinite(value):
        raise ValueError("JSON has finite numbers only")
    if value == 0.0:
        return "0"
    digits, _, power = f"{abs(value)!r}".partition("e")
    whole, _, part = digits.partition(".")
    shortest = (whole + part).lstrip("0")
    # place of the decimal point, counted from the first digit that is not zero
    point = len(whole) + int(power or 0) - (len(whole + part) - len(shortest))
    shortest = shortest.rstrip("0")
    return ("-" if value < 0 else "") + _laid_out(shortest, point)


def _laid_out(digits: str, point: int) -> str:
    count = len(digits)
    if count <= point <= 21:
        return digits + "0" * (point - count)
    if 0 < point <= 21:
        return f"{digits[:point]}.{digits[point:]}"
    if -6 < point <= 0:
        return f"0.{'0' * -point}{digits}"
    power = point - 1
    sign = "+" if power > 0 else "-"
    mantissa = digits if count == 1 else f"{digits[0]}.{digits[1:]}"
    return f"{mantissa}e{sign}{abs(power)}"


def plant_digest(plant: Plant) -> str:
    """Return the SHA-256 of the resolved plant as canonical JSON, in hex."""
    data = plant.model_dump(mode="json", by_alias=True, exclude_none=True)
    return hashlib.sha256(canonical_json(data)).hexdigest()


def walk_digest(checklist: Checklist) -> str:
    """Return the SHA-256 of a walk: which steps, for which parts, with which data."""
    whole = hashlib.sha256()
    told: set[str] = set()
    for step in checklist.steps:
        if step.data.id not in told:
            told.add(step.data.id)
            whole.update(step.data.model_dump_json().encode())
        whole.update(f"\n{step.data.id} {' '.join(step.parts)}\n".encode())
    return whole.hexdigest()


def confirmation_words(plant: Plant, finding: str) -> str:
    """Return the words that a second person reads out to release a finding.

    They prove that both looked at the same plant and the same finding, not who spoke.
    """
    whole = hashlib.sha256(f"{plant_digest(plant)}\n{finding}".encode()).digest()
    number = int.from_bytes(whole[:8])
    words = []
    for _ in range(_COUNT):
        number, place = divmod(number, len(WORDS))
        words.append(WORDS[place])
    return " ".join(words)
