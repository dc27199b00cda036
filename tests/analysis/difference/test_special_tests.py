"""'A' - 'not A', same-different, pairs with ties, replicated and sequential tests."""

from __future__ import annotations

import json
from itertools import combinations, product
from math import comb, inf, isinf, isnan

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from kikichoko.analysis.core import NotEstimable, OptionError, TableError
from kikichoko.analysis.difference import (
    a_not_a,
    boundaries,
    course,
    difference,
    needed,
    paired,
    replicated,
    risk_of_looking,
    same_different,
)
from kikichoko.analysis.difference.replicated_choices import loglik
from kikichoko.analysis.difference.same_or_different import p_same
from kikichoko.analysis.difference.yes_no_answers import answers, exact_p
from scipy.stats import binom, chi2_contingency, fisher_exact, multinomial, norm
from statsmodels.stats.contingency_tables import mcnemar


# --- 'A' - 'not A' ---------------------------------------------------------------------------
def test_a_not_a_against_signal_detection():
    # values by the formulas of Macmillan & Creelman, computed apart from this project
    found = a_not_a(30, 50, 20, 50)
    assert found.d_prime == pytest.approx(0.506694, abs=1e-6)
    assert found.d_prime_se == pytest.approx(0.253608, abs=1e-6)
    assert found.criterion == pytest.approx(0, abs=1e-12)
    assert (found.chi_square, found.chi_square_p) == pytest.approx((4.0, 0.045500), abs=1e-6)
    assert found.p == pytest.approx(0.035671, abs=1e-6)


def test_a_not_a_against_scipy():
    for h, n, f, m in ((7, 10, 2, 9), (5, 12, 5, 12), (1, 6, 0, 3)):
        table = [[h, n - h], [f, m - f]]
        found = a_not_a(h, n, f, m)
        assert found.p == pytest.approx(fisher_exact(table, alternative="greater").pvalue)
        expected = chi2_contingency(table, correction=False)
        assert found.chi_square == pytest.approx(expected.statistic)


def test_one_cup_of_each_kind_is_mcnemar():
    hits, false = [1, 1, 1, 0, 1, 1, 1, 0, 1], [0, 0, 1, 0, 0, 0, 0, 1, 0]
    n = [1] * len(hits)
    both = [[0, 0], [0, 0]]
    for a, b in zip(hits, false, strict=True):
        both[a][b] += 1
    found = a_not_a(hits, n, false, n)
    assert found.method == "McNemar"
    # statsmodels gives the two-sided p, twice the one-sided one
    assert 2 * found.p == pytest.approx(mcnemar(both, exact=True).pvalue)


def test_within_assessors_by_enumeration():
    """All ways to spread each assessor's "A" over the cups served to that assessor."""
    counts = ((2, 2, 0, 2), (1, 2, 1, 3), (2, 3, 1, 1))
    ways = []
    for h, n, f, m in counts:
        cups = [1] * n + [0] * m
        ways.append([sum(cups[i] for i in said) for said in combinations(range(n + m), h + f)])
    totals = [sum(spread) for spread in product(*ways)]
    observed = sum(c[0] for c in counts)
    expected = np.mean([t >= observed for t in totals])
    columns = list(zip(*counts, strict=True))
    found = a_not_a(*columns)
    assert found.method == "within assessors"
    assert found.p == pytest.approx(expected)


@pytest.mark.parametrize("willing", [0.1, 0.4, 0.5, 0.8])
@pytest.mark.parametrize(("n", "m"), [(5, 5), (8, 6)])
def test_type_one_error_of_a_not_a_by_enumeration(willing: float, n: int, m: int):
    risk = 0.0
    for h, f in product(range(n + 1), range(m + 1)):
        if exact_p(answers(h, n, f, m)) <= 0.05:
            risk += binom.pmf(h, n, willing) * binom.pmf(f, m, willing)
    assert risk <= 0.05


def test_shares_of_nought_and_one():
    every = a_not_a(6, 6, 0, 6)
    assert every.d_prime == inf
    assert isnan(every.d_prime_se)
    # By hand: the chance of 6 of 6 and 0 of 6 is highest at the criterion in the middle,
    # Phi(d'/2)^12, and reaches 2.5 % at the lower limit.
    assert every.d_prime_interval.low == pytest.approx(2 * norm.ppf(0.025 ** (1 / 12)), abs=2e-4)
    assert every.d_prime_interval.high == inf
    nobody = a_not_a(0, 6, 0, 6)
    assert nobody.p == 1
    assert nobody.d_prime_interval[:2] == (-inf, inf)
    json.dumps(every.to_dict(), allow_nan=False)


