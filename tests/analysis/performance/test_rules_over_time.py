"""Rules over several sessions, on both sides of their thresholds."""

from __future__ import annotations

from itertools import groupby

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.performance import history
from kikichoko.analysis.performance.control_charts import control_chart
from kikichoko.analysis.performance.panel_over_time import _dated
from kikichoko.analysis.performance.reference_over_time import ReferenceFit, drift_of
from scipy.stats import t as student

NAMES = ["session", "assessor", "sample", "attribute", "score"]


def fit(means: list[float], p: float = 0.5) -> ReferenceFit:
    """Return a fit of the reference with these means of sessions and this p of drift."""
    return ReferenceFit(
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
    assert drift_of(fits, months, 0.95)["drifts"].tolist() == drifts


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
    store = history(
        pd.DataFrame(rows, columns=NAMES), dates(6), bottles, reference="house", followed=False
    ).store
    assert store["p"].tolist() == pytest.approx(p)
    assert store["holds"].tolist() == holds


def steady(seed: int = 3) -> np.ndarray:
    """Return steady histories of 20 sessions: 10,000 rows, centred."""
    values = np.random.default_rng(seed).normal(size=(10_000, 20))
    return values - values.mean(axis=1, keepdims=True)


def longest(history: np.ndarray) -> int:
    """Count the longest row on one side, by plain counting."""
    return max(len(list(row)) for _, row in groupby(np.sign(history)))


def signals(means: list[float], charts: int = 1) -> list[str]:
    """Return the signals of the first of some charts."""
    found = control_chart(
        {f"a{place}": fit(means) for place in range(charts)}, dates(len(means)), 0.95
    )
    return found[found["attribute"] == "a0"]["signal"].tolist()


@pytest.mark.parametrize(("charts", "run"), [(1, 8), (3, 9)])
def test_a_row_is_marked_from_the_length_that_steady_histories_seldom_reach(charts: int, run: int):
    """Half of 5 %, in equal parts for the charts: 8 of 20 sessions for one chart, 9 for three."""
    seen = np.array([longest(one) for one in steady()[:4000]])
    share = 0.025 / charts
    assert (seen >= run).mean() <= share < (seen >= run - 1).mean()
    shorter = [1.0, -1.0] * 3 + [1.0] * (run - 1) + [-1.0, 1.0] * 3 + [-1.0] * (9 - run)
    just = [1.0, -1.0] * 3 + [1.0] * run + [-1.0, 1.0] * 3
    assert set(signals(shorter, charts)) == {""}
    assert [place for place, one in enumerate(signals(just, charts)) if one] == [6 + run - 1]


@pytest.mark.parametrize(("last", "signal"), [(3.2, ""), (3.42, "beyond")])
def test_a_session_is_beyond_where_steady_ones_seldom_stand(last: float, signal: str):
    """The limit by simulation: 3.21 of the standard deviations that the ranges give, v = 3.31.

    Centre (0.5 + v) / 20, mean range (17.5 + v) / 19, for ±0.5 by turns and v at the end.
    """
    away = steady()
    sigma = np.abs(np.diff(away, axis=1)).mean(axis=1) / 1.128
    reach = np.quantile(np.abs(away).max(axis=1) / sigma, 0.975)
    apart = (last - (0.5 + last) / 20) / ((17.5 + last) / 19 / 1.128)
    assert (apart > reach) == (signal == "beyond")
    means = [0.5 if place % 2 == 0 else -0.5 for place in range(19)]
    assert signals([*means, last]) == [""] * 19 + [signal]


def test_a_change_that_only_the_reference_shows_is_not_told():
    """The bottle itself stands still, the reference falls: against it p is far below .05."""
    rows = []
    for step, value in enumerate(change(0.001)):
        for who, level in (("a", 4.0), ("b", 5.0)):
            rows.append((f"s{step:02d}", who, "house", "a0", level - value))
            rows.append((f"s{step:02d}", who, "kura", "a0", level + 0.01 * (-1) ** step))
    bottles = pd.DataFrame({"sample": ["house", "kura"], "batch": ["H", "K"]})
    store = history(
        pd.DataFrame(rows, columns=NAMES), dates(6), bottles, reference="house", followed=False
    ).store
    assert store["p_adjusted"].item() < 0.01
    assert not store["holds"].item()


@pytest.mark.parametrize(("sessions", "told"), [(7, True), (8, False)])
def test_limits_are_provisional_below_eight_sessions(sessions: int, told: bool):
    rows = [
        (f"s{step:02d}", f"T{who}", "house", "body", 5.0 + (step * 3 + who * who) % 4)
        for step in range(sessions)
        for who in range(3)
    ]
    bottles = pd.DataFrame({"sample": ["house"], "batch": ["H"]})
    table = pd.DataFrame(rows, columns=NAMES)
    found = history(table, dates(sessions), bottles, reference="house", followed=False)
    assert ("history.provisional" in [one.key for one in found.warnings]) is told


def test_four_years_are_forty_eight_months():
    dated = pd.DataFrame(
        {"session": ["s00", "s01"], "date": pd.to_datetime(["2024-01-01", "2028-01-01"])}
    )
    assert _dated(dated, dated)["months"].tolist() == [0.0, 48.0]
