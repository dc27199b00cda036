"""Which to choose, what pasteurising did, what places did: on both sides of each threshold."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from invented_marks import evidence_of, table, text
from kikichoko.panel.findings import design, habits
from kikichoko.panel.findings.all_statements import findings_of_tables
from kikichoko.panel.findings.budget import judge
from kikichoko.panel.overview import (
    more_counts,
    more_factors,
    next_time,
    order,
    side_by_side,
    what_for,
    who_makes,
)
from kikichoko.panel.session.bottles import Bottle
from kikichoko.panel.session.roster import brewed_by
from scipy.stats import linregress, ttest_1samp
from statsmodels.formula.api import ols

WHICH = "Which of these do we release?"
HEAT = [
    Bottle(name="a", fraction="free-run", pasteurised="0", tank="1"),
    Bottle(name="b", fraction="free-run", pasteurised="1", tank="1"),
    Bottle(name="c", fraction="cloudy", pasteurised="1", tank="1"),
]


def noted(rows: pd.DataFrame, bottle: str, people: int, cups: tuple[int, ...] = (1, 2)):
    """Add a line for one fault: everybody answers, the first so many note it in some cups."""
    cells = rows[["assessor", "sample", "replicate"]].drop_duplicates()
    who = cells["assessor"].str[1:].astype(int) <= people
    hit = who & (cells["sample"] == bottle) & cells["replicate"].isin(cups)
    return pd.concat([rows, cells.assign(attribute="fault:musty", score=2.0 * hit)])


def asked(rows: pd.DataFrame, question: str = WHICH, bottles=None, **more):
    return replace(evidence_of(rows, bottles, **more), asks=question)


def answer(evidence) -> str:
    made = what_for._answer(evidence, judge(evidence))
    return str(made[0].sentence) if made else ""


def test_an_answer_names_all_that_are_not_shown_below_another():
    said = answer(asked(table(bottles="abc")))
    assert said.startswith("Which to choose: not settled by quality, for none of ")
    assert all(f"{name} (" in said for name in "abc")
    assert answer(asked(table(bottles="abc"), "Do they differ?")) == ""


def test_the_box_answers_which_one_and_not_what_may_be_released():
    def ranks(question: str) -> list[int | None]:
        evidence = asked(table(bottles="ab"), question)
        return [one.rank for one in what_for._answer(evidence, judge(evidence))]

    assert ranks("Which bottle do we pour?") == [what_for.RANK_ANSWER]
    assert ranks(WHICH) == [None]


def test_an_answer_leaves_one_where_quality_is_shown():
    said = answer(asked(table(bottles="abc", quality_a=3)))
    assert said.startswith(
        "Which to choose: by quality a (7.8; first for 6 of 6), shown above b, c."
    )


def test_what_is_held_back_is_no_answer_and_counts_where_it_is_higher():
    rows = noted(table(bottles="abc", quality_a=3), "a", 6)
    said = answer(asked(rows))
    assert "none of a" not in said
    assert "a (7.8; first for 6 of 6) is higher and held back: with a sound second bottle" in said
    low = answer(asked(noted(table(bottles="abc", quality_a=-3), "a", 6)))
    assert "held back" not in low
    assert "a (" not in low
    two = answer(asked(noted(table(bottles="ab"), "a", 6)))
    assert "of those not held back b (" in two
    assert "alone is left" in two


def test_where_all_are_held_back_none_is_chosen():
    rows = noted(table(bottles="ab"), "a", 6)
    rows.loc[(rows["attribute"] == "fault:musty") & (rows["sample"] == "b"), "score"] = 2.0
    assert answer(asked(rows)) == (
        "Which to choose: none yet, for all are held back until the cause is known."
    )


@pytest.mark.parametrize(("bottles", "many"), [("abcd", False), ("abcde", True)])
def test_of_more_than_four_bottles_the_answer_names_the_highest(bottles: str, many: bool):
    said = answer(asked(table(bottles=bottles)))
    assert ("none of 5 bottles is shown below another; the highest means" in said) is many
    assert said.count("first for") == 4


def test_makers_alone_are_not_answered():
    rows = table(bottles="ab")
    found = findings_of_tables(
        rows, assessors=dict.fromkeys(rows["assessor"].unique(), "maker"), shuffles=99
    )
    assert not what_for.asked_which(replace(found.evidence, asks=WHICH))
    assert what_for.asked_which(asked(rows))


def test_two_that_are_left_are_poured_alone_and_three_are_not():
    def steps(bottles: str) -> str:
        evidence = asked(table(bottles=bottles))
        return " ".join(map(str, next_time._two_alone(evidence, judge(evidence))))

    assert "alone, twice under new codes" in steps("ab")
    assert steps("abc") == ""


def heat(evidence) -> str:
    made = side_by_side._heat(evidence, judge(evidence))
    return str(made[0].sentence) if made else ""


def test_what_pasteurising_did_is_told_of_the_pair_that_differs_in_it_alone():
    rows = table(bottles="abc", body_a=3)
    said = heat(asked(rows, "What did pasteurising do?", HEAT))
    assert said.startswith("What pasteurising did, a beside b")
    assert "shown: body, a above b by" in said
    assert "narrowest: " in said
    assert heat(asked(rows, "Do they differ?", HEAT)) == ""
    other = [replace(one, fraction=part) for one, part in zip(HEAT, "xyz", strict=True)]
    assert "cannot be told" in heat(asked(rows, "What did pasteurising do?", other))


@pytest.mark.parametrize(("ticks", "told"), [(5, True), (4, False)])
def test_a_word_is_told_of_such_a_pair_from_two_fifths_of_the_sheets(ticks: int, told: bool):
    rows = table(bottles="abc")  # 12 sheets of each: 5 are more than two fifths, 4 are not
    cells = rows[["assessor", "sample", "replicate"]].drop_duplicates()
    cells = cells.assign(attribute="aroma:melon", score=0.0)
    cells.loc[cells.index[cells["sample"] == "a"][:ticks], "score"] = 1.0
    said = heat(asked(pd.concat([rows, cells]), "What did pasteurising do?", HEAT))
    assert (f"by sheet, melon {ticks} of 12 and 0 of 12" in said) is told


def on_trays(by: float, first: float = 0.0, *, people: int = 8, same: bool = False) -> pd.DataFrame:
    """Return two tastings of three bottles on drawn trays; a place adds `by`, the first `first`."""
    rng = np.random.default_rng(11)
    rows = []
    for number in range(1, people + 1):
        for time in (1, 2):
            tray = list("abc") if same else [str(one) for one in rng.permutation(list("abc"))]
            for place, bottle in enumerate(tray, start=1):
                mark = 5 + 0.1 * number + by * place + first * (place == 1)
                mark += 0.2 * rng.normal()
                rows.append((f"A{number}", bottle, time, place + 3 * (time - 1), "quality", mark))
    columns = ["assessor", "sample", "replicate", "position", "attribute", "score"]
    return pd.DataFrame(rows, columns=columns)


def test_a_place_is_found_as_it_was_put_in():
    evidence = evidence_of(on_trays(0.6))
    by, least, most = habits.by_place(habits.places(evidence, "quality"))
    assert least < 0.6 < most
    assert abs(by - 0.6) < 0.15
    said = text(more_factors._places(evidence), "places")
    assert "quality +0." in said
    assert more_factors._places(evidence_of(on_trays(0.6, same=True))) == []


@pytest.mark.parametrize("times", [1, 2])
@pytest.mark.parametrize("first", [True, False])
def test_what_a_place_does_is_what_least_squares_of_statsmodels_gives(first: bool, times: int):
    """Effects of bottle and assessor; of each assessor's bottle where they came again."""
    rows = on_trays(0.3, 0.4)
    rows = habits.places(evidence_of(rows[rows["replicate"] <= times]), "quality")
    rows = rows.assign(moved=(rows["place"] == 1).astype(float) if first else rows["place"])
    cells = "C(assessor) + C(sample)" if times == 1 else "C(assessor):C(sample)"
    fit = ols(f"score ~ moved + {cells}", rows).fit()
    told = habits.by_place(rows, first=first)
    assert told == pytest.approx((fit.params["moved"], *fit.conf_int().loc["moved"]))


