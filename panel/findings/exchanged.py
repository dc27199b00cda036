"""Cups that look exchanged: one tasting's marks fit two bottles only the other way round."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from ...forms.questions.question_types import Kind
from ..base.words import sentence
from .evidence import Evidence, once
from .statement import Statement

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

RANK = 16
RISK = 0.01
"""Chance at most that anything is called exchanged in a session without any exchange."""
FEWEST = 5
"""Other tastings of both bottles by which one is judged."""
APART = 2.0
"""Standard deviations by which the others set the two bottles apart at least."""
RESTORED = 3.0
"""Exchanged back, a tasting lies within so many standard deviations of the others."""
TOGETHER = 3
"""People in one tasting whose cups may have been exchanged together, at most."""
_TINY = 1e-9
SUSPECTED = 0.03
"""Chance at most, shared by all tastings and pairs of bottles, that by scatter anybody's glasses
are suspected in a session without any exchange."""
PANEL, BOTTLES = 5, 3
"""People and bottles from which on it is looked at (no source)."""
BACK = 2.0
"""Exchanged back, a suspected gap lies within so many standard deviations of the others'."""
REST = 2.0
"""Standard deviations by which all that an exchange leaves as it is must go with the others."""
OWN_DF = 6
"""Degrees of freedom that the scales of one cup count for, as they go together."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Exchange:
    """One tasting in which two bottles look exchanged.

    Attributes
    ----------
    assessor : str
    replicate : int
        0 where it cannot be told which of two tastings it was.
    samples : tuple of str
    turned, of : int
        Attributes that run the other way round, of those in which the others set the
        two bottles apart by more than the scatter of a mark; without others, of those
        that tell.
    """

    assessor: str
    replicate: int
    samples: tuple[str, str]
    turned: int
    of: int


@once
def exchanges(evidence: Evidence) -> list[Exchange]:
    """Find tastings that fit only with two bottles exchanged.

    The difference of two bottles in one tasting, a vector over the line scales in units
    of the scatter between repeats, is laid along the mean difference of all other
    tastings. Called exchanged is what points the other way, lies further from the others
    than t allows for so noisy an assessor (`RISK` over all that is looked at), comes to lie
    among them when exchanged back, and is contradicted by the same assessor's other
    tastings: one who always reads the scale the other way round has exchanged nothing.

    One tray can serve several people: up to `TOGETHER` of them in one tasting, fewer than
    half, are also looked at as a group that is left out of the others, each by itself.
    Who is a group's only contradiction to the rest is told with it.

    Where there are too few other tastings, each assessor's own two are compared: see
    `own_exchange`.
    """
    tastings, unit = _tastings(evidence)
    found: dict[tuple[str, int], tuple[float, Exchange]] = {}
    for pair in combinations(evidence.products, 2):
        gaps = {
            one: (cups[pair[0]] - cups[pair[1]]) / unit
            for one, cups in tastings.items()
            if set(pair) <= set(cups)
        }
        looked = _looked(tastings, evidence.products)
        for group in _groups(gaps):
            for who, one, centre in _judged((tastings, unit), pair, gaps, group, looked):
                if who not in found or centre > found[who][0]:  # of overlapping pairs the widest
                    found[who] = centre, one
    told = [one for _, one in found.values()]
    known = {one.assessor for one in told}
    return told + [one for one in _own(evidence, tastings) if one.assessor not in known]


def _looked(tastings: Tastings, products: list[str]) -> int:
    """Count what is looked at: every group of people, tasting and pair of bottles."""
    sizes = Counter(tasting for _, tasting in tastings)
    return math.comb(len(products), 2) * sum(
        math.comb(n, size) for n in sizes.values() for size in range(1, _most(n) + 1)
    )


def _most(people: int) -> int:
    """Return how many may have had their cups exchanged: fewer than half."""
    return max(1, min(TOGETHER, (people - 1) // 2))


def _groups(gaps: Gaps) -> Iterator[tuple[tuple[str, int], ...]]:
    """Yield the groups whose gap points the other way, single tastings first."""
    every = list(gaps)
    rows = np.array(list(gaps.values()))
    for tasting in dict.fromkeys(tasting for _, tasting in gaps):
        there = [place for place, one in enumerate(every) if one[1] == tasting]
        for size in range(1, _most(len(there)) + 1):
            if len(every) - size < FEWEST:
                continue
            groups = np.array(list(combinations(there, size)))
            for group in (tuple(every[place] for place in own) for own in _near(rows, groups)):
                mean = _mean(np.array([gap for one, gap in gaps.items() if one not in group]))
                used = ~np.isnan(mean)
                if all(_along(gaps[one], mean, used) < 0 for one in group):
                    yield group


def _near(rows: NDArray[np.float64], groups: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return the groups of rows that may point the other way: all that do, and few besides.

    What the others sum to is the whole less the group, for all groups at once.
    """
    known, filled = ~np.isnan(rows), np.nan_to_num(rows)
    left = known.sum(axis=0) - known[groups].sum(axis=1)
    rest = filled.sum(axis=0) - filled[groups].sum(axis=1)
    mean = np.where(left > 0, rest / np.maximum(left, 1), 0.0)
    along = (filled[groups] * mean[:, None, :]).sum(axis=2)
    rounding = 1e-9 * (1 + float(np.square(filled).sum()))
    kept: NDArray[np.int64] = groups[(along < rounding).all(axis=1)]
    return kept


