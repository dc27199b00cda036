"""Friends and foes of a style, as they declared themselves: what parts them, and what does not."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.special import stdtrit

from ...analysis.core.options import ALPHA
from ...analysis.core.wording import with_ends
from ...forms.questions.question_types import Kind
from ..base.words import Sentence, sentence
from ..findings.camps import of_bottle
from ..findings.evidence import BALANCE, QUALITY, Evidence
from ..findings.statement import Line, Statement, joined
from .bottles_apart import fair_pairs
from .gaps import limits, size
from .told import DIFFER, NEXT, QUALITY_, SWEETNESS, said

if TYPE_CHECKING:
    import pandas as pd

GROUP = 3
"""Friends, and foes, of the style from whom on their sizes are told apart (no source)."""
MOST = 6
"""Attributes whose sizes for both groups are told."""
CLOUDY = "cloudy"


def groups(evidence: Evidence) -> tuple[list[str], list[str]]:
    """Return who declared to like the style and who not to, of those in the means."""
    found = {"likes": [], "dislikes": []}  # type: dict[str, list[str]]
    for one in evidence.people:
        if one.code in evidence.counted and one.style in found:
            found[one.style].append(one.code)
    return found["likes"], found["dislikes"]


def parted(evidence: Evidence) -> list[str]:
    """Name the bottles over whose quality the two groups are told to part."""
    if min(map(len, groups(evidence))) < GROUP:
        return []
    return [name for name in evidence.compared if QUALITY in of_bottle(evidence, name)]


def statements(evidence: Evidence) -> list[Statement]:
    """Say how far the groups part in quality, and whether they describe the bottle alike."""
    made = []
    for name in parted(evidence):
        found = _sizes(evidence, name)
        if not found:
            continue
        made += [*found, *_described(evidence, name), *_balance(evidence, name)]
        made.append(said("taste_judge", NEXT, (name, QUALITY), kind="advice", bottle=name))
    return made


def black_glasses(evidence: Evidence) -> list[Sentence]:
    """Propose to hide the look of a cloudy bottle over which the groups part."""
    for name in parted(evidence):
        for first, second, _ in fair_pairs(evidence):
            kinds = [evidence.bottle(one).fraction for one in (first, second)]
            if name in (first, second) and kinds.count(CLOUDY) == 1:
                return [sentence("overview.step_black", first=first, second=second)]
    return []


def _by(evidence: Evidence, attribute: str, name: str) -> tuple[pd.Series, pd.Series] | None:
    """Return how far friends and foes set a bottle above the mean of their other bottles."""
    wide = evidence.wide([attribute]).get(attribute)
    others = [one for one in evidence.compared if one != name]
    if wide is None or not {name, *others} <= set(wide):
        return None
    gap = (wide[name] - wide[others].mean(axis=1, skipna=False)).dropna()
    first, second = (gap[[one for one in own if one in gap.index]] for own in groups(evidence))
    return (first, second) if min(len(first), len(second)) >= GROUP else None


def _welch(first: pd.Series, second: pd.Series) -> tuple[float, float, float]:
    """Return the difference of two means with 95 % limits (Welch and Satterthwaite)."""
    parts = [float(own.var(ddof=1)) / len(own) for own in (first, second)]
    by = float(first.mean() - second.mean())
    if sum(parts) <= 0:
        return by, by, by
    df = sum(parts) ** 2 / sum(
        part**2 / (len(own) - 1) for part, own in zip(parts, (first, second), strict=True)
    )
    half = float(-stdtrit(df, ALPHA / 2)) * float(np.sqrt(sum(parts)))
    return by, by - half, by + half


def _written(by: tuple[float, float, float], number: str = "") -> dict[str, str]:
    keys = (f"by{number}", f"least{number}", f"most{number}")
    return dict(zip(keys, with_ends(by, sign=True), strict=True))


def _sizes(evidence: Evidence, name: str) -> list[Statement]:
    """Say by how much each group sets the bottle above or below each other one."""
    found = _by(evidence, QUALITY, name)
    if found is None:
        return []
    wide = evidence.wide([QUALITY])[QUALITY]
    others = [one for one in evidence.compared if one != name]
    lists: dict[str, Line] = {}
    for number, own in enumerate(groups(evidence)):
        parts = []
        for other in others:
            gap = (wide[name] - wide[other]).dropna()
            gap = gap[[one for one in own if one in gap.index]]
            mean = limits(gap.to_numpy(float))
            way = int(((gap > 0) if mean[0] >= 0 else (gap < 0)).sum())
            parts.append(
                sentence("overview.taste_gap", other=other, k=way, n=len(gap), **_written(mean))
            )
        lists[f"listed{number}"] = joined(parts)
    first, second = found
    if first.mean() < second.mean():
        least, most = str(first.idxmax()), str(second.idxmin())
        crossed = bool(first[least] >= second[most])
    else:
        least, most = str(first.idxmin()), str(second.idxmax())
        crossed = bool(first[least] <= second[most])
    values: dict[str, Any] = {
        "bottle": name, "n": len(first), "m": len(second), "who": least, "other": most,
        "own": size(float(first[least]), signed=True),
        "theirs": size(float(second[most]), signed=True), **lists,
        **_written(limits(first.to_numpy(float)), "0"),
        **_written(limits(second.to_numpy(float)), "1"),
        **{key: value.lstrip("+") for key, value in _written(_welch(first, second), "2").items()},
    }  # fmt: skip
    key = "taste_crossed" if crossed else "taste_sizes"
    return [said(key, QUALITY_, (name, QUALITY), **values), said("taste_named", QUALITY_, (name,))]


def _described(evidence: Evidence, name: str) -> list[Statement]:
    """Say in which attributes the groups describe the bottle otherwise, and the sizes of both."""
    apart, sizes, widest, looked = [], [], 0.0, 0
    names = [one for one in evidence.attributes(Kind.LINE, Kind.CATEGORY) if one != QUALITY]
    for attribute in names:
        found = _by(evidence, attribute, name)
        if found is None:
            continue
        looked += 1
        by, least, most = _welch(*found)
        widest = max(widest, abs(least), abs(most))
        if least > 0 or most < 0:
            apart.append(
                sentence("overview.taste_apart", attribute=evidence.name(attribute),
                         **_written((by, least, most)))
            )  # fmt: skip
        whole = np.concatenate([own.to_numpy(float) for own in found])
        _, low, high = limits(whole)
        if low > 0 or high < 0:
            both = [size(float(own.mean()), signed=True) for own in found]
            sure = -abs(float(whole.mean())) / (high - low) if high > low else 0.0
            sizes.append((sure, evidence.name(attribute), both))
    if not looked:
        return []
    listed = [
        sentence("overview.taste_both", attribute=attribute, first=first, second=second)
        for _, attribute, (first, second) in sorted(sizes)[:MOST]
    ]
    key = "taste_partly" if apart else "taste_alike"
    return [
        said(key, DIFFER, (name,), bottle=name, n=looked, k=max(round(ALPHA * looked), 1),
             listed=listed, m=len(listed), apart=joined(apart) if apart else "", by=size(widest))
    ]  # fmt: skip


def _balance(evidence: Evidence, name: str) -> list[Statement]:
    """Say how many of each group found the bottle too sweet or too dry."""
    wide = evidence.wide([BALANCE]).get(BALANCE)
    if wide is None or name not in wide:
        return []
    values: dict[str, Any] = {"bottle": name}
    for number, own in enumerate(groups(evidence)):
        marks = wide[name].dropna()
        marks = marks[[one for one in own if one in marks.index]]
        values |= {
            f"n{number}": len(marks), f"sweet{number}": int((marks > 0).sum()),
            f"dry{number}": int((marks < 0).sum()),
        }  # fmt: skip
    few = max(values["sweet1"], values["dry1"]) * 2 <= values["n1"]
    key = "taste_balance_few" if few else "taste_balance"
    return [said(key, SWEETNESS, (name, BALANCE), **values)]
