"""More samples than a flight can bear: who tastes which of them, and at what cost.

In a balanced incomplete block design every sample is tasted equally often and
every pair meets in equally many flights, so that all comparisons are equally
sure. ``v`` samples, ``k`` a flight, ``b`` flights, each sample ``r`` times, each
pair ``lambda`` times: ``v r = b k``, ``lambda (v - 1) = r (k - 1)``, ``b >= v``. These
identities are needed and do not suffice, so every design is verified by
counting its pairs.

References
----------
ISO 29842:2011; Cochran & Cox, Experimental Designs; Fisher & Yates tables.
Efficiency of a balanced design ``E = v (k - 1) / (k (v - 1))``.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import combinations, combinations_with_replacement, product
from math import comb

import numpy as np
import numpy.typing as npt
import pandas as pd

from ..core.errors import OptionError
from ..core.options import whole
from ..core.result import Result
from ..core.wording import percent
from ..core.words import Sentence

Flights = list[tuple[int, ...]]
Whole = npt.NDArray[np.int64]
# Difference sets: developed modulo the number of samples they give a balanced design.
_DIFFERENCES: dict[tuple[int, int], tuple[tuple[int, ...], ...]] = {
    (7, 3): ((0, 1, 3),),
    (7, 4): ((0, 1, 2, 4),),
    (9, 4): ((0, 1, 2, 4), (0, 3, 4, 7)),
    (11, 5): ((1, 3, 4, 5, 9),),
    (11, 6): ((0, 2, 6, 7, 8, 10),),
    (13, 3): ((0, 1, 4), (0, 2, 7)),
    (13, 4): ((0, 1, 3, 9),),
    (15, 7): ((0, 1, 2, 4, 5, 8, 10),),
    (21, 5): ((3, 6, 7, 12, 14),),
}
_SIX_BY_THREE = "012 013 024 035 045 125 134 145 234 235"
_MOST_COMBINATIONS = 60
_MOST_SUMS = 50_000
_MOST_STARTS = 6


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class BlockPlan(Result):
    """Who tastes which samples, in which order.

    Attributes
    ----------
    samples, per_flight : int
        v and k.
    flights : tuple of tuple of int
        One row an assessor: samples from 0, in serving order.
    replications : tuple of int
        How often each sample is tasted.
    least_pairs, most_pairs : int
        Least and most often that two samples meet.
    balanced : bool
        Whether all replications and all pairs are equal.
    efficiency : float
        Mean precision of a comparison, relative to the same number of cups in
        complete flights (0 to 1).
    best_efficiency : float
        That of a balanced design of this v and k.
    position_spread : int
        Most less least often that a sample stands at a place.
    source : str
        ``"difference set"``, ``"all combinations"``, ``"plane"``, ``"cyclic"``,
        ``"complement"`` or ``"search"``.
    balanced_from : int or None
        Flights of the smallest balanced design known here.
    seed : int
        Of the search.
    """

    samples: int
    per_flight: int
    flights: tuple[tuple[int, ...], ...]
    replications: tuple[int, ...]
    least_pairs: int
    most_pairs: int
    balanced: bool
    efficiency: float
    best_efficiency: float
    position_spread: int
    source: str
    balanced_from: int | None
    seed: int

    def sentences(self) -> tuple[Sentence, ...]:
        """Say what the plan holds and what it costs."""
        told = [
            Sentence.of(
                "block_design.balanced" if self.balanced else "block_design.uneven",
                v=self.samples,
                k=self.per_flight,
                b=len(self.flights),
                r=self._range(min(self.replications), max(self.replications)),
                pairs=self._range(self.least_pairs, self.most_pairs),
                e=percent(self.efficiency),
                best=percent(self.best_efficiency),
                source=Sentence.of(f"block_design.{self.source.replace(' ', '_')}"),
            ),
            Sentence.of("block_design.places", spread=self.position_spread),
        ]
        if not self.balanced and self.balanced_from is not None:
            told.append(Sentence.of("block_design.would_take", n=self.balanced_from))
        return tuple(told)

    @staticmethod
    def _range(low: int, high: int) -> str:
        return f"{low}" if low == high else f"{low}–{high}"

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return the flights, one row an assessor."""
        columns = [f"place_{place}" for place in range(1, self.per_flight + 1)]
        table = pd.DataFrame([[s + 1 for s in row] for row in self.flights], columns=columns)
        table.insert(0, "flight", range(1, len(table) + 1))
        return {"block_design.table": table}


