"""Two or three assessors: what they saw, joined to a prior that is stated.

With two assessors and three samples the error rests on two degrees of freedom:
it may come out near zero by luck and make anything significant. Here the error
variance is joined to a stated one, worth a stated number of degrees of freedom,
and the samples' differences are shrunk by a stated spread. All three stand in
the result, with what becomes of it if they are halved or doubled.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.special import ndtr

from ..core.errors import NotEstimable, OptionError
from ..core.options import at_least, share_of
from ..core.result import Result, copies
from ..core.tidy_table import Tidy, as_tidy
from ..core.two_way import additive
from ..core.wording import short, stated_percent
from ..core.words import Sentence
from ..power.power_of_tests import assessors_for_scores

Floats = npt.NDArray[np.float64]
ENOUGH = 6
"""Assessors from whom on their own scatter suffices, and no stated prior is needed."""
_GRID_POINTS = 401


class Prior(NamedTuple):
    """What is known before these assessors taste, in scale points.

    Attributes
    ----------
    sample_sd : float
        How far such samples lie from their common mean: standard deviation of their
        true means.
    interaction_sd : float
        How far one assessor's view of a sample lies from the panel's, level set aside.
    replicate_sd : float
        How far an assessor's repeats scatter.
    df : float
        How firmly the last two are known: as if estimated with so many degrees of
        freedom. Earlier sessions of five assessors and three samples give 8.
    """

    sample_sd: float
    interaction_sd: float
    replicate_sd: float
    df: float = 8.0


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class SmallPanel(Result):
    """What a few assessors and a stated prior say about the samples.

    Attributes
    ----------
    attribute : str
        The attribute.
    assessors, samples : int
        Numbers.
    replicates : float
        Replicates per cell.
    prior : Prior
        What was stated.
    own_sd, own_df : float
        Standard deviation of a cell mean from these data alone, and its degrees of
        freedom; nan with one assessor.
    error_sd : float
        Posterior mean of that standard deviation.
    level : float
        Level of the posterior intervals.
    means : DataFrame
        ``sample, raw, mean, sd, low, high``: sample effects around their common mean.
    differences : DataFrame
        ``sample_1, sample_2, raw, mean, sd, low, high, above, claimed, direction,
        assessors_needed`` of all pairs, the first sample being the one that is raw
        higher: `above` is the posterior probability that it truly is, `claimed`
        whether the interval leaves out 0, `direction` how many assessors put it
        higher, `assessors_needed` how many assessors of this kind would find the raw
        difference with 80 % (level 5 %, no prior), missing if about a thousand or more.
    by_assessor : DataFrame
        One row an assessor, one column a sample: own means less the own average.
    sensitivity : DataFrame
        ``sample_sd, error_sd, claimed, low, high`` with priors halved and doubled:
        number of claimed pairs, limits of the largest difference.
    dropped : DataFrame
        Rows that could not be used.
    """

    attribute: str
    assessors: int
    samples: int
    replicates: float
    prior: Prior
    own_sd: float
    own_df: float
    error_sd: float
    level: float
    means: pd.DataFrame
    differences: pd.DataFrame
    by_assessor: pd.DataFrame
    sensitivity: pd.DataFrame
    dropped: pd.DataFrame
    method: str = "normal prior of samples, scaled inverse chi-square prior of the error variance"

    @property
    def firm(self) -> bool:
        """Whether the number of claimed pairs stays the same with priors halved and doubled."""
        claims = self.sensitivity["claimed"].to_numpy()
        return bool((claims == claims[0]).all())

    def sentences(self) -> tuple[Sentence, ...]:
        """Say what was joined, what the largest difference is worth, what it would take."""
        error = np.hypot(
            self.prior.interaction_sd, self.prior.replicate_sd / np.sqrt(self.replicates)
        )
        told = [
            Sentence.of(
                "small_panel.joined",
                attribute=self.attribute,
                assessors=Sentence.of("common.assessors", n=self.assessors),
                samples=Sentence.of("common.samples", n=self.samples),
                df=f"{self.own_df:g}",
                sample_sd=short(self.prior.sample_sd),
                error_sd=short(float(error)),
                prior_df=f"{self.prior.df:g}",
            )
        ]
        top = self.differences.iloc[0]
        needed = top["assessors_needed"]
        values = {
            "high": top["sample_1"],
            "low": top["sample_2"],
            "difference": short(float(top["mean"])),
            "from_": short(float(top["low"])),
            "to": short(float(top["high"])),
            "level": stated_percent(self.level),
            "above": f"{float(top['above']):.2f}" if top["above"] < 0.995 else "> 0.99",
            "direction": top["direction"],
            "assessors": self.assessors,
        }
        if top["claimed"]:
            held = "firm" if self.firm else "hangs"
            told.append(Sentence.of("small_panel.claimed", **values))
            told.append(Sentence.of(f"small_panel.{held}"))
        else:
            told.append(Sentence.of("small_panel.not_claimed", **values))
            if not self.firm:
                told.append(Sentence.of("small_panel.hangs"))
        if not top["claimed"] and not pd.isna(needed):
            raw = short(float(top["raw"]))
            told.append(Sentence.of("small_panel.needed", n=int(needed), raw=raw))
        return tuple(told)

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return means, differences, the assessors one by one, and the sensitivity."""
        return copies(
            **{
                "small_panel.means": self.means,
                "small_panel.differences": self.differences,
                "small_panel.by_assessor": self.by_assessor,
                "small_panel.sensitivity": self.sensitivity,
            }
        )


