"""A class without an expert: each beside the others, which says who is near, not who is right.

The findings are those of `kikichoko.analysis.performance.assessors`, at its one rate of error for
the whole table; nothing is called agreement with an expert, and nobody is one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from ..core.errors import NotEstimable
from ..core.ratings_matrix import guess_scale
from ..core.result import Result, copies
from ..core.tidy_table import Tidy, as_tidy, tidy
from ..core.words import Sentence
from ..performance.assessor_findings import assessors
from ..performance.assessors_result import Assessors
from .class_scores import class_scores
from .student_result import APART, AT_MOST, ORDER, _share

FEWEST = 4
"""Tasters, at least: beside fewer others there is no table to be near to."""
FEW_CELLS = 1 / 3
"""Who filled in less than this share of the places is shown them, and no more."""
FAULT = "fault:"
WHOLE = "whole card"


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Taster(Result):
    """One taster beside the others.

    Attributes
    ----------
    student : str
    sessions : list of str
    cells : tuple of int
        Places on lines that were filled in, of the most that anybody filled in.
    written : DataFrame
        ``session, sample, replicate, attribute, score``: what there is, of who filled in few.
    pairs : int
        Pairs of cups of one bottle on one line.
    apart : float or None
        Mean distance of such a pair, scale points (normal scatter).
    follows : list of str
        Attributes on which the order goes with the others' (95 % limits of the slope above 0, so
        2.5 % an attribute that follows nothing).
    findings : DataFrame
        ``attribute`` ("" for the whole card), ``finding, value``: shown at one rate for the table.
    """

    student: str
    sessions: list[str]
    cells: tuple[int, int]
    written: pd.DataFrame
    pairs: int
    apart: float | None
    follows: list[str]
    findings: pd.DataFrame

    @property
    def few(self) -> bool:
        """So few places were filled in that nothing is made of them."""
        return self.cells[0] < FEW_CELLS * self.cells[1]

    def about(self) -> tuple[Sentence, ...]:
        """Say what one is set beside."""
        given, most = self.cells
        return (
            Sentence.of("teaching.table_about"),
            Sentence.of("teaching.table_cells", n=given, of=most),
        )

    def went_well(self) -> tuple[Sentence, ...]:
        """Say what goes with the table."""
        if self.follows and not self.few:
            whose = Sentence.of("teaching.whose_none")
            return (Sentence.of("teaching.follows", whose=whose, names=self.follows),)
        return (Sentence.of("teaching.table_start"),)

    def to_work_on(self) -> tuple[tuple[str, Sentence], ...]:
        """Return at most `AT_MOST` findings: attribute, sentence."""
        rows = [row for row in self.findings.to_dict("records") if row["finding"] in ORDER]
        rows.sort(key=lambda row: ORDER.index(row["finding"]))
        if not rows:
            return (("", Sentence.of("teaching.do_more")),) if not self.few else ()
        return tuple((str(row["attribute"]), self._advice(row)) for row in rows[:AT_MOST])

    def cannot_say(self) -> tuple[Sentence, ...]:
        """Say what these data cannot tell."""
        said = [Sentence.of("teaching.table_few")] if self.few else []
        if self.apart is None and not self.few:
            said.append(Sentence.of("teaching.one_cup"))
        elif self.apart is not None and not self.few:
            said.append(
                Sentence.of("teaching.table_cups", n=self.pairs, points=f"{self.apart:.1f}")
            )
        return tuple(said)

    def sentences(self) -> tuple[Sentence, ...]:
        """Say everything that stands on the page, in its order."""
        work = [text for _, text in self.to_work_on()]
        return (*self.about(), *self.went_well(), *work, *self.cannot_say())

    def tables(self) -> dict[str, pd.DataFrame]:
        """Return what was written, of who filled in few places."""
        return copies(**{"teaching.heading_written": self.written}) if self.few else {}

    def _advice(self, row: dict[object, object]) -> Sentence:
        nothing = Sentence.of("teaching.nothing")
        value, card = float(str(row["value"])), "_card" if row["attribute"] == "" else ""
        points = self.apart or 0.0 if row["finding"] == "noisy" else abs(value)
        return Sentence.of(
            f"teaching.do_{row['finding']}{card}", attribute=row["attribute"],
            whose=Sentence.of("teaching.whose_none"), steady=nothing, order=nothing, more=nothing,
            cups=nothing, value=f"{value:.1f}", points=f"{points:.1f}",
            share=Sentence.of(f"assessors.share_{_share(value)}"),
        )  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class BesideTable(Result):
    """A class without an expert.

    Attributes
    ----------
    students : dict of str to Taster
    panel : Assessors
        Everybody beside the rest.
    """

    students: dict[str, Taster]
    panel: Assessors

    def sentences(self) -> tuple[Sentence, ...]:
        """Say to the teacher: no reference, how much each filled in, who differs from the rest."""
        said = [Sentence.of("teaching.table_class", n=len(self.students))]
        said += [
            Sentence.of("teaching.table_they", student=code, n=one.cells[0], of=one.cells[1])
            for code, one in sorted(self.students.items())
            if one.cells[0] < one.cells[1]
        ]
        return (*said, *self.panel.sentences())

    def tables(self) -> dict[str, pd.DataFrame]:
        """Return the tables of the panel."""
        return self.panel.tables()


def beside_the_table(
    table: Tidy | pd.DataFrame, students: Sequence[str] | None = None, *, alpha: float = 0.05
) -> BesideTable:
    """Set each taster beside the others, where no expert tasted.

    Parameters
    ----------
    table : Tidy or DataFrame
        Scores on lines; ticks and faults are left out.
    students : sequence of str, optional
        Everybody by default.
    alpha : float
        Chance, at most, that anybody of a table without differences is told anything.

    Returns
    -------
    BesideTable

    Raises
    ------
    NotEstimable
        Below `FEWEST` tasters.
    """
    checked = as_tidy(table)
    people = list(students or checked.assessors)
    if len(people) < FEWEST:
        raise NotEstimable("teaching.table_small", n=len(people), least=FEWEST)
    lines = [
        name
        for name in checked.attributes
        if not name.startswith(FAULT)
        and guess_scale(checked.of(name)["score"].to_numpy(float)) != "nominal"
    ]
    rows = checked.data[checked.data["assessor"].isin(people)]
    rows = rows[rows["attribute"].isin(lines)]
    pooled = rows.assign(sample=rows["session"].astype(str) + " · " + rows["sample"].astype(str))
    panel = assessors(tidy(pooled.drop(columns="session")), attributes=lines, alpha=alpha)
    scores = class_scores(rows, lines)
    counts = {who: int(scores.cups[scores.people.index(who)].sum()) for who in people}
    found = panel.findings.loc[panel.findings["shown"].astype(bool)]
    made = {}
    for who in people:
        mine = found[found["assessor"] == who]
        mine = mine.assign(attribute=mine["attribute"].where(mine["attribute"] != WHOLE, ""))
        if (mine["attribute"] == "").any():
            mine = mine[mine["attribute"] == ""]
        scatter = [scores.scatter([who], place) for place in range(len(lines))]
        pairs = sum(one.df for one in scatter)
        ss = sum(one.df * one.sd**2 for one in scatter if one.df)
        slopes = panel.measures[panel.measures["assessor"] == who]
        told = set(mine["attribute"])
        same = [str(name) for name in slopes.loc[slopes["slope_low"] > 0, "attribute"]]
        own = rows[rows["assessor"] == who]
        made[who] = Taster(
            student=who,
            sessions=sorted(own["session"].astype(str).unique()),
            cells=(counts[who], max(counts.values())),
            written=own[["session", "sample", "replicate", "attribute", "score"]],
            pairs=pairs,
            apart=float(APART * np.sqrt(ss / pairs)) if pairs else None,
            follows=[] if "" in told else [name for name in same if name not in told],
            findings=mine[["attribute", "finding", "value"]].reset_index(drop=True),
        )
    return BesideTable(students=made, panel=panel)
