"""Everything that the report of a few assessors says, as a list of statements."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import combinations
from typing import Any

from ...analysis.core.wording import percent, short
from ..base.words import Sentence, sentence
from ..findings import design, measured, tainted, verdicts
from ..findings.differences import SMALL
from ..findings.evidence import QUALITY, Evidence
from ..findings.factors import FACTORS, FEWEST, changed_alone
from ..findings.statement import Line, Statement, joined
from . import bottles, crossed, directions, tasters, together, words_few
from .bottles import row_of
from .contrasts import contrasts, form_of
from .side_by_side import ALIKE, Row, people, rows
from .tasters import NOTHING_CLAIMED, inside, points, said, who
from .words_few import probability

SHEETS, SURE, SERVED, BOTTLES = "sheets", "sure", "asked", "decide"
RANK_WHO, RANK_PUT, RANK_PART, RANK_SURE, RANK_NEXT = 8, 30, 32, 34, 60
LIKELIEST = 3
"""Orders that are named where none is sure."""
MOST_SINGLE = 3
"""Pairs that differ in one thing alone up to which they are named one by one."""
MOST_PAIRS = 6
"""Pairs without ground for a price step up to which they are named one by one."""
APART = 1.0
"""Points by which everybody sets two bottles apart the same way where that is counted (a
convention, no source)."""
MOST_APART = 3
"""Attributes in which two bottles are set apart up to which they are called the closest."""
NEARLY = {"meter_value": 1.0, "acidity": 0.1, "abv": 0.3}
"""Spans of the numbers of all bottles up to which they are called nearly the same (a convention,
no source)."""
ASKED = 4
"""Attributes that a next tasting is to ask."""
WORTH = 0.5
"""Chance from which on a next step is worth its cups."""
_OWN_DESIGN = (
    "confounded",
    "maker_counts",
    "two_once",
    "two_claimed",
    "two_tasters",
    "all_experts",
)
"""What the design says otherwise of a large panel; here it is said shorter."""
_SHORTER = {
    "findings.next_control": "few_report.next_control",
    "findings.whole_numbers": "few_report.coarse",
    "findings.care_raw": "few_report.care_raw",
    "findings.care_pressure": "few_report.care_pressure",
}
"""What a report of many says at length, and this one in fewer words."""
_ADVICE = ("findings.do_", "findings.care_", "findings.next_control",
           "findings.next_other_", "findings.next_train")  # fmt: skip


def statements(evidence: Evidence) -> list[Statement]:
    """Return all statements, in the order of the report's sections."""
    return [
        *_who(evidence),
        *_design(evidence),
        *_together(evidence),
        *_follows(evidence),
        *_put(evidence),
        *crossed.statements(evidence),
        *_part(evidence),
        *_sure(evidence),
        *_by_chance(evidence),
        *_next(evidence),
        *_alike(evidence),
        *_findable(evidence),
        *_prior(evidence),
        *_advice(evidence),
        *bottles.statements(evidence),
        *_second_bottle(evidence),
        *tasters.statements(evidence),
        *together.statements(evidence),
        *words_few.statements(evidence),
        *_numbers(evidence),
        *_acidity(evidence),
    ]


def _who(evidence: Evidence) -> list[Statement]:
    listed = [
        sentence("few_report.who_one", assessor=one.code, role=sentence(f"report.role_{one.role}"))
        for one in evidence.people
    ]
    times = (
        sentence("few_report.once")
        if evidence.replicates == 1
        else sentence("few_report.more", n=evidence.replicates)
    )
    made = [said("description", "who", section=SURE, rank=RANK_WHO, people=listed, times=times)]
    inside_ = evidence.makers and not evidence.maker_apart and len(people(evidence)) > 1
    if inside_ and len(evidence.makers) < len(people(evidence)):
        makers = list(evidence.makers)
        made.append(
            said("caution", "maker_counts", tuple(makers), section=SURE, rank=design.RANK,
                 makers=makers)
        )  # fmt: skip
    return made


def _design(evidence: Evidence) -> list[Statement]:
    """Say what the serving allows, and what it forbids."""
    return [
        replace(one, section=SURE, sentence=_shorter(one.sentence))
        for one in design.statements(evidence, NOTHING_CLAIMED)
        if _key(one) not in _OWN_DESIGN
    ]


def _key(one: Statement) -> str:
    return "" if isinstance(one.sentence, str) else one.sentence.key.rpartition(".")[2]


