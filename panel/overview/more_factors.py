"""Crossed factors person by person: open sizes, without who runs against, and words by level."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ...analysis.core.options import ALPHA
from ..base.words import Sentence, sentence
from ..findings.budget import Budget
from ..findings.differences import with_end
from ..findings.evidence import QUALITY, SCALED, Evidence
from ..findings.factors import spoken_level
from ..findings.habits import by_place, moved_by_place, places, several_orders, without_place
from ..findings.statement import Line, Statement, joined
from ..findings.ticks import SECTION, questions
from .bottles_apart import contrasts, crossed, factor_levels
from .gaps import end, limits, size
from .left_out import against_in, apart
from .order import marks
from .steadiness import coefficient
from .told import DIFFER, QUALITY_, REPEATS, WORDS, said

if TYPE_CHECKING:
    import pandas as pd

MOST = 6
"""Attributes, and words, that are told of one factor."""
FEWEST = 3
"""Others from whom on a contrast without somebody is written."""
OTHERWISE = 4
"""Attributes of which it is told how far one factor may do otherwise beside the other."""
PEOPLE = 2
"""People who gave a word, from whom on it is counted by level."""
LOWEST, HIGHEST = 5, 3
"""Attributes that are told of who runs against the others in some, from either end."""
FIRST = 0.05
"""Share of the scale by which first glasses are marked otherwise in quality, from which that is
told though its interval holds 0 (no source); what a place does is told where clear of 0."""
BOTTLES = 3
"""Bottles from which on a correlation over the bottles of one attribute is written."""


def statements(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say more of crossed factors, and of who runs against the others in some attributes."""
    made = [*_places(evidence), *_by_attribute(evidence)]
    both = crossed(evidence)
    if both is None or evidence.factors is not None:
        return made
    made += _interactions(evidence, both)
    for factor in both:
        if len(set(factor_levels(evidence)[factor].values())) == 2:
            made += [
                *_open(evidence, factor),
                *_by_person(evidence, factor),
                *_without(evidence, budget, factor),
                *_words(evidence, factor),
            ]
    return made


def _halves(evidence: Evidence, factor: str) -> tuple[str, str, list[str], list[str]]:
    known = factor_levels(evidence)[factor]
    first, second = sorted(set(known.values()))
    return (first, second, [name for name, own in known.items() if own == first],
            [name for name, own in known.items() if own == second])  # fmt: skip


def _open(evidence: Evidence, factor: str) -> list[Statement]:
    """Give the sizes of a factor's contrasts that are not clear of 0."""
    still = [one for one in contrasts(evidence, factor) if one.least <= 0]
    still = sorted(still, key=lambda one: -one.by / (one.most - one.least + 1e-9))[:MOST]
    if not still:
        return []
    listed = [
        sentence("overview.contrast_size", attribute=with_end(evidence, one.attribute),
                 high=spoken_level(factor, one.high), low=spoken_level(factor, one.low),
                 by=size(one.by), least=end(one.least), most=end(one.most), k=one.along, n=one.n)
        for one in still
    ]  # fmt: skip
    about = tuple(one.attribute for one in still)
    by = sentence(f"overview.by_{factor}")
    return [said("contrast_sizes", DIFFER, about, factor=by, listed=joined(listed))]


def _by_person(evidence: Evidence, factor: str) -> list[Statement]:
    """Give everybody's own contrast in quality, the maker's too."""
    wide = marks(evidence, everybody=True)
    first, second, one, other = _halves(evidence, factor)
    if not {*one, *other} <= set(wide):
        return []
    gap = (wide[one].mean(axis=1, skipna=False) - wide[other].mean(axis=1, skipna=False)).dropna()
    if len(gap) < FEWEST:
        return []
    if gap[[code in evidence.counted for code in gap.index]].mean() < 0:
        gap, first, second = -gap, second, first
    listed = [
        sentence("overview.maker_value" if str(code) in evidence.makers else "findings.pair_value",
                 name=str(code), value=size(float(by), signed=True))
        for code, by in gap.sort_index().items()
    ]  # fmt: skip
    return [
        said("contrast_people", QUALITY_, (QUALITY, *map(str, gap.index)),
             high=spoken_level(factor, first), low=spoken_level(factor, second), listed=listed)
    ]  # fmt: skip


