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

SECTION, OWN = "aroma", "ticks"
"""The question on the smell, whose words stand on the wheel; questions of one's own."""
RANK = 36
OFTEN = 0.5
"""Share of an assessor's tastings, and of a panel, from which a word counts as given."""
LABEL_FROM = 2
"""A label word was ticked by at least so many, one of them not the maker."""


def questions(evidence: Evidence) -> dict[str, list[str]]:
    """Return the words of each question to tick that was answered, by its key."""
    found: dict[str, list[str]] = {}
    for name in evidence.attributes(Kind.TICKS):
        found.setdefault(evidence.question(name).key, []).append(name)
    return found


def section_of(evidence: Evidence, word: str) -> str:
    """Return the section a word stands in: the smell's words on the wheel, others apart."""
    return SECTION if evidence.question(word).key == SECTION else OWN


@once
def marks(evidence: Evidence) -> pd.DataFrame:
    """Return who gave which word to which product: 1 in at least half of the tastings.

    An assessor who answered anything of a question for a cup has not ticked
    the rest of its words: a word without an answer there counts 0.

    Returns
    -------
    DataFrame
        Index ``sample, assessor``, one column a word; everybody, makers too. Missing
        where somebody did not answer the word's question at all.
    """
    import pandas as pd

    parts = []
    for names in questions(evidence).values():
        cups = evidence.rows(names, everybody=True).pivot_table(
            index=["sample", "assessor", "replicate"],
            columns="attribute",
            values="score",
            aggfunc="max",
            observed=True,
            dropna=False,
        )
        cups = cups.reindex(columns=names).dropna(how="all").fillna(0.0)
        parts.append((cups.groupby(level=["sample", "assessor"]).mean() >= OFTEN).astype(float))
    return pd.concat(parts, axis=1) if parts else pd.DataFrame()


def _of_panel(evidence: Evidence) -> pd.DataFrame:
    found = marks(evidence)
    mine = found[found.index.get_level_values("assessor").isin(evidence.counted)]
    return mine.reset_index("assessor", drop=True)


@once
def counts(evidence: Evidence) -> pd.DataFrame:
    """Return the panel's assessors who gave each word (columns) to each product (rows)."""
    sums = _of_panel(evidence).groupby(level="sample").sum(min_count=1)
    return sums.reindex(evidence.products).dropna(how="all")


@once
def tally(evidence: Evidence) -> dict[tuple[str, str], tuple[int, int]]:
    """Return by product and word how many of how many of the panel gave it."""
    found = _of_panel(evidence).melt(ignore_index=False, var_name="word").dropna()
    sums = found.groupby([found.index, "word"])["value"].agg(["sum", "size"])
    return {
        (str(sample), str(word)): (int(k), int(n))
        for (sample, word), (k, n) in zip(sums.index, sums.to_numpy(), strict=True)
    }


def _word(evidence: Evidence, sample: str, word: str) -> Sentence:
    k, n = tally(evidence)[sample, word]
    return sentence("findings.word_count", sample=evidence.name(word), k=k, n=n)


