"""A class without an expert: each beside the others, which says who is near, not who is right.

The findings are those of `kikichoko.analysis.performance.assessors`, at one rate of error for the
whole table, as far as they also lie beyond what is near enough beside an expert, the mean of the
others in the expert's place; what stays within it is no more than a hint to the teacher. Nothing is
called agreement with an expert, and nobody is one.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import pandas as pd
from scipy.special import fdtrc

from ..core.errors import NotEstimable
from ..core.options import at_least
from ..core.p_values import holds
from ..core.ratings_matrix import guess_scale
from ..core.result import Result, copies
from ..core.tidy_table import Tidy, as_tidy, tidy
from ..core.two_way import few_holes, fill_additive
from ..core.wording import fixed
from ..core.words import Sentence
from ..inference.adjusted_p import adjust
from ..performance.assessor_findings import assessors
from ..performance.assessors_result import Assessors
from .class_scores import ClassScores, centred, class_scores
from .expert_ground import BETWEEN_COLUMNS, SEPARATES, SLIP_COLUMNS, Ground, joint_means
from .student_findings import SCALE_KINDS, said_already, together
from .student_result import APART, AT_MOST, FEW_CELLS, ORDER, _share, look_again
from .student_tests import ALONE, NARROW, SURELY, WHOLE_CARD, WIDE, Test, tests_of

FEWEST = 4
"""Tasters, at least: beside fewer others there is no table to be near to."""
FAULT = "fault:"
WHOLE = "whole card"
FOUND = 0.5
"""Share of the error budget for what differs; the rest is for whose order follows the others'."""
OTHER_WAY = ("reversed", "guessing")
_ASPECTS = {
    "reversed": "direction", "narrow": "width", "wide": "width", "high": "level", "low": "level",
    "noisy": "repeatability",
}  # fmt: skip
ByPlace = Mapping[int, Mapping[str, Test]]
"""One taster's tests by the place of the attribute and by aspect."""


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
        Attributes on which the order is shown to go with the others' (Holm, over the table).
    alike : list of str
        Attributes on which the table does not tell the bottles apart: no order is judged there.
    whole_alike : bool
        There is no other.
    findings : DataFrame
        ``attribute`` ("" for the whole card), ``finding, value``: shown at one rate for the table.
    leaning : list of str
        Attributes on which the table tells the bottles apart and the order, without being shown
        to, leans the other way.
    """

    student: str
    sessions: list[str]
    cells: tuple[int, int]
    written: pd.DataFrame
    pairs: int
    apart: float | None
    follows: list[str]
    alike: list[str]
    whole_alike: bool
    findings: pd.DataFrame
    leaning: list[str] = field(default_factory=list)

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
            whose = Sentence.of("teaching.whose_none")
            return (("", look_again(self.leaning, whose)),) if not self.few else ()
        return tuple((str(row["attribute"]), self._advice(row)) for row in rows[:AT_MOST])

    def cannot_say(self) -> tuple[Sentence, ...]:
        """Say what these data cannot tell."""
        said = [Sentence.of("teaching.table_few")] if self.few else []
        if self.whole_alike:
            said.append(Sentence.of("teaching.table_alike_all"))
        elif self.alike and not self.few:
            said.append(Sentence.of("teaching.table_alike", names=self.alike))
        if self.apart is None and not self.few:
            said.append(Sentence.of("teaching.one_cup"))
        elif self.apart is not None and not self.few:
            said.append(Sentence.of("teaching.table_cups", n=self.pairs, points=fixed(self.apart)))
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
            cups=nothing, value=fixed(value), points=fixed(points),
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
    table: Tidy | pd.DataFrame,
    students: Sequence[str] | None = None,
    *,
    margin: float = 1.0,
    alpha: float = 0.05,
) -> BesideTable:
    """Set each taster beside the others, where no expert tasted.

    Parameters
    ----------
    table : Tidy or DataFrame
        Scores on lines; ticks and faults are left out.
    students : sequence of str, optional
        Everybody by default.
    margin : float
        Scale points from the others that are still near enough; state it before tasting.
    alpha : float
        Chance, at most, that anybody of a table without differences is told anything false: half
        of it for what differs, half for whose order follows.

    Returns
    -------
    BesideTable

    Raises
    ------
    OptionError
        For a margin that is not above 0.
    NotEstimable
        Below `FEWEST` tasters.
    """
    at_least("margin", margin, strictly=True)
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
    panel = assessors(tidy(pooled.drop(columns="session")), attributes=lines, alpha=FOUND * alpha)
    scores = class_scores(rows, lines)
    kept = _in_step(scores, panel)
    told_apart = _telling(kept, people)
    tests = _beside(scores, kept, people, told_apart, margin)
    rows_found = [_named_beside(row, tests, lines) for row in panel.findings.to_dict("records")]
    named = pd.DataFrame(rows_found, columns=panel.findings.columns)
    near = [not _beyond(row, tests, lines, alpha) for row in rows_found]
    shown = named["shown"].astype(bool) & ~np.array(near, dtype=bool)
    panel = replace(panel, findings=named.assign(shown=shown))
    follows = _following(tests, lines, (1 - FOUND) * alpha)
    counts = {who: int(scores.cups[scores.people.index(who)].sum()) for who in people}
    found = panel.findings.loc[shown]
    made = {}
    for who in people:
        mine = found[found["assessor"] == who]
        mine = mine.assign(attribute=mine["attribute"].where(mine["attribute"] != WHOLE, ""))
        whole = set(mine.loc[mine["attribute"] == "", "finding"])
        said = [
            name != "" and said_already(kind, whole)
            for name, kind in zip(mine["attribute"], mine["finding"], strict=True)
        ]
        mine = mine.loc[~np.array(said, dtype=bool)]
        scatter = [scores.scatter([who], place) for place in range(len(lines))]
        pairs = sum(one.df for one in scatter)
        ss = sum(one.df * one.sd**2 for one in scatter if one.df)
        other = set(mine.loc[mine["finding"].isin(OTHER_WAY), "attribute"])
        own = rows[rows["assessor"] == who]
        made[who] = Taster(
            student=who,
            sessions=sorted(own["session"].astype(str).unique()),
            cells=(counts[who], max(counts.values())),
            written=own[["session", "sample", "replicate", "attribute", "score"]],
            pairs=pairs,
            apart=float(APART * np.sqrt(ss / pairs)) if pairs else None,
            follows=[] if "" in other else [name for name in follows[who] if name not in other],
            alike=[name for name in lines if name not in told_apart],
            whole_alike=not told_apart,
            findings=mine[["attribute", "finding", "value"]].reset_index(drop=True),
            leaning=_leaning(tests[who], lines, told_apart),
        )
    return BesideTable(students=made, panel=panel)


def _leaning(own: ByPlace, lines: Sequence[str], telling: Sequence[str]) -> list[str]:
    """Name the attributes that tell the bottles apart on which one's slope is below 0."""
    slopes = {name: own.get(place, {}).get("direction") for place, name in enumerate(lines)}
    return [name for name in telling if (test := slopes[name]) is not None and test.value < 0]


