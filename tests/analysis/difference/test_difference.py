"""Difference and similarity against the printed tables and by enumeration."""

from __future__ import annotations

import json
from itertools import product
from math import comb, inf, isinf, isnan
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from kikichoko.analysis.core import OptionError
from kikichoko.analysis.difference import allowed, difference, needed, similarity
from kikichoko.analysis.difference.critical_counts import needed_for_each, power, smallest_found
from kikichoko.analysis.difference.psychometric import TESTS, named
from scipy.stats import binom

REFERENCE = Path(__file__).parents[2] / "reference"
ALPHAS = (0.2, 0.1, 0.05, 0.01, 0.001)


def test_minimum_counts_against_published_tables():
    # FAO V7180E appendix A, ISO 4120 A.1, ISO 10399 A.1, ISO 5495 A.2; all printed cells
    table = pd.read_csv(REFERENCE / "critical_counts.csv", comment="#")
    chances = {"triangle": 1 / 3, "two-out-of-five": 1 / 10}
    cells = 0
    for row in table.to_dict("records"):
        sides = 2 if row["test"] == "paired-two-sided" else 1
        for alpha, name in zip(ALPHAS, ("a20", "a10", "a05", "a01", "a001"), strict=True):
            found = needed(row["n"], chances.get(row["test"], 0.5), alpha / sides)
            expected = None if np.isnan(row[name]) else int(row[name])
            assert found == expected, row
            cells += 1
    assert cells == 32 * 4 * 5


def test_the_known_misprint_is_not_reproduced():
    # a translated table of ISO 10399 prints 13 14 15 in row 22, the numbers of row 21
    assert [needed(22, 0.5, alpha) for alpha in ALPHAS] == [14, 15, 16, 17, 19]
    assert binom.sf(14, 22, 0.5) == pytest.approx(0.0669, abs=5e-5)
    # an article of 2013 took the largest count that is not enough: 14 of 30, 10 of 17
    assert needed(30, 1 / 3, 0.05) == 15
    assert needed(17, 1 / 3, 0.01) == 11


def test_attained_level_of_the_triangle():
    # discreteness makes the exact test conservative
    levels = {6: 0.0178, 8: 0.0197, 12: 0.0188, 18: 0.0433, 30: 0.0435, 48: 0.0485, 60: 0.0397}
    for n, level in levels.items():
        assert binom.sf(needed(n, 1 / 3, 0.05) - 1, n, 1 / 3) == pytest.approx(level, abs=5e-5)


def test_power_of_small_triangle_panels():
    expected = {
        6: (0.144, 0.351, 0.655, 0.944),
        8: (0.193, 0.468, 0.797, 0.987),
        10: (0.232, 0.559, 0.879, 0.997),
        12: (0.265, 0.632, 0.927, 0.999),
        20: (0.532, 0.908, 0.997, 1.000),
    }
    for n, powers in expected.items():
        for pd_, value in zip((0.3, 0.5, 0.7, 0.9), powers, strict=True):
            found = power(n, 1 / 3, 0.05, 1 / 3 + 2 / 3 * pd_)
            assert found == pytest.approx(value, abs=6e-4)


def test_similarity_counts_against_the_rule_of_the_standards():
    table = pd.read_csv(REFERENCE / "similarity_counts.csv", comment="#")
    assert len(table) == 60
    for row in table.to_dict("records"):
        for share in (10, 20, 30, 40, 50):
            p = named(row["test"]).p_of_distinguishers(share / 100)
            assert allowed(row["n"], p, row["beta"]) == row[f"pd{share}"], row


def test_p_by_enumeration():
    """Every way in which 9 assessors can answer a triangle, counted one by one."""
    n, chance = 9, 1 / 3
    tail = np.zeros(n + 1)
    for answers in product((0, 1), repeat=n):
        right = sum(answers)
        tail[: right + 1] += chance**right * (1 - chance) ** (n - right)
    for correct in range(n + 1):
        assert difference("triangle", correct, n).p == pytest.approx(tail[correct], abs=1e-12)


@pytest.mark.parametrize("test", list(TESTS))
@pytest.mark.parametrize("alpha", [0.2, 0.1, 0.05, 0.01])
def test_type_one_error_by_enumeration(test: str, alpha: float):
    """Both tests keep their risk for every n up to 40; summed over all counts by hand."""
    chance = TESTS[test].chance
    for n in range(1, 41):
        mass = [comb(n, x) * chance**x * (1 - chance) ** (n - x) for x in range(n + 1)]
        least = needed(n, chance, alpha)
        wrong = 0.0 if least is None else sum(mass[least:])
        assert wrong <= alpha + 1e-12
        if least:  # and one answer less would not keep it
            assert sum(mass[least - 1 :]) > alpha
        p = chance + (1 - chance) * 0.3
        most = allowed(n, p, alpha)
        false_claim = 0.0 if most is None else binom.cdf(most, n, p)
        assert false_claim <= alpha + 1e-12


