"""Citation frequencies: the assessor is the unit; agreement; words by liking."""

from __future__ import annotations

import json
import math

import krippendorff
import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from kikichoko.analysis.citations import (
    citations,
    cochran,
    descriptors,
    term_effects,
    words_agree,
)
from kikichoko.analysis.citations.citation_counts import cube_of
from kikichoko.analysis.citations.word_agreement import nominal_alpha
from kikichoko.analysis.citations.word_effects import welch
from kikichoko.analysis.core import NotEstimable, OptionError
from kikichoko.analysis.inference import adjust, adjust_discrete
from scipy import stats


def ticks(marks: dict[str, list[list[int]]]) -> pd.DataFrame:
    """Make a tidy table: per word, assessors in rows and samples in columns."""
    return pd.DataFrame(
        [
            {"assessor": f"T{i}", "sample": "ABCDEF"[j], "attribute": word, "score": mark}
            for word, rows in marks.items()
            for i, row in enumerate(rows)
            for j, mark in enumerate(row)
        ]
    )


def test_the_assessor_is_the_unit():
    once = ticks({"apple": [[1, 0], [1, 0], [0, 1]]}).assign(replicate=1)
    twice = pd.concat([once, once.assign(replicate=2)])
    for frame in (once, twice):
        found = citations(frame)
        assert found.table["k"].tolist() == [2, 1]
        assert found.table["n"].tolist() == [3, 3]


def test_limits_against_scipy():
    found = citations(ticks({"apple": [[1, 0], [1, 0], [0, 0]]})).table
    for row in found.itertuples():
        exact = stats.binomtest(row.k, row.n).proportion_ci(method="exact")
        assert (row.low, row.high) == pytest.approx((exact.low, exact.high), abs=1e-9)


@pytest.mark.parametrize(("rule", "k"), [("half", 2), ("any", 3), ("all", 1)])
def test_how_replicates_are_joined(rule, k):
    marks = {"T1": [1, 1, 1], "T2": [1, 1, 0], "T3": [1, 0, 0], "T4": [0, 0, 0]}
    frame = pd.DataFrame(
        [
            {"assessor": who, "sample": "A", "attribute": "pear", "replicate": r, "score": mark}
            for who, row in marks.items()
            for r, mark in enumerate(row, start=1)
        ]
    )
    found = citations(frame, rule=rule)
    assert found.table["k"].item() == k
    assert found.warnings


def test_a_list_of_ticks_only_is_refused_until_said_so():
    frame = ticks({"apple": [[1, 0], [1, 1]], "pear": [[0, 1], [1, 0]]})
    only = frame[frame["score"] == 1]
    with pytest.raises(NotEstimable, match="ticks only"):
        citations(only)
    whole = citations(frame).table
    pd.testing.assert_frame_equal(citations(only, only_ticks=True).table, whole)


def test_scored_attributes_are_left_aside_or_refused():
    frame = pd.concat(
        [
            ticks({"apple": [[1, 0], [0, 1]]}),
            pd.DataFrame({"assessor": ["T0"], "sample": ["A"], "attribute": "body", "score": 6.5}),
        ]
    )
    assert citations(frame).attributes == ("apple",)
    with pytest.raises(OptionError, match="other than 0 and 1"):
        citations(frame, attributes=["body"])
    with pytest.raises(OptionError, match="no attribute 'plum'"):
        citations(frame, attributes=["plum"])
    with pytest.raises(NotEstimable, match="0 or 1"):
        citations(frame[frame["attribute"] == "body"])


@given(st.integers(0, 2**31))
@settings(max_examples=6, deadline=None)
def test_shuffling_rows_changes_nothing(seed):
    frame = ticks({"apple": [[1, 0, 1], [1, 1, 0]], "pear": [[0, 0, 1], [0, 1, 1]]})
    found = citations(frame).counts()
    other = citations(frame.sample(frac=1, random_state=seed % 2**31)).counts()
    pd.testing.assert_frame_equal(found, other[list(found.columns)])


