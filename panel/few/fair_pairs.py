"""Which bottles differ in one known thing alone, which in two at once, and what goes with it."""

from __future__ import annotations

from itertools import combinations

from ..base.words import Sentence, sentence
from ..findings import design
from ..findings.differences import SMALL
from ..findings.evidence import Evidence
from ..findings.factors import FACTORS, FEWEST, changed_alone, made_apart
from ..findings.statement import Statement, joined
from .contrasts import contrasts, form_of
from .side_by_side import ALIKE, SURE, people, rows
from .tasters import inside, points, said

Names = tuple[str, ...]
Both = list[tuple[str, str]]
Pairs = dict[Names, Both]
MOST_LISTED = 2
"""Pairs that differ in one thing alone up to which all their attributes are gone through."""
POINT = 1.0
"""Points, on average over everybody, by which such a pair is set apart where that is named."""
SHOWN = 5
"""Attributes that are named for each way, the widest first."""
MOST_SINGLE = 3
"""Pairs that differ in one thing alone up to which they are named one by one."""


def statements(evidence: Evidence) -> list[Statement]:
    """Name the pairs, and tell what goes with one thing."""
    follows = _follows(evidence)
    # What goes with one thing alone names that thing, and its pairs.
    pairs = [
        one
        for one in _together(evidence)
        if not follows or str(getattr(one.sentence, "key", "")) != "few_report.differ_alone"
    ]
    return [*pairs, *follows]


def _together(evidence: Evidence) -> list[Statement]:
    """Say which bottles differ in two known things at once, and which in one alone.

    Where things are fully crossed, each is read from all of its pairs (`crossed`), and that two
    bottles differ in both is no hindrance.
    """
    found: Pairs = {}
    for first, second in combinations(evidence.products, 2):
        one, two = evidence.bottle(first), evidence.bottle(second)
        values = [(str(getattr(one, name)), str(getattr(two, name))) for name in FACTORS]
        if any(bool(a) != bool(b) for a, b in values):
            continue
        changed = tuple(name for name, (a, b) in zip(FACTORS, values, strict=True) if a != b)
        found.setdefault(changed, []).append((first, second))
    if set(found) == {("tank",)} and len(found["tank",]) > 1:
        return _alone(found)
    mixed, fair = _sorted_out(evidence, found)
    told = {(one.factor,) for one in contrasts(evidence)}
    made = [] if mixed else _alone(found)
    for changed, pairs in mixed:
        if told and (len(changed) > 1 or changed in told):
            continue
        highs = list(dict.fromkeys(high for high, _ in pairs))
        lows = list(dict.fromkeys(low for _, low in pairs))
        other = "made" if len(changed) == 1 else next(one for one in changed if one != "fraction")
        made.append(
            said(
                "caution",
                "differ_together",
                (*highs, *lows),
                section=SURE,
                rank=design.RANK + 2,
                high=highs,
                low=[name for name in lows if name not in highs],
                factors=[
                    *(sentence(f"few_report.factor_{name}") for name in changed),
                    *_all_made_apart(evidence, pairs),
                ],
                advice=sentence(f"few_report.unmix_{other}"),
            )
        )
    for changed, pairs in fair.items() if mixed else ():
        if changed not in told:
            made += _single(evidence, changed[0], pairs)
    return made


def _sorted_out(evidence: Evidence, found: Pairs) -> tuple[list[tuple[Names, Both]], Pairs]:
    """Part the pairs that differ in one thing alone from those in which more differs.

    Pairs that differ in one of `FACTORS` and in the making as well stand by what they differ in.
    """
    mixed = [(changed, pairs) for changed, pairs in found.items() if len(changed) > 1]
    fair: Pairs = {}
    more: dict[tuple[Names, Names], Both] = {}
    for changed, pairs in found.items():
        for pair in pairs if len(changed) == 1 else ():
            also = tuple(str(column) for column in made_apart(evidence, *pair))
            own = more.setdefault((changed, also), []) if also else fair.setdefault(changed, [])
            own.append(pair)
    return [*mixed, *((changed, pairs) for (changed, _), pairs in more.items())], fair


def _all_made_apart(evidence: Evidence, pairs: Both) -> list[Sentence | str]:
    """Name what else of the making differs in every one of some pairs."""
    first, *rest = ({str(one): one for one in made_apart(evidence, *pair)} for pair in pairs)
    return [column for name, column in first.items() if all(name in own for own in rest)]


