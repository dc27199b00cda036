"""A class without names: what its students have in common."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd
from scipy.special import stdtrit

from .student_result import Student


def by_attribute(students: Mapping[str, Student], lines: list[str], level: float) -> pd.DataFrame:
    """Return bias with limits, median distance and number within the margin, by attribute."""
    rows = []
    for name in lines:
        mine = pd.concat([one.lines[one.lines["attribute"] == name] for one in students.values()])
        mine = mine[np.isfinite(mine["rmse"])]
        n = len(mine)
        bias = mine["bias"].to_numpy(float)
        half = np.nan
        if n > 1:
            half = float(stdtrit(n - 1, (1 + level) / 2)) * bias.std(ddof=1) / np.sqrt(n)
        middle = float(bias.mean()) if n else np.nan
        rows.append(
            {
                "attribute": name,
                "n_students": n,
                "n_within": int(mine["verdict"].isin(["equivalent", "both"]).sum()),
                "rmse_median": float(mine["rmse"].median()) if n else np.nan,
                "bias_mean": middle,
                "bias_low": middle - half,
                "bias_high": middle + half,
            }
        )
    return pd.DataFrame(rows)


def by_word(students: Mapping[str, Student]) -> pd.DataFrame:
    """Return by how many students each word was found, missed and invented."""
    parts = [one.words for one in students.values() if one.words is not None]
    if not parts:
        return pd.DataFrame(columns=["word", "found_by", "missed_by", "invented_by"])
    both = pd.concat(parts)
    counted = both.assign(
        found_by=both["found"] > 0, missed_by=both["missed"] > 0, invented_by=both["invented"] > 0
    )
    summed = counted.groupby("word")[["found_by", "missed_by", "invented_by"]].sum()
    return summed[summed.sum(axis=1) > 0].reset_index()


def by_bottle(students: Mapping[str, Student]) -> pd.DataFrame:
    """Return how the pours of each spiked or clean bottle were called."""
    columns = ["session", "sample", "truth", "n", "right", "wrong", "missed", "false_alarms"]
    parts = [one.faults for one in students.values() if one.faults is not None and len(one.faults)]
    if not parts:
        return pd.DataFrame(columns=columns)
    calls = pd.concat(parts, ignore_index=True)
    kinds = ["right", "wrong", "missed", "false alarm"]
    rows = [
        (*key, len(mine), *((mine["outcome"] == kind).sum() for kind in kinds))
        for key, mine in calls.groupby(["session", "sample", "truth"])
    ]
    return pd.DataFrame(rows, columns=columns)
