"""What was asked and served."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import pandas as pd

from ...analysis.core.wording import same_decimals
from ...analysis.core.words import Sentence
from ...forms.answers.answer import Fault
from ...forms.questions.question_types import Kind
from ..base.session_log import to_the_minute
from ..base.words import sentence
from ..session.bottles import CONDITIONS, Bottle
from ..session.care import care_mark
from ..session.conditions import how_many, written
from . import set_served
from .context import SCALED, Context
from .parts import Block, Grid, Line, Points, Section, caution, plain
from .sweetness import nothing_beside

MOST_UNREAD = 4
"""Things on returned sheets that could not be read, up to which each is told whole."""
_MEASURED = ("abv", "meter_value", "acidity", "amino_acidity", "glucose", "polishing")


def section(context: Context) -> Section:
    """Say the question, the bottles, the panel, the serving and when the key was opened."""
    session = context.session
    serving = session.settings.serving
    roles = Counter(one.role for one in context.roster.values())
    people = [
        sentence("report.role_count", n=count, role=sentence(f"report.role_{role}"))
        for role, count in roles.items()
    ]
    compares = session.method.compares
    served: list[Line] = (
        [
            set_served.served(context, people),
            *set_served.told(
                context.key.notes,
                cloudy=any(bottle.cloudy for bottle in session.samples),
                at_places=set_served.places(context),
            ),
        ]
        if compares
        else [
            sentence(
                "report.served",
                n=len(context.roster),
                people=people,
                bottles=how_many(map(session.bottle, context.samples), "served"),
                replicates=sentence("report.times", n=serving.replicates),
            ),
            *context.key.notes,
        ]
    )
    profile = () if compares else context.said("asked", "description")
    minded = () if compares else context.said("asked", "caution")
    blocks: list[Block] = [
        Grid(sentence("report.bottles"), bottle_table(context)),
        Points(tuple(served)),
        plain(*_batch(context), *_no_numbers(context), *profile),
        caution(*minded, *cautions(context)),
    ]
    return Section(
        key="asked",
        title=sentence("report.asked"),
        blocks=tuple(blocks),
        tables={"bottles": bottle_table(context)},
        data=data(context),
    )


def data(context: Context) -> dict[str, object]:
    """Return the same for ``results.json``."""
    settings = context.session.settings
    return {
        "question": settings.question,
        "date": settings.date.isoformat(),
        "assessors": {code: one.role for code, one in context.roster.items()},
        "samples": context.samples,
        "replicates": settings.serving.replicates,
        "key_opened": context.key.opening.opened_at,
        "sheets_out_at_opening": context.key.opening.sheets_out,
        "answers_after_first_opening": context.late,
    }


def bottle_table(context: Context) -> pd.DataFrame:
    """List the bottles with what is known of them; columns that nobody filled are left out."""
    bottles = [context.session.bottle(name) for name in context.samples]
    columns: dict[str, Sequence[Line]] = {"bottle": [bottle.name for bottle in bottles]}
    for field in ("fraction", "tank", "lot"):
        columns[field] = [str(getattr(bottle, field)) or "–" for bottle in bottles]
    columns["pasteurised"] = [_pasteurised(bottle) for bottle in bottles]
    for field in _MEASURED:
        columns[field] = same_decimals(getattr(bottle, field) for bottle in bottles)
    for field in CONDITIONS:
        columns[field] = [written(field, bottle.level(field)) or "–" for bottle in bottles]
    columns["care"] = [care_mark(bottle, context.language) or "–" for bottle in bottles]
    filled = {name: cells for name, cells in columns.items() if set(cells) != {"–"}}
    table: dict[Line, Sequence[Line]] = {
        sentence(f"{'plan' if name in CONDITIONS else 'report'}.col_{name}"): cells
        for name, cells in filled.items()
    }
    heads = {head.to(context.language) for head in table if isinstance(head, Sentence)}
    for name in dict.fromkeys(name for bottle in bottles for name in bottle.further):
        cells = [bottle.further.get(name, "–") for bottle in bottles]
        table[f"{name} " if name in heads else name] = cells
    return pd.DataFrame(table)


def _pasteurised(bottle: Bottle) -> Line:
    if not bottle.pasteurised:
        return "–"
    return sentence(f"report.pasteurised_{bottle.pasteurised}")


def _batch(context: Context) -> list[Sentence]:
    """Tell bottles and batches apart: one tank is one batch, however often it is poured."""
    bottles = [context.session.bottle(name) for name in context.samples]
    tanks = {bottle.tank for bottle in bottles}
    if len(bottles) < 2:
        return []
    if not any(tanks):
        return [sentence("report.no_tank")]
    if len(tanks) == 1:
        return [sentence("report.one_tank", n=len(bottles))]
    if any(sum(b.batch == bottle.batch for b in bottles) > 1 for bottle in bottles):
        return [sentence("report.some_share_tank")]
    return [sentence("report.each_own_batch")]


def _no_numbers(context: Context) -> list[Sentence]:
    """Say that sweetness has no number to stand beside, where that is all there is to say of it."""
    if context.session.method.compares or not context.products or not nothing_beside(context):
        return []
    return [sentence("report.no_chemistry")]


def cautions(context: Context) -> list[Line]:
    """Say if the key was opened early, what is still out, and whose marks stand apart."""
    said: list[Line] = []
    first = context.status.openings[0]
    if context.late:
        said.append(
            sentence("report.opened_early", at=to_the_minute(first.opened_at), n=context.late)
        )
        if context.whose_late:
            roles = {one.code: one.role for one in context.plan.assessors}
            who = [
                sentence(
                    "report.late_one",
                    assessor=code,
                    role=sentence(f"report.role_{roles[code]}"),
                    n=n,
                )
                for code, n in context.whose_late.items()
                if code in roles
            ]
            said.append(sentence("report.late_by", who=who))
    elif context.status.out:
        out = list(context.status.out)
        said.append(sentence("report.still_out", n=len(out), out=out))
    # A test of difference counts right answers: it has no means to stand outside of.
    makers = [] if context.session.method.compares else context.makers
    if context.maker_apart and makers:
        scored = bool(context.attributes(*SCALED))
        if scored or context.attributes(Kind.TICKS):
            key = "report.maker_apart" if scored else "report.maker_apart_ticks"
            said.append(sentence(key, n=len(makers)))
    said += _unread(context)
    if context.status.corrections:
        said.append(sentence("report.corrections", n=context.status.corrections))
    return said


def _unread(context: Context) -> list[Line]:
    """Name what came back and was not understood; blanks of other kinds than marks are counted."""
    faults = context.status.faults.values()
    alike: dict[tuple[str, ...], list[Fault]] = {}
    for one in faults:
        if not one.blank:
            own = (one.kind, one.file, one.assessor, one.code, one.attribute, one.found)
            alike.setdefault(own, []).append(one)
    n = sum(map(len, alike.values()))
    said: list[Line] = [sentence("report.unread", n=n)] if n else []
    marks = set(context.attributes(*SCALED))
    marked = sum(name in marks for _, _, name, _ in context.unread)
    if 0 < marked < n:
        said.append(sentence("report.unread_marks", n=marked))
    for same in list(alike.values())[:MOST_UNREAD]:
        said.append(sentence("report.unread_one", what=same[0].message(context.language)))
        also = [one.where(context.language) for one in same[1:]]
        if also:
            said.append(sentence("report.unread_also", places=also))
        if same[0].kind == "unknown_code":
            code, who = same[0].found, same[0].assessor
            said.append(sentence("report.unread_code", code=code, who=who))
    rest = sum(len(same) for same in list(alike.values())[MOST_UNREAD:])
    if rest:
        said.append(sentence("report.unread_more", n=rest))
    blank = sum(one.kind == "missing" and one.attribute not in marks for one in faults)
    if blank:
        said.append(sentence("report.blank_beside", n=blank))
    return said
