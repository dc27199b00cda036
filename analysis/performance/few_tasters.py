"""Two or three assessors: what they saw, joined to what was known before.

With two assessors and three samples the error rests on two degrees of freedom:
it may come out near zero by luck and make anything significant. Here the error
and the spread of the samples are joined to what is usual, to what somebody states
or to what earlier sessions taught; a part of that prior is so wide that scores
which contradict the rest prevail. The result tells which prior it was, how much
of its say it kept, and what becomes of the answer if it is halved or doubled.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple, Unpack

import numpy as np
import pandas as pd
from scipy.special import polygamma

from ..core.errors import NotEstimable, OptionError
from ..core.options import at_least, share_of
from ..core.result import Result, copies
from ..core.tidy_table import Columns, Tidy, as_tidy
from ..core.wording import fixed, percent, short, stated_percent
from ..core.words import Sentence
from ..power.power_of_tests import assessors_for_scores
from .spreads import WIDTH_SD, Floats, Mixture, Spreads, TwoWay, integrate, two_way
from .usual_spreads import default_spreads, wide_spreads

ENOUGH = 6
"""Assessors from whom on their own scatter suffices, and no stated prior is needed."""
SURE = 0.97
"""Probability from which on a sample is said to lie above another."""
KEEP = 0.8
"""Share of the prior; the rest is so wide that the scores decide."""
REMEMBERED = 0.7
"""The same of what earlier sessions taught: a house may have changed since."""
CONFLICT = 0.5
"""Weight left to the prior below which the scores contradict it."""
TOO_SMALL = 0.5
"""A stated spread below this share of the usual one is warned of."""


class Prior(NamedTuple):
    """What somebody states before these assessors taste, in scale points.

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
    sample_log_sd : float
        How firmly the first is known: standard deviation of its logarithm.
    """

    sample_sd: float
    interaction_sd: float
    replicate_sd: float
    df: float = 8.0
    sample_log_sd: float = 0.4

    def spreads(self) -> Spreads:
        """Return the same as lognormal spreads, for a single score."""
        error = self.interaction_sd**2 + self.replicate_sd**2
        return Spreads(
            log_error=np.array([np.log(error) / 2]),
            log_sample=np.array([np.log(self.sample_sd)]),
            weight=np.ones((1, 1)),
            # A variance with `df` degrees of freedom: the logarithm of its root varies so much.
            error_blur=float(np.sqrt(polygamma(1, self.df / 2)) / 2),
            sample_blur=self.sample_log_sd,
            interaction_share=self.interaction_sd**2 / error,
        )


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class SmallPanel(Result):
    """What a few assessors and what was known before say about the samples.

    Attributes
    ----------
    attribute : str
        The attribute.
    assessors, samples : int
        Numbers.
    replicates : float
        Replicates per cell.
    source : {'default', 'stated', 'memory'}
        Where the prior comes from.
    kind : str
        Kind of attribute of the usual spreads.
    length : float
        Length of the scale.
    prior : Spreads
        The prior, for a single score.
    kept : float
        Weight that the scores left to it, of `vague` and the rest together 1.
    vague : float
        Share of its wide part before the scores were seen.
    own_sd, own_df : float
        Standard deviation of a cell mean from these data alone, and its degrees of
        freedom; nan with one assessor.
    error_sd : float
        Posterior mean of that standard deviation.
    sample_sd : float
        Posterior mean of the standard deviation of the samples' true means.
    level : float
        Level of the posterior intervals.
    means : DataFrame
        ``sample, raw, mean, sd, low, high``: sample effects around their common mean.
    differences : DataFrame
        ``sample_1, sample_2, raw, mean, sd, low, high, above, claimed, direction,
        assessors_needed`` of all pairs, the first sample being the one that is raw
        higher: `above` is the posterior probability that it truly is, `claimed`
        whether that is more than `SURE`, `direction` how many assessors put it
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
    source: str
    kind: str
    length: float
    prior: Spreads
    kept: float
    vague: float
    own_sd: float
    own_df: float
    error_sd: float
    sample_sd: float
    level: float
    means: pd.DataFrame
    differences: pd.DataFrame
    by_assessor: pd.DataFrame
    sensitivity: pd.DataFrame
    dropped: pd.DataFrame
    method: str = "normal samples and errors, both spreads integrated over a lognormal mixture"

    @property
    def conflict(self) -> bool:
        """Whether the scores contradict the prior: it kept less than half of its say."""
        return self.kept < CONFLICT

    @property
    def firm(self) -> bool:
        """Whether the number of claimed pairs stays the same with priors halved and doubled."""
        claims = self.sensitivity["claimed"].to_numpy()
        return bool((claims == claims[0]).all())

    def sentences(self) -> tuple[Sentence, ...]:
        """Say what was joined, what the largest difference is worth, what it would take."""
        told = [
            Sentence.of(
                "small_panel.joined",
                attribute=self.attribute,
                assessors=Sentence.of("common.assessors", n=self.assessors),
                samples=Sentence.of("common.samples", n=self.samples),
                df=f"{self.own_df:g}",
                prior=Sentence.of(
                    f"small_panel.{self.source}",
                    kind=Sentence.of(f"small_panel.kind_{self.kind}"),
                    length=short(self.length),
                    sample_sd=short(self.prior.sample_sd),
                    error_sd=short(self.prior.error_sd),
                ),
                kept=percent(self.kept),
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
            "above": fixed(float(top["above"]), 2) if top["above"] < 0.995 else "> 0.99",
            "direction": top["direction"],
            "assessors": self.assessors,
        }
        told.append(
            Sentence.of(f"small_panel.{'claimed' if top['claimed'] else 'not_claimed'}", **values)
        )
        half, double = self.sensitivity.iloc[3], self.sensitivity.iloc[4]
        told.append(
            Sentence.of(
                f"small_panel.{'firm' if self.firm else 'hangs'}",
                half=_range(half),
                double=_range(double),
            )
        )
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
    prior: Prior | Spreads | None = None,
    kind: str = "taste",
    length: float = 10.0,
    widths: Mapping[str, tuple[float, float]] | None = None,
    vague: float | None = None,
    level: float = 0.95,
    **column_names: Unpack[Columns],
) -> SmallPanel:
    """Compare samples tasted by very few assessors, joined to what was known before.

    Parameters
    ----------
    table : Tidy or DataFrame
        A tidy table; replicates and sessions within a cell are averaged.
    attribute : str, optional
        The attribute; may be left out if the table has one only.
    prior : Prior or Spreads, optional
        Stated before looking at the scores (`Prior`), or learned from earlier sessions
        (`Spreads`); by default what is usual for the `kind`.
    kind : {'taste', 'appearance', 'liking'}
        Which usual spreads serve as default, as the wide part, and as what a stated
        prior is held against. Aromas and tastes are one kind.
    length : float
        Length of the scale: its highest less its lowest value.
    widths : mapping of str to (float, float), optional
        How widely an assessor uses the scale, as a multiple of the usual, and the
        standard error of that; (1, 0.25) for everybody not named.
    vague : float, optional
        Share of the wide part, strictly between 0 and 1; by default 0.2, and 0.3 where the prior
        was learned from earlier sessions.
    level : float
        Level of the posterior intervals, between 0 and 1.
    **column_names : str
        What the columns of a DataFrame are called, as in `tidy`.

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
    Cell means ``y_ij = a_i + w_i v_j + e_ij``: a_i flat, v_j normal with standard
    deviation t, e_ij normal with s. The prior of (log s, log t) is a mixture: 1 - `vague`
    of what is known, `vague` of the usual spreads times 1.4 with log standard deviations 1
    and 1.2. Given (s, t) all is normal; both are integrated out on a lattice. What the
    widths w_i leave uncertain (standard deviation 0.25 where nothing is known) goes into
    the limits in Fieller's way, and into the probability to first order. With a very wide
    prior of both spreads the result is that of a t test.

    References
    ----------
    Gelman et al., Bayesian Data Analysis, sections 2.6, 3.3 and 5.4 (from memory). Fieller
    (1954), J. R. Stat. Soc. B 16, 175 (from memory).

    Examples
    --------
    >>> scores = pd.DataFrame({
    ...     "assessor": list("AAABBB"), "sample": ["clear", "cloudy", "late"] * 2,
    ...     "score": [5, 7, 6, 4, 5, 6]})
    >>> found = small_panel(scores)
    >>> found.differences[["sample_1", "sample_2"]].iloc[0].tolist()
    ['cloudy', 'clear']
    """
    share_of("level", level)
    if vague is None:
        vague = 1 - (REMEMBERED if isinstance(prior, Spreads) else KEEP)
    share_of("vague", vague)
    if isinstance(prior, Prior):
        _check_prior(prior)
    usual = default_spreads(kind, length)
    known = usual if prior is None else prior.spreads() if isinstance(prior, Prior) else prior
    source = "default" if prior is None else "stated" if isinstance(prior, Prior) else "memory"
    checked = as_tidy(table, **column_names)
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
    each = [(widths or {}).get(str(name), (1.0, WIDTH_SD)) for name in means.index]
    data = two_way(means.to_numpy(float), *np.array(each, dtype=float).T)
    if len(data.unit) < means.shape[1] - 1:
        raise NotEstimable("bundle.apart")
    parts = ((known, 1 - vague), (wide_spreads(kind, length), vague))
    joined = _join(data, parts, replicates)
    effects, df = data.effects, data.df
    names = [str(name) for name in means.columns]
    own = means.sub(means.mean(axis=1), axis=0)
    differences = _differences(joined, effects, own, names, level)
    dropped = checked.dropped
    few = () if len(means) < ENOUGH else (Sentence.of("small_panel.enough", n=len(means)),)
    alone = (Sentence.of("small_panel.alone"),) if len(means) == 1 else ()
    holes = int(means.isna().sum().sum())
    gaps = (Sentence.of("small_panel.holes", n=holes),) if holes else ()
    against = (Sentence.of(f"small_panel.conflict_{source}"),) if joined.kept < CONFLICT else ()
    small = _too_small(known, usual, kind) if source == "stated" else ()
    return SmallPanel(
        attribute=attribute,
        assessors=len(means),
        samples=len(names),
        replicates=replicates,
        source=source,
        kind=kind,
        length=length,
        prior=known,
        kept=joined.kept,
        vague=vague,
        own_sd=float(np.sqrt(data.squares / df)) if df else np.nan,
        own_df=df,
        error_sd=joined.error_sd,
        sample_sd=joined.sample_sd,
        level=level,
        means=_means(joined, effects, names, level),
        differences=differences,
        by_assessor=own.reset_index().rename_axis(columns=None),
        sensitivity=_sensitivity(data, parts, replicates, differences, names, level),
        dropped=dropped[dropped["attribute"] == attribute].reset_index(drop=True),
        warnings=(*against, *small, *few, *alone, *gaps),
    )


