"""This year against last: by hand in complete tables, coverage under drift, what is refused."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.anova import YearOnYear, year_on_year
from kikichoko.analysis.core import NotEstimable, OptionError

RUNS = 60
TRUE = 0.6
DRIFT = 1.2
YEARS = {"s0": "2025", "s1": "2025", "s2": "2026", "s3": "2026"}


def tastings(seed: int, *, bottle: float = 0.0, ages: float = 0.0) -> pd.DataFrame:
    """Draw two sessions a year: house sake, a kept bottle, and three bottles of each year.

    Bottles are the same in both sessions of their year. `bottle` is sample x session, `ages`
    what the kept bottle gains from one year to the next.
    """
    rng = np.random.default_rng(seed)
    bottles = ["house", "kept", *(f"old {k}" for k in range(3)), *(f"new {k}" for k in range(3))]
    shape = (RUNS, 6, len(bottles), 4)
    r, i, j, t = np.indices(shape)
    own = np.array([0, 0, *rng.normal(size=6)])
    own[2:5] -= own[2:5].mean()
    own[5:] += TRUE - own[5:].mean()
    score = (
        5
        + own[:, None]
        + rng.normal(size=(RUNS, 6, 1, 1))
        + DRIFT * (t >= 2)
        + ages * ((j == 1) & (t >= 2))
        + 0.3 * rng.normal(size=(RUNS, 1, 1, 4))
        + 0.4 * rng.normal(size=(RUNS, 6, len(bottles), 1))
        + 0.3 * rng.normal(size=(RUNS, 6, 1, 4))
        + bottle * rng.normal(size=(RUNS, 1, len(bottles), 4))
        + 0.7 * rng.normal(size=shape)
    )
    year = np.array(["both", "both", *["old"] * 3, *["new"] * 3])[j]
    there = (year == "both") | ((year == "old") & (t < 2)) | ((year == "new") & (t >= 2))
    names = {"attribute": r.astype(str), "assessor": i.astype(str), "sample": np.array(bottles)[j]}
    names["session"] = np.char.add("s", t.astype(str))
    table = pd.DataFrame({name: part[there] for name, part in names.items()})
    return table.assign(score=score[there])


@pytest.fixture(scope="module", params=[0.0, 0.4])
def found(request) -> YearOnYear:
    return year_on_year(tastings(3, bottle=request.param, ages=2.0), YEARS, "house")


def test_the_difference_of_years_is_covered_though_the_panel_drifts(found):
    """95 % limits over 60 panels: Monte-Carlo sd 0.028. The kept bottle ages, and does no harm."""
    table = found.differences
    assert len(table) == RUNS
    inside = (table["low"] < TRUE) & (table["high"] > TRUE)
    assert inside.mean() == pytest.approx(0.95, abs=3 * 0.028)
    assert table["difference"].mean() == pytest.approx(TRUE, abs=0.15)
    # The plain difference takes the drift for sake; the reference shows it.
    assert table["raw"].mean() == pytest.approx(TRUE + DRIFT, abs=0.15)
    assert table["drift"].mean() == pytest.approx(DRIFT, abs=0.15)


def test_what_drifts_only_is_not_claimed():
    """No difference of years in 12 attributes, with the panel's drift of 1.2 in all."""
    table = tastings(4, bottle=0.3)
    table = table[table["attribute"].astype(int) < 12]
    table.loc[table["sample"].str.startswith("new"), "score"] -= TRUE
    found = year_on_year(table, YEARS, "house")
    assert not found.differences["claimed"].any()
    assert found.differences["raw"].median() > 0.8
    assert found.sentences()[0].key == "years.not_told"


def test_by_hand():
    # Complete, one session a year, no noise but the assessors' own: (8 - 6) - (6 - 5) = 1.
    rows = [
        (session, who, what, score + 0.3 * k * (what == "new") + k)
        for session, own in (
            ("2025", (("house", 5.0), ("old", 6.0))),
            ("2026", (("house", 6.0), ("new", 8.0))),
        )
        for k, who in enumerate("ABC", start=-1)
        for what, score in own
    ]
    table = pd.DataFrame(rows, columns=["session", "assessor", "sample", "score"])
    table["score"] += np.tile([0.1, -0.2, 0.0, 0.1], 3)
    wide = table.pivot_table(index="assessor", columns=["session", "sample"], values="score")
    means = wide.mean()
    byhand = (means["2026", "new"] - means["2026", "house"]) - (
        means["2025", "old"] - means["2025", "house"]
    )
    found = year_on_year(table, {"2025": "2025", "2026": "2026"}, "house")
    row = found.differences.iloc[0]
    assert row["difference"] == pytest.approx(byhand)
    assert row["drift"] == pytest.approx(means["2026", "house"] - means["2025", "house"])
    assert row["raw"] == pytest.approx(means["2026", "new"] - means["2025", "old"])
    # Only the house sake came again: what a bottle does by itself is not in the limits.
    assert [one.key for one in found.warnings] == ["years.unknown_change"]
    assert "rests on house being the same" in str(found.sentences()[-1])


def test_a_claim_is_told_with_what_it_would_be_without_the_reference():
    # Truly 0.6 - 4 with a drift of 1.2.
    table = tastings(5)
    table = table[table["attribute"] == "0"]
    table.loc[table["sample"].str.startswith("new"), "score"] -= 4
    found = year_on_year(table, YEARS, "house")
    row = found.differences.iloc[0]
    assert row["difference"] == pytest.approx(TRUE - 4, abs=1)
    said = str(found.sentences()[0])
    assert said.startswith(f"0: 2026 lies {-row['difference']:.2f} points below 2025")
    assert f"without it the difference is {row['raw']:.2f}" in said
    assert f"the scores of house moved by {row['drift']:.2f}" in said


def test_what_is_refused():
    table = tastings(6)
    table = table[table["attribute"] == "0"]
    lost = table[~((table["sample"] == "house") & table["session"].isin(["s2", "s3"]))]
    with pytest.raises(NotEstimable, match="house was not served in both"):
        year_on_year(lost, YEARS, "house")
    with pytest.raises(NotEstimable, match="All sessions are of 2025"):
        year_on_year(table[table["session"] < "s2"], YEARS, "house")
    same = table[table["sample"].isin(["house", "kept"])]
    with pytest.raises(NotEstimable, match="no bottle stands in one of these years only"):
        year_on_year(same, YEARS, "house")
    with pytest.raises(OptionError, match="have no year: s3"):
        year_on_year(table, {name: year for name, year in YEARS.items() if name != "s3"}, "house")
    with pytest.raises(OptionError, match="There is no sample 'none'"):
        year_on_year(table, YEARS, "none")
