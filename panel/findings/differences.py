"""Which bottles differ in a scored attribute, and which way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ...analysis.core.options import ALPHA
from ...analysis.core.wording import fixed
from ...forms.questions.question_types import Kind
from ...forms.questions.scorecard import default_scorecard
from ...rounding import half_up
from ..base.words import Sentence, sentence
from .balance import split_bottles
from .budget import Budget, Weighed
from .camps import of_bottle
from .camps import statements as camps_told
from .evidence import BALANCE, QUALITY, SCALED, Evidence
from .statement import Line, Statement, joined
from .ticks import OWN, section_of
from .ticks import SECTION as SMELL

SECTION = "differ"
RANK_CLAIM, RANK_NONE = 30, 31
SMALL = 0.1
"""Share of the scale below which a difference that is shown is called small (no source)."""
MANY = 10
"""Attributes from which on it is told how many would look different by chance."""
_FEW = 2
"""Assessors up to whom it is told what all of them put highest."""
NAMED = 8
"""Attributes of a bottle up to which the table of bottles names also those between others."""
TWO_KINDS = ("texture",)
"""Lines of the card between two kinds (rough, silky), not from little to much of what they are
called: of these the name alone does not say which way is up (by their end words)."""
_LISTED = 3
"""With more groups of bottles standing above others, a line names only the highest."""


def judged(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say in what the bottles differ, with direction, and what is a hint."""
    if len(evidence.products) < 2:
        return []
    said = [claim(evidence, one) for one in budget.claimed("scale", "balance")]
    if not said:
        said += _overall(evidence, budget)
    return said + _hints(evidence, budget)


