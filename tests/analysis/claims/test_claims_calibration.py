"""False claims and power of the whole rule on simulated sessions: a sample of the benchmark.

The full tables, with their date, stand in docs/claims.md; `benchmarks/calibration.py` makes them.
"""

from __future__ import annotations

import importlib.util
import sys
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from types import ModuleType

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.claims import one_budget
from kikichoko.analysis.claims.one_budget import claims
from kikichoko.analysis.claims.power_of_claims import planned, smallest_difference
from kikichoko.analysis.claims.step_down import StatedQuestion, Steps, step_down
from kikichoko.analysis.core.errors import OptionError
from kikichoko.analysis.power.power_of_tests import ScorePlan
from scipy import stats

SCRIPT = Path(__file__).parents[3] / "benchmarks" / "calibration.py"


@pytest.fixture(scope="module")
def calibration() -> ModuleType:
    spec = importlib.util.spec_from_file_location("calibration", SCRIPT)
    module = importlib.util.module_from_spec(spec)
    sys.modules["calibration"] = module
    spec.loader.exec_module(module)
    return module


def counted(calibration: ModuleType, each: int) -> Counter[str]:
    """Count reports of four designs, half of them with three true attributes, by what they say."""
    rng = np.random.default_rng(12)
    count: Counter[str] = Counter()
    for assessors, bottles, replicates in ((5, 4, 1), (6, 3, 2), (8, 2, 2), (3, 3, 1)):
        design = calibration.Design(
            assessors=assessors, bottles=bottles, replicates=replicates, maker=assessors == 6
        )
        for number in range(each):
            made = calibration.session(design, 0 if number % 2 else 3, rng)
            report = calibration.findings(made, 299)
            said = [one for one in report.about_bottles if one.kind == "claim"]
            count["false"] += any(calibration.is_false(one, made) for one in said)
            count["found"] += any(one.family == "scale" for one in said)
            count["hint"] += any(one.kind == "hint" for one in report.about_bottles)
            count["total"] += 1
    return count


def bound(count: Counter[str], rate: float) -> float:
    """Return what 1 in 10,000 good rules would exceed."""
    return float(stats.binom.ppf(0.9999, count["total"], rate))


def test_a_sample_of_reports_holds_five_per_cent(calibration: ModuleType):
    """32 reports; the next test shows what a wrong rule gives in fewer."""
    count = counted(calibration, 8)
    assert count["false"] <= bound(count, 0.05)
    assert count["hint"] <= bound(count, 0.20)
    assert count["found"] >= 3


def test_raw_p_in_place_of_adjusted_is_noticed_in_a_smaller_sample(
    calibration: ModuleType, monkeypatch: pytest.MonkeyPatch
):
    def raw(questions: Sequence[StatedQuestion], level: float) -> Steps:
        made = step_down(questions, level)
        for one in questions:
            one.adjusted = one.p
            if one.pairs is not None:
                one.pairs.open[:] = True
                one.pair_adjusted = one.pairs.p()
        return made

    monkeypatch.setattr(one_budget, "step_down", raw)
    count = counted(calibration, 6)
    assert count["false"] > bound(count, 0.05)


def test_the_stated_difference_is_found_in_eight_of_ten():
    """100 tastings of 8 x 3, 18 scales, one of them apart by what the rule says that it finds."""
    rng = np.random.default_rng(4)
    people, bottles, scales = 8, 3, 18
    names = [f"s{k}" for k in range(scales)]
    k, i, j = (part.ravel() for part in np.indices((scales, people, bottles)))
    frame = pd.DataFrame(
        {
            "assessor": np.char.mod("T%d", i),
            "sample": np.char.mod("b%d", j),
            "attribute": np.array(names)[k],
        }
    )

    def tasting(difference: float) -> pd.DataFrame:
        scores = rng.normal(size=(scales, people, bottles))
        scores[0] += difference * np.array([-0.5, 0.0, 0.5])
        return frame.assign(score=scores[k, i, j])

    level = np.median([claims(tasting(0.0), shuffles=999).level_first for _ in range(8)])
    se, df = np.sqrt(2 / people), (people - 1) * (bottles - 1)
    difference = smallest_difference(float(se), df, bottles, level=float(level))
    found = 0
    for _ in range(100):
        pairs = claims(tasting(difference), shuffles=299).pairs_claimed("scale", "s0")
        found += ("b0", "b2") in set(zip(pairs["sample_a"], pairs["sample_b"], strict=True))
    # 3 standard errors of 100, and a little for the level, which shuffles leave free
    assert found / 100 == pytest.approx(0.8, abs=3 * np.sqrt(0.8 * 0.2 / 100) + 0.02)


def test_what_detectable_states():
    """More for an unnamed question than for a named one, most for neither than for a pair alone."""
    rng = np.random.default_rng(7)
    rows = [
        (f"T{i}", f"b{j}", f"s{k}", rng.normal())
        for i in range(8)
        for j in range(3)
        for k in range(12)
    ]
    table = pd.DataFrame(rows, columns=["assessor", "sample", "attribute", "score"])
    stated = claims(table).detectable()
    assert (stated["unnamed"] > stated["named"]).all()
    assert (stated["named"] > stated["alone"]).all()
    more = claims(table).detectable(power=0.9)
    assert (more["unnamed"] > stated["unnamed"]).all()


def test_the_plan_is_not_bolder_than_the_tasting():
    """Planned from the true variances: within a fifth of what simulated tastings then state."""
    plan = ScorePlan(samples=3, assessors=8, interaction=0.0, residual=1.0)
    said = planned(plan, scales=12, words=0).set_index("question")["difference"]
    rng = np.random.default_rng(9)
    rows = [(f"T{i}", f"b{j}", f"s{k}") for i in range(8) for j in range(3) for k in range(12)]
    table = pd.DataFrame(rows, columns=["assessor", "sample", "attribute"])
    stated = [
        claims(table.assign(score=rng.normal(size=len(table)))).detectable().mean(numeric_only=True)
        for _ in range(6)
    ]
    for question in ("unnamed", "named", "alone"):
        assert said[question] == pytest.approx(np.mean([one[question] for one in stated]), rel=0.2)
    with pytest.raises(OptionError, match="three"):
        planned(plan, named=4)
