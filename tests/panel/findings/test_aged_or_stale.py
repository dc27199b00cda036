"""A bottle that is stated to be aged is not held back for its age (老香 beside 熟成香).

That old sake smells of caramel, dried fruit and soy, and stale sake of pickled radish, is common
practice of the trade; three years are from memory.
"""

from __future__ import annotations

import pandas as pd
import pytest
from kikichoko.forms.questions.scorecard import default_scorecard
from kikichoko.panel.few import words_few
from kikichoko.panel.findings import tainted, verdicts
from kikichoko.panel.findings.budget import Budget
from kikichoko.panel.findings.evidence import Evidence
from kikichoko.panel.session.bottles import Bottle
from kikichoko.panel.session.roster import Assessor

NOTHING = Budget(found=None, judged=(), alpha=0.05, majority_from=None)
COLUMNS = ["assessor", "sample", "replicate", "position", "attribute", "score"]


def session(cells: dict[tuple[str, str, str], list[int]], *bottles: Bottle) -> Evidence:
    """Three people taste all bottles; `cells` holds by person, bottle and line the marks."""
    rows = [
        (who, bottle.name, turn, place, line, (given or [0] * times)[turn - 1])
        for who in "HJC"
        for place, bottle in enumerate(bottles, start=1)
        for line in {line for *_, line in cells}
        for times in (max(map(len, cells.values())),)
        for given in (cells.get((who, bottle.name, line)),)
        for turn in range(1, times + 1)
    ]
    return Evidence(
        scores=pd.DataFrame(rows, columns=COLUMNS),
        bottles=bottles,
        people=tuple(Assessor(code=one, role="trained") for one in "HJC"),
        scorecard=default_scorecard(),
        replicates=max(map(len, cells.values())),
    )


def noted(severity: int, *bottles: Bottle, fault: str = "fault:stale") -> Evidence:
    return session({(who, "old", fault): [severity] for who in "HJC"}, *bottles, Bottle(name="new"))


OLD = Bottle(name="old", storage="古酒")


def keys(found: Evidence) -> set[str]:
    said = (*tainted.statements(found), *verdicts.statements(found, NOTHING))
    return {one.sentence.key.partition(".")[2] for one in said}


@pytest.mark.parametrize(
    ("facts", "aged"),
    [
        ({"fraction": "aged"}, True), ({"storage": "kept six years old"}, True),
        ({"tank": "T3 (six years earlier)"}, True), ({"lot": "三年貯蔵"}, True),
        ({"stored_months": 36.0}, True), ({"stored_months": 35.0}, False),
        ({"storage": "packaged, 5 °C"}, False), ({"fraction": "中取り", "lot": "2025年"}, False),
        ({"storage": "engaged"}, False), ({}, False),
    ],
)  # fmt: skip
def test_what_states_that_a_bottle_is_aged(facts: dict[str, object], aged: bool):
    assert Bottle(name="x", **facts).aged is aged


@pytest.mark.parametrize(
    ("old", "severity", "fault", "word"),
    [
        (OLD, 1, "fault:stale", "age"),
        (OLD, 2, "fault:stale", "hold"),
        (Bottle(name="old"), 1, "fault:stale", "hold"),
        (OLD, 1, "fault:musty", "hold"),
    ],
)
def test_an_aged_bottle_is_held_back_for_what_is_strong_or_no_age(
    old: Bottle, severity: int, fault: str, word: str
):
    found = noted(severity, old, fault=fault)
    assert tainted.decision(found, "old") == word
    assert (tainted.held(found) == ["old"]) is (word == "hold")
    assert verdicts.to_do(found, "new") != "age"


def test_it_is_said_that_age_may_be_meant_held_back_or_not():
    assert {"age", "do_age"} <= keys(noted(1, OLD))
    assert not {"hold", "noted", "age_held"} & keys(noted(1, OLD))
    assert {"age_held", "hold"} <= keys(noted(2, OLD))
    assert not {"age", "age_held", "do_age"} & keys(noted(1, Bottle(name="old")))
    assert not {"age", "age_held"} & keys(noted(1, OLD, fault="fault:musty"))