def statements(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say what `judged` does, and what stays open."""
    if len(evidence.products) < 2:
        return []
    said = judged(evidence, budget)
    scaled = evidence.attributes(*SCALED)
    known = {one.about for one in [*budget.claimed("scale", "balance"), *budget.hinted()]}
    split = {one.about[1] for one in camps_told(evidence)}
    if split_bottles(evidence):
        split.add(BALANCE)
    left = [name for name in scaled if name not in known | split]
    tested = any(one.tested for one in budget.judged if one.kind in ("scale", "balance"))
    if scaled and not any(one.kind == "claim" for one in said):
        key = "differ_none_split" if camps_told(evidence) else "differ_none"
        said.append(
            _said(
                key if tested else "differ_untested",
                tuple(scaled),
                rank=RANK_NONE,
                n=len(scaled),
            )
        )
    if left and tested:
        names = [evidence.name(name) for name in left]
        said.append(_said("differ_open", tuple(left), n=len(left), attributes=names))
        if not any(one.kind == "claim" for one in said):
            said.append(_said("alike", ()))
    claimed = {one.about for one in budget.claimed("scale", "balance")}
    said += [*_thin(evidence), *_small(evidence, budget), *_many(scaled)]
    if claimed and len(evidence.compared) == 2 and len(scaled) > 1:
        said.append(_said("two_no_reason", tuple(evidence.compared)))
    return said + _as_marked(evidence, [name for name in scaled if name not in claimed | split])


def _thin(evidence: Evidence) -> list[Statement]:
    """Name the bottles that one tasting came back of: they are compared with no other."""
    said = []
    for name in evidence.thin:
        own = evidence.scores[evidence.scores["sample"] == name]
        who = str(own["assessor"].iloc[0])
        said.append(_said("thin", (name, who), sample=name, who=who))
    return said


def _small(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say of differences that are shown and small that they are both."""
    if budget.found is None:
        return []
    pairs, parts, about = budget.found.pairs, [], []
    for one in budget.claimed("scale"):
        question = evidence.question(one.about)
        own = pairs[(pairs["kind"] == "scale") & (pairs["about"] == one.about) & pairs["claimed"]]
        gap = float(own["difference"].abs().max()) if len(own) else np.inf
        if gap < SMALL * (question.high - question.low):
            span = f"{question.high - question.low:g}"
            values = {"attribute": evidence.name(one.about), "gap": fixed(gap), "span": span}
            parts.append(sentence("findings.small_gap", **values))
            about.append(one.about)
    if not parts:
        return []
    made = _said("small", tuple(about), n=len(parts), listed=joined(parts))
    return [replace(made, kind="caution", rank=RANK_CLAIM + 3)]


def _many(scaled: Sequence[str]) -> list[Statement]:
    """Say how many attributes would look different by chance, each judged alone."""
    by_chance = ALPHA * len(scaled)
    if len(scaled) < MANY:
        return []
    return [_said("by_chance", (), n=len(scaled), k=f"{max(round(by_chance), 1)}")]


def _said(
    key: str, about: tuple[str, ...], *, rank: int | None = None, **values: object
) -> Statement:
    return Statement(
        kind="description",
        about=about,
        sentence=sentence(f"findings.{key}", **values),
        section=SECTION,
        family="scale",
        rank=rank,
    )


def _as_marked(evidence: Evidence, left: Sequence[str]) -> list[Statement]:
    """Name the bottles that one assessor, or both of two, put highest or lowest: no more."""
    if len(evidence.counted) > _FEW:
        return []
    wide_of = evidence.wide(left)
    parts, about = [], []
    for name in left:
        wide = wide_of[name]
        ends = {}
        for end, values in (("high", wide), ("low", -wide)):
            top = {str(row.idxmax()) for _, row in values.iterrows()}
            alone = (values.eq(values.max(axis=1), axis=0).sum(axis=1) == 1).all()
            if len(top) == 1 and alone:
                ends[end] = top.pop()
        if not ends:
            continue
        key = "findings.as_marked_" + "_".join(ends)
        means = {
            f"{end}_mean": fixed(float(evidence.means[name][one])) for end, one in ends.items()
        }
        parts.append(sentence(key, attribute=with_end(evidence, name), **ends, **means))
        about.append(name)
    if not parts:
        return []
    one = len(evidence.counted) == 1
    key = "as_marked" if one else "as_marked_both"
    return [_said(key, tuple(about), rank=RANK_NONE + 1 if one else None, listed=joined(parts))]


def claim(evidence: Evidence, one: Weighed) -> Statement:
    """Write the claim on one attribute: who stands above whom, with the means."""
    named = with_end(evidence, one.about)
    return Statement(
        kind="claim",
        about=(one.about, *one.bottles),
        sentence=sentence("findings.differs", attribute=named, clauses=_clauses(evidence, one)),
        section=SECTION,
        p=one.p,
        p_adjusted=one.adjusted,
        family=one.kind,
        rank=RANK_CLAIM,
        box="findings.box_differ",
        brief=sentence("findings.attribute", attribute=named),
        name=evidence.name(one.about),
        shared=sentence(
            "findings.brief_order", order=joined(order_of(one.pairs, evidence.products))
        ),
    )


def upper_end(evidence: Evidence, about: str) -> str:
    """Name the upper end of a line whose high marks are no more of what it is called; else "".

    So it is with a balance, a line of `TWO_KINDS` and a session's own line whose lower end is
    none of the words for little on the card; a name that holds its upper end says it already.
    """
    question = evidence.question(about)
    if question.kind is Kind.BALANCE:
        return question.options[-1].label.to(evidence.language)
    end = question.high_label.to(evidence.language)
    if not end or end.casefold() in evidence.name(about).casefold():
        return ""
    card = {one.key: one.low_label for one in default_scorecard()}
    low = question.low_label.to(evidence.language)
    little = {one.to(evidence.language) for key, one in card.items() if key not in TWO_KINDS}
    own = about not in card and bool(low) and low not in little
    return end if about in TWO_KINDS or own else ""


def with_end(evidence: Evidence, about: str) -> Sentence:
    """Write an attribute's name, and where its high marks lie if the name does not say so."""
    name, end = evidence.name(about), upper_end(evidence, about)
    if not end:
        return sentence("findings.attribute", attribute=name)
    return sentence("findings.towards", attribute=name, end=end)


def above(
    pairs: Sequence[tuple[str, str]], products: Sequence[str]
) -> list[tuple[list[str], list[str]]]:
    """Gather pairs: bottles that stand above the same others are named together.

    >>> above([("c", "a"), ("c", "b"), ("d", "a"), ("d", "b"), ("b", "a")], "dcba")
    [(['d', 'c'], ['b', 'a']), (['b'], ['a'])]
    """
    place = products.index
    under: dict[str, list[str]] = {}
    for high, low in pairs:
        under.setdefault(high, []).append(low)
    found: dict[tuple[str, ...], list[str]] = {}
    for high, low_ones in under.items():
        found.setdefault(tuple(sorted(low_ones, key=place)), []).append(high)
    grouped = [(sorted(high, key=place), list(low)) for low, high in found.items()]
    return sorted(grouped, key=lambda group: -len(group[1]))


def chain(pairs: Sequence[tuple[str, str]]) -> list[list[str]]:
    """Return bottles as steps, each above all that follow; empty where pairs make no such order.

    >>> chain([("a", "b"), ("a", "c"), ("b", "c")]), chain([("a", "b"), ("c", "d")])
    ([['a'], ['b'], ['c']], [])
    """
    names = list(dict.fromkeys(name for pair in pairs for name in pair))
    under = {name: {low for high, low in pairs if high == name} for name in names}
    steps: list[list[str]] = []
    for name in sorted(names, key=lambda one: -len(under[one])):
        if steps and under[steps[-1][0]] == under[name]:
            steps[-1].append(name)
        else:
            steps.append([name])
    below = [{name for step in steps[at + 1 :] for name in step} for at in range(len(steps))]
    whole = all(under[step[0]] == rest for step, rest in zip(steps, below, strict=True))
    return steps if whole else []


def order_of(pairs: Sequence[tuple[str, str]], products: Sequence[str]) -> list[Line]:
    """Write who stands above whom, briefly; bottles of one step in the session's order."""
    steps = [sorted(step, key=products.index) for step in chain(pairs)]
    if steps:
        made: Line = sentence("findings.step", samples=steps[-1])
        for step in reversed(steps[:-1]):
            made = sentence("findings.above_rest", high=step, rest=made)
        return [made]
    found = above(pairs, products)
    if len(found) > _LISTED:
        high, low = found[0]
        most = sentence("findings.above_others", high=high, n=len(low))
        return [most, sentence("findings.further_pairs", n=len(pairs))]
    return [sentence("findings.above", high=high, low=low) for high, low in found]


def _clauses(evidence: Evidence, one: Weighed) -> Line:
    means = evidence.means[one.about]
    clauses: list[Line] = [
        sentence(
            "findings.clause",
            high=high,
            low=low,
            high_mean=[fixed(means[name]) for name in high],
            low_mean=[fixed(means[name]) for name in low],
        )
        for high, low in above(one.pairs, evidence.products)
    ]
    return joined(clauses)


def only_overall(budget: Budget) -> bool:
    """Tell whether the bottles differ as a whole, and nothing by name."""
    named = budget.claimed("scale", "balance", "word", "fault", "gap")
    return bool(budget.claimed("overall")) and not named


def _overall(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say that the bottles differ as a whole, where nothing could be named.

    The surest attribute is told beside it, as what it is: not shown by itself.
    """
    if not only_overall(budget):
        return []
    words = bool(evidence.attributes(Kind.TICKS))
    scales = [one for one in budget.judged if one.kind in ("scale", "balance") and one.tested]
    surest: Line = ""
    if scales:
        name = min(scales, key=lambda one: (one.adjusted, one.p)).about
        means = evidence.means[name].dropna()
        surest = sentence(
            "findings.surest",
            attribute=with_end(evidence, name),
            high=str(means.idxmax()),
            low=str(means.idxmin()),
        )
    return [
        Statement(
            kind="claim",
            about=(),
            sentence=sentence(
                "findings.overall_words" if words else "findings.overall", surest=surest
            ),
            section=SECTION,
            p=one.p,
            p_adjusted=one.adjusted,
            family="overall",
            rank=RANK_CLAIM + 2,
        )
        for one in budget.claimed("overall")
    ]


def _hints(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Name what is too weak to be claimed, in one sentence for marks and one for words."""
    groups = {
        (SECTION, "scale"): budget.hinted("scale", "balance"),
        **{
            (section, "word"): [
                one for one in budget.hinted("word") if section_of(evidence, one.about) == section
            ]
            for section in (SMELL, OWN)
        },
    }
    return [
        Statement(
            kind="hint",
            about=tuple(one.about for one in found),
            sentence=sentence(
                f"findings.hint_{key}", listed=[evidence.name(one.about) for one in found]
            ),
            section=section,
            p=min(one.p for one in found),
            p_adjusted=min(one.adjusted for one in found),
            family=key,
        )
        for (section, key), found in groups.items()
        if found
    ]


def bottle_order(evidence: Evidence, budget: Budget, sample: str) -> Sentence:
    """Say in which attributes a bottle was told from another, and which way."""
    if len(evidence.products) < 2:
        return sentence("findings.cell_alone")
    if sample in evidence.thin:
        return sentence("findings.cell_thin")
    more, less, both = [], [], []
    ends: list[Line] = []
    for one in budget.claimed("scale", "balance"):
        name = evidence.name(one.about)
        over = any(high == sample for high, _ in one.pairs)
        under = any(low == sample for _, low in one.pairs)
        if over and under:
            both.append(name)
        elif (over or under) and (end := upper_end(evidence, one.about)):
            key = f"findings.cell_{'nearer' if over else 'further'}"
            ends.append(sentence(key, end=end))
        elif over:
            more.append(name)
        elif under:
            less.append(name)
    many = len(more) + len(less) + len(ends) + len(both) > NAMED
    between = "between_many" if many else "between"
    parts: list[Line] = [
        sentence(f"findings.cell_{key}", attributes=names, n=len(names))
        for key, names in (
            ("more", more), ("less", less), (between, both),
        )
        if names
    ]  # fmt: skip
    place = len(parts) - bool(both)
    parts[place:place] = ends
    if not parts:
        return sentence("findings.cell_not_told")
    return sentence("findings.cell_parts", parts=joined(parts))


def quality_of(evidence: Evidence, budget: Budget, sample: str) -> Sentence:
    """Say a bottle's overall quality, and whether it was told from another's."""
    means = evidence.means[QUALITY].dropna()
    if sample not in means:
        return sentence("findings.cell_none")
    mean = fixed(means[sample])
    if sample in evidence.thin:
        return sentence("findings.quality_thin", mean=mean)
    means = means[[name for name in means.index if name in evidence.compared]]
    if QUALITY in of_bottle(evidence, sample):
        return sentence("findings.quality_camps", mean=mean)
    claimed = [one for one in budget.claimed("scale") if one.about == QUALITY]
    if not claimed:
        rounded = means.map(half_up)
        place = ""
        if len(rounded) > 1 and rounded.nunique() > 1 and not evidence.thin:
            if rounded[sample] == rounded.max() and (rounded == rounded.max()).sum() == 1:
                place = "_highest"
            elif rounded[sample] == rounded.min() and (rounded == rounded.min()).sum() == 1:
                place = "_lowest"
        return sentence(f"findings.quality_open{place}", mean=mean)
    over = [low for high, low in claimed[0].pairs if high == sample]
    under = [high for high, low in claimed[0].pairs if low == sample]
    if over and under:
        return sentence("findings.quality_amid", mean=mean, over=over, under=under)
    if over:
        return sentence("findings.quality_above", mean=mean, others=over)
    if under:
        return sentence("findings.quality_below", mean=mean, others=under)
    return sentence("findings.quality_between", mean=mean)
