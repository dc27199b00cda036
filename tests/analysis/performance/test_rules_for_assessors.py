"""Rules for single assessors, on both sides of their thresholds."""

from __future__ import annotations

import tomllib
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from corpus_sessions import HERE, draw
from kikichoko.analysis.core import NotEstimable, tidy
from kikichoko.analysis.core.result import FTest
from kikichoko.analysis.core.words import Sentence
from kikichoko.analysis.performance.assessor_block import block_of
from kikichoko.analysis.performance.assessor_findings import (
    _across,
    _chosen,
    _compared,
    _findings,
    _notes,
    assessors,
    name_findings,
)
from kikichoko.analysis.performance.assessor_tests import Comparison, Verdicts, judge, noisier
from kikichoko.analysis.performance.assessors_result import _share, _times
from kikichoko.analysis.performance.scaling_model import AssessorModel, _warnings
from kikichoko.analysis.performance.shift_of_group import GroupShift, stability
from kikichoko.analysis.performance.shift_of_group import _notes as notes_on_shifts

TIDY = ["assessor", "sample", "replicate", "attribute", "score"]


def found(p: float) -> pd.DataFrame:
    """Return the findings of one assessor whose repeats scatter with this p."""
    test = Comparison("repeatability", 0, p, 2.0)
    verdicts = Verdicts(
        tests=[[test]], apart=set(), drifting=set(), limits=(1e-4, 1e-4), n_tests=1,
        smallest_scale=0.3,
    )  # fmt: skip
    return _findings(verdicts, ["A"], ["sweetness"], pd.DataFrame(), {0})


@pytest.mark.parametrize(
    ("ratio", "written"), [(9.0, "3.0"), (9_900.0, "99"), (10_300.0, "> 100"), (1e30, "> 100")]
)
def test_no_absurd_number_of_times(ratio: float, written: str):
    assert _times(ratio) == written
    for entry in ("assessors.advice_crossing", "assessors.advice_noisy"):
        said = Sentence.of(entry, assessor="T1", attribute="body", times=_times(ratio))
        assert f"{written} times" in str(said)


def test_who_shows_no_sign_of_following_is_told_limits_that_hold_0():
    """95 % limits of 0.3 to 1.8 become about 99 % ones for somebody who scatters."""
    tests = {
        "scale": Comparison("scale", -1, 0.2, 1.05, 0.3, 1.8),
        "repeatability": Comparison("repeatability", -1, 1e-6, 4.0),
    }
    kind, value, low, high, _ = name_findings(tests, {"repeatability"})[0]
    assert (kind, value) == ("guessing", 1.05)
    assert (low, high) == pytest.approx((1.05 - 1.6 * 0.75, 1.05 + 1.6 * 0.75))
    assert low <= 0 <= high


@pytest.mark.parametrize(
    ("p", "shown"), [(0.00009, [True]), (0.00011, [False]), (0.01, [False]), (0.0101, [])]
)
def test_a_finding_a_hint_and_nothing(p: float, shown: list[bool]):
    table = found(p)
    assert table["shown"].tolist() == shown
    assert table["finding"].tolist() == ["noisy"] * len(shown)


@pytest.mark.parametrize(("n", "told"), [(5, True), (6, False)])
def test_few_assessors_are_told(n: int, told: bool):
    said = _notes(pd.DataFrame(), [f"A{place}" for place in range(n)], 2, placed=True)
    assert [one.key for one in said] == (["assessors.few"] if told else [])


@pytest.mark.parametrize(
    ("people", "samples", "judged"), [(3, 3, True), (2, 3, False), (3, 2, False)]
)
def test_nobody_is_told_apart_among_fewer_than_three(people: int, samples: int, judged: bool):
    rng = np.random.default_rng(4)
    rows = [(f"A{i}", f"b{j}", k, "body", 5 + j + rng.normal())
            for i in range(people) for j in range(samples) for k in (1, 2)]  # fmt: skip
    verdicts, *_ = _compared(tidy(pd.DataFrame(rows, columns=TIDY)), ["body"], 0.05, [])
    assert (verdicts is not None) is judged


@pytest.mark.parametrize(("attributes", "told"), [(4, False), (5, True)])
def test_shifts_by_chance_are_told_from_a_quarter_on(attributes: int, told: bool):
    said = notes_on_shifts(3, attributes, 0.95)
    assert [one.key for one in said] == (["groups.many"] if told else [])


@pytest.mark.parametrize(("p", "told"), [(0.01, True), (0.0101, False)])
def test_own_scatter_is_taken_where_it_is_clearly_larger(p: float, told: bool):
    assert noisier(p) is told


