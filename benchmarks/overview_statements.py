"""How often the overview's descriptions stand on a report where all bottles are one sake.

    OMP_NUM_THREADS=1 nice -n 10 python benchmarks/overview_statements.py [RUNS]

Marks are drawn as in `overview_people`; sweet and dry in steps of one, mostly just right. The
bottles bear fractions and tanks that cross, and meter values and acidities that lie apart, though
one sake is in all; half of the people like its style and half do not, by what they declared.
Counted are reports on which a sentence stands, by its key. Seed 1.
"""

from __future__ import annotations

import sys
from collections import Counter
from dataclasses import replace

import numpy as np
import pandas as pd
from kikichoko.panel.findings.all_statements import findings_of_tables
from kikichoko.panel.findings.evidence import Evidence
from kikichoko.panel.overview import (
    by_number,
    declared_tastes,
    more_factors,
    opinions,
    what_for,
    who_makes,
)
from kikichoko.panel.session.bottles import Bottle
from overview_people import LINES, panel

DESIGNS = ((5, 4, 2), (6, 4, 1), (6, 3, 2), (9, 4, 1))
"""Assessors, bottles, tastings of each."""
KINDS = (("free-run", "T1"), ("press-end", "T1"), ("free-run", "T2"), ("press-end", "T2"))
METERS, ACIDS = (1.0, 2.0, -4.0, -5.0), (1.3, 1.4, 1.6, 1.8)
OFF = 0.3
"""Share of sheets on which a bottle is not just right."""


def session(rng: np.random.Generator, people: int, bottles: int, times: int) -> Evidence:
    """Return the evidence of one session of one sake."""
    rows = panel(rng, people, bottles, times)
    first = rows[rows["attribute"] == LINES[0]]
    off = rng.random(len(first)) < OFF
    side = np.where(off, rng.choice((-1, 1), len(first)), 0)
    rows = pd.concat([rows, first.assign(attribute="sweetness_balance", score=side)])
    made = [
        Bottle(name=name, fraction=kind[0], tank=kind[1], pasteurised="1", meter_value=meter,
               acidity=acid, abv=16.0)
        for name, kind, meter, acid in zip("abcd"[:bottles], KINDS, METERS, ACIDS, strict=False)
    ]  # fmt: skip
    found = findings_of_tables(rows, bottles=made, shuffles=399).evidence
    styles = ("likes", "dislikes")
    own = tuple(replace(one, style=styles[n % 2]) for n, one in enumerate(found.people))
    return replace(found, people=own)


def main() -> None:
    """Print, by design, on what share of so many reports each sentence stands."""
    from kikichoko.panel.findings.budget import judge

    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    rng = np.random.default_rng(1)
    for design in DESIGNS:
        counts: Counter[str] = Counter()
        for _ in range(runs):
            evidence = session(rng, *design)
            budget = judge(evidence)
            made = [
                *declared_tastes.statements(evidence),
                *opinions.statements(evidence, budget),
                *who_makes.statements(evidence, budget),
                *more_factors.statements(evidence, budget),
                *by_number.statements(evidence, budget),
                *what_for.statements(evidence, budget),
            ]
            keys = {one.sentence.key.partition(".")[2] for one in made}
            told = next((one for one in made if "by_number_meter" in one.sentence.key), None)
            text = str(told.sentence) if told else ""
            keys |= {name for name in ("as the meter", "against the meter") if name in text}
            counts.update(keys)
        told_of = ", ".join(f"{name} {100 * k / runs:.0f}" for name, k in sorted(counts.items()))
        sys.stdout.write(f"{design[0]} x {design[1]} x {design[2]} of {runs}: {told_of}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
