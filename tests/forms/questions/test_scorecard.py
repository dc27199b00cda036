"""The default scorecard is whole in each language, and wishes are applied or refused in words."""

from __future__ import annotations

import pytest
from kikichoko.forms.questions import change, default_scorecard
from kikichoko.forms.questions.question_types import Kind, Scorecard
from kikichoko.forms.questions.words import languages, topic


@pytest.mark.parametrize("language", languages())
def test_every_label_is_there_in_each_language(language: str):
    for question in default_scorecard():
        texts = [question.label, question.ask, *(option.label for option in question.options)]
        if question.kind is Kind.LINE:
            texts += [question.low_label, question.high_label]
        for text in texts:
            assert dict(text.texts).get(language), f"{question.key} lacks words in {language}"


@pytest.mark.parametrize("name", ["scorecard", "sheet"])
def test_sheets_are_complete_in_each_language(name: str):
    for language in languages():
        assert set(topic(language, name)) == set(topic("en", name)), language


def test_the_sections_the_trade_asks_for():
    card = default_scorecard()
    assert {q.section for q in card} == {
        "appearance", "aroma", "palate", "finish", "balance", "faults", "overall", "words",
    }  # fmt: skip
    assert card["fault"].values == (0, 1, 2, 3)
    assert card["sweetness_balance"].values == (-2, -1, 0, 1, 2)
    attributes = [attribute for q in card for attribute in q.attributes]
    assert len(attributes) == len(set(attributes))


def test_drop_change_and_add():
    card, faults = change(
        default_scorecard(),
        drop=["cloying", "aroma:banana"],
        add=[
            {"key": "sweetness", "high": 7},
            {"key": "green", "section": "aroma", "label": {"en": "Green", "ja": "青い"}},
            {"key": "grade", "section": "overall", "kind": "category", "label": "Grade",
             "options": ["poor", "fair", "good"]},
        ],
        words=[{"key": "quince", "label": "quince"}],
    )  # fmt: skip
    assert faults == ()
    assert "cloying" not in card
    assert "aroma:banana" not in card["aroma"].attributes
    assert "aroma:quince" in card["aroma"].attributes
    assert card["sweetness"].high == 7
    assert card["sweetness"].label.to("ja") == "甘味"
    assert card["grade"].values == (1, 2, 3)
    keys = card.keys
    assert keys.index("green") == keys.index("aroma") + 1, "joins its own section"


def test_every_wrong_wish_is_told():
    _, faults = change(
        default_scorecard(),
        drop=["sweetnes"],
        add=[
            {"key": "Über", "label": "x"},
            {"key": "thick", "label": "Thick", "kind": "slider"},
            {"key": "hot", "label": "Hot", "low": 5, "high": 5},
            {"key": "tone", "label": "Tone", "kind": "category"},
            {"key": "nameless"},
            {"key": "odd", "label": "Odd", "colour": "red"},
        ],
        faults=[{"key": "stale", "label": "again"}],
    )
    assert [fault.kind for fault in faults] == [
        "twice", "no_question", "bad_key", "bad_value", "bad_ends", "no_options", "no_label",
        "unknown_field",
    ]  # fmt: skip


def test_attributes_find_their_question_and_name():
    card = default_scorecard()
    assert card.owner("fault:stale").key == "fault"
    assert card.name("aroma:pear", "ja") == "洋梨・梨"
    assert card.name("acidity") == "Acidity"
    assert isinstance(card, Scorecard)
