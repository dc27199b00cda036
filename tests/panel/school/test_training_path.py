"""What a class practises next, and the session that checks just that."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace

import pandas as pd
import pytest
from kikichoko.analysis.core import tidy
from kikichoko.analysis.teaching import teaching
from kikichoko.forms.questions.cards import NO_FAULT, card
from kikichoko.panel.base.errors import InputRefused
from kikichoko.panel.plan.planning import make
from kikichoko.panel.school.class_pages import class_page
from kikichoko.panel.school.class_sessions import School, _of_bottles
from kikichoko.panel.school.training_path import (
    AT_ONCE,
    BOTTLE,
    CUPS,
    DOSES,
    POUR,
    Check,
    Practice,
    Practised,
    outcomes,
    practice_of,
    read_practice,
    said_to,
    write_practice_plan,
    write_practice_session,
)
from kikichoko.panel.session.reference_solutions import serving
from kikichoko.panel.session.session_folder import load

LADDER = {"plain": 1.0, "low": 3.0, "middle": 5.0, "high": 7.0, "top": 9.0}


def scores(sour: float) -> pd.DataFrame:
    """Make a class of two on two attributes; S1 has a slope of `sour` on acidity."""
    rows = [
        (who, bottle, cup, name, 5 + gain * (value - 5) + 0.2 * (-1) ** (cup + place))
        for who, gains in (("E1", (1, 1)), ("S1", (sour, 1)), ("S2", (1, 1)))
        for name, gain in zip(("acidity", "sweetness"), gains, strict=True)
        for place, (bottle, value) in enumerate(LADDER.items())
        for cup in (1, 2)
    ]
    return pd.DataFrame(rows, columns=["assessor", "sample", "replicate", "attribute", "score"])


def school_of(table: pd.DataFrame) -> School:
    return School(scores=table, experts=["E1"], students=["S1", "S2"], languages={"S2": "ja"})


@pytest.fixture(scope="module")
def practice() -> Practice:
    table = scores(-1.0)
    return practice_of(school_of(table), teaching(tidy(table), ["E1"]))


def test_what_was_found_is_practised(practice: Practice):
    assert (AT_ONCE, CUPS, DOSES) == (2, 2, (0.5, 1.0, 2.0))
    assert practice.checks == [Check(attribute="acidity", students={"S1": "reversed"})]
    assert practice.languages == {"S1": "en", "S2": "ja"}


def test_written_and_read_back(practice: Practice, tmp_path: Path):
    path = write_practice_plan(practice, tmp_path)
    assert path is not None
    assert read_practice(tmp_path) == practice
    assert write_practice_plan(practice.model_copy(update={"checks": []}), tmp_path) is None
    path.write_text("cheks = []", "utf-8")
    with pytest.raises(InputRefused, match="cheks"):
        read_practice(path)
    with pytest.raises(InputRefused, match="kikichoko teach writes it"):
        read_practice(tmp_path / "nowhere")


def test_the_session_asks_just_that_and_can_be_planned(practice: Practice, tmp_path: Path):
    folder = tmp_path / "practice"
    write_practice_session(folder, practice)
    session = load(folder)
    assert [name for question in session.scorecard for name in question.attributes] == ["acidity"]
    assert session.settings.serving.replicates == CUPS
    solution = serving("acidity")[0]
    names = [bottle.name for bottle in session.bottles]
    assert names == [f"{solution.base} plain", *(f"{solution.key} x{dose:g}" for dose in DOSES)]
    assert f"{2 * solution.amount:g} {solution.unit}" in session.bottles[-1].storage
    assert solution.mark in session.bottles[-1].storage
    assert {one.code: (one.role, one.language) for one in session.assessors} == {
        "E1": ("expert", "en"), "S1": ("student", "en"), "S2": ("student", "ja"),
    }  # fmt: skip
    assert len(make(session, secret=b"practice" * 4).sheets) == 3


def test_a_fault_is_practised_beside_a_clean_cup(tmp_path: Path):
    checks = [Check(attribute="fault:vinegar", students={"S1": "fault"})]
    folder = tmp_path / "practice"
    write_practice_session(folder, Practice(checks=checks, experts=["E1"], students=["S1"]))
    session = load(folder)
    controls = [bottle.control for bottle in session.bottles]
    assert controls == ["clean", "clean", "vinegar", "vinegar", "vinegar"]
    # Of a cup without a fault a box tells that it was judged; nothing else is asked.
    assert session.scorecard.keys == ("fault", "fault_none")


def test_a_cup_that_was_judged_free_of_faults_counts():
    """By the box alone, as a typed table has it; the box is no word, and no other aside stays."""
    asked = card("full", ["no_fault"])
    rows = pd.DataFrame(
        {"attribute": [NO_FAULT, "fault_unsure:cannot_tell", "fault:vinegar"], "score": 1.0}
    )
    kept = _of_bottles(rows, asked)
    assert list(zip(kept["attribute"], kept["score"], strict=True)) == [
        ("fault:none", 0.0), ("fault:vinegar", 1.0)
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("named", "alarms", "said"),
    [
        (3, 0, "you find it now. You named it in 3 of 4 cups that carried it, and a fault in 0 of"),
        (2, 0, "not yet. You named it in 2 of 4 cups"),
        (
            3,
            1,
            "not shown either way yet. You named it in 3 of 4 cups that carried it, and a fault",
        ),
    ],
)
def test_who_practised_a_fault_is_told_what_became_of_it(named: int, alarms: int, said: str):
    faults = pd.DataFrame(
        {"truth": ["fault:vinegar"] * 4 + [""] * 4,
         "outcome": ["right"] * named + ["missed"] * (4 - named)
                    + ["false alarm"] * alarms + ["clean"] * (4 - alarms)}
    )  # fmt: skip
    result = SimpleNamespace(students={"S1": SimpleNamespace(faults=faults)})
    checks = [Check(attribute="fault:vinegar", students={"S1": "fault"})]
    practice = Practice(checks=checks, experts=["E1"], students=["S1", "S2"])
    told = said_to(school_of(pd.DataFrame()), practice, result)
    assert list(told) == ["S1"]
    assert said in told["S1"][0].to("en")


@pytest.mark.parametrize(("sour", "state"), [(1.0, "mended"), (-1.0, "still")])
def test_the_next_session_checks_just_that(practice: Practice, sour: float, state: str):
    result = teaching(tidy(scores(sour)), ["E1"])
    assert outcomes(practice, result) == [
        Practised(student="S1", attribute="acidity", kind="reversed", state=state)
    ]


def test_a_practice_of_faults_alone_has_no_scored_line():
    """Nothing is said of scores, and no empty chart stands on the page."""
    rows = [
        ("1", who, bottle, cup, "fault:vinegar", 2.0 * (bottle == "spiked"))
        for who in ("E1", *(f"S{number}" for number in range(1, 6)))
        for bottle in ("spiked", "plain")
        for cup in (1, 2)
    ]
    columns = ["session", "assessor", "sample", "replicate", "attribute", "score"]
    controls = pd.DataFrame(
        {"session": "1", "sample": ["spiked", "plain"], "truth": ["fault:vinegar", ""]}
    )
    table = pd.DataFrame(rows, columns=columns)
    result = teaching(tidy(table), ["E1"], controls=controls)
    said = " ".join(map(str, result.sentences()))
    assert "S1 noticed 2 of 2 spiked cups" in said
    assert "needs repair" not in said
    own = " ".join(map(str, result.students["S1"].sentences()))
    assert "tasted each bottle once" not in own
    school = School(
        scores=table, experts=["E1"], students=sorted(result.students), margin=1.0,
        controls=controls, repeats={}, languages={}, title="Practice",
    )  # fmt: skip
    printed = [words.text for words in class_page(school, result, "en").words]
    assert "expert" not in printed
    assert "To practise together" in printed


def test_a_practice_brings_bottles_enough_for_everybody(tmp_path: Path):
    """Twenty-five people, two cups of 15 mL each: 750 mL, two bottles of 720."""
    assert (CUPS, POUR, BOTTLE) == (2, 15, 720)
    for people, bottles in ((23, 1), (24, 2)):
        students = [f"S{number}" for number in range(people)]
        checks = [Check(attribute="acidity", students={"S0": "reversed"})]
        folder = tmp_path / str(people)
        write_practice_session(folder, Practice(checks=checks, experts=["E1"], students=students))
        assert {bottle.available for bottle in load(folder).bottles} == {bottles}
