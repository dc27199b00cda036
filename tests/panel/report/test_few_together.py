"""What a report of few assessors says of people together and of bottles, on both sides of rules."""

from __future__ import annotations

import sys
from dataclasses import replace
from itertools import product
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

sys.path.insert(0, str(Path(__file__).parents[3] / "benchmarks"))
import few_crossed
from kikichoko.analysis.power.power_of_tests import assessors_for_scores
from kikichoko.panel.few import bottles, crossed, directions, tasters, together
from kikichoko.panel.few.contrasts import Contrast
from kikichoko.panel.few.side_by_side import rows
from kikichoko.panel.few.statements import statements
from kikichoko.panel.findings.all_statements import findings_of_tables
from kikichoko.panel.findings.evidence import Evidence
from kikichoko.panel.session.bottles import Bottle

NAMES = ("sweetness", "acidity", "bitterness", "umami", "astringency", "body")


def session(marks, *, scatter=0.0, roles=None, known=None) -> Evidence:
    """Return a session of marks[attribute][assessor] = one mark a bottle; a, b, c ...

    With `scatter` there are two tastings, so far above and below.
    """
    table = pd.DataFrame(
        [
            (who, bottle, n, name, mark + (2 * n - 3) * scatter)
            for name, own in marks.items()
            for who, line in own.items()
            for bottle, mark in zip("abcd", line, strict=False)
            for n in ((1, 2) if scatter else (1,))
        ],
        columns=["assessor", "sample", "replicate", "attribute", "score"],
    )
    return findings_of_tables(table, assessors=roles, bottles=known).evidence


def keys(evidence: Evidence) -> list[str]:
    return [one.sentence.key.partition(".")[2] for one in statements(evidence)]


def text(evidence: Evidence, key: str) -> str:
    found = [
        str(one.sentence) for one in statements(evidence) if one.sentence.key.endswith(f".{key}")
    ]
    return found[0] if found else ""


def six(first, second) -> dict:
    return {name: {"T1": first, "T2": second} for name in NAMES}


def test_a_correlation_is_that_of_numpy_with_levels_set_aside():
    rng = np.random.default_rng(5)
    marks = {name: {who: rng.integers(1, 9, 3).tolist() for who in ("T1", "T2")} for name in NAMES}
    centred = [
        np.concatenate([np.array(own[who]) - np.mean(own[who]) for own in marks.values()])
        for who in ("T1", "T2")
    ]
    found = together.correlations(session(marks))
    assert found == {"T1": pytest.approx(np.corrcoef(*centred)[0, 1])}


@pytest.mark.parametrize(("names", "told"), [(4, True), (3, False)])
def test_a_correlation_takes_twelve_marks_of_each(names: int, told: bool):
    marks = {name: {"T1": [3, 5, 4], "T2": [4, 5, 3]} for name in NAMES[:names]}
    assert ("correlated" in keys(session(marks))) is told


@pytest.mark.parametrize(("apart", "key"), [(3.0, "beyond_all"), (1.0, "beyond_none")])
def test_what_lies_beyond_everybodys_own_scatter(apart: float, key: str):
    """Each pair of tastings lies 1.2 apart, on 24 degrees of freedom: the limit is 1.75."""
    evidence = session(six([4, 4, 4, 4 + apart], [5, 5, 5, 5 + apart]), scatter=0.6)
    assert key in keys(evidence)
    reach = 2.0639 * np.sqrt(2 * 0.6**2)  # Student's t from tables; means of two tastings
    assert bool(together.beyond_all(evidence)) is bool(apart >= reach)


def test_what_one_alone_sets_apart_beyond_own_scatter():
    marks = six([4, 4, 4, 4], [5, 5, 5, 5]) | {"texture": {"T1": [4, 4, 4, 8], "T2": [5, 5, 5, 5]}}
    evidence = session(marks, scatter=0.6)
    assert together.beyond_person(evidence) == {"T1": ["texture"]}
    assert "for one alone: T1 in texture" in text(evidence, "beyond_person")


