"""What is said of words, and when a fault holds a bottle, on both sides of the thresholds."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd
import pytest
from kikichoko.analysis.citations import Rule, cochran
from scipy.stats import binom


@pytest.mark.parametrize(
    ("p", "least", "key"),
    [(0.05, 0.05, "differ"), (0.0501, 0.05, "not_shown"), (0.0501, 0.0501, "too_few")],
)
def test_a_word_differs_at_five_per_cent(p: float, least: float, key: str):
    found = cochran(pd.DataFrame([[1, 0, 0]] * 6))
    assert found.sentences()[0].key == "cochran.differ"
    assert replace(found, p=p, p_least=least).sentences()[0].key == f"cochran.{key}"


@pytest.mark.parametrize(
    ("k", "strong", "word"), [(1, 1, "hint"), (2, 1, "recheck"), (2, 2, "hold")]
)
def test_a_bottle_is_held_by_two_assessors_however_low_the_shares(k: int, strong: int, word: str):
    """A rule whose shares one assessor of eight reaches still asks for a second one."""
    rule = Rule(hold_share=0.5, strong_share=0.125)
    assert rule.decide(k, strong, 8) == word
    assert rule.needed(8) == 2


@pytest.mark.parametrize(("k", "word"), [(1, "hint"), (2, "hold")])
def test_half_of_two_assessors_is_one_and_not_enough(k: int, word: str):
    assert Rule().decide(k, 0, 2) == word


@pytest.mark.parametrize(("n", "word"), [(4, "open"), (5, "pass")])
def test_silence_passes_a_bottle_from_five_assessors_on(n: int, word: str):
    assert Rule().decide(0, 0, n) == word


@pytest.mark.parametrize(("again_from", "word"), [(2, "recheck"), (3, "hint")])
def test_notes_from_which_a_bottle_is_tasted_again(again_from: int, word: str):
    assert Rule(recheck_from=again_from).decide(1, 0, 9, cups=2) == word


@pytest.mark.parametrize(("kinds", "notes"), [(20, 2), (30, 3), (60, 3)])
def test_the_rule_is_fitted_to_one_false_flag_in_five_sessions(kinds: int, notes: int):
    """16 cups, rate 0.01: two notes flag 0.20, 0.28, 0.48 of sessions of 20, 30, 60 kinds."""
    flagged = {m: 1 - binom.cdf(m - 1, 16, 0.01) ** kinds for m in (2, 3)}
    assert (flagged[2] <= 0.2) == (notes == 2)
    assert flagged[3] <= 0.2
    assert Rule().fitted(16, kinds, 0.01).recheck_from == notes
    assert Rule(most_false=flagged[2] + 1e-9).fitted(16, kinds, 0.01).recheck_from == 2
    assert Rule(most_false=flagged[2] - 1e-9).fitted(16, kinds, 0.01).recheck_from == 3
