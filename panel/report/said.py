"""What the assessors wrote in their own words."""

from __future__ import annotations

import pandas as pd

from ...forms.free_words.free_text import words_table
from ..base.words import say, sentence
from .context import Context
from .parts import Block, Grid, Points, Section, plain

COMPLAINTS = ("fault", "too_much", "too_little")


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
    written = Grid(sentence("report.words_written"), shown, folded=True)
    return Section(
        key="words",
        title=sentence("report.words"),
        blocks=(plain(sentence("report.words_plain")), *_understood(context, words), written),
        tables={"words": words},
        data=words.to_dict("records"),
    )


def _understood(context: Context, words: pd.DataFrame) -> list[Block]:
    """Show what the words were matched to, and list what a person must read."""
    texts = words[["assessor", "sample", "text"]].astype(str)
    found, left = words_table(texts.itertuples(index=False, name=None), context.vocabulary)
    language = context.language
    rows = []
    for sample in context.samples:
        own = found[found["code"] == sample]
        described = own[own["kind"] != "liking"]
        if own.empty:
            continue
        liked = own[own["kind"] == "liking"].groupby("key")["assessor"].nunique()
        rows.append(
            {
                say("report.col_bottle", language): sample,
                say("report.col_there", language): _listed(context, described, ("noted",)),
                say("report.col_praised", language): _listed(context, described, ("praised",)),
                say("report.col_complaint", language): _listed(context, described, COMPLAINTS),
                say("report.col_not_there", language): _listed(context, described, ("absent",)),
                say("report.col_liking", language): ", ".join(
                    say(f"report.liking_{key}", language, n=n) for key, n in liked.items()
                ),
            }
        )
    made: list[Block] = []
    if rows:
        made.append(
            Grid(
                sentence("report.words_matched"),
                pd.DataFrame(rows),
                sentence("report.words_matched_note"),
            )
        )
    if len(left):
        pieces = [
            sentence("report.words_left", sample=sample, piece=piece, text=text)
            for sample, piece, text in zip(left["code"], left["piece"], left["text"], strict=True)
        ]
        made += [plain(sentence("report.words_left_plain", n=len(left))), Points(tuple(pieces))]
    return made


def _listed(context: Context, described: pd.DataFrame, polarities: tuple[str, ...]) -> str:
    """Write the words said so, with the number of assessors, most used first."""
    own = described[described["polarity"].isin(polarities)]
    counts = own.groupby(["key", "polarity"])["assessor"].nunique().reset_index(name="n")
    names, language = context.vocabulary, context.language
    listed = []
    for key, polarity, n in counts.sort_values("n", ascending=False).itertuples(index=False):
        name = names.name(key, language)
        if polarity in ("too_much", "too_little"):
            how = say(f"report.{polarity}", language)
            listed.append(say("report.words_too", language, name=name, how=how, n=n))
        else:
            listed.append(say("report.words_said", language, name=name, n=n))
    return ", ".join(listed)
