"""What is said of small designs and what can be asked, on both sides of the thresholds."""

from __future__ import annotations

import pytest
from kikichoko.analysis.core import OptionError
from kikichoko.analysis.power import ScorePlan
from kikichoko.analysis.power.detectable_difference import _build
from kikichoko.analysis.power.power_of_tests import critical_t, ratio_for


@pytest.mark.parametrize(("df", "told"), [(5.0, True), (6.0, False)])
def test_fewer_than_six_degrees_of_freedom_are_told(df: float, told: bool):
    plan = ScorePlan(samples=3, assessors=4, interaction=0.2, residual=0.6)
    found = _build(plan, attribute="body", replicates=1, origin="stated", power=0.8, se=0.4, df=df)
    assert ("detectable.few" in [one.key for one in found.warnings]) is told


@pytest.mark.parametrize(("power", "allowed"), [(0.051, True), (0.049, False)])
def test_a_power_exceeds_the_level_of_the_test(power: float, allowed: bool):
    critical = critical_t(9, 2, 0.05, "planned")
    if allowed:
        assert 0 < ratio_for(power, 9, critical) < 0.2
    else:
        with pytest.raises(OptionError):
            ratio_for(power, 9, critical)
