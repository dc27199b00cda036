"""The sections of the cards for one kind of sake, for grades and for guests."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.ordinal import ordinal
from kikichoko.forms.questions.cards import EDITION, OPTIONS, STAGES, card
from kikichoko.panel.base.words import say
from kikichoko.panel.report import cards, stages
from kikichoko.panel.report.context import Context
from kikichoko.panel.report.paired import with_limits
from kikichoko.panel.report.parts import Grid, Lines

BOTTLES = ["clear", "cloudy"]


def context(name: str, rows: list[tuple[str, str, int, str, float]],
            language: str = "en", edition: int = EDITION):  # fmt: skip
    """Return what a section asks of a report's context."""
    made = card(name, OPTIONS, edition)
    columns = ["assessor", "sample", "position", "attribute", "score"]
    table = pd.DataFrame(rows, columns=columns).assign(replicate=1)
    told = SimpleNamespace(
        products=BOTTLES,
        language=language,
        session=SimpleNamespace(scorecard=made),
        name=lambda attribute: made.name(attribute, language),
        named=lambda sentence: sentence,
        table=lambda attributes: table[table["attribute"].isin(attributes)],
    )
    told.inside = lambda means: Context.inside(told, means)  # type: ignore[arg-type]
    told.panel_means = lambda names: Context.panel_means(told, names)  # type: ignore[arg-type]
    return told


def scored(attribute: str, **by_bottle: list[float]) -> list[tuple[str, str, int, str, float]]:
    return [
        (f"P{person}", bottle, place, attribute, float(score))
        for place, (bottle, scores) in enumerate(by_bottle.items(), start=1)
        for person, score in enumerate(scores)
    ]


def grid(section, heading: str) -> pd.DataFrame:
    return next(
        block.frame.rename(columns=str)
        for block in section.blocks
        if isinstance(block, Grid) and heading in str(block.heading)
    )


def words(section) -> str:
    return " ".join(
        str(line) for block in section.blocks if isinstance(block, Lines) for line in block.lines
    )


GRADES = scored("grade", clear=[1, 2, 1, 2, 3, 2], cloudy=[3, 4, 2, 3, 5, 3])


def test_grades_are_counted_and_modelled_and_their_direction_is_said():
    rows = [*GRADES, *scored("demerit:thin", clear=[1, 0, 0, 0, 0, 0], cloudy=[0] * 6)]
    rows += scored("demerit:stale", clear=[0] * 6, cloudy=[0] * 6)
    made = cards.grades(context("official", rows))
    counts = grid(made, "Overall grade (answers)").set_index("Bottle")
    assert counts.loc["clear"].astype(int).tolist() == [2, 3, 1, 0, 0]
    assert counts.loc["cloudy"].astype(int).tolist() == [0, 1, 3, 1, 1]
    assert "1, the best" in words(made)
    assert not made.statements
    table = pd.DataFrame(GRADES, columns=["assessor", "sample", "position", "attribute", "score"])
    expected = ordinal(table.assign(replicate=1), "grade").shares
    pd.testing.assert_frame_equal(made.tables["grade_shares"], expected)
    # The share of the best grade is higher where the grades were lower.
    best = expected[expected["category"] == 1].set_index("sample")["share"]
    assert best["clear"] > best["cloudy"]
    reasons = grid(made, "Why not better").set_index("Bottle")
    assert reasons.columns.tolist() == ["thin"]
    assert reasons["thin"].tolist() == ["1", "0"]


@pytest.mark.parametrize(
    ("cloudy", "apart"), [([3, 4, 3, 4, 3, 3], True), ([3, 4, 2, 1, 3, 3], False)]
)
def test_grades_that_do_not_overlap_have_no_limits_and_it_is_said(cloudy, apart):
    made = cards.grades(
        context("official", scored("grade", clear=[1, 2, 1, 2, 1, 2], cloudy=cloudy))
    )
    shown = grid(made, "share of each grade").set_index("Bottle").astype(str)
    assert ("do not overlap" in words(made)) is apart
    assert ("(" in "".join(shown.loc["cloudy"])) is not apart


def test_one_grade_for_all_is_told_and_no_share_is_made_up():
    made = cards.grades(context("official", scored("grade", clear=[2, 2, 2], cloudy=[2, 2, 2])))
    assert not made.tables
    assert grid(made, "Overall grade (answers)")["2 good"].tolist() == ["3", "3"]


@pytest.mark.parametrize(
    ("make", "attribute", "there"),
    [
        (cards.bubbles, "settling", True),
        (cards.bubbles, "carbonation", False),
        (cards.ageing, "maturity", True),
        (cards.ageing, "colour", False),
    ],
)
def test_a_kind_has_its_section_only_where_its_own_questions_were_asked(make, attribute, there):
    name = "cloudy" if make is cards.bubbles else "aged"
    rows = scored(attribute, clear=[1, 2, 3], cloudy=[4, 5, 9])
    made = make(context(name if there else "full", rows))
    assert (made is not None) is there
    if there:
        cells = next(one.frame for one in made.blocks if isinstance(one, Grid)).iloc[:, 1]
        assert str(cells[0]).startswith("2.0 (")
        assert " to " in str(cells[0])


