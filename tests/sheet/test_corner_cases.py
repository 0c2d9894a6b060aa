"""Cases in which a number would be formally right and still mislead the person at the site."""

from __future__ import annotations

from pathlib import Path

from commission import plain
from commission.figure import Figure
from commission.plant.files import load_plant
from commission.plant.places import site_path
from commission.sheet.settle import make_sheet
from tests.builders import plant


def test_a_nickel_iron_bank_is_full_by_voltage_alone_and_the_sheet_says_so() -> None:
    """Its current does not taper, so the monitor gets the longest time that it takes (3600 s)."""
    sheet = make_sheet(load_plant(site_path(Path("brackling-forge"))).plant)
    held = sheet.value("monitor-1", "monitor_full_time")
    assert isinstance(held, Figure)
    assert held.value == 3600
    assert any(finding.check == "full-by-voltage-alone" for finding in sheet.findings)


def test_a_device_lowered_for_its_slope_is_not_told_to_go_back_up() -> None:
    """Lithium with a fixed slope and a cold bank: lowered, and not reported as disagreeing."""
    slope = {"temperature_coefficient": {"unit": "mV/K", "fixed": -4.0, "basis": "per cell"}}
    device = {
        "id": "inv-1",
        "profile": "inverter-48v-120-3600",
        "datasheet": {"settings": slope, "unplugged_temperature": "unknown"},
    }
    cold = {"coldest_battery": -5.0, "coldest_month_battery": -2.0}
    sheet = make_sheet(plant("lfp", cells_per_block=16, blocks=1, inverters=(device,), place=cold))
    checks = {finding.check for finding in sheet.findings}
    assert "slope-overcharges" in checks
    assert "sources-disagree" not in checks


def test_printed_ends_of_a_range_are_rounded_inward() -> None:
    """What is printed as acceptable may be entered: the low end goes up, the high end down."""
    for path in ("saltpan-station", "skarnow-lodge", "harrowick-relay", "quillon-farm"):
        loaded = load_plant(site_path(Path(path))).plant
        for setting in make_sheet(loaded).settings:
            text = plain.range_text(setting, "metric")
            if not isinstance(setting.high, Figure) or not text.startswith("at most ") or setting.unit == "s":
                continue
            shown = float(text.removeprefix("at most ").split()[0].replace("−", "-"))
            assert shown <= setting.high.value + 1e-6, (setting.key, text, setting.high.value)
