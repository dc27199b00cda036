"""Where a session stands: what is in, what is missing, what needs a person."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from ...forms.answers.answer import Fault
from ...forms.questions.question_types import Kind
from ...forms.questions.sheet import sheet_with
from ..base.words import say
from ..plan.pours import OpenPlan
from ..session.session import Session
from .open_marks import waiting
from .store import Opening, Store


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheetstate:
    """One assessor's sheet."""

    assessor: str
    spare: bool
    answered: int
    asked: int


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
    openings : tuple of Opening
        When the key was opened.
    corrections : int
        Answers that were corrected.
    plan : int
        Version of the plan that holds.
    earlier : int
        Answers to earlier plans.
    """

    session: str
    sheets: tuple[Sheetstate, ...]
    faults: dict[int, Fault]
    marks: int
    openings: tuple[Opening, ...]
    corrections: int
    plan: int = 1
    earlier: int = 0

    @property
    def out(self) -> tuple[str, ...]:
        """Assessors, spare ones aside, from whom nothing has come back."""
        return tuple(one.assessor for one in self.sheets if not one.answered and not one.spare)

    def to_dict(self) -> dict[str, Any]:
        """Return the state as a dict that is valid JSON."""
        return {
            "session": self.session,
            "sheets": [
                {"assessor": one.assessor, "spare": one.spare, "answered": one.answered,
                 "asked": one.asked}
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
            "key_openings": [
                {"opened_at": one.opened_at, "reason": one.reason, "sheets_out": one.sheets_out,
                 "answers": one.answers}
                for one in self.openings
            ],
            "corrections": self.corrections,
            "plan": self.plan,
            "answers_to_earlier_plans": self.earlier,
        }  # fmt: skip

    def text(self, language: str) -> str:
        """Write the state for a terminal."""
        lines = [say("status.title", language, session=self.session)]
        for one in self.sheets:
            if one.answered >= one.asked:
                kind = "complete"
            elif one.answered:
                kind = "partial"
            else:
                kind = "spare" if one.spare else "out"
            values = {"assessor": one.assessor, "answered": one.answered, "asked": one.asked}
            lines.append("  " + say(f"status.sheet_{kind}", language, **values))
        if self.out:
            lines.append(say("status.summary", language, n=len(self.out), out=list(self.out)))
        else:
            lines.append(say("status.all_in", language))
        if self.corrections:
            lines.append(say("status.corrected", language, n=self.corrections))
        if self.earlier:
            lines.append(say("status.earlier", language, n=self.earlier, number=self.plan))
        if self.faults:
            lines.append(say("status.needs", language, n=len(self.faults)))
            lines += [f"  {n}: {fault.message(language)}" for n, fault in self.faults.items()]
            lines.append(say("status.how", language))
        if self.marks:
            lines.append(say("status.marks", language, n=self.marks))
        lines += [
            say(
                "status.opened",
                language,
                at=one.opened_at,
                reason=one.reason,
                out=one.sheets_out,
            )
            for one in self.openings
        ]
        return "\n".join(lines)


def status(session: Session, plan: OpenPlan, store: Store) -> Status:
    """Compare what was asked with what has come back."""
    numbers: dict[str, int] = {}
    corrections = earlier = 0
    for stored in store.answers():
        corrections += stored.corrections
        answer = stored.answer
        if stored.plan != plan.version:
            earlier += 1
            continue
        card = sheet_with(plan.sheets, answer.assessor, answer.code).scorecard
        if card.owner(answer.attribute).kind is not Kind.WORDS:
            numbers[answer.assessor] = numbers.get(answer.assessor, 0) + 1
    return Status(
        session=session.settings.name,
        sheets=tuple(
            Sheetstate(
                assessor=one.code,
                spare=one.spare,
                answered=numbers.get(one.code, 0),
                asked=plan.sheets[one.code].cells,
            )
            for one in plan.assessors
        ),
        faults=store.faults(),
        marks=len(waiting(store)),
        openings=tuple(store.openings()),
        corrections=corrections,
        plan=plan.number,
        earlier=earlier,
    )
