"""How far does the panel agree? Described, not claimed."""

from __future__ import annotations

import math

import pandas as pd

from ...analysis.agreement.agreement_result import Agreement
from ...analysis.core.errors import AnalysisError
from ..base.words import sentence
from ..findings.people import (
    DIFFERENCES,
    agreement_found,
    agreement_rows,
    icc_written,
    in_words,
    judged_people,
)
from .context import Context
from .parts import Block, Grid, Line, Section, caution, from_to, lead, method, plain


def section(context: Context) -> Section | None:
    """Show estimate, interval and a plain word of each attribute's agreement."""
    evidence = context.findings.evidence
    said = context.said("trust", "description")
    minded = context.said("trust", "caution")
    if not said and not minded:
        return None
    judged = bool(set(evidence.counted) & set(judged_people(evidence)))
    rows = agreement_rows(evidence) if judged else pd.DataFrame()
    found = agreement_found(evidence)
    blocks: list[Block] = [lead(*(minded or said[-1:])), plain(*(said if minded else said[:-1]))]
    if len(rows):
        columns = {
            "attribute": [context.name(a) for a in rows["attribute"]],
            "agreement": [_written(x) for x in rows["estimate"]],
            "interval": [
                _limits(low, high) for low, high in zip(rows["low"], rows["high"], strict=True)
            ],
            "word_agreement": [
                in_words(low, high)
                for low, high in zip(rows["word_low"], rows["word_high"], strict=True)
            ],
            "absolute": [_written(x) for x in rows["absolute"]],
        }
        shown = pd.DataFrame({sentence(f"report.col_{key}"): c for key, c in columns.items()})
        blocks += [
            plain(sentence("report.trust_plain")),
            Grid(sentence("report.trust_table"), shown, folded=True),
        ]
    tables = {}
    if len(rows) and not isinstance(found, AnalysisError):
        blocks.append(caution(*_holes(context, found)))
        other = set(rows["measure"]) - {DIFFERENCES}
        alpha = [sentence("report.trust_alpha")] if other else []
        blocks.append(
            method(sentence("report.trust_method"), *alpha, sentence("report.trust_words"))
        )
        tables["agreement"] = context.shown(found.tables()["agreement.heading_measures"])
    return Section(
        key="trust",
        title=sentence("report.trust"),
        blocks=tuple(blocks),
        tables=tables,
        data=found if not isinstance(found, AnalysisError) else found.sentence,
    )


def _holes(context: Context, found: Agreement) -> list[Line]:
    """Say where empty cells were allowed for; other measures' warnings are not for this table."""
    said: dict[str, tuple[Line, list[str]]] = {}
    for name, item in found.attributes.items():
        for warning in item.warnings:
            if warning.key == "agreement.icc_holes":
                said.setdefault(str(warning), (warning, []))[1].append(context.name(name).lower())
    return [sentence("report.warned", text=text, attributes=names) for text, names in said.values()]


def _written(value: float) -> Line:
    return "–" if math.isnan(value) else icc_written(value)


def _limits(low: float, high: float) -> Line:
    ends = _written(low), _written(high)
    return from_to(*ends) if ends[0] != ends[1] else "–"
