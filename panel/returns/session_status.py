"""Where a session stands: what is in, what is missing, what needs a person."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ...forms.answers.answer import Fault, is_remark
from ...forms.answers.told_together import numbered, told_together
from ...forms.questions.question_types import Kind
from ...forms.questions.sheet import Sheet, sheet_with
from ..base.session_log import to_the_minute
from ..base.whole_files import changed_files
from ..base.words import say
from ..plan.changes_in_words import said
from ..plan.late_changes import Change
from ..plan.open_plan import OpenPlan
from ..session.session import Session
from .open_marks import left_open, waiting
from .page_round import not_looked_at
from .store import Opening, Store
from .turned_cups import turned_cups


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheetstate:
    """One assessor's sheet; `words` are free words beside the answers, `empty` came back so."""

    assessor: str
    spare: bool
    answered: int
    asked: int
    words: int = 0
    empty: bool = False

    @property
    def back(self) -> bool:
        """Whether anything has come back."""
        return bool(self.answered or self.words or self.empty)

    @property
    def is_out(self) -> bool:
        """Whether something is still awaited: spare sheets and who was served nothing are not."""
        return not self.back and not self.spare and self.asked > 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Status:
    """The state of a session.

    Attributes
    ----------
    sheets : tuple of Sheetstate
    faults : dict of int to Fault
        What still needs a person, by its number.
    marks : int
        Marks and words in pictures that a person has still to look at.
    left_open : int
        Marks and words in pictures that a person left without an answer.
    unseen : int
        Cups that were read from pictures whose pages nobody has looked at.
    openings : tuple of Opening
        When the key was opened.
    corrections : int
        Answers that were corrected.
    plan : int
        Version of the plan that holds.
    earlier : int
        Answers to earlier plans.
    unread : tuple of str
        Originals in ``returned/`` whose reading was broken off.
    changed : tuple of str
        Files of the report that are not as they were written.
    changes : tuple of Change
        Late changes that stand.
    untold : tuple of str
        Rows of cups with marks of which it is not told which code stood where.
    """

    session: str
    sheets: tuple[Sheetstate, ...]
    faults: dict[int, Fault]
    marks: int
    openings: tuple[Opening, ...]
    corrections: int
    plan: int = 1
    earlier: int = 0
    unread: tuple[str, ...] = ()
    changed: tuple[str, ...] = ()
    changes: tuple[Change, ...] = ()
    untold: tuple[str, ...] = ()
    left_open: int = 0
    unseen: int = 0

    @property
    def out(self) -> tuple[str, ...]:
        """Assessors, spare ones aside, from whom nothing has come back."""
        return tuple(one.assessor for one in self.sheets if one.is_out)

    @property
    def whole(self) -> bool:
        """Whether every sheet is back and nothing waits for a person: a report can be made."""
        waits = (
            self.out, self.faults, self.marks, self.left_open, self.unseen, self.unread,
            self.changed, self.untold,
        )  # fmt: skip
        return any(one.answered for one in self.sheets) and not any(waits)

    def to_dict(self) -> dict[str, Any]:
        """Return the state as a dict that is valid JSON."""
        return {
            "session": self.session,
            "sheets": [
                {"assessor": one.assessor, "spare": one.spare, "answered": one.answered,
                 "asked": one.asked, "words": one.words, "returned_empty": one.empty}
                for one in self.sheets
            ],
            "out": list(self.out),
            "needs_a_person": [
                {"number": number, "kind": fault.kind, "file": fault.file, "place": fault.place,
                 "assessor": fault.assessor, "code": fault.code, "attribute": fault.attribute,
                 "found": fault.found, "message": fault.message()}
                for number, fault in self.faults.items()
            ],
            "marks_to_review": self.marks,
            "marks_left_open": self.left_open,
            "cups_in_pictures_not_looked_at": self.unseen,
            "key_openings": [
                {"opened_at": one.opened_at, "reason": one.reason, "sheets_out": one.sheets_out,
                 "answers": one.answers}
                for one in self.openings
            ],
            "corrections": self.corrections,
            "plan": self.plan,
            "answers_to_earlier_plans": self.earlier,
            "originals_not_read": list(self.unread),
            "changed_files": list(self.changed),
            "late_changes": [str(said(change)) for change in self.changes],
            "cups_not_told": list(self.untold),
        }  # fmt: skip

    def text(self, language: str) -> str:
        """Write the state for a terminal."""
        lines = [say("status.title", language, session=self.session)]
        lines += [f"  {line}" for line in self.sheet_lines(language)]
        lines += [f"  {said(change).to(language)}" for change in self.changes]
        if self.out:
            lines.append(say("status.summary", language, n=len(self.out), out=list(self.out)))
        else:
            lines.append(say("status.all_in", language))
        if self.corrections:
            lines.append(say("status.corrected", language, n=self.corrections))
        if self.earlier:
            lines.append(say("status.earlier", language, n=self.earlier, number=self.plan))
        lines += self.needs(language)
        if self.left_open:
            lines.append(say("review.open_still", language, n=self.left_open))
            lines.append(say("review.open_again", language))
        if self.unseen:
            lines.append(say("status.unseen", language, n=self.unseen))
        if self.untold:
            lines.append(say("alone.status", language, n=len(self.untold), rows=list(self.untold)))
        if self.unread:
            lines.append(say("status.unread", language, files=list(self.unread)))
        if self.changed:
            lines.append(say("status.changed", language, files=list(self.changed)))
        lines += [
            say(
                "status.opened",
                language,
                at=to_the_minute(one.opened_at),
                reason=one.reason,
                out=one.sheets_out,
            )
            for one in self.openings
        ]
        return "\n".join(lines)

    def needs(self, language: str) -> list[str]:
        """Write what needs a person: faults by their numbers, and marks in pictures."""
        lines = []
        if self.faults:
            lines.append(say("status.needs", language, n=len(self.faults)))
            lines += [
                f"  {numbered(*numbers)}: {what}"
                for numbers, what in told_together(self.faults.items(), language)
            ]
            lines.append(say("status.how", language))
        if self.marks:
            lines.append(say("status.marks", language, n=self.marks))
        return lines

    def sheet_lines(self, language: str) -> list[str]:
        """Write one line a sheet: whose it is, and how much of it came back."""
        lines = []
        for one in self.sheets:
            if not one.asked and not one.answered:
                kind = "unserved"
            elif one.answered >= one.asked:
                kind = "complete"
            elif one.answered:
                kind = "partial"
            elif one.back:
                kind = "words" if one.words else "empty"
            else:
                kind = "spare" if one.spare else "out"
            values = {
                "assessor": one.assessor, "answered": one.answered, "asked": one.asked,
                "n": one.words,
            }  # fmt: skip
            lines.append(say(f"status.sheet_{kind}", language, **values))
        return lines


