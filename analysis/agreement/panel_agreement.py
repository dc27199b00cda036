"""Does the panel agree? The suitable measures per attribute and overall, and why these.

One table can show agreement from .11 to .91, depending on the coefficient:
the choice is part of the result and is told in words.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Unpack

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..core.errors import NotEstimable, OptionError
from ..core.ratings_matrix import Floats, check_level, guess_scale, percent_agreement
from ..core.result import Interval
from ..core.tidy_table import LongColumns, Tidy, as_tidy
from ..core.wording import cell_words, percent, short, stated_percent
from ..core.words import Sentence
from .agreement_result import COLUMNS, Agreement, AttributeAgreement, said_of
from .bland_altman import limits_of_agreement
from .intraclass import icc
from .kappas import category_counts, cohen_kappa, fleiss_kappa
from .kendall import kendall_w
from .krippendorff import (
    LEVELS,
    PourCounts,
    counted,
    estimate,
    jackknife,
    krippendorff_alpha,
    leave_one_out,
)
from .lin_concordance import concordance_correlation

WIDE = 0.5
"""Width of limits of agreement above which it is said that it may be slight or strong."""
LEVEL_COST, SOME = 0.2, 0.3
"""Consistency above absolute agreement by more than the first, and itself above the second:
it is said that they start from different levels. Chosen by hand, no source."""
HARDLY_VARIES = 0.9
"""Share of one same answer from which it is said that there was little to agree on."""
Row = tuple[str, float, Interval | None, int, int, str]


def agreement(
    table: Tidy | pd.DataFrame,
    *,
    scales: Mapping[str, str] | None = None,
    level: float = 0.95,
    **column_names: Unpack[LongColumns],
) -> Agreement:
    """Measure how far the assessors agree, attribute by attribute and overall.

    Parameters
    ----------
    table : Tidy or DataFrame
        A DataFrame is checked as `tidy` does.
    scales : mapping of attribute to {"nominal", "ordinal", "interval", "ratio"}, optional
        What a difference in score means. Without it: ticks (0/1) are nominal,
        whole numbers that span at most five steps are ordinal, all other
        scores interval.
    level : float
        Confidence level of all intervals.
    **column_names : str
        What the columns of a DataFrame are called, as in `tidy`.

    Returns
    -------
    Agreement

    Raises
    ------
    NotEstimable
        For one assessor, or one sample.
    OptionError
        For an unknown scale or attribute.

    Notes
    -----
    Interval scores are averaged over the repeats of one assessor on one
    sample, so a single score means the mean of these repeats. Ticks and
    categories are not averaged: every pour is compared, and the pours of one
    sample are left out together when limits are made. Nothing here is random:
    limits come from F distributions (intraclass correlations) and from
    leaving out samples (alpha, kappa) or assessors (W) one by one.

    Examples
    --------
    >>> judges = [(9, 6, 8, 7, 10, 6), (2, 1, 4, 1, 5, 2), (5, 3, 6, 2, 6, 4), (8, 2, 8, 6, 9, 7)]
    >>> scores = pd.DataFrame(
    ...     [(f"judge {j}", i, x) for j, row in enumerate(judges) for i, x in enumerate(row)],
    ...     columns=["assessor", "sample", "score"],
    ... )
    >>> found = agreement(scores).attributes["score"]
    >>> found.main, round(found.value("ICC(A,1)"), 2), round(found.value("ICC(C,k)"), 2)
    ('ICC(A,1)', 0.29, 0.91)
    """
    check_level(level)
    table = as_tidy(table, **column_names)
    scales = dict(scales or {})
    for name, scale in scales.items():
        if name not in table.attributes:
            raise OptionError("agreement.no_attribute", found=name, have=table.attributes)
        if scale not in LEVELS:
            raise OptionError("agreement.bad_measurement", found=scale, allowed=LEVELS)
    if len(table.assessors) < 2 or len(table.samples) < 2:
        raise NotEstimable(
            "agreement.too_few",
            samples=len(table.samples),
            assessors=len(table.assessors),
            need_samples=2,
            need_assessors=2,
        )
    place = {name: index for index, name in enumerate(table.samples)}
    results: dict[str, AttributeAgreement] = {}
    items: dict[str, PourCounts] = {}
    still: list[str] = []
    cells = _Cells(table)
    parts = dict(iter(table.data.groupby("attribute", sort=False, observed=True)))
    for name in table.attributes:
        rows = parts[name]
        scale = scales.get(name) or guess_scale(rows["score"].to_numpy())
        ratings, samples = cells.means(name) if _averaged(scale) else _pours(rows)
        results[name] = _attribute(
            name, rows, ratings, samples, repeats=cells.repeats(name), scale=scale, level=level
        )
        item = counted(
            ratings, scale, np.array([place[sample] for sample in samples], dtype=np.intp)
        )
        if item.values.size > 1:
            items[name] = item
        if rows["score"].nunique() < 2:
            still.append(name)
    return Agreement(
        attributes=results,
        overall=_overall(items, level) if items else None,
        no_variation=still,
        level=level,
        warnings=_gathered(results, len(table.dropped)),
    )


def _averaged(scale: str) -> bool:
    """Tell whether the repeats of one assessor on one sample are averaged."""
    return scale in ("interval", "ratio")


class _Cells:
    """Every attribute's means of repeats and their number, all from one pass over the table."""

    def __init__(self, table: Tidy) -> None:
        data = table.data
        codes, names = zip(
            *(pd.factorize(data[name], sort=True) for name in ("attribute", "sample", "assessor")),
            strict=True,
        )
        grouped = data["score"].groupby(list(codes)).agg(["mean", "size"])
        at = tuple(grouped.index.get_level_values(level) for level in range(3))
        self._ratings = np.full([len(part) for part in names], np.nan)
        self._ratings[at] = grouped["mean"]
        self._sizes = np.zeros(self._ratings.shape, dtype=int)
        self._sizes[at] = grouped["size"]
        self._place = {str(name): place for place, name in enumerate(names[0])}
        self._samples = np.array([str(name) for name in names[1]])

    def means(self, attribute: str) -> tuple[Floats, list[str]]:
        """Return ratings (samples in rows, assessors in columns) and each row's sample."""
        ratings = self._ratings[self._place[attribute]]
        there = ~np.isnan(ratings)
        rows = there.any(axis=1)
        return ratings[rows][:, there.any(axis=0)], self._samples[rows].tolist()

    def repeats(self, attribute: str) -> int:
        """Return the most answers of one assessor on one sample."""
        return int(self._sizes[self._place[attribute]].max())