def _judged(
    marks: tuple[Tastings, NDArray[np.float64]],
    pair: tuple[str, str],
    gaps: Gaps,
    group: tuple[tuple[str, int], ...],
    looked: int,
) -> list[tuple[tuple[str, int], Exchange, float]]:
    """Return the exchange of each of a group, if all of them look exchanged."""
    mean = _mean(np.array([gap for one, gap in gaps.items() if one not in group]))
    told = []
    for who in group:
        used = ~np.isnan(mean) & ~np.isnan(gaps[who])
        if not used.any() or not np.any(mean[used]):
            return []
        along = {one: _along(gap, mean, used) for one, gap in gaps.items()}
        rest = np.array([value for one, value in along.items() if one not in group])
        own = [value for one, value in along.items() if one[0] == who[0] and one not in group]
        apart = used & (np.abs(np.nan_to_num(mean)) > 1)
        tastings, unit = marks
        noise = _own_noise(tastings, who[0], pair, unit, apart)
        if not own or min(own) <= 0 or not looks_exchanged(along[who], rest, looked, noise):
            return []
        turned = apart & (np.sign(np.nan_to_num(gaps[who])) == -np.sign(np.nan_to_num(mean)))
        one = Exchange(
            assessor=who[0],
            replicate=who[1],
            samples=pair,
            turned=int(turned.sum()),
            of=int(apart.sum()),
        )
        told.append((who, one, float(rest.mean())))
    return told


def _own(evidence: Evidence, tastings: Tastings) -> Iterator[Exchange]:
    """Yield who exchanged two bottles between two tastings, where too few others tasted them."""
    if len(tastings) > FEWEST or len(evidence.products) < 3:
        return
    of: dict[str, list[Cups]] = {}
    for (who, _), cups in tastings.items():
        of.setdefault(who, []).append(cups)
    twice = {who: both for who, both in of.items() if len(both) == 2}
    pairs = list(combinations(evidence.products, 2))
    for who, (first, second) in twice.items():
        for pair in pairs:
            if not set(pair) <= set(first) & set(second):
                continue
            untouched = [
                float(np.nansum((before[name] - after[name]) ** 2))
                for one, (before, after) in twice.items()
                for name in set(before) & set(after)
                if one != who or name not in pair
            ]
            usual = 2 * float(np.mean(untouched)) if untouched else np.inf
            found = own_exchange(first, second, pair, usual, len(twice) * len(pairs))
            if found is not None:
                yield Exchange(
                    assessor=who, replicate=0, samples=pair, turned=found[0], of=found[1]
                )


