"""What changed together with a fraction or a tank, and marks that stood there unreadably."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import pandas as pd
import pytest
from kikichoko.panel.batches.making import making
from kikichoko.panel.few.fair_pairs import statements as fair
from kikichoko.panel.findings.all_statements import Findings, findings_of_tables
from kikichoko.panel.findings.design import statements
from kikichoko.panel.findings.evidence import Evidence
from kikichoko.panel.overview.bottles_apart import statements as apart
from kikichoko.panel.session.bottles import Bottle


def evidence(bottles: tuple[Bottle, ...], without: tuple[str, ...] = ()) -> Evidence:
    """Return the evidence of six people who marked each bottle, one mark of T3 missing."""
    rows = [
        (who, bottle.name, 1, name, 5.0 + number % 3)
        for number, (who, bottle, name) in enumerate(
            product([f"T{n}" for n in range(6)], bottles, ("sweetness", "acidity"))
        )
        if (who, bottle.name, name) != without
    ]
    columns = ["assessor", "sample", "replicate", "attribute", "score"]
    found = findings_of_tables(pd.DataFrame(rows, columns=columns), bottles=bottles)
    return replace(found.evidence, made=making(bottles, None))


def said(one: Evidence) -> list[str]:
    return [str(line.sentence) for line in statements(one, Findings(one).budget)]


def pair(first: dict[str, str], second: dict[str, str]) -> tuple[Bottle, ...]:
    return tuple(
        Bottle(name=name, tank=tank, further=further)
        for name, tank, further in (("a", "1", first), ("b", "2", second))
    )


@pytest.mark.parametrize(("second", "told"), [
    ({"mash days": "21", "yeast": "701"}, "tank and days of mash changed together"),
    ({"mash days": "21", "yeast": "901", "water": "soft"}, "tank, days of mash, yeast always"),
    ({"mash days": "21", "yeast": "901", "price": "900"}, "tank, days of mash, yeast always"),
    ({"mash days": "24", "yeast": "701"}, ""),
    ({"yeast": "701"}, ""),
])  # fmt: skip
def test_all_that_is_written_of_two_brews_and_differs_is_named(second: dict[str, str], told: str):
    """What is written of one alone (water, days) is not known to differ."""
    first = {"mash days": "24", "yeast": "701", "price": "700"}
    lines = [line for line in said(evidence(pair(first, second))) if "cannot be told" in line]
    assert [told in line.casefold().replace("yeast, days of mash", "days of mash, yeast")
            for line in lines] == [True] * bool(told)  # fmt: skip
    assert not any("price" in line for line in lines)


@pytest.mark.parametrize(("days", "named"), [("21", True), ("24", False)])
def test_what_a_bottle_has_alone_names_the_days_of_its_mash(days: str, named: bool):
    own = {"mash days": "24"}
    bottles = (
        Bottle(name="a", tank="1", fraction="clear", pasteurised="0", further=own),
        Bottle(name="b", tank="1", fraction="cloudy", pasteurised="0", further=own),
        Bottle(name="c", tank="1", fraction="clear", pasteurised="1", further=own),
        Bottle(name="d", tank="2", fraction="clear", pasteurised="2", further={"mash days": days}),
    )
    one = evidence(bottles)
    told = [str(line.sentence) for line in apart(one, Findings(one).budget)]
    alone = next(line for line in told if line.startswith("d alone is"))
    assert ("days of mash 21" in alone) is named


def test_a_mark_that_stood_there_is_no_blank():
    bottles = tuple(Bottle(name=name) for name in "abc")
    one = evidence(bottles, ("T3", "b", "acidity"))
    assert "1 mark is blank (T3, b, acidity); nobody is left out for it." in said(one)
    unread = replace(one, unread=(("T3", "b", "acidity", "6?"), ("T3", "a", "acidity", "x")))
    lines = said(unread)
    assert not any("blank (" in line for line in lines)
    told = next(line for line in lines if "could not be read" in line)
    assert told.startswith("1 mark stood there and could not be read (T3, b, acidity: “6?”)")


@pytest.mark.parametrize(("yeast", "told"), [
    ("901", "a against b differ in tank, yeast at once: the cause cannot be told."),
    ("701", "a against b: as far as known tank alone differs."),
])  # fmt: skip
def test_what_differs_in_more_than_its_tank_is_not_said_to_differ_in_it_alone(
    yeast: str, told: str
):
    one = evidence(pair({"yeast": "701"}, {"yeast": yeast}))
    lines = [str(line.sentence) for line in fair(one)]
    assert any(told in line for line in lines), lines
