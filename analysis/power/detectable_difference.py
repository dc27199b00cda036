"""The smallest difference that this design could have found.

"No difference was shown" means little until it is said which difference the
panel would have shown, had it been there. Eight assessors may miss half a
point; two assessors may miss three.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Unpack

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.special import chdtri

from ...rounding import rounded
from ..core.errors import NotEstimable, OptionError
from ..core.options import at_least, share_of
from ..core.plotted import Plotted
from ..core.result import Interval, copies
from ..core.tidy_table import Columns, Tidy, as_tidy
from ..core.two_way import additive
from ..core.wording import percent, short, stated_percent
from ..core.words import FALLBACK, Sentence
from .power_of_tests import ScorePlan, assessors_for_scores, critical_t, power_t, ratio_for

if TYPE_CHECKING:
    from matplotlib.figure import Figure

Floats = npt.NDArray[np.float64]
_FEW = 6


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Detectable(Plotted):
    """What a panel finds with the stated probability, and what it takes to find less.

    Attributes
    ----------
    attribute : str
        The attribute; empty for a plan.
    samples, assessors : int
        Numbers.
    replicates : float
        Replicates per cell (harmonic mean over filled cells).
    interaction, residual : float
        Variances of assessor × sample and of repeated scores, squared scale points.
    origin : {'stated', 'mean squares', 'components'}
        Where the variances come from.
    alpha, power : float
        Level of the test, and the probability that `difference` is found with.
    comparison : {'planned', 'all pairs'}
        Whether the pair was named beforehand.
    difference : float
        Smallest difference of two samples found with `power`, scale points.
    difference_sd : float
        The same in standard deviations of a single score within an assessor.
    interval : Interval
        95 % limits of `difference` from the uncertainty of the variance; nan for a plan.
    least_significant : float
        Observed difference from which on a pair is claimed.
    floor : float
        `difference` if each assessor could repeat without end; nan without replicates.
    se, df, critical : float
        Standard error of a difference, its degrees of freedom, critical t.
    table : DataFrame
        ``assessors, replicates, difference``: what other panels would find.
    """

    attribute: str
    samples: int
    assessors: int
    replicates: float
    interaction: float
    residual: float
    origin: str
    alpha: float
    power: float
    comparison: str
    difference: float
    difference_sd: float
    interval: Interval
    least_significant: float
    floor: float
    se: float
    df: float
    critical: float
    table: pd.DataFrame
    method: str = "noncentral t, error term assessor × sample"

    def power_of(self, difference: npt.ArrayLike) -> Floats:
        """Return the probability that a pair differing by `difference` points is claimed."""
        ratio = np.abs(np.asarray(difference, dtype=float)) / self.se
        return power_t(ratio, self.df, self.critical)

    def curve(self, points: int = 101) -> pd.DataFrame:
        """Return ``difference, power`` from no difference to twice the detectable one."""
        gap = np.linspace(0, 2 * self.difference, points)
        return pd.DataFrame({"difference": gap, "power": self.power_of(gap)})

    def assessors_for(self, difference: float) -> int:
        """Return how many assessors would find `difference` with the same replicates and power."""
        return assessors_for_scores(
            difference,
            samples=self.samples,
            interaction=self.interaction,
            residual=self.residual / self.replicates,
            power=self.power,
            alpha=self.alpha,
            comparison=self.comparison,
        )

    def figure(self, *, language: str = FALLBACK) -> Figure:
        """Draw power against difference, for this panel and for larger ones."""
        from .power_curves_figure import draw_power_curves

        gap = np.linspace(0, 1.6 * self.difference, 161)
        curves = {self.assessors: self.power_of(gap)}
        for assessors in (2 * self.assessors, 3 * self.assessors):
            df = (assessors - 1) * (self.samples - 1)
            se = np.sqrt(2 * (self.interaction + self.residual / self.replicates) / assessors)
            critical = critical_t(df, self.samples, self.alpha, self.comparison)
            curves[assessors] = power_t(gap / se, df, critical)
        title = Sentence.of(
            "power_figure.title_of" if self.attribute else "power_figure.title",
            attribute=self.attribute,
            samples=self.samples,
            replicates=rounded(self.replicates, ".3g"),
            alpha=f"{self.alpha:g}",
        )
        return draw_power_curves(
            curves,
            gap,
            difference=self.difference,
            power=self.power,
            title=title,
            language=language,
        )

    def sentences(self) -> tuple[Sentence, ...]:
        """Say what is found, what half of it would be, and what would help."""
        half = float(self.power_of(self.difference / 2))
        said = [
            Sentence.of(
                "detectable.found_in" if self.attribute else "detectable.found",
                attribute=self.attribute,
                assessors=Sentence.of("common.assessors", n=self.assessors),
                samples=Sentence.of("common.samples", n=self.samples),
                replicates=_times(self.replicates),
                difference=short(self.difference),
                pair=Sentence.of(f"detectable.{self.comparison.replace(' ', '_')}"),
                power=stated_percent(self.power),
                half=percent(half),
            )
        ]
        if np.isfinite(self.interval.low):
            said.append(
                Sentence.of(
                    "detectable.uncertain",
                    df=f"{self.df:g}",
                    low=short(self.interval.low),
                    high=short(self.interval.high),
                )
            )
        if np.isfinite(self.floor):
            said.append(Sentence.of("detectable.floor", floor=short(self.floor)))
        said.append(
            Sentence.of(
                "detectable.half",
                n=self.assessors_for(self.difference / 2),
                half=short(self.difference / 2),
            )
        )
        return tuple(said)

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return what other panels would find."""
        return copies(**{"detectable.table": self.table})


