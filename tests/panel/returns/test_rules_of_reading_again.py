"""When a picture that is read again says the same, on both sides of its tolerance."""

from __future__ import annotations

from types import SimpleNamespace

import pytest
from kikichoko.forms.questions import default_scorecard
from kikichoko.panel.returns import taking_in


@pytest.mark.parametrize(
    ("attribute", "old", "new", "same"),
    [
        # a millimetre and a half of a line of 80: 0.1875 of 10 points
        ("sweetness", 5.0, 5.18, True),
        ("sweetness", 5.0, 5.19, False),
        ("sweetness", 5.0, 4.82, True),
        ("fault:stale", 0.0, 0.0, True),
        ("fault:stale", 0.0, 1.0, False),
        ("words", "ripe", "ripe", True),
        ("words", "ripe", "ripe pear", False),
    ],
)
def test_a_line_read_again_is_the_same_within_a_millimetre_and_a_half(
    monkeypatch, attribute: str, old: object, new: object, same: bool
):
    sheet = SimpleNamespace(scorecard=default_scorecard())
    monkeypatch.setattr(taking_in, "sheet_with", lambda *_: sheet)
    given = [
        SimpleNamespace(assessor="T1", code="101", attribute=attribute, value=value)
        for value in (new, old)
    ]
    assert taking_in._same(*given, SimpleNamespace(sheets=())) is same
