"""What the choice of bottles lets tell apart: fraction, pasteurising, tank."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, product

import numpy as np

from ...analysis.core.options import ALPHA
from ..base.words import Sentence, sentence
from ..findings.budget import Budget
from ..findings.design import orders
from ..findings.differences import with_end
from ..findings.evidence import SCALED, Evidence
from ..findings.factors import FACTORS, made_apart, spoken_level
from ..findings.statement import Line, Rows, Statement, joined
from .gaps import FEWEST, end, limits, size
from .told import DIFFER, SURE, said

IN_TEXT = 4
"""Pairs in which one thing alone changes up to which a sentence names them; more make a table."""
NAMED = 4
"""Other bottles up to which a sentence names them; of more it says how many and where to look."""
LAST = 0.5
"""Share of the trays on which one of three bottles or more came last, from which it is told."""


def statements(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say what two things only one bottle has, which pairs are fair, and what is crossed."""
    if len(evidence.products) < 2:
        return []
    return [
        *_own_alone(evidence),
        *_fair_pairs(evidence),
        *_crossed(evidence, budget),
        *_often_last(evidence),
    ]


def factor_levels(evidence: Evidence) -> dict[str, dict[str, str]]:
    """Return each bottle's level of the factors that vary and are known of all."""
    found = {
        factor: {name: evidence.bottle(name).level(factor) for name in evidence.products}
        for factor in FACTORS
    }
    return {
        factor: own
        for factor, own in found.items()
        if all(own.values()) and len(set(own.values())) > 1
    }


def alone_in_several(evidence: Evidence) -> list[tuple[list[str], dict[str, str]]]:
    """Return bottles that alone share two things or more, by factor, where the others vary further.

    Where two always change together in all bottles, the findings say so already.
    """
    known = factor_levels(evidence)
    found: dict[tuple[str, ...], dict[str, str]] = {}
    for first, second in combinations(known, 2):
        one, other = known[first], known[second]
        pairs = {(one[name], other[name]) for name in one}
        if len(pairs) == len(set(one.values())) == len(set(other.values())):
            continue
        for a, b in sorted(pairs):
            own = [name for name in one if (one[name], other[name]) == (a, b)]
            only = [name for name in one if one[name] == a or other[name] == b] == own
            if only and len(own) < len(one):
                found.setdefault(tuple(own), {}).update({first: a, second: b})
    return [(list(own), levels) for own, levels in found.items()]


def _own_alone(evidence: Evidence) -> list[Statement]:
    made = []
    for own, levels in alone_in_several(evidence):
        one, other, *_ = (spoken_level(factor, level) for factor, level in levels.items())
        factor, second, *_ = (sentence(f"overview.by_{factor}") for factor in levels)
        numbers = _numbers_alone(evidence, own)
        few = len(levels) == 2 and not numbers
        made.append(
            said("own_alone" if few else "own_alone_more", SURE, tuple(own),
                 kind="caution", bottles=own, n=len(own), one=one, other=other,
                 others=_named([name for name in evidence.products if name not in own]),
                 factor=factor, second=second,
                 levels=[*(spoken_level(name, level) for name, level in levels.items()), *numbers])
        )  # fmt: skip
    return made


def _named(others: list[str]) -> list[str] | Sentence:
    """Name the other bottles, or count them where they are many."""
    if len(others) <= NAMED:
        return others
    return sentence("overview.others_counted", n=len(others), title=sentence("report.asked"))


def _numbers_alone(evidence: Evidence, own: list[str]) -> list[Sentence]:
    """Write the numbers and facts of the making that some bottles share alone."""
    said = []
    for column in ("polishing", "abv"):
        values = {name: getattr(evidence.bottle(name), column) for name in evidence.products}
        mine = {values[name] for name in own}
        rest = {value for name, value in values.items() if name not in own}
        if len(mine) == len(rest) == 1 and mine != rest and None not in mine | rest:
            said.append(sentence(f"overview.with_{column}", value=f"{mine.pop():g}"))
    return said + [
        sentence("overview.with_column", column=column, value=known[own[0]])
        for column, known in evidence.made
        if _own_alone_in(known, own, evidence.products)
    ]


def _own_alone_in(known: Mapping[str, str], own: list[str], every: Sequence[str]) -> bool:
    """Tell whether some bottles share a value that stands of none of the others, all known.

    What is every bottle's own, as a day of bottling may be, no bottle has alone.
    """
    if not all(name in known for name in every):
        return False
    mine = {known[name].casefold() for name in own}
    rest = {known[name].casefold() for name in every if name not in own}
    own_each = len(rest) == len(every) - len(own) > 1
    return len(mine) == 1 and not mine & rest and not own_each


