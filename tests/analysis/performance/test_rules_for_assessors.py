"""Rules for single assessors, on both sides of their thresholds."""

from __future__ import annotations

import pandas as pd
import pytest
from kikichoko.analysis.performance.assessor_findings import _findings, _notes
from kikichoko.analysis.performance.assessor_tests import Comparison, Verdicts
from kikichoko.analysis.performance.shift_of_group import _notes as notes_on_shifts


def found(p: float) -> pd.DataFrame:
    """Return the findings of one assessor whose repeats scatter with this p."""
    test = Comparison("repeatability", 0, p, 2.0)
    verdicts = Verdicts(
        tests=[[test]], apart=set(), drifting=set(), limits=(1e-4, 1e-4), n_tests=1,
        smallest_scale=0.3,
    )  # fmt: skip
    return _findings(verdicts, ["A"], ["sweetness"], pd.DataFrame())


@pytest.mark.parametrize(
    ("p", "shown"), [(0.00009, [True]), (0.00011, [False]), (0.0099, [False]), (0.0101, [])]
)
def test_a_finding_a_hint_and_nothing(p: float, shown: list[bool]):
    table = found(p)
    assert table["shown"].tolist() == shown
    assert table["finding"].tolist() == ["noisy"] * len(shown)


@pytest.mark.parametrize(("n", "told"), [(5, True), (6, False)])
def test_few_assessors_are_told(n: int, told: bool):
    said = _notes(pd.DataFrame(), [f"A{place}" for place in range(n)], 2, placed=True)
    assert [one.key for one in said] == (["assessors.few"] if told else [])


@pytest.mark.parametrize(("attributes", "told"), [(4, False), (5, True)])
def test_shifts_by_chance_are_told_from_a_quarter_on(attributes: int, told: bool):
    said = notes_on_shifts(3, attributes, 0.95)
    assert [one.key for one in said] == (["groups.many"] if told else [])
