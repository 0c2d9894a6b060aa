"""Whole random plants: every chemistry, 12 to 48 V, hot and cold sites, any number of sources.

``plants()`` draws what the loader would accept: profiles of the program's own, ids that exist, and here and
there ``unknown`` where a person would not have known either.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from hypothesis import strategies as st

from commission.plant.check import problems_between_parts
from commission.plant.equipment import (
    ChargeControllerClass,
    EquipmentClass,
    GeneratorClass,
    InverterChargerClass,
)
from commission.plant.plant import Plant
from commission.plant.site import Site
from tests.profiles import shelf

Draw = st.DrawFn


class RandomPlant(Plant):
    """A plant that shows itself as the site it was built from, which ``built`` takes again."""

    def __repr__(self) -> str:
        site = self.site.model_dump(by_alias=True, exclude_unset=True)
        return f"built({site!r})"


CELLS: Final[dict[str, dict[int, int]]] = {
    "lead": {12: 6, 24: 12, 48: 24},
    "nickel": {12: 10, 24: 20, 48: 40},
    "lfp": {12: 4, 24: 8, 48: 16},
    "nmc": {12: 3, 24: 7, 48: 14},
    "lto": {12: 5, 24: 10, 48: 20},
}
"""Cells in series by family, or by profile where lithium cells differ, for each nominal voltage."""

NAMED: Final[dict[str, EquipmentClass]] = {ident: shelf.equipment(ident) for ident in shelf.EQUIPMENT}


def _of_kind(kind: str) -> list[str]:
    return [ident for ident, found in NAMED.items() if found.kind == kind]


INVERTERS: Final = _of_kind("inverter_charger")
CONTROLLERS: Final = _of_kind("charge_controller")
AC_PV: Final = _of_kind("ac_pv_inverter")
GENERATORS: Final = _of_kind("generator")
MONITORS: Final = _of_kind("battery_monitor")


def cells_of(chemistry: str, nominal: int) -> int:
    """Return the cells in series of a bank of a chemistry for a nominal voltage."""
    family = shelf.battery(chemistry).family
    return CELLS[family if family in CELLS else chemistry][nominal]


def or_unknown(values: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    """Return a strategy that now and then does not know."""
    return st.integers(0, 8).flatmap(lambda luck: st.just("unknown") if luck == 8 else values)


def numbers(low: float, high: float) -> st.SearchStrategy[float]:
    """Return plain numbers as people write them, to a tenth."""
    return st.integers(round(low * 10), round(high * 10)).map(lambda tenths: tenths / 10.0)


@st.composite
def places(draw: Draw, rules: str) -> dict[str, Any]:
    """Return a place, hot or cold, low or high, with temperatures in their order."""
    coldest = draw(numbers(-25, 22))
    hottest = draw(numbers(max(coldest + 1, 18), 48))
    middle = (coldest + hottest) / 2
    place: dict[str, Any] = {
        "id": "random-site",
        "name": "Random site",
        "place": "nowhere",
        "rules": rules,
        "units": shelf.rules(rules).units,
        "altitude": draw(or_unknown(numbers(-50, 3900))),
        "coldest_battery": coldest,
        "hottest_battery": hottest,
        "coldest_month_battery": draw(st.sampled_from([(coldest + middle) / 2, coldest, "unknown"])),
        "hottest_month_battery": draw(st.sampled_from([(hottest + middle) / 2, hottest, "unknown"])),
        "mean_battery": draw(st.sampled_from([middle, "unknown"])),
        "coldest_ambient": draw(or_unknown(numbers(coldest - 15, coldest))),
        "hottest_ambient": draw(or_unknown(numbers(hottest, 50))),
        "room_temperature": draw(or_unknown(numbers(20, 45))),
    }
    if draw(st.integers(0, 9)) == 0:
        place |= {"coldest_battery": "unknown", "hottest_battery": "unknown"}
    return place


@st.composite
def banks(draw: Draw, chemistry: str, nominal: int) -> dict[str, Any]:
    """Return a bank of one chemistry."""
    cells = cells_of(chemistry, nominal)
    blocks = draw(st.sampled_from([count for count in (1, 2, 4, cells) if cells % count == 0]))
    count = draw(st.integers(1, 4))
    bank: dict[str, Any] = {
        "profile": chemistry,
        "cells_per_block": cells // blocks,
        "blocks_in_series": blocks,
        "strings": [{"id": f"string-{number}"} for number in range(1, count + 1)],
        "capacity": float(draw(st.integers(4, 120)) * 10),
        "capacity_rate": draw(st.sampled_from(["unknown", 5.0, 10.0, 20.0, 100.0])),
        "standing_draw": draw(or_unknown(numbers(0, 30))),
    }
    if shelf.battery(chemistry).managed and draw(st.integers(0, 5)) > 0:
        bank["management"] = draw(managements(chemistry))
    return bank


@st.composite
def managements(draw: Draw, chemistry: str) -> dict[str, Any]:
    """Return the management of a lithium bank, its cut-off at the ceiling or a little over it."""
    ceiling = shelf.battery(chemistry).ceiling_voltage.value
    assert isinstance(ceiling, float)
    low = shelf.battery(chemistry).end_of_discharge_voltage.value
    assert isinstance(low, float)
    return {
        "data_link": draw(or_unknown(st.booleans())),
        "charge_current": draw(or_unknown(numbers(20, 300))),
        "discharge_current": draw(or_unknown(numbers(20, 300))),
        "cut_off_high": draw(or_unknown(st.sampled_from([ceiling, ceiling + 0.05]))),
        "cut_off_low": draw(or_unknown(st.just(low))),
        "charge_permit_contact": draw(or_unknown(st.booleans())),
        "tells_zero_before_opening": draw(or_unknown(st.booleans())),
        "charge_low_temperature": draw(or_unknown(st.just(0.0))),
    }


def _source(draw: Draw, ident: str, profile: str) -> dict[str, Any]:
    made: dict[str, Any] = {
        "id": ident,
        "profile": profile,
        "sensor_fitted": draw(or_unknown(st.booleans())),
        "silence": {
            "after": draw(or_unknown(st.sampled_from([0.0, 10.0, 60.0, 600.0]))),
            "does": draw(st.sampled_from(["stops", "carries on alone", "unknown"])),
        },
    }
    if draw(st.integers(0, 9)) == 0:
        made["least_useful_current"] = draw(or_unknown(numbers(1, 40)))
    return made


@st.composite
def arrays(draw: Draw) -> dict[str, Any]:
    """Return a PV array that need not fit its controller."""
    voltage = draw(numbers(18, 55))
    return {
        "module_power": draw(or_unknown(st.integers(5, 60).map(lambda tens: tens * 10.0))),
        "open_circuit_voltage": round(voltage * 1.2, 1),
        "short_circuit_current": draw(or_unknown(numbers(4, 15))),
        "maximum_power_voltage": voltage,
        "maximum_power_current": draw(or_unknown(numbers(4, 14))),
        "voltage_coefficient": -0.3,
        "current_coefficient": 0.05,
        "power_coefficient": -0.38,
        "series": draw(or_unknown(st.integers(1, 4))),
        "strings": [{"id": "placeholder"}] * draw(st.integers(1, 5)),
    }


def _inverters(draw: Draw, nominal: int, volts: float, most: int) -> list[dict[str, Any]]:
    fitting = [ident for ident in INVERTERS if _fits_inverter(ident, nominal, volts)]
    count = draw(st.integers(0, most)) if fitting else 0
    if not count:
        return []
    alike = draw(st.booleans())
    profile = draw(st.sampled_from(fitting))
    made = []
    for number in range(1, count + 1):
        device = _source(draw, f"inverter-{number}", profile if alike else draw(st.sampled_from(fitting)))
        device |= {
            "group": "supply" if alike and count > 1 else None,
            "group_role": "alone" if count == 1 else "reference" if number == 1 else "follower",
            "group_leg": draw(st.sampled_from(["1", "1", "2", "3", "both", "unknown"])),
        }
        made.append({key: value for key, value in device.items() if value is not None})
    return made


def _fits_inverter(ident: str, nominal: int, volts: float) -> bool:
    found = NAMED[ident]
    assert isinstance(found, InverterChargerClass)
    return found.nominal_voltage == nominal and found.ac_voltage == volts


def _controllers(draw: Draw, nominal: int, most: int) -> list[dict[str, Any]]:
    fitting = []
    for ident in CONTROLLERS:
        found = NAMED[ident]
        assert isinstance(found, ChargeControllerClass)
        if found.nominal_voltage == nominal:
            fitting.append(ident)
    made = []
    for number in range(1, draw(st.integers(0, most)) + 1):
        device = _source(draw, f"controller-{number}", draw(st.sampled_from(fitting)))
        if draw(st.integers(0, 7)) > 0:
            array = draw(arrays())
            names = [f"array-{number}-{index}" for index in range(1, len(array["strings"]) + 1)]
            device["array"] = array | {"strings": [{"id": name} for name in names]}
        made.append(device)
    return made


def _generators(draw: Draw, volts: float, most: int) -> list[dict[str, Any]]:
    fitting = []
    for ident in GENERATORS:
        found = NAMED[ident]
        assert isinstance(found, GeneratorClass)
        if found.ac_voltage == volts:
            fitting.append(ident)
    return [
        {
            "id": f"generator-{number}",
            "profile": draw(st.sampled_from(fitting)),
            "load_while_charging": draw(or_unknown(numbers(0, 4000))),
        }
        for number in range(1, draw(st.integers(0, most)) + 1)
    ]


def _ac_pv(draw: Draw, volts: float, most: int) -> list[dict[str, Any]]:
    fitting = [ident for ident in AC_PV if (getattr(NAMED[ident], "ac_voltage") < 235) == (volts > 200)]  # noqa: B009 - a field of one kind only
    return [
        {
            "id": f"ac-pv-{number}",
            "profile": draw(st.sampled_from(fitting)),
            "leg": draw(st.sampled_from(["1", "2", "both", "all"])),
            "array_power": draw(or_unknown(numbers(1000, 6000))),
        }
        for number in range(1, draw(st.integers(0, most)) + 1)
    ]


def _utility(draw: Draw, volts: float) -> dict[str, Any] | None:
    if draw(st.integers(0, 2)):
        return None
    return {
        "ac_voltage": draw(or_unknown(st.just(volts))),
        "connection": draw(st.sampled_from(["single", "split" if volts < 200 else "three", "unknown"])),
        "supply_breaker": draw(or_unknown(st.sampled_from([16.0, 32.0, 50.0, 63.0]))),
        "load_while_charging": draw(or_unknown(numbers(0, 4000))),
    }


def _connect(draw: Draw, site: dict[str, Any]) -> None:
    """Put AC sources on the inputs of the inverters, here and there none."""
    generators = [generator["id"] for generator in site["generators"]]
    for inverter in site["inverter_chargers"]:
        inputs = {}
        if generators and draw(st.integers(0, 5)) > 0:
            inputs["generator"] = draw(st.sampled_from(generators))
        if site.get("utility") and draw(st.integers(0, 3)) > 0:
            inputs["utility"] = "utility"
        inverter["inputs"] = inputs


def _wire(draw: Draw, site: dict[str, Any]) -> None:
    """Give the plant a main run and protection, and some sources their own, as far as they are known."""
    runs, guards = [], []
    if draw(st.booleans()):
        site["panels"] = [{"id": "dc-panel", "kind": "dc"}]
        guards.append(_guard(draw, "fuse-main", "fuse", "bank"))
        runs.append(_run(draw, "run-main", "bank", "dc-panel") | {"protection": "fuse-main"})
    for device in (*site["inverter_chargers"], *site["charge_controllers"]):
        if draw(st.integers(0, 3)) == 0:
            ident = device["id"]
            guards.append(_guard(draw, f"breaker-{ident}", "breaker", "device"))
            runs.append(_run(draw, f"run-{ident}", ident, "bank"))
            device |= {"run": f"run-{ident}", "protection": f"breaker-{ident}"}
    site["runs"], site["protection"] = runs, guards


def _guard(draw: Draw, ident: str, kind: str, protects: str) -> dict[str, Any]:
    ratings = [50.0, 80.0, 125.0, 175.0, 250.0, 400.0]
    return {
        "id": ident,
        "kind": kind,
        "current": "dc",
        "rating": draw(or_unknown(st.sampled_from(ratings))),
        "full_rated": draw(st.booleans()),
        "protects": protects,
    }


def _run(draw: Draw, ident: str, start: str, end: str) -> dict[str, Any]:
    return {
        "id": ident,
        "kind": "dc",
        "from": start,
        "to": end,
        "area": draw(or_unknown(st.sampled_from([16.0, 35.0, 53.5, 70.0, 107.2]))),
        "conductors": draw(st.integers(1, 3)),
        "length": draw(or_unknown(numbers(0.5, 12))),
        "material": draw(st.sampled_from(["copper", "copper", "aluminium", "unknown"])),
        "insulation_temperature": draw(or_unknown(st.sampled_from([75.0, 90.0]))),
        "terminal_temperature": draw(or_unknown(st.sampled_from([75.0, 90.0]))),
        "ambient": draw(or_unknown(numbers(20, 50))),
        "grouped": draw(st.integers(1, 4)),
    }


def _coordinate(draw: Draw, site: dict[str, Any]) -> None:
    """Coordinate some of the sources, by one of them, by the monitor or by nobody that is named."""
    sources = [device["id"] for device in (*site["inverter_chargers"], *site["charge_controllers"])]
    kind = draw(st.sampled_from(["none", "own outputs", "bank current"]))
    if kind == "none" or not sources:
        return
    monitor = [site["monitor"]["id"]] if site.get("monitor") else []
    controller = draw(st.sampled_from([*sources, *monitor, None]))
    members = draw(st.lists(st.sampled_from(sources), unique=True, max_size=len(sources)))
    site["coordination"] = {
        "kind": kind,
        "members": members,
        "silence": {"after": draw(or_unknown(st.just(30.0))), "does": "unknown"},
        **({} if controller is None else {"controller": controller}),
    }


def _interlock(draw: Draw, site: dict[str, Any]) -> None:
    sections = ("charge_controllers", "inverter_chargers", "ac_pv_inverters", "generators")
    running = [part["id"] for section in sections for part in site[section]]
    running += ["utility"] if site.get("utility") else []
    if len(running) < 2:
        return
    site["interlocks"] = [
        {
            "id": f"interlock-{number}",
            "one_of": draw(st.lists(st.sampled_from(running), min_size=2, max_size=4, unique=True)),
            "by": "contactor",
        }
        for number in range(1, draw(st.integers(0, 3)) + 1)
    ]


def _weigh(draw: Draw, site: Mapping[str, Any]) -> None:
    if draw(st.integers(0, 3)):
        return
    for device in (*site["inverter_chargers"], *site["charge_controllers"]):
        if draw(st.booleans()):
            device["weight"] = draw(st.sampled_from([0.5, 1.0, 2.0, 10.0]))


@st.composite
def plants(draw: Draw, *, inverters: int = 6, controllers: int = 6, chemistry: str | None = None) -> Plant:
    """Return a whole plant that the loader would accept.

    Parameters
    ----------
    inverters, controllers
        The most of each.
    chemistry
        Id of the battery profile; any where None.
    """
    chosen = draw(st.sampled_from(shelf.BATTERIES)) if chemistry is None else chemistry
    nominal = draw(st.sampled_from([12, 24, 48, 48]))
    rules = draw(st.sampled_from(["north-america", "iec-230"]))
    volts = 120.0 if rules == "north-america" else 230.0
    site: dict[str, Any] = {
        "format": 1,
        "site": draw(places(rules)),
        "bank": draw(banks(chosen, nominal)),
        "inverter_chargers": _inverters(draw, nominal, volts, inverters),
        "charge_controllers": _controllers(draw, nominal, controllers),
        "ac_pv_inverters": _ac_pv(draw, volts, 2),
        "generators": _generators(draw, volts, 2),
        "expected": {
            "load": draw(or_unknown(numbers(50, 3000))),
            "least_load": draw(or_unknown(numbers(0, 200))),
        },
    }
    utility = _utility(draw, volts)
    if utility is not None:
        site["utility"] = utility
    if draw(st.booleans()):
        site["monitor"] = {"id": "monitor-1", "profile": draw(st.sampled_from(MONITORS))}
    for shape in (_connect, _wire, _coordinate, _interlock, _weigh):
        shape(draw, site)
    return built(site)


def built(site: Mapping[str, Any], **changed: Any) -> Plant:
    """Return a plant from a site's data and cached profiles; ``changed`` replaces classes by device id."""
    made = Site.model_validate(dict(site))
    devices: Sequence[Any] = (
        *made.inverter_chargers,
        *made.charge_controllers,
        *made.ac_pv_inverters,
        *made.generators,
        *(() if made.monitor is None else (made.monitor,)),
    )
    equipment = {device.id: NAMED[device.profile] for device in devices} | changed
    problems = problems_between_parts(made, equipment, "random.toml")
    assert not problems, problems
    battery, rules = shelf.battery(made.bank.profile), shelf.rules(made.site.rules)
    return RandomPlant(site=made, battery=battery, equipment=equipment, rules=rules)
