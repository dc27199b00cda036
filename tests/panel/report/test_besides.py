"""What few people answered besides their marks is on their page, each one's own words or marks.

The cards for guests, breweries and kept bottles ask it of two or three people too.
"""

from __future__ import annotations

import sys
from pathlib import Path
from types import SimpleNamespace

import pandas as pd
import pytest
from kikichoko.forms.questions.cards import OPTIONS, card
from kikichoko.panel.report import besides

sys.path.insert(0, str(Path(__file__).parents[2] / "tools"))
from jsonschema import Draft202012Validator
from results_schema import SCHEMA

BOTTLES = ["clear", "cloudy"]


def answered(name: str, rows: list[tuple[str, str, int, str, float]], monkeypatch, language="en"):
    columns = ["assessor", "sample", "replicate", "attribute", "score"]
    evidence = SimpleNamespace(
        products=BOTTLES, scores=pd.DataFrame(rows, columns=columns), roles={"A": "", "B": ""}
    )
    marked = [SimpleNamespace(attribute=one[3]) for one in rows if one[3] == "sweetness"]
    monkeypatch.setattr(besides, "rows", lambda _: marked)
    scorecard = card(name, OPTIONS)
    context = SimpleNamespace(
        findings=SimpleNamespace(evidence=evidence),
        session=SimpleNamespace(scorecard=scorecard),
        language=language,
    )
    made = besides.section(context)  # type: ignore[arg-type]
    if made is None:
        return None, None
    (grid,) = made.blocks
    return made, [[str(cell) for cell in line] for line in grid.frame.to_numpy().tolist()]


ADVICE = [
    ("A", "clear", 1, "release", 1.0),
    ("A", "clear", 2, "release", 4.0),
    ("A", "cloudy", 1, "release", 3.0),
    ("A", "cloudy", 2, "release", 3.0),
    ("B", "clear", 1, "release", 2.0),
    ("A", "clear", 1, "sweetness", 5.0),
    ("A", "control", 1, "release", 1.0),
]


@pytest.mark.parametrize(
    ("language", "line"),
    [
        ("en", ["Advice", "release / hold back", "blend", "rest first", "–"]),
        ("ja", ["助言", "出荷 / 止める", "ブレンド", "寝かせる", "–"]),
    ],
)
def test_each_ones_advice_is_there_in_words_and_marks_are_not(language, line, monkeypatch):
    made, lines = answered("brewery", ADVICE, monkeypatch, language)
    assert lines == [line]
    assert set(made.tables[besides.KEY]["sample"]) == set(BOTTLES)


def test_liking_stands_beside_liking_and_what_somebody_cannot_tell_only_where_ticked(monkeypatch):
    rows = [
        ("A", "clear", 1, "liking", 7.5),
        ("B", "cloudy", 1, "liking", 2.0),
        ("A", "clear", 1, "fault_unsure:cannot_tell", 0.0),
        ("B", "clear", 1, "fault:stale", 2.0),
        ("B", "clear", 1, "aroma:apple", 1.0),
    ]
    _, lines = answered("guests", rows, monkeypatch)
    assert lines == [["Liking", "7.5", "–", "–", "2"]]
    rows[2] = ("A", "clear", 1, "fault_unsure:cannot_tell", 1.0)
    _, lines = answered("brewery", rows[2:], monkeypatch)
    assert len(lines) == 1
    assert lines[0][2:] == ["–", "–", "–"]
    assert lines[0][1] not in ("–", "")


def test_nothing_else_asked_is_no_section(monkeypatch):
    made, _ = answered("brewery", [("A", "clear", 1, "sweetness", 5.0)], monkeypatch)
    assert made is None


def test_its_answers_stand_in_the_numbers_as_the_schema_says(monkeypatch):
    made, _ = answered("full", ADVICE, monkeypatch)
    held = Draft202012Validator(SCHEMA["properties"][made.key])
    assert [tuple(row.values()) for row in made.data] == [
        row for row in ADVICE if row[3] == "release" and row[1] in BOTTLES
    ]
    assert held.is_valid(made.data)
    assert not held.is_valid([{**made.data[0], "score": "release"}])