def test_cube_and_counts_are_the_same_numbers():
    found = citations(ticks({"apple": [[1, 0, 1], [1, 1, 0]], "pear": [[0, 0, 1], [0, 1, 1]]}))
    assert cube_of(found).sum(axis=0).tolist() == found.counts().to_numpy().tolist()


@given(
    st.lists(
        st.lists(st.sampled_from([0.0, 1.0, math.nan]), min_size=4, max_size=4),
        min_size=2,
        max_size=6,
    )
)
@settings(max_examples=60, deadline=None)
def test_alpha_against_krippendorff_library(rows):
    marks = np.array(rows)
    mine = nominal_alpha(marks)
    judged = (~np.isnan(marks)).sum(axis=0)
    kept = marks[:, judged >= 2]
    kept = kept[~np.isnan(kept)]
    if math.isnan(mine):
        assert len(np.unique(kept)) < 2
    else:
        theirs = krippendorff.alpha(reliability_data=marks, level_of_measurement="nominal")
        assert mine == pytest.approx(theirs, abs=1e-9)


def test_specific_agreement_by_hand():
    # Sample A: 3 of 4 used it: 3 pairs both, 3 pairs one. B: 1 of 4: 0 both, 3 one.
    found = words_agree(citations(ticks({"koji": [[1, 1], [1, 0], [1, 0], [0, 0]]}))).table
    assert found["specific"].item() == pytest.approx(2 * 3 / (2 * 3 + 6))
    assert found["low"].item() <= found["specific"].item() <= found["high"].item()


def test_agreement_of_three_has_no_limits_and_of_one_is_refused():
    three = words_agree(citations(ticks({"koji": [[1, 1], [1, 0], [1, 0]]})))
    assert three.table["low"].isna().all()
    assert three.warnings
    with pytest.raises(NotEstimable):
        words_agree(citations(ticks({"koji": [[1, 0]]})))


LIKING = [7, 8, 6, 5, 9, 4, 6, 7, 3, 8, 7, 5]
CITED = [1, 1, 0, 0, 1, 0, 1, 1, 0, 1, 0, 0]


def test_lift_against_scipy_and_by_hand():
    """Twelve assessors with one sample each: 7.5 - 5.0, Welch t 3.478042, p 0.0067067."""
    with_it = np.array([s for s, c in zip(LIKING, CITED, strict=True) if c], dtype=float)
    without = np.array([s for s, c in zip(LIKING, CITED, strict=True) if not c], dtype=float)
    theirs = stats.ttest_ind(with_it, without, equal_var=False)
    mine = welch(with_it, without)
    limits = theirs.confidence_interval()
    assert mine.difference == 2.5
    assert mine.p == pytest.approx(theirs.pvalue, abs=1e-12)
    assert (mine.low, mine.high) == pytest.approx((limits.low, limits.high), abs=1e-9)
    assert (mine.low, mine.high) == pytest.approx((0.879936, 4.120064), abs=1e-6)
    who = [f"T{i}" for i in range(12)]
    frame = pd.DataFrame({"assessor": who, "sample": "A", "attribute": "apple", "score": CITED})
    scores = frame.assign(attribute="liking", score=LIKING)
    both = pd.concat([frame, scores])
    table = term_effects(citations(both), both, "liking").table
    assert table["difference"].item() == 2.5
    assert table["within"].item() == 0


def liked_by_generous_tickers() -> pd.DataFrame:
    """Assessors who tick much also score high, but no bottle gains by the word."""
    rows = []
    for i in range(8):
        generous = i < 4
        for j, sample in enumerate("ABCD"):
            tick = (j != i % 4) if generous else (j == i % 4)
            score = (8.0 if generous else 3.0) + 0.1 * ((i + j) % 3)
            rows.append((f"T{i}", sample, "apple", int(tick)))
            rows.append((f"T{i}", sample, "liking", score))
    return pd.DataFrame(rows, columns=["assessor", "sample", "attribute", "score"])


