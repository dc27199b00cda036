"""Named against blind scores: published values, R, another library, enumeration, simulation."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.core.errors import NotEstimable, OptionError
from kikichoko.analysis.profile import open_against_blind
from scipy import stats

# Student (1908), Biometrika 6:1-25, section IX: hours of sleep gained by 10 patients with two
# optical isomers (data of Cushny and Peebles 1905, as R holds them in `sleep`).
SLEEP_1 = (0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0)
SLEEP_2 = (1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4)


def long(rows, attribute="quality"):
    table = pd.DataFrame(rows, columns=["assessor", "sample", "replicate", "score"])
    return table.assign(attribute=attribute)


def flight(scores, replicate=1):
    """Write scores as rows: from assessor to scores by bottle."""
    return [
        (who, f"b{place}", replicate, score)
        for who, own in scores.items()
        for place, score in enumerate(own)
    ]


@pytest.mark.parametrize("unit", ["assessors", "bottles"])
def test_against_student_1908(unit):
    """Mean 1.58 in the paper; limits 0.70 and 2.46 as R's t.test prints them for `sleep`."""
    if unit == "assessors":
        blind, named = (
            long(flight({f"p{place}": [score] for place, score in enumerate(sleep)}))
            for sleep in (SLEEP_1, SLEEP_2)
        )
    else:
        blind, named = (long(flight({"p": sleep})) for sleep in (SLEEP_1, SLEEP_2))
    found = open_against_blind(blind, named, {"all": sorted(set(blind["assessor"]))})
    (row,) = found.table.to_dict("records")
    assert (row["unit"], row["n"], row["df"], row["pairs"]) == (unit, 10, 9, 10)
    assert row["difference"] == pytest.approx(1.58, abs=1e-12)
    # R 4: t.test(extra ~ group, data = sleep, paired = TRUE), -2.4598858 -0.7001142
    assert found.interval("all", "quality")[:2] == pytest.approx((0.7001142, 2.4598858), abs=5e-8)


def panel(rng, people=6, bottles=3, replicates=2, spread=0.6):
    level = rng.normal(0, 1, people)
    own = rng.normal(0.4, spread, people)
    cell = rng.normal(0, 0.7, (people, bottles))
    blind = [
        row
        for replicate in range(1, replicates + 1)
        for row in flight(
            {f"a{who}": 5 + level[who] + cell[who] + rng.normal(0, 0.8, bottles)
             for who in range(people)},
            replicate,
        )
    ]  # fmt: skip
    named = flight({f"a{who}": 5 + level[who] + cell[who] + own[who] + rng.normal(0, 0.8, bottles)
                    for who in range(people)})  # fmt: skip
    return long(blind), long(named)


def test_against_scipy_with_replicates_and_holes():
    blind, named = panel(np.random.default_rng(5))
    named = named.drop(index=[4])
    found = open_against_blind(blind, named, {"all": [f"a{who}" for who in range(6)]})
    means = blind.groupby(["assessor", "sample"])["score"].mean()
    both = named.set_index(["assessor", "sample"])["score"].sub(means).dropna()
    own = both.groupby("assessor").mean()
    theirs = stats.ttest_1samp(own, 0).confidence_interval(0.95)
    assert found.interval("all", "quality")[:2] == pytest.approx(tuple(theirs), abs=1e-12)
    assert (found.unpaired, int(found.table["pairs"].iloc[0])) == (1, 17)


def test_against_a_mixed_model():
    """Assessors random, balanced: the fixed effect and its standard error are those of means."""
    import statsmodels.formula.api as smf

    blind, named = panel(np.random.default_rng(8), people=8, spread=2.0)
    found = open_against_blind(blind, named, {"all": [f"a{who}" for who in range(8)]})
    fitted = smf.mixedlm("difference ~ 1", found.pairs, groups="assessor").fit(reml=True)
    assert float(fitted.cov_re.iloc[0, 0]) > 0.01, "not on the boundary, where they part"
    row = found.table.iloc[0]
    assert row["difference"] == pytest.approx(fitted.fe_params["Intercept"], abs=1e-6)
    assert row["sd"] / np.sqrt(row["n"]) == pytest.approx(fitted.bse_fe["Intercept"], rel=1e-3)


def test_against_r():
    """t.test and lmer: tests/reference/open_flight.R says versions and models.

    In the balanced panels the limits of the mixed model with random assessors agree to 1e-5:
    lmerTest differentiates numerically.
    """
    folder = Path(__file__).parents[2] / "reference"
    theirs = pd.read_csv(folder / "open_flight.csv", comment="#")
    panels = pd.read_csv(folder / "open_flight_panels.csv", comment="#").assign(attribute="quality")
    assert theirs["method"].value_counts().to_dict() == {"t.test": 32, "lmer": 8}
    for number, rows in theirs.groupby("panel"):
        own = panels[panels["panel"] == number].drop(columns="panel")
        blind, named = (own[own["flight"] == one] for one in ("blind", "open"))
        groups = {"T1": ["T1"], "everybody": sorted(set(own["assessor"]))}
        found = open_against_blind(
            blind.drop(columns="flight"), named.drop(columns="flight"), groups
        ).table.set_index("group")
        for row in rows.itertuples():
            ours = found.loc[row.who, ["n", "difference", "low", "high"]].tolist()
            exact = 1e-9 if row.method == "t.test" else 1e-5
            assert ours == pytest.approx([row.n, row.difference, row.low, row.high], rel=exact)


