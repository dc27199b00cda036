"""When silence is told to need a larger panel, on both sides of the threshold."""

from __future__ import annotations

from dataclasses import replace

import pytest
from kikichoko.analysis.inference import proportion


@pytest.mark.parametrize(("n", "told"), [(28, True), (29, False)])
def test_silence_that_does_not_rule_out_a_tenth(n: int, told: bool):
    """One-sided limit 1 - 0.05 ** (1 / n): 0.1015 at 28, 0.0981 at 29."""
    assert (1 - 0.05 ** (1 / n) > 0.10) is told
    keys = [one.key for one in proportion(0, n).sentences()]
    assert ("proportion.silent_panel" in keys) is told


@pytest.mark.parametrize(("upper", "told"), [(0.10, False), (0.1001, True)])
def test_a_limit_of_just_a_tenth_rules_it_out(upper: float, told: bool):
    said = replace(proportion(0, 29), upper=upper).sentences()
    assert (len(said) == 2) is told
