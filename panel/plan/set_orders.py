"""Orders of sets of cups, balanced over all presentations of a session."""

from __future__ import annotations

from collections.abc import Sequence


def dealt(orders: tuple[str, ...], assessors: int, each: int, seed: int) -> list[list[str]]:
    """Deal orders to assessors, each order as often as any other.

    All orders go round before one comes again. Where presentations are no
    multiple of the orders, the rest is chosen so that both samples stand at
    each place as equally often as can be. Who gets which is by lot.

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
        picks = [rng.permutation(len(orders))[:rest] for _ in range(300)]
        best = min(picks, key=lambda pick: unevenness([orders[i] for i in pick], orders))
        queue += [orders[i] for i in best]
    hands = [queue[i * each : (i + 1) * each] for i in range(assessors)]
    return [hands[i] for i in rng.permutation(assessors)]


def unevenness(orders: Sequence[str], every: Sequence[str]) -> float:
    """Return how far samples and odd cups stand at the places from what all orders give."""
    share = len(orders) / len(every)
    miss = 0.0
    for place in range(len(every[0])):
        for count in (_is_a, _is_odd):
            wanted = share * sum(count(order, place) for order in every)
            miss += abs(sum(count(order, place) for order in orders) - wanted)
    return miss


def _is_a(order: str, place: int) -> bool:
    return order[place] == "A"


def _is_odd(order: str, place: int) -> bool:
    return 2 * order.count(order[place]) < len(order)