def test_places_are_told_of_one_liquid_in_about_one_attribute_of_twenty():
    """Six people, three bottles twice; who likes a bottle marks it so both times."""
    rng = np.random.default_rng(2811)
    told = 0
    for _ in range(400):
        rows = on_trays(0, people=6)
        likes = rows.groupby(["assessor", "sample"])["score"].transform(lambda _: rng.normal())
        rows["score"] = 5 + likes + rng.normal(size=len(rows))
        by = habits.by_place(rows.assign(place=(rows["position"] - 1) % 3 + 1))
        told += by[1] > 0 or by[2] < 0
    assert 0.025 <= told / 400 <= 0.085  # standard error 0.011


def test_a_place_is_looked_at_from_four_trays_and_eight_degrees_of_freedom():
    assert habits.several_orders(evidence_of(on_trays(0, people=2)))
    few = on_trays(0, people=2)
    assert not habits.several_orders(evidence_of(few[few["replicate"] == 1]))
    rows = habits.places(evidence_of(on_trays(0.6, people=3)), "quality")
    assert habits.by_place(rows) is not None  # 18 marks, 9 cells and the place: 8 are left
    assert habits.by_place(rows[rows.index != rows.index[0]]) is None


@pytest.mark.parametrize(("first", "told"), [(0.8, True), (0.2, False)])
def test_first_glasses_are_told_from_half_a_point(first: float, told: bool):
    made = more_factors._first_glasses(evidence_of(on_trays(0, first)))
    assert bool(made) is told
    if told:
        assert "First glasses: quality +0." in text(made, "first_glass")


