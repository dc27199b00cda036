"""The mixed-model ANOVA of one attribute: its tests, means and comparisons."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from scipy.special import stdtrit

from ...rounding import rounded
from ..core.errors import OptionError
from ..core.options import one_of, share_of
from ..core.p_values import holds
from ..core.plotted import Plotted
from ..core.result import FTest, Interval, plain
from ..core.wording import p_words, short, stated_percent, term_words
from ..core.words import FALLBACK, Sentence
from ..mixed_model.denominator_df import Inference
from . import comparisons
from .comparisons import Pairs, padded

if TYPE_CHECKING:
    from matplotlib.figure import Figure


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class AttributeAnova(Plotted):
    """Samples compared in one attribute, assessors random.

    Attributes
    ----------
    attribute : str
    samples : tuple of str
        Samples that have scores.
    sample : FTest
        Test that all samples have the same mean.
    effects : mapping of str to FTest
        Tests of the factors of the samples and their interactions, of
        position, carry-over and sessions, as far as asked for.
    components : mapping of str to float
        Variance components; nan where it cannot be told from the residual, 0
        where the estimate fell below 0 (see `estimates`).
    estimates : mapping of str to float
        The same as they were estimated, maybe negative.
    method : str
        How components and degrees of freedom were found.
    level : float
        Confidence level of intervals.
    n_scores, n_assessors : int
    order : DataFrame
        Effects of position, carry-over and session: ``effect, level,
        estimate, se, df, low, high``.
    reference : str or None
        The sample that others are compared with in tables and JSON.
    sessions : {'', 'these', 'general'}
        What the samples' test is about: one session, these sessions as they were, or
        sessions in general.
    inference : Inference
        Estimates with their covariance, for further tests.
    pairs, index : Pairs and int
        Where `differences` come from when asked for.
    """

    attribute: str
    samples: tuple[str, ...]
    sample: FTest
    effects: Mapping[str, FTest]
    components: Mapping[str, float]
    estimates: Mapping[str, float]
    method: str
    level: float
    n_scores: int
    n_assessors: int
    order: pd.DataFrame
    reference: str | None = None
    sessions: str = ""
    inference: Inference
    pairs: Pairs
    index: int

    @property
    def panel_sd(self) -> float:
        """Standard deviation of single scores that different assessors give to one sample."""
        return panel_sd(self.estimates)

    @property
    def differences(self) -> pd.DataFrame:
        """All pairs of samples by Tukey's method, the widest gap on top.

        Columns ``sample, against, difference, se, df, t, p, low, high,
        panel_sds``; limits and p hold for all pairs together.
        """
        return self.pairs.of(self.index).copy()

    @property
    def means(self) -> pd.DataFrame:
        """Means with intervals for new assessors of this kind: ``sample, mean, se, df, low, high``.

        With holes, position or sessions in the model these are means for a
        full panel at the average place and session.
        """
        k = len(self.samples)
        mean, se, df = (
            part[0] for part in self.inference.contrasts(padded(np.eye(k), self.inference))
        )
        half = stdtrit(df, (1 + self.level) / 2) * se
        return pd.DataFrame(
            {
                "sample": self.samples,
                "mean": mean,
                "se": se,
                "df": df,
                "low": mean - half,
                "high": mean + half,
            }
        )

    def against(self, reference: str, alternative: str = "two-sided") -> pd.DataFrame:
        """Compare all samples with one of them, by Dunnett's method.

        Parameters
        ----------
        reference : str
        alternative : {'two-sided', 'greater', 'less'}
            'greater' looks for samples above the reference only.

        Returns
        -------
        DataFrame
            Columns as `differences`; limits and p hold for all of them together.

        Raises
        ------
        OptionError
        """
        one_of("alternative", alternative, ("two-sided", "greater", "less"))
        if reference not in self.samples:
            raise OptionError("anova.no_sample", sample=reference, samples=list(self.samples))
        return comparisons.against_reference(
            self.inference,
            self.samples,
            reference,
            level=self.level,
            sd=self.panel_sd,
            alternative=alternative,
        )

    def contrasts(
        self, weights: Mapping[str, Mapping[str, float]], adjustment: str = "holm"
    ) -> pd.DataFrame:
        """Estimate contrasts of the means.

        Parameters
        ----------
        weights : mapping
            A name for each contrast, and its weights by sample, summing to 0:
            ``{"pasteurised or not": {"A": 0.5, "B": 0.5, "C": -1}}``.
        adjustment : {'holm', 'bh', 'none', ...}
            How p values allow for their number (see `multiplicity.adjust`);
            intervals stand each by itself.

        Raises
        ------
        OptionError
        """
        return comparisons.contrast_table(
            self.inference,
            self.samples,
            weights,
            level=self.level,
            sd=self.panel_sd,
            adjustment=adjustment,
        )

    def letters(self, alpha: float = 0.05) -> pd.DataFrame:
        """Show which samples were told apart: those that share no letter (Tukey's method).

        Returns
        -------
        DataFrame
            ``sample, mean, letters``, the highest mean first.
        """
        share_of("alpha", alpha)
        pairs = self.pairs.of(self.index)
        told = pairs[holds(pairs["p"], alpha)]
        different = {frozenset(pair) for pair in zip(told["sample"], told["against"], strict=True)}
        means = dict(zip(self.samples, self.inference.beta[0], strict=False))
        shown = comparisons.shared_letters(means, different)
        return pd.DataFrame(
            {
                "sample": list(shown),
                "mean": [means[name] for name in shown],
                "letters": list(shown.values()),
            }
        )

    def figure(self, reference: str | None = None, *, language: str = FALLBACK) -> Figure:
        """Draw the differences with intervals that hold together.

        All pairs (Tukey), or differences from `reference` (Dunnett).
        """
        from .mean_scores_figure import draw_differences

        return draw_differences(
            self.differences if reference is None else self.against(reference),
            attribute=self.attribute,
            level=self.level,
            against_one=reference is not None,
            language=language,
        )

    def widest(self) -> tuple[str, str, float, Interval]:
        """Return the highest and the lowest sample, their difference and its interval."""
        top = self.pairs.of(self.index).iloc[0]
        interval = Interval(float(top["low"]), float(top["high"]), self.level)
        return str(top["sample"]), str(top["against"]), float(top["difference"]), interval

    def sentences(self) -> tuple[Sentence, ...]:
        """Say what the samples show, with the widest difference and its interval."""
        high, low, gap, limits = self.widest()
        values: dict[str, object] = {
            "attribute": self.attribute,
            "test": self._spoken(self.sample),
            "high": high,
            "low": low,
            "gap": short(gap),
            "from_": short(limits.low),
            "to": short(limits.high),
            "level": stated_percent(self.level),
            "sds": short(gap / self.panel_sd, 2),
        }
        alpha = 1 - self.level
        if not holds(self.sample.p, alpha):
            key = "anova.not_told_but_pair" if limits.low > 0 else "anova.not_told"
        elif limits.low > 0:
            key = "anova.differ"
        else:
            key = "anova.differ_no_pair"
        said = [Sentence.of(key, **values)]
        for name, test in self.effects.items():
            kind = "change" if name == "sample:session" else "effect"
            key = f"anova.{kind}_seen" if holds(test.p, alpha) else f"anova.{kind}_not_told"
            said.append(
                Sentence.of(
                    key,
                    effect=term_words(name),
                    attribute=self.attribute,
                    test=self._spoken(test),
                )
            )
        return tuple(said)

    def _spoken(self, test: FTest) -> Sentence:
        return Sentence.of(
            "anova.test",
            num=f"{test.df_num:g}",
            den=rounded(test.df_den, ".0f")
            if abs(test.df_den - round(test.df_den)) < 1e-6
            else rounded(test.df_den, ".1f"),
            F=short(test.F),
            p=p_words(test.p),
        )

    def tests(self) -> pd.DataFrame:
        """Return all F tests: ``effect, F, df_num, df_den, p, error_term``."""
        named = {"sample": self.sample, **self.effects}
        return pd.DataFrame([{"effect": name, **test._asdict()} for name, test in named.items()])

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return tests, components, means with letters, and differences."""
        letters = self.letters()[["sample", "letters"]]
        shown: dict[str, pd.DataFrame] = {
            "anova.tests": self.tests(),
            "anova.components": pd.DataFrame(
                {"component": list(self.components), "variance": list(self.components.values())}
            ),
            "anova.means": self.means.merge(letters, on="sample"),
            "anova.differences": self.differences.drop(columns="t"),
        }
        if self.reference in self.samples:
            shown["anova.against"] = self.against(str(self.reference)).drop(columns="t")
        if len(self.order):
            shown["anova.order"] = self.order.copy()
        return shown

    def to_dict(self, language: str = FALLBACK) -> dict[str, Any]:
        """Return the result as a dict that is valid JSON."""
        sample = self.sample._asdict()
        error_term = sample.pop("error_term")
        spoken: dict[str, Any] = plain(
            {
                "sample": sample,
                "error_term": error_term,
                "effects": self.effects,
                "components": self.components,
                "estimates": self.estimates,
                "panel_sd": self.panel_sd,
                "means": self.means,
                "letters": self.letters().set_index("sample")["letters"],
                "differences": self.differences,
                "against": None
                if self.reference not in self.samples
                else self.against(str(self.reference)),
                "order": self.order,
                "method": self.method,
                "sessions": self.sessions,
                "level": self.level,
                "n_scores": self.n_scores,
                "n_assessors": self.n_assessors,
                "sentences": self.sentences(),
                "warnings": self.warnings,
            },
            language,
        )
        return spoken


def panel_sd(variances: Mapping[str, float]) -> float:
    """Join the components that make assessors' single scores of one sample differ."""
    return float(
        np.sqrt(
            sum(
                max(value, 0.0)
                for name, value in variances.items()
                if not np.isnan(value) and (name == "residual" or "assessor" in name.split(":"))
            )
        )
    )