def _single(evidence: Evidence, factor: str, pairs: list[tuple[str, str]]) -> list[Statement]:
    """Name the pairs that differ in one thing alone; many of them as the groups they come from."""
    named = sentence(f"few_report.factor_{factor}")
    if len(pairs) <= MOST_LISTED and factor != "tank" and len(people(evidence)) > 1:
        return [_fair(evidence, pair, factor) for pair in pairs]
    others = [name for name in FACTORS if name != factor]
    groups: dict[tuple[str, ...], list[str]] = {}
    for bottle in dict.fromkeys(name for pair in pairs for name in pair):
        known = evidence.bottle(bottle)
        groups.setdefault(tuple(known.level(name) for name in others), []).append(bottle)
    whole = {
        frozenset((one, two))
        for group in groups.values()
        for one, two in combinations(group, 2)
        if evidence.bottle(one).level(factor) != evidence.bottle(two).level(factor)
    }
    # Where two of a group differ in the making as well, the group is no whole: pair by pair.
    if len(pairs) <= MOST_SINGLE or whole != set(map(frozenset, pairs)):
        return [
            said("description", "differ_single", pair, section=SURE, first=pair[0],
                 second=pair[1], factor=named)
            for pair in pairs
        ]  # fmt: skip
    listed = [sentence("few_report.group", bottles=group) for group in groups.values()]
    about = tuple(name for group in groups.values() for name in group)
    return [
        said("description", "differ_groups", about, section=SURE, factor=named,
             groups=joined(listed))
    ]  # fmt: skip


def one_way(evidence: Evidence, high: str, low: str) -> list[tuple[float, str, list[float]]]:
    """Return in what everybody puts one bottle above another, a point apart on average.

    As mean gap, attribute and everybody's gap, the widest first.
    """
    found = []
    for row in rows(evidence):
        if (high, low) in row.agreed:
            gaps = (row.marks[high] - row.marks[low]).tolist()
            mean = sum(gaps) / len(gaps)
            if len(gaps) == len(people(evidence)) and mean >= POINT - ALIKE:
                found.append((mean, row.attribute, gaps))
    return sorted(found, key=lambda one: -one[0])


def _fair(evidence: Evidence, pair: tuple[str, str], factor: str) -> Statement:
    """Say over all attributes how two bottles lie that differ in one thing alone."""
    parts = []
    about: list[str] = []
    for high, low in (pair, pair[::-1]):
        own = one_way(evidence, high, low)[:SHOWN]
        listed = [
            sentence("few_report.fair_one", attribute=evidence.name(name).lower(),
                     by=[points(gap) for gap in gaps])
            for _, name, gaps in own
        ]  # fmt: skip
        about += [name for _, name, _ in own]
        if listed:
            parts.append(sentence("few_report.fair_higher", bottle=high, listed=listed))
    return said(
        "description", "fair" if parts else "fair_none", (*pair, *about), section=SURE,
        first=pair[0], second=pair[1], factor=sentence(f"few_report.factor_{factor}"),
        who=inside(evidence), parts=joined(parts) if parts else "",
    )  # fmt: skip


def _follows(evidence: Evidence) -> list[Statement]:
    """Tell what goes one way by a tenth of the scale in all pairs that differ in one thing.

    What is fully crossed is told by `crossed`, from everybody's sheets.
    """
    made = []
    told = {one.factor for one in contrasts(evidence)} if len(people(evidence)) > 1 else set()
    for factor in (one for one in FACTORS if one not in told):
        for levels, pairs in changed_alone(evidence, factor).items():
            for row in rows(evidence) if len(pairs) >= FEWEST else ():
                means = evidence.means[row.attribute]
                if not {name for pair in pairs for name in pair} <= set(means.dropna().index):
                    continue
                question = evidence.question(row.attribute)
                least = SMALL * (question.high - question.low)
                gaps = [float(means[first] - means[second]) for first, second in pairs]
                turned = all(gap <= -least for gap in gaps)
                if not turned and not all(gap >= least for gap in gaps):
                    continue
                step = -1 if turned else 1
                listed = [
                    sentence("few_report.follows_pair", high=pair[::step][0],
                             low=pair[::step][1], gap=points(abs(gap)))
                    for pair, gap in zip(pairs, gaps, strict=True)
                ]  # fmt: skip
                own, other = levels[::step]
                high, low = form_of(factor, own, other), form_of(factor, other, own)
                made.append(
                    said("description", "follows", (row.attribute, *means.index), section=SURE,
                         attribute=evidence.name(row.attribute), high=high, low=low,
                         n=len(pairs), pairs=joined(listed))
                )  # fmt: skip
    return made


def _alone(found: dict[tuple[str, ...], list[tuple[str, str]]]) -> list[Statement]:
    """Say which bottles differ in one thing alone, of two forms, that is not the fraction."""
    made = []
    if set(found) == {("tank",)} and len(found["tank",]) > 1:
        bottles = list(dict.fromkeys(name for pair in found["tank",] for name in pair))
        return [said("caution", "each_tank", tuple(bottles), section=SURE, bottles=bottles)]
    for changed, pairs in found.items():
        highs = list(dict.fromkeys(high for high, _ in pairs))
        lows = list(dict.fromkeys(low for _, low in pairs))
        if len(changed) == 1 and changed != ("fraction",) and not set(highs) & set(lows):
            factor = sentence(f"few_report.factor_{changed[0]}")
            made.append(
                said("description", "differ_alone", (*highs, *lows), section=SURE, high=highs,
                     low=lows, factor=factor)
            )  # fmt: skip
    return made
