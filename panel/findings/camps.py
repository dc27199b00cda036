"""Two camps of assessors about one bottle, which a mean would hide."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ...forms.questions.question_types import Kind
from ..base.words import Sentence, sentence
from .evidence import QUALITY, Evidence, once
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
    given = values.to_numpy(float)
    order = np.argsort(given, kind="stable")  # gaps come last
    order = order[: len(given) - int(np.isnan(given).sum())]
    if len(order) < 2 * FEWEST:
        return None
    numbers = given[order]
    steps = np.diff(numbers)
    at = int(steps.argmax()) + 1
    gap = float(steps[at - 1])
    low, high = numbers[:at], numbers[at:]
    if min(len(low), len(high)) < FEWEST or gap < GAP * span:
        return None
    if max(np.ptp(low), np.ptp(high)) > CLOSE * gap:
        return None
    people = values.index[order]
    return Camps(
        low=tuple(people[:at]),
        high=tuple(people[at:]),
        low_range=(float(low[0]), float(low[-1])),
        high_range=(float(high[0]), float(high[-1])),
    )


@once
def _wide(evidence: Evidence) -> dict[str, pd.DataFrame]:
    """Return the panel's marks on each scale."""
    return evidence.wide(evidence.attributes(Kind.LINE, Kind.CATEGORY))


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
    others = wide.to_numpy(float)[:, wide.columns != sample]
    count = (~np.isnan(others)).sum(axis=1)
    mean = np.nansum(others, axis=1) / np.where(count > 0, count, np.nan)
    apart = wide[sample] - mean
    question = evidence.question(attribute)
    found = split(apart, question.high - question.low)
    if found is None or not (found.low_range[1] < 0 < found.high_range[0]):
        return None
    return found


@once
def statements(evidence: Evidence) -> list[Statement]:
    """Tell every bottle and attribute about which the panel falls into two camps.

    Camps in a bottle's own marks are told as such; else camps in how far it is set off
    from the others, of two bottles once.
    """
    said = []
    for attribute in evidence.attributes(Kind.LINE, Kind.CATEGORY):
        own = {
            sample: found
            for sample in evidence.products
            if (found := camps_in(evidence, attribute, sample)) is not None
        }
        said += [_told("camps", attribute, name, found, evidence) for name, found in own.items()]
        others = [name for name in evidence.products if name not in own]
        if len(evidence.products) == 2 and own:
            continue
        for sample in reversed(others):
            apart = against_others(evidence, attribute, sample)
            if apart is not None:
                said.append(_told("camps_apart", attribute, sample, apart, evidence))
                break
    return said


def _told(key: str, attribute: str, sample: str, found: Camps, evidence: Evidence) -> Statement:
    others = [name for name in evidence.products if name != sample]
    signed = key == "camps_apart"
    values = {
        "sample": sample,
        "others": others[0] if len(others) == 1 else sentence("findings.the_others"),
        "attribute": evidence.name(attribute),
        "n_low": len(found.low),
        "n_high": len(found.high),
        "low": _less(found.low_range) if signed else _range(found.low_range),
        "high": _range(found.high_range),
        "who_low": sorted(found.low),
        "who_high": sorted(found.high),
        "apart": "",
        "drinkers": _drinkers(evidence, attribute),
    }
    apart = against_others(evidence, attribute, sample)
    if apart is not None and set(apart.high) == set(found.high):
        values["apart"] = sentence("findings.camps_too", others=values["others"])
    return Statement(
        kind="caution",
        about=(sample, attribute),
        sentence=sentence(f"findings.{key}", **values),
        section="differ",
        rank=RANK,
        box="findings.box_camps",
        brief=sentence(f"findings.brief_{key}", **values),
    )


def _drinkers(evidence: Evidence, attribute: str) -> Sentence | str:
    """Say of camps in what consumers gave for quality what they may be."""
    both = evidence.counted and all(evidence.roles[one] == "consumer" for one in evidence.counted)
    return sentence("findings.two_kinds") if both and attribute == QUALITY else ""


def _less(ends: tuple[float, float]) -> Sentence | str:
    """Write how far below others a camp stands, without signs."""
    return _range((-ends[1], -ends[0]))


def _range(ends: tuple[float, float]) -> Sentence | str:
    first, last = (f"{end:.1f}" for end in ends)
    return first if first == last else sentence("findings.from_to", low=first, high=last)


def of_bottle(evidence: Evidence, sample: str) -> list[str]:
    """Name the attributes about which camps are told for a bottle."""
    return [one.about[1] for one in statements(evidence) if one.about[0] == sample]