def _together(evidence: Evidence) -> list[Statement]:
    """Say which bottles differ in two known things at once, and which in one alone.

    Where things are fully crossed, each is read from all of its pairs (`crossed`), and that two
    bottles differ in both is no hindrance.
    """
    found: dict[tuple[str, ...], list[tuple[str, str]]] = {}
    for first, second in combinations(evidence.products, 2):
        one, two = evidence.bottle(first), evidence.bottle(second)
        values = [(str(getattr(one, name)), str(getattr(two, name))) for name in FACTORS]
        if any(bool(a) != bool(b) for a, b in values):
            continue
        changed = tuple(name for name, (a, b) in zip(FACTORS, values, strict=True) if a != b)
        found.setdefault(changed, []).append((first, second))
    mixed = {changed: pairs for changed, pairs in found.items() if len(changed) > 1}
    told = {(one.factor,) for one in contrasts(evidence)}
    made = [] if mixed else _alone(found)
    for changed, pairs in () if told else mixed.items():
        highs = list(dict.fromkeys(high for high, _ in pairs))
        lows = list(dict.fromkeys(low for _, low in pairs))
        other = next(name for name in changed if name != "fraction")
        made.append(
            said(
                "caution",
                "differ_together",
                (*highs, *lows),
                section=SURE,
                rank=design.RANK + 2,
                high=highs,
                low=[name for name in lows if name not in highs],
                factors=[sentence(f"few_report.factor_{name}") for name in changed],
                advice=sentence(f"few_report.unmix_{other}"),
            )
        )
    for changed, pairs in found.items() if mixed else ():
        if len(changed) == 1 and changed not in told:
            made += _single(evidence, changed[0], pairs)
    return made


def _single(evidence: Evidence, factor: str, pairs: list[tuple[str, str]]) -> list[Statement]:
    """Name the pairs that differ in one thing alone; many of them as the groups they come from."""
    named = sentence(f"few_report.factor_{factor}")
    if len(pairs) <= MOST_SINGLE:
        return [
            said("description", "differ_single", pair, section=SURE, first=pair[0],
                 second=pair[1], factor=named)
            for pair in pairs
        ]  # fmt: skip
    others = [name for name in FACTORS if name != factor]
    groups: dict[tuple[str, ...], list[str]] = {}
    for bottle in dict.fromkeys(name for pair in pairs for name in pair):
        known = evidence.bottle(bottle)
        groups.setdefault(tuple(known.level(name) for name in others), []).append(bottle)
    listed = [sentence("few_report.group", bottles=group) for group in groups.values()]
    about = tuple(name for group in groups.values() for name in group)
    return [
        said("description", "differ_groups", about, section=SURE, factor=named,
             groups=joined(listed))
    ]  # fmt: skip


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


def _put(evidence: Evidence) -> list[Statement]:
    """Count the attributes in which everybody has one order, or one bottle at an end."""
    found = rows(evidence)
    if len(people(evidence)) == 1:
        return [said("description", "one_marks", section=SHEETS, rank=RANK_PUT)]
    whole = [row for row in found if row.order]
    ends = [row for row in found if row.end(1) or row.end(-1)]
    parted = [row for row in found if row.parted]
    throughout: Line = ""
    if whole and len(evidence.products) > 2:
        throughout = sentence("few_report.throughout", n=len(whole))
    apart = sentence("few_report.parted_in", n=len(parted)) if parted else ""
    about = tuple(row.attribute for row in ends)
    if not ends:
        return [
            said("description", "same_end_none", section=SHEETS, rank=RANK_PUT,
                 who=inside(evidence), parted=apart)
        ]  # fmt: skip
    return [
        said("description", "same_end", about, section=SHEETS, rank=RANK_PUT, who=who(evidence),
             n=len(ends), of=len(found), whole=throughout, parted=apart)
    ]  # fmt: skip


def _part(evidence: Evidence) -> list[Statement]:
    """Say where the assessors part: on quality with sizes, elsewhere by name."""
    made = []
    row = row_of(evidence, QUALITY)
    quality = row is not None and bool(row.parted)
    if row is not None and row.parted:
        made += _quality(row)
    others = [one for one in rows(evidence) if one.parted and one.attribute != QUALITY]
    if others:
        key = "part_others" if quality else "part_attributes"
        names = [evidence.name(one.attribute) for one in others]
        about = tuple(one.attribute for one in others)
        made.append(said("description", key, about, section=SHEETS, attributes=names))
    return made


