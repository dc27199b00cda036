"""A session that was read without a fault."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from ...forms.questions.cards import EDITION
from ...forms.questions.question_types import Scorecard
from ...forms.questions.timed_part import TimedPart, timed_part
from ..base.problems import Problem
from .bottles import Bottle
from .methods import METHODS, Method
from .primary_questions import Primary, read_primary
from .roster import Assessor
from .settings import Settings


@dataclass(frozen=True, slots=True, kw_only=True)
class Session:
    """A session folder that was read without a fault.

    Attributes
    ----------
    folder : Path
    settings : Settings
    bottles : tuple of Bottle
    assessors : tuple of Assessor
        Spare ones are not among them; the plan adds those.
    scorecard : Scorecard
    cautions : tuple of Problem
        What is possible but rare, or allowed but unwise.
    edition : int
        Of the cards; a session goes on with that with which it was planned.
    """

    folder: Path
    settings: Settings
    bottles: tuple[Bottle, ...]
    assessors: tuple[Assessor, ...]
    scorecard: Scorecard
    cautions: tuple[Problem, ...]
    edition: int = EDITION

    @property
    def method(self) -> Method:
        """What the session's method asks, serves and needs."""
        return METHODS[self.settings.method]

    @property
    def samples(self) -> tuple[Bottle, ...]:
        """The bottles that are compared."""
        return tuple(bottle for bottle in self.bottles if bottle.use == "sample")

    @property
    def primary(self) -> tuple[Primary, ...]:
        """The questions that were named before the tasting."""
        compared = [bottle.name for bottle in self.samples if not bottle.control]
        makers = any(one.role == "maker" for one in self.assessors)
        given = self.settings.questions.primary
        return read_primary(given, self.scorecard, compared, makers=makers)[0]

    @property
    def timed(self) -> TimedPart | None:
        """What is asked while a sip is in the mouth; None where nothing is."""
        wished = self.settings.timed
        return timed_part(**wished.model_dump(), scorecard=self.scorecard)[0] if wished else None

    def bottle(self, name: str) -> Bottle:
        """Return a bottle by its name."""
        return next(bottle for bottle in self.bottles if bottle.name == name)
