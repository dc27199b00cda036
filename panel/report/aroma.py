"""Which words the bottles were given."""

from __future__ import annotations

from dataclasses import replace
from functools import partial, reduce

import pandas as pd

from ...analysis.citations.ticked_words import Descriptors, descriptors
from ...analysis.core.errors import AnalysisError
from ...analysis.core.wording import below
from ..base.words import sentence
from ..findings.ticks import OWN, SECTION, questions, tally
from ..findings.ticks import counts as word_counts
from ..session.term_tree import word_tree
from .context import Context
from .parts import Block, Grid, Line, Lines, Picture, Section, caution, lead, method, plain


def section(context: Context) -> Section | None:
    """Count assessors by word and bottle, as a table and on the wheel."""
    evidence = context.findings.evidence
    attributes = questions(evidence).get(SECTION, [])
    if not attributes:
        return None
    title = sentence("report.aroma")
    said = _said(context, SECTION)
    kept = _kept(context, attributes)
    try:
        found = descriptors(evidence.tidy(attributes), attributes=attributes)
    except AnalysisError as refusal:
        return Section(
            key="aroma",
            title=title,
            blocks=(lead(*said), plain(context.named(refusal.sentence))),
            tables={"words_ticked": kept},
            data=refusal.sentence,
        )
    blocks: list[Block] = [lead(*said[:1])]
    if context.figures:
        blocks += _wheel(context, found)
    blocks.append(Lines(tuple(said[1:])))
    table = _table(context, attributes)
    if len(table):
        blocks.append(Grid(sentence("report.aroma_table", n=len(evidence.counted)), table))
    blocks += [
        caution(*(context.named(warning) for warning in found.warnings)),
        method(sentence("report.aroma_method")),
    ]
    tables = {
        f"words_{name.partition('.')[2]}": context.shown(t.drop(columns="holds", errors="ignore"))
        for name, t in found.tables().items()
    }
    return Section(
        key="aroma",
        title=title,
        blocks=tuple(blocks),
        tables={"words_ticked": kept, **tables},
        data={**found.to_dict(context.language), "counts": _counts(context, attributes)},
    )


def own_section(context: Context) -> Section | None:
    """Count what was ticked in questions of the session's own, each under its heading."""
    evidence = context.findings.evidence
    own = {key: names for key, names in questions(evidence).items() if key != SECTION}
    if not own:
        return None
    said = _said(context, OWN)
    tables = {names[0]: _table(context, names) for names in own.values()}
    grids = [
        Grid(evidence.question(name).label.to(context.language), table)
        for name, table in tables.items()
        if len(table)
    ]
    return Section(
        key="ticks",
        title=sentence("report.ticks"),
        blocks=(
            lead(*said[:1]),
            Lines(tuple(said[1:])),
            *grids,
            method(sentence("report.aroma_method")),
        ),
        tables={f"ticked_{key}": _kept(context, names) for key, names in own.items()},
        data={key: _counts(context, names) for key, names in own.items()},
    )


def _said(context: Context, section: str) -> list[Line]:
    kinds = ("claim", "description", "hint")
    return [one for kind in kinds for one in context.said(section, kind)]


def _counts(context: Context, attributes: list[str]) -> dict[str, dict[str, int]]:
    table = word_counts(context.findings.evidence)[attributes]
    return {
        str(sample): {str(word): int(k) for word, k in own.dropna().items()}
        for sample, own in table.T.items()
    }


def _kept(context: Context, attributes: list[str]) -> pd.DataFrame:
    """Return the counts as a table: one row a bottle, one column a word."""
    table = word_counts(context.findings.evidence)[attributes].rename(columns=context.name)
    return table.rename_axis(columns=None).reset_index()


def _wheel(context: Context, found: Descriptors) -> list[Block]:
    """Draw the wheel, where any word was used."""
    if not found.citations.counts().to_numpy().any():
        return []
    told = {one.about for one in context.findings.budget.claimed("word")}
    hints = {one.about for one in context.findings.budget.hinted("word")}
    words = [str(name) for name in found.tests["attribute"]]
    # what the report claims is dark, its hints are hatched; tests of single words are not told
    judged = found.tests.assign(
        holds=[name in told for name in words], hinted=[name in hints for name in words]
    )
    draw = partial(
        replace(found, tests=judged).figure,
        word_tree(
            found.citations.attributes,
            context.language,
            name=context.name,
            words=context.vocabulary,
        ),
        samples=[name for name in context.samples if name in found.citations.samples],
        language=context.language,
    )
    lines = reduce(below, [context.named(line) for line in found.citations.sentences()])
    return [
        Picture(
            "wheel",
            draw(),
            sentence("report.aroma_alt", listed=lines),
            narrow=draw(narrow=True),
        )
    ]


def _table(context: Context, attributes: list[str]) -> pd.DataFrame:
    """Write how many of how many gave each word to each bottle, most used words first."""
    evidence = context.findings.evidence
    wide, of = word_counts(evidence)[attributes].T, tally(evidence)
    used = wide[wide.sum(axis=1) > 0]
    used = used.loc[used.sum(axis=1).sort_values(ascending=False, kind="stable").index]
    columns: dict[Line, list[str]] = {
        sentence("report.col_word"): [context.name(str(one)) for one in used.index]
    }
    for sample in used.columns:
        cells = [of.get((str(sample), str(word))) for word in used.index]
        columns[sample] = [f"{own[0]} / {own[1]}" if own else "–" for own in cells]
    return pd.DataFrame(columns)
