"""Write docs/comparison.md: the same answers with general-purpose libraries, with code and time.

    OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 python benchmarks/comparison.py > docs/comparison.md

All sides get the same simulated table (12 assessors × 6 samples × 3 replicates, 30 attributes, no
holes; ticks and ranks beside it), ready in the form that they want. The best of three rounds
counts. R runs where Rscript and lmerTest are installed; what is not there is said.
"""

from __future__ import annotations

import inspect
import shutil
import subprocess
import tempfile
import textwrap
import time
import warnings
from collections.abc import Callable
from importlib.metadata import version
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

SEED = 20261126
ROUNDS = 3


def scores() -> pd.DataFrame:
    """Draw the scores, long: assessor, sample, replicate, attribute, score."""
    rng = np.random.default_rng(SEED)
    shape = (30, 12, 6, 3)
    a, i, j, k = (part.ravel() for part in np.indices(shape))
    score = (
        5
        + 0.4 * rng.normal(size=(30, 6))[a, j]
        + 0.8 * rng.normal(size=(30, 12))[a, i]
        + 0.4 * rng.normal(size=(30, 12, 6))[a, i, j]
        + 0.8 * rng.normal(size=a.size)
    )
    names = {
        "assessor": np.char.add("A", i.astype(str)),
        "sample": np.char.add("s", j.astype(str)),
        "replicate": k + 1,
        "attribute": np.char.add("t", a.astype(str)),
    }
    return pd.DataFrame({**names, "score": score.round(1)})


def ticks() -> pd.DataFrame:
    """Draw ticks of one word: 10 assessors, 4 samples."""
    rng = np.random.default_rng(SEED)
    chance = np.array([0.2, 0.3, 0.8, 0.5])
    marks = (rng.random((10, 4)) < chance).astype(float)
    names = {"assessor": np.repeat([f"A{i}" for i in range(10)], 4), "sample": list("wxyz") * 10}
    return pd.DataFrame({**names, "score": marks.ravel()})


def one_attribute() -> pd.DataFrame:
    """Return one attribute of the scores, replicates averaged."""
    first = scores().query("attribute == 't0'")
    return first.groupby(["assessor", "sample"], as_index=False)["score"].mean()


def differ_kikichoko(table: pd.DataFrame) -> Any:
    from kikichoko.analysis.anova import anova

    found = anova(table)
    return found["t0"].sample


def differ_whole(table: pd.DataFrame) -> Any:
    from kikichoko.analysis.anova import anova

    found = anova(table)
    return found.text().splitlines()[0]


def differ_statsmodels(table: pd.DataFrame) -> Any:
    from statsmodels.stats.anova import AnovaRM

    for name, part in table.groupby("attribute"):
        found = AnovaRM(
            part, "score", "assessor", within=["sample"], aggregate_func="mean"
        ).fit()  # balanced tables only; no means, pairs or intervals
        if name == "t0":
            first = found.anova_table
    return first


def differ_mixedlm(table: pd.DataFrame) -> Any:
    import statsmodels.formula.api as smf

    for name, part in table.groupby("attribute"):
        found = smf.mixedlm(
            "score ~ sample",
            part,
            groups="assessor",
            re_formula="1",
            vc_formula={"assessor:sample": "0 + C(sample)"},
        ).fit(reml=True)  # Wald z against normal limits: no F, no degrees of freedom
        if name == "t0":
            first = found.wald_test_terms(scalar=True).table.loc["sample"]
    return first


def differ_pingouin(table: pd.DataFrame) -> Any:
    import pingouin as pg

    for name, part in table.groupby("attribute"):
        means = part.groupby(["assessor", "sample"], as_index=False)["score"].mean()
        found = pg.rm_anova(means, dv="score", within="sample", subject="assessor")
        if name == "t0":
            first = found
    return first


R_DIFFER = """
library(lmerTest)
for (name in unique(d$attribute)) {
  part <- d[d$attribute == name, ]
  m <- lmer(score ~ sample + (1 | assessor) + (1 | assessor:sample), part)
  found <- anova(m)
  if (name == "t0") first <- found
}
print(first)
"""


def agree_kikichoko(table: pd.DataFrame) -> Any:
    from kikichoko.analysis.agreement import agreement

    found = agreement(table)  # ICC, W, alpha with limits, and which of them to read
    return round(found.attributes["t0"].value("ICC(A,1)"), 4)


def icc_kikichoko(table: pd.DataFrame) -> Any:
    from kikichoko.analysis.agreement import icc

    means = table.pivot_table(index="sample", columns=["attribute", "assessor"], values="score")
    found = {name: icc(means[name]) for name in means.columns.unique("attribute")}
    return found["t0"].table[["coefficient", "estimate", "low", "high"]].round(4)


def agree_pingouin(table: pd.DataFrame) -> Any:
    import pingouin as pg

    for name, part in table.groupby("attribute"):
        means = part.groupby(["assessor", "sample"], as_index=False)["score"].mean()
        found = pg.intraclass_corr(means, targets="sample", raters="assessor", ratings="score")
        if name == "t0":
            first = found
    return first.iloc[:, [0, 2]].round(4)


def words_kikichoko(table: pd.DataFrame) -> Any:
    from kikichoko.analysis.citations import descriptors

    found = descriptors(table, only_ticks=False)  # exact p, shares with exact limits, pairs
    return found.tests.iloc[0][["p", "p_least"]].to_dict()


def words_statsmodels(table: pd.DataFrame) -> Any:
    from statsmodels.stats.contingency_tables import cochrans_q

    wide = table.pivot_table(index="assessor", columns="sample", values="score")
    return cochrans_q(wide)  # chi-square p alone


def words_pingouin(table: pd.DataFrame) -> Any:
    import pingouin as pg

    return pg.cochran(table, dv="score", within="sample", subject="assessor")