def own_exchange(
    first: Cups, second: Cups, pair: tuple[str, str], usual: float, looked: int
) -> tuple[int, int] | None:
    """Tell whether one assessor's two tastings fit only with two bottles exchanged in one.

    Parameters
    ----------
    first, second : dict of str to array
        Marks of each bottle over the line scales, in points.
    pair : tuple of str
    usual : float
        Sum of squares by which two untouched bottles differ between two tastings.
    looked : int
        How many pairs of bottles and assessors are looked at.

    Returns
    -------
    tuple of int or None
        Scales that repeat better exchanged, and scales that tell; None where it does not look
        exchanged.

    Notes
    -----
    The squared differences between the tastings as marked, over those with the two bottles
    exchanged, are compared with F. Bottles that are alike are the worst case: both sums are
    then scatter alone. Scales go together within a cup, so they count for `OWN_DF` df only.
    """
    from scipy.special import fdtrc

    a, b = pair
    as_marked = (first[a] - second[a]) ** 2 + (first[b] - second[b]) ** 2
    turned = (first[a] - second[b]) ** 2 + (first[b] - second[a]) ** 2
    known = ~np.isnan(as_marked) & ~np.isnan(turned)
    if not known.any():
        return None
    kept, back = float(as_marked[known].sum()), float(turned[known].sum())
    df = min(OWN_DF, 2 * int(known.sum()))
    back = max(back, usual, _TINY)  # better than untouched bottles is chance
    if fdtrc(df, df, kept / back) > RISK / looked:
        return None
    tells = known & (as_marked != turned)
    return int((tells & (turned < as_marked)).sum()), int(tells.sum())


def _own_noise(
    tastings: Tastings,
    assessor: str,
    pair: tuple[str, str],
    unit: NDArray[np.float64],
    apart: NDArray[np.bool_],
) -> float:
    """Return how far an assessor scatters between tastings, over the panel's scatter.

    Where an exchange would show (both bottles, attributes in which they are apart) is left out.
    """
    cups: dict[str, list[NDArray[np.float64]]] = {}
    for (who, _), of in tastings.items():
        if who == assessor:
            for sample, marks in of.items():
                kept = np.where(apart, np.nan, marks) if sample in pair else marks
                cups.setdefault(sample, []).append(kept / unit)
    squares, df = 0.0, 0
    for own in map(np.array, cups.values()):
        known = (~np.isnan(own)).sum(axis=0)
        repeated = own[:, known > 1]
        squares += float(((repeated - _mean(repeated)) ** 2)[~np.isnan(repeated)].sum())
        df += int((known[known > 1] - 1).sum())
    return float(np.sqrt(squares / df)) if df else 1.0


def looks_exchanged(
    mine: float, rest: NDArray[np.float64], looked: int, noise: float = 1.0
) -> bool:
    """Tell whether one gap points the other way, far from the rest, and lies among them turned.

    Parameters
    ----------
    mine : float
        The gap of one tasting along the mean gap of the others.
    rest : array
        The others' gaps.
    looked : int
        How many pairs of bottles and tastings are looked at in all.
    noise : float
        The assessor's own scatter over the panel's; less than 1 counts as 1.
    """
    from scipy.special import stdtrit

    centre, spread = float(rest.mean()), float(rest.std(ddof=1))
    step = spread * np.sqrt(max(1.0, noise) ** 2 + 1 / len(rest))
    limit = -stdtrit(len(rest) - 1, RISK / looked)
    away = mine < 0 and centre - mine >= limit * step and centre >= APART * step
    return bool(away and abs(-mine - centre) <= RESTORED * step)


Cups = dict[str, "NDArray[np.float64]"]
Tastings = dict[tuple[str, int], Cups]
Gaps = dict[tuple[str, int], "NDArray[np.float64]"]


def _tastings(evidence: Evidence) -> tuple[Tastings, NDArray[np.float64]]:
    """Return marks by tasting and bottle, over the line scales, and each scale's scatter."""
    rows = evidence.rows(evidence.attributes(Kind.LINE), everybody=True)
    keys = ["assessor", "replicate", "sample"]
    wide = rows.pivot_table(index=keys, columns="attribute", values="score", observed=True)
    if wide.empty:
        return {}, np.empty(0)
    unit = np.sqrt(wide.groupby(level=["assessor", "sample"]).var().mean())
    wide = wide.loc[:, unit > 0]
    made: Tastings = {}
    for (who, replicate, sample), marks in zip(wide.index, wide.to_numpy(float), strict=True):
        made.setdefault((str(who), int(replicate)), {})[str(sample)] = marks
    return made, unit[unit > 0].to_numpy(float)


