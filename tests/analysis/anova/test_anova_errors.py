"""Refusals and warnings of `anova` in words, and what its result says."""

from __future__ import annotations

import json

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.anova import anova
from kikichoko.analysis.core import AnalysisError, NotEstimable, OptionError, TableError, tidy


def table(
    scores: dict[str, list[float | None]], samples: tuple[str, ...] = ("free-run", "cloudy")
) -> pd.DataFrame:
    """One row an assessor, one score a sample."""
    return pd.DataFrame(
        [
            {"assessor": who, "sample": what, "score": score}
            for who, given in scores.items()
            for what, score in zip(samples, given, strict=True)
        ]
    )


THREE = {"A": [3, 5], "B": [4, 7], "C": [2, 3]}


def noisy(seed: int = 1, **sizes: int) -> pd.DataFrame:
    rng = np.random.default_rng(seed)
    shape = (sizes.get("assessors", 6), sizes.get("samples", 4), sizes.get("replicates", 2))
    i, j, k = (part.ravel() for part in np.indices(shape))
    return pd.DataFrame(
        {
            "assessor": [f"T{n}" for n in i],
            "sample": [f"S{n}" for n in j],
            "replicate": k + 1,
            "score": rng.normal(size=i.size) + rng.normal(size=shape[0])[i],
        }
    )


# ------------------------------------------------------------------ refusals


def test_one_assessor():
    with pytest.raises(NotEstimable, match=r"one assessor only \(A\).*Ask at least one more"):
        anova(table({"A": [3, 5]}))


def test_one_sample():
    with pytest.raises(NotEstimable, match=r"one sample only \(free-run\)"):
        anova(table({"A": [3], "B": [4]}, samples=("free-run",)))


def test_constant_attribute():
    with pytest.raises(NotEstimable, match="'score' is 4 in every row"):
        anova(table({"A": [4, 4], "B": [4, 4], "C": [4, 4]}))


def test_samples_without_a_common_assessor():
    four = ("w", "x", "y", "z")
    scores = {
        "A": [3, 5, None, None],
        "B": [4, 7, None, None],
        "C": [None, None, 2, 3],
        "D": [None, None, 4, 6],
    }
    with pytest.raises(NotEstimable, match="both groups, w, x and y, z"):
        anova(table(scores, samples=four))


def test_no_error_to_judge_by():
    """All assessors differ by the same amount: F would be infinite."""
    with pytest.raises(NotEstimable, match="exactly the same amount"):
        anova(table({"A": [3, 5], "B": [4, 6], "C": [1, 3]}))


def test_no_error_to_judge_by_with_holes():
    scores = {"A": [3, 5, 6], "B": [4, 6, None], "C": [1, 3, 4], "D": [None, 4, 5]}
    with pytest.raises(NotEstimable, match="exactly the same amount"):
        anova(table(scores, samples=("x", "y", "z")))


def test_no_error_within_samples():
    """All assessors say the same: nothing is left over at all."""
    with pytest.raises(NotEstimable, match="exactly the same amount"):
        anova(table({"A": [3, 5], "B": [3, 5], "C": [3, None], "D": [None, 5]}))


def test_text_in_scores():
    with pytest.raises(TableError, match=r"Row 2, column 'score': 'strong' is not a number"):
        anova(table({"A": [3, "strong"], "B": [4, 7]}))  # type: ignore[list-item]


def test_duplicate_rows():
    twice = pd.concat([table(THREE), table({"A": [3, 5]})])
    with pytest.raises(TableError, match="assessor A answered 'score' for sample free-run"):
        anova(twice)


def test_empty_combination_of_factors():
    levels = {
        "S0": {"fraction": "clear", "pasteurised": "no"},
        "S1": {"fraction": "clear", "pasteurised": "yes"},
        "S2": {"fraction": "cloudy", "pasteurised": "no"},
    }
    with pytest.raises(NotEstimable, match="No sample for cloudy × yes"):
        anova(noisy(samples=3), factors=levels)


