"""The parts of the error budget: ranges, partitions, majorities, the maker, against references."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.claims.cell_table import CellTable
from kikichoko.analysis.claims.closed_pairs import ClosedPairs, ClosedSpreads, pairs_of
from kikichoko.analysis.claims.maker_shift import maker_shifts
from kikichoko.analysis.claims.most_people import counts_by_side, smallest_panel
from kikichoko.analysis.claims.one_budget import claims
from kikichoko.analysis.claims.shuffled_bottles import clearly_more
from kikichoko.analysis.claims.studentized_range import (
    groups_tail,
    range_reached,
    range_tail,
    set_partitions,
)
from kikichoko.analysis.core.tidy_table import tidy
from scipy import stats
from statsmodels.stats.contingency_tables import cochrans_q


@pytest.mark.parametrize(("means", "df"), [(2, 4), (3, 4), (3, 10), (4, 12), (6, 40), (8, 63)])
def test_range_tail_against_scipy(means: int, df: int):
    """scipy.stats.studentized_range, another quadrature; 0.1 % of the tail down to 1e-4.

    It is asked for tails and not for limits, which it would search for a second long.
    """
    tails = np.array([0.5, 0.05, 1e-3, 2e-4])
    q = np.array([range_reached(tail, means, df) for tail in tails])
    theirs = stats.studentized_range.sf(q, means, df)
    assert range_tail(q, means, df) == pytest.approx(theirs, rel=1e-3)
    assert theirs == pytest.approx(tails, rel=1e-3)


def test_range_tail_without_error_against_scipy():
    q = stats.studentized_range.isf([0.5, 0.05, 1e-3], 4, np.inf)
    assert range_tail(q, 4, np.inf) == pytest.approx([0.5, 0.05, 1e-3], rel=1e-3)
    assert float(range_tail(np.inf, 4, 12.0)) == 0.0
    assert range_reached(1.0, 4, 12.0) == 0.0
    assert float(range_tail(0.0, 4, 12.0)) == pytest.approx(1.0, abs=1e-5)


def test_far_tail_falls_and_stays_near_scipy():
    """Below 2e-5 it is continued: within 20 % of scipy's value, and it never rises."""
    q = np.linspace(5, 40, 200)
    tail = range_tail(q, 3, 12)
    assert (np.diff(tail) < 0).all()
    assert float(range_tail(12.0, 3, 12)) == pytest.approx(
        float(stats.studentized_range.sf(12.0, 3, 12)), rel=0.2
    )


def test_groups_tail_is_an_upper_limit_by_simulation():
    """Two pairs that share an error with 6 df: product formula against 200,000 draws."""
    rng = np.random.default_rng(5)
    means = rng.normal(size=(200_000, 2, 2))
    s = np.sqrt(rng.chisquare(6, size=200_000) / 6)
    widest = np.abs(means[..., 0] - means[..., 1]).max(axis=1) / s
    for q in (3.0, 4.0, 6.0):
        share = (widest >= q).mean()
        assert float(groups_tail(q, (2, 2), 6)) >= share - 3 * np.sqrt(share / 200_000)
        assert float(groups_tail(q, (2, 2), 6)) <= 1.25 * share


def test_bell_numbers():
    """Bell numbers 1 to 7: 1, 2, 5, 15, 52, 203, 877 (OEIS A000110, from memory)."""
    assert [len(set_partitions(n)) for n in range(1, 8)] == [1, 2, 5, 15, 52, 203, 877]


@pytest.mark.parametrize("own", [(1.0, 1.0, 1.0), (1.0, 0.5, 3.0)])
def test_three_bottles_are_f_and_then_t(own: tuple[float, float, float]):
    """Fisher's least significant difference, which is closed for three (Marcus et al. 1976).

    F by weighted least squares of the three means, numpy alone.
    """
    means, u = np.array([4.0, 1.5, 1.0]), np.array(own)
    first, second = pairs_of(3).T
    variances = u[first] + u[second]
    t = (means[first] - means[second]) / np.sqrt(variances)
    pairs = ClosedSpreads(t, variances, 3, 10)
    f = ((means - np.average(means, weights=1 / u)) ** 2 / u).sum() / 2
    alone = 2 * stats.t.sf(np.abs(t), 10)
    assert pairs.p() == pytest.approx(np.maximum(alone, stats.f.sf(f, 2, 10)))
    pairs.refuse(0)
    assert pairs.p()[1:] == pytest.approx(alone[1:])
    assert np.isnan(pairs.p()[0])


