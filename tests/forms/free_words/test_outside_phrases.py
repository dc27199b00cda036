"""Free words measured on phrases that somebody else wrote and marked before.

``tests/outside/words/work.csv`` is by a person who had not seen the matcher; it was then
used to mend it, so these figures are those of a list worked with. The rules of marking are
``concepts.md``, the mapping of our keys to its concepts is ``map.csv``.
Before the mending: Japanese precision 0.776, recall 0.619, 26 invented faults; English
0.757, 0.678, 14.

``shop_talk.csv`` is by the one who mended the rules the second time: the rows J and E were
written before the matcher was read (then: Japanese 0.921 and 0.935, 5 invented faults;
English 0.916, 0.926, 5), P and Q after a first mending (0.867, 0.858, 4; 0.825, 0.800, 7),
R and S to provoke praise that is taken for a complaint (0.920, 0.920, 6; 0.953, 0.976, 11).
What other people write next is read about as well as those were, not as well as all are now.

``tests/outside/words/fresh.csv`` was written by whoever mended the rules the third time: F before
the matcher was read (then English 0.820 and 0.828, Japanese 0.938 and 0.953), G, H and I each after
the rules that the list before had led to (0.852 and 0.841, 0.841 and 0.742, 0.837 and 0.861;
Japanese 0.911 and 0.879, 0.923 and 0.814, 0.926 and 0.980); K, English, when all was done (0.896
and 0.896). LJ, LE, MJ and ME were written by the fourth, L before the matcher was read (Japanese
0.952 and 0.917, English 0.863 and 0.893), M after a first mending and meant to be harder (0.875
and 0.883, 0.824 and 0.809), NJ and NE after that was mended (0.934 and 0.934, 0.875 and 0.887).

``sealed/phrases.csv`` is by the author of ``work.csv``; it was measured once while sealed
(``sealed-result.md``: Japanese 0.871 and 0.878, English 0.859 and 0.854) and then worked with.

``sealed/second.csv`` is by another outsider (at its opening Japanese 0.966 and 0.951, English 0.935
and 0.970: ``second-sealed-result.md``); the fifth mending worked with it, and with ``others.csv``,
which is mostly about no sake (O written before: Japanese 0.317 and 0.606, English 0.353 and 0.698;
P in the middle: then 0.54 and 0.60 precision).

``sealed/third.csv`` is by a third outsider (at its opening Japanese 0.915 and 0.890, English 0.893
and 0.874: ``third-sealed-result.md``); the sixth mending worked with it.
``sealed/fourth.csv`` is by a fourth outsider (at its opening Japanese 0.938 and 0.916, English
0.942 and 0.927: ``fourth-sealed-result.md``); the seventh mending worked with it, and with
``training_a.csv``, ``training_b.csv`` and ``training_c.csv``, each by another outsider and measured
once as found (Japanese 0.859 and 0.861, 0.805 and 0.788, 0.899 and 0.896; English 0.810 and 0.850,
0.796 and 0.818, 0.937 and 0.929). The third was measured again when the seventh mending had
worked with the first two alone: Japanese 0.913 and 0.916, English 0.944 and 0.935.

The English halves of the seventh and eighth (at their opening 0.930 and 0.876, 0.934 and 0.958)
were worked with in the ninth mending.
"""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path

import pytest
from kikichoko.forms.free_words import read_words
from kikichoko.forms.questions import vocabulary
from word_concepts import MAP, OUTSIDE, measure

TALK = Path(__file__).parent / "shop_talk.csv"
measured = cache(measure)


@pytest.mark.parametrize(
    ("language", "precision", "recall", "polarity", "invented"),
    [("ja", 0.99, 0.99, 0.95, 0), ("en", 0.975, 0.98, 0.90, 0)],
)
def test_outside_phrases(language, precision, recall, polarity, invented):
    of = measured(OUTSIDE / "work.csv")[language]
    assert of.phrases >= 180
    assert of.precision >= precision
    assert of.recall >= recall
    assert of.polarity / of.meant >= polarity
    assert len(of.invented) <= invented
    assert not of.praise_as_fault


@pytest.mark.parametrize(
    ("language", "precision", "recall"), [("ja", 0.97, 0.97), ("en", 0.975, 0.975)]
)
def test_shop_talk(language, precision, recall):
    of = measured(TALK)[language]
    assert of.phrases == 300
    assert of.precision >= precision
    assert of.recall >= recall
    assert not of.praise_as_fault


