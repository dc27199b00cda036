"""Putting the report together from its sections."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

from ..base.errors import NotReady
from ..base.report_face import set_figures_in_own_face
from ..base.session_log import read_log
from ..base.words import Sentence, begun, sentence
from ..batches.of_session import with_book
from ..few.side_by_side import is_few
from ..findings.design import asked_for
from ..findings.evidence import BALANCE
from ..findings.statement import Statement
from ..key.named_answers import named_answers
from ..key.opened_tables import any_counts, tables
from ..key.opening import open_key
from ..key.session_checks import check
from ..key.set_answers import sets
from ..key.timed_answers import timed_answers
from ..overview.told import NEXT, SWEETNESS
from ..plan.open_plan import OpenPlan
from ..plan.since_planning import with_planned_bottles, with_planned_questions
from ..returns.logged_answers import entered_late, whose_late
from ..returns.session_status import status
from ..returns.store import Store
from ..session.conditions import how_many
from ..session.session import Session
from . import (
    aroma,
    asked,
    brewed,
    cards,
    chapters,
    decide,
    differ,
    each,
    faults,
    few,
    label,
    layout,
    limits,
    maker,
    methods,
    named,
    nose,
    open_flight,
    place,
    record,
    said,
    served,
    set_test,
    stages,
    sweetness,
    timed,
    trust,
)
from .context import SCALED, Context
from .give_way import fitted
from .page_of_few import page_of_few, with_figure
from .parts import Grid, Line, Lines, Points, Report, Section

SECTIONS: tuple[Callable[[Context], Section | None], ...] = (
    decide.section,
    chapters.sure,
    named.section,
    decide.advice,
    label.section,
    asked.section,
    differ.section,
    served.section,
    brewed.section,
    chapters.preferred,
    place.section,
    layout.section,
    nose.section,
    sweetness.section,
    stages.section,
    timed.section,
    cards.bubbles,
    cards.ageing,
    cards.grades,
    cards.liking,
    aroma.section,
    aroma.own_section,
    faults.section,
    chapters.known,
    trust.section,
    chapters.repeats,
    each.section,
    maker.section,
    open_flight.section,
    said.section,
    limits.section,
    methods.section,
    record.section,
)
SET_SECTIONS: tuple[Callable[[Context], Section | None], ...] = (
    asked.section,
    set_test.section,
    record.section,
)
"""What a test of difference, a ranking or a threshold is told by."""


def _people(context: Context) -> Sentence:
    """Say how many assessed, and that makers among them stand outside the means."""
    n, scored = len(context.roster), bool(context.attributes(*SCALED))
    if context.session.method.compares or not (context.maker_apart and context.makers and scored):
        return sentence("report.n_assessors", n=n)
    return sentence("report.n_assessors_apart", n=n, makers=len(context.makers))


def open_context(
    session: Session,
    plan: OpenPlan,
    store: Store,
    reason: str,
    *,
    figures: bool = True,
    remembers: bool = True,
) -> Context:
    """Open the key, on the record, and gather what the sections draw from.

    Without `figures` the report has the same words and tables, and no pictures; unless it
    `remembers`, nothing of earlier sessions.

    Raises
    ------
    NotReady
        If no counted answer is in yet; the key is not opened then.
    """
    if not any_counts(session, plan, store):
        n = len(store.answers())
        why = "report.nothing_counts" if n else "report.nothing"
        raise NotReady(why, folder=session.folder, n=n)
    key = open_key(session, plan, store, reason)
    found = tuple(check(session, plan, store))
    named_now = tuple(session.settings.questions.primary)
    session = with_planned_bottles(session, plan)
    session, book = with_book(session)
    session = with_planned_questions(session, plan, {one.plan for one in store.answers()})
    return Context(
        session=session,
        plan=plan,
        key=key,
        answers=tables(session, plan, store, key),
        status=status(session, plan, store),
        late=entered_late(store, read_log(session.folder)),
        whose_late=whose_late(store),
        found=found,
        named_now=named_now,
        unknown=sum(
            plan.is_unknown(one.answer.assessor, one.answer.code) for one in store.answers()
        ),
        presented=tuple(sets(plan, store, key)) if session.method.compares else (),
        figures=figures,
        remembers=remembers,
        open_flight=named_answers(session, plan),
        book=book,
        times=timed_answers(plan, store, key),
    )


def build(context: Context, tick: Callable[[], None] = lambda: None) -> Report:
    """Build the report; `tick` is called after each section."""
    set_figures_in_own_face()
    sections = []
    few_people = not context.session.method.compares and is_few(context.findings.evidence)
    wanted = SET_SECTIONS if context.session.method.compares else SECTIONS
    for make in few.sections(context) if few_people else wanted:
        made = make(context)
        if made is not None:
            sections.append(made)
        tick()
    statements = [one for section in sections for one in section.statements]
    if few_people:
        statements = [*few.statements_of(context), *statements]
    elif not context.session.method.compares:
        statements = [*context.findings.statements, *context.overview, *statements]
    statements += _others(sections, statements, context.language)
    settings = context.session.settings
    bottles = (bottle.name for bottle in context.session.bottles)
    report = Report(
        title=sentence("report.title", title=settings.title),
        subtitle=sentence(
            "report.subtitle",
            date=settings.date.isoformat(),
            assessors=sentence("report.n_assessors", n=len(context.roster))
            if few_people
            else _people(context),
            bottles=how_many([context.session.bottle(name) for name in context.samples]),
        ),
        language=context.language,
        names=frozenset([settings.title, *bottles, *context.roster]),
        sections=tuple(sections),
        statements=tuple(statements),
        few=few_people,
        question="" if few_people else settings.question,
        bottles=len(context.products),
        asked=frozenset() if context.session.method.compares else _asked(context),
        answers=frozenset() if context.session.method.compares else _answers(context),
    )
    if few_people:
        report = with_figure(replace(report, page=page_of_few(report)), few.figure(context))
    return fitted(report)


def _asked(context: Context) -> frozenset[str]:
    """Return the names of what the session's question asks, as they stand in lists."""
    evidence = context.findings.evidence
    return frozenset(evidence.name(name) for name in asked_for(evidence))


def _answers(context: Context) -> frozenset[str]:
    """Return the sections whose lines of the box answer what the session's question asks."""
    asks = BALANCE in asked_for(context.findings.evidence)
    return frozenset({NEXT, SWEETNESS} if asks else {NEXT})


_OWN_KIND = {"report.fault_next": "advice", "report.fault_no_clearance": "caution"}


def _others(sections: list[Section], statements: list[Statement], language: str) -> list[Statement]:
    """Give every further sentence of the page its kind: cautions, and descriptions."""
    known = {begun(one.sentence, language) for one in statements}
    # A table that stands for a statement says no more than its sentence does.
    known |= {begun(one.rows.note, language) for one in statements if one.rows is not None}
    made = []
    for section in sections:
        for kind, line in _lines(section):
            text = begun(line, language)
            if not text or text in known:
                continue
            known.add(text)
            key = line if isinstance(line, str) else line.key
            made.append(
                Statement(
                    kind=_OWN_KIND.get(key, kind), about=(), sentence=line, section=section.key
                )
            )
    return made


def _lines(section: Section) -> Iterator[tuple[str, Line]]:
    for block in section.blocks:
        if isinstance(block, Lines):
            kind = "caution" if block.kind == "caution" else "description"
            yield from ((kind, line) for line in block.lines)
        elif isinstance(block, Points):
            yield from (("description", line) for line in block.lines)
        else:
            yield "description", block.note if isinstance(block, Grid) else block.caption
