"""Days after opening through a kept reference (outside cases D1 to D15, tests/outside/conditions).

Simulated on 2026-11-26, see docs/serving.md: the chance to call unchanged what changed by the
margin, to tell a change that is none, and how often 95 % limits hold the truth.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.anova import ChangeOverDays, anova, change_over_days
from kikichoko.analysis.core.errors import NotEstimable, OptionError
from scipy import stats


def evenings(
    *, people: int = 10, drift: float = 0.0, falls: dict[int, float] | None = None, seed: int = 5,
    noise: float = 0.25,
) -> tuple[pd.DataFrame, pd.DataFrame]:  # fmt: skip
    """Draw three evenings of one bottle and its reference; what falls on a day, and the drift."""
    rng = np.random.default_rng(seed)
    rows = []
    for number, day in enumerate((1, 4, 10)):
        for who in range(people):
            level = 5 + 0.2 * who + drift * number
            for sample in ("clear", "house"):
                fallen = (falls or {}).get(day, 0.0) if sample == "clear" else 0.0
                for replicate in (1, 2):
                    score = level - fallen + rng.normal(0, noise)
                    rows.append((f"day {day}", f"T{who}", sample, replicate, score))
    scores = pd.DataFrame(rows, columns=["session", "assessor", "sample", "replicate", "score"])
    times = pd.DataFrame(
        {"session": ["day 1", "day 4", "day 10"], "sample": "clear", "series": "clear",
         "time": [1, 4, 10]}
    )  # fmt: skip
    return scores, times


def told(found) -> str:
    return " ".join(str(one) for one in found.sentences())


def test_by_hand_and_against_scipy():
    """Each change is the paired t of assessors' own distances from the reference."""
    scores, times = evenings(drift=0.7, falls={10: 1.5})
    found = change_over_days(scores, times, margin=1.0, reference="house").changes
    wide = scores.pivot_table(index="assessor", columns=["session", "sample"], values="score")
    apart = {day: wide[f"day {day}"]["clear"] - wide[f"day {day}"]["house"] for day in (1, 4, 10)}
    for _, row in found.iterrows():
        wanted = stats.ttest_rel(apart[row["time"]], apart[1])
        limits = wanted.confidence_interval(0.95)
        assert row["p"] == pytest.approx(wanted.pvalue, rel=1e-8)
        assert [row["low"], row["high"]] == pytest.approx([limits.low, limits.high], rel=1e-8)


def test_against_the_mixed_model():
    """In complete data the estimate is the model's contrast through the reference."""
    scores, times = evenings(drift=0.7, falls={10: 1.5})
    found = change_over_days(scores, times, margin=1.0, reference="house").changes
    named = scores["sample"].where(scores["sample"] == "house", "clear " + scores["session"])
    model = anova(scores.assign(sample=named), sessions="fixed", random=("assessor",))["score"]
    rows = model.contrasts({"10": {"clear day 10": 1, "clear day 1": -1}}, "none")
    assert found["change"].iloc[1] == pytest.approx(rows["difference"].iloc[0], abs=1e-8)


def test_the_panel_goes_up_and_the_bottle_does_not():
    """D1."""
    scores, times = evenings(drift=1.0)
    found = change_over_days(scores, times, margin=1.0, reference="house")
    assert found.changes["change"].abs().max() < 0.5
    assert found.changes["drift"].tolist() == pytest.approx([1.0, 2.0], abs=0.3)
    assert not found.changes["told"].any()
    assert "up to day 10 it is shown to taste as on day 1 within 1 on the scale" in told(found)


def test_until_which_day_and_from_when_on():
    """D2, D3: within on day 4, gone on day 10."""
    scores, times = evenings(falls={4: 0.1, 10: 2.0})
    found = change_over_days(scores, times, margin=1.0, reference="house")
    assert found.series["until"].tolist() == [4]
    assert found.changes["told"].tolist() == [False, True]
    assert "goes down from day 10 on" in told(found)


