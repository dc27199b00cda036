"""What is said of ranks, on both sides of alpha; up to how many samples p is exact."""

from __future__ import annotations

from types import SimpleNamespace

import pandas as pd
import pytest
from kikichoko.analysis.ranking.exact_rank_sums import trend_tail
from kikichoko.analysis.ranking.page_trend import Trend
from kikichoko.analysis.ranking.rank_table import verdict_said


@pytest.mark.parametrize(
    ("p", "pair", "keys"),
    [
        (0.05, 0.05, ["shown", "pairs"]),
        (0.05, 0.0501, ["shown", "no_pair"]),
        (0.0501, 0.01, ["not_shown"]),
    ],
)
def test_samples_differ_in_rank_at_alpha_and_only_then_pairs(p: float, pair: float, keys):
    pairs = pd.DataFrame(
        {"sample": ["a"], "other": ["b"], "difference": [3.0], "p_familywise": [pair]}
    )
    assert [one.key for one in verdict_said(p, pairs, 0.05)] == [f"ranks.{key}" for key in keys]


@pytest.mark.parametrize(("p", "key"), [(0.05, "shown"), (0.0501, "not_shown")])
def test_an_expected_order_is_shown_at_alpha(p: float, key: str):
    found = SimpleNamespace(
        p=p, alpha=0.05, attribute="body", order="abc", assessors=9, l=99.0, method="exact"
    )
    assert Trend.sentences(found)[0].key == f"rank_order.{key}"


@pytest.mark.parametrize(("samples", "exact"), [(8, True), (9, False)])
def test_page_is_exact_up_to_eight_samples(samples: int, exact: bool):
    row = [2 * place for place in range(1, samples + 1)]
    assert (trend_tail([row], 0) is not None) is exact