def _quality(row: Row) -> list[Statement]:
    widest = max(
        row.parted,
        key=lambda pair: float((row.marks[pair[0]] - row.marks[pair[1]]).abs().min()),
    )
    first, second = widest
    listed = []
    for code, gap in (row.marks[first] - row.marks[second]).dropna().items():
        if abs(gap) < ALIKE:
            listed.append(sentence("few_report.ties", assessor=str(code)))
        else:
            listed.append(
                sentence("few_report.prefers", assessor=str(code), by=points(abs(float(gap))),
                         bottle=first if gap > 0 else second)
            )  # fmt: skip
    return [
        said("description", "part_pair", (QUALITY, first, second), section=SHEETS,
             rank=RANK_PART, first=first, second=second, listed=listed)
    ]  # fmt: skip


def _sure(evidence: Evidence) -> list[Statement]:
    """Claim what is sure over the whole report; else name the likeliest orders as such."""
    claims = [
        Statement(
            kind="claim",
            about=(one.attribute, one.high, one.low),
            sentence=sentence("few_report.leans", listed=[_order(evidence, one, "sure_one")]),
            section=SURE,
            p=1 - one.above,
            p_adjusted=one.risk,
            family="scale",
            rank=RANK_SURE,
            box="few_report.box_sure",
            brief=_order(evidence, one, "brief_sure"),
        )
        for one in directions.sure(evidence)
    ]
    if claims or crossed.sure(evidence) or len(people(evidence)) == 1:
        return claims
    tops = [directions.widest(evidence, row.attribute) for row in rows(evidence)]
    likely = sorted((one for one in tops if one is not None), key=lambda one: -one.above)
    if not likely:
        return [said("description", "none_likely", section=SURE, rank=RANK_SURE)]
    listed = [_order(evidence, one, "likely_one") for one in likely[:LIKELIEST]]
    return [said("description", "none_sure", section=SURE, rank=RANK_SURE, listed=listed)]


def _order(evidence: Evidence, one: directions.Pair, key: str) -> Sentence:
    return sentence(
        f"few_report.{key}",
        attribute=evidence.name(one.attribute),
        high=one.high,
        low=one.low,
        above=probability(one.above),
    )


def _by_chance(evidence: Evidence) -> list[Statement]:
    n, products = len(people(evidence)), len(evidence.products)
    if n == 1:
        return [said("caution", "chance_one", section=SURE)]
    order = (
        sentence("few_report.chance_order", ways=math.factorial(products) ** (n - 1))
        if products > 2
        else ""
    )
    return [
        said("caution", "chance_lowest", section=SURE, n=n, bottles=products,
             one=products ** (n - 1), five=products**4, order=order)
    ]  # fmt: skip


def _next(evidence: Evidence) -> list[Statement]:
    """Say what is not settled, and what would settle it with what chance."""
    made = [
        said("description", "unsettled", (pair.attribute, pair.high, pair.low), section=SURE,
             high=pair.high, low=pair.low, attribute=evidence.name(pair.attribute),
             above=probability(pair.above), by=points(pair.raw), least=points(pair.least),
             most=points(pair.most))
        for pair in directions.open_pairs(evidence)
    ]  # fmt: skip
    weighed = directions.steps(evidence)
    if not weighed:
        return made
    cheap = [(pair, one) for pair, found in weighed for one in found if one.step != "five"]
    pair, best = max(cheap, key=lambda each: each[1].chance)
    key = "box_next" if best.chance >= WORTH else "box_next_weak"
    made.append(
        said("advice", key, (pair.attribute, pair.high, pair.low), section=SURE,
             rank=RANK_NEXT, attribute=evidence.name(pair.attribute), high=pair.high,
             low=pair.low, step=step_name(best.step), n=round(100 * best.chance))
    )  # fmt: skip
    return [*made, *_ask(evidence)]


def _ask(evidence: Evidence) -> list[Statement]:
    """Say how the next tasting is poured, and which few attributes it asks: those worth it."""
    first = [pair.attribute for pair in directions.open_pairs(evidence)]
    tops = [directions.widest(evidence, row.attribute) for row in rows(evidence)]
    likely = sorted((one for one in tops if one and not one.sure), key=lambda one: -one.above)
    names = list(dict.fromkeys([*first, *(one.attribute for one in likely)]))[:ASKED]
    if len(rows(evidence)) <= ASKED:
        return []
    written = [evidence.name(name).lower() for name in names]
    return [said("advice", "ask", tuple(names), section=SURE, attributes=written)]


def step_name(step: str) -> Sentence:
    """Name a next step."""
    return sentence(f"few_report.step_{step}")


def _alike(evidence: Evidence) -> list[Statement]:
    """Say that what is not named is not alike, and where quality gives no ground for a price."""
    made = []
    agreed, apart = _price(evidence)
    if apart and (not agreed or len(apart) <= MOST_PAIRS):
        listed = [
            sentence("few_report.pair", first=first, second=second) for first, second in apart
        ]
        key = "price" if agreed or len(evidence.products) == 2 else "price_any"
        made.append(
            said("advice", key, tuple(dict.fromkeys(name for pair in apart for name in pair)),
                 section=SURE, listed=joined(listed))
        )  # fmt: skip
    return [*made, *_price_lead(evidence), *_closest(evidence), *_needed(evidence)]


