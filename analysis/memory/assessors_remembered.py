"""What sessions teach of each assessor: level, width of scale, repeats, agreement, style."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.special import chdtri, ndtri, stdtrit

from ..performance.spreads import WIDTH_SD, Floats, Spreads

Whole = npt.NDArray[np.int64]
_ROUNDS = 30
CELL = ("session", "attribute", "assessor", "sample")


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class ScoredCells:
    """Cell means in shares of the scale, with numbers for names.

    Attributes
    ----------
    table : DataFrame
        One row a cell: ``session, attribute, assessor, sample, score, size, within``:
        mean, number and sum of squares of its replicates; names are categories.
    own, others : ndarray
        Less the assessor's level in that session and attribute: the cell, and the mean of
        the other assessors on the same sample (nan where there is none).
    apart : ndarray
        The cell less the mean of the others.
    """

    table: pd.DataFrame
    own: Floats
    others: Floats
    apart: Floats

    @classmethod
    def of(cls, scores: pd.DataFrame) -> ScoredCells:
        """Gather the cells of tidy scores."""
        slim = pd.DataFrame({name: scores[name].astype("category") for name in CELL})
        slim["score"] = scores["score"].to_numpy(float)
        slim = slim[slim["score"].notna()]
        grouped = slim.groupby(list(CELL), observed=True, sort=False)["score"]
        table = grouped.agg(["mean", "size", "var"]).reset_index()
        table["within"] = (table["var"] * (table["size"] - 1)).fillna(0.0)
        table = table.rename(columns={"mean": "score"}).drop(columns="var")
        score = table["score"]
        keys = ["session", "attribute", "sample"]
        both = table.groupby(keys, observed=True)["score"]
        count = both.transform("size")
        others = ((both.transform("sum") - score) / (count - 1).where(count > 1)).to_numpy(float)
        level = table.assign(others=others).groupby(
            ["session", "attribute", "assessor"], observed=True
        )
        return cls(
            table=table,
            own=(score - level["score"].transform("mean")).to_numpy(float),
            others=others - level["others"].transform("mean").to_numpy(float),
            apart=score.to_numpy(float) - others,
        )


def widths(cells: ScoredCells, spreads: Mapping[str, Spreads]) -> pd.DataFrame:
    """Estimate how widely each assessor uses the scale, over all attributes.

    Returns
    -------
    DataFrame
        ``assessor, width, error``: a multiple of the usual width and its standard error.

    Notes
    -----
    ``y = level + w b + e``, w normal around 1 with `WIDTH_SD`, b and e with the house's
    spreads: widths and samples in turn, each with the uncertainty of the other
    (variational Bayes). A common factor of all widths cannot be told from the spread of
    the samples; their mean is 1.
    """
    table = cells.table
    who, names = (
        table["assessor"].cat.codes.to_numpy(np.int64),
        list(table["assessor"].cat.categories),
    )
    spot = table.groupby(["session", "attribute", "sample"], observed=True).ngroup().to_numpy()
    error, sample = (
        table["attribute"].astype(str).map(known).to_numpy(float)
        for known in (
            {name: one.error_sd**2 for name, one in spreads.items()},
            {name: one.sample_sd**2 for name, one in spreads.items()},
        )
    )
    sides = table.groupby(["session", "attribute"], observed=True)["sample"]
    lost = 1 - 1 / sides.transform("nunique").to_numpy(float)
    width = np.ones(len(names))
    square = width**2 + WIDTH_SD**2
    precision = np.full(len(names), 1 / WIDTH_SD**2)
    shrink = np.zeros(int(spot.max(initial=-1)) + 1)
    np.maximum.at(shrink, spot, 1 / sample)
    for _ in range(_ROUNDS):
        gained = np.bincount(spot, square[who] / error) + shrink
        effect = (np.bincount(spot, width[who] * cells.own / error) / gained)[spot]
        squared = effect**2 + lost / gained[spot]
        precision = np.bincount(who, squared / error, len(names)) + 1 / WIDTH_SD**2
        pull = np.bincount(who, effect * cells.own / error, len(names)) + 1 / WIDTH_SD**2
        width = pull / precision
        width /= width.mean()
        square = width**2 + 1 / precision
    return pd.DataFrame({"assessor": names, "width": width, "error": precision**-0.5})


def width_of(table: pd.DataFrame) -> dict[str, tuple[float, float]]:
    """Return the width of each assessor and how far it is known, from what `widths` returned.

    The scores tell how wide assessors are against each other. What all of them have in common
    stays as uncertain as it was, `WIDTH_SD` over the root of their number; together no more than
    is uncertain of somebody new.
    """
    common = WIDTH_SD / np.sqrt(max(len(table), 1))
    error = np.minimum(np.hypot(table["error"], common), WIDTH_SD)
    return dict(zip(table["assessor"], zip(table["width"], error, strict=True), strict=True))


def each_assessor(cells: ScoredCells, level: float) -> pd.DataFrame:
    """Measure each assessor in each attribute.

    Returns
    -------
    DataFrame
        ``attribute, assessor, sessions, answers, shift, shift_low, shift_high`` (against the
        others on the same samples, sessions as the unit), ``repeat_sd, repeat_low,
        repeat_high`` (nan without replicates), ``agreement, agreement_low, agreement_high``
        (correlation with the others' mean within sessions, Fisher's z). Points are shares of
        the scale; limits are nan where one session is all.
    """
    keys = ["attribute", "assessor"]
    rows = cells.table.assign(apart=cells.apart, own=cells.own, others=cells.others)
    rows["extra"] = rows["size"] - 1
    both = rows["others"].notna()
    rows["xy"] = (rows["own"] * rows["others"]).where(both)
    rows["xx"], rows["yy"] = (rows["own"] ** 2).where(both), rows["others"] ** 2
    session = rows.groupby([*keys, "session"], observed=True, sort=False)
    shifts = session.agg(
        shift=("apart", "mean"), cells=("others", "count"), answers=("size", "sum")
    ).reset_index()
    shifts["df"] = (shifts["cells"] - 1).clip(lower=0)
    found = _mean_over_sessions(shifts, keys, "shift", level)
    sums = rows.groupby(keys, observed=True, sort=False)[
        ["xy", "xx", "yy", "within", "extra"]
    ].sum()
    sums = sums.join(shifts.groupby(keys, observed=True)[["df", "answers"]].sum()).reset_index()
    found = found.merge(sums, on=keys)
    df = found["extra"].where(found["extra"] > 0).to_numpy(float)
    square = found["within"].to_numpy(float)
    with np.errstate(invalid="ignore", divide="ignore"):
        found["repeat_sd"] = np.sqrt(square / df)
        found["repeat_low"] = np.sqrt(square / chdtri(df, (1 - level) / 2))
        found["repeat_high"] = np.sqrt(square / chdtri(df, (1 + level) / 2))
        product = np.sqrt(found["xx"].to_numpy(float) * found["yy"].to_numpy(float))
        r: Floats = np.clip(found["xy"].to_numpy(float) / product, -1, 1)
        left: Floats = found["df"].to_numpy(float) - 2
        half = ndtri((1 + level) / 2) / np.sqrt(np.where(left > 0, left, np.nan))
        found["agreement"] = r
        found["agreement_low"] = np.tanh(np.arctanh(r) - half)
        found["agreement_high"] = np.tanh(np.arctanh(r) + half)
    names = ["shift", "repeat", "agreement"]
    limits = [f"{name}_{end}" for name in names for end in ("low", "high")]
    order = [*keys, "sessions", "answers", "shift", *limits[:2], "repeat_sd", *limits[2:4]]
    found = found[[*order, "agreement", *limits[4:]]]
    return found.astype({"attribute": str, "assessor": str})


def each_style(cells: ScoredCells, styles: pd.DataFrame, level: float) -> pd.DataFrame:
    """Measure how far an assessor marks a style up or down, against the others.

    Parameters
    ----------
    styles : DataFrame
        ``session, sample, style``.

    Returns
    -------
    DataFrame
        ``attribute, assessor, style, sessions, shift, shift_low, shift_high``: the assessor
        less the others on samples of the style, less the same on the other samples of the
        session; sessions as the unit.
    """
    table = cells.table.assign(apart=cells.apart).dropna(subset=["apart"])
    named = styles.drop_duplicates(["session", "sample"]).astype(str)
    plain = table.astype({"session": str, "sample": str})
    table = plain.merge(named, on=["session", "sample"])
    keys = ["attribute", "assessor", "session"]
    by_style = table.groupby([*keys, "style"], observed=True)["apart"].agg(["sum", "size"])
    rest = by_style.groupby(keys, observed=True).transform("sum") - by_style
    gap = by_style["sum"] / by_style["size"] - rest["sum"] / rest["size"].where(rest["size"] > 0)
    each = gap.dropna().rename("shift").reset_index()
    if not len(each):
        columns = ["attribute", "assessor", "style", "sessions", "shift", "shift_low"]
        return pd.DataFrame(columns=[*columns, "shift_high"])
    found = _mean_over_sessions(each, ["attribute", "assessor", "style"], "shift", level)
    return found.astype({"attribute": str, "assessor": str})


def _mean_over_sessions(
    each: pd.DataFrame, keys: list[str], name: str, level: float
) -> pd.DataFrame:
    """Return the mean of sessions with its limits by t; nan limits from one session."""
    found = (
        each.groupby(keys, observed=True, sort=False)[name]
        .agg(["count", "mean", "std"])
        .reset_index()
        .rename(columns={"count": "sessions", "mean": name})
    )
    n = found["sessions"].to_numpy(float)
    half = stdtrit(np.maximum(n - 1, 1), (1 + level) / 2) * found["std"] / np.sqrt(np.maximum(n, 1))
    found[f"{name}_low"], found[f"{name}_high"] = found[name] - half, found[name] + half
    return found.drop(columns="std")