def _in_step(scores: ClassScores, panel: Assessors) -> ClassScores:
    """Leave out who is shown to go another way: of the whole card, or of single attributes."""
    means = scores.means.copy()
    means[[scores.people.index(who) for who in panel.set_apart]] = np.nan
    found = panel.findings[panel.findings["shown"].astype(bool)]
    for row in found[found["finding"].isin(OTHER_WAY)].itertuples():
        if row.attribute != WHOLE:
            place = scores.attributes.index(str(row.attribute))
            means[scores.people.index(str(row.assessor)), :, place] = np.nan
    return scores._replace(means=means)


def _telling(scores: ClassScores, people: Sequence[str]) -> list[str]:
    """Return the attributes on which the table, or all but one of it, tells the bottles apart.

    Bottles against how these people differ over them (F); one alone may go another way, so each
    is left out in turn, and p counts as often as that is tried (Bonferroni).
    """
    empty = np.isnan(scores.means).transpose(2, 0, 1)
    full, _ = few_holes(empty)
    counted = [who for who in people if full[scores.people.index(who)]]
    groups = [counted, *([one for one in counted if one != who] for who in counted)]
    told = []
    for place, name in enumerate(scores.attributes):
        p = [_told_apart(scores, group, place) for group in groups]
        if holds(min(p) * len(p), SEPARATES):
            told.append(name)
    return told


def _told_apart(scores: ClassScores, group: Sequence[str], place: int) -> float:
    """Return p of bottles against bottle x taster; 1 where that cannot be tested."""
    each = np.array([scores.of(who)[:, place] for who in group])
    each = each[~np.isnan(each).all(axis=1)] if len(each) else each
    if len(each) < 2:
        return 1.0
    known = ~np.isnan(each).all(axis=0)
    each, session = each[:, known], scores.session[known]
    between = int(known.sum()) - np.unique(session).size
    rest = between * (len(each) - 1) - int(np.isnan(each).sum())
    if between < 1 or rest < 1:
        return 1.0
    try:
        each = fill_additive(each)
    except NotEstimable:
        return 1.0
    left = centred(each.T, session).T
    middle = left.mean(axis=0)
    error = float(((left - middle) ** 2).sum()) / rest
    size = len(each) * float((middle**2).sum()) / between
    if not error > 0:
        return 0.0 if size > 0 else 1.0
    return float(fdtrc(between, rest, size / error))


