"""Which words tell the bottles apart, and which a label may take from this tasting."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...forms.questions.question_types import Kind
from ..base.words import Sentence, sentence
from .budget import Budget
from .evidence import SCALED, Evidence, once
from .statement import Line, Statement, joined

if TYPE_CHECKING:
    import pandas as pd

SECTION = "aroma"
RANK = 36
OFTEN = 0.5
"""Share of an assessor's tastings, and of a panel, from which a word counts as given."""
LABEL_FROM = 2
"""A label word was ticked by at least so many, one of them not the maker."""


@once
def marks(evidence: Evidence) -> pd.DataFrame:
    """Return who gave which word to which product: 1 in at least half of the tastings.

    An assessor who answered anything of the words for a cup has not ticked
    the rest of them: a word without an answer there counts 0.

    Returns
    -------
    DataFrame
        Index ``sample, assessor``, one column a word; everybody, makers too.
    """
    names = evidence.attributes(Kind.TICKS)
    rows = evidence.rows(names, everybody=True)
    cups = rows.pivot_table(
        index=["sample", "assessor", "replicate"],
        columns="attribute",
        values="score",
        aggfunc="max",
        observed=True,
        dropna=False,
    )
    cups = cups.reindex(columns=names).dropna(how="all").fillna(0.0)
    return (cups.groupby(level=["sample", "assessor"]).mean() >= OFTEN).astype(int)


@once
def counts(evidence: Evidence) -> pd.DataFrame:
    """Return the panel's assessors who gave each word (columns) to each product (rows)."""
    found = marks(evidence)
    mine = found[found.index.get_level_values("assessor").isin(evidence.counted)]
    return mine.groupby(level="sample").sum().reindex(evidence.products).dropna(how="all")


@once
def asked(evidence: Evidence) -> pd.Series:
    """Return of how many assessors of the panel each product's words were asked."""
    found = marks(evidence)
    mine = found[found.index.get_level_values("assessor").isin(evidence.counted)]
    return mine.groupby(level="sample").size()


def statements(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say which words tell bottles apart, with counts; and what nobody ticked."""
    if not evidence.attributes(Kind.TICKS):
        return []
    said = []
    for one in budget.claimed("word"):
        values = {
            "word": evidence.name(one.about),
            "high": list(dict.fromkeys(high for high, _ in one.pairs)),
            "low": list(dict.fromkeys(low for _, low in one.pairs)),
            "counts": counted(evidence, one.about),
        }
        said.append(
            Statement(
                kind="claim",
                about=(one.about, *one.bottles),
                sentence=sentence("findings.word_differs", **values),
                section=SECTION,
                p=one.p,
                p_adjusted=one.adjusted,
                family="word",
                rank=RANK,
                box="findings.box_words",
                brief=sentence("findings.brief_word", **values),
            )
        )
    if not said:
        said.append(
            Statement(
                kind="description",
                about=(),
                sentence=sentence(
                    "findings.words_none" if _tested(budget) else "findings.words_untested",
                    n=len(evidence.attributes(Kind.TICKS)),
                ),
                section=SECTION,
                family="word",
                rank=None if evidence.attributes(*SCALED) else RANK,
            )
        )
    table = counts(evidence)
    never = [evidence.name(str(name)) for name in table.columns if not table[name].any()]
    if never:
        said.append(
            Statement(
                kind="description",
                about=(),
                sentence=sentence("findings.words_never", n=len(never), words=never),
                section=SECTION,
            )
        )
    return said


def _tested(budget: Budget) -> bool:
    return any(one.kind == "word" and one.tested for one in budget.judged)


def counted(evidence: Evidence, word: str) -> list[Sentence]:
    """Write how many of how many gave a word to each bottle, most first."""
    table, of = counts(evidence), asked(evidence)
    order = table[word].sort_values(ascending=False, kind="stable")
    return [
        sentence("findings.word_count", sample=str(sample), k=int(k), n=int(of[str(sample)]))
        for sample, k in order.items()
    ]


def often(evidence: Evidence, sample: str) -> list[str]:
    """Name the words that at least half of the panel, and two at least, gave a bottle."""
    table, of = counts(evidence), asked(evidence)
    if sample not in table.index:
        return []
    own = table.loc[sample]
    fewest = max(OFTEN * of[sample], min(LABEL_FROM, of[sample]))
    shown = own[own >= fewest].sort_values(ascending=False, kind="stable")
    return [str(name) for name in shown.index]


def label_words(evidence: Evidence, budget: Budget) -> dict[str, list[str]]:
    """Return for each bottle the words that a label may take from this tasting.

    They tell it from another bottle, at least half of the panel gave them to
    it, and two at least, one of them not the maker.
    """
    found: dict[str, list[str]] = {}
    table = marks(evidence) if evidence.attributes(Kind.TICKS) else None
    for one in budget.claimed("word"):
        for sample in dict.fromkeys(high for high, _ in one.pairs):
            if table is None or one.about not in often(evidence, sample):
                continue
            given = table.xs(sample, level="sample")[one.about]
            others = given[~given.index.isin(evidence.makers)]
            if given.sum() >= LABEL_FROM and others.sum() >= 1:
                found.setdefault(sample, []).append(one.about)
    return found


def cell(evidence: Evidence, budget: Budget, sample: str) -> Sentence:
    """Say for the table of decisions which words a bottle got, those that tell it apart first."""
    of = asked(evidence)
    if sample not in of.index:
        return sentence("findings.cell_none")
    telling = [
        one.about for one in budget.claimed("word") if any(high == sample for high, _ in one.pairs)
    ]
    given = {str(name): int(k) for name, k in counts(evidence).T[sample].items()}
    plain = [name for name in often(evidence, sample) if name not in telling]
    parts: list[Line] = [
        sentence(
            f"findings.cell_words_{key}",
            words=[
                sentence(
                    "findings.word_count",
                    sample=evidence.name(name),
                    k=given[name],
                    n=int(of[sample]),
                )
                for name in names
            ],
        )
        for key, names in (("telling", telling), ("often", plain))
        if names
    ]
    if not parts:
        return sentence("findings.cell_words_none")
    return sentence("findings.cell_parts", parts=joined(parts))