def test_two_reasons_hold_it_back_though_one_may_be_age():
    cells = {(who, "old", fault): [1] for who in "HJC" for fault in ("fault:stale", "fault:musty")}
    found = session(cells, OLD, Bottle(name="new"))
    assert tainted.decision(found, "old") == "hold"
    assert "age_held" in keys(found)


@pytest.mark.parametrize(("severity", "named"), [(1, False), (3, True)])
def test_the_box_names_what_holds_a_bottle_back_and_no_more(severity: int, named: bool):
    """One of three notes it as stale beside three as musty: not what holds it, unless strong."""
    cells = {(who, "old", "fault:musty"): [2] for who in "HJC"} | {
        (who, "old", "fault:stale"): [severity if who == "H" or severity > 2 else 0]
        for who in "HJC"
    }
    found = session(cells, Bottle(name="old"), Bottle(name="new"))
    made = next(one for one in tainted.statements(found) if one.box == "findings.box_hold")
    assert "stale" in str(made.sentence)
    assert ("stale" in str(made.brief)) is named


@pytest.mark.parametrize(
    ("here", "beside", "marks"), [(2, 1, True), (2, 2, False), (3, 2, True), (1, 1, False)]
)
def test_a_word_that_somebody_gives_another_bottle_as_often_marks_neither(
    here: int, beside: int, marks: bool
):
    """H gives it here and there; J twice and C once, here alone: too rare without H.

    Four of five ticks on one of two bottles come by luck in 0.15 of such tastings: no mark either.
    """
    word = "aroma:caramel"
    assert default_scorecard().owner(word)

    def given(times: int) -> list[int]:
        return [1] * times + [0] * (3 - times)

    cells = {
        ("H", "old", word): given(here), ("J", "old", word): given(2), ("C", "old", word): given(1),
        ("H", "new", word): given(beside),
    }  # fmt: skip
    found = session(cells, OLD, Bottle(name="new"))
    assert (words_few.common(found, "old") == [word]) is marks
    assert words_few.shared_words(found, "old") == [word]
    said = {one.sentence.key for one in words_few.statements(found)}
    assert ("few_report.words_elsewhere" in said) is not marks


@pytest.mark.parametrize(
    ("marks", "doubtful"),
    [
        ({"H": [1, 0, 0], "J": [0, 1, 0]}, True),  # slight, in two of nine, by nobody twice
        ({"H": [1, 1, 0], "J": [0, 1, 0]}, False),  # twice by one of them
        ({"H": [2, 0, 0], "J": [0, 2, 0]}, False),  # not slight
        ({"H": [1], "J": [1]}, False),  # two of three tastings
        ({"H": [1, 0], "J": [0, 1], "C": [1, 0]}, False),  # half of the tastings
    ],
)
def test_what_holds_a_bottle_back_slightly_rarely_and_by_nobody_twice_is_a_suspicion(
    marks: dict[str, list[int]], doubtful: bool
):
    cells = {(who, "old", "fault:musty"): given for who, given in marks.items()}
    found = session(cells, Bottle(name="old"), Bottle(name="new"), Bottle(name="more"))
    assert tainted.held(found) == ["old"]
    assert tainted.doubtful(found, "old") is doubtful
    assert ("hold_doubtful" in keys(found)) is doubtful
    assert tainted.who_noted(found, "old") == set(marks)
    assert not tainted.doubtful(found, "new")


@pytest.mark.parametrize(
    ("faulty", "told"),
    [(("old",), ""), (("old", "new"), "left_one"), (("old", "new", "more"), "left_none")],
)
def test_it_is_said_where_one_bottle_alone_or_none_is_left(faulty: tuple[str, ...], told: str):
    cells = {(who, name, "fault:musty"): [2] for who in "HJC" for name in faulty}
    found = session(cells, *(Bottle(name=name) for name in ("old", "new", "more")))
    assert tainted.held(found) == list(faulty)
    assert {"left_one", "left_none"} & keys(found) == ({told} if told else set())
