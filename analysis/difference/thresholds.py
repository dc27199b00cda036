"""At which concentration is it noticed: thresholds from ascending forced choices.

Each step holds a spiked cup among blanks, the concentration rising from step
to step. The best estimate is simple and known everywhere, but a guesser who
is right on the last steps pulls it down; the likelihood fit allows for
guessing. Assessors differ, so the fit for all of them gives each a threshold
of its own; putting all answers into one curve makes the interval too narrow.

References
----------
ASTM E679: best estimate, the geometric mean of the highest missed and the next
higher concentration. ISO 13301: logistic with guessing rate,
``P = g + (1 - g) / (1 + exp(-b (x - t)))``, x = log10 of the concentration,
threshold t where half of those who do not guess notice it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import inf, isfinite, nan, sqrt
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.optimize import minimize, minimize_scalar
from scipy.special import expit, xlog1py, xlogy
from scipy.stats import t as t_dist

from ..core.errors import NotEstimable, TableError
from ..core.options import share_of
from ..core.plotted import Plotted
from ..core.result import Interval, copies
from ..core.wording import percent, short, stated_percent
from ..core.words import FALLBACK, Sentence
from ..inference.profile_likelihood import likelihood_interval

if TYPE_CHECKING:
    from matplotlib.figure import Figure

Floats = npt.NDArray[np.float64]
_STEEP_EDGES = (0.3, 60.0)
FEW = 8
"""Assessors below which it is said that the interval tells more than the value."""
_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(21)
_LOG_WEIGHTS = np.log(_WEIGHTS / _WEIGHTS.sum())


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Threshold(Plotted):
    """Thresholds of assessors and of the group.

    Attributes
    ----------
    assessors, steps : int
    guess : float
        Probability of a right answer by guessing.
    each : DataFrame
        ``assessor, best_estimate, fitted, low, high``: concentrations; the
        likelihood limits of a single assessor are mostly open on one side
        (0 or infinity), and `fitted` is missing where answers cannot tell.
    best_estimate : float
        Group value: geometric mean of the assessors' best estimates.
    best_estimate_interval : Interval
        Of the value that the rule gives in other panels, not of the true
        threshold: the rule is biased low, and with 24 assessors these 95 %
        limits held the true one in 74 % of simulated panels.
        From the spread of the assessors (t distribution on log10).
    log_sd : float
        Standard deviation of the assessors' log10 best estimates.
    pooled, pooled_slope, pooled_loglik : float
        Threshold, slope b and log-likelihood of one curve for all answers.
    pooled_interval : Interval
        By likelihood; too narrow when assessors differ.
    fitted, slope, assessor_sd, loglik : float
        Geometric mean threshold of assessors, slope, and standard deviation of
        log10 thresholds, each assessor with a threshold of its own.
    fitted_interval : Interval
        By likelihood, for the population of assessors.
    level : float
    table : DataFrame
        ``concentration, answers, right, share, expected``.
    """

    assessors: int
    steps: int
    guess: float
    each: pd.DataFrame
    best_estimate: float
    best_estimate_interval: Interval
    log_sd: float
    pooled: float
    pooled_slope: float
    pooled_loglik: float
    pooled_interval: Interval
    fitted: float
    slope: float
    assessor_sd: float
    loglik: float
    fitted_interval: Interval
    level: float
    table: pd.DataFrame

    def sentences(self) -> tuple[Sentence, ...]:
        """Say the group's threshold both ways, and how far assessors differ."""
        low, high, level = self.best_estimate_interval
        simple = Sentence.of(
            "threshold.best",
            n=self.assessors,
            steps=self.steps,
            t=short(self.best_estimate),
            low=short(low),
            high=short(high),
            level=stated_percent(level),
            times=short(10**self.log_sd, 2),
        )
        low, high, _ = self.fitted_interval
        side = self.outside
        fit = Sentence.of(
            f"threshold.fitted_{side}" if side else "threshold.fitted",
            t=short(self.fitted),
            low=short(low) if low > 0 else Sentence.of("threshold.open"),
            high=short(high) if isfinite(high) else Sentence.of("threshold.open"),
            level=stated_percent(level),
            guess=percent(self.guess),
        )
        return simple, fit, Sentence.of("threshold.low", last=self._lucky())

    @property
    def outside(self) -> str:
        """Where the fit lies if more than a step off: ``"below"``, ``"above"``, else empty."""
        c = self.table["concentration"].to_numpy(float)
        if self.fitted < c[0] ** 2 / c[1]:
            return "below"
        return "above" if self.fitted > c[-1] ** 2 / c[-2] else ""

    def _lucky(self) -> str:
        return percent(self.guess)

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return the assessors' thresholds and the shares of right answers."""
        return copies(**{"threshold.table_each": self.each, "threshold.table_steps": self.table})

    def figure(self, *, language: str = FALLBACK, narrow: bool = False) -> Figure:
        """Draw shares of right answers over the concentration with the fitted curves."""
        from .thresholds_figure import draw_threshold

        c = self.table["concentration"].to_numpy(float)
        x = np.linspace(np.log10(c[0]) - 0.2, np.log10(c[-1]) + 0.2, 200)
        mixed = (np.log10(self.fitted), self.slope, self.assessor_sd, 0.0)
        curve = (10**x, _marginal(x, mixed, self.guess))
        return draw_threshold(
            self.table, curve, self.fitted_interval, self.guess, language=language, narrow=narrow
        )


