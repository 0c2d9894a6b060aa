"""What a small change is said to touch, held against what every check is seen to read."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator
from functools import cache
from typing import Any

import pytest

from commission.design.check import CHECKS, Look
from commission.design.touched import BY_SURGE, READ_BY, touched
from commission.design.types import Check, Remedy, Scene
from commission.plant import site
from commission.plant.change import Change, changed
from commission.plant.files import load_plant
from commission.plant.places import data_folder
from commission.plant.plant import Plant
from commission.plant.values import Model
from commission.sheet.settle import make_sheet

WATCHED = ("aldermere-clinic", "crookhollow-yard", "saltpan-station", "tarnwold-cabin")
SUBJECTS = {check.__name__.removeprefix("check_") for check in CHECKS}
SURGE = {"kind": "surge", "current": "dc", "voltage": 250.0, "poles": 2, "protects": "array"}
NEW_SURGE = Change("protection[surge-new]", SURGE)


@cache
def sample(name: str) -> Plant:
    return load_plant(data_folder("sample_sites") / f"{name}.toml").plant


@cache
def look(name: str) -> Look:
    return Look.at(sample(name))


def forgetful(plant: Plant) -> Plant:
    """Return the same plant with nothing worked out yet, so that whoever needs a field reads it."""
    copied = plant.model_copy()
    _forget(copied)
    return copied


def _forget(thing: Any) -> None:
    if isinstance(thing, Model):
        thing.__dict__.pop("_kept", None)
    inner = thing.__dict__ if isinstance(thing, Model) else thing
    if isinstance(inner, dict):
        inner = inner.values()
    if isinstance(inner, Iterator | tuple | list) or hasattr(inner, "mapping"):
        for one in inner:
            _forget(one)


def fields_of(key: str) -> tuple[type[Model], str]:
    """Return the model and the field that a key of the table names."""
    model: type[Model] = site.Site
    *way, last = key.split(".")
    for piece in way:
        inner = model.model_fields[piece].annotation
        while not (isinstance(inner, type) and issubclass(inner, Model)):
            inner = inner.__args__[0]  # type: ignore[union-attr]
        model = inner
    return model, last


def watched(monkeypatch: pytest.MonkeyPatch, run: Callable[[], object]) -> set[tuple[str, str]]:
    """Return the fields of the site's models that are read while something runs."""
    seen: set[tuple[str, str]] = set()
    plain = Model.__getattribute__

    def watching(self: Model, name: str) -> Any:
        if name in type(self).__pydantic_fields__:
            seen.add((type(self).__name__, name))
            if isinstance(self, site.Protection) and plain(self, "kind") == "surge":
                seen.add(("surge", name))
        return plain(self, name)

    with monkeypatch.context() as context:
        context.setattr(Model, "__getattribute__", watching, raising=False)
        run()
    return seen


@pytest.mark.parametrize("name", WATCHED)
def test_no_other_check_reads_a_key_of_the_table(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    plant = changed(sample(name), (NEW_SURGE,))
    sheet = make_sheet(plant)
    readers: defaultdict[tuple[str, str], set[str]] = defaultdict(set)
    for field in watched(monkeypatch, lambda: make_sheet(forgetful(plant))):
        readers[field].add("settings")
    for check in CHECKS:
        scene = Scene(forgetful(plant), sheet)
        for field in watched(monkeypatch, lambda check=check, scene=scene: _all_of(check, scene)):  # type: ignore[misc]
            readers[field].add(check.__name__.removeprefix("check_"))
    for key, subjects in READ_BY.items():
        owner, last = fields_of(key)
        assert readers[owner.__name__, last] <= set(subjects), key
    look_at = {
        subject for (model, field), each in readers.items() if _tells(model, field) for subject in each
    }
    assert look_at <= set(BY_SURGE)


def _tells(model: str, field: str) -> bool:
    """Whether a field of a surge device is more than what it takes to pass it over."""
    return model == "surge" and field not in {"id", "kind", "current", "of", "protects"}


def _all_of(check: Check, scene: Scene) -> list[tuple[Remedy, ...]]:
    return [tuple(found.remedies) for found in check(scene)]


def test_the_watch_sees_a_check_that_reads_more_than_it_says(monkeypatch: pytest.MonkeyPatch) -> None:
    plant = forgetful(sample("tarnwold-cabin"))
    seen = watched(monkeypatch, lambda: [one.interrupting for one in plant.site.protection])
    assert ("Protection", "interrupting") in seen


def test_every_subject_of_the_table_is_checked() -> None:
    assert {subject for subjects in (*READ_BY.values(), BY_SURGE) for subject in subjects} <= SUBJECTS


def test_an_unlisted_key_touches_everything() -> None:
    plant = sample("tarnwold-cabin")
    run = plant.site.runs[0].id
    assert touched(plant, (Change(f"runs[{run}].area", 95.0),)) is None
    assert touched(plant, (Change(f"runs[{run}].voltage", 95.0), Change("site.altitude", 9.0))) is None
    assert touched(plant, (NEW_SURGE,)) == frozenset(BY_SURGE)
    standing = plant.site.protection[0].id
    assert touched(plant, (Change(f"protection[{standing}]", SURGE),)) is None


def told(after: Any) -> dict[str, object]:
    """Return what a look found, to the last figure and remedy."""
    return {ident: (found.finding, tuple(found.remedies)) for ident, found in after.items()}


CASES = [
    ("protection", "interrupting", 10.0),
    ("protection", "voltage", 10.0),
    ("protection", "poles", 4),
    ("protection", "polarised", True),
    ("protection", "distance", 9.0),
    ("protection", "instant_trip", 90.0),
    ("protection", "residual_current", 3.0),
    ("runs", "earth_area", 1.5),
    ("runs", "voltage", 10.0),
    ("panels", "bus_bar", 1.0),
    ("panels", "neutral_bar_bonded", True),
    ("loads", "daily_energy", 99000.0),
    ("loads", "starting_power", 99000.0),
    ("data_cables", "length", 900.0),
    ("generators", "fuel_store", 1.0),
    ("generators", "neutral_switched", True),
]


@pytest.mark.parametrize(("section", "field", "value"), CASES, ids=str)
def test_what_is_taken_over_is_what_a_whole_check_finds(section: str, field: str, value: object) -> None:
    name = "aldermere-clinic"
    changes = tuple(
        Change(f"{section}[{part.id}].{field}", value) for part in getattr(sample(name).site, section)
    )
    assert changes
    assert touched(sample(name), changes) is not None
    made = changed(sample(name), changes)
    whole = Look.at(made).after
    assert told(look(name).again(made, changes)) == told(whole)
    assert list(look(name).again(made, changes)) == list(whole)


@pytest.mark.parametrize("name", ["aldermere-clinic", "crookhollow-yard", "tarnwold-cabin"])
def test_a_new_surge_device_is_taken_over_likewise(name: str) -> None:
    made = changed(sample(name), (NEW_SURGE,))
    assert told(look(name).again(made, (NEW_SURGE,))) == told(Look.at(made).after)
