"""Which words the bottles were given."""

from __future__ import annotations

import pandas as pd

from ...analysis.citations.ticked_words import Descriptors, descriptors
from ...analysis.core.errors import AnalysisError
from ...forms.questions.question_types import Kind
from ..base.words import sentence
from ..findings.ticks import asked
from ..findings.ticks import counts as word_counts
from ..session.term_tree import word_tree
from .context import Context
from .parts import Block, Grid, Line, Lines, Picture, Section, caution, lead, method, plain


def section(context: Context) -> Section | None:
    """Count assessors by word and bottle, as a table and on the wheel."""
    attributes = context.attributes(Kind.TICKS)
    if not attributes:
        return None
    evidence = context.findings.evidence
    title = sentence("report.aroma")
    try:
        found = descriptors(evidence.tidy(attributes), attributes=attributes)
    except AnalysisError as refusal:
        return Section(
            key="aroma",
            title=title,
            blocks=(lead(*context.said("aroma")), plain(context.named(refusal.sentence))),
            tables={"words_ticked": _kept(context)},
            data=refusal.sentence,
        )
    said = [*context.said("aroma", "claim"), *context.said("aroma", "description", "hint")]
    blocks: list[Block] = [lead(*said[:1])]
    if context.figures:
        blocks += _wheel(context, found)
    blocks += [
        Lines(tuple(said[1:])),
        Grid(
            sentence("report.aroma_table", n=len(evidence.counted)),
            _table(context),
        ),
        caution(*(context.named(warning) for warning in found.warnings)),
        method(sentence("report.aroma_method")),
    ]
    tables = {name.partition(".")[2]: context.shown(t) for name, t in found.tables().items()}
    return Section(
        key="aroma",
        title=title,
        blocks=tuple(blocks),
        tables={"words_ticked": _kept(context), **tables},
        data={
            **found.to_dict(context.language),
            "counts": {
                str(sample): {str(word): int(k) for word, k in own.items()}
                for sample, own in word_counts(evidence).T.items()
            },
        },
    )


def _kept(context: Context) -> pd.DataFrame:
    """Return the counts as a table: one row a bottle, one column a word."""
    table = word_counts(context.findings.evidence).rename(columns=context.name)
    return table.rename_axis(columns=None).reset_index()


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


def _table(context: Context) -> pd.DataFrame:
    """Write how many of how many gave each word to each bottle, most used words first."""
    evidence = context.findings.evidence
    wide, of = word_counts(evidence).T, asked(evidence)
    used = wide[wide.sum(axis=1) > 0]
    used = used.loc[used.sum(axis=1).sort_values(ascending=False, kind="stable").index]
    columns: dict[Line, list[str]] = {
        sentence("report.col_word"): [context.name(str(one)) for one in used.index]
    }
    for sample in used.columns:
        columns[sample] = [f"{int(k)} / {int(of[sample])}" for k in used[sample]]
    return pd.DataFrame(columns)