def small_panel(
    table: Tidy | pd.DataFrame,
    attribute: str | None = None,
    *,
    prior: Prior,
    level: float = 0.95,
) -> SmallPanel:
    """Compare samples tasted by very few assessors, with a stated prior.

    Parameters
    ----------
    table : Tidy or DataFrame
        A tidy table; replicates and sessions within a cell are averaged.
    attribute : str, optional
        The attribute; may be left out if the table has one only.
    prior : Prior
        Stated before looking at the scores, for example from earlier sessions.
    level : float
        Level of the posterior intervals, between 0 and 1.

    Returns
    -------
    SmallPanel

    Raises
    ------
    OptionError
        If the attribute is not in the table or the prior is out of its range.
    NotEstimable
        With one sample, or samples that no assessor tasted together.

    Notes
    -----
    Cell means ``y_ij = a_i + v_j + e_ij``: a_i flat, v_j normal with `sample_sd`, e_ij
    normal with variance s2, s2 scaled inverse chi-square with `df` and ``interaction_sd**2
    + replicate_sd**2 / replicates``. Given s2 all is normal; s2 is integrated out on a
    grid of 801 points. With a very large `sample_sd` the result is a t test with the
    pooled variance and degrees of freedom; with a very large `df`, plain normal shrinkage.

    References
    ----------
    Gelman et al., Bayesian Data Analysis, sections 2.6 and 3.3; Smyth (2004), Stat.
    Appl. Genet. Mol. Biol. 3(1), article 3, for the joined variance.

    Examples
    --------
    >>> scores = pd.DataFrame({
    ...     "assessor": list("AAABBB"), "sample": ["clear", "cloudy", "late"] * 2,
    ...     "score": [5, 7, 6, 4, 5, 6]})
    >>> found = small_panel(scores, prior=Prior(1.0, 0.8, 0.6))
    >>> found.differences[["sample_1", "sample_2"]].iloc[0].tolist()
    ['cloudy', 'clear']
    """
    share_of("level", level)
    _check_prior(prior)
    checked = as_tidy(table)
    if attribute is None:
        if len(checked.attributes) != 1:
            raise OptionError("small_panel.which", have=checked.attributes)
        attribute = checked.attributes[0]
    if attribute not in checked.attributes:
        raise OptionError("small_panel.no_attribute", attribute=attribute, have=checked.attributes)
    cells = checked.of(attribute).groupby(["assessor", "sample"], sort=True)["score"]
    means = cells.mean().unstack("sample")  # noqa: PD010 - a Series has no pivot_table
    counts = cells.count().to_numpy(float)
    if means.shape[1] < 2:
        raise NotEstimable("small_panel.one_sample", attribute=attribute)
    replicates = float(counts.size / (1 / counts).sum())
    effects, covariance, left, df = additive(means.to_numpy(float))
    squares = float((left**2).sum())
    stated = prior.interaction_sd**2 + prior.replicate_sd**2 / replicates
    joined = _join(effects, covariance, squares, df, prior.sample_sd, stated, prior.df)
    names = [str(name) for name in means.columns]
    own = means.sub(means.mean(axis=1), axis=0)
    differences = _differences(joined, effects, own, names, level)
    dropped = checked.dropped
    few = () if len(means) < ENOUGH else (Sentence.of("small_panel.enough", n=len(means)),)
    alone = (Sentence.of("small_panel.alone"),) if len(means) == 1 else ()
    holes = int(means.isna().sum().sum())
    gaps = (Sentence.of("small_panel.holes", n=holes),) if holes else ()
    return SmallPanel(
        attribute=attribute,
        assessors=len(means),
        samples=len(names),
        replicates=replicates,
        prior=prior,
        own_sd=float(np.sqrt(squares / df)) if df else np.nan,
        own_df=float(df),
        error_sd=joined.error_sd,
        level=level,
        means=_means(joined, effects, names, level),
        differences=differences,
        by_assessor=own.reset_index().rename_axis(columns=None),
        sensitivity=_sensitivity(
            (effects, covariance, squares, df), prior, stated, differences, names, level
        ),
        dropped=dropped[dropped["attribute"] == attribute].reset_index(drop=True),
        warnings=(*few, *alone, *gaps),
    )