@pytest.mark.parametrize(("same", "kept"), [(5, ["sweetness"]), (6, [])])
def test_an_attribute_with_more_than_half_the_same_answers_is_no_scale(same: int, kept: list[str]):
    scores = [3.0] * same + [1.5, 2.5, 4.5, 6.5, 7.5][: 10 - same]
    rows = [(f"T{i}", "ab"[i % 2], 1 + i // 2, "sweetness", one) for i, one in enumerate(scores)]
    rows += [(f"T{i}", "a", 1, "other", i / 3) for i in range(5)]
    wanted, _ = _chosen(tidy(pd.DataFrame(rows, columns=TIDY)), None)
    assert wanted == [*kept, "other"]


@pytest.mark.parametrize(("cells", "counts"), [(7, True), (6, False)])
def test_an_attribute_with_seven_tenths_of_the_answers_counts_on_the_card(cells, counts):
    every = [(f"T{i}", bottle) for i in range(5) for bottle in "ab"]
    rows = [(who, bottle, 1, "full", 1.0) for who, bottle in every]
    rows += [(who, bottle, 1, "sparse", 1.0) for who, bottle in every[:cells]]
    checked = tidy(pd.DataFrame(rows, columns=TIDY))
    used = _compared(checked, ["full", "sparse"], 0.05, [])[2]
    assert ("sparse" in used) is counts


@pytest.mark.parametrize(
    ("slope", "word"),
    [
        (0.29, "quarter"), (0.30, "third"), (0.41, "third"), (0.42, "half"), (0.58, "half"),
        (0.59, "two_thirds"), (0.70, "two_thirds"), (0.71, "most"), (0.9, "most"),
    ],
)  # fmt: skip
def test_a_part_of_the_scale_is_called_by_the_nearest_word(slope: float, word: str):
    assert _share(slope) == word


@pytest.mark.parametrize(("p", "told"), [(0.05, False), (0.051, True), (np.nan, True)])
def test_samples_not_told_apart_leave_slopes_to_guessing(p: float, told: bool):
    panel = pd.DataFrame({"attribute": ["sweetness"], "sample_p": [p]})
    said = [one.key for one in _notes(panel, list("ABCDEF"), 2, placed=True)]
    assert ("assessors.same_samples" in said) is told
    rows, means = pd.DataFrame({"session": ["1"]}), pd.DataFrame({"a": [1.0]})
    said = [one.key for one in _warnings(rows, means, np.ones(1), np.ones(1), p)]
    assert ("assessor_model.slopes_guess" in said) is told


@pytest.mark.parametrize(("p", "shown"), [(0.049, "shown"), (0.051, "not_shown")])
def test_a_test_of_the_scaling_model_is_shown_below_alpha(p: float, shown: str):
    model = SimpleNamespace(attribute="sweetness")
    said = AssessorModel._said(model, "scaling", FTest(2.0, 3, 9, p, "rest"), 0.05)
    assert said.key == f"assessor_model.scaling_{shown}"


@pytest.mark.parametrize(
    ("turned", "named"),
    [
        ("abcd", {"whole card", *"abcd"}), ("abc", {"whole card", *"abc"}),
        ("ab", set("ab")), ("a", set("a")),
    ],
)  # fmt: skip
def test_the_whole_card_is_reversed_from_three_quarters_of_it(turned: str, named: set[str]):
    rng = np.random.default_rng(5)
    rows = [
        (f"T{i}", f"b{j}", k, name, 5 + way * (j - 2) * size + rng.normal(0, 0.4))
        for i in range(7)
        for j in range(5)
        for k in (1, 2)
        for name, size in zip("abcd", (2, 0.8, 0.8, 0.8), strict=True)
        for way in (-1 if i == 6 and name in turned else 1,)
    ]
    found = assessors(pd.DataFrame(rows, columns=TIDY))
    shown = found.findings[found.findings["shown"]]
    assert set(shown["assessor"]) == {"T6"}
    assert set(shown["finding"]) == {"reversed"}
    assert set(shown["attribute"]) == named
    said = " ".join(str(line) for line in found.advice("T6"))
    assert ("the whole card" in said) is ("whole card" in named)


@pytest.mark.parametrize("p", [1e-6, 0.3])
def test_what_the_whole_card_showed_is_told_of_the_attribute_that_bears_it(p: float):
    """Nothing shown is lost: b alone shows too little, yet the card's slope is below 0 by it."""
    tests = [
        Comparison("scale", -1, p, -0.8, -1.2, -0.4),
        Comparison("scale", 0, 0.9, 1.1, 0.2, 2.0),
        Comparison("scale", 1, 0.2, -1.4, -4.0, 1.2),
        Comparison("scale", 2, 0.8, -0.1, -2.0, 1.8),
    ]
    verdicts = Verdicts(
        tests=[tests], apart=set(), drifting=set(), limits=(1e-4, 1e-4), n_tests=4,
        smallest_scale=0.3,
    )  # fmt: skip
    table = _findings(verdicts, ["A"], ["a", "b", "c"], pd.DataFrame(), {0, 1, 2})
    told = table[["attribute", "finding", "value", "p", "shown"]].to_numpy().tolist()
    assert told == ([["b", "reversed", -1.4, p, True]] if p < 1e-4 else [])


def test_who_takes_one_word_the_other_way_is_told_of_it_alone():
    """The outsider's session s23: T7 "is against the others in smoothness only"."""
    text = (HERE / "sealed" / "corpus.toml").read_text("utf-8")
    recipe = next(one for one in tomllib.loads(text)["session"] if one["id"].startswith("s23"))
    cells = draw(recipe)[-1]
    rows = [(who, what, k, name, score) for (who, what, k, name), score in cells.items()]
    found = assessors(pd.DataFrame(rows, columns=TIDY), alpha=0.002)
    shown = found.findings[found.findings["shown"]]
    assert shown[["assessor", "attribute", "finding"]].to_numpy().tolist() == [
        ["T7", "smoothness", "reversed"]
    ]


def card(way: dict[str, float], noise: float = 0.4) -> pd.DataFrame:
    """Seven assessors; the last follows each attribute by its slope and scatters so much."""
    rng = np.random.default_rng(5)
    rows = [
        (f"T{i}", f"b{j}", k, name, 5 + slope * (j - 2) * size + rng.normal(0, scatter))
        for i in range(7)
        for j in range(5)
        for k in (1, 2)
        for name, size in zip("abcd", (2, 0.8, 0.8, 0.8), strict=True)
        for slope, scatter in ((way[name], noise) if i == 6 else (1.0, 0.4),)
    ]
    return pd.DataFrame(rows, columns=TIDY)


def shown_of(table: pd.DataFrame) -> set[tuple[str, str]]:
    found = assessors(table).findings
    found = found[found["shown"] & (found["assessor"] == "T6")]
    return {(str(one.attribute), str(one.finding)) for one in found.itertuples()}


def test_who_does_not_follow_one_attribute_is_told_of_it_alone():
    """a is wide: its slope of 0 makes the card's about 0.4, with b, c and d followed well."""
    assert shown_of(card({"a": 0.0, "b": 1.0, "c": 1.0, "d": 1.0})) == {("a", "guessing")}


def test_who_follows_nothing_is_told_of_the_whole_card():
    told = shown_of(card(dict.fromkeys("abcd", 0.0), 1.0))
    assert ("whole card", "guessing") in told


def test_who_follows_with_great_scatter_does_not_repeat_and_is_not_said_to_guess():
    told = shown_of(card(dict.fromkeys("abcd", 0.9), 4.0))
    assert ("whole card", "noisy") in told
    assert ("whole card", "guessing") not in told


@pytest.mark.parametrize(
    ("slopes", "kind", "whole"),
    [
        ((0.49, 0.49, 0.49, 2), "guessing", True), ((0.49, 0.49, 0.51, 2), "guessing", False),
        ((-0.1, -0.1, -0.1, 2), "reversed", True), ((-0.1, -0.1, 0.1, 2), "reversed", False),
    ],
)  # fmt: skip
def test_three_quarters_of_the_attributes_that_tell_bear_the_whole_card(slopes, kind, whole):
    tests = [Comparison("scale", n, 0.5, float(slope)) for n, slope in enumerate(slopes)]
    assert _across(tests, {0, 1, 2, 3}, kind) is whole
    assert _across(tests, {0, 1}, kind)  # the others set no samples apart


def test_three_assessors_stay_in_the_reference_whoever_else_is_off():
    """Of four, D leaves, who scores the wrong way round; C, who stretches the scale, stays."""
    rng = np.random.default_rng(1)
    slopes = {"A": 1.0, "B": 1.0, "C": 1.5, "D": -1.0}
    rows = [
        (who, f"b{j:02d}", r, "sweetness", 5 + slope * (j - 7.5) + 0.2 * rng.normal())
        for who, slope in slopes.items()
        for j in range(16)
        for r in (1, 2)
    ]
    checked = tidy(pd.DataFrame(rows, columns=TIDY))
    block, people, _ = block_of(checked.data, ["sweetness"])
    assert len(people) == 4
    assert len(judge(block, 0.05).apart) == 1


@pytest.mark.parametrize(("people", "refused"), [(3, True), (4, False)])
def test_one_can_be_left_out_of_four(people: int, refused: bool):
    rng = np.random.default_rng(2)
    rows = [(f"T{i}", b, 1, "sweetness", rng.normal()) for i in range(people) for b in "ab"]
    table = pd.DataFrame(rows, columns=TIDY)
    if refused:
        with pytest.raises(NotEstimable) as why:
            stability(table)
        assert why.value.sentence.key == "groups.no_stability"
    else:
        assert len(stability(table).table) == 1


@pytest.mark.parametrize(("p", "usual"), [(0.051, True), (0.049, False)])
def test_a_shift_is_usual_where_the_others_scatter_as_much(p: float, usual: bool):
    row = {"attribute": "sweetness", "shift": 1.0, "low": 0.4, "high": 1.6, "outside_p": p}
    found = SimpleNamespace(label="the maker", level=0.95, table=pd.DataFrame([row]))
    said = GroupShift.sentences(found)
    assert [one.key for one in said] == ["groups.above" + ("_usual" if usual else "")]
