"""What a phrase was read as is told only where its writer would own to it.

The weights are held to the readings that they come from, the bar by both of its sides, and the
whole by a list that was opened once, after the model was made
(tests/outside/words/twelfth-sealed-result.md).
"""

import csv
import sys
from pathlib import Path

import pytest
from kikichoko.forms.free_words import certainty
from kikichoko.forms.free_words.free_text import read_words, sure_words, words_table
from kikichoko.forms.questions.term_vocabulary import extend, vocabulary

sys.path.insert(0, str(Path(__file__).parents[2] / "tools"))

import fit_certainty
from word_concepts import measure

OUTSIDE = Path(__file__).parents[2] / "outside" / "words"


def chance(text: str) -> float:
    read = read_words(text)
    return certainty.certainty(read.matches[0], text, read.matches)


def test_weights_are_those_of_the_marked_readings():
    rows = csv.DictReader(fit_certainty.WEIGHTS.read_text("utf-8").splitlines())
    written = {row["sign"]: float(row["weight"]) for row in rows}
    every = fit_certainty.readings()
    fitted = fit_certainty.fit(every.signs, every.right)
    assert set(written) <= set(fitted)
    assert all(abs(written.get(sign, 0.0) - weight) < 0.02 for sign, weight in fitted.items())


def test_the_fit_is_that_of_another_library():
    """statsmodels' binomial model with a ridge (elastic net without its lasso), two signs."""
    import numpy as np
    from statsmodels.genmod.families import Binomial
    from statsmodels.genmod.generalized_linear_model import GLM

    rng, n = np.random.default_rng(fit_certainty.SEED), 200
    seen = rng.random((n, 2)) < 0.5
    right = rng.random(n) < 1 / (1 + np.exp(-(1.0 + seen @ [1.5, -2.0])))
    told = [{name for name, one in zip("ab", row, strict=True) if one} for row in seen]
    design = np.column_stack([np.ones(n), seen])
    for ridge in (fit_certainty.RIDGE, 0.1):
        own = fit_certainty.fit(told, right, ridge)
        penalty = np.array([0, 1, 1]) / (ridge * n)
        theirs = GLM(right.astype(float), design, family=Binomial()).fit_regularized(
            alpha=penalty, L1_wt=0, cnvrg_tol=1e-12, maxiter=500
        )
        assert [own["always"], own["a"], own["b"]] == pytest.approx(
            theirs.params.tolist(), abs=1e-4
        )


def test_the_bar_from_both_sides(monkeypatch):
    at = chance("brown sugar, oak")
    monkeypatch.setattr(certainty, "LEAST", at)
    assert "brown_sugar" in sure_words("brown sugar, oak").present
    monkeypatch.setattr(certainty, "LEAST", at + 1e-9)
    assert "brown_sugar" not in sure_words("brown sugar, oak").present


def test_what_is_not_sure_is_left_for_a_person_and_never_dropped():
    unsure = "juicy pear, yeast from the cellar"
    read, sure = read_words(unsure), sure_words(unsure)
    gone = {match.text for match in read.matches} - {match.text for match in sure.matches}
    assert gone
    assert gone <= {piece.text for piece in sure.unmatched}
    matches, left = words_table([("A1", "417", unsure)])
    assert set(matches["text"]) == {match.text for match in sure.matches}
    assert gone <= set(left["piece"])


@pytest.mark.parametrize("text", ["banana", "diacetyl", "老ね香", "no bitterness", "too sweet"])
def test_a_plain_word_is_sure(text):
    assert sure_words(text) == read_words(text)


def test_what_is_not_estimated_is_told_as_it_is_read():
    six = "yeast and date from the cellar"
    assert chance(six) < 1
    assert chance(f"{six} today") == 1
    assert chance("蔵で酵母の香り") == 1
    assert chance("water with a memory") == 1
    more, _ = extend(
        vocabulary(),
        [{"key": "loquat", "label": {"en": "loquat", "ja": "びわ"}, "group": "stone_berry"}],
    )
    read = read_words("ripe loquats", more)
    assert certainty.certainty(read.matches[0], "ripe loquats", read.matches) == 1


@pytest.mark.parametrize(
    ("phrases", "n", "precision", "recall", "invented"),
    [
        ("sealed/twelfth.csv", 300, 0.99, 0.97, 0),
        ("sealed/thirteenth.csv", 800, 0.99, 0.97, 0),
        ("sealed/fourteenth.csv", 800, 0.99, 0.945, 1),
        ("sealed/fifteenth.csv", 800, 0.985, 0.94, 6),
    ],
)
def test_phrases_of_shop_talk_as_they_are_told(phrases, n, precision, recall, invented):
    of = measure(OUTSIDE / phrases, sure_words)["en"]
    assert of.phrases == n
    assert of.precision >= precision
    assert of.recall >= recall
    assert len(of.invented) <= invented
    assert not of.praise_as_fault
