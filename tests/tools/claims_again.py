"""The report's error budget worked out again, by numpy and scipy alone: no line of this program.

For sessions of three bottles. Shuffles of its own (another seed, more of them), so that adjusted
p values agree within the error of two runs of shuffles; what no shuffle touches agrees exactly.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import combinations

import numpy as np
from scipy import integrate, optimize, stats

PAIRS = tuple(combinations(range(3), 2))
WEIGHTS = {"scale": 1.0, "balance": 1.0, "gap": 1.0, "word": 3.0, "fault": 0.3}
OVERALL, NAMED = 5.0, 10.0
JUDGED_BY_T = ("scale", "balance", "gap")
IN_OVERALL = ("scale", "balance", "word")
CLEAR = 0.8


def step(scores: np.ndarray) -> float:
    """Return the step in which scores are written."""
    known = np.unique(np.round(scores * 1000).astype(int))
    return float(np.gcd.reduce(np.diff(known))) / 1000 if known.size > 1 else 0.0


@dataclass(eq=False)
class Question:
    """One question: a table of cells, assessors by three bottles.

    Attributes
    ----------
    kind, about : str
    cells : ndarray, shape (assessors, 3)
    floor : float
        Variance of a cell that writing in steps makes.
    weight : float
    effects, se : ndarray
        Of the bottles; of the pairs' differences.
    df : int
    variance : float
    pair_variances : ndarray
    p : ndarray, shape (shuffles,)
        The first is that of the data.
    """

    kind: str
    about: str
    cells: np.ndarray
    floor: float = 0.0
    weight: float = 1.0
    effects: np.ndarray = field(default_factory=lambda: np.zeros(3))
    se: np.ndarray = field(default_factory=lambda: np.zeros(3))
    df: int = 0
    variance: float = 0.0
    pair_variances: np.ndarray = field(default_factory=lambda: np.zeros(3))
    p: np.ndarray = field(default_factory=lambda: np.ones(1))
    t: np.ndarray = field(default_factory=lambda: np.zeros(3))

    @property
    def by_t(self) -> bool:
        return self.kind in JUDGED_BY_T


def _dealt(one: Question, keys: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return centred cells, and the bottles' sums and sums of squares under every shuffle."""
    filled = ~np.isnan(one.cells)
    centred = np.where(filled, one.cells - np.nanmean(one.cells, axis=1, keepdims=True), np.nan)
    sums, squares = np.zeros((2, len(keys), 3))
    for row, own in enumerate(filled):
        place = np.flatnonzero(own)
        order = np.argsort(keys[:, row, place], axis=1)
        values = centred[row, place][order]
        sums[:, place] += values
        squares[:, place] += values**2
    return centred, sums, squares


def _spread(gaps: np.ndarray, pairs: np.ndarray) -> np.ndarray:
    """Return the quadratic form of two of three differences over their covariance matrix."""
    a, b, c = pairs.T  # variances of 0 less 1, 0 less 2, 1 less 2
    both = np.stack([a, (a + b - c) / 2, (a + b - c) / 2, b], axis=1).reshape(-1, 2, 2)
    two = gaps[:, :2, None]
    return (np.swapaxes(two, 1, 2) @ np.linalg.solve(both, two))[:, 0, 0]


def judge(questions: list[Question], shuffles: int, seed: int) -> np.ndarray:
    """Fill in what every question shows under all shuffles; return the widest scatter of each."""
    rng = np.random.default_rng(seed)
    people = len(questions[0].cells)
    keys = rng.random((shuffles + 1, people, 3))
    keys[0] = np.arange(3)
    made = [_dealt(one, keys) for one in questions]
    # How much more each bottle scatters, over all scales together (Grubbs 1948, three bottles).
    more = []
    for one, (_, sums, squares) in zip(questions, made, strict=True):
        if one.kind in ("scale", "balance"):
            n = (~np.isnan(one.cells)).sum(axis=0)
            inside = (squares - sums**2 / n) / (n - 1)
            share = inside / inside.mean(axis=1, keepdims=True)
            more.append((share * 2 / 3 - 1 / 3) / (1 / 3))
    wider = np.mean(more, axis=0)
    wider[wider <= np.quantile(wider.max(axis=1), CLEAR)] = 1.0
    for one, (centred, sums, _) in zip(questions, made, strict=True):
        filled = (~np.isnan(one.cells)).astype(float)
        normal = np.diag(filled.sum(axis=0)) - (filled.T / filled.sum(axis=1)) @ filled
        inverse = np.linalg.pinv(normal)
        effects = sums @ inverse
        total, all_df = np.nansum(centred**2), int(filled.sum()) - people
        between = (sums * effects).sum(axis=1)
        v = np.array([inverse[a, a] + inverse[b, b] - 2 * inverse[a, b] for a, b in PAIRS])
        gaps = np.stack([effects[:, a] - effects[:, b] for a, b in PAIRS], axis=1)
        one.effects, one.pair_variances = effects[0], v
        if one.by_t:
            one.df = all_df - 2
            variance = np.maximum((total - between) / one.df, one.floor)
            # Three bottles: every pair's variance is the sum of two bottles' own.
            own = np.linalg.solve([[1, 1, 0], [1, 0, 1], [0, 1, 1]], v) * wider
            pairs = np.stack([own[:, a] + own[:, b] for a, b in PAIRS], axis=1)
            one.p = stats.f.sf(_spread(gaps, pairs) / 2 / variance, 2, one.df)
            one.se, one.variance = np.sqrt(pairs[0] * variance[0]), variance[0]
            one.t = np.abs(gaps[0]) / one.se
        else:
            one.variance = total / all_df
            one.p = stats.chi2.sf(between / one.variance, 2)
            one.se = np.sqrt(v * one.variance)
            one.t = np.abs(gaps[0]) / one.se
    return wider.max(axis=1)


