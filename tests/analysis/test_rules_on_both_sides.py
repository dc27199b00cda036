"""Thresholds of the statistics that readers act on, each on both sides."""

from __future__ import annotations

from dataclasses import replace
from math import ceil

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.agreement import (
    concordance_correlation,
    kappa_of_counts,
    krippendorff_alpha,
)
from kikichoko.analysis.chemistry.blending import Part, blend
from kikichoko.analysis.chemistry.taste_indices import fitted_range, rich_class, sweet_class
from kikichoko.analysis.citations import citations
from kikichoko.analysis.citations.word_agreement import words_agree
from kikichoko.analysis.core.result import Result
from kikichoko.analysis.link.what_is_estimable import _wanted
from kikichoko.analysis.ordinal import ordinal, ordinal_model
from kikichoko.analysis.performance import Prior, small_panel
from kikichoko.analysis.power import assessors_for, supply
from kikichoko.analysis.profile.dominance_over_time import least
from kikichoko.analysis.teaching.spiked_cups import _learned
from kikichoko.analysis.teaching.student_findings import together
from kikichoko.analysis.teaching.student_tests import WHOLE_CARD
from kikichoko.analysis.teaching.student_tests import Test as StudentTest
from scipy.stats import binom


def scores(assessors: int, samples: int, cells: int | None = None, seed: int = 1) -> pd.DataFrame:
    """Return scores of a panel; of the last sample only so many assessors' where told."""
    rng = np.random.default_rng(seed)
    rows = [
        (f"T{i:02d}", f"b{j:02d}", "body", round(5 + j + i / 3 + rng.normal(), 1))
        for i in range(assessors)
        for j in range(samples)
        if cells is None or j < samples - 1 or i < cells
    ]
    return pd.DataFrame(rows, columns=["assessor", "sample", "attribute", "score"])


@pytest.mark.parametrize(
    ("name", "low", "high"),
    [
        ("abv", 14.0, 17.5),  # typical values of sake on sale: common practice, no source
        ("meter_value", -4.0, 9.0),
        ("acidity", 1.1, 2.1),
        ("amino_acidity", 0.8, 1.7),
        ("glucose", 0.5, 4.2),
        ("polishing_ratio", 40.0, 70.0),
    ],
)
def test_the_next_bottle_lies_at_the_far_end_of_what_is_typical(name: str, low: float, high: float):
    step = (high - low) / 20
    for near, far in ((low, high), (high, low)):
        inward = 1 if near == low else -1
        values = near + inward * step * np.array([[1.0], [2.0], [3.0]])
        proposed = _wanted(values, [name], needed=1)
        assert proposed[name].tolist() == [pytest.approx(far)]


@pytest.mark.parametrize(
    ("test", "cups"),
    # presentations: AAB ABB …: three cups of two samples, each as often the odd one
    [("triangle", 1.5), ("duo-trio", 1.5), ("paired", 1.0), ("3-afc", 2.0), ("tetrad", 2.0),
     ("two-out-of-five", 2.5)],
)  # fmt: skip
def test_cups_of_one_sample_a_presentation(test: str, cups: float):
    size = assessors_for(test, alpha=0.2, beta=0.5, pd=0.5)
    ml = 30 * ceil(cups * size.n)
    assert supply(size, bottles=1, bottle_ml=ml, pour_ml=30).most == size.n
    assert supply(size, bottles=1, bottle_ml=ml - 30, pour_ml=30).most < size.n


RISKS = [(0.05, True), (0.051, False)]
"""p, and whether it holds at a risk of 5 %."""


def keys(result: Result) -> set[str]:
    """Return the keys of all sentences of a result."""
    return {one.key for one in result.sentences()}


@pytest.mark.parametrize(("p", "held"), RISKS)
def test_steps_differ_where_both_p_values_are_at_five_per_cent(p: float, held: bool):
    found = ordinal(scores(6, 2).round({"score": 0}), shuffles=99)
    tests = found.tests.assign(p=0.01)
    assert ("ordinal.differ" in keys(replace(found, tests=tests, p_shuffled=p))) is held
    assert ("ordinal.differ" in keys(replace(found, tests=tests.assign(p=p), p_shuffled=0.01))) is (
        held
    )


