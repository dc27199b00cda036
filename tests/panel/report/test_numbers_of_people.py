"""Single assessors, agreement and words of the demonstration, worked out again from its scores.

numpy, pandas, scipy and statsmodels alone. What the page prints of them is held by
``test_every_number``; here results.json and the workbook, row by row.
"""

from __future__ import annotations

import json
import sys
from itertools import combinations, permutations
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy import optimize, stats
from statsmodels.stats.contingency_tables import cochrans_q

sys.path.insert(0, str(Path(__file__).parents[2] / "tools"))
import page_again
from page_again import Again


@pytest.fixture(scope="module")
def again(demo) -> Again:
    return Again(demo)


@pytest.fixture(scope="module")
def results(demo) -> dict:
    return json.loads((demo / "report/results.json").read_text("utf-8"))


@pytest.fixture(scope="module")
def book(demo) -> dict[str, pd.DataFrame]:
    return pd.read_excel(demo / "report/tables.xlsx", sheet_name=None, engine="openpyxl")


def held(told: object, own: float, **given: float) -> bool:
    """Tell whether a number is what was worked out; None stands for none."""
    return pytest.approx(own, nan_ok=True, **given) == (np.nan if told is None else told)


def same(
    told: dict | pd.Series, own: dict[str, float], free: tuple[str, ...] = (), **given: float
) -> list[str]:
    """Return the columns whose number is not what was worked out, but for those left free."""
    return [
        f"{name}: {told[name]}, not {value}"
        for name, value in own.items()
        if name not in free and not held(told[name], value, **given)
    ]


# Agreement


def f_point(tail: float, df1: float, df2: float) -> float:
    """The point of F with so much above it, by bisection of the tail: inf where none is finite."""
    low, high = -700.0, 700.0
    if stats.f.sf(np.exp(high), df1, df2) > tail:
        return np.inf
    for _ in range(80):
        middle = (low + high) / 2
        above = stats.f.sf(np.exp(middle), df1, df2) > tail
        low, high = (middle, high) if above else (low, middle)
    return float(np.exp(low))


def absolute_ends(squares: tuple[float, float, float], n: float, k: float, r: float) -> list[float]:
    """Limits of ICC(A,1): McGraw & Wong 1996, table 7, from memory; no value below -1/(k - 1)."""
    rows, columns, error = squares
    df1, df = n - 1, (n - 1) * (k - 1)
    a = k * r / (n * (1 - r))
    b = 1 + a * (n - 1)
    v = (a * columns + b * error) ** 2 / ((a * columns) ** 2 / (k - 1) + (b * error) ** 2 / df)
    low, high = f_point(0.025, df1, v), f_point(0.025, v, df1)
    rest = k * columns + (k * n - k - n) * error
    ends = [-n * error / rest, 1.0]  # with hardly any degree of freedom: the formula's own limits
    if np.isfinite(low):
        ends[0] = n * (rows - low * error) / (low * rest + n * rows)
    if np.isfinite(high):
        ends[1] = n * (high * rows - error) / (rest + n * high * rows)
    low, high = np.clip(ends, -1 / (k - 1), 1)
    return [min(low, r), max(high, r)]


def icc(wide: np.ndarray) -> dict[str, tuple[float, float, float]]:
    """ICC of a full table, bottles in rows: McGraw & Wong 1996, tables 4 and 7, from memory."""
    n, k = wide.shape
    grand = wide.mean()
    rows = k * ((wide.mean(axis=1) - grand) ** 2).sum() / (n - 1)
    columns = n * ((wide.mean(axis=0) - grand) ** 2).sum() / (k - 1)
    df = (n - 1) * (k - 1)
    left = wide - wide.mean(axis=1)[:, None] - wide.mean(axis=0)[None, :] + grand
    error = (left**2).sum() / df
    f = rows / error
    ends = [f / stats.f.isf(0.025, n - 1, df), f * stats.f.isf(0.025, df, n - 1)]
    consistent = [(x - 1) / (x + k - 1) for x in (f, *ends)]
    absolute = (rows - error) / (rows + (k - 1) * error + k / n * (columns - error))
    absolute = max(absolute, -1 / (k - 1))
    agreed = [absolute, *absolute_ends((rows, columns, error), n, k, absolute)]
    return with_means({"ICC(A,1)": agreed, "ICC(C,1)": consistent}, k)


