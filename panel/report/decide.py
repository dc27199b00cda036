"""What the findings mean for each bottle: the table to decide with."""

from __future__ import annotations

import pandas as pd

from ...forms.questions.cards import RELEASE
from ..base.words import sentence
from ..findings.tainted import CANNOT_TELL
from ..findings.verdicts import QUESTIONS
from ..session.care import care
from .brief_names import brief_cells
from .context import Context
from .made_apart import SERVED
from .parts import Block, Grid, Line, Points, Section, caution


def _care(context: Context) -> tuple[Block, ...]:
    """Say beside the advice what must be known before a bottle is served or sent."""
    told = care((context.session.bottle(name) for name in context.products), context.language)
    return (caution(sentence("care.serving"), *told),) if told else ()


def _advised(context: Context) -> tuple[Block, ...]:
    """Count what the tasters would do with each bottle, and who could not tell a fault.

    Whoever counts in the panel's means counts here: the maker, who cannot be neutral, does not.
    """
    scores = context.answers.scores
    panel = scores["assessor"].isin(context.findings.evidence.counted)
    rows = scores[panel & scores["sample"].isin(context.products)]
    counted = []
    for sample in context.products:
        own = rows[rows["sample"] == sample]
        advice = own.loc[own["attribute"] == "release", "score"]
        row: dict[Line, object] = {sentence("report.col_bottle"): sample}
        for place, name in enumerate(RELEASE, start=1):
            row[sentence(f"report.release_{name}")] = f"{int((advice == place).sum())}"
        unsure = own[own["attribute"] == CANNOT_TELL]["score"]
        if len(unsure):
            told = sentence("report.k_of_n", k=int(unsure.sum()), n=len(unsure))
            row[sentence("report.cannot_tell")] = told
        if len(advice) or len(unsure):
            counted.append(row)
    if not counted:
        return ()
    apart = context.findings.evidence.maker_apart
    note = sentence("report.advised_without_maker" if apart else "report.advised_note")
    return (Grid(sentence("report.advised"), pd.DataFrame(counted).fillna("–"), note),)


def _note(context: Context, asked: list[str]) -> Line:
    """Say what the table is, and that it compares bottles across ways of serving."""
    plain = sentence("report.decide_plain")
    varied = [one for one in context.findings.evidence.varied if one in SERVED]
    if not varied or "difference" not in asked:
        return plain
    conditions = [sentence(f"few_report.factor_{one}") for one in varied]
    return sentence("report.decide_across", plain=plain, conditions=conditions)


def section(context: Context) -> Section | None:
    """Set the verdicts on each bottle side by side, and say what they allow."""
    found = context.findings.verdicts
    asked = [name for name in QUESTIONS if any(one.question == name for one in found)]
    rows = []
    for sample in context.products:
        own = {one.question: one.text for one in found if one.sample == sample}
        row: dict[Line, object] = {sentence("report.col_bottle"): sample}
        for name in asked:
            row[sentence(f"report.col_decide_{name}")] = own.get(name, "–")
        rows.append(row)
    if not rows:
        return None
    table = pd.DataFrame(rows)
    return Section(
        key="decide",
        title=sentence("report.decide"),
        blocks=(
            Grid("", brief_cells(table, context.products), _note(context, asked)),
        ),
        tables={"decide": table},
        data=[
            {"sample": one.sample, "question": one.question, "verdict": one.key,
             "text": one.text}
            for one in found
        ],
    )  # fmt: skip


def advice(context: Context) -> Section | None:
    """Say what the verdicts allow, what the tasters would do, and what care a bottle needs."""
    said = (*context.said("decide"), *context.beyond("advice"))
    more = (*_advised(context), *_care(context))
    if not said and not more:
        return None
    return Section(key="advice", title=sentence("overview.advice"), blocks=(Points(said), *more))
