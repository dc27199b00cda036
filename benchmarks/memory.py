"""Coverage, width and sure errors of two and three tasters, with and without a memory.

    OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 python benchmarks/memory.py [SESSIONS] [SEED] [ROW]...

Three bottles, one replicate, ten points, a pool of four tasters; highest less lowest bottle by
the observed mean. "Sure" is a probability above 97 % (t: 95 %); t is the session alone (two-sided
interval, one-sided "sure"). Prints one Markdown row a design; ROW names one, as in
"2:3:house of double spread".
"""

from __future__ import annotations

import sys
import time
from dataclasses import dataclass

import numpy as np
import pandas as pd
from kikichoko.analysis.memory.assessors_remembered import ScoredCells, width_of, widths
from kikichoko.analysis.memory.house_spreads import house_spreads
from kikichoko.analysis.memory.session_statistics import statistics
from kikichoko.analysis.performance import default_spreads
from kikichoko.analysis.performance.few_tasters import KEEP, REMEMBERED, SURE
from kikichoko.analysis.performance.spreads import WIDTH_SD, Spreads, TwoWay, integrate, two_way
from kikichoko.analysis.performance.usual_spreads import wide_spreads
from scipy.stats import t as student

LENGTH, POOL, BOTTLES = 10.0, 4, 3
T_SURE = 0.95
NEXT = 4
"""New sessions of one house: the houses are drawn anew for the next four."""
Floats = np.ndarray


@dataclass(frozen=True)
class Design:
    """One row of the table.

    `house` multiplies both spreads of the house, `apart` that of its bottles besides; `error`,
    `spread` and `changed` alter the new session only.
    """

    name: str
    tasters: int
    earlier: int
    house: float = 1.0
    apart: float = 1.0
    error: float = 1.0
    spread: float = 1.0
    changed: float = 1.0
    step: float = 0.0
    drift: float = 0.0
    same: bool = False


class House:
    """A house with its tasters, drawn from the usual spreads."""

    def __init__(self, design: Design, rng: np.random.Generator) -> None:
        self.design, self.rng = design, rng
        usual = default_spreads("taste", LENGTH)
        self.error = design.house * usual.error_sd * np.exp(usual.error_blur * rng.normal())
        self.sample = (
            design.house * design.apart * usual.sample_sd * np.exp(usual.sample_blur * rng.normal())
        )
        self.level, self.width = rng.normal(size=POOL), 1 + 0.25 * rng.normal(size=POOL)
        self.held = 0

    def session(self, *, new: bool = False) -> tuple[Floats, Floats, Floats]:
        """Hold a session; return true means of bottles, who tasted, and the scores."""
        design, rng = self.design, self.rng
        error = self.error * np.exp(0.2 * rng.normal())
        true = self.sample * np.exp(0.4 * rng.normal()) * rng.normal(size=BOTTLES)
        sd = np.full((design.tasters, 1), error)
        if new:
            sd *= design.error
            sd[0] *= design.changed
            true = true * design.spread * (not design.same)
        if design.step:  # Marks on a scale with ends: no bottle lies beyond them.
            true = true.clip(-LENGTH / 2, LENGTH / 2)
        who = rng.choice(POOL, design.tasters, replace=False)
        scores = (
            5.0
            + design.drift * self.held
            + self.level[who][:, None]
            + self.width[who][:, None] * true
            + sd * rng.normal(size=(design.tasters, BOTTLES))
        )
        self.held += 1
        if design.step:
            scores = (np.round(scores / design.step) * design.step).clip(0, LENGTH)
        return true, who, scores

    def remembered(self) -> tuple[Spreads, Floats]:
        """Hold the earlier sessions; return what they teach of the house, and width and error.

        The latter has shape (2, POOL): somebody who is not known has 1 and the usual error.
        """
        usual = default_spreads("taste", LENGTH)
        each = np.array([[1.0] * POOL, [WIDTH_SD] * POOL])
        if not self.design.earlier:
            return usual, each
        rows = []
        for k in range(self.design.earlier):
            _, who, scores = self.session()
            i, j = np.indices(scores.shape)
            rows.append((np.full(i.size, k), who[i.ravel()], j.ravel(), scores.ravel() / LENGTH))
        columns = ("session", "assessor", "sample", "score")
        joined = map(np.concatenate, zip(*rows, strict=True))
        table = pd.DataFrame(dict(zip(columns, joined, strict=True))).assign(attribute="taste")
        known = statistics(table).get("taste")
        if known is None:
            return usual, each
        both = default_spreads("taste", 1.0), wide_spreads("taste", 1.0)
        spreads = house_spreads(known, *both)
        for who, found in width_of(widths(ScoredCells.of(table), {"taste": spreads})).items():
            each[:, int(who)] = found
        return spreads.scaled(LENGTH, LENGTH), each