def with_means(found: dict[str, list[float]], k: float) -> dict[str, tuple[float, float, float]]:
    """Add the coefficients of the mean of `k` scores (Spearman and Brown)."""

    def stepped(one: float) -> float:
        below = 1 + (k - 1) * one
        return k * one / below if below > 0 else -np.inf

    return {
        name: tuple(stepped(one) if mean else one for one in own)
        for single, own in found.items()
        for mean, name in ((False, single), (True, single.replace("1", "k")))
    }


def icc_holes(wide: np.ndarray) -> dict[str, tuple[float, float, float]]:
    """ICC with holes: REML by dense matrices and a simplex; limits from adjusted mean squares."""
    row, column = np.nonzero(~np.isnan(wide))
    y, n = wide[row, column], len(row)
    z_row, z_column = np.eye(wide.shape[0])[row], np.eye(wide.shape[1])[column]
    parts = [z_row @ z_row.T, z_column @ z_column.T, np.eye(n)]

    def unlikely(logs: np.ndarray) -> float:
        v = sum(size * part for size, part in zip(np.exp(logs), parts, strict=True))
        inverse = np.linalg.inv(v)
        weight = inverse.sum()
        rest = y - inverse.sum(axis=0) @ y / weight
        return float(np.linalg.slogdet(v)[1] + np.log(weight) + rest @ inverse @ rest)

    tries = [
        optimize.minimize(unlikely, start, method="Nelder-Mead", bounds=[(-12, 6)] * 3,
                          options={"xatol": 1e-9, "fatol": 1e-12, "maxiter": 4000})
        for start in ([0.0, 0.0, 0.0], [-9.0, 0.0, 0.0])
    ]  # fmt: skip
    sample, assessor, residual = np.exp(min(tries, key=lambda one: one.fun).x)
    single = [sample / (sample + assessor + residual), sample / (sample + residual)]

    def onto(design: np.ndarray) -> np.ndarray:
        return design @ np.linalg.pinv(design)

    both = onto(np.hstack([z_row, z_column]))
    squares, sizes, dfs = [], [], []
    for wanted, other in ((z_row, z_column), (z_column, z_row)):
        df = round(np.trace(both - onto(other)))
        squares.append(y @ (both - onto(other)) @ y / df)
        sizes.append(np.trace(wanted.T @ (np.eye(n) - onto(other)) @ wanted) / df)
        dfs.append(df)
    df_e = n - round(np.trace(both))
    error = y @ (np.eye(n) - both) @ y / df_e
    k0, n0 = sizes
    f = squares[0] / error
    ends = [f / stats.f.isf(0.025, dfs[0], df_e), f * stats.f.isf(0.025, df_e, dfs[0])]
    ends = [(x - 1) / (x + k0 - 1) for x in ends]
    consistent = [single[1], min(ends[0], single[1]), max(ends[1], single[1])]
    agreed = [single[0], *absolute_ends((*squares, error), n0, k0, single[0])]
    counts = np.bincount(row)
    found = {"ICC(A,1)": agreed, "ICC(C,1)": consistent}
    return with_means(found, len(counts) / (1 / counts).sum())


def alpha(table: np.ndarray, nominal: bool = False) -> float:
    """Krippendorff's alpha, bottles in rows, out of all ordered pairs, one by one."""

    def apart(values: np.ndarray) -> np.ndarray:
        gap = np.subtract.outer(values, values)
        return (gap != 0).astype(float) if nominal else gap**2

    rows = [row[~np.isnan(row)] for row in table]
    rows = [row for row in rows if len(row) > 1]
    every = np.concatenate(rows)
    seen = sum(apart(row).sum() / (len(row) - 1) for row in rows) / len(every)
    expected = apart(every).sum() / (len(every) * (len(every) - 1))
    return 1 - seen / expected if expected else np.nan


