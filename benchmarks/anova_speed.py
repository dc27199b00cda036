"""Time `anova` against what a user would pick instead, on the same data in one run.

    OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 python benchmarks/anova_speed.py

``--quick`` runs the comparison alone.

12 assessors x 6 samples x 3 replicates, 5 % of the scores missing (each
attribute has its own holes), 30 attributes. Compared with lmerTest (R), which
gives the same Satterthwaite tests, and with MixedLM (statsmodels), which gives
none. Each side has its table ready in its own form; the best of several rounds
counts. Then how time grows with assessors and with attributes.
"""

from __future__ import annotations

import argparse
import shutil
import subprocess
import tempfile
import time
import warnings
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
from kikichoko.analysis.anova import anova
from kikichoko.analysis.core import tidy

SEED = 20260101


def panel(assessors: int, samples: int, replicates: int, attributes: int) -> pd.DataFrame:
    """Simulate scores with assessor, sample and interaction effects; 5 % are missing."""
    rng = np.random.default_rng(SEED)
    shape = (attributes, assessors, samples, replicates)
    a, i, j, k = (part.ravel() for part in np.indices(shape))
    score = (
        5
        + 0.4 * rng.normal(size=(attributes, samples))[a, j]
        + rng.normal(size=(attributes, assessors))[a, i]
        + 0.6 * rng.normal(size=(attributes, assessors, samples))[a, i, j]
        + rng.normal(size=a.size)
    )
    table = pd.DataFrame(
        {
            "attribute": [f"attribute {n + 1:03d}" for n in a],
            "assessor": [f"A{n + 1:04d}" for n in i],
            "sample": [f"S{n + 1}" for n in j],
            "replicate": k + 1,
            "score": np.round(score, 3),
        }
    )
    return table[rng.random(len(table)) >= 0.05].reset_index(drop=True)


def best(rounds: int, run: Callable[[], object]) -> float:
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        run()
        times.append(time.perf_counter() - start)
    return min(times)


def by_lmertest(table: pd.DataFrame, rounds: int) -> tuple[pd.DataFrame, float, str] | None:
    if shutil.which("Rscript") is None:
        return None
    with tempfile.TemporaryDirectory() as folder:
        given, found = Path(folder, "scores.csv"), Path(folder, "found.csv")
        table.to_csv(given, index=False)
        script = Path(__file__).with_suffix(".R")
        run = subprocess.run(
            ["Rscript", script, given, found, str(rounds)],
            capture_output=True,
            text=True,
            check=True,
        )
        versions, seconds = run.stdout.strip().splitlines()[-2:]
        return pd.read_csv(found), float(seconds), versions


def by_mixedlm(table: pd.DataFrame) -> None:
    import statsmodels.formula.api as smf

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        for _, part in table.groupby("attribute"):
            model = smf.mixedlm(
                "score ~ C(sample)",
                part,
                groups="assessor",
                re_formula="1",
                vc_formula={"sample": "0 + C(sample)"},
            )
            model.fit(reml=True)


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--quick", action="store_true")
    quick = options.parse_args().quick
    table = panel(12, 6, 3, 30)
    checked = tidy(table)
    ready = best(10, lambda: anova(checked))
    ready_drop = best(10, lambda: anova(checked, boundary="drop"))
    whole = best(3, lambda: anova(table))
    spoken = best(3, lambda: anova(checked).to_dict())
    roger = best(5, lambda: anova(checked, df="kenward-roger"))
    print(f"{len(table)} scores: 12 assessors x 6 samples x 3 replicates, 30 attributes, 5 % holes")
    print(f"anova, checked table              {1000 * ready:9.1f} ms")
    print(f"anova, boundary='drop'            {1000 * ready_drop:9.1f} ms")
    print(f"anova, Kenward-Roger              {1000 * roger:9.1f} ms")
    print(f"anova with checking the table     {1000 * whole:9.1f} ms")
    print(f"... with means, pairs, sentences  {1000 * spoken:9.1f} ms")
    compared = by_lmertest(table, 3)
    if compared is None:
        print("lmerTest: no Rscript here")
    else:
        theirs, seconds, versions = compared
        ours = anova(checked, boundary="drop").tests()
        both = ours.merge(theirs, on="attribute", suffixes=("", "_R"))
        print(f"lmerTest                          {1000 * seconds:9.1f} ms: ", end="")
        print(f"{seconds / ready:.0f} times ({versions})")
        print(f"largest relative difference ({int(both['singular'].sum())} of 30 fits singular)")
        for label, ending in (("as it comes", "_R"), ("its search tightened", "_tight")):
            worst = (
                (name, np.max(np.abs(both[name] / both[f"{name}{ending}"] - 1)))
                for name in ("F", "df_den", "p")
            )
            errors = ", ".join(f"{name} {value:.1e}" for name, value in worst)
            print(f"  lmerTest {label}: {errors}")
    seconds = best(1 if quick else 2, lambda: by_mixedlm(table))
    print(
        f"statsmodels MixedLM (no F test)   {1000 * seconds:9.1f} ms: {seconds / ready:.0f} times"
    )
    if quick:
        return
    print("assessors (30 attributes)")
    for assessors in (12, 30, 100, 300, 1000):
        checked = tidy(panel(assessors, 6, 3, 30))
        print(f"  {assessors:5d} {1000 * best(3, lambda: anova(checked)):9.1f} ms")  # noqa: B023
    print("attributes (12 assessors)")
    for attributes in (1, 10, 30, 100, 500):
        checked = tidy(panel(12, 6, 3, attributes))
        print(f"  {attributes:5d} {1000 * best(3, lambda: anova(checked)):9.1f} ms")  # noqa: B023


if __name__ == "__main__":
    main()
