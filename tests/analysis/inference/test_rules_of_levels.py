"""What holds at its level, on both sides of it."""

from __future__ import annotations

import pytest
from kikichoko.analysis.core import OptionError
from kikichoko.analysis.inference import equivalence, family
from scipy.stats import t as student


@pytest.mark.parametrize(
    ("p", "holding", "alone"),
    [((0.025, 0.9), ["a"], False), ((0.026, 0.9), [], True), ((0.05, 0.9), [], True),
     ((0.051, 0.9), [], False)],
)  # fmt: skip
def test_a_test_holds_after_adjustment_or_would_have_alone(p, holding, alone: bool):
    """Holm 1979: the smaller of two p values counts twice."""
    found = family(dict(zip("ab", p, strict=True)), "holm", alpha=0.05)
    assert found.holding == holding
    assert ("multiplicity.alone" in [one.key for one in found.sentences()]) is alone


@pytest.mark.parametrize(("factor", "near"), [(1.001, True), (0.999, False)])
def test_alike_where_both_one_sided_tests_reach_alpha(factor: float, near: bool):
    """With no difference, the margin in standard errors is the one-sided t point."""
    margin = factor * student.isf(0.05, 13)
    assert (equivalence(0.0, 1.0, 13, margin=margin).verdict == "equivalent") is near


@pytest.mark.parametrize(("factor", "apart"), [(1.001, True), (0.999, False)])
def test_different_where_the_two_sided_test_reaches_alpha(factor: float, apart: bool):
    gap = factor * student.isf(0.025, 13)
    assert (equivalence(gap, 1.0, 13, margin=0.1).verdict == "different") is apart


@pytest.mark.parametrize(("alpha", "allowed"), [(0.49, True), (0.5, False)])
def test_a_risk_of_one_half_is_no_test(alpha: float, allowed: bool):
    if allowed:
        assert equivalence(0.1, 0.2, 13, margin=0.5, alpha=alpha).verdict == "equivalent"
    else:
        with pytest.raises(OptionError):
            equivalence(0.1, 0.2, 13, margin=0.5, alpha=alpha)
