"""Faults in free words: what counts beside the ticks, and what does not."""

from __future__ import annotations

import pandas as pd
from kikichoko.forms.questions.term_vocabulary import vocabulary
from kikichoko.panel.key.written_faults import written_faults


def found(*texts: str) -> list[str]:
    """Return the faults that one assessor wrote of one bottle, a text a cup."""
    words = pd.DataFrame(
        [("K1", "a", number, text) for number, text in enumerate(texts, 1)],
        columns=["assessor", "sample", "replicate", "text"],
    )
    return written_faults(words, vocabulary(), ["fault:musty", "fault:stale"])["fault"].tolist()


def test_a_fault_that_is_written_counts_once_a_cup():
    assert found("musty, quite musty", "a little musty") == ["fault:musty", "fault:musty"]


def test_a_default_fault_counts_though_this_card_does_not_ask_for_it():
    assert found("vinegar") == ["fault:vinegar"]


def test_what_is_denied_doubted_or_no_fault_does_not_count():
    assert found("no mustiness, not musty") == []
    assert found("maybe musty?") == []
    assert found("apple and banana") == []


def test_a_fault_that_is_liked_is_no_complaint():
    assert found("the slight hineka suits this koshu", "老ね香が心地よい") == []
    assert found("少し老ね香") == ["fault:stale"]