def _pours(rows: pd.DataFrame) -> tuple[Floats, list[str]]:
    """Return ratings (pours in rows, assessors in columns) and each row's sample."""
    pour = rows.assign(replicate=rows["replicate"].astype("Int64").fillna(1))
    wide = pour.pivot_table(
        index=["sample", "session", "replicate"], columns="assessor", values="score", sort=True
    )
    return wide.to_numpy(float), [str(name) for name in wide.index.get_level_values("sample")]


def _attribute(
    name: str,
    rows: pd.DataFrame,
    ratings: Floats,
    samples: list[str],
    *,
    repeats: int,
    scale: str,
    level: float,
) -> AttributeAgreement:
    pooled = np.unique(samples, return_inverse=True)[1]
    found = _Collector()
    n_assessors = int((~np.isnan(ratings)).any(axis=0).sum())
    shared: dict[str, float] | None = None
    if _averaged(scale):
        found.take("ICC", lambda: _icc_rows(ratings, level))
        found.take("Lin", lambda: _lin_rows(ratings, level), wanted=n_assessors == 2)
        if n_assessors == 2:
            shared = found.limits(ratings, level)
    elif repeats > 1:
        found.refuse("kappa", Sentence.of("agreement.kappa_repeats"))
    elif n_assessors == 2:
        weights = "none" if scale == "nominal" else "linear"
        found.take("Cohen's kappa", lambda: _cohen_rows(ratings, weights, level))
    elif scale == "nominal":
        found.take("Fleiss' kappa", lambda: _fleiss_rows(ratings, level))
    found.take("alpha", lambda: _alpha_rows(ratings, scale, pooled, level))
    if scale != "nominal":
        alone = len(set(samples)) == len(samples)
        means = ratings if alone else pd.DataFrame(ratings).groupby(pooled).mean().to_numpy()
        found.take("W", lambda: _w_rows(means, level))
    order = [row[0] for row in found.rows]
    main = order[0] if order else None
    if scale in ("interval", "ratio") and "ICC(A,1)" in order:
        main = "ICC(A,1)"
    elif scale == "ordinal" and f"alpha ({scale})" in order:
        main = f"alpha ({scale})"
    measures = pd.DataFrame(
        [
            (
                measure,
                value,
                limits.low if limits else np.nan,
                limits.high if limits else np.nan,
                n,
                m,
                method,
            )
            for measure, value, limits, n, m, method in found.rows
        ],
        columns=list(COLUMNS),
    ).astype({"estimate": float, "low": float, "high": float})
    return AttributeAgreement(
        attribute=name,
        scale=scale,
        main=main,
        measures=measures,
        refused=pd.DataFrame(found.refused, columns=["measure", "reason"]),
        limits=shared,
        percent_agreement=percent_agreement(ratings),
        n_samples=len(set(samples)),
        n_assessors=n_assessors,
        n_answers=len(rows),
        repeats=repeats,
        choice=_choice(scale, n_assessors, repeats, holes=bool(np.isnan(ratings).any())),
        reading=_reading(found, main, rows, level),
        warnings=tuple(dict.fromkeys(found.warnings)),
    )


