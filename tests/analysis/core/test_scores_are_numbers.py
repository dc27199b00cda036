"""What is taken as a score, on both sides of the border."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.core import TableError, tidy
from kikichoko.analysis.core.ratings_matrix import matrix


def table(score: object) -> pd.DataFrame:
    names = ["assessor", "sample", "score"]
    return pd.DataFrame([("A", "x", 1.0), ("A", "y", score), ("B", "x", 2.0)], columns=names)


@pytest.mark.parametrize("score", [np.inf, -np.inf, "inf", "1e999"])
def test_an_infinite_score_is_refused_with_its_row(score: object):
    with pytest.raises(TableError, match=r"Row 2.*'score'"):
        tidy(table(score))


@pytest.mark.parametrize("score", [1e300, -3, "4"])
def test_any_finite_score_is_taken(score: object):
    assert tidy(table(score)).data["score"].tolist() == [1.0, float(score), 2.0]


def test_an_infinite_rating_is_refused_and_a_hole_is_not():
    with pytest.raises(TableError, match="must be finite"):
        matrix([[1.0, np.inf], [2.0, 3.0]])
    assert np.isnan(matrix([[1.0, np.nan], [2.0, 3.0]])).sum() == 1
