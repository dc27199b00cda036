"""What the record shows: seal, log, late changes, and what is not as it was planned."""

from __future__ import annotations

from collections.abc import Sequence

from ...analysis.core.words import Sentence
from ..base.session_log import read_log, to_the_minute
from ..base.words import sentence
from ..findings.statement import Statement
from ..plan.changes_in_words import said
from ..plan.key_file import change_parts
from ..plan.late_changes import Change
from ..plan.measured_later import records
from ..plan.sealing import fingerprint
from ..returns.store import Opening
from .context import Context
from .parts import Block, Line, Points, Section, caution, lead, method, plain

RANK = 14
"""Place in the box of what is not as it was planned."""


def section(context: Context) -> Section:
    """Show that key and plan are those that were sealed, and what happened since."""
    plan = context.plan
    log = read_log(context.session.folder)
    mark = fingerprint(plan.sealed) if plan.sealed else ""
    fits = (
        sentence("record.fits", number=plan.number, mark=mark)
        if mark
        else sentence("record.unsealed")
    )
    opened = log.of("open")
    head = opened[-1] if opened else None
    wrong = [one.what for one in context.found if one.person]
    happened = [*_changes(context), *_measured(context)]
    blocks: list[Block] = [lead(fits)]
    if wrong:
        blocks.append(caution(sentence("record.since"), *wrong))
    if mark and log.of("forget"):
        first = [one for one in log.of("plan") if one.values.get("plan") == plan.number]
        noted = fingerprint(first[-1].values["sealed"]) if first else "–"
        blocks.append(plain(sentence("record.forgotten", mark=noted)))
    if not context.late:
        blocks.append(plain(when_opened(context.status.openings)))
    if len(plan.versions) > 1:
        blocks.append(plain(sentence("record.plans", n=len(plan.versions))))
    if happened:
        blocks += [plain(sentence("record.changes")), Points(tuple(happened))]
    if head is not None:
        values = {"n": head.number, "head": fingerprint(head.head)}
        blocks.append(plain(sentence("record.head", **values)))
    blocks.append(method(sentence("record.limits")))
    return Section(
        key="record",
        title=sentence("record.title"),
        blocks=tuple(blocks),
        statements=tuple(
            Statement(kind="caution", about=(), sentence=line, section="record", rank=RANK)
            for line in wrong[:1]
        ),
        data={
            "plan": plan.number,
            "fingerprint": mark or None,
            "log": {"entries": head.number, "head": head.head} if head else None,
            "late_changes": [str(line) for line in happened],
            "not_as_planned": [str(line) for line in wrong],
        },
    )


def when_opened(openings: Sequence[Opening]) -> Sentence:
    """Say when the key was opened: what counts is the first time, whatever was made again since."""
    first, last = (to_the_minute(one.opened_at) for one in (openings[0], openings[-1]))
    if len(openings) == 1:
        return sentence("report.opened_after", at=first)
    return sentence("report.opened_after_again", at=first, again=last)


def _changes(context: Context) -> list[Line]:
    told: list[Line] = []
    for plan in reversed(context.plan.versions):
        parts = {part["number"]: part for part in change_parts(context.session, plan)}
        by_number = {change.number: change for change in plan.course.changes}
        told += [_told(change, parts, by_number) for change in plan.course.changes]
        if plan.course.unserved:
            told.append(sentence("record.unserved", n=len(plan.course.unserved)))
    if context.unknown:
        told.append(sentence("record.unknown", n=context.unknown))
    return told


def _told(
    change: Change, parts: dict[int, dict[str, str]], by_number: dict[int, Change]
) -> Sentence:
    if change.kind == "undone":
        what = _told(by_number[change.undoes], parts, by_number)
        return sentence("record.undone", what=what)
    if change.kind in ("replaced", "added"):
        part = parts[change.number]
        return sentence(
            f"record.{change.kind}",
            bottle=part["bottle"],
            instead_of=part.get("instead_of", ""),
            flight=change.flight,
            codes=list(change.codes),
        )
    return said(change)


def _measured(context: Context) -> list[Line]:
    return [
        sentence(
            "record.measured_open" if one["key_open"] else "record.measured",
            field=one["field"],
            bottle=one["bottle"],
            planned=one["planned"],
            now=one["now"],
            at=one["at"],
        )
        for one in records(context.session.folder)
    ]
