"""Words to tick: those of the smell on the wheel, those of questions of one's own apart."""

from __future__ import annotations

import pandas as pd
import pytest
from kikichoko.forms.questions.scorecard import change, default_scorecard
from kikichoko.panel.findings import ticks
from kikichoko.panel.findings.all_statements import findings_of_tables

OWN = {
    "key": "with",
    "section": "words",
    "kind": "ticks",
    "label": {"en": "Goes with"},
    "options": [{"key": key, "label": {"en": key}} for key in ("fish", "cheese")],
}


@pytest.fixture(scope="module")
def found():
    """Six assessors, three bottles: pear is b's; fish goes with c; P6 skips the own question."""
    rows = []
    for number in range(1, 7):
        for sample in "abc":
            rows.append((f"P{number}", sample, "aroma:pear", float(sample == "b")))
            rows.append((f"P{number}", sample, "aroma:apple", float(number == 1)))
            if number < 6:
                rows.append((f"P{number}", sample, "with:fish", float(sample == "c")))
                rows.append((f"P{number}", sample, "with:cheese", 0.0))
    table = pd.DataFrame(rows, columns=["assessor", "sample", "attribute", "score"])
    card = change(default_scorecard(), add=[OWN])[0]
    return findings_of_tables(table, scorecard=card, shuffles=199)


def test_each_question_has_its_words_and_its_section(found):
    evidence = found.evidence
    assert list(ticks.questions(evidence)) == ["aroma", "with"]
    sections = {one.about[0]: one.section for one in found.statements if one.family == "word"
                and one.kind == "claim"}  # fmt: skip
    assert sections["aroma:pear"] == "aroma"
    assert sections.get("with:fish", "ticks") == "ticks"


def test_who_skipped_a_question_is_not_counted_in_it(found):
    tally = ticks.tally(found.evidence)
    assert tally["b", "aroma:pear"] == (6, 6)
    assert tally["c", "with:fish"] == (5, 5)


def test_words_of_own_questions_go_on_no_label_and_not_into_the_table(found):
    assert "with:fish" not in str(ticks.label_words(found.evidence, found.budget))
    cells = [str(one.text) for one in found.verdicts if one.question == "words"]
    assert any("pear 6 of 6" in text for text in cells)
    assert not any("fish" in text for text in cells)


def test_without_scores_the_box_tells_what_half_or_more_gave(found):
    box = [str(line) for _, line in found.in_short]
    assert any("b pear 6 of 6" in line for line in box)


def test_every_claim_of_the_box_is_one_that_calibrations_count(found):
    """What the README says of 19 in 20 rests on all claims; assessors have their own share."""
    counted = {str(one.sentence) for one in found.within_budget}
    claims = [one for one in found.statements if one.kind == "claim"]
    assert claims
    assert all(one.family == "assessor" or str(one.sentence) in counted for one in claims)
