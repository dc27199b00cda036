"""One taste as a sip goes by: the mean at each stage, bottle by bottle, with limits."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from scipy import stats

from ..core.errors import OptionError
from ..core.tidy_table import Tidy, tidy


def stages(
    table: Tidy | pd.DataFrame, attributes: Sequence[str], *, level: float = 0.95
) -> pd.DataFrame:
    """Return the mean of each bottle at each stage.

    Parameters
    ----------
    table : Tidy or DataFrame
        A tidy table; the stages are attributes on one scale.
    attributes : sequence of str
        The stages in the order of the sip.
    level : float
        Confidence level, between 0 and 1.

    Returns
    -------
    DataFrame
        ``sample, attribute, n, mean, low, high``, in the order of the stages; n assessors.
        Limits are NaN with fewer than two.

    Raises
    ------
    OptionError
        If a stage is not in the table, or the level is out of range.

    Notes
    -----
    Limits of the mean by Student's t (1908), one value an assessor; replicates are averaged
    first, for they are not more assessors. They describe each stage by itself and decide nothing.
    """
    if not 0 < level < 1:
        raise OptionError("promise.range")
    checked = table if isinstance(table, Tidy) else tidy(table)
    absent = [name for name in attributes if name not in checked.attributes]
    if absent:
        raise OptionError("promise.absent", names=absent, have=checked.attributes)
    kept = checked.data[checked.data["attribute"].isin(list(attributes))]
    own = kept.groupby(["attribute", "sample", "assessor"], observed=True)["score"].mean()
    rows = []
    for keys, values in own.groupby(level=["attribute", "sample"], observed=True):
        attribute, sample = (str(key) for key in np.atleast_1d(np.asarray(keys, dtype=object)))
        scores = values.to_numpy(float)
        n, mean = len(scores), float(scores.mean())
        reach = np.nan
        if n > 1:
            se = float(scores.std(ddof=1)) / np.sqrt(n)
            reach = float(stats.t.ppf((1 + level) / 2, n - 1)) * se
        rows.append((sample, attribute, n, mean, mean - reach, mean + reach))
    made = pd.DataFrame(rows, columns=["sample", "attribute", "n", "mean", "low", "high"])
    place = {name: rank for rank, name in enumerate(attributes)}
    return made.sort_values("attribute", key=lambda names: names.map(place), kind="stable")
