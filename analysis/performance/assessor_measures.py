"""What each assessor does on one attribute: repeatability, discrimination, bias, scale, agreement.

Definitions follow ISO 11132 (2012, 2021) and ISO 8586, cited from memory:
repeatability is the scatter of an assessor's own replicates, discrimination
the F ratio of the assessor's own one-way analysis, bias the distance of the
assessor's mean from the panel's, agreement the correlation with the others.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import chdtri, fdtrc, ndtri, stdtrit

from ..core.errors import NotEstimable
from ..core.ratings_matrix import Floats
from ..core.two_way import levels
from .lines_per_assessor import Bundle, bundle_of_lines

WHOLE_CARD = "whole card"
"""Stands in place of an attribute where a finding is on all of them together."""
COLUMNS = (
    "attribute", "assessor", "n_answers", "n_samples", "mean", "bias", "bias_low", "bias_high",
    "bias_sd", "repeatability", "repeatability_low", "repeatability_high", "repeatability_df",
    "f", "f_df1", "f_df2", "f_p", "slope", "slope_low", "slope_high", "spread_share",
    "agreement", "agreement_low", "agreement_high", "disagreement", "disagreement_df",
    "drift", "drift_low", "drift_high",
)  # fmt: skip


class Answers(NamedTuple):
    """The answers to one attribute as arrays: one entry an answer.

    Attributes
    ----------
    assessor, sample : arrays of int
        Places in the lists of names.
    score : array
    position : array
        Place in the serving order, centred within assessor and session; nan
        where it is not known.
    span : float
        From the first to the last place of a session.
    """

    assessor: NDArray[np.intp]
    sample: NDArray[np.intp]
    score: Floats
    position: Floats
    span: float


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class PanelMeasures:
    """Precision of the panel on one attribute (ISO 11132, from memory).

    Attributes
    ----------
    repeatability, repeatability_df : float
        ``sqrt(MS error)`` and its degrees of freedom; nan without replicates.
    reproducibility : float
        ``sqrt(s_e**2 + s_AP**2 + s_A**2)``, negative components as 0.
    components : dict
        ``assessor, assessor_sample, error``: variances; negative ones as 0.
    negative : list of str
        Components that came out negative.
    homogeneity_f, homogeneity_p : float
        Interaction against replicate error.
    sample_f, sample_p : float
        Samples against the interaction: do they differ at all?
    """

    repeatability: float
    repeatability_df: int
    reproducibility: float
    components: dict[str, float]
    negative: list[str]
    homogeneity_f: float
    homogeneity_p: float
    sample_f: float
    sample_p: float


def answers_of(rows: pd.DataFrame, assessors: list[str], samples: list[str]) -> Answers:
    """Bring the rows of one attribute into arrays."""
    place = rows["position"].astype(float)
    centred: Floats = np.asarray(place, dtype=float)
    span = float("nan")
    if place.notna().any():
        ends = place.groupby(rows["session"]).agg(["min", "max"])
        span = float((ends["max"] - ends["min"]).max())
        mean = place.groupby([rows["assessor"], rows["session"]]).transform("mean")
        centred = np.asarray(centred - mean.to_numpy(float))
    return Answers(
        assessor=pd.Index(assessors).get_indexer(pd.Index(rows["assessor"])),
        sample=pd.Index(samples).get_indexer(pd.Index(rows["sample"])),
        score=rows["score"].to_numpy(float),
        position=centred,
        span=span,
    )


def cell_means(answers: Answers, shape: tuple[int, int]) -> tuple[Floats, Floats]:
    """Return cell means (nan where empty) and counts, assessors in rows, samples in columns."""
    flat = answers.assessor * shape[1] + answers.sample
    counts = np.bincount(flat, minlength=shape[0] * shape[1]).astype(float)
    sums = np.bincount(flat, weights=answers.score, minlength=counts.size)
    means = np.divide(sums, counts, out=np.full(counts.size, np.nan), where=counts > 0)
    return means.reshape(shape), counts.reshape(shape)


def within(answers: Answers, means: Floats) -> tuple[Floats, NDArray[np.intp]]:
    """Return each assessor's sum of squares around the own cell means, and its df."""
    rest = answers.score - means[answers.assessor, answers.sample]
    n = means.shape[0]
    ss = np.bincount(answers.assessor, weights=rest**2, minlength=n)
    filled = np.asarray((~np.isnan(means)).sum(axis=1))
    df: NDArray[np.intp] = np.bincount(answers.assessor, minlength=n) - filled
    return np.asarray(ss, dtype=float), df