def _price_lead(evidence: Evidence) -> list[Statement]:
    """Say what it is worth that everybody puts one bottle first, or last, in quality."""
    row = row_of(evidence, QUALITY)
    if row is None or len(row.marks) == 1 or len(evidence.products) < 2:
        return []
    if any(one.attribute == QUALITY for one in directions.sure(evidence)):
        return []
    first, last = row.end(1), row.end(-1)
    if not first and not last:
        return []
    key = "price_first" if first else "price_last"
    return [said("advice", key, (QUALITY, first or last), section=SURE, who=inside(evidence),
                 bottle=first or last)]  # fmt: skip


def _worth_a_step(evidence: Evidence) -> bool:
    """Tell whether a cheap next step may settle something."""
    chances = [
        one.chance for _, found in directions.steps(evidence) for one in found if one.step != "five"
    ]
    return max(chances, default=0.0) >= WORTH


def _needed(evidence: Evidence) -> list[Statement]:
    """Say how many assessors find a whole point in most tastings, as these marks scatter."""
    panel = directions.middle_taste(evidence)
    if panel is None or directions.sure(evidence) or _worth_a_step(evidence):
        return []
    from ...analysis.power.power_of_tests import assessors_for_scores

    n = assessors_for_scores(
        APART, samples=panel.samples, interaction=panel.error_sd**2, residual=0.0
    )
    return [said("description", "needed", section=SURE, n=n)]


def _closest(evidence: Evidence) -> list[Statement]:
    """Name the two bottles that lie closest, and say that they are not shown to be alike."""
    found = []
    for first, second in combinations(evidence.products, 2):
        both = [row for row in rows(evidence) if {first, second} <= set(row.marks.columns)]
        gaps = {row.attribute: row.marks[first] - row.marks[second] for row in both}
        apart = [
            name for name, gap in gaps.items()
            if not gap.isna().any() and ((gap >= APART).all() or (gap <= -APART).all())
        ]  # fmt: skip
        size = sum(float(gap.mean()) ** 2 for gap in gaps.values())
        found.append((len(apart), size, apart, first, second))
    if len(people(evidence)) == 1 or len(found) < 2 or tasters.mirrored(evidence):
        return [said("caution", "alike", section=SURE)]
    n, _, apart, first, second = min(found, key=lambda one: one[:2])
    if n > MOST_APART:
        return [said("caution", "alike", section=SURE)]
    names = [evidence.name(name).lower() for name in apart]
    where = sentence("few_report.closest_in", attributes=names) if names else ""
    key = "closest" if names else "closest_none"
    return [
        said("caution", key, (first, second), section=SURE, first=first, second=second,
             who=inside(evidence), where=where)
    ]  # fmt: skip


def _price(evidence: Evidence) -> tuple[list[tuple[str, str]], list[tuple[str, str]]]:
    """Return the pairs whose quality everybody puts in one order, and those that not all do."""
    row = row_of(evidence, QUALITY)
    if row is None or not row.whole or len(row.marks) == 1:
        return [], []
    agreed = row.agreed
    every = combinations([str(name) for name in row.marks.columns], 2)
    apart = [(a, b) for a, b in every if (a, b) not in agreed and (b, a) not in agreed]
    return agreed, apart


def _findable(evidence: Evidence) -> list[Statement]:
    """Say how wide a difference would have had to be."""
    found = directions.smallest_sure(evidence)
    if found is None:
        return []
    key = "found_none" if math.isinf(found) else "found_from"
    return [said("description", key, section=SURE, by="" if math.isinf(found) else points(found))]


def _prior(evidence: Evidence) -> list[Statement]:
    """Say what was known beforehand, and what becomes of the answer if it is off by two."""
    left = directions.open_pairs(evidence)
    if not left:
        return []
    pair = left[-1]
    panel = directions.panels(evidence)[pair.attribute]
    half, double = panel.sensitivity.iloc[3], panel.sensitivity.iloc[4]
    values: dict[str, Any] = {
        "error": short(panel.prior.error_sd, 2),
        "sample": short(panel.prior.sample_sd, 2),
        "length": f"{panel.length:g}",
        "kept": percent(panel.kept),
        "attribute": evidence.name(pair.attribute),
        "high": pair.high,
        "low": pair.low,
        "half": sentence("few_report.span", low=points(half["low"]), high=points(half["high"])),
        "double": sentence(
            "few_report.span", low=points(double["low"]), high=points(double["high"])
        ),
    }
    alone = directions.direction_of(evidence, pair.attribute, remembers=False)
    if panel.source != "memory" or alone is None:
        return [said("description", "prior", section=SURE, **values)]
    source = evidence.kept[directions.MEMORY].source
    top = alone.differences.iloc[0]
    return [
        said("description", "prior_memory", section=SURE, source=source,
             above=probability(float(top["above"])), least=points(float(top["low"])),
             most=points(float(top["high"])), **values),
        *(
            [said("caution", "against_memory", section=SURE, **values)]
            if panel.conflict
            else []
        ),
    ]  # fmt: skip


