"""What a student is told, on both sides of the thresholds."""

from __future__ import annotations

import pandas as pd
import pytest
from kikichoko.analysis.teaching.student_result import Student


def student(p: float) -> Student:
    """Return one whose repeated bottle was scored alike with this p."""
    return Student(
        student="S1", lines=pd.DataFrame({"verdict": []}), words=None, word_agreement=None,
        faults=None, detection=None, repeat={"share": 0.9, "p": p}, progress=pd.DataFrame(),
        change=None, margin=1.0, level=0.95,
        distance=dict.fromkeys(("rmse", "low", "high", "ceiling")),
    )  # fmt: skip


@pytest.mark.parametrize(("p", "key"), [(0.049, "repeat"), (0.051, "repeat_open")])
def test_a_repeat_is_told_as_alike_at_five_per_cent(p: float, key: str, monkeypatch):
    monkeypatch.setattr(Student, "near", lambda _: [])
    assert [one.key for one in student(p).sentences()] == [f"teaching.{key}"]
