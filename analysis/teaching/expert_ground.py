"""Can the expert be a measure here? Expert against expert, bottle against bottle, first.

Three things are looked at before any student is: whether experts part by more than
their own scatter, whether the expert's own cups tell the bottles apart, and whether an
expert stands alone against a class that agrees with itself (a swapped cup, a wrong code).
What fails is left out of every judgement, and said.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import pandas as pd
from scipy.special import chdtrc, fdtrc

from ..core.p_values import holds
from ..core.ratings_matrix import Floats
from ..inference.adjusted_p import adjust
from .class_scores import ClassScores, Scatter, centred
from .expert_sides import who_stands_alone

SEPARATES = 0.01
"""p below which the expert's own cups tell the bottles of an attribute apart."""
SLIP = 1.5
"""A slip is looked for where class and expert part by this many margins on a bottle."""
AGREEING = 3
"""Students from whom on a class may stand against its expert; fewer leave open whose it is."""
EXCHANGED = 0.5
"""Two bottles of one student look exchanged where the other way round halves their distance."""
SLIPS_AT_MOST = 1 / 3
"""Share of a session's bottles above which class and expert part at large: that is no slip."""
ENOUGH_REPEATS = 6
"""Degrees of freedom below which an attribute takes the repeatability of the whole card."""
BETWEEN_COLUMNS = ["first", "second", "attribute", "level_gap", "distance", "F", "p"]
SLIP_COLUMNS = ["session", "sample", "distance", "p"]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Ground:
    """What the experts give to compare with.

    Attributes
    ----------
    means : array, shape (U, A)
        The experts' means without their slips; nan where there is nothing to compare with.
    scatter : dict of str to Scatter
        By attribute: of the experts' own cups, or borrowed from the students'.
    borrowed : bool
        No expert tasted a bottle twice: `scatter` is the students'.
    error : dict of str to float
        Variance of one of `means` from that scatter.
    order_told : list of str
        Attributes on which the order of the bottles may be judged.
    alike : list of str
        Attributes on which the expert's cups do not tell the bottles apart.
    parted : list of str
        Attributes on which experts contradict one another.
    level_room : dict of str to float
        Half of the distance between the highest and the lowest expert's level.
    between : DataFrame
        ``first, second, attribute, level_gap, distance, F, p, parted``: each pair of experts;
        distance is the root mean square of their differences, levels taken off.
    slips : DataFrame
        ``session, sample, distance, p``: bottles on which the class agrees against the expert.
    unsettled : bool
        The students are fewer than `AGREEING`: of `slips` it cannot be said whose they are.
    sides : DataFrame
        ``expert, attribute, times, of_sessions``: an expert whom all others contradict, who agree
        with each other; in how many sessions the order ran against theirs.
    """

    means: Floats
    scatter: dict[str, Scatter]
    borrowed: bool
    error: dict[str, float]
    order_told: list[str]
    alike: list[str]
    parted: list[str]
    level_room: dict[str, float]
    between: pd.DataFrame
    slips: pd.DataFrame
    unsettled: bool
    sides: pd.DataFrame


def expert_ground(
    scores: ClassScores,
    experts: Sequence[str],
    students: Sequence[str],
    *,
    margin: float,
    alpha: float,
) -> Ground:
    """Look at the experts before the students.

    Parameters
    ----------
    scores : ClassScores
    experts, students : sequences of str
    margin : float
        Scale points that are still near enough; experts part where they differ by more.
    alpha : float
        Chance, at most, of calling agreeing experts parted; and the same of a slip.
    """
    names = scores.attributes
    own = {name: scores.scatter(experts, place) for place, name in enumerate(names)}
    borrowed = bool(names) and not any(found.df for found in own.values())
    lent = {name: scores.scatter(students, place) for place, name in enumerate(names)}
    scatter = _steadied(lent if borrowed else own)
    means = joint_means(scores, experts)
    between = _between(scores, experts, scatter, margin=margin, alpha=alpha)
    parted = list(dict.fromkeys(between.loc[between["parted"], "attribute"]))
    error = {
        name: scatter[name].sd ** 2 / scores.cups_a_cell(experts, place) / len(experts)
        for place, name in enumerate(names)
    }
    agreed = [place for place, name in enumerate(names) if name not in parted]
    slips = _slips(
        scores, means, students, np.array([error[name] for name in names]), agreed,
        margin=margin, alpha=alpha,
    )  # fmt: skip
    for row in slips.itertuples():
        means[scores.bottles.index((str(row.session), str(row.sample)))] = np.nan
    alike = [
        names[place]
        for place in agreed
        if not _tells_apart(scores, means[:, place], error[names[place]], scatter[names[place]].df)
    ]
    return Ground(
        means=means,
        scatter=scatter,
        borrowed=borrowed,
        error=error,
        order_told=[name for name in names if name not in alike and name not in parted],
        alike=alike,
        parted=parted,
        level_room={name: _level_room(scores, experts, place) for place, name in enumerate(names)},
        between=between,
        slips=slips,
        unsettled=len(students) < AGREEING,
        sides=who_stands_alone(scores, experts, between),
    )


