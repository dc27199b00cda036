"""Liking over people: counts by hand, limits against scipy's and published ones."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.core.errors import NotEstimable, OptionError
from kikichoko.analysis.profile import divides, liked_best, moved
from scipy import stats

ROWS = pd.DataFrame(
    [
        ("A", "x", 1, 8.0), ("A", "x", 2, 6.0), ("A", "y", 1, 4.0),
        ("B", "x", 1, 5.0), ("B", "y", 1, 5.0),
        ("C", "x", 1, 2.0), ("C", "y", 1, 9.0),
        ("D", "x", 1, 9.0),
    ],
    columns=["assessor", "sample", "replicate", "score"],
).assign(attribute="liking")  # fmt: skip


def test_by_hand_and_against_scipy():
    found = liked_best(ROWS, "liking").set_index("sample")
    # A's two servings of x are one opinion, 7; B likes both alike; D did not taste y.
    assert found.loc["x", ["n", "mean", "lowest", "highest", "best", "of"]].tolist() == [
        4, 5.75, 2, 9, 1, 3,
    ]  # fmt: skip
    assert found.loc["y", ["n", "mean", "best", "of"]].tolist() == [3, 6.0, 1, 3]
    values = [7.0, 5.0, 2.0, 9.0]
    limits = stats.t.interval(0.95, 3, loc=5.75, scale=stats.sem(values))
    assert found.loc["x", ["low", "high"]].tolist() == pytest.approx(limits)


def test_limits_of_a_share_against_published_ones():
    """Newcombe (1998), Stat. Med. 17:857-872, table I, method 3: 1 of 29."""
    rows = [(f"P{n}", "x", float(n == 0)) for n in range(29)]
    rows += [(f"P{n}", "y", float(n != 0)) for n in range(29)]
    table = pd.DataFrame(rows, columns=["assessor", "sample", "score"]).assign(attribute="liking")
    found = liked_best(table, "liking").set_index("sample").loc["x"]
    assert (found["best"], found["of"]) == (1, 29)
    assert found[["best_low", "best_high"]].tolist() == pytest.approx([0.0061, 0.1718], abs=5e-5)


def test_one_person_has_no_limits_of_a_mean():
    found = liked_best(ROWS[ROWS["assessor"] == "C"], "liking").set_index("sample")
    assert np.isnan(found.loc["x", "low"])
    assert found.loc["y", "best"] == 1


def test_moved_goes_by_the_place_in_the_order():
    rows = pd.DataFrame(
        [("A", 3, 8.0), ("A", 1, 5.0), ("A", 2, 1.0), ("B", 2, 4.0), ("B", 1, 6.0), ("C", 1, 9.0)],
        columns=["assessor", "position", "score"],
    ).assign(attribute="style")
    people, (n, mean, low, high) = moved(rows, "style")
    assert people[["assessor", "first", "last", "change"]].to_numpy().tolist() == [
        ["A", 5.0, 8.0, 3.0], ["B", 6.0, 4.0, -2.0],
    ]  # fmt: skip
    assert (n, mean) == (2, 0.5)
    limits = stats.t.interval(0.95, 1, loc=0.5, scale=stats.sem([3.0, -2.0]))
    assert (low, high) == pytest.approx(limits)


def test_errors():
    with pytest.raises(NotEstimable):
        liked_best(ROWS, "style")
    with pytest.raises(OptionError):
        liked_best(ROWS, "liking", level=1.0)
    with pytest.raises(NotEstimable):
        moved(ROWS.assign(position=1), "liking")


def liked(marks: dict[str, list[float]]) -> pd.DataFrame:
    rows = [(f"P{k}", name, mark) for name, own in marks.items() for k, mark in enumerate(own)]
    table = pd.DataFrame(rows, columns=["assessor", "sample", "score"])
    return table.dropna().assign(attribute="liking")


@pytest.mark.parametrize(("wide", "told"), [(1.0, False), (4.0, True)])
def test_a_bottle_that_divides_people_is_found_by_pitman_and_morgan(wide: float, told: bool):
    """The test is that of the correlation of sum and difference, by scipy; the largest p counts."""
    rng = np.random.default_rng(7)
    marks = {name: 5 + rng.normal(size=14) for name in "xyz"}
    marks["z"] *= wide
    marks["y"][3] = np.nan
    found = divides(liked({name: list(own) for name, own in marks.items()}), "liking")
    own = found.set_index("sample").loc["z"]
    each = []
    for other in "xy":
        a, b = (marks[name][~np.isnan(marks[other])] for name in ("z", other))
        each.append(stats.pearsonr(a + b, a - b, alternative="greater").pvalue)
    assert own["p"] == pytest.approx(min(3 * max(each), 1))
    assert own["sd"] == pytest.approx(marks["z"].std(ddof=1))
    assert own["others_sd"] == pytest.approx(max(np.nanstd(marks[x], ddof=1) for x in "xy"))
    assert [bool(one) for one in found["told"]] == [False, False, told]


def test_too_few_or_equal_marks_divide_nobody():
    assert not divides(liked({"x": [5, 5, 5], "y": [1, 5, 9]}), "liking")["told"].any()
    assert not divides(liked({"x": [5.0] * 6, "y": [5.0] * 6}), "liking")["told"].any()
    assert not divides(liked({"x": [1, 9, 1, 9, 1, 9]}), "liking")["told"].any()
    assert divides(liked({"x": [5.0] * 6, "y": [1, 9, 1, 9, 1, 9]}), "liking")["told"].any()