def cautions(result: Result) -> set[str]:
    return {one.key for one in result.warnings}


@pytest.mark.parametrize(("n", "told"), [(29, True), (30, False)])
def test_limits_of_kappa_from_few_samples_are_said_to_be_narrow(n: int, told: bool):
    counts = [[10, 3], [4, n - 17]]
    assert ("agreement.kappa_small" in cautions(kappa_of_counts(counts))) is told


@pytest.mark.parametrize(("n", "told"), [(9, True), (10, False)])
def test_limits_of_lin_from_few_samples_are_said_to_be_rough(n: int, told: bool):
    first = np.arange(n) + 0.5 * (np.arange(n) % 3)
    found = concordance_correlation(first, np.arange(n))
    assert ("agreement.lin_small" in cautions(found)) is told


@pytest.mark.parametrize(("n", "told"), [(19, True), (20, False)])
def test_limits_of_alpha_from_few_samples_are_said_to_be_narrow(n: int, told: bool):
    table = np.arange(n)[:, None] % 7 + np.arange(3)[None] * (np.arange(n)[:, None] % 2)
    found = krippendorff_alpha(table.astype(float), resamples=200)
    assert ("agreement.few_samples" in cautions(found)) is told


@pytest.mark.parametrize(("n", "limits"), [(3, False), (4, True)])
def test_agreement_on_a_word_has_limits_from_four_assessors_on(n: int, limits: bool):
    rows = [(f"T{i}", f"b{j}", "pear", int((i + j) % 3 == 0 or j == 0))
            for i in range(n) for j in range(4)]  # fmt: skip
    table = pd.DataFrame(rows, columns=["assessor", "sample", "attribute", "score"])
    found = words_agree(citations(table))
    assert found.table["low"].notna().any() == limits
    assert ("words_agree.no_limits" in cautions(found)) is not limits


def test_one_more_bottle_is_proposed_where_it_narrows_by_a_tenth():
    """By hand: the width of a slope goes with the root of the sum of squares of x."""
    low, high = 1.1, 2.1
    told = []
    for n in range(4, 16):
        x = np.linspace(low, high, n)
        more = np.append(x, high)
        gain = np.sqrt(((more - more.mean()) ** 2).sum() / ((x - x.mean()) ** 2).sum())
        proposed = _wanted(x[:, None], ["acidity"], needed=0)
        assert bool(len(proposed)) is bool(gain > 1 / 0.9)
        told.append(len(proposed))
    assert any(told)
    assert not all(told)


@pytest.mark.parametrize(("n", "told"), [(2, True), (3, False)])
def test_a_category_with_fewer_than_three_answers_is_rare(n: int, told: bool):
    values = [1.0] * n + [2.0] * 8 + [3.0] * (12 - 8 - n + 2)
    rows = [(f"T{k % 7}", f"b{k // 7}", "body", value) for k, value in enumerate(values)]
    table = pd.DataFrame(rows, columns=["assessor", "sample", "attribute", "score"])
    found = ordinal(table, shuffles=99)
    rare = [dict(one.values)["categories"] for one in found.warnings if one.key == "ordinal.rare"]
    assert any("1" in one for one in rare) is told


@pytest.mark.parametrize("told", [True, False])
def test_assessors_too_far_apart_swamp_the_rest(monkeypatch: pytest.MonkeyPatch, told: bool):
    """The limit is set a little below, and a little above, what these scores give."""
    table = scores(6, 2).round({"score": 0})
    spread = float(ordinal(table, random="assessor", shuffles=99).spread["sd"].max())
    monkeypatch.setattr(ordinal_model, "SWAMPED", spread * (0.99 if told else 1.01))
    assert ("ordinal.swamped" in cautions(ordinal(table, random="assessor", shuffles=99))) is told


@pytest.mark.parametrize(("n", "told"), [(5, False), (6, True)])
def test_six_assessors_need_no_stated_prior(n: int, told: bool):
    found = small_panel(scores(n, 3), prior=Prior(1.0, 0.8, 0.6))
    assert ("small_panel.enough" in cautions(found)) is told


