"""What a test of difference served and planned, told after the event."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from ...analysis.core.words import Sentence
from ..base.words import sentence
from ..plan.set_orders import as_even, stood
from ..plan.set_plan import a_and_b
from ..session.conditions import how_many
from .context import Context

LEFT_OUT = frozenset({"set.accepted_small", "set.accepted_hopeless", "set.mouthfeel"})
"""Notes of a plan that the chapter of the test says itself."""
TOLD = {
    "set.difference_reach": "set.told_difference",
    "set.similarity_reach": "set.told_similarity",
    "set.orders_exact": "set.told_orders_exact",
    "set.orders_nearly": "set.told_orders_nearly",
    "set.orders_even": "set.told_orders_nearly",
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


def places(context: Context) -> list[Sentence]:
    """Say how often the two bottles, and the odd cup, stood at each place, as it was planned.

    Counted from the cups themselves: what an earlier edition's plan said of it need not hold.
    Nothing where not each planned set is known as it was dealt.
    """
    session, plan = context.session, context.plan
    every = session.method.orders_for(session.settings.test)
    shown = [
        (one.code, set_.codes)
        for one in plan.assessors
        if not one.spare and one.code in plan.own_sheets
        for set_ in plan.own_sheets[one.code].presentations
        if set_.counted
    ]
    cups = context.key.cups
    if len(session.samples) != len("AB") or not every or not shown:
        return []
    if any((who, code) not in cups for who, codes in shown for code in codes):
        return []
    a, b = a_and_b(session)
    letters = {a: "A", b: "B"}
    orders = ["".join(letters.get(cups[who, code].bottle, "") for code in codes)
              for who, codes in shown]  # fmt: skip
    if any(len(order) != len(every[0]) for order in orders):
        return []
    share = len(orders) / len(every)
    first, odd = stood(orders)
    of_first, of_odd = stood(every)
    said = [
        sentence("set.told_places_even")
        if as_even(first, of_first, share)
        else sentence("set.told_places", first=a, second=b, a=first,
                      b=[len(orders) - n for n in first])
    ]  # fmt: skip
    if not as_even(odd, of_odd, share):
        said.append(sentence("set.told_odd", odd=odd))
    return said


def told(
    notes: Iterable[Sentence], *, cloudy: bool, at_places: Sequence[Sentence] = ()
) -> list[Sentence]:
    """Write the notes of a plan as what was done: no instruction, nothing of files.

    Parameters
    ----------
    notes : iterable of Sentence
    cloudy : bool
        Whether a bottle is cloudy; else nobody is told that the tongue knows one.
    at_places : sequence of Sentence
        What is said below the orders, where not all of them were dealt equally often.
    """
    made = []
    for note in notes:
        if note.key in LEFT_OUT:
            continue
        key = TOLD.get(note.key, note.key)
        if note.key == "plan.masking_opaque":
            key = "set.told_opaque_cloudy" if cloudy else "set.told_opaque"
        made.append(note if key == note.key else sentence(key, **dict(note.values)))
        made += at_places if key == "set.told_orders_nearly" else ()
    return made