def _without(evidence: Evidence, budget: Budget, factor: str) -> list[Statement]:
    """Give the contrasts in which somebody runs against the others, without that person."""
    codes = [code for code in apart(evidence, budget) if code in against_in(evidence)]
    if not codes:
        return []
    first, second, one, other = _halves(evidence, factor)
    listed = []
    for name, wide in evidence.wide(evidence.attributes(*SCALED)).items():
        if not {*one, *other} <= set(wide):
            continue
        every = wide[one].mean(axis=1, skipna=False) - wide[other].mean(axis=1, skipna=False)
        every = every.dropna()
        rest = every.drop(codes, errors="ignore")
        if len(rest) < FEWEST or len(rest) == len(every):
            continue
        way = 1 if rest.mean() >= 0 else -1
        by, least, most = limits(way * rest.to_numpy(float))
        against = [str(code) for code in rest.index[way * rest < 0]]
        parted = any(way * float(every[code]) < 0 for code in codes if code in every.index)
        if least <= 0 and (len(against) > 1 or not parted):
            continue
        high, low = (first, second) if way > 0 else (second, first)
        pairs = _pairs(evidence, factor, wide.drop(codes, errors="ignore"), way)
        own = [
            sentence("findings.pair_value", name=code, value=size(value, signed=True))
            for code, value in (way * every[every.index.isin(codes)]).items()
        ]
        key = "contrast_without_not" if against else "contrast_without_of"
        listed.append((
            -by / (most - least + 1e-9), name,
            sentence(f"overview.{key}", attribute=evidence.name(name), by=size(by),
                     high=spoken_level(factor, high), low=spoken_level(factor, low),
                     least=end(least), most=end(most), k=int((way * rest > 0).sum()),
                     n=len(rest), against=against, own=own, pairs=pairs),
        ))  # fmt: skip
    listed = sorted(listed, key=lambda one: one[:2])[:MOST]
    if not listed:
        return []
    about = [*codes, *(name for _, name, _ in listed)]
    return [
        said("contrast_without", DIFFER, tuple(about), who=codes,
             factor=sentence(f"overview.by_{factor}"),
             listed=joined([line for *_, line in listed]))
    ]  # fmt: skip


def _pairs(evidence: Evidence, factor: str, wide: pd.DataFrame, way: int) -> list[Sentence]:
    """Write the size of a contrast in each pair of bottles in which the other factor stays."""
    known = factor_levels(evidence)
    rest = next(name for name in crossed(evidence) or () if name != factor)
    _, _, one, other = _halves(evidence, factor)
    made = []
    for name in one:
        beside = [x for x in other if known[rest][x] == known[rest][name]]
        if len(beside) == 1:
            gap = (wide[name] - wide[beside[0]]).dropna().to_numpy(float) * way
            pair = (name, beside[0])[:: 1 if way > 0 else -1]
            if len(gap):
                made.append(
                    sentence("overview.pair_size", high=pair[0], low=pair[1],
                             by=size(float(gap.mean())), k=int((gap > 0).sum()), n=len(gap))
                )  # fmt: skip
    return made


def _words(evidence: Evidence, factor: str) -> list[Statement]:
    """Count the words that stand on bottles of one level of a factor alone."""
    names = questions(evidence).get(SECTION, [])
    if not names:
        return []
    rows = evidence.rows(names)
    first, second, one, other = _halves(evidence, factor)
    found = []
    for name, own in rows.groupby("attribute", observed=True):
        given = own[own["score"] > 0]
        sides = [given[given["sample"].isin(half)] for half in (one, other)]
        if min(map(len, sides)) or max(side["assessor"].nunique() for side in sides) < PEOPLE:
            continue
        at = int(np.argmax([len(side) for side in sides]))
        cups = [len(own[own["sample"].isin(half)]) for half in (one, other)]
        each = [
            sentence("findings.pair_value", name=str(bottle), value=f"{k}")
            for bottle, k in sides[at]["sample"].astype(str).value_counts().items()
        ]
        found.append((
            -len(sides[at]), str(name),
            sentence("overview.word_level", word=evidence.name(str(name)), k=len(sides[at]),
                     n=cups[at], people=sides[at]["assessor"].nunique(), each=each,
                     level=spoken_level(factor, (first, second)[at]),
                     other=spoken_level(factor, (second, first)[at]), m=cups[1 - at]),
        ))  # fmt: skip
    if not found:
        return []
    listed: list[Line] = [line for *_, line in sorted(found, key=lambda one: one[:2])[:MOST]]
    by = sentence(f"overview.by_{factor}")
    about = tuple(name for _, name, _ in found)
    return [said("words_level", WORDS, about, factor=by, listed=joined(listed))]


