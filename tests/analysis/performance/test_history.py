"""Sessions put together: by hand, against the other library, and put back from simulation."""

from __future__ import annotations

import json

import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf
from kikichoko.analysis.core import NotEstimable, OptionError, TableError
from kikichoko.analysis.performance import history
from kikichoko.analysis.performance.control_charts import control_chart
from kikichoko.analysis.performance.reference_over_time import ReferenceFit

MONTH = 365.25 / 12


def simulated(seed, *, sessions=12, panel_drift=0.0, fade=0.0, jump=0.0, people=6, reference=True):
    """A stable reference and one bottle in store; effects in points a month, a jump at the end."""
    rng = np.random.default_rng(seed)
    rows = []
    severity = rng.normal(0, 0.8, people)
    for s in range(sessions):
        level = panel_drift * s + (jump if s == sessions - 1 else 0.0)
        for person in range(people):
            if rng.random() < 0.1:
                continue  # somebody is away
            bottles = {"house": 5.0, "kura": 6.0 + fade * s}
            if not reference:
                bottles.pop("house")
            for name, mean in bottles.items():
                score = mean + level + severity[person] + rng.normal(0, 0.5)
                rows.append((f"s{s:02d}", f"p{person}", name, 1, "sweetness", score))
                rows.append((f"s{s:02d}", f"p{person}", name, 1, "bitterness", rng.normal(3, 0.6)))
    names = ["session", "assessor", "sample", "replicate", "attribute", "score"]
    scores = pd.DataFrame(rows, columns=names)
    start = pd.Timestamp("2024-01-01")
    dates = [start + pd.Timedelta(days=round(MONTH * s)) for s in range(sessions)]
    table = pd.DataFrame({"session": [f"s{s:02d}" for s in range(sessions)], "date": dates})
    bottles = pd.DataFrame({"sample": ["house", "kura"], "batch": ["H", "T1"]})
    return scores, table, bottles


def test_drift_against_the_other_library():
    # Two-way fit of session and assessor with holes: statsmodels OLS, F of session.
    scores, table, bottles = simulated(1, panel_drift=0.1)
    past = history(scores, table, bottles, reference="house")
    own = scores.query("sample == 'house' and attribute == 'sweetness'")
    full = smf.ols("score ~ C(session) + C(assessor)", own).fit()
    less = smf.ols("score ~ C(assessor)", own).fit()
    f, p, df = full.compare_f_test(less)
    row = past.drift.set_index("attribute").loc["sweetness"]
    assert row["f"] == pytest.approx(f, rel=1e-8)
    assert row["p"] == pytest.approx(p, rel=1e-6)
    assert (row["df_num"], row["df_den"]) == (df, full.df_resid)
    means = past.chart.query("attribute == 'sweetness'")["mean"].to_numpy()
    effects = full.params.filter(like="C(session)").to_numpy()
    assert means[1:] - means[0] == pytest.approx(effects, abs=1e-8)


def test_panel_drift_is_not_taken_for_the_sake():
    scores, table, bottles = simulated(2, panel_drift=0.15)
    past = history(scores, table, bottles, reference="house")
    drift = past.drift.set_index("attribute")
    assert drift.loc["sweetness", "drifts"]
    assert drift.loc["sweetness", "low"] < 0.15 < drift.loc["sweetness", "high"]
    assert not drift.loc["bitterness", "drifts"]
    store = past.store.set_index("attribute").loc["sweetness"]
    assert store["raw_per_month"] == pytest.approx(0.15, abs=0.05)  # what would be seen without it
    assert store["low"] < 0 < store["high"]
    assert not past.store["holds"].any()
    assert "Either the panel moved or that bottle did" in past.text()


def test_change_in_store_is_found_on_top_of_drift():
    scores, table, bottles = simulated(3, panel_drift=0.15, fade=-0.25)
    past = history(scores, table, bottles, reference="house")
    store = past.store.set_index("attribute")
    assert store.loc["sweetness", "holds"]
    assert store.loc["sweetness", "low"] < -0.25 < store.loc["sweetness", "high"]
    assert not store.loc["bitterness", "holds"]
    assert "falls" in past.text()


def test_rate_of_intervals_over_repetitions():
    # 30 histories at 95 %: the share inside has a standard error of 0.04.
    inside = []
    for seed in range(30):
        scores, table, bottles = simulated(
            100 + seed, sessions=6, panel_drift=0.1, fade=-0.2, people=4
        )
        row = history(scores, table, bottles, reference="house", followed=False).store.set_index(
            "attribute"
        )
        inside.append(row.loc["sweetness", "low"] <= -0.2 <= row.loc["sweetness", "high"])
    assert np.mean(inside) >= 0.83