def best_estimates(concentrations: npt.ArrayLike, right: npt.ArrayLike) -> Floats:
    """Return each assessor's best estimate.

    The geometric mean of the highest missed concentration and the next higher
    one; half a step below the first when none was missed, half a step above
    the last when the last was.

    Parameters
    ----------
    concentrations : array_like, shape (steps,)
        Ascending, above 0.
    right : array_like of {0, 1}, shape (assessors, steps)
        nan for no answer.

    Examples
    --------
    >>> best_estimates([1, 10, 100], [[0, 1, 1], [1, 1, 1], [1, 1, 0]]).round(3).tolist()
    [3.162, 0.316, 316.228]
    """
    c = np.asarray(concentrations, dtype=float)
    below, above = c[0] ** 2 / c[1], c[-1] ** 2 / c[-2]
    found = []
    for row in np.asarray(right, dtype=float):
        missed = np.flatnonzero(row == 0)
        steps = np.flatnonzero(~np.isnan(row))
        if not steps.size:
            found.append(nan)
            continue
        if not missed.size:
            low, high = (below if steps[0] == 0 else c[steps[0] - 1]), c[steps[0]]
        else:
            later = steps[steps > missed[-1]]
            low, high = c[missed[-1]], (c[later[0]] if later.size else above)
        found.append(sqrt(low * high))
    return np.array(found)


def threshold(table: pd.DataFrame, *, guess: float = 1 / 3, level: float = 0.95) -> Threshold:
    """Estimate the threshold of detection from ascending forced choices.

    Parameters
    ----------
    table : DataFrame
        Columns ``assessor, concentration, correct`` (1 right, 0 wrong), one row
        a presentation. Concentrations are above 0, in one unit.
    guess : float
        Probability of a right answer by guessing: 1/3 for three cups.
    level : float
        Confidence level of the intervals.

    Returns
    -------
    Threshold

    Raises
    ------
    TableError
        For a missing column, a concentration that is not above 0, or an answer
        that is neither 0 nor 1.
    NotEstimable
        With fewer than two assessors or three steps, or when all answers are
        right or wrong.
    """
    share_of("guess", guess)
    share_of("level", level)
    wide = _checked(table)
    c = wide.columns.to_numpy(float)
    right = wide.to_numpy(float)
    if right.shape[0] < 2 or right.shape[1] < 3:
        raise NotEstimable("threshold.too_few", assessors=right.shape[0], steps=right.shape[1])
    if np.nanmin(right) == np.nanmax(right):
        raise NotEstimable("threshold.no_change", what=int(np.nanmax(right)))
    x = np.log10(c)
    best = best_estimates(c, right)
    logs = np.log10(best[~np.isnan(best)])
    group, sd = float(logs.mean()), float(logs.std(ddof=1))
    half = float(t_dist.ppf((1 + level) / 2, len(logs) - 1)) * sd / sqrt(len(logs))
    one_curve = _pooled_loglik(x, right, guess)
    pooled = _fit(one_curve, x)
    mixed = _fit_mixed(x, right, guess)
    each = [_single(x, row, guess, level) for row in right]
    shares = np.nanmean(right, axis=0)
    answers = (~np.isnan(right)).sum(axis=0)
    return Threshold(
        assessors=len(right),
        steps=len(c),
        guess=guess,
        each=pd.DataFrame(
            {
                "assessor": [str(name) for name in wide.index],
                "best_estimate": best,
                "fitted": [one[0] for one in each],
                "low": [one[1] for one in each],
                "high": [one[2] for one in each],
            }
        ),
        best_estimate=10**group,
        best_estimate_interval=Interval(10 ** (group - half), 10 ** (group + half), level),
        log_sd=sd,
        pooled=10 ** pooled[0],
        pooled_slope=pooled[1],
        pooled_loglik=pooled[2],
        pooled_interval=_limits(lambda t: _best_slope(one_curve, t), pooled[0], x, level),
        fitted=10 ** mixed[0],
        slope=mixed[1],
        assessor_sd=mixed[2],
        loglik=mixed[3],
        fitted_interval=_limits(
            lambda t: _best_mixed(x, right, guess, t, (mixed[1], max(mixed[2], 0.1))),
            mixed[0],
            x,
            level,
        ),
        level=level,
        table=pd.DataFrame(
            {
                "concentration": c,
                "answers": answers,
                "right": np.nansum(right, axis=0).astype(int),
                "share": shares,
                "expected": _marginal(x, mixed, guess),
            }
        ),
        warnings=_warnings(right, guess),
    )