def _interactions(evidence: Evidence, both: tuple[str, str]) -> list[Statement]:
    """Give sizes of what one factor does otherwise beside the other, that are not clear of 0.

    Of quality, and of the attributes in which either factor does most.
    """
    if any(len(set(factor_levels(evidence)[factor].values())) != 2 for factor in both):
        return []
    one, other = (_halves(evidence, factor) for factor in both)
    signs = {
        name: (1 if name in one[2] else -1) * (1 if name in other[2] else -1)
        for name in (*one[2], *one[3])
    }
    widest: dict[str, float] = {}
    for factor in both:
        for each in contrasts(evidence, factor):
            widest[each.attribute] = max(widest.get(each.attribute, 0.0), each.by)
    names = sorted(widest, key=lambda name: (name != QUALITY, -widest[name]))[:OTHERWISE]
    listed, about = [], []
    for name, wide in evidence.wide(names).items():
        whole = wide[list(signs)].dropna().to_numpy(float)
        by, least, most = limits(whole @ np.array(list(signs.values())) / 2)
        if least <= 0 <= most:
            about.append(name)
            listed.append(
                sentence("overview.interaction_size", attribute=evidence.name(name),
                         by=size(abs(by)), far=size(max(abs(least), abs(most))))
            )  # fmt: skip
    if not listed:
        return []
    named = [sentence(f"overview.by_{factor}") for factor in both]
    return [said("interaction_sizes", DIFFER, tuple(about), one=named[0], other=named[1],
                 listed=joined(listed))]  # fmt: skip


def _by_attribute(evidence: Evidence) -> list[Statement]:
    """Say of who runs against the others in some attributes how each attribute goes with theirs."""
    made = []
    for code in against_in(evidence):
        found = []
        for name, wide in evidence.wide(evidence.attributes(*SCALED)).items():
            whole = wide.dropna()
            if code not in whole.index or len(whole) < FEWEST or whole.shape[1] < BOTTLES:
                continue
            own, rest = whole.loc[code], whole.drop(code).mean()
            if np.ptp(own.to_numpy(float)) > 0 and np.ptp(rest.to_numpy(float)) > 0:
                by = float(np.corrcoef(own.to_numpy(float), rest.to_numpy(float))[0, 1])
                found.append((by, evidence.name(name)))
        if len(found) < BOTTLES:
            continue
        found.sort()
        low, high = (
            [sentence("findings.pair_value", name=name, value=coefficient(by)) for by, name in own]
            for own in (found[:LOWEST], found[: -HIGHEST - 1 : -1])
        )
        made.append(said("by_attribute", REPEATS, (code,), who=code, bottles=len(evidence.compared),
                         low=low, high=high))  # fmt: skip
    return made


def _places(evidence: Evidence) -> list[Statement]:
    """Say where a glass stood on its tray and was marked otherwise for it, bottles allowed for."""
    if not several_orders(evidence):
        return []
    made = _first_glasses(evidence)
    looked, clear = moved_by_place(evidence)
    parts = [
        sentence("overview.place_of", attribute=evidence.name(name), by=size(by, signed=True),
                 least=end(least, signed=True), most=end(most, signed=True))
        for name, (by, least, most) in clear.items()
    ]  # fmt: skip
    if parts:
        made.append(said("places", DIFFER, tuple(clear), kind="caution", listed=joined(parts),
                         n=looked, k=max(round(ALPHA * looked), 1)))  # fmt: skip
    return made


def _first_glasses(evidence: Evidence) -> list[Statement]:
    """Say how first glasses were marked in quality, and what order is left without it."""
    if QUALITY not in set(evidence.scores["attribute"]):
        return []
    rows = places(evidence, QUALITY)
    found = by_place(rows, first=True)
    question = evidence.question(QUALITY)
    if found is None or abs(found[0]) < FIRST * (question.high - question.low):
        return []
    by, least, most = found
    clear = least > 0 or most < 0
    means = without_place(rows, first=True).sort_values(ascending=False, kind="stable")
    listed = [sentence("findings.pair_value", name=str(name), value=size(float(mean)))
              for name, mean in means.items()]  # fmt: skip
    return [
        said("first_glass" if clear else "first_glass_open", DIFFER, (QUALITY,), kind="caution",
             by=size(by, signed=True), least=end(least, signed=True), most=end(most, signed=True),
             listed=listed)
    ]  # fmt: skip
