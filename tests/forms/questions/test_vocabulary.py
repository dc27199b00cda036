"""The vocabulary is whole, says each thing once, and takes a session's own terms."""

from __future__ import annotations

from collections import Counter

import pytest
from kikichoko.forms.questions import extend, vocabulary
from kikichoko.forms.questions.term_vocabulary import KEY, SENSES
from kikichoko.forms.questions.words import say

WORDS = vocabulary()
MARKED = [term for term in WORDS.terms if term.compound]


def test_every_term_has_a_place():
    groups = {group.key: group.family for group in WORDS.groups}
    families = {family.key for family in WORDS.families}
    assert {term.group for term in WORDS.terms} == set(groups)
    assert set(groups.values()) == families
    assert {family.sense for family in WORDS.families} == set(SENSES)


def test_keys_are_names_and_no_two_are_alike():
    keys = [entry.key for entry in (*WORDS.families, *WORDS.groups, *WORDS.terms)]
    assert [key for key, count in Counter(keys).items() if count > 1] == []
    assert all(KEY.fullmatch(key) for key in keys)


@pytest.mark.parametrize("language", ["en", "ja"])
def test_no_two_terms_are_said_the_same_way(language: str):
    ways = Counter(way.lower() for term in WORDS.terms for way in term.ways(language))
    assert [way for way, count in ways.items() if count > 1] == []


@pytest.mark.parametrize("term", WORDS.terms, ids=lambda term: term.key)
def test_every_term_is_explained_in_both_languages(term):
    assert term.explanation
    assert term.romaji
    assert set(dict(term.label.texts)) == {"en", "ja"}


@pytest.mark.parametrize("term", MARKED, ids=lambda term: term.key)
def test_every_compound_says_where_it_is_from(term):
    assert term.mark in {"source", "memory"}
    assert bool(term.source) == (term.mark == "source")


def test_words_of_liking_are_kept_apart():
    liking = {
        word for words in WORDS.hedonic.values() for listed in words.values() for word in listed
    }
    describing = {way for term in WORDS.terms for lang in ("en", "ja") for way in term.ways(lang)}
    assert liking
    assert not liking & describing


def test_the_default_lists_are_short_enough_for_one_page():
    assert 15 <= len(WORDS.ticks()) <= 20
    assert 9 <= len(WORDS.faults()) <= 13
    senses = {WORDS.family_of(term).sense for term in WORDS.ticks()}
    assert senses == {"aroma"}
    assert all(term.fault for term in WORDS.faults())


def test_a_session_adds_terms_and_synonyms():
    more, wrong = extend(
        WORDS,
        [
            {"key": "loquat", "label": {"en": "loquat", "ja": "びわ"}, "group": "stone_berry"},
            {"key": "our_well", "label": "our well water", "synonyms": ["well water", "井戸水"]},
            {"key": "apple", "synonyms": ["pippin"]},
        ],
    )
    assert wrong == ()
    assert more.family_of(more["loquat"]).key == "fruit_flower"
    assert more.family_of(more["our_well"]).key == "own"
    assert more["our_well"].ways("ja") == ("井戸水",)
    assert "pippin" in more["apple"].ways("en")
    assert "pippin" not in WORDS["apple"].ways("en")
    order = [term.key for term in more.terms]
    assert order.index("loquat") < order.index("citrus")


def test_every_fault_in_added_terms_is_told():
    made, wrong = extend(
        WORDS,
        [
            {"key": "Bad Key", "label": "x"},
            {"key": "fine", "label": "x", "group": "nowhere"},
            {"key": "apple", "label": "apple of my own"},
            {"key": "bare"},
            {"key": "odd", "label": "odd", "colour": "red", "synonyms": "one, two"},
        ],
    )
    kinds = [fault.kind for fault in wrong]
    assert kinds == [
        "bad_key",
        "no_group",
        "known_term",
        "no_label",
        "unknown_field",
        "bad_synonyms",
    ]
    for fault in wrong:
        spoken = say(
            f"vocabulary.{fault.kind}",
            term=fault.term,
            field=fault.field,
            found=fault.found,
            expected=fault.expected,
        )
        assert fault.term in spoken
    assert made["apple"].label == WORDS["apple"].label
    assert "odd" in made


def test_the_table_has_a_row_per_term():
    table = WORDS.table("ja")
    assert list(table["term"]) == [term.key for term in WORDS.terms]
    assert table.loc[table["term"] == "apple", "family_label"].item() == "果実と花"
