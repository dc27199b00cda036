"""What was left out of a question answered in a long table counts as on a sheet."""

from __future__ import annotations

from kikichoko.forms.questions.question_types import Kind, Option, Question, Text
from kikichoko.panel.key.opened_tables import with_unticked

ROSE = Question(
    key="aroma",
    section="nose",
    kind=Kind.TICKS,
    options=tuple(Option(key=key, label=Text(), value=1) for key in ("pear", "rose", "yoghurt")),
)
SWEET = Question(key="sweet", section="palate", kind=Kind.LINE)
CUP = ("S1", "K1", "a", 1, 1)


def test_the_rest_of_a_question_answered_is_nought():
    rows = [(*CUP, "aroma:pear", 1.0), (*CUP, "sweet", 5.0)]
    assert with_unticked(rows, [ROSE, SWEET]) == [
        *rows,
        (*CUP, "aroma:rose", 0.0),
        (*CUP, "aroma:yoghurt", 0.0),
    ]


def test_a_question_left_out_whole_stays_missing():
    rows = [(*CUP, "sweet", 5.0)]
    assert with_unticked(rows, [ROSE, SWEET]) == rows


def test_a_line_is_never_filled_and_nothing_given_is_changed():
    second = (*CUP[:4], 2)
    rows = [(*CUP, "aroma:pear", 1.0), (*CUP, "aroma:rose", 0.0), (*second, "aroma:rose", 1.0)]
    found = with_unticked(rows, [ROSE, SWEET])
    assert found[:3] == rows
    assert found[3:] == [
        (*CUP, "aroma:yoghurt", 0.0),
        (*second, "aroma:pear", 0.0),
        (*second, "aroma:yoghurt", 0.0),
    ]
