"""How many sessions a change takes to be shown: the plan against simulated sessions."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from kikichoko.analysis.teaching.retest import MOST_SESSIONS, change_error, retest
from scipy import stats


def test_change_error_by_hand():
    # Three sessions: the slope has error e / sqrt(2), the change is two slopes.
    assert change_error(0.3, 3) == pytest.approx(0.3 * 2 / np.sqrt(2))


def test_the_power_is_what_is_promised():
    # 4000 students whose distance halves over the planned sessions, errors normal and estimated
    # with the stated degrees of freedom: 80 %, Monte-Carlo error 0.6 %; never less than 78 %.
    plan = retest(0.2, 6, alpha=0.001)
    assert plan.sessions is not None
    rng = np.random.default_rng(4)
    n, df = plan.sessions, plan.sessions * 5
    x = np.arange(n) - (n - 1) / 2
    y = np.log(0.5) * np.arange(n) / (n - 1) + rng.normal(0, 0.2, (4000, n))
    slope = y @ x / (x**2).sum()
    se = 0.2 * np.sqrt(rng.chisquare(df, 4000) / df / (x**2).sum())
    shown = (2 * stats.t.sf(-slope / se, df) <= 0.001).mean()
    assert shown >= 0.78
    fewer = retest(0.2, 6, alpha=0.001, ratio=0.7)
    assert fewer.sessions is None or fewer.sessions > plan.sessions


def test_more_bottles_do_in_three_sessions_or_nothing_does():
    plan = retest(0.2, 6, alpha=0.001)
    assert plan.bottles is not None
    assert plan.bottles > 6
    assert "In three sessions it takes" in " ".join(map(str, plan.sentences()))
    never = retest(3.0, 6, alpha=0.001)
    assert never.sessions is None
    assert MOST_SESSIONS == 24
    assert "no number of sessions" in str(never.sentences()[0])


@pytest.mark.parametrize(("sessions", "said"), [(3, 1), (4, 2)])
def test_more_bottles_are_told_where_it_takes_more_than_three_sessions(sessions: int, said: int):
    plan = replace(retest(0.2, 6, alpha=0.001), sessions=sessions, bottles=9)
    assert len(plan.sentences()) == said