@pytest.mark.parametrize(
    ("phrases", "language", "n", "precision", "recall", "invented"),
    [
        ("fresh.csv", "ja", 585, 0.955, 0.955, 11),
        ("fresh.csv", "en", 788, 0.95, 0.945, 9),
        ("sealed/phrases.csv", "ja", 203, 0.95, 0.98, 4),
        ("sealed/phrases.csv", "en", 168, 0.935, 0.95, 3),
        ("sealed/second.csv", "ja", 268, 0.99, 0.98, 0),
        ("sealed/second.csv", "en", 271, 0.99, 0.98, 0),
        ("sealed/third.csv", "ja", 289, 0.97, 0.93, 4),
        ("sealed/third.csv", "en", 300, 0.985, 0.965, 4),
        ("sealed/fourth.csv", "ja", 294, 0.98, 0.955, 4),
        ("sealed/fourth.csv", "en", 305, 0.975, 0.96, 3),
        ("training_a.csv", "ja", 300, 0.92, 0.92, 11),
        ("training_a.csv", "en", 300, 0.92, 0.91, 9),
        ("training_b.csv", "ja", 300, 0.92, 0.92, 10),
        ("training_b.csv", "en", 300, 0.94, 0.91, 5),
        ("training_c.csv", "ja", 300, 0.98, 0.96, 6),
        ("training_c.csv", "en", 300, 0.97, 0.95, 3),
        ("sealed/fifth.csv", "ja", 300, 0.985, 0.955, 3),
        ("sealed/sixth.csv", "ja", 200, 0.975, 0.95, 5),
        ("sealed/fifth.csv", "en", 300, 0.99, 0.95, 1),
        ("sealed/sixth.csv", "en", 200, 0.975, 0.94, 2),
        ("sealed/seventh.csv", "en", 300, 0.965, 0.89, 9),
        ("sealed/eighth.csv", "en", 409, 0.98, 0.97, 4),
        ("sealed/ninth.csv", "ja", 400, 0.94, 0.89, 11),
        ("sealed/ninth.csv", "en", 400, 0.925, 0.905, 13),
        ("sealed/tenth.csv", "ja", 400, 0.98, 0.97, 3),
        ("sealed/tenth.csv", "en", 400, 0.985, 0.975, 5),
        ("training_d.csv", "en", 500, 0.98, 0.96, 4),
        ("training_p.csv", "en", 500, 0.955, 0.935, 9),
        ("sealed/eleventh.csv", "en", 400, 0.97, 0.95, 5),
        ("sealed/twelfth.csv", "ja", 300, 0.99, 0.98, 0),
        ("training_e.csv", "en", 400, 0.99, 0.99, 0),
        ("training_f.csv", "en", 400, 0.99, 0.98, 0),
        ("training_g.csv", "en", 500, 0.985, 0.97, 5),
        ("training_h.csv", "en", 500, 0.99, 0.98, 1),
        ("turns.csv", "en", 442, 0.93, 0.90, 10),
        ("others.csv", "ja", 149, 0.92, 0.97, 2),
        ("others.csv", "en", 149, 0.85, 0.87, 4),
    ],
)
def test_fresh_and_opened_phrases(  # noqa: PLR0917
    phrases, language, n, precision, recall, invented
):
    of = measured(OUTSIDE / phrases)[language]
    assert of.phrases == n
    assert of.precision >= precision
    assert of.recall >= recall
    assert len(of.invented) <= invented
    of_opened = {
        ("sealed/ninth.csv", "en"): 1,
        ("training_d.csv", "en"): 1,
        ("training_g.csv", "en"): 1,
    }
    assert len(of.praise_as_fault) <= of_opened.get((phrases, language), 0)


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
        # Less than wanted, against not there and against a fault that is missing.
        ("lacks acidity", {"sour": "too_little"}),
        ("lacks any vinegar", {"vinegar": "absent"}),
        ("not very smooth", {"smooth": "too_little"}),
        ("no sweetness", {"sweet": "absent"}),
        # Praise of a fault, against praise of the sake that has it.
        ("老ね香があるが、この酒では良い", {"stale": "praised"}),
        ("老ね香があるが、美味しい", {"stale": "fault"}),
        ("the touch of hineka is lovely", {"stale": "praised"}),
        ("musty, still a lovely sake", {"musty": "fault"}),
        # A question, another thing than the drink, a food.
        ("what does musty mean?", {}),
        ("is it musty?", {"musty": "fault"}),
        ("the room smells musty", {}),
        ("会場がカビ臭い", {}),
        ("best with blue cheese", {}),
        # "ない" of another verb denies nothing.
        ("薬っぽくて飲めない", {"phenolic": "fault"}),
        ("薬っぽくない", {"phenolic": "absent"}),
        ("Aほど甘くない", {"sweet": "noted"}),
        ("甘くない", {"sweet": "absent"}),
        ("デリシャスリンゴ", {"apple": "noted"}),
        ("リンゴ酸", {"sour": "noted"}),
        ("clove", {"clove": "noted"}),
        ("clove, 4VG", {"phenolic": "fault"}),
        ("faultless", {"off": "absent"}),
        ("キレ◎", {"clean_cut": "praised"}),
        ("キレ×", {"clean_cut": "too_little"}),
        # One negation leads a list, against a list that begins anew.
        (
            "no solvent, vinegar or butter",
            {"solvent": "absent", "vinegar": "absent", "buttery": "absent"},
        ),
        ("no glue, just apple or pear", {"solvent": "absent", "apple": "noted", "pear": "noted"}),
        ("banana is there but it doesn't dominate", {"banana": "noted"}),
        ("struck match, but it is gone now", {"sulphur": "absent"}),
        ("struck match", {"sulphur": "fault"}),
        # What was thought, or is another's opinion, against what is said.
        (
            "I thought it was vinegar but it's only lactic",
            {"vinegar": "absent", "yoghurt": "noted"},
        ),
        ("I thought it was musty", {"musty": "fault"}),
        ("John says musty, I don't find it", {"musty": "absent"}),
        ("カビ?いや、違う", {"musty": "absent"}),
        # A scene, a dish, a modifier, a chemical name.
        ("banana bread", {"banana": "noted"}),
        ("mouldy bread", {"musty": "fault"}),
        ("fresh cut green apples", {"apple": "noted"}),
        ("green-apple aldehyde", {"green_wood": "fault"}),
        ("burnt, like it sat in a hot oven", {"burnt": "fault"}),
        # The nose promised.
        ("the palate delivers what the nose promised", {"fukumi": "praised"}),
        ("the smell promised more than the taste gave", {"fades": "too_little"}),
        # Wanted or food.
        ("crying out for acidity", {"sour": "too_little"}),
        ("crying out for oysters", {}),
        ("umami is missing", {"umami": "too_little"}),
        ("not the driest", {"dry": "noted"}),
        # Praise directly beside a fault, against praise of the sake or of something else.
        ("earthy and comforting", {"earthy": "praised"}),
        ("waxy lemon, delicious", {"fatty": "praised", "citrus": "praised"}),
        ("smells of glue. Nice.", {"solvent": "fault"}),
        ("butter and brioche, delicious together", {"buttery": "praised", "bread": "praised"}),
        ("phenolic, but pleasantly spicy", {"phenolic": "praised", "spice": "praised"}),
        ("kerosene, in the best way", {"oil": "praised"}),
        ("雑味が旨味になっている、良い", {"cluttered": "praised", "umami": "praised"}),
        ("雑味が多い", {"cluttered": "fault"}),
        # A thing, a person, weather or work, against a smell that is likened to a thing.
        ("rubber stopper stuck in the neck", {}),
        ("smells of the rubber stopper", {"rubber": "fault"}),
        ("warmed in an iron kettle", {}),
        ("cedar box", {"wood": "noted"}),
        ("heavy rain on the way", {}),
        ("rich middle, heavy at the end", {"rich": "noted", "heavy": "noted"}),
        ("a bright future for this toji", {}),
        ("a soft entry", {"soft": "noted"}),
        ("we dry the glasses by hand", {}),
        ("the cat knocked over the milk", {}),
        ("charcoal-fined at the brewery", {}),
        ("charcoal filtered to death", {"charcoal": "fault"}),
        ("serve it with charcoal-grilled eel", {}),
        ("Ms. Rose poured", {}),
        ("ゴム栓が固い", {}),
        ("ゴム栓の臭いが移っている", {"rubber": "fault"}),
        ("紙コップで利いた", {}),
        ("瓶が重い", {}),
        ("甘い言葉に誘われた", {}),
        ("リンゴをかじりながら利いた", {}),
        ("ジアセチルを微かに認める", {"buttery": "fault"}),
        ("窓を開けてください", {}),
        # A fault that an aged style is praised for, against one that is not liked.
        ("the touch of hineka gives this koshu its charm", {"stale": "praised"}),
        ("わずかな老ね香がこの古酒には合っていて良い", {"stale": "praised"}),
        ("老ね香が良くない", {"stale": "fault"}),
        # A negation that is itself denied, one that ends, one that does not reach a place.
        ("not entirely free of glue", {"solvent": "fault"}),
        ("free of glue", {"solvent": "absent"}),
        ("the hizame is gone by now", {"heat_smell": "absent"}),
        ("no dust on the nose", {"dusty": "absent", "nose": "noted"}),
        ("hardly any umami", {"umami": "too_little"}),
        ("友人は酢臭いと言うが私には分からない", {"vinegar": "absent"}),
        # Slips of the pen in names.
        ("カブロン酸エチル", {"ethyl_caproate": "noted"}),
        ("酢酸イソアミール", {"banana": "noted"}),
        ("さくえち", {"solvent": "fault"}),
        ("パイナッブル", {"pineapple": "noted"}),
        ("di-acetyl", {"buttery": "fault"}),
        ("mellon", {"melon": "noted"}),
        ("green apple, by which I mean aldehyde", {"green_wood": "fault"}),
    ],
)
def test_what_is_said_of_a_thing(text, expected):
    assert said(text) == expected