def test_control_limits_by_hand():
    # Means 5, 6, 5, 6, 5, 9: moving ranges 1, 1, 1, 1, 4, mean 1.6; sigma 1.6 / 1.128 = 1.41844;
    # centre 6. With 12 instead of 9: ranges 1,1,1,1,7, mean 2.2, sigma 1.95035, centre 6.5. The
    # reach in sigma: of six steady sessions the farthest lies beyond it in 2.5 %, simulated here.
    values = np.random.default_rng(1).normal(size=(20_000, 6))
    sigma = np.abs(np.diff(values, axis=1)).mean(axis=1) / 1.128
    farthest = np.abs(values - values.mean(axis=1, keepdims=True)).max(axis=1) / sigma
    reach = float(np.quantile(farthest, 0.975))
    for last, centre, sigma_seen in ((9.0, 6.0, 1.41844), (12.0, 6.5, 1.95035)):
        means = [5.0, 6.0, 5.0, 6.0, 5.0, last]
        rows = [
            (f"s{s}", person, "house", 1, "sweetness", mean + offset)
            for s, mean in enumerate(means)
            for person, offset in (("a", -1.0), ("b", 1.0))
        ]
        names = ["session", "assessor", "sample", "replicate", "attribute", "score"]
        table = pd.DataFrame(
            {"session": [f"s{s}" for s in range(6)], "date": pd.date_range("2024-01-01", periods=6)}
        )
        past = history(
            pd.DataFrame(rows, columns=names),
            table,
            pd.DataFrame({"sample": ["house"], "batch": ["H"]}),
            reference="house",
        )
        assert past.chart["mean"].tolist() == pytest.approx(means)
        assert past.chart["centre"].iloc[0] == pytest.approx(centre)
        found = (past.chart["upper"].iloc[0] - centre) / sigma_seen
        assert found == pytest.approx(reach, rel=0.02)
        # 12 lies beyond 6.5 + 2.7 sigma; before it five in a row lie below the centre.
        told = ["", "", "", "", "run", "beyond"] if last == 12 else [""] * 6
        assert past.chart["signal"].tolist() == told


@pytest.mark.parametrize("sessions", [12, 20])
def test_steady_histories_give_a_signal_at_the_stated_rate(sessions: int):
    """18 attributes, nothing moves: any signal in at most 5 % of 200 histories (3 se: 4.6 points).

    With 3 standard deviations and eight in a row it was 43 to 68 %: 86 and more of 200.
    """
    rng = np.random.default_rng(44)
    names = [f"s{s:02d}" for s in range(sessions)]
    dated = pd.DataFrame({"session": names, "date": pd.date_range("2024-01-01", periods=sessions)})
    se = np.full(sessions, 0.2)
    found = 0
    for _ in range(200):
        fits = {
            f"a{a}": ReferenceFit(names, rng.normal(5, 0.4, sessions), se, 1, 1, 9, 0.5, 0.1)
            for a in range(18)
        }
        found += (control_chart(fits, dated, 0.95)["signal"] != "").any()
    assert found <= 19


def test_a_reference_that_ages_is_not_told_as_the_bottle_in_store():
    """The reference loses 0.25 a month, the bottle in store nothing: 12 sessions, 6 histories."""
    held, alone = 0, 0
    for seed in range(6):
        scores, table, bottles = simulated(100 + seed)
        ages = (scores["sample"] == "house") & (scores["attribute"] == "sweetness")
        month = scores["session"].str[1:].astype(int)
        aged = scores.assign(score=scores["score"] - 0.25 * month * ages)
        past = history(aged, table, bottles, reference="house", followed=False)
        row = past.store.set_index("attribute").loc["sweetness"]
        held += bool(row["holds"])
        alone += "The reference house may itself have changed" in past.text()
        assert row["p_adjusted"] < 0.05  # against the reference alone it would have been told
    assert held <= 2
    assert alone >= 4


def test_a_jump_and_a_run_are_marked():
    scores, table, bottles = simulated(5, sessions=14, jump=4.0)
    chart = history(scores, table, bottles, reference="house").chart
    row = chart.query("attribute == 'sweetness' and session == 's13'").iloc[0]
    assert row["signal"] == "beyond"
    scores, table, bottles = simulated(5, sessions=16)
    late = (scores["session"] >= "s06") & (scores["attribute"] == "sweetness")
    shifted = scores.assign(score=scores["score"] + 2.0 * late)
    runs = history(shifted, table, bottles, reference="house").chart
    assert (runs.query("attribute == 'sweetness'")["signal"] == "run").any()


