"""How often the overview names a person, or a cause of dryness, where nothing is going on.

    OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 nice -n 5 python benchmarks/overview_people.py [RUNS]

All bottles are one sake: marks are a person's level, a view of each bottle in each attribute that
nobody shares (half a point), and scatter (one point), in half points from 0 to 10. Counted are
panels in which anybody is told to hardly move or to run against the others in some attributes, and
bottles, were they found too dry, of which the advice would name acidity or roughness. Seed 1.
"""

from __future__ import annotations

import sys

import numpy as np
import pandas as pd
from kikichoko.panel.findings.all_statements import findings_of_tables
from kikichoko.panel.findings.verdicts import reads_as_dry
from kikichoko.panel.overview.left_out import against_in, hardly_moving

LINES = (
    "aroma_intensity", "sweetness", "acidity", "bitterness", "umami", "astringency", "body",
    "texture", "fruity", "rice", "finish_length", "quality",
)  # fmt: skip
DESIGNS = ((4, 3, 1), (6, 3, 2), (9, 6, 1), (12, 4, 2))
"""Assessors, bottles, tastings of each."""
LEVEL, VIEW, SCATTER = 0.8, 0.5, 1.0


def panel(rng: np.random.Generator, people: int, bottles: int, times: int) -> pd.DataFrame:
    """Return the tidy rows of one panel that tastes one sake from all bottles."""
    shape = len(LINES), people, bottles, times
    marks = 5 + rng.normal(0, LEVEL, (1, people, 1, 1)) + rng.normal(0, VIEW, (*shape[:3], 1))
    marks = np.clip(np.round(2 * (marks + rng.normal(0, SCATTER, shape))) / 2, 0, 10)
    names = [LINES, [f"A{n:02}" for n in range(people)], list("abcdefgh"[:bottles]),
             range(1, times + 1)]  # fmt: skip
    index = pd.MultiIndex.from_product(
        names, names=["attribute", "assessor", "sample", "replicate"]
    )
    return pd.DataFrame({"score": marks.ravel()}, index=index).reset_index()


def main() -> None:
    """Print, by design, how many of so many panels and bottles were told of."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    rng = np.random.default_rng(1)
    for design in DESIGNS:
        counts = dict.fromkeys(("hardly", "against", "sour", "rough"), 0)
        for _ in range(runs):
            rows = panel(rng, *design)
            evidence = findings_of_tables(rows).evidence
            # Whole tables: the model's means are the plain ones, and need no model.
            means = rows.pivot_table("score", "sample", "attribute")
            evidence.__dict__["means"] = means
            counts["hardly"] += bool(hardly_moving(evidence))
            counts["against"] += bool(against_in(evidence))
            how = reads_as_dry(evidence, "a")
            counts[how] = counts.get(how, 0) + 1
        told = ", ".join(f"{name} {k}" for name, k in counts.items() if name != "dry")
        sys.stdout.write(f"{design[0]} x {design[1]} x {design[2]}: {told} of {runs}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
