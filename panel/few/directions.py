"""Which way do two bottles lie, with what probability; what is settled, and what would settle it?

Everything that this house knows of such scatter beforehand comes in here, through
`direction_of`: what is usual for the kind of attribute.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from ...analysis.core.errors import AnalysisError
from ..findings import tainted
from ..findings.evidence import QUALITY, Evidence, once
from .contrasts import Contrast, contrasts
from .side_by_side import rows

if TYPE_CHECKING:
    from ...analysis.performance.few_tasters import SmallPanel
    from ...analysis.performance.next_step import NextStep
    from ...analysis.performance.spreads import Spreads, TwoWay
    from ..key.earlier_sessions import Earlier

RISK = 0.05
"""Chance at most that a report on bottles without any difference says "surely" of anything."""
FREE = 5
"""Comparisons (attributes times bottles less one, and things crossed) up to which each is sure at a
probability of 0.95; with more the bar rises with their number. Set by
``benchmarks/few_calibration.py``."""
NAMED = 10
"""Share of the risk of a question named beforehand, as a multiple of one that was not."""
BAR = 0.95
"""Probability from which on a further tasting settles what one person's marks leave open; of more
people's it settles what reaches the probability that the page asks for (`bar`)."""
MEMORY = "memory"
"""Under this name `Evidence.kept` may hold what earlier sessions taught."""
DIGITS = 9
"""Differences of means that are alike to so many digits are as wide."""
WEIGHED = 2
"""Open orders for which next steps are weighed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """The order of two bottles in one attribute.

    Attributes
    ----------
    attribute, high, low : str
        `high` has the higher mean.
    raw : float
        Difference of the means of the marks.
    mean, least, most : float
        The difference joined to what is known beforehand, and its 95 % interval.
    above : float
        Probability that `high` truly lies above `low`.
    risk : float
        Chance of being wrong, on the scale of the whole report: sure at `RISK` or below.
    """

    attribute: str
    high: str
    low: str
    raw: float
    mean: float
    least: float
    most: float
    above: float
    risk: float

    @property
    def sure(self) -> bool:
        """Whether the report says "surely"."""
        return self.risk <= RISK


def direction_of(
    evidence: Evidence, attribute: str, *, remembers: bool = True
) -> SmallPanel | None:
    """Join the marks of one attribute to what is known beforehand; None if that cannot be.

    The only place where a report of few assessors takes it: what earlier sessions taught
    where they did and it `remembers`, else what is usual for the kind of attribute.
    """
    from ...analysis.performance.few_tasters import small_panel

    question = evidence.question(attribute)
    earlier: Earlier | None = evidence.kept.get(MEMORY) if remembers else None
    known = earlier.known(question) if earlier is not None else None
    memory = earlier.memory if earlier is not None else None
    try:
        return small_panel(
            evidence.tidy([attribute]),
            prior=known.spreads if known is not None else None,
            widths=memory.width_of() if memory is not None and known is not None else None,
            kind=question.sense,
            length=float(question.high - question.low),
        )
    except AnalysisError:
        return None


@once
def panels(evidence: Evidence) -> dict[str, SmallPanel]:
    """Return what is known of each attribute, as far as it can be computed."""
    made = {row.attribute: direction_of(evidence, row.attribute) for row in rows(evidence)}
    return {name: found for name, found in made.items() if found is not None}


@once
def pairs(evidence: Evidence) -> list[Pair]:
    """Return the order of every pair in every attribute, the widest of an attribute first.

    Of two that are as wide, first the one whose bottles stand first in the session.
    """
    place = {name: at for at, name in enumerate(evidence.products)}
    made = [
        Pair(
            attribute=name,
            high=str(row["sample_1"]),
            low=str(row["sample_2"]),
            raw=float(row["raw"]),
            mean=float(row["mean"]),
            least=float(row["low"]),
            most=float(row["high"]),
            above=float(row["above"]),
            risk=_risk(evidence, name, float(row["above"])),
        )
        for name, panel in panels(evidence).items()
        for row in panel.differences.to_dict("records")
    ]
    attributes = list(panels(evidence))
    return sorted(made, key=lambda one: (attributes.index(one.attribute), *_by_width(one, place)))


def _by_width(one: Pair, place: Mapping[str, int]) -> tuple[float, int, int]:
    last = len(place)
    return -round(one.raw, DIGITS), place.get(one.high, last), place.get(one.low, last)


def _risk(evidence: Evidence, name: str, above: float) -> float:
    """Return the chance of being wrong on the scale of all comparisons of the report."""
    if len(evidence.counted) < 2:  # One person's marks tell nothing of other people.
        return 1.0
    return min(1.0, _shared(evidence, name) * (1 - above))


def _shared(evidence: Evidence, name: str) -> float:
    """Return by how much a chance of being wrong counts more than that of one question alone."""
    named = {one.attribute for one in evidence.primary}
    weight = {one: NAMED if one in named else 1 for one in panels(evidence)}
    compared = panels(evidence)[name].samples - 1 + len(contrasts(evidence))
    return max(1.0, compared * sum(weight.values()) / weight[name] / FREE)


def bar(evidence: Evidence, name: str) -> float | None:
    """Return the probability from which on this report says "surely" of an attribute.

    `BAR` for few comparisons, more for many; None for one person, of whom nothing is sure.
    """
    return 1 - RISK / _shared(evidence, name) if len(evidence.counted) > 1 else None


def _joined(evidence: Evidence, name: str) -> tuple[TwoWay, tuple[tuple[Spreads, float], ...]]:
    """Return what `small_panel` joins: the marks that count, and what is known beforehand."""
    from ...analysis.performance.spreads import WIDTH_SD, two_way
    from ...analysis.performance.usual_spreads import wide_spreads

    panel = panels(evidence)[name]
    marks = next(row.marks for row in rows(evidence) if row.attribute == name)
    marks = marks.loc[[code for code in evidence.counted if code in marks.index]]
    memory = evidence.kept[MEMORY].memory.width_of() if panel.source == MEMORY else {}
    each = np.array([memory.get(str(code), (1.0, WIDTH_SD)) for code in marks.index])
    wide = wide_spreads(panel.kind, panel.length)
    parts = (
        (panel.prior.of_means(panel.replicates), 1 - panel.vague),
        (wide.of_means(panel.replicates), panel.vague),
    )
    return two_way(marks.to_numpy(float), *each.T), parts


@once
def of_contrast(evidence: Evidence, name: str, one: Contrast) -> Pair | None:
    """Return how far `one.high` lies above `one.low` over its pairs; None where that is unknown.

    Joined to what is known beforehand like a pair of bottles, and under the same bar.
    """
    from ...analysis.performance.spreads import integrate

    row = next((row for row in rows(evidence) if row.attribute == name), None)
    if name not in panels(evidence) or row is None:
        return None
    columns = [str(bottle) for bottle in row.marks.columns]
    if not {bottle for pair in one.pairs for bottle in pair} <= set(columns):
        return None
    weights = np.zeros((1, len(columns)))
    for high, low in one.pairs:
        weights[0, [columns.index(high), columns.index(low)]] = 1, -1
    weights /= len(one.pairs)
    data, parts = _joined(evidence, name)
    found = integrate(data, parts).summary(weights, 0.95)
    above = float(found["above"][0])
    return Pair(
        attribute=name,
        high=one.high,
        low=one.low,
        raw=float(weights[0] @ data.effects),
        mean=float(found["mean"][0]),
        least=float(found["low"][0]),
        most=float(found["high"][0]),
        above=above,
        risk=_risk(evidence, name, above),
    )


def plain_gap(evidence: Evidence, pair: Pair) -> float:
    """Return how far one bottle lies above another in the plain mean of the marks that count.

    `Pair.raw` weighs them by the widths of scale that earlier sessions taught, if any: nobody
    could reckon that from the sheets.
    """
    marks = next(row.marks for row in rows(evidence) if row.attribute == pair.attribute)
    own = marks.loc[[code for code in evidence.counted if code in marks.index]]
    return float((own[pair.high] - own[pair.low]).mean())


def widest(evidence: Evidence, attribute: str) -> Pair | None:
    """Return the widest pair of an attribute; None where the bottles have one mean."""
    found = next((one for one in pairs(evidence) if one.attribute == attribute), None)
    return found if found is not None and found.raw > 0 else None


@once
def sure(evidence: Evidence) -> list[Pair]:
    """Return the pairs of which the report says "surely", the surest first."""
    return sorted((one for one in pairs(evidence) if one.sure), key=lambda one: one.risk)


def _open(evidence: Evidence, attribute: str) -> Pair | None:
    """Return the widest pair of bottles that are not held back, where two are left."""
    held = tainted.held(evidence)
    if len(evidence.products) - len(held) < 2:
        return widest(evidence, attribute)
    return next((one for one in pairs(evidence) if one.attribute == attribute and one.raw > 0
                 and not {one.high, one.low} & set(held)), None)  # fmt: skip


@once
def open_pairs(evidence: Evidence) -> list[Pair]:
    """Return the pairs that a next step is weighed for, one or two.

    The widest of a question named beforehand, else of overall quality; then the likeliest
    of all that are not sure.
    """
    left = [one for one in (_open(evidence, name) for name in panels(evidence)) if one is not None]
    left = sorted((one for one in left if not one.sure), key=lambda one: -one.above)
    named = [one.attribute for one in evidence.primary]
    first = [one for one in left if one.attribute in (named or [QUALITY])][:1]
    return [*first, *(one for one in left if one not in first)][:WEIGHED]


@once
def steps(evidence: Evidence) -> list[tuple[Pair, list[NextStep]]]:
    """Weigh what the cheapest next steps would settle of `open_pairs`, where that can be."""
    from ...analysis.performance.next_step import next_steps
    from ...analysis.performance.usual_spreads import wide_spreads

    found = []
    for pair in open_pairs(evidence):
        marks = next(row.marks for row in rows(evidence) if row.attribute == pair.attribute)
        marks = marks.loc[[code for code in evidence.counted if code in marks.index]]
        if marks.isna().to_numpy().any() or not len(marks):
            continue
        panel = panels(evidence)[pair.attribute]
        place = [str(name) for name in marks.columns].index
        made = next_steps(
            marks.to_numpy(float),
            (place(pair.high), place(pair.low)),
            replicates=round(panel.replicates),
            parts=(
                (panel.prior, 1 - panel.vague),
                (wide_spreads(panel.kind, panel.length), panel.vague),
            ),
            bar=bar(evidence, pair.attribute) or BAR,
            seed=evidence.seed,
        )
        found.append((pair, made))
    return found


@once
def middle_taste(evidence: Evidence) -> SmallPanel | None:
    """Return the taste whose marks scatter in the middle of all, where several count."""
    tastes = sorted(
        (panel for panel in panels(evidence).values() if panel.kind == "taste"),
        key=lambda panel: panel.error_sd,
    )
    return tastes[len(tastes) // 2] if tastes and len(evidence.counted) > 1 else None


@once
def smallest_sure(evidence: Evidence) -> float | None:
    """Return the difference of two bottles in a taste that would have been sure here.

    For the taste whose marks scatter in the middle of all, the other bottles between the
    two; infinite where not even the length of the scale is enough, None without a taste.
    """
    from scipy.optimize import brentq
    from scipy.special import ndtr

    from ...analysis.performance.spreads import integrate

    panel = middle_taste(evidence)
    if panel is None:
        return None
    data, parts = _joined(evidence, panel.attribute)
    contrast = np.zeros((1, panel.samples))
    contrast[0, :2] = 1, -1
    compared = panel.samples - 1 + len(contrasts(evidence))
    needed = RISK / max(1.0, compared * len(panels(evidence)) / FREE)

    def missing(gap: float) -> float:
        found = integrate(replace(data, effects=contrast[0] * gap / 2), parts)
        means, sds = found.of(contrast)
        return float(found.weight @ ndtr(-means / sds)[:, 0]) - needed

    if missing(panel.length) > 0:
        return float("inf")
    return float(brentq(missing, 1e-3, panel.length, xtol=0.02))
