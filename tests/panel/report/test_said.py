"""Free words in the report: praise apart from complaints."""

from __future__ import annotations

from types import SimpleNamespace

import pandas as pd
import pytest
from kikichoko.forms.questions import vocabulary
from kikichoko.panel.report.parts import Grid, Points
from kikichoko.panel.report.said import section

TEXTS = [
    ("A01", "free run", "酢酸イソアミルが華やか、老香なし"),
    ("A02", "free run", "lovely banana, too sweet"),
    ("A03", "free run", "老香、酸が足りない、おいしい"),
]


def made_of(texts: list[tuple[str, str, str]], roles: dict[str, str]):
    words = pd.DataFrame(texts, columns=["assessor", "sample", "text"])
    context = SimpleNamespace(
        answers=SimpleNamespace(words=words, remarks=words.iloc[:0]),
        samples=["free run"],
        session=SimpleNamespace(scorecard=None),
        attributes=lambda *_: [],
        name=str,
        roster={code: SimpleNamespace(role=role) for code, role in roles.items()},
        vocabulary=vocabulary(),
        language="en",
    )
    made = section(context)
    assert made is not None
    return made


@pytest.mark.parametrize(
    ("roles", "en", "ja"),
    [
        (("maker", "expert", "expert"), "a role of one person tells who it is: maker.",
         "次の立場は一名だけなので、誰の言葉かが分かる：造り手。"),
        (("maker", "expert", "student"), "tells who it is: maker, expert, student.",
         "分かる：造り手、専門家、学生。"),
        (("expert", "expert", "expert"), "by role and not by code.", "立場で示す。"),
    ],
)  # fmt: skip
def test_a_role_of_one_person_is_said_to_name_that_person(roles, en: str, ja: str):
    made = made_of(TEXTS, dict(zip(("A01", "A02", "A03"), roles, strict=True)))
    (told,) = made.blocks[0].lines
    assert told.to("en").endswith(en)
    assert told.to("ja").endswith(ja)


@pytest.mark.parametrize(("times", "end"), [(1, ""), (3, " (3 times)")])
def test_what_several_wrote_and_nobody_could_match_is_listed_once(times: int, end: str):
    texts = [(f"A0{n}", "free run", "pear, gone quickly") for n in range(times)]
    made = made_of(texts, {})
    listed = [line.to("en") for one in made.blocks if isinstance(one, Points) for line in one.lines]
    assert listed == [f"free run: “gone quickly” in “pear, gone quickly”{end}"]


def test_praise_stands_apart_from_complaints():
    frame = made_of(TEXTS, {}).blocks[1].frame
    row = {
        told.to("en"): cell if isinstance(cell, str) else cell.to("en")
        for told, cell in zip(frame.columns, frame.iloc[0], strict=True)
    }
    assert row["Praised"] == "banana (2)"
    assert "Said to be there" not in row  # nobody wrote any
    complaints = set(row["Complained of"].split(", "))
    assert complaints == {"sweet: too much (1)", "stale (hineka) (1)", "sour: too little (1)"}
    assert row["Said not to be there"] == "stale (hineka) (1)"


@pytest.mark.parametrize(
    ("text", "heads"),
    [
        ("pear", ["Bottle", "Said to be there"]),
        ("pear, no stale smell", ["Bottle", "Said to be there", "Said not to be there"]),
    ],
)
def test_a_kind_of_word_that_nobody_wrote_has_no_column(text: str, heads: list[str]):
    made = made_of([("A01", "free run", text)], {})
    (grid, *_) = (one for one in made.blocks if isinstance(one, Grid))
    assert [head if isinstance(head, str) else head.to("en") for head in grid.frame] == heads