def log_jackknife(whole: float, left_out: list[float]) -> tuple[float, float]:
    """t limits of log(1 - alpha), one bottle left out at a time; no alpha lies below -1."""
    parts = np.log(1 - np.array(left_out))
    n = len(parts)
    half = stats.t.isf(0.025, n - 1) * (n - 1) / np.sqrt(n) * parts.std(ddof=1)
    ends = 1 - (1 - whole) * np.exp([half, -half])
    return max(ends[0], -1.0), ends[1]


def without_each(table: np.ndarray) -> list[float]:
    return [alpha(np.delete(table, row, axis=0)) for row in range(len(table))]


def kendall(table: np.ndarray) -> tuple[float, float, float]:
    """W with ties, and limits of the mean Spearman correlation by leaving out assessors."""
    ranks = stats.rankdata(table, axis=0)
    n, m = ranks.shape
    ties = sum((c**3 - c).sum() for c in (np.unique(x, return_counts=True)[1] for x in ranks.T))
    total = ranks.sum(axis=1)
    w = 12 * ((total - total.mean()) ** 2).sum() / (m**2 * (n**3 - n) - m * ties)
    moving = [column for column in ranks.T if np.ptp(column) > 0]

    def mean_r(columns: list[np.ndarray]) -> float:
        return float(np.mean([np.corrcoef(a, b)[0, 1] for a, b in combinations(columns, 2)]))

    count = len(moving)
    left = np.array([mean_r(moving[:x] + moving[x + 1 :]) for x in range(count)])
    error = np.sqrt((count - 1) / count * ((left - left.mean()) ** 2).sum())
    half = stats.t.isf(0.025, count - 1) * error
    whole = mean_r(moving)
    ends = np.clip([whole - half, whole + half], -1 / (m - 1), 1)
    return w, *(((m - 1) * ends + 1) / m)


def test_every_measure_of_agreement_is_worked_out(again, results, book):
    """ICC by mean squares, with holes by REML, alpha by all pairs, W by ranks; 21 attributes."""
    sheet = book["agreement"].set_index(["attribute", "measure"])
    wrong, full = [], 0
    left_out, wholes = [], []
    for name in again.lines:
        table = again.wide(name).to_numpy().T
        whole, parts = alpha(table), without_each(table)
        wholes.append(whole)
        left_out.append(parts)
        own = {"alpha (interval)": (whole, *log_jackknife(whole, parts))}
        ranked = table[:, ~np.isnan(table).any(axis=0)]
        own["W"] = kendall(ranked)
        holes = np.isnan(table).any()
        own |= icc_holes(table) if holes else icc(table)
        full += not holes
        told = {row["measure"]: row for row in results["trust"]["attributes"][name]["measures"]}
        for measure, numbers in own.items():
            want = dict(zip(("estimate", "low", "high"), numbers, strict=True))
            told_book = sheet.loc[(page_again.label(name), measure)]
            near = {"rel": 2e-4, "abs": 2e-4} if holes else {"rel": 1e-6, "abs": 1e-9}
            for one in (told[measure], told_book):
                wrong += [f"{name} {measure} {x}" for x in same(one, want, **near)]
            assert told[measure]["n_samples"] == 3
            assert told[measure]["n_assessors"] == (ranked if measure == "W" else table).shape[1]
    assert wrong == []
    assert full >= 17
    overall = results["trust"]["overall"]
    means = np.mean(left_out, axis=0)
    low, high = log_jackknife(float(np.mean(wholes)), list(means))
    assert same(overall, {"estimate": np.mean(wholes), "low": low, "high": high}) == []
    assert overall["n_attributes"] == len(again.lines) == 21


# Single assessors


