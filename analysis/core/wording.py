"""Numbers as people write them: one place for shares, p values and short numbers."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from decimal import Decimal
from functools import reduce

from ...rounding import half_up, rounded
from .words import CATALOGUE, Sentence

_FURTHEST = 3
"""Decimals at most of a limit that would be written as 0 with fewer."""


def short(value: float, digits: int = 3) -> str:
    """Write a number for the eye: `digits` significant ones, no exponent in daily ranges.

    Half goes away from zero, as in `fixed`.

    Examples
    --------
    >>> short(25.138088), short(0.0412), short(1234.5), short(1.39e-07), short(float("nan"))
    ('25.1', '0.0412', '1235', '1.39e-07', '–')
    """
    if math.isnan(value):
        return "–"
    if value == 0:
        return "0"
    size = math.floor(math.log10(abs(value))) if math.isfinite(value) else 0
    if -4 <= size < 6:
        return rounded(value, f".{max(digits - 1 - size, 0)}f")
    return rounded(value, f".{digits}g")


def alike(values: Sequence[float], digits: int = 3) -> list[str]:
    """Write an estimate and its limits with the same decimals: `digits` significant of the widest.

    Examples
    --------
    >>> alike([0.348, 0.0174, 0.652]), alike([1.8, 0.357, float("inf")])
    (['0.348', '0.017', '0.652'], ['1.80', '0.36', 'inf'])
    """
    finite = [abs(value) for value in values if math.isfinite(value)]
    widest = short(max(finite, default=0.0), digits)
    decimals = len(widest.partition(".")[2])
    return [
        rounded(value, f".{decimals}f") if math.isfinite(value) and value else short(value)
        for value in values
    ]


def fixed(value: float, digits: int = 1, *, sign: bool = False) -> str:
    """Write a number of points with so many decimals: the one rounding of all pages.

    Half goes away from zero, as people round by hand and as spreadsheets do; what only the
    computer's last digits keep from a half is one (2.7499999999 is 2.75). The minus is a true
    one, and what rounds to nothing has no sign.

    Examples
    --------
    >>> fixed(2.75), fixed(2.7499999999999987), fixed(-0.25), fixed(-0.04), fixed(0.625, 2)
    ('2.8', '2.8', '−0.3', '0.0', '0.63')
    >>> fixed(1.26, sign=True), fixed(0.04, sign=True)
    ('+1.3', '0.0')
    """
    if not math.isfinite(value):
        return f"{value:.{digits}f}"
    shown = half_up(value, digits)
    if not shown:
        return f"{0:.{digits}f}"
    return f"{shown:{'+' if sign else ''}f}".replace("-", "\u2212")


def limit(value: float, digits: int = 1, *, sign: bool = False) -> str:
    """Write the limit of an interval as `fixed` does, and with further decimals rather than as 0.

    On which side of 0 a limit lies is what it is read for: 0.04 is no 0.0.

    Examples
    --------
    >>> limit(1.26), limit(0.04), limit(-0.048), limit(-0.0031, sign=True), limit(0.0)
    ('1.3', '0.04', '−0.05', '−0.003', '0.0')
    """
    for more in range(digits, _FURTHEST + 1):
        shown = fixed(value, more, sign=sign)
        if shown.strip("0."):
            return shown
    return fixed(0.0, digits)


def with_ends(values: Iterable[float], *, sign: bool = False) -> tuple[str, str, str]:
    """Write a size and its two limits.

    Examples
    --------
    >>> with_ends((0.55, 0.04, 1.06)), with_ends((-0.02, -0.3, 0.26), sign=True)
    (('0.6', '0.04', '1.1'), ('0.0', '−0.3', '+0.3'))
    """
    size, low, high = values
    return fixed(size, sign=sign), limit(low, sign=sign), limit(high, sign=sign)


def p_words(p: float) -> Sentence:
    """Write a p value as journals do: three digits, never "p = 0.000"; half goes away from zero.

    Examples
    --------
    >>> str(p_words(1.4e-7)), str(p_words(0.0447)), str(p_words(0.61))
    ('p < 0.001', 'p = 0.045', 'p = 0.61')
    """
    if p < 0.001:
        return Sentence.of("common.p_below", limit="0.001")
    return Sentence.of("common.p_equals", p=rounded(p, ".3f" if p < 0.1 else ".2f"))


def percent(share: float) -> str:
    """Write a share as a percentage without decimals, but never a true 0 or 100 by rounding.

    Half goes away from zero, as in `fixed`.

    Examples
    --------
    >>> percent(0.248), percent(0.004), percent(1), percent(0.0002), percent(0.9999)
    ('25 %', '0.4 %', '100 %', '< 0.1 %', '> 99.9 %')
    >>> percent(1 / 8), percent(0.625), percent(0.0025)
    ('13 %', '63 %', '0.3 %')
    """
    value = 100 * share
    if not math.isfinite(value):
        return f"{value:.0f} %"
    tenths = half_up(value)
    if value > 0 and not tenths:
        return "< 0.1 %"
    if value < 100 <= tenths:
        return "> 99.9 %"
    near = 0 < tenths < 1 or 99 < tenths < 100
    return f"{fixed(value, 1 if near else 0)} %"


def add_up(shares: Iterable[float], whole: float = 1.0) -> bool:
    """Tell whether parts, each as `percent` writes it, add to their whole as it is written.

    Where they do not, a reader who adds them is told that they are rounded.

    Examples
    --------
    >>> add_up([0.125, 0.375, 0.5]), add_up([0.25, 0.75]), add_up([0.604, 0.254], 0.858)
    (False, True, False)
    """
    written = [Decimal(percent(one).strip("<> %")) for one in (*shares, whole)]
    return sum(written[:-1]) == written[-1]


def stated_percent(share: float) -> str:
    """Write a share that somebody stated (a level, a risk) as a percentage, unrounded.

    Examples
    --------
    >>> stated_percent(0.95), stated_percent(0.975)
    ('95 %', '97.5 %')
    """
    return f"{100 * share:g} %"


def test_word(test: str) -> Sentence:
    """Return the name of a test as people write it."""
    return Sentence.of(f"difference.test_{test.replace('-', '_')}")


def below(first: Sentence, then: Sentence) -> Sentence:
    """Set one sentence below another."""
    return Sentence.of("common.below", first=first, then=then)


def itemised(sentences: Iterable[Sentence]) -> Sentence:
    """Set sentences, one at least, below one another, each as an item.

    Examples
    --------
    >>> print(itemised([p_words(0.2), p_words(0.3)]))
    - p = 0.20
    - p = 0.30
    """
    return reduce(below, [Sentence.of("common.item", text=text) for text in sentences])


def term_words(name: str) -> Sentence:
    """Write the name of an effect or of a random term, as a model has it, in words.

    Examples
    --------
    >>> str(term_words("assessor:sample")), str(term_words("carry_over")), str(term_words("tank"))
    ('assessor × sample', 'the sample served before', 'tank')
    """
    parts = [_part(part) for part in name.split(":")]
    return reduce(lambda left, right: Sentence.of("term.by", left=left, right=right), parts)


def listed_terms(names: str) -> Sentence:
    """Write the names of random terms that are added up, as an error term has them."""
    terms = [term_words(name) for name in names.split(" + ")]
    return reduce(lambda left, right: Sentence.of("term.plus", left=left, right=right), terms)


def _part(name: str) -> Sentence:
    """Write the name of a part of the model, or of a column of the reader's table."""
    return Sentence.of(f"term.{name}" if CATALOGUE.has(f"term.{name}") else "term.own", name=name)


