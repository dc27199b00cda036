"""What is set against the others alone: who dislikes a style, the maker, who noted no fault."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd
import pytest
from invented_marks import evidence_of, table, text
from kikichoko.panel.findings.budget import judge
from kikichoko.panel.overview import next_time, order, side_by_side, steadiness
from kikichoko.panel.overview.gaps import Gap, gaps


def a_gap(by: float, *, claimed: bool = False, least: float = 0.2) -> Gap:
    return Gap(attribute="sweetness", high="x", low="y", by=by, least=least, most=by + 1, n=8,
               along=tuple("abcdefgh"), against=(), claimed=claimed)  # fmt: skip


def marked(name: str, **by_person: tuple[float, float]):
    """Return evidence in which each person gave bottles a and b these marks in one attribute."""
    rows = [
        (who, bottle, time, name, mark)
        for who, own in by_person.items()
        for bottle, mark in zip("ab", own, strict=True)
        for time in (1, 2)
    ]
    columns = ["assessor", "sample", "replicate", "attribute", "score"]
    return pd.DataFrame(rows, columns=columns)


@pytest.mark.parametrize(("own", "told"), [((9.0, 2.0), "A1 0 of 1"), ((2.0, 9.0), "A1 1 of 1")])
def test_who_dislikes_the_style_is_held_against_the_others_alone(own, told: str):
    """A1's 7 points turn the panel's mean: in a panel that holds A1, A1 went its way both times."""
    others = {f"A{n}": (5.0, 6.0) for n in (2, 3, 4)}
    evidence = evidence_of(marked("quality", A1=own, **others), styles="-")
    budget = judge(evidence)
    made = order._styles(evidence, gaps(evidence, budget))
    assert text(made, "style_dislikes").endswith(f"the others' way in: {told}.")


@pytest.mark.parametrize(("mine", "turns"), [(0.9, False), (1.1, True)])
def test_a_maker_who_would_put_another_bottle_first_is_told(mine: float, turns: bool):
    """The others: b 6.25, a 6.0, c 5.0; with the maker a is first if a leads by more than 1."""
    marks = {
        "A2": (6.0, 6.25, 5.0), "A3": (6.0, 6.5, 5.0), "A4": (6.0, 6.0, 5.0), "A5": (6.0, 6.25, 5.0)
    } | {"A1": (mine, 0.0, 0.0)}  # fmt: skip
    rows = pd.DataFrame(
        [
            (who, bottle, "quality", mark)
            for who, own in marks.items()
            for bottle, mark in zip("abc", own, strict=True)
        ],
        columns=["assessor", "sample", "attribute", "score"],
    )  # fmt: skip
    evidence = evidence_of(rows, assessors={"A1": "maker"})
    made = order._maker(evidence)
    told = " ".join(str(one.sentence) for one in made)
    assert ("there b is first in quality, with the maker it would be a" in told) is turns
    assert not turns or "does not turn the result" not in told


@pytest.mark.parametrize(("severity", "also"), [(0, True), (1, False)])
def test_a_fault_is_not_all_where_who_noted_none_sets_the_bottle_apart_alike(severity, also):
    rows = table(sweetness_c=3)
    noted = [
        (f"A{n}", bottle, time, "fault:buttery",
         0.0 if bottle != "c" else 2.0 if n < 6 else float(severity))
        for n in range(1, 7) for bottle in "abcd" for time in (1, 2)
    ]  # fmt: skip
    rows = pd.concat([rows, pd.DataFrame(noted, columns=rows.columns)])
    evidence = evidence_of(rows)
    made = side_by_side._held(evidence, judge(evidence))
    said = text(made, "held_marks_also")
    assert said.startswith("A6, who noted no fault in c, sets it apart the same way in") is also
    assert bool(text(made, "held_marks")) is not also


def test_a_reference_is_not_advised_for_what_parts_the_bottles():
    evidence = evidence_of(table(scatter=0.3))
    worst = steadiness.least_repeated(evidence)
    assert worst
    assert steadiness.least_repeated(evidence, but={worst}) not in ("", worst)
    names = set(evidence.scores["attribute"].astype(str))
    assert steadiness.least_repeated(evidence, but=names) == ""


@pytest.mark.parametrize(("by", "key"), [(2.2, "step_name_more"), (2.3, "step_name_from")])
def test_a_gap_below_what_is_found_when_named_asks_for_more_assessors(monkeypatch, by, key):
    evidence = evidence_of(table())
    hint = replace(a_gap(by), attribute="body", high="a", low="b")
    able = pd.DataFrame([{"about": "body", "kind": "scale", "named": 2.3}])
    monkeypatch.setattr(next_time, "hints", lambda *_: [hint])
    monkeypatch.setattr(next_time, "detectable", lambda *_: able)
    steps = next_time._steps(evidence, judge(evidence))
    assert f"overview.{key}" in [getattr(one, "key", "") for one in steps]


@pytest.mark.parametrize(
    ("roles", "said"),
    [
        ({}, "."),
        ({"A1": "consumer"}, ", over the marks of all but consumers."),
        ({"A1": "maker"}, ", over the marks of all, the maker's too."),
        (
            {"A1": "maker", "A2": "consumer"},
            ", over the marks of all but consumers, the maker's too.",
        ),
    ],
)
def test_whose_marks_say_what_is_repeated_least(roles: dict[str, str], said: str):
    evidence = evidence_of(table(7, times=2))
    people = [replace(one, role=roles.get(one.code, "trained")) for one in evidence.people]
    told = text(steadiness._by_attribute(replace(evidence, people=tuple(people))), "repeats_least")
    assert f"({told.partition('; most: ')[2].partition(' (')[2].partition(')')[0]}){said}" in told
