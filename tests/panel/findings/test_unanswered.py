"""What a session's question asks and no line of its card can answer: told first, or not at all."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd
import pytest
from kikichoko.panel.findings.all_statements import findings_of_tables
from kikichoko.panel.findings.design import asked_for, unanswered
from kikichoko.panel.findings.evidence import BALANCE
from kikichoko.panel.session.bottles import Bottle
from kikichoko.panel.session.primary_questions import Primary


def told(asks: str, *attributes: str, bottles: list[Bottle] | None = None, language: str = "en"):
    """Return what is told of a question where three assessors answered some attributes."""
    bottles = bottles or [Bottle(name="a"), Bottle(name="b")]
    rows = [
        (f"T{who}", bottle.name, attribute, 5.0 + who)
        for who in range(3) for bottle in bottles for attribute in attributes
    ]  # fmt: skip
    table = pd.DataFrame(rows, columns=["assessor", "sample", "attribute", "score"])
    evidence = findings_of_tables(table, bottles=bottles, shuffles=19).evidence
    made = unanswered(replace(evidence, asks=asks, language=language))
    assert all(one.kind == "caution" and one.rank == 1 for one in made)
    return [one.sentence.key.rpartition(".")[2] for one in made]


@pytest.mark.parametrize(
    "asks",
    ["At what temperature is it best served?", "Which do they prefer?", "どちらがよいか。",
     "何度で出すのがおいしいか。", "Is the cloudy one better?"],
)  # fmt: skip
def test_what_is_best_takes_a_question_of_quality_or_liking(asks: str):
    assert told(asks, "sweetness", "body") == ["unasked_best"]
    assert told(asks, "sweetness", "quality") == []
    assert told(asks, "sweetness", "liking") == []


@pytest.mark.parametrize(
    "asks", ["Do they differ?", "", "次の造りをどうすればよいか。", "Is the bestseller sweet?"]
)
def test_a_question_that_asks_for_no_best_is_left_alone(asks: str):
    assert told(asks, "sweetness", "body") == []


def test_days_after_opening_take_a_bottle_tasted_on_two_days():
    asks = "For how many days after opening do they taste the same?"
    same = [Bottle(name="a", opened_days=0.0), Bottle(name="b", opened_days=4.0)]
    assert told(asks, "sweetness", bottles=same) == ["unasked_days"], "two bottles, a day each"
    one = [replace(bottle, poured_from="tank 1") for bottle in same]
    assert told(asks, "sweetness", bottles=one) == []
    assert told("Do they taste the same?", "sweetness", bottles=same) == []


def test_an_attribute_that_the_question_names_and_the_card_left_out():
    assert told("Is the umami higher?", "sweetness") == ["unasked_named"]
    assert told("うま味は増えたか。", "sweetness", language="ja") == ["unasked_named"]
    assert told("Is the umami higher?", "sweetness", "umami") == []
    assert told("Does anybody notice?", "sweetness") == [], "body inside a word"
    measured = [Bottle(name="a", acidity=1.6), Bottle(name="b", acidity=1.4)]
    assert told("What does acidity do?", "sweetness") == ["unasked_named"]
    assert told("What does acidity do?", "sweetness", bottles=measured) == [], "by its number"


@pytest.mark.parametrize(("bottles", "named"), [(6, "b1, b2, b3, b4, b5, b6: "), (7, "all 7: ")])
def test_a_verdict_that_seven_bottles_share_names_none(bottles: int, named: str):
    rows = [
        (f"T{who}", f"b{bottle}", "sweetness", 4.0 + who + bottle % 2)
        for who in range(3) for bottle in range(1, bottles + 1)
    ]  # fmt: skip
    table = pd.DataFrame(rows, columns=["assessor", "sample", "attribute", "score"])
    made = findings_of_tables(table, shuffles=19).statements
    (one,) = [one for one in made if one.sentence.key == "findings.do_unasked"]
    assert str(one.sentence).startswith(f"{named}faults were not asked")


@pytest.mark.parametrize(
    ("asks", "names"),
    [
        ("Is the cloudy one cloying at this meter value, or balanced?", ["sweetness_balance"]),
        ("にごりはくどいか、釣り合っているか。", ["sweetness_balance"]),
        ("Has it more umami, and which is better?", ["umami", "quality"]),
        ("うま味は増えたか。", ["umami"]),
        ("Do they differ?", []),
    ],
)
def test_what_the_question_asks_of_the_card_is_known(asks: str, names: list[str]):
    rows = [
        (f"T{who}", bottle, name, 1.0)
        for who in range(3) for bottle in "ab"
        for name in ("umami", "sweetness_balance", "quality", "body")
    ]  # fmt: skip
    table = pd.DataFrame(rows, columns=["assessor", "sample", "attribute", "score"])
    evidence = replace(findings_of_tables(table, shuffles=19).evidence, asks=asks)
    assert asked_for(evidence) == names
    named = replace(evidence, primary=(Primary(kind="scale", written="body", attribute="body"),))
    assert set(asked_for(named)) == {*names, "body"}


@pytest.mark.parametrize(
    ("asks", "language"),
    [("Are the two bottles cloying?", "en"), ("二本は甘ったるいか。くどいか。", "ja")],
)
def test_a_question_about_cloying_is_answered_by_the_balance(asks: str, language: str):
    """What is too sweet for most is cloying in the plain sense: the card has asked it."""
    assert "unasked_named" not in told(asks, "sweetness", BALANCE, language=language)
    rows = [(f"T{who}", name, BALANCE, 1.0) for who in range(3) for name in "ab"]
    table = pd.DataFrame(rows, columns=["assessor", "sample", "attribute", "score"])
    evidence = findings_of_tables(table, shuffles=19).evidence
    assert BALANCE in asked_for(replace(evidence, asks=asks, language=language))


def test_cloying_is_missed_where_nothing_on_the_card_asks_it():
    assert told("Are the two bottles cloying?", "sweetness") == ["unasked_named"]
