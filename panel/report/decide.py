"""What the findings mean for each bottle: the table to decide with."""

from __future__ import annotations

import pandas as pd

from ...analysis.core.words import Sentence
from ..base.words import say, sentence
from .context import Context
from .parts import Grid, Line, Points, Section, plain

QUESTIONS = ("fault", "sweetness", "nose", "words")


def section(context: Context) -> Section | None:
    """Set the verdicts of all sections side by side, and say what they allow."""
    if not context.verdicts:
        return None
    language = context.language
    asked = [name for name in QUESTIONS if any(name in one for one in context.verdicts.values())]
    rows = []
    for sample in context.samples:
        own = context.verdicts.get(sample, {})
        row = {say("report.col_bottle", language): sample}
        for name in asked:
            row[say(f"report.col_decide_{name}", language)] = _text(own.get(name, "–"), language)
        rows.append(row)
    table = pd.DataFrame(rows)
    return Section(
        key="decide",
        title=sentence("report.decide"),
        blocks=(
            plain(sentence("report.decide_plain")),
            Grid("", table),
            Points(tuple(_to_do(context))),
        ),
        tables={"decide": table},
        data=table.to_dict("records"),
    )


def _text(line: Line, language: str) -> str:
    return line.to(language) if isinstance(line, Sentence) else line


def _with(context: Context, question: str, *keys: str) -> list[str]:
    """Name the bottles whose verdict on a question is one of `keys`; controls are no product."""
    found = []
    for sample in context.samples:
        if context.session.bottle(sample).control:
            continue
        verdict = context.verdicts.get(sample, {}).get(question)
        if isinstance(verdict, Sentence) and verdict.key in {f"report.{key}" for key in keys}:
            found.append(sample)
    return found


def _to_do(context: Context) -> list[Line]:
    """Say what the verdicts allow: hold, release, blend, label, and the next brew."""
    said: list[Line] = []
    held = _with(context, "fault", "decide_hold")
    if held:
        said.append(sentence("report.do_hold", samples=held))
    passed = _with(context, "fault", "decide_pass")
    if passed:
        said.append(sentence("report.do_release", samples=passed))
    off = _with(context, "sweetness", "sweet_sweet", "sweet_dry")
    if off:
        said.append(sentence("report.do_blend", samples=off))
    telling = context.telling_words
    if telling:
        names = [context.name(name).lower() for name in telling]
        said.append(sentence("report.do_label", words=names))
    elif any("words" in one for one in context.verdicts.values()):
        said.append(sentence("report.do_label_none"))
    if len({context.session.bottle(name).tank for name in context.samples}) == 1:
        said.append(sentence("report.do_next"))
    return said
