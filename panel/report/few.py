"""The report of one to three assessors: one page to act on, then an appendix."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from functools import partial

import numpy as np
import pandas as pd

from ...analysis.profile.marks_figure import draw_marks, fitting
from ...forms.questions.question_types import Kind
from ...rounding import half_up
from ..base.words import Sentence, sentence
from ..few import bottles as few_bottles
from ..few import directions
from ..few.how_sure import step_name
from ..few.side_by_side import ALIKE, BOTTLES, SERVED, SHEETS, SURE, Row, people, rows
from ..few.statements import statements
from ..few.tasters import SECTION as TASTERS
from ..few.tasters import inside, points
from ..few.together import beyond_all
from ..few.words_few import SECTION as WORDS
from ..few.words_few import probability
from ..findings.design import orders
from ..findings.differences import upper_end
from ..findings.evidence import Evidence
from ..findings.statement import Line, Statement, in_short, signed
from . import asked, besides, brewed, differ, open_flight, record, timed
from .brief_names import brief_cells, brief_names
from .context import Context
from .parts import Block, Grid, Lines, Picture, Points, Section, caution, plain

OPENED = ("report.opened_after", "report.opened_after_again")
"""That the key was opened after the last answer, as it should be."""
AS_USUAL = ("report.maker_apart",)
"""What the sheets' note and the record say already."""
IN_TABLE = tuple(
    f"findings.{key}"
    for key in (
        "do_open",
        "do_unasked",
        "do_hint",
        "do_hint_several",
        "do_thin",
        "do_pass",
        "hold",
        "noted",
    )
)
"""What the table of bottles says already, in its cells."""
AGAIN = "findings.do_recheck"
"""What the suspicion of a bottle says already, with what stands beside it."""
ROOM = 2.6
"""Inches of height that the first page has for its figure."""
MOST_COLUMNS = 9
"""Columns of marks, one a person and bottle, for which a page has room beside the orders."""
FEW_PAIRS = 3
"""Pairs of bottles that a cell names where there is no more in common."""


OPPOSED = 1.0
"""Points by which two part a pair in opposite ways where that is told instead of a pair in which
they agree (a convention, no source)."""


WEAK = 0.5
"""Points by which all who agree part a pair at least, so that it is told beside an opposed one (a
convention, no source)."""


def sections(context: Context) -> list[Callable[[Context], Section | None]]:
    """Return the sections of this report, in order; the first or the first two make the page."""
    context.findings.evidence.kept[directions.MEMORY] = context.earlier
    return [
        _bottles, _sheets, _sure, _tasters, _words, besides.section, timed.section,
        open_flight.section, brewed.section, _served, _record,
    ]  # fmt: skip


def _said(context: Context, section: str, *kinds: str) -> list[Line]:
    """Return the sentences of a section that neither the box nor the table of bottles says."""
    every = statements_of(context)
    box = {str(line) for _, line in in_short(every)}
    suspected = any(_key(one.sentence) == "few_report.suspected" for one in every)
    there = (*IN_TABLE, AGAIN) if suspected else IN_TABLE
    return [
        one.sentence
        for one in every
        if one.section == section
        and str(one.sentence) not in box
        and _key(one.sentence) not in there
        and (not kinds or one.kind in kinds)
    ]


def _key(line: Line) -> str:
    return "" if isinstance(line, str) else line.key


def statements_of(context: Context) -> tuple[Statement, ...]:
    """Return all statements, made once."""
    kept = context.findings.evidence.kept
    if "few" not in kept:
        kept["few"] = tuple(statements(context.findings.evidence))
    found: tuple[Statement, ...] = kept["few"]
    return found


def _everybody(evidence: Evidence) -> Line:
    return inside(evidence) if len(people(evidence)) > 1 else people(evidence)[0]