def _checked(table: pd.DataFrame) -> pd.DataFrame:
    faults = []
    for name in ("assessor", "concentration", "correct"):
        if name not in table.columns:
            have = [str(column) for column in table.columns]
            faults.append(Sentence.of("table.no_column", column=name, have=have))
    if faults:
        raise TableError(tuple(faults))
    rows = table[table["correct"].notna()]
    level = pd.to_numeric(rows["concentration"], errors="coerce")
    answer = pd.to_numeric(rows["correct"], errors="coerce")
    for row, value in rows.loc[~(level > 0), "concentration"].items():
        faults.append(Sentence.of("threshold.bad_level", row=row, found=repr(value)))
    for row, value in rows.loc[~answer.isin([0, 1]), "correct"].items():
        faults.append(Sentence.of("threshold.bad_answer", row=row, found=repr(value)))
    if rows.duplicated(["assessor", "concentration"]).any():
        faults.append(Sentence.of("threshold.twice"))
    if faults:
        raise TableError(tuple(faults))
    plain = rows.assign(concentration=level.astype(float), correct=answer.astype(float))
    return plain.pivot_table(index="assessor", columns="concentration", values="correct")


def _probability(x: Floats, t: float | Floats, b: float, guess: float) -> Floats:
    p: Floats = guess + (1 - guess) * expit(b * (x - t))
    return np.clip(p, 1e-12, 1 - 1e-12)


def _pooled_loglik(x: Floats, right: Floats, guess: float) -> Callable[[float, float], float]:
    yes, no = np.nansum(right == 1, axis=0), np.nansum(right == 0, axis=0)

    def loglik(t: float, b: float) -> float:
        p = _probability(x, t, b, guess)
        return float(np.sum(xlogy(yes, p) + xlog1py(no, -p)))

    return loglik


def _highest(
    loglik: Callable[[Floats], float], start: Sequence[float], bounds: list[tuple[float, float]]
) -> tuple[Floats, float]:
    """Return where a log-likelihood is highest within bounds, and how high."""

    def unlikely(v: Floats) -> float:
        return -loglik(v)

    options: Any = {"xatol": 1e-7, "fatol": 1e-10, "maxfev": 4000}
    first: Floats = np.array(start, dtype=np.float64)
    found = minimize(unlikely, first, bounds=bounds, method="Nelder-Mead", options=options)
    return np.asarray(found.x, dtype=np.float64), float(-found.fun)


def _fit(loglik: Callable[[float, float], float], x: Floats) -> tuple[float, float, float]:
    """Return t, b and the highest log-likelihood; b within `_STEEP_EDGES`."""
    low, high = _reach(x)
    best = (nan, nan, -inf)
    grid = [(float(t), b) for t in np.linspace(x[0], x[-1], 9) for b in (2.0, 8.0, 25.0)]
    for start in sorted(grid, key=lambda at: -loglik(*at))[:2]:
        at, top = _highest(
            lambda v: loglik(float(v[0]), float(v[1])), start, [(low, high), _STEEP_EDGES]
        )
        if top > best[2]:
            best = (float(at[0]), float(at[1]), top)
    return best


def _reach(x: Floats) -> tuple[float, float]:
    """Return how far below and above the steps a threshold is looked for."""
    span = float(x[-1] - x[0])
    return float(x[0]) - 2 * span, float(x[-1]) + 2 * span


