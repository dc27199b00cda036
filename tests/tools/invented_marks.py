"""Invented marks of a small panel, into which single points are put, as evidence."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from kikichoko.panel.findings.all_statements import findings_of_tables

if TYPE_CHECKING:
    from kikichoko.panel.findings.evidence import Evidence
    from kikichoko.panel.session.bottles import Bottle

COLUMNS = ["assessor", "sample", "replicate", "attribute", "score"]
LINES = ("sweetness", "acidity", "bitterness", "body", "quality")
STYLES = {"+": "likes", "-": "dislikes", " ": ""}


def table(
    people: int = 6, times: int = 2, bottles: str = "abcd", scatter: float = 0.3, **put: float
) -> pd.DataFrame:
    """Return marks about 5 for everybody; `put` adds points: "sweetness_c_A1" or "quality_a"."""
    rng = np.random.default_rng(5)
    rows = []
    for number in range(1, people + 1):
        for name in LINES:
            for bottle in bottles:
                plus = put.get(f"{name}_{bottle}", 0) + put.get(f"{name}_{bottle}_A{number}", 0)
                rows += [
                    (f"A{number}", bottle, time, name, 5 + plus + scatter * rng.normal())
                    for time in range(1, times + 1)
                ]
    found = pd.DataFrame(rows, columns=COLUMNS)
    found["score"] = (found["score"].clip(0, 10) * 10).round() / 10
    return found


def evidence_of(
    rows: pd.DataFrame, bottles: list[Bottle] | None = None, styles: str = "", **more: object
) -> Evidence:
    """Return evidence of such marks; `styles` tells by a sign each what somebody likes."""
    found = findings_of_tables(rows, bottles=bottles, shuffles=199, **more).evidence
    people = [
        replace(one, style=STYLES[style])
        for one, style in zip(found.people, styles.ljust(len(found.people)), strict=True)
    ]
    return replace(found, people=tuple(people))


def text(made, key: str) -> str:
    """Return the sentence with a key of the overview among statements, "" for none."""
    return next((str(one.sentence) for one in made if one.sentence.key == f"overview.{key}"), "")
