"""How long do intraclass correlations take, from tables that lie ready on both sides?

    python benchmarks/agreement_speed.py

30 attributes of 12 assessors × 6 samples, means of three replicates: ours from one wide table an
attribute, pingouin's from one long table an attribute, all six coefficients with limits on both
sides. The shortest of seven runs. Not part of CI.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from importlib.metadata import version

import numpy as np
import pandas as pd
import pingouin as pg
from kikichoko.analysis.agreement import icc

ATTRIBUTES, RUNS, SEED = 30, 7, 1


def shortest(call: Callable[[], object]) -> float:
    """Return the shortest time of some runs in milliseconds."""
    spent = []
    for _ in range(RUNS):
        begun = time.perf_counter()
        call()
        spent.append(1000 * (time.perf_counter() - begun))
    return min(spent)


def main() -> None:
    """Time both sides, and check that they agree."""
    rng = np.random.default_rng(SEED)
    wide = []
    for _ in range(ATTRIBUTES):
        marks = 5 + rng.normal(0, 1, (6, 1)) + rng.normal(0, 1, 12) + rng.normal(0, 1, (6, 12))
        names = pd.Index([f"S{k}" for k in range(6)], name="sample")
        people = pd.Index([f"A{k}" for k in range(12)], name="assessor")
        wide.append(pd.DataFrame(marks, index=names, columns=people))
    long = [one.reset_index().melt("sample", value_name="score") for one in wide]

    def theirs(table: pd.DataFrame) -> pd.DataFrame:
        return pg.intraclass_corr(table, targets="sample", raters="assessor", ratings="score")

    own = icc(wide[0]).table["estimate"].to_numpy(float)
    if not np.allclose(own, theirs(long[0])["ICC"].to_numpy(float)):
        message = "the two sides do not agree"
        raise SystemExit(message)
    ours = shortest(lambda: [icc(one) for one in wide])
    other = shortest(lambda: [theirs(one) for one in long])
    print(f"kikichoko {ours:.1f} ms; pingouin {version('pingouin')} {other:.0f} ms, "
          f"{other / ours:.0f} times as long")  # fmt: skip


if __name__ == "__main__":
    main()
