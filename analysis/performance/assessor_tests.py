"""Which assessor differs from the rest of the panel, and in what: tests with one stated error rate.

The panel taken as clean is this: every assessor has an own level, all follow
the same sample profile with the same scatter, and nobody drifts otherwise
than the rest. Each assessor is tested against all the others; the chance that
anybody of a clean panel is named for anything is at most the stated rate.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.special import fdtrc, ndtr, ndtri, stdtr, stdtrit

from ..core.p_values import holds
from ..core.ratings_matrix import Floats
from .assessor_block import FullBlock, answers_by, with_scores

ASPECTS = ("scale", "disagreement", "repeatability", "level", "drift")
POWER = 0.8
"""Share of panels in which the smallest finding that is stated would be made."""
HINT = 0.01
"""p of a single test below which it is a hint: to be looked at, nothing is shown."""
NOISY = 0.01
"""p below which an assessor scatters around the drift line clearly more than the others."""
FEWEST = 3
"""Assessors who are left in the reference of the rest at the least."""


class Comparison(NamedTuple):
    """One comparison of an assessor with the rest.

    `value` and its limits are a slope for scale (1 is the panel's), a ratio of
    variances for disagreement and repeatability, standard units for the level
    (scale points for one attribute), and points per place for drift. The limits
    of scale come from the assessor's own scatter and are nan where none can be had.
    """

    aspect: str
    attribute: int
    p: float
    value: float
    low: float = float("nan")
    high: float = float("nan")


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Verdicts:
    """All tests against the final reference, and who was set apart from it.

    Attributes
    ----------
    tests : list of list of Comparison
        By assessor.
    apart : set of int
        Assessors who do not belong to the reference of the rest.
    drifting : set of int
        Assessors whose drift was taken off before the other tests.
    limits : tuple of float
        p values below which a test counts: over the whole card, and on one attribute.
    n_tests : int
    smallest_scale : float
        Smallest difference of the whole-card slope from 1 that these tests find
        with probability .8 (median over assessors); nan without a reference.
    """

    tests: list[list[Comparison]]
    apart: set[int]
    drifting: set[int]
    limits: tuple[float, float]
    n_tests: int
    smallest_scale: float

    def shown(self, test: Comparison) -> bool:
        """Tell whether a test counts at the stated rate."""
        return _counts(test, self.limits)


def judge(block: FullBlock, alpha: float) -> Verdicts:
    """Comparison every assessor against the rest; who is found leaves the reference of the others.

    Half of `alpha` goes to tests over the whole card, half to single attributes
    (Bonferroni within each). Under the clean panel the first round decides
    whether anybody is found, so later rounds add no error.
    """
    a, i, _ = block.y.shape
    limits = (alpha / 2 / (i * len(ASPECTS)), alpha / 2 / (i * a * len(ASPECTS)))
    states = [with_scores(block, block.score)]  # as answered, then after each drift taken off
    apart: set[int] = set()
    drifting: set[int] = set()

    @cache
    def against(state: int, who: int, rest: tuple[int, ...]) -> list[Comparison]:
        return _against(states[state], who, list(rest))

    while True:
        last = len(states) - 1
        rest = [who for who in range(i) if who not in apart]
        worst, smallest = -1, 1.0
        for who in rest:
            for test in against(last, who, tuple(x for x in rest if x != who)):
                share = test.p / limits[0 if test.attribute < 0 else 1]
                movable = test.aspect != "level" and not (
                    test.aspect == "drift" and who in drifting
                )
                if movable and share < smallest:
                    worst, smallest = who, share
        if worst < 0 or len(rest) <= FEWEST:
            break
        others = tuple(x for x in rest if x != worst)
        found = against(last, worst, others)
        moved = [t for t in found if t.aspect == "drift" and _counts(t, limits)]
        if moved and worst not in drifting:
            drifting.add(worst)
            states.append(_without_drift(states[last], worst, list(others)))
        else:
            apart.add(worst)
    tests = []
    for who in range(i):
        others = tuple(x for x in range(i) if x != who and x not in apart)
        found = [t for t in against(last, who, others) if t.aspect != "drift"]
        found += [t for t in against(0, who, others) if t.aspect == "drift"]
        tests.append(found)
    rest = [who for who in range(i) if who not in apart]
    return Verdicts(
        tests=tests,
        apart=apart,
        drifting=drifting,
        limits=limits,
        n_tests=sum(len(found) for found in tests),
        smallest_scale=_smallest(states[last], rest, limits[0]),
    )


def noisier(p: float) -> bool:
    """Tell whether the p of one's own scatter against the others' says clearly more."""
    return holds(p, NOISY)


def _counts(test: Comparison, limits: tuple[float, float]) -> bool:
    return holds(test.p, limits[0 if test.attribute < 0 else 1])


def _against(block: FullBlock, who: int, rest: list[int]) -> list[Comparison]:
    """Comparison one assessor against the rest on every attribute and over the whole card."""
    if len(rest) < 2 or block.y.shape[2] < 3:
        return []
    profile = _profiles(block, who, rest)
    tests = _profile_tests(profile, len(rest))
    tests += _repeat_tests(block, who, rest)
    tests += _level_tests(block, who, rest, profile.noise)
    tests += _drift_tests(block, who, rest, profile.noise)
    return [test for test in tests if not np.isnan(test.p)]


class _Profile(NamedTuple):
    """Deviations of one assessor from the others' profile; shapes (A, J) and (A, m, J).

    `noise` is the variance of the others' interaction, not below `least`, what
    writing in steps makes; `df` is its degrees of freedom, `own_df` those of the
    own rest around a line; empty cells are taken off both.
    """

    x: Floats
    mine: Floats
    theirs: Floats
    noise: Floats
    df: Floats
    own_df: Floats
    least: Floats


def _profiles(block: FullBlock, who: int, rest: list[int]) -> _Profile:
    panel = block.y[:, [*rest, who]]
    own = panel - panel.mean(axis=2, keepdims=True)
    x = own.mean(axis=1)
    mine = own[:, -1] - x
    others = own[:, :-1]
    theirs = others - others.mean(axis=1, keepdims=True)
    j = block.y.shape[2]
    df = np.maximum((len(rest) - 1.0) * (j - 1) - block.holes(rest), 1.0)
    own_df = np.maximum(j - 2.0 - block.holes([who]), 0.0)
    least = block.rounding / block.k
    noise = np.maximum((theirs**2).sum(axis=(1, 2)) / df, least)
    return _Profile(x, mine, theirs, noise, df, own_df, least)


def _profile_tests(profile: _Profile, m: int) -> list[Comparison]:
    """Comparison scale use and disagreement (exact F on one attribute).

    The sum of squares of the assessor against the mean of the others splits
    into a part along the panel's profile (1 df) and a rest (J - 2 df); both
    are independent of the others' own interaction, the error term.
    """
    x, mine, _, noise, df, own_df, _ = profile
    a = len(x)
    used = (noise > 0) & ((x**2).sum(axis=1) > 0) & (own_df > 0)
    whole = (m + 1) / m
    sxx = (x**2).sum(axis=1)
    along = np.divide((x * mine).sum(axis=1), sxx, out=np.zeros(a), where=used)
    own_rest = mine - along[:, None] * x
    tests = []
    for n in np.flatnonzero(used):
        t2 = whole * along[n] ** 2 * sxx[n] / noise[n]
        own_ss = float((own_rest[n] ** 2).sum())
        half = stdtrit(own_df[n], 0.975) * np.sqrt(own_ss / own_df[n] / sxx[n])
        slope = 1 + float(along[n])
        tests.append(
            Comparison(
                "scale", int(n), float(fdtrc(1, df[n], t2)), slope, slope - half, slope + half
            )
        )
        ratio = whole * own_ss / own_df[n] / noise[n]
        p = float(fdtrc(own_df[n], df[n], ratio))
        tests.append(Comparison("disagreement", int(n), p, float(ratio)))
    if used.any():
        kept = _Profile(*(part[used] for part in profile))
        tests += _whole_card(kept, own_rest[used], m)
    return tests


def _whole_card(profile: _Profile, own_rest: Floats, m: int) -> list[Comparison]:
    """Comparison scale use and disagreement over all attributes, which may be correlated.

    Scale: one slope for all attributes; the variance of the estimate is taken
    from the others' deviations summed over attributes for each sample, so any
    correlation between attributes within a pour is in it. Disagreement: see
    `together`.
    """
    x, mine, theirs, noise, df_each, own_df, least = profile
    a, j = x.shape
    cells = (m - 1) * (j - 1) * a / df_each.sum()  # empty ones have no deviation
    weight = x / noise[:, None]
    size = float((x * weight).sum())
    each = (weight * mine).sum(axis=0)
    delta = float(each.sum() / size)
    others = np.einsum("aj,amj->mj", weight, theirs)
    by_sample = cells * (others**2).sum(axis=0) / (m - 1) * j / (j - 1)
    by_sample = np.maximum(by_sample, (weight**2 * least[:, None]).sum(axis=0))
    spread = float(by_sample.sum()) * m / (m + 1)
    tests = []
    if spread > 0:
        df = float(by_sample.sum()) ** 2 / float((by_sample**2).sum() / (m - 1))
        t = delta * size / np.sqrt(spread)
        line = each - delta * (x * weight).sum(axis=0)
        own = np.sqrt((line**2).sum() * j / (j - 1)) / size
        half = stdtrit(j - 1, 0.975) * own
        p = float(2 * stdtr(df, -abs(t)))
        tests.append(Comparison("scale", -1, p, 1 + delta, 1 + delta - half, 1 + delta + half))
    own_ratio = (m + 1) / m * (own_rest**2).sum(axis=1) / own_df / noise
    p_each = fdtrc(own_df, df_each, own_ratio)
    p = together(np.asarray(p_each, dtype=np.float64), theirs.reshape(a, -1))
    tests.append(Comparison("disagreement", -1, p, float(own_ratio.mean())))
    return tests


def together(p: Floats, residuals: Floats) -> float:
    """Return one p for several one-sided variance ratios of correlated attributes.

    Normal scores of the p values are added (Stouffer). Two of them correlate by
    about the squared correlation of the residuals; its absolute value is taken
    instead, because far in the tail the square is too hopeful (simulated).
    """
    if p.size == 1:
        return float(p[0])
    score = -ndtri(np.clip(p, 1e-300, 1 - 1e-16))
    with np.errstate(invalid="ignore"):  # others who agree wholly correlate with nothing
        r = np.nan_to_num(np.asarray(np.corrcoef(residuals)), nan=1.0)
    return float(ndtr(-score.sum() / np.sqrt(np.abs(r).sum())))


def _repeat_tests(block: FullBlock, who: int, rest: list[int]) -> list[Comparison]:
    """Comparison the scatter of the own replicates against that of the others (F)."""
    left = block.score - block.y[:, block.who, block.what]
    seen = ~np.isnan(left)
    mine, theirs = block.who == who, answers_by(block, rest)
    df1 = (seen & mine).sum(axis=1) - block.filled[:, who].sum(axis=1)
    df2 = (seen & theirs).sum(axis=1) - block.filled[:, rest].sum(axis=(1, 2))
    ss1 = np.nansum(np.where(mine, left, 0.0) ** 2, axis=1)
    ss2 = np.nansum(np.where(theirs, left, 0.0) ** 2, axis=1)
    used = (df1 > 0) & (df2 > 0) & (block.rounding > 0)
    if not used.any():
        return []
    noise = np.maximum(ss2[used] / df2[used], block.rounding[used])
    ratio = ss1[used] / df1[used] / noise
    p_each = fdtrc(df1[used], df2[used], ratio)
    tests = [
        Comparison("repeatability", int(n), float(p), float(f))
        for n, p, f in zip(np.flatnonzero(used), p_each, ratio, strict=True)
    ]
    paired = theirs & seen[used].all(axis=0)
    p = together(p_each, left[used][:, paired])
    return [*tests, Comparison("repeatability", -1, p, float(ratio.mean()))]


def _level_tests(block: FullBlock, who: int, rest: list[int], noise: Floats) -> list[Comparison]:
    """Comparison the own level against the spread of the others' levels (t, m - 1 df)."""
    if len(rest) < 3:
        return []
    level = block.y.mean(axis=2)
    there = np.asarray(block.filled.any(axis=2))
    least = block.rounding / (block.k * block.y.shape[2])
    used = (least > 0) & there[:, who] & (there[:, rest].sum(axis=1) > 2)
    tests = []
    for n in np.flatnonzero(used):
        others = level[n, rest][there[n, rest]]
        p, value = _outlying(float(level[n, who]), others, float(least[n]))
        tests.append(Comparison("level", int(n), p, value))
    if used.any():
        used &= noise > 0
        common = (level[used] / noise[used, None] ** 0.5).sum(axis=0)
        smallest = float((least[used] / noise[used]).sum())
        p, value = _outlying(float(common[who]), common[rest], smallest)
        tests.append(Comparison("level", -1, p, value))
    return tests


def _outlying(own: float, others: Floats, least: float) -> tuple[float, float]:
    m = others.size
    apart = own - float(others.mean())
    t = apart / np.sqrt(max(float(others.var(ddof=1)), least) * (1 + 1 / m))
    return float(2 * stdtr(m - 1, -abs(t))), apart


def _drift_tests(block: FullBlock, who: int, rest: list[int], noise: Floats) -> list[Comparison]:
    """Comparison the own drift over the serving order against that of the others."""
    known = ~np.isnan(block.position) & answers_by(block, [*rest, who])
    if not known.any():
        return []
    scale = np.sqrt(noise)
    used = scale > 0
    tests = []
    empty = block.holes(rest)
    rows = [
        (int(n), block.y[n], block.score[n], int(empty[n]), float(block.rounding[n]))
        for n in np.flatnonzero(used)
    ]
    if len(rows) > 1:
        cell = block.y[:, block.who, block.what]
        score = np.where(np.isnan(block.score), cell, block.score)
        whole = (score[used] / scale[used, None]).mean(axis=0)
        y = (block.y[used] / scale[used, None, None]).mean(axis=0)
        least = float((block.rounding[used] / noise[used]).sum()) / int(used.sum()) ** 2
        rows.append((-1, y, whole, int(np.ceil(empty[used].mean())), least))
    elif rows:
        rows.append((-1, *rows[0][1:]))
    places: dict[bytes, _Places | None] = {}
    for n, y, score, holes, least in rows:
        given = np.isnan(score).tobytes()
        if given not in places:
            places[given] = _places(block, score, [*rest, who])
        slope, p = _drift(places[given], y, score, (who, rest), (holes, least))
        tests.append(Comparison("drift", n, p, slope))
    return tests


class _Places(NamedTuple):
    """Where in the serving order the answers to one attribute were given.

    `used` marks the answers with a place; `people`, `sample`, `position` (centred within
    each assessor) and `weight` (of the answer in the own slope) are theirs. `size` is each
    assessor's sum of squared places; `by_sample` and `squares` sum the weights over a
    sample, squared, and the squared weights.
    """

    used: NDArray[np.bool_]
    people: NDArray[np.intp]
    sample: NDArray[np.intp]
    position: Floats
    size: Floats
    weight: Floats
    by_sample: Floats
    squares: Floats


def _places(block: FullBlock, score: Floats, panel: list[int]) -> _Places | None:
    """Return the places of an attribute's answers; None if somebody has no two of them."""
    n, j = block.y.shape[1:]
    used = answers_by(block, panel) & ~np.isnan(block.position) & ~np.isnan(score)
    people, sample, position = block.who[used], block.what[used], block.position[used]
    counts = np.maximum(np.bincount(people, minlength=n), 1)
    position = position - (np.bincount(people, position, minlength=n) / counts)[people]
    size = np.bincount(people, position**2, minlength=n).astype(np.float64)
    if (size[panel] <= 0).any():
        return None
    weight = position / size[people]
    by_sample = np.bincount(people * j + sample, weight, minlength=n * j).reshape(n, j)
    squares = np.bincount(people, weight**2, minlength=n).astype(np.float64)
    return _Places(
        used, people, sample, position, size, weight, (by_sample**2).sum(axis=1), squares
    )


def _drift(
    places: _Places | None,
    y: Floats,
    score: Floats,
    sides: tuple[int, list[int]],
    known: tuple[int, float],
) -> tuple[float, float]:
    """Return the drift per place, the others' mean drift taken off, and its p.

    The variance comes from the others' interaction and replicate variances,
    or from the own scatter around the own drift line where that is clearly
    larger (`NOISY`): a noisy assessor must not pass for a drifting one. No
    variance of an answer is taken below `least`, what writing in steps makes.
    """
    if places is None:
        return float("nan"), float("nan")
    (who, rest), (holes, least) = sides, known
    panel = [*rest, who]
    people, sample, score = places.people, places.sample, score[places.used]
    level = y.mean(axis=1)
    away = y - level[:, None]
    n, j = y.shape
    e = score - level[people] - away[panel].mean(axis=0)[sample]
    slope = np.bincount(people, places.weight * e, minlength=n)
    m = len(rest)
    ap_df = max((m - 1) * (j - 1) - holes, 1)
    left = score - y[people, sample]
    theirs = people != who
    error_df = int(theirs.sum()) - m * j + holes
    others = away[rest] - away[rest].mean(axis=0)
    k = len(people) / (len(panel) * j)
    ap = max(float((others**2).sum() / ap_df), least / k)
    error = max(float((left[theirs] ** 2).sum() / error_df), least) if error_df > 0 else ap
    between = max(ap - error / k, 0.0) if error_df > 0 else 0.0
    variance = places.by_sample * between + places.squares * error
    mine = ~theirs
    rest_of_mine = e[mine] - e[mine].mean() - slope[who] * places.position[mine]
    own_df = max(int(mine.sum()) - 2, 1)
    own = float((rest_of_mine**2).sum() / own_df / places.size[who])
    expected = float(variance[who])
    if expected > 0 and noisier(float(fdtrc(own_df, ap_df, own / expected))):
        expected = own
    total = expected + float(variance[rest].sum()) / m**2
    apart = float(slope[who] - slope[rest].mean())
    if total <= 0:
        return apart, float("nan")
    return apart, float(2 * stdtr(ap_df, -abs(apart) / np.sqrt(total)))


def _without_drift(block: FullBlock, who: int, rest: list[int]) -> FullBlock:
    """Return the block with the own drift of one assessor taken off the scores."""
    score = block.score.copy()
    mine = (block.who == who) & ~np.isnan(block.position)
    holes = block.holes(rest)
    for n in range(len(score)):
        places = _places(block, block.score[n], [*rest, who])
        least = float(block.rounding[n])
        slope, _ = _drift(places, block.y[n], block.score[n], (who, rest), (int(holes[n]), least))
        if not np.isnan(slope):
            score[n, mine] -= slope * block.position[mine]
    return with_scores(block, score)


def _smallest(block: FullBlock, reference: list[int], limit: float) -> float:
    """Return the smallest whole-card slope difference found with probability .8."""
    found = []
    for who in reference:
        rest = [x for x in reference if x != who]
        if len(rest) < 2:
            continue
        x, _, theirs, noise, _, _, least = _profiles(block, who, rest)
        used = noise > 0
        if not used.any():
            continue
        m, j = len(rest), x.shape[1]
        weight = x[used] / noise[used, None]
        size = float((x[used] * weight).sum())
        others = np.einsum("aj,amj->mj", weight, theirs[used])
        by_sample = (others**2).sum(axis=0) / (m - 1) * j / (j - 1)
        by_sample = np.maximum(by_sample, (weight**2 * least[used, None]).sum(axis=0))
        if size <= 0:
            continue
        df = float(by_sample.sum()) ** 2 / float((by_sample**2).sum() / (m - 1))
        se = np.sqrt(by_sample.sum() * m / (m + 1)) / size
        found.append((stdtrit(df, 1 - limit / 2) + stdtrit(df, POWER)) * se)
    return float(np.median(found)) if found else float("nan")
