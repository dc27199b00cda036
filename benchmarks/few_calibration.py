"""How often a report of few assessors says "surely" of the same liquid.

``python benchmarks/few_calibration.py [REPORTS]`` prints the table of docs/small_panels.md:
all bottles are one liquid, scatter is drawn about the usual (times `factor`), part of an
assessor's view of a bottle is common to all attributes (`halo`), marks are written in steps.
"""

from __future__ import annotations

import sys

import numpy as np
from kikichoko.analysis.performance.next_step import lattice_of, probabilities
from kikichoko.analysis.performance.usual_spreads import USUAL, default_spreads, wide_spreads
from kikichoko.panel.few.directions import FREE, RISK

DESIGNS = (
    # assessors, bottles, replicates, attributes, factor, halo, step
    (2, 3, 1, 12, 1.0, 0.0, 1.0),
    (2, 3, 2, 12, 1.0, 0.5, 0.5),
    (2, 2, 1, 12, 1.0, 0.0, 0.5),
    (2, 6, 2, 12, 1.0, 0.0, 0.5),
    (3, 3, 1, 12, 1.0, 0.5, 0.5),
    (3, 3, 2, 12, 1.0, 0.0, 0.5),
    (3, 3, 2, 4, 1.0, 0.0, 0.5),
    (3, 3, 2, 24, 1.0, 0.5, 0.5),
    (3, 4, 2, 12, 1.0, 0.5, 0.5),
    (3, 6, 2, 6, 1.0, 0.0, 0.5),
    (2, 3, 1, 12, 0.5, 0.0, 1.0),
    (2, 3, 1, 12, 2.0, 0.0, 1.0),
    (3, 3, 2, 12, 2.0, 0.5, 0.5),
    (3, 6, 1, 12, 2.0, 0.0, 1.0),
)
AT_ONCE = 250
LENGTH = 10.0


def surely(design: tuple[float, ...], reports: int, rng: np.random.Generator) -> float:
    """Return the share of reports that say "surely" of anything; the last attribute is quality."""
    assessors, bottles, replicates, attributes = (int(value) for value in design[:4])
    factor, halo, step = design[4:]
    shape = (reports, assessors, bottles)
    common = rng.standard_normal(shape)
    said = np.zeros(reports, dtype=bool)
    times = max(1.0, (bottles - 1) * attributes / FREE)
    for number in range(attributes):
        kind = "liking" if number == attributes - 1 else "taste"
        usual = USUAL[kind]
        share = usual.interaction_share
        spread = usual.error * LENGTH * factor
        error = spread * np.exp(usual.error_log_sd * rng.standard_normal((reports, 1, 1)))
        own = np.sqrt(halo) * common + np.sqrt(1 - halo) * rng.standard_normal(shape)
        again = rng.standard_normal((replicates, *shape))
        level = 5 + rng.standard_normal((reports, assessors, 1))
        marks = level + error * (np.sqrt(share) * own + np.sqrt(1 - share) * again)
        marks = np.clip(np.round(marks / step) * step, 0, LENGTH).mean(axis=0)
        marks -= marks.mean(axis=2, keepdims=True)
        gaps = np.ptp(marks.mean(axis=1), axis=1)
        parts = ((default_spreads(kind, LENGTH), 0.8), (wide_spreads(kind, LENGTH), 0.2))
        log_error, log_sample, weight = lattice_of(parts)
        log_error = log_error + np.log(share + (1 - share) / replicates) / 2
        for start in range(0, reports, AT_ONCE):
            part = slice(start, start + AT_ONCE)
            lattice = log_error, log_sample, weight
            above = probabilities(marks[part], gaps[part], lattice)
            said[part] |= (1 - above) * times <= RISK
    return float(said.mean())


def main(reports: int = 1000) -> None:
    """Print the table."""
    rng = np.random.default_rng(20)
    out = sys.stdout
    out.write("| assessors | bottles | times | attributes | scatter | halo | step | surely |\n")
    out.write("|---|---|---|---|---|---|---|---|\n")
    for design in DESIGNS:
        share = surely(design, reports, rng)
        cells = " | ".join(f"{value:g}" for value in design)
        out.write(f"| {cells} | {100 * share:.1f} % |\n")
        out.flush()


if __name__ == "__main__":
    main(*(int(text) for text in sys.argv[1:]))