def test_decision_and_count_agree():
    for n in (5, 12, 31):
        for correct in range(n + 1):
            found = difference("triangle", correct, n)
            assert found.significant == (found.p <= 0.05)
            alike = similarity("triangle", correct, n, pd=0.5, beta=0.1)
            assert alike.shown == (alike.p <= 0.1 and not alike.too_small)


def test_distinguishers_against_iso_5495_amendment():
    # ISO 5495:2005/Amd 1:2016 B.5.2 example 1: n 30, x 21, one-sided 95 %: .4, .167, .125
    first = difference("paired", 21, 30)
    assert first.distinguishers == pytest.approx(0.4)
    assert first.distinguishers_se == pytest.approx(0.167332, abs=1e-6)
    assert first.interval(sides=1, how="wald").low == pytest.approx(0.124763, abs=1e-6)
    # example 3: n 44, x 32, two-sided: .45, .134, .19 to .71 (from rounded values; .7177 unrounded)
    third = difference("paired", 32, 44)
    assert third.distinguishers == pytest.approx(0.454545, abs=1e-6)
    assert third.distinguishers_se == pytest.approx(0.134282, abs=1e-6)
    low, high, _ = third.interval(how="wald")
    assert (low, high) == pytest.approx((0.191358, 0.717733), abs=1e-6)
    assert (low, high) == pytest.approx((0.19, 0.71), abs=0.01)


def test_distinguishers_of_triangles():
    found = difference("triangle", 21, 36)
    assert found.distinguishers == pytest.approx(0.375)
    assert found.distinguishers_se == pytest.approx(0.123252, abs=1e-6)
    wald = found.interval(how="wald")
    assert wald[:2] == pytest.approx((0.133431, 0.616569), abs=1e-6)
    assert found.distinguishers_interval[:2] == pytest.approx((0.111348, 0.617288), abs=1e-6)
    small = difference("triangle", 14, 30)
    assert small.distinguishers == pytest.approx(0.2)
    assert small.distinguishers_se == pytest.approx(0.136626, abs=1e-6)
    assert small.interval(sides=1, how="wald").low == pytest.approx(-0.024730, abs=1e-6)
    assert small.p == pytest.approx(0.089771, abs=1e-6)
    alike = similarity("triangle", 21, 66, pd=0.2, beta=0.05)
    assert alike.distinguishers == pytest.approx(-0.022727, abs=1e-6)
    assert alike.distinguishers_se == pytest.approx(0.085999, abs=1e-6)
    # the standard's form of the one-sided limit
    assert alike.interval(sides=1, how="wald").high == pytest.approx(0.118728, abs=1e-6)


@pytest.mark.parametrize(
    ("counted", "d", "se", "wald", "exact"),
    [
        (("triangle", 15, 30), 1.46626, 0.47879, (0.5278, 2.4047), (0, 2.4317)),
        (("paired", 21, 30), 0.74161, 0.34031, (0.0746, 1.4086), (0.0214, 1.4819)),
        (("duo-trio", 22, 32), 1.64140, 0.48298, (0.6948, 2.5880), (0, 2.6536)),
        (("tetrad", 14, 24), 1.30692, 0.33639, (0.6476, 1.9662), (0.4298, 2.0051)),
        (("3-afc", 14, 24), 0.82943, 0.33490, (0.1730, 1.4858), (0.1153, 1.5567)),
    ],
)
def test_d_prime_against_bi_ennis_omahony(counted, d, se, wald, exact):
    # delta method of Bi, Ennis & O'Mahony (1997); limits computed apart from this project
    found = difference(*counted)
    assert found.d_prime == pytest.approx(d, abs=1e-5)
    assert found.d_prime_se == pytest.approx(se, abs=1e-5)
    assert found.interval(how="wald", of="d_prime")[:2] == pytest.approx(wald, abs=1e-4)
    assert found.interval(how="exact", of="d_prime")[:2] == pytest.approx(exact, abs=1e-4)


def test_likelihood_interval_by_grid():
    """All d' whose log-likelihood is within 1.92 of the best, on a grid of 0.0005."""
    grid = np.arange(0, 6, 0.0005)
    p = np.array([TESTS["triangle"].p_correct(d) for d in grid])
    loglik = 15 * np.log(p) + 15 * np.log(1 - p)
    inside = grid[loglik >= loglik.max() - 3.841459 / 2]
    found = difference("triangle", 15, 30)
    low, high, level = found.interval(of="d_prime", how="likelihood")
    assert (low, high) == pytest.approx((inside[0], inside[-1]), abs=0.0006)
    assert level == 0.95


