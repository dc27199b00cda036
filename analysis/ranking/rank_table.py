"""Ranks in a table of assessors by samples, and what all tests of them say alike."""

from __future__ import annotations

from typing import Unpack

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.stats import rankdata

from ..core.errors import NotEstimable, OptionError
from ..core.p_values import holds
from ..core.tidy_table import Columns, Tidy, as_tidy
from ..core.words import Sentence

Floats = npt.NDArray[np.float64]
SEED = 8587
PAIR_COLUMNS = ["sample", "other", "difference", "p_comparisonwise", "p_familywise"]


def one_answer_each(
    table: Tidy | pd.DataFrame,
    attribute: str | None,
    **column_names: Unpack[Columns],
) -> tuple[pd.DataFrame, str, tuple[Sentence, ...]]:
    """Return scores as assessors by samples, the attribute, and what needed care."""
    checked = as_tidy(table, **column_names)
    if attribute is None:
        if len(checked.attributes) != 1:
            raise OptionError("ranks.which", have=checked.attributes)
        attribute = checked.attributes[0]
    if attribute not in checked.attributes:
        raise OptionError("ranks.no_attribute", attribute=attribute, have=checked.attributes)
    rows = checked.of(attribute)
    warnings = []
    if len(set(rows["session"])) > 1:
        rows["assessor"] = rows["assessor"] + " / " + rows["session"]
        warnings.append(Sentence.of("ranks.sessions"))
    if rows.duplicated(["assessor", "sample"]).any():
        warnings.append(Sentence.of("ranks.averaged"))
    wide = rows.pivot_table(index="assessor", columns="sample", values="score", aggfunc="mean")
    if wide.shape[0] < 2 or wide.shape[1] < 2:
        raise NotEstimable("ranks.too_few", assessors=wide.shape[0], samples=wide.shape[1])
    return wide, attribute, tuple(warnings)


def complete_ranks(wide: pd.DataFrame) -> Floats:
    """Return the ranks within each assessor (1 = least), ties at their mean.

    Raises
    ------
    NotEstimable
        With holes.
    """
    holes = int(wide.isna().to_numpy().sum())
    if holes:
        raise NotEstimable("ranks.holes", n=holes)
    ranks: Floats = np.apply_along_axis(rankdata, 1, wide.to_numpy(float))
    return ranks


def verdict_said(p: float, differences: pd.DataFrame, alpha: float) -> list[Sentence]:
    """Say whether the samples differ in rank and, only if they do, which pairs."""
    if holds(p, alpha):
        return [Sentence.of("ranks.shown", alpha=alpha), pairs_said(differences, alpha)]
    return [Sentence.of("ranks.not_shown", alpha=alpha)]


def pairs_said(differences: pd.DataFrame, alpha: float) -> Sentence:
    """Name the pairs that differ, the lower ranked first."""
    claimed = differences[holds(differences["p_familywise"], alpha)]
    if claimed.empty:
        return Sentence.of("ranks.no_pair", alpha=alpha)
    pairs = []
    for row in claimed.to_dict("records"):
        ends = [row["sample"], row["other"]]
        low, high = ends if row["difference"] < 0 else ends[::-1]
        pairs.append(Sentence.of("ranks.pair", low=low, high=high))
    return Sentence.of("ranks.pairs", pairs=pairs, alpha=alpha)
