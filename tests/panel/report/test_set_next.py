"""What a test session advises, and the words of those who were right."""

from __future__ import annotations

import pandas as pd
import pytest
from kikichoko.analysis.difference import a_not_a, difference, paired, similarity
from kikichoko.panel.base.words import sentence
from kikichoko.panel.report.parts import Grid
from kikichoko.panel.report.set_next import what_to_do, words_of
from kikichoko.panel.report.set_served import told


def _key(result, *, named: bool = False) -> str | None:
    said = what_to_do(result, named=named)
    return None if said is None else said.key


@pytest.mark.parametrize(("correct", "key"), [(11, "next_open_likeness"), (12, "next_shown")])
def test_the_advice_turns_where_a_difference_is_shown(correct: int, key: str):
    """23 answers to a triangle need 12 right ones (exact binomial; so ISO 4120, from memory)."""
    assert _key(difference("triangle", correct, 23)) == f"set.{key}"


@pytest.mark.parametrize(("correct", "key"), [(23, "next_similar"), (24, "next_not_similar")])
def test_the_advice_turns_where_likeness_is_shown(correct: int, key: str):
    """66 answers, fewer than 20 % may tell: 23 right ones at most."""
    assert _key(similarity("triangle", correct, 66, pd=0.2, beta=0.05)) == f"set.{key}"


def test_a_session_too_small_for_likeness_advises_no_likeness():
    assert _key(similarity("triangle", 0, 7, pd=0.3, beta=0.05)) == "set.next_not_similar"


def test_nothing_is_advised_where_no_count_would_have_shown_anything():
    """Two answers: the result itself asks for more assessors."""
    assert _key(difference("triangle", 2, 2)) is None


@pytest.mark.parametrize(("more", "key"), [(10, "next_open"), (18, "next_shown_named")])
def test_a_named_attribute_is_not_said_to_be_unknown(more: int, key: str):
    result = paired(more, 20 - more, 0, names=("A", "B"))
    assert _key(result, named=True) == f"set.{key}"


@pytest.mark.parametrize(("hits", "key"), [(10, "next_open"), (18, "next_shown")])
def test_answers_of_yes_and_no_advise_without_a_number_for_likeness(hits: int, key: str):
    assert _key(a_not_a(hits, 20, 10, 20)) == f"set.{key}"


def _table(*rows: tuple[object, str]) -> pd.DataFrame:
    table = pd.DataFrame(rows, columns=["correct", "words"])
    return table.astype({"correct": "Int64"})


def test_words_stand_as_written_and_are_counted_by_right_and_wrong():
    table = _table(
        (1, "less fresh"), (1, " Less  fresh "), (0, "guess"), (1, "guess"), (0, ""), (pd.NA, "?")
    )
    (grid,) = words_of(table)
    assert isinstance(grid, Grid)
    assert grid.frame.to_numpy().tolist() == [["less fresh", 2, 0], ["guess", 1, 1]]
    assert [name.to("en") for name in grid.frame.columns] == [
        "Words",
        "Of the 3 right answers",
        "Of the 2 wrong answers",
    ]


@pytest.mark.parametrize("rows", [[(1, ""), (0, "  ")], [(pd.NA, "nuts"), (pd.NA, "")]])
def test_nothing_is_listed_without_words_or_without_right_and_wrong(rows):
    assert words_of(_table(*rows)) == []


@pytest.mark.parametrize(
    ("said", "key"),
    [
        ("only a guess", "words_guesses"),
        ("Just guessing.", "words_guesses"),
        ("勘で選んだ", "words_guesses"),
        ("当て推量。", "words_guesses"),
        ("a guess, but nutty", "words_note"),
        ("勘だが、少し香ばしい", "words_note"),
    ],
)
def test_a_remark_of_guessing_alone_names_nothing_to_ask_next(said: str, key: str):
    (grid,) = words_of(_table((1, said), (0, "nutty")))
    assert grid.note.key == f"set.{key}"  # what the wrong ones name is not asked next


@pytest.mark.parametrize("cloudy", [False, True])
def test_a_plan_is_told_as_done_and_without_instructions(cloudy: bool):
    notes = [
        sentence("set.accepted_small", n=7, pd="30 %", beta=0.05, needed=39),
        sentence("set.orders_nearly", orders=6, n=8, multiple=6),
        sentence("plan.codes_per_assessor"),
        sentence("plan.masking_opaque"),
        sentence("plan.masking_none"),
    ]
    said = told(notes, cloudy=cloudy)
    assert [one.key for one in said] == [
        "set.told_orders_nearly",
        "set.told_codes",
        "set.told_opaque_cloudy" if cloudy else "set.told_opaque",
        "plan.masking_none",
    ]
    for language in ("en", "ja"):
        text = " ".join(one.to(language) for one in said)
        assert "session.toml" not in text
        assert "exact" not in text
        assert ("cloudy" in text or "にごり" in text) is cloudy