@pytest.mark.parametrize(
    ("levels", "message"),
    [
        ({"S0": {"f": "a"}, "S1": {"f": "b"}}, "lack samples S2"),
        ({f"S{i}": {"f": "a"} for i in range(3)}, "same level 'a' for all samples"),
        ({f"S{i}": {"f": [None, "a", "b"][i]} for i in range(3)}, "no level for samples S0"),
        ({f"S{i}": {"session": i} for i in range(3)}, "cannot be called session"),
    ],
)
def test_factors_that_do_not_fit(levels: dict, message: str):
    with pytest.raises(OptionError, match=message):
        anova(noisy(samples=3), factors=levels)


def test_factors_twice():
    levels = pd.DataFrame({"sample": ["S0", "S0", "S1", "S2"], "f": list("abab")})
    with pytest.raises(OptionError, match="samples S0 more than once"):
        anova(noisy(samples=3), factors=levels)


def test_position_that_is_always_the_same():
    served = noisy().assign(position=lambda t: t["sample"].str[1:].astype(int) + 1)
    with pytest.raises(NotEstimable, match="effects position cannot be told from the samples"):
        anova(served, position="each")


def test_no_positions():
    with pytest.raises(OptionError, match="no positions"):
        anova(noisy(), position="linear")
    with pytest.raises(OptionError, match="no positions"):
        anova(noisy(), carry_over=True)


def test_rows_without_position_are_told():
    rng = np.random.default_rng(1)
    served = noisy()
    served["session"] = served["replicate"].astype(str)
    order = served.groupby(["assessor", "session"])["score"].transform(
        lambda part: rng.permutation(len(part)) + 1
    )
    served["position"] = order.where(order.index != 5)
    found = anova(served, position="linear")
    assert found.dropped["reason"].to_list() == ["no position"]
    assert "1 row was left out: no position (1)." in [str(s) for s in found.sentences()]
    assert found["score"].n_scores == 47


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"df": "residual"}, "df"),
        ({"boundary": "zero"}, "boundary"),
        ({"sessions": "nested"}, "sessions"),
        ({"position": "cubic"}, "position"),
        ({"level": 95}, "0.95"),
        ({"attributes": ["sweet"]}, "sweet"),
        ({"reference": "tap water"}, "tap water"),
        ({"random": ["assessor", "judge"]}, "'judge' is not known"),
        ({"random": ["assessor", "sample"]}, "'sample' cannot be random"),
        ({"random": []}, "hold no assessors"),
    ],
)
def test_options(options: dict, message: str):
    with pytest.raises(OptionError, match=message):
        anova(noisy(), **options)


def test_random_terms_that_cannot_be_told_apart():
    with pytest.raises(OptionError, match="one score a level"):
        anova(noisy(replicates=1), random=["assessor", "assessor:sample"])
    with pytest.raises(OptionError, match=r"as the mean does|as assessor does"):
        anova(noisy(), random=["assessor", "assessor:session"])


def test_no_scores_at_all():
    with pytest.raises(NotEstimable, match="no scores"):
        anova(table({"A": [None, None], "B": [None, None]}))


def test_one_bad_attribute_does_not_stop_the_others():
    good, bad = table(THREE).assign(attribute="umami"), table(THREE).assign(attribute="haze")
    bad["score"] = 2.0
    found = anova(pd.concat([good, bad]))
    assert list(found.attributes) == ["umami"]
    assert list(found.refused) == ["haze"]
    assert "'haze' is 2 in every row" in str(found)
    with pytest.raises(NotEstimable, match="'haze' is 2"):
        found["haze"]
    with pytest.raises(OptionError, match="no attribute 'sweet'"):
        found["sweet"]
    with pytest.raises(OptionError, match="no effect 'fraction'"):
        found.tests("fraction")
    bad["score"] = [1.0, 2.0, 2.0, 3.0, 3.0, 4.0]
    worse = pd.concat([bad, bad.assign(attribute="gas", score=1.0)])
    with pytest.raises(NotEstimable, match=r"None of the 2 attributes(.|\n)*haze(.|\n)*gas"):
        anova(worse)


# ------------------------------------------------------------------ warnings


def keys(found: object) -> list[str]:
    return [warning.key for warning in found.warnings]  # type: ignore[attr-defined]


def test_few_assessors_are_told():
    found = anova(table(THREE))
    assert keys(found) == ["anova.few"]
    assert "Only 3 assessors" in str(found.warnings[0])


