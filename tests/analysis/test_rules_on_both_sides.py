"""Thresholds of the statistics that readers act on, each on both sides."""

from __future__ import annotations

from dataclasses import replace
from math import ceil
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.anova import anova, residual_checks
from kikichoko.analysis.anova.whole_table import _table_warnings
from kikichoko.analysis.citations import Controls, faults
from kikichoko.analysis.citations.word_effects import _compare
from kikichoko.analysis.core import NotEstimable
from kikichoko.analysis.core.result import Result
from kikichoko.analysis.difference import replicated
from kikichoko.analysis.link.what_is_estimable import _together, _wanted
from kikichoko.analysis.maps import profile_map
from kikichoko.analysis.maps.map_result import asked
from kikichoko.analysis.ordinal import ordinal
from kikichoko.analysis.performance import assessor_model, stability
from kikichoko.analysis.power import assessors_for, detectable_in, supply
from kikichoko.analysis.ranking import friedman, page


def scores(assessors: int, samples: int, cells: int | None = None, seed: int = 1) -> pd.DataFrame:
    """Return scores of a panel; of the last sample only so many assessors' where told."""
    rng = np.random.default_rng(seed)
    rows = [
        (f"T{i:02d}", f"b{j:02d}", "body", round(5 + j + i / 3 + rng.normal(), 1))
        for i in range(assessors)
        for j in range(samples)
        if cells is None or j < samples - 1 or i < cells
    ]
    return pd.DataFrame(rows, columns=["assessor", "sample", "attribute", "score"])


@pytest.mark.parametrize(("cells", "judged"), [(1, False), (2, True)])
def test_residuals_are_judged_from_three_degrees_of_freedom_on(cells: int, judged: bool):
    table = scores(3, 3, cells)  # 6 + cells values less 3 assessors and 2 further samples
    checked = residual_checks(table)
    assert bool(len(checked.cells)) is judged


@pytest.mark.parametrize(("n", "told"), [(3, True), (4, False)])
def test_an_anova_of_few_assessors_says_so(n: int, told: bool):
    plan = SimpleNamespace(assessors=list(range(n)), sessions=["1"])
    keys = [one.key for one in _table_warnings(plan, "apart")]  # type: ignore[arg-type]
    assert keys == (["anova.few"] if told else [])


