"""Effects of crossed factors against R (tests/reference/served.R), the mixed model, and by hand.

Simulated on 2026-11-26 (15 scales, half points, interaction 0.4, scatter 0.8, widths log-SD 0.25,
499 shuffles; 200 reports a row, two standard errors are 3 points at 5 %): any false claim at all in
the designs 2 x 2 (7 assessors, 2 repeats), 2 x 2 x 2 (9, one), 3 x 2 (6, 2): see docs/serving.md.
"""

from __future__ import annotations

from itertools import product
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.anova import anova
from kikichoko.analysis.claims.claim_members import Named
from kikichoko.analysis.claims.factor_effects import EFFECTS_WEIGHT, FEWEST, crossed_effects
from kikichoko.analysis.claims.one_budget import claims
from kikichoko.analysis.core.errors import OptionError
from scipy import stats

FOLDER = Path(__file__).parents[2] / "reference"
FACTORS = ["temperature", "day", "fraction", "heat"]


@pytest.fixture(scope="module")
def panels() -> pd.DataFrame:
    return pd.read_csv(FOLDER / "served_panels.csv", comment="#")


@pytest.fixture(scope="module")
def from_r() -> pd.DataFrame:
    table = pd.read_csv(FOLDER / "served.csv", comment="#")
    return table.pivot_table(index=["panel", "effect"], columns="name", values="value")


def session(panels: pd.DataFrame, name: str) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return scores with one name a sample, and what each sample is."""
    one = panels[panels["panel"] == name]
    known = [factor for factor in FACTORS if len(set(one[factor])) > 1]
    sample = one[known].astype(str).agg(" ".join, axis=1)
    scores = one.assign(sample=sample)
    return scores, scores.drop_duplicates("sample").set_index("sample")[known]


@pytest.mark.parametrize("name", ["warm", "whole", "days"])
def test_against_r(panels: pd.DataFrame, from_r: pd.DataFrame, name: str):
    """R's aov with Error(assessor/(factors)): each effect against its own stratum."""
    scores, factors = session(panels, name)
    columns = ["assessor", "sample", "replicate", "score"]
    found = claims(scores[columns], factors=factors, shuffles=99).effects
    found = found[~found["effect"].duplicated(keep=False)].set_index("effect")  # two levels each
    whole = anova(scores[columns], factors=factors)["score"].effects
    asked = 0
    for effect, theirs in from_r.loc[name].iterrows():
        if str(effect) in found.index:
            ours = found.loc[str(effect)]
            asked += 1
            for column in ("F", "df_num", "df_den", "p"):
                assert ours[column] == pytest.approx(theirs[column], rel=1e-8)
        test = whole[str(effect)]
        got = [test.F, test.df_num, test.df_den, test.p]
        assert got == pytest.approx(theirs[["F", "df_num", "df_den", "p"]].tolist(), rel=1e-8)
    assert asked == len(found)


def test_more_levels_against_scipy(panels: pd.DataFrame):
    """Each day against the first: the t test of assessors' own differences."""
    scores, factors = session(panels, "days")
    cells = scores.groupby(["assessor", "day"])["score"].mean().reset_index()
    wide = cells.pivot_table(index="assessor", columns="day", values="score")
    found = claims(scores[["assessor", "sample", "replicate", "score"]], factors=factors).effects
    for day in (4, 10):
        wanted = stats.ttest_rel(wide[day], wide[1])
        row = found[(found["effect"] == "day") & (found["levels"] == (("1", str(day)),))].iloc[0]
        assert row["p"] == pytest.approx(wanted.pvalue, rel=1e-8)
        assert row["F"] == pytest.approx(wanted.statistic**2, rel=1e-8)


def test_a_missing_cup_against_r(panels: pd.DataFrame, from_r: pd.DataFrame):
    """lmerTest, REML, type III, Satterthwaite; its df carry an error of about 1e-6."""
    scores, factors = session(panels, "warm")
    lost = (scores["assessor"] == "T03") & (scores["sample"] == "45 cloudy")
    kept = scores[~(lost & (scores["replicate"] == 2))]
    found = anova(kept[["assessor", "sample", "replicate", "score"]], factors=factors)["score"]
    for effect, theirs in from_r.loc["hole"].iterrows():
        test = found.effects[str(effect)]
        assert pytest.approx(theirs["F"], rel=1e-4) == test.F
        assert test.df_den == pytest.approx(theirs["df_den"], rel=1e-4)
        assert test.p == pytest.approx(theirs["p"], rel=1e-4)


