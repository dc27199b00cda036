"""The tables of an ordinal comparison, from the fit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.special import chdtrc, expit, ndtr, ndtri

from ..inference.adjusted_p import adjust
from .cumulative_likelihood import Maximum
from .cumulative_links import cdf

Floats = npt.NDArray[np.float64]
_NODE_POINTS = 40
_STEP = 1e-20
_EDGE = 1e-8


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Frame:
    """The samples of a comparison and their design.

    Attributes
    ----------
    samples : list of str
        Samples, sorted.
    reference : str
        The one with a row of zeros.
    terms, effects : list of str, length p
        Name of each column, and the effect (``sample`` or a factor) it belongs to.
    design : ndarray, shape (samples, p)
    """

    samples: list[str]
    reference: str
    terms: list[str]
    effects: list[str]
    design: Floats

    @property
    def pairs(self) -> list[tuple[int, int]]:
        """All pairs of samples."""
        j = len(self.samples)
        return [(a, b) for a in range(j) for b in range(a + 1, j)]

    def contrasts(self, thresholds: int) -> Floats:
        """Return contrasts of the parameters in this order: thresholds, effects, differences."""
        p = self.design.shape[1]
        differences = np.array([self.design[a] - self.design[b] for a, b in self.pairs])
        return np.block(
            [
                [np.eye(thresholds + p)],
                [np.zeros((len(differences), thresholds)), differences],
            ]
        )

    def without(self) -> dict[str, npt.NDArray[np.bool_]]:
        """Return, for each factor, the columns that stay when it is left out."""
        if set(self.effects) == {"sample"}:
            return {}
        given = np.array(self.effects)
        return {name: given != name for name in dict.fromkeys(self.effects)}

    def groups(self, runs: Floats) -> list[int]:
        """Return the number of each sample's group with finite differences; the largest is 0.

        `runs` holds, for each pair, whether its difference runs away.
        """
        group = list(range(len(self.samples)))
        for (a, b), run in zip(self.pairs, runs, strict=True):
            if run == 0:
                group = [group[a] if which == group[b] else which for which in group]
        order = sorted(set(group), key=lambda which: -group.count(which))
        return [order.index(which) for which in group]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Estimated:
    """A fit with its samples and what has no finite estimate.

    Attributes
    ----------
    fit : Maximum
    frame : Frame
    verdict : ndarray
        For each of the frame's contrasts 0 (finite), an infinity, or nan.
    level : float
        Confidence level.
    """

    fit: Maximum
    frame: Frame
    verdict: Floats
    level: float

    @property
    def runs(self) -> Floats:
        """Which pairs' differences run away."""
        return self.verdict[-len(self.frame.pairs) :]

    @property
    def separated(self) -> tuple[str, ...]:
        """Samples outside the largest group with finite differences."""
        groups = self.frame.groups(self.runs)
        return tuple(name for name, at in zip(self.frame.samples, groups, strict=True) if at)

    def of(self, contrasts: Floats, runs: Floats) -> dict[str, Floats]:
        """Return estimate, se and limits of contrasts of thresholds and effects."""
        size = contrasts.shape[1]
        estimate = contrasts @ self.fit.parameters[:size]
        covariance = self.fit.covariance[:size, :size]
        with np.errstate(invalid="ignore"):
            se = np.sqrt(np.einsum("ij,jk,ik->i", contrasts, covariance, contrasts))
        finite = runs == 0
        half = ndtri((1 + self.level) / 2) * se
        return {
            "estimate": np.where(finite, estimate, runs),
            "se": np.where(finite, se, np.nan),
            "low": np.where(finite, estimate - half, np.nan),
            "high": np.where(finite, estimate + half, np.nan),
        }

    def part(self, first: int, count: int) -> dict[str, Floats]:
        """Return the estimates of some of the frame's contrasts."""
        contrasts = self.frame.contrasts(self.fit.model.thresholds)
        return self.of(contrasts[first : first + count], self.verdict[first : first + count])


def thresholds_of(found: Estimated, categories: Floats) -> pd.DataFrame:
    """Return the thresholds between neighbouring categories."""
    names = [f"{a:g}|{b:g}" for a, b in pairwise(categories)]
    return pd.DataFrame({"threshold": names, **found.part(0, len(names))})


def effects_of(found: Estimated) -> pd.DataFrame:
    """Return the effects relative to the reference."""
    part = found.part(found.fit.model.thresholds, len(found.frame.terms))
    z = part["estimate"] / part["se"]
    table = pd.DataFrame({"term": found.frame.terms, **part, "z": z, "p": 2 * ndtr(-np.abs(z))})
    return table[["term", "estimate", "se", "z", "p", "low", "high"]]


def locations_of(found: Estimated) -> pd.DataFrame:
    """Return the samples' locations relative to the mean of those that can be compared."""
    groups = np.array(found.frame.groups(found.runs))
    centred = found.frame.design - found.frame.design[groups == 0].mean(axis=0)
    contrasts = np.hstack([np.zeros((len(centred), found.fit.model.thresholds)), centred])
    # A sample outside runs where its difference from any one inside runs.
    inside = int(np.flatnonzero(groups == 0)[0])
    runs = np.zeros(len(groups))
    for (a, b), run in zip(found.frame.pairs, found.runs, strict=True):
        if inside in {a, b}:
            runs[b if a == inside else a] = -run if a == inside else run
    part = found.of(contrasts, np.where(groups == 0, 0.0, runs))
    table = pd.DataFrame({"sample": found.frame.samples, **part})
    return table.rename(columns={"estimate": "location"})


