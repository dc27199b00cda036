"""The maker and the known tastes: how far do they stand from the others, and does it matter?

`group_shift` compares a group (the maker; those who declared to like or
dislike the style) with everybody else on the same samples, assessors being the
unit. `stability` leaves assessors out one by one and tells which conclusions
hang on one person.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Unpack

import numpy as np
import pandas as pd
from scipy.special import stdtr, stdtrit

from ..anova.whole_table import Anova, anova
from ..core.errors import NotEstimable, OptionError
from ..core.options import share_of
from ..core.p_values import holds
from ..core.ratings_matrix import Floats
from ..core.result import Result, copies
from ..core.tidy_table import LongColumns, Tidy, as_tidy
from ..core.two_way import levels
from ..core.wording import short, stated_percent
from ..core.words import Sentence

Judge = Callable[[Tidy], Mapping[str, float]]
BY_CHANCE = 0.25
"""Shifts expected by chance alone from which their number is said."""
LEAST_LEFT = 4
"""Assessors from whom one can be left out to see whether a claim hangs on him or her."""

_SHIFT = [
    "attribute", "shift", "low", "high", "p", "outside_p", "n_group", "n_others", "n_samples",
]  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class GroupShift(Result):
    """A group of assessors against the others.

    Attributes
    ----------
    group : list of str
        Codes of the group.
    label : str
        What the group is called in the sentences.
    table : DataFrame
        One row per attribute: ``shift`` (mean of the group less mean of the
        others, in scale points) with limits and ``p``; ``outside_p`` (does a
        single person stand outside the spread of the others? nan for groups
        of two or more); ``n_group, n_others, n_samples``.
    by_sample : DataFrame
        ``attribute, sample, shift``: without limits, to look at.
    refused : DataFrame
        ``attribute, reason``.
    level : float
    """

    group: list[str]
    label: str
    table: pd.DataFrame
    by_sample: pd.DataFrame
    refused: pd.DataFrame
    level: float

    def sentences(self) -> tuple[Sentence, ...]:
        """Say where the group is shifted, and where that is not shown."""
        spoken = {"label": self.label, "level": stated_percent(self.level)}
        said = []
        still: list[str] = []
        widest = 0.0
        for row in self.table.to_dict("records"):
            low, high = float(row["low"]), float(row["high"])
            if low <= 0 <= high:
                still.append(str(row["attribute"]))
                widest = max(widest, -low, high)
                continue
            ends = sorted((abs(low), abs(high)))
            said.append(
                Sentence.of(
                    ("groups.above" if low > 0 else "groups.below")
                    + ("_usual" if not holds(row["outside_p"], 1 - self.level) else ""),
                    attribute=row["attribute"],
                    shift=short(abs(float(row["shift"]))),
                    low=short(ends[0]),
                    high=short(ends[1]),
                    **spoken,
                )
            )
        if still:
            said.append(
                Sentence.of("groups.open", attributes=still, widest=short(widest), **spoken)
            )
        return tuple(said) or (Sentence.of("groups.nothing", label=self.label),)

    def tables(self) -> dict[str, pd.DataFrame]:
        """Return the shifts."""
        return copies(**{"groups.heading_shift": self.table})


def group_shift(
    table: Tidy | pd.DataFrame,
    group: Sequence[str],
    *,
    others: Sequence[str] | None = None,
    attributes: Sequence[str] | None = None,
    label: str = "",
    level: float = 0.95,
    **column_names: Unpack[LongColumns],
) -> GroupShift:
    """Compare a group of assessors with the others, attribute by attribute.

    Parameters
    ----------
    table : Tidy or DataFrame
    group : sequence of str
        Codes of the group: the maker alone, or those who declared a liking.
    others : sequence of str, optional
        The comparison; everybody else by default.
    attributes : sequence of str, optional
    label : str
        Name of the group in sentences; the codes by default.
    level : float
    **column_names : str
        What the columns of a DataFrame are called, as in `tidy`.

    Returns
    -------
    GroupShift

    Raises
    ------
    OptionError
        If a code is not in the table, or stands on both sides.
    NotEstimable
        For fewer than two others: their spread is what the interval is made from.

    Notes
    -----
    Assessors' levels are compared (least squares of assessor and sample effects
    where not everybody tasted everything). One person: ``shift ± t * sqrt(s**2 / m
    + v)`` with m - 1 df, s the spread of the others' levels and v the
    variance of one level from the assessor × sample interaction; `outside_p`
    sets the shift against the spread of single others. Two or more: Welch.

    Examples
    --------
    >>> rows = [("M1", b, 8.0 + b) for b in (1, 2, 3)]
    >>> for i in (1, 2, 3, 4):
    ...     rows += [(f"T{i}", b, 5.0 + b + 0.2 * i * (-1) ** b) for b in (1, 2, 3)]
    >>> found = group_shift(pd.DataFrame(rows, columns=["assessor", "sample", "score"]), ["M1"])
    >>> float(found.table["shift"].round(2).iloc[0])
    3.17
    """
    share_of("level", level)
    checked = as_tidy(table, **column_names)
    people = checked.assessors
    mine = [str(name) for name in group]
    rest = [name for name in people if name not in mine] if others is None else list(others)
    unknown = [name for name in [*mine, *rest] if name not in people]
    if unknown or not mine or set(mine) & set(rest):
        raise OptionError("groups.codes", found=unknown or mine, have=people)
    rows, samples, refused = [], [], []
    for name in attributes or checked.attributes:
        wide = checked.of(name).pivot_table(index="assessor", columns="sample", values="score")
        here = [who for who in mine if who in wide.index]
        there = [who for who in rest if who in wide.index]
        if not here or len(there) < 2:
            refused.append((name, Sentence.of("groups.too_few", n=len(there))))
            continue
        wide = wide.loc[[*here, *there]].dropna(axis=1, how="all")
        values = wide.to_numpy(float)
        rows.append((name, *_shift(values, len(here), level), wide.shape[1]))
        apart = wide.loc[here].mean(axis=0) - wide.loc[there].mean(axis=0)
        samples += [(name, str(sample), float(value)) for sample, value in apart.items()]
    if not rows:
        raise NotEstimable("groups.too_few", n=len(rest))
    return GroupShift(
        group=mine,
        label=label or ", ".join(mine),
        table=pd.DataFrame(rows, columns=_SHIFT),
        by_sample=pd.DataFrame(samples, columns=["attribute", "sample", "shift"]),
        refused=pd.DataFrame(refused, columns=["attribute", "reason"]),
        level=level,
        warnings=_notes(len(mine), len(rows), level),
    )


def _notes(people: int, attributes: int, level: float) -> tuple[Sentence, ...]:
    notes = [Sentence.of("groups.single")] if people == 1 else []
    chance = (1 - level) * attributes
    if chance >= BY_CHANCE:
        notes.append(Sentence.of("groups.many", n=attributes, k=short(chance, 2)))
    return tuple(notes)


def _shift(
    values: Floats, n: int, level: float
) -> tuple[float, float, float, float, float, int, int]:
    """Return shift, limits, p, outside p and both numbers; the group's rows come first."""
    level_of = levels(values)
    mine, rest = level_of[:n], level_of[n:]
    m = rest.size
    shift = float(mine.mean() - rest.mean())
    spread = float(rest.std(ddof=1))
    outside = float("nan")
    if n == 1:
        left = values[1:] - rest[:, None]
        left = left - np.nanmean(left, axis=0)
        df = int((~np.isnan(left)).sum()) - m - left.shape[1] + 1
        own = float(np.nansum(left**2) / df / (~np.isnan(values[0])).sum()) if df > 0 else 0.0
        se, df_t = float(np.sqrt(spread**2 / m + own)), float(m - 1)
        if spread > 0:
            outside = float(2 * stdtr(m - 1, -abs(shift) / (spread * np.sqrt(1 + 1 / m))))
    else:
        parts = np.array([mine.var(ddof=1) / n, rest.var(ddof=1) / m])
        se = float(np.sqrt(parts.sum()))
        below = float((parts**2 / np.array([n - 1, m - 1])).sum())
        df_t = float(parts.sum() ** 2 / below) if below > 0 else float(n + m - 2)
    half = float(stdtrit(df_t, (1 + level) / 2)) * se
    p = float(2 * stdtr(df_t, -abs(shift) / se)) if se > 0 else float("nan")
    return shift, shift - half, shift + half, p, outside, n, m


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Stability(Result):
    """Conclusions about the samples with each assessor left out.

    Attributes
    ----------
    table : DataFrame
        One row per attribute: ``p`` of the whole panel, adjusted for all the
        attributes, ``shown`` (at `alpha`), ``p_smallest, p_largest`` (adjusted
        as well) over the panels with one left out, ``stable``
        (the conclusion and the sample at the top stay the same), ``hangs_on``
        (codes whose absence changes it), ``top`` (sample with the highest mean).
    runs : DataFrame
        ``attribute, left_out, F, p, top``, every panel with one left out.
    refused : DataFrame
        ``attribute, reason``.
    alpha : float
    """

    table: pd.DataFrame
    runs: pd.DataFrame
    refused: pd.DataFrame
    alpha: float

    def sentences(self) -> tuple[Sentence, ...]:
        """Say which conclusions stand whoever is left out, and which hang on whom."""
        firm = self.table[self.table["stable"] & self.table["shown"]]["attribute"].tolist()
        said = [Sentence.of("groups.stable", attributes=firm)] if firm else []
        for row in self.table[~self.table["stable"]].to_dict("records"):
            key = "groups.hangs_shown" if row["shown"] else "groups.hangs_open"
            said.append(Sentence.of(key, attribute=row["attribute"], names=row["hangs_on"]))
        return tuple(said)

    def tables(self) -> dict[str, pd.DataFrame]:
        """Return the attributes."""
        shown = self.table.assign(hangs_on=[", ".join(names) for names in self.table["hangs_on"]])
        return copies(**{"groups.heading_stability": shown})


