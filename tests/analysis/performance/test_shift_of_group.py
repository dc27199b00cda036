"""The maker's shift and the stability of conclusions."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.anova import anova
from kikichoko.analysis.core import NotEstimable, OptionError
from kikichoko.analysis.performance import group_shift, stability
from kikichoko.analysis.performance.shift_of_group import _shift
from scipy import stats


def scores(rng: np.random.Generator, shift: float = 0.0, people: int = 7) -> pd.DataFrame:
    """Simulate a maker M1 and others; levels sd .7, interaction .4, noise .6, four samples."""
    rows = []
    for who in range(people):
        code = "M1" if who == 0 else f"T{who}"
        level = rng.normal(0, 0.7) + (shift if who == 0 else 0)
        for sample in range(4):
            own = rng.normal(0, 0.4)
            for repeat in (1, 2):
                value = 5 + 1.5 * (sample == 3) + level + own + rng.normal(0, 0.6)
                rows.append((code, f"s{sample}", repeat, value))
    return pd.DataFrame(rows, columns=["assessor", "sample", "replicate", "score"])


def test_two_groups_against_scipy_welch():
    table = scores(np.random.default_rng(1))
    means = table.groupby("assessor")["score"].mean()
    mine, rest = ["M1", "T1", "T2"], ["T3", "T4", "T5", "T6"]
    other = stats.ttest_ind(means[mine], means[rest], equal_var=False)
    limits = other.confidence_interval(0.95)
    row = group_shift(table, mine).table.iloc[0]
    assert row["p"] == pytest.approx(other.pvalue)
    assert (row["low"], row["high"]) == pytest.approx((limits.low, limits.high))


def test_one_person_by_hand():
    table = scores(np.random.default_rng(2), shift=2)
    means = table.groupby("assessor")["score"].mean()
    rest = means.drop("M1")
    row = group_shift(table, ["M1"]).table.iloc[0]
    assert row["shift"] == pytest.approx(means["M1"] - rest.mean())
    t = row["shift"] / (rest.std() * np.sqrt(1 + 1 / 6))
    assert row["outside_p"] == pytest.approx(2 * stats.t.sf(abs(t), 5))
    assert row["low"] < row["shift"] < row["high"]


def test_coverage_of_the_interval_of_one_person():
    # The truth is the maker's own level less the mean of the population the others come from
    # (0), with interaction and noise. 400 panels; 95 % limits: at least 365 (p .003 below).
    rng = np.random.default_rng(3)
    hits = 0
    for _ in range(400):
        level = np.r_[1.0, rng.normal(0, 0.7, 6)]
        _, low, high, *_ = _shift(level[:, None] + rng.normal(0, 0.5, (7, 4)), 1, 0.95)
        hits += low <= 1.0 <= high
    assert hits >= 365


def test_words_tell_shown_and_open():
    table = scores(np.random.default_rng(4), shift=4)
    assert "points above the others" in str(group_shift(table, ["M1"], label="The maker"))
    usual = scores(np.random.default_rng(4))
    usual.loc[usual["assessor"] == "M1", "score"] += (
        0.9 - group_shift(usual, ["M1"]).table["shift"].iloc[0]
    )
    row = group_shift(usual, ["M1"]).table.iloc[0]
    said = str(group_shift(usual, ["M1"]))
    assert ("differ among themselves" in said) == (row["low"] > 0 and row["outside_p"] > 0.05)
    quiet = str(group_shift(scores(np.random.default_rng(5)), ["T1", "T2"]))
    assert "may still be as large as" in quiet
    assert "no difference" not in quiet


def test_holes_do_not_move_the_levels():
    # Additive scores: a hole must change nothing at all.
    rows = [(f"A{i}", f"s{j}", 2.0 * j + i) for i in range(5) for j in range(4)]
    table = pd.DataFrame(rows, columns=["assessor", "sample", "score"])
    whole = group_shift(table, ["A0"]).table["shift"].iloc[0]
    holed = group_shift(table.drop(index=[3, 9]), ["A0"]).table["shift"].iloc[0]
    assert holed == pytest.approx(whole)
    assert whole == pytest.approx(-2.5)


def test_conclusion_that_hangs_on_one_person():
    rng = np.random.default_rng(6)
    table = scores(rng)
    firm = stability(table)
    assert firm.table["stable"].all()
    assert firm.table["top"].iloc[0] == "s3"
    assert "stand whoever is left out" in str(firm)
    flat = table.assign(score=5 + rng.normal(0, 0.2, len(table)))
    odd = (flat["assessor"] == "T1") & (flat["sample"] == "s0")
    flat.loc[odd, "score"] -= 6
    other = stability(flat)
    assert not other.runs[other.runs["left_out"] == "T1"]["p"].isna().any()
    assert len(other.runs) == 7


def test_leaving_out_is_judged_by_the_adjusted_p_of_the_verdict():
    """Ten attributes: raw p below .05 that Holm does not hold is no conclusion to hang on."""
    rng = np.random.default_rng(8)
    parts = [scores(rng).assign(attribute="strong")]
    for number in range(9):
        flat = scores(rng)
        flat["score"] = rng.normal(5, 1, len(flat)) + 0.35 * (flat["sample"] == "s1")
        parts.append(flat.assign(attribute=f"weak {number}"))
    table = pd.concat(parts)
    tests = anova(table).tests().set_index("attribute")
    found = stability(table)
    row = found.table.set_index("attribute")
    assert row["p"].to_numpy() == pytest.approx(tests.loc[row.index, "p_holm"].to_numpy())
    raw_only = tests.index[(tests["p"] <= 0.05) & (tests["p_holm"] > 0.05)]
    assert len(raw_only)
    assert not row.loc[raw_only, "shown"].any()
    stands = [line for line in found.sentences() if line.key == "groups.stable"]
    assert str(stands[0]).endswith(": strong.")
    rest = table[table["assessor"] != "T3"]
    again = anova(rest).tests().set_index("attribute")["p_holm"]
    mine = found.runs[found.runs["left_out"] == "T3"].set_index("attribute")["p"]
    assert mine.to_numpy() == pytest.approx(again[mine.index].to_numpy())


def test_leaving_out_by_another_rule():
    table = scores(np.random.default_rng(9))
    never = stability(table, judge=lambda part: dict.fromkeys(part.attributes, 1.0))
    assert not never.table["shown"].any()
    assert never.table["stable"].all()
    assert not never.sentences()
    only_whole = stability(
        table, judge=lambda part: {"score": 0.01 if len(part.assessors) == 7 else 0.06}
    )
    assert len(only_whole.table["hangs_on"].iloc[0]) == 7


def test_errors_in_words():
    table = scores(np.random.default_rng(7))
    with pytest.raises(OptionError, match="M9"):
        group_shift(table, ["M9"])
    with pytest.raises(NotEstimable, match="two at least"):
        group_shift(table[table["assessor"].isin(["M1", "T1"])], ["M1"])
    with pytest.raises(NotEstimable, match="nobody can be left out"):
        stability(table[table["assessor"].isin(["M1", "T1", "T2"])])