class _Collector:
    """Gather measures; what cannot be estimated is kept with its reason."""

    def __init__(self) -> None:
        self.rows: list[Row] = []
        self.refused: list[tuple[str, Sentence]] = []
        self.warnings: list[Sentence] = []
        self.still: Sentence | None = None

    def take(
        self,
        label: str,
        compute: Callable[[], tuple[list[Row], tuple[Sentence, ...]]],
        *,
        wanted: bool = True,
    ) -> None:
        if not wanted:
            return
        try:
            rows, notes = compute()
        except NotEstimable as refusal:
            self.refuse(label, refusal.sentence)
        else:
            self.rows += rows
            self.warnings += notes

    def refuse(self, label: str, why: Sentence) -> None:
        self.refused.append((label, why))
        if why.key == "agreement.no_variation":
            self.still = why

    def estimate(self, name: str) -> float:
        return next(row[1] for row in self.rows if row[0] == name)

    def interval(self, name: str) -> Interval | None:
        return next(row[2] for row in self.rows if row[0] == name)

    def limits(self, ratings: Floats, level: float) -> dict[str, float] | None:
        two = ratings[:, (~np.isnan(ratings)).any(axis=0)]
        try:
            found = limits_of_agreement(two[:, 0], two[:, 1], level=level)
        except NotEstimable as refusal:
            self.refuse("limits", refusal.sentence)
            return None
        return {"bias": found.bias, "low": found.low, "high": found.high, "sd": found.sd}


def _icc_rows(ratings: Floats, level: float) -> tuple[list[Row], tuple[Sentence, ...]]:
    found = icc(ratings, level=level)
    columns = (found.table[name].tolist() for name in ("coefficient", "estimate", "low", "high"))
    return [
        (name, value, Interval(low, high, level), found.n_samples, found.n_assessors, found.method)
        for name, value, low, high in zip(*columns, strict=True)
        if "(1," not in name
    ], found.warnings


def _alpha_rows(
    ratings: Floats, scale: str, pooled: NDArray[np.intp], level: float
) -> tuple[list[Row], tuple[Sentence, ...]]:
    found = krippendorff_alpha(ratings, measurement=scale, sample=pooled, level=level, resamples=0)
    label, m = f"alpha ({scale})", int((~np.isnan(ratings)).any(axis=0).sum())
    row = (label, found.alpha, found.jackknife, found.n_samples, m, "jackknife over samples")
    return [row], found.warnings


def _w_rows(means: Floats, level: float) -> tuple[list[Row], tuple[Sentence, ...]]:
    found = kendall_w(means, level=level, permutations=0)
    row = (
        "W",
        found.w,
        found.interval,
        found.n_samples,
        found.n_assessors,
        "jackknife over assessors",
    )
    return [row], found.warnings


def _fleiss_rows(ratings: Floats, level: float) -> tuple[list[Row], tuple[Sentence, ...]]:
    counts, names = category_counts(ratings)
    found = fleiss_kappa(counts, categories=names, level=level)
    n, m = found.n_samples, found.n_assessors
    return [
        ("Fleiss' kappa", found.kappa, found.interval, n, m, "jackknife over samples")
    ], found.warnings