def _mean(gaps: NDArray[np.float64]) -> NDArray[np.float64]:
    known = ~np.isnan(gaps)
    n = known.sum(axis=0)
    return np.where(n > 0, np.where(known, gaps, 0.0).sum(axis=0) / np.maximum(n, 1), np.nan)


def _along(gap: NDArray[np.float64], mean: NDArray[np.float64], used: NDArray[np.bool_]) -> float:
    """Return how far a difference reaches along the mean one; a blank takes no part."""
    there = used & ~np.isnan(gap)
    size = float(np.sqrt(np.sum(mean[there] ** 2)))
    return float(np.sum(gap[there] * mean[there]) / size) if size else 0.0


@once
def suspected(evidence: Evidence) -> list[Exchange]:
    """Find who may have had two glasses exchanged, where own repeats cannot tell: to be asked.

    See `suspicions`. Whoever is called exchanged already (`exchanges`) is left out. Nothing is
    looked at where the bottles are fewer than `BOTTLES`, or the people than `PANEL`.
    """
    import pandas as pd

    names = evidence.attributes(Kind.LINE, Kind.CATEGORY)
    rows = evidence.rows(names, everybody=True)
    rows = rows[rows["sample"].isin(evidence.compared)]
    if rows.empty:
        return []
    rows = rows.astype({"assessor": str, "sample": str, "attribute": str, "replicate": int})
    wide = rows.pivot_table(index=["assessor", "replicate"], columns=["sample", "attribute"],
                            values="score")  # fmt: skip
    names = [name for name in names if name in set(rows["attribute"])]
    grid = pd.MultiIndex.from_product([evidence.compared, names])
    shape = len(wide), len(evidence.compared), len(names)
    marks = wide.reindex(columns=grid).to_numpy(float).reshape(shape)
    people = [str(code) for code in wide.index.get_level_values(0)]
    known = {one.assessor for one in exchanges(evidence)}
    return [
        Exchange(
            assessor=people[place], replicate=int(wide.index[place][1]),
            samples=(evidence.compared[first], evidence.compared[second]), turned=turned, of=of,
        )
        for place, first, second, turned, of in suspicions(marks, people)
        if people[place] not in known
    ]  # fmt: skip


def suspicions(
    marks: NDArray[np.float64], people: Sequence[str]
) -> list[tuple[int, int, int, int, int]]:
    """Return tastings that fit the others with two bottles exchanged, and not as they are.

    Parameters
    ----------
    marks : array
        Tastings, bottles, attributes; nan for a blank.
    people : sequence of str
        Whose tasting each is.

    Returns
    -------
    list of (int, int, int, int, int)
        Tasting, the two bottles, attributes that run the other way round, and those in which
        the others set the two apart.

    Notes
    -----
    Of each tasting the pair is looked at whose exchange takes most off the misfit to the means of
    the other people, each attribute in units of the others' scatter around them. The gap along the
    others' gap must lie further off than t allows (`SUSPECTED` over all tastings and pairs; the
    scatter along that gap is the wider of all bottles' and of these two, and the own one where
    that is wider), lie among the others when exchanged back, and be contradicted by the other
    tastings of the same person. All that no exchange of the two can change (the other bottles, and
    the mean of the two) must go with the others, by `REST` standard deviations: who runs against
    them, or marks at random, has exchanged nothing.
    """
    if len(set(people)) < PANEL or marks.shape[1] < BOTTLES:
        return []
    found = []
    for place in range(len(marks)):
        one = _suspicion(marks, people, place)
        if one is not None:
            found.append((place, *one))
    return found


