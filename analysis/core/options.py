"""Checks of arguments that many methods share, with one wording each."""

from __future__ import annotations

import math
from collections.abc import Iterable

from .errors import OptionError

ALPHA = 0.05
"""Level of a sentence on a p value, where nobody chose another."""


def share_of(name: str, value: float) -> float:
    """Return `value` if it lies strictly between 0 and 1 (a level, a power, a share).

    Raises
    ------
    OptionError
        Otherwise; a level written as 95 is the usual slip, and is named.
    """
    number = float(value)
    if 1 < number < 100:
        raise OptionError("options.percent", name=name, value=value, meant=number / 100)
    if not 0 < number < 1:
        raise OptionError("options.share", name=name, value=value)
    return number


def whole(name: str, value: float, low: int = 1) -> int:
    """Return `value` as an int if it is a whole number not below `low`.

    Raises
    ------
    OptionError
        Otherwise.
    """
    number = float(value)
    if not (number.is_integer() and number >= low):
        raise OptionError("options.whole", name=name, value=value, low=low)
    return int(number)


def at_least(name: str, value: float, low: float = 0.0, *, strictly: bool = False) -> float:
    """Return `value` if it is a finite number not below `low` (above it, if `strictly`).

    Raises
    ------
    OptionError
        Otherwise.
    """
    number = float(value)
    if not math.isfinite(number) or number < low or (strictly and number == low):
        key = "options.above" if strictly else "options.at_least"
        raise OptionError(key, name=name, value=value, low=f"{low:g}")
    return number


def one_of(name: str, value: str, choices: Iterable[str]) -> str:
    """Return `value` if it is one of `choices`.

    Raises
    ------
    OptionError
        Otherwise; the choices are listed.
    """
    listed = list(choices)
    if value not in listed:
        raise OptionError("options.choice", name=name, value=value, choices=listed)
    return value
