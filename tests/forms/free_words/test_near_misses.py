"""Own words beside another's: near misses count as near."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from kikichoko.forms.free_words import mark_words
from kikichoko.forms.free_words.near_misses import NEARNESS
from kikichoko.forms.questions.term_vocabulary import vocabulary

TERMS = [term.label.to("en") for term in vocabulary().ticks()]


@pytest.mark.parametrize(
    ("own", "other", "near"),
    [
        ("pear", "pear", "same"),
        ("梨", "pear", "same"),
        ("pear", "apple", "group"),
        ("pear", "banana", "family"),
        ("pear", "fruit", "family"),
        ("pear", "bitter", None),
    ],
)
def test_nearness_on_both_sides(own: str, other: str, near: str | None):
    # Arrangement of the vocabulary: pear and apple stand in one group, banana in another of fruit.
    found = mark_words(own, other)
    assert [pair.near for pair in found.pairs] == ([near] if near else [])
    assert bool(found.missed) == (near is None)
    assert bool(found.alone) == (near is None)


def test_each_word_has_one_partner_and_the_nearest_comes_first():
    found = mark_words("pear, apple", "apple")
    assert [(pair.own, pair.other, pair.near) for pair in found.pairs] == [
        ("apple", "apple", "same")
    ]
    assert found.alone == ("pear",)


def test_what_is_said_not_to_be_there_is_no_word_and_what_is_not_read_is_given_back():
    found = mark_words("no pear, zorb", "pear")
    assert found.pairs == ()
    assert found.missed == ("pear",)
    assert found.unread == ("zorb",)


@given(st.lists(st.sampled_from(TERMS), max_size=4), st.lists(st.sampled_from(TERMS), max_size=4))
def test_marking_is_symmetric_and_loses_no_word(own: list[str], other: list[str]):
    there = mark_words(", ".join(own), ", ".join(other))
    back = mark_words(", ".join(other), ", ".join(own))
    for near in NEARNESS[:1]:
        assert there.count(near) == back.count(near)
    assert len(there.pairs) == len(back.pairs)
    assert len(there.pairs) + len(there.alone) == len(back.pairs) + len(back.missed)
