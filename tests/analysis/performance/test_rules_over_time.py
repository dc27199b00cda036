"""Rules over several sessions, on both sides of their thresholds."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.performance import history
from kikichoko.analysis.performance.panel_over_time import _chart, _drift, _ReferenceFit, _runs
from scipy.stats import t as student

NAMES = ["session", "assessor", "sample", "attribute", "score"]


def fit(means: list[float], p: float = 0.5) -> _ReferenceFit:
    """Return a fit of the reference with these means of sessions and this p of drift."""
    return _ReferenceFit(
        sessions=[f"s{place:02d}" for place in range(len(means))],
        means=np.array(means), se=np.ones(len(means)), f=1.0, df_num=2, df_den=9, p=p, between=0.0,
    )  # fmt: skip


def dates(n: int) -> pd.DataFrame:
    days = pd.date_range("2024-01-01", periods=n, freq="30D")
    return pd.DataFrame({"session": [f"s{place:02d}" for place in range(n)], "date": days})


@pytest.mark.parametrize(
    ("p", "drifts"),
    [((0.04,), [True]), ((0.06,), [False]), ((0.03, 0.04), [False, False]),
     ((0.024, 0.04), [True, True]), ((0.026, 0.9), [False, False])],
)  # fmt: skip
def test_drift_is_told_after_holms_adjustment(p: tuple[float, ...], drifts: list[bool]):
    """Holm 1979: the smallest of m counts m times, the next m - 1 times."""
    months = pd.Series([0.0, 1.0, 2.0], index=["s00", "s01", "s02"])
    fits = {f"a{place}": fit([5.0, 5.1, 5.0], one) for place, one in enumerate(p)}
    assert _drift(fits, months, 0.95)["drifts"].tolist() == drifts


def change(p: float) -> np.ndarray:
    """Six values in equal steps of time whose line has just this p, by t = slope / se."""
    x = np.arange(6.0) - 2.5
    away = np.array([1.0, -2.0, 1.0, 1.0, -2.0, 1.0])  # sums to nothing, also weighed by x
    slope = student.isf(p / 2, 4) * np.sqrt(away @ away / 4 / (x @ x))
    return slope * x + away


@pytest.mark.parametrize(
    ("p", "holds"),
    [((0.04,), [True]), ((0.06,), [False]), ((0.03, 0.9), [False, False]),
     ((0.02, 0.9), [True, False])],
)  # fmt: skip
def test_change_in_store_is_told_after_holms_adjustment(p: tuple[float, ...], holds: list[bool]):
    rows = []
    for place, one in enumerate(p):
        for step, value in enumerate(change(one)):
            for who, level in (("a", 4.0), ("b", 5.0)):
                common = (f"s{step:02d}", who)
                rows.append((*common, "house", f"a{place}", level))
                rows.append((*common, "kura", f"a{place}", level + value))
    bottles = pd.DataFrame({"sample": ["house", "kura"], "batch": ["H", "K"]})
    store = history(pd.DataFrame(rows, columns=NAMES), dates(6), bottles, reference="house").store
    assert store["p"].tolist() == pytest.approx(p)
    assert store["holds"].tolist() == holds


def test_the_eighth_in_a_row_is_marked_and_no_seventh():
    seven, eight = np.r_[-1.0, np.ones(7), -1.0], np.r_[-1.0, np.ones(8), -1.0]
    assert not _runs(seven).any()
    assert np.flatnonzero(_runs(eight)).tolist() == [8]
    assert not _runs(np.zeros(20)).any(), "on the centre is on no side"


@pytest.mark.parametrize(("last", "signal"), [(3.05, ""), (3.06, "beyond")])
def test_limits_stand_three_standard_deviations_off(last: float, signal: str):
    """By hand: beyond from v on with v - (0.5 + v) / 20 = 3 (17.5 + v) / 19 / 1.128, 3.0550."""
    means = [0.5 if place % 2 == 0 else -0.5 for place in range(19)]
    chart = _chart({"a": fit([*means, last])}, dates(20))
    assert chart["signal"].tolist() == [""] * 19 + [signal]
