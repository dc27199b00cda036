"""The half of a plan that anyone at the table may know."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from ...forms.questions.sheet import Sheets, versions
from ..session.roster import Assessor
from .late_changes import ChangedCourse
from .pours import Pour


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenPlan:
    """The half of a plan that anyone at the table may know.

    Attributes
    ----------
    assessors : tuple of Assessor
    pours : tuple of Pour
        With empty bottle and replicate 0.
    sheets : Sheets
        By assessor, with those that were printed before.
    version : str
        Under which the store keeps what is answered; '' in plans from before there were any.
    number : int
        The same as a number; 1 for such plans.
    sealed : str
        Seal of the key; '' for such plans.
    content : dict
        The file as it was read.
    earlier : tuple of OpenPlan
        Earlier plans of the session, latest first.
    own_sheets : Sheets
        Those of this plan alone, from before its late changes too.
    course : ChangedCourse
        What was changed while the session went on.
    """

    session: str
    assessors: tuple[Assessor, ...]
    pours: tuple[Pour, ...]
    sheets: Sheets
    version: str = ""
    number: int = 1
    sealed: str = ""
    content: dict[str, Any] = field(default_factory=dict, repr=False)
    earlier: tuple[OpenPlan, ...] = ()
    own_sheets: Sheets = field(default_factory=lambda: Sheets({}))
    course: ChangedCourse = field(default_factory=ChangedCourse)

    @property
    def every_pour(self) -> tuple[Pour, ...]:
        """All cups that were ever planned, those that hold now last; of this plan alone."""
        before = (pour for _, pours in self.course.steps for pour in pours)
        return (*before, *self.pours)

    @property
    def versions(self) -> tuple[OpenPlan, ...]:
        """The plan and the earlier ones, latest first."""
        return (self, *self.earlier)

    def holding(self, assessor: str, name: str) -> OpenPlan | None:
        """Return the plan by which an assessor was served a presentation, or None."""
        for plan in self.versions:
            if any(
                sheet.presentation(name) is not None
                for sheet in versions(plan.own_sheets, assessor)
            ):
                return plan
        return None

    def is_unknown(self, assessor: str, name: str) -> bool:
        """Tell whether nobody knows which cup it was, in a set one of its cups."""
        return any(
            (assessor, code) in plan.course.unknown
            for plan in self.versions
            for code in name.split("-")
        )

    def is_unserved(self, assessor: str, name: str) -> bool:
        """Tell whether a presentation of this plan was planned and not served."""
        return any((assessor, code) in self.course.unserved for code in name.split("-"))