class _Joined(NamedTuple):
    """A mixture over the error variance: weights, and the samples given each variance."""

    weight: Floats  # (g,)
    means: Floats  # (g, J)
    factor: Floats  # (g, J, J - 1): covariance is factor @ factor.T
    error_sd: float

    def of(self, contrasts: Floats) -> tuple[Floats, Floats]:
        """Return means and standard deviations of contrasts given each variance: (g, m)."""
        sd = np.sqrt(((contrasts @ self.factor) ** 2).sum(axis=2))
        return self.means @ contrasts.T, sd


def _join(  # noqa: PLR0917
    effects: Floats,
    covariance: Floats,
    squares: float,
    df: int,
    sample_sd: float,
    stated: float,
    prior_df: float,
) -> _Joined:
    """Average over the error variance on a grid of its logarithm."""
    values, vectors = np.linalg.eigh(covariance)
    kept = values > 1e-10 * values.max()
    unit, basis = values[kept], vectors[:, kept]
    along = effects @ basis
    total_df = prior_df + df
    centre = (prior_df * stated + squares) / total_df
    # The samples may pull the variance up as far as their own spread.
    top = centre + float((along**2 / unit).mean())
    # Eight standard deviations of log variance; upwards its tail falls off like v**(-df/2).
    reach = 12 / np.sqrt(total_df)
    # A firm prior is narrow where the samples' pull reaches far: half of the points each.
    near = np.linspace(np.log(centre) - reach, np.log(centre) + reach, _GRID_POINTS)
    far = np.linspace(near[-1], np.log(top) + reach + 24 / total_df, _GRID_POINTS)
    grid = np.concatenate([near, far[1:]])
    variance = np.exp(grid)
    spread = sample_sd**2 + variance[:, None] * unit
    log_weight = (
        -(total_df / 2) * np.log(variance)
        - (prior_df * stated + squares) / (2 * variance)
        - np.log(spread).sum(axis=1) / 2
        - (along**2 / spread).sum(axis=1) / 2
    )
    weight = np.exp(log_weight - log_weight.max()) * np.gradient(grid)
    weight /= weight.sum()
    share = sample_sd**2 / spread
    return _Joined(
        weight=weight,
        means=(share * along) @ basis.T,
        factor=basis[None] * np.sqrt(share * variance[:, None] * unit)[:, None, :],
        error_sd=float(weight @ np.sqrt(variance)),
    )


def _summary(joined: _Joined, contrasts: Floats, level: float) -> dict[str, Floats]:
    """Return posterior mean, sd, limits and probability above 0 of contrasts."""
    means, sds = joined.of(contrasts)
    mean = joined.weight @ means
    return {
        "mean": mean,
        "sd": np.sqrt(joined.weight @ (sds**2 + means**2) - mean**2),
        "low": _quantiles((1 - level) / 2, joined.weight, means, sds),
        "high": _quantiles((1 + level) / 2, joined.weight, means, sds),
        "above": joined.weight @ ndtr(means / sds),
    }


