"""What a difference goes with: fraction, tank or pasteurising, where the others stay the same."""

from __future__ import annotations

from itertools import combinations

from ..base.words import Sentence, sentence
from .budget import Budget, Weighed
from .evidence import Evidence
from .statement import Statement

FACTORS = ("fraction", "pasteurised", "tank")
FEWEST = 2
"""Pairs of bottles in which nothing else changed, from which on it is told."""
Changed = dict[tuple[str, str], list[tuple[str, str]]]


def statements(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say for each claim whether it follows one thing in all pairs that differ in that alone."""
    said = []
    for one in budget.claimed("scale", "balance"):
        for factor in FACTORS:
            for (high, low), pairs in _followed(evidence, one, factor).items():
                said.append(
                    Statement(
                        kind="description",
                        about=(one.about, *dict.fromkeys(name for pair in pairs for name in pair)),
                        sentence=sentence(
                            "findings.follows",
                            attribute=evidence.name(one.about),
                            factor=sentence(f"findings.follows_{factor}"),
                            high=level_of(factor, high),
                            low=level_of(factor, low),
                            n=len(pairs),
                            pairs=[
                                sentence("findings.above", high=first, low=second)
                                for first, second in pairs
                            ],
                        ),
                        section="differ",
                    )
                )
    return said


def level_of(factor: str, level: str) -> Sentence | str:
    """Write a level of a factor as people read it."""
    return sentence(f"report.pasteurised_{level}") if factor == "pasteurised" else level


def changed_alone(evidence: Evidence, factor: str) -> Changed:
    """Return by two levels of a factor the pairs of bottles in which nothing else known differs."""
    changed: Changed = {}
    for first, second in combinations(evidence.products, 2):
        levels = [str(getattr(evidence.bottle(name), factor)) for name in (first, second)]
        same = all(
            getattr(evidence.bottle(first), other) == getattr(evidence.bottle(second), other)
            for other in FACTORS
            if other != factor
        )
        if not same or not all(levels) or levels[0] == levels[1]:
            continue
        pair = (first, second) if levels[0] < levels[1] else (second, first)
        changed.setdefault((min(levels), max(levels)), []).append(pair)
    return changed


def _followed(evidence: Evidence, one: Weighed, factor: str) -> Changed:
    """Return levels and claimed pairs of a factor, where all its pairs go the same way."""
    found: Changed = {}
    for (level, other), pairs in changed_alone(evidence, factor).items():
        if len(pairs) < FEWEST:
            continue
        if all(pair in one.pairs for pair in pairs):
            found[level, other] = pairs
        elif all(pair[::-1] in one.pairs for pair in pairs):
            found[other, level] = [pair[::-1] for pair in pairs]
    return found
