"""Free words that are the card's own names for what it asks."""

from __future__ import annotations

import pytest
from kikichoko.forms.free_words.free_text import words_table
from kikichoko.panel.report.said import with_own_names

NAMES = {"tiring": "fatigue", "飲み疲れ": "fatigue"}


@pytest.mark.parametrize(("text", "known"), [
    ("steamed rice, tiring", True),
    ("Tiring", True),
    ("飲み疲れ、りんご", True),
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