@pytest.mark.parametrize(("more", "clear"), [(-1e-6, False), (1e-6, True)])
def test_a_bottle_scatters_clearly_more_beyond_four_of_five_shuffles(more: float, clear: bool):
    """The data beside 100 shuffles whose widest is 1, 2, ... 100: four fifths end at the 81st."""
    wider = np.tile(np.arange(101.0)[:, None], (1, 3))
    wider[0] = [0.0, 81 + more, 0.0]
    assert clearly_more(wider)[0].tolist() == [False, clear, False]


def test_the_range_is_fisher_once_a_pair_of_three_is_refused():
    """Marcus, Peritz & Gabriel 1976: with three means, pairs then need only t."""
    t = np.array([4.0, 3.0, 1.0])
    pairs = ClosedPairs(t, 3, 10)
    assert pairs.p() == pytest.approx(range_tail(t * np.sqrt(2), 3, 10))
    pairs.refuse(0)
    assert pairs.p()[1:] == pytest.approx(2 * stats.t.sf(t[1:], 10))
    assert np.isnan(pairs.p()[0])


def closed_by_definition(t: np.ndarray, bottles: int, df: float, alpha: float) -> set[int]:
    """Refuse a pair if every partition that joins it has a group whose range is too wide."""
    pairs = [set(pair) for pair in pairs_of(bottles).tolist()]
    refused = set(range(len(pairs)))
    for partition in set_partitions(bottles):
        groups = [set(group) for group in partition if len(group) > 1]
        inside = [n for n, pair in enumerate(pairs) if any(pair <= group for group in groups)]
        if inside:
            widest = max(t[n] for n in inside) * np.sqrt(2)
            if float(groups_tail(widest, [len(group) for group in groups], df)) > alpha:
                refused -= set(inside)
    return refused


@pytest.mark.parametrize("bottles", [3, 4, 5, 6, 8])
def test_sequential_pairs_are_a_closed_test(bottles: int):
    """What is refused one by one, the closed test by its definition refuses too."""
    rng = np.random.default_rng(bottles)
    agreed = 0
    rounds = 6 if bottles < 6 else 1
    for _ in range(rounds):
        means = rng.normal(size=bottles) * 3
        first, second = pairs_of(bottles).T
        t = np.abs(means[first] - means[second])
        pairs = ClosedPairs(t, bottles, 20)
        while pairs.open.any() and np.nanmin(pairs.p()) <= 0.05:
            pairs.refuse(int(np.nanargmin(pairs.p())))
        mine = set(np.flatnonzero(~pairs.open).tolist())
        full = closed_by_definition(t, bottles, 20, 0.05)
        assert mine <= full
        agreed += mine == full
    if bottles <= 4:
        assert agreed >= 5


def answers(scores: dict[str, list[float]], sample: str = "a") -> CellTable:
    rows = [(who, sample, score) for who, own in scores.items() for score in own]
    table = pd.DataFrame(rows, columns=["assessor", "sample", "score"])
    table["replicate"] = table.groupby("assessor").cumcount() + 1
    return CellTable(tidy(table), list(scores), [sample])


def test_a_majority_of_own_replicates():
    """Replicates are not averaged away: +2, -1, -1 counts as too dry, +1 and -1 as neither."""
    own = answers({"A": [2, -1, -1], "B": [1, -1], "C": [0, 0], "D": [-2], "E": [-1, -1]})
    row = counts_by_side(own, "score", list("ABCDE")).iloc[0]
    assert [row[name] for name in ("too_dry", "just_right", "too_sweet", "undecided")] == [
        3, 1, 0, 1,
    ]  # fmt: skip
    assert row["n"] == 5
    assert row["side"] == "too_dry"
    assert not row["unanimous"]


@pytest.mark.parametrize(("n", "limit"), [(5, 0.05 ** (1 / 5)), (11, 0.05 ** (1 / 11))])
def test_unanimity_by_hand(n: int, limit: float):
    """One-sided Clopper-Pearson of n of n is alpha ** (1 / n): 5 of 5 shows at least 55 %."""
    people = [f"T{i}" for i in range(n)]
    row = counts_by_side(answers({who: [1] for who in people}), "score", people).iloc[0]
    assert row["unanimous"]
    assert row["at_least"] == pytest.approx(limit)
    assert row["p"] == pytest.approx(stats.binomtest(n, n, 0.5).pvalue)


