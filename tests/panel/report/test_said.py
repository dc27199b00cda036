"""Free words in the report: praise apart from complaints."""

from __future__ import annotations

from types import SimpleNamespace

import pandas as pd
from kikichoko.forms.questions import vocabulary
from kikichoko.panel.report.said import section

TEXTS = [
    ("A01", "free run", "酢酸イソアミルが華やか、老香なし"),
    ("A02", "free run", "lovely banana, too sweet"),
    ("A03", "free run", "老香、酸が足りない、おいしい"),
]


def test_praise_stands_apart_from_complaints():
    words = pd.DataFrame(TEXTS, columns=["assessor", "sample", "text"])
    context = SimpleNamespace(
        answers=SimpleNamespace(words=words, remarks=words.iloc[:0]),
        samples=["free run"],
        roster={},
        vocabulary=vocabulary(),
        language="en",
    )
    made = section(context)
    assert made is not None
    frame = made.blocks[1].frame
    row = {
        told.to("en"): cell if isinstance(cell, str) else cell.to("en")
        for told, cell in zip(frame.columns, frame.iloc[0], strict=True)
    }
    assert row["Praised"] == "banana (2)"
    assert row["Said to be there"] == ""
    complaints = set(row["Complained of"].split(", "))
    assert complaints == {"sweet: too much (1)", "stale (hineka) (1)", "sour: too little (1)"}
    assert row["Said not to be there"] == "stale (hineka) (1)"