def _steadied(each: dict[str, Scatter]) -> dict[str, Scatter]:
    """Put the scatter of the whole card in place of one from too few repeats."""
    df = sum(one.df for one in each.values())
    if not df:
        return each
    whole = float(np.sqrt(sum(one.df * one.sd**2 for one in each.values() if one.df) / df))
    return {
        name: one if one.df >= ENOUGH_REPEATS else Scatter(whole, df) for name, one in each.items()
    }


def joint_means(scores: ClassScores, people: Sequence[str]) -> Floats:
    """Return people's joint means, shape (U, A); whoever is absent takes no level with them."""
    each = np.stack([scores.of(who) for who in people])
    whole = ~np.isnan(each).any(axis=0)
    shared = np.where(whole, each, np.nan)
    with np.errstate(all="ignore"):
        count = np.maximum(whole.sum(axis=0), 1)
        levels = np.nansum(shared, axis=1) / count
        each = each - (levels - levels.mean(axis=0))[:, None]
        there = (~np.isnan(each)).sum(axis=0)
        return np.where(there > 0, np.nansum(each, axis=0) / np.maximum(there, 1), np.nan)


def _between(
    scores: ClassScores,
    experts: Sequence[str],
    scatter: dict[str, Scatter],
    *,
    margin: float,
    alpha: float,
) -> pd.DataFrame:
    """Compare each pair of experts: interaction with the bottles against their own scatter."""
    rows = []
    for first, second in combinations(experts, 2):
        gaps = scores.of(first) - scores.of(second)
        for place, name in enumerate(scores.attributes):
            known = ~np.isnan(gaps[:, place])
            gap, session = gaps[known, place], scores.session[known]
            df = gap.size - np.unique(session).size
            distance = f = p = np.nan
            if df > 0:
                mean_square = float((centred(gap, session) ** 2).sum()) / df
                distance = float(np.sqrt(mean_square))
                cups = sum(1 / scores.cups_a_cell([who], place) for who in (first, second))
                expected = scatter[name].sd ** 2 * cups
                if scatter[name].df and expected > 0:
                    f = mean_square / expected
                    p = float(fdtrc(df, scatter[name].df, f))
            level = float(gap.mean()) if gap.size else np.nan
            rows.append((first, second, name, level, distance, f, p))
    table = pd.DataFrame(rows, columns=BETWEEN_COLUMNS)
    held = (
        holds(adjust(table["p"].to_numpy(float)), alpha) if len(table) else np.array([], dtype=bool)
    )
    return table.assign(parted=held & (table["distance"] > margin).to_numpy(bool))


def _tells_apart(scores: ClassScores, mean: Floats, error: float, df: int) -> bool:
    """Tell whether the expert's means differ by more than their own scatter (F)."""
    known = ~np.isnan(mean)
    between = int(known.sum()) - np.unique(scores.session[known]).size
    if between < 1 or not df:
        return False
    mean_square = float((centred(mean[known], scores.session[known]) ** 2).sum()) / between
    if not error > 0:
        return mean_square > 0
    return bool(fdtrc(between, df, mean_square / error) < SEPARATES)


def _level_room(scores: ClassScores, experts: Sequence[str], place: int) -> float:
    each = [scores.of(who)[:, place] for who in experts]
    levels = [float(np.nanmean(own)) for own in each if not np.isnan(own).all()]
    return (max(levels) - min(levels)) / 2 if levels else 0.0


