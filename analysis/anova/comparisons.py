"""Comparisons of means: all pairs, against a reference, contrasts, shared letters.

Every comparison has its own standard error and degrees of freedom from the
mixed model; p values and intervals hold for all comparisons of a table together.

References
----------
Tukey 1953 (all pairs; for unequal standard errors Kramer 1956, Biometrics
12:307-310). Dunnett 1955, JASA 50:1096-1121. Holm 1979, Scand. J. Stat.
6:65-70. Piepho 2004, J. Comput. Graph. Stat. 13:456-466 (letters).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import stdtr, stdtrit

from ..core.errors import OptionError
from ..inference.adjusted_p import adjust
from ..mixed_model.block_layout import Array
from ..mixed_model.denominator_df import Inference
from ..mixed_model.joint_distributions import many_below, many_point, range_below, range_point

COLUMNS = ("sample", "against", "difference", "se", "df", "t", "p", "low", "high", "panel_sds")


def padded(weights: Array, inference: Inference) -> Array:
    """Give contrasts of samples zeros for the other fixed columns."""
    return np.pad(weights, ((0, 0), (0, inference.beta.shape[1] - weights.shape[1])))


@dataclass(slots=True, eq=False)
class Pairs:
    """All pairs of samples for several attributes, by Tukey's method, when first asked for.

    Attributes
    ----------
    inference : Inference
        Of a attributes with the same samples.
    samples : tuple of str
    level : float
        Confidence that all intervals of one attribute hold together.
    sds : array, shape (a,)
        Panel standard deviations, for the effect size.
    """

    inference: Inference
    samples: tuple[str, ...]
    level: float
    sds: Array
    _tables: list[pd.DataFrame] | None = None

    def of(self, index: int) -> pd.DataFrame:
        """Return the pairs of one attribute: the higher mean first, the widest gap on top."""
        if self._tables is None:
            self._tables = _all_pairs(self.inference, self.samples, self.level, self.sds)
        return self._tables[index]


def _all_pairs(
    inference: Inference, samples: Sequence[str], level: float, sds: Array
) -> list[pd.DataFrame]:
    k = len(samples)
    one, other = np.triu_indices(k, 1)
    unit = np.eye(k)
    gap, se, df = inference.contrasts(padded(unit[one] - unit[other], inference))
    t = gap / se
    p = 1 - range_below((np.sqrt(2) * np.abs(t)).ravel(), k, df.ravel()).reshape(t.shape)
    half = range_point(level, k, df.ravel()).reshape(t.shape) / np.sqrt(2) * se
    names = np.array(samples, dtype=object)
    tables = []
    for a in range(len(gap)):
        order = np.argsort(-np.abs(gap[a]), kind="stable")
        up = (gap[a] >= 0)[order]
        size = np.abs(gap[a])[order]
        tables.append(
            pd.DataFrame(
                {
                    "sample": np.where(up, names[one][order], names[other][order]),
                    "against": np.where(up, names[other][order], names[one][order]),
                    "difference": size,
                    "se": se[a][order],
                    "df": df[a][order],
                    "t": np.abs(t[a])[order],
                    "p": p[a][order],
                    "low": size - half[a][order],
                    "high": size + half[a][order],
                    "panel_sds": size / sds[a],
                }
            )
        )
    return tables


def against_reference(
    inference: Inference,
    samples: Sequence[str],
    reference: str,
    *,
    level: float,
    sd: float,
    alternative: str = "two-sided",
) -> pd.DataFrame:
    """Compare all samples with one, by Dunnett's method.

    Parameters
    ----------
    inference : Inference
        Of one attribute.
    samples : sequence of str
    reference : str
        One of `samples`.
    level : float
    sd : float
    alternative : {'two-sided', 'greater', 'less'}
        With 'greater' only samples above the reference are looked for; the
        upper limits are infinite.
    """
    k = len(samples)
    base = list(samples).index(reference)
    unit = np.eye(k)
    others = [i for i in range(k) if i != base]
    weights = padded(unit[others] - unit[base], inference)
    gap, se, df = (part[0] for part in inference.contrasts(weights))
    covariance = weights @ inference.adjusted[0] @ weights.T
    correlation = covariance / np.sqrt(np.outer(np.diag(covariance), np.diag(covariance)))
    two_sided = alternative == "two-sided"
    sign = -1.0 if alternative == "less" else 1.0
    t = gap / se
    shown = np.abs(t) if two_sided else sign * t
    p = 1 - many_below(shown, df, correlation, two_sided=two_sided)
    half = many_point(level, df, correlation, two_sided=two_sided) * se
    low = gap - half if alternative != "less" else np.full_like(gap, -np.inf)
    high = gap + half if alternative != "greater" else np.full_like(gap, np.inf)
    return pd.DataFrame(
        {
            "sample": [samples[i] for i in others],
            "against": reference,
            "difference": gap,
            "se": se,
            "df": df,
            "t": t,
            "p": p,
            "low": low,
            "high": high,
            "panel_sds": gap / sd,
        }
    )


def contrast_table(
    inference: Inference,
    samples: Sequence[str],
    contrasts: Mapping[str, Mapping[str, float]],
    *,
    level: float,
    sd: float,
    adjustment: str,
) -> pd.DataFrame:
    """Estimate named contrasts of means; p values adjusted, intervals each by itself.

    Raises
    ------
    OptionError
        If a contrast names an unknown sample or its weights do not sum to 0.
    """
    weights = np.zeros((len(contrasts), len(samples)))
    for row, (name, parts) in enumerate(contrasts.items()):
        for sample, weight in parts.items():
            if sample not in samples:
                raise OptionError("anova.no_sample", sample=sample, samples=list(samples))
            weights[row, list(samples).index(sample)] = weight
        if abs(weights[row].sum()) > 1e-9 or not weights[row].any():
            raise OptionError("anova.contrast_sum", name=name, total=f"{weights[row].sum():g}")
    estimate, se, df = (part[0] for part in inference.contrasts(padded(weights, inference)))
    t = estimate / se
    p = 2 * stdtr(df, -np.abs(t))
    half = stdtrit(df, (1 + level) / 2) * se
    return pd.DataFrame(
        {
            "contrast": list(contrasts),
            "difference": estimate,
            "se": se,
            "df": df,
            "t": t,
            "p": p if adjustment == "none" else adjust(p, adjustment),
            "low": estimate - half,
            "high": estimate + half,
            "panel_sds": estimate / sd,
        }
    )


def shared_letters(means: Mapping[str, float], different: set[frozenset[str]]) -> dict[str, str]:
    """Give letters to samples so that two of them share one just if they were not told apart.

    Parameters
    ----------
    means : mapping of sample to mean
    different : set of pairs
        Pairs that were told apart.

    Returns
    -------
    dict of sample to letters, the highest mean first

    Examples
    --------
    >>> shared_letters({"x": 1.0, "y": 2.0, "z": 3.0}, {frozenset("xz")})
    {'z': 'a', 'y': 'ab', 'x': 'b'}
    """
    order = sorted(means, key=lambda name: (-means[name], name))
    groups: list[set[str]] = [set(order)]
    for pair in sorted(different, key=sorted):
        one, other = sorted(pair)
        split: list[set[str]] = []
        for group in groups:
            split += [group - {one}, group - {other}] if {one, other} <= group else [group]
        groups = []
        for group in sorted(split, key=len, reverse=True):
            if not any(group <= kept for kept in groups):
                groups.append(group)
    groups.sort(key=lambda group: sorted(order.index(name) for name in group))
    return {
        name: "".join(_letter(i) for i, group in enumerate(groups) if name in group)
        for name in order
    }


def _letter(index: int) -> str:
    """Name a group: a to z, then A to Z, then with a number."""
    alphabet = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ"
    return alphabet[index % 52] + (str(index // 52) if index >= 52 else "")