@pytest.mark.parametrize(("n", "m"), [(6, 6), (12, 7)])
def test_coverage_of_a_not_a_by_enumeration(n: int, m: int):
    """The limits of d' hold it in at least 95 % whatever the readiness to say "A"."""
    rows = [(h, f) for h in range(n + 1) for f in range(m + 1)]
    limits = [a_not_a(h, n, f, m).d_prime_interval for h, f in rows]
    for d, criterion in product((0, 0.7, 1.5, 3), (-1, -0.3, 0.4, 1.2)):
        hit, false = norm.cdf(d / 2 - criterion), norm.cdf(-d / 2 - criterion)
        held = sum(
            binom.pmf(h, n, hit) * binom.pmf(f, m, false)
            for (h, f), i in zip(rows, limits, strict=True)
            if i.low <= d <= i.high
        )
        assert held >= 0.95


# --- same-different --------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("counts", "tau", "d"),
    [((70, 100, 45, 100), 1.465738, 1.588555), ((8, 15, 5, 17), 1.029425, 1.684500)],
)
def test_same_different_against_the_differencing_model(counts, tau: float, d: float):
    # Macmillan, Kaplan & Creelman (1977); values computed apart from this project
    found = same_different(*counts)
    assert (found.tau, found.d_prime) == pytest.approx((tau, d), abs=1e-6)


def test_same_different_put_back_and_simulated():
    rng = np.random.default_rng(3)
    first, second = rng.normal(size=200_000), rng.normal(1.2, 1, 200_000)
    share = np.mean(np.abs(first - second) < 1.1)
    assert p_same(1.2, 1.1) == pytest.approx(share, abs=4 * (0.25 / 200_000) ** 0.5)
    found = same_different(700, 1000, 450, 1000)
    assert p_same(0, found.tau) == pytest.approx(0.7)
    assert p_same(found.d_prime, found.tau) == pytest.approx(0.45)


def test_same_different_interval_by_grid():
    """Profile likelihood over tau on a plain grid."""
    a, n, b, m = 70, 100, 45, 100
    best = {}
    for d in np.arange(0.95, 2.15, 0.02):
        like = []
        for tau in np.arange(1.0, 2.0, 0.01):
            s, o = p_same(0, tau), p_same(d, tau)
            like.append(
                a * np.log(s) + (n - a) * np.log(1 - s) + b * np.log(o) + (m - b) * np.log(1 - o)
            )
        best[d] = max(like)
    top = max(best.values())
    inside = [d for d, value in best.items() if value >= top - 3.841459 / 2]
    low, high, _ = same_different(a, n, b, m).d_prime_interval
    assert (low, high) == pytest.approx((inside[0], inside[-1]), abs=0.03)


def test_same_different_without_information():
    assert same_different(3, 6, 4, 6).d_prime == 0
    assert isinf(same_different(6, 6, 3, 6).d_prime)
    assert isinf(same_different(4, 6, 0, 6).d_prime)
    assert same_different(6, 6, 6, 6).d_prime == 0
    with pytest.raises(OptionError, match="Both kinds"):
        same_different(3, 5, 0, 0)
    with pytest.raises(OptionError, match="more answers than presentations"):
        same_different(6, 5, 0, 5)
    with pytest.raises(OptionError, match="same length"):
        same_different([1, 1], [1, 1], [1], [1])


@pytest.mark.parametrize(("n", "m"), [(6, 6), (12, 7)])
def test_coverage_of_same_different_by_enumeration(n: int, m: int):
    """The limits of d' hold it in at least 95 % wherever the border lies."""
    rows = [(a, b) for a in range(n + 1) for b in range(m + 1)]
    limits = [same_different(a, n, b, m).d_prime_interval for a, b in rows]
    for d, tau in product((0, 0.7, 1.5, 3), (0.3, 1, 1.5, 2.5)):
        like, unlike = p_same(0, tau), p_same(d, tau)
        held = sum(
            binom.pmf(a, n, like) * binom.pmf(b, m, unlike)
            for (a, b), i in zip(rows, limits, strict=True)
            if i.low <= d <= i.high
        )
        assert held >= 0.95


