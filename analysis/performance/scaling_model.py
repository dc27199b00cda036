"""Mixed assessor model: wide or narrow use of the scale, told apart from real disagreement.

One assessor gives 2, 5, 8, another 4, 5, 6 to the same three bottles. They agree;
they use the scale differently. The ordinary analysis of variance counts this as
disagreement and tests the samples too severely. Here each assessor has a level
and a slope against the panel's sample means; what deviates from the lines is
disagreement, and the samples are tested against that.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Unpack

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.special import fdtrc, stdtr, stdtrit

from ..core.errors import NotEstimable, OptionError
from ..core.options import ALPHA, share_of
from ..core.p_values import holds
from ..core.result import FTest, Result, copies
from ..core.tidy_table import Columns, Tidy, as_tidy
from ..core.wording import p_words, short
from ..core.words import Sentence
from .lines_per_assessor import Bundle, bundle_of_lines

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class AssessorModel(Result):
    """Analysis of one attribute with scaling apart from disagreement.

    Attributes
    ----------
    attribute : str
        The attribute.
    level : float
        Confidence level of the intervals.
    assessors, samples, answers : int
        Numbers analysed.
    replicates : float
        Replicates per filled cell (their harmonic mean, if cells differ).
    table : DataFrame
        One row per source: ``source, df, ss, ms, f, df_den, p, error``. The sources
        ``concurrence`` and ``rest of scaling`` are the parts of ``scaling``.
    sample : FTest
        Samples against disagreement.
    sample_plain : FTest
        Samples against the whole interaction, as the ordinary mixed analysis has it.
    scaling : FTest
        Whether slopes differ, against disagreement.
    disagreement : FTest
        Disagreement against replicates; nan without replicates.
    tukey : FTest
        Tukey's one degree of freedom for non-additivity, against the rest of the interaction.
    gamma : float
        Tukey's coefficient.
    slopes : DataFrame
        One row per assessor: ``assessor, level`` (difference from the panel),
        ``slope`` (1 is the panel's), ``se, low, high, p`` (slope = 1),
        ``disagreement`` (mean square around the own line, adjusted so that the
        panel's is their mean in balanced data), ``disagreement_df``, and
        ``disagreement_f, disagreement_p`` against replicates.
    means : DataFrame
        ``sample, mean``, least squares.
    covariance : ndarray, shape (samples, samples)
        Covariance of the means (less their mean) in units of the disagreement mean square.
    slope_variance : float
        Variance of slopes between assessors, estimated from the mean squares; 0 if negative.
    dropped : DataFrame
        Rows of the table that could not be used, with the reason.
    """

    attribute: str
    level: float
    assessors: int
    samples: int
    answers: int
    replicates: float
    table: pd.DataFrame
    sample: FTest
    sample_plain: FTest
    scaling: FTest
    disagreement: FTest
    tukey: FTest
    gamma: float
    slopes: pd.DataFrame
    means: pd.DataFrame
    dropped: pd.DataFrame
    covariance: Floats
    slope_variance: float
    method: str = "mixed assessor model, least squares of cell means"

    def sentences(self) -> tuple[Sentence, ...]:
        """Say whether samples differ, whether widths differ, and whether more is in it."""
        alpha = 1 - self.level
        said = [
            self._said("sample", self.sample, alpha),
            self._said("scaling", self.scaling, alpha),
        ]
        if np.isfinite(self.disagreement.F) or self.disagreement.p == 0:
            said.append(self._said("disagreement", self.disagreement, alpha))
        else:
            said.append(Sentence.of("assessor_model.no_replicates"))
        return tuple(said)

    def _said(self, name: str, test: FTest, alpha: float) -> Sentence:
        shown = "shown" if holds(test.p, alpha) else "not_shown"
        return Sentence.of(
            f"assessor_model.{name}_{shown}",
            attribute=self.attribute,
            f=short(test.F),
            df_num=f"{test.df_num:g}",
            df_den=f"{test.df_den:g}",
            p=p_words(test.p),
        )

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return the analysis of variance, the assessors' lines and the sample means."""
        return copies(
            **{
                "assessor_model.table": self.table,
                "assessor_model.slopes": self.slopes,
                "assessor_model.means": self.means,
            }
        )

    def differences(self, level: float | None = None) -> pd.DataFrame:
        """Compare all pairs of samples.

        The p value is Tukey's, with disagreement as error term: it asks whether
        the two samples differ. The interval is for the difference that other
        assessors of this kind would find; if widths differ, the difference
        itself stretches with the assessor, so ``(slope variance) * difference**2 /
        assessors`` is added to its variance, and the degrees of freedom follow
        Satterthwaite.

        Returns
        -------
        DataFrame
            ``sample_1, sample_2, difference, se, df, low, high, p``; `p` is adjusted for
            the number of pairs, each interval holds `level` by itself.
        """
        from scipy.stats import studentized_range

        wanted = share_of("level", self.level if level is None else level)
        ms, df = self._row("disagreement")
        ms_scaling, df_scaling = self._row("scaling")
        excess = ms_scaling - ms
        per_excess = self.slope_variance / excess / self.assessors if excess > 0 else 0.0
        rows = []
        names, values = self.means["sample"].tolist(), self.means["mean"].to_numpy()
        for i in range(len(names)):
            for j in range(i + 1, len(names)):
                gap = values[i] - values[j]
                unit = self.covariance[i, i] + self.covariance[j, j] - 2 * self.covariance[i, j]
                noise = ms * unit
                stretch = gap**2 * per_excess
                parts = np.array([noise - stretch * ms, stretch * ms_scaling])
                se = np.sqrt(parts.sum())
                df_pair = (
                    parts.sum() ** 2 / (parts**2 / np.array([df, df_scaling])).sum()
                    if se > 0
                    else df
                )
                half = stdtrit(df_pair, (1 + wanted) / 2) * se
                q = abs(gap) / np.sqrt(noise / 2) if noise > 0 else np.inf
                p = float(studentized_range.sf(q, len(names), df)) if np.isfinite(q) else 0.0
                rows.append((names[i], names[j], gap, se, df_pair, gap - half, gap + half, p))
        columns = ["sample_1", "sample_2", "difference", "se", "df", "low", "high", "p"]
        return pd.DataFrame(rows, columns=columns)

    def _row(self, source: str) -> tuple[float, float]:
        row = self.table[self.table["source"] == source]
        return float(row["ms"].iloc[0]), float(row["df"].iloc[0])


def assessor_model(
    table: Tidy | pd.DataFrame,
    attribute: str | None = None,
    *,
    level: float = 0.95,
    **column_names: Unpack[Columns],
) -> AssessorModel:
    """Fit the mixed assessor model to one attribute.

    Parameters
    ----------
    table : Tidy or DataFrame
        A tidy table. Replicates and sessions within a cell are averaged; their
        spread is the replicate error.
    attribute : str, optional
        The attribute; may be left out if the table has one only.
    level : float
        Confidence level of the intervals, between 0 and 1.
    **column_names : str
        What the columns of a DataFrame are called, as in `tidy`.

    Returns
    -------
    AssessorModel

    Raises
    ------
    OptionError
        If the attribute is not in the table, or has to be named.
    NotEstimable
        With one assessor, fewer than three samples, constant scores, or too few
        filled cells.

    Notes
    -----
    The interaction of assessor and sample (adjusted sums of squares, cell means
    times replicates) is split into scaling, the part linear in the sample means
    ``x``, and disagreement, the rest. If the samples do not differ, the F tests
    are exact for normal scores with equally filled cells, also when whole cells
    are absent, because ``x`` is independent of the interaction. With absent cells
    ``x`` comes from the additive least-squares fit. If widths differ *and* cells are
    absent, a little of the scaling is counted as disagreement: the error is on the
    side of caution.

    References
    ----------
    Brockhoff, Schlich and Skovgaard (2015), Food Qual. Pref. 39:156-166; Mandel
    (1961), J. Am. Stat. Assoc. 56:878-888; Tukey (1949), Biometrics 5:232-242.

    Examples
    --------
    >>> scores = {"A": (2, 5, 8), "B": (4, 5, 6.1), "C": (3, 5.2, 7)}
    >>> long = pd.DataFrame(
    ...     [(who, name, score) for who, row in scores.items()
    ...      for name, score in zip(("clear", "cloudy", "pressed"), row)],
    ...     columns=["assessor", "sample", "score"])
    >>> fit = assessor_model(long)
    >>> fit.slopes["slope"].round(2).tolist()
    [1.49, 0.52, 0.99]
    """
    share_of("level", level)
    checked = as_tidy(table, **column_names)
    if attribute is None:
        if len(checked.attributes) != 1:
            raise OptionError("assessor_model.which", have=checked.attributes)
        attribute = checked.attributes[0]
    if attribute not in checked.attributes:
        raise OptionError(
            "assessor_model.no_attribute", attribute=attribute, have=checked.attributes
        )
    rows = checked.of(attribute)
    cells = rows.groupby(["assessor", "sample"], sort=True)["score"]
    means = cells.mean().unstack("sample")  # noqa: PD010 - a Series has no pivot_table
    counts = cells.count().unstack("sample")  # noqa: PD010
    _check(rows, means, attribute)
    fit = bundle_of_lines(means.to_numpy(float))
    filled = counts.to_numpy(float)[means.notna().to_numpy()]
    per_cell = float(filled.size / (1 / filled).sum())
    error_df = int((filled - 1).sum())
    error_ss = float(((rows["score"] - cells.transform("mean")) ** 2).sum())

    sources = _sources(fit, per_cell, (error_ss, error_df), means.shape)
    tests = {source: test for source, (_, _, test) in sources.items()}
    plain_ms = fit.interaction_ss / fit.interaction_df
    left_ss, left_df = fit.interaction_ss - fit.tukey_ss, fit.interaction_df - 1
    sample_df = means.shape[1] - 1
    dropped = checked.dropped
    return AssessorModel(
        attribute=attribute,
        level=level,
        assessors=means.shape[0],
        samples=means.shape[1],
        answers=len(rows),
        replicates=per_cell,
        table=_table(sources),
        sample=tests["sample"],
        sample_plain=_f(
            fit.sample_ss / sample_df, sample_df, plain_ms, fit.interaction_df, "interaction"
        ),
        scaling=tests["scaling"],
        disagreement=tests["disagreement"],
        tukey=_f(fit.tukey_ss, 1, left_ss / left_df, left_df, "rest of interaction")
        if np.isfinite(fit.gamma)
        else FTest(np.nan, 1, left_df, np.nan, "rest of interaction"),
        gamma=fit.gamma,
        slopes=_slopes(fit, means.index, per_cell, (error_ss, error_df), level),
        means=pd.DataFrame({"sample": means.columns, "mean": fit.grand + fit.x}),
        dropped=dropped[dropped["attribute"] == attribute].reset_index(drop=True),
        warnings=_warnings(rows, means, filled, fit.slope, tests["sample"].p),
        covariance=fit.covariance / per_cell,
        slope_variance=_slope_variance(sources, fit, per_cell),
    )


def _check(rows: pd.DataFrame, means: pd.DataFrame, attribute: str) -> None:
    """Refuse what cannot hold a bundle of lines."""
    if len(means) < 2:
        raise NotEstimable("assessor_model.one_assessor", attribute=attribute)
    if means.shape[1] < 3:
        raise NotEstimable("assessor_model.few_samples", attribute=attribute, n=means.shape[1])
    if np.ptp(rows["score"]) == 0:
        raise NotEstimable(
            "assessor_model.constant", attribute=attribute, score=short(rows["score"].iloc[0])
        )


def _f(ms: float, df: float, ms_error: float, df_error: float, error: str) -> FTest:
    """Make an F test; no error at all gives infinity, no degree of freedom nan."""
    if df < 1 or df_error < 1 or (ms == 0 and ms_error == 0):
        return FTest(np.nan, df, df_error, np.nan, error)
    f = ms / ms_error if ms_error > 0 else np.inf
    return FTest(f, df, df_error, float(fdtrc(df, df_error, f)) if np.isfinite(f) else 0.0, error)


def _sources(
    fit: Bundle, per_cell: float, error: tuple[float, int], shape: tuple[int, ...]
) -> dict[str, tuple[float, float, FTest]]:
    """Give sum of squares, mean square (of single answers) and test of each source."""
    error_ss, error_df = error
    lines = {
        "assessor": (shape[0] - 1, fit.assessor_ss),
        "sample": (shape[1] - 1, fit.sample_ss),
        "scaling": (fit.scaling_df, fit.scaling_ss),
        "concurrence": (1, fit.tukey_ss),
        "rest of scaling": (fit.scaling_df - 1, max(fit.scaling_ss - fit.tukey_ss, 0.0)),
        "disagreement": (fit.deviations_df, fit.deviations_ss),
    }
    ms_disagreement = fit.deviations_ss * per_cell / fit.deviations_df
    ms_error = error_ss / error_df if error_df else np.nan
    sources = {}
    for source, (df, ss_means) in lines.items():
        ss = ss_means * per_cell
        ms = ss / df if df else np.nan
        if source == "disagreement":
            test = _f(ms, df, ms_error, error_df, "replicates")
        else:
            test = _f(ms, df, ms_disagreement, fit.deviations_df, "disagreement")
        sources[source] = (ss, ms, test)
    sources["replicates"] = (error_ss, ms_error, FTest(np.nan, error_df, 0, np.nan, ""))
    return sources


def _table(sources: Mapping[str, tuple[float, float, FTest]]) -> pd.DataFrame:
    """Write the analysis of variance."""
    rows = [
        (source, int(test.df_num), ss, ms, test.F, int(test.df_den), test.p, test.error_term)
        for source, (ss, ms, test) in sources.items()
    ]
    columns = ["source", "df", "ss", "ms", "f", "df_den", "p", "error"]
    return pd.DataFrame(rows, columns=columns)


def _slope_variance(
    sources: Mapping[str, tuple[float, float, FTest]], fit: Bundle, per_cell: float
) -> float:
    """Estimate it from E(MS scaling) = E(MS disagreement) + variance * replicates * sum(x**2)."""
    excess = sources["scaling"][1] - sources["disagreement"][1]
    return max(excess, 0.0) / (per_cell * float((fit.x**2).sum()))


def _slopes(
    fit: Bundle, names: pd.Index[str], per_cell: float, error: tuple[float, int], level: float
) -> pd.DataFrame:
    """Make the table of the assessors' lines."""
    error_ss, error_df = error
    noise = fit.deviations_ss / fit.deviations_df
    se = np.sqrt(noise * fit.slope_unit)
    half = stdtrit(fit.deviations_df, (1 + level) / 2) * se
    with np.errstate(divide="ignore", invalid="ignore"):
        t = (fit.slope - 1) / se
        own = np.where(
            fit.deviation_unit > 1e-6, per_cell * fit.deviation_ss / fit.deviation_unit, np.nan
        )
        f = own / (error_ss / error_df) if error_df else np.full(len(names), np.nan)
    df = np.where(np.isnan(own), np.nan, fit.deviation_df)
    p = np.where(np.isnan(f), np.nan, fdtrc(np.maximum(df, 1), max(error_df, 1), f))
    return pd.DataFrame(
        {
            "assessor": names,
            "level": fit.level,
            "slope": fit.slope,
            "se": se,
            "low": fit.slope - half,
            "high": fit.slope + half,
            "p": 2 * stdtr(fit.deviations_df, -np.abs(t)),
            "disagreement": own,
            "disagreement_df": df,
            "disagreement_f": f,
            "disagreement_p": p,
        }
    )


def _warnings(
    rows: pd.DataFrame, means: pd.DataFrame, filled: Floats, slope: Floats, p_sample: float
) -> tuple[Sentence, ...]:
    """Say what was done about holes, sessions and samples that hardly differ."""
    said = []
    empty = int(means.isna().sum().sum())
    if empty:
        said.append(Sentence.of("assessor_model.holes", n=empty))
    if filled.min() != filled.max():
        said.append(Sentence.of("assessor_model.unequal"))
    sessions = len(rows["session"].unique())
    if sessions > 1:
        said.append(Sentence.of("assessor_model.sessions", n=sessions))
    if not holds(p_sample, ALPHA):
        said.append(Sentence.of("assessor_model.slopes_guess"))
    without = [str(name) for name, slope in zip(means.index, slope, strict=True) if np.isnan(slope)]
    if without:
        said.append(Sentence.of("assessor_model.no_line", names=without))
    return tuple(said)