def _bottles(context: Context) -> Section:
    """Set one line for each bottle, and say what the box does not."""
    evidence = context.findings.evidence
    found = few_bottles.cells(evidence)
    asked_ = [name for name in few_bottles.QUESTIONS if any(o.question == name for o in found)]
    heads = {name: sentence(f"few_report.col_{name}", who=_everybody(evidence)) for name in asked_}
    lines = [
        {
            sentence("report.col_bottle"): sample,
            **{heads[o.question]: o.text for o in found if o.sample == sample},
        }
        for sample in evidence.products
    ]
    table = pd.DataFrame(lines)
    n = len(evidence.products)
    note = sentence("few_report.bottles_note" if "numbers" in asked_ else
                    "few_report.bottles_note_plain", n=n)  # fmt: skip
    question = context.session.settings.question
    return Section(
        key=BOTTLES,
        title=sentence("few_report.bottles"),
        blocks=(
            plain(*([question] if question else [])),
            Grid("", brief_cells(table, evidence.products), note),
            Points(tuple(_said(context, BOTTLES, "advice", "caution"))),
        ),
        tables={BOTTLES: table},
        data=[
            {"sample": one.sample, "question": one.question, "verdict": one.key,
             "text": one.text}
            for one in found
        ],
    )  # fmt: skip


def _sheets(context: Context) -> Section:
    """Lay everybody's marks side by side, with what they share."""
    evidence = context.findings.evidence
    codes = people(evidence)
    brief = brief_names(evidence.products)
    shown = [_line(context, row, codes, brief) for row in rows(evidence)]
    by_cell = _by_cell(evidence)
    columns: list[Line] = [sentence("report.col_attribute")]
    columns += [brief[name] for _ in codes[: 1 if by_cell else None] for name in evidence.products]
    over: list[tuple[Line, int]] = [("", 1), *((code, len(evidence.products)) for code in codes)]
    if len(codes) > 1:
        columns.append(sentence("few_report.col_same", who=_everybody(evidence)))
        over.append(("", 1))
    columns.append(sentence("few_report.col_likely"))
    over.append(("", 1))
    table = pd.DataFrame(shown, columns=pd.Index(columns, dtype=object))
    apart = evidence.maker_apart
    without = sentence("few_report.without", makers=list(evidence.makers)) if apart else ""
    key = "sheets_note" if len(codes) > 1 else "sheets_note_one"
    key = "sheets_note_cells" if by_cell else key
    note = sentence(f"few_report.{key}", people=codes, without=without)
    return Section(
        key=SHEETS,
        title=sentence("few_report.sheets"),
        blocks=(
            Grid("", table, note, over=() if by_cell else tuple(over)),
            Points(tuple(_said(context, SHEETS))),
        ),
        tables={SHEETS: _marks(evidence)},
        data={
            "marks": _marks(evidence).to_dict("records"),
            "claims": {"pairs": _pairs(evidence)},
        },
    )


def figure(context: Context) -> list[Block]:
    """Draw what each marked in quality and in what is surest, as far as a page has room."""
    evidence = context.findings.evidence
    drawn = few_bottles.to_draw(evidence, fitting(len(people(evidence)), ROOM))
    if not drawn:
        return []
    table = evidence.rows(drawn, everybody=True)
    keys = ["attribute", "assessor", "sample"]
    own = table.groupby(keys, observed=True)["score"].agg(mark="mean", low="min", high="max")
    marks = own.reset_index().sort_values(
        "attribute", key=lambda column: column.map(drawn.index), kind="stable"
    )
    draw = partial(
        draw_marks,
        marks[marks["sample"].isin(evidence.products)],
        samples=evidence.products,
        people=people(evidence),
        names={name: context.name(name) for name in drawn},
        ends=differ.ends(context, drawn),
        language=context.language,
    )
    alt = sentence("few_report.marks_alt", bottles=evidence.products)
    caption = sentence("few_report.marks_caption" if evidence.replicates > 1 else
                       "few_report.marks_caption_once")  # fmt: skip
    return context.picture(lambda: Picture("marks", draw(), alt, caption, draw(narrow=True)))


def _marks(evidence: Evidence) -> pd.DataFrame:
    """Return everybody's means in long form."""
    return pd.DataFrame(
        [
            (row.attribute, code, bottle, mark)
            for row in rows(evidence)
            for bottle in row.marks
            for code, mark in row.marks[bottle].items()
        ],
        columns=["attribute", "assessor", "sample", "mark"],
    )


def _pairs(evidence: Evidence) -> list[dict[str, object]]:
    """Return every order with its probability, for ``results.json``."""
    return [
        {
            "kind": "scale", "about": one.attribute, "sample_a": one.high, "sample_b": one.low,
            "higher": one.high, "difference": one.raw, "low": one.least, "high": one.most,
            "probability": one.above, "risk": one.risk, "claimed": one.sure,
        }
        for one in directions.pairs(evidence)
    ]  # fmt: skip


