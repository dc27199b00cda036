"""Who noted a fault, who marked twins apart, and what one mark, one taste or a small gap allows.

Each case is of the kind on which a sealed session fell (tests/outside/sessions/sealed-result.md),
with other people, bottles and numbers than there.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from kikichoko.forms.questions.question_types import Kind, Option, Question, Scorecard, Text
from kikichoko.panel.findings import tainted
from kikichoko.panel.findings.all_statements import Findings, findings_of_tables
from kikichoko.panel.findings.evidence import Evidence
from kikichoko.panel.session.bottles import Bottle
from kikichoko.panel.session.roster import Assessor

CARD = Scorecard(
    (
        *(Question(key=one, section="palate", kind=Kind.LINE) for one in ("body", "quality")),
        Question(
            key="fault",
            section="faults",
            kind=Kind.FAULTS,
            options=(Option(key="musty", label=Text.of("musty")),),
        ),
    )
)
FAULT = "fault:musty"
Rows = list[tuple[str, str, int, str, float]]


def tasted(rows: Rows, bottles: tuple[Bottle, ...], **roles: str) -> Findings:
    columns = ["assessor", "sample", "replicate", "attribute", "score"]
    return findings_of_tables(
        pd.DataFrame(rows, columns=columns),
        bottles=bottles,
        scorecard=CARD,
        assessors=roles,
        shuffles=99,
    )


def notes(noted: dict[tuple[str, str], tuple[int, int]], bottles: str, people: str) -> Rows:
    """Everybody tastes everything twice; `noted` holds severities by person and bottle."""
    rng = np.random.default_rng(3)
    rows: Rows = []
    for who in people:
        for what in bottles:
            severities = noted.get((who, what), (0, 0))
            for turn, severity in enumerate(severities, 1):
                rows += [(who, what, turn, FAULT, severity),
                         (who, what, turn, "body", 5 + rng.normal())]  # fmt: skip
    return rows


def said(found: Findings, key: str) -> list[str]:
    return [
        str(one.sentence)
        for one in found.statements
        if getattr(one.sentence, "key", "") == f"findings.{key}"
    ]


BOTTLES = (
    Bottle(name="x"),
    Bottle(name="y"),
    Bottle(name="s", control="musty"),
    Bottle(name="c", control="clean"),
)


def test_who_found_the_spike_and_who_ticked_the_sound_one_is_told_by_name():
    """Three of five found it, one of them once; the box says what the others' silence is worth."""
    noted = {("A", "s"): (2, 2), ("B", "s"): (1, 2), ("C", "s"): (0, 2), ("B", "c"): (1, 0)}
    found = tasted(notes(noted, "xsc", "ABCDE"), (BOTTLES[0], *BOTTLES[2:]))
    assert said(found, "control_who") == [
        "s, “musty”: noted in every tasting by A, B; in some tastings by C; never by D, E.",
        "c, “musty”: in some tastings by B; never by A, C, D, E.",
    ]
    line = "Nobody ticked a fault in x (5 assessors each), but only 3 of 5 assessors found musty"
    assert any(str(one).startswith(line) for _, one in found.in_short)


def test_where_everybody_found_the_spike_nobody_is_named():
    noted = {(who, "s"): (2, 2) for who in "ABCDE"}
    found = tasted(notes(noted, "xsc", "ABCDE"), (BOTTLES[0], *BOTTLES[2:]))
    assert said(found, "control_who") == []
    assert said(found, "silence_some") == []


@pytest.mark.parametrize(
    ("noted", "told"),
    [
        ({("E", "y"): (3, 2)}, True),  # in both tastings of one bottle, in no other
        ({("E", "y"): (3, 0)}, False),  # in one tasting only
        ({("E", "y"): (3, 2), ("E", "x"): (1, 0)}, False),  # in another bottle too
        ({("E", "y"): (3, 2), ("A", "y"): (0, 1)}, False),  # somebody wavered
    ],
)
def test_one_sure_nose_is_a_reason_to_check(noted, told):
    found = tasted(notes(noted, "xy", "ABCDEFG"), BOTTLES[:2], E="expert")
    lines = said(found, "sure_nose")
    assert bool(lines) is told
    if told:
        assert lines[0].startswith("E (expert) noted “musty” in y in each of 2 tastings")
        assert "1 of 7" in lines[0]
        assert any(str(one) == lines[0] for _, one in found.in_short)


