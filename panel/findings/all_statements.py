"""Everything that a report says, as a list; the box is built from it and from nothing else."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from ...forms.questions.question_types import Scorecard
from ...forms.questions.scorecard import default_scorecard
from ..session.bottles import Bottle
from ..session.primary_questions import Primary
from ..session.roster import Assessor
from . import (
    balance,
    camps,
    design,
    differences,
    factors,
    measured,
    people,
    power,
    primaries,
    promise,
    tainted,
    ticks,
)
from . import verdicts as decided
from .budget import Budget, judge
from .evidence import Evidence
from .statement import Line, Statement, in_short
from .verdicts import BottleVerdict

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, eq=False)
class Findings:
    """What one session says, computed once and without a figure.

    Attributes
    ----------
    evidence : Evidence
    """

    evidence: Evidence

    @cached_property
    def budget(self) -> Budget:
        """All questions, judged together."""
        return judge(self.evidence)

    @cached_property
    def statements(self) -> tuple[Statement, ...]:
        """All statements, in the order of the report's sections."""
        evidence, budget = self.evidence, self.budget
        return (
            *primaries.statements(evidence, budget),
            *decided.statements(evidence, budget),
            *design.statements(evidence, budget),
            *differences.statements(evidence, budget),
            *factors.effects(evidence, budget),
            *factors.statements(evidence, budget),
            *camps.statements(evidence),
            *promise.statements(evidence, budget),
            *promise.expected(evidence, budget),
            *balance.statements(evidence, budget),
            *measured.statements(evidence, budget),
            *ticks.statements(evidence, budget),
            *tainted.statements(evidence),
            *people.statements(evidence, budget),
            *power.statements(evidence, budget),
        )

    @cached_property
    def about_bottles(self) -> tuple[Statement, ...]:
        """Claims and hints of `statements` about bottles, words and makers."""
        evidence, budget = self.evidence, self.budget
        made = (
            *primaries.statements(evidence, budget),
            *differences.judged(evidence, budget),
            *promise.judged(evidence, budget),
            *promise.expected(evidence, budget),
            *(balance.statements(evidence, budget) if budget.claimed("majority") else ()),
            *(ticks.statements(evidence, budget) if budget.claimed("word") else ()),
            *(people.maker_statements(evidence, budget) if budget.claimed("maker") else ()),
        )
        return tuple(one for one in made if one.kind in ("claim", "hint"))

    @cached_property
    def within_budget(self) -> tuple[Statement, ...]:
        """All claims and hints of `statements`, those about single assessors last."""
        single = people.assessor_statements(self.evidence, self.budget)
        return (*self.about_bottles, *(one for one in single if one.kind == "claim"))

    @cached_property
    def verdicts(self) -> tuple[BottleVerdict, ...]:
        """The verdicts on every bottle that is no control."""
        return tuple(decided.verdicts(self.evidence, self.budget))

    def said(self, section: str, *kinds: str) -> list[Line]:
        """Return the sentences of one section, of some kinds or all."""
        return [
            one.sentence
            for one in self.statements
            if one.section == section and (not kinds or one.kind in kinds)
        ]

    @property
    def in_short(self) -> list[tuple[str, Line]]:
        """The lines of the box, each with the section it leads to."""
        return in_short(self.statements)


def statements_of_tables(
    scores: pd.DataFrame,
    *,
    bottles: Sequence[Bottle] | None = None,
    assessors: Mapping[str, str] | None = None,
    scorecard: Scorecard | None = None,
    primary: Sequence[Primary] = (),
    replicates: int | None = None,
    shuffles: int = 1999,
    seed: int = 1,
) -> tuple[Statement, ...]:
    """Return all statements of a report on a table, without files and figures.

    Parameters
    ----------
    scores : DataFrame
        Tidy rows: ``assessor, sample, attribute, score``; ``replicate`` and
        ``position`` if known. Attributes as the scorecard names them.
    bottles : sequence of Bottle, optional
        By default one of each name, nothing else known.
    assessors : mapping, optional
        Code to role; trained by default.
    scorecard : Scorecard, optional
        The default one.
    primary : sequence of Primary
    replicates : int, optional
        Planned; by default the largest that occurs.
    shuffles, seed : int

    Returns
    -------
    tuple of Statement
    """
    return findings_of_tables(
        scores,
        bottles=bottles,
        assessors=assessors,
        scorecard=scorecard,
        primary=primary,
        replicates=replicates,
        shuffles=shuffles,
        seed=seed,
    ).statements


def findings_of_tables(
    scores: pd.DataFrame,
    *,
    bottles: Sequence[Bottle] | None = None,
    assessors: Mapping[str, str] | None = None,
    scorecard: Scorecard | None = None,
    primary: Sequence[Primary] = (),
    replicates: int | None = None,
    shuffles: int = 1999,
    seed: int = 1,
) -> Findings:
    """Return the findings of a table: see `statements_of_tables`."""
    table = scores.copy()
    for column, value in (("session", "s"), ("replicate", 1), ("position", None)):
        if column not in table:
            table[column] = value
    table["replicate"] = table["replicate"].astype("Int64")
    table["position"] = table["position"].astype("Int64")
    codes = sorted(str(code) for code in table["assessor"].unique())
    roles = dict.fromkeys(codes, "trained") | dict(assessors or {})
    names = sorted(str(name) for name in table["sample"].unique())
    return Findings(
        Evidence(
            scores=table,
            bottles=tuple(bottles) if bottles else tuple(Bottle(name=name) for name in names),
            people=tuple(Assessor(code=code, role=roles[code]) for code in codes),
            scorecard=scorecard or default_scorecard(),
            primary=tuple(primary),
            replicates=replicates or int(table["replicate"].max()),
            shuffles=shuffles,
            seed=seed,
        )
    )
