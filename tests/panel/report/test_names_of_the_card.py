"""Free words that are the card's own names for what it asks."""

from __future__ import annotations

from types import SimpleNamespace

import pytest
from kikichoko.forms.free_words.free_text import words_table
from kikichoko.forms.questions.term_vocabulary import vocabulary
from kikichoko.panel.report.said import _listed, with_own_names

NAMES = {"tiring": "fatigue", "飲み疲れ": "fatigue"}


@pytest.mark.parametrize(("text", "known"), [
    ("steamed rice, tiring", True),
    ("Tiring", True),
    ("飲み疲れ、りんご", True),
    ("蒸米、飲み疲れる", True),
    ("飲み疲れする", True),
    ("少し飲み疲れる", False),
    ("飲み疲れしない", False),
    ("not tiring", False),
    ("a bit tiring", False),
    ("steamed rice, kiwi", False),
])  # fmt: skip
def test_a_name_of_the_card_is_known_where_it_stands_alone(text: str, known: bool):
    found, left = words_table([("A1", "b", text)])
    matched, rest = with_own_names(found, left, NAMES)
    own = matched[matched["key"] == "fatigue"]
    assert len(own) == known
    assert len(rest) == len(left) - known
    assert len(matched) == len(found) + known
    assert not known or own.iloc[0]["polarity"] == "noted"


def test_what_the_card_calls_it_is_listed_by_the_name_of_the_card():
    """The key of what is asked is also that of a word of the vocabulary: くどい."""
    found, left = words_table([("A1", "b", "飲み疲れる"), ("A2", "b", "くどい")])
    matched, _ = with_own_names(found, left, {"飲み疲れ": "cloying"})
    context = SimpleNamespace(vocabulary=vocabulary(), language="ja", name=lambda _: "飲み疲れ")
    said = [one.to("ja") for one in _listed(context, matched, ("noted", "fault"))]
    assert sorted(said) == ["くどい（1）", "飲み疲れ（1）"]