def _advice(evidence: Evidence) -> list[Statement]:
    """Keep of the advice what holds for few assessors: decisions, care, cures, controls."""
    return [
        replace(one, section=BOTTLES, sentence=_shorter(one.sentence))
        for one in verdicts.statements(evidence, NOTHING_CLAIMED)
        if isinstance(one.sentence, Sentence) and one.sentence.key.startswith(_ADVICE)
    ]


def _shorter(line: Line) -> Line:
    """Say in fewer words what a report of many says at length."""
    if isinstance(line, Sentence) and line.key in _SHORTER:
        return replace(line, key=_SHORTER[line.key])
    return line


def _second_bottle(evidence: Evidence) -> list[Statement]:
    """Ask for a second bottle of what is held back: the fault may be this bottle's alone."""
    held = tainted.held(evidence)
    if not held:
        return []
    return [
        said("advice", "second_bottle", tuple(held), section=BOTTLES, bottles=held, n=len(held))
    ]


def _numbers(evidence: Evidence) -> list[Statement]:
    """Tell which numbers all bottles share: what is tasted cannot come of those."""
    if not measured.chemistry_of(evidence):
        return []
    listed = []
    for field in ("meter_value", "acidity", "abv"):
        values = {getattr(evidence.bottle(name), field) for name in evidence.products}
        if len(values) == 1 and None not in values:
            listed.append(sentence(f"few_report.number_{field}", value=f"{values.pop():g}"))
    near = _nearly(evidence)
    made = [said("description", "same_number", section=SERVED, listed=listed)] if listed else []
    known = measured.chemistry_of(evidence)
    return (near or made) + [
        said("caution", "with_lees", (name,), section=SERVED, sample=name)
        for name in known
        if measured.with_lees(evidence.bottle(name))
    ]


def _acidity(evidence: Evidence) -> list[Statement]:
    """Hold the bottle that tastes most or least acid to everybody against what was measured."""
    row = row_of(evidence, bottles.ACIDITY)
    values = {name: evidence.bottle(name).acidity for name in evidence.products}
    known = {name: float(value) for name, value in values.items() if value is not None}
    if row is None or len(people(evidence)) == 1 or len(known) < len(values):
        return []
    made: list[Statement] = []
    for way, sign in (("most", 1), ("least", -1)):
        bottle = row.end(sign)
        if not bottle:
            continue
        others = [value for name, value in known.items() if name != bottle]
        ahead = [sign * (known[bottle] - value) for value in others]
        if min(ahead) > ALIKE:
            key = "acidity_with"
        elif min(ahead) < -ALIKE or max(ahead) <= ALIKE:
            key = "acidity_against"
        else:  # It shares the end with another: neither with nor against it.
            continue
        if made:  # Of two bottles the one is most and the other least acid.
            break
        made.append(
            said("caution" if key == "acidity_against" else "description", key,
                 (bottles.ACIDITY, bottle), section=SHEETS, bottle=bottle, who=inside(evidence),
                 way=sentence(f"few_report.acidity_{way}"),
                 value=f"{known[bottle]:g}", others=_span(others))
        )  # fmt: skip
    return made


def _span(values: list[float]) -> Line:
    low, high = f"{min(values):g}", f"{max(values):g}"
    return low if low == high else sentence("few_report.span", low=low, high=high)


def _nearly(evidence: Evidence) -> list[Statement]:
    """Say that all numbers nearly agree: by those the bottles are one sake."""
    listed, apart = [], False
    for field, least in NEARLY.items():
        known = [getattr(evidence.bottle(name), field) for name in evidence.products]
        if None in known:
            return []
        values = [float(value) for value in known]
        if max(values) - min(values) > least + ALIKE:
            return []
        apart = apart or max(values) - min(values) > ALIKE
        listed.append(sentence(f"few_report.number_{field}", value=_span(values)))
    return [said("description", "nearly_same", section=SERVED, listed=listed)] if apart else []