def panel_measures(
    means: Floats, counts: Floats, ss: Floats, df: NDArray[np.intp]
) -> PanelMeasures:
    """Compute the panel's precision from a full table of cell means."""
    i, j = means.shape
    k = means.size / (1 / counts).sum()
    left = means - means.mean(axis=1, keepdims=True) - means.mean(axis=0) + means.mean()
    ms_ap = k * (left**2).sum() / ((i - 1) * (j - 1))
    ms_a = k * j * means.mean(axis=1).var(ddof=1)
    ms_p = k * i * means.mean(axis=0).var(ddof=1)
    df_e = int(df.sum())
    ms_e = float(ss.sum() / df_e) if df_e else float("nan")
    error = ms_e if df_e else float(ms_ap)
    raw = {
        "assessor": float((ms_a - ms_ap) / (j * k)),
        "assessor_sample": float((ms_ap - ms_e) / k) if df_e else 0.0,
        "error": error,
    }
    held = {name: max(value, 0.0) for name, value in raw.items()}
    ap_df = (i - 1) * (j - 1)
    homogeneity = _ratio(float(ms_ap), ms_e, ap_df, df_e)
    samples = _ratio(float(ms_p), float(ms_ap), j - 1, ap_df)
    return PanelMeasures(
        repeatability=float(np.sqrt(ms_e)),
        repeatability_df=df_e,
        reproducibility=float(np.sqrt(sum(held.values()))),
        components=held,
        negative=[name for name, value in raw.items() if value < 0],
        homogeneity_f=homogeneity[0],
        homogeneity_p=homogeneity[1],
        sample_f=samples[0],
        sample_p=samples[1],
    )


def _ratio(above: float, below: float, df1: int, df2: int) -> tuple[float, float]:
    """Return an F ratio and its p; infinite over a zero error, nan where 0/0 or no df."""
    if df1 < 1 or df2 < 1 or np.isnan(below) or (above == 0 and below == 0):
        return float("nan"), float("nan")
    if below <= 0:
        return float("inf"), 0.0
    return above / below, float(fdtrc(df1, df2, above / below))


def measures(
    attribute: str, answers: Answers, assessors: list[str], n_samples: int, level: float
) -> pd.DataFrame:
    """Compute the measures of every assessor on one attribute, with limits.

    Returns
    -------
    DataFrame
        Columns `COLUMNS`. Scale points, except: ``f`` (own discrimination, infinite
        when the own replicates never differ), ``slope`` (1 is the panel's mean
        slope), ``spread_share`` (standard deviation of the own sample means, in
        units of that of the others' means), ``agreement`` (correlation with the
        others' means), ``disagreement`` (mean square around the own line),
        ``drift`` (points from the first to the last serving, the others' drift
        taken off). nan where the data allow none.
    """
    shape = (len(assessors), n_samples)
    means, counts = cell_means(answers, shape)
    ss, df = within(answers, means)
    lines = _lines(means)
    tail = (1 + level) / 2
    drift = drifts(answers, means)
    rows: list[dict[str, float]] = []
    for i in range(len(assessors)):
        own = counts[i] > 0
        row: dict[str, float] = {}
        rows.append(row)
        if not own.any():
            continue
        row |= _own_numbers(i, means, counts, (float(ss[i]), int(df[i])), tail)
        row |= _against_others(i, means, counts, tail)
        row |= _drift_numbers(drift[i], answers.span, tail)
        if lines is not None and own.sum() > 2 and not np.isnan(lines.slope[i]):
            row |= _line_numbers(i, lines, counts, own, tail)
    table = pd.DataFrame(rows, columns=list(COLUMNS), index=range(len(assessors)), dtype=float)
    return table.assign(
        attribute=attribute,
        assessor=assessors,
        n_answers=counts.sum(axis=1).astype(int),
        n_samples=(counts > 0).sum(axis=1),
    )


def _lines(means: Floats) -> Bundle | None:
    rows, columns = (~np.isnan(means)).any(axis=1), (~np.isnan(means)).any(axis=0)
    try:
        if not (rows.all() and columns.all()) or min(means.shape) < 2:
            return None
        return bundle_of_lines(means)
    except NotEstimable:
        return None


def _own_numbers(
    i: int, means: Floats, counts: Floats, error: tuple[float, int], tail: float
) -> dict[str, float]:
    ss, df = error
    own = counts[i] > 0
    total = counts[i][own].sum()
    mean = float((means[i][own] * counts[i][own]).sum() / total)
    row = {"mean": mean, "repeatability_df": float(df)}
    j = int(own.sum())
    if df > 0:
        mse = ss / df
        between = (counts[i][own] * (means[i][own] - mean) ** 2).sum() / max(j - 1, 1)
        f, p = _ratio(float(between), mse, j - 1, df)
        row |= {
            "repeatability": float(np.sqrt(mse)),
            "repeatability_low": float(np.sqrt(ss / chdtri(df, 1 - tail))),
            "repeatability_high": float(np.sqrt(ss / chdtri(df, tail))),
            "f": f,
            "f_df1": float(j - 1),
            "f_df2": float(df),
            "f_p": p,
        }
    return row


