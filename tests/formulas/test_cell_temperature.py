"""Cell temperature by each of the usual models, against the textbook and an open library."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pvlib import temperature as oracle

from commission.errors import FormulaError
from commission.formulas.cell_temperature import (
    EXPONENTIAL_MOUNTINGS,
    LOSS_FACTORS,
    OPEN_RACK_LOSS,
    OPEN_RACK_WIND_LOSS,
    back_temperature,
    cell_temperature_from_losses,
    cell_temperature_nominal,
    cell_temperature_nominal_wind,
    cell_temperature_over_back,
    module_temperature_faiman,
)
from tests.formulas.worked import Row, assert_no_number_passes_as_one, row

NOCT = "definition of NOCT in IEC 61215, pvlib ross"
FAIMAN = "Faiman 2008, pvlib faiman"
RACK = {"loss": OPEN_RACK_LOSS, "wind_loss": OPEN_RACK_WIND_LOSS}

ROWS = [
    row("NOCT 40 in full light at 15 °C", cell_temperature_nominal, 40, 0.01, "printed answer of an exercise",
        air=15, irradiance=1000, nominal_cell_temperature=40),
    row("NOCT 45 in full light at 40 °C", cell_temperature_nominal, 71.25, 0.01, NOCT,
        air=40, irradiance=1000, nominal_cell_temperature=45),
    row("NOCT 46 in 900 W/m² at 20 °C", cell_temperature_nominal, 49.25, 0.01, NOCT,
        air=20, irradiance=900, nominal_cell_temperature=46),
    row("open rack, full light, 40 °C, 1 m/s", module_temperature_faiman, 71.407, 0.01, FAIMAN,
        irradiance=1000, air=40, wind=1, loss=25, wind_loss=6.84),
    row("open rack, 800 W/m², 20 °C, 1 m/s", module_temperature_faiman, 45.126, 0.01, FAIMAN,
        irradiance=800, air=20, wind=1, loss=25, wind_loss=6.84),
    row("open rack, 900 W/m², 20 °C, 5 m/s", module_temperature_faiman, 35.203, 0.01, FAIMAN,
        irradiance=900, air=20, wind=5, loss=25, wind_loss=6.84),
    row("open rack, 1050 W/m², 43 °C, 0.5 m/s", module_temperature_faiman, 79.946, 0.01, FAIMAN,
        irradiance=1050, air=43, wind=0.5, loss=25, wind_loss=6.84),
    row("semi-integrated, 900 W/m² at 35 °C", cell_temperature_from_losses, 71.45, 0.01,
        "heat balance by loss factors, pvlib", air=35, irradiance=900, wind=1,
        loss=LOSS_FACTORS["semi-integrated"],
        wind_loss=0, absorptance=0.9, efficiency=0.1),
    row("NOCT 45 with wind at 51 % of 1 m/s", cell_temperature_nominal_wind, 55.231, 0.01,
        "Sandia page on NOCT cell temperature, pvlib",
        air=25, irradiance=1000, nominal=45, wind=0.51, efficiency=0.2),
]  # fmt: skip

air = st.floats(-40, 50)
light = st.floats(0, 1300)
wind = st.floats(0, 20)


@pytest.mark.parametrize("row", ROWS)
def test_worked_example(row: Row) -> None:
    assert row.value() == pytest.approx(row.expected, abs=row.tolerance)


@pytest.mark.parametrize("row", ROWS)
def test_what_is_not_a_number_is_refused(row: Row) -> None:
    assert_no_number_passes_as_one(row)


@pytest.mark.parametrize(
    ("mounting", "irradiance", "outside", "speed", "expected"),
    [
        pytest.param("open rack, glass and glass", 900, 20, 5, 43.509, id="open rack (SAND2004-3535, pvlib)"),
        pytest.param(
            "insulated back, glass and polymer",
            1000,
            40,
            1,
            97.527,
            id="insulated back (SAND2004-3535, pvlib)",
        ),
    ],
)
def test_cell_over_its_back(
    mounting: str, irradiance: float, outside: float, speed: float, expected: float
) -> None:
    """Published set of figures for each way of mounting; tolerance 0.01 K."""
    offset, slope, difference = EXPONENTIAL_MOUNTINGS[mounting]
    back = back_temperature(outside, irradiance, wind=speed, offset=offset, slope=slope)
    assert cell_temperature_over_back(back, irradiance, difference) == pytest.approx(expected, abs=0.01)


@given(air, light, wind)
def test_open_rack_agrees_with_pvlib(outside: float, irradiance: float, speed: float) -> None:
    ours = module_temperature_faiman(outside, irradiance, wind=speed, **RACK)
    assert ours == pytest.approx(float(oracle.faiman(irradiance, outside, speed)), abs=1e-9)


@given(air, light, st.floats(30, 60))
def test_noct_agrees_with_pvlib(outside: float, irradiance: float, noct: float) -> None:
    ours = cell_temperature_nominal(outside, irradiance, noct)
    assert ours == pytest.approx(float(oracle.ross(irradiance, outside, noct=noct)), abs=1e-9)


@given(air, light, wind, st.sampled_from(sorted(EXPONENTIAL_MOUNTINGS)))
def test_back_and_cell_agree_with_pvlib(
    outside: float, irradiance: float, speed: float, mounting: str
) -> None:
    offset, slope, difference = EXPONENTIAL_MOUNTINGS[mounting]
    back = back_temperature(outside, irradiance, wind=speed, offset=offset, slope=slope)
    theirs = oracle.sapm_cell(irradiance, outside, speed, offset, slope, difference)
    assert cell_temperature_over_back(back, irradiance, difference) == pytest.approx(float(theirs), abs=1e-9)


@given(air, light, wind, st.sampled_from(sorted(LOSS_FACTORS)))
def test_a_module_that_turns_all_light_into_heat_is_as_warm_as_pvlib_says(
    outside: float, irradiance: float, speed: float, mounting: str
) -> None:
    loss = LOSS_FACTORS[mounting]
    ours = cell_temperature_from_losses(
        outside, irradiance, wind=speed, loss=loss, wind_loss=1.2, absorptance=1.0, efficiency=0.0
    )
    assert ours == pytest.approx(float(oracle.faiman(irradiance, outside, speed, loss, 1.2)), abs=1e-9)


@given(air, st.floats(1, 1300), wind, st.floats(30, 60), st.floats(0.05, 0.25))
def test_noct_with_wind_agrees_with_pvlib(
    outside: float, irradiance: float, speed: float, noct: float, efficiency: float
) -> None:
    ours = cell_temperature_nominal_wind(
        outside, irradiance, nominal=noct, wind=0.51 * speed, efficiency=efficiency
    )
    theirs = oracle.noct_sam(irradiance, outside, speed, noct, efficiency)
    assert ours == pytest.approx(float(theirs), abs=1e-9)


@given(air, light, light, wind)
def test_more_light_never_cools_and_the_dark_leaves_air_temperature(
    outside: float, one: float, other: float, speed: float
) -> None:
    dim, bright = sorted((one, other))
    assert module_temperature_faiman(outside, dim, wind=speed, **RACK) <= module_temperature_faiman(
        outside, bright, wind=speed, **RACK
    )
    assert module_temperature_faiman(outside, 0.0, wind=speed, **RACK) == outside
    assert cell_temperature_nominal(outside, 0.0, 45.0) == outside


@pytest.mark.parametrize(
    ("formula", "inputs", "says"),
    [
        (cell_temperature_nominal, {"air": 20, "irradiance": -1, "nominal_cell_temperature": 45},
            "irradiance"),
        (cell_temperature_nominal, {"air": 20, "irradiance": 800, "nominal_cell_temperature": 4.5},
            "such as 46"),
        (module_temperature_faiman, {"air": 20, "irradiance": 800, "wind": -1, **RACK}, "wind"),
        (cell_temperature_nominal_wind,
         {"air": 20, "irradiance": 800, "nominal": 45, "wind": 1, "efficiency": 0.95}, "below 0.9"),
    ],
)  # fmt: skip
def test_out_of_range_is_refused_with_what_came(formula, inputs, says):
    with pytest.raises(FormulaError, match=says):
        formula(**inputs)