def test_one_nose_has_no_percentages_and_is_no_panel():
    found = tasted(notes({}, "xy", "A"), BOTTLES[:2])
    (line,) = said(found, "silence_one")
    assert "%" not in line
    assert "panel" not in line


@pytest.mark.parametrize(("second", "key"), [(6.5, "twin_look"), (4.5, "twin_each")])
def test_who_marked_twins_apart_is_told_with_the_others(second: float, key: str):
    """From a fifth of the scale on, and twice as far as anybody else, it is a reason to look."""
    twins = (Bottle(name="x"), Bottle(name="d", control="same:x"), Bottle(name="y"))
    rows: Rows = [
        (who, what, 1, "body", 4.0 + 0.5 * (what == "y")) for who in "ABCD" for what in "xdy"
    ]
    rows += [("E", "x", 1, "body", 3.0), ("E", "d", 1, "body", second), ("E", "y", 1, "body", 4.0)]
    found = tasted(rows, twins)
    (line,) = said(found, key)
    assert line.startswith(
        f"The furthest apart marked them E: body 3.0 and {second}; nobody else more than 0.0 apart"
    )
    assert any(str(one) == line for _, one in found.in_short) is (key == "twin_look")


def marked(tastings: int) -> Findings:
    """Six people, three bottles twice; z is tasted by the first so many people, once."""
    rng = np.random.default_rng(8)
    rows: Rows = [
        (who, what, turn, name, 5 + 3 * (what == "y" and name == "body") + rng.normal(0, 0.4))
        for who in "ABCDEF"
        for what in "wxy"
        for turn in (1, 2)
        for name in ("body", "quality")
    ]
    rows += [
        (who, "z", 1, name, 1.0) for who in "ABCDEF"[:tastings] for name in ("body", "quality")
    ]
    return tasted(rows, tuple(Bottle(name=name) for name in "wxyz"))


def test_a_bottle_of_one_tasting_is_compared_with_none():
    found = marked(1)
    assert found.evidence.thin == ["z"]
    assert said(found, "thin")[0].startswith("z rests on one tasting (by A)")
    claims = [one for one in found.statements if one.kind == "claim"]
    assert claims
    assert not any("z" in one.about for one in claims)
    cells = {one.question: str(one.text) for one in found.verdicts if one.sample == "z"}
    assert cells["difference"] == "compared with none (one tasting)"
    assert cells["quality"] == "1.0 (one mark)"


def test_a_bottle_of_two_tastings_is_compared_and_where_all_have_one_all_are():
    assert marked(2).evidence.thin == []
    found = tasted([("A", what, 1, "body", 4.0) for what in "xy"], BOTTLES[:2])
    assert found.evidence.compared == ["x", "y"]


@pytest.mark.parametrize(("gap", "small"), [(0.9, True), (1.2, False)])
def test_a_sure_difference_below_a_tenth_of_the_scale_is_called_small(gap: float, small: bool):
    rng = np.random.default_rng(2)
    rows: Rows = [
        (f"P{who}", what, turn, "body", 5 + gap * (what == "y") + rng.normal(0, 0.1))
        for who in range(9)
        for what in "xy"
        for turn in (1, 2)
    ]
    found = tasted(rows, BOTTLES[:2])
    assert any(one.kind == "claim" for one in found.statements)
    assert bool(said(found, "small")) is small
    if small:
        assert "body 0.9 of 10 points" in said(found, "small")[0]


def liking(gap: float, likers: int = 2) -> Evidence:
    """Seven people of whom some declared to like the style; y is what they part over."""
    people = tuple(
        Assessor(code=f"P{n}", role="trained", style="likes" if n < likers else "dislikes")
        for n in range(7)
    )
    rows = [
        (one.code, what, 1, "quality", 5 + (gap if what == "y" and one.style == "likes" else 0.0))
        for one in people
        for what in "xy"
    ]
    columns = ["assessor", "sample", "replicate", "attribute", "score"]
    table = pd.DataFrame(rows, columns=columns).assign(position=None, session="s")
    return Evidence(scores=table, bottles=BOTTLES[:2], people=people, scorecard=CARD, shuffles=99)


