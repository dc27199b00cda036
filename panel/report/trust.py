"""How far does the panel agree? Described, not claimed."""

from __future__ import annotations

import pandas as pd

from ...analysis.agreement.panel_agreement import Agreement
from ...analysis.core.errors import AnalysisError
from ..base.words import say, sentence
from ..findings.people import agreement_found, agreement_rows
from .context import Context
from .parts import Block, Grid, Line, Section, caution, lead, method, plain


def section(context: Context) -> Section | None:
    """Show estimate, interval and a plain word of each attribute's agreement."""
    evidence = context.findings.evidence
    said = context.said("trust", "description")
    minded = context.said("trust", "caution")
    if not said and not minded:
        return None
    rows = agreement_rows(evidence)
    found = agreement_found(evidence)
    language = context.language
    blocks: list[Block] = [lead(*(minded or said))]
    if len(rows):
        words = [
            sentence(
                "report.agreement_word",
                low=sentence(f"findings.icc_{low}"),
                high=sentence(f"findings.icc_{high}"),
            ).to(language)
            if low != high
            else sentence(f"findings.icc_{low}").to(language)
            for low, high in zip(rows["word_low"], rows["word_high"], strict=True)
        ]
        shown = pd.DataFrame(
            {
                say("report.col_attribute", language): [context.name(a) for a in rows["attribute"]],
                say("report.col_agreement", language): [f"{x:.2f}" for x in rows["estimate"]],
                say("report.col_interval", language): [
                    _limits(low, high) for low, high in zip(rows["low"], rows["high"], strict=True)
                ],
                say("report.col_word_agreement", language): words,
            }
        )
        blocks += [
            plain(sentence("report.trust_plain")),
            Grid(sentence("report.trust_table"), shown, folded=True),
        ]
    tables = {}
    if not isinstance(found, AnalysisError):
        blocks.append(caution(*_holes(context, found)))
        blocks.append(method(sentence("report.trust_method"), sentence("report.trust_words")))
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
    said: dict[str, list[str]] = {}
    for name, item in found.attributes.items():
        for warning in item.warnings:
            if warning.key == "agreement.icc_holes":
                said.setdefault(str(warning), []).append(context.name(name).lower())
    return [sentence("report.warned", text=text, attributes=names) for text, names in said.items()]


def _limits(low: float, high: float) -> str:
    ends = f"{low:.2f}", f"{high:.2f}"
    return f"{ends[0]} – {ends[1]}" if ends[0] != ends[1] else "–"