def block_plan(
    samples: int, per_flight: int, flights: int | None = None, *, seed: int = 29842
) -> BlockPlan:
    """Plan flights of some of the samples each.

    Parameters
    ----------
    samples : int
        Number of samples v, 3 to 40.
    per_flight : int
        Samples in a flight k, 2 to v - 1.
    flights : int, optional
        Number of flights (assessors, if each has one). By default that of the
        smallest balanced design known here, or as many as samples. When it is no multiple of that,
        the rest is searched for and the efficiency tells what is lost.
    seed : int
        Of the search and of the serving orders.

    Returns
    -------
    BlockPlan

    Raises
    ------
    OptionError
        For a number out of range, or too few flights to serve every sample.

    Examples
    --------
    >>> plan = block_plan(7, 3)
    >>> len(plan.flights), plan.most_pairs, round(plan.efficiency, 4)
    (7, 1, 0.7778)
    """
    v, k = whole("samples", samples, 3), whole("per_flight", per_flight, 2)
    if v > 40 or k >= v:
        raise OptionError("block_design.range", v=v, k=k)
    rng = np.random.default_rng(seed)
    found = balanced_design(v, k)
    source, base = found if found is not None else ("search", [])
    wanted = flights if flights is not None else (len(base) or v)
    whole("flights", wanted, 1)
    if wanted * k < v:
        raise OptionError("block_design.too_few", v=v, k=k, b=wanted, least=-(-v // k))
    copies, rest = divmod(wanted, len(base)) if base else (0, wanted)
    rows = list(base) * copies
    if rest:
        rows = _search(v, k, rows, rest, rng)
        source = "search"
    ordered = _placed(v, rows, rng)
    counted = _counts(v, ordered)
    off = counted[~np.eye(v, dtype=bool)]
    times = np.diag(counted)
    places = np.zeros((v, k), dtype=np.int64)
    for row in ordered:
        places[list(row), np.arange(k)] += 1
    return BlockPlan(
        samples=v,
        per_flight=k,
        flights=tuple(ordered),
        replications=tuple(int(n) for n in times),
        least_pairs=int(off.min()),
        most_pairs=int(off.max()),
        balanced=bool(np.ptp(times) == 0 and np.ptp(off) == 0),
        efficiency=efficiency(v, ordered),
        best_efficiency=v * (k - 1) / (k * (v - 1)),
        position_spread=int(np.ptp(places, axis=1).max()),
        source=source,
        balanced_from=len(base) or None,
        seed=seed,
    )


def balanced_design(v: int, k: int) -> tuple[str, Flights] | None:
    """Return the smallest balanced design known here and where it comes from, or None.

    Every design is verified by its pair counts before it is returned.
    """
    made = [*_constructions(v, k)]
    for source, rows in _constructions(v, v - k) if v - k >= 2 else ():
        if source != "all combinations":
            every = set(range(v))
            made.append(("complement", [tuple(sorted(every - set(row))) for row in rows]))
    good = [(source, rows) for source, rows in made if is_balanced(v, rows)]
    return min(good, key=lambda entry: len(entry[1]), default=None)


def is_balanced(v: int, flights: Flights) -> bool:
    """Tell, by counting, whether samples and pairs come equally often."""
    counted = _counts(v, flights)
    return bool(np.ptp(np.diag(counted)) == 0 and np.ptp(counted[~np.eye(v, dtype=bool)]) == 0)


def efficiency(v: int, flights: Flights) -> float:
    """Return the mean precision of all comparisons relative to complete flights.

    The variance of a comparison in complete flights with as many cups,
    ``2 / (mean replications)``, over the mean variance in these flights; 0 when
    some samples are never compared, even through others.

    Examples
    --------
    >>> round(efficiency(4, [(0, 1, 2), (0, 1, 3), (0, 2, 3), (1, 2, 3)]), 4)
    0.8889
    """
    information = np.zeros((v, v))
    cups = 0
    for row in flights:
        at = list(row)
        information[at, at] += 1
        information[np.ix_(at, at)] -= 1 / len(at)
        cups += len(at)
    values = np.linalg.eigvalsh(information)[1:]
    if values[0] < 1e-9:
        return 0.0
    mean_variance = 2 * float(np.sum(1 / values)) / (v - 1)
    return 2 * v / cups / mean_variance


def _counts(v: int, flights: Flights) -> Whole:
    """Return how often samples meet; their own replications on the diagonal."""
    together = np.zeros((v, v), dtype=np.int64)
    for row in flights:
        together[np.ix_(list(row), list(row))] += 1
    return together


def _constructions(v: int, k: int) -> Iterator[tuple[str, Flights]]:
    if (v, k) in _DIFFERENCES:
        yield "difference set", _developed(v, _DIFFERENCES[v, k])
    if (v, k) == (6, 3):
        yield "difference set", [tuple(map(int, row)) for row in _SIX_BY_THREE.split()]
    if (v, k) == (8, 4):  # the seven of {0, 1, 3} with an eighth sample, and their complements
        rows = [(*row, 7) for row in _developed(7, ((0, 1, 3),))]
        yield "difference set", rows + [tuple(sorted(set(range(8)) - set(row))) for row in rows]
    if k in {3, 4} and v == k * k:
        yield "plane", _plane(k)
    if comb(v, k) <= _MOST_COMBINATIONS:
        yield "all combinations", list(combinations(range(v), k))
    if v <= 13 and k <= 6:
        rows = _cyclic(v, k)
        if rows:
            yield "cyclic", rows


def _developed(v: int, sets: tuple[tuple[int, ...], ...]) -> Flights:
    return [tuple(sorted((x + step) % v for x in base)) for base in sets for step in range(v)]


def _plane(q: int) -> Flights:
    """Return the lines of the affine plane over the field of 3 or 4 elements."""
    times = (
        [[a * b % 3 for b in range(3)] for a in range(3)]
        if q == 3
        else [[0, 0, 0, 0], [0, 1, 2, 3], [0, 2, 3, 1], [0, 3, 1, 2]]
    )

    def add(a: int, b: int) -> int:
        return (a + b) % 3 if q == 3 else a ^ b

    lines = [
        tuple(x * q + add(times[m][x], c) for x in range(q)) for m, c in product(range(q), repeat=2)
    ]
    return lines + [tuple(x * q + y for y in range(q)) for x in range(q)]


def _cyclic(v: int, k: int) -> Flights:
    """Look for initial flights that a cyclic group develops into a balanced design.

    The group turns one or two rings of samples, with or without one that stays.
    Pairs fall into orbits; a few initial flights must cover all of them
    equally.
    """
    best: Flights = []
    for ring, rings, still in _groups(v):
        orbits, number = _pair_orbits(ring, rings, still)
        starts: dict[tuple[int, ...], tuple[int, ...]] = {}
        for start in combinations(range(v), k):
            cover = np.zeros(number, dtype=np.int64)
            for a, b in combinations(start, 2):
                cover[orbits[a, b]] += 1
            starts.setdefault(tuple(int(c) for c in cover), start)
        sizes = np.bincount(orbits[np.triu_indices(v, 1)], minlength=number)
        chosen = _covering(starts, sizes, ring, v, k)
        if chosen and (not best or len(chosen) * ring < len(best)):
            best = [_turned(start, step, ring, rings) for start in chosen for step in range(ring)]
    return best


def _groups(v: int) -> Iterator[tuple[int, int, int]]:
    yield v, 1, 0
    yield v - 1, 1, 1
    if v % 2 == 0 and v > 4:
        yield v // 2, 2, 0
    elif v > 5:
        yield (v - 1) // 2, 2, 1


def _turned(start: tuple[int, ...], step: int, ring: int, rings: int) -> tuple[int, ...]:
    moved = [x if x >= ring * rings else x // ring * ring + (x % ring + step) % ring for x in start]
    return tuple(sorted(moved))


def _pair_orbits(ring: int, rings: int, still: int) -> tuple[Whole, int]:
    v = ring * rings + still
    orbits = np.full((v, v), -1, dtype=np.int64)
    number = 0
    for a, b in combinations(range(v), 2):
        if orbits[a, b] >= 0:
            continue
        for step in range(ring):
            x, y = _turned((a, b), step, ring, rings)
            orbits[x, y] = orbits[y, x] = number
        number += 1
    return orbits, number


def _covering(
    starts: dict[tuple[int, ...], tuple[int, ...]], sizes: Whole, ring: int, v: int, k: int
) -> list[tuple[int, ...]]:
    """Return the fewest initial flights that cover all pairs equally."""
    covers = list(starts)
    for n in range(1, _MOST_STARTS + 1):
        # n flights a turn give n * ring flights and n * ring * k * (k - 1) / 2 pairs in all
        pairs = n * ring * k * (k - 1)
        if pairs % (v * (v - 1)):
            continue
        each = pairs // (v * (v - 1))
        if any(each * size % ring for size in sizes):
            continue
        target = tuple(int(each * size // ring) for size in sizes)
        found = _sum_to(covers, target, n)
        if found is not None:
            return [starts[cover] for cover in found]
    return []


def _sum_to(
    covers: list[tuple[int, ...]], target: tuple[int, ...], n: int
) -> list[tuple[int, ...]] | None:
    """Find n covers (repeats allowed) that add up to the target; halves meet in the middle."""
    fitting = [cover for cover in covers if all(c <= t for c, t in zip(cover, target, strict=True))]
    half = n // 2
    if not fitting or comb(len(fitting) + n - half - 1, n - half) > _MOST_SUMS:
        return None
    known = {_added(part, len(target)): part for part in _repeated(fitting, half)}
    for part in _repeated(fitting, n - half):
        total = _added(part, len(target))
        rest = known.get(tuple(t - x for t, x in zip(target, total, strict=True)))
        if rest is not None:
            return [*part, *rest]
    return None


def _repeated(covers: list[tuple[int, ...]], n: int) -> Iterator[tuple[tuple[int, ...], ...]]:
    return combinations_with_replacement(covers, n)


def _added(part: tuple[tuple[int, ...], ...], length: int) -> tuple[int, ...]:
    return tuple(sum(column) for column in zip(*part, strict=True)) if part else (0,) * length


def _search(v: int, k: int, fixed: Flights, rest: int, rng: np.random.Generator) -> Flights:
    """Add flights so that samples and pairs come as equally often as can be found."""
    base = _counts(v, fixed) if fixed else np.zeros((v, v), dtype=np.int64)
    best: Flights = []
    best_cost = np.inf
    for _ in range(6):
        rows = [list(map(int, rng.permutation(v)[:k])) for _ in range(rest)]
        together = base + _counts(v, [tuple(row) for row in rows])
        cost = _unevenness(together)
        for _ in range(400):
            improved = False
            for row in rows:
                for place in range(k):
                    old = row[place]
                    others = [x for x in row if x != old]
                    for new in map(int, rng.permutation(v)):
                        if new in row:
                            continue
                        trial = together.copy()
                        _move(trial, old, new, others)
                        now = _unevenness(trial)
                        if now < cost - 1e-9:
                            row[place], together, cost, improved = new, trial, now, True
                            break
            if not improved:
                break
        if cost < best_cost:
            best, best_cost = [tuple(sorted(row)) for row in rows], cost
    return [*fixed, *best]


def _move(together: Whole, old: int, new: int, others: list[int]) -> None:
    together[old, old] -= 1
    together[new, new] += 1
    for other in others:
        for sample, change in ((old, -1), (new, 1)):
            together[sample, other] += change
            together[other, sample] += change


def _unevenness(together: Whole) -> float:
    times = np.diag(together)
    off = together[~np.eye(len(together), dtype=bool)]
    return float(10 * times.var() * len(times) + off.var() * len(off))


def _placed(v: int, flights: Flights, rng: np.random.Generator) -> Flights:
    """Order each flight so that every sample stands equally often at each place.

    Place by place, one sample of each flight is taken by an optimal assignment;
    samples with more cups left go first.
    """
    from scipy.optimize import linear_sum_assignment

    left = [set(row) for row in flights]
    ordered: list[list[int]] = [[] for _ in flights]
    places = len(flights[0])
    for place in range(places):
        remaining = np.bincount([x for row in left for x in row], minlength=v)
        fair = remaining / (places - place)
        slots = [s for s in range(v) for _ in range(int(np.ceil(fair[s] - 1e-9)))]
        # the last slot of a sample is dearer when its fair share is a fraction
        price = np.zeros(len(slots))
        for s in range(v):
            own = [i for i, slot in enumerate(slots) if slot == s]
            if own and fair[s] % 1 > 1e-9:
                price[own[-1]] = 1 - fair[s] % 1
        cost = np.full((len(flights), len(slots)), 1e6)
        for i, row in enumerate(left):
            for j, slot in enumerate(slots):
                if slot in row:
                    cost[i, j] = price[j] + 1e-3 * rng.random()
        if len(slots) < len(flights):  # cannot serve all: fall back to any order
            cost = np.pad(cost, ((0, 0), (0, len(flights) - len(slots))), constant_values=1e6)
        rows, columns = linear_sum_assignment(cost)
        for i, j in zip(rows.tolist(), columns.tolist(), strict=True):
            sample = slots[j] if j < len(slots) and cost[i, j] < 1e6 else min(left[i])
            ordered[i].append(sample)
            left[i].remove(sample)
    return [tuple(row) for row in ordered]