def fair_pairs(evidence: Evidence) -> list[tuple[str, str, Sentence]]:
    """Return the pairs of bottles in which one thing alone changes, with what it is.

    Neither another of the factors differs, nor what else is written of both bottles' making.
    """
    known = factor_levels(evidence)
    if len(known) < 2 or len(evidence.products) < 3:
        return []
    found = []
    for first, second in combinations(evidence.products, 2):
        one, other = evidence.bottle(first), evidence.bottle(second)
        changed = [name for name in FACTORS if one.level(name) != other.level(name)]
        if len(changed) == 1 and changed[0] in known and not made_apart(evidence, first, second):
            only = changed[0]
            what = sentence(
                "overview.fair_pair", first=first, second=second,
                factor=sentence(f"overview.by_{only}"),
                one=spoken_level(only, known[only][first]),
                other=spoken_level(only, known[only][second]),
            )  # fmt: skip
            found.append((first, second, what))
    return found


def _fair_pairs(evidence: Evidence) -> list[Statement]:
    """Name the pairs of bottles in which one thing alone changes, where not all pairs do."""
    pairs = fair_pairs(evidence)
    if not pairs:
        return []
    listed = joined([what for _, _, what in pairs])
    rows = _rows(pairs) if len(pairs) > IN_TEXT else None
    return [replace(said("fair_pairs", DIFFER, listed=listed, n=len(pairs)), rows=rows)]


def _rows(pairs: list[tuple[str, str, Sentence]]) -> Rows:
    """Write a row a pair: the bottles, what changes, and from what to what."""
    keys = ("overview.col_one", "overview.col_other", "overview.col_changes",
            "overview.col_one_level", "overview.col_other_level")  # fmt: skip
    return Rows(
        heading=sentence("overview.fair_pairs_table"),
        columns=tuple(sentence(key) for key in keys),
        cells=tuple(
            (first, second, *(_line(what, name) for name in ("factor", "one", "other")))
            for first, second, what in pairs
        ),
    )


def _line(what: Sentence, name: str) -> Line:
    value = dict(what.values)[name]
    return value if isinstance(value, Sentence) else str(value)


@dataclass(frozen=True, slots=True, kw_only=True)
class FactorContrast:
    """How far one level of a factor stands above the other, over the bottles of both.

    `least` and `most` are 95 % t limits over `n` assessors, of whom `along` go this way and
    `against` the other.
    """

    attribute: str
    high: str
    low: str
    by: float
    least: float
    most: float
    along: int
    against: int
    n: int


def crossed(evidence: Evidence) -> tuple[str, str] | None:
    """Return two factors of which every level of one meets every level of the other."""
    known = factor_levels(evidence)
    for first, second in combinations(known, 2):
        pairs = [(known[first][name], known[second][name]) for name in evidence.products]
        every = set(product(set(known[first].values()), set(known[second].values())))
        rest = [own for name, own in known.items() if name not in (first, second)]
        if set(pairs) == every and len(pairs) == len(every) and not rest:
            return first, second
    return None


def contrasts(evidence: Evidence, factor: str) -> list[FactorContrast]:
    """Return the contrast of a factor of two levels in every attribute, in the card's order."""
    known = factor_levels(evidence)[factor]
    first, second = sorted(set(known.values()))
    made = []
    for name, wide in evidence.wide(evidence.attributes(*SCALED)).items():
        if not set(known) <= set(wide):
            continue
        own = [one for one in known if known[one] == first]
        gap = wide[own].mean(axis=1, skipna=False)
        gap = gap - wide[[one for one in known if known[one] == second]].mean(axis=1, skipna=False)
        values: np.ndarray = gap.dropna().to_numpy(float)
        if len(values) < FEWEST:
            continue
        high, low = (first, second) if values.mean() >= 0 else (second, first)
        values = values if values.mean() >= 0 else -values
        mean, least, most = limits(values)
        made.append(
            FactorContrast(attribute=name, high=high, low=low, by=mean, least=least, most=most,
                     along=int((values > 0).sum()), against=int((values < 0).sum()),
                     n=len(values))
        )  # fmt: skip
    return made