@pytest.mark.parametrize(("other", "told"), [(0.5, True), (1.0, False)])
def test_what_rests_on_one_of_two_by_four_fifths_of_the_differences(other: float, told: bool):
    marks = {"texture": {"T1": [4, 5, 7], "T2": [5, 5, 5 + other]}}
    assert together.alone(session(marks)) == ({"T1": ["texture"]} if told else {})


@pytest.mark.parametrize(("sweet", "told"), [(4.0, True), (4.5, False)])
def test_answers_on_sweet_and_dry_that_do_not_fit_bear_no_advice(sweet: float, told: bool):
    """a is too sweet and b too dry to both; a is less sweet by a point, or by half of one."""
    marks = {
        "sweetness_balance": {"T1": [1, -1], "T2": [1, -1]},
        "sweetness": {"T1": [sweet, 5], "T2": [sweet, 5]},
    }
    evidence = session(marks)
    assert ("misfit" in keys(evidence)) is told
    assert ("taste_sweet" in keys(evidence)) is not told
    assert bottles.off(evidence, "a")[0] == ("" if told else "sweet")


@pytest.mark.parametrize(("lead", "told"), [(1.0, True), (0.5, False)])
def test_a_bottle_is_described_by_what_everybody_puts_a_point_higher(lead: float, told: bool):
    evidence = session({"texture": {"T1": [4, 4, 4 + lead], "T2": [5, 5, 5 + lead]}})
    assert bottles.own_of(evidence, "c") == (["texture"] if told else [])
    said = "May be described by (often chance alone): c texture. Nothing marked speaks against c."
    assert text(evidence, "label") == (said if told else "")
    assert text(evidence, "nothing_own").startswith("a, b: " if told else "a, b, c: ")
    assert "First ask about faults; then" in text(evidence, "nothing_own")  # this one asks none


@pytest.mark.parametrize(("dry", "free"), [(2, True), (3, False)])
def test_nothing_speaks_against_a_bottle_only_where_no_more_than_half_is_on_one_side(dry, free):
    """So many of four sheets say that c is too dry and none too sweet, which the page tells."""
    answers = [-1.0] * dry + [0.0] * (4 - dry)
    tasted = list(product(("T1", "T2"), (1, 2)))
    rows = [
        (who, bottle, n, name, mark)
        for (who, n), answer in zip(tasted, answers, strict=True)
        for bottle in "abc"
        for name, mark in (
            ("texture", 7.0 if bottle == "c" else 4.0),
            ("sweetness_balance", answer if bottle == "c" else 0.0),
        )
    ]
    columns = ["assessor", "sample", "replicate", "attribute", "score"]
    evidence = findings_of_tables(pd.DataFrame(rows, columns=columns)).evidence
    assert f"c too dry on {dry} of 4 sheets" in text(evidence, "brewed")
    told = text(evidence, "label") + text(evidence, "label_sure")
    assert "c texture" in told
    assert ("Nothing marked speaks against c." in told) is free


@pytest.mark.parametrize(("lead", "told"), [(5.0, "label_sure"), (4.0, "label")])
def test_what_is_surely_higher_is_not_called_chance_in_the_same_report(lead: float, told: str):
    """By five points for both it is surely so (0.968, 0.965); by four (0.948) not yet."""
    marks = {"T1": [3, 3.5, 3.5 + lead], "T2": [3, 3.5, 3.5 + lead]}
    evidence = session({"sweetness": marks})
    others = {(one.high, one.low) for one in directions.sure(evidence)}
    assert ({("c", "a"), ("c", "b")} <= others) is (told == "label_sure")
    assert [key for key in keys(evidence) if key.startswith("label")] == [told]
    said = text(evidence, told)
    assert ("chance" in said) is (told == "label")
    assert said.endswith("c sweetness. Nothing marked speaks against c.")


def test_a_bottle_that_stands_out_by_less_than_a_point_has_no_word_for_a_label():
    """It is in the column of what stands out for both: so it is not said to have nothing."""
    evidence = session({"texture": {"T1": [4, 4, 4.5], "T2": [5, 5, 5.5]}})
    assert bottles.shared(evidence, "c", 1)
    (told,) = [
        one.sentence for one in statements(evidence) if one.sentence.key.endswith("nothing_own")
    ]
    assert "no word for a label" in str(told)
    assert "ラベルに書ける独自の言葉はなく" in told.to("ja")


