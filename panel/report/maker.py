"""The maker and the known tastes beside the others, and what hangs on one person."""

from __future__ import annotations

import pandas as pd

from ...analysis.core.wording import fixed
from ...forms.questions.question_types import Kind
from ..base.words import sentence
from ..findings.evidence import QUALITY
from ..findings.people import tables_of_makers, with_and_without
from ..findings.statement import signed
from .context import SCALED, Context
from .parts import Block, Grid, Line, Section, lead, method, plain

STYLES = ("likes", "dislikes")


def section(context: Context) -> Section | None:
    """Show the maker's own marks, findings with and without, and declared tastes."""
    evidence = context.findings.evidence
    if not evidence.makers and not _styles(context):
        return None
    blocks: list[Block] = []
    tables: dict[str, pd.DataFrame] = {}
    claimed = context.said("maker", "claim")
    others = context.said("maker", "description")
    if claimed or others:
        blocks += [lead(*(claimed or others[:1])), plain(*(others if claimed else others[1:]))]
    n = len(evidence.makers)
    marks = _told_apart(tables_of_makers(evidence))
    if len(marks) and evidence.maker_apart:
        title = sentence("report.maker_marks", n=n)
        note = sentence("report.maker_marks_note")
        blocks.append(Grid(title, _marks(context, marks), note, folded=True))
        tables["maker"] = context.shown(marks)
    both = with_and_without(evidence, context.findings.budget)
    if both:
        shown = pd.DataFrame(
            {
                sentence("report.col_attribute"): [context.name(str(r["attribute"])) for r in both],
                sentence("report.col_gap"): [f"{r['high']} – {r['low']}" for r in both],
                sentence("report.col_without"): [signed(float(str(r["without"]))) for r in both],
                sentence("report.col_with"): [signed(float(str(r["with"]))) for r in both],
            }
        )
        blocks.append(Grid(sentence("report.maker_both", n=n), shown))
        sides = pd.DataFrame(both).rename(columns={"high": "higher", "low": "lower"})
        tables["with_and_without_maker"] = context.shown(sides)
    blocks += _tastes(context)
    if not blocks:
        return None
    if evidence.makers:
        blocks.append(method(sentence("report.maker_method", n=n)))
    found = context.findings.budget.found
    if found is not None and len(found.shifts):
        tables["maker_shifts"] = context.shown(found.shifts)
    return Section(
        key="maker",
        title=sentence("report.maker", n=n) if n else sentence("report.tastes"),
        blocks=tuple(blocks),
        tables=tables,
        data={
            "marks": marks.to_dict("records"),
            "with_and_without": both,
            "shifts": found.shifts.to_dict("records") if found is not None else [],
        },
    )


def _told_apart(tables: dict[str, pd.DataFrame]) -> pd.DataFrame:
    """Put the tables of several makers below each other, with a column that says whose."""
    if len(tables) > 1:
        tables = {code: one.assign(assessor=code) for code, one in tables.items()}
    return pd.concat(tables.values(), ignore_index=True) if tables else pd.DataFrame()


def _marks(context: Context, marks: pd.DataFrame) -> pd.DataFrame:
    """Write each maker's mean beside the others', one row an attribute (and maker)."""
    rows = []
    several = "assessor" in marks
    for name in context.attributes(*SCALED):
        of_name = marks[marks["attribute"] == name]
        whose = [(str(code), own) for code, own in of_name.groupby("assessor")] if several else []
        for code, own in whose or [("", of_name)]:
            row: dict[Line, object] = {sentence("report.col_attribute"): context.name(name)}
            if several:
                row[sentence("report.col_maker")] = code
            for sample in context.products:
                row[sample] = "–"
                both = own.loc[own["sample"] == sample, ["maker", "others"]]
                for mine, theirs in both.to_numpy(float):
                    row[sample] = f"{fixed(mine)} / {fixed(theirs)}"
            if len(own):
                rows.append(row)
    return pd.DataFrame(rows)


def _styles(context: Context) -> dict[str, list[str]]:
    """Return who declared to like or to dislike the style; the maker aside."""
    found = {
        style: [
            code
            for code, one in context.roster.items()
            if one.style == style and code not in context.makers
        ]
        for style in STYLES
    }
    return {style: codes for style, codes in found.items() if codes}


def _tastes(context: Context) -> list[Block]:
    """Set the quality that declared likers and dislikers gave beside that of the rest."""
    styles = _styles(context)
    if not styles or QUALITY not in context.attributes(Kind.LINE, Kind.CATEGORY):
        return []
    rows = context.table([QUALITY], everybody=True)
    cells = rows.groupby(["sample", "assessor"])["score"].mean()
    shown = []
    groups = {**styles}
    known = {code for codes in styles.values() for code in codes} | set(context.makers)
    groups["others"] = [code for code in context.roster if code not in known]
    for style, codes in groups.items():
        if not codes:
            continue
        row: dict[Line, object] = {
            sentence("report.col_who"): sentence(f"report.taste_{style}", n=len(codes))
        }
        for sample in context.products:
            own = cells[sample] if sample in cells.index.get_level_values("sample") else cells[:0]
            mine = own[own.index.isin(codes)]
            row[sample] = fixed(mean) if len(mine) and (mean := mine.mean()) is not None else "–"
        shown.append(row)
    return [
        Grid(
            sentence("report.taste_table"),
            pd.DataFrame(shown),
            sentence("report.taste_note"),
        )
    ]
