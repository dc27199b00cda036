"""How few assessors are told, on both sides of the thresholds."""

from __future__ import annotations

import numpy as np
import pytest
from kikichoko.analysis.difference import replicated
from kikichoko.analysis.difference.thresholds import _warnings


@pytest.mark.parametrize(("n", "told"), [(7, True), (8, False)])
def test_few_assessors_of_a_threshold(n: int, told: bool):
    right = np.tile([0.0, 1.0, 1.0], (n, 1))
    assert ("threshold.few" in [one.key for one in _warnings(right, 1 / 3)]) is told


@pytest.mark.parametrize(("n", "told"), [(5, True), (6, False)])
def test_few_assessors_of_a_replicated_test(n: int, told: bool):
    found = replicated("triangle", [2, 3, 1, 2, 3, 4][:n], 4)
    assert ("replicated.few" in [one.key for one in found.warnings]) is told