def stability(
    table: Tidy | pd.DataFrame,
    *,
    attributes: Sequence[str] | None = None,
    alpha: float = 0.05,
    judge: Judge | None = None,
    **column_names: Unpack[LongColumns],
) -> Stability:
    """Test the samples again with each assessor left out, by the rule of the verdict.

    Parameters
    ----------
    table : Tidy or DataFrame
    attributes : sequence of str, optional
    alpha : float
        Adjusted p up to which samples count as shown to differ.
    judge : callable, optional
        The rule by which the verdict was reached: takes a table and returns
        the adjusted p of each attribute that it can test. By default Holm's
        adjustment over the attributes of the mixed-model ANOVA. It judges the
        whole panel and each panel with one left out, so that what is said here
        can't differ from the verdict.
    **column_names : str
        What the columns of a DataFrame are called, as in `tidy`.

    Raises
    ------
    NotEstimable
        For fewer than four assessors: the rest would be no panel.

    Notes
    -----
    A conclusion is 'the samples differ' (adjusted p at most `alpha`), together
    with the sample at the top when they do; an attribute in which nothing was
    concluded is not called stable in the sentences. Leaving one out also costs power; a p that
    moves from .04 to .06 hangs on everybody a little, and is told so.
    """
    share_of("alpha", alpha)
    checked = as_tidy(table, **column_names)
    people = checked.assessors
    if len(people) < LEAST_LEFT:
        raise NotEstimable("groups.no_stability", n=len(people))
    wanted = list(attributes or checked.attributes)
    checked = _only(checked, wanted)
    whole = anova(checked)
    verdict = judge(checked) if judge else _by_holm(whole)
    runs = []
    for who in people:
        rest = checked.data[checked.data["assessor"] != who].reset_index(drop=True)
        part = Tidy(data=rest, dropped=checked.dropped)
        found = anova(part)
        judged = judge(part) if judge else _by_holm(found)
        runs += [
            (name, who, found[name].sample.F, judged.get(name, float("nan")), _top(found, name))
            for name in whole.attributes
            if name in found.attributes
        ]
    each = pd.DataFrame(runs, columns=["attribute", "left_out", "F", "p", "top"])
    rows = []
    for name in whole.attributes:
        mine = each[each["attribute"] == name]
        p = verdict.get(name, float("nan"))
        shown = holds(p, alpha)
        top = _top(whole, name)
        turned = holds(mine["p"], alpha) != shown
        if shown:
            turned |= mine["top"] != top
        hangs_on = [str(x) for x in mine.loc[turned, "left_out"]]
        rows.append((name, p, shown, mine["p"].min(), mine["p"].max(), not hangs_on, hangs_on, top))
    columns = ["attribute", "p", "shown", "p_smallest", "p_largest", "stable", "hangs_on", "top"]
    return Stability(
        table=pd.DataFrame(rows, columns=columns).astype({"shown": bool, "stable": bool}),
        runs=each,
        refused=pd.DataFrame(list(whole.refused.items()), columns=["attribute", "reason"]),
        alpha=alpha,
    )


def _only(table: Tidy, attributes: list[str]) -> Tidy:
    """Keep some attributes."""
    kept = table.data[table.data["attribute"].isin(attributes)].reset_index(drop=True)
    return Tidy(data=kept, dropped=table.dropped)


def _by_holm(found: Anova) -> dict[str, float]:
    """Return the p of each attribute, adjusted for all of them by Holm's method."""
    tests = found.tests()
    return dict(zip(tests["attribute"].astype(str), tests["p_holm"].astype(float), strict=True))


def _top(found: Anova, attribute: str) -> str:
    means = found[attribute].means
    return str(means["sample"].iloc[int(means["mean"].to_numpy().argmax())])