def detectable(plan: ScorePlan, *, power: float = 0.80) -> Detectable:
    """Say what a planned panel will find, from stated variances.

    Parameters
    ----------
    plan : ScorePlan
        Numbers and variances.
    power : float
        Probability of finding, between 0 and 1.

    Returns
    -------
    Detectable

    Examples
    --------
    >>> plan = ScorePlan(samples=4, assessors=8, replicates=2, interaction=0.25, residual=0.5)
    >>> round(detectable(plan).difference, 4)
    1.0388
    """
    return _build(
        plan,
        attribute="",
        replicates=float(plan.replicates),
        origin="stated",
        power=share_of("power", power),
        se=plan.se,
        df=float(plan.df_den),
    )


def detectable_in(
    table: Tidy | pd.DataFrame,
    attribute: str | None = None,
    *,
    power: float = 0.80,
    alpha: float = 0.05,
    comparison: str = "planned",
    interaction: float | None = None,
    residual: float | None = None,
    **column_names: Unpack[Columns],
) -> Detectable:
    """Say what the panel behind a table could have found.

    Parameters
    ----------
    table : Tidy or DataFrame
        A tidy table.
    attribute : str, optional
        The attribute; may be left out if the table has one only.
    power, alpha : float
        Probability of finding; level of the test.
    comparison : {'planned', 'all pairs'}
        See `ScorePlan`.
    interaction, residual : float, optional
        Variance components, for example from a REML fit. Without them they come
        from mean squares of cell means (exact for balanced data; with holes,
        each filled cell counts once).
    **column_names : str
        What the columns of a DataFrame are called, as in `tidy`.

    Returns
    -------
    Detectable

    Raises
    ------
    OptionError
        If only one component is given, or an argument is out of its range.
    NotEstimable
        With one assessor, one sample, constant scores, or too few filled cells.

    Notes
    -----
    With empty cells the standard error is the root of the mean variance over all
    pairs in the additive least-squares fit of assessor and sample.
    """
    checked = as_tidy(table, **column_names)
    if attribute is None:
        if len(checked.attributes) != 1:
            raise OptionError("detectable.which", have=checked.attributes)
        attribute = checked.attributes[0]
    if attribute not in checked.attributes:
        raise OptionError("detectable.no_attribute", attribute=attribute, have=checked.attributes)
    rows = checked.of(attribute)
    cells = rows.groupby(["assessor", "sample"], sort=True)["score"]
    means = cells.mean().unstack("sample")  # noqa: PD010 - a Series has no pivot_table
    counts = cells.count().to_numpy(float)
    if len(means) < 2:
        raise NotEstimable("detectable.one_assessor", attribute=attribute)
    if means.shape[1] < 2:
        raise NotEstimable("detectable.one_sample", attribute=attribute)
    _, covariance, left, df = additive(means.to_numpy(float))
    if df < 1:
        raise NotEstimable("detectable.too_few", attribute=attribute)
    replicates = float(counts.size / (1 / counts).sum())
    warnings = []
    if (interaction is None) != (residual is None):
        raise OptionError("detectable.both")
    if interaction is None or residual is None:
        origin = "mean squares"
        cell = float((left**2).sum()) / df
        error_df = int((counts - 1).sum())
        within = float(((rows["score"] - cells.transform("mean")) ** 2).sum())
        residual = within / error_df if error_df else 0.0
        interaction = cell - residual / replicates
        if interaction < 0:
            warnings.append(Sentence.of("detectable.boundary"))
            interaction = 0.0
        if not error_df:
            warnings.append(Sentence.of("detectable.no_replicates"))
        if interaction + residual <= 1e-12 * float((rows["score"] ** 2).mean()):
            raise NotEstimable("detectable.no_spread", attribute=attribute)
    else:
        origin = "components"
        error_df = 1
        at_least("interaction", interaction)
        at_least("residual", residual)
    if means.isna().any().any():
        warnings.append(Sentence.of("detectable.holes", n=int(means.isna().sum().sum())))
    plan = ScorePlan(
        samples=means.shape[1],
        assessors=len(means),
        replicates=max(round(replicates), 1),
        interaction=interaction,
        residual=residual,
        comparison=comparison,
        alpha=alpha,
    )
    pair_unit = 2 * float(np.trace(covariance)) / (means.shape[1] - 1)
    return _build(
        plan,
        attribute=attribute,
        replicates=replicates,
        origin=origin,
        power=share_of("power", power),
        se=float(np.sqrt(pair_unit * (interaction + residual / replicates))),
        df=float(df),
        replicated=error_df > 0,
        warnings=tuple(warnings),
    )


