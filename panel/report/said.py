"""What the assessors wrote in their own words."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence

import pandas as pd

from ...forms.questions.words import languages
from ..base.words import sentence
from .context import SCALED, Context
from .parts import Block, Grid, Line, Points, Section, plain

_PAUSE = re.compile(r"[,;.、。，；・/\n]")
COMPLAINTS = ("fault", "too_much", "too_little")
_ASKED = "attribute"
"""Kind of what was written as the card itself calls what it asks."""
_VERBS = ("する", "る")
"""Ends that make a verb of a Japanese name: 飲み疲れる says 飲み疲れ."""


def section(context: Context) -> Section | None:
    """List the free words by bottle, as they were written."""
    words = context.answers.words
    words = words[words["text"].str.strip() != ""]
    remarks = context.answers.remarks
    if words.empty and remarks.empty:
        return None
    blocks, tables = [], {}
    if len(words):
        blocks += [plain(_whose(context, words)), *_free(context, words)]
        tables["words"] = words
    if len(remarks):
        blocks.append(_beside(context, remarks))
        tables["remarks"] = remarks
    return Section(
        key="words",
        title=sentence("report.words"),
        blocks=tuple(blocks),
        tables=tables,
        data=[*words.to_dict("records"), *remarks.to_dict("records")],
    )


def _beside(context: Context, remarks: pd.DataFrame) -> Block:
    """List what was written beside single answers, whole, with bottle and answer."""
    remarks = remarks.sort_values("sample", kind="stable")
    shown = pd.DataFrame(
        {
            sentence("report.col_bottle"): remarks["sample"],
            sentence("report.col_attribute"): [context.name(one) for one in remarks["attribute"]],
            sentence("report.col_who"): _roles(context, remarks),
            sentence("report.col_text"): remarks["text"],
        }
    )
    return Grid(sentence("report.remarks"), shown)


def _roles(context: Context, written: pd.DataFrame) -> list[Line]:
    roles = {code: sentence(f"report.role_{one.role}") for code, one in context.roster.items()}
    return [roles.get(code, code) for code in written["assessor"]]


def _whose(context: Context, words: pd.DataFrame) -> Line:
    """Say that roles stand for codes, and which of them is one person's, who is known by it."""
    roles = Counter(one.role for one in context.roster.values())
    wrote = {context.roster[code].role for code in words["assessor"] if code in context.roster}
    alone = [
        sentence(f"report.role_{role}") for role in roles if roles[role] == 1 and role in wrote
    ]
    if not alone:
        return sentence("report.words_plain")
    return sentence("report.words_plain_alone", roles=alone, n=len(alone))


def _free(context: Context, words: pd.DataFrame) -> list[Block]:
    """List the free words by bottle, with what they were matched to before them."""
    order = {name: place for place, name in enumerate(context.samples)}
    words = words.sort_values(
        ["sample", "assessor"], key=lambda c: c.map(order) if c.name == "sample" else c
    )
    shown = pd.DataFrame(
        {
            sentence("report.col_bottle"): words["sample"],
            sentence("report.col_who"): _roles(context, words),
            sentence("report.col_text"): words["text"],
        }
    )
    written = Grid(sentence("report.words_written"), shown, folded=True)
    return [*_understood(context, words), written]


