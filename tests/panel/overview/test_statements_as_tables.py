"""What would be a wall of numbers stands as a table, with the numbers of its sentence."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from kikichoko.panel.base.words import sentence
from kikichoko.panel.findings.all_statements import Findings, findings_of_tables
from kikichoko.panel.findings.statement import Rows, Statement
from kikichoko.panel.overview import all_told, bottles_apart, gaps, side_by_side, who_makes
from kikichoko.panel.report.build import _others
from kikichoko.panel.report.context import Context
from kikichoko.panel.report.parts import Grid, Section
from kikichoko.panel.session.bottles import Bottle

FAIR = [
    Bottle(name="a", fraction="free-run", pasteurised="0", tank="1"),
    Bottle(name="b", fraction="clear", pasteurised="1", tank="1"),
    Bottle(name="c", fraction="cloudy", pasteurised="1", tank="1"),
]


def table(scatter: float, **put: float) -> pd.DataFrame:
    """Return two tastings by six people, marks about 5; `put` adds points: "body_c"."""
    rng = np.random.default_rng(5)
    rows = [
        (f"A{who}", bottle, time, name, 5 + put.get(f"{name}_{bottle}", 0) + scatter * rng.normal())
        for who in range(6)
        for name in ("sweetness", "body", "quality")
        for bottle in "abc"
        for time in (1, 2)
    ]
    return pd.DataFrame(rows, columns=["assessor", "sample", "replicate", "attribute", "score"])


@pytest.fixture(scope="module")
def found() -> Findings:
    rows = table(0.2, body_a=-1.0, body_c=3.0)
    return findings_of_tables(rows, bottles=FAIR, shuffles=199)


@pytest.mark.parametrize("language", ["en", "ja"])
def test_a_table_of_what_stands_out_says_what_its_sentence_says(found: Findings, language: str):
    (made,) = who_makes._stands_out(found.evidence, found.budget)
    said = made.sentence.to(language)
    rows = [
        tuple(one if isinstance(one, str) else one.to(language) for one in row)
        for row in made.rows.cells
    ]
    assert {bottle for bottle, *_ in rows} == {"a", "b", "c"}
    for _, attribute, by, ends, going in rows:
        least, most = ends.split("～" if language == "ja" else " to ")
        named = f"{attribute.lower()} {by}"
        written = {
            "en": f"{named} ({least} to {most}; {going})",
            "ja": f"{named}点（{least}～{most}、{going}）",
        }
        assert written[language] in said
    assert said.count("～" if language == "ja" else " to ") == len(rows)
    assert made.rows.note.to(language) in said


@pytest.mark.parametrize(("tanks", "rows"), [(2, 0), (3, 9)])
def test_more_than_four_pairs_make_a_table(tanks: int, rows: int):
    """Two pressings of each tank: pairs within a tank, and of one pressing in two tanks."""
    bottles = [
        Bottle(name=f"{name}{tank}", fraction=fraction, pasteurised="1", tank=str(tank))
        for tank in range(tanks)
        for name, fraction in (("f", "free-run"), ("e", "press-end"))
    ]
    evidence = SimpleNamespace(
        products=[one.name for one in bottles],
        made=(),
        bottle={one.name: one for one in bottles}.__getitem__,
    )
    (made,) = bottles_apart._fair_pairs(evidence)
    cells = made.rows.cells if made.rows else ()
    assert len(cells) == rows
    assert (len(bottles_apart.fair_pairs(evidence)) > bottles_apart.IN_TEXT) is bool(rows)
    for first, second, factor, one, other in cells:
        pair = sentence("overview.fair_pair", first=first, second=second, factor=factor, one=one,
                        other=other)  # fmt: skip
        assert str(pair) in str(made.sentence)


def test_a_pair_that_differs_in_one_thing_is_a_table_of_its_gaps(found: Findings):
    (made,) = side_by_side._fair(found.evidence, found.budget)
    told = {
        found.evidence.row_name(one.attribute): one
        for one in gaps.gaps(found.evidence, found.budget)
        if {one.high, one.low} == {"b", "c"}
    }
    assert "b and c (fraction: clear, cloudy)" in str(made.rows.heading)
    verdicts = {}
    for attribute, high, by, ends, going, verdict in made.rows.cells:
        one = told[attribute]
        assert (high, by, str(going)) == (one.high, gaps.size(one.by), str(one.going))
        assert str(ends) == f"{gaps.end(one.least)} to {gaps.end(one.most)}"
        verdicts[one.attribute] = str(verdict)
    assert verdicts["body"] == "shown"
    assert told["Body"].claimed
    assert verdicts["quality"] == "not shown"
    assert not told["Overall quality"].claimed
    assert made.rows.note == "", "something is shown"


def test_a_pair_in_which_nothing_is_shown_says_so():
    alike = findings_of_tables(table(0.5), bottles=FAIR, shuffles=199)
    (made,) = side_by_side._fair(alike.evidence, alike.budget)
    assert [str(row[-1]) for row in made.rows.cells] == ["not shown"]
    assert str(made.rows.note).startswith("Between b and c nothing is shown, and nothing is clear")


def test_tables_stand_in_the_one_chapter_that_shows_them(found: Findings):
    made = all_told.statements(found.evidence, found.budget)
    held = [one for one in made if one.rows is not None]
    assert {one.section for one in held} == {"differ"}
    context = SimpleNamespace(overview=made)
    lines = Context.beyond(context, "differ")
    grids = Context.tabled(context, "differ")
    assert not {str(one.sentence) for one in held} & {str(line) for line in lines}
    assert [str(one.heading) for one in grids] == [str(one.rows.heading) for one in held]
    assert [len(one.frame) for one in grids] == [len(one.rows.cells) for one in held]


@pytest.mark.parametrize(("note", "added"), [("three by chance", 0), ("something else", 1)])
def test_the_note_of_such_a_table_is_no_statement_of_its_own(note: str, added: int):
    """The file of numbers has the sentence, which says it."""
    rows = Rows(heading="h", columns=("a",), cells=(("1",),), note="three by chance")
    told = Statement(kind="description", about=(), sentence="all", section="differ", rows=rows)
    grid = Grid("h", pd.DataFrame({"a": ["1"]}), note)
    section = Section(key="differ", title=sentence("report.differ"), blocks=(grid,))
    assert len(_others([section], [told], "en")) == added
