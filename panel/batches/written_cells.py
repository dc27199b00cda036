"""What brewers write into cells: years of brewing, days, tanks, numbers with their units."""

from __future__ import annotations

import datetime as dt
import re
import unicodedata

from ..base.written_numbers import understand
from .columns import DEGREES, PERCENT

ERAS = {"r": 2018, "令和": 2018, "h": 1988, "平成": 1988, "s": 1925, "昭和": 1925}
"""The year before the first of each era: Reiwa 1 is 2019, Heisei 1 1989, Showa 1 1926."""
_ERA = r"(?P<era>r|h|s|令和|平成|昭和)\s*(?P<of>\d{1,2}|元)"
_YEAR = re.compile(
    rf"(?:by|fy)?\s*(?:(?P<year>(?:19|20)\d\d)|{_ERA})\s*(?:酒造)?(?:年度|年|by|fy|造り)?",
    re.IGNORECASE,
)
_TWO = re.compile(r"\D*?(?P<one>\d{2}|\d{4})\s*[/–-]\s*(?P<other>\d{2}|\d{4})\D*")
_DAY = re.compile(
    rf"(?:(?P<year>\d{{4}})|{_ERA})\s*[-/.年]\s*(?P<month>\d{{1,2}})\s*[-/.月]\s*(?P<day>\d{{1,2}})日?",
    re.IGNORECASE,
)
_DAY_FIRST = re.compile(r"(?P<day>\d{1,2})\.\s*(?P<month>\d{1,2})\.\s*(?P<year>\d{4})")
_TANK = re.compile(
    r"(?:仕込み?|仕|第|タンク|tank|vat|no\.?|#|\s)*0*(?P<number>\d+)\s*(?:号|番|本目|タンク|仕込み?|\s)*"
)
TOTALS = frozenset(
    {"合計", "計", "総計", "小計", "平均", "total", "totals", "sum", "subtotal", "mean", "average"}
)
_NTH = re.compile(r"(?:day|第)?\s*(?P<n>\d{1,3})\s*(?:日目|日|d|days?)?", re.IGNORECASE)
_FAHRENHEIT = re.compile(r"(?:[°º]\s*f|℉|(?<=\d)\s*f)\b|℉", re.IGNORECASE)


def plain(text: str) -> str:
    """Return a text without full-width forms and needless blanks."""
    return " ".join(unicodedata.normalize("NFKC", text).split())


def year_of(text: str) -> int | None:
    """Return the brewing year that is meant, by the calendar year in which it begins.

    >>> year_of("R6BY"), year_of("2024年度"), year_of("winter 24/25"), year_of("24")
    (2024, 2024, 2024, None)
    """
    given = plain(text).casefold()
    if found := _YEAR.fullmatch(given):
        return _calendar(found)
    two = _TWO.fullmatch(given)
    if two and int(two["other"]) % 100 == (int(two["one"]) + 1) % 100:
        return int(two["one"]) % 100 + 2000
    return None


def day_of(text: str) -> dt.date | None:
    """Return the day that is meant, None where it is none or could be two.

    >>> str(day_of("R7.1.12")), str(day_of("06.02.2026")), day_of("02/03/2026")
    ('2025-01-12', '2026-02-06', None)
    """
    given = plain(text).casefold().removesuffix("t00:00:00").removesuffix(" 00:00:00")
    found = _DAY.fullmatch(given)
    if found:
        year = _calendar(found)
    else:
        found = _DAY_FIRST.fullmatch(given)
        if not found:
            return None
        year = int(found["year"])
    try:
        return dt.date(year, int(found["month"]), int(found["day"]))
    except ValueError:
        return None


def _calendar(found: re.Match[str]) -> int:
    """Return the year of a match by the Western calendar."""
    if found["year"]:
        return int(found["year"])
    return ERAS[found["era"].casefold()] + (1 if found["of"] == "元" else int(found["of"]))


def tank_key(text: str) -> str:
    """Return what two ways to write a tank have in common: its number, or else the text.

    >>> tank_key("仕1号"), tank_key("No. 01"), tank_key("1a"), tank_key("North")
    ('1', '1', '1a', 'north')
    """
    given = plain(text).casefold()
    found = _TANK.fullmatch(given)
    return found["number"] if found else given


def nth_day(text: str) -> str:
    """Return the number of a day of the mash, or nothing.

    >>> nth_day("9日目"), nth_day("day 9"), nth_day("tome")
    ('9', '9', '')
    """
    found = _NTH.fullmatch(plain(text))
    return str(int(found["n"])) if found else ""


def in_fahrenheit(text: str) -> bool:
    """Tell whether a heading or a cell says that its degrees are Fahrenheit.

    >>> in_fahrenheit("52.7 F"), in_fahrenheit("max (°F)"), in_fahrenheit("Filled")
    (True, True, False)
    """
    return bool(_FAHRENHEIT.search(plain(text)))


def number_of(text: str, column: str, heading: str = "") -> tuple[float | None, bool]:
    """Read a number; tell whether it was turned into another unit.

    Degrees Fahrenheit become Celsius; a share of a column in % (0.6) becomes %, unless its sign
    stands there (0.6 %).

    >>> number_of("52.7 F", "mash_max_c"), number_of("0.6", "polishing"), number_of("1?", "abv")
    ((11.5, True), (60.0, True), (None, False))
    >>> number_of("0.8％", "polishing")
    (0.8, False)
    """
    given = plain(text)
    hot = column in DEGREES and (in_fahrenheit(given) or in_fahrenheit(heading))
    value = understand(_FAHRENHEIT.sub("", given).strip() if hot else given, column)
    if value is None:
        return None, False
    if hot:
        return round((value - 32) / 1.8, 2), True
    if column in PERCENT and 0 < value < 1 and "%" not in given:
        return round(100 * value, 6), True
    return value, False