def drawn(warm: dict[str, float], *, people: int = 9, seed: int = 4) -> pd.DataFrame:
    """Draw scores of clear and cloudy, cold and warm; `warm` is what warming adds to each."""
    rng = np.random.default_rng(seed)
    rows = []
    for number in range(people):
        for fraction, degrees in product(("clear", "cloudy"), ("10", "45")):
            mean = 5 + warm[fraction] * (degrees == "45") + rng.normal(0, 0.3)
            rows += [
                (f"T{number}", f"{fraction} {degrees}", r, mean + rng.normal(0, 0.4))
                for r in (1, 2)
            ]
    return pd.DataFrame(rows, columns=["assessor", "sample", "replicate", "score"])


CROSS = pd.DataFrame(
    [(f, d) for f, d in product(("clear", "cloudy"), ("10", "45"))],
    index=[f"{f} {d}" for f, d in product(("clear", "cloudy"), ("10", "45"))],
    columns=["fraction", "temperature"],
)[["temperature", "fraction"]]


def test_by_hand():
    """Sizes are means of each assessor's own differences, limits their paired t."""
    scores = drawn({"clear": 0.5, "cloudy": 2.0})
    cells = scores.pivot_table(index="assessor", columns="sample", values="score")
    clear, cloudy = (cells[f"{one} 45"] - cells[f"{one} 10"] for one in ("clear", "cloudy"))
    found = claims(scores, factors=CROSS, shuffles=99).effects.set_index("effect")
    for effect, own in (("temperature", (clear + cloudy) / 2),
                        ("temperature:fraction", cloudy - clear)):  # fmt: skip
        half = 2.306004 * own.std(ddof=1) / 3  # t(8), 97.5 %, any table
        got = found.loc[effect, ["estimate", "low", "high"]].tolist()
        wanted = [own.mean(), own.mean() - half, own.mean() + half]
        assert got == pytest.approx(wanted, abs=1e-6)
    assert found["claimed"].all()
    assert found.loc["temperature", "levels"] == (("10", "45"),)


@pytest.mark.parametrize("turned", [False, True])
def test_the_sentence_goes_the_way_of_the_numbers(turned: bool):
    warm = {"clear": 2.0, "cloudy": 0.2} if turned else {"clear": 0.2, "cloudy": 2.0}
    said = [str(one) for one in claims(drawn(warm), factors=CROSS).sentences()]
    more, less = ("clear", "cloudy") if turned else ("cloudy", "clear")
    assert any("points higher with temperature 45 than with 10" in one for one in said)
    assert any(f"points more with fraction {more} than with {less}" in one for one in said)


def test_levels_keep_their_order_and_not_that_of_letters():
    days = pd.DataFrame(
        {"day": pd.Categorical(["1", "4", "10"] * 2, ["1", "4", "10"]), "f": ["a"] * 3 + ["b"] * 3}
    )
    found = crossed_effects(days)
    assert [one.levels[0] for one in found[:2]] == [("1", "4"), ("1", "10")]
    assert found[0].weights.tolist() == [-0.5, 0.5, 0, -0.5, 0.5, 0]
    assert found[-1].weights.tolist() == [1, 0, -1, -1, 0, 1]


def test_what_is_not_crossed_is_refused():
    scores = drawn({"clear": 1, "cloudy": 1})
    three = [name for name in CROSS.index if name != "clear 45"]
    with pytest.raises(OptionError, match="full cross of temperature, fraction"):
        claims(scores, factors=CROSS, samples=three)


def test_effects_weigh_two_attributes_and_more_where_named():
    scores = drawn({"clear": 1, "cloudy": 1})
    plain = claims(scores, factors=CROSS, shuffles=99).effects["weight"]
    assert plain.sum() == pytest.approx(EFFECTS_WEIGHT)
    named = [Named(kind="scale", about="score")]
    more = claims(scores, factors=CROSS, shuffles=99, named=named).effects["weight"]
    assert more.sum() == pytest.approx(10 * EFFECTS_WEIGHT)


@pytest.mark.parametrize("people", [FEWEST - 1, FEWEST])
def test_three_assessors_with_every_cup_are_needed(people: int):
    found = claims(drawn({"clear": 1, "cloudy": 1}, people=people), factors=CROSS, shuffles=99)
    assert len(found.effects) == (3 if people >= FEWEST else 0)


def test_without_factors_nothing_is_asked_and_nothing_else_changes():
    scores = drawn({"clear": 1, "cloudy": 1})
    assert claims(scores, shuffles=99).effects.empty
