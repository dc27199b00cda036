"""When samples, pairs and residuals are told apart, on both sides of the thresholds."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.anova import anova, residual_checks
from kikichoko.analysis.anova.residuals import ResidualChecks
from kikichoko.analysis.anova.whole_table import Anova, _table_warnings
from kikichoko.analysis.core import tidy


def scores(people: int, attributes: int = 2) -> pd.DataFrame:
    """Return two samples far apart, tasted twice by some people, on some attributes."""
    rng = np.random.default_rng(5)
    rows = [
        (f"T{i}", "ab"[j], r + 1, f"s{k}", 4 * j + rng.normal())
        for i in range(people)
        for j in range(2)
        for r in range(2)
        for k in range(attributes)
    ]
    columns = ["assessor", "sample", "replicate", "attribute", "score"]
    return pd.DataFrame(rows, columns=columns)


@pytest.fixture(scope="module")
def found() -> Anova:
    return anova(scores(5))


def keys(said) -> list[str]:
    return [one.key.partition(".")[2] for one in said]


@pytest.mark.parametrize(
    ("p", "low", "key"),
    [(0.049, 0.1, "differ"), (0.049, -0.1, "differ_no_pair"), (0.051, -0.1, "not_told"),
     (0.051, 0.1, "not_told_but_pair")],
)  # fmt: skip
def test_samples_are_told_apart_below_five_per_cent(found: Anova, p: float, low: float, key: str):
    """The test of all, and the widest pair's limits, which need not agree with it."""
    known = found["s0"]
    pairs = SimpleNamespace(of=lambda index: known.pairs.of(index).assign(low=low))
    one = replace(known, sample=known.sample._replace(p=p), pairs=pairs)
    assert keys(one.sentences())[0] == key


@pytest.mark.parametrize(("p", "key"), [(0.049, "effect_seen"), (0.051, "effect_not_told")])
def test_an_effect_is_seen_below_five_per_cent(found: Anova, p: float, key: str):
    test = found["s0"].sample._replace(p=p)
    one = replace(found["s0"], effects={"position": test})
    assert key in keys(one.sentences())


@pytest.mark.parametrize(("p", "letters"), [(0.049, {"a", "b"}), (0.051, {"a"})])
def test_letters_part_pairs_told_apart_below_alpha(found: Anova, p: float, letters: set[str]):
    one = found["s0"]
    pairs = SimpleNamespace(of=lambda index: one.pairs.of(index).assign(p=p))
    assert set(replace(one, pairs=pairs).letters(0.05)["letters"]) == letters


@pytest.mark.parametrize(("p", "stand"), [(0.024, ["s0", "s1"]), (0.026, [])])
def test_attributes_stand_together_after_holms_adjustment(found: Anova, p: float, stand: list[str]):
    tests = {
        name: replace(one, sample=one.sample._replace(p=p))
        for name, one in found.attributes.items()
    }
    said = replace(found, attributes=tests).sentences()
    together = next(one for one in said if one.key.startswith("anova.together"))
    assert dict(together.values)["names"] == stand
    assert together.key == ("anova.together" if stand else "anova.together_none")


@pytest.mark.parametrize(("people", "told"), [(3, True), (4, False)])
def test_few_assessors_are_told(people: int, told: bool):
    plan = SimpleNamespace(sessions=["1"], assessors=[f"T{i}" for i in range(people)])
    assert ("few" in keys(_table_warnings(plan, "pooled"))) is told


@pytest.mark.parametrize(("people", "enough"), [(3, False), (4, True)])
def test_residuals_ask_for_three_degrees_of_freedom(people: int, enough: bool):
    """Two samples leave one degree less than there are people."""
    found = residual_checks(tidy(scores(people, attributes=1)))
    assert found.tests["df"].tolist() == ([3] if enough else [])
    assert list(found.refused) == ([] if enough else ["s0"])


@pytest.mark.parametrize(("p", "far"), [(0.05, 1), (0.0501, 0)])
def test_a_mean_is_far_off_at_alpha(p: float, far: int):
    cells = pd.DataFrame({"p_adjusted": [p, 0.9]})
    made = ResidualChecks(cells=cells, tests=pd.DataFrame(), refused={}, alpha=0.05)
    assert len(made.far) == far
