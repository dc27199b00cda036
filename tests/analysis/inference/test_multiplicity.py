"""Adjusted p values, held against published tables and another library."""

from __future__ import annotations

from unittest.mock import patch

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from kikichoko.analysis.core import NotEstimable, OptionError
from kikichoko.analysis.inference import adjust, adjust_discrete
from kikichoko.analysis.inference.adjusted_p import METHODS, family
from statsmodels.stats.multitest import multipletests

# Benjamini and Hochberg (1995), J. R. Stat. Soc. B 57:289-300, section 4.1: the 15 ordered
# p values of the thrombolysis study (from memory; counts of rejections are the paper's).
PAPER = [
    0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262,
    0.5719, 0.6528, 0.7590, 1.0,
]  # fmt: skip
STATSMODELS = {
    "holm": "holm",
    "hochberg": "simes-hochberg",
    "bonferroni": "bonferroni",
    "bh": "fdr_bh",
    "by": "fdr_by",
}
p_values = st.lists(st.floats(0, 1), min_size=1, max_size=30)


@pytest.mark.parametrize(
    ("method", "rejected"), [("bh", 4), ("bonferroni", 3), ("holm", 3), ("hochberg", 3)]
)
def test_against_published_counts(method: str, rejected: int):
    assert (adjust(PAPER, method) <= 0.05).sum() == rejected


def test_against_published_example_adjusted():
    # Recomputed from the paper's p values by the definition (R's p.adjust gives the same).
    bh = [
        0.0015, 0.003, 0.0095, 0.035625, 0.0603, 0.063857, 0.063857, 0.0645, 0.0765, 0.486,
        0.581182, 0.714875, 0.753231, 0.813214, 1.0,
    ]  # fmt: skip
    holm = [0.0015, 0.0056, 0.0247, 0.114, 0.2211, 0.278, 0.278, 0.278, 0.3213, 1.0]
    assert adjust(PAPER, "bh") == pytest.approx(bh, abs=1e-6)
    assert adjust(PAPER, "holm")[:10] == pytest.approx(holm, abs=1e-9)


@given(p_values)
@settings(max_examples=40)
def test_against_statsmodels(p: list[float]):
    for method, name in STATSMODELS.items():
        with patch("gc.collect"):  # it clears the whole memory after each `holm`
            theirs = multipletests(p, method=name)[1]
        # rel 1e-12: products of the same numbers, in another order.
        assert adjust(p, method) == pytest.approx(theirs, rel=1e-12)


@given(p_values, st.randoms(use_true_random=False))
def test_order_does_not_matter(p: list[float], random):
    order = list(range(len(p)))
    random.shuffle(order)
    for method in METHODS:
        assert adjust(p, method)[order].tolist() == adjust(np.array(p)[order], method).tolist()


@given(p_values)
def test_adjusted_p_is_never_below_the_raw_one_and_keeps_the_ranks(p: list[float]):
    for method in METHODS:
        adjusted = adjust(p, method)
        # 1e-15: p * m / m may differ from p in the last bit.
        assert (adjusted >= np.array(p) - 1e-15).all()
        assert (np.diff(adjusted[np.argsort(p)]) >= 0).all()


@given(p_values)
def test_a_missing_test_is_as_if_it_had_not_been_planned(p: list[float]):
    for method in METHODS:
        with_hole = adjust([np.nan, *p, np.nan], method)
        assert np.isnan(with_hole[[0, -1]]).all()
        assert with_hole[1:-1].tolist() == adjust(p, method).tolist()


def test_familywise_error_is_held_when_nothing_differs():
    # 4000 families of 10 true nulls: Monte-Carlo sd of a 5 % rate is 0.0034.
    rng = np.random.default_rng(20)
    families = rng.uniform(size=(4000, 10))
    alarms = {
        method: np.mean([(adjust(row, method) <= 0.05).any() for row in families])
        for method in METHODS
    }
    assert all(rate < 0.05 + 3 * 0.0034 for rate in alarms.values())
    assert alarms["holm"] > 0.05 - 3 * 0.0034  # and it is not idle: it uses its level
    assert np.mean((families <= 0.05).any(axis=1)) > 0.35  # which unadjusted tests do not hold


def test_family_says_what_holds_and_what_is_no_finding():
    names = [f"attribute {i:02}" for i in range(1, 16)]
    found = family(dict(zip(names, PAPER, strict=True)), "bh")
    assert found.holding == names[:4]
    main, alone = (str(sentence) for sentence in found.sentences())
    assert main.startswith("4 of 15 tests hold together (on average at most 5 % of the claims")
    assert alone.startswith("5 more have p values of 0.05 or less")
    assert found.to_dict()["tests"][4]["holds"] is False


def test_family_without_finding_and_with_a_hole():
    found = family(pd.Series({"sweet": 0.2, "acid": np.nan}))
    assert found.n == 1
    assert str(found.sentences()[0]).startswith("None of 1 test holds")
    assert "1 test has no p value" in str(found.warnings[0])


def test_refusals_say_what_to_do():
    with pytest.raises(OptionError, match="between 0 and 1, but 1"):
        adjust([0.1, 1.2])
    with pytest.raises(OptionError, match="must be one of holm"):
        adjust([0.1], "tukey")
    with pytest.raises(OptionError, match="one list"):
        adjust([[0.1, 0.2]])
    with pytest.raises(OptionError, match=r"5 per cent is written 0\.05"):
        family({"sweet": 0.1}, alpha=5)
    with pytest.raises(NotEstimable, match="None of these tests"):
        family({"sweet": np.nan})


def test_discrete_by_hand():
    # Two of four could be as small as .01, three as small as .03, all as .2.
    p = [0.01, 0.03, 0.2, 0.5]
    least = [0.01, 0.002, 0.2, 0.02]
    assert adjust_discrete(p, least).tolist() == pytest.approx([0.02, 0.06, 0.4, 0.5])
    assert adjust_discrete(p, [0, 0, 0, 0]).tolist() == adjust(p).tolist()
    missing = adjust_discrete([0.01, float("nan")], [0.01, float("nan")])
    assert missing[0] == pytest.approx(0.01)
    assert np.isnan(missing[1])
    with pytest.raises(OptionError):
        adjust_discrete([0.01, 0.02], [0.01])


@given(st.lists(st.tuples(st.floats(0, 1), st.floats(0, 1)), min_size=1, max_size=12))
def test_discrete_lies_between_p_and_holm(pairs: list[tuple[float, float]]):
    p = np.array([max(one) for one in pairs])
    least = np.array([min(one) for one in pairs])
    found = adjust_discrete(p, least)
    assert (found >= p - 1e-12).all()
    assert (found <= adjust(p) + 1e-12).all()