def _asked(plan: OpenPlan, sheet: Sheet) -> int:
    """Count the answers that a sheet asks for at cups that were served."""
    return sheet.cells_of(
        shown
        for shown in sheet.presentations
        if not any((sheet.assessor, code) in plan.course.unserved for code in shown.codes)
    )


def answered_unserved(plan: OpenPlan, store: Store) -> dict[str, int]:
    """Count, by assessor, answers about cups that a late change says were not served."""
    found: dict[str, int] = {}
    for stored in store.answers():
        one = stored.answer
        if stored.plan == plan.version and plan.is_unserved(one.assessor, one.code):
            found[one.assessor] = found.get(one.assessor, 0) + 1
    return found


def status(session: Session, plan: OpenPlan, store: Store) -> Status:
    """Compare what was asked with what has come back."""
    numbers: dict[str, int] = {}
    words: dict[str, int] = {}
    corrections = earlier = 0
    for stored in store.answers():
        corrections += stored.corrections
        answer = stored.answer
        if stored.plan != plan.version:
            earlier += 1
            continue
        card = sheet_with(plan.sheets, answer.assessor, answer.code).scorecard
        free = card.owner(answer.attribute).kind is Kind.WORDS or is_remark(answer.attribute)
        kind = words if free else numbers
        kind[answer.assessor] = kind.get(answer.assessor, 0) + 1
    faults = store.faults()
    empty = {fault.assessor for fault in faults.values() if fault.kind == "empty_sheet"}
    return Status(
        session=session.settings.name,
        sheets=tuple(
            Sheetstate(
                assessor=one.code,
                spare=one.spare,
                answered=numbers.get(one.code, 0),
                asked=_asked(plan, plan.own_sheets[one.code]),
                words=words.get(one.code, 0),
                empty=one.code in empty,
            )
            for one in plan.assessors
        ),
        faults=faults,
        unread=tuple(store.unread()),
        changed=tuple(_changed(session.folder)),
        marks=len(waiting(store)),
        left_open=len(left_open(store)),
        unseen=not_looked_at(store),
        openings=tuple(store.openings()),
        corrections=corrections,
        plan=plan.number,
        earlier=earlier,
        changes=plan.course.standing,
        untold=tuple(turned_cups(plan, store).where),
    )


def _changed(folder: Path) -> list[str]:
    """Name the files of the report that are not as this program wrote them.

    In ``sheets/`` people fill in the sheets; the plan has seals of its own.
    """
    return [
        Path(os.path.normpath(Path("report", name))).as_posix()
        for name in changed_files(folder / "report")
    ]
