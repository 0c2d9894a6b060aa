"""How many digits a number deserves: one rule for all that is told with its doubt, one for what is without.

A doubt has two significant digits, and what it belongs to goes to the same place (JCGM 100:2008, the GUM,
7.2.6). Of −52.583 ± 12.4 more than −53 ± 12 would pretend to be known.
"""

from __future__ import annotations

import math

from commission.units import plain


def place_of(doubt: float) -> int | None:
    """Return the decimals of the second significant digit of a doubt; None where there is no doubt.

    Parameters
    ----------
    doubt
        Half-width of an interval, or an expanded uncertainty. Negative decimals are tens, hundreds and so on.

    Examples
    --------
    >>> place_of(0.415), place_of(12.4), place_of(1840.0), place_of(0.0)
    (2, 0, -2, None)
    """
    if not math.isfinite(doubt) or doubt <= 0.0:
        return None
    decimals = 1 - math.floor(math.log10(doubt))
    rounded = round(doubt, decimals)  # 0.0996 becomes 0.10, whose second digit stands a place further left
    return 1 - math.floor(math.log10(rounded) + 1e-9)


def to_place(value: float, decimals: int | None) -> str:
    """Return a number to a place that :func:`place_of` gave; where that is none, with three digits.

    Examples
    --------
    >>> to_place(2.1573, 2), to_place(2.5, 2), to_place(-12345.0, -2), to_place(0.25, None)
    ('2.16', '2.50', '−12300', '0.25')
    """
    if decimals is None:
        return three_digits(value)
    return plain(round(value, decimals), max(0, decimals))


def three_digits(value: float) -> str:
    """Return a number whose doubt is not known: three significant digits, four where the first is a 1.

    So it is told to within half a per cent at most, and 1.193 kg/L does not become 1.19.

    Examples
    --------
    >>> three_digits(92.548), three_digits(1.1934), three_digits(80.0), three_digits(0.00084)
    ('92.5', '1.193', '80', '0.00084')
    """
    if not math.isfinite(value):
        return plain(value)
    return plain(float(f"{value:.{4 if f'{value:e}'.lstrip('-').startswith('1') else 3}g}"))
