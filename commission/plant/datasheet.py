"""Values of the installed model's own datasheet, laid over its profile."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from difflib import get_close_matches
from typing import Any, Final

from commission.errors import Problem, SiteError
from commission.plant.battery import BatteryProfile, Datum
from commission.plant.explain import printable, problem
from commission.plant.values import UNKNOWN, Measured, Model

_KEPT: Final = frozenset({"format", "id", "kind"})
"""What a profile is; another one is named instead of replacing these."""


def merged(base: Mapping[str, Any], over: Mapping[str, Any]) -> dict[str, Any]:
    """Return one nested dictionary laid over another."""
    result = dict(base)
    for key, value in over.items():
        standing = result.get(key)
        if isinstance(standing, Mapping) and isinstance(value, Mapping):
            result[key] = merged(standing, value)
        else:
            result[key] = value
    return result


def odd_names(own: Mapping[str, Any], model: type[Model], file: str, key: str) -> Iterator[Problem]:
    """Yield a problem for each datasheet value that the profile has no field for, or must not lose."""
    kept = _KEPT if "id" in model.model_fields else frozenset[str]()  # a part of a profile is no profile
    known = sorted(set(model.model_fields) - kept)
    for name in own:
        if name not in known:
            near = get_close_matches(name, known, n=1, cutoff=0.5)
            right = f"did you mean {near[0]}?" if near else f"known: {', '.join(known)}"
            yield problem(file, f"{key}.{printable(name)}", "", "the profile has no such value", right)


def battery_values(profile: BatteryProfile, own: Mapping[str, Any], file: str, key: str) -> dict[str, Any]:
    """Return the content of a battery profile with the datasheet's values over it.

    Raises
    ------
    SiteError
        With every name that the profile does not have and every value that cannot be read.
    """
    problems = list(odd_names(own, BatteryProfile, file, key))
    data = profile.model_dump()
    for name, value in own.items():
        if name not in data:
            continue
        try:
            data[name] = _in_form(getattr(profile, name), value, _unit(name))
        except ValueError as error:
            problems.append(problem(file, f"{key}.{name}", printable(str(value)), str(error), ""))
    if problems:
        raise SiteError(problems)
    return data


def _in_form(standing: Any, value: Any, unit: str) -> Any:
    """Return a datasheet value in the profile's form, its range widened where the value lies outside."""
    if not isinstance(standing, Datum):
        return value
    source = {"source": "datasheet of the installed battery", "known": "seen"}
    if isinstance(value, Mapping):
        ends = {name: _number(value[name], unit) for name in ("value", "low", "high") if name in value}
        return source | dict(value) | ends
    number = _number(value, unit)
    own: dict[str, Any] = {"value": number, **source}
    if isinstance(number, float):
        own["low"] = number if standing.low is None else min(standing.low, number)
        own["high"] = number if standing.high is None else max(standing.high, number)
    return own


def _number(value: Any, unit: str) -> float | str:
    if value == "none":
        return "none"
    read = Measured(unit).read(value)
    return UNKNOWN if read == UNKNOWN else float(read)


def _unit(name: str) -> str:
    extra = BatteryProfile.model_fields[name].json_schema_extra
    return str(extra["unit"]) if isinstance(extra, dict) else "1"
