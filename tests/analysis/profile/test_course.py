"""Dominance over time and time-intensity, held by published counts and by hand."""

from __future__ import annotations

import json
from fractions import Fraction
from math import comb

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.core import NotEstimable, OptionError, TableError
from kikichoko.analysis.profile import curve, dominance, least, time_intensity

# Chance 1/p and the share by formula are those of Pineau et al. (2009), from memory,
# recomputed; the exact counts are binomial tails.
COUNTS = [
    (5, 10, 0.4081, 5), (5, 40, 0.3040, 13), (6, 12, 0.3436, 5), (8, 10, 0.2970, 4),
    (8, 16, 0.2610, 5), (8, 48, 0.2035, 11), (9, 20, 0.2267, 6), (10, 16, 0.2234, 5),
    (10, 30, 0.1901, 7), (10, 48, 0.1712, 9), (12, 30, 0.1663, 6),
]  # fmt: skip


@pytest.mark.parametrize(("p", "n", "formula", "count"), COUNTS)
def test_counts_against_published_formula_and_exact_tail(p, n, formula, count):
    found = least(n, p)
    assert found.formula == pytest.approx(formula, abs=5e-5)
    assert found.count == count
    assert found.normal == (n / p * (1 - 1 / p) > 5)

    def tail(k: int) -> Fraction:
        q = Fraction(1, p)
        return sum(comb(n, i) * q**i * (1 - q) ** (n - i) for i in range(k, n + 1))

    assert tail(count) <= Fraction(1, 20) < tail(count - 1)


def events(rows: list[tuple[str, str, float, str]]) -> pd.DataFrame:
    return pd.DataFrame(rows, columns=["assessor", "sample", "time", "attribute"])


def everybody(n: int) -> pd.DataFrame:
    """All name sweet at 2 s and bitter at 6 s, and end at 10 s."""
    return events(
        [
            (f"T{i}", "A", time, name)
            for i in range(n)
            for time, name in ((2, "sweet"), (6, "bitter"), (10, ""))
        ]
    )


def test_curves_by_hand():
    found = dominance(everybody(8), attributes=["sweet", "bitter", "sour"])
    at = found.curves.set_index(["attribute", "time"])["k"]
    assert at["sweet"].tolist() == [0, 0, 8, 8, 8, 8, 0, 0, 0, 0, 0]
    assert at["bitter"].tolist() == [0, 0, 0, 0, 0, 0, 8, 8, 8, 8, 0]
    assert at["sour"].sum() == 0
    assert found.periods[["attribute", "start", "end"]].to_numpy().tolist() == [
        ["sweet", 2, 6],
        ["bitter", 6, 10],
    ]
    assert json.dumps(found.to_dict(), allow_nan=False)


def test_two_assessors_cannot_dominate():
    """With 3 attributes two of two has chance 1/9."""
    found = dominance(everybody(2), attributes=["sweet", "bitter", "sour"])
    assert found.periods.empty
    assert "at no moment" in str(found)


def test_what_could_be_chosen_is_asked_for():
    assert any("list of attributes" in str(w) for w in dominance(everybody(8)).warnings)
    with pytest.raises(OptionError, match="not among"):
        dominance(everybody(8), attributes=["sweet", "sour"])
    with pytest.raises(NotEstimable, match="two attributes"):
        dominance(events([("T1", "A", 1, "sweet")]))
    with pytest.raises(TableError, match="Row 1"):
        dominance(events([("T1", "A", -1, "sweet"), ("T1", "A", 1, "sour")]))
    with pytest.raises(TableError, match="no column 'time'"):
        dominance(everybody(3).drop(columns="time"))
    with pytest.raises(OptionError, match="step"):
        dominance(everybody(3), step=0)


def test_replicates_are_counted_and_said():
    twice = pd.concat([everybody(4).assign(replicate=1), everybody(4).assign(replicate=2)])
    found = dominance(twice, attributes=["sweet", "bitter", "sour"])
    assert found.limits["n"].item() == 8
    assert any("not quite" in str(w) for w in found.warnings)


def test_intensity_by_hand_on_a_grid():
    """Knots (0, 0) (5, 0) (15, 8) (25, 8) (60, 0) on a grid of 1 s: area 40 + 80 + 140."""
    time = np.arange(0, 61)
    found = curve(time, np.interp(time, [0, 5, 15, 25, 60], [0, 0, 8, 8, 0]))
    assert (found.imax, found.tmax, found.onset, found.end) == (8, 15, 5, 60)
    assert found.auc == pytest.approx(260, abs=1e-9)
    assert (found.plateau_start, found.plateau_end) == pytest.approx((14.0, 28.5))
    assert found.rise == pytest.approx(0.8)
    assert found.fall == pytest.approx(-0.228571, abs=1e-6)


def test_curves_that_start_high_or_never_rise():
    falling = curve([0, 10], [6, 0])
    assert (falling.tmax, falling.onset, falling.end) == (0, 0, 10)
    assert np.isnan(falling.rise)
    flat = curve([0, 10], [0, 0])
    assert (flat.imax, flat.auc) == (0, 0)
    assert np.isnan(flat.tmax)


def moments(score: dict[str, list[float]]) -> pd.DataFrame:
    return pd.DataFrame(
        [
            {"assessor": who, "sample": "A", "attribute": "sweet", "time": t, "score": s}
            for who, scores in score.items()
            for t, s in enumerate(scores)
        ]
    )


def test_table_of_curves():
    found = time_intensity(moments({"T1": [0, 4, 0], "T2": [0, 2, 0]}))
    assert found.means.loc[0, ["n", "imax", "auc"]].tolist() == [2, 3, 3]
    scores = found.scores()
    assert set(scores["attribute"]) >= {"sweet imax", "sweet tmax"}
    assert json.dumps(found.to_dict(), allow_nan=False)


def test_every_bad_curve_is_told():
    with pytest.raises(TableError) as refusal:
        time_intensity(moments({"T1": [0, -4, 0], "T2": [1]}))
    assert len(refusal.value.faults) == 2
