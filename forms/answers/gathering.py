"""What one file gives while it is read: answers and faults in the order they are met."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from ..questions.question_types import Kind
from ..questions.sheet import Sheet
from .answer import Answer, Fault, Reading
from .settling import settle

# An empty place among these says "does not apply" or "not noticed".
GROUPS = (Kind.TICKS, Kind.FAULTS)


@dataclass
class Gathering:
    """Base of the readers: one file and what was found in it."""

    file: str
    sheets: Mapping[str, Sheet]
    answers: list[Answer] = field(default_factory=list, init=False)
    faults: list[Fault] = field(default_factory=list, init=False)

    def take(
        self,
        attribute: str,
        value: float | str,
        *,
        sheet: Sheet,
        code: str,
        place: str,
        written: str,
    ) -> None:
        """Keep an answer with the place it stood at and what was written there."""
        self.answers.append(
            Answer(
                session=sheet.session,
                assessor=sheet.assessor,
                code=code,
                attribute=attribute,
                value=value,
                file=self.file,
                place=place,
                written=written,
            )
        )

    def tell(
        self,
        kind: str,
        place: str,
        *,
        assessor: str = "",
        code: str = "",
        attribute: str = "",
        found: str = "",
        expected: str = "",
    ) -> None:
        """List a fault."""
        self.faults.append(
            Fault(
                kind=kind,
                file=self.file,
                place=place,
                assessor=assessor,
                code=code,
                attribute=attribute,
                found=found,
                expected=expected,
            )
        )

    def settled(self) -> Reading:
        """Return all that was found, one answer a cell."""
        return settle([Reading(tuple(self.answers), tuple(self.faults))], self.sheets)
