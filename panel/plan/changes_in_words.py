"""Late changes in words that name no bottle."""

from __future__ import annotations

from ...analysis.core.words import Sentence
from ..base.words import sentence
from .late_changes import Change

_OF_ONE = ("cut", "label", "unknown")


def said(change: Change) -> Sentence:
    """Say what a change was."""
    key = f"change.said_{change.kind}"
    if change.kind in _OF_ONE and change.assessor:
        key += "_one"
    return sentence(
        key,
        assessor=change.assessor,
        code=change.code,
        codes=list(change.codes),
        flight=change.flight,
        place=change.place,
        undoes=change.undoes,
    )