# --- paired ----------------------------------------------------------------------------------
def test_paired_against_binomial():
    from scipy.stats import binomtest

    for first, second in ((21, 9), (5, 5), (0, 7), (1, 0)):
        total = first + second
        assert paired(first, second).p == pytest.approx(binomtest(first, total).pvalue)
        one = binomtest(first, total, alternative="greater").pvalue
        assert paired(first, second, alternative="first").p == pytest.approx(one)
    assert paired(21, 9).needed == needed(30, 0.5, 0.025) == 21


def test_paired_without_ties_has_the_d_prime_of_2_afc():
    without, forced = paired(21, 9), difference("paired", 21, 30)
    assert without.d_prime == pytest.approx(forced.d_prime, abs=1e-9)
    assert without.tau == pytest.approx(0, abs=1e-9)
    assert without.d_prime_interval[:2] == pytest.approx(forced.d_prime_interval[:2], abs=1e-6)


def test_paired_with_ties_put_back():
    """The model of three shares returns the shares it was fitted to, and they sum to one."""
    found = paired(12, 5, 9)
    d, tau, root = found.d_prime, found.tau, 2**0.5
    assert norm.cdf((d - tau) / root) == pytest.approx(12 / 26)
    assert norm.cdf((-d - tau) / root) == pytest.approx(5 / 26)
    assert found.d_prime_interval.low < d < found.d_prime_interval.high


@pytest.mark.parametrize("n", [6, 13])
def test_coverage_with_ties_by_enumeration(n: int):
    """The limits of d' hold it in at least 95 % however many call the two equal."""
    rows = [(a, b) for a in range(n + 1) for b in range(n + 1 - a) if a + b]
    limits = [paired(a, b, n - a - b).d_prime_interval for a, b in rows]
    for d, tau in product((0, 0.7, 1.5, 3), (0.2, 1, 1.5)):
        first, second = norm.cdf((d - tau) / 2**0.5), norm.cdf((-d - tau) / 2**0.5)
        held = (1 - first - second) ** n  # all ties: refused, nothing false is said
        held += sum(
            multinomial.pmf([a, b, n - a - b], n, [first, second, 1 - first - second])
            for (a, b), i in zip(rows, limits, strict=True)
            if i.low <= d <= i.high
        )
        assert held >= 0.95


@pytest.mark.parametrize("tie", [0.0, 0.2, 0.5, 0.8])
@pytest.mark.parametrize("alternative", ["two-sided", "first"])
def test_type_one_error_with_ties_by_enumeration(tie: float, alternative: str):
    n, risk = 14, 0.0
    for first in range(n + 1):
        for second in range(n + 1 - first):
            ties = n - first - second
            if first + second == 0:
                continue
            # ties do not enter the decision, see test_ties_do_not_enter_the_p_value
            if paired(first, second, alternative=alternative).significant:
                shares = [(1 - tie) / 2, (1 - tie) / 2, tie]
                risk += multinomial.pmf([first, second, ties], n, shares)
    assert risk <= 0.05


def test_ties_do_not_enter_the_p_value():
    for ties in (1, 4, 12):
        assert paired(9, 2, ties).p == paired(9, 2).p
        assert paired(9, 2, ties).d_prime != paired(9, 2).d_prime


def test_paired_ends():
    every = paired(6, 0, 1)
    assert every.d_prime == inf
    assert every.d_prime_interval.low > 0
    assert "than there are" in paired(2, 1).text()
    assert "no proof that they are alike" in paired(2, 1).text()
    with pytest.raises(NotEstimable, match="All 7 answers are ties"):
        paired(0, 0, 7)
    with pytest.raises(OptionError, match="two-sided"):
        paired(3, 4, alternative="less")
    assert paired(1, 2, 9).warnings


@given(st.integers(0, 12), st.integers(0, 12), st.integers(0, 6))
@settings(deadline=None, max_examples=20)
def test_swapping_the_samples_turns_the_sign(first: int, second: int, ties: int):
    if first + second == 0:
        return
    one, other = paired(first, second, ties), paired(second, first, ties)
    assert one.p == pytest.approx(other.p)
    assert one.d_prime == pytest.approx(-other.d_prime)
    assert one.d_prime_interval.low == pytest.approx(-other.d_prime_interval.high, abs=1e-4)


# --- replicated ------------------------------------------------------------------------------
K = [0, 1, 1, 2, 2, 2, 3, 3, 4, 4, 1, 2]


