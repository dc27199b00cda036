"""Every fault that can be rated has a likely cause, a next check and a mark."""

from __future__ import annotations

import pytest
from kikichoko.forms.questions import vocabulary
from kikichoko.panel.session.guide_to_faults import fault_guide, guide_table

GUIDES = fault_guide()


def test_every_default_fault_is_in_the_guide():
    assert {term.key for term in vocabulary().faults()} <= set(GUIDES)
    assert set(GUIDES) <= {term.key for term in vocabulary().terms}
    assert {"cheese", "burnt", "oil", "dusty", "metallic", "cold_mash"} <= set(GUIDES)
    assert len(GUIDES) >= 28


def test_a_compound_has_one_mark_in_vocabulary_and_guide():
    words = vocabulary()
    for key, guide in GUIDES.items():
        if guide.compound and words[key].compound:
            assert guide.compound_mark == words[key].mark, key


def test_a_compound_has_one_mark_wherever_it_stands():
    marks: dict[str, set[str]] = {}
    for term in vocabulary().terms:
        if term.compound:
            marks.setdefault(term.compound, set()).add(term.mark)
    for guide in GUIDES.values():
        if guide.compound:
            marks.setdefault(guide.compound, set()).add(guide.compound_mark)
    assert marks["4-vinylguaiacol"] == {"memory"}
    assert all(len(given) == 1 for given in marks.values()), marks


def test_no_source_goes_without_a_name():
    for guide in GUIDES.values():
        assert "trade page" not in guide.source
        assert "trade interview" not in guide.source


@pytest.mark.parametrize("guide", GUIDES.values(), ids=list(GUIDES))
def test_every_part_has_its_mark(guide):
    marks = {"source", "memory"}
    assert {guide.cause_mark, guide.next_mark} <= marks
    assert bool(guide.compound) == bool(guide.compound_mark)
    assert bool(guide.threshold) == bool(guide.threshold_mark)
    if "source" in {guide.cause_mark, guide.next_mark, guide.compound_mark, guide.threshold_mark}:
        assert guide.source
    assert guide.compound_in() == guide.compound
    assert guide.cause()
    assert guide.check_next()


def test_only_thresholds_that_were_seen_are_marked_so():
    """Seen for sake: trichloroanisole and sotolon; all others are from memory."""
    seen = {key for key, guide in GUIDES.items() if guide.threshold_mark == "source"}
    assert seen == {"musty", "curry"}


def test_the_table_says_what_is_not_recorded():
    table = guide_table(["fault:musty", "fault:our_pipe"])
    assert "pallets" in table.iloc[0, 3]
    assert "Nothing is recorded" in table.iloc[1, 2]