def run(design: Design, sessions: int, seed: int) -> dict[str, float]:
    """Simulate one design."""
    rng = np.random.default_rng(seed)
    wide = wide_spreads("taste", LENGTH)
    rows = []
    for _ in range(sessions // NEXT):
        house = House(design, rng)
        known, each = house.remembered()
        keep = REMEMBERED if design.earlier else KEEP
        for _ in range(NEXT):
            true, who, scores = house.session(new=True)
            rows.append(one(true, two_way(scores, *each[:, who]), scores, known, wide, keep))
    found = np.array(rows).T
    covered, width, t_covered, t_width, right, wrong, t_wrong, kept = found
    return {
        "coverage": 100 * covered.mean(),
        "width": float(np.median(width) / np.median(t_width)),
        "right": 100 * right.mean(),
        "wrong": 100 * wrong.mean(),
        "t_coverage": 100 * t_covered.mean(),
        "t_wrong": 100 * t_wrong.mean(),
        "conflict": 100 * (kept < 0.5).mean(),
    }


def one(  # noqa: PLR0917
    true: Floats, joined: TwoWay, scores: Floats, known: Spreads, wide: Spreads, keep: float
) -> tuple[float, ...]:
    """Judge the highest less the lowest bottle of one session, with the memory and alone."""
    data = two_way(scores)
    low, *_, high = data.effects.argsort()
    pair = np.zeros((1, BOTTLES))
    pair[0, high], pair[0, low] = 1, -1
    gap = float((pair @ true)[0])
    mixed = integrate(joined, ((known, keep), (wide, 1 - keep)))
    found = mixed.summary(pair, 0.95)
    ends = float(found["low"][0]), float(found["high"][0])
    raw = float(data.effects[high] - data.effects[low])
    se = np.sqrt(2 * data.squares / data.df / len(scores))
    half = student.ppf(0.975, data.df) * se
    sure = float(found["above"][0]) > SURE
    t_sure = raw > student.ppf(T_SURE, data.df) * se
    return (
        ends[0] <= gap <= ends[1],
        ends[1] - ends[0],
        raw - half <= gap <= raw + half,
        2 * half,
        sure and gap > 0,
        sure and gap <= 0,
        t_sure and gap <= 0,
        mixed.kept,
    )


def designs() -> list[Design]:
    """List the rows of the table."""
    rows = []
    for tasters in (2, 3):
        rows += [Design("house like the default", tasters, k) for k in (0, 3, 10, 30)]
        rows += [
            Design(f"house of {name} spread", tasters, k, house=times)
            for name, times in (("half", 0.5), ("double", 2.0))
            for k in (0, 3, 10, 30)
        ]
        rows += [
            Design("error 0.9, bottles 0.8 points", tasters, k, house=0.9 / 1.45, apart=2.34)
            for k in (0, 3, 10, 30)
        ]
        rows += [
            Design("scatter variance x 4", tasters, 10, error=2.0),
            Design("scatter and bottle variance x 4", tasters, 10, error=2.0, spread=2.0),
            Design("scatter variance / 4", tasters, 10, error=0.5),
            Design("scatter and bottle variance / 4", tasters, 10, error=0.5, spread=0.5),
            Design("one taster, SD x 2.5", tasters, 10, changed=2.5),
            Design("whole points", tasters, 10, step=1.0),
            Design("half points", tasters, 10, step=0.5),
            Design("panel drifts 0.3 a session", tasters, 10, drift=0.3),
            Design("identical bottles", tasters, 10, same=True),
        ]
    return rows


def main() -> None:
    sessions = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    print("| tasters | earlier | design | covers % | width / t | sure, right % | sure, wrong % |"
          " discounted % | t: covers % | t: sure, wrong % |")  # fmt: skip
    print("|---|---|---|---|---|---|---|---|---|---|")
    started = time.process_time()
    wanted = sys.argv[3:]
    for design in designs():
        if wanted and f"{design.tasters}:{design.earlier}:{design.name}" not in wanted:
            continue
        found = run(design, sessions, seed)
        print(
            f"| {design.tasters} | {design.earlier} | {design.name} | {found['coverage']:.1f} |"
            f" {found['width']:.2f} | {found['right']:.1f} | {found['wrong']:.1f} |"
            f" {found['conflict']:.0f} | {found['t_coverage']:.1f} | {found['t_wrong']:.1f} |",
            flush=True,
        )
    print(f"\n{sessions} sessions a row, seed {seed}, {time.process_time() - started:.0f} s")


if __name__ == "__main__":
    main()
