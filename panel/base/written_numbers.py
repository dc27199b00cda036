"""Numbers as people write them into tables: read where they can be read in one way only."""

from __future__ import annotations

import re
import unicodedata

from ...forms.answers.numbers import Unclear, number_of, tidied

UNITS = {
    "abv": ("%", "%vol", "vol%", "%abv", "度"),
    "polishing": ("%",),
    "polishing_ratio": ("%",),
    "acidity": ("ml",),
    "amino_acidity": ("ml",),
    "volume_ml": ("ml",),
    "glucose": ("%", "g/100ml"),
    "temperature_c": ("°c", "c", "度"),
    "opened_days": ("days", "day", "d", "日"),
    "stored_months": ("months", "month", "か月", "ヶ月", "ヵ月", "カ月", "月"),
    "extract": ("%", "g/100ml"),
    "mash_days": ("days", "day", "d", "日間", "日"),
    "mash_max_c": ("°c", "c", "度"),
    "koji_share": ("%",),
}
"""Units that a number of this column may carry, since they are what is asked for."""
NOT_MEASURED = frozenset({
    "-", "–", "—", "―", "ー", "n/a", "na", "not measured", "未測定", "測定せず", "なし", "不明",
})  # fmt: skip
_TRIANGLE = re.compile(r"^[▲△]\s*(?=[0-9.])")  # minus, as Japanese accounts write it
_NOUGHT = re.compile(r"(±|\+/-|\+-)\s*0+([.,]0+)?")


def understand(text: str, column: str = "") -> float | None:
    """Read a number as people write it, or return None where it is not certain.

    Parameters
    ----------
    text : str
    column : str
        Its column; some numbers may carry their unit (`UNITS`).

    Examples
    --------
    >>> understand("+3"), understand("−2,5"), understand("１５．５"), understand("1,500")
    (3.0, -2.5, 15.5, None)
    >>> understand("±0"), understand("▲3"), understand("60%"), understand("60％", "polishing")
    (0.0, -3.0, None, 60.0)
    """
    plain = _TRIANGLE.sub("-", tidied(unicodedata.normalize("NFKC", text)))
    if _NOUGHT.fullmatch(plain):
        return 0.0
    bare = plain.casefold().replace(" ", "").replace(".", "", plain.endswith("."))
    for unit in sorted(UNITS.get(column, ()), key=len, reverse=True):
        if bare.endswith(unit):
            plain = bare.removesuffix(unit)
            break
    try:
        return number_of(plain)
    except Unclear:
        return None


def not_measured(text: str) -> bool:
    """Tell whether a cell says that there is no number.

    >>> not_measured("n/a"), not_measured("0")
    (True, False)
    """
    return unicodedata.normalize("NFKC", text).strip().casefold() in NOT_MEASURED