def between(gap: float, high: int = 3, width: float = 0.0) -> str:
    marks = {f"quality_b_A{n}": gap / 2 for n in range(1, high + 1)}
    marks |= {f"quality_b_A{n}": -gap / 2 - width * (n == 6) for n in range(high + 1, 7)}
    evidence = evidence_of(table(bottles="ab", scatter=0.0, **marks))
    return text(order._nobody_between(evidence, order.marks(evidence)), "between")


@pytest.mark.parametrize(
    ("gap", "high", "width", "told"),
    [(2.0, 3, 0.0, True), (1.8, 3, 0.0, False), (2.0, 2, 0.0, False), (2.0, 4, 0.0, False),
     (2.0, 3, 1.8, True), (2.0, 3, 2.0, False)],
)  # fmt: skip
def test_nobody_between_is_told_from_two_points_with_three_on_either_side(gap, high, width, told):
    assert bool(between(gap, high, width)) is told


def without_foes(styles: str, people: int, lead: float) -> list:
    rows = table(people=people, bottles="ab", scatter=0.0, quality_a_A1=lead, quality_b=0.5)
    evidence = evidence_of(rows, styles=styles)
    return order._without_foes(evidence, order.marks(evidence))


@pytest.mark.parametrize("people", [6, 8, 12])
def test_nobody_is_between_by_luck_in_up_to_one_of_seven_panels(monkeypatch, people: int):
    """As the sentence says, of three bottles that people like as it happens, spread 1.5 and 2."""
    monkeypatch.setattr(order, "of_bottle", lambda *_: [])
    codes = [f"A{n}" for n in range(people)]
    evidence = SimpleNamespace(
        compared=tuple("abc"), roles=codes, question=lambda _: SimpleNamespace(low=0, high=10)
    )
    rng = np.random.default_rng(people)
    for spread in (1.5, 2.0):
        marks = 5 + spread * rng.standard_normal((1000, people, 3))
        told = [
            bool(order._nobody_between(evidence, pd.DataFrame(own, codes, list("abc"))))
            for own in np.clip(np.round(2 * marks) / 2, 0, 10)
        ]
        assert np.mean(told) <= 1 / 7 + 0.016  # a standard error and a half


def test_the_order_without_who_dislikes_the_style_says_whether_the_first_stays():
    assert "First is then b, with everybody a" in text(without_foes("-", 4, 4.0), "order_without")
    assert "b stays first" in text(without_foes("-", 4, 1.0), "order_without_same")
    assert without_foes("", 4, 4.0) == []
    assert without_foes("-", 3, 4.0) == []


def test_quality_is_set_apart_by_the_note_within_one_person():
    rows = table(bottles="ab", scatter=0.0)
    rows.loc[(rows["sample"] == "a") & (rows["replicate"] == 1), "score"] = 3.0
    one = evidence_of(noted(rows, "a", 4, cups=(1,)))
    assert "A1 3 with, 5 without; A2 3 with" in text(more_counts._in_cups(one, "a"), "cups_quality")
    assert more_counts._in_cups(evidence_of(noted(rows, "a", 4)), "a") == []


@pytest.mark.parametrize(
    ("sweet", "dry", "people", "told"),
    [(1, 3, 5, True), (1, 2, 3, False), (1, 3, 6, False), (2, 4, 6, False)],
)
def test_who_stands_alone_on_the_other_side_is_asked(sweet, dry, people, told):
    marks = [1.0] * sweet + [-1.0] * dry + [0.0] * (people - sweet - dry)
    rows = pd.DataFrame(
        [(f"A{n}", bottle, "sweetness_balance", mark if bottle == "a" else 0.0)
         for n, mark in enumerate(marks) for bottle in "ab"],
        columns=["assessor", "sample", "attribute", "score"],
    )  # fmt: skip
    made = who_makes._other_side(evidence_of(rows))
    assert bool(made) is told
    if told:
        assert "a too sweet for A0, too dry for 3 of 5" in text(made, "other_side")


