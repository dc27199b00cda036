"""How often two tastings of one assessor look exchanged in a report of few assessors.

``python benchmarks/few_exchanged.py [SESSIONS]`` prints the table of docs/small_panels.md: sessions
of two tastings with the usual scatter and others, nothing exchanged, and with two cups of one
assessor's second tasting exchanged. ``loose`` counts sessions in which somebody's single marks
are told not to be leaned on though all scatter alike. The rules are those of
``panel/few/tasters.py``, written for arrays; a test holds both to the same answer.
"""

from __future__ import annotations

import sys
from itertools import combinations

import numpy as np
from kikichoko.panel.few.tasters import BEYOND, FEWEST_GAPS, LOOSE, MIRRORED

DESIGNS = (
    # assessors, bottles, attributes, scatter, of it assessor x sample, spread of bottles, step
    (2, 2, 12, 1.0, 0.2, 0.55, 0.5),
    (2, 3, 12, 1.45, 0.2, 0.55, 0.5),
    (2, 3, 6, 1.45, 0.2, 0.55, 1.0),
    (2, 3, 12, 0.5, 0.2, 1.2, 0.5),
    (2, 4, 5, 1.45, 0.2, 0.55, 0.5),
    (3, 3, 12, 1.45, 0.2, 0.55, 0.5),
    (3, 4, 12, 0.7, 0.2, 0.8, 0.5),
    (3, 6, 6, 1.45, 0.5, 0.55, 1.0),
)
LENGTH = 10.0
Floats = np.ndarray


def session(design: tuple[float, ...], rng: np.random.Generator, *, exchanged: bool) -> Floats:
    """Draw marks, shape (2 tastings, assessors, bottles, attributes)."""
    assessors, bottles, attributes = (int(value) for value in design[:3])
    scatter, share, spread, step = design[3:]
    true = spread * rng.standard_normal((bottles, attributes))
    level = 5 + rng.standard_normal((assessors, 1, attributes))
    width = 1 + 0.25 * rng.standard_normal((assessors, 1, 1))
    error = scatter * np.exp(0.35 * rng.standard_normal(attributes))
    shape = (assessors, bottles, attributes)
    view = level + width * true + np.sqrt(share) * error * rng.standard_normal(shape)
    marks = view + np.sqrt(1 - share) * error * rng.standard_normal((2, *shape))
    if exchanged:
        marks[1, 0, [0, 1]] = marks[1, 0, [1, 0]]
    return (np.round(marks / step) * step).clip(0, LENGTH)


def mirrored(marks: Floats) -> list[tuple[int, int, int]]:
    """Return assessor and two bottles between which the tastings mirror each other."""
    _, assessors, bottles, _ = marks.shape
    variance = marks.var(axis=0, ddof=1)
    found = []
    for who in range(assessors):
        for first, second in combinations(range(bottles), 2):
            one, two = marks[:, who, first] - marks[:, who, second]
            rest = np.ones((assessors, bottles), dtype=bool)
            rest[who, [first, second]] = False
            scatter = np.sqrt(variance[rest].mean()) if rest.any() else 0.0
            apart, together = (np.sqrt(np.mean(gap**2)) for gap in (one - two, one + two))
            if apart >= MIRRORED * together and apart / 2 >= BEYOND * np.sqrt(2) * scatter > 0:
                found.append((who, first, second))
    return found


def loose(marks: Floats) -> bool:
    """Tell whether somebody's marks repeat so much worse than the next worst's."""
    gaps = np.abs(marks[0] - marks[1]).reshape(marks.shape[1], -1)
    worst = np.sort(gaps.mean(axis=1))[::-1]
    return bool(gaps.shape[1] >= FEWEST_GAPS and worst[0] >= LOOSE * worst[1] > 0)


def main(sessions: int = 3000) -> None:
    """Print the table."""
    rng = np.random.default_rng(20)
    out = sys.stdout
    out.write(
        "| assessors | bottles | attributes | scatter | spread | step | told | found | loose |\n"
    )
    out.write("|---|---|---|---|---|---|---|---|---|\n")
    for design in DESIGNS:
        plain = [session(design, rng, exchanged=False) for _ in range(sessions)]
        swapped = [session(design, rng, exchanged=True) for _ in range(sessions // 5)]
        told = sum(bool(mirrored(marks)) for marks in plain)
        found = sum((0, 0, 1) in mirrored(marks) for marks in swapped)
        wild = sum(loose(marks) for marks in plain)
        shown = " | ".join(f"{value:g}" for value in (*design[:4], *design[5:]))
        out.write(f"| {shown} | {told} of {sessions} | {found} of {len(swapped)} | {wild} |\n")
        out.flush()


if __name__ == "__main__":
    main(*(int(text) for text in sys.argv[1:]))
