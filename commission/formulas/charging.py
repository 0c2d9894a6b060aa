"""Charging voltages, currents and times of a bank."""

from __future__ import annotations

from commission.errors import FormulaError
from commission.figure import formula


@formula(
    expression="cells × (reference + slope ÷ 1000 × (temperature − temperature_reference))",
    unit="V",
    source="Dunlop, FSEC-CR-1292-97 (1997), temperature compensation; from memory",
)
def compensated_voltage(
    cells: float, reference: float, slope: float, temperature: float, temperature_reference: float
) -> float:
    """Charging voltage of a bank at battery temperature.

    Parameters
    ----------
    cells
        Cells in series. [1]
    reference
        Charging voltage of one cell at the reference temperature. [V]
    slope
        Change of one cell's voltage with temperature; negative for lead. [mV/K]
    temperature
        Battery temperature, already held within the device's or profile's clamp. [°C]
    temperature_reference
        Temperature at which ``reference`` holds. [°C]

    Returns
    -------
    float
        Charging voltage of the bank at ``temperature``. [V]

    Raises
    ------
    FormulaError
        If ``cells`` is less than one.

    Examples
    --------
    Twenty-four AGM cells on float in a hot room:

    >>> compensated_voltage(24, 2.27, -3.0, 40.0, 25.0)
    53.40

    References
    ----------
    .. [1] Dunlop, J. P., "Batteries and charge control in stand-alone photovoltaic systems", FSEC-CR-1292-97,
       1997, section on temperature compensation (from memory).
    """
    if cells < 1:
        raise FormulaError(f"cells = {cells}: a bank has at least one cell")
    return cells * (reference + slope / 1000.0 * (temperature - temperature_reference))
