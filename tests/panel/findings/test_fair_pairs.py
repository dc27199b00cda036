"""One thing alone changes: not where something else that is written of both bottles differs."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd
import pytest
from kikichoko.panel.batches.making import making
from kikichoko.panel.few.contrasts import contrasts
from kikichoko.panel.few.statements import statements
from kikichoko.panel.findings.all_statements import findings_of_tables
from kikichoko.panel.findings.evidence import Evidence
from kikichoko.panel.findings.factors import changed_alone, made_apart
from kikichoko.panel.overview.bottles_apart import fair_pairs
from kikichoko.panel.session.bottles import Bottle

MARKS = {"a": 6.0, "b": 4.0, "c": 3.0, "d": 5.0}


def evidence_of(people: int = 2, bottles: str = "abc", **put: dict[str, object]) -> Evidence:
    """Return a session: b is a, but pasteurised; c is of another tank and fraction.

    `put` adds to a bottle.
    """
    plain = {
        "a": {"fraction": "clear", "tank": "1", "pasteurised": "0"},
        "b": {"fraction": "clear", "tank": "1", "pasteurised": "1"},
        "c": {"fraction": "cloudy", "tank": "2", "pasteurised": "1"},
        "d": {"fraction": "clear", "tank": "2", "pasteurised": "0"},
    }
    known = [Bottle(name=name, **plain[name] | put.get(name, {})) for name in bottles]
    rows = [
        (f"T{n}", name, 1, "texture", MARKS[name] + n / 10)
        for n in range(1, people + 1)
        for name in bottles
    ]
    table = pd.DataFrame(rows, columns=["assessor", "sample", "replicate", "attribute", "score"])
    found = findings_of_tables(table, bottles=known, shuffles=99).evidence
    return replace(found, made=making(known, None))


def further(**columns: str) -> dict[str, object]:
    return {"further": columns}


@pytest.mark.parametrize(
    ("a", "b", "named"),
    [
        ({}, {}, []),
        (further(yeast="K701"), further(yeast="K701"), []),
        (further(yeast="K701"), further(yeast="k701"), []),  # as people write it
        (further(yeast="K701"), further(yeast="K901"), ["yeast"]),
        (further(yeast="K701"), {}, []),  # nothing is written of b
        (further(rice="Y"), further(rice="G"), ["rice"]),
        (further(price="900"), further(price="950"), []),  # no part of the making
        ({"storage": "2 C"}, {"storage": "15 C"}, ["storage"]),
        ({"polishing": 60.0}, {"polishing": 60.0}, []),
        ({"polishing": 60.0}, {"polishing": 50.0}, ["polishing ratio"]),
        ({"polishing": 60.0}, {}, []),
        ({"abv": 16.0, "acidity": 1.5}, {"abv": 17.0, "acidity": 1.8}, []),  # measured, not made
    ],
)
def test_a_pair_is_fair_only_where_nothing_else_written_of_both_differs(a, b, named):
    evidence = evidence_of(a=a, b=b)
    assert [str(one) for one in made_apart(evidence, "a", "b")] == named
    fair = not named
    assert bool(changed_alone(evidence, "pasteurised")) is fair
    assert [pair[:2] for pair in fair_pairs(evidence)] == ([("a", "b")] if fair else [])
    keys = {one.sentence.key.partition(".")[2]: str(one.sentence) for one in statements(evidence)}
    assert ("fair" in keys) is fair
    mixed = [
        str(one.sentence)
        for one in statements(evidence)
        if one.sentence.key == "few_report.differ_together" and one.about[:2] == ("a", "b")
    ]
    assert bool(mixed) is not fair
    assert all(f"differ in pasteurising, {named[0]} at once" in said for said in mixed)


@pytest.mark.parametrize(
    ("b", "c", "pairs"),
    [
        ({"temperature_c": 10.0}, {}, [("a", "b")]),
        ({"temperature_c": 40.0}, {}, []),  # c has none, so it is no factor of all
        ({"temperature_c": 40.0}, {"temperature_c": 10.0}, []),
    ],
)
def test_what_two_bottles_are_served_in_makes_a_pair_unfair_though_not_known_of_all(b, c, pairs):
    evidence = evidence_of(a={"temperature_c": 10.0}, b=b, c=c)
    assert [pair[:2] for pair in fair_pairs(evidence)] == pairs
    alone = changed_alone(evidence, "pasteurised").values()
    assert [pair for own in alone for pair in own] == pairs


@pytest.mark.parametrize(("yeast", "told"), [("K701", True), ("K901", False)])
def test_what_is_crossed_is_read_from_pairs_that_differ_in_nothing_else(yeast: str, told: bool):
    """Two tanks, each raw and pasteurised: the tank alone, unless each has a yeast of its own."""
    own = {
        "a": further(yeast="K701"),
        "b": further(yeast="K701"),
        "c": further(yeast=yeast) | {"fraction": "clear"},
        "d": further(yeast=yeast),
    }
    evidence = evidence_of(bottles="abcd", **own)
    factors = {one.factor for one in contrasts(evidence)}
    assert factors == ({"pasteurised", "tank"} if told else {"pasteurised"})
    said = [str(one.sentence) for one in statements(evidence)]
    assert any("differ in tank, yeast at once" in one for one in said) is not told
