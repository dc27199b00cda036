"""What a difference goes with: fraction, tank, pasteurising, serving, where the rest stays.

Where conditions of serving are crossed with the bottles, what each does is claimed within the
report's budget; elsewhere it is a description.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations
from typing import TYPE_CHECKING

from ...analysis.core.wording import with_ends
from ..base.words import Sentence, sentence
from ..session.bottles import CONDITIONS
from ..session.conditions import written
from .budget import Budget, Weighed
from .differences import with_end
from .evidence import BOTTLE_FACTORS, Evidence
from .statement import Statement, signed

FACTORS = (*BOTTLE_FACTORS, *CONDITIONS)
SERVED = "served"
"""Key of the report's section on conditions."""
RANK_SERVED = 29
FEWEST = 2
"""Pairs of bottles in which nothing else changed, from which on it is told."""
if TYPE_CHECKING:
    import pandas as pd

Changed = dict[tuple[str, str], list[tuple[str, str]]]


def statements(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say for each claim whether it follows one thing in all pairs that differ in that alone."""
    said = []
    for one in budget.claimed("scale", "balance"):
        for factor in FACTORS:
            if evidence.factors is not None and factor in evidence.factors:
                continue  # judged, not described
            for (high, low), pairs in _followed(evidence, one, factor).items():
                said.append(
                    Statement(
                        kind="description",
                        about=(one.about, *dict.fromkeys(name for pair in pairs for name in pair)),
                        sentence=sentence(
                            "findings.follows",
                            attribute=with_end(evidence, one.about),
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
    if factor in CONDITIONS:
        return written(factor, level)
    return sentence(f"report.pasteurised_{level}") if factor == "pasteurised" else level


def spoken_level(factor: str, level: str) -> Sentence | str:
    """Write what a bottle is in a factor, inside a sentence."""
    if factor == "tank":
        return sentence("overview.of_tank", tank=level)
    return (
        sentence(f"overview.heated_{level}") if factor == "pasteurised" else level_of(factor, level)
    )


def made_apart(evidence: Evidence, first: str, second: str) -> list[Sentence | str]:
    """Name in what else of their making two bottles differ: polishing, storage, further columns.

    What is written of one of them alone tells nothing, and is not named.
    """
    ratios = {evidence.bottle(name).polishing for name in (first, second)}
    told: list[Sentence | str] = []
    if len(ratios) == 2 and None not in ratios:
        told.append(sentence("offer.unlike_polishing"))
    return told + [
        column
        for column, known in evidence.made
        if first in known
        and second in known
        and known[first].casefold() != known[second].casefold()
    ]


def changed_alone(evidence: Evidence, factor: str) -> Changed:
    """Return by two levels of a factor the pairs of bottles in which nothing else known differs.

    Neither another of the factors nor what else is written of both bottles' making.
    """
    changed: Changed = {}
    for first, second in combinations(evidence.products, 2):
        levels = [evidence.bottle(name).level(factor) for name in (first, second)]
        same = all(
            evidence.bottle(first).level(other) == evidence.bottle(second).level(other)
            for other in FACTORS
            if other != factor
        )
        if not same or not all(levels) or levels[0] == levels[1]:
            continue
        if made_apart(evidence, first, second):
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


def effects(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say what crossed conditions do, alone and together: claims, and hints."""
    claimed = budget.claimed("effect")
    first = sorted(claimed, key=lambda one: ":" not in one.sample)  # else it would hide in a mean
    made = [
        _effect(evidence, one, "claim", RANK_SERVED, parted=_parted(claimed, one)) for one in first
    ]
    made += [_effect(evidence, one, "hint", None) for one in budget.hinted("effect")]
    asked = [one for one in budget.judged if one.kind == "effect"]
    if asked and not any(one.kind == "claim" for one in made):
        told = sentence("serving.nothing_shown", n=len(asked))
        made.insert(0, Statement(kind="description", about=(), sentence=told, section=SERVED,
                                 family="effect", rank=RANK_SERVED))  # fmt: skip
    return made


def _parted(claimed: Sequence[Weighed], one: Weighed) -> bool:
    """Tell whether the effect of one factor is shown to differ over another."""
    if ":" in one.sample:
        return False
    both = [other for other in claimed if ":" in other.sample and other.about == one.about]
    return any(one.sample in other.sample.split(":") for other in both)


def _effect(
    evidence: Evidence, one: Weighed, kind: str, rank: int | None, *, parted: bool = False
) -> Statement:
    """Say what an effect is; `parted` where its size is shown to differ over another factor."""
    claim = kind == "claim"
    name = evidence.name(one.about)
    told = sentence("serving.effect", attribute=name, text=_spoken(evidence, one))
    short = _in_short(evidence, one)
    if parted:
        told = sentence("serving.not_alike", text=told)
        short = sentence("serving.not_alike_short", text=short)
    return Statement(
        kind=kind,
        about=(one.about,),
        sentence=sentence("serving.claim" if claim else "serving.hint", text=told),
        section=SERVED,
        p=one.p,
        p_adjusted=one.adjusted,
        family="effect",
        rank=rank,
        box="serving.box" if claim else "",
        brief=told,
        name=short,
    )


def _in_short(evidence: Evidence, one: Weighed) -> Sentence:
    """Say the same for a line that holds several: which way, by how much, with limits."""
    size, low, high = with_ends(one.away)
    told = {"attribute": evidence.name(one.about), "by": size, "low": low, "high": high}
    names = one.sample.split(":")
    if len(names) == 1:
        less, more = one.levels[0][:: 1 if one.shift >= 0 else -1]
        ends = {"more": spoken_level(names[0], more), "less": spoken_level(names[0], less)}
        return sentence("serving.short", **told, **ends)
    up, more, less = goes_apart(evidence, one)
    first, last = (spoken_level(names[0], level) for level in one.levels[0])
    ends = {"more": spoken_level(names[1], more), "less": spoken_level(names[1], less)}
    way = "serving.short_up" if up else "serving.short_down"
    return sentence(way, **told, **ends, first=first, last=last)


def _spoken(evidence: Evidence, one: Weighed) -> Sentence:
    """Say what an effect is, with its size and limits."""
    names = one.sample.split(":")
    size, low, high = with_ends(one.away)
    values: dict[str, object] = {"by": size, "low": low, "high": high}
    if len(names) == 1:
        first, last = one.levels[0][:: 1 if one.shift >= 0 else -1]
        return sentence(
            "serving.higher", more=spoken_level(names[0], last),
            less=spoken_level(names[0], first), **values,
        )  # fmt: skip
    (first, last), others = one.levels
    moved = {level: _moved(evidence, one, level) for level in others}
    up, more, less = goes_apart(evidence, one)
    return sentence(
        "serving.more_up" if up else "serving.more_down",
        first=spoken_level(names[0], first), last=spoken_level(names[0], last),
        more=spoken_level(names[1], more), less=spoken_level(names[1], less),
        more_by=signed(moved[more]), less_by=signed(moved[less]), **values,
    )  # fmt: skip


def goes_apart(evidence: Evidence, one: Weighed) -> tuple[bool, str, str]:
    """Return of an effect of two factors whether it goes up, and where by more and by less."""
    lower, higher = one.levels[1][:: 1 if one.shift >= 0 else -1]
    up = _moved(evidence, one, higher) > 0
    return (True, higher, lower) if up else (False, lower, higher)


def crossing(evidence: Evidence) -> pd.DataFrame:
    """Return what the bottles cross; only where effects were judged."""
    if evidence.factors is None:
        message = "no effects without crossed factors"
        raise ValueError(message)
    return evidence.factors


def mean_at(evidence: Evidence, attribute: str, levels: Mapping[str, str]) -> float:
    """Return the mean of the bottles that have some levels."""
    table = crossing(evidence)
    own = [all(row[name] == one for name, one in levels.items())
           for row in table.to_dict("records")]  # fmt: skip
    return float(evidence.means.loc[table.index[own], attribute].mean())


def _moved(evidence: Evidence, one: Weighed, level: str) -> float:
    """Return how far the mean moves over the first factor, at a level of the second."""
    name, other = one.sample.split(":")
    first, last = (mean_at(evidence, one.about, {name: end, other: level}) for end in one.levels[0])
    return last - first
