"""Width of the interval that a planned panel will print, for agreement and for faults.

References
----------
Agreement: limits of the intraclass correlation of single assessors,
consistency, by the F distribution (Shrout & Fleiss 1979, ICC(3,1); McGraw &
Wong 1996, ICC(C,1)). Faults: Clopper-Pearson limits of k of n.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import pandas as pd
from scipy.stats import f as f_dist

from ..core.options import share_of, whole
from ..core.result import Interval, Result
from ..core.wording import percent, short, stated_percent
from ..core.words import FALLBACK, Sentence
from ..inference.proportions import clopper_pearson, silent_panel, upper_limit
from .size_curves_figure import draw_limits_curve

if TYPE_CHECKING:
    from matplotlib.figure import Figure


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class AgreementSize(Result):
    """Limits that a planned panel's agreement will have.

    Attributes
    ----------
    samples, assessors : int
    expected : float
        Intraclass correlation that the panel is supposed to show (0 to 1).
    interval : Interval
        Limits that would stand beside it.
    width : float
    table : DataFrame
        ``samples, assessors, low, high, width`` for other sizes.
    """

    samples: int
    assessors: int
    expected: float
    interval: Interval
    width: float
    table: pd.DataFrame

    def sentences(self) -> tuple[Sentence, ...]:
        """Say what limits to expect and what narrows them."""
        low, high, level = self.interval
        return (
            Sentence.of(
                "size_interval.agreement",
                assessors=Sentence.of("common.assessors", n=self.assessors),
                samples=Sentence.of("common.samples", n=self.samples),
                expected=short(self.expected),
                low=short(low),
                high=short(high),
                level=stated_percent(level),
            ),
            Sentence.of("size_interval.more_samples"),
        )

    def curve(self, *, language: str = FALLBACK) -> Figure:
        """Draw the limits over the number of samples, for this many assessors."""
        own = self.table[self.table["assessors"] == self.assessors]
        return draw_limits_curve(
            own["samples"],
            own[["low", "high"]],
            stated=self.samples,
            expected=self.expected,
            what="agreement",
            language=language,
        )

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return the limits of other sizes."""
        return {"size_interval.table_agreement": self.table.copy()}


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class FaultSize(Result):
    """Limits that a planned panel's share of "I notice it" will have.

    Attributes
    ----------
    assessors : int
    expected : float
        Share of assessors that is supposed to notice the fault (0 to 1).
    count : int
        The nearest number of assessors.
    interval : Interval
        Exact limits of ``count / assessors``.
    width : float
    silent : float
        Upper one-sided limit if nobody notices.
    for_silence : int
        Assessors who must all be silent to claim that fewer than `expected` notice.
    one_notices : float
        Probability that at least one notices, if `expected` of such people would.
    table : DataFrame
        ``assessors, noticed, low, high, width, silent, one_notices``.
    """

    assessors: int
    expected: float
    count: int
    interval: Interval
    width: float
    silent: float
    for_silence: int
    one_notices: float
    table: pd.DataFrame

    def sentences(self) -> tuple[Sentence, ...]:
        """Say what the share's limits will be and what silence would mean."""
        low, high, level = self.interval
        return (
            Sentence.of(
                "size_interval.fault",
                n=self.assessors,
                count=self.count,
                low=percent(low),
                high=percent(high),
                level=stated_percent(level),
            ),
            Sentence.of(
                "size_interval.silence",
                n=self.assessors,
                silent=percent(self.silent),
                level=stated_percent(level),
                needed=self.for_silence,
                expected=stated_percent(self.expected),
                one=percent(self.one_notices),
            ),
        )

    def curve(self, *, language: str = FALLBACK) -> Figure:
        """Draw the limits over the number of assessors."""
        rows = [_notice(n, self.expected, self.interval.level) for n in range(2, 61)]
        table = pd.DataFrame([row[2:4] for row in rows], columns=["low", "high"])
        numbers = pd.Series([row[0] for row in rows])
        return draw_limits_curve(
            numbers,
            table,
            stated=self.assessors,
            expected=self.expected,
            what="fault",
            language=language,
        )

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return the limits of other panels."""
        return {"size_interval.table_fault": self.table.copy()}


def icc_limits(icc: float, samples: int, assessors: int, level: float = 0.95) -> Interval:
    """Return the limits beside an observed ICC of single assessors, consistency.

    Examples
    --------
    Shrout & Fleiss (1979), 6 targets and 4 judges: ICC(3,1) = .71, .342 to .946.

    >>> low, high, _ = icc_limits(0.714841, 6, 4)
    >>> round(low, 3), round(high, 3)
    (0.342, 0.946)
    """
    rows, cells = samples - 1, (samples - 1) * (assessors - 1)
    observed = (1 + (assessors - 1) * icc) / (1 - icc)
    tail = (1 - level) / 2
    ends = (
        observed / f_dist.ppf(1 - tail, rows, cells),
        observed * f_dist.ppf(1 - tail, cells, rows),
    )
    low, high = ((value - 1) / (value + assessors - 1) for value in ends)
    return Interval(float(low), float(high), level)


def agreement_size(
    samples: int,
    assessors: int,
    *,
    expected: float = 0.5,
    level: float = 0.95,
    panels: Sequence[int] = (2, 3, 5, 8, 12, 20),
    flights: Sequence[int] = (3, 5, 8, 12, 20),
) -> AgreementSize:
    """Say how wide the interval of a panel's agreement will be.

    Parameters
    ----------
    samples, assessors : int
        Numbers of the planned session, 2 at least.
    expected : float
        The intraclass correlation it is supposed to show, between 0 and 1.
    level : float
        Confidence level.
    panels, flights : sequence of int
        Numbers of assessors and of samples to show beside it.

    Returns
    -------
    AgreementSize

    Raises
    ------
    OptionError
        For a number out of its range.

    Examples
    --------
    >>> round(agreement_size(6, 8, expected=0.6).width, 2)
    0.61
    """
    whole("samples", samples, 2)
    whole("assessors", assessors, 2)
    share_of("expected", expected)
    share_of("level", level)
    rows = []
    for n in sorted({*flights, samples}):
        for k in sorted({*panels, assessors}):
            low, high, _ = icc_limits(expected, n, k, level)
            rows.append((n, k, low, high, high - low))
    found = icc_limits(expected, samples, assessors, level)
    return AgreementSize(
        samples=samples,
        assessors=assessors,
        expected=expected,
        interval=found,
        width=found.high - found.low,
        table=pd.DataFrame(rows, columns=["samples", "assessors", "low", "high", "width"]),
    )


def fault_size(
    assessors: int,
    *,
    expected: float = 0.25,
    level: float = 0.95,
    panels: Sequence[int] = (2, 3, 5, 8, 10, 12, 20, 30, 50),
) -> FaultSize:
    """Say how wide the interval of "so many notice the fault" will be.

    Parameters
    ----------
    assessors : int
        Assessors of the planned session.
    expected : float
        Share of assessors that is supposed to notice it, between 0 and 1.
    level : float
        Confidence level.
    panels : sequence of int
        Numbers of assessors to show beside it.

    Returns
    -------
    FaultSize

    Raises
    ------
    OptionError
        For a number out of its range.

    Examples
    --------
    >>> size = fault_size(8, expected=0.25)
    >>> round(size.interval.low, 3), round(size.interval.high, 3), round(size.silent, 4)
    (0.032, 0.651, 0.3123)
    """
    whole("assessors", assessors, 1)
    share_of("expected", expected)
    share_of("level", level)
    rows = [_notice(n, expected, level) for n in sorted({*panels, assessors})]
    columns = ["assessors", "noticed", "low", "high", "width", "silent", "one_notices"]
    table = pd.DataFrame(rows, columns=columns)
    _, count, low, high, width, silent, one = _notice(assessors, expected, level)
    return FaultSize(
        assessors=assessors,
        expected=expected,
        count=count,
        interval=Interval(low, high, level),
        width=width,
        silent=silent,
        for_silence=silent_panel(expected, level),
        one_notices=one,
        table=table,
    )


def _notice(
    n: int, share: float, level: float
) -> tuple[int, int, float, float, float, float, float]:
    count = round(n * share)
    low, high = (float(limit) for limit in clopper_pearson(count, n, level))
    silent = float(upper_limit(0, n, level))
    return n, count, low, high, high - low, silent, 1 - (1 - share) ** n