def test_a_day_that_is_not_shown_ends_it():
    """D4: within on day 10, not on day 4: no day is claimed, and no change that stays."""
    scores, times = evenings(falls={4: 2.0})
    found = change_over_days(scores, times, margin=1.0, reference="house")
    assert np.isnan(found.series["until"].iloc[0])
    assert found.changes["within"].tolist() == [False, True]
    assert not found.changes["told"].any()


@pytest.mark.parametrize(("wider", "within"), [(0.999, False), (1.001, True)])
def test_both_sides_of_the_margin(wider: float, within: bool):
    scores, times = evenings(falls={4: 0.1, 10: 0.1})
    near = change_over_days(scores, times, margin=9.0, reference="house").changes
    edge = float(near[["near_low", "near_high"]].abs().max(axis=None))
    found = change_over_days(scores, times, margin=edge * wider, reference="house")
    assert bool(found.changes["within"].all()) == within


def test_nothing_shown_says_how_many_it_would_take_and_no_safety():
    """D5, D9."""
    scores, times = evenings(people=4, noise=1.5)
    found = change_over_days(scores, times, margin=0.5, reference="house")
    said = told(found)
    assert "assessors or more would be needed" in said
    assert "That is not to say that it changed" in said
    assert "never says whether a bottle is safe" in said


def test_an_evening_without_the_reference_is_left_out_by_name():
    """D6."""
    scores, times = evenings()
    lost = (scores["session"] == "day 4") & (scores["sample"] == "house")
    found = change_over_days(scores[~lost], times, margin=1.0, reference="house")
    assert found.changes["time"].tolist() == [10]
    assert "in session day 4" in told(found)
    with pytest.raises(NotEstimable, match="No bottle has two days"):
        change_over_days(scores, times, margin=1.0)


def test_the_worst_attribute_decides():
    """D7."""
    calm, times = evenings()
    other, _ = evenings(falls={4: 3.0, 10: 3.0}, seed=6)
    both = pd.concat([calm.assign(attribute="acidity"), other.assign(attribute="aroma")])
    found = change_over_days(both, times, margin=1.0, reference="house")
    assert np.isnan(found.series["until"].iloc[0])
    assert found.series["worst"].iloc[0] == "aroma"
    said = told(found)
    assert "on day 4 aroma lacks most" in said
    assert found.changes["told"].any()
    assert "What is shown to change stands below." in said
    assert "That is not to say that it changed" not in said


def test_other_assessors_on_another_evening():
    """D12: only distances within one evening are used; Welch's test of them."""
    scores, times = evenings(people=12)
    first = scores["assessor"].isin([f"T{number}" for number in range(6)])
    kept = scores[
        (first & (scores["session"] == "day 1")) | (~first & (scores["session"] == "day 10"))
    ]
    found = change_over_days(kept, times, margin=1.0, reference="house").changes
    wide = kept.pivot_table(index=["session", "assessor"], columns="sample", values="score")
    apart = wide["clear"] - wide["house"]
    wanted = stats.ttest_ind(apart["day 10"], apart["day 1"], equal_var=False)
    assert found["p"].iloc[0] == pytest.approx(wanted.pvalue, rel=1e-8)


@pytest.mark.parametrize("margin", [0, -1, {"other": 1.0}])
def test_a_margin_is_asked_for(margin):
    """D13."""
    scores, times = evenings()
    with pytest.raises(OptionError, match="margin"):
        change_over_days(scores, times, margin=margin, reference="house")


def test_opened_on_three_days_and_tasted_in_one_evening():
    """D14: no reference is needed within one evening."""
    scores, _ = evenings(falls={10: 2.0})
    own = scores[scores["sample"] == "clear"]
    own = own.assign(sample=own["session"], session="one evening")
    times = pd.DataFrame(
        {"session": "one evening", "sample": ["day 1", "day 4", "day 10"], "series": "clear",
         "time": [1, 4, 10]}
    )  # fmt: skip
    found = change_over_days(own, times, margin=1.0)
    assert found.series["until"].tolist() == [4]
    assert "drift" not in told(found)