@pytest.mark.parametrize("n", [6, 11, 24, 48])
@pytest.mark.parametrize("test", ["triangle", "paired", "3-afc", "tetrad"])
def test_coverage_of_the_intervals_by_enumeration(test: str, n: int):
    """Exact limits of both always cover; likelihood limits only on average (docs/difference.md)."""
    coverage = []
    found = [difference(test, x, n) for x in range(n + 1)]
    for d in np.linspace(0, 3, 25):
        p = TESTS[test].p_correct(d)
        mass = binom.pmf(np.arange(n + 1), n, p)
        share = TESTS[test].distinguishers(p)
        shares = [r.distinguishers_interval for r in found]
        exact = [r.d_prime_interval for r in found]
        likely = [r.interval(of="d_prime", how="likelihood") for r in found]
        held = sum(m for m, i in zip(mass, shares, strict=True) if i.low - 1e-9 <= share <= i.high)
        assert held >= 0.95
        held = sum(m for m, i in zip(mass, exact, strict=True) if i.low - 1e-6 <= d <= i.high)
        assert held >= 0.95
        held = sum(m for m, i in zip(mass, likely, strict=True) if i.low - 1e-9 <= d <= i.high)
        coverage.append(held)
    assert np.mean(coverage) >= 0.9
    assert min(coverage) < 0.95


def test_small_and_extreme_counts():
    none = difference("triangle", 0, 4)
    assert none.d_prime == 0
    assert isnan(none.d_prime_se)
    assert none.distinguishers == pytest.approx(-0.5)
    assert none.distinguishers_interval.low == 0
    every = difference("triangle", 6, 6)
    assert isinf(every.d_prime)
    assert every.d_prime_interval.low > 0
    assert every.d_prime_interval.high == inf
    assert "no upper limit" in every.text()
    single = difference("triangle", 1, 1)
    assert single.needed is None
    assert not single.significant
    assert "Nothing can be concluded" in single.text()


@pytest.mark.parametrize(("correct", "told"), [(3, 0.0), (4, 0.0), (5, 0.125)])
def test_no_share_of_distinguishers_is_told_below_nothing(correct: int, told: float):
    """Manual of the R functions of Brockhoff & Christensen (2010): all stay in their ranges.

    Of twelve triangles four are right by guessing: one fewer, as many, one more.
    """
    for found in (
        difference("triangle", correct, 12),
        similarity("triangle", correct, 12, pd=0.3, beta=0.05),
    ):
        (table,) = found.tables().values()
        row = table.iloc[1]
        assert row["estimate"] == pytest.approx(told, abs=1e-12)
        assert 0 <= row["low"] <= row["estimate"] <= row["high"]
        assert found.to_dict()["distinguishers"] == pytest.approx((correct / 12 - 1 / 3) * 1.5)


def test_five_tasters_cannot_show_similarity():
    for correct in range(6):
        found = similarity("triangle", correct, 5, pd=0.3, beta=0.05)
        assert found.too_small
        assert not found.shown
        assert "too small to show similarity" in found.text()


def test_neither_test_is_read_as_the_other():
    words = difference("triangle", 5, 24).text()
    assert "does not show that the two are alike" in words
    assert "not yet a difference" in similarity("triangle", 15, 36, pd=0.3, beta=0.05).text()


def test_result_is_json():
    for result in (difference("3-afc", 9, 9), similarity("paired", 9, 30, pd=0.4, beta=0.1)):
        content = json.loads(json.dumps(result.to_dict(), allow_nan=False))
        assert content["n"] == result.n
        assert len(content["sentences"]) == 3


@given(st.sampled_from(list(TESTS)), st.integers(1, 60), st.data())
@settings(deadline=None)
def test_laws(test: str, n: int, data: st.DataObject):
    correct = data.draw(st.integers(0, n))
    found = difference(test, correct, n)
    assert 0 < found.p <= 1
    for interval in (found.distinguishers_interval, found.d_prime_interval):
        assert 0 <= interval.low <= interval.high
    assert found.d_prime_interval.low <= found.d_prime <= found.d_prime_interval.high
    if correct < n:
        assert difference(test, correct + 1, n).p < found.p


def test_many_n_at_once_is_one_by_one():
    n = np.arange(1, 300)
    for chance, alpha in ((1 / 3, 0.05), (0.5, 0.025), (0.1, 0.1), (1 / 6, 0.001)):
        each = [needed(int(k), chance, alpha) or int(k) + 1 for k in n]
        assert needed_for_each(n, chance, alpha).tolist() == each


def test_smallest_found_has_that_power():
    share = smallest_found(24, 1 / 3, 0.05)
    assert power(24, 1 / 3, 0.05, 1 / 3 + 2 / 3 * share) == pytest.approx(0.8, abs=1e-6)
    assert smallest_found(2, 1 / 3, 0.05) is None


def test_refusals():
    with pytest.raises(OptionError, match="cannot be more than the 10 answers"):
        difference("triangle", 11, 10)
    with pytest.raises(OptionError, match=r"0\.05"):
        difference("triangle", 5, 10, alpha=5)
    with pytest.raises(OptionError, match="whole"):
        difference("triangle", 5.5, 10)
    with pytest.raises(OptionError, match="tests are"):
        difference("triangel", 5, 10)
    with pytest.raises(OptionError, match="interval"):
        difference("triangle", 5, 10).interval(how="bayes")