def _beside(
    scores: ClassScores,
    kept: ClassScores,
    people: Sequence[str],
    telling: list[str],
    margin: float,
) -> dict[str, ByPlace]:
    """Test each against the mean of those of the others who are kept, as against an expert."""
    made: dict[str, ByPlace] = {}
    for who in people:
        ground = _ground(kept, [one for one in people if one != who], telling)
        by_place: dict[int, dict[str, Test]] = {}
        for test in tests_of(
            scores, ground, who, sessions=scores.sessions, margin=margin, others=ALONE
        ):
            by_place.setdefault(test.attribute, {})[test.aspect] = test
        made[who] = by_place
    return made


def _ground(scores: ClassScores, others: Sequence[str], telling: list[str]) -> Ground:
    """Put the mean of some people in the expert's place."""
    means = joint_means(scores, others)
    names = scores.attributes
    away = np.stack([centred(scores.of(who) - means, scores.session) for who in others])
    with np.errstate(all="ignore"):
        spread = np.nan_to_num(np.nanmean(away**2, axis=(0, 1)))
    number = max(len(others) - 1, 1)
    return Ground(
        means=means,
        scatter={name: scores.scatter(others, place) for place, name in enumerate(names)},
        borrowed=False,
        error=dict(zip(names, (spread / number).tolist(), strict=True)),
        order_told=telling,
        alike=[name for name in names if name not in telling],
        parted=[],
        level_room=dict.fromkeys(names, 0.0),
        between=pd.DataFrame(columns=BETWEEN_COLUMNS),
        slips=pd.DataFrame(columns=SLIP_COLUMNS),
        unsettled=False,
        sides=pd.DataFrame(),
    )


def _beyond(
    row: Mapping[object, object],
    tests: Mapping[str, ByPlace],
    lines: Sequence[str],
    alpha: float,
) -> bool:
    """Tell whether what differs from the rest lies beyond what is near enough."""
    kind, attribute = str(row["finding"]), str(row["attribute"])
    place = WHOLE_CARD if attribute == WHOLE else lines.index(attribute)
    own = tests[str(row["assessor"])]
    mine = own.get(place, {})
    slope = mine.get("direction")
    if kind in (*SCALE_KINDS, "crossing") and slope is None:
        return False
    if kind == "guessing" and slope is not None:
        return not (slope.value > 0 and holds(slope.p, alpha))
    if kind not in _ASPECTS:
        return True
    test = mine.get(_ASPECTS[kind])
    if test is None or not holds(test.p, alpha):
        return False
    if place == WHOLE_CARD and not together(test, own):
        return False
    match kind:
        case "reversed" | "low":
            return test.value < 0
        case "narrow":
            # Who may as well not follow at all is not said to use a small part of the line.
            return test.value < NARROW and test.low > 0
        case "wide":
            return test.value > WIDE
        case _:
            return test.value > 0


def _named_beside(
    row: dict[Hashable, Any], tests: Mapping[str, ByPlace], lines: Sequence[str]
) -> dict[Hashable, Any]:
    """Name a slope by its limits beside the others without the taster, which bend nothing.

    Who does not follow, and surely goes the other way, is reversed; who uses a small part of
    the line, and may as well not follow, is said not to follow.
    """
    attribute = str(row["attribute"])
    place = WHOLE_CARD if attribute == WHOLE else lines.index(attribute)
    test = tests[str(row["assessor"])].get(place, {}).get("direction")
    if test is None:
        return row
    kind = str(row["finding"])
    if kind == "guessing" and test.high < 0:
        return row | {"finding": "reversed", "value": test.value, "low": test.low,
                      "high": test.high}  # fmt: skip
    if kind == "narrow" and test.limits(SURELY)[0] <= 0:
        return row | {"finding": "guessing"}
    return row


def _following(
    tests: Mapping[str, ByPlace], lines: Sequence[str], alpha: float
) -> dict[str, list[str]]:
    """Return for each the attributes on which the order is shown to follow (Holm over all)."""
    flat = [
        (who, mine["direction"])
        for who, own in tests.items()
        for place, mine in own.items()
        if "direction" in mine and place != WHOLE_CARD
    ]
    p = adjust(np.array([test.p for _, test in flat])).tolist() if flat else []
    found: dict[str, list[str]] = {who: [] for who in tests}
    for (who, test), value in zip(flat, p, strict=True):
        if test.value > 0 and holds(value, alpha):
            found[who].append(lines[test.attribute])
    return found