def test_the_smallest_panel_on_both_sides():
    """Two-sided sign test of n of n: 2 / 2**n."""
    for p in (0.05, 0.005 / 3, 0.0025 / 6):
        n = smallest_panel(p)
        assert stats.binomtest(n, n, 0.5).pvalue <= p
        assert stats.binomtest(n - 1, n - 1, 0.5).pvalue > p


def test_prediction_t_by_hand():
    """Hahn & Meeker 1991, 4.8: (maker - mean) / (s sqrt(1 + 1/m)) on m - 1 df."""
    levels = {"M": 8.0, "A": 4.0, "B": 5.5, "C": 5.0, "D": 6.5}
    rows = [(who, b, x + 0.1 * k) for who, x in levels.items() for k, b in enumerate("abc")]
    checked = tidy(pd.DataFrame(rows, columns=["assessor", "sample", "score"]))
    table = CellTable(checked, list("MABCD"), list("abc"))
    found = maker_shifts(table, ["M"], others=list("ABCD"), attributes=["score"]).iloc[0]
    rest = np.array([4.0, 5.5, 5.0, 6.5])
    t = (8 - rest.mean()) / (rest.std(ddof=1) * np.sqrt(1 + 1 / 4))
    assert found["t"] == pytest.approx(t)
    assert found["p"] == pytest.approx(2 * stats.t.sf(t, 3))
    reach = stats.t.ppf(0.975, 3) * rest.std(ddof=1) * np.sqrt(1.25)
    assert found["high"] - found["shift"] == pytest.approx(reach)


def test_a_word_is_judged_by_cochrans_q():
    """statsmodels.stats.contingency_tables.cochrans_q, for all bottles and for three of four."""
    ticks = np.array([[1, 0, 0, 1], [1, 0, 0, 0], [1, 0, 1, 0], [1, 1, 0, 0], [0, 0, 0, 1]])
    rows = [(i, j, ticks[i, j]) for i in range(5) for j in range(4)]
    table = pd.DataFrame(rows, columns=["assessor", "sample", "score"])
    found = claims(table, scales=(), words=["score"], shuffles=999)
    whole = found.table.iloc[0]
    assert whole["p"] == pytest.approx(cochrans_q(ticks).pvalue)
    effects, variance = ticks.mean(axis=0), float(whole["sd"]) ** 2
    first, second = pairs_of(4).T
    t = (effects[first] - effects[second]) / np.sqrt(variance * 2 / 5)
    pairs = ClosedSpreads(t, np.full(6, 2 / 5), 4, np.inf)
    assert pairs.p()[0] == pytest.approx(cochrans_q(ticks).pvalue)
    pairs.refuse(0)  # the first and the second bottle differ: no group can hold both
    spread = ((effects[[0, 2, 3]] - effects[[0, 2, 3]].mean()) ** 2).sum() / (variance / 5)
    assert pairs.p()[1] == pytest.approx(stats.chi2.sf(spread, 2))


@pytest.mark.parametrize("bottles", [2, 3, 5])
def test_pairs_of_words_are_a_closed_test(bottles: int):
    """A pair is refused only when every partition that joins it is, by chi square of its groups."""
    rng = np.random.default_rng(bottles)
    first, second = pairs_of(bottles).T
    for _ in range(4):
        effects = rng.normal(size=bottles) * 3
        t = (effects[first] - effects[second]) / np.sqrt(2)
        pairs = ClosedSpreads(t, np.full(len(first), 2.0), bottles, np.inf)
        worst = np.zeros(len(first))
        for partition in set_partitions(bottles):
            groups = [list(group) for group in partition if len(group) > 1]
            tails = [stats.chi2.sf(len(one) * effects[one].var(), len(one) - 1) for one in groups]
            for number, ends in enumerate(zip(first, second, strict=True)):
                if any(set(ends) <= set(one) for one in groups):
                    worst[number] = max(worst[number], 1 - (1 - min(tails)) ** len(tails))
        assert pairs.p() == pytest.approx(worst, abs=1e-12)
