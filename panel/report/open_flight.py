"""What knowing the bottle did: named scores beside blind ones, as a description."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from ...analysis.core.errors import AnalysisError
from ...analysis.core.wording import fixed, limit
from ...analysis.profile.named_scores import OpenAgainstBlind, open_against_blind
from ...forms.questions.question_types import Kind
from ..base.session_log import to_the_minute
from ..base.words import sentence
from ..findings.evidence import QUALITY
from ..findings.statement import signed
from ..key.named_answers import NamedAnswers
from .context import SCALED, Context
from .parts import Block, Grid, Line, Points, Section, caution, method, plain

if TYPE_CHECKING:
    import pandas as pd

KEY = "open_flight"
LEVEL = 0.95
TWO = 2
"""People who are called both."""
STYLES = ("likes", "dislikes")


def section(context: Context) -> Section | None:
    """Say how far scores moved once names were told; no claim, no part of any blind number."""
    named = context.open_flight
    if named is None:
        if not context.session.settings.serving.open_flight:
            return None
        return _section((plain(sentence("flight_report.not_opened")),))
    opened = sentence("flight_report.opened", at=to_the_minute(named.entry.at))
    record = [*_record(named)]
    try:
        found = open_against_blind(
            _scaled(context, context.answers.scores),
            _scaled(context, named.scores),
            groups(context),
            level=LEVEL,
        )
        found = inside(context, found)
    except AnalysisError:
        nothing = sentence("flight_report.nothing_back")
        data = _data(named, None)
        return _section((plain(opened, nothing), caution(*record)), data=data)
    blocks: list[Block] = [
        plain(*_moves(context, found)),
        plain(opened),
        Grid(sentence("flight_report.table"), _table(context, found),
             sentence("flight_report.note")),
        Grid(sentence("flight_report.each"), _each(context, found)),
        Points(tuple(_faults(context, named))),
        caution(sentence("flight_report.came_last"), *_unpaired(found), *record),
        method(sentence("flight_report.method")),
    ]  # fmt: skip
    tables = {KEY: found.table, "open_flight_pairs": found.pairs, "open_flight_scores":
              named.beside(context.answers.scores)}  # fmt: skip
    return _section(tuple(one for one in blocks if not _is_empty(one)), tables, _data(named, found))


def inside(context: Context, found: OpenAgainstBlind) -> OpenAgainstBlind:
    """End the limits where the scale of their question ends: no mark can move by more."""
    scales = [context.session.scorecard[str(name)] for name in found.table["attribute"]]
    span = np.array([float(one.high - one.low) for one in scales])
    ends = {end: np.clip(found.table[end].astype(float), -span, span) for end in ("low", "high")}
    return replace(found, table=found.table.assign(**ends))


def _section(
    blocks: tuple[Block, ...], tables: dict[str, pd.DataFrame] | None = None, data: Any = None
) -> Section:
    return Section(
        key=KEY,
        title=sentence("flight_report.title"),
        blocks=blocks,
        tables=tables or {},
        data=data,
    )


def _is_empty(block: Block) -> bool:
    return isinstance(block, Points) and not block.lines


def groups(context: Context) -> dict[str, list[str]]:
    """Return the groups that are told apart, by key; the maker is in no group of taste."""
    found = {"maker": list(context.makers)}
    for style in STYLES:
        found[style] = [
            code
            for code, one in context.roster.items()
            if one.style == style and code not in context.makers
        ]
    found["everybody"] = list(context.roster)
    return {name: codes for name, codes in found.items() if codes}


def _scaled(context: Context, scores: pd.DataFrame) -> pd.DataFrame:
    """Return the rows on scales, of bottles that are compared."""
    kept = scores["attribute"].isin(context.attributes(*SCALED))
    return scores[kept & scores["sample"].isin(context.products)]


def _who(context: Context, found: OpenAgainstBlind, group: str) -> Line:
    """Name those of a group of whom both a blind and a named mark came back."""
    both = set(found.pairs["assessor"])
    codes = [code for code in groups(context)[group] if code in both]
    both_of_two = group == "everybody" and len(codes) == len(context.roster) == TWO
    key = "both" if both_of_two else group
    return sentence(f"flight_report.group_{key}", who=tuple(codes), n=len(codes))


def _moves(context: Context, found: OpenAgainstBlind) -> Iterator[Line]:
    """Say how far overall quality moved, group by group, or else the first question asked."""
    there = set(found.table["attribute"])
    asked = QUALITY if QUALITY in there else found.table["attribute"].iloc[0]
    for row in found.table[found.table["attribute"] == asked].to_dict("records"):
        if row["group"] == "everybody" and row["assessors"] == 1:
            continue  # said already, or nobody else to say it of
        alone = row["unit"] == "bottles"
        limited = row["low"] == row["low"]
        kind = "bottles" if alone else "people"
        key = kind if limited else "once" if row["n"] == 1 else f"alike_{kind}"
        yield sentence(
            f"flight_report.moved_{key}",
            who=_who(context, found, row["group"]),
            attribute=context.name(asked).lower(),
            by=signed(row["difference"]),
            low=limit(row["low"], sign=True) if limited else "",
            high=limit(row["high"], sign=True) if limited else "",
            n=row["n"],
        )


def _table(context: Context, found: OpenAgainstBlind) -> pd.DataFrame:
    """Write one row an attribute, one column a group: mean difference and limits."""
    import pandas as pd

    cells = {(row["group"], row["attribute"]): row for row in found.table.to_dict("records")}
    shown = list(dict.fromkeys(group for group, _ in cells))
    rows = []
    for attribute in dict.fromkeys(name for _, name in cells):
        row: dict[Line, Line] = {sentence("report.col_attribute"): context.name(attribute)}
        for group in shown:
            row[_who(context, found, group)] = _cell(cells.get((group, attribute)))
        rows.append(row)
    return pd.DataFrame(rows)


def _cell(row: Mapping[Any, Any] | None) -> Line:
    if row is None:
        return "–"
    by = signed(row["difference"])
    if row["low"] != row["low"]:
        key = "once" if row["n"] == 1 else "alike" if row["difference"] else "zero"
        return sentence(f"flight_report.cell_{key}", by=by, n=row["n"])
    return sentence(
        "flight_report.cell",
        by=by,
        low=limit(row["low"], sign=True),
        high=limit(row["high"], sign=True),
        n=row["n"],
    )


def _each(context: Context, found: OpenAgainstBlind) -> pd.DataFrame:
    """Write each assessor's quality of each bottle, blind and named."""
    import pandas as pd

    asked = (
        QUALITY if QUALITY in set(found.pairs["attribute"]) else found.table["attribute"].iloc[0]
    )
    own = found.pairs[found.pairs["attribute"] == asked].set_index(["assessor", "sample"])
    rows = []
    for code in context.roster:
        if code not in own.index.get_level_values("assessor"):
            continue
        row: dict[Line, object] = {
            sentence("flight_report.col_each", attribute=context.name(asked)): code
        }
        for bottle in context.products:
            row[bottle] = "–"
            if (code, bottle) in own.index:
                blind, named = map(
                    float, own.loc[(code, bottle), ["blind", "named"]].to_numpy(float)
                )
                row[bottle] = f"{fixed(blind)} → {fixed(named)}"
        rows.append(row)
    return pd.DataFrame(rows)