@pytest.mark.parametrize(("n", "told"), [(5, True), (6, False)])
def test_steps_of_few_assessors_say_so(n: int, told: bool):
    table = scores(n, 2).assign(score=[(place * 7 + place // 3) % 4 for place in range(2 * n)])
    keys = [one.key for one in ordinal(table, shuffles=99).warnings]
    assert ("ordinal.few" in keys) is told


@pytest.mark.parametrize(("steps", "fine"), [(20, True), (21, False)])
def test_a_scale_of_steps_has_twenty_at_most(steps: int, fine: bool):
    table = scores(steps, 2).assign(score=[place % steps for place in range(2 * steps)])
    if fine:
        assert ordinal(table, random="none", shuffles=99)
        return
    with pytest.raises(NotEstimable, match="21"):
        ordinal(table, random="none", shuffles=99)


@pytest.mark.parametrize(
    ("samples", "assessors", "fine"), [(3, 4, True), (2, 4, False), (3, 3, False)]
)
def test_a_map_takes_three_samples_and_four_assessors(samples: int, assessors: int, fine: bool):
    if fine:
        asked(samples, assessors, 0.95, 999)
        return
    with pytest.raises(NotEstimable):
        asked(samples, assessors, 0.95, 999)


@pytest.mark.parametrize(("n", "fine"), [(3, False), (4, True)])
def test_leaving_one_out_takes_four_assessors(n: int, fine: bool):
    if fine:
        assert len(stability(scores(n, 3)).table) == 1
        return
    with pytest.raises(NotEstimable, match="3"):
        stability(scores(n, 3))


@pytest.mark.parametrize(("both", "compared_"), [(2, False), (3, True)])
def test_the_same_people_are_compared_from_three_on(both: int, compared_: bool):
    # T0 … are on both sides and differ from themselves; the others are on one
    sides = [[f"T{n}" for n in range(both)] + [f"{side}{n}" for n in range(3)] for side in "xy"]
    first, second = (
        pd.DataFrame({"assessor": side, "score": [float(k * k + shift) for k in range(len(side))]})
        for shift, side in enumerate(sides)
    )
    assert (_compare(first, second, level=0.95, fewest=3) is not None) is compared_


@pytest.mark.parametrize(("assessors", "told"), [(6, True), (7, False)])
def test_variances_from_few_degrees_of_freedom_are_told(assessors: int, told: bool):
    # two samples leave assessors - 1 degrees of freedom for the disagreement
    found = detectable_in(scores(assessors, 2))
    assert ("detectable.few" in [one.key for one in found.warnings]) is told


@pytest.mark.parametrize(
    ("name", "low", "high"),
    [
        ("abv", 14.0, 17.5),  # typical values of sake on sale: common practice, no source
        ("meter_value", -4.0, 9.0),
        ("acidity", 1.1, 2.1),
        ("amino_acidity", 0.8, 1.7),
        ("glucose", 0.5, 4.2),
        ("polishing_ratio", 40.0, 70.0),
    ],
)
def test_the_next_bottle_lies_at_the_far_end_of_what_is_typical(name: str, low: float, high: float):
    step = (high - low) / 20
    for near, far in ((low, high), (high, low)):
        inward = 1 if near == low else -1
        values = near + inward * step * np.array([[1.0], [2.0], [3.0]])
        proposed = _wanted(values, [name], needed=1)
        assert proposed[name].tolist() == [pytest.approx(far)]


@pytest.mark.parametrize(("r", "told"), [(0.899, False), (0.901, True), (-0.901, True)])
def test_measurements_move_together_from_a_correlation_of_nine_tenths(r: float, told: bool):
    first = np.array([1.0, 1.0, -1.0, -1.0])
    apart = np.array([1.0, -1.0, 1.0, -1.0])
    inside = np.column_stack([first, r * first + np.sqrt(1 - r**2) * apart])
    assert bool(len(_together(inside, ["abv", "acidity"]))) is told


@pytest.mark.parametrize(
    ("test", "cups"),
    # presentations: AAB ABB …: three cups of two samples, each as often the odd one
    [("triangle", 1.5), ("duo-trio", 1.5), ("paired", 1.0), ("3-afc", 2.0), ("tetrad", 2.0),
     ("two-out-of-five", 2.5)],
)  # fmt: skip
def test_cups_of_one_sample_a_presentation(test: str, cups: float):
    size = assessors_for(test, alpha=0.2, beta=0.5, pd=0.5)
    ml = 30 * ceil(cups * size.n)
    assert supply(size, bottles=1, bottle_ml=ml, pour_ml=30).most == size.n
    assert supply(size, bottles=1, bottle_ml=ml - 30, pour_ml=30).most < size.n


RISKS = [(0.05, True), (0.051, False)]
"""p, and whether it holds at a risk of 5 %."""


def keys(result: Result) -> set[str]:
    """Return the keys of all sentences of a result."""
    return {one.key for one in result.sentences()}


@pytest.mark.parametrize(("p", "held"), RISKS)
def test_scores_differ_at_five_per_cent(p: float, held: bool):
    found = anova(scores(5, 3))["body"]
    told = keys(replace(found, sample=found.sample._replace(p=p)))
    assert ("anova.not_told" not in told) is held
    least = float(found.pairs.of(found.index)["p"].min())
    letters = found.letters(alpha=least * 0.05 / p)["letters"]
    assert (len(set(letters)) > 1) is held


@pytest.mark.parametrize(("p", "held"), RISKS)
def test_a_far_mean_is_named_at_five_per_cent(p: float, held: bool):
    checked = residual_checks(scores(4, 3))
    assert bool(len(replace(checked, cells=checked.cells.assign(p_adjusted=p)).far)) is held


@pytest.mark.parametrize(("p", "held"), RISKS)
def test_ranks_differ_at_five_per_cent(p: float, held: bool):
    found = friedman(scores(4, 3))
    pairs = found.differences.assign(p_familywise=p)
    assert ("ranks.shown" in keys(replace(found, p=p))) is held
    assert ("ranks.pairs" in keys(replace(found, p=0.01, differences=pairs))) is held
    trend = page(scores(4, 3), ["b00", "b01", "b02"])
    assert ("rank_order.shown" in keys(replace(trend, p=p))) is held


@pytest.mark.parametrize(("p", "held"), RISKS)
def test_steps_differ_where_both_p_values_are_at_five_per_cent(p: float, held: bool):
    found = ordinal(scores(6, 2).round({"score": 0}), shuffles=99)
    tests = found.tests.assign(p=0.01)
    assert ("ordinal.differ" in keys(replace(found, tests=tests, p_shuffled=p))) is held
    assert ("ordinal.differ" in keys(replace(found, tests=tests.assign(p=p), p_shuffled=0.01))) is (
        held
    )


@pytest.mark.parametrize(("p", "held"), RISKS)
def test_a_panel_that_uses_the_scale_differently_is_told_at_five_per_cent(p: float, held: bool):
    found = assessor_model(scores(5, 4))
    for name in ("sample", "scaling"):
        told = keys(replace(found, **{name: getattr(found, name)._replace(p=p)}))
        assert (f"assessor_model.{name}_shown" in told) is held


@pytest.mark.parametrize(("p", "held"), RISKS)
def test_assessors_of_a_replicated_test_differ_at_five_per_cent(p: float, held: bool):
    found = replicated("triangle", [3, 1, 4, 2], [4, 4, 4, 4])
    told = keys(replace(found, overdispersion_p=p))
    other = keys(replace(found, overdispersion_p=0.9))
    assert (told != other) is held


@pytest.mark.parametrize(("p", "held"), RISKS)
def test_faults_go_beyond_a_clean_control_at_five_per_cent(p: float, held: bool):
    rows = [
        (f"T{i}", name, 0.0 if name == "clean" else float(i % 3))
        for i in range(6)
        for name in ("clean", "a", "b")
    ]
    table = pd.DataFrame(rows, columns=["assessor", "sample", "score"]).assign(
        attribute="fault:stale"
    )
    found = faults(table, controls=Controls(clean=("clean",)))
    beyond = found.against_clean.assign(holm=p)
    assert ("faults.beyond_clean" in keys(replace(found, against_clean=beyond))) is held
    severity = pd.DataFrame([{"fault": "stale", "p": 0.01, "p_shuffled": p}])
    assert ("faults.severity_differs" in keys(replace(found, severity=severity))) is held


@pytest.mark.parametrize(("p", "held"), RISKS)
def test_a_map_shows_something_at_five_per_cent(p: float, held: bool):
    table = scores(6, 4)
    table = pd.concat([table, table.assign(attribute="acid", score=table["score"] ** 2)])
    found = profile_map(table, draws=100)
    assert ("maps.real" in keys(replace(found, p=p))) is held