@pytest.mark.parametrize(("students", "told"), [(3, True), (2, False)])
def test_distances_from_the_expert_are_told_of_three_students(students: int, told: bool):
    rows = table(people=students + 1, bottles="abc", body_c=3, scatter=0.0, body_c_A2=-3)
    roles = {"A1": "expert"} | {f"A{n}": "student" for n in range(2, students + 2)}
    evidence = findings_of_tables(rows, assessors=roles, shuffles=99).evidence
    said = " ".join(str(one.sentence) for one in habits._students(evidence, judge(evidence)))
    # Of 15 means one is 3 off: 0.2 on average; the others have none, so of two pairs one is.
    assert ("A2 0.2, A3 0.0, A4 0.0; on average 0.1. Two students lie 0.1 apart" in said) is told
    assert ("correlation 1.00" in said) is told
    assert ("its differences 0.67 of A1's in size" in said) is told


def test_what_students_marked_of_their_own_brew_is_no_distance_from_the_expert():
    """A2 brewed c, and marks it 3 off; of the other 10 means none is off."""
    rows = table(people=4, bottles="abc", body_c=3, scatter=0.0, body_c_A2=-3)
    roles = {"A1": "expert"} | {f"A{n}": "student" for n in (2, 3, 4)}
    plain = [Bottle(name=name) for name in "abc"]

    def said(bottles: list[Bottle]) -> str:
        evidence = findings_of_tables(rows, assessors=roles, bottles=bottles, shuffles=99).evidence
        return " ".join(str(one.sentence) for one in habits._students(evidence, judge(evidence)))

    assert "A2 0.2, A3 0.0, A4 0.0" in said(plain)
    assert "Brewed by students" not in said(plain)
    own = [*plain[:2], replace(plain[2], further={"Brewed by": "A2"})]
    assert "A2 0.0, A3 0.0, A4 0.0" in said(own)
    assert "Brewed by students who tasted it: c by A2." in said(own)
    others = [*plain[:2], replace(plain[2], further={"Brewed by": "A1, Mika"})]
    assert said(others) == said(plain), "the expert's own, or a stranger's, is no student's"


@pytest.mark.parametrize(
    ("heading", "cell", "found"),
    [("Brewed by", "S1, S2", ["S1", "S2"]), ("brewer", "s1; S22", ["S1"]),
     ("造った人", "S2・S1", ["S1", "S2"]), ("yeast", "S1", []), ("Brewed by", "", [])],
)  # fmt: skip
def test_who_brewed_a_bottle_is_read_from_its_column(heading: str, cell: str, found: list[str]):
    bottle = Bottle(name="a", further={heading: cell})
    assert brewed_by([bottle, Bottle(name="b")], ["S1", "S2", "S3"]) == {
        one: ["a"] for one in found
    }


def test_the_students_level_beside_the_expert_is_told_where_clear_of_zero():
    off = {f"body_{bottle}_A{n}": 2 for bottle in "abc" for n in range(2, 6)}
    rows = table(people=5, bottles="abc", **off)
    roles = {"A1": "expert"} | {f"A{n}": "student" for n in range(2, 6)}
    evidence = findings_of_tables(rows, assessors=roles, shuffles=99).evidence
    said = " ".join(str(one.sentence) for one in habits._students(evidence, judge(evidence)))
    assert "clear of zero each for itself: body +" in said
    means = rows.pivot_table("score", ["attribute", "sample"], "assessor")
    off = means.drop(columns="A1").sub(means["A1"], axis=0).groupby("attribute").mean()
    limits = ttest_1samp(off.loc["body"], 0).confidence_interval(0.95)
    by = f"{off.loc['body'].mean():+.1f} ({limits.low:+.1f} to {limits.high:+.1f})"
    assert f"body {by}" in said
    centred = means - means.groupby("attribute").transform("mean")
    line = linregress(centred["A1"], centred.drop(columns="A1").mean(axis=1))
    said = said.replace("\N{MINUS SIGN}", "-")
    assert f"correlation {line.rvalue:.2f}" in said
    assert f"its differences {line.slope:.2f} of A1's in size" in said


