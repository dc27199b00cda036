"""The maker and the known tastes against the others, and what hangs on one person."""

from __future__ import annotations

import pandas as pd

from ...analysis.core.errors import AnalysisError
from ...analysis.core.words import Sentence
from ...analysis.inference.adjusted_p import adjust
from ...analysis.performance.shift_of_group import GroupShift, group_shift, stability
from ..base.words import say, sentence
from .context import SCALED, Context
from .differ import CLAIM
from .parts import Block, Grid, Line, Lines, Section, caution, lead, method, plain

STYLES = ("likes", "dislikes")


def section(context: Context) -> Section | None:
    """Show the shift of the maker, of declared tastes, and of conclusions with one left out."""
    found = _shifts(context)
    stable = _stability(context)
    if not found and stable is None:
        return None
    blocks: list[Block] = []
    short: list[Line] = []
    for kind, one in found.items():
        clear, hints = _claims(context, kind, one)
        if kind == "maker":
            blocks.append(lead(*clear))
            short += clear[:2]
        else:
            blocks.append(plain(*clear))
        if hints:
            blocks.append(Lines(hints))
        blocks.append(
            Grid(sentence("report.maker_table", who=_who(kind)), _shown(context, one), folded=True)
        )
    if stable is not None:
        blocks.append(plain(*stable))
    # The claims here are adjusted for the number of attributes: no word on chance is due.
    notes = [w for one in found.values() for w in one.warnings if w.key != "groups.many"]
    blocks.append(caution(*{str(w): w for w in notes}.values()))
    blocks.append(method(sentence("report.maker_method")))
    return Section(
        key="maker",
        title=sentence("report.maker"),
        blocks=tuple(blocks),
        short=tuple(short),
        tables={f"shift_{kind}": context.shown(one.table) for kind, one in found.items()},
        data={kind: one.to_dict() for kind, one in found.items()},
    )


def _claims(
    context: Context, kind: str, one: GroupShift
) -> tuple[tuple[Line, ...], tuple[Line, ...]]:
    """Claim what holds after Holm's adjustment over the attributes; name the rest as hints."""
    held = set(one.table.loc[adjust(one.table["p"], "holm") < CLAIM, "attribute"])
    shifted = ("groups.above", "groups.below")
    said = [line for line in one.sentences() if line.key.startswith(shifted)]
    clear = [context.named(line) for line in said if dict(line.values)["attribute"] in held]
    weak = [str(dict(line.values)["attribute"]) for line in said]
    weak = [context.name(name).lower() for name in weak if name not in held]
    none = sentence("report.shift_none", who=_who(kind), n=len(one.table))
    hints = (sentence("report.shift_hints", attributes=weak),) if weak else ()
    return tuple(clear) or (none,), hints


def _who(kind: str) -> Sentence:
    return sentence(f"report.who_{kind}")


def _shifts(context: Context) -> dict[str, GroupShift]:
    """Compare each group with all others outside it, where both sides have people."""
    everybody = context.tidy(context.attributes(*SCALED), everybody=True)
    groups = {"maker": context.makers}
    for style in STYLES:
        groups[style] = [
            code
            for code, one in context.roster.items()
            if one.style == style and code not in context.makers
        ]
    found = {}
    for kind, codes in groups.items():
        others = [
            code
            for code in context.roster
            if code not in codes and (kind == "maker" or code not in context.makers)
        ]
        if not codes or not others:
            continue
        try:
            found[kind] = group_shift(
                everybody, codes, others=others, label=_who(kind).to(context.language)
            )
        except AnalysisError:
            continue
    return found


def _stability(context: Context) -> list[Sentence] | None:
    try:
        found = stability(context.tidy(context.attributes(*SCALED)))
    except AnalysisError:
        return None
    return [context.named(line) for line in found.sentences()]


def _shown(context: Context, one: GroupShift) -> pd.DataFrame:
    language = context.language
    table = one.table
    return pd.DataFrame(
        {
            say("report.col_attribute", language): [context.name(a) for a in table["attribute"]],
            say("report.col_shift", language): [f"{x:.1f}" for x in table["shift"]],
            say("report.col_from", language): [f"{x:.1f}" for x in table["low"]],
            say("report.col_to", language): [f"{x:.1f}" for x in table["high"]],
        }
    )