@pytest.mark.parametrize(
    ("marks", "en", "ja"),
    [
        ("quality", "T1 likes the style: that quality is partly taste;", "好みが混じる。"),
        ("texture", "T1 likes the style; the marks go the way of T2 in ", "を好む。"),
    ],
)
def test_quality_is_partly_taste_only_where_it_was_asked(marks: str, en: str, ja: str):
    evidence = session(
        {marks: {"T1": [4, 5, 6], "T2": [5, 6, 7]}, "body": {"T1": [4, 5, 6], "T2": [5, 6, 7]}}
    )
    people = tuple(
        replace(one, style="likes" if one.code == "T1" else "") for one in evidence.people
    )
    (told,) = tasters._style(replace(evidence, people=people))
    assert str(told.sentence).startswith(en)
    assert ("総合評価" in told.sentence.to("ja")) is (marks == "quality")
    assert ja in told.sentence.to("ja")


@pytest.mark.parametrize(("style", "how"), [("dislikes", "parted"), ("", "split")])
def test_a_split_over_quality_holds_a_bottle_where_it_may_be_style(style: str, how: str):
    evidence = session({"quality": {"T1": [5, 5, 8], "T2": [6, 6, 3]}})
    people = tuple(replace(one, style=style) for one in evidence.people)
    other = replace(evidence, people=people)
    assert bottles.parted_on(other, "c")
    assert [found for found, _ in bottles.tasted(other, "c")] == [how]


def of_tank(*forms: tuple[str, str], acidity=None) -> list[Bottle]:
    return [
        Bottle(name=name, use="sample", fraction=fraction, tank="T1", pasteurised=heated,
               acidity=own)
        for name, (fraction, heated), own in zip("abcd", forms, acidity or [None] * 4, strict=False)
    ]  # fmt: skip


@pytest.mark.parametrize(("heated", "other"), [("1", "b"), ("0", "a drier one")])
def test_a_blend_names_the_drier_bottle_that_is_as_often_pasteurised(heated: str, other: str):
    known = of_tank(("cloudy", "1"), ("clear", heated))
    marks = {
        "sweetness_balance": {"T1": [1, 0], "T2": [2, 0]},
        "sweetness": {"T1": [7, 4], "T2": [7, 5]},
    }
    assert f"a fifth of {other};" in text(session(marks, known=known), "taste_sweet")


@pytest.mark.parametrize(
    ("k", "told"), [(1, True), (0, False)]
)  # one of four sheets; half at most, and a quarter at least
def test_no_ground_to_brew_otherwise_where_a_quarter_finds_so(k: int, told: bool):
    table = pd.DataFrame(
        [(who, "a", n, "sweetness_balance", float(who == "T1" and n <= k))
         for who, n in product(("T1", "T2"), (1, 2))]
        + [(who, "b", n, "sweetness_balance", 0.0) for who, n in product(("T1", "T2"), (1, 2))],
        columns=["assessor", "sample", "replicate", "attribute", "score"],
    )  # fmt: skip
    found = text(findings_of_tables(table).evidence, "brewed")
    assert found == ("a too sweet on 1 of 4 sheets: too few to brew otherwise." if told else "")


@pytest.mark.parametrize(
    ("measured", "key"),
    [((1.5, 1.5, 1.7), "acidity_with"), ((1.7, 1.5, 1.5), "acidity_against"),
     ((1.5, 1.5, 1.5), "acidity_alike"), ((1.5, 1.7, 1.7), "")],
)  # fmt: skip
def test_the_most_acid_to_everybody_is_held_against_what_was_measured(measured, key):
    known = of_tank(("a", "1"), ("b", "1"), ("c", "1"), acidity=measured)
    marks = {"acidity": {"T1": [4, 5, 7], "T2": [5, 4, 6]}}
    said = [one for one in keys(session(marks, known=known)) if one.startswith("acidity")]
    assert said == ([key] if key else [])


