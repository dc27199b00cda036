"""Two bottles beside each other: what changes with one thing, what stays open, what may go as one.

Nothing here is shown beyond the report's claims: sizes describe, and what is open is no sign of
being alike.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

from ...forms.questions.question_types import Kind
from ..base.words import Sentence, sentence
from ..findings import tainted
from ..findings.budget import Budget
from ..findings.design import question_names
from ..findings.differences import with_end
from ..findings.evidence import QUALITY, SCALED, Evidence
from ..findings.statement import Line, Rows, Statement, joined
from ..findings.ticks import SECTION, questions
from .bottles_apart import fair_pairs
from .gaps import Gap, end, gaps, hints, size, written
from .left_out import apart
from .told import DIFFER, LIMITS, NEXT, SURE, said

MOST = 4
"""Fair pairs up to which each is told by itself."""
MOST_PAIRS = 6
"""Pairs without a shown difference up to which they are named."""
NEARLY = {"meter_value": 1.0, "acidity": 0.1, "amino_acidity": 0.1, "abv": 0.3}
"""Spans of the numbers of all bottles up to which these are called nearly the same (a convention,
no source; those of the report of few assessors)."""
EXACT = 1e-9
WIDEST, NARROWEST = 3, 2
"""Open gaps of a pair that are told where what pasteurising did is asked: the widest, and those of
which the limits leave least, as shares of the scale."""
TICKED = 0.4
"""Share of the sheets by which one bottle of such a pair has a word oftener, from which the word is
told (no source; counted, not tested)."""
HEATED = 2
"""Such pairs that are told."""
WARNED = ("hold", "age", "recheck", "unjudged", "failed", "swapped")
"""Decisions on a fault with which nothing is said of a common label."""


def statements(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say what each fair pair shows, how far open gaps may go, and what could go as one lot."""
    if len(evidence.compared) < 2 or budget.found is None:
        return []
    return [
        *_heat(evidence, budget),
        *_fair(evidence, budget),
        *_held(evidence, budget),
        *_open(evidence, budget),
        *_as_one(evidence, budget),
        *_numbers(evidence),
    ]


def _of_pair(evidence: Evidence, budget: Budget, first: str, second: str) -> list[Gap]:
    return [one for one in gaps(evidence, budget) if {one.high, one.low} == {first, second}]


