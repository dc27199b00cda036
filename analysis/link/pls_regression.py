"""Partial least squares: many correlated measurements against one score or several.

With ten measurements of twelve bottles a regression fits anything. Partial
least squares asks a smaller question: is there one direction (or two) of the
measurements along which the scores move, and does it foretell a bottle that
was left out? How many directions are used is decided by leaving out, and *none*
is one of the answers.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.stats import t as student

from ..core.errors import NotEstimable, OptionError
from ..core.p_values import holds
from ..core.result import Result, copies
from ..core.words import Sentence

Array = npt.NDArray[np.float64]
FEWEST = 6
"""Groups of bottles that can be left out one by one."""
_TINY = 1e-12


@dataclass(frozen=True, slots=True)
class Directions:
    """A fit with up to A components, orthogonal scores.

    Attributes
    ----------
    coefficients : array, shape (A + 1, p, q)
        For 0 to A components, in the units of X and Y as given.
    x_mean, y_mean : array, shape (p,) and (q,)
    weights : array, shape (p, A)
        Of unit length, for scaled X with the former components taken off.
    x_loadings, y_loadings : array, shape (p, A) and (q, A)
    x_explained : array, shape (A,)
        Share of the variance of X, each component.
    score_squares : array, shape (A,)
        Sum of squares of each component's scores.
    """

    coefficients: Array
    x_mean: Array
    y_mean: Array
    weights: Array
    x_loadings: Array
    y_loadings: Array
    x_explained: Array
    score_squares: Array

    def predict(self, X: Array, components: int) -> Array:
        """Predict Y for rows of X, shape (n, q)."""
        predicted: Array = self.y_mean + (X - self.x_mean) @ self.coefficients[components]
        return predicted


def directions(X: Array, Y: Array, components: int, *, scale: bool = True) -> Directions:
    """Fit partial least squares.

    Parameters
    ----------
    X : array, shape (n, p)
    Y : array, shape (n, q)
    components : int
        Most components, 1 to min(n − 1, p).
    scale : bool
        Divide each column of X by its standard deviation first.

    References
    ----------
    Wold, Martens & Wold 1983, Lect. Notes Math. 973:286–293 (the two-block
    algorithm with orthogonal scores). Mevik & Wehrens 2007, J. Stat. Softw. 18(2).

    Examples
    --------
    >>> X = np.array([[1.0, 0.0], [2.0, 1.0], [3.0, 0.0], [4.0, 1.0]])
    >>> fitted = directions(X, X @ [[2.0], [1.0]], 2)
    >>> fitted.coefficients[2].round(6).ravel().tolist()
    [2.0, 1.0]
    """
    n, p = X.shape
    if not 1 <= components <= min(n - 1, p):
        raise OptionError("pls.components", found=components, most=min(n - 1, p))
    x_mean, y_mean = X.mean(axis=0), Y.mean(axis=0)
    spread = _spread(X, x_mean, scale=scale)
    centred, answer = (X - x_mean) / spread, Y - y_mean
    weights, loads, turned = (np.zeros((p, components)) for _ in range(3))
    answers = np.zeros((Y.shape[1], components))
    left = centred.copy()
    total = float(np.sum(centred**2))
    explained = np.zeros(components)
    coefficients = np.zeros((components + 1, p, Y.shape[1]))
    for a in range(components):
        cross = left.T @ answer
        if np.abs(cross).max() <= _TINY * total:
            coefficients[a + 1 :] = coefficients[a]
            break
        direction = np.linalg.svd(cross, full_matrices=False)[0][:, 0]
        score = left @ direction
        length = float(score @ score)
        loading, answers[:, a] = left.T @ score / length, answer.T @ score / length
        left -= np.outer(score, loading)
        # The same score as a direction of X itself, not of what is left of it.
        weights[:, a], loads[:, a] = direction, loading
        turned[:, a] = direction - turned[:, :a] @ (loads[:, :a].T @ direction)
        explained[a] = float(loading @ loading) * length / total
        coefficients[a + 1] = coefficients[a] + np.outer(turned[:, a], answers[:, a])
    return Directions(
        coefficients=coefficients / spread[:, None],
        x_mean=x_mean,
        y_mean=y_mean,
        weights=weights,
        x_loadings=loads,
        y_loadings=answers,
        x_explained=explained,
        score_squares=explained * total / np.maximum((loads**2).sum(axis=0), _TINY),
    )


def _spread(X: Array, x_mean: Array, *, scale: bool) -> Array:
    spread: Array = X.std(axis=0, ddof=1) if scale else np.ones(X.shape[1])
    if np.any(spread <= _TINY * (1 + np.abs(x_mean))):
        raise NotEstimable("pls.constant")
    return spread


def left_out(
    X: Array, Y: Array, components: int, groups: npt.NDArray[Any], *, scale: bool = True
) -> Array:
    """Predict each row from a fit without its group, shape (A + 1, n, q).

    Parameters
    ----------
    X, Y : array
        As in `directions`.
    components : int
        Most components, at most the smallest training set allows.
    groups : array, shape (n,)
        Rows with equal labels are left out together.
    scale : bool
        Scale X anew in each training set.
    """
    predicted = np.empty((components + 1, *Y.shape))
    for group in np.unique(groups):
        out = groups == group
        fitted = directions(X[~out], Y[~out], components, scale=scale)
        for a in range(components + 1):
            predicted[a, out] = fitted.predict(X[out], a)
    return predicted


def each_left_out(X: Array, Y: Array, components: int, groups: npt.NDArray[Any]) -> Array:
    """Predict as `left_out` does, each column of Y by fits of its own, shape (A + 1, n, q)."""
    predicted = np.empty((components + 1, *Y.shape))
    for group in np.unique(groups):
        out = groups == group
        x_mean, y_mean = X[~out].mean(axis=0), Y[~out].mean(axis=0)
        spread = _spread(X[~out], x_mean, scale=True)
        fitted = _each((X[~out] - x_mean) / spread, Y[~out] - y_mean, components)
        predicted[:, out] = y_mean + ((X[out] - x_mean) / spread) @ fitted
    return predicted


def _each(X: Array, Y: Array, components: int) -> Array:
    """Return the coefficients of the columns of Y, each fitted alone, shape (A + 1, p, q).

    As `directions` has them of one answer. Scores are orthogonal, so taking each off the
    answer and off the later scores is the same as taking it off X.
    """
    coefficients = np.zeros((components + 1, X.shape[1], Y.shape[1]))
    earlier: list[tuple[Array, Array, Array]] = []
    left, total = Y.copy(), float(np.sum(X**2))
    for a in range(components):
        cross = X.T @ left
        some = np.abs(cross).max(axis=0) > _TINY * total  # else there is nothing left to foretell
        direction = np.where(some, cross / np.maximum(np.linalg.norm(cross, axis=0), _TINY), 0.0)
        score, turned = X @ direction, direction
        for before, loading, its_turned in earlier:
            score = score - before * (before * score).sum(axis=0)
            turned = turned - its_turned * (loading * direction).sum(axis=0)
        length = np.maximum(np.linalg.norm(score, axis=0), _TINY)
        score, turned = score / length, turned / length
        answer = (left * score).sum(axis=0)
        left -= score * answer
        coefficients[a + 1] = coefficients[a] + turned * answer
        earlier.append((score, X.T @ score, turned))
    return coefficients


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Pls(Result):
    """What many measurements foretell of one score.

    Attributes
    ----------
    n, groups : int
        Bottles, and groups left out together.
    components : int
        Chosen by leaving out: the fewest within one standard error of the best.
    curve : DataFrame
        ``components, rmsep, se, q2, r2, x_explained``: root mean square error of
        left-out predictions, its standard error, predicted and fitted R².
    p : float
        Share of shuffles whose best predicted R² reaches this one's.
    p_error : float
        Monte-Carlo standard error of `p`.
    seed, shuffles : int
    coefficients : DataFrame
        ``measurement, coefficient, low, high, importance`` at `components`, per
        unit of the measurement; interval by leaving out one group at a time.
    level : float
        Of the intervals.
    """

    n: int
    groups: int
    components: int
    curve: pd.DataFrame
    p: float
    p_error: float
    seed: int
    shuffles: int
    coefficients: pd.DataFrame
    level: float

    def sentences(self) -> tuple[Sentence, ...]:
        """Say whether left-out bottles are foretold, and by how much."""
        if self.components == 0 or not holds(self.p, 1 - self.level):
            return (Sentence.of("pls.nothing", n=self.n, p=self.p, shuffles=self.shuffles),)
        row = self.curve[self.curve["components"] == self.components].iloc[0]
        return (
            Sentence.of(
                "pls.foretells",
                n=self.components,
                q2=float(row["q2"]),
                rmsep=float(row["rmsep"]),
                p=self.p,
                shuffles=self.shuffles,
            ),
        )

    def tables(self) -> dict[str, pd.DataFrame]:
        """Return the curve and, if a direction was found, its coefficients."""
        shown = {"pls.curve": self.curve}
        if self.components:
            shown["pls.coefficients"] = self.coefficients
        return copies(**shown)


def pls(
    X: pd.DataFrame,
    y: npt.ArrayLike,
    *,
    groups: npt.ArrayLike | None = None,
    components: int = 4,
    shuffles: int = 199,
    seed: int = 1,
    level: float = 0.95,
) -> Pls:
    """Ask whether many measurements foretell a score of bottles that were left out.

    Parameters
    ----------
    X : DataFrame, shape (n, p)
        One row a bottle, one column a measurement.
    y : array, shape (n,)
        The panel's mean score of each bottle.
    groups : array, shape (n,), optional
        Batches: bottles of one batch are left out together. Each bottle alone by default.
    components : int
        Most components tried.
    shuffles : int
        Shuffled answers for the p value.
    seed : int
        Of the shuffles.
    level : float
        Of the intervals.

    Raises
    ------
    NotEstimable
        With fewer than six groups, or a constant measurement.
    """
    values, answer = X.to_numpy(float), np.asarray(y, float)[:, None]
    n = len(values)
    labels = np.arange(n) if groups is None else pd.factorize(np.asarray(groups))[0]
    kinds = np.unique(labels)
    if len(kinds) < FEWEST:
        raise NotEstimable("pls.few", n=len(kinds))
    smallest = n - int(np.bincount(labels).max())
    most = min(components, smallest - 2, values.shape[1])
    predicted = left_out(values, answer, most, labels)[:, :, 0]
    errors = (predicted - answer[:, 0]) ** 2
    rmsep = np.sqrt(errors.mean(axis=1))
    se = errors.std(axis=1, ddof=1) / np.sqrt(n) / (2 * np.maximum(rmsep, _TINY))
    # Predicted R² against the mean of the others, which is what knowing nothing predicts.
    q2 = 1 - errors.sum(axis=1) / errors[0].sum()
    chosen = int(np.argmax(rmsep <= rmsep.min() + se[int(np.argmin(rmsep))]))
    fitted = directions(values, answer, most)
    around = float(((answer - answer.mean()) ** 2).sum())
    r2 = [
        1 - float(((fitted.predict(values, a) - answer) ** 2).sum()) / around
        for a in range(most + 1)
    ]
    rng = np.random.default_rng(seed)
    shuffled = np.column_stack([answer[_shuffle(labels, rng), 0] for _ in range(shuffles)])
    wrong = ((each_left_out(values, shuffled, most, labels) - shuffled) ** 2).sum(axis=1)
    reached = 1 + int(((1 - wrong[1:] / wrong[0]).max(axis=0) >= q2[1:].max()).sum())
    p = reached / (shuffles + 1)
    shown = max(chosen, 1)
    return Pls(
        n=n,
        groups=len(kinds),
        components=chosen,
        curve=pd.DataFrame(
            {
                "components": np.arange(most + 1),
                "rmsep": rmsep,
                "se": se,
                "q2": q2,
                "r2": r2,
                "x_explained": np.concatenate([[0.0], np.cumsum(fitted.x_explained)]),
            }
        ),
        p=p,
        p_error=float(np.sqrt(p * (1 - p) / shuffles)),
        seed=seed,
        shuffles=shuffles,
        coefficients=_jackknife(X, answer, labels, fitted, components=shown, level=level),
        level=level,
        warnings=(Sentence.of("pls.chosen_by_se"),) if chosen < int(np.argmin(rmsep)) else (),
    )


def _shuffle(labels: npt.NDArray[Any], rng: np.random.Generator) -> npt.NDArray[Any]:
    """Shuffle whole groups where they are of equal size, rows otherwise."""
    sizes = np.bincount(labels)
    if len(set(sizes.tolist())) != 1:
        return rng.permutation(len(labels))
    rows = np.argsort(labels, kind="stable").reshape(len(sizes), -1)
    order = np.empty(len(labels), dtype=int)
    order[rows] = rows[rng.permutation(len(rows))]
    return order


def _jackknife(
    X: pd.DataFrame,
    answer: Array,
    labels: npt.NDArray[Any],
    fitted: Directions,
    *,
    components: int,
    level: float,
) -> pd.DataFrame:
    """Interval of each coefficient from the fits without one group."""
    values = X.to_numpy(float)
    kinds = np.unique(labels)
    without = np.array(
        [
            directions(values[labels != kind], answer[labels != kind], components).coefficients[
                components
            ][:, 0]
            for kind in kinds
        ]
    )
    m = len(kinds)
    centre = fitted.coefficients[components][:, 0]
    se = np.sqrt((m - 1) / m * ((without - without.mean(axis=0)) ** 2).sum(axis=0))
    half = student.ppf((1 + level) / 2, m - 1) * se
    return pd.DataFrame(
        {
            "measurement": [str(name) for name in X.columns],
            "coefficient": centre,
            "low": centre - half,
            "high": centre + half,
            "importance": _importance(fitted, components),
        }
    )


def _importance(fitted: Directions, components: int) -> Array:
    """Return each scaled measurement's part in what is explained of the score, mean square 1."""
    weights = fitted.weights[:, :components]
    explained = (fitted.y_loadings[:, :components] ** 2).sum(axis=0) * fitted.score_squares[
        :components
    ]
    if explained.sum() <= 0:
        return np.full(len(weights), np.nan)
    return np.asarray(
        np.sqrt(len(weights) * (weights**2 @ explained) / explained.sum()), dtype=np.float64
    )