def _cohen_rows(
    ratings: Floats, weights: str, level: float
) -> tuple[list[Row], tuple[Sentence, ...]]:
    two = ratings[:, (~np.isnan(ratings)).any(axis=0)]
    found = cohen_kappa(two[:, 0], two[:, 1], weights=weights, level=level)
    name = "Cohen's kappa" if weights == "none" else f"Cohen's kappa, {weights} weights"
    return [(name, found.kappa, found.interval, found.n, 2, "asymptotic")], found.warnings


def _lin_rows(ratings: Floats, level: float) -> tuple[list[Row], tuple[Sentence, ...]]:
    two = ratings[:, (~np.isnan(ratings)).any(axis=0)]
    found = concordance_correlation(two[:, 0], two[:, 1], level=level)
    return [("Lin", found.concordance, found.interval, found.n, 2, "asymptotic")], found.warnings


def _choice(scale: str, assessors: int, repeats: int, *, holes: bool) -> Sentence:
    key = "two" if assessors == 2 else "panel"
    if scale in ("interval", "ratio"):
        name = f"agreement.choice_{'holes' if holes and assessors > 2 else key}"
        averaged = Sentence.of("agreement.averaged", n=repeats)
        return Sentence.of(name, more=averaged if repeats > 1 else "")
    if scale == "ordinal":
        return Sentence.of("agreement.choice_steps")
    if holes or repeats > 1:
        return Sentence.of("agreement.choice_ticks_holes")
    return Sentence.of(f"agreement.choice_ticks_{key}")


def _reading(
    found: _Collector, main: str | None, rows: pd.DataFrame, level: float
) -> tuple[Sentence, ...]:
    if main is None:
        if found.still is not None:
            return (found.still,)
        why = found.refused[0][1] if found.refused else Sentence.of("agreement.nothing")
        return (why,)
    value, limits = found.estimate(main), found.interval(main)
    low, high = (limits.low, limits.high) if limits else (np.nan, np.nan)
    spoken = {
        "measure": cell_words("measure", main),
        "estimate": short(value),
        "low": short(low),
        "high": short(high),
        "level": stated_percent(level),
    }
    if np.isnan(low):
        said = [Sentence.of("agreement.read_alone", **spoken)]
    elif low <= 0:
        said = [Sentence.of("agreement.read_open", **spoken)]
    elif high - low > WIDE:
        said = [Sentence.of("agreement.read_wide", **spoken)]
    else:
        said = [Sentence.of("agreement.read_shown", **spoken)]
    if main == "ICC(A,1)":
        other = found.estimate("ICC(C,1)")
        if other - value > LEVEL_COST and other > SOME:
            said.append(
                Sentence.of("agreement.level_costs", absolute=short(value), consistent=short(other))
            )
    share = rows["score"].value_counts(normalize=True).iloc[0]
    if share >= HARDLY_VARIES:
        said.append(Sentence.of("agreement.hardly_varies", share=percent(share)))
    return tuple(said)


def _overall(items: Mapping[str, PourCounts], level: float) -> dict[str, Any]:
    point = float(np.mean([estimate(item) for item in items.values()]))
    left_out = leave_one_out(list(items.values()))
    some = ~np.isnan(left_out).all(axis=1)
    limits = jackknife(point, np.nanmean(left_out[some], axis=1), level)
    return {
        "estimate": point,
        "low": limits.low if limits else None,
        "high": limits.high if limits else None,
        "n_attributes": len(items),
        "measure": "mean alpha over attributes",
        "method": "jackknife over samples, the same one left out of all attributes",
    }


def _gathered(results: Mapping[str, AttributeAgreement], dropped: int) -> tuple[Sentence, ...]:
    """Join the attributes' warnings: one sentence each, with the attributes it holds for."""
    where: dict[Sentence, list[str]] = {}
    for name, item in results.items():
        for note in item.warnings:
            where.setdefault(note, []).append(name)
    notes = [
        note if len(names) == len(results) else said_of(names, note)
        for note, names in where.items()
    ]
    if dropped:
        notes.append(Sentence.of("agreement.dropped", n=dropped))
    return tuple(notes)
