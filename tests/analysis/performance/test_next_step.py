"""The chance that a next step settles a pair, held against a slow simulation."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.core.errors import AnalysisError
from kikichoko.analysis.performance import small_panel
from kikichoko.analysis.performance.next_step import lattice_of, next_steps, probabilities
from kikichoko.analysis.performance.spreads import integrate, two_way
from kikichoko.analysis.performance.usual_spreads import default_spreads, wide_spreads
from scipy import stats

PARTS = ((default_spreads("taste", 10), 0.8), (wide_spreads("taste", 10), 0.2))
MARKS = np.array([[7.0, 4.0, 5.0], [5.0, 3.0, 3.5]])


def above_of(marks: np.ndarray) -> float:
    found = integrate(two_way(marks), PARTS)
    means, sds = found.of(np.array([[1.0, -1.0, 0.0]]))
    return float(found.weight @ stats.norm.cdf(means / sds)[:, 0])


def test_many_tables_at_once_give_what_one_gives():
    centred = MARKS - MARKS.mean(axis=1, keepdims=True)
    gap = np.array([centred[:, 0].mean() - centred[:, 1].mean()])
    fast = probabilities(centred[None], gap, lattice_of(PARTS))
    assert fast[0] == pytest.approx(above_of(MARKS), abs=1e-3)
    table = pd.DataFrame(
        [(f"A{i}", f"s{j}", MARKS[i, j]) for i in range(2) for j in range(3)],
        columns=["assessor", "sample", "score"],
    )
    whole = small_panel(table, kind="taste", length=10.0).differences.iloc[0]
    assert fast[0] == pytest.approx(whole["above"], abs=1e-3)


def test_one_more_assessor_against_a_slow_simulation():
    """Draw spreads and means from the posterior, add a row, and analyse each table anew."""
    rng = np.random.default_rng(3)
    found = integrate(two_way(MARKS), PARTS)
    error, _, weight = lattice_of(PARTS)
    data = two_way(MARKS)
    nodes = lattice_of(PARTS)
    log = np.log(nodes[2]) + data.log_likelihood(nodes[0], nodes[1])
    weight = np.exp(log - log.max())
    settled = []
    for at in rng.choice(len(weight), size=250, p=weight / weight.sum()):
        sigma, tau = np.exp(error[at]), np.exp(nodes[1][at])
        effects = MARKS.mean(axis=0) - MARKS.mean()
        lasting = tau**2 / (tau**2 + sigma**2 / 2)
        true = lasting * effects + np.sqrt(lasting * sigma**2 / 2) * rng.standard_normal(3)
        row = true + sigma * rng.standard_normal(3)
        settled.append(above_of(np.vstack([MARKS, row])) > 0.95)
    fast = next_steps(MARKS, (0, 1), replicates=1, parts=PARTS)
    chance = next(one.chance for one in fast if one.step == "assessor")
    # Standard errors: 0.03 of the slow one, 0.025 of the fast one.
    assert chance == pytest.approx(np.mean(settled), abs=0.12)
    assert found.error_sd > 0


def drawn(rng: np.random.Generator, draws: int) -> list[tuple[float, np.ndarray]]:
    """Draw a standard deviation and the true means after MARKS, by conjugate normal formulas."""
    error, sample, prior = lattice_of(PARTS)
    log = np.log(prior) + two_way(MARKS).log_likelihood(error, sample)
    weight = np.exp(log - log.max())
    effects = MARKS.mean(axis=0) - MARKS.mean()
    found = []
    for at in rng.choice(len(weight), size=draws, p=weight / weight.sum()):
        sigma, tau = np.exp(error[at]), np.exp(sample[at])
        lasting = tau**2 / (tau**2 + sigma**2 / 2)
        noise = np.sqrt(lasting * sigma**2 / 2) * rng.standard_normal(3)
        found.append((sigma, lasting * effects + noise))
    return found


def test_five_in_all_against_a_slow_simulation():
    """Three more rows each time, and every table analysed anew by itself."""
    rng = np.random.default_rng(5)
    settled = []
    for sigma, true in drawn(rng, 250):
        above = above_of(np.vstack([MARKS, true + sigma * rng.standard_normal((3, 3))]))
        settled.append(max(above, 1 - above) > 0.95)
    chance = next_steps(MARKS, (0, 1), replicates=1, parts=PARTS)[2].chance
    # Standard errors: 0.03 of the slow one, 0.025 of the fast one.
    assert chance == pytest.approx(np.mean(settled), abs=0.12)


def test_a_triangle_against_cups_drawn_one_by_one():
    """Six sets of three cups each time; the odd one is the cup furthest from the other two.

    A set is right where the two cups of one bottle lie nearest (the rule of Ura, 1960); six
    sets come out at 5 % from five right on: 13 of 729 by chance, with four 73 of 729.
    """
    rng = np.random.default_rng(7)
    scatter = np.sqrt(1 - PARTS[0][0].interaction_share)
    passed = []
    for sigma, true in drawn(rng, 4000):
        cups = scatter * sigma * rng.standard_normal((6, 3))
        cups[:, 2] += true[0] - true[1]
        same = np.abs(cups[:, 0] - cups[:, 1])
        other = np.abs(cups[:, :2] - cups[:, 2:]).min(axis=1)
        passed.append((same < other).sum() >= 5)
    chance = next_steps(MARKS, (0, 1), replicates=1, parts=PARTS)[3].chance
    # Standard errors: 0.01 each at most, as the fast one averages chances.
    assert chance == pytest.approx(np.mean(passed), abs=0.05)


def test_more_people_settle_more_and_a_wide_gap_is_settled():
    def chances(marks: np.ndarray) -> dict[str, float]:
        found = next_steps(marks, (0, 1), replicates=1, parts=PARTS)
        return {one.step: one.chance for one in found}

    near, far = chances(MARKS), chances(np.array([[9.0, 1.0, 5.0], [8.5, 0.5, 4.0]]))
    assert near["assessor"] <= near["five"] + 0.05
    assert far["assessor"] > 0.8
    assert near["triangle"] < far["triangle"]


def test_cups_are_counted_and_a_seed_repeats():
    found = next_steps(MARKS, (0, 1), replicates=2, parts=PARTS)
    assert [one.cups for one in found] == [6, 6, 18, 18]
    again = next_steps(MARKS, (0, 1), replicates=2, parts=PARTS)
    assert [one.chance for one in found] == [one.chance for one in again]


def test_bad_options_are_refused():
    with pytest.raises(AnalysisError):
        next_steps(MARKS, (0, 1), replicates=0, parts=PARTS)
    with pytest.raises(AnalysisError):
        next_steps(MARKS, (0, 1), replicates=1, parts=PARTS, bar=1.5)
