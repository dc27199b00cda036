"""Numbers are rounded in one way, wherever one is printed: half goes away from zero.

So do people by hand, and spreadsheets. What only the computer's last digits keep from a half is
one: 2.7499999999 is 2.75.
"""

from __future__ import annotations

import math
import re
from decimal import ROUND_HALF_UP, Context, Decimal

_CLEAN = 9
"""Decimals beyond which a number holds the computer's rounding and nothing else."""
_EXACT = Context(prec=12, rounding=ROUND_HALF_UP)
"""The same in significant digits, where those are asked for."""
_FORM = re.compile(r"(?P<sign>[-+ ]?)(?P<comma>,?)\.(?P<digits>\d+)(?P<kind>[fg])")


def half_up(value: float, digits: int = 1) -> Decimal:
    """Round a number to so many decimals.

    Examples
    --------
    >>> half_up(2.7499999999999987), half_up(-0.04) == 0
    (Decimal('2.8'), True)
    """
    exact = Decimal(repr(round(float(value), max(_CLEAN, digits + 3))))
    return exact.quantize(Decimal(1).scaleb(-digits), ROUND_HALF_UP)


def rounded(value: object, form: str) -> str:
    """Write a value as `format` does; numbers with so many digits rounded half away from zero.

    Parameters
    ----------
    value : object
        A number, or anything that knows the form.
    form : str
        As `format` takes it; those that end in ``.Nf`` or ``.Ng`` are rounded here.

    Examples
    --------
    >>> rounded(0.125, ".2f"), rounded(-2.5, "+.0f"), rounded(1.125, ".3g"), rounded(4, "")
    ('0.13', '-3', '1.13', '4')
    """
    found = _FORM.fullmatch(form)
    number = isinstance(value, (int, float)) and math.isfinite(value)
    if found is None or not number or not value:
        return format(value, form)
    exact = float(value)  # type: ignore[arg-type]
    digits = int(found["digits"])
    if found["kind"] == "f":
        return format(float(half_up(exact, digits)), form)
    clean = Decimal(repr(exact)).normalize(_EXACT)
    first = clean.adjusted()
    step = Decimal(1).scaleb(first - max(digits, 1) + 1)
    return format(float(clean.quantize(step, ROUND_HALF_UP)), form)