def overall(questions: list[Question], widest: np.ndarray) -> Question:
    """Return the question whether the bottles differ at all, by ranks among the shuffles."""
    inside = [one.p for one in questions if one.kind in IN_OVERALL]
    size = -np.log(np.maximum(inside, 1e-300)).sum(axis=0) / np.sqrt(np.maximum(widest, 1))
    above = (size[None, :] >= size[:, None] - 1e-9) if len(size) < 3000 else None
    rank = (
        above.mean(axis=1)
        if above is not None
        else (len(size) - np.searchsorted(np.sort(size), size * (1 - 1e-9))) / len(size)
    )
    made = Question("overall", "", np.empty((0, 3)), weight=OVERALL, p=np.asarray(rank))
    made.t = size[:1]
    return made


def _pair_p(one: Question, refused: set[int]) -> np.ndarray:
    """Return p of each pair that is still open: the worst partition that joins it."""
    found = np.full(3, np.nan)
    for place in set(range(3)) - refused:
        a, b = PAIRS[place]
        if one.by_t:
            alone = float(2 * stats.t.sf(one.t[place], one.df))
        else:
            spread = (one.effects[a] - one.effects[b]) ** 2 / (
                one.pair_variances[place] * one.variance
            )
            alone = float(stats.chi2.sf(spread, 1))
        found[place] = alone if refused else max(alone, float(one.p[0]))
    return found


def first_step(questions: list[Question], budget: float) -> float:
    """Return the largest p over weight that would be claimed first."""
    smallest = np.sort(np.min([one.p / one.weight for one in questions], axis=0))
    share = np.searchsorted(smallest, smallest * (1 + 1e-9), side="right") / len(smallest)
    return float(smallest[share <= budget].max())


def step_down(questions: list[Question]) -> dict[tuple[str, str], tuple[float, np.ndarray]]:
    """Return the adjusted p of every question and of its pairs."""
    q = np.array([one.p / one.weight for one in questions])
    open_ones = list(range(len(questions)))
    refused: dict[int, set[int]] = {n: set() for n in open_ones}
    adjusted = np.ones(len(questions))
    pairs = np.ones((len(questions), 3))
    reached = 0.0

    def best(n: int) -> tuple[float, int]:
        one = questions[n]
        if one.kind == "overall":
            return float(one.p[0]) / one.weight, -1
        p = _pair_p(one, refused[n])
        place = int(np.nanargmin(p))
        return float(p[place]) / one.weight, place

    while open_ones and reached < 1:
        at = {n: best(n) for n in open_ones}
        number = min(open_ones, key=lambda n: at[n][0])
        smallest, place = at[number]
        reached = max(reached, float((q[open_ones].min(axis=0) <= smallest * (1 + 1e-9)).mean()))
        adjusted[number] = min(adjusted[number], reached)
        if place >= 0:
            pairs[number, place] = reached
            refused[number].add(place)
        if place < 0 or len(refused[number]) == 3:
            open_ones.remove(number)
    return {(one.kind, one.about): (adjusted[n], pairs[n]) for n, one in enumerate(questions)}


def detected(one: Question, level: float, wanted: float = 0.8) -> float:
    """Return the difference of two bottles that is claimed with chance 0.8, the third midway."""
    ratio = optimize.brentq(lambda own: found_with(own, one.df, level) - wanted, 0, 200, xtol=1e-4)
    return float(ratio) * float(np.sqrt((one.se**2).mean()))


def found_with(ratio: float, df: int, level: float) -> float:
    """Return the chance that F over three and the pair's t both reach their points of a level.

    With the third bottle midway F's spread is the pair's square and a chi square beside it.
    """
    whole, pair = 2 * stats.f.isf(level, 2, df), stats.t.isf(level / 2, df)
    spread = np.linspace(0, 6, 121)
    beside = np.diff(stats.chi2.cdf(spread**2, 1))
    middle = (spread[1:] + spread[:-1])[:, None] / 2

    def at(error: np.ndarray) -> np.ndarray:
        reach = np.sqrt(np.maximum(whole * error**2 - middle**2, (pair * error) ** 2))
        return beside @ stats.norm.sf(reach - ratio) * stats.chi(df, scale=df**-0.5).pdf(error)

    errors = np.linspace(1e-6, 1 + 8 / np.sqrt(2 * df), 161)
    return float(integrate.simpson(at(errors), x=errors))
