"""What is a scale of steps, and how few assessors are told, on both sides of the thresholds."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.core import NotEstimable
from kikichoko.analysis.ordinal.ordinal_model import _check, _warnings


@pytest.mark.parametrize(("categories", "allowed"), [(20, True), (21, False)])
def test_more_than_twenty_categories_are_no_scale_of_steps(categories: int, allowed: bool):
    scores = [float(place) for place in range(categories)]
    rows = pd.DataFrame({"sample": ["a", "b"] * categories, "score": scores * 2})
    rows["assessor"] = ["A", "B"] * categories
    if allowed:
        assert len(_check(rows, "body", "assessor")[1]) == categories
    else:
        with pytest.raises(NotEstimable) as why:
            _check(rows, "body", "assessor")
        assert why.value.sentence.key == "ordinal.many"


@pytest.mark.parametrize(("people", "told"), [(5, True), (6, False)])
def test_fewer_than_six_assessors_are_told(people: int, told: bool):
    rows = pd.DataFrame({"assessor": [f"T{i}" for i in range(people)]}).assign(
        session="1", score=[float(i % 2) for i in range(people)]
    )
    fit = SimpleNamespace(boundary=(), model=SimpleNamespace(random=0))
    said = _warnings(rows, np.array([0.0, 1.0]), fit, "assessor", (), pd.Series([1]))
    assert ("ordinal.few" in [one.key for one in said]) is told
