"""How often a report of few assessors says "surely" of what is crossed, on the same liquid.

``python benchmarks/few_crossed.py [REPORTS]`` prints the table of docs/small_panels.md: four
bottles of one liquid that cross two things (pressing and pasteurising), drawn as in
``few_calibration.py``. ``any`` counts reports that say "surely" of a pair of bottles or of one of
the two things, under the bar that both share; ``all one way`` is the share of things and attributes
in which everybody goes one way.
"""

from __future__ import annotations

import sys

import numpy as np
from kikichoko.analysis.performance.spreads import integrate, two_way
from kikichoko.analysis.performance.usual_spreads import USUAL, default_spreads, wide_spreads
from kikichoko.panel.few.directions import FREE, RISK

DESIGNS = (
    # assessors, replicates, attributes, factor, halo, step
    (2, 1, 12, 1.0, 0.0, 0.5),
    (2, 2, 12, 1.0, 0.5, 0.5),
    (3, 1, 12, 1.0, 0.5, 0.5),
    (3, 2, 12, 1.0, 0.0, 0.5),
    (3, 2, 4, 1.0, 0.5, 0.5),
    (2, 1, 12, 2.0, 0.0, 1.0),
    (3, 2, 12, 2.0, 0.5, 0.5),
)
LENGTH, BOTTLES, CROSSED = 10.0, 4, 2
PAIRS = np.array([np.eye(BOTTLES)[a] - np.eye(BOTTLES)[b]
                  for a in range(BOTTLES) for b in range(a)])  # fmt: skip
THINGS = np.array([[-1, -1, 1, 1], [-1, 1, -1, 1]]) / 2
Floats = np.ndarray


def marks_of(design: tuple[float, ...], rng: np.random.Generator) -> list[tuple[str, Floats]]:
    """Draw one report: kind and means, shape (assessors, bottles), of each attribute."""
    assessors, replicates, attributes = (int(value) for value in design[:3])
    factor, halo, step = design[3:]
    common = rng.standard_normal((assessors, BOTTLES))
    made = []
    for number in range(attributes):
        kind = "liking" if number == attributes - 1 else "taste"
        usual = USUAL[kind]
        error = usual.error * LENGTH * factor * np.exp(usual.error_log_sd * rng.standard_normal())
        own = np.sqrt(halo) * common + np.sqrt(1 - halo) * rng.standard_normal(common.shape)
        again = rng.standard_normal((replicates, *common.shape))
        share = usual.interaction_share
        level = 5 + rng.standard_normal((assessors, 1))
        marks = level + error * (np.sqrt(share) * own + np.sqrt(1 - share) * again)
        made.append((kind, np.clip(np.round(marks / step) * step, 0, LENGTH).mean(axis=0)))
    return made


def surely(design: tuple[float, ...], reports: int, rng: np.random.Generator) -> Floats:
    """Return shares: any "surely", of a pair, of a thing; things and attributes one way."""
    replicates, attributes = int(design[1]), int(design[2])
    times = max(1.0, attributes * (BOTTLES - 1 + CROSSED) / FREE)
    found = np.zeros(4)
    for _ in range(reports):
        pair = thing = False
        for kind, marks in marks_of(design, rng):
            parts = tuple(
                (spreads(kind, LENGTH).of_means(replicates), weight)
                for spreads, weight in ((default_spreads, 0.8), (wide_spreads, 0.2))
            )
            joined = integrate(two_way(marks), parts)
            above = joined.above(np.vstack([PAIRS, THINGS]))
            sure = times * (1 - np.maximum(above, 1 - above)) <= RISK
            pair, thing = pair or bool(sure[:-2].any()), thing or bool(sure[-2:].any())
            gaps = marks @ THINGS.T
            one_way = (gaps > 0).all(axis=0) | (gaps < 0).all(axis=0)
            found[3] += one_way.mean() / attributes
        found[:3] += pair or thing, pair, thing
    return found / reports


def main(reports: int = 500) -> None:
    """Print the table."""
    rng = np.random.default_rng(20)
    out = sys.stdout
    out.write("| assessors | times | attributes | scatter | halo | step | any | pair | thing |"
              " all one way |\n")  # fmt: skip
    out.write("|---|---|---|---|---|---|---|---|---|---|\n")
    for design in DESIGNS:
        cells = " | ".join(f"{value:g}" for value in design)
        shares = " | ".join(f"{100 * share:.1f} %" for share in surely(design, reports, rng))
        out.write(f"| {cells} | {shares} |\n")
        out.flush()


if __name__ == "__main__":
    main(*(int(text) for text in sys.argv[1:]))
