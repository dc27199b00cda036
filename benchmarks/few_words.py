"""How often a report of few assessors calls a word usable though all bottles are one liquid.

``python benchmarks/few_words.py [REPORTS]`` prints the table of docs/small_panels.md. Every
assessor ticks each of 19 words in each cup with one chance, whatever is in it; `own` is how much
people differ in which words they use at all (standard deviation of the log odds of an assessor's
word): who likes "pear" ticks it everywhere.
"""

from __future__ import annotations

import sys

import numpy as np
import pandas as pd
from kikichoko.forms.questions.question_types import Kind
from kikichoko.forms.questions.scorecard import default_scorecard
from kikichoko.panel.few import words_few
from kikichoko.panel.findings.all_statements import findings_of_tables
from scipy.special import expit, logit

DESIGNS = ((2, 3, 1), (2, 3, 2), (2, 3, 3), (2, 4, 2), (3, 3, 1), (3, 3, 2))
"""Assessors, bottles and tastings."""
CHANCES = ((0.1, 0.0), (0.1, 1.5), (0.25, 0.0), (0.25, 1.5))
"""Chance of a tick and how much people differ in it."""
COLUMNS = ["assessor", "sample", "replicate", "attribute", "score"]
SEED = 21


def options() -> list[str]:
    """Return the words of our scorecard's list of aromas."""
    question = next(one for one in default_scorecard() if one.kind is Kind.TICKS)
    return [f"{question.key}:{option.key}" for option in question.options]


def report(
    design: tuple[int, int, int], chance: tuple[float, float], rng: np.random.Generator
) -> pd.DataFrame:
    """Draw the ticks of one report in long form."""
    assessors, bottles, times = design
    likely, own = chance
    rows = []
    for who in range(assessors):
        for word in options():
            odds = expit(logit(likely) + own * rng.standard_normal())
            given = rng.random((bottles, times)) < odds
            rows += [
                (f"T{who + 1}", "abcd"[at], time + 1, word, float(given[at, time]))
                for at in range(bottles)
                for time in range(times)
            ]
    return pd.DataFrame(rows, columns=COLUMNS)


def usable(table: pd.DataFrame) -> int:
    """Count words that the report gives one bottle alone as usable with care."""
    evidence = findings_of_tables(table).evidence
    told = [word for name in evidence.products for word in words_few.told(evidence, name)]
    return sum(told.count(word) == 1 for word in told)


def main() -> None:
    """Print, of each design and chance, reports with such a word and words a report."""
    reports = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    head = " | ".join(f"ticked {p:.0%}, own {own:g}" for p, own in CHANCES)
    sys.stdout.write(f"| assessors × bottles × tastings | {head} |\n|{'---|' * 5}\n")
    for design in DESIGNS:
        cells = []
        for chance in CHANCES:
            rng = np.random.default_rng([SEED, *design, int(100 * chance[0]), int(10 * chance[1])])
            found = np.array([usable(report(design, chance, rng)) for _ in range(reports)])
            cells.append(f"{100 * (found > 0).mean():.0f} % ({found.mean():.2f})")
        sys.stdout.write(f"| {' × '.join(map(str, design))} | {' | '.join(cells)} |\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