@pytest.mark.parametrize(
    ("gap", "likers", "told"), [(3.1, 2, True), (2.9, 2, False), (3.1, 1, False)]
)
def test_declared_taste_that_parts_over_quality_is_told_as_taste(gap, likers, told):
    lines = said(Findings(liking(gap, likers)), "camps_taste")
    assert bool(lines) is told
    if told:
        assert "taste and no error" in lines[0]
        assert "2: 8.1" in lines[0]


def test_two_who_used_no_scale_are_told_with_the_gaps_without_them():
    rng = np.random.default_rng(4)
    rows: Rows = [
        (who, what, 1, name, 7.0 if who in "FG" else 5 + 3 * (what == "y") + rng.normal(0, 0.3))
        for who in "ABCDEFG"
        for what in "xy"
        for name in ("body", "quality")
    ]
    (line,) = said(tasted(rows, BOTTLES[:2]), "without_flat")
    assert line.startswith("F, G pull all means together.")
    assert "(y above x" in line


def test_the_box_speaks_of_faults_trust_and_what_is_next():
    """Rule 96: differ in what, what to hold back, can the panel be trusted, what to do next."""
    rng = np.random.default_rng(6)
    rows: Rows = [
        (who, what, turn, "body", 5 + rng.normal())
        for who in "ABCDE" for what in "xy" for turn in (1, 2)
    ]  # fmt: skip
    box = " ".join(str(line) for _, line in tasted(rows, BOTTLES[:2]).in_short)
    for part in ("No difference", "faults not asked", "go together cannot be said", "next tasting"):
        assert part in box


@pytest.mark.parametrize(("own", "views", "key"), [(1.5, 0.0, "repeats"), (0.2, 1.5, "views")])
def test_what_hides_small_differences_is_told_with_how_far_own_marks_lie_apart(own, views, key):
    """Eight people, two bottles twice; the mean gap of own marks by numpy."""
    rng = np.random.default_rng(3)
    seen = views * rng.normal(size=(8, 2, 1)) + own * rng.normal(size=(8, 2, 2)) + 5
    rows = [
        (f"T{i}", "xy"[j], k + 1, "body", seen[i, j, k])
        for i in range(8)
        for j in range(2)
        for k in range(2)
    ]
    found = tasted(rows, BOTTLES[:2], **{f"T{i}": "trained" for i in range(8)})
    apart = np.abs(seen[..., 0] - seen[..., 1]).mean()
    told = said(found, f"hidden_{key}")
    assert len(told) == 1
    assert f"lie {apart:.1f} points apart on average" in told[0]


def test_a_report_on_one_bottle_says_nothing_of_telling_bottles_apart():
    rows = [(who, "x", turn, FAULT, 0) for who in "ABCDE" for turn in (1, 2)]
    rows += [(who, "x", turn, "body", 5 + turn / 2) for who in "ABCDE" for turn in (1, 2)]
    rows += [(who, "x", turn, "aroma:pear", 0) for who in "ABCDE" for turn in (1, 2)]
    found = tasted(rows, BOTTLES[:1], **dict.fromkeys("ABCDE", "trained"))
    assert not said(found, "label_none")
    assert not said(found, "hidden_repeats")


@pytest.mark.parametrize(
    ("noted", "people", "key"),
    [
        ({("A", "x"): (1, 0)}, "ABCDEF", "hint_slight"),
        ({("A", "x"): (1, 0)}, "ABCDE", "hint"),
        ({("A", "x"): (2, 0)}, "ABCDEF", "hint"),
        ({("A", "x"): (1, 1)}, "ABCDEF", "recheck"),
    ],
    ids=["one slight note of six", "of five", "more than slight", "in two tastings"],
)
def test_one_slight_note_of_a_panel_asks_for_nothing_and_any_other_for_a_look(
    noted: dict[tuple[str, str], tuple[int, int]], people: str, key: str
):
    found = tasted(notes(noted, "xy", people), BOTTLES[:2])
    every = ("hint", "hint_slight", "hint_several", "recheck")
    told = {one: said(found, f"do_{one}") for one in every}
    assert [one for one in every if told[one]] == [key]
    assert "x" in told[key][0]
    nothing = {one: tainted.stands_against_nothing(found.evidence, one) for one in "xy"}
    assert nothing == {"x": key == "hint_slight", "y": True}
