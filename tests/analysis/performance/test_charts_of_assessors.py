"""When to train again: limits by hand, both sides, and how often a steady panel is called."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.core.errors import NotEstimable
from kikichoko.analysis.performance import assessor_charts
from kikichoko.analysis.performance.charts_of_assessors import (
    MEMORY,
    MEMORY_DF,
    OTHERS,
    _limits,
)
from scipy.stats import t


def panel(
    seed: int, *, people: int = 6, sessions: int = 6, worse: str = "", times: float = 2.0
) -> pd.DataFrame:
    """Draw a panel: five bottles twice on four lines; `worse` scatters more in the last session."""
    rng = np.random.default_rng(seed)
    rows = []
    for session in range(sessions):
        truth = rng.normal(5, 1.5, (5, 4))
        for person in range(people):
            who = f"A{person}"
            last = who == worse and session == sessions - 1
            sd = 0.7 * np.exp(rng.normal(0, 0.1)) * (times if last else 1)
            own = truth + rng.normal(0, 0.4, (5, 4))
            for cup in (1, 2):
                score = own + rng.normal(0, sd, (5, 4))
                rows += [(f"s{session}", who, f"b{b}", cup, f"q{a}", score[b, a])
                         for b in range(5) for a in range(4)]  # fmt: skip
    columns = ["session", "assessor", "sample", "replicate", "attribute", "score"]
    return pd.DataFrame(rows, columns=columns)


def memory(last: float) -> pd.DataFrame:
    """Return the logs of five assessors in four sessions; `last` is A0's in the fourth."""
    logs = {"A0": [0.0, 0.1, 0.2], "A1": [0.3, 0.1, 0.2], "A2": [-0.1, 0.1, 0.0],
            "A3": [0.0, -0.2, 0.2], "A4": [0.1, 0.0, -0.1]}  # fmt: skip
    rows = [("repeats", who, f"s{n}", value) for who, own in logs.items()
            for n, value in enumerate(own)]  # fmt: skip
    rows += [("repeats", who, "s3", last if who == "A0" else 0.0) for who in logs]
    return pd.DataFrame(rows, columns=["measure", "assessor", "session", "value"])


def test_limits_by_hand():
    """Prediction limit of one more normal value; the scatter pooled within assessors (Hahn)."""
    assert (MEMORY, MEMORY_DF, OTHERS) == (3, 8, 3)
    table = memory(0.5)
    centre, upper = _limits(table, ["s0", "s1", "s2", "s3"], 0.05)
    past = table[table["session"] != "s3"].groupby("assessor")["value"]
    sd = np.sqrt(past.var().mean())  # equal numbers: the mean of variances, 10 df
    at = table.index[(table["assessor"] == "A0") & (table["session"] == "s3")][0]
    assert centre[at] == pytest.approx(0.1)
    assert upper[at] == pytest.approx(0.1 + t.isf(0.05 / 5, 10) * sd * np.sqrt(4 / 3))
    assert np.isnan(upper[(table["session"] != "s3").to_numpy()]).all()


def test_three_sessions_and_eight_degrees_of_freedom_make_a_memory():
    order = ["s0", "s1", "s2", "s3"]
    new = memory(0.5).query("not (assessor == 'A0' and session == 's0')").reset_index(drop=True)
    _, upper = _limits(new, order, 0.05)
    judged = set(new["assessor"][np.isfinite(upper)])
    assert judged == {"A1", "A2", "A3", "A4"}
    few = memory(0.5).query("assessor != 'A4'").reset_index(drop=True)  # 4 x 2 = 8 df
    assert np.isfinite(_limits(few, order, 0.05)[1]).sum() == 4
    fewer = few.query("assessor != 'A3'").reset_index(drop=True)  # 6 df
    assert np.isnan(_limits(fewer, order, 0.05)[1]).all()


