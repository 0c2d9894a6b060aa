"""What conductors, their protective conductors and their protection must be, beside the plain tables."""

from __future__ import annotations

from commission.figure import formula
from commission.formulas.ranges import require_not_negative, require_positive, require_share


@formula(
    expression="power ÷ power_factor", unit="VA", source="definition of the power factor (IEC 60050-131)"
)
def apparent_power(power: float, power_factor: float) -> float:
    """Apparent power of a load.

    Parameters
    ----------
    power
        Active power. [W]
    power_factor
        Its power factor. [1]

    Returns
    -------
    float
        Apparent power, which makes the current. [VA]

    Raises
    ------
    FormulaError
        If the power is negative, or the power factor not above 0 and at most 1.

    Examples
    --------
    >>> apparent_power(900.0, 0.9)
    1000.0

    References
    ----------
    .. [1] IEC 60050-131, 131-11-46.
    """
    require_not_negative(power=power)
    require_share(power_factor=power_factor)
    require_positive(power_factor=power_factor)
    return power / power_factor


@formula(expression="module_voltage × modules", unit="V", source="Kirchhoff's voltage law")
def series_voltage(module_voltage: float, modules: float) -> float:
    """Voltage of PV modules in series at the operating point of one of them.

    Parameters
    ----------
    module_voltage
        Voltage of one module. [V]
    modules
        Modules in series. [1]

    Returns
    -------
    float
        Voltage of the string. [V]

    Raises
    ------
    FormulaError
        If the voltage is negative or there is no module.

    Examples
    --------
    >>> series_voltage(31.2, 4.0)
    124.8

    References
    ----------
    .. [1] Kirchhoff's voltage law.
    """
    require_not_negative(module_voltage=module_voltage)
    require_positive(modules=modules)
    return module_voltage * modules