def _build(
    plan: ScorePlan,
    *,
    attribute: str,
    replicates: float,
    origin: str,
    power: float,
    se: float,
    df: float,
    replicated: bool = True,
    warnings: tuple[Sentence, ...] = (),
) -> Detectable:
    """Compute the numbers of a result from the standard error and its degrees of freedom."""
    critical = critical_t(df, plan.samples, plan.alpha, plan.comparison)
    ratio = ratio_for(power, df, critical)
    difference = ratio * se
    floor = np.nan
    if replicated and plan.residual > 0:
        share = plan.interaction / (plan.interaction + plan.residual / replicates)
        floor = difference * float(np.sqrt(share))
    low, high = (np.nan, np.nan)
    if origin == "mean squares":
        # Limits of a variance from its chi-square; the difference goes with its root.
        low, high = (difference * float(np.sqrt(df / chdtri(df, tail))) for tail in (0.025, 0.975))
    if df < _FEW:
        warnings = (*warnings, Sentence.of("detectable.few", df=f"{df:g}"))
    return Detectable(
        attribute=attribute,
        samples=plan.samples,
        assessors=plan.assessors,
        replicates=replicates,
        interaction=plan.interaction,
        residual=plan.residual,
        origin=origin,
        alpha=plan.alpha,
        power=power,
        comparison=plan.comparison,
        difference=difference,
        difference_sd=difference / float(np.sqrt(plan.interaction + plan.residual)),
        interval=Interval(low, high, 0.95),
        least_significant=critical * se,
        floor=floor,
        se=se,
        df=df,
        critical=critical,
        table=_others(plan, power, replicated=replicated),
        warnings=warnings,
    )


def _others(plan: ScorePlan, power: float, *, replicated: bool) -> pd.DataFrame:
    """Say what complete panels of other sizes would find."""
    more = [plan.assessors, plan.assessors + 1, plan.assessors + 2, 2 * plan.assessors]
    repeats = sorted({1, plan.replicates, 2 * plan.replicates}) if replicated else [plan.replicates]
    rows = []
    for replicates in repeats:
        for assessors in sorted({*more, 3 * plan.assessors}):
            other = ScorePlan(
                samples=plan.samples,
                assessors=assessors,
                replicates=replicates,
                interaction=plan.interaction,
                residual=plan.residual,
                comparison=plan.comparison,
                alpha=plan.alpha,
            )
            rows.append((assessors, replicates, other.smallest_difference(power)))
    return pd.DataFrame(rows, columns=["assessors", "replicates", "difference"])


def _times(replicates: float) -> Sentence:
    """Write a number of replicates, which holes may make a fraction."""
    if replicates.is_integer():
        return Sentence.of("common.replicates", n=int(replicates))
    return Sentence.of("common.replicates", n=short(replicates))
