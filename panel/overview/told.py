"""How a sentence of the overview is made: it describes, advises or cautions, and never claims."""

from __future__ import annotations

from ..base.words import sentence
from ..findings.statement import Statement

SURE, QUALITY_, REPEATS, KNOWN, NEXT = "sure", "preferred", "repeats", "known", "advice"
DIFFER, SWEETNESS, WORDS, FAULTS, LIMITS = "differ", "sweetness", "aroma", "faults", "limits"
"""Keys of the report's sections that these sentences stand in."""


def said(
    key: str, section: str, about: tuple[str, ...] = (), *, kind: str = "description",
    **values: object,
) -> Statement:  # fmt: skip
    """Make a statement of ``overview.toml``."""
    return Statement(
        kind=kind, about=about, sentence=sentence(f"overview.{key}", **values), section=section
    )