def _line(context: Context, row: Row, codes: list[str], brief: dict[str, str]) -> list[Line]:
    evidence = context.findings.evidence
    made: list[Line] = [_name(context, row.attribute)]
    if _by_cell(evidence):
        made += [
            "\u2002".join(_mark(row, code, bottle) for code in codes)
            for bottle in evidence.products
        ]
    else:
        made += [_mark(row, code, bottle) for code in codes for bottle in evidence.products]
    if len(codes) > 1:
        made.append(_same(row, brief))
    made.append(_likely(evidence, row, brief))
    return made


def _name(context: Context, attribute: str) -> Line:
    """Write a row's name: with its upper end where the name does not say which way is up."""
    evidence = context.findings.evidence
    question, end = evidence.question(attribute), upper_end(evidence, attribute)
    if not end or question.kind is Kind.BALANCE:  # its 0 is just right: the marks have signs
        return context.name(attribute)
    return sentence("few_report.row_end", attribute=context.name(attribute), end=end,
                    high=f"{question.high:g}")  # fmt: skip


def _mark(row: Row, code: str, bottle: str) -> str:
    there = code in row.marks.index and bottle in row.marks
    value = float(row.marks[bottle][code]) if there else math.nan
    return "–" if math.isnan(value) else points(value)


def _by_cell(evidence: Evidence) -> bool:
    """Tell whether everybody's marks of a bottle share a cell: a column each would be too many."""
    n = len(people(evidence))
    return n > 1 and n * len(evidence.products) > MOST_COLUMNS


def _same(row: Row, brief: dict[str, str]) -> Line:
    """Say what everybody has in common in one attribute, with sizes for each."""
    equal = sentence("few_report.cell_equal") if row.equal_steps else ""
    if row.order:
        spans = (row.marks[row.order[0]] - row.marks[row.order[-1]]).tolist()
        order = " > ".join(brief[name] for name in row.order)
        by = [points(one) for one in spans]
        return sentence("few_report.cell_order", order=order, by=by, equal=equal)
    ends: list[Sentence] = [
        sentence(
            f"few_report.cell_end_{key}",
            bottle=brief[bottle],
            by=[points(abs(one)) for one in row.from_others(bottle).tolist()],
            equal=equal,
        )
        for key, sign in (("high", 1), ("low", -1))
        if (bottle := row.end(sign))
    ]
    if len(ends) > 1:
        return sentence("few_report.cell_both_ends", first=ends[0], second=ends[1])
    if ends:
        return ends[0]
    weak = all((row.marks[high] - row.marks[low]).min() < WEAK - ALIKE for high, low in row.agreed)
    turned = [pair for pair in row.parted if weak and _opposed(row, pair)]
    if turned:
        first, second = max(
            turned, key=lambda pair: float(np.ptp(row.marks[pair[0]] - row.marks[pair[1]]))
        )
        gaps = [signed(one) for one in (row.marks[first] - row.marks[second]).tolist()]
        return sentence("few_report.cell_turned", first=brief[first], second=brief[second], by=gaps)
    if 0 < len(row.agreed) <= FEW_PAIRS:
        pairs_ = [
            sentence("few_report.cell_pair", high=brief[high], low=brief[low],
                     by=[points(one) for one in (row.marks[high] - row.marks[low]).tolist()])
            for high, low in row.agreed
        ]  # fmt: skip
        return sentence("few_report.cell_pairs", listed=pairs_)
    return sentence("few_report.cell_part" if row.parted else "few_report.cell_none")


def _opposed(row: Row, pair: tuple[str, str]) -> bool:
    """Tell whether one puts a bottle `OPPOSED` above another, and one as far below."""
    gaps = row.marks[pair[0]] - row.marks[pair[1]]
    return bool(gaps.max() >= OPPOSED - ALIKE and gaps.min() <= -OPPOSED + ALIKE)


def _likely(evidence: Evidence, row: Row, brief: dict[str, str]) -> Line:
    pair = directions.widest(evidence, row.attribute)
    if pair is None:
        return sentence("few_report.cell_none")
    key = "cell_sure" if pair.sure else "cell_likely"
    ends = {"high": brief[pair.high], "low": brief[pair.low]}
    return sentence(f"few_report.{key}", **ends, above=probability(pair.above))


