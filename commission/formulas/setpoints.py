"""Steps on the way from a cell's charging voltage to a setpoint that a device can hold."""

from __future__ import annotations

from commission.errors import FormulaError
from commission.figure import formula
from commission.formulas.ranges import require_finite


@formula(expression="value − by", unit="V", source="definition")
def lowered(value: float, by: float) -> float:
    """Setpoint lowered by an amount.

    Parameters
    ----------
    value
        Setpoint of the bank. [V]
    by
        How much lower; at least nothing. [V]

    Returns
    -------
    float
        Lowered setpoint. [V]

    Raises
    ------
    FormulaError
        If ``by`` is less than nothing.

    Examples
    --------
    >>> lowered(57.6, 0.4)
    57.2

    References
    ----------
    .. [1] Definition.
    """
    if by < 0:
        raise FormulaError(f"by = {by}: a setpoint is lowered by a positive amount")
    return value - by


@formula(
    expression="limit − steps × step",
    unit="V",
    source="rule: an equalise charge stays two steps under the least device maximum; common practice",
)
def steps_below(limit: float, steps: float, step: float) -> float:
    """Voltage a number of setting steps below a limit.

    Parameters
    ----------
    limit
        Voltage never to be exceeded. [V]
    steps
        Steps kept as distance. [1]
    step
        Coarsest whole-bank step of all sources. [V]

    Returns
    -------
    float
        Highest voltage that keeps the distance. [V]

    Raises
    ------
    FormulaError
        If ``steps`` or ``step`` is less than nothing.

    Examples
    --------
    >>> steps_below(64.0, 2, 0.4)
    63.2

    References
    ----------
    .. [1] Common practice.
    """
    if steps < 0 or step < 0:
        raise FormulaError(f"steps = {steps}, step = {step}: a distance is not negative")
    return limit - steps * step


@formula(
    expression="limit ÷ cells − slope ÷ 1000 × (temperature − temperature_reference)",
    unit="V",
    source="compensation law solved for the reference value",
)
def reference_for_limit(
    limit: float, cells: float, slope: float, temperature: float, temperature_reference: float
) -> float:
    """Charging voltage of one cell, at the reference, that just reaches a limit at another temperature.

    Parameters
    ----------
    limit
        Whole-bank voltage that may be reached. [V]
    cells
        Cells in series. [1]
    slope
        Slope that the device holds. [mV/K]
    temperature
        Battery temperature at which the limit counts. [°C]
    temperature_reference
        Temperature at which the reference value holds. [°C]

    Returns
    -------
    float
        Charging voltage of one cell at the reference temperature. [V]

    Raises
    ------
    FormulaError
        If ``cells`` is less than one.

    Examples
    --------
    >>> reference_for_limit(60.0, 24, -5.0, 0.0, 25.0)
    2.375

    References
    ----------
    .. [1] Dunlop, J. P., FSEC-CR-1292-97, 1997, compensation (from memory), solved for the reference.
    """
    if cells < 1:
        raise FormulaError(f"cells = {cells}: a bank has at least one cell")
    return limit / cells - slope / 1000.0 * (temperature - temperature_reference)


@formula(
    expression="temperature_reference + 1000 × (limit ÷ cells − reference) ÷ slope",
    unit="°C",
    source="compensation law solved for the temperature",
)
def temperature_for_limit(
    limit: float, cells: float, reference: float, slope: float, temperature_reference: float
) -> float:
    """Battery temperature at which a compensated voltage reaches a limit.

    Parameters
    ----------
    limit
        Whole-bank voltage that may be reached. [V]
    cells
        Cells in series. [1]
    reference
        Charging voltage of one cell at the reference temperature. [V]
    slope
        Slope that the device holds; negative. [mV/K]
    temperature_reference
        Temperature at which the reference value holds. [°C]

    Returns
    -------
    float
        Temperature below which compensation has to stop. [°C]

    Raises
    ------
    FormulaError
        If ``cells`` is less than one or ``slope`` is not negative.

    Examples
    --------
    >>> temperature_for_limit(60.0, 24, 2.4, -5.0, 25.0)
    5.0

    References
    ----------
    .. [1] Dunlop, J. P., FSEC-CR-1292-97, 1997, compensation (from memory), solved for temperature.
    """
    if cells < 1 or slope >= 0:
        raise FormulaError(
            f"cells = {cells}, slope = {slope}: at least one cell and a negative slope are wanted"
        )
    return temperature_reference + 1000.0 * (limit / cells - reference) / slope


@formula(
    expression="(coldest + hottest) ÷ 2",
    unit="°C",
    source="common practice where the yearly mean is not known",
)
def middle_temperature(coldest: float, hottest: float) -> float:
    """Yearly mean taken as the middle of the coldest and the hottest month.

    Parameters
    ----------
    coldest
        Mean battery temperature of the coldest month. [°C]
    hottest
        Mean battery temperature of the hottest month. [°C]

    Returns
    -------
    float
        Mean battery temperature of the year. [°C]

    Raises
    ------
    FormulaError
        If the coldest month is hotter than the hottest.

    Examples
    --------
    >>> middle_temperature(4.0, 28.0)
    16.0

    References
    ----------
    .. [1] Common practice.
    """
    if coldest > hottest:
        raise FormulaError(
            f"coldest = {coldest}, hottest = {hottest}: the coldest month is hotter than the hottest"
        )
    return (coldest + hottest) / 2.0


@formula(expression="voltage + millivolts ÷ 1000", unit="V", source="definition")
def with_millivolts(voltage: float, millivolts: float) -> float:
    """Voltage of one cell raised or lowered by millivolts.

    Parameters
    ----------
    voltage
        Voltage of one cell. [V]
    millivolts
        How much higher; negative for lower. [mV]

    Returns
    -------
    float
        Voltage of one cell. [V]

    Raises
    ------
    FormulaError
        If a value is not finite.

    Examples
    --------
    >>> with_millivolts(2.36, 30.0)
    2.39

    References
    ----------
    .. [1] Definition.
    """
    require_finite(voltage=voltage, millivolts=millivolts)
    return voltage + millivolts / 1000.0


@formula(expression="cells × millivolts ÷ 1000", unit="V", source="definition")
def reduction(cells: float, millivolts: float) -> float:
    """Whole-bank voltage of an error of one cell.

    Parameters
    ----------
    cells
        Cells in series. [1]
    millivolts
        Error of one cell; at least nothing. [mV]

    Returns
    -------
    float
        Voltage of the bank. [V]

    Raises
    ------
    FormulaError
        If ``millivolts`` is less than nothing.

    Examples
    --------
    >>> reduction(24, 50.0)
    1.2

    References
    ----------
    .. [1] Definition.
    """
    if millivolts < 0:
        raise FormulaError(f"millivolts = {millivolts}: an amount to lower by is not negative")
    return cells * millivolts / 1000.0