@pytest.mark.parametrize(
    ("edition", "asked", "heading", "counts"),
    [(2, "summers", "Further summers", ["0", "1", "1", "1"]),
     (1, "keep", "Keeping", ["0", "1", "1", "1"])],
)  # fmt: skip
def test_what_more_time_would_do_is_counted_as_the_session_asked_it(
    edition, asked, heading, counts
):
    rows = scored("maturity", clear=[1, 2, 3], cloudy=[4, 5, 9])
    rows += scored(asked, clear=[2, 3, 4], cloudy=[1, 1, 2])
    made = cards.ageing(context("aged", rows, edition=edition))
    assert grid(made, heading).iloc[0, 1:].tolist() == counts


def test_liking_counts_people_and_claims_nothing():
    rows = scored("liking", clear=[7, 6, 2, 5], cloudy=[3, 5, 9, 5])
    rows += scored("choice", clear=[1, 1, 2, 4], cloudy=[2, 4, 1, 4])
    rows += scored("choice_reason:umami", clear=[1, 1, 0, 0], cloudy=[0, 0, 1, 0])
    rows += scored("style_liking", clear=[4, 5, 5, 6], cloudy=[6, 5, 7, 4])
    made = cards.liking(context("guests", rows))
    liked = grid(made, "Liking by bottle").set_index("Bottle")
    assert [str(cell) for cell in liked["Like it best"]] == ["2 of 4", "1 of 4"]
    chosen = grid(made, "Order of choice").set_index("Bottle")
    assert chosen.loc["clear"].astype(int).tolist() == [2, 1, 0, 1]
    assert grid(made, "Why chosen")["umami"].tolist() == ["2", "1"]
    assert "2 up, 1 down" in words(made)
    assert "may be nobody's liking" in words(made)
    assert not made.statements


def test_side_by_side_is_paired_with_the_single_cup():
    rows = scored("quality", clear=[5, 6, 4], cloudy=[5, 5, 5])
    rows += scored("quality_again", clear=[6, 8, 4], cloudy=[4, 5, 3])
    made = cards.liking(context("full", rows))
    assert str(made.title) == say("report.choice")
    table = made.tables["side_by_side"].set_index("sample")
    assert table.loc["clear", "difference"] == pytest.approx(1.0)
    assert table.loc["cloudy", "difference"] == pytest.approx(-1.0)
    assert np.isfinite(table["low"]).all()


def test_equal_gaps_and_one_person_have_no_interval_to_show():
    """Everybody found half a point more than expected: nothing is left to judge by."""
    rows = scored(STAGES[0], clear=[3, 4, 5], cloudy=[6])
    rows += scored(STAGES[2], clear=[3.5, 4.5, 5.5], cloudy=[6.5])
    here = context("full", rows)
    here.answers = SimpleNamespace(scores=pd.DataFrame({"attribute": [STAGES[0], STAGES[2]]}))
    here.picture = lambda _draw: []
    here.said = lambda *_: ()
    made = stages.section(here)
    shown = grid(made, say("report.expected_table")).set_index("Bottle")
    assert shown.astype(str).to_numpy().tolist() == [["3", "4.0", "4.5", "0.5", "–"]]
    means = grid(made, say("report.stages_table")).set_index("Bottle")
    assert means.iloc[1].tolist() == ["6.0", "6.5"]
    assert means.iloc[0].tolist() == ["4.0", "4.5"], "one bottle of one person: no comparison"


def test_a_card_without_them_has_none_of_these_sections():
    here = context("brewery", scored("quality", clear=[5, 6], cloudy=[4, 4]))
    assert [make(here) for make in (cards.bubbles, cards.ageing, cards.grades, cards.liking)] == [
        None
    ] * 4


def test_two_tasters_get_limits_that_end_with_the_scale_and_none_without_width():
    rows = [
        *scored("settling", clear=[2, 9], cloudy=[7, 7]),
        *scored("carbonation", clear=[4, 4], cloudy=[4, 4]),
    ]
    means = context("cloudy", rows).panel_means(["settling", "carbonation"])
    assert list(means["attribute"]) == ["settling"] * 2 + ["carbonation"] * 2
    one, other = means.loc[means["attribute"] == "settling"].to_dict("records")
    assert (one["mean"], one["n"], one["low"], one["high"]) == (5.5, 2, 0.0, 10.0)
    assert other["low"] < 7 < other["high"] <= 10
    assert str(with_limits(means.iloc[0])) == "5.5 (0.0 to 10.0)"
    assert [with_limits(row) for _, row in means.iloc[2:].iterrows()] == ["4.0", "4.0"]
    assert with_limits(pd.Series({"mean": 4.0, "low": 3.96, "high": 4.04})) == "4.0"


def test_a_bottle_that_divides_people_is_told_with_counts():
    rows = scored("liking", clear=[6, 5, 6, 5, 6, 4, 5, 6], cloudy=[9, 1, 9, 2, 9, 1, 5, 9])
    (said,) = cards.liking(context("guests", rows)).statements
    assert (said.kind, said.about) == ("description", ("cloudy", "liking"))
    assert "4 of 8 mark it above the middle of the scale, 3 below" in str(said.sentence)