def test_without_reference_no_change_is_claimed():
    scores, table, bottles = simulated(6, fade=-0.5, reference=False)
    scores = pd.concat([scores, scores.assign(sample="other")])
    past = history(scores, table, pd.concat([bottles, bottles.assign(sample="other")]))
    assert past.reference is None
    assert past.store.empty
    assert "none is claimed" in past.text()
    with pytest.raises(NotEstimable):
        past.figure()


def test_two_sessions_give_a_slope_without_limits():
    scores, table, bottles = simulated(7, sessions=2, fade=-0.5)
    store = history(scores, table, bottles, reference="house").store
    assert np.isneginf(store["low"]).all()
    assert not store["holds"].any()
    text = history(scores, table, bottles, reference="house").to_dict()
    assert json.dumps(text, allow_nan=False)


def test_assessors_against_the_others():
    scores, table, bottles = simulated(8)
    lifted = scores.assign(score=scores["score"] + 2.0 * (scores["assessor"] == "p0"))
    before = history(scores, table, bottles).assessors.set_index(["attribute", "assessor"])
    after = history(lifted, table, bottles).assessors.set_index(["attribute", "assessor"])
    change = after["shift"] - before["shift"]
    assert change["sweetness", "p0"] == pytest.approx(2.0)
    assert (change.drop("p0", level="assessor") < 0).all()


def test_counts_and_batches():
    scores, table, bottles = simulated(9, sessions=3)
    past = history(scores, table, bottles)
    assert past.sessions["answers"].sum() == len(scores)
    assert set(past.batches["batch"]) == {"H", "T1"}
    mean = scores.query("sample == 'kura' and attribute == 'sweetness'")["score"].mean()
    found = past.bottles.set_index(["attribute", "sample"]).loc[("sweetness", "kura"), "mean"]
    assert found == pytest.approx(mean)


def test_order_of_rows_changes_nothing():
    scores, table, bottles = simulated(10)
    one = history(scores, table, bottles, reference="house")
    other = history(
        scores.sample(frac=1, random_state=1),
        table.sample(frac=1, random_state=2),
        bottles,
        reference="house",
    )
    left = one.store.set_index("attribute")["per_month"]
    right = other.store.set_index("attribute")["per_month"]
    assert left.to_dict() == pytest.approx(right.to_dict())


def test_chart_can_be_drawn():
    scores, table, bottles = simulated(11, jump=4.0)
    figure = history(scores, table, bottles, reference="house").figure()
    assert len(figure.axes) == 2


def test_refusals():
    scores, table, bottles = simulated(12, sessions=3)
    with pytest.raises(OptionError, match="at least two"):
        history(scores, table, bottles, reference="nobody's")
    with pytest.raises(TableError, match="s02"):
        history(scores, table.head(2), bottles)
    with pytest.raises(TableError, match="date"):
        history(scores, table.drop(columns="date"), bottles)
    with pytest.raises(OptionError, match="umami"):
        history(scores, table, bottles, attributes=["umami"])


def test_what_fades_changes_and_does_not_last():
    """Two bottles, ten sessions: one moves by 0.4 a session; in bitterness nothing happens."""
    scores, table, bottles = simulated(11, sessions=10, fade=0.4)
    past = history(scores, table, bottles, reference="house")
    row = past.followed.set_index("attribute")
    assert row.loc["sweetness", "change_p_adjusted"] < 0.001
    # Slope 0.4 over ten sessions, in half of the bottles: sample x session of 0.6 to 1.2.
    assert 0.6 < row.loc["sweetness", "change_sd"] < 1.2
    assert row.loc["bitterness", "change_p_adjusted"] > 0.05
    said = {one.key: str(one) for one in past.sentences()}
    assert "changed against each other in: sweetness" in said["history.changes"]
    assert {"history.lasts", "history.lasts_not_told"} & set(said)


def test_only_the_last_sessions_stand_in_one_model():
    """`MOST` sessions and not one more; one bottle alone is not followed."""
    scores, table, bottles = simulated(12, sessions=21, people=3)
    assert history(scores, table, bottles).followed["sessions"].tolist() == [20, 20]
    alone = scores[scores["sample"] == "house"]
    assert not len(history(alone, table, bottles).followed)
