"""What the assessors wrote in their own words."""

from __future__ import annotations

import pandas as pd

from ..words import say, sentence
from .context import Context
from .parts import Grid, Section, plain


def section(context: Context) -> Section | None:
    """List the free words by bottle, as they were written."""
    words = context.answers.words
    words = words[words["text"].str.strip() != ""]
    if words.empty:
        return None
    order = {name: place for place, name in enumerate(context.samples)}
    words = words.sort_values(
        ["sample", "assessor"], key=lambda c: c.map(order) if c.name == "sample" else c
    )
    language = context.language
    roles = {
        code: sentence(f"report.role_{one.role}").to(language)
        for code, one in context.roster.items()
    }
    shown = pd.DataFrame(
        {
            say("report.col_bottle", language): words["sample"],
            say("report.col_who", language): [roles.get(code, code) for code in words["assessor"]],
            say("report.col_text", language): words["text"],
        }
    )
    return Section(
        key="words",
        title=sentence("report.words"),
        blocks=(plain(sentence("report.words_plain")), Grid("", shown)),
        tables={"words": words},
        data=words.to_dict("records"),
    )