def test_sessions_taken_as_replicates_are_told():
    data = noisy().assign(session=lambda t: t["replicate"])
    found = anova(data)
    assert keys(found) == ["anova.pooled"]
    assert keys(anova(data, sessions="random")) == []


def test_identical_replicates_count_once():
    one = noisy(replicates=1)
    one = one[one.index != 3]
    twice = pd.concat([one, one.assign(replicate=2)])
    found = anova(twice)["score"]
    alone = anova(one)["score"]
    assert found.sample[:4] == pytest.approx(alone.sample[:4])
    assert keys(found) == ["anova.identical_replicates"]


def test_a_sample_nobody_scored_in_one_attribute_is_told():
    data = noisy()
    other = data.assign(attribute="umami")
    other.loc[other["sample"] == "S2", "score"] = np.nan
    other.loc[other["assessor"] == "T1", "score"] = np.nan
    found = anova(pd.concat([data.assign(attribute="sweet"), other]), reference="S2")
    assert keys(found["umami"]) == [
        "anova.no_reference",
        "anova.absent_samples",
        "anova.absent_assessors",
    ]
    assert found["umami"].samples == ("S0", "S1", "S3")
    assert found["umami"].sample.df_num == 2
    assert found["umami"].n_assessors == 5
    assert "anova.against" in found.tables()


def test_boundary_is_told_with_the_value():
    rng = np.random.default_rng(5)
    data = noisy()
    cell = data.groupby(["assessor", "sample"])["score"].transform("mean")
    data["score"] += 0.6 * (data["sample"] == "S3") - 0.55 * cell + 0.01 * rng.normal(size=48)
    design, drop = anova(data)["score"], anova(data, boundary="drop")["score"]
    assert keys(design) == ["anova.below_zero"]
    assert design.sample.df_den == pytest.approx(15)
    assert f"({design.estimates['assessor:sample']:.3g})" in str(design.warnings[0])
    assert keys(drop) == ["anova.held"]
    assert drop.sample.df_den > 30
    roger = anova(data, boundary="drop", df="kenward-roger")["score"]
    assert keys(roger) == ["anova.held_fallback"]
    assert roger.sample.df_den == pytest.approx(15)


# ------------------------------------------------------------------ what it says


def test_sentences_never_outrun_the_number():
    told = anova(table({"A": [3, 6], "B": [4, 7.5], "C": [2, 4], "D": [3, 6.5]}))["score"]
    assert "The samples differ in score (F(1, 3) = " in str(told.sentences()[0])
    assert "cloudy is 3.00 points above free-run, 95 % interval" in str(told.sentences()[0])
    untold = anova(table({"A": [3, 5], "B": [4, 3], "C": [2, 3], "D": [3, 2]}))["score"]
    said = str(untold.sentences()[0])
    assert said.startswith("Whether the samples differ in score could not be told")
    low, high = untold.widest()[3][:2]
    assert low < 0 < high
    assert "no difference" not in said
    assert "do not differ" not in said


def test_an_f_test_without_a_pair_says_so():
    """Fisher's test and Tukey's pairs may disagree; then no pair is claimed."""
    for seed in range(400):
        rng = np.random.default_rng(seed)
        data = noisy(seed, replicates=1)
        data["score"] = rng.normal(size=24) + 0.6 * (data["sample"] < "S2")
        one = anova(data)["score"]
        if one.sample.p < 0.05 and one.differences["p"].min() >= 0.05:
            assert "no single pair stands out" in str(one.sentences()[0])
            assert set(one.letters()["letters"]) == {"a"}
            return
    pytest.fail("no such panel among 400")


def test_json_has_the_stable_keys():
    found = anova(noisy(), reference="S1").to_dict()
    text = json.dumps(found, allow_nan=False)
    assert json.loads(text) == found
    one = found["attributes"]["score"]
    assert list(one["sample"]) == ["F", "df_num", "df_den", "p"]
    assert {"assessor", "assessor:sample", "residual"} <= set(one["components"])
    assert list(one["means"][0]) == ["sample", "mean", "se", "df", "low", "high"]
    assert {"sample", "against", "difference", "low", "high", "p"} <= set(one["differences"][0])
    assert {"method", "warnings", "sentences"} <= set(one)
    assert len(one["against"]) == 3
    unreplicated = anova(noisy(replicates=1)).to_dict()["attributes"]["score"]
    assert unreplicated["components"]["assessor:sample"] is None


