"""Two camps of assessors about one bottle, which a mean would hide."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ...forms.questions.question_types import Kind
from ..base.words import sentence
from .evidence import Evidence, once
from .statement import Statement

if TYPE_CHECKING:
    import pandas as pd

RANK = 35
GAP = 0.3
"""Camps stand apart by at least this share of the scale, with nobody between them
(a convention, no source)."""
FEWEST = 2
"""Assessors who make a camp: one alone is none."""
CLOSE = 0.5
"""Share of the gap that a camp is wide at most."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Camps:
    """Who stands above and who below, and where.

    Attributes
    ----------
    low, high : tuple of str
        Assessors.
    low_range, high_range : tuple of float
        The least and the largest of their means.
    """

    low: tuple[str, ...]
    high: tuple[str, ...]
    low_range: tuple[float, float]
    high_range: tuple[float, float]


def split(values: pd.Series, span: float) -> Camps | None:
    """Find two camps among one value an assessor.

    Parameters
    ----------
    values : Series
        By assessor.
    span : float
        Length of the scale.
    """
    ordered = values.dropna().sort_values(kind="stable")
    if len(ordered) < 2 * FEWEST:
        return None
    numbers = ordered.to_numpy(float)
    steps = np.diff(numbers)
    at = int(steps.argmax()) + 1
    gap = float(steps[at - 1])
    low, high = numbers[:at], numbers[at:]
    if min(len(low), len(high)) < FEWEST or gap < GAP * span:
        return None
    if max(np.ptp(low), np.ptp(high)) > CLOSE * gap:
        return None
    return Camps(
        low=tuple(ordered.index[:at]),
        high=tuple(ordered.index[at:]),
        low_range=(float(low[0]), float(low[-1])),
        high_range=(float(high[0]), float(high[-1])),
    )


@once
def _wide(evidence: Evidence) -> dict[str, pd.DataFrame]:
    """Return for each scale the panel's marks: a row an assessor, a column a product."""
    rows = evidence.rows(evidence.attributes(Kind.LINE, Kind.CATEGORY))
    return {
        str(name): own.groupby(["assessor", "sample"])["score"]
        .mean()
        .reset_index()
        .pivot_table(index="assessor", columns="sample", values="score")
        for name, own in rows.groupby("attribute", sort=False)
    }


def camps_in(
    evidence: Evidence, attribute: str, sample: str, *, less: str | None = None
) -> Camps | None:
    """Find two camps about a bottle: in its marks, or in its marks less those of `less`.

    `less` is another attribute (nose against palate).
    """
    wide = _wide(evidence)
    names = [attribute] if less is None else [attribute, less]
    if any(name not in wide or sample not in wide[name] for name in names):
        return None
    values = wide[attribute][sample]
    if less is not None:
        values = values - wide[less][sample]
    question = evidence.question(attribute)
    return split(values, question.high - question.low)


def against_others(evidence: Evidence, attribute: str, sample: str) -> Camps | None:
    """Find two camps in how far assessors set a bottle off from the others."""
    wide = _wide(evidence).get(attribute)
    if wide is None or sample not in wide or wide.shape[1] < 2:
        return None
    apart = wide[sample] - wide.drop(columns=sample).mean(axis=1)
    question = evidence.question(attribute)
    found = split(apart, question.high - question.low)
    if found is None or not (found.low_range[1] < 0 < found.high_range[0]):
        return None
    return found


@once
def statements(evidence: Evidence) -> list[Statement]:
    """Tell every bottle and attribute about which the panel falls into two camps."""
    said = []
    for attribute in evidence.attributes(Kind.LINE, Kind.CATEGORY):
        for sample in evidence.products:
            own = camps_in(evidence, attribute, sample)
            apart = against_others(evidence, attribute, sample)
            if apart is not None:
                said.append(_told("camps_apart", attribute, sample, apart, evidence))
                break  # with two bottles the other one says the same
            if own is not None:
                said.append(_told("camps", attribute, sample, own, evidence))
    return said


def _told(key: str, attribute: str, sample: str, found: Camps, evidence: Evidence) -> Statement:
    values = {
        "sample": sample,
        "attribute": evidence.name(attribute),
        "n_low": len(found.low),
        "n_high": len(found.high),
        "low": _range(found.low_range),
        "high": _range(found.high_range),
        "who_low": sorted(found.low),
        "who_high": sorted(found.high),
    }
    return Statement(
        kind="caution",
        about=(sample, attribute),
        sentence=sentence(f"findings.{key}", **values),
        section="differ",
        rank=RANK,
        box="findings.box_camps",
        brief=sentence(f"findings.brief_{key}", **values),
    )


def _range(ends: tuple[float, float]) -> str:
    first, last = (f"{end:+.1f}" if ends[0] < 0 else f"{end:.1f}" for end in ends)
    return first if first == last else f"{first}–{last}"


def of_bottle(evidence: Evidence, sample: str) -> list[str]:
    """Name the attributes about which camps are told for a bottle."""
    return [one.about[1] for one in statements(evidence) if one.about[0] == sample]
