"""Which bottles differ in a scored attribute, and which way."""

from __future__ import annotations

from collections.abc import Sequence

from ...forms.questions.question_types import Kind
from ..base.words import Sentence, sentence
from .budget import Budget, Weighed
from .camps import statements as camps_told
from .evidence import QUALITY, SCALED, Evidence
from .statement import Line, Statement, joined

SECTION = "differ"
RANK_CLAIM, RANK_NONE = 30, 31
_SHOWN = 3
"""With more bottles standing above others, a line names only how many do."""


def statements(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say in what the bottles differ, with direction; what is a hint; what stays open."""
    if len(evidence.products) < 2:
        return []
    said = [claim(evidence, one) for one in budget.claimed("scale", "balance")]
    if not said:
        said += _overall(evidence, budget)
    said += _hints(evidence, budget)
    scaled = evidence.attributes(*SCALED)
    known = {one.about for one in [*budget.claimed("scale", "balance"), *budget.hinted()]}
    split = {one.about[1] for one in camps_told(evidence)}
    left = [name for name in scaled if name not in known | split]
    if scaled and not any(one.kind == "claim" for one in said):
        said.append(
            Statement(
                kind="description",
                about=tuple(scaled),
                sentence=sentence(
                    "findings.differ_none_split" if split else "findings.differ_none",
                    n=len(scaled),
                ),
                section=SECTION,
                family="scale",
                rank=None if budget.claimed("word") else RANK_NONE,
            )
        )
    if left:
        names = [evidence.name(name) for name in left]
        said.append(
            Statement(
                kind="description",
                about=tuple(left),
                sentence=sentence("findings.differ_open", n=len(left), attributes=names),
                section=SECTION,
                family="scale",
            )
        )
    return said


def claim(evidence: Evidence, one: Weighed) -> Statement:
    """Write the claim on one attribute: who stands above whom, with the means."""
    named = sentence("findings.attribute", attribute=evidence.name(one.about))
    if evidence.question(one.about).kind is Kind.BALANCE:
        end = evidence.question(one.about).options[-1].label.to(evidence.language)
        named = sentence("findings.towards", attribute=evidence.name(one.about), end=end)
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
        brief=sentence(
            "findings.brief_differs", attribute=named, order=joined(order_of(one.pairs))
        ),
    )


def above(pairs: Sequence[tuple[str, str]]) -> list[tuple[list[str], list[str]]]:
    """Gather pairs: bottles that stand above the same others are named together.

    >>> above([("c", "a"), ("c", "b"), ("d", "a"), ("d", "b"), ("b", "a")])
    [(['c', 'd'], ['a', 'b']), (['b'], ['a'])]
    """
    under: dict[str, list[str]] = {}
    for high, low in pairs:
        under.setdefault(high, []).append(low)
    found: dict[tuple[str, ...], list[str]] = {}
    for high, low_ones in under.items():
        found.setdefault(tuple(sorted(low_ones)), []).append(high)
    grouped = [(high, list(low)) for low, high in found.items()]
    return sorted(grouped, key=lambda group: -len(group[1]))


def order_of(pairs: Sequence[tuple[str, str]]) -> list[Line]:
    """Write who stands above whom, briefly."""
    found = above(pairs)
    shown = [sentence("findings.above", high=high, low=low) for high, low in found[:_SHOWN]]
    if len(found) > _SHOWN:
        return [*shown, sentence("findings.further_pairs", n=len(pairs))]
    return list(shown)


def _clauses(evidence: Evidence, one: Weighed) -> Line:
    means = evidence.means[one.about]
    clauses: list[Line] = [
        sentence(
            "findings.clause",
            high=high,
            low=low,
            high_mean=[f"{means[name]:.1f}" for name in high],
            low_mean=[f"{means[name]:.1f}" for name in low],
        )
        for high, low in above(one.pairs)
    ]
    return joined(clauses)


def _overall(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say that the bottles differ as a whole, where no attribute could be named.

    The surest attribute is told beside it, as what it is: not shown by itself.
    """
    scales = [one for one in budget.judged if one.kind in ("scale", "balance") and one.tested]
    surest: Line = ""
    if scales:
        name = min(scales, key=lambda one: (one.adjusted, one.p)).about
        means = evidence.means[name].dropna()
        surest = sentence(
            "findings.surest",
            attribute=evidence.name(name),
            high=str(means.idxmax()),
            low=str(means.idxmin()),
        )
    return [
        Statement(
            kind="claim",
            about=(),
            sentence=sentence("findings.overall", surest=surest),
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
        ("aroma", "word"): budget.hinted("word"),
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
    more, less = [], []
    for one in budget.claimed("scale", "balance"):
        if any(high == sample for high, _ in one.pairs):
            more.append(evidence.name(one.about))
        if any(low == sample for _, low in one.pairs):
            less.append(evidence.name(one.about))
    both = [name for name in more if name in less]
    more = [name for name in more if name not in both]
    less = [name for name in less if name not in both]
    parts: list[Line] = [
        sentence(f"findings.cell_{key}", attributes=names)
        for key, names in (("more", more), ("less", less), ("between", both))
        if names
    ]
    if not parts:
        return sentence("findings.cell_not_told")
    return sentence("findings.cell_parts", parts=joined(parts))


def quality_of(evidence: Evidence, budget: Budget, sample: str) -> Sentence:
    """Say a bottle's overall quality, and whether it was told from another's."""
    means = evidence.means[QUALITY].dropna()
    if sample not in means:
        return sentence("findings.cell_none")
    mean = f"{means[sample]:.1f}"
    claimed = [one for one in budget.claimed("scale") if one.about == QUALITY]
    if not claimed:
        rounded = means.round(1)
        place = ""
        if len(rounded) > 1 and rounded.nunique() > 1:
            if rounded[sample] == rounded.max() and (rounded == rounded.max()).sum() == 1:
                place = "_highest"
            elif rounded[sample] == rounded.min() and (rounded == rounded.min()).sum() == 1:
                place = "_lowest"
        return sentence(f"findings.quality_open{place}", mean=mean)
    over = [low for high, low in claimed[0].pairs if high == sample]
    under = [high for high, low in claimed[0].pairs if low == sample]
    if over:
        return sentence("findings.quality_above", mean=mean, others=over)
    if under:
        return sentence("findings.quality_below", mean=mean, others=under)
    return sentence("findings.quality_between", mean=mean)