def test_a_steady_panel_is_called_as_seldom_as_is_said():
    """400 panels of six whose logs are normal: the last session calls anybody in 5 %."""
    rng = np.random.default_rng(4)
    order = [f"s{n}" for n in range(5)]
    cells = [("repeats", f"A{who}", session) for who in range(6) for session in order]
    table = pd.DataFrame(cells, columns=["measure", "assessor", "session"])
    last = (table["session"] == "s4").to_numpy()
    called = 0
    for _ in range(400):
        usual = np.repeat(rng.normal(0, 0.3, 6), 5)
        value = usual + rng.normal(0, 0.15, 30)
        _, upper = _limits(table.assign(value=value), order, 0.05)
        called += bool((value[last] > upper[last]).any())
    assert abs(called / 400 - 0.05) < 3 * np.sqrt(0.05 * 0.95 / 400)


def test_whose_scatter_grows_is_called():
    found = assessor_charts(panel(0, worse="A2", times=2.5))
    text = " ".join(map(str, found.sentences()))
    assert "A2: train again" in text
    assert "rank" not in text


def test_a_hard_evening_is_nobody_s_fault():
    table = panel(3)
    hard = table["session"] == "s5"
    middle = table[hard].groupby(["assessor", "sample", "attribute"])["score"].transform("mean")
    table.loc[hard, "score"] = middle + 2 * (table.loc[hard, "score"] - middle)
    plain, harder = assessor_charts(panel(3)).chart, assessor_charts(table).chart
    at = (plain["measure"] == "repeats") & (plain["session"] == "s5")
    assert harder.loc[at, "points"].to_numpy() == pytest.approx(2 * plain.loc[at, "points"])
    assert harder.loc[at, "value"].to_numpy() == pytest.approx(plain.loc[at, "value"].to_numpy())


def test_levels_and_ticks_are_no_distance():
    table = panel(2, sessions=2)
    plain = assessor_charts(table).chart
    level = table["score"] + 3 * ((table["assessor"] == "A1") & (table["attribute"] == "q0"))
    ticks = table[table["attribute"] == "q0"].assign(attribute="fault:stale", score=0.0)
    ticks.loc[(ticks["assessor"] == "A1") & (ticks["sample"] == "b0"), "score"] = 1.0
    other = assessor_charts(pd.concat([table.assign(score=level), ticks])).chart
    assert other["points"].to_numpy() == pytest.approx(plain["points"].to_numpy())


@pytest.mark.parametrize(("people", "known"), [(4, True), (3, False)])
def test_a_common_evening_takes_three_others(people: int, known: bool):
    chart = assessor_charts(panel(1, people=people, sessions=2)).chart
    mine = chart.loc[chart["measure"] == "repeats", "value"]
    assert len(mine) == 2 * people
    assert mine.notna().all() == known


def test_what_cannot_be_followed_is_said():
    with pytest.raises(NotEstimable):
        assessor_charts(panel(1, sessions=1))
    early = assessor_charts(panel(1, sessions=3))
    assert "Nobody can be judged yet" in " ".join(map(str, early.sentences()))
    table = panel(1)
    newcomer = table[(table["assessor"] != "A5") | (table["session"] == "s5")]
    text = " ".join(map(str, assessor_charts(newcomer).sentences()))
    assert "No limits yet for A5" in text
    away = table[(table["assessor"] != "A4") | (table["session"] != "s5")]
    assert "A4" not in " ".join(map(str, assessor_charts(away).sentences()))
    once = table[table["replicate"] == 1]
    assert set(assessor_charts(once).chart["measure"]) == {"distance"}
    with pytest.raises(NotEstimable):
        assessor_charts(once[once["assessor"].isin(["A0", "A1", "A2"])])
    assert early.figure(["A0"]).axes
    still = panel(1)
    still.loc[still["assessor"] == "A1", "score"] = 5.0  # own cups never differ
    panes = assessor_charts(still).figure(["A0", "A1"]).axes
    texts = [[one.get_text() for one in axes.texts] for axes in panes]
    assert texts == [[], [], ["nothing measured"], []]
    with pytest.raises(NotEstimable, match="No chart of ZZ: charts are there of A0, A1"):
        early.figure(["ZZ"])
