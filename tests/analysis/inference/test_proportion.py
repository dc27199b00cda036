"""k of n: published limits, an independent library, and coverage by enumeration."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from kikichoko.analysis.core import OptionError
from kikichoko.analysis.inference import (
    clopper_pearson,
    proportion,
    silent_panel,
    upper_limit,
    wilson,
)
from kikichoko.analysis.inference.proportions import at_least
from scipy.stats import binom, binomtest


@pytest.mark.parametrize(
    ("k", "n", "score", "exact"),
    [
        # Newcombe (1998), Stat. Med. 17:857-872, table I, methods 3 and 5 (from memory).
        (81, 263, (0.2553, 0.3662), (0.2527, 0.3676)),
        (15, 148, (0.0624, 0.1605), (0.0578, 0.1617)),
        (0, 20, (0, 0.1611), (0, 0.1684)),
        (1, 29, (0.0061, 0.1718), (0.0009, 0.1776)),
    ],
)
def test_against_published_table(k, n, score, exact):
    # abs 5e-5: the paper prints four decimals.
    assert np.array(wilson(k, n)) == pytest.approx(np.array(score), abs=5e-5)
    assert np.array(clopper_pearson(k, n)) == pytest.approx(np.array(exact), abs=5e-5)


@pytest.mark.parametrize("n", [1, 2, 9, 200])
def test_chance_of_so_many_against_scipy(n: int):
    k, chance = np.arange(-2, n + 4)[:, None], np.array([0.0, 1e-4, 1 / 3, 0.9, 1.0])
    # rel 1e-12: both end in the incomplete beta function.
    assert at_least(k, n, chance) == pytest.approx(binom.sf(k - 1, n, chance), rel=1e-12)


@given(st.integers(1, 200), st.data(), st.sampled_from([0.8, 0.95, 0.99]))
def test_against_scipy(n, data, level):
    k = data.draw(st.integers(0, n))
    for ours, name in ((wilson, "wilson"), (clopper_pearson, "exact")):
        theirs = binomtest(k, n).proportion_ci(level, method=name)
        # abs 1e-8: scipy finds the exact limits by root search.
        assert np.array(ours(k, n, level)) == pytest.approx(np.array(theirs), abs=1e-8)


@pytest.mark.parametrize("n", [2, 3, 5, 8, 13, 40])
def test_coverage_by_enumeration(n):
    k = np.arange(n + 1)
    share = np.linspace(0.001, 0.999, 999)
    chance = binom.pmf(k[:, None], n, share)
    low, high = clopper_pearson(k, n)
    covered = (low[:, None] <= share) & (share <= high[:, None])
    assert (chance * covered).sum(axis=0).min() >= 0.95
    limit = upper_limit(k, n)
    assert (chance * (share <= limit[:, None])).sum(axis=0).min() >= 0.95


def test_nobody_noticed_by_hand():
    n = np.array([3, 5, 8, 10, 20, 30])
    by_hand = 1 - 0.05 ** (1 / n)
    assert upper_limit(0, n) == pytest.approx(by_hand, rel=1e-12)
    # "Rule of three": about 3/n for larger n.
    assert float(upper_limit(0, 300)) == pytest.approx(3 / 300, rel=0.01)


@given(st.floats(0.01, 0.9), st.floats(0.5, 0.99))
def test_silent_panel_is_the_smallest_that_does(share, level):
    n = silent_panel(share, level)
    assert float(upper_limit(0, n, level)) <= share + 1e-9
    assert n == 1 or float(upper_limit(0, n - 1, level)) > share - 1e-9


@given(st.integers(1, 60), st.data())
def test_noticing_and_not_noticing_mirror_each_other(n, data):
    k = data.draw(st.integers(0, n))
    one, other = proportion(k, n), proportion(n - k, n)
    assert one.interval.low == pytest.approx(1 - other.interval.high, abs=1e-12)
    assert one.wilson.low == pytest.approx(1 - other.wilson.high, abs=1e-12)
    assert one.lower == pytest.approx(1 - other.upper, abs=1e-12)
    assert one.interval.low <= one.estimate <= one.interval.high


@pytest.mark.parametrize(
    ("k", "n", "said"),
    [
        (2, 8, "2 of 8 assessors noted it (95 % interval 3 % to 65 %)."),
        (0, 8, "None of 8 assessors noted it; that still allows that up to 31 % of such"),
        (8, 8, "All 8 assessors noted it; that shows that at least 69 % of such"),
        (0, 1, "The only assessor did not note it; that still allows that up to 95 %"),
        (1, 1, "The only assessor noted it; that shows only that at least 5 %"),
    ],
)
def test_sentences(k, n, said):
    assert str(proportion(k, n).sentence()).startswith(said)
    assert str(proportion(k, n, what="musty").sentence()).startswith(f"musty: {said}")


def test_silence_of_a_small_panel_says_what_a_claim_would_need():
    assert "29 assessors would all have to" in str(proportion(0, 8).sentences()[1])
    assert len(proportion(0, 40).sentences()) == 1


def test_refusals_say_what_to_do():
    with pytest.raises(OptionError, match="5 of 3 cannot be"):
        proportion(5, 3)
    with pytest.raises(OptionError, match="`k` must be a whole number from 0, but -1"):
        proportion(-1, 3)
    with pytest.raises(OptionError, match="`n` must be a whole number from 1, but 0"):
        proportion(0, 0)
    with pytest.raises(OptionError, match="whole number"):
        wilson([1.5, 2], 4)
    with pytest.raises(OptionError, match=r"95 per cent is written 0\.95"):
        proportion(1, 3, level=95)
    with pytest.raises(OptionError, match="strictly between 0 and 1"):
        silent_panel(1.0)