def test_across_attributes_allows_for_their_number():
    many = pd.concat(
        [noisy(seed).assign(attribute=f"attribute {seed}") for seed in range(6)],
        ignore_index=True,
    )
    found = anova(many)
    tests = found.tests()
    assert (tests["p_holm"] >= tests["p_bh"] - 1e-12).all()
    assert (tests["p_bh"] >= tests["p"] - 1e-12).all()
    assert any("Allowing for 6 attributes" in str(sentence) for sentence in found.sentences())


def test_panel_sd_is_that_of_single_scores():
    one = anova(noisy())["score"]
    parts = [value for value in one.components.values() if not np.isnan(value)]
    assert one.panel_sd == pytest.approx(np.sqrt(sum(parts)))


def test_copies_are_handed_out():
    one = anova(noisy())["score"]
    pairs = one.differences
    pairs["p"] = 7.0
    assert (one.differences["p"] < 1.1).all()


def test_tidy_and_table_give_the_same():
    data = noisy()
    assert anova(tidy(data))["score"].sample == anova(data)["score"].sample


@pytest.mark.parametrize("seed", range(40))
def test_any_table_gives_numbers_or_words(seed: int):
    """Small random tables and options: a whole result or a refusal, never a crash or a nan."""
    rng = np.random.default_rng(seed)
    shape = tuple(int(rng.integers(2, high)) for high in (7, 5, 4))
    i, j, k = (part.ravel() for part in np.indices(shape))
    score = rng.normal(size=i.size) + rng.normal(size=shape[0])[i]
    kind = seed % 4
    if kind == 1:
        score = np.round(score)
    elif kind == 2:
        score = (score > 0).astype(float)
    elif kind == 3:
        score = rng.integers(0, 2, size=shape[:2])[i, j].astype(float)
    data = pd.DataFrame(
        {
            "assessor": [f"T{n}" for n in i],
            "sample": [f"S{n}" for n in j],
            "replicate": k + 1,
            "session": k + 1 if rng.random() < 0.5 else rng.integers(1, 4, size=i.size),
            "position": rng.integers(1, 6, size=i.size),
            "score": score,
        }
    )[rng.random(i.size) >= rng.choice([0, 0.1, 0.4])]
    options = {
        "df": str(rng.choice(["satterthwaite", "kenward-roger"])),
        "boundary": str(rng.choice(["design", "drop"])),
        "sessions": str(rng.choice(["pooled", "fixed", "random"])),
        "position": [None, None, "linear", "each"][rng.integers(4)],
        "carry_over": bool(rng.random() < 0.2),
    }
    try:
        found = anova(data, **options)
    except AnalysisError:
        return
    one = found["score"]
    numbers = [*one.sample[:4], *one.means[["se", "df"]].to_numpy().ravel()]
    numbers += one.differences[["se", "df", "p", "low", "high"]].to_numpy().ravel().tolist()
    assert np.isfinite(numbers).all()
    assert one.sample.df_den > 0
    assert 0 <= one.sample.p <= 1
    assert (one.means["se"] > 0).all()
    json.dumps(found.to_dict(), allow_nan=False)
    assert "nan" not in str(found.sentences()[0])


def test_a_saturated_design_is_refused_for_the_true_reason():
    """12 scores of 6 assessors, 2 x 2, none repeated: an error of 1e-9 degrees of freedom before.

    With one factor less the same scores leave an error.
    """
    rng = np.random.default_rng(3)
    pairs = [(0, 1), (2, 3), (0, 2), (1, 3), (0, 3), (1, 2)]
    rows = [(f"T{i}", f"b{j}", rng.normal()) for i, own in enumerate(pairs) for j in own]
    scores = pd.DataFrame(rows, columns=["assessor", "sample", "score"])
    names = [f"b{j}" for j in range(4)]
    factors = pd.DataFrame({"press": list("aabb"), "heat": list("rprp")}, index=names)
    with pytest.raises(NotEstimable, match="12 scores are no more than the samples and assessor"):
        anova(scores, factors=factors)
    assert anova(scores).attributes["score"].tests
