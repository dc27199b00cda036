"""Orders of sets of cups, balanced over all presentations of a session."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations


def dealt(orders: tuple[str, ...], assessors: int, each: int, seed: int) -> list[list[str]]:
    """Deal orders to assessors, each order as often as any other.

    All orders go round before one comes again. Where presentations are no
    multiple of the orders, all choices of the rest are looked through (184 756
    at most, of twenty orders): those in which both samples stand at each place
    as evenly as can be, of them those in which the odd cup does, then one by
    lot. Who gets which is by lot.

    Returns
    -------
    list of list of str
        One list an assessor, `each` orders long.
    """
    import numpy as np

    rng = np.random.default_rng(seed)
    total = assessors * each
    rounds, rest = divmod(total, len(orders))
    queue: list[str] = []
    for _ in range(rounds):
        queue += [orders[i] for i in rng.permutation(len(orders))]
    if rest:
        picks = even_rests(orders, rest)
        pick = picks[int(rng.integers(len(picks)))]
        queue += [orders[i] for i in rng.permutation(pick)]
    hands = [queue[i * each : (i + 1) * each] for i in range(assessors)]
    return [hands[i] for i in rng.permutation(assessors)]


def even_rests(orders: Sequence[str], rest: int) -> list[tuple[int, ...]]:
    """Return the choices of `rest` orders that are most even, by their numbers."""
    import numpy as np

    picks = np.array(list(combinations(range(len(orders)), rest)))
    kept = np.arange(len(picks))
    for count in (_is_a, _is_odd):
        there = np.array([[count(order, place) for place in range(len(order))] for order in orders])
        # In whole numbers, so that what is as even as another is not less by rounding.
        counts = there.astype(int)[picks[kept]].sum(axis=1) * len(orders)
        miss = np.abs(counts - rest * there.sum(axis=0)).sum(axis=1)
        kept = kept[miss == miss.min()]
    return [tuple(int(i) for i in picks[at]) for at in kept]


def unevenness(orders: Sequence[str], every: Sequence[str]) -> tuple[float, float]:
    """Return how far samples, and odd cups, stand at the places from what all orders give."""
    share = len(orders) / len(every)
    samples, odd = (
        sum(
            abs(sum(count(order, place) for order in orders)
                - share * sum(count(order, place) for order in every))
            for place in range(len(every[0]))
        )
        for count in (_is_a, _is_odd)
    )  # fmt: skip
    return samples, odd


def stood(orders: Sequence[str]) -> tuple[list[int], list[int]]:
    """Return how often A, and an odd cup, stood at each place."""
    places = range(max(map(len, orders), default=0))
    a, odd = (
        [sum(count(order, place) for order in orders) for place in places]
        for count in (_is_a, _is_odd)
    )
    return a, odd


def as_even(found: Sequence[int], every: Sequence[int], share: float) -> bool:
    """Tell whether counts at the places lie within one of their share of what all orders give."""
    return all(abs(n - share * of) < 1 for n, of in zip(found, every, strict=True))


def _is_a(order: str, place: int) -> bool:
    return order[place] == "A"


def _is_odd(order: str, place: int) -> bool:
    return 2 * order.count(order[place]) < len(order)
