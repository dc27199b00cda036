"""What few assessors answered besides their marks: what each would do, likes, expects, cannot tell.

With so few people an answer is not counted but laid beside the others', as it was given.
"""

from __future__ import annotations

import pandas as pd

from ...forms.questions.question_types import Kind, Question
from ..base.words import sentence
from ..few.side_by_side import people, rows
from .context import Context
from .parts import Grid, Line, Section

KEY = "besides"
NONE = "–"
FIELDS = ["assessor", "sample", "replicate", "attribute", "score"]
"""Of an answer in ``results.json``: a tick is 1 or 0, a choice its place in the list, from 1 on."""


def section(context: Context) -> Section | None:
    """Lay side by side what is no mark of the bottle: advice, liking, choice, doubt."""
    evidence = context.findings.evidence
    told = {row.attribute for row in rows(evidence)}
    given = evidence.scores[evidence.scores["sample"].isin(evidence.products)]
    asked = [
        one
        for one in context.session.scorecard
        if one.kind not in (Kind.FAULTS, Kind.WORDS)
        and (one.aside or one.kind != Kind.TICKS)
        and not told & set(one.attributes)
    ]
    lines = []
    for question in asked:
        own = given[given["attribute"].isin(question.attributes)]
        if question.kind == Kind.TICKS:
            own = own[own["score"] > 0]
        if not own.empty:
            lines.append(_line(context, question, own))
    if not lines:
        return None
    codes, bottles = people(evidence), evidence.products
    columns: list[Line] = [sentence("few_report.col_question"), *(list(bottles) * len(codes))]
    table = pd.DataFrame(lines, columns=pd.Index(columns, dtype=object))
    over: list[tuple[Line, int]] = [("", 1), *((code, len(bottles)) for code in codes)]
    answers = given[given["attribute"].isin([n for one in asked for n in one.attributes])]
    return Section(
        key=KEY,
        title=sentence("few_report.besides"),
        blocks=(Grid("", table, sentence("few_report.besides_note"), over=tuple(over)),),
        tables={KEY: answers},
        data=answers[FIELDS].to_dict("records"),
    )


def _line(context: Context, question: Question, own: pd.DataFrame) -> list[Line]:
    """Write one question's answers, person by person and bottle by bottle."""
    evidence = context.findings.evidence
    made: list[Line] = [question.label.to(context.language)]
    for code in people(evidence):
        for bottle in evidence.products:
            cell = own[(own["assessor"] == code) & (own["sample"] == bottle)]
            made.append(_answers(question, cell.sort_values("replicate"), context.language))
    return made


def _answers(question: Question, cell: pd.DataFrame, language: str) -> Line:
    """Return the answers to a question about one bottle by one person, tasting by tasting."""
    labels = {name: option.label.to(language) for name, option in
              zip(question.attributes, question.options, strict=False)}  # fmt: skip
    said = []
    for row in cell.to_dict("records"):
        if question.kind == Kind.TICKS:
            said.append(labels[str(row["attribute"])])
        elif question.kind == Kind.CATEGORY:
            said.append(question.options[int(row["score"]) - 1].label.to(language))
        else:
            said.append(f"{row['score']:g}".replace("-", "−"))
    if question.kind == Kind.TICKS:
        ticked = list(dict.fromkeys(said))
        return sentence("serving.line_of", parts=ticked) if ticked else NONE
    if len(set(said)) == 1:
        said = said[:1]
    return " / ".join(said) or NONE
