"""What tests of screens share: a stylesheet is parsed once, however many apps are started."""

from __future__ import annotations

from textual.css.model import RuleSet
from textual.css.stylesheet import Stylesheet

_PARSED: dict[tuple[object, ...], list[RuleSet]] = {}
_parse_rules = Stylesheet._parse_rules


def _parsed_once(
    sheet: Stylesheet, css: str, read_from: tuple[str, str], *told: object, **named: object
) -> list[RuleSet]:
    """Return the rules of a text as parsed with these colours before: an app keeps them likewise, for itself.

    A seventh of the time of all tests of screens went into it.
    """
    key = (frozenset(sheet._variables.items()), css, read_from, told, *sorted(named.items()))
    if key not in _PARSED:
        _PARSED[key] = _parse_rules(sheet, css, read_from, *told, **named)  # type: ignore[arg-type]
    return _PARSED[key]


Stylesheet._parse_rules = _parsed_once  # type: ignore[method-assign,assignment]