def _against_others(i: int, means: Floats, counts: Floats, tail: float) -> dict[str, float]:
    """Return bias and agreement, each against the panel on the samples that i tasted."""
    own = counts[i] > 0
    panel = np.delete(means, i, axis=0)
    shared = own & (~np.isnan(panel)).any(axis=0)
    row: dict[str, float] = {}
    j = int(shared.sum())
    if j < 1:
        return row
    # An absent assessor must not move the others' profile: levels are taken off first.
    whole = panel[:, shared]
    whole = whole[(~np.isnan(whole)).any(axis=1)]
    level = levels(whole)
    profile = np.nanmean(whole - level[:, None], axis=0) + level.mean()
    m = len(whole)
    apart = (means[i][shared] - profile) * m / (m + 1)
    row["bias"] = float(apart.mean())
    if j < 2:
        return row
    row["bias_sd"] = float(apart.std(ddof=1))
    half = stdtrit(j - 1, tail) * row["bias_sd"] / np.sqrt(j)
    row |= {"bias_low": row["bias"] - float(half), "bias_high": row["bias"] + float(half)}
    spread = float(profile.std(ddof=1))
    if spread > 0:
        row["spread_share"] = float(means[i][shared].std(ddof=1)) / spread
    if j > 2 and spread > 0 and np.ptp(means[i][shared]) > 0:
        r = float(np.clip(np.corrcoef(means[i][shared], profile)[0, 1], -1, 1))
        row["agreement"] = r
        if j > 3 and abs(r) < 1:
            reach = ndtri(tail) / np.sqrt(j - 3)
            row["agreement_low"] = float(np.tanh(np.arctanh(r) - reach))
            row["agreement_high"] = float(np.tanh(np.arctanh(r) + reach))
    return row


def _line_numbers(
    i: int, lines: Bundle, counts: Floats, own: NDArray[np.bool_], tail: float
) -> dict[str, float]:
    k = own.sum() / (1 / counts[i][own]).sum()
    df = float(lines.deviation_df[i])
    unit = float(lines.deviation_unit[i])
    row = {"slope": float(lines.slope[i])}
    if df >= 1 and unit > 1e-9:
        noise = float(lines.deviation_ss[i]) / unit
        half = float(stdtrit(df, tail) * np.sqrt(noise * float(lines.slope_unit[i])))
        row |= {
            "slope_low": row["slope"] - half,
            "slope_high": row["slope"] + half,
            "disagreement": float(k * noise),
            "disagreement_df": df,
        }
    return row


class Drift(NamedTuple):
    """An assessor's own change per place in the serving order, and its parts for a test."""

    slope: float
    se: float
    df: float
    by_sample: float
    by_answer: float


def drifts(answers: Answers, means: Floats) -> list[Drift]:
    """Return each assessor's drift per place, the mean drift of the others taken off.

    Residuals are scores less the own mean less the others' sample profile.
    ``se`` comes from the own residuals around the own drift line;
    ``by_sample`` and ``by_answer`` are the variances of the slope in units of
    the interaction and of the replicate variance.
    """
    n = means.shape[0]
    raw: list[Drift] = []
    nothing = Drift(*[float("nan")] * 5)
    for i in range(n):
        mine = (answers.assessor == i) & ~np.isnan(answers.position)
        others = np.delete(means, i, axis=0)
        others = others[(~np.isnan(others)).any(axis=1)]
        sample, position = answers.sample[mine], answers.position[mine]
        tasted = np.asarray((~np.isnan(others)).any(axis=0))
        known = np.asarray(tasted[sample]) if len(others) else np.zeros(0, dtype=bool)
        if known.size == 0 or known.sum() < 4:
            raw.append(nothing)
            continue
        sample, position = sample[known], position[known] - position[known].mean()
        size = float((position**2).sum())
        if size <= 0:
            raw.append(nothing)
            continue
        away = others - np.nanmean(others, axis=1, keepdims=True)
        profile = np.nanmean(away[:, tasted], axis=0)
        full = np.full(means.shape[1], np.nan)
        full[tasted] = profile
        e = answers.score[mine][known] - full[sample]
        e = e - e.mean()
        weight = position / size
        slope = float(weight @ e)
        rest = e - slope * position
        df = max(e.size - 2, 1)
        per_sample = np.bincount(sample, weights=weight)
        raw.append(
            Drift(
                slope,
                float(np.sqrt((rest**2).sum() / df / size)),
                float(df),
                float((per_sample**2).sum()),
                float((weight**2).sum()),
            )
        )
    slopes = np.array([drift.slope for drift in raw])
    out = []
    for i, drift in enumerate(raw):
        rest = np.delete(slopes, i)
        rest = rest[~np.isnan(rest)]
        out.append(drift._replace(slope=drift.slope - float(rest.mean())) if rest.size else drift)
    return out


def _drift_numbers(drift: Drift, span: float, tail: float) -> dict[str, float]:
    if np.isnan(drift.slope) or np.isnan(span):
        return {}
    half = float(stdtrit(drift.df, tail)) * drift.se
    return {
        "drift": drift.slope * span,
        "drift_low": (drift.slope - half) * span,
        "drift_high": (drift.slope + half) * span,
    }
