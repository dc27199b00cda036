"""A question that names somebody is answered by that person's marks beside the others'."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from invented_marks import evidence_of, table
from kikichoko.panel.findings import design
from kikichoko.panel.session.bottles import Bottle
from scipy.stats import t as student_t

ASKS = "Does A1 dislike b?"


def told(asks=ASKS, *, people: int = 7, bottles=None, roles=None, served="abcd", **put: float):
    rows = table(people=people, times=2, bottles=served, scatter=0.6, **put)
    evidence = evidence_of(rows, bottles, **({"assessors": roles} if roles else {}))
    return design._about_people(replace(evidence, asks=asks))


def keys(made) -> list[str]:
    return [one.sentence.key.partition(".")[2] for one in made]


@pytest.mark.parametrize(("by", "key"), [(-3.0, "person_beyond"), (-1.0, "person_within")])
def test_who_is_named_is_set_beside_the_others(by: float, key: str):
    (one,) = told(quality_b_A1=by)
    assert keys([one]) == [key]
    assert one.about == ("A1",)
    assert "in overall quality" in str(one.sentence)
    assert ("cannot be told with 6 of them" in str(one.sentence)) is (key == "person_within")
    assert ("b. There A1 set the bottles apart" in str(one.sentence)) is (key == "person_beyond")


def test_limits_are_those_of_one_more_person():
    rest = np.array([0.4, -0.2, 0.1, 0.9, -0.5])
    mean, low, high = design.one_more(rest, 3, 0.1)
    half = student_t.ppf(1 - 0.05 / 6, 4) * rest.std(ddof=1) * (1 + 1 / 5) ** 0.5
    assert (mean, low, high) == pytest.approx((rest.mean(), mean - half, mean + half))
    _, low, high = design.one_more(np.zeros(5), 1, 0.3)
    assert high == pytest.approx(student_t.ppf(0.975, 4) * 0.3 * (1 + 1 / 5) ** 0.5)
    assert low == -high


def test_one_like_the_others_is_told_apart_in_at_most_one_session_of_twenty():
    """Of four bottles, own views of each beside scatter; the leads of one person hang together."""
    rng = np.random.default_rng(20261128)
    false = 0
    for _ in range(2000):
        marks = np.round(2 * (5 + rng.normal(0, 1.0, (8, 4)))) / 2
        leads = marks - (marks.sum(axis=1, keepdims=True) - marks) / 3
        for bottle in range(4):
            _, low, high = design.one_more(leads[1:, bottle], 4, 0.3)
            if not low <= leads[0, bottle] <= high:
                false += 1
                break
    assert false / 2000 <= 0.05 + 0.005  # one standard error


@pytest.mark.parametrize(("people", "key"), [(4, "person_few"), (5, "person_within")])
def test_with_three_others_it_cannot_be_told(people: int, key: str):
    assert keys(told(people=people)) == [key]


def test_what_the_question_asks_is_answered_not_quality():
    (one,) = told("A1さんだけがcを甘いと感じたのか。", sweetness_c_A1=4)
    assert keys([one]) == ["person_beyond"]
    assert "in sweetness" in str(one.sentence)
    assert "c +" in str(one.sentence)
    assert "; b" not in str(one.sentence)
    assert "A1について：" in one.sentence.to("ja")


def test_a_fraction_names_its_bottles_and_no_bottle_all():
    bottles = [Bottle(name=name, fraction=part)
               for name, part in zip("abcd", ("middle", "cloudy", "middle", "press-end"),
                                     strict=True)]  # fmt: skip
    (one,) = told("Does A1 dislike the cloudy?", bottles=bottles)
    assert str(one.sentence).count("(the others") == 2
    (one,) = told("Is A1 right?")
    assert str(one.sentence).count("(the others") == 5


def test_of_more_than_four_bottles_the_furthest_are_named():
    (one,) = told("Is A1 right?", served="abcdef", quality_f_A1=3.0)
    assert str(one.sentence).count("(the others") == 5
    assert "f +" in str(one.sentence)


@pytest.mark.parametrize("asks", ["Do they differ?", "", "Is a10 better, or A12?", "Is a1 right?"])
def test_a_question_that_names_nobody_is_left_alone(asks: str):
    assert told(asks) == []


def test_the_makers_are_no_others_and_may_be_asked_about():
    roles = {f"A{n}": "maker" if n < 4 else "trained" for n in range(1, 8)}
    assert "cannot be told with 4 of them" in str(told(roles=roles)[0].sentence)
    assert "cannot be told with 3 others" in str(told("And A7?", roles=roles)[0].sentence)


def test_of_one_assessor_alone_nothing_is_set_beside_anybody():
    assert told(people=1) == []


def test_what_the_card_does_not_ask_cannot_be_told():
    rows = table(people=6)
    evidence = replace(evidence_of(rows[rows["attribute"] == "body"]), asks=ASKS)
    assert keys(design._about_people(evidence)) == ["person_not"]


def test_constants_are_those_of_the_document():
    assert (design.OTHERS, design.LEAST, design.LETTERS) == (4, 0.03, 2)
    assert (design.PERSON_BOTTLES, design.RANK_PERSON, design.WORDS) == (4, 38, ("a", "i"))


def test_the_question_that_names_somebody_says_what_is_asked():
    """Another question of the same session asks for sweetness; this one for what A1 would take."""
    (one,) = told("Is c sweeter than b? Which would A1 take?", sweetness_c_A1=4)
    assert "in overall quality" in str(one.sentence)
    (one,) = told("Which is best? Does A1 find c sweeter?", sweetness_c_A1=4)
    assert "in sweetness" in str(one.sentence)


@pytest.mark.parametrize("by", [0.0, -2.0])
def test_a_level_is_told_and_sets_nothing_apart(by: float):
    """ "Marks us down every time" is a level: it moves no difference."""
    put = {f"quality_{bottle}_A1": by for bottle in "abcd"}
    plain, moved = str(told()[0].sentence), str(told(**put)[0].sentence)
    assert plain.partition(" The level")[0] == moved.partition(" The level")[0]
    own, theirs = re.findall(r"level over all bottles is ([\d.]+) \(the others ([\d.]+)\)", moved)[
        0
    ]
    before, same = re.findall(r"level over all bottles is ([\d.]+) \(the others ([\d.]+)\)", plain)[
        0
    ]
    assert float(own) - float(before) == pytest.approx(by)
    assert theirs == same