def test_what_changed_by_the_margin_is_rarely_called_unchanged():
    """D8: 2.5 % is held; of 40 draws more than 4 would be wrong by chance in 0.3 %."""
    wrong = 0
    for seed in range(40):
        scores, times = evenings(people=6, falls={4: 0.6, 10: 0.6}, seed=seed, noise=0.4)
        found = change_over_days(scores, times, margin=0.6, reference="house")
        wrong += not np.isnan(found.series["until"].iloc[0])
    assert wrong <= 4


def two_bottles(**further: object) -> ChangeOverDays:
    """Two series that share the risk: the one falls from day 4 on, the other does not."""
    calm, times = evenings(people=6)
    falling, _ = evenings(people=6, **further)
    own = falling[falling["sample"] == "clear"].assign(sample="cloudy")
    return change_over_days(
        pd.concat([calm, own]),
        pd.concat([times, times.assign(sample="cloudy", series="cloudy")]),
        margin=1.0,
        reference="house",
    )


def test_the_limits_that_decide_stand_beside_those_of_the_change_alone():
    """All printed intervals lay within the margin, and yet nothing was shown to lie in it."""
    found = two_bottles(falls={4: 0.6, 10: 0.6}, noise=0.5, seed=9)
    row = found.changes[(found.changes["series"] == "cloudy") & (found.changes["time"] == 4)]
    low, high = (f"{float(row[end].iloc[0]):+.2f}" for end in ("near_low", "near_high"))
    alone = found.changes["high"] - found.changes["low"]
    assert (found.changes["near_high"] - found.changes["near_low"] > alone).all()
    assert f"score lacks most (limits that decide: {low} to {high})" in told(found)
    assert "are those of 97.5 %: they are wider than those of 95 %" in told(found), "2 × 1.25 %"
    shown = found.tables()["days.changes"]
    heads = [one.to("en") for one in shown.columns]
    assert f"{low} to {high}" in [str(one) for one in shown.iloc[:, heads.index(
        "limits that decide")]]  # fmt: skip
    one = change_over_days(*evenings(), margin=1.0, reference="house")
    assert "limits that decide" not in told(one).lower(), "of one bottle they are those of 95 %"


def test_what_is_clear_for_itself_is_said_where_it_is_not_shown_to_change():
    """A day that stands out and a later one that does not: nothing is told to change."""
    scores, times = evenings(falls={4: 2.0})
    found = change_over_days(scores, times, margin=1.0, reference="house")
    row = found.changes.iloc[0]
    assert not found.changes["told"].any()
    clear = f"score on day 4 {row['change']:+.2f} (95 % interval {row['low']:+.2f} to "
    assert f"not shown to change (all 1 question counted, and up to the last day): {clear}" \
        in told(found)  # fmt: skip
    scores, times = evenings(falls={4: 2.0, 10: 2.0})
    told_ = told(change_over_days(scores, times, margin=1.0, reference="house"))
    assert "each for itself" not in told_, "what is told is not told twice"
    calm, times = evenings(noise=1.5)
    assert "each for itself" not in told(change_over_days(calm, times, margin=1, reference="house"))


@pytest.mark.parametrize(("fall", "said"), [(0.0, True), (4.0, False)])
def test_assessors_are_counted_only_where_nothing_may_have_changed(fall: float, said: bool):
    """More people do not show to be unchanged what is clear of 0."""
    scores, times = evenings(people=4, noise=1.5, falls={4: fall, 10: 0.0}, seed=1)
    found = change_over_days(scores, times, margin=0.5, reference="house")
    row = found.changes.iloc[0]
    assert bool(row["low"] <= 0 <= row["high"]) is said
    assert row["needed"] > row["n"]
    condition = "If score had not changed at all"
    assert (condition in told(found)) is said
    assert ("show that with a chance of 80 %" in told(found)) is said
