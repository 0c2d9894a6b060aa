"""Whatever a site file holds, it loads or is refused with reasons: nothing else is ever raised."""

from __future__ import annotations

import copy
import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from commission.errors import SiteError
from commission.plant.files import plant_of
from commission.plant.places import data_folder
from commission.plant.toml import parsed
from tests.plant.sites import NOWHERE, content

_SAMPLES = ("tarnwold-cabin", "lowmarsh-pumps", "aldermere-clinic")
ODD = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.sampled_from([0, -1, 10**30, 10**400, -(10**400), 2**70]),
    st.floats(),
    st.text(max_size=12),
    st.sampled_from(["unknown", "none", "battery", "bank", "OL", ">5", "1,200 W", "2/0 AWG", "\x00"]),
    st.dates(),
    st.datetimes(),
    st.just(dt.time(12, 0)),
    st.lists(st.integers(), max_size=3),
    st.lists(st.dictionaries(st.text(max_size=4), st.integers(), max_size=2), max_size=2),
    st.dictionaries(st.text(max_size=6), st.one_of(st.integers(), st.text(max_size=4)), max_size=3),
)  # fmt: skip


def _refusal(make: Callable[[], Any]) -> SiteError | None:
    """Return the error with which a file is refused; None where it loads."""
    try:
        make()
    except SiteError as error:
        return error
    return None


def _loads_or_is_refused(data: dict[str, Any]) -> None:
    refused = _refusal(lambda: plant_of(data, NOWHERE))
    if refused is not None:
        assert refused.problems
        assert all(problem.key and problem.wrong for problem in refused.problems)
        assert str(refused).replace("\n", "").isprintable()


def _places(data: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    found = [path] if path else []
    if isinstance(data, dict | list):
        for key, value in data.items() if isinstance(data, dict) else enumerate(data):
            found += _places(value, (*path, key))
    return found


PLACES = {name: _places(content(name)) for name in _SAMPLES}


def changed(data: dict[str, Any], path: tuple[Any, ...], how: str, value: Any) -> None:
    owner: Any = data
    for step in path[:-1]:
        owner = owner[step] if _has(owner, step) else None
    if not _has(owner, path[-1]):
        return
    if how == "replace":
        owner[path[-1]] = value
    elif how == "remove":
        del owner[path[-1]]
    elif how == "rename" and isinstance(owner, dict):
        owner[f"{path[-1]}x"] = owner.pop(path[-1])
    elif how == "add" and isinstance(owner[path[-1]], dict):
        owner[path[-1]]["added"] = value
    elif how == "double" and isinstance(owner[path[-1]], list):
        owner[path[-1]] += copy.deepcopy(owner[path[-1]])


def _has(owner: Any, step: Any) -> bool:
    if isinstance(owner, dict):
        return step in owner
    return isinstance(owner, list) and isinstance(step, int) and step < len(owner)


@settings(max_examples=300, deadline=None)
@given(st.data())
def test_a_changed_site_loads_or_is_refused_with_reasons(data):
    name = data.draw(st.sampled_from(_SAMPLES))
    site = content(name)
    for _ in range(data.draw(st.integers(1, 4))):
        path = data.draw(st.sampled_from(PLACES[name]))
        how = data.draw(st.sampled_from(["replace", "replace", "remove", "rename", "add", "double"]))
        changed(site, path, how, data.draw(ODD))
    _loads_or_is_refused(site)


@pytest.mark.parametrize("name", _SAMPLES)
@pytest.mark.parametrize(
    "value", [None, True, 10**400, float("nan"), "\x1b", "unknown", [], {}, [[]], dt.date(2024, 2, 29)]
)
def test_each_value_replaced_by_an_odd_one_loads_or_is_refused(name, value):
    top = [path for path in PLACES[name] if len(path) <= 3]
    for path in top[:: max(1, len(top) // 60)]:
        site = content(name)
        changed(site, path, "replace", value)
        _loads_or_is_refused(site)


_RAW = (data_folder("sample_sites") / "tarnwold-cabin.toml").read_bytes()


@settings(max_examples=300, deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(0, len(_RAW) - 1), st.integers(0, 6), st.binary(max_size=6)),
        min_size=1,
        max_size=4,
    )
)
def test_damaged_bytes_load_or_are_refused_with_reasons(damages):
    raw = bytearray(_RAW)
    for begin, length, put in damages:
        raw[begin : begin + length] = put
    refused = _refusal(lambda: parsed(bytes(raw), "site.toml"))
    if refused is not None:
        assert refused.problems[0].key == "file"
    else:
        _loads_or_is_refused(parsed(bytes(raw), "site.toml"))


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=200))
def test_any_bytes_are_toml_or_refused(raw):
    refused = _refusal(lambda: parsed(raw, "site.toml"))
    assert refused is None or str(refused).isprintable()


@settings(max_examples=200, deadline=None)
@given(st.text(alphabet="ab.=[]{}\"'#\n 19-_:T,\\", max_size=80))
def test_text_that_looks_like_toml_is_toml_or_refused(text):
    refused = _refusal(lambda: parsed(text.encode(), "site.toml"))
    assert refused is None or str(refused).isprintable()
