"""Everything that the overview adds to what the findings say."""

from __future__ import annotations

from ..findings.budget import Budget
from ..findings.evidence import Evidence
from ..findings.statement import Statement
from . import (
    bottles_apart,
    by_number,
    declared_tastes,
    known_cups,
    known_marks,
    left_out,
    more_counts,
    more_factors,
    next_time,
    opinions,
    order,
    sheets_of_words,
    side_by_side,
    sizes,
    steadiness,
    what_for,
    who_makes,
)


def statements(evidence: Evidence, budget: Budget) -> tuple[Statement, ...]:
    """Return all statements: descriptions, advice and cautions, and no claim.

    Those of the section "sure" stand on the first page, in the order of this list.
    """
    return (
        *sizes.statements(evidence, budget),
        *bottles_apart.statements(evidence, budget),
        *side_by_side.statements(evidence, budget),
        *order.statements(evidence, budget),
        *known_cups.statements(evidence),
        *steadiness.statements(evidence, budget),
        *left_out.statements(evidence, budget),
        *sheets_of_words.statements(evidence, budget),
        *more_counts.statements(evidence),
        *declared_tastes.statements(evidence),
        *opinions.statements(evidence, budget),
        *who_makes.statements(evidence, budget),
        *more_factors.statements(evidence, budget),
        *by_number.statements(evidence, budget),
        *known_marks.statements(evidence),
        *what_for.statements(evidence, budget),
        *next_time.statements(evidence, budget),
    )
