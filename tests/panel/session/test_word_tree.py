"""Words of the scorecard find their place in the vocabulary."""

from __future__ import annotations

from kikichoko.forms.questions import default_scorecard, vocabulary
from kikichoko.forms.questions.question_types import Kind
from kikichoko.panel.session.term_tree import word_tree


def test_every_default_word_and_fault_stands_in_the_vocabulary():
    kinds = (Kind.TICKS, Kind.FAULTS)
    attributes = [a for q in default_scorecard() if q.kind in kinds for a in q.attributes]
    own = vocabulary()
    assert {attribute.partition(":")[2] for attribute in attributes} <= {t.key for t in own.terms}
    tree = word_tree(attributes)
    assert len(tree) == len(attributes)
    assert "Own terms" not in set(tree["family"])


def test_unknown_words_come_last_as_own_words():
    tree = word_tree(["aroma:our_well", "aroma:apple"], "ja", name=lambda name: name.upper())
    assert tree["attribute"].tolist() == ["aroma:apple", "aroma:our_well"]
    assert tree["label"].tolist() == ["AROMA:APPLE", "AROMA:OUR_WELL"]
    assert tree["family"].tolist() == ["果実と花", "追加した言葉"]
