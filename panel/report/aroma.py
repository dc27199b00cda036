"""Which words the bottles were given."""

from __future__ import annotations

import pandas as pd

from ...analysis.citations.ticked_words import Descriptors, descriptors
from ...analysis.core.errors import AnalysisError
from ...forms.questions.question_types import Kind
from ..base.words import say, sentence
from ..session.term_tree import word_tree
from .context import Context
from .parts import Block, Grid, Line, Lines, Picture, Section, caution, lead, method


def section(context: Context) -> Section | None:
    """Count assessors by word and bottle, as a table and on the wheel."""
    attributes = context.attributes(Kind.TICKS)
    if not attributes:
        return None
    try:
        found = descriptors(context.tidy(attributes), attributes=attributes)
    except AnalysisError as refusal:
        said = context.named(refusal.sentence)
        return Section(
            key="aroma", title=sentence("report.aroma"), blocks=(lead(said),), data=str(said)
        )
    lines = [context.named(line) for line in found.sentences()]
    counts = found.citations.counts()
    context.telling_words[:] = found.differing
    for sample in context.samples:
        if sample in counts.index:
            context.note(sample, "words", _most(context, counts.T[sample], found))
    blocks: list[Block] = [lead(lines[0]), *_wheel(context, found)]
    blocks += [
        Lines(tuple(lines[1:])),
        Grid(
            sentence("report.aroma_table", n=len(found.citations.assessors)),
            _table(context, counts),
        ),
        caution(*(context.named(warning) for warning in found.warnings)),
        method(sentence("report.aroma_method")),
    ]
    return Section(
        key="aroma",
        title=sentence("report.aroma"),
        blocks=tuple(blocks),
        short=(lines[0],) if found.differing else (),
        tables={name.partition(".")[2]: context.shown(t) for name, t in found.tables().items()},
        data=found.to_dict(),
    )


def _most(context: Context, counts: pd.Series, found: Descriptors) -> Line:
    """Name the words that at least half of the assessors gave a bottle."""
    half = len(found.citations.assessors) / 2
    often = counts[counts >= half].sort_values(ascending=False, kind="stable")
    names = [context.name(str(name)).lower() for name in often.index]
    return sentence("report.words_often", words=names) if names else sentence("report.words_none")


def _wheel(context: Context, found: Descriptors) -> list[Block]:
    """Draw the wheel, where any word was used."""
    if not found.citations.counts().to_numpy().any():
        return []
    figure = found.figure(
        word_tree(
            found.citations.attributes,
            context.language,
            name=context.name,
            words=context.vocabulary,
        ),
        samples=[name for name in context.samples if name in found.citations.samples],
        language=context.language,
    )
    lines = [context.named(line) for line in found.citations.sentences()]
    return [Picture("wheel", figure, sentence("report.aroma_alt", listed=lines))]


def _table(context: Context, counts: pd.DataFrame) -> pd.DataFrame:
    """Write how many assessors gave each word to each bottle, most used words first."""
    wide = counts.T
    wide = wide.reindex(columns=[name for name in context.samples if name in wide.columns])
    used = wide[wide.sum(axis=1) > 0]
    used = used.loc[used.sum(axis=1).sort_values(ascending=False, kind="stable").index]
    shown = used.map(lambda k: f"{k:g}" if k else "·").reset_index(drop=True)
    names = [context.name(str(attribute)) for attribute in used.index]
    shown.insert(0, say("report.col_word", context.language), names)
    return shown
