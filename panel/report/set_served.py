"""What a test of difference served and planned, told after the event."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from ...analysis.core.words import Sentence
from ..base.words import sentence
from ..session.conditions import how_many
from .context import Context

LEFT_OUT = frozenset({"set.accepted_small", "set.accepted_hopeless", "set.mouthfeel"})
"""Notes of a plan that the chapter of the test says itself."""
TOLD = {
    "set.difference_reach": "set.told_difference",
    "set.similarity_reach": "set.told_similarity",
    "set.orders_exact": "set.told_orders_exact",
    "set.orders_nearly": "set.told_orders_nearly",
    "set.rising": "set.told_rising",
    "plan.codes_per_assessor": "set.told_codes",
}
"""Notes of a plan that are written otherwise when it is over."""


def served(context: Context, people: list[Sentence]) -> Sentence:
    """Say who answered, and how many sets of which cups each of them had.

    Sets are counted as they came back; where not everybody has as many, the most.
    """
    sets = Counter(one.assessor for one in context.presented)
    method = context.session.settings.method.replace("-", "_")
    made = sentence(
        f"set.sets_{method}",
        n=max(sets.values(), default=0),
        cups=max((len(one.codes) for one in context.presented), default=0),
    )
    alike = len(set(sets.values())) <= 1
    return sentence(
        "set.served",
        n=len(context.roster),
        people=people,
        bottles=how_many(map(context.session.bottle, context.samples)),
        sets=made if alike else sentence("set.up_to", sets=made),
    )


def told(notes: Iterable[Sentence], *, cloudy: bool) -> list[Sentence]:
    """Write the notes of a plan as what was done: no instruction, nothing of files.

    Parameters
    ----------
    notes : iterable of Sentence
    cloudy : bool
        Whether a bottle is cloudy; else nobody is told that the tongue knows one.
    """
    made = []
    for note in notes:
        if note.key in LEFT_OUT:
            continue
        key = TOLD.get(note.key, note.key)
        if note.key == "plan.masking_opaque":
            key = "set.told_opaque_cloudy" if cloudy else "set.told_opaque"
        made.append(note if key == note.key else sentence(key, **dict(note.values)))
    return made
