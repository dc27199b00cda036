"""The bottle as the unit: one value per batch, with assessors and sessions taken off.

Ten assessors who taste six bottles give six values of chemistry, not sixty.
Everything here works on the six: ordinary least squares with their degrees of
freedom, and permutation of the values among bottles, exact for few of them.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.stats import f as fisher
from scipy.stats import t as student

from ..core.connected_parts import connected
from ..core.two_way import levels
from ..core.words import Sentence

Array = npt.NDArray[np.float64]
EXACT = 40_320
"""Most orders that are enumerated: all of 8 bottles in one session."""
_CHUNK = 20_000


@dataclass(frozen=True, slots=True, eq=False)
class Units:
    """One row a batch (or bottle), sessions taken off.

    Attributes
    ----------
    names : tuple of str
        Of the units.
    group : integer array, shape (n,)
        Sessions that share a bottle are one group; orders are shuffled within it.
    X : array, shape (n, p)
        Measurements less the mean of their group.
    y : array, shape (n,)
        Panel means, sessions taken off, less the mean of their group.
    x_mean, y_mean : array, shape (p,) and float
        Overall means, to come back to the scale.
    sessions, groups : int
    pooled : bool
        Whether bottles of one batch were averaged.
    means : DataFrame
        ``session, sample, mean, assessors`` before any averaging.
    """

    names: tuple[str, ...]
    group: npt.NDArray[np.intp]
    X: Array
    y: Array
    x_mean: Array
    y_mean: float
    sessions: int
    groups: int
    pooled: bool
    means: pd.DataFrame


def bottle_means(scores: pd.DataFrame) -> pd.DataFrame:
    """Return the panel's mean of each bottle in each session, as if all had tasted all.

    Parameters
    ----------
    scores : DataFrame
        Tidy rows of one attribute.

    Returns
    -------
    DataFrame
        ``session, sample, mean, assessors``. With holes the means come from an
        additive fit of assessors and bottles, so a severe assessor who missed
        one bottle does not lift it.

    Examples
    --------
    >>> rows = [("A", "x", 5), ("A", "y", 7), ("B", "x", 2)]
    >>> scores = pd.DataFrame(rows, columns=["assessor", "sample", "score"]).assign(session="1")
    >>> bottle_means(scores)["mean"].round(6).tolist()  # B would have given y 4
    [3.5, 5.5]
    """
    cells = scores.groupby(["session", "assessor", "sample"], sort=False)["score"].mean()
    parts = []
    for session, cell in cells.groupby(level="session", sort=False):
        square = cell.reset_index().pivot_table(
            index="assessor", columns="sample", values="score", sort=False
        )
        parts.append(
            pd.DataFrame(
                {
                    "session": session,
                    "sample": square.columns.astype(str),
                    "mean": levels(square.to_numpy(float).T),
                    "assessors": square.notna().sum().to_numpy(),
                }
            )
        )
    return pd.concat(parts, ignore_index=True)


def units(
    means: pd.DataFrame,
    bottles: pd.DataFrame,
    predictors: Sequence[str],
    *,
    batch: str | None = None,
) -> Units:
    """Join panel means and chemistry to one row a unit.

    Parameters
    ----------
    means : DataFrame
        From `bottle_means`.
    bottles : DataFrame
        ``sample`` (and ``session`` where chemistry changed), `predictors`, `batch`.
    predictors : sequence of str
    batch : str, optional
        Column of the batch; its bottles are averaged.
    """
    keys = ["session", "sample"] if "session" in bottles else ["sample"]
    joined = means.merge(bottles, on=keys, how="inner")
    joined["unit"] = joined[batch].astype(str) if batch else joined["sample"]
    columns = [*predictors, "mean"]
    pooled = joined.groupby(["session", "unit"], sort=False)[columns].mean().reset_index()
    pooled["group"] = connected(pooled["session"], pooled["unit"])
    alone = pooled.groupby("unit", sort=False)
    own = alone[list(predictors)].mean()
    group = alone["group"].first()
    score = _without_sessions(pooled).loc[own.index]
    table = own.assign(mean=score)
    inside = table - table.groupby(group).transform("mean")
    return Units(
        names=tuple(str(name) for name in own.index),
        group=group.to_numpy(np.intp),
        X=inside[list(predictors)].to_numpy(float),
        y=inside["mean"].to_numpy(float),
        x_mean=own.mean().to_numpy(float),
        y_mean=float(pooled["mean"].mean()),
        sessions=pooled["session"].nunique(),
        groups=int(group.nunique()),
        pooled=len(pooled) < len(joined),
        means=means,
    )


def _without_sessions(pooled: pd.DataFrame) -> pd.Series:
    """Fit session + unit, and return the units; sessions are compared through shared units."""
    session, sessions = pd.factorize(pooled["session"])
    unit, units_ = pd.factorize(pooled["unit"])
    design = np.zeros((len(pooled), len(sessions) + len(units_)))
    design[np.arange(len(pooled)), session] = 1
    design[np.arange(len(pooled)), len(sessions) + unit] = 1
    fitted = np.linalg.lstsq(design, pooled["mean"].to_numpy(float), rcond=None)[0]
    return pd.Series(fitted[len(sessions) :], index=units_)


@dataclass(frozen=True, slots=True, eq=False)
class Regression:
    """Least squares on units.

    Attributes
    ----------
    slopes, se : array, shape (p,)
    cov : array, shape (p, p)
    intercept, intercept_se : float
        At zero of all measurements.
    df : float
        Units less groups of sessions less slopes.
    s : float
        Residual standard deviation.
    r2, f, p : float
        Of all slopes together.
    leverage, studentised : array, shape (n,)
        Of the units; a leverage of 1 means the slope passes through that unit
        whatever its score.
    without : array, shape (n, p)
        Slopes without each unit.
    """

    slopes: Array
    se: Array
    cov: Array
    intercept: float
    intercept_se: float
    df: int
    s: float
    r2: float
    f: float
    p: float
    leverage: Array
    studentised: Array
    without: Array

    def test(self) -> Array:
        """Return two-sided p values of the slopes."""
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.asarray(2 * student.sf(np.abs(self.slopes / self.se), self.df))


def regression(data: Units) -> Regression:
    """Fit all slopes side by side on the units (least squares and leverage of statsmodels)."""
    from statsmodels.regression.linear_model import OLS

    X, y = data.X, data.y
    n, p = X.shape
    df = n - data.groups - p
    fit = OLS(y, X).fit()
    inverse = np.asarray(fit.normalized_cov_params, dtype=float)
    slopes = np.asarray(fit.params, dtype=float)
    residual = y - X @ slopes
    sse, sst = float(residual @ residual), float(y @ y)
    s2 = sse / df if df > 0 else math.nan
    cov = inverse * s2
    hat = np.asarray(fit.get_influence().hat_matrix_diag, dtype=float) + 1 / n
    left = np.maximum(1 - hat, 1e-12)
    # Slopes without unit i, its session's mean moving with it (one session: exact).
    without = slopes - (residual / left)[:, None] * (X @ inverse)
    f = ((sst - sse) / p) / s2 if s2 > 0 else math.inf
    at = data.x_mean
    return Regression(
        slopes=slopes,
        se=np.sqrt(np.diag(cov)),
        cov=cov,
        intercept=data.y_mean - float(at @ slopes),
        intercept_se=math.sqrt(max(s2, 0) / n + float(at @ cov @ at)) if df > 0 else math.nan,
        df=df,
        s=math.sqrt(s2) if s2 >= 0 else math.nan,
        r2=1 - sse / sst if sst > 0 else math.nan,
        f=f,
        p=float(fisher.sf(f, p, df)) if df > 0 else math.nan,
        leverage=hat,
        studentised=residual / np.sqrt(np.maximum(s2 * left, 1e-300)),
        without=without,
    )


class Permuted(NamedTuple):
    """A permutation test of each slope.

    Attributes
    ----------
    p : array, shape (p,)
        Share of orders whose |t| is at least the one seen.
    error : float
        Largest Monte-Carlo standard error; 0 if all orders were taken.
    orders : int
        Number of orders taken.
    exact : bool
        Whether all orders were taken.
    smallest : float
        The smallest p that could have come out.
    """

    p: Array
    error: float
    orders: int
    exact: bool
    smallest: float


def permutation(data: Units, *, seed: int = 1, orders: int = 9999) -> Permuted:
    """Shuffle the units' scores within their sessions and compare each slope's |t|.

    With one measurement and all orders the test is exact. With several, what is
    shuffled are the scores that the other measurements leave (Freedman & Lane):
    exact only asymptotically.

    References
    ----------
    Freedman & Lane 1983, J. Bus. Econ. Stat. 1:292–298. Winkler et al. 2014,
    NeuroImage 92:381–397.
    """
    X, y = data.X, data.y
    n, p = X.shape
    count = math.prod(math.factorial(int(size)) for size in np.bincount(data.group))
    exact = count <= EXACT
    number = count if exact else orders
    inverse: Array = np.linalg.inv(X.T @ X).astype(np.float64)
    maker: Array = (np.eye(n) - X @ inverse @ X.T).astype(np.float64)
    reached = np.zeros(p)
    others = [np.delete(np.arange(p), j) for j in range(p)]
    for block in _orders(data.group, exact=exact, number=orders, seed=seed):
        for j in range(p):
            rest = X[:, others[j]]
            fitted = rest @ np.linalg.lstsq(rest, y, rcond=None)[0] if p > 1 else np.zeros(n)
            left = y - fitted
            shuffled = left[block] + fitted
            seen = _t(y[None, :], X, inverse, maker, j)[0]
            reached[j] += int((_t(shuffled, X, inverse, maker, j) >= seen * (1 - 1e-9)).sum())
    share = reached / number if exact else (reached + 1) / (number + 1)
    error = 0.0 if exact else float(np.sqrt(share * (1 - share) / number).max())
    smallest = 2 / count if count > 1 else 1.0
    return Permuted(share, error, number, exact, max(smallest, 0.0 if exact else 1 / (number + 1)))


def _t(scores: Array, X: Array, inverse: Array, maker: Array, j: int) -> Array:
    """Return |t| (up to a factor) of slope j for rows of scores."""
    slope = scores @ (X @ inverse[:, j])
    rest = np.einsum("ri,ri->r", scores @ maker, scores)
    return np.asarray(np.abs(slope) / np.sqrt(np.maximum(rest, 1e-24)))


def _orders(
    home: npt.NDArray[np.intp], *, exact: bool, number: int, seed: int
) -> Iterator[npt.NDArray[np.intp]]:
    """Yield blocks of orders that keep every unit in its session."""
    places = [np.flatnonzero(home == session) for session in range(int(home.max()) + 1)]
    if exact:
        each = [np.array(list(itertools.permutations(where.tolist()))) for where in places]
        sizes = [len(own) for own in each]
        for start in range(0, math.prod(sizes), _CHUNK):
            picked = np.arange(start, min(start + _CHUNK, math.prod(sizes)))
            orders = np.empty((len(picked), len(home)), dtype=np.intp)
            for where, own, at in zip(places, each, np.unravel_index(picked, sizes), strict=True):
                orders[:, where] = own[at]
            yield orders
        return
    rng = np.random.default_rng(seed)
    for start in range(0, number, _CHUNK):
        size = min(_CHUNK, number - start)
        orders = np.empty((size, len(home)), dtype=np.intp)
        for where in places:
            orders[:, where] = rng.permuted(np.tile(where, (size, 1)), axis=1)
        yield orders


def influence_words(
    data: Units, fitted: Regression, predictors: Mapping[int, Sentence | str]
) -> list[Sentence]:
    """Name the unit on which a slope hangs: without it the slope turns, or changes by half.

    Parameters
    ----------
    data, fitted
        The units and their fit.
    predictors : mapping of int to name
        The slopes to judge, by their place.
    """
    said = []
    for j, name in predictors.items():
        slope = fitted.slopes[j]
        change = np.abs(fitted.without[:, j] - slope)
        worst = int(np.argmax(change))
        if change[worst] > abs(slope) / 2 or np.sign(fitted.without[worst, j]) != np.sign(slope):
            said.append(
                Sentence.of(
                    "link.hangs_on",
                    name=name,
                    unit=data.names[worst],
                    slope=float(slope),
                    without=float(fitted.without[worst, j]),
                )
            )
    return said
