"""Names of invented places and people, put together of syllables."""

from __future__ import annotations

from collections.abc import Iterator
from random import Random
from typing import Final

_FIRST: Final = (
    "al", "bra", "cor", "dun", "el", "fen", "gar", "hol", "ith", "kel", "lor", "mar", "nor", "os",
    "pel", "quar", "rav", "sel", "tor", "ul", "ver", "wen", "yar", "zel",
)  # fmt: skip
_MIDDLE: Final = (
    "a", "en", "i", "o", "ra", "le", "mi", "do", "ne", "ka", "vi", "su",
)  # fmt: skip
_LAST: Final = (
    "by", "croft", "dale", "fell", "ford", "gate", "holm", "ley", "mere", "moor", "ness", "rick",
    "stead", "thorpe", "toft", "wick", "wold", "worth",
)  # fmt: skip
_GIVEN: Final = (
    "Adela", "Bram", "Corin", "Delia", "Edric", "Fenna", "Gorm", "Hedda", "Ivo", "Jorun", "Kester",
    "Linnea", "Merrit", "Nils", "Orla", "Pero", "Runa", "Sorrel", "Tamsin", "Ulric", "Vesna",
    "Wystan", "Ysolt", "Zora",
)  # fmt: skip
_FAMILY: Final = (
    "ander", "bol", "car", "dorn", "esk", "fal", "grim", "har", "ist", "jor", "kal", "lund", "mos",
    "nor", "ost", "pry", "rosk", "stav", "tark", "ung", "vast", "wern",
)  # fmt: skip
_ENDING: Final = (
    "ak", "en", "ers", "ey", "ham", "ik", "in", "ley", "mark", "ow", "sen", "vik",
)  # fmt: skip


def places(random: Random) -> Iterator[str]:
    """Yield names of places, each once, without end."""
    known: set[str] = set()
    while True:
        made = random.choice(_FIRST) + random.choice(_MIDDLE) + random.choice(_LAST)
        if made in known:
            made = random.choice(_FIRST) + random.choice(_MIDDLE) + made
        if made not in known:
            known.add(made)
            yield made.capitalize()


def people(random: Random) -> Iterator[str]:
    """Yield names of people, each once, without end."""
    known: set[str] = set()
    while True:
        family = (random.choice(_FAMILY) + random.choice(_ENDING)).capitalize()
        name = f"{random.choice(_GIVEN)} {family}"
        if name in known:
            name = f"{name} {random.choice(_FIRST).capitalize()}{random.choice(_LAST)}"
        if name not in known:
            known.add(name)
            yield name
