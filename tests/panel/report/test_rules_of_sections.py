"""When a section or a table of the report is made, and what a test of it claims: both sides."""

from __future__ import annotations

import re
from types import SimpleNamespace

import pandas as pd
import pytest
from kikichoko.panel.base.words import sentence
from kikichoko.panel.report import aroma, each, layout, maker
from kikichoko.panel.report.faults import _roles_differ
from kikichoko.panel.report.page import html
from kikichoko.panel.report.parts import Grid, Points, Report, Section
from kikichoko.panel.report.set_test import _statement


@pytest.mark.parametrize(("bottles", "made"), [(2, False), (3, True)])
def test_a_map_takes_three_bottles(bottles: int, made: bool):
    budget = SimpleNamespace(claimed=lambda *_: [])
    context = SimpleNamespace(
        attributes=lambda *_: ["sweetness", "acidity"],
        products=list(range(bottles)),
        findings=SimpleNamespace(budget=budget),
    )
    assert (layout.section(context) is not None) is made


@pytest.mark.parametrize(("makers", "rows"), [
    (["M"], [["Acidity", "7.0 / 5.0"]]),
    (["M", "N"], [["Acidity", "M", "7.0 / 5.0"], ["Acidity", "N", "3.0 / 5.0"]]),
])  # fmt: skip
def test_several_makers_have_rows_of_their_own(makers: list[str], rows: list[list[str]]):
    marks = {"M": 7.0, "N": 3.0}
    tables = {
        code: pd.DataFrame(
            {"attribute": ["acidity"], "sample": ["a"], "maker": [marks[code]], "others": [5.0]}
        )
        for code in makers
    }
    context = SimpleNamespace(
        attributes=lambda *_: ["acidity", "body"], name=lambda _: "Acidity", products=["a"]
    )
    shown = maker._marks(context, maker._told_apart(tables))
    assert shown.to_numpy().tolist() == rows


@pytest.mark.parametrize(("roles", "told"), [(["trained"], False), (["trained", "maker"], True)])
def test_faults_are_told_by_role_from_two_roles_on(roles: list[str], told: bool):
    assert _roles_differ(pd.DataFrame({"role": roles * 2})) is told


@pytest.mark.parametrize(("p", "kind"), [(0.05, "claim"), (0.0501, "description")])
def test_a_test_of_difference_claims_at_its_own_level(p: float, kind: str):
    assert _statement(0, "x", SimpleNamespace(p=p, alpha=0.05)).kind == kind
    assert _statement(0, "x", SimpleNamespace()).kind == "description"


def test_the_words_of_the_smell_are_in_no_section_of_the_sessions_own(
    monkeypatch: pytest.MonkeyPatch,
):
    monkeypatch.setattr(aroma, "questions", lambda _: {"aroma": ["aroma:pear"]})
    context = SimpleNamespace(findings=SimpleNamespace(evidence=None))
    assert aroma.own_section(context) is None


def test_a_test_of_the_bottles_beside_the_budget_is_left_out():
    warnings = [SimpleNamespace(key=key) for key in ("assessors.same_samples", "assessors.few")]
    context = SimpleNamespace(named=lambda one: one.key)
    assert each._care(context, warnings).lines == ("assessors.few",)


@pytest.mark.parametrize(("words", "grids"), [([], 0), (["green"], 1)])
def test_a_table_of_words_that_nobody_ticked_is_left_out(
    monkeypatch: pytest.MonkeyPatch, words: list[str], grids: int
):
    monkeypatch.setattr(aroma, "questions", lambda _: {"colour": ["colour:green"]})
    monkeypatch.setattr(aroma, "_table", lambda *_: pd.DataFrame({"Word": words}))
    monkeypatch.setattr(aroma, "_kept", lambda *_: pd.DataFrame())
    monkeypatch.setattr(aroma, "_counts", lambda *_: {})
    question = SimpleNamespace(label=SimpleNamespace(to=lambda _: "Colour"))
    context = SimpleNamespace(
        findings=SimpleNamespace(evidence=SimpleNamespace(question=lambda _: question)),
        language="en",
        said=lambda *_: (),
    )
    made = aroma.own_section(context)
    assert sum(isinstance(block, Grid) for block in made.blocks) == grids


def page_of(*blocks, names: frozenset[str] = frozenset()) -> str:
    section = Section(key="differ", title=sentence("report.in_short"), blocks=blocks)
    report = Report(title="t", subtitle="s", language="en", names=names, sections=(section,))
    return html(report, "mark")


@pytest.mark.parametrize(("name", "shown"), [("a", "a above c"), ("d", "A above c")])
def test_a_bottle_keeps_its_small_letter_on_the_page(name: str, shown: str):
    line = sentence("findings.above", high="a", low="c")
    assert f"<li>{shown}</li>" in page_of(Points((line,)), names=frozenset({name}))


def test_headings_of_columns_begin_with_a_capital_but_symbols_and_bottles():
    """Roles and answers stood in small letters beside headings with capitals; p and df stay."""
    heads = [sentence("report.role_expert"), sentence("methods.col_p"), sentence("methods.col_df"),
             "clear raw", sentence("report.col_bottle")]  # fmt: skip
    page = page_of(Grid("", pd.DataFrame([["x"] * 5], columns=pd.Index(heads, dtype=object))))
    shown = re.findall(r'<th scope="col"[^>]*>([^<]*)</th>', page)
    assert shown == ["Expert", "p alone", "df", "clear raw", "Bottle"]


def test_what_stands_beside_the_marks_bears_its_head_where_the_page_is_narrow():
    table = pd.DataFrame([["body", "1.0", "2.0", "b > a"]], columns=["what", "a", "b", "order"])
    page = page_of(Grid("", table, over=(("", 1), ("M1", 2), ("", 1))))
    assert '<td>2.0</td><td data-head="order">b &gt; a</td>' in page
    assert page.count("<td data-head=") == page.count('class="beside"') == 1
    assert 'style="--marks: 2"' in page