def test_a_larger_risk_of_missing_is_offered_below_one_half():
    size = assessors_for("triangle", alpha=0.05, beta=0.2, pd=0.3)
    offered = []
    for most in range(10, 60, 3):
        least_right = next(k for k in range(most + 2) if binom.sf(k - 1, most, 1 / 3) <= 0.05)
        missed = binom.cdf(least_right - 1, most, 1 / 3 + 2 / 3 * 0.3)
        ways = supply(size, bottle_ml=ceil(1.5 * most), pour_ml=1.0).choices
        told = "size.give_beta" in {what.key for what in ways["give_up"]}
        assert told is bool(0.2 < missed < 0.5), most
        offered.append(told)
    assert any(offered)
    assert not all(offered)


@pytest.mark.parametrize(("n", "normal"), [(20, False), (21, True)])
def test_the_formula_of_dominance_is_for_more_than_five_of_each(n: int, normal: bool):
    """Of two attributes each is chosen in n / 2: n times 1/4 must exceed 5 (n p (1 - p))."""
    assert least(n, 2).normal is normal


@pytest.mark.parametrize(("part", "goes"), [(0.26, True), (0.24, False)])
def test_an_attribute_goes_with_the_card_from_a_quarter_on(part: float, goes: bool):
    whole = StudentTest("level", WHOLE_CARD, 0.001, 2.0)
    each = {k: {"level": StudentTest("level", k, 0.5, 2.0 * part)} for k in range(4)}
    assert together(whole, each) is goes


@pytest.mark.parametrize(
    ("early", "late", "key"),
    [(2, 3, "learned"), (3, 4, "halves"), (1, 2, "halves")],
)
def test_a_fault_is_learned_where_half_was_missed_and_more_than_half_is_noticed(
    early: int, late: int, key: str
):
    """Four cups in each of four sessions, the same in both of a half."""
    hits = {"1": early, "2": early, "3": late, "4": late}
    rows = [(session, "stale", "right" if cup < n else "missed")
            for session, n in hits.items() for cup in range(4)]  # fmt: skip
    spiked = [dict(zip(("session", "truth", "outcome"), row, strict=True)) for row in rows]
    (said,) = _learned(spiked)
    assert said.key == f"teaching.spikes_{key}"


@pytest.mark.parametrize(
    ("index", "sweet", "rich"),
    [
        (-1.01, "dry", "light"), (-1.0, "dry", "slightly light"), (-0.8, "dry", "slightly rich"),
        (-0.6, "dry", "rich"), (-0.2, "slightly dry", "rich"), (0.0, "slightly sweet", "rich"),
        (0.2, "sweet", "rich"),
    ],
)  # fmt: skip
def test_words_for_the_indices_at_their_cuts(index: float, sweet: str, rich: str):
    """Common practice, no source."""
    assert (str(sweet_class(index)), str(rich_class(index))) == (sweet, rich)


def test_alcohol_is_outside_where_it_shifts_the_index_by_a_step_of_a_titration():
    """1.16 a mL of acid (Sato and others, 1974), a step of 0.1 mL: 0.116."""
    from kikichoko.analysis.chemistry.taste_indices import alcohol_shift

    told = []
    for abv in np.arange(10.0, 22.0, 0.5):
        inside = fitted_range(3.0, 1.5, float(abv)).inside
        assert inside is bool(abs(alcohol_shift(3.0, float(abv))) <= 0.116)
        told.append(inside)
    assert any(told)
    assert not all(told)


@pytest.mark.parametrize(("apart", "told"), [(0.05, True), (0.049, False)])
def test_an_average_of_meter_values_is_told_where_it_reads_otherwise(apart: float, told: bool):
    made = blend([Part(1.0, 2.0, 16.0, name="a"), Part(1.0, 4.0, 17.0, name="b")])
    found = replace(made, meter_value=0.0, averaged_meter_value=apart)
    assert ("blending.averaged" in keys(found)) is told