@pytest.mark.parametrize(("names", "told"), [(3, True), (4, False)])
def test_the_closest_two_are_named_up_to_three_attributes(names: int, told: bool):
    marks = {name: {"T1": [3, 4, 8], "T2": [3, 4, 8]} for name in NAMES[:names]}
    assert ("closest" in keys(session(marks))) is told


@pytest.mark.parametrize(
    ("second", "key"), [([6, 4, 5], "price_first"), ([4, 6, 3], "price_last"), ([3, 6, 5], "")]
)
def test_first_or_last_in_quality_for_everybody_is_a_lead(second, key: str):
    said = keys(session({"quality": {"T1": [7, 5, 4], "T2": second}}))
    assert [one for one in said if one in ("price_first", "price_last")] == ([key] if key else [])


def test_how_many_find_a_whole_point_is_the_planned_number_and_is_left_where_a_step_settles():
    plain = session(six([5, 5, 6], [5, 6, 5]))
    n = assessors_for_scores(
        1.0, samples=3, interaction=directions.middle_taste(plain).error_sd ** 2, residual=0.0
    )
    assert f"about {n} assessors" in text(plain, "needed")
    assert "needed" not in keys(session(six([3, 3, 7], [3, 3, 7]) | {
        "texture": {"T1": [3, 3, 7.5], "T2": [3, 3.5, 7]}}))  # fmt: skip


def test_a_consumer_who_marks_what_is_in_the_glass_is_advised_to_practise():
    marks = {"texture": {"T1": [3, 4], "T2": [4, 3]}}
    assert "consumers" in keys(session(marks, roles={"T2": "consumer"}))
    assert "consumers" not in keys(session(marks))


CROSS = (("clear", "0"), ("clear", "1"), ("cloudy", "0"), ("cloudy", "1"))


def of_crossing(*gaps: float) -> Evidence:
    """Return three people's marks; each puts both cloudy bottles so far above the clear ones."""
    marks = {"texture": {f"T{n}": [n, n, n + gap, n + gap] for n, gap in enumerate(gaps, 1)}}
    return session(marks, scatter=0.25, known=of_tank(*CROSS))


@pytest.mark.parametrize(("gaps", "sure"), [((6.0,) * 3, True), ((2.0, 1.0, -1.0), False)])
def test_what_is_crossed_is_sure_under_the_bar_of_the_report(gaps, sure: bool):
    evidence = of_crossing(*gaps)
    found = [(one.high, pair.attribute) for one, pair in crossed.sure(evidence)]
    assert found == ([("cloudy", "texture")] if sure else [])
    said = [str(one.sentence) for one in statements(evidence) if one.kind == "claim"]
    assert any("higher in cloudy than in clear" in one for one in said) is sure
    assert "follows" not in keys(evidence)  # what is crossed is said once
    # One attribute, three gaps of bottles and two things: 5 comparisons, the bar is 0.95.
    pair = directions.of_contrast(evidence, "texture", crossed.contrasts(evidence)[0])
    assert pair.risk == pytest.approx(1 - pair.above)


def test_a_contrast_of_one_pair_is_that_pair():
    evidence = of_crossing(2.0, 3.0, 1.0)
    pair = directions.widest(evidence, "texture")
    one = Contrast(factor="fraction", high="x", low="y", pairs=((pair.high, pair.low),))
    found = directions.of_contrast(evidence, "texture", one)
    assert (found.raw, found.least, found.most, found.above) == pytest.approx(
        (pair.raw, pair.least, pair.most, pair.above)
    )


def test_reports_on_the_same_liquid_say_surely_of_what_is_crossed_in_at_most_five_of_a_hundred():
    """A sample of ``benchmarks/few_crossed.py``."""
    any_, *_, one_way = few_crossed.surely((3, 2, 4, 1.0, 0.5, 0.5), 40, np.random.default_rng(20))
    assert any_ <= 0.15  # 5 of 100 in truth give more than 6 of 40 in 1 of 100
    assert 0.15 < one_way < 0.35  # by chance 1 of 4, as the page says


