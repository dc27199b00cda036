"""What is said of words, and when a fault holds a bottle, on both sides of the thresholds."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd
import pytest
from kikichoko.analysis.citations import Controls, Rule, cochran, false_notes, fault_errors, faults
from kikichoko.analysis.citations.word_effects import _compare
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


@pytest.mark.parametrize(("holm", "key"), [(0.05, "cochran.pair"), (0.0501, "cochran.no_pair")])
def test_a_pair_is_told_at_five_per_cent_or_it_is_said_that_none_is(holm: float, key: str):
    found = cochran(pd.DataFrame([[1, 0, 0]] * 6))
    pairs = found.pairs.assign(holm=holm)
    said = {one.key for one in replace(found, pairs=pairs).sentences()[1:]}
    assert said == {key}
    unseen = replace(found, pairs=found.pairs.assign(holm=0.9), p=0.0501).sentences()
    assert [one.key for one in unseen] == ["cochran.not_shown"]
    assert replace(found, pairs=found.pairs.assign(holm=0.9), p=0.05).sentences()[1:] != ()


@pytest.mark.parametrize(("strong", "word"), [(2, "recheck"), (3, "hold")])
def test_a_third_holds_a_bottle_with_a_strong_fault(strong: int, word: str):
    """Three of nine are a third, two are not; half of nine would be five."""
    assert Rule(strong_share=1 / 3).decide(3, strong, 9) == word


def test_a_rate_of_false_notes_begins_at_one_in_a_hundred():
    """One in a hundred, worth 100 answers: 9 of 300 cups of one's own give 10 of 400."""
    assert false_notes().rate == 0.01
    assert false_notes(9, 300).rate == 10 / 400


def test_misses_are_told_for_faults_that_few_half_many_and_nearly_all_notice():
    assert fault_errors(8, 4, 15).missed["share"].tolist() == [0.3, 0.5, 0.7, 0.9]


@pytest.fixture(scope="module")
def noted():
    """Faults of two bottles and a clean control, four assessors."""
    rows = [
        (f"T{i}", bottle, "stale", severity)
        for bottle, row in {"A": [1, 2, 3, 1], "B": [0, 1, 0, 1], "sound": [0] * 4}.items()
        for i, severity in enumerate(row)
    ]
    table = pd.DataFrame(rows, columns=["assessor", "sample", "attribute", "score"])
    return faults(table, controls=Controls(clean=["sound"]))


@pytest.mark.parametrize(
    ("p", "shuffled", "told"), [(0.049, 0.049, True), (0.051, 0.049, False), (0.049, 0.051, False)]
)
def test_severity_differs_where_both_tests_reach_five_per_cent(noted, p, shuffled, told):
    severity = pd.DataFrame({"fault": ["stale"], "p": [p], "p_shuffled": [shuffled]})
    said = [one.key for one in replace(noted, severity=severity).sentences()]
    assert ("faults.severity_differs" in said) is told


@pytest.mark.parametrize(("holm", "key"), [(0.049, "beyond_clean"), (0.051, "none_beyond")])
def test_a_bottle_is_beyond_the_clean_control_at_five_per_cent(noted, holm: float, key: str):
    against = noted.against_clean.assign(holm=holm)
    said = replace(noted, against_clean=against).about_controls()
    assert {one.key for one in said} & {"faults.beyond_clean", "faults.none_beyond"} == {
        f"faults.{key}"
    }


@pytest.mark.parametrize(("people", "compared"), [(2, False), (3, True)])
def test_three_people_at_least_are_compared_with_themselves(people: int, compared: bool):
    who = [f"T{i}" for i in range(people)]
    with_it = pd.DataFrame({"assessor": who, "score": [5.0, 7.0, 6.0][:people]})
    without = pd.DataFrame({"assessor": who, "score": [3.0, 4.0, 2.0][:people]})
    found = _compare(with_it, without, 0.95, 2)
    assert (found is not None) is compared
