"""Statements have kinds, and the box is built from them and nothing else."""

from __future__ import annotations

import pytest
from kikichoko.panel.base.words import sentence
from kikichoko.panel.findings.differences import above
from kikichoko.panel.findings.people import word_of
from kikichoko.panel.findings.statement import Statement, in_short, joined


def made(**values) -> Statement:
    return Statement(
        **{"kind": "description", "about": (), "sentence": "s", "section": "differ"} | values
    )


def test_the_box_holds_what_has_a_rank_in_its_order():
    lines = in_short(
        [made(sentence="b", rank=2), made(sentence="none"), made(sentence="a", rank=1)]
    )
    assert [line for _, line in lines] == ["a", "b"]


@pytest.mark.parametrize(("name", "said"), [("a", "a, b above c"), ("d", "A, b above c")])
def test_a_name_keeps_its_small_letter_at_the_beginning(name: str, said: str):
    one = made(sentence=sentence("findings.above", high=["a", "b"], low="c"))
    assert one.to_dict("en", {name, "c"})["sentence"] == said


def test_statements_that_share_a_line_are_written_as_one():
    shared = {"box": "findings.box_hold", "rank": 3, "section": "faults"}
    lines = in_short([made(brief="x", **shared), made(brief="y", **shared)])
    assert [str(line) for _, line in lines] == [
        "Hold back 2 bottles until the cause is known: x; y."
    ]


def test_a_line_that_would_be_too_long_names_alone_what_it_is_about():
    shared = {"box": "findings.box_noted", "rank": 3, "section": "faults"}
    frame = len("Noted by too few to hold a bottle back: ; y.")

    def line(letters: int) -> str:
        first = made(brief="x" * (letters - frame), name="cloudy", **shared)
        return str(in_short([first, made(brief="y", name="clear", **shared)])[0][1])

    assert len(line(420)) == 420
    assert line(421) == (
        "Faults were noted by too few to hold a bottle back: cloudy, clear. Which and by how many, "
        "says the table of bottles."
    )


def test_a_japanese_letter_of_a_line_counts_as_two():
    shared = {"box": "findings.box_noted", "rank": 3, "section": "faults"}
    frame = len("Noted by too few to hold a bottle back: ; y.")
    half, odd = divmod(420 - frame, 2)

    def line(brief: str) -> str:
        first = made(brief=brief, name="にごり", **shared)
        return str(in_short([first, made(brief="y", name="中取り", **shared)])[0][1])

    assert line("酒" * half + "x" * odd).startswith("Noted by too few")
    assert line("酒" * half + "x" * (odd + 1)).startswith("Faults were noted by too few")


def test_a_hint_never_enters_the_box():
    with pytest.raises(ValueError, match="no place in the box"):
        made(kind="hint", rank=1)


def test_a_claim_carries_its_p_and_kinds_are_known():
    with pytest.raises(ValueError, match="carries its p"):
        made(kind="claim", p=0.01)
    with pytest.raises(ValueError, match="one of"):
        made(kind="guess")


def test_bottles_above_the_same_others_are_named_together():
    pairs = [("c", "a"), ("d", "a"), ("c", "b"), ("d", "b"), ("b", "a")]
    assert above(pairs, "abcd") == [(["c", "d"], ["a", "b"]), (["b"], ["a"])]
    assert above(pairs, "dcba") == [(["d", "c"], ["b", "a"]), (["b"], ["a"])]


def test_lines_with_commas_are_joined_by_semicolons():
    assert (
        str(joined([sentence("findings.cell_more", attributes=["a", "b"]), "c"])) == "more: a, b; c"
    )
    assert joined(["a"]) == "a"


@pytest.mark.parametrize(
    ("value", "word"),
    [(0.49, "poor"), (0.5, "moderate"), (0.74, "moderate"), (0.75, "good"), (0.9, "excellent")],
)
def test_words_for_agreement_change_at_their_limits(value: float, word: str):
    """Koo and Li 2016: poor below 0.5, moderate to 0.75, good to 0.9, excellent above."""
    assert word_of(value) == word
