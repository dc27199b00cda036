"""Cups that look exchanged: one tasting's marks fit two bottles only the other way round."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from ...forms.questions.question_types import Kind
from ..base.words import sentence
from .evidence import Evidence, once
from .statement import Statement

if TYPE_CHECKING:
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Exchange:
    """One tasting in which two bottles look exchanged.

    Attributes
    ----------
    assessor : str
    replicate : int
    samples : tuple of str
    turned, of : int
        Attributes that run the other way round, of those in which the others set the
        two bottles apart by more than the scatter of a mark.
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
    than t allows for so noisy an assessor (`RISK` over all pairs looked at), comes to lie
    among them when exchanged back, and is contradicted by the same assessor's other
    tastings: one who always reads the scale the other way round has exchanged nothing.
    """
    tastings, unit = _tastings(evidence)
    pairs = list(combinations(evidence.products, 2))
    looked = [
        (who, pair)
        for who, cups in tastings.items()
        for pair in pairs
        if set(pair) <= set(cups) and sum(one[0] == who[0] for one in tastings) > 1
    ]
    found: dict[tuple[str, int], tuple[float, Exchange]] = {}
    for who, pair in looked:
        gaps = {
            one: (cups[pair[0]] - cups[pair[1]]) / unit
            for one, cups in tastings.items()
            if set(pair) <= set(cups)
        }
        others = np.array([gap for one, gap in gaps.items() if one != who])
        if len(others) < FEWEST:
            continue
        mean = _mean(others)
        used = ~np.isnan(mean) & ~np.isnan(gaps[who])
        length = float(np.sqrt(np.sum(mean[used] ** 2)))
        if not used.any() or length == 0:
            continue
        along = {one: _along(gap, mean, used) for one, gap in gaps.items()}
        mine = along.pop(who)
        rest = np.array(list(along.values()))
        own = [value for one, value in along.items() if one[0] == who[0]]
        apart = used & (np.abs(np.nan_to_num(mean)) > 1)
        noise = _own_noise(tastings, who[0], pair, unit, apart)
        if not own or min(own) <= 0 or not looks_exchanged(mine, rest, len(looked), noise):
            continue
        turned = apart & (np.sign(np.nan_to_num(gaps[who])) == -np.sign(np.nan_to_num(mean)))
        one = Exchange(
            assessor=who[0],
            replicate=who[1],
            samples=pair,
            turned=int(turned.sum()),
            of=int(apart.sum()),
        )
        centre = float(rest.mean())
        if who not in found or centre > found[who][0]:  # of overlapping pairs the widest
            found[who] = centre, one
    return [one for _, one in found.values()]


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
    from scipy import stats

    centre, spread = float(rest.mean()), float(rest.std(ddof=1))
    step = spread * np.sqrt(max(1.0, noise) ** 2 + 1 / len(rest))
    limit = stats.t.isf(RISK / looked, len(rest) - 1)
    away = mine < 0 and centre - mine >= limit * step and centre >= APART * step
    return bool(away and abs(-mine - centre) <= RESTORED * step)


Tastings = dict[tuple[str, int], dict[str, "NDArray[np.float64]"]]


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
    mean = np.full(gaps.shape[1], np.nan)
    there = known.any(axis=0)
    mean[there] = np.nanmean(gaps[:, there], axis=0)
    return mean


def _along(gap: NDArray[np.float64], mean: NDArray[np.float64], used: NDArray[np.bool_]) -> float:
    """Return how far a difference reaches along the mean one; a blank takes no part."""
    there = used & ~np.isnan(gap)
    size = float(np.sqrt(np.sum(mean[there] ** 2)))
    return float(np.sum(gap[there] * mean[there]) / size) if size else 0.0


def statements(evidence: Evidence) -> list[Statement]:
    """Tell every tasting in which two bottles look exchanged; nothing is exchanged back."""
    return [
        Statement(
            kind="caution",
            about=(one.assessor, *one.samples),
            sentence=sentence(
                "findings.exchanged",
                assessor=one.assessor,
                first=one.samples[0],
                second=one.samples[1],
                tasting=one.replicate,
                turned=one.turned,
                of=one.of,
            ),
            section="each",
            rank=RANK,
        )
        for one in exchanges(evidence)
    ]