def test_beta_binomial_against_an_independent_fit():
    # maximum of the beta-binomial likelihood, computed apart from this project
    found = replicated("triangle", K, 4)
    assert (found.mu, found.gamma) == pytest.approx((0.522266, 0.139753), abs=1e-5)
    assert found.loglik == pytest.approx(-18.537483, abs=1e-6)
    assert found.loglik_binomial == pytest.approx(-19.130876, abs=1e-6)
    assert found.inflation == pytest.approx(1 + 3 * found.gamma)
    assert found.p == pytest.approx(binom.sf(24, 48, 1 / 3))


def test_beta_binomial_against_scipy():
    from scipy.stats import betabinom

    mu, gamma = 0.45, 0.3
    a, b = mu * (1 - gamma) / gamma, (1 - mu) * (1 - gamma) / gamma
    k, n = np.array([0, 2, 3, 1]), np.array([3, 4, 3, 5])
    assert loglik(k, n, mu, gamma) == pytest.approx(betabinom.logpmf(k, n, a, b).sum())
    assert loglik(k, n, mu, 0.0) == pytest.approx(binom.logpmf(k, n, mu).sum())


def test_mu_interval_by_grid():
    k, n = np.array(K), np.full(12, 4)
    gammas = np.linspace(0, 0.8, 161)
    profile = {mu: max(loglik(k, n, mu, g) for g in gammas) for mu in np.arange(0.25, 0.8, 0.005)}
    top = max(profile.values())
    inside = [mu for mu, value in profile.items() if value >= top - 3.841459 / 2]
    low, high, _ = replicated("triangle", K, 4).mu_interval
    assert (low, high) == pytest.approx((inside[0], inside[-1]), abs=0.006)


def test_overdispersion_by_enumeration():
    """All ways to hand out the right answers over single answers, counted one by one."""
    k, n = [3, 0, 2], [3, 3, 2]
    share = sum(k) / sum(n)
    owner = [i for i, size in enumerate(n) for _ in range(size)]
    spreads = []
    for right in combinations(range(sum(n)), sum(k)):
        each = np.bincount([owner[i] for i in right], minlength=3)
        spreads.append(np.sum((each - np.array(n) * share) ** 2))
    observed = np.sum((np.array(k) - np.array(n) * share) ** 2)
    assert len(spreads) == comb(8, 5)
    expected = np.mean(np.array(spreads) >= observed - 1e-9)
    assert replicated("triangle", k, n).overdispersion_p == pytest.approx(expected)


def test_type_one_error_of_overdispersion_by_enumeration():
    for share in (1 / 3, 0.6):
        risk = 0.0
        for k in product(range(4), repeat=4):
            if replicated_p(k) <= 0.05:
                risk += np.prod(binom.pmf(k, 3, share))
        assert risk <= 0.05


def replicated_p(k: tuple[int, ...]) -> float:
    from kikichoko.analysis.difference.replicated_choices import overdispersion_p

    return overdispersion_p(np.array(k), np.full(len(k), 3))


def test_split_panel_is_seen():
    found = replicated("triangle", [6, 6, 6, 6, 2, 1, 2, 2], 6)
    assert found.significant
    assert found.overdispersion_p < 0.01
    assert found.gamma > 0.2
    assert "some tell the two apart" in found.text()
    alike = replicated("triangle", [2, 2, 2, 2], 3)
    assert alike.gamma == 0
    json.dumps(found.to_dict(), allow_nan=False)


def test_replicated_ends_and_refusals():
    assert replicated("triangle", [3, 3, 3], 3).mu_interval.high == 1
    assert replicated("triangle", [0, 0, 0], 3).mu_interval.low == 0
    with pytest.raises(NotEstimable, match="two assessors"):
        replicated("triangle", [3], 4)
    with pytest.raises(NotEstimable, match="two assessors"):
        replicated("triangle", [1, 0, 1], 1)
    with pytest.raises(OptionError, match="one entry an assessor"):
        replicated("triangle", [5, 2], 4)


# --- sequential ------------------------------------------------------------------------------
# Wald (1945), ISO 16820; lines and mean numbers computed apart from this project
LINES = [
    ((1 / 3, 2 / 3, 0.05, 0.05), (0.500000, 2.123964, 2.123964, 11.4694, 11.4694, 18.0449)),
    ((1 / 3, 0.6, 0.05, 0.10), (0.464974, 2.049214, 2.630930, 13.7892, 16.0185, 21.6717)),
    ((0.5, 0.75, 0.05, 0.05), (0.630930, 2.680144, 2.680144, 18.4231, 20.2580, 30.8479)),
    ((0.33, 0.68, 0.05, 0.05), (0.505457, 2.014040, 2.014040, 10.3309, 10.3851, 16.2274)),
    ((0.45, 0.70, 0.10, 0.05), (0.578391, 2.758071, 2.148244, 17.6604, 15.6479, 24.2973)),
]