def rank_kikichoko(table: pd.DataFrame) -> Any:
    from kikichoko.analysis.ranking import friedman

    found = friedman(table)  # exact p while orders can be counted, pairs at one risk
    return found.p


def rank_scipy(table: pd.DataFrame) -> Any:
    from scipy.stats import friedmanchisquare

    wide = table.pivot_table(index="assessor", columns="sample", values="score")
    return friedmanchisquare(*wide.to_numpy().T)


def rank_pingouin(table: pd.DataFrame) -> Any:
    import pingouin as pg

    return pg.friedman(table, dv="score", within="sample", subject="assessor")


def timed(side: Callable[[pd.DataFrame], Any], table: pd.DataFrame) -> tuple[float, str]:
    """Return the shortest time in milliseconds, and what came out."""
    best = float("inf")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        for _ in range(ROUNDS):
            begun = time.process_time()
            found = side(table)
            best = min(best, time.process_time() - begun)
    return 1000 * best, str(found)


def in_r(code: str, table: pd.DataFrame) -> tuple[float, str] | None:
    """Run R code on the table `d`; None where R or a package is missing."""
    if shutil.which("Rscript") is None:
        return None
    with tempfile.TemporaryDirectory() as folder:
        data = Path(folder) / "d.csv"
        table.to_csv(data, index=False)
        lines = [
            f'd <- read.csv("{data.as_posix()}")',
            "suppressMessages(library(lmerTest))",
            f"run <- function() {{ {code} }}",
            "spent <- system.time(invisible(capture.output(run())))",
            "run()",
            'cat("ms", 1000 * sum(spent[1:2]), "\\n")',
        ]
        done = subprocess.run(
            ["Rscript", "-e", "\n".join(lines)], capture_output=True, text=True, check=False
        )
    if done.returncode:
        return None
    said, _, spent = done.stdout.rpartition("ms ")
    return float(spent), said.strip()


def shown(side: Callable[..., Any]) -> str:
    """Return the body of a function, as a user would write it."""
    lines = inspect.getsource(side).splitlines()[1:]
    return textwrap.dedent("\n".join(lines)).strip()


QUESTIONS: list[tuple[str, str, Callable[[], pd.DataFrame], list[tuple[str, Any, str]]]] = [
    (
        "Do the samples differ, in 30 attributes?",
        "12 assessors × 6 samples × 3 replicates, complete. `assessor` is random.",
        scores,
        [
            ("kikichoko", differ_kikichoko, "checked table; F, df, p; holes allowed"),
            ("kikichoko, all of it", differ_whole, "means, all pairs, letters, Holm, sentences"),
            ("statsmodels AnovaRM", differ_statsmodels, "F, df, p; complete tables only"),
            ("statsmodels MixedLM", differ_mixedlm, "Wald chi-square; holes allowed"),
            ("pingouin", differ_pingouin, "F, df, p, effect size; complete tables only"),
            ("R, lmerTest", R_DIFFER, "F, Satterthwaite's df, p; holes allowed"),
        ],
    ),
    (
        "Does the panel agree, in 30 attributes?",
        "The same table. pingouin gives all six intraclass correlations with limits.",
        scores,
        [
            ("kikichoko", icc_kikichoko, "six ICC with limits; holes allowed"),
            (
                "kikichoko, all of it",
                agree_kikichoko,
                "ICC, W, alpha with limits, choice explained",
            ),
            ("pingouin", agree_pingouin, "six ICC with limits; complete tables only"),
        ],
    ),
    (
        "Does a word tell the samples apart?",
        "10 assessors × 4 samples, ticks.",
        ticks,
        [
            (
                "kikichoko",
                words_kikichoko,
                "exact p, least p, shares, pairs, agreement",
            ),
            ("statsmodels", words_statsmodels, "chi-square p"),
            ("pingouin", words_pingouin, "chi-square p"),
        ],
    ),
    (
        "Do samples differ in rank?",
        "One attribute of the table, replicates averaged.",
        one_attribute,
        [
            ("kikichoko", rank_kikichoko, "exact or simulated p, pairs at one risk, W"),
            ("scipy", rank_scipy, "chi-square p"),
            ("pingouin", rank_pingouin, "chi-square p, W"),
        ],
    ),
]


def main() -> None:
    """Run all sides and print the page."""
    named = ", ".join(
        f"{n} {version(n)}" for n in ("kikichoko", "statsmodels", "pingouin", "scipy")
    )
    print("<!-- Written by benchmarks/comparison.py: run it anew instead of changing this. -->\n")
    print("# The same answers with general-purpose libraries\n")
    print(textwrap.dedent(__doc__ or "").strip().split("\n\n")[-1].replace("\n", " ") + "\n")
    print(f"Versions: {named}. Times are of the processor, after imports.\n")
    for title, about, draw, sides in QUESTIONS:
        table = draw()
        print(f"## {title}\n\n{about}\n")
        print("| | gives | time | against kikichoko |\n|---|---|---|---|")
        found = []
        first = 0.0
        for name, side, gives in sides:
            run = in_r(side, table) if isinstance(side, str) else timed(side, table)
            if run is None:
                print(f"| {name} | {gives} | not installed where this was written | |")
                continue
            found.append((name, side, run[1]))
            first = run[0] if len(found) == 1 else first
            times = float(f"{run[0] / first:.2g}")
            print(f"| {name} | {gives} | {run[0]:,.1f} ms | {times:,g} times |")
        for name, side, said in found:
            kind, code = ("r", side.strip()) if isinstance(side, str) else ("text", shown(side))
            print(f"\n**{name}**\n\n```{kind}\n{code}\n```\n\n```text\n{said}\n```")
        print()


if __name__ == "__main__":
    main()