def statements(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say which words tell bottles apart, with counts; and what nobody ticked."""
    said = []
    for key, names in questions(evidence).items():
        said += _of_question(evidence, budget, names, SECTION if key == SECTION else OWN)
    return said


def _of_question(
    evidence: Evidence, budget: Budget, names: list[str], section: str
) -> list[Statement]:
    said = []
    for one in budget.claimed("word"):
        if one.about not in names:
            continue
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
                section=section,
                p=one.p,
                p_adjusted=one.adjusted,
                family="word",
                rank=RANK,
                box="findings.box_words",
                brief=sentence("findings.brief_word", **values),
                name=sentence("findings.quoted", word=values["word"]),
            )
        )
    alone = not evidence.attributes(*SCALED)
    if not said:
        key = "words_none" if _tested(budget) else "words_untested"
        said.append(_described(key, section, rank=RANK if alone else None, n=len(names)))
    table = counts(evidence)[names]
    if alone:
        listed = [given_to(evidence, sample, names) for sample in table.index]
        told = [line for line in listed if line]
        if told:
            said.append(_described("words_given", section, rank=RANK + 1, listed=joined(told)))
    rows = evidence.rows(names)
    ever = set(rows.loc[rows["score"] > 0, "attribute"].astype(str))
    never = [evidence.name(name) for name in names if name in table and name not in ever]
    if never:
        said.append(_described("words_never", section, n=len(never), words=never))
    return said


def _described(key: str, section: str, *, rank: int | None = None, **values: object) -> Statement:
    return Statement(
        kind="description",
        about=(),
        sentence=sentence(f"findings.{key}", **values),
        section=section,
        family="word",
        rank=rank,
    )


def given_to(evidence: Evidence, sample: str, names: list[str]) -> Sentence | str:
    """Write which of some words half of the panel or more gave to a bottle; "" for none."""
    words = [_word(evidence, sample, name) for name in often(evidence, sample) if name in names]
    return sentence("findings.words_given_to", sample=sample, words=words) if words else ""


def _tested(budget: Budget) -> bool:
    return any(one.kind == "word" and one.tested for one in budget.judged)


def counted(evidence: Evidence, word: str) -> list[Sentence]:
    """Write how many of how many gave a word to each bottle, most first."""
    given = {
        sample: tally(evidence)[sample, word]
        for sample in evidence.products
        if (sample, word) in tally(evidence)
    }
    return [
        sentence("findings.word_count", sample=sample, k=k, n=n)
        for sample, (k, n) in sorted(given.items(), key=lambda item: -item[1][0])
    ]


def often(evidence: Evidence, sample: str) -> list[str]:
    """Name the words that at least half of the panel, and two at least, gave a bottle."""
    given = {word: own for (name, word), own in tally(evidence).items() if name == sample}
    shown = {
        word: k for word, (k, n) in given.items() if k >= max(OFTEN * n, min(LABEL_FROM, n), 1)
    }
    place = evidence.attributes(Kind.TICKS).index
    return sorted(shown, key=lambda word: (-shown[word], place(word)))


def label_words(evidence: Evidence, budget: Budget) -> dict[str, list[str]]:
    """Return for each bottle the words that a label may take from this tasting.

    They tell it from another bottle, at least half of the panel gave them to
    it, and two at least, one of them not the maker.
    """
    found: dict[str, list[str]] = {}
    table = marks(evidence) if evidence.attributes(Kind.TICKS) else None
    for one in budget.claimed("word"):
        if section_of(evidence, one.about) != SECTION:
            continue
        for sample in dict.fromkeys(high for high, _ in one.pairs):
            if table is None or one.about not in often(evidence, sample):
                continue
            given = table.xs(sample, level="sample")[one.about].dropna()
            others = given[~given.index.isin(evidence.makers)]
            if given.sum() >= LABEL_FROM and others.sum() >= 1:
                found.setdefault(sample, []).append(one.about)
    return found


def cell(evidence: Evidence, budget: Budget, sample: str) -> Sentence:
    """Say for the table of decisions which words a bottle got, those that tell it apart first."""
    if sample not in counts(evidence).index:
        return sentence("findings.cell_none")
    smell = questions(evidence).get(SECTION, [])
    telling = [
        one.about
        for one in budget.claimed("word")
        if one.about in smell and any(high == sample for high, _ in one.pairs)
    ]
    plain = [name for name in often(evidence, sample) if name not in telling and name in smell]
    parts: list[Line] = [
        sentence(
            f"findings.cell_words_{key}",
            words=[_word(evidence, sample, name) for name in names],
        )
        for key, names in (("telling", telling), ("often", plain))
        if names
    ]
    if not parts:
        return sentence("findings.cell_words_none")
    return sentence("findings.cell_parts", parts=joined(parts))