Parts = tuple[tuple[Spreads, float], tuple[Spreads, float]]


def _join(data: TwoWay, parts: Parts, replicates: float) -> Mixture:
    return integrate(data, [(one.of_means(replicates), share) for one, share in parts])


def _too_small(stated: Spreads, usual: Spreads, kind: str) -> tuple[Sentence, ...]:
    """Warn of stated spreads far below what is usual: they call identical samples different."""
    pairs = {
        "error": (stated.error_sd, usual.error_sd),
        "sample": (stated.sample_sd, usual.sample_sd),
    }
    return tuple(
        Sentence.of(
            f"small_panel.small_{name}",
            stated=short(given),
            usual=short(common),
            kind=Sentence.of(f"small_panel.kind_{kind}"),
        )
        for name, (given, common) in pairs.items()
        if given < TOO_SMALL * common
    )


def _means(joined: Mixture, effects: Floats, names: list[str], level: float) -> pd.DataFrame:
    found = joined.summary(np.eye(len(names)) - 1 / len(names), level)
    del found["above"]
    return pd.DataFrame({"sample": names, "raw": effects, **found})


def _differences(
    joined: Mixture, effects: Floats, own: pd.DataFrame, names: list[str], level: float
) -> pd.DataFrame:
    """Return all pairs, the raw higher one first, the largest on top."""
    pairs = _pairs(effects)
    found = joined.summary(_contrasts(pairs, len(names)), level)
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
    ).assign(**found, claimed=found["above"] > SURE)
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
    data: TwoWay,
    parts: Parts,
    replicates: float,
    differences: pd.DataFrame,
    names: list[str],
    level: float,
) -> pd.DataFrame:
    """Do it again with the spreads that were known halved and doubled."""
    pairs = [
        (names.index(a), names.index(b))
        for a, b in zip(differences["sample_1"], differences["sample_2"], strict=True)
    ]
    contrasts = _contrasts(pairs, len(names))
    (known, share), wide = parts
    rows = []
    for sample_times, error_times in ((1.0, 1.0), (0.5, 1.0), (2.0, 1.0), (1.0, 0.5), (1.0, 2.0)):
        other = known.scaled(error_times, sample_times)
        joined = _join(data, ((other, share), wide), replicates)
        claimed = int((joined.above(contrasts) > SURE).sum())
        limits = joined.summary(contrasts[:1], level)
        low, high = float(limits["low"][0]), float(limits["high"][0])
        rows.append((other.sample_sd, other.error_sd, claimed, low, high))
    return pd.DataFrame(rows, columns=["sample_sd", "error_sd", "claimed", "low", "high"])


def _check_prior(prior: Prior) -> None:
    at_least("prior.sample_sd", prior.sample_sd, strictly=True)
    at_least("prior.interaction_sd", prior.interaction_sd)
    at_least("prior.replicate_sd", prior.replicate_sd)
    at_least("prior.df", prior.df, 1)
    at_least("prior.sample_log_sd", prior.sample_log_sd, strictly=True)
    if prior.interaction_sd + prior.replicate_sd == 0:
        raise OptionError("small_panel.no_error")


def _range(row: pd.Series) -> Sentence:
    low, high = short(float(row["low"])), short(float(row["high"]))
    return Sentence.of("small_panel.range", low=low, high=high)
