"""Reading what a person typed, and showing it: values by the definitions of the units and ASTM B258."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from commission.errors import EntryError
from commission.unit_tables import ALIASES, SCALE
from commission.units import (
    Entry,
    area_in_gauge,
    awg_area,
    between_gauges,
    convert,
    plain,
    read_number,
    show,
    show_time,
    symbol_of,
)

# Exact by definition: 1 ft = 0.3048 m, 1 in = 25.4 mm (international yard, 1959); 0 °C = 32 °F;
# 1 lbf = 4.4482216152605 N, so 1 lbf·in = 0.1129848290 N·m and 1 lbf·ft = 1.3558179483 N·m.


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        pytest.param("13,2", "V", 13.2, id="decimal comma"),
        pytest.param("13.2V", "V", 13.2, id="unit without a space"),
        pytest.param("12,5 V", "V", 12.5, id="comma and unit"),
        pytest.param("1320mV", "V", 1.320, id="millivolt"),
        pytest.param("1320MV", "V", 1.320, id="capitals on"),
        pytest.param("1,285 V", "V", 1.285, id="a cell with a comma"),
        pytest.param("1,265", "kg/L", 1.265, id="a hydrometer with a comma"),
        pytest.param("77F", "°C", 25.0, id="fahrenheit"),
        pytest.param("-40 °F", "°C", -40.0, id="where both scales meet"),
        pytest.param("−20 °F", "°C", -260 / 9, id="true minus sign"),
        pytest.param("–5", "A", -5.0, id="dash of a document"),
        pytest.param("1e3", "A", 1000.0, id="exponent"),
        pytest.param(".5", "A", 0.5, id="no zero before the point"),
        pytest.param("+3", "A", 3.0, id="plus sign"),
        pytest.param("１３．２", "V", 13.2, id="wide digits"),
        pytest.param("١٣٫٢", "V", 13.2, id="arabic digits and mark"),
        pytest.param("\u200b13.2\u00a0V", "V", 13.2, id="invisible marks of a copy"),
        pytest.param("40 ft", "m", 12.192, id="feet"),
        pytest.param("40'", "m", 12.192, id="foot sign"),
        pytest.param("5' 6\"", "m", 1.6764, id="feet and inches"),
        pytest.param("7 in", "m", 0.1778, id="inches"),
        pytest.param("95 lb·in", "N·m", 95 * 0.1129848290, id="pound-force inches"),
        pytest.param("11 ft-lb", "N·m", 11 * 1.3558179483, id="pound-force feet"),
        pytest.param("22 Nm", "N·m", 22.0, id="newton metres"),
        pytest.param("200M", "Ω", 2e8, id="mega alone, for a resistance"),
        pytest.param("200 MOHM", "Ω", 2e8, id="mega in capitals"),
        pytest.param("200 mohm", "Ω", 0.2, id="milli in small letters"),
        pytest.param("3 mΩ", "Ω", 0.003, id="ohm sign"),
        pytest.param("80 %", "1", 0.8, id="percent"),
        pytest.param("5k", "W", 5000.0, id="kilo alone"),
        pytest.param("-0.29 %/°C", "%/K", -0.29, id="coefficient of a module"),
        pytest.param("-2 mV/F", "mV/K", -3.6, id="coefficient per fahrenheit"),
        pytest.param("10 mF", "F", 0.01, id="capacitance, not fahrenheit"),
        pytest.param("9 F", "K", 5.0, id="a difference in fahrenheit"),
        pytest.param("250 kcmil", "mm²", 126.677, id="circular mils"),
    ],
)
def test_what_a_person_types_is_understood(text, unit, value):
    assert read_number(text, unit).value == pytest.approx(value, rel=1e-5)


@pytest.mark.parametrize(
    ("text", "seconds"),
    [("1:30", 5400), ("0:00:45", 45), ("2 h 30", 9000), ("2h30min", 9000), ("90 min", 5400), ("45 m", 2700),
     ("1 min 30 s", 90), ("1 h 5 s", 3605), ("10 s", 10), ("120 min", 7200),
     ("2 d 3 h", 183600), ("90 d", 7776000), ("1,5 h", 5400), ("90", 90)],
)  # fmt: skip
def test_times_are_read_as_they_are_said(text, seconds):
    assert read_number(text, "s").value == pytest.approx(seconds)


def test_a_time_is_given_in_the_unit_that_is_wanted():
    assert read_number("2 h 30", "h").value == 2.5
    assert read_number("1:30", "min").value == 90.0
    assert read_number("20", "h").value == 20.0


@pytest.mark.parametrize("text", ["30 min 2 h", "2 h 30 V", "5 h 3 h", "90 30", "2 h 3 5"])
def test_parts_of_a_time_out_of_order_are_refused(text):
    with pytest.raises(EntryError):
        read_number(text, "s")


@pytest.mark.parametrize(
    ("size", "area"),
    # ASTM B258, nominal areas as its tables print them, in mm²
    [("10", 5.261), ("6", 13.30), ("4", 21.15), ("2", 33.62), ("1/0", 53.49), ("2/0", 67.43), ("4/0", 107.2),
     ("36", 0.01267)],
)  # fmt: skip
def test_wire_gauges_have_the_areas_of_their_standard(size, area):
    assert awg_area(size) == pytest.approx(area, rel=1e-3)
    assert read_number(f"{size} AWG", "mm²").value == pytest.approx(area, rel=1e-3)


@pytest.mark.parametrize("text", ["2/0", "00", "2/0AWG", "#2/0", "awg 2/0", "00 ga"])
def test_a_wire_gauge_may_be_written_in_every_usual_way(text):
    assert read_number(text, "mm²").value == awg_area("2/0")


def test_a_bare_number_of_a_cross_section_is_no_gauge():
    assert read_number("4", "mm²").value == 4.0


@pytest.mark.parametrize(
    ("text", "value", "side"),
    [
        pytest.param("OL", math.inf, "above", id="over range"),
        pytest.param("0.L M", math.inf, "above", id="over range as some meters show it"),
        pytest.param("-OL", -math.inf, "below", id="over range on the negative side"),
        pytest.param(">999", 999.0, "above", id="above"),
        pytest.param("≥ 200 M", 2e8, "above", id="at least"),
        pytest.param("<0.1", 0.1, "below", id="below"),
    ],
)
def test_one_sided_readings_keep_their_side(text, value, side):
    entry = read_number(text, "Ω")
    assert (entry.value, entry.side, entry.text) == (value, side, text)


@pytest.mark.parametrize(
    ("text", "unit", "decimals"),
    [("13.20", "V", 2), ("1320 mV", "V", 3), ("13", "V", 0), ("2.2 kW", "W", 0), ("1.32e3 mV", "V", 2),
     ("1.5e-3", "A", 4), ("12,34", "V", 2), ("0,5 mΩ", "Ω", 4)],
)  # fmt: skip
def test_the_digits_that_were_typed_are_counted(text, unit, decimals):
    assert read_number(text, unit).decimals == decimals


@pytest.mark.parametrize(
    ("text", "unit", "said"),
    [
        pytest.param("1.234,5", "V", "did you mean 1234.5", id="thousands with a point"),
        pytest.param("1,234.5", "V", "did you mean 1234.5", id="thousands with a comma"),
        pytest.param("1 234", "W", "did you mean 1234", id="thousands with a space"),
        pytest.param("1'234.5", "W", "did you mean 1234.5", id="thousands with an apostrophe"),
        pytest.param("1.234.567", "W", "did you mean 1234567", id="two thousands marks"),
        pytest.param("1,200", "W", "1.200 or 1200 W", id="a comma with two meanings"),
        pytest.param("10,000 A", "A", "10.000 or 10000 A", id="an interrupting rating with a comma"),
        pytest.param("1,000", "V", "1.000 or 1000 V", id="a thousand volts or one"),
        pytest.param("--5", "A", "not a number", id="two signs"),
        pytest.param("5..2", "V", "more than one decimal mark", id="two points"),
        pytest.param("0,0.5", "V", "more than one decimal mark", id="comma and point"),
        pytest.param("1,23,4", "V", "more than one decimal mark", id="two commas"),
        pytest.param("13,", "V", "is a digit missing", id="nothing after the comma"),
        pytest.param("12-14", "V", "one plain number", id="a range"),
        pytest.param("12.5 13.1", "V", "more than one number", id="two readings in one field"),
        pytest.param("1/2", "V", "one plain number", id="a fraction"),
        pytest.param("1O.5", "V", "not a unit known here", id="letter o for a nought"),
        pytest.param("2.45 V/cell", "V", "V, mV, kV", id="per cell in a field for the bank"),
        pytest.param("13 A", "V", "A cannot be read as V", id="another kind of unit"),
        pytest.param("OL V", "A", "V cannot be read as A", id="over range of another kind"),
        pytest.param("3 K", "°C", "K cannot be read as °C", id="a difference for a temperature"),
        pytest.param("50 AWG", "mm²", "4/0 to 40", id="no such gauge"),
        pytest.param("1:75", "s", "not a time", id="seventy-five minutes on a clock"),
        pytest.param("2 h 70", "s", "goes up to 59", id="seventy minutes after hours"),
        pytest.param("5' 13\"", "m", "up to 11", id="thirteen inches after feet"),
        pytest.param("<OL", "Ω", "one number after <", id="below over range"),
        pytest.param(">>5", "Ω", "one number after >", id="two signs of comparison"),
        pytest.param("", "V", "nothing typed", id="nothing"),
        pytest.param("nan", "V", "not a number", id="not a number"),
        pytest.param("1e999", "V", "too large", id="beyond every meter"),
        pytest.param("1e306 kV", "mV", "too large", id="beyond every meter with its unit"),
        pytest.param("1" * 5000, "s", "too long", id="thousands of digits"),
        pytest.param(">" * 5000, "V", "too long", id="thousands of signs"),
    ],
)
def test_a_slip_is_explained_and_never_guessed(text, unit, said):
    with pytest.raises(EntryError, match=said.replace("(", r"\(")):
        read_number(text, unit)


def test_an_error_shows_no_control_characters():
    with pytest.raises(EntryError) as caught:
        read_number("\x1b[31mred", "V")
    assert "\x1b" not in str(caught.value)


@given(st.text(max_size=40), st.sampled_from(sorted({*SCALE, "", "kg/L/K", "mV"})))
def test_any_text_gives_a_number_or_an_explanation(text, unit):
    entry = _read_or_explained(text, unit)
    assert isinstance(entry, str) or (not math.isnan(entry.value) and entry.decimals >= 0)


@given(
    st.text(alphabet="0123456789.,:-+−eE'\" hVmk<>OLAWG/%°CF#²", max_size=16), st.sampled_from(sorted(SCALE))
)
def test_what_looks_like_an_entry_gives_a_number_or_an_explanation(text, unit):
    entry = _read_or_explained(text, unit)
    assert entry if isinstance(entry, str) else entry.text == text.strip()


def _read_or_explained(text: str, unit: str) -> Entry | str:
    try:
        return read_number(text, unit)
    except EntryError as error:
        return str(error)


_SHOWN = sorted(set(SCALE) - {"s", "ms", "min", "h", "d"})


@given(st.floats(1e-4, 1e6), st.booleans(), st.sampled_from(_SHOWN), st.sampled_from(["metric", "us"]))
def test_what_is_shown_reads_back(size, negative, unit, system):
    value = -size if negative and not (unit == "mm²" and system == "us") else size
    assume(unit not in {"°C", "°F"} or value > -273.0)
    tolerance = 0.021 if unit == "mm²" and system == "us" else 1e-3
    # an offset scale keeps four digits of the shown number, not of the value
    slack = 0.1 if unit == "°C" else 0.0
    assert read_number(show(value, unit, system), unit).value == pytest.approx(
        value, rel=tolerance, abs=slack
    )


@given(st.floats(0.001, 1e8), st.booleans())
def test_a_time_that_is_shown_reads_back(seconds, negative):
    value = -seconds if negative else seconds
    assert read_number(show_time(value), "s").value == pytest.approx(
        value, abs=0.51 if seconds > 59 else 0.01
    )


@given(st.sampled_from(sorted(SCALE)), st.floats(-1e6, 1e6))
def test_conversion_there_and_back_changes_nothing(unit, value):
    base = SCALE[unit][0]
    assert convert(convert(value, unit, base), base, unit) == pytest.approx(value, rel=1e-9, abs=1e-6)


@pytest.mark.parametrize("unit", sorted(SCALE))
def test_every_unit_is_known_by_its_own_symbol(unit):
    assert symbol_of(unit, unit) == unit


def test_no_way_of_writing_a_unit_stands_for_two():
    assert {word for word in ALIASES if word in SCALE and ALIASES[word] != word} == set()


@pytest.mark.parametrize(
    ("value", "unit", "system", "shown"),
    [
        (67.43, "mm²", "us", "2/0 AWG"),
        (126.68, "mm²", "us", "250 kcmil"),
        (25.0, "°C", "us", "77 °F"),
        (12.192, "m", "us", "40 ft"),
        (-3.5, "A", "metric", "−3.5 A"),
        (0.5, "1", "metric", "0.5"),
        (9000.0, "s", "metric", "2 h 30 min"),
        (7776000.0, "s", "metric", "90 d"),
        (math.inf, "Ω", "metric", "over range"),
        (math.inf, "s", "metric", "over range"),
        (-math.inf, "V", "us", "under range"),
        (math.nan, "V", "us", "not a number"),
    ],
)
def test_values_are_shown_as_the_technician_works(value, unit, system, shown):
    assert show(value, unit, system) == shown


def test_a_nought_has_no_sign():
    assert plain(-0.0001, 2) == "0.00"


def test_an_area_between_sizes_is_shown_as_it_is():
    assert area_in_gauge(6000.0) == "6000 mm²"
    assert (area_in_gauge(3.0), between_gauges(3.0)) == ("3 mm²", "14 AWG to 12 AWG")  # 2.08 and 3.31 mm²
    assert (between_gauges(3.31), between_gauges(6000.0)) == ("", "over 1000 kcmil")
    assert between_gauges(0.5) == "under 18 AWG"  # 0.82 mm²
    assert "e+" not in area_in_gauge(6000.0)
