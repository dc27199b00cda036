"""What follows from a test session: what to do, and what those who were right wrote beside it."""

from __future__ import annotations

import re
from collections import Counter
from typing import TYPE_CHECKING

import pandas as pd

from ...analysis.core.p_values import holds
from ...analysis.core.wording import stated_percent
from ..base.words import Sentence, sentence
from .parts import Block, Grid

if TYPE_CHECKING:
    from ...analysis.core.result import Result

NEAR, RISK = 0.3, 0.05
"""Proportion and risk with which a test of likeness is spoken of where none was stated."""

_GUESS = re.compile(
    r"(?:(?:only|just|merely|pure|purely|really|honestly|it was|was|my|a|an|complete|total|wild"
    r"|best|i|had to|to) )*guess(?:ed|ing|work)?"
    r"|(?:ただの|全くの|まったくの|完全に|ほぼ|ほとんど)?(?:勘|当て推量|当てずっぽう)"
    r"(?:で(?:選んだ|選びました|答えた|答えました|す)|だけ|のみ)?"
)
"""A remark that says that it was a guess and nothing else."""


def what_to_do(result: Result, *, named: bool) -> Sentence | None:
    """Say what the result is good for; None where its own sentences say so, or nothing follows.

    Parameters
    ----------
    result : Result
        The main one of the session.
    named : bool
        Whether the assessors were told which attribute to look at.
    """
    from ...analysis.difference.forced_choice import (
        CountedAnswers,
        DifferenceTest,
        SimilarityTest,
        similarity,
    )
    from ...analysis.difference.thresholds import Threshold

    if isinstance(result, SimilarityTest):
        if result.shown:
            return sentence("set.next_similar", pd=stated_percent(result.pd))
        return sentence("set.next_not_similar", needed=result.n_needed)
    p, alpha = getattr(result, "p", None), getattr(result, "alpha", None)
    if isinstance(result, Threshold) or p is None or alpha is None:
        return None
    if holds(p, alpha):
        return sentence("set.next_shown_named" if named else "set.next_shown")
    if isinstance(result, DifferenceTest) and result.needed is None:
        return None
    if named or not isinstance(result, CountedAnswers):
        return sentence("set.next_open")
    enough = similarity(result.test, result.correct, result.n, pd=NEAR, beta=RISK).n_needed
    return sentence("set.next_open_likeness", needed=enough, pd=stated_percent(NEAR))


def words_of(table: pd.DataFrame) -> list[Block]:
    """List what was written beside the answers, with how many were right who wrote it.

    The words stand as they were written (alike but for case and spaces are one row): in a test
    they compare two cups, and a comparison is no note of what is there.

    Parameters
    ----------
    table : DataFrame
        Columns ``correct, words`` of the presentations that count.

    Returns
    -------
    list of Block
        Empty where nobody wrote a word, or nothing is right or wrong.
    """
    judged = table[table["correct"].notna()]
    correct = judged["correct"].astype(int)
    written = judged["words"].fillna("").astype(str).str.split().str.join(" ")
    if not (written != "").any():
        return []
    n = {1: int((correct == 1).sum()), 0: int((correct == 0).sum())}
    counts: dict[str, Counter[int]] = {}
    first: dict[str, str] = {}
    for text, verdict in zip(written, correct, strict=True):
        if text:
            first.setdefault(text.casefold(), text)
            counts.setdefault(text.casefold(), Counter())[int(verdict)] += 1
    order = sorted(counts, key=lambda text: (-counts[text][1], counts[text][0]))
    shown = pd.DataFrame(
        {
            sentence("set.col_said"): [first[text] for text in order],
            sentence("set.col_right", n=n[1]): [counts[text][1] for text in order],
            sentence("set.col_wrong", n=n[0]): [counts[text][0] for text in order],
        }
    )
    named = any(counts[text][1] and not _GUESS.fullmatch(text.strip(" .!。！")) for text in order)
    note = sentence("set.words_note" if named else "set.words_guesses")
    return [Grid(sentence("set.words"), shown, note)]
