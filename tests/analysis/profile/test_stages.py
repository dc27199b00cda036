"""One taste as a sip goes by: means by hand, limits against scipy."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.core.errors import OptionError
from kikichoko.analysis.profile import stages
from scipy import stats

ROWS = pd.DataFrame(
    [
        ("A", "x", 1, "first", 4.0), ("A", "x", 2, "first", 6.0), ("B", "x", 1, "first", 3.0),
        ("C", "x", 1, "first", 7.0), ("A", "x", 1, "after", 2.0), ("A", "y", 1, "after", 8.0),
    ],
    columns=["assessor", "sample", "replicate", "attribute", "score"],
)  # fmt: skip


def test_by_hand_and_against_scipy():
    found = stages(ROWS, ["first", "after"]).set_index(["sample", "attribute"])
    first = found.loc[("x", "first")]
    # Assessor A counts once, with the mean of the replicates: 5, 3, 7.
    assert (first["n"], first["mean"]) == (3, 5.0)
    limits = stats.t.interval(0.95, 2, loc=5.0, scale=stats.sem([5.0, 3.0, 7.0]))
    assert (first["low"], first["high"]) == pytest.approx(limits)
    assert np.isnan(found.loc[("y", "after"), "low"])
    assert list(dict.fromkeys(found.reset_index()["attribute"])) == ["first", "after"]


def test_errors():
    with pytest.raises(OptionError):
        stages(ROWS, ["first", "height"])
    with pytest.raises(OptionError):
        stages(ROWS, ["first"], level=1.0)
