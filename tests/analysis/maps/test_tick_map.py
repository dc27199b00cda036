"""The map of ticks: multiple correspondence of evaluations, ellipses over assessors."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.citations import citations
from kikichoko.analysis.core import NotEstimable
from kikichoko.analysis.maps import tick_map

CLEAR = np.array([[0.9, 0.8, 0.1, 0.1], [0.1, 0.2, 0.9, 0.1], [0.1, 0.1, 0.2, 0.9]])


def ticks(seed: int, shares: np.ndarray, n: int) -> pd.DataFrame:
    generator = np.random.default_rng(seed)
    rows = [
        (f"T{i:02}", "ABC"[j], f"w{k}", int(generator.random() < share))
        for i in range(n)
        for (j, k), share in np.ndenumerate(shares)
    ]
    return pd.DataFrame(rows, columns=["assessor", "sample", "attribute", "score"])


def evaluations(table: pd.DataFrame) -> pd.DataFrame:
    return table.pivot_table(index=["assessor", "sample"], columns="attribute", values="score")


def test_samples_stand_at_the_means_of_their_evaluations_in_prince():
    table = ticks(5, CLEAR, 12)
    found = tick_map(citations(table), draws=100)
    wide = evaluations(table).astype(int).astype(str)
    import prince

    theirs = prince.MCA(n_components=2, correction="benzecri").fit(wide)
    means = (
        theirs.row_coordinates(wide)
        .groupby(wide.index.get_level_values("sample"))
        .mean()
        .to_numpy()
    )
    mine = found.points[["dim1", "dim2"]].to_numpy()
    np.testing.assert_allclose(mine * np.sign((mine * means).sum(axis=0)), means, atol=1e-8)


def test_shares_are_benzecris():
    table = ticks(5, CLEAR, 12)
    found = tick_map(citations(table), draws=100)
    wide = evaluations(table).astype(int).astype(str)
    import prince

    theirs = prince.MCA(n_components=4, correction="benzecri").fit(wide)
    assert found.explained == pytest.approx(theirs.percentage_of_variance_[:2].sum() / 100)
    assert "Benz" in str(found)


def test_it_shows_what_is_there_and_says_so_of_noise():
    assert tick_map(citations(ticks(5, CLEAR, 12)), draws=100).p < 0.01
    noise = tick_map(citations(ticks(8, np.full((3, 4), 0.5), 10)), draws=100)
    assert noise.p > 0.05
    assert "do not read" in str(noise)


def test_refusals_and_words_that_tell_nothing():
    always = CLEAR.copy()
    always[:, 0] = 1
    assert "w0" in str(tick_map(citations(ticks(5, always, 12)), draws=100).warnings)
    always[:, 1] = 0
    with pytest.raises(NotEstimable, match="there are 2"):
        tick_map(citations(ticks(5, always, 12)))
    with pytest.raises(NotEstimable, match="4 assessors"):
        tick_map(citations(ticks(5, CLEAR, 3)))