def _suspicion(
    marks: NDArray[np.float64], people: Sequence[str], place: int
) -> tuple[int, int, int, int] | None:
    from scipy.special import stdtrit

    others = [n for n, code in enumerate(people) if code != people[place]]
    again = [n for n, code in enumerate(people) if code == people[place] and n != place]
    tastings, bottles, _ = marks.shape
    rest = _level(marks[others])
    means = _level(_mean(rest))
    left = _level(rest - means)
    df = (len(others) - 1) * (bottles - 1)
    known = ~np.isnan(left)
    n = known.sum(axis=(0, 1))
    unit = np.sqrt(np.nansum(left**2, axis=(0, 1)) / np.maximum(n, 1) * len(others) * bottles / df)
    used = (unit > _TINY) & ~np.isnan(means).any(axis=0)
    if not used.any():
        return None
    means, left = means[:, used] / unit[used], np.nan_to_num(left[:, :, used] / unit[used])
    mine = (_level(marks[place])[:, used]) / unit[used]
    pairs = list(combinations(range(bottles), 2))
    gains = [_drop(mine, means, pair) for pair in pairs]
    first, second = pairs[int(np.argmax(gains))]
    if max(gains) <= 0:
        return None
    there = ~np.isnan(mine[first]) & ~np.isnan(mine[second])
    way = np.where(there, means[first] - means[second], 0.0)
    size = float(np.sqrt(way @ way))
    gap = float(np.nan_to_num(mine[first] - mine[second]) @ way) / size
    along = left @ (way / size)
    spread = 2 * float((along**2).sum()) / df
    both = along[:, first] - along[:, second]
    spread = max(spread, float(both @ both) / (len(others) - 1))
    whole, panel = _untouched(mine, first, second), _untouched(means, first, second)
    off = whole - panel
    noise = float(np.nanmean(off**2)) * bottles / (bottles - 2) if bottles > 2 else 1.0
    noise = max(1.0, noise)
    step = float(np.sqrt(spread * (noise + 1 / len(others))))
    looked = tastings * len(pairs)
    limit = -float(stdtrit(df, SUSPECTED / looked))
    if min(size - gap, 2 * size) < limit * step or abs(-gap - size) > BACK * step:
        return None
    kept = float(np.sqrt(np.nansum(panel**2)))
    if not kept > 0:
        return None
    goes = float(np.nansum(whole * panel)) / kept
    each = np.array([np.sum(_untouched(one, first, second) * panel) / kept for one in left])
    scatter = np.sqrt(float(each @ each) / (len(others) - 1) * noise)
    if goes < REST * scatter:
        return None
    for number in again:
        own = _level(marks[number])[:, used] / unit[used]
        if float(np.nan_to_num(own[first] - own[second]) @ way) <= 0:
            return None
    apart = way != 0
    turned = (mine[first] - mine[second]) * way < 0
    return first, second, int(turned.sum()), int(apart.sum())


def _level(marks: NDArray[np.float64]) -> NDArray[np.float64]:
    """Take each tasting's own level over its bottles off, attribute by attribute."""
    known = ~np.isnan(marks)
    n = known.sum(axis=-2, keepdims=True)
    mean = np.where(known, marks, 0.0).sum(axis=-2, keepdims=True) / np.maximum(n, 1)
    levelled: NDArray[np.float64] = marks - mean
    return levelled


def _drop(mine: NDArray[np.float64], means: NDArray[np.float64], pair: tuple[int, int]) -> float:
    """Return by how much exchanging two bottles lowers the squared misfit, over two."""
    first, second = pair
    return -float(np.nansum((mine[first] - mine[second]) * (means[first] - means[second])))


def _untouched(marks: NDArray[np.float64], first: int, second: int) -> NDArray[np.float64]:
    """Return what exchanging two bottles does not change: the others, and the mean of the two."""
    kept = marks.copy()
    kept[[first, second]] = (marks[first] + marks[second]) / 2
    return _level(kept)


def statements(evidence: Evidence) -> list[Statement]:
    """Tell every tasting in which two bottles look exchanged; nothing is exchanged back."""
    trays: dict[tuple[int, tuple[str, str]], list[Exchange]] = {}
    for one in exchanges(evidence):
        key = (one.replicate, one.samples) if one.replicate else (-len(trays), one.samples)
        trays.setdefault(key, []).append(one)
    return [_told(ones) for ones in trays.values()]


def _told(ones: list[Exchange]) -> Statement:
    """Tell those whose cups look exchanged in the same way."""
    first = ones[0]
    key = "exchanged" if first.replicate else "exchanged_own"
    key = "exchanged_together" if len(ones) > 1 else key
    return Statement(
        kind="caution",
        about=(*(one.assessor for one in ones), *first.samples),
        sentence=sentence(
            f"findings.{key}",
            assessor=[one.assessor for one in ones],
            n=len(ones),
            first=first.samples[0],
            second=first.samples[1],
            tasting=first.replicate,
            turned=min(one.turned for one in ones),
            of=first.of,
        ),
        section="each",
        rank=RANK,
    )