def _best_slope(loglik: Callable[[float, float], float], t: float) -> float:
    """Return the log-likelihood at t, slope at its best; a grid first, there may be two peaks."""
    grid = np.geomspace(*_STEEP_EDGES, 24)
    values = [loglik(t, float(b)) for b in grid]
    at = int(np.argmax(values))
    ends = (float(grid[max(at - 1, 0)]), float(grid[min(at + 1, len(grid) - 1)]))
    found = minimize_scalar(lambda b: -loglik(t, b), bounds=ends, method="bounded")
    return max(float(-found.fun), values[at])


def _mixed_loglik(x: Floats, right: Floats, guess: float, at: Sequence[float] | Floats) -> float:
    """Return the log-likelihood of t, b and sd with normal thresholds, by Gauss-Hermite."""
    t, b, sd = (float(value) for value in at)
    own = t + sd * _NODES
    p = _probability(x[None, :], own[:, None], b, guess)
    yes, no = (right == 1).astype(float), (right == 0).astype(float)
    each = yes @ np.log(p).T + no @ np.log1p(-p).T + _LOG_WEIGHTS
    top = each.max(axis=1)  # by hand: scipy's logsumexp takes four times as long
    return float((top + np.log(np.exp(each - top[:, None]).sum(axis=1))).sum())


def _fit_mixed(x: Floats, right: Floats, guess: float) -> tuple[float, float, float, float]:
    middle, span = float(x.mean()), float(x[-1] - x[0])
    best = (nan, nan, nan, -inf)
    for start in ((middle, 5.0, 0.3), (middle, 2.0, 1.0)):
        at, top = _highest(
            lambda v: _mixed_loglik(x, right, guess, v),
            start,
            [_reach(x), _STEEP_EDGES, (0.0, 2 * span)],
        )
        if top > best[3]:
            best = (float(at[0]), float(at[1]), float(at[2]), top)
    return best


def _best_mixed(
    x: Floats, right: Floats, guess: float, t: float, start: tuple[float, float]
) -> float:
    """Return the log-likelihood at t, slope and spread at their best."""
    span = float(x[-1] - x[0])
    _, top = _highest(
        lambda v: _mixed_loglik(x, right, guess, (t, float(v[0]), float(v[1]))),
        start,
        [_STEEP_EDGES, (0.0, 2 * span)],
    )
    return top


def _limits(profile: Callable[[float], float], best: float, x: Floats, level: float) -> Interval:
    """Return likelihood limits as concentrations; 0 and infinity where there is none."""
    low, high = _reach(x)
    found = likelihood_interval(profile, best, level=level, low=low, high=high)
    return Interval(
        0.0 if found.low <= low else 10**found.low,
        10**found.high if isfinite(found.high) else inf,
        level,
    )


def _single(x: Floats, row: Floats, guess: float, level: float) -> tuple[float, float, float]:
    """Return one assessor's fitted threshold and its limits; nan where answers cannot tell."""
    there = ~np.isnan(row)
    if there.sum() < 3 or np.nanmin(row) == np.nanmax(row):
        return nan, nan, nan
    loglik = _pooled_loglik(x[there], row[None, there], guess)
    t, _, _ = _fit(loglik, x[there])
    span = x[-1] - x[0]
    if not x[0] - span < t < x[-1] + span:
        return nan, nan, nan
    low, high, _ = _limits(lambda at: _best_slope(loglik, at), t, x, level)
    return 10**t, low, high


def _marginal(x: Floats, mixed: tuple[float, float, float, float], guess: float) -> Floats:
    t, b, sd, _ = mixed
    p = _probability(x[None, :], (t + sd * _NODES)[:, None], b, guess)
    mean: Floats = np.exp(_LOG_WEIGHTS) @ p
    return mean


def _warnings(right: Floats, guess: float) -> tuple[Sentence, ...]:
    said = []
    none_missed = int((np.nanmin(right, axis=1) == 1).sum())
    last_missed = int((right[:, -1] == 0).sum())
    if none_missed:
        said.append(Sentence.of("threshold.below", n=none_missed))
    if last_missed:
        said.append(Sentence.of("threshold.above", n=last_missed))
    if len(right) < FEW:
        said.append(Sentence.of("threshold.few", n=len(right), guess=percent(guess)))
    return tuple(said)