MODEL_COLUMNS = ("effect", "component", "error_term")
"""Columns of tables that name parts of a model."""


TASK_COLUMNS = ("again", "open")
"""Columns of tables that hold several codes of tasks, with blanks between them."""


def cell_words(column: str, value: str) -> Sentence | str:
    """Write a code that stands in a column of a table in words, where the catalogue has some.

    Examples
    --------
    >>> cell_words("decision", "recheck").to("ja"), cell_words("sample", "recheck")
    ('きき直す', 'recheck')
    >>> cell_words("again", "matching ranking").to("ja"), cell_words("again", "tin")
    ('味の名、濃さの順', 'tin')
    """
    if column in TASK_COLUMNS and value:
        tasks = [cell_words("task", one) for one in value.split()]
        if all(isinstance(one, Sentence) for one in tasks):
            return Sentence.of("cell.tasks", listed=tasks)
    key = f"cell.{column}_{re.sub('[^a-z0-9]+', '_', value.lower()).strip('_')}"
    return Sentence.of(key) if CATALOGUE.has(key) else value


def same_decimals(values: Iterable[float | None], most: int = 2) -> list[str]:
    """Write numbers of one kind with as many decimals as the longest of them has.

    Parameters
    ----------
    values : iterable of float or None
        Missing ones are written as a dash.
    most : int
        Decimals at most.

    Examples
    --------
    >>> same_decimals([1.5, 2.0, None, 1.65]), same_decimals([3.0, 2.0])
    (['1.50', '2.00', '–', '1.65'], ['3', '2'])
    """
    given = [None if value is None or math.isnan(value) else float(value) for value in values]
    forms = [[float(rounded(value, f".{n}f")) for n in range(most + 1)]
             for value in given if value is not None]  # fmt: skip
    digits = max((form.index(form[-1]) for form in forms), default=0)
    return ["–" if value is None else rounded(value, f".{digits}f") for value in given]