def differences_of(found: Estimated) -> pd.DataFrame:
    """Return all pairs, p adjusted by Holm's method."""
    pairs, names = found.frame.pairs, found.frame.samples
    part = found.part(found.fit.model.thresholds + len(found.frame.terms), len(pairs))
    z = part["estimate"] / part["se"]
    table = pd.DataFrame(
        {
            "sample_1": [names[a] for a, _ in pairs],
            "sample_2": [names[b] for _, b in pairs],
            **part,
            "z": z,
            "p": adjust(2 * ndtr(-np.abs(z)), "holm"),
        }
    )
    return table.rename(columns={"estimate": "difference"})


def chi_squares_of(found: Estimated, smaller: Mapping[str, Maximum]) -> pd.DataFrame:
    """Return likelihood-ratio and Wald tests of each effect."""
    fit, k = found.fit, found.fit.model.thresholds
    effects = np.array(found.frame.effects)
    rows = []
    for name, less in smaller.items():
        columns = np.flatnonzero((effects == name) | (name == "sample")) + k
        df = len(columns)
        lr = max(2 * (fit.loglik - less.loglik), 0.0)
        block = fit.covariance[np.ix_(columns, columns)]
        beta = fit.parameters[columns]
        finite = np.isfinite(block).all() and not found.verdict[columns].any()
        wald = float(beta @ np.linalg.solve(block, beta)) if finite else np.nan
        rows.append((name, lr, df, float(chdtrc(df, lr)), wald, float(chdtrc(df, wald))))
    return pd.DataFrame(rows, columns=["effect", "lr", "df", "p", "wald", "p_wald"])


def spread_of(fit: Maximum, random: str, level: float) -> pd.DataFrame:
    """Return variance and standard deviation of the random parts, 0 where on the boundary."""
    names = {
        "none": [],
        "assessor": ["assessor"],
        "assessor and interaction": ["assessor", "assessor × sample"],
    }[random]
    left = list(range(fit.model.size - fit.model.random, fit.model.size))
    z = float(ndtri((1 + level) / 2))
    rows = []
    for part, name in enumerate(names, start=1):
        if part in fit.boundary:
            rows.append((name, 0.0, 0.0, np.nan, np.nan))
            continue
        at = left.pop(0)
        sd, se = float(fit.parameters[at]), float(np.sqrt(fit.covariance[at, at]))
        factor = float(np.exp(min(z * se / sd, 700.0)))
        rows.append((name, sd**2, sd, sd / factor, sd * factor))
    return pd.DataFrame(rows, columns=["part", "variance", "sd", "low", "high"])


def shares_of(
    fit: Maximum, frame: Frame, categories: Floats, rows: pd.DataFrame, level: float
) -> pd.DataFrame:
    """Return the shares of the categories, averaged over assessors, with limits."""
    # Complex steps give the exact derivative by every parameter.
    size = fit.model.size
    share = _shares(fit, frame, fit.parameters[None, :])[0]
    moved = _shares(fit, frame, fit.parameters + 1j * _STEP * np.eye(size))
    slope = np.imag(moved) / _STEP
    with np.errstate(invalid="ignore", divide="ignore"):
        variance = np.einsum("msk,mn,nsk->sk", slope, fit.covariance, slope)
        half = ndtri((1 + level) / 2) * np.sqrt(variance) / (share * (1 - share))
        odds = np.log(share / (1 - share))
        half = np.where((share < _EDGE) | (share > 1 - _EDGE), np.nan, half)
        low, high = (expit(odds + sign * half) for sign in (-1, 1))
    counts = np.zeros(share.shape)
    of_sample = pd.Index(frame.samples).get_indexer(pd.Index(rows["sample"]))
    np.add.at(counts, (of_sample, np.searchsorted(categories, rows["score"].to_numpy())), 1)
    observed = counts / counts.sum(axis=1, keepdims=True)
    j, k = share.shape
    return pd.DataFrame(
        {
            "sample": np.repeat(frame.samples, k),
            "category": np.tile(categories, j),
            "share": share.ravel(),
            "low": low.ravel(),
            "high": high.ravel(),
            "observed": observed.ravel(),
        }
    )


def _shares(fit: Maximum, frame: Frame, parameters: npt.NDArray[np.generic]) -> Floats:
    """Integrate the category shares over the assessors; shape (m, samples, categories)."""
    model = fit.model
    k, p = model.thresholds, frame.design.shape[1]
    values = np.asarray(parameters)
    shift = values[:, k : k + p] @ frame.design.T
    variance = (values[:, k + p :] ** 2).sum(axis=1)
    # The square root of an absent variance has no derivative, and needs none.
    sd = np.sqrt(variance) if model.random else variance
    at, weight = np.polynomial.hermite.hermgauss(_NODE_POINTS if model.random else 1)
    below = np.zeros((len(values), len(frame.samples), k + 2), dtype=values.dtype)
    below[:, :, -1] = 1
    for node, part in zip(at, weight / np.sqrt(np.pi), strict=True):
        level = values[:, None, :k] - shift[:, :, None] - (np.sqrt(2) * node * sd)[:, None, None]
        below[:, :, 1:-1] += part * cdf(level, model.link)
    shares: Floats = np.diff(below, axis=2)
    return shares
