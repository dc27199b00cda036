"""How often the overview lays a first place in quality at the door of one assessor.

    OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 nice -n 10 python benchmarks/first_place.py [RUNS]

Marks are drawn as in `overview_people`, of one sake in all bottles, and then (a) left as they are,
(b) one bottle is better for everybody by so many points, (c) one assessor gives one bottle so many
points more, in every tasting, and nobody else does. Counted are panels on whose report stands that
the first place "turns on" single assessors (`first_turns`), "rests much on" some (`first_rests`),
or is by less without one (`first_less`); of (b) how often that is said of the best bottle, of (c)
how often the one is named, and anybody else. Intervals are exact (Clopper-Pearson, 95 %). Seed 2;
the threshold of `first_rests` was chosen on panels of seed 1.
"""

from __future__ import annotations

import sys

import numpy as np
from kikichoko.panel.findings.all_statements import findings_of_tables
from kikichoko.panel.findings.budget import judge
from kikichoko.panel.overview import opinions
from overview_people import panel
from scipy.stats import binomtest

DESIGNS = ((4, 3, 1), (5, 2, 2), (6, 4, 1), (6, 3, 2), (9, 4, 2), (12, 6, 3))
"""Assessors, bottles, tastings of each."""
CASES = (("alike", 0.0), ("best", 0.5), ("best", 1.0), ("best", 2.0), ("one", 3.0), ("one", 4.0))
"""What is true, and by how many points."""
BOTTLE, WHO = "a", "A00"
SEED = 2


def told(rng: np.random.Generator, design: tuple[int, int, int], case: str, by: float) -> set[str]:
    """Return what one panel's report says of its first place, and of whom."""
    rows = panel(rng, *design)
    raised = (rows["attribute"] == "quality") & (rows["sample"] == BOTTLE)
    if case == "one":
        raised &= rows["assessor"] == WHO
    rows.loc[raised, "score"] = np.clip(rows.loc[raised, "score"] + by, 0, 10)
    evidence = findings_of_tables(rows, shuffles=399).evidence
    budget = judge(evidence)
    found = set()
    if any(one.claimed and one.attribute == "quality" for one in opinions.gaps(evidence, budget)):
        found.add("claimed")
    for one in opinions.first_place(evidence, budget):
        key = one.sentence.key.partition(".")[2]
        values = dict(one.sentence.values)
        named = set(map(str, values.get("who", ()))) or set(map(str, one.about[1:-1]))
        found.add(key)
        found |= {f"{key} of the bottle"} if values["bottle"] == BOTTLE else set()
        found |= {f"{key} names the one"} if WHO in named else set()
        found |= {f"{key} names another"} if named - {WHO} else set()
    return found


def main() -> None:
    """Print, by what is true and by design, how many of so many panels were told what."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    for case, by in CASES:
        every: list[set[str]] = []
        for design in DESIGNS:
            rng = np.random.default_rng([SEED, *design, int(10 * by), CASES.index((case, by))])
            own = [told(rng, design, case, by) for _ in range(runs)]
            every += own
            _write(f"{case} {by:g}, {design[0]} x {design[1]} x {design[2]}", own)
        _write(f"{case} {by:g}, all", every)


def _write(what: str, own: list[set[str]]) -> None:
    n = len(own)
    lines = []
    for key in sorted(set().union(*own)):
        k = sum(key in one for one in own)
        low, high = binomtest(k, n).proportion_ci(0.95)
        lines.append(f"{key} {k} ({100 * low:.1f} to {100 * high:.1f} %)")
    sys.stdout.write(f"{what}, of {n}: {'; '.join(lines)}\n")
    sys.stdout.flush()


if __name__ == "__main__":
    main()
