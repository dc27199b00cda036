"""How often two glasses are suspected to be exchanged: without any exchange, and with one.

    .venv/bin/python benchmarks/suspected_exchanges.py [sessions]

Invented panels in half points from 0 to 10: bottles that lie `apart` in attributes that hang
together, assessors with levels, spans and scatters of their own, views of their own of each bottle
(attribute by attribute, and on the whole), one mark in a hundred left blank. Beside them panels
of which one marks at random, or reads every line the other way round. Last, one tasting of one
assessor with two bottles exchanged.
"""

from __future__ import annotations

import sys
from collections.abc import Mapping
from typing import Any

import numpy as np
from kikichoko.panel.findings.exchanged import suspicions

DESIGNS = ((5, 3, 6, 1), (5, 4, 12, 1), (6, 3, 12, 2), (8, 4, 12, 2), (11, 5, 12, 1), (14, 6, 8, 1))
"""Assessors, bottles, attributes, tastings."""
SOUND: Mapping[str, Mapping[str, float]] = {
    "one liquid": {"apart": 0.0},
    "apart 0.5": {"apart": 0.5},
    "apart 0.7": {"apart": 0.7},
    "apart 1.3": {"apart": 1.3},
    "opinions part": {"own_view": 0.9, "own_whole": 0.9},
    "scatters part": {"widths": 0.5},
    "one at random": {"at_random": 1},
    "one reversed": {"reversed_": 1},
}
APART = (0.7, 1.0, 1.3)


def drawn(
    rng: np.random.Generator, design: tuple[int, int, int, int], *, swap: bool = False,
    apart: float = 1.0, own_view: float = 0.5, own_whole: float = 0.5, widths: float = 0.25,
    at_random: float = 0, reversed_: float = 0,
) -> tuple[Any, list[str], tuple[int, int]]:  # fmt: skip
    """Draw a session; with `swap` two bottles are exchanged in the last one's first tasting."""
    people, bottles, attributes, tastings = design
    truth = 0.8 * rng.normal(0, apart, (bottles, attributes))
    hang = rng.normal(0, 1, (bottles, 2)) @ rng.normal(0, 1, (2, attributes))
    truth = truth + 0.6 * apart * hang
    first, second = sorted(int(one) for one in rng.choice(bottles, 2, replace=False))
    marks, who = [], []
    for number in range(people):
        span, scatter = np.exp(rng.normal(0, 0.25)), 0.9 * np.exp(rng.normal(0, widths))
        view = rng.normal(0, own_view, (bottles, attributes))
        view += own_whole * rng.normal(0, 1, (bottles, 1)) * rng.normal(0, 1, attributes)
        for tasting in range(tastings):
            base = span * (truth + view)
            if number < at_random:
                base = rng.normal(0, 1.5, (bottles, attributes))
            elif number < reversed_:
                base = -truth
            if swap and number == people - 1 and tasting == 0:
                base[[first, second]] = base[[second, first]]
            cup = 0.3 * rng.normal(0, 1, (bottles, 1))
            given = 5 + rng.normal(0, 0.7, attributes) + base + cup
            given = given + rng.normal(0, scatter, (bottles, attributes))
            given = np.clip(np.round(2 * given) / 2, 0, 10)
            given[rng.random(given.shape) < 0.01] = np.nan
            marks.append(given)
            who.append(f"P{number}")
    return np.array(marks), who, (first, second)


def rate(rng: np.random.Generator, design: tuple[int, int, int, int], n: int, **more: float):
    """Return the share of sessions without an exchange in which one is suspected."""
    told = 0
    for _ in range(n):
        marks, who, _ = drawn(rng, design, **more)
        told += bool(suspicions(marks, who))
    return told / n


def found(
    rng: np.random.Generator, design: tuple[int, int, int, int], n: int, apart: float
) -> tuple[float, float]:
    """Return the shares in which the exchange is found as it was, and another one told."""
    right = false = 0
    for _ in range(n):
        marks, who, pair = drawn(rng, design, swap=True, apart=apart)
        told = suspicions(marks, who)
        right += any(who[one[0]] == who[-1] and one[1:3] == pair for one in told)
        false += any(who[one[0]] != who[-1] for one in told)
    return right / n, false / n


def main() -> None:
    """Print a table of rates."""
    n = int(sys.argv[1]) if len(sys.argv) > 1 else 400
    rng = np.random.default_rng(20261128)
    for design in DESIGNS:
        print(*design, sep=" × ")
        for name, more in SOUND.items():
            print(f"  {name:16s}{rate(rng, design, n, **more):.3f}", flush=True)
        for apart in APART:
            right, false = found(rng, design, n, apart)
            print(f"  exchanged, apart {apart}: {right:.2f}, another {false:.3f}", flush=True)


if __name__ == "__main__":
    main()
