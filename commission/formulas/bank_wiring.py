"""How parallel strings share the bank's current over their leads and links."""

from __future__ import annotations

import math
from collections.abc import Sequence

from commission.errors import FormulaError
from commission.figure import formula
from commission.formulas.ranges import require_not_negative, require_positive


@formula(expression="1 ÷ sum(1 ÷ each of resistances)", unit="Ω", source="Kirchhoff's current law")
def parallel_resistance(resistances: Sequence[float]) -> float:
    """Resistance of several paths in parallel.

    Parameters
    ----------
    resistances
        Resistance of every path. [Ω]

    Returns
    -------
    float
        Resistance of all of them together. [Ω]

    Raises
    ------
    FormulaError
        If there is none or one is not above zero.

    Examples
    --------
    Three strings of 8 mΩ with leads of 0.5, 1 and 2 mΩ, in milliohms:

    >>> parallel_resistance([8.5, 9.0, 10.0])
    3.042

    References
    ----------
    .. [1] Kirchhoff's current law.
    """
    if not resistances:
        raise FormulaError("resistances: at least one path is needed")
    for each in resistances:
        require_positive(resistances=each)
    return 1.0 / math.fsum(1.0 / each for each in resistances)


@formula(
    expression="resistance × (length − distance) ÷ length",
    unit="Ω",
    source="resistance in proportion to length",
)
def resistance_beyond(resistance: float, length: float, distance: float) -> float:
    """Resistance of what of a lead lies beyond a device in it.

    Parameters
    ----------
    resistance
        Resistance of the whole lead, out and back. [Ω]
    length
        Length of the lead, one way. [m]
    distance
        From the post to the device. [m]

    Returns
    -------
    float
        Resistance from the device to the far end. [Ω]

    Raises
    ------
    FormulaError
        If resistance or length is not above zero, or the device does not stand within the lead.

    Examples
    --------
    A fuse 0.5 m from the post in a lead of 2 m and 1 mΩ:

    >>> resistance_beyond(0.001, 2.0, 0.5)
    0.00075

    References
    ----------
    .. [1] Ohm's law, resistance in proportion to length.
    """
    require_positive(resistance=resistance, length=length)
    require_not_negative(distance=distance)
    if distance > length:
        raise FormulaError(f"distance = {distance:g} m: must not be over the lead's {length:g} m")
    return resistance * (length - distance) / length


@formula(
    expression="current of the string at position ÷ total, by the nodes of strings × string_resistance"
    " joined by link_resistance, with the leads at take_off",
    unit="1",
    source="Kirchhoff's laws, ladder of strings and links",
)
def ladder_share(
    position: float, strings: float, *, string_resistance: float, link_resistance: float, take_off: str
) -> float:
    """Share of the bank's current in one of several like strings that are joined by links side by side.

    Parameters
    ----------
    position
        Which string, counted from 1 at the positive lead. [1]
    strings
        Strings in parallel. [1]
    string_resistance
        Resistance of one string. [Ω]
    link_resistance
        Resistance of each link between neighbours, in each of the two rails. [Ω]
    take_off
        ``one end`` if both leads leave at string 1, ``diagonal`` if the negative lead leaves at the last
        string. [word]

    Returns
    -------
    float
        Share; the shares of all positions sum to one. [1]

    Raises
    ------
    FormulaError
        If the position is not one of the strings, a resistance is out of range or the take-off not known.

    Notes
    -----
    Strings have equal rest voltages. With n strings and no link resistance each share is 1/n.

    Examples
    --------
    Two strings of 3 mΩ, links of 0.5 mΩ, both leads at the first string:

    >>> ladder_share(1, 2, string_resistance=3.0, link_resistance=0.5, take_off="one end")
    0.5714

    References
    ----------
    .. [1] Kirchhoff's laws; from string k to k + 1 the current changes by the drop over their links.
    """
    require_positive(string_resistance=string_resistance)
    require_not_negative(link_resistance=link_resistance)
    if take_off not in {"one end", "diagonal"}:
        raise FormulaError(f"take_off = {take_off}: 'one end' or 'diagonal'")
    if not (1 <= position <= strings and float(position).is_integer() and float(strings).is_integer()):
        raise FormulaError(f"position = {position:g}: a string is counted from 1 to {strings:g}")
    ratio = link_resistance / string_resistance
    # The shares follow from the first one by a straight-line recursion: two trials give the line,
    # and the first share is where they sum to one.
    low, high = (_ladder(first, int(strings), ratio, take_off) for first in (0.0, 1.0))
    first = (1.0 - math.fsum(low)) / (math.fsum(high) - math.fsum(low))
    place = int(position) - 1
    return low[place] + first * (high[place] - low[place])


def _ladder(first: float, strings: int, ratio: float, take_off: str) -> list[float]:
    shares = [first]
    for _ in range(strings - 1):
        before = math.fsum(shares)
        # In the positive rail the current of all strings further out flows past this link; in the negative
        # rail likewise when it leaves at the same end, else that of the strings before it, against it.
        beyond = 1.0 - before
        link = 2.0 * beyond if take_off == "one end" else beyond - before
        shares.append(shares[-1] - ratio * link)
    return shares