def test_by_hand():
    """O21 and O23: 1, 2, 4 over three bottles; two blind replicates are averaged."""
    named = long(flight({"M": (7, 7, 9)}))
    once = open_against_blind(long(flight({"M": (6, 5, 5)})), named, {"maker": ["M"]})
    # mean 7/3, sd sqrt(7/3), t(0.975, 2) = 4.303 (tables of Student's t)
    reach = 4.303 * np.sqrt(7 / 3) / np.sqrt(3)
    assert once.interval("maker", "quality")[:2] == pytest.approx(
        (7 / 3 - reach, 7 / 3 + reach), abs=1e-3
    )
    twice = long(flight({"M": (5, 4, 4)}) + flight({"M": (7, 6, 6)}, 2))
    again = open_against_blind(twice, named, {"maker": ["M"]})
    assert again.table.drop(columns="group").equals(once.table.drop(columns="group"))


def test_people_are_the_units_of_a_group_and_not_their_pairs():
    """O28: two people with three bottles each are two, with one degree of freedom."""
    blind = long(flight({"A": (5, 5, 5), "B": (5, 5, 5)}))
    named = long(flight({"A": (6, 7, 8), "B": (8, 9, 10)}))
    found = open_against_blind(blind, named, {"two": ["A", "B"], "one": ["A"]})
    two, one = found.table.to_dict("records")
    assert (two["unit"], two["n"], two["df"], two["pairs"]) == ("assessors", 2, 1, 6)
    assert (one["unit"], one["n"], one["df"], one["pairs"]) == ("bottles", 3, 2, 3)
    # means 2 and 4, t(0.975, 1) = 12.706: 3 -+ 12.706
    assert (two["low"], two["high"]) == pytest.approx((3 - 12.706, 3 + 12.706), abs=1e-3)


@pytest.mark.parametrize(
    ("blind", "named", "key"),
    [
        ((6,), (7,), "moved_once"),
        ((6, 5), (6, 5), "alike_bottles"),
        ((6, 5), (7, 6), "alike_bottles"),
        ((6, 5), (7, 6.5), "moved_bottles"),
    ],
)
def test_limits_are_given_only_where_there_is_an_error_to_judge_by(blind, named, key):
    """O26, O27: on both sides of one pair and of pairs that all moved alike."""
    found = open_against_blind(
        long(flight({"M": blind})), long(flight({"M": named})), {"maker": ["M"]}
    )
    (row,) = found.table.to_dict("records")
    assert np.isnan(row["low"]) == (key != "moved_bottles")
    (said,) = found.sentences()
    assert said.key == f"named_scores.{key}"
    assert found.to_dict()["table"][0]["low"] == (None if np.isnan(row["low"]) else row["low"])


def test_who_only_tasted_blind_is_in_no_pair():
    blind = long(flight({"M": (6, 5, 5), "C": (4, 4, 4)}))
    found = open_against_blind(
        blind, long(flight({"M": (7, 7, 9)})), {"everybody": ["M", "C"], "likers": ["C"]}
    )
    assert found.blind_only == ("C",)
    assert found.table["group"].tolist() == ["everybody"]
    assert found.unpaired == 0


def test_refusals():
    blind = long(flight({"M": (6, 5, 5)}))
    with pytest.raises(NotEstimable, match="both blind and with its name told"):
        open_against_blind(blind, long(flight({"N": (6, 5, 5)})), {"all": ["M", "N"]})
    with pytest.raises(OptionError, match="no group"):
        open_against_blind(blind, blind, {})
    with pytest.raises(OptionError):
        open_against_blind(blind, blind, {"all": ["M"]}, level=1.0)


@pytest.mark.parametrize("step", [0.0, 0.5])
@pytest.mark.parametrize(("people", "group"), [(2, "one"), (2, "all"), (3, "all"), (6, "all")])
def test_names_that_do_nothing_move_nothing(people, group, step):
    """O30: two replicates blind and one named of three bottles, on a line of ten.

    1,500 panels each; at 95 % the Monte-Carlo error is 0.6 points. Marks to the half point leave
    panels that all moved alike, which have no limits: with two people the others hold 0 in 98 %.
    """
    rng = np.random.default_rng([people, group == "one", 8])
    runs, bottles = 1500, 3
    truth = 5 + rng.normal(0, 1, (runs, people, 1)) + rng.normal(0, 1, (runs, people, bottles))
    marks = [truth + rng.normal(0, 1.0, truth.shape) for _ in range(3)]
    if step:
        marks = [np.clip(np.round(one / step) * step, 0, 10) for one in marks]
    names = [f"r{run}" for run in range(runs)]  # a run is an attribute: all in one table
    index = pd.MultiIndex.from_product(
        [names, [f"a{who}" for who in range(people)], [f"b{b}" for b in range(bottles)]],
        names=["attribute", "assessor", "sample"],
    )
    tables = [
        pd.DataFrame({"score": one.ravel()}, index=index).reset_index().assign(replicate=number)
        for number, one in enumerate(marks, start=1)
    ]
    members = ["a0"] if group == "one" else [f"a{who}" for who in range(people)]
    named = tables[2].assign(replicate=1)
    found = open_against_blind(pd.concat(tables[:2]), named, {"all": members}).table
    limited = found.dropna(subset=["low"])
    assert (len(found), len(limited)) == (runs, runs) or (step and len(limited) > 0.93 * runs)
    held = float(((limited["low"] <= 0) & (limited["high"] >= 0)).mean())
    assert 0.93 <= held <= (0.97 if not step else 0.99)