def _crossed(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Set the levels of crossed factors against each other, in all bottles together."""
    both = crossed(evidence)
    if both is None or evidence.factors is not None:  # then the budget judges what they do
        return []
    known = factor_levels(evidence)
    numbers = {name: len(set(known[name].values())) for name in both}
    made = [
        said("crossed", DIFFER, one=sentence(f"overview.by_{both[0]}"),
             other=sentence(f"overview.by_{both[1]}"), bottles=len(evidence.products))
    ]  # fmt: skip
    every = {name: contrasts(evidence, name) for name in both if numbers[name] == 2}
    looked = sum(len(found) for found in every.values())
    for factor, found in every.items():
        clear = [one for one in found if one.least > 0]
        still = [one for one in found if one.least <= 0]
        by = sentence(f"overview.by_{factor}")
        if clear:
            clear = sorted(clear, key=lambda one: -one.least / one.by)
            listed = joined([_contrast(evidence, budget, factor, one) for one in clear])
            about = tuple(one.attribute for one in clear)
            made.append(said("contrast", DIFFER, about, factor=by, listed=listed, n=looked,
                             k=max(round(ALPHA * looked), 1)))  # fmt: skip
        if still:
            names = [evidence.name(one.attribute) for one in still]
            widest = max(max(abs(one.least), one.most) for one in still)
            made.append(
                said("contrast_open", DIFFER, tuple(one.attribute for one in still), factor=by,
                     attributes=names, n=len(still), by=size(widest))
            )  # fmt: skip
    return [*made, *_interaction(evidence, both)]


def _interaction(evidence: Evidence, both: tuple[str, str]) -> list[Statement]:
    """Say whether one factor tells otherwise in one level of the other; of two levels each."""
    known = factor_levels(evidence)
    levels = [sorted(set(known[factor].values())) for factor in both]
    if [len(one) for one in levels] != [2, 2]:
        return []
    signs = {
        name: (1 if known[both[0]][name] == levels[0][0] else -1)
        * (1 if known[both[1]][name] == levels[1][0] else -1)
        for name in evidence.products
    }
    parts, about, looked = [], [], 0
    for name, wide in evidence.wide(evidence.attributes(*SCALED)).items():
        if not set(signs) <= set(wide):
            continue
        whole = wide[list(signs)].dropna().to_numpy(float)
        if len(whole) < FEWEST:
            continue
        looked += 1
        mean, least, most = limits(whole @ np.array(list(signs.values())) / 2)
        if mean < 0:
            mean, least, most = -mean, -most, -least
        if least > 0:
            about.append(name)
            parts.append(
                sentence("overview.interaction_of", attribute=evidence.name(name), by=size(mean),
                         least=end(least), most=end(most))
            )  # fmt: skip
    if not looked:
        return []
    one, other = (sentence(f"overview.by_{factor}") for factor in both)
    if not parts:
        return [said("interaction_none", DIFFER, one=one, other=other, n=looked)]
    return [
        said("interaction", DIFFER, tuple(about), one=one, other=other, listed=parts, n=looked,
             k=max(round(ALPHA * looked), 1))
    ]  # fmt: skip


def _contrast(evidence: Evidence, budget: Budget, factor: str, one: FactorContrast) -> Sentence:
    """Write a contrast; it is shown in pairs where one is that differs in this factor alone."""
    told = budget.of("scale", one.attribute)
    levels = factor_levels(evidence)
    known: Mapping[str, str] = levels[factor]
    pairs = told.pairs if told is not None else ()
    others = [levels[name] for name in crossed(evidence) or () if name != factor]
    shown = any(
        (known.get(high), known.get(low)) == (one.high, one.low)
        and all(own.get(high) == own.get(low) for own in others)
        for high, low in pairs
    )
    return sentence(
        "overview.contrast_shown" if shown else "overview.contrast_lead",
        attribute=with_end(evidence, one.attribute), high=spoken_level(factor, one.high),
        low=spoken_level(factor, one.low), by=size(one.by), least=end(one.least),
        most=end(one.most),
        k=one.along, n=one.n, against=one.against,
    )  # fmt: skip


def _often_last(evidence: Evidence) -> list[Statement]:
    """Say which bottle came last on half of the trays or more, and who had one order twice."""
    every = [order for order in orders(evidence) if len(order) > 2]
    if len(set(every)) < 2:
        return []
    last = [order[-1] for order in every]
    often = max(set(last), key=lambda name: (last.count(name), name))
    k = last.count(often)
    if k < LAST * len(every) or often not in evidence.products:
        return []
    return [said("often_last", DIFFER, (often,), kind="caution", bottle=often, k=k, n=len(every))]
