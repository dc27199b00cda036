"""Which way do two bottles lie, with what probability; what is settled, and what would settle it?

Everything that this house knows of such scatter beforehand comes in here, through
`direction_of`: what is usual for the kind of attribute.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from ...analysis.core.errors import AnalysisError
from ..findings.evidence import QUALITY, Evidence, once
from .side_by_side import rows

if TYPE_CHECKING:
    from ...analysis.performance.few_tasters import SmallPanel
    from ...analysis.performance.next_step import NextStep
    from ..key.earlier_sessions import Earlier

RISK = 0.05
"""Chance at most that a report on bottles without any difference says "surely" of anything."""
FREE = 5
"""Comparisons (attributes times bottles less one) up to which each is sure at a probability of
0.95; with more the bar rises with their number. Set by ``benchmarks/few_calibration.py``."""
NAMED = 10
"""Share of the risk of a question named beforehand, as a multiple of one that was not."""
BAR = 0.95
"""Probability from which on a further tasting for one question settles it."""
MEMORY = "memory"
"""Under this name `Evidence.kept` may hold what earlier sessions taught."""
WEIGHED = 2
"""Open orders for which next steps are weighed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """The order of two bottles in one attribute.

    Attributes
    ----------
    attribute, high, low : str
        `high` has the higher mean.
    raw, least, most : float
        Difference of the means, and its 95 % interval joined to what is known beforehand.
    above : float
        Probability that `high` truly lies above `low`.
    risk : float
        Chance of being wrong, on the scale of the whole report: sure at `RISK` or below.
    """

    attribute: str
    high: str
    low: str
    raw: float
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
    """Return the order of every pair in every attribute, the widest of an attribute first."""
    known = panels(evidence)
    named = {one.attribute for one in evidence.primary}
    weight = {name: NAMED if name in named else 1 for name in known}
    found = []
    for name, panel in known.items():
        compared = (panel.samples - 1) * sum(weight.values()) / weight[name]
        times = max(1.0, compared / FREE)
        found += [
            Pair(
                attribute=name,
                high=str(row["sample_1"]),
                low=str(row["sample_2"]),
                raw=float(row["raw"]),
                least=float(row["low"]),
                most=float(row["high"]),
                above=float(row["above"]),
                # One person's marks tell nothing of other people.
                risk=min(1.0, times * (1 - float(row["above"])))
                if len(evidence.counted) > 1
                else 1.0,
            )
            for row in panel.differences.to_dict("records")
        ]
    return found


def widest(evidence: Evidence, attribute: str) -> Pair | None:
    """Return the widest pair of an attribute; None where the bottles have one mean."""
    found = next((one for one in pairs(evidence) if one.attribute == attribute), None)
    return found if found is not None and found.raw > 0 else None


def sure(evidence: Evidence) -> list[Pair]:
    """Return the pairs of which the report says "surely", the surest first."""
    return sorted((one for one in pairs(evidence) if one.sure), key=lambda one: one.risk)


@once
def open_pairs(evidence: Evidence) -> list[Pair]:
    """Return the pairs that a next step is weighed for, one or two.

    The widest of a question named beforehand, else of overall quality; then the likeliest
    of all that are not sure.
    """
    left = [one for one in (widest(evidence, name) for name in panels(evidence)) if one is not None]
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
            bar=BAR,
            seed=evidence.seed,
        )
        found.append((pair, made))
    return found


@once
def smallest_sure(evidence: Evidence) -> float | None:
    """Return the difference of two bottles in a taste that would have been sure here.

    For the taste whose marks scatter in the middle of all, the other bottles between the
    two; infinite where not even the length of the scale is enough, None without a taste.
    """
    from scipy.optimize import brentq
    from scipy.special import ndtr

    from ...analysis.performance.spreads import integrate, two_way
    from ...analysis.performance.usual_spreads import wide_spreads

    tastes = sorted(
        (name for name, panel in panels(evidence).items() if panel.kind == "taste"),
        key=lambda name: panels(evidence)[name].error_sd,
    )
    if not tastes or len(evidence.counted) < 2:
        return None
    name = tastes[len(tastes) // 2]
    panel = panels(evidence)[name]
    marks = next(row.marks for row in rows(evidence) if row.attribute == name)
    data = two_way(marks.loc[[code for code in evidence.counted if code in marks.index]].to_numpy())
    parts = (
        (panel.prior.of_means(panel.replicates), 1 - panel.vague),
        (wide_spreads(panel.kind, panel.length).of_means(panel.replicates), panel.vague),
    )
    contrast = np.zeros((1, panel.samples))
    contrast[0, :2] = 1, -1
    needed = RISK / max(1.0, (panel.samples - 1) * len(panels(evidence)) / FREE)

    def missing(gap: float) -> float:
        found = integrate(replace(data, effects=contrast[0] * gap / 2), parts)
        means, sds = found.of(contrast)
        return float(found.weight @ ndtr(-means / sds)[:, 0]) - needed

    if missing(panel.length) > 0:
        return float("inf")
    return float(brentq(missing, 1e-3, panel.length, xtol=0.02))