def _sure(context: Context) -> Section:
    """Say how sure, what is settled, and what would settle the rest."""
    evidence = context.findings.evidence
    claims = _said(context, SURE, "claim")
    settled = [] if claims else [_nothing_settled(evidence)]
    blocks: list[Block] = [plain(*claims, *settled)]
    blocks.append(Points(tuple(_said(context, SURE, "description", "advice"))))
    weighed = directions.steps(evidence)
    tables = {}
    if weighed:
        found = weighed[0][1]
        columns: dict[Line, list[Line]] = {
            sentence("few_report.col_step"): [step_name(one.step) for one in found],
            sentence("few_report.col_cups"): [f"{one.cups}" for one in found],
        }
        for pair, chances in weighed:
            head = sentence(
                "few_report.col_chance",
                attribute=evidence.name(pair.attribute),
                high=pair.high,
                low=pair.low,
            )
            columns[head] = [
                sentence("few_report.chance_of", n=int(half_up(100 * one.chance, 0)))
                for one in chances
            ]
        table = pd.DataFrame(columns)
        sets = next(one.cups for one in found if one.step == "triangle") // 3
        key = "next_note" if len(evidence.counted) > 1 else "next_note_one"
        note = sentence(f"few_report.{key}", bar=f"{directions.BAR:g}", sets=sets)
        blocks.append(Grid(sentence("few_report.next"), table, note))
        tables["next_steps"] = table
    blocks.append(caution(*_said(context, SURE, "caution")))
    return Section(
        key=SURE,
        title=sentence("few_report.sure"),
        blocks=tuple(blocks),
        tables=tables,
        data=[
            {
                "attribute": pair.attribute,
                "high": pair.high,
                "low": pair.low,
                "step": one.step,
                "cups": one.cups,
                "chance": one.chance,
            }
            for pair, chances in weighed
            for one in chances
        ],
    )


def _nothing_settled(evidence: Evidence) -> Sentence:
    """Say that nothing is settled, and how that fits with what lies beyond own scatter."""
    own = beyond_all(evidence) if len(people(evidence)) > 1 else []
    if not own:
        return sentence("few_report.settled_nothing")
    return sentence("few_report.settled_own", n=len(people(evidence)))


def _tasters(context: Context) -> Section | None:
    lines = _said(context, TASTERS)
    if not lines:
        return None
    return Section(
        key=TASTERS, title=sentence("few_report.tasters"), blocks=(Points(tuple(lines)),)
    )


def _words(context: Context) -> Section | None:
    """Give words and faults, and what was written in own words."""
    lines = _said(context, WORDS)
    free = context.answers.words
    free = free[free["text"].str.strip() != ""]
    lines += [
        sentence("few_report.said_one", assessor=row["assessor"], bottle=row["sample"],
                 text=row["text"])
        for row in free.to_dict("records")
    ]  # fmt: skip
    remarks = context.answers.remarks
    lines += [
        sentence("few_report.remark_one", assessor=row["assessor"], bottle=row["sample"],
                 attribute=context.name(row["attribute"]), text=row["text"])
        for row in remarks.to_dict("records")
    ]  # fmt: skip
    if not lines:
        return None
    return Section(
        key=WORDS,
        title=sentence("few_report.words"),
        blocks=(Points(tuple(lines)),),
        tables={
            name: table for name, table in (("words", free), ("remarks", remarks)) if len(table)
        },
        data=[*free.to_dict("records"), *remarks.to_dict("records")],
    )


def seen(evidence: Evidence) -> list[Block]:
    """Warn, of glasses that can be looked into, that some bottles are cloudy and others not."""
    cloudy = [name for name in evidence.products if evidence.bottle(name).cloudy]
    if not 0 < len(cloudy) < len(evidence.products):
        return []
    return [caution(sentence("few_report.seen", bottles=cloudy, n=len(cloudy)))]


