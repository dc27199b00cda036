"""When a map may be drawn and what is read off it, on both sides of the thresholds."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.core import NotEstimable
from kikichoko.analysis.maps.canonical_variates import canonical
from kikichoko.analysis.maps.map_result import Map, asked

NOISE = np.array([[2.0, 0.5], [0.5, 1.0]])


@pytest.mark.parametrize(
    ("samples", "assessors", "refused"),
    [(3, 4, None), (2, 4, "maps.few_samples"), (3, 3, "maps.few_assessors")],
)
def test_three_samples_and_four_assessors_make_a_map(samples, assessors, refused):
    if refused is None:
        asked(samples, assessors, 0.95, 100)
        return
    with pytest.raises(NotEstimable) as why:
        asked(samples, assessors, 0.95, 100)
    assert why.value.sentence.key == refused


@pytest.mark.parametrize(("p", "key"), [(0.05, "differ"), (0.0501, "not_shown")])
def test_groups_differ_at_five_per_cent(p: float, key: str):
    found = canonical(np.eye(2), NOISE, df_between=2, df_noise=10)
    assert replace(found, p=p).sentences()[0].key == f"canonical.{key}"


@pytest.mark.parametrize(
    ("noise", "df", "enough"), [(NOISE, 2, True), (NOISE, 1, False), (np.ones((2, 2)), 9, False)]
)
def test_noise_has_a_degree_of_freedom_for_each_attribute(noise, df: int, enough: bool):
    """Two attributes that scatter only together are one, whatever the degrees of freedom."""
    if enough:
        assert canonical(np.eye(2), noise, df_between=1, df_noise=df).wilks < 1
    else:
        with pytest.raises(NotEstimable):
            canonical(np.eye(2), noise, df_between=1, df_noise=df)


def drawn(p: float, *, assessors: int, apart: bool = False) -> Map:
    """Return a map of three samples with one pair, apart or not."""
    nothing = pd.DataFrame()
    pairs = pd.DataFrame(
        {"first": ["a"], "second": ["b"], "distance": [1.0], "p": [0.5], "holm": [0.5]}
    ).assign(apart=apart)
    return Map(
        kind="profile", points=nothing, arrows=nothing, ellipses=nothing, pairs=pairs, p=p,
        eigenvalues=pd.DataFrame({"dimension": [1, 2], "eigenvalue": [3.0, 1.0],
                                  "share": [0.75, 0.25]}),
        permutations=999, assessors=assessors, draws=100, seed=1, level=0.95,
    )  # fmt: skip


@pytest.mark.parametrize(("p", "real"), [(0.049, True), (0.051, False)])
def test_a_map_is_real_up_to_five_per_cent(p: float, real: bool):
    assert drawn(p, assessors=8).real is real


@pytest.mark.parametrize(
    ("assessors", "apart", "key"),
    [(5, False, "maps.pairs_could_not"), (6, False, "maps.none_apart"), (6, True, "maps.apart")],
)
def test_five_assessors_cannot_show_a_pair_and_six_can(assessors: int, apart: bool, key: str):
    """The least p of exchanging two samples is 2 / 2**n: 0.0625 for five, 0.031 for six."""
    assert drawn(0.01, assessors=assessors, apart=apart)._pairs_said().key == key