def _quantiles(end: float, weight: Floats, means: Floats, sds: Floats) -> Floats:
    """Find the quantile `end` of mixtures of normals by bisection, one per column.

    `weight` has shape (g,) and sums to 1; `means` and `sds` have shape (g, m).
    """
    low = (means - 10 * sds).min(axis=0)
    high = (means + 10 * sds).max(axis=0)
    for _ in range(48):
        middle = (low + high) / 2
        below = weight @ ndtr((middle - means) / sds) < end
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    middle = (low + high) / 2
    found: Floats = middle
    return found


def _means(joined: _Joined, effects: Floats, names: list[str], level: float) -> pd.DataFrame:
    found = _summary(joined, np.eye(len(names)) - 1 / len(names), level)
    del found["above"]
    return pd.DataFrame({"sample": names, "raw": effects, **found})


def _differences(
    joined: _Joined, effects: Floats, own: pd.DataFrame, names: list[str], level: float
) -> pd.DataFrame:
    """Return all pairs, the raw higher one first, the largest on top."""
    pairs = _pairs(effects)
    found = _summary(joined, _contrasts(pairs, len(names)), level)
    scores = own.to_numpy(float)
    rows = []
    for a, b in pairs:
        gap = scores[:, a] - scores[:, b]
        gap = gap[~np.isnan(gap)]
        raw = round(float(effects[a] - effects[b]), 12)
        needed = (
            assessors_for_scores(
                raw, samples=len(names), interaction=joined.error_sd**2, residual=0.0
            )
            if raw > joined.error_sd / 8
            else pd.NA
        )
        rows.append((names[a], names[b], raw, f"{int((gap > 0).sum())}/{gap.size}", needed))
    table = pd.DataFrame(
        rows, columns=["sample_1", "sample_2", "raw", "direction", "assessors_needed"]
    ).assign(**found, claimed=found["low"] > 0)
    table["assessors_needed"] = table["assessors_needed"].astype("Int64")
    order = ["sample_1", "sample_2", "raw", "mean", "sd", "low", "high", "above", "claimed"]
    return table[[*order, "direction", "assessors_needed"]]


def _pairs(effects: Floats) -> list[tuple[int, int]]:
    ranked = sorted(range(len(effects)), key=lambda at: -effects[at])
    pairs = [(a, b) for i, a in enumerate(ranked) for b in ranked[i + 1 :]]
    return sorted(pairs, key=lambda pair: effects[pair[1]] - effects[pair[0]])


def _contrasts(pairs: list[tuple[int, int]], samples: int) -> Floats:
    contrasts = np.zeros((len(pairs), samples))
    for row, (a, b) in enumerate(pairs):
        contrasts[row, a], contrasts[row, b] = 1, -1
    return contrasts


def _sensitivity(  # noqa: PLR0917
    data: tuple[Floats, Floats, float, int],
    prior: Prior,
    stated: float,
    differences: pd.DataFrame,
    names: list[str],
    level: float,
) -> pd.DataFrame:
    """Do it again with the stated standard deviations halved and doubled."""
    pairs = [
        (names.index(a), names.index(b))
        for a, b in zip(differences["sample_1"], differences["sample_2"], strict=True)
    ]
    rows = []
    for sample_times, error_times in ((1, 1), (0.5, 1), (2, 1), (1, 0.5), (1, 2)):
        joined = _join(*data, prior.sample_sd * sample_times, stated * error_times**2, prior.df)
        found = _summary(joined, _contrasts(pairs, len(names)), level)
        rows.append(
            (
                prior.sample_sd * sample_times,
                float(np.sqrt(stated)) * error_times,
                int((found["low"] > 0).sum()),
                float(found["low"][0]),
                float(found["high"][0]),
            )
        )
    return pd.DataFrame(rows, columns=["sample_sd", "error_sd", "claimed", "low", "high"])


def _check_prior(prior: Prior) -> None:
    at_least("prior.sample_sd", prior.sample_sd, strictly=True)
    at_least("prior.interaction_sd", prior.interaction_sd)
    at_least("prior.replicate_sd", prior.replicate_sd)
    at_least("prior.df", prior.df, 1)
    if prior.interaction_sd + prior.replicate_sd == 0:
        raise OptionError("small_panel.no_error")