def _served(context: Context) -> Section:
    """Show the bottles, the order of serving, and each tasting's marks."""
    evidence = context.findings.evidence
    shown = asked.bottle_table(context)
    blocks: list[Block] = [Grid("", shown), Points(tuple(_order(evidence)))]
    if context.session.settings.serving.masking == "none":
        blocks += seen(evidence)
    blocks.append(Points(tuple(_said(context, SERVED))))
    if evidence.alone:
        blocks.append(plain(sentence("alone.method")))
    if evidence.replicates > 1:
        blocks.append(_mark_by_mark(context))
    minded = [one for one in asked.cautions(context)
              if isinstance(one, str) or not one.key.startswith(AS_USUAL)]  # fmt: skip
    if minded:
        blocks.append(caution(*minded))
    return Section(
        key=SERVED,
        title=sentence("few_report.served"),
        blocks=tuple(blocks),
        tables={"bottles": shown},
        data=asked.data(context),
    )


def _order(evidence: Evidence) -> list[Line]:
    listed = [
        sentence("few_report.order_of", assessor=code,
                 orders=" / ".join("–".join(order) for order in own))
        for code, own in evidence.by_roster(_orders(evidence)).items()
    ]  # fmt: skip
    return [sentence("few_report.served_orders", listed=listed)] if listed else []


def _orders(evidence: Evidence) -> dict[str, list[tuple[str, ...]]]:
    """Return the orders of each assessor, tasting by tasting."""
    table = evidence.scores.dropna(subset=["position"])
    tastings = sorted(
        {(str(a), int(b)) for a, b in zip(table["assessor"], table["replicate"], strict=True)}
    )
    found: dict[str, list[tuple[str, ...]]] = {}
    for (code, _), order in zip(tastings, orders(evidence), strict=False):
        found.setdefault(code, []).append(order)
    return found


def _mark_by_mark(context: Context) -> Grid:
    """Write each tasting's mark, in the order of the tastings."""
    evidence = context.findings.evidence
    codes = people(evidence)
    table = evidence.rows([row.attribute for row in rows(evidence)], everybody=True)
    marks = {
        (str(name), str(code), str(bottle)): _in_turn(own, evidence.replicates)
        for (name, code, bottle), own in table.groupby(
            ["attribute", "assessor", "sample"], observed=True
        )
    }
    lines = [
        [context.name(row.attribute)]
        + [marks.get((row.attribute, code, b), "–") for code in codes for b in evidence.products]
        for row in rows(evidence)
    ]
    columns: list[Line] = [sentence("report.col_attribute")]
    columns += [name for _ in codes for name in evidence.products]
    frame = pd.DataFrame(lines, columns=pd.Index(columns, dtype=object))
    over: list[tuple[Line, int]] = [("", 1), *((code, len(evidence.products)) for code in codes)]
    dash = frame.iloc[:, 1:].apply(lambda column: column.str.contains("–")).any(axis=None)
    note = sentence("few_report.raw_note_dash" if dash else "few_report.raw_note")
    return Grid(sentence("few_report.raw"), frame, note, folded=True, over=tuple(over))


def _in_turn(own: pd.DataFrame, tastings: int) -> str:
    """Write one person's marks of a bottle tasting by tasting, a dash where none was given.

    >>> _in_turn(pd.DataFrame({"replicate": [2], "score": [0.5]}), 2)
    '– · 0.5'
    """
    given = own.dropna(subset=["score"]).set_index("replicate")["score"]
    marks = {int(str(n)): f"{score:g}" for n, score in given.items()}
    return " · ".join(marks.get(n, "–") for n in range(1, tastings + 1))


def _record(context: Context) -> Section:
    """Show the record in fewer words, without its method, which stands in the documents."""
    made = record.section(context)
    kept = tuple(
        replace(one, lines=tuple(_shorter(line) for line in one.lines))
        if isinstance(one, Lines)
        else one
        for one in made.blocks
        if not (isinstance(one, Lines) and (one.kind == "method" or _as_usual(one)))
    )
    return replace(made, blocks=kept)


def _as_usual(lines: Lines) -> bool:
    """Tell whether lines say only that the key was opened after the last answer, as it should."""
    return all(isinstance(one, Sentence) and one.key in OPENED for one in lines.lines)


def _shorter(line: Line) -> Line:
    fits = isinstance(line, Sentence) and line.key == "record.fits"
    return replace(line, key="few_report.fits") if fits and isinstance(line, Sentence) else line