def _understood(context: Context, words: pd.DataFrame) -> list[Block]:
    """Show what the words were matched to, and list what a person must read."""
    from ...forms.free_words.free_text import words_table

    texts = words[["assessor", "sample", "text"]].astype(str)
    found, left = words_table(texts.itertuples(index=False, name=None), context.vocabulary)
    found, left = with_own_names(found, left, _own_names(context))
    columns = {
        "there": ("noted",), "praised": ("praised",), "complaint": COMPLAINTS,
        "not_there": ("absent",), "liking": (),
    }  # fmt: skip
    rows: dict[str, dict[str, list[Line]]] = {}
    for sample in context.samples:
        own = found[found["code"] == sample]
        described = own[own["kind"] != "liking"]
        if own.empty:
            continue
        liked = own[own["kind"] == "liking"].groupby("key")["assessor"].nunique()
        rows[sample] = {key: _listed(context, described, kinds) for key, kinds in columns.items()}
        rows[sample]["liking"] = [sentence(f"report.liking_{key}", n=n) for key, n in liked.items()]
    made: list[Block] = []
    if rows:
        written = {
            sentence(f"report.col_{key}"): [_together(row[key]) for row in rows.values()]
            for key in columns
            if any(row[key] for row in rows.values())
        }
        shown = pd.DataFrame({sentence("report.col_bottle"): list(rows), **written})
        matched, note = sentence("report.words_matched"), sentence("report.words_matched_note")
        made.append(Grid(matched, shown, note))
    if len(left):
        pieces = [
            sentence("report.words_left" if n == 1 else "report.words_left_times",
                     sample=sample, piece=piece, text=text, n=n)
            for (sample, piece, text), n in Counter(
                zip(left["code"], left["piece"], left["text"], strict=True)
            ).items()
        ]  # fmt: skip
        made += [plain(sentence("report.words_left_plain", n=len(left))), Points(tuple(pieces))]
    return made


def _own_names(context: Context) -> dict[str, str]:
    """Return the card's attributes by what they are called, in every language of the house."""
    card = context.session.scorecard
    return {
        card.name(one, language).lower(): one
        for one in context.attributes(*SCALED)
        for language in languages()
    }


def with_own_names(
    found: pd.DataFrame, left: pd.DataFrame, names: Mapping[str, str]
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Match what was written as the card calls an attribute, alone between two marks of a pause.

    "tiring" and 飲み疲れる say what the card asks; "not tiring" and "a bit tiring" stay for a
    person.
    """
    alone = [
        _named(str(row.piece)) in names
        and _named(str(row.piece)) in [_named(part) for part in _PAUSE.split(str(row.text))]
        for row in left.itertuples()
    ]
    known = left[alone]
    if known.empty:
        return found, left
    keys = [names[_named(str(piece))] for piece in known["piece"]]
    more = known[["assessor", "code"]].assign(
        kind=_ASKED, key=keys, negated=False, degree="", unsure=False, how="exact",
        text=known["piece"], polarity="noted",
    )  # fmt: skip
    rest = left[[not one for one in alone]]
    both = [one for one in (found, more) if len(one)]
    return pd.concat(both, ignore_index=True), rest


def _named(text: str) -> str:
    """Return a text as a name of the card would be written.

    >>> _named(" Tiring"), _named("飲み疲れる"), _named("飲み疲れしない")
    ('tiring', '飲み疲れ', '飲み疲れしない')
    """
    text = text.strip().lower()
    end = next((one for one in _VERBS if text.endswith(one)), "")
    return text.removesuffix(end)


def _listed(context: Context, described: pd.DataFrame, polarities: tuple[str, ...]) -> list[Line]:
    """Write the words said so, with the number of assessors, most used first."""
    own = described[described["polarity"].isin(polarities)]
    by = ["kind", "key", "polarity"]
    counts = own.groupby(by)["assessor"].nunique().reset_index(name="n")
    names, language = context.vocabulary, context.language
    listed: list[Line] = []
    ordered = counts.sort_values("n", ascending=False, kind="stable")
    for kind, key, polarity, n in ordered.itertuples(index=False):
        name = names.name(key, language)
        asked = kind == _ASKED  # a term of the vocabulary can have the same key
        name = context.name(key).lower() if asked or name == key else name
        if polarity in ("too_much", "too_little"):
            how = sentence(f"report.{polarity}")
            listed.append(sentence("report.words_too", name=name, how=how, n=n))
        else:
            listed.append(sentence("report.words_said", name=name, n=n))
    return listed


def _together(items: Sequence[Line]) -> Line:
    """List sentences in one cell."""
    return sentence("report.listed", items=items)