@pytest.mark.parametrize(("asked", "expected"), LINES)
def test_lines_against_wald(asked, expected):
    p0, p1, alpha, beta = asked
    lines = boundaries(p0, p1, alpha=alpha, beta=beta)
    found = (lines.slope, lines.below, lines.above)
    assert found == pytest.approx(expected[:3], abs=1e-6)
    means = (lines.mean_at_p0, lines.mean_at_p1, lines.mean_between)
    assert means == pytest.approx(expected[3:], abs=1e-4)


@pytest.mark.parametrize(("asked", "expected"), LINES)
def test_sequential_risks_by_recursion_and_simulation(asked, expected):
    p0, p1, alpha, beta = asked
    lines = boundaries(p0, p1, alpha=alpha, beta=beta)
    assert lines.exact_alpha <= alpha
    assert lines.exact_beta <= beta
    assert lines.exact_mean_at_p0 > expected[3]  # Wald leaves out the overshoot
    rng = np.random.default_rng(16820)
    runs = 3000
    claims, lengths = 0, 0
    for _ in range(runs):
        done = course(lines, (rng.random(lines.most) < p0).astype(int).tolist())
        claims += done.decision == "difference"
        lengths += done.decided_after or lines.most
    # 4 Monte-Carlo standard errors
    assert claims / runs == pytest.approx(lines.exact_alpha, abs=4 * (alpha / runs) ** 0.5)
    assert lengths / runs == pytest.approx(lines.exact_mean_at_p0, rel=0.05)


def test_sequential_risk_by_enumeration():
    """All 2^13 courses of a short test, each held against the lines one answer at a time."""
    lines = boundaries(1 / 3, 2 / 3, alpha=0.1, beta=0.1, most=13)
    risk = 0.0
    for answers_ in product((0, 1), repeat=13):
        if course(lines, answers_).decision == "difference":
            right = sum(answers_)
            risk += (1 / 3) ** right * (2 / 3) ** (13 - right)
    assert lines.exact_alpha == pytest.approx(risk, abs=1e-12)
    assert risk <= 0.1


def test_two_stage_triangle():
    # 11 of 17, else 15 of 30: overall risk by convolution of the two stages, written out
    risk = binom.sf(10, 17, 1 / 3)
    for x in range(11):
        risk += binom.pmf(x, 17, 1 / 3) * binom.sf(14 - x, 13, 1 / 3)
    assert risk == pytest.approx(0.0456841, abs=1e-7)
    assert risk_of_looking(1 / 3, {17: 11, 30: 15}) == pytest.approx(risk, abs=1e-12)


def test_looking_after_every_answer_is_not_allowed():
    """All 2^12 courses of 12 triangles, looked at after each answer with the table for fixed n."""
    looks = {n: needed(n, 1 / 3, 0.05) or n + 1 for n in range(1, 13)}
    risk = 0.0
    for answers_ in product((0, 1), repeat=12):
        right = np.cumsum(answers_)
        if any(right[n - 1] >= least for n, least in looks.items()):
            risk += (1 / 3) ** right[-1] * (2 / 3) ** (12 - right[-1])
    assert risk_of_looking(1 / 3, looks) == pytest.approx(risk)
    assert risk > 0.05 + 0.02


def test_courses():
    lines = boundaries(1 / 3, 2 / 3)
    assert course(lines, []).decision == "go on"
    assert course(lines, [0] * 6).decision == "none"
    assert "does not say that there is no difference" in course(lines, [0] * 6).text()
    late = course(lines, [1] * 9)
    assert (late.decision, late.decided_after) == ("difference", 5)
    assert "4 answers after" in late.text()
    assert late.figure().axes
    assert "Nothing is claimed" in course(boundaries(1 / 3, 2 / 3, most=4), [1, 0, 1, 0]).text()
    json.dumps(late.to_dict(), allow_nan=False)
    with pytest.raises(TableError, match="Answer 2"):
        course(lines, [1, 2])
    with pytest.raises(OptionError, match="below p1"):
        boundaries(0.5, 0.4)