def additive(means: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Levels, effects (sum 0) and their covariance by dense least squares of both."""
    row, column = np.nonzero(~np.isnan(means))
    i, j = means.shape
    design = np.hstack([np.eye(i)[row], np.eye(j)[column] @ (np.eye(j) - 1 / j)])
    inverse = np.linalg.pinv(design.T @ design)
    both = inverse @ design.T @ means[row, column]
    middle = np.eye(j) - 1 / j
    effects = middle @ both[i:]
    return both[:i], effects, middle @ inverse[i:, i:] @ middle


def lines_of(means: np.ndarray) -> tuple[np.ndarray, ...]:
    """Effects, their covariance, each assessor's squares around an own line, and their share.

    Dense least squares of assessors, bottles, and each assessor's own slope on the effects.
    """
    row, column = np.nonzero(~np.isnan(means))
    i, j = means.shape
    x, covariance = additive(means)[1:]
    own = np.eye(i)[row]
    design = np.hstack([own, np.eye(j)[column], own * x[column][:, None]])
    hat = design @ np.linalg.pinv(design)
    rest = means[row, column] - hat @ means[row, column]
    spare = 1 - np.diag(hat)
    squares, unit = (np.bincount(row, weights=w, minlength=i) for w in (rest**2, spare))
    return x, covariance, squares, unit


def drift_of(rows: pd.DataFrame, who: str, means: pd.DataFrame) -> tuple[float, float, int]:
    """Slope on the serving order of what an assessor's scores lie off the others' profile."""
    others = means.drop(who)
    profile = others.sub(others.mean(axis=1), axis=0).mean()
    mine = rows[rows["assessor"] == who]
    place = mine["position"] - mine.groupby("session")["position"].transform("mean")
    place -= place.mean()
    off = mine["score"] - mine["sample"].map(profile)
    fit = stats.linregress(place, off)
    return fit.slope, fit.stderr, len(mine) - 2


def own_numbers(rows: pd.DataFrame, who: str) -> dict[str, float]:
    """Repeatability with chi square limits, and F of the own one-way table."""
    mine = rows[rows["assessor"] == who]
    cells = mine.groupby("sample")["score"]
    df = len(mine) - cells.ngroups
    found = {"n_answers": len(mine), "n_samples": cells.ngroups, "mean": mine["score"].mean(),
             "repeatability_df": df}  # fmt: skip
    if df:
        squares = ((mine["score"] - cells.transform("mean")) ** 2).sum()
        groups = [group.to_numpy() for _, group in cells]
        spread = squares or np.nan  # limits without width are none
        found |= {
            "repeatability": np.sqrt(squares / df),
            "repeatability_low": np.sqrt(spread / stats.chi2.isf(0.025, df)),
            "repeatability_high": np.sqrt(spread / stats.chi2.ppf(0.025, df)),
        }
        if squares > 0:
            f = stats.f_oneway(*groups)
            found |= {"f": f.statistic, "f_p": f.pvalue, "f_df1": len(groups) - 1, "f_df2": df}
    return found


def against_others(means: pd.DataFrame, who: str) -> dict[str, float]:
    """Bias, spread and correlation against the others' profile, levels taken off first."""
    tasted = means.loc[who].notna()
    panel = means.drop(who).loc[:, tasted].to_numpy()
    level = additive(panel)[0] + 0.0
    profile = np.nanmean(panel - level[:, None], axis=0)
    profile += np.mean([(row - profile)[~np.isnan(row)].mean() for row in panel])
    mine = means.loc[who, tasted].to_numpy()
    m, j = len(panel), len(mine)
    apart = (mine - profile) * m / (m + 1)
    half = stats.t.isf(0.025, j - 1) * apart.std(ddof=1) / np.sqrt(j)
    found = {"bias": apart.mean(), "bias_sd": apart.std(ddof=1), "bias_low": apart.mean() - half,
             "bias_high": apart.mean() + half,
             "spread_share": mine.std(ddof=1) / profile.std(ddof=1)}  # fmt: skip
    if j > 2 and np.ptp(mine) > 0:
        found["agreement"] = np.corrcoef(mine, profile)[0, 1]
    return found


def on_the_line(
    rows: pd.DataFrame, means: pd.DataFrame, who: str, lines: tuple[np.ndarray, ...]
) -> dict[str, float]:
    """Slope on the panel's effects with t limits, and the mean square around the own line."""
    x, covariance, squares, unit = lines
    table, at = means.to_numpy(), means.index.get_loc(who)
    here = ~np.isnan(table[at])
    if here.sum() < 3:
        return {}
    line = x[here] - x[here].mean()
    slope = float(line @ table[at, here] / (line @ line))
    centred = np.zeros(len(x))
    centred[here] = line / np.sqrt(line @ line)
    variance = (1 - centred @ covariance @ centred) / (line @ line)
    noise, df = squares[at] / unit[at], here.sum() - 2
    if noise < 1e-12:  # on the line exactly: no width, no limits
        return {"slope": slope, "slope_low": np.nan, "slope_high": np.nan}
    half = stats.t.isf(0.025, df) * np.sqrt(noise * variance)
    count = rows[rows["assessor"] == who].groupby("sample").size()
    k = len(count) / (1 / count).sum()
    return {"slope": slope, "slope_low": slope - half, "slope_high": slope + half,
            "disagreement": k * noise, "disagreement_df": df}  # fmt: skip


def test_every_number_of_a_single_assessor_is_worked_out(again, results, book):
    """8 assessors in 21 attributes, some with an empty cell; the maker is one of them."""
    measured = {(row["attribute"], row["assessor"]): row for row in results["each"]["measures"]}
    assert len(measured) == len(book["assessors"]) == 8 * len(again.lines)
    in_book = {
        (row["attribute"], row["assessor"]): row for row in book["assessors"].to_dict("records")
    }
    wrong, numbers = [], 0
    for name in again.lines:
        rows = again.everybody[again.everybody["attribute"] == name]
        means = rows.groupby(["assessor", "sample"])["score"].mean().unstack()  # noqa: PD010
        ends = rows.groupby("session")["position"].agg(["min", "max"])
        span = (ends["max"] - ends["min"]).max()
        lines = lines_of(means.to_numpy())
        repeated = len(rows) > means.notna().sum().sum()
        slopes = {who: drift_of(rows, who, means) for who in means.index} if repeated else {}
        for who in means.index:
            own = own_numbers(rows, who) | against_others(means, who)
            own |= on_the_line(rows, means, who, lines)
            if slopes:
                rest = np.mean([slope for other, (slope, *_) in slopes.items() if other != who])
                slope, error, df = slopes[who]
                reach = stats.t.isf(0.025, df) * error
                own |= {"drift": (slope - rest) * span, "drift_low": (slope - rest - reach) * span,
                        "drift_high": (slope - rest + reach) * span}  # fmt: skip
            numbers += len(own)
            for told in (measured[name, who], in_book[page_again.label(name), who]):
                wrong += [f"{name} {who} {x}" for x in same(told, own, rel=1e-6, abs=1e-9)]
    assert wrong == []
    assert numbers > 168 * 20


def test_the_precision_of_the_panel_is_worked_out(again, results):
    """Two-way table with replicates: error, interaction, bottles; full tables of equal size."""
    told = {row["attribute"]: row for row in results["each"]["panel"]}
    checked = 0
    for name in again.lines:
        rows = again.everybody[again.everybody["attribute"] == name]
        size = rows.groupby(["assessor", "sample"]).size()
        if len(size) < 24 or (size != 2).any():
            continue
        means = rows.groupby(["assessor", "sample"])["score"].mean()
        means = means.unstack().to_numpy()  # noqa: PD010
        i, j = means.shape
        cells = rows.groupby(["assessor", "sample"])["score"]
        error = ((rows["score"] - cells.transform("mean")) ** 2).sum() / (i * j)
        left = means - means.mean(axis=1)[:, None] - means.mean(axis=0) + means.mean()
        both = 2 * (left**2).sum() / ((i - 1) * (j - 1))
        people = 2 * j * means.mean(axis=1).var(ddof=1)
        bottles = 2 * i * means.mean(axis=0).var(ddof=1)
        parts = [error, max((both - error) / 2, 0), max((people - both) / (2 * j), 0)]
        df = (i - 1) * (j - 1)
        own = {
            "n_assessors": i, "n_samples": j, "replicates": 2.0,
            "repeatability": np.sqrt(error), "reproducibility": np.sqrt(sum(parts)),
            "homogeneity_f": both / error, "homogeneity_p": stats.f.sf(both / error, df, i * j),
            "sample_f": bottles / both, "sample_p": stats.f.sf(bottles / both, j - 1, df),
        }  # fmt: skip
        assert same(told[name], own, rel=1e-9) == [], name
        checked += 1
    assert checked >= 15


def test_hints_about_single_assessors_are_worked_out(again, results, book):
    """F of an own scatter, or of what lies off the profile, over the others'; t of a level."""
    found = results["each"]["findings"]
    assert len(found) >= 5
    assert not any(row["shown"] for row in found)
    assert "findings" not in book  # nothing is shown, and no worksheet is empty
    for row in found:
        rows = again.everybody[again.everybody["attribute"] == row["attribute"]]
        means = rows.groupby(["assessor", "sample"])["score"].mean().unstack()  # noqa: PD010
        assert not means.isna().any().any()
        cells = rows.groupby(["assessor", "sample"])["score"]
        squares = ((rows["score"] - cells.transform("mean")) ** 2).groupby(rows["assessor"]).sum()
        df = rows.groupby("assessor").size() - 3
        others = means.drop(row["assessor"])
        m = len(others)
        away = others.sub(others.mean(axis=1), axis=0)
        noise = ((away - away.mean()) ** 2).to_numpy().sum() / (2 * (m - 1))
        mine = means.loc[row["assessor"]]
        mine = mine - mine.mean() - away.mean()
        if row["finding"] == "noisy":
            rest = squares.drop(row["assessor"]).sum(), df.drop(row["assessor"]).sum()
            value = squares[row["assessor"]] / df[row["assessor"]] / (rest[0] / rest[1])
            p = stats.f.sf(value, df[row["assessor"]], rest[1])
        elif row["finding"] == "crossing":
            x = away.mean() + mine / (m + 1)
            along = (x @ mine) / (x @ x)
            value = m / (m + 1) * ((mine - along * x) ** 2).sum() / noise
            p = stats.f.sf(value, 1, 2 * (m - 1))
        else:
            assert row["finding"] in ("high", "low")
            levels = others.mean(axis=1)
            own = means.loc[row["assessor"]].mean() - levels.mean()
            t = own / (levels.std(ddof=1) * np.sqrt(1 + 1 / m))
            p = 2 * stats.t.sf(abs(t), m - 1)
            bias = against_others(means, row["assessor"])
            value = bias["bias"]
            assert (row["finding"] == "high") is bool(value > 0), row
            limits = [bias["bias_low"], bias["bias_high"]]
            assert [row["low"], row["high"]] == pytest.approx(limits), row
        assert row["value"] == pytest.approx(value), row
        assert row["p"] == pytest.approx(p), row
    numbers = results["each"]
    assert numbers["hints_by_chance"] == pytest.approx(0.01 * numbers["n_tests"])
    people, lines = 8, len(again.lines)
    limits = [0.002 / 2 / (5 * people), 0.002 / 2 / (5 * people * lines)]
    assert numbers["p_limits"] == pytest.approx(limits)


# Words


def exact_q(ticks: np.ndarray) -> tuple[float, float]:
    """Exact p of Cochran's Q over all ways to shuffle each assessor's ticks, and the least p."""
    totals = {(0,) * ticks.shape[1]: 1}
    for row in ticks.astype(int):
        ways = list(permutations(row.tolist()))
        grown: dict[tuple[int, ...], int] = {}
        for known, count in totals.items():
            for way in ways:
                key = tuple(a + b for a, b in zip(known, way, strict=True))
                grown[key] = grown.get(key, 0) + count
        totals = grown
    size = {key: sum(x * x for x in key) for key in totals}
    every = sum(totals.values())

    def beyond(least: int) -> float:
        return sum(n for key, n in totals.items() if size[key] >= least) / every

    own = int((ticks.astype(int).sum(axis=0) ** 2).sum())
    return beyond(own), beyond(max(size.values()))


def stepped(p: list[float], least: list[float]) -> list[float]:
    """Holm's steps, counting what is left and could be as small (Hommel & Krummenauer 1998)."""
    left = sorted(range(len(p)), key=lambda n: p[n])
    adjusted, reached = [np.nan] * len(p), 0.0
    while left:
        able = sum(least[n] <= p[left[0]] * (1 + 1e-9) for n in left)
        reached = max(reached, min(max(able, 1) * p[left[0]], 1.0))
        adjusted[left.pop(0)] = reached
    return adjusted


def marks_of(again: Again, word: str) -> pd.DataFrame:
    """Return assessors by bottles: a word counts that stood on half of the own sheets."""
    return (again.wide(word) >= 0.5).astype(float)


def test_tests_of_words_are_worked_out(again, results, book):
    """statsmodels' Cochran's Q; exact p by going through all shuffles; Holm over what could."""
    told = {row["attribute"]: row for row in results["aroma"]["tests"]}
    assert len(told) == len(book["words_tests"]) == 19
    marks = {word: marks_of(again, word).to_numpy() for word in told}
    exact = {word: exact_q(own) for word, own in marks.items()}
    own_p, least = ({word: pair[n] for word, pair in exact.items()} for n in (0, 1))
    able = [word for word in told if least[word] <= 0.05]
    given = [[found[word] for word in able] for found in (own_p, least)]
    adjusted = dict(zip(able, stepped(*given), strict=True))
    for number, (word, row) in enumerate(told.items()):
        ticks = marks[word]
        own = {"df": 2, "n": 7, "p": own_p[word], "p_least": least[word],
               "informative": int((np.ptp(ticks, axis=1) > 0).sum()),
               "adjusted": adjusted.get(word, np.nan)}  # fmt: skip
        if np.ptp(ticks):
            q = cochrans_q(ticks)
            own |= {"Q": q.statistic, "p_chi2": q.pvalue}
        for one in (row, book["words_tests"].iloc[number]):
            assert same(one, own) == [], word


def test_pairs_of_words_are_worked_out(again, results, book):
    """McNemar's exact p (scipy's binomial), stepped over three pairs, Tango's limits."""
    rows = results["aroma"]["pairs"]
    assert len(rows) == len(book["words_pairs"]) == 57
    for start in range(0, 57, 3):
        word = rows[start]["attribute"]
        marks = marks_of(again, word)
        found = []
        for row in rows[start : start + 3]:
            a, b = marks[row["first"]], marks[row["second"]]
            more, less = int((a > b).sum()), int((b > a).sum())
            p = stats.binomtest(more, more + less).pvalue if more + less else 1.0
            low, high = page_again.tango(marks[[row["first"], row["second"]]].to_numpy())
            found.append({"only_first": more, "only_second": less, "p": p, "low": low,
                          "high": high, "difference": (more - less) / 7})  # fmt: skip
        ticked = [2.0 ** (1 - own["only_first"] - own["only_second"]) for own in found]
        adjusted = stepped([own["p"] for own in found], np.minimum(ticked, 1.0).tolist())
        for place, own in enumerate(found):
            own["holm"] = adjusted[place]
            for one in (rows[start + place], book["words_pairs"].iloc[start + place]):
                assert same(one, own, abs=1e-6) == [], word


def test_agreement_on_words_is_worked_out(again, results, book):
    """Of two assessors of whom one ticked a word, how often both did; every pair gone through."""

    def uses(ticks: np.ndarray) -> tuple[int, int]:
        pairs = [a + b for a, b in combinations(ticks, 2)]
        return int((np.array(pairs) == 2).sum()), int((np.array(pairs) == 1).sum())

    def specific(ticks: np.ndarray) -> float:
        both, one = uses(ticks)
        return 2 * both / (2 * both + one) if both + one else np.nan

    rows = results["aroma"]["agreement"]["table"]
    for number, row in enumerate(rows):
        ticks = marks_of(again, row["attribute"]).to_numpy()
        whole = specific(ticks)
        left = np.array([specific(np.delete(ticks, who, axis=0)) for who in range(7)])
        half = stats.t.isf(0.025, 6) * (7 * whole - 6 * left).std(ddof=1) / np.sqrt(7)
        own = {"used": int(ticks.sum()), "pairs": sum(uses(ticks)), "specific": whole,
               "alpha": alpha(ticks.T, nominal=True)}  # fmt: skip
        spread = not np.isnan(half) and half > 1e-12
        own |= {"low": max(whole - half, 0) if spread else np.nan,
                "high": min(whole + half, 1) if spread else np.nan}  # fmt: skip
        for one in (row, book["words_heading"].iloc[number]):
            assert same(one, own) == [], row["attribute"]
