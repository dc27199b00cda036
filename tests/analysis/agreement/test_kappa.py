"""Kappas against published tables and another library."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from kikichoko.analysis.agreement import cohen_kappa, fleiss_kappa, icc, kappa_of_counts
from kikichoko.analysis.agreement.kappas import category_counts
from kikichoko.analysis.core import NotEstimable, OptionError
from statsmodels.stats import inter_rater

# Fleiss 1971, 30 patients x 6 raters, five diagnoses; as in the tests of statsmodels.
DIAGNOSES = [
    "444444", "222555", "233335", "555555", "222444", "113333", "333355", "113334", "114444",
    "555555", "144444", "124444", "222333", "144444", "224445", "333335", "111455", "111112",
    "224444", "133555", "555555", "244444", "224555", "114444", "144445", "222224", "111155",
    "224444", "133333", "555555",
]  # fmt: skip
# The encyclopedia's example, 10 subjects x 14 raters.
FOURTEEN = [
    [0, 0, 0, 0, 14], [0, 2, 6, 4, 2], [0, 0, 3, 5, 6], [0, 3, 9, 2, 0], [2, 2, 8, 1, 1],
    [7, 7, 0, 0, 0], [3, 2, 6, 3, 0], [2, 5, 3, 2, 2], [6, 5, 2, 1, 0], [0, 2, 2, 3, 7],
]  # fmt: skip
COHEN = np.array([[0.44, 0.07, 0.09], [0.05, 0.20, 0.05], [0.01, 0.03, 0.06]]) * 200
EVERITT = np.array([[106, 10, 4], [22, 28, 10], [2, 12, 6]])


def test_against_published_fleiss_1971():
    # Printed kappa .430; the rest recomputed with R irr.
    ratings = np.array([[float(c) for c in row] for row in DIAGNOSES])
    counts, names = category_counts(ratings)
    found = fleiss_kappa(counts, categories=names)
    assert found.kappa == pytest.approx(0.430245, abs=1e-6)
    assert found.observed == pytest.approx(0.555556, abs=1e-6)
    assert found.expected == pytest.approx(0.219938, abs=1e-6)
    assert found.se0 == pytest.approx(0.024374, abs=1e-6)
    assert found.z == pytest.approx(17.651831, abs=1e-4)
    share = [0.144, 0.144, 0.167, 0.306, 0.239]
    assert found.categories["share"].to_numpy() == pytest.approx(share, abs=5e-4)
    single = [0.244755, 0.244755, 0.520000, 0.471127, 0.566118]
    assert found.categories["kappa"].to_numpy() == pytest.approx(single, abs=1e-6)
    assert found.categories["se0"].iloc[0] == pytest.approx(0.047140, abs=1e-6)
    assert found.interval is not None
    assert found.interval.low < found.kappa < found.interval.high


def test_against_published_encyclopedia_example():
    # Printed kappa .210.
    found = fleiss_kappa(FOURTEEN)
    assert found.kappa == pytest.approx(0.209931, abs=1e-6)
    assert (found.observed, found.expected) == pytest.approx((0.378022, 0.212755), abs=1e-6)
    single = [0.201282, 0.079670, 0.171598, 0.030381, 0.507657]
    assert found.categories["kappa"].to_numpy() == pytest.approx(single, abs=1e-6)


def test_against_published_cohen_1968():
    # Printed: kappa .492, weighted .348, asymmetric weights .353.
    assert kappa_of_counts(COHEN).kappa == pytest.approx(0.491525, abs=1e-6)
    cost = [[0, 1, 3], [1, 0, 6], [3, 6, 0]]
    assert kappa_of_counts(COHEN, weights=cost).kappa == pytest.approx(0.347826, abs=1e-6)
    uneven = [[0, 1, 4], [1, 0, 6], [2, 2, 0]]
    assert kappa_of_counts(COHEN, weights=uneven).kappa == pytest.approx(0.353383, abs=1e-6)


def test_against_published_fleiss_cohen_everitt_1969():
    # Printed weighted kappa .51; standard errors recomputed from the paper's formulas.
    plain = kappa_of_counts(EVERITT)
    assert plain.kappa == pytest.approx(0.428571, abs=1e-6)
    assert (plain.se, plain.se0) == pytest.approx((0.053711, 0.055512), abs=1e-6)
    agree = np.array([[1, 0, 0.4444], [0, 1, 0.6667], [0.4444, 0.6667, 1]])
    found = kappa_of_counts(EVERITT, weights=1 - agree)
    assert found.kappa == pytest.approx(0.507070, abs=1e-6)
    assert (found.se, found.se0) == pytest.approx((0.056994, 0.065336), abs=1e-6)
    assert kappa_of_counts(EVERITT, weights="linear").kappa == pytest.approx(0.492308, abs=1e-6)
    squared = kappa_of_counts(EVERITT, weights="quadratic")
    assert squared.kappa == pytest.approx(0.566667, abs=1e-6)


@pytest.mark.filterwarnings("ignore")  # that library divides by zero on its way
@given(st.lists(st.lists(st.integers(0, 9), min_size=4, max_size=4), min_size=4, max_size=4))
def test_against_statsmodels(rows: list[list[int]]):
    table = np.array(rows) + np.eye(4, dtype=int)
    for ours, theirs in (("none", None), ("linear", "linear"), ("quadratic", "quadratic")):
        other = inter_rater.cohens_kappa(table, wt=theirs)
        found = kappa_of_counts(table, weights=ours)
        assert found.kappa == pytest.approx(float(other.kappa), abs=1e-9)


def test_quadratic_kappa_tends_to_the_absolute_icc():
    # Fleiss & Cohen 1973 (from memory): equal but for terms of order 1/n.
    rng = np.random.default_rng(3)
    truth = rng.integers(1, 6, 2000)
    two = np.clip(truth[:, None] + rng.integers(-1, 2, (2000, 2)) + [0, 1], 1, 6).astype(float)
    kappa = cohen_kappa(two[:, 0], two[:, 1], weights="quadratic").kappa
    assert kappa == pytest.approx(icc(two).estimate("ICC(A,1)"), abs=1e-3)


def test_from_answers_as_from_counts():
    first = np.repeat([1, 2, 3], EVERITT.sum(axis=1))
    second = np.concatenate([np.repeat([1, 2, 3], row) for row in EVERITT])
    assert cohen_kappa(first, second).kappa == pytest.approx(0.428571, abs=1e-6)
    holed = cohen_kappa(np.append(first, np.nan), np.append(second, 2))
    assert holed.n == 200


@given(st.permutations(range(5)))
def test_names_of_categories_do_not_matter(order: list[int]):
    assert fleiss_kappa(np.array(FOURTEEN)[:, order]).kappa == pytest.approx(0.209931, abs=1e-6)


def test_no_variation_is_said():
    with pytest.raises(NotEstimable, match="no variation to agree on"):
        cohen_kappa([1, 1, 1], [1, 1, 1])
    with pytest.raises(NotEstimable, match="no variation to agree on"):
        fleiss_kappa([[5, 0], [5, 0]])


def test_errors_in_words():
    with pytest.raises(NotEstimable, match="take Krippendorff's alpha"):
        fleiss_kappa([[5, 0], [3, 1]])
    with pytest.raises(OptionError, match="none, linear, quadratic"):
        kappa_of_counts(EVERITT, weights="cubic")
    with pytest.raises(OptionError, match="0 on the diagonal"):
        kappa_of_counts(EVERITT, weights=np.ones((3, 3)))
    with pytest.raises(OptionError, match="square"):
        kappa_of_counts([[1, 2, 3], [1, 2, 3]])
    assert "too narrow" in str(cohen_kappa([1, 2, 1, 2], [1, 2, 2, 2]))
