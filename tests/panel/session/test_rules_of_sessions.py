"""What a session folder may hold and what is warned of, on both sides of every limit."""

from __future__ import annotations

from itertools import product

import pytest
from kikichoko.forms.questions.scorecard import default_scorecard
from kikichoko.panel.base.records import Cells
from kikichoko.panel.session.bottles import _control
from kikichoko.panel.session.methods import METHODS
from kikichoko.panel.session.primary_questions import read_primary
from kikichoko.panel.session.session_folder import load


@pytest.mark.parametrize(
    ("given", "rated", "told"),
    [
        ("clean", ["stale"], 0), ("clean", [], 0), ("stale", ["stale"], 0),
        ("fault:stale", ["stale"], 0), ("musty", ["stale"], 1), ("stale", [], 1),
    ],
)  # fmt: skip
def test_a_control_is_clean_or_holds_a_fault_that_is_asked_for(given, rated, told: int):
    problems = []
    cells = Cells("bottles.csv", 2, {"control": given}, problems, {})
    assert _control("a", "sample", cells, rated, {}) == given.removeprefix("fault:")
    assert len(problems) == told


def test_two_of_five_are_served_in_all_orders_of_two_and_three():
    """ISO 6658: the odd two are A or B, 10 orders of each."""
    method = METHODS["two-out-of-five"]
    every = {"".join(one) for one in product("AB", repeat=5)}
    assert sorted(method.orders) == sorted(one for one in every if one.count("A") in {2, 3})


@pytest.mark.parametrize(("number", "faults"), [(3, 0), (4, 1)])
def test_three_questions_are_named_and_no_fourth(number: int, faults: int):
    given = ["sweetness", "acidity", "body", "quality"][:number]
    found = read_primary(given, default_scorecard(), ("a", "b"), makers=False, place="x")
    assert len(found[1]) == faults


@pytest.mark.parametrize(("people", "told"), [(2, True), (3, False)])
def test_fewer_than_three_assessors_are_told(folder, people: int, told: bool):
    rows = "".join(f"A{place},trained\n" for place in range(people))
    session = load(folder(assessors=f"assessor,role\n{rows}"))
    said = [one.what.key for one in session.cautions]
    assert ("folder.few_assessors" in said) is told