def _slips(
    scores: ClassScores,
    means: Floats,
    students: Sequence[str],
    error: Floats,
    places: list[int],
    *,
    margin: float,
    alpha: float,
) -> pd.DataFrame:
    """Find bottles on which a class that agrees with itself parts from the expert.

    For each bottle the median over students of their scores (own level of the session taken
    off) is set against the expert's, attribute by attribute, in units of both scatters; the
    mean square over attributes is judged as a chi-square, Holm over all bottles. Of two students
    the one nearer to the expert counts, where both lie on one side; what one student alone
    leaves counts only where two bottles look exchanged.
    """
    rows: list[tuple[str, str, float, float]] = []
    lonely: dict[str, str] = {}
    away = np.stack([scores.of(who) - means for who in students])[:, :, places]
    for number, session in enumerate(scores.sessions):
        at = np.flatnonzero(scores.session == number)
        mine = away[:, at]
        there = ~np.isnan(mine).all(axis=(1, 2))
        mine = mine[there]
        usable = ~np.isnan(mine).all(axis=(0, 1))
        if not len(mine) or not usable.any() or (len(mine) < AGREEING <= len(students)):
            continue
        if len(mine) == 1:
            lonely[session] = students[int(there.argmax())]
        mine = mine[:, :, usable]
        mine = mine - _median(mine, 1)
        middle = _median(mine, 0)[0]
        apart = np.abs(mine - middle) if len(mine) > 1 else np.abs(mine)
        spread = np.nanmedian(apart, axis=(0, 1)) * 1.4826
        variance = spread**2 * np.pi / 2 / len(mine) + error[places][usable]
        middle = _shared(mine) if len(mine) < AGREEING else middle
        used = np.isfinite(middle) & (variance > 0)
        count = used.sum(axis=1)
        squared = np.where(used, middle**2, 0.0)
        total = (squared / np.where(variance > 0, variance, 1.0)).sum(axis=1)
        distance = np.sqrt(squared.sum(axis=1) / np.maximum(count, 1))
        p = np.where(count > 0, chdtrc(np.maximum(count, 1), total), np.nan)
        rows += [
            (session, scores.bottles[unit][1], float(d), float(q))
            for unit, d, q in zip(at, distance, p, strict=True)
        ]
    table = pd.DataFrame(rows, columns=SLIP_COLUMNS)
    if not rows:
        return table
    held = holds(adjust(table["p"].to_numpy(float)), alpha)
    slip = pd.Series(held & (table["distance"] > SLIP * margin).to_numpy(bool))
    share = slip.groupby(table["session"]).transform("mean")
    found = table.loc[slip & (share <= SLIPS_AT_MOST + 1e-9)].reset_index(drop=True)
    told = [
        str(session)
        for session, pair in found.groupby("session")
        if session not in lonely
        or _look_exchanged(
            scores, means, scores.of(lonely[str(session)]), str(session), list(pair["sample"])
        )
    ]
    return found.loc[found["session"].isin(told)].reset_index(drop=True)


def _shared(away: Floats) -> Floats:
    """Return what one or two students, bottles and attributes after them, have in common."""
    same = (np.sign(away) == np.sign(away[0])).all(axis=0)
    nearest = np.take_along_axis(away, np.abs(away).argmin(axis=0)[None], axis=0)[0]
    return np.where(same, nearest, np.where(np.isnan(away).any(axis=0), np.nan, 0.0))


def _look_exchanged(
    scores: ClassScores, means: Floats, own: Floats, session: str, samples: list[str]
) -> bool:
    """Tell whether two bottles fit much better the other way round."""
    if len(samples) != 2:
        return False
    pair = [scores.bottles.index((session, sample)) for sample in samples]
    others = scores.session == scores.session[pair[0]]
    others[pair] = False
    level = np.nanmean(np.where(others[:, None], own - means, np.nan), axis=0)
    there = float(np.nansum((own[pair] - level - means[pair]) ** 2))
    back = float(np.nansum((own[pair] - level - means[pair[::-1]]) ** 2))
    return back < EXCHANGED**2 * there


def _median(values: Floats, axis: int) -> Floats:
    """Return the median of the known values, kept as an axis; nan where none is known."""
    known = ~np.isnan(values).all(axis=axis, keepdims=True)
    return np.where(known, np.nanmedian(np.where(known, values, 0.0), axis=axis, keepdims=True),
                    np.nan)  # fmt: skip
