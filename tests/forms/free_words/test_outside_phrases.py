"""Free words measured on phrases that somebody else wrote and marked before.

``tests/outside/words/work.csv`` is by a person who had not seen the matcher; it was then
used to mend it, so these figures are those of a list worked with. The rules of marking are
``concepts.md``, the mapping of our keys to its concepts is ``map.csv``.
Before the mending: Japanese precision 0.776, recall 0.619, 26 invented faults; English
0.757, 0.678, 14.
"""

from __future__ import annotations

import csv

import pytest
from kikichoko.forms.free_words import read_words
from kikichoko.forms.questions import vocabulary
from word_concepts import MAP, OUTSIDE, measure

FIGURES = measure(OUTSIDE / "work.csv")


@pytest.mark.parametrize(
    ("language", "precision", "recall", "polarity", "invented"),
    [("ja", 0.97, 0.99, 0.93, 1), ("en", 0.94, 0.97, 0.89, 0)],
)
def test_outside_phrases(language, precision, recall, polarity, invented):
    of = FIGURES[language]
    assert of.phrases >= 180
    assert of.precision >= precision
    assert of.recall >= recall
    assert of.polarity / of.meant >= polarity
    assert len(of.invented) <= invented


def test_the_map_names_keys_and_concepts_that_exist():
    words = vocabulary()
    keys = {entry.key for entry in (*words.families, *words.groups, *words.terms)}
    listed = (OUTSIDE / "concepts.md").read_text("utf-8")
    assert set(MAP) <= keys
    assert all(f"| {concept} |" in listed for concept in MAP.values())
    marked = csv.DictReader((OUTSIDE / "work.csv").read_text("utf-8").splitlines())
    named = {one.split(":")[0] for row in marked for one in row["found"].split(";") if one}
    assert named <= set(MAP.values())


def said(text: str) -> dict[str, str]:
    return {match.key: match.polarity for match in read_words(text).matches}


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("酢酸イソアミルが華やか", {"banana": "praised"}),
        ("カプロン酸エチルが高い", {"ethyl_caproate": "noted"}),
        ("カプロン酸メチル", {}),
        ("酢エチ臭", {"solvent": "fault"}),
        ("甘すぎる", {"sweet": "too_much"}),
        ("甘すぎない", {"sweet": "noted"}),
        ("酸が足りない", {"sour": "too_little"}),
        ("苦味が残るがキレは良い", {"bitter_end": "fault", "clean_cut": "praised"}),
        ("火冷め香", {"heat_smell": "fault"}),
        ("冷こみ香", {"cold_mash": "fault"}),
        ("needs more umami", {"umami": "too_little"}),
        ("not sweet enough", {"sweet": "too_little"}),
        ("too woody", {"wood": "too_much"}),
        ("lovely banana, no glue", {"banana": "praised", "solvent": "absent"}),
        ("diacetyl? none", {"buttery": "absent"}),
        ("is there any sulphur?", {}),
        ("would go well with grilled cheese", {}),
        ("hineka in a good way", {"stale": "praised"}),
        ("ダイアセチル(−)", {"buttery": "absent"}),
        ("ﾒﾛﾝ様", {"melon": "noted"}),
        ("finishが短い", {"after": "too_little"}),
    ],
)
def test_what_is_said_of_a_thing(text, expected):
    assert said(text) == expected