def _faults(context: Context, named: NamedAnswers) -> Iterator[Line]:
    """Name the faults that somebody noted of a bottle only once its name was told."""
    rated = context.attributes(Kind.FAULTS)

    def noted(scores: pd.DataFrame) -> set[tuple[str, str, str]]:
        rows = scores[scores["attribute"].isin(rated) & (scores["score"] > 0)]
        return set(rows[["assessor", "sample", "attribute"]].itertuples(index=False, name=None))

    for assessor, bottle, fault in sorted(noted(named.scores) - noted(context.answers.scores)):
        yield sentence(
            "flight_report.fault", assessor=assessor, bottle=bottle, fault=context.name(fault)
        )


def _unpaired(found: OpenAgainstBlind) -> Iterator[Line]:
    if found.blind_only:
        yield sentence("flight_report.blind_only", who=list(found.blind_only))
    if found.unpaired:
        yield sentence("flight_report.unpaired", n=found.unpaired)


def _record(named: NamedAnswers) -> Iterator[Line]:
    """Say what the record tells of the opening: decided later, unfinished, too late, key open."""
    if not named.planned:
        yield sentence("flight_report.decided_later")
    left = {name: named.entry.values.get(name, 0) for name in ("cups_missing", "faults", "marks")}
    if any(left.values()):
        yield sentence("flight_report.unfinished", **left)
    if named.late:
        changed = sum(one.before is not None for one in named.late)
        yield sentence(
            "flight_report.late",
            n=len(named.late),
            who=sorted({one.answer.assessor for one in named.late}),
            changed=changed,
        )
    if named.key_open:
        yield sentence("flight_report.key_open")


def _data(named: NamedAnswers, found: OpenAgainstBlind | None) -> dict[str, Any]:
    return {
        "opened_at": named.entry.at,
        "planned": named.planned,
        "level": LEVEL,
        "groups": found.table.to_dict("records") if found else [],
        "pairs": found.pairs.to_dict("records") if found else [],
        "blind_only": list(found.blind_only) if found else [],
        "blind_answers_too_late": len(named.late),
    }