@pytest.mark.parametrize(
    ("trays", "told"),
    [(["abc", "acb"], True), (["abc", "bac"], False), (["abc", "abc"], False)],
)
def test_a_bottle_that_was_first_on_every_tray_is_told(trays: list[str], told: bool):
    """Where all had one order that is said instead."""
    rows = [
        (f"A{number}", bottle, 1, place, "quality", 5.0 + number)
        for number, tray in enumerate(trays, start=1)
        for place, bottle in enumerate(tray, start=1)
    ]
    columns = ["assessor", "sample", "replicate", "position", "attribute", "score"]
    evidence = evidence_of(pd.DataFrame(rows, columns=columns))
    keys = {one.sentence.key for one in design.statements(evidence, judge(evidence))}
    assert ("findings.first_of_all" in keys) is told
    assert ("findings.same_order" in keys) is (len(set(trays)) == 1)


@pytest.mark.parametrize(("by", "key"), [(3.0, "step_reference_rest"), (0.0, "step_reference")])
def test_a_reference_is_proposed_of_what_is_not_shown_where_something_is(by: float, key: str):
    evidence = evidence_of(table(8, bottles="ab", body_a=by))
    budget = judge(evidence)
    assert bool(budget.claimed("scale")) is (by > 0)
    assert [one.key for one in next_time._reference(evidence, budget)] == [f"overview.{key}"]


def test_constants_are_those_of_the_document():
    assert (what_for.NAMED, what_for.RANK_ANSWER, next_time.BOTH) == (4, 13, 2)
    assert (side_by_side.WIDEST, side_by_side.NARROWEST, side_by_side.HEATED) == (3, 2, 2)
    assert (side_by_side.TICKED, more_factors.FIRST, who_makes.MANY) == (0.4, 0.05, 3)
    assert (habits.TRAYS, habits.GLASSES, habits.DF, habits.CLASS) == (4, 2, 8, 3)
    assert (order.BETWEEN, order.SIDE, order.FEWEST) == (0.2, 3, 4)


def with_line(rows: pd.DataFrame, attribute: str, **by: float) -> pd.DataFrame:
    """Add a line whose marks are those of body and so much more, bottle by bottle."""
    own = rows[rows["attribute"] == "body"].assign(attribute=attribute)
    return pd.concat([rows, own.assign(score=own["score"] + own["sample"].map(by).fillna(0))])


def cloying(rows: pd.DataFrame, question: str = "Is one of them cloying?", **more) -> list:
    evidence = asked(rows, question, **more)
    return what_for._cloying(evidence, judge(evidence))


@pytest.mark.parametrize("question", ["Is one of them cloying?", "どれかくどいか。"])
@pytest.mark.parametrize(("by", "shown"), [(3.0, True), (0.0, False)])
def test_cloying_is_answered_by_its_own_line(question: str, by: float, shown: bool):
    rows = with_line(table(bottles="ab"), "cloying", a=by)
    (made,) = cloying(rows, question)
    said = str(made.sentence)
    assert made.rank == (None if shown else what_for.RANK_ANSWER)  # else the box has the claim
    assert said.startswith("Is it cloying? On the line from “not at all” (0) to “very much” (10): ")
    assert ("shown more cloying: a above b" in said) is shown
    assert ("no bottle is shown more cloying than another" in said) is not shown
    assert ("示された順はa＞b" in made.sentence.to("ja")) is shown
    assert cloying(rows, "Do they differ?") == []


@pytest.mark.parametrize(("sweet", "told"), [(3, True), (4, False)])
def test_cloying_is_answered_by_the_balance_where_the_box_names_no_bottle(sweet: int, told: bool):
    """Four of six who found a bottle too sweet stand in the box by themselves."""
    rows = table(bottles="ab")
    own = rows[rows["attribute"] == "body"].assign(attribute="sweetness_balance")
    who = own["assessor"].str[1:].astype(int) <= sweet
    own["score"] = 1.0 * (who & (own["sample"] == "a"))
    made = cloying(pd.concat([rows, own]))
    assert bool(made) is told
    if told:
        assert str(made[0].sentence) == (
            "Is it cloying? No bottle was found too sweet by more than half: "
            "a by 3 of 6, b by 0 of 6."
        )
        assert "aは6名中3名" in made[0].sentence.to("ja")
    assert cloying(rows) == []  # nothing on the card asks it


@pytest.mark.parametrize(("people", "told"), [(1, False), (2, True)])
def test_one_assessor_alone_answers_no_question_about_cloying_by_the_balance(people, told):
    rows = table(people=people, bottles="ab")
    own = rows[rows["attribute"] == "body"].assign(attribute="sweetness_balance", score=0.0)
    assert bool(cloying(pd.concat([rows, own]))) is told
