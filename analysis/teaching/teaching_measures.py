"""One student against the expert: scores, words, faults, and the same bottle twice.

Everything here compares on pours that both tasted. Samples are the unit: what
is resampled or left out is a sample, never a single answer.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import ndtri, stdtrit
from scipy.stats import chi2

from ..agreement.lin_concordance import concordance_correlation
from ..core.errors import NotEstimable
from ..core.ratings_matrix import Floats
from ..core.result import Interval
from ..difference.a_or_not_a import a_not_a
from ..inference.equivalence_tests import equivalence_paired
from ..inference.proportions import wilson

LINE_COLUMNS = (
    "attribute", "n_samples", "bias", "bias_low", "bias_high", "slope", "slope_low", "slope_high",
    "r", "r_low", "r_high", "concordance", "concordance_low", "concordance_high", "rmse",
    "rmse_low", "rmse_high", "verdict", "equivalence_p",
)  # fmt: skip
WORD_COLUMNS = ("found", "missed", "invented", "neither")
PERMUTATIONS = 999


def cell_table(rows: pd.DataFrame, assessors: Sequence[str]) -> pd.DataFrame:
    """Return mean scores of these assessors, samples in rows, attributes in columns."""
    mine = rows[rows["assessor"].isin(list(assessors))]
    each = mine.pivot_table(index=["assessor", "sample"], columns="attribute", values="score")
    means = each.groupby(level="sample").mean()
    return means.sort_index()


def line_measures(
    student: Floats, expert: Floats, attribute: str, margin: float, level: float
) -> dict[str, Any]:
    """Compare one attribute over the samples that both scored.

    Returns
    -------
    dict
        The keys `LINE_COLUMNS`; nan, or "" for the verdict, where the samples
        are too few or do not vary. The slope is of the student on the expert.
        The verdict is that of two one-sided tests against `margin`.
    """
    both = ~(np.isnan(student) | np.isnan(expert))
    own, other = student[both], expert[both]
    n = own.size
    row: dict[str, Any] = dict.fromkeys(LINE_COLUMNS, np.nan)
    row |= {"attribute": attribute, "n_samples": n, "verdict": ""}
    if not n:
        return row
    gap = own - other
    row["bias"], row["rmse"] = float(gap.mean()), float(np.sqrt((gap**2).mean()))
    if n < 2:
        return row
    half = float(stdtrit(n - 1, (1 + level) / 2)) * float(gap.std(ddof=1)) / np.sqrt(n)
    row |= {"bias_low": row["bias"] - half, "bias_high": row["bias"] + half}
    limits = rmse_interval(gap[:, None], level)
    if limits is not None:
        row |= {"rmse_low": limits.low, "rmse_high": limits.high}
    try:
        found = equivalence_paired(own, other, margin=margin)
        row |= {"verdict": found.verdict, "equivalence_p": found.p}
    except NotEstimable:
        row["verdict"] = "equivalent" if abs(float(gap.mean())) < margin else "different"
    try:
        line = concordance_correlation(own, other, level=level)
    except NotEstimable:
        return row
    row |= {"r": line.r, "concordance": line.concordance}
    if line.interval is not None:
        row |= {"concordance_low": line.interval.low, "concordance_high": line.interval.high}
    sxx = float(((other - other.mean()) ** 2).sum())
    slope = float(((other - other.mean()) * own).sum() / sxx)
    row["slope"] = slope
    if n > 2:
        rest = own - own.mean() - slope * (other - other.mean())
        reach = float(stdtrit(n - 2, (1 + level) / 2)) * np.sqrt((rest**2).sum() / (n - 2) / sxx)
        row |= {"slope_low": slope - reach, "slope_high": slope + reach}
    if n > 3 and abs(line.r) < 1:
        reach = float(ndtri((1 + level) / 2))
        ends = np.tanh(np.arctanh(line.r) + np.array([-1, 1]) * reach / np.sqrt(n - 3))
        row |= {"r_low": float(ends[0]), "r_high": float(ends[1])}
    return row


def rmse_interval(gaps: Floats, level: float) -> Interval | None:
    """Return limits of the root mean square of differences, samples in rows.

    The log of the mean square is jackknifed over samples (t limits); None for
    fewer than three samples, or when every sample differs by the same amount.
    """
    square = np.nanmean(gaps**2, axis=1)
    square = square[~np.isnan(square)]
    n = square.size
    if n < 3 or np.ptp(square) == 0:
        return None
    left_out = (square.sum() - square) / (n - 1)
    if (left_out <= 0).any():
        return None
    parts = np.log(left_out)
    error = np.sqrt((n - 1) / n * ((parts - parts.mean()) ** 2).sum())
    half = float(stdtrit(n - 1, (1 + level) / 2)) * error
    middle = np.log(square.mean())
    return Interval(float(np.exp((middle - half) / 2)), float(np.exp((middle + half) / 2)), level)


def ceiling(
    rows: pd.DataFrame, experts: Sequence[str], attributes: Sequence[str], level: float
) -> pd.DataFrame:
    """Return how far the expert differs from themselves, as a bound for any student.

    Somebody as good as the expert, tasting as often, would differ from the
    expert's means by about ``sqrt(2 / K)`` times the expert's own repeatability:
    a smaller RMSE is luck, not skill.

    Returns
    -------
    DataFrame
        ``attribute, repeatability, low, high, df, ceiling``; nan without repeats.
    """
    found = []
    for name in attributes:
        mine = rows[(rows["attribute"] == name) & rows["assessor"].isin(list(experts))]
        cells = mine.groupby(["assessor", "sample"])["score"]
        df = int((cells.count() - 1).sum()) if len(mine) else 0
        ss = float(((mine["score"] - cells.transform("mean")) ** 2).sum()) if len(mine) else 0.0
        if df < 1:
            found.append((name, np.nan, np.nan, np.nan, 0, np.nan))
            continue
        k = float(cells.count().mean())
        s = np.sqrt(ss / df)
        low, high = (
            float(np.sqrt(ss / chi2.ppf(q, df))) for q in ((1 + level) / 2, (1 - level) / 2)
        )
        high = high if ss > 0 else float("nan")
        found.append((name, float(s), low, high, df, float(s * np.sqrt(2 / k))))
    columns = ["attribute", "repeatability", "low", "high", "df", "ceiling"]
    return pd.DataFrame(found, columns=columns)


def word_counts(
    student: pd.DataFrame, expert: pd.DataFrame, words: Sequence[str]
) -> tuple[pd.DataFrame, Floats]:
    """Count words found, missed and invented by word, and in all by sample.

    A word counts as used for a sample when it was ticked in at least half of
    the pours (and by half of the experts). A box left empty is a word not used,
    whether or not the table holds a 0 for it.

    Returns
    -------
    DataFrame
        ``word`` and `WORD_COLUMNS`.
    array, shape (samples, 4)
        The same counts by sample.
    """
    samples = student.index.intersection(expert.index)
    names = [word for word in words if word in student or word in expert]
    has_own, has_other = (
        table.reindex(index=samples, columns=names).fillna(0.0).to_numpy(float) >= 0.5
        for table in (student, expert)
    )
    kinds = [
        has_own & has_other, ~has_own & has_other, has_own & ~has_other,
        ~has_own & ~has_other,
    ]  # fmt: skip
    table = pd.DataFrame(
        {"word": names} | {k: v.sum(axis=0) for k, v in zip(WORD_COLUMNS, kinds, strict=True)}
    )
    return table, np.column_stack([kind.sum(axis=1) for kind in kinds]).astype(float)


def word_agreement(counts: Floats, level: float) -> dict[str, float | int | None]:
    """Return precision, recall and kappa of words, with limits.

    Precision: share of the used words that the expert used too; recall: share
    of the expert's words that were found (Wilson limits). Kappa corrects for
    chance (jackknife over samples); None where there is nothing to compare.
    """
    found, missed, invented, _ = counts.sum(axis=0)
    out: dict[str, float | int | None] = {
        "found": int(found), "missed": int(missed), "invented": int(invented),
    }  # fmt: skip
    for name, total in (("precision", found + invented), ("recall", found + missed)):
        out |= {name: None, f"{name}_low": None, f"{name}_high": None}
        if total:
            low, high = wilson(int(found), int(total), level)
            out |= {
                name: float(found / total), f"{name}_low": float(low), f"{name}_high": float(high),
            }  # fmt: skip
    whole = _kappa(counts.sum(axis=0))
    out |= {"kappa": whole, "kappa_low": None, "kappa_high": None}
    n = len(counts)
    parts = [_kappa(np.delete(counts, i, axis=0).sum(axis=0)) for i in range(n)]
    known = np.array([part for part in parts if part is not None])
    if whole is not None and known.size == n and n > 2 and np.ptp(known) > 0:
        error = np.sqrt((n - 1) / n * ((known - known.mean()) ** 2).sum())
        half = float(stdtrit(n - 1, (1 + level) / 2)) * error
        out |= {"kappa_low": max(whole - half, -1.0), "kappa_high": min(whole + half, 1.0)}
    return out


def _kappa(counts: Floats) -> float | None:
    found, missed, invented, neither = counts
    n = counts.sum()
    if not n:
        return None
    own, other = (found + invented) / n, (found + missed) / n
    chance = own * other + (1 - own) * (1 - other)
    return float(((found + neither) / n - chance) / (1 - chance)) if chance < 1 else None


def fault_calls(
    rows: pd.DataFrame, student: str, faults: Sequence[str], controls: pd.DataFrame
) -> pd.DataFrame:
    """Return one row per pour of a control: what was in it, what was named.

    A control is a bottle of a session: the same name may be clean in another. A pour with
    any answer counts; a fault without a row was not named.

    Parameters
    ----------
    rows : DataFrame
        Tidy rows.
    student : str
    faults : sequence of str
        Attributes that are faults.
    controls : DataFrame
        ``session, sample, truth``: the fault attribute that was put in, "" for clean.

    Returns
    -------
    DataFrame
        ``sample, session, replicate, truth`` ("" for clean), ``named`` (list),
        ``outcome``: right, wrong (another fault), missed, false alarm, or clean.
    """
    known = {(str(row.session), str(row.sample)): str(row.truth) for row in controls.itertuples()}
    mine = rows[rows["assessor"] == student]
    keys = ["sample", "session", "replicate"]
    noted = mine["attribute"].isin(list(faults)) & (mine["score"] > 0)
    pours: dict[tuple[str, str, object], list[str]] = {}
    for *key, attribute, is_noted in zip(
        *(mine[name] for name in keys), mine["attribute"], noted, strict=True
    ):
        if (str(key[1]), str(key[0])) not in known:
            continue
        cup = None if pd.isna(key[2]) else int(key[2])
        names = pours.setdefault((str(key[0]), str(key[1]), cup), [])
        if is_noted:
            names.append(str(attribute))
    calls = []
    for sample, session, replicate in sorted(pours, key=lambda key: (*key[:2], str(key[2]))):
        named = pours[sample, session, replicate]
        truth = known[session, sample]
        if truth:
            outcome = "right" if truth in named else ("wrong" if named else "missed")
        else:
            outcome = "false alarm" if named else "clean"
        calls.append((sample, session, replicate, truth, named, outcome))
    return pd.DataFrame(calls, columns=[*keys, "truth", "named", "outcome"])


def detection(calls: pd.DataFrame, level: float) -> dict[str, Any] | None:
    """Return hits, false alarms and d' of noticing that something is wrong.

    Naming any fault counts as noticing. None unless both spiked and clean
    pours were tasted. d' is infinite when all calls were right; its lower limit
    then says what is known.
    """
    spiked = calls["truth"] != ""
    n_spiked, n_clean = int(spiked.sum()), int((~spiked).sum())
    if not n_spiked or not n_clean:
        return None
    noticed = calls["outcome"].isin(["right", "wrong", "false alarm"])
    hits, alarms = int((noticed & spiked).sum()), int((noticed & ~spiked).sum())
    found = a_not_a(hits, n_spiked, alarms, n_clean, level=level)
    return {
        "hits": hits,
        "n_spiked": n_spiked,
        "named_right": int((calls["outcome"] == "right").sum()),
        "false_alarms": alarms,
        "n_clean": n_clean,
        "d_prime": found.d_prime,
        "d_prime_low": found.d_prime_interval.low,
        "d_prime_high": found.d_prime_interval.high,
        "criterion": found.criterion,
        "p": found.p,
    }


def recognises_repeat(
    rows: pd.DataFrame, student: str, attributes: Sequence[str], seed: int
) -> dict[str, float | int] | None:
    """Tell whether two pours of one bottle were scored more alike than two bottles.

    All pairs of pours of one session are compared by the distance of their score
    profiles (each attribute in units of its own spread).

    Returns
    -------
    dict or None
        ``share``: chance that a same-bottle pair is the nearer one (.5 is
        chance, 1 always); ``p``: by shuffling bottles over the pours of a session, one-sided, with
        ``permutations`` from ``seed``; ``pairs``: same-bottle pairs. None without
        a bottle tasted twice, or fewer than four pours.
    """
    mine = rows[(rows["assessor"] == student) & rows["attribute"].isin(list(attributes))]
    pours = mine.assign(replicate=mine["replicate"].astype("Int64").fillna(1)).pivot_table(
        index=["sample", "session", "replicate"], columns="attribute", values="score"
    )
    if len(pours) < 4:
        return None
    pours = pours.dropna(axis=1)
    values = np.asarray(pours.to_numpy(float))
    spread = np.asarray(values.std(axis=0))
    values = values[:, spread > 0] / spread[spread > 0]
    if not values.size:
        return None
    bottle = pd.factorize(pours.index.get_level_values("sample"))[0]
    session = pd.factorize(pours.index.get_level_values("session"))[0]
    first, second = np.triu_indices(len(bottle), 1)
    together = session[first] == session[second]
    first, second = first[together], second[together]
    away = np.sqrt(((values[first] - values[second]) ** 2).sum(axis=1))
    same = bottle[first] == bottle[second]
    if not same.any() or same.all():
        return None
    share = _nearer(away, same)
    rng = np.random.default_rng(seed)
    reached = 0
    for _ in range(PERMUTATIONS):
        mixed = bottle.copy()
        for one in range(int(session.max()) + 1):
            at = np.flatnonzero(session == one)
            mixed[at] = rng.permutation(mixed[at])
        reached += _nearer(away, mixed[first] == mixed[second]) >= share - 1e-12
    return {
        "share": share,
        "p": (reached + 1) / (PERMUTATIONS + 1),
        "pairs": int(same.sum()),
        "permutations": PERMUTATIONS,
        "seed": seed,
    }


def _nearer(away: Floats, same: NDArray[np.bool_]) -> float:
    """Return the share of (same, different) pairs of pairs in which the same one is nearer."""
    within, between = away[same], np.sort(away[~same])
    below = np.searchsorted(between, within, side="left")
    upto = np.searchsorted(between, within, side="right")
    return float((between.size - (below + upto) / 2).mean() / between.size)
