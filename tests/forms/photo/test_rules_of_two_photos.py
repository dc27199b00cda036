"""Two photos of one page: when they agree, on both sides of the tolerance."""

from __future__ import annotations

from types import SimpleNamespace

import pytest
from kikichoko.forms.photo.mark_rules import Verdict
from kikichoko.forms.photo.photo_reader import _agree
from kikichoko.forms.questions.question_types import Kind


def page(kind: Kind) -> SimpleNamespace:
    """Return what the rule asks of a page: one question, on a line 100 mm long from 0 to 10."""
    question = SimpleNamespace(kind=kind, low=0.0, high=10.0)
    scale = SimpleNamespace(attribute="sweetness", length=100.0)
    return SimpleNamespace(
        sheet=SimpleNamespace(scorecard=SimpleNamespace(owner=lambda _: question)),
        page=SimpleNamespace(scales=[scale]),
    )


def agree(kind: Kind, one: float | None, other: float | None) -> bool:
    verdicts = (Verdict(code="427", attribute="sweetness", value=x) for x in (one, other))
    return _agree(page(kind), *verdicts)


@pytest.mark.parametrize(("apart", "same"), [(0.0, True), (0.149, True), (0.151, False)])
def test_lines_agree_within_a_millimetre_and_a_half(apart: float, same: bool):
    assert agree(Kind.LINE, 5.0, 5.0 + apart) is same
    assert agree(Kind.LINE, 5.0 + apart, 5.0) is same


def test_boxes_agree_only_when_equal_and_a_mark_never_agrees_with_none():
    assert agree(Kind.CATEGORY, 3.0, 3.0)
    assert not agree(Kind.CATEGORY, 3.0, 3.1)
    assert not agree(Kind.LINE, 3.0, None)
