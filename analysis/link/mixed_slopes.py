"""How a score moves with chemistry, for assessors like these and bottles like these.

Both are samples: another panel would have other slopes, and another bottle of
the same numbers would not score the same. So the model carries both::

    score = session + sum_j (slope_j + own slope_j of the assessor) x_j
            + assessor + batch + bottle + assessor in session + assessor by bottle + error

A difference between sessions is never taken for chemistry. Degrees of freedom are
Satterthwaite's: in simulations of few batches their intervals kept the stated
rate best (docs/link.md).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.stats import t as student

from ..mixed_model.block_layout import CellSums, RandomTerm
from ..mixed_model.denominator_df import inference
from ..mixed_model.reml import fit
from .bottle_regression import regression, units

Array = npt.NDArray[np.float64]
ON_UNITS = "least squares on bottles"
MIXED = "mixed model"


@dataclass(frozen=True, slots=True, eq=False)
class Slopes:
    """Slopes of one attribute, side by side.

    Attributes
    ----------
    predictors : tuple of str
    slopes, se, df, p : array, shape (p,)
        Per unit of the measurement; two-sided p.
    cov : array, shape (p + 1, p + 1)
        Of the slopes and, last, of `level_at`.
    centre : array, shape (p,)
        Means of the measurements.
    X : array, shape (m, p)
        Measurements of the bottles seen.
    level_at : float
        Score at `centre` on this panel's scale, mean over sessions.
    bottle_sd : float
        Standard deviation among bottles of equal numbers (batch and bottle).
    noise_sd : float
        Of the mean of one bottle by this panel, beyond that.
    components : DataFrame
        ``term, sd``; empty where the units alone were used.
    method : str
        ``mixed model`` or ``least squares on bottles``.
    assessors, units, sessions : int
    """

    predictors: tuple[str, ...]
    slopes: Array
    se: Array
    df: Array
    p: Array
    cov: Array
    centre: Array
    X: Array
    level_at: float
    bottle_sd: float
    noise_sd: float
    components: pd.DataFrame
    method: str
    assessors: int
    units: int
    sessions: int

    def interval(self, level: float = 0.95) -> tuple[Array, Array]:
        """Return lower and upper limits of the slopes."""
        half = student.ppf((1 + level) / 2, self.df) * self.se
        return self.slopes - half, self.slopes + half

    def beyond(self, x: Array) -> list[str]:
        """Name the measurements of `x` that lie outside those of the bottles seen."""
        low, high = self.X.min(axis=0), self.X.max(axis=0)
        room = 1e-9 * (1 + np.abs(high))
        outside = (x < low - room) | (x > high + room)
        return [name for name, out in zip(self.predictors, outside, strict=True) if out]

    def unlike(self, x: Array) -> bool:
        """Tell whether `x` is a combination that no bottle came near, though each number was seen.

        That is: farther from the centre, in the directions in which the bottles
        vary together, than any bottle seen.
        """
        around = self.X - self.X.mean(axis=0)
        inverse = np.linalg.pinv(around.T @ around)
        seen = np.einsum("ij,jk,ik->i", around, inverse, around).max()
        away = x - self.X.mean(axis=0)
        return bool(away @ inverse @ away > seen * (1 + 1e-9))

    @property
    def least_df(self) -> float:
        """Fewest degrees of freedom of any part: wide rather than wrong."""
        return float(self.df.min())

    def predict(self, x: Array, level: float = 0.95) -> pd.DataFrame:
        """Predict bottles of given numbers.

        Parameters
        ----------
        x : array, shape (m, p)
            Their measurements.
        level : float

        Returns
        -------
        DataFrame
            ``mean, low, high`` for the mean of all such bottles, and
            ``bottle_low, bottle_high`` for one new bottle scored by such a panel.
        """
        away = np.column_stack([np.atleast_2d(x) - self.centre, np.ones(len(np.atleast_2d(x)))])
        mean = away @ np.append(self.slopes, self.level_at)
        variance = np.einsum("ij,jk,ik->i", away, self.cov, away)
        t = student.ppf((1 + level) / 2, self.least_df)
        half = t * np.sqrt(variance)
        wide = t * np.sqrt(variance + self.bottle_sd**2 + self.noise_sd**2)
        return pd.DataFrame(
            {
                "mean": mean,
                "low": mean - half,
                "high": mean + half,
                "bottle_low": mean - wide,
                "bottle_high": mean + wide,
            }
        )

    def over_plane(self, meter_value: Array, acidity: Array) -> pd.DataFrame | None:
        """Predict the points of the plane, other measurements at their means.

        None where not both numbers have a slope.
        """
        if not {"meter_value", "acidity"} <= set(self.predictors):
            return None
        at = np.tile(self.centre, (meter_value.size, 1))
        at[:, self.predictors.index("meter_value")] = meter_value.ravel()
        at[:, self.predictors.index("acidity")] = acidity.ravel()
        return self.predict(at)


def slopes(
    scores: pd.DataFrame,
    means: pd.DataFrame,
    bottles: pd.DataFrame,
    predictors: Sequence[str],
    *,
    batch: str | None = None,
) -> Slopes:
    """Estimate slopes of one attribute, by the mixed model where there are assessors to model.

    Parameters
    ----------
    scores : DataFrame
        Tidy rows of one attribute.
    means : DataFrame
        `bottle_means.bottle_means` of them.
    bottles : DataFrame
        ``sample`` (and ``session``), `predictors`, `batch`; numbers complete.
    predictors : sequence of str
        That `estimability` found to be told apart.
    batch : str, optional
        Column of the batch.
    """
    if scores["assessor"].nunique() < 2:
        return _on_units(scores, means, bottles, predictors, batch)
    return _mixed(scores, bottles, predictors, batch)


def _on_units(
    scores: pd.DataFrame,
    means: pd.DataFrame,
    bottles: pd.DataFrame,
    predictors: Sequence[str],
    batch: str | None,
) -> Slopes:
    data = units(means, bottles, predictors, batch=batch)
    fitted = regression(data)
    return Slopes(
        predictors=tuple(predictors),
        slopes=fitted.slopes,
        se=fitted.se,
        df=np.full(len(predictors), float(fitted.df)),
        p=fitted.test(),
        cov=_beside(fitted.cov, fitted.s**2 / len(data.names)),
        centre=data.x_mean,
        X=data.X + data.x_mean,
        level_at=data.y_mean,
        bottle_sd=fitted.s,
        noise_sd=0.0,
        components=pd.DataFrame(columns=["term", "sd"]),
        method=ON_UNITS,
        assessors=scores["assessor"].nunique(),
        units=len(data.names),
        sessions=data.sessions,
    )


def _mixed(
    scores: pd.DataFrame, bottles: pd.DataFrame, predictors: Sequence[str], batch: str | None
) -> Slopes:
    keys = ["session", "sample"] if "session" in bottles else ["sample"]
    grouped = scores.groupby(["session", "assessor", "sample"], sort=False)["score"]
    cells = grouped.agg(["size", "mean"]).reset_index().merge(bottles, on=keys, how="inner")
    around = scores["score"] - grouped.transform("mean")
    X = cells[list(predictors)].to_numpy(float)
    at = X.mean(axis=0)
    sd = X.std(axis=0)
    scaled = (X - at) / sd
    session, names = pd.factorize(cells["session"])
    fixed = np.column_stack([np.eye(len(names))[session], scaled])
    terms = _terms(cells, scaled, predictors, batch)
    found = fit(
        fixed,
        terms,
        CellSums(
            cells["size"].to_numpy(float)[None, :],
            cells["mean"].to_numpy(float)[None, :],
            np.array([float((around**2).sum())]),
        ),
    )
    judged = inference(found, "satterthwaite")
    count = len(names)
    p = len(predictors)
    weights = np.zeros((p + 1, count + p))
    weights[np.arange(p), count + np.arange(p)] = 1
    weights[p, :count] = 1 / count
    estimate, se, df = (part[0] for part in judged.contrasts(weights))
    unscale = np.append(sd, 1.0)
    cov = weights @ judged.adjusted[0] @ weights.T / np.outer(unscale, unscale)
    plain = [name.removesuffix("[0]") for name in found.names]
    sds = dict(zip(plain, np.sqrt(np.maximum(found.theta[0], 0)), strict=True))
    assessors = cells["assessor"].nunique()
    error = sds[plain[-1]] ** 2 / (assessors * float(cells["size"].mean()))
    # The scale is this panel's own: how its assessors' levels differ from others' is not in doubt.
    level = cov[p, p] - sds["assessor"] ** 2 / assessors
    cov[p, p] = max(level, 0.05 * cov[p, p])
    noise = error + sds.get("assessor:bottle", 0.0) ** 2 / assessors
    with np.errstate(divide="ignore"):
        tested = 2 * student.sf(np.abs(estimate[:p] / se[:p]), df[:p])
    return Slopes(
        predictors=tuple(predictors),
        slopes=estimate[:p] / sd,
        se=se[:p] / sd,
        df=df[:p],
        p=tested,
        cov=cov,
        centre=at,
        X=np.unique(X, axis=0),
        level_at=float(estimate[p]),
        bottle_sd=float(np.hypot(sds.get("batch", 0.0), sds["bottle"])),
        noise_sd=float(np.sqrt(noise)),
        components=pd.DataFrame({"term": list(sds), "sd": list(sds.values())}),
        method=MIXED,
        assessors=assessors,
        units=cells[batch].nunique() if batch else cells["sample"].nunique(),
        sessions=count,
    )


def _beside(cov: Array, variance: float) -> Array:
    """Set an uncorrelated variance beside a covariance."""
    p = len(cov)
    whole = np.zeros((p + 1, p + 1))
    whole[:p, :p] = cov
    whole[p, p] = variance
    return whole


def _terms(
    cells: pd.DataFrame, scaled: Array, predictors: Sequence[str], batch: str | None
) -> list[RandomTerm]:
    """Lay out the random terms that these cells can carry."""

    def codes(*columns: str) -> npt.NDArray[np.int64]:
        found = cells.groupby(list(columns), sort=False, dropna=False).ngroup()
        return np.asarray(found, dtype=np.int64)

    assessor, bottle = codes("assessor"), codes("sample")
    terms = [RandomTerm("assessor", assessor)]
    terms += [
        RandomTerm(f"assessor's slope: {name}", assessor, scaled[:, [j]])
        for j, name in enumerate(predictors)
    ]
    terms.append(RandomTerm("bottle", bottle))
    if batch is not None:
        whole = codes(batch)
        if 1 < whole.max() + 1 < bottle.max() + 1:
            terms.append(RandomTerm("batch", whole))
    if len(set(cells["session"])) > 1:
        meeting = codes("assessor", "session")
        if meeting.max() > assessor.max():
            terms.append(RandomTerm("assessor in session", meeting))
    if (cells["size"] > 1).any():
        terms.append(RandomTerm("assessor:bottle", codes("assessor", "sample")))
    return terms