def test_whole_rows_alone_are_read():
    evidence = session({"texture": {"T1": [3, 4, np.nan], "T2": [4, 3, 5]}})
    assert not rows(evidence)[0].whole
    assert together.alone(evidence) == {}


@pytest.mark.parametrize(("off", "told"), [(0.1, False), (-0.1, True)])
def test_from_where_on_is_sure_is_told_beside_no_open_difference_as_wide(
    off: float, told: bool, monkeypatch: pytest.MonkeyPatch
):
    evidence = session(six([4, 4, 5], [5, 4.5, 6]))
    widest = max(one.raw for one in directions.pairs(evidence) if not one.sure)
    monkeypatch.setattr(directions, "smallest_sure", lambda _: widest - off)
    assert ("found_from" in keys(evidence)) is told


def test_beside_an_interval_stands_the_estimate_that_it_belongs_to():
    evidence = session({"sweetness": {"T1": [3, 4, 6], "T2": [4, 4, 6]}})
    (pair,) = directions.open_pairs(evidence)
    panel = directions.panels(evidence)["sweetness"].differences.iloc[0]
    assert (pair.raw, pair.mean) == (2.5, pytest.approx(float(panel["mean"])))
    assert pair.least < pair.mean < pair.most
    told = f"c above a by 2.5 (marks), {pair.mean:.1f} (estimate; 95 % interval "
    assert told in text(evidence, "unsettled")


def test_what_lies_beyond_own_scatter_is_counted_by_lines_too():
    evidence = session(six([4, 4, 4, 7], [5, 5, 5, 8]) | {
        "texture": {"T1": [4, 4, 4, 4], "T2": [5, 5, 5, 5]}}, scatter=0.6)  # fmt: skip
    told = text(evidence, "beyond_all")
    assert "2 more (6 of 7 lines; of 42 comparisons 1 in 20" in told


@pytest.mark.parametrize(("b", "beside"), [(4.0, ["a", "b"]), (5.0, ["a"])])
def test_a_label_says_beside_which_bottles_it_is_sure(b: float, beside: list[str]):
    """c lies surely above a (0.97) either way, above b by four points (0.956), not by three."""
    marks = {"T1": [2, b, 8], "T2": [2, b, 8]}
    evidence = session({"sweetness": marks})
    assert {one.low for one in directions.sure(evidence) if one.high == "c"} == set(beside)
    alone = " (sure against a only)" if len(beside) == 1 else ""
    assert f"by: c sweetness{alone}." in text(evidence, "label_sure")
    assert "chance" not in text(evidence, "label_sure")
    assert not text(evidence, "label")


@pytest.mark.parametrize(
    ("asks", "told"),
    [
        ("Do they differ enough for two prices?", True),
        ("価格を分けるか", True),
        ("Is it good?", False),
    ],
)
def test_a_question_of_price_is_answered_in_the_box_where_it_can_be(asks: str, told: bool):
    quality = {"T1": [6, 5, 2], "T2": [5, 6, 2]}
    evidence = replace(session({"quality": quality}), asks=asks)
    of = {one.sentence.key.rpartition(".")[2]: one for one in statements(evidence)}
    assert (of["price"].rank is not None) is told
    assert (of["part_pair"].rank is None) is told
    one_order = replace(session({"quality": {"T1": [6, 5, 2], "T2": [6, 5, 2]}}), asks=asks)
    assert "price" not in keys(one_order)


@pytest.mark.parametrize(("name", "told"), [("quality", True), ("texture", False)])
def test_others_are_asked_of_quality_alone_where_somebody_likes_the_style(name: str, told: bool):
    evidence = session(six([3, 4, 5], [3, 5, 6]) | {name: {"T1": [3, 5, 6], "T2": [4, 5, 7]}})
    people = tuple(replace(one, style="likes") for one in evidence.people)
    said = text(replace(evidence, people=people), "ask")
    assert said
    assert ("quality also of neutral people" in said) is told
    assert "neutral people" not in text(evidence, "ask")