def test_a_generous_assessor_does_not_make_a_word_look_good():
    frame = liked_by_generous_tickers()
    row = term_effects(citations(frame), frame, "liking").table.iloc[0]
    wide = frame.pivot_table(index=["assessor", "sample"], columns="attribute", values="score")
    pooled = wide.groupby("apple")["liking"].mean()
    assert pooled[1] - pooled[0] > 2  # the naive difference is large
    assert row.within == 8
    assert row.low < 0 < row.high
    selves = wide.reset_index().pivot_table(
        index="assessor", columns="apple", values="liking", aggfunc="mean"
    )
    theirs = stats.ttest_rel(selves[1], selves[0])
    assert row.p == pytest.approx(theirs.pvalue, abs=1e-12)


def test_a_side_that_is_too_small_is_refused():
    frame = liked_by_generous_tickers()
    found = term_effects(citations(frame), frame, "liking", fewest=20)
    assert found.table["refused"].all()
    assert found.table["difference"].isna().all()
    assert "too seldom" in str(found)


def test_the_words_that_could_not_differ_do_not_count_against_the_others():
    """Tarone (1990): a test that can never pass 0.05 takes no part in the adjustment."""
    clear = [[1, 0, 0]] * 8
    rare = [[1, 0, 0]] + [[0, 0, 0]] * 7
    frame = ticks({"apple": clear, "pear": rare, "rose": rare})
    found = descriptors(frame)
    row = found.tests.set_index("attribute")
    assert row.loc["apple", "adjusted"] == pytest.approx(row.loc["apple", "p"])
    assert row.loc[["pear", "rose"], "adjusted"].isna().all()
    assert found.differing == ["apple"]


def test_two_assessors_and_three_bottles_claim_nothing():
    found = descriptors(ticks({"apple": [[1, 0, 0], [1, 0, 0]], "pear": [[0, 1, 0], [0, 1, 0]]}))
    assert not found.tests["holds"].any()
    assert "could have told" in str(found.sentences()[0])


def test_descriptors_to_json_with_missing_bottles():
    frame = ticks({"apple": [[1, 0, 0]] * 5, "pear": [[0, 1, 0]] * 5})
    found = descriptors(frame.iloc[1:])
    said = json.loads(json.dumps(found.to_dict(), allow_nan=False))
    assert said["citations"]["table"][0]["n"] == 4
    assert said["warnings"]


def test_liking_is_part_of_the_result_when_named():
    frame = liked_by_generous_tickers()
    assert descriptors(frame, liking="liking").effects.target == "liking"


def test_level_and_power_over_many_words():
    """Equal bottles: any of 20 words is claimed in at most 5 %; one true word is found oftener.

    5 assessors, 4 bottles, 20 words that each assessor uses for a bottle with probability
    0.02 to 0.5; the true word with 0.9 for one bottle and 0.05 for the others. 400 sessions
    each, p by Cochran's exact test; limits at 3 standard errors of the simulation.
    """
    rng = np.random.default_rng(11)
    rates = np.linspace(0.02, 0.5, 20)
    false, found, by_holm = 0, 0, 0
    for _ in range(400):
        ticks = (rng.random((20, 5, 4)) < rates[:, None, None]).astype(float)
        p, least = np.array([_p_and_least(word) for word in ticks]).T
        could = np.where(least <= 0.05, p, np.nan)
        false += bool((adjust_discrete(could, least) <= 0.05).any())
        ticks[-1] = rng.random((5, 4)) < np.where(np.arange(4) == 0, 0.9, 0.05)
        p[-1], least[-1] = _p_and_least(ticks[-1])
        found += adjust_discrete(p, least)[-1] <= 0.05
        by_holm += adjust(p)[-1] <= 0.05
    assert false / 400 <= 0.05 + 3 * (0.05 * 0.95 / 400) ** 0.5
    assert found >= 1.5 * by_holm


_KNOWN: dict[tuple[tuple[float, ...], ...], tuple[float, float]] = {}


def _p_and_least(word: np.ndarray) -> tuple[float, float]:
    """Return both p values of a word; they depend on the totals alone, in any order."""
    totals = tuple(tuple(sorted(word.sum(axis=axis))) for axis in (0, 1))
    if totals not in _KNOWN:
        one = cochran(pd.DataFrame(word))
        _KNOWN[totals] = one.p, one.p_least
    return _KNOWN[totals]