def _fair(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Put together what a pair shows in which one thing alone changes."""
    held = tainted.held(evidence)
    pairs = [one for one in fair_pairs(evidence) if not {one[0], one[1]} & set(held)]
    if len(pairs) > MOST:
        return []
    made = []
    for first, second, what in pairs:
        own = _of_pair(evidence, budget, first, second)
        shown = [one for one in own if one.claimed]
        leads = [one for one in own if one.clear and not one.claimed and one.attribute != QUALITY]
        quality = [one for one in own if one.attribute == QUALITY and not one.claimed]
        parts: list[Sentence] = []
        for key, found in (("fair_shown", shown), ("fair_clear", leads)):
            if found:
                listed = joined([_brief(evidence, one) for one in found])
                parts.append(sentence(f"overview.{key}", listed=listed))
        if not parts:
            parts.append(sentence("overview.fair_none"))
        parts += [
            sentence("overview.fair_quality", high=one.high, low=one.low, by=size(one.by),
                     least=end(one.least), most=end(one.most), going=one.going)
            for one in quality
        ]  # fmt: skip
        about = (first, second, *(one.attribute for one in (*shown, *leads)))
        cells = [
            _cells(evidence, one, verdict)
            for verdict, group in (("shown", shown), ("clear", leads), ("open", quality))
            for one in group
        ]
        rows = _rows(what, cells, found=bool(shown or leads)) if cells else None
        told = said("fair", DIFFER, about, pair=what, listed=joined(parts))
        made.append(replace(told, rows=rows))
    return made


def _heat(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Answer what pasteurising did, where that is asked: on pairs that differ in nothing else."""
    heats = {evidence.bottle(name).level("pasteurised") for name in evidence.products} - {""}
    if len(heats) < 2 or not question_names(evidence, "asks_heat"):
        return []
    held = tainted.held(evidence)
    pairs = [
        (first, second)
        for first, second, _ in fair_pairs(evidence)
        if evidence.bottle(first).level("pasteurised")
        != evidence.bottle(second).level("pasteurised")
        and not {first, second} & set(held)
    ]
    if not pairs:
        return [said("heat_open", SURE, kind="caution")]
    made = []
    for first, second in pairs[:HEATED]:
        own = _of_pair(evidence, budget, first, second)
        shown = [one for one in own if one.claimed]
        clear = [one for one in own if one.clear and not one.claimed]
        rest = [one for one in own if one not in shown and one not in clear]
        span = {one.attribute: _span(evidence, one.attribute) for one in rest}
        rest = sorted(rest, key=lambda one: -one.by / span[one.attribute])
        parts: list[Line] = [
            sentence(f"overview.{key}", listed=joined([written(evidence, one) for one in found]))
            for key, found in (("fair_shown", shown), ("fair_clear", clear))
            if found
        ] or [sentence("overview.fair_none")]
        if rest:
            listed = joined([written(evidence, one) for one in rest[:WIDEST]])
            parts.append(sentence("overview.heat_widest", listed=listed))
            least = sorted(rest, key=lambda one: _furthest(one) / span[one.attribute])[:NARROWEST]
            narrow = [sentence("overview.heat_least_of", attribute=evidence.name(one.attribute),
                               most=end(_furthest(one))) for one in least]  # fmt: skip
            parts.append(sentence("overview.heat_least", listed=narrow))
        words = _ticked_apart(evidence, first, second)
        parts += [sentence("overview.heat_words", listed=words)] if words else []
        about = (first, second, *(one.attribute for one in (*shown, *clear)))
        made.append(said("heat", SURE, about, first=first, second=second, parts=joined(parts)))
    return made


def _span(evidence: Evidence, name: str) -> float:
    question = evidence.question(name)
    return question.high - question.low


def _furthest(one: Gap) -> float:
    return max(one.most, -one.least)


def _ticked_apart(evidence: Evidence, first: str, second: str) -> list[Sentence]:
    """Write the words that one of two bottles has on plainly more sheets than the other."""
    rows = evidence.rows(questions(evidence).get(SECTION, []))
    rows = rows[rows["sample"].isin([first, second])]
    found = []
    for name, own in rows.groupby("attribute", observed=True):
        counts = {one: own.loc[own["sample"] == one, "score"].dropna() for one in (first, second)}
        if not all(map(len, counts.values())):
            continue
        ticks = {one: int((marks > 0).sum()) for one, marks in counts.items()}
        share = {one: ticks[one] / len(counts[one]) for one in counts}
        if abs(share[first] - share[second]) >= TICKED:
            found.append(
                sentence("overview.heat_word", word=evidence.name(str(name)), k=ticks[first],
                         n=len(counts[first]), m=ticks[second], of=len(counts[second]))
            )  # fmt: skip
    return found


def _rows(pair: Sentence, cells: list[tuple[str | Sentence, ...]], *, found: bool) -> Rows:
    columns = ("report.col_attribute", "overview.col_higher", "report.col_difference",
               "report.col_interval", "overview.col_going", "overview.col_verdict")  # fmt: skip
    told = dict(pair.values)
    return Rows(
        heading=sentence("overview.fair_table", pair=pair),
        columns=tuple(sentence(one) for one in columns),
        cells=tuple(cells),
        note=""
        if found
        else sentence("overview.fair_note", first=told["first"], second=told["second"]),
    )


def _cells(evidence: Evidence, one: Gap, verdict: str) -> tuple[str | Sentence, ...]:
    ends = sentence("report.ends", low=end(one.least), high=end(one.most))
    told = sentence(f"overview.verdict_{verdict}")
    return (evidence.row_name(one.attribute), one.high, size(one.by), ends, one.going, told)


def _brief(evidence: Evidence, one: Gap) -> Sentence:
    return sentence("overview.fair_gap", attribute=with_end(evidence, one.attribute), high=one.high,
                    by=size(one.by), k=len(one.along), n=one.n)  # fmt: skip


def _held(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Warn that what sets a faulty bottle apart may be the fault alone."""
    made = []
    scaled = evidence.attributes(*SCALED)
    looks = {one for one in scaled if evidence.question(one).sense == "appearance"}
    for name in tainted.held(evidence):
        own = [one for one in gaps(evidence, budget) if name in (one.high, one.low)]
        told = [one.attribute for one in own if one.claimed and one.attribute not in looks]
        names = list(dict.fromkeys(told))
        silent = _no_fault(evidence, name)
        same = [
            one for one in names
            if silent and all(
                set(silent) <= set(gap.along) for gap in own if gap.claimed and gap.attribute == one
            )
        ]  # fmt: skip
        rest = [one for one in names if one not in same]
        if rest:
            made.append(
                said("held_marks", DIFFER, (name, *rest), kind="caution", bottle=name,
                     attributes=[evidence.name(one) for one in rest])
            )  # fmt: skip
        if same:
            made.append(
                said("held_marks_also", DIFFER, (name, *same), kind="caution", bottle=name,
                     who=silent, n=len(silent), same=[evidence.name(one) for one in same])
            )  # fmt: skip
    return made


def _no_fault(evidence: Evidence, name: str) -> list[str]:
    """Return who, of those in the means, was asked about faults in a bottle and noted none."""
    rows = evidence.scores
    faults = evidence.attributes(Kind.FAULTS)
    rows = rows[(rows["sample"] == name) & rows["attribute"].isin(faults)]
    worst = rows.groupby(rows["assessor"].astype(str))["score"].max()
    return [code for code in evidence.counted if code in worst.index and worst[code] == 0]


def reach(evidence: Evidence, budget: Budget) -> dict[str, float]:
    """Return of each attribute that is not claimed how far a difference of two bottles may go.

    The furthest end of the intervals of all pairs, in points; least first.
    """
    claimed = {one.about for one in budget.claimed("scale", "balance")}
    found: dict[str, float] = {}
    for one in gaps(evidence, budget):
        if one.attribute not in claimed:
            far = max(abs(one.least), abs(one.most))
            found[one.attribute] = max(found.get(one.attribute, 0.0), far)
    return dict(sorted(found.items(), key=lambda item: item[1]))


def _open(evidence: Evidence, budget: Budget) -> list[Statement]:
    found = reach(evidence, budget)
    if not found:
        return []
    listed = [
        sentence("findings.pair_value", name=evidence.name(name), value=size(by))
        for name, by in found.items()
    ]
    return [said("still_open", LIMITS, tuple(found), listed=listed)]


def _as_one(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say which bottles this tasting would let go under one label, and that they are not alike."""
    if not evidence.attributes(*SCALED):
        return []
    told = {
        frozenset(pair)
        for one in budget.claimed("scale", "balance", "word", "gap", "overall")
        for pair in one.pairs
    }
    told |= {frozenset((one.high, one.low)) for one in hints(evidence, budget)}
    if told:  # then a gap clear of 0 is more than one of many
        told |= {frozenset((one.high, one.low)) for one in gaps(evidence, budget) if one.least > 0}
    if apart(evidence, budget):
        return []
    sound = [name for name in evidence.compared if tainted.decision(evidence, name) not in WARNED]
    pairs = [
        (first, second)
        for first, second in combinations(sound, 2)
        if frozenset((first, second)) not in told and _one_kind(evidence, first, second)
    ]
    if not pairs:
        return []
    every = len(evidence.products) * (len(evidence.products) - 1) // 2
    if len(pairs) == every and not told:
        return [said("one_lot", NEXT, tuple(sound), kind="advice", bottles=sound, n=len(sound))]
    if len(pairs) > MOST_PAIRS:
        return []
    listed = [sentence("overview.pair_of", high=first, low=second) for first, second in pairs]
    about = tuple(dict.fromkeys(name for pair in pairs for name in pair))
    return [said("one_label", NEXT, about, kind="advice", listed=listed, n=len(pairs))]


def _one_kind(evidence: Evidence, first: str, second: str) -> bool:
    """Tell whether two bottles are of one fraction and heated alike, as one label would say.

    Two portions of one bottle, served apart, are no two bottles.
    """
    one, other = evidence.bottle(first), evidence.bottle(second)
    if one.liquid == other.liquid:
        return False
    return all(one.level(factor) == other.level(factor) for factor in ("fraction", "pasteurised"))


def _numbers(evidence: Evidence) -> list[Statement]:
    """Say that all numbers nearly agree: by those the bottles are one sake."""
    listed = []
    for field, widest in NEARLY.items():
        known = [getattr(evidence.bottle(name), field) for name in evidence.products]
        if None in known:
            continue
        low, high = min(known), max(known)
        if high - low > widest + EXACT:
            return []
        value = f"{low:g}" if low == high else sentence("few_report.span", low=f"{low:g}",
                                                       high=f"{high:g}")  # fmt: skip
        listed.append(sentence(f"few_report.number_{field}", value=value))
    return [said("numbers_alike", DIFFER, listed=listed)] if len(listed) > 1 else []
