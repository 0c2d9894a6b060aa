"""Values of a site file that can be right but look like another unit's: told, never changed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, Final

from commission.errors import Problem
from commission.plant.explain import printable, problem

_HOTTEST: Final = 60.0
"""°C that neither air nor a battery has anywhere; no desert on record comes near."""
_TEMPERATURES: Final = frozenset(
    {
        "coldest_ambient", "hottest_ambient", "coldest_battery", "hottest_battery", "coldest_month_battery",
        "hottest_month_battery", "mean_battery", "room_temperature", "ambient",
    }
)  # fmt: skip
_AREAS: Final = frozenset({"area", "earth_area", "electrode_conductor", "dc_conductor"})
_METRIC: Final = frozenset(
    {0.5, 0.75, 1, 1.5, 2.5, 4, 6, 10, 16, 25, 35, 50, 70, 95, 120, 150, 185, 240, 300, 400, 500, 630}
)
"""Conductor sizes in mm² of IEC 60228."""
_AWG: Final = frozenset({1, 2, 3, 4, 6, 8, 10, 12, 14, 16, 18, 20})
"""American wire gauges that are whole numbers; ASTM B258."""
_KCMIL: Final = frozenset({250, 300, 350, 400, 500, 600, 700, 750, 800, 900, 1000})


def doubts(data: Mapping[str, Any], file: str) -> Iterator[Problem]:
    """Yield numbers of a site file that are taken in the unit of their key and look like another unit's."""
    site = data.get("site")
    us = isinstance(site, Mapping) and site.get("units") == "us"
    for key, name, value in _numbers("", data):
        if name in _TEMPERATURES and value > _HOTTEST:
            yield _taken(file, key, value, "°C", "°F")
        elif name in _AREAS:
            gauge = _gauge(value, us=us)
            if gauge:
                yield _taken(file, key, value, "mm²", gauge)


def _gauge(value: float, *, us: bool) -> str:
    """Return the US unit that a bare area looks like; on a metric site a metric size looks like itself."""
    if not us and value in _METRIC:
        return ""
    if value in _AWG:
        return "AWG"
    return "kcmil" if us and value in _KCMIL else ""


def _taken(file: str, key: str, value: float, unit: str, other: str) -> Problem:
    number = f"{value:g}"
    return problem(
        file, key, number, f"is taken as {number} {unit}", f'write "{number} {other}" if it is that'
    )


def _numbers(key: str, data: Any) -> Iterator[tuple[str, str, float]]:
    """Yield the bare numbers of tables and lists of tables, each with its key and name."""
    if not isinstance(data, Mapping):
        return
    for name, item in data.items():
        inner = f"{key}.{printable(str(name))}".lstrip(".")
        if isinstance(item, int | float) and not isinstance(item, bool):
            yield inner, str(name).rsplit(".", 1)[-1], float(item)
        elif isinstance(item, list):
            for place, one in enumerate(item, start=1):
                ident = one.get("id") if isinstance(one, Mapping) else None
                at = printable(ident) if isinstance(ident, str) else f"number {place}"
                yield from _numbers(f"{inner}[{at}]", one)
        else:
            yield from _numbers(inner, item)
