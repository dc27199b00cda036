"""Questions named before the tasting are read, refused in words, and answered first."""

from __future__ import annotations

import pandas as pd
import pytest
from kikichoko.forms.questions.cards import card
from kikichoko.forms.questions.scorecard import default_scorecard
from kikichoko.panel.base.errors import FolderFault
from kikichoko.panel.findings.all_statements import statements_of_tables
from kikichoko.panel.session.primary_questions import Primary, read_primary
from kikichoko.panel.session.session_folder import load

CARD = default_scorecard()
SIP = card("full", ["expected"])
BOTTLES = ("early", "middle", "late")


@pytest.mark.parametrize(
    ("written", "kind", "attribute", "bottles"),
    [
        ("sweetness", "scale", "sweetness", ()),
        ("sweetness: late,early", "scale", "sweetness", ("late", "early")),
        ("sweetness_balance", "balance", "sweetness_balance", ()),
        ("sweetness_balance: late", "majority", "sweetness_balance", ("late",)),
        ("aroma:pear", "word", "aroma:pear", ()),
        ("fault:stale", "fault", "fault:stale", ()),
        ("nose-palate", "promise", "", ()),
        ("maker: quality", "maker", "quality", ()),
    ],
)
def test_what_can_be_named(written: str, kind: str, attribute: str, bottles: tuple[str, ...]):
    found, problems = read_primary([written], CARD, BOTTLES, makers=True)
    assert problems == []
    assert found == (Primary(kind=kind, written=written, attribute=attribute, bottles=bottles),)


@pytest.mark.parametrize(
    ("given", "makers", "told"),
    [
        (["sweetnes"], True, "'sweetnes' is not understood"),
        (["sweetness: late, never"], True, "after the colon stand two bottles"),
        (["maker: quality"], False, "no assessor of assessors.csv has the role maker"),
        (["maker: pear"], True, "after 'maker:' stands the attribute"),
        (["expected-found"], True, 'Write options = ["expected"]'),
        (["words"], True, "is answered in free words"),
        (["sweetness", "sweetness"], True, "is named twice"),
        (["sweetness", "acidity", "body", "umami"], True, "at most 3 can be"),
    ],
)
def test_what_cannot_be_named_is_told(given: list[str], makers: bool, told: str):
    problems = read_primary(given, CARD, BOTTLES, makers=makers)[1]
    assert told in problems[0].to("en")


def test_a_session_holds_them_and_names_the_line_of_a_fault(folder):
    good = '[questions]\nprimary = ["sweetness: late, early"]'
    assert load(folder(more=good)).primary[0].bottles == ("late", "early")
    with pytest.raises(FolderFault, match=r"session.toml, line \d+: 'sweetnes' is not understood"):
        load(folder(more='[questions]\nprimary = ["sweetnes"]'))


def marks(gap: float) -> pd.DataFrame:
    """Ten assessors; B stands `gap` above A in sweetness, in nothing else; scatter about 1."""
    off = [0.9, -1.1, 0.4, -0.2, 1.3, -0.8, 0.1, -0.6, 0.7, -0.7]
    rows = []
    for place, who in enumerate("abcdefghij"):
        for turn, name in enumerate(("sweetness", "acidity", "body", "umami")):
            true = gap if name == "sweetness" else 0.0
            scatter = off[(place + 3 * turn) % 10] * (1 if turn else 1.2)
            rows.append((who, "A", name, 5.0 + place / 10))
            rows.append((who, "B", name, 5.0 + place / 10 + true + scatter))
    return pd.DataFrame(rows, columns=["assessor", "sample", "attribute", "score"])


def test_a_named_question_is_answered_first_whatever_the_answer():
    asked = (Primary(kind="scale", written="sweetness", attribute="sweetness"),)
    for gap, kind, words in ((3.0, "claim", "Yes: B above A"), (0.0, "description", "Not shown")):
        first = statements_of_tables(marks(gap), primary=asked)[0]
        assert (first.section, first.kind) == ("named", kind)
        assert words in str(first.sentence)
        assert first.rank is not None


def sips(more: float) -> pd.DataFrame:
    """Eight assessors: B is 2 points sweeter than A, and expected to be, but for `more`."""
    off = [0.6, -0.7, 0.3, -0.2, 0.8, -0.5, 0.1, -0.4]
    rows = []
    for place, who in enumerate("abcdefgh"):
        for bottle, found, before in (("A", 4.0, 4.0), ("B", 6.0, 6.0 - more), ("C", 4.0, 4.0)):
            own = off[(place + 3 * "ABC".index(bottle)) % 8]
            rows.append((who, bottle, "sweetness", found + own))
            rows.append((who, bottle, "sweetness_expected", before - off[place]))
    return pd.DataFrame(rows, columns=["assessor", "sample", "attribute", "score"])


@pytest.mark.parametrize(("more", "kind"), [(2.5, "claim"), (0.0, "description")])
def test_what_was_expected_against_what_was_found_is_a_question_of_its_own(more: float, kind: str):
    """Bottles differ in sweetness both times; only once further than their smell let expect."""
    asked, _ = read_primary(["expected-found"], SIP, "ABC", makers=False)
    assert asked[0].kind == "expected"
    told = statements_of_tables(sips(more), scorecard=SIP, primary=asked)
    assert (told[0].section, told[0].kind, told[0].family) == ("named", kind, "expected")
    assert told[0].p is not None
    own = [one for one in told if one.section == "stages"]
    assert [one.kind for one in own] == (["claim"] if kind == "claim" else [])
    if own:
        assert "B (+2.5) above A" in str(own[0].sentence)
    assert not any("sweetness_expected" in one.about for one in told)
    # Unnamed it stands in the same budget, with less of it.
    open_told = statements_of_tables(sips(more), scorecard=SIP)
    claimed = [one for one in open_told if one.section == "stages"]
    assert [one.kind for one in claimed] == (["claim"] if kind == "claim" else [])
    assert not claimed or claimed[0].p_adjusted >= told[0].p_adjusted


def test_naming_a_question_makes_it_easier_to_claim():
    """At 0.8 points: t = 2.5 on 9 df; named, its p is held against most of the budget."""
    asked = (Primary(kind="scale", written="sweetness", attribute="sweetness"),)

    def adjusted(primary: tuple[Primary, ...]) -> float:
        made = statements_of_tables(marks(0.8), primary=primary)
        told = [one for one in made if "sweetness" in one.about and one.p_adjusted is not None]
        return min(one.p_adjusted for one in told)

    assert adjusted(asked) < adjusted(())
