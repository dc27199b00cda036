"""Fit the weights of `kikichoko.forms.free_words.certainty` to what outsiders have marked.

`tests/outside/words/as_found.csv` holds what the program read in their lists before anybody had
worked with them, and whether that was meant: four lists as commit 617367d3 read them, seven as
611a04e4 did. `certainty.csv` beside the module holds the weights of signs seen at least twice.

    python tests/tools/fit_certainty.py [--write] [--held-out LIST]

Without options it says how the model does on readings it has not seen (ten folds of phrases).
"""

from __future__ import annotations

import argparse
import csv
import sys
from collections import Counter
from pathlib import Path
from typing import NamedTuple

import numpy as np
from kikichoko.forms.free_words.certainty import LEAST, signs
from kikichoko.forms.free_words.match import Match
from scipy.optimize import minimize
from scipy.sparse import csr_matrix

OUTSIDE = Path(__file__).parents[1] / "outside" / "words"
WEIGHTS = Path(__file__).parents[2] / "forms" / "free_words" / "certainty.csv"
RIDGE = 1.0
"""Half the square of a weight is divided by it: of 1, 3 and 10 that of least log-loss in folds."""
SEEN = 2
SEED, FOLDS = 19, 10


class Readings(NamedTuple):
    """The signs of each reading, whether it was meant, and the phrase it stands in."""

    signs: list[set[str]]
    right: np.ndarray
    phrases: list[tuple[str, str]]


def readings() -> Readings:
    """Read the table of what was read, as it was found."""
    phrases: dict[tuple[str, str], str] = {}
    found: dict[tuple[str, str], list[tuple[Match, str]]] = {}
    for row in csv.DictReader((OUTSIDE / "as_found.csv").read_text("utf-8").splitlines()):
        if not any(name == row["list"] for name, _ in phrases):
            content = (OUTSIDE / f"{row['list']}.csv").read_text("utf-8")
            phrases |= {
                (row["list"], each["id"]): each["phrase"]
                for each in csv.DictReader(content.splitlines())
            }
        at = (row["list"], row["id"])
        start, end = int(row["start"]), int(row["end"])
        match = Match(
            key=row["key"],
            level="term",
            negated=row["polarity"] == "absent",
            unsure=row["unsure"] == "yes",
            how=row["how"],
            polarity=row["polarity"],
            text=phrases[at][start:end],
            start=start,
            end=end,
        )
        found.setdefault(at, []).append((match, row["right"]))
    told, right, where = [], [], []
    for at, each in found.items():
        matches = [match for match, _ in each]
        for match, said in each:
            if said:
                told.append(signs(match, phrases[at], matches))
                right.append(said == "yes")
                where.append(at)
    return Readings(told, np.array(right), where)


def fit(told: list[set[str]], right: np.ndarray, ridge: float = RIDGE) -> dict[str, float]:
    """Return the weights of the signs that were seen at least twice, and of "always"."""
    often = Counter(sign for each in told for sign in each)
    names = sorted(sign for sign, count in often.items() if count >= SEEN)
    at = {name: place for place, name in enumerate(names)}
    columns = [[at[sign] for sign in sorted(each) if sign in at] for each in told]
    rows = np.repeat(np.arange(len(told)), [len(each) for each in columns])
    data = csr_matrix(
        (np.ones(len(rows)), (rows, np.concatenate(columns).astype(int))),
        shape=(len(told), len(names)),
    )
    turned = np.where(right, 1.0, -1.0)

    def loss(weights: np.ndarray) -> tuple[float, np.ndarray]:
        margin = turned * (data @ weights[1:] + weights[0])
        slope = -turned / (1 + np.exp(margin))
        penalty = weights[1:] @ weights[1:] / (2 * ridge)
        return (
            float(np.logaddexp(0, -margin).sum() + penalty),
            np.concatenate([[slope.sum()], data.T @ slope + weights[1:] / ridge]),
        )

    best = minimize(loss, np.zeros(len(names) + 1), jac=True, method="L-BFGS-B", tol=1e-9)
    return {"always": float(best.x[0])} | dict(zip(names, best.x[1:].tolist(), strict=True))


def chances(weights: dict[str, float], told: list[set[str]]) -> np.ndarray:
    """Return the certainty of each reading."""
    sums = [weights["always"] + sum(weights.get(sign, 0.0) for sign in each) for each in told]
    return 1 / (1 + np.exp(-np.array(sums)))


def of_folds(all_of: Readings) -> np.ndarray:
    """Return each reading's certainty by a model that has not seen its phrase."""
    phrases = sorted(set(all_of.phrases))
    drawn = np.random.default_rng(SEED).integers(FOLDS, size=len(phrases))
    fold = dict(zip(phrases, drawn.tolist(), strict=True))
    folds = np.array([fold[at] for at in all_of.phrases])
    made = np.empty(len(folds))
    for one in range(FOLDS):
        kept, out = np.flatnonzero(folds != one), np.flatnonzero(folds == one)
        weights = fit([all_of.signs[n] for n in kept], all_of.right[kept])
        made[out] = chances(weights, [all_of.signs[n] for n in out])
    return made


def told(right: np.ndarray, sure: np.ndarray) -> str:
    """Say what the bar does."""
    kept = sure >= LEAST
    return (
        f"{right.mean():.3f} of {len(right)} meant; of {kept.sum()} kept {right[kept].mean():.3f}, "
        f"{right[kept].sum() / right.sum():.3f} of what was meant"
    )


def main() -> None:
    """Fit, and write or say how well it does."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--write", action="store_true")
    parser.add_argument("--held-out", default="")
    chosen = parser.parse_args()
    every = readings()
    if chosen.write:
        rows = [
            (name, f"{weight:.3f}")
            for name, weight in fit(every.signs, every.right).items()
            if name == "always" or abs(weight) >= 0.005
        ]
        with WEIGHTS.open("w", encoding="utf-8", newline="") as out:
            csv.writer(out, lineterminator="\n").writerows([("sign", "weight"), *rows])
        return
    if chosen.held_out:
        out = [n for n, at in enumerate(every.phrases) if at[0] == chosen.held_out]
        kept = [n for n, at in enumerate(every.phrases) if at[0] != chosen.held_out]
        weights = fit([every.signs[n] for n in kept], every.right[kept])
        sure = chances(weights, [every.signs[n] for n in out])
        sys.stdout.write(f"{chosen.held_out}: {told(every.right[out], sure)}\n")
        return
    sure = of_folds(every)
    sys.stdout.write(f"all: {told(every.right, sure)}\n")
    for name in sorted({at[0] for at in every.phrases}):
        own = np.array([at[0] == name for at in every.phrases])
        sys.stdout.write(f"{name}: {told(every.right[own], sure[own])}\n")


if __name__ == "__main__":
    main()
