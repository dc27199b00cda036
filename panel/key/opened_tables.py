"""From stored answers to the tidy table; the only place that joins answers and key."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ...forms.answers.answer import REMARK, is_remark
from ...forms.questions.question_types import Kind, Question
from ...forms.questions.sheet import versions
from ..plan.open_plan import OpenPlan
from ..returns.store import Store
from ..returns.turned_cups import is_beneath, turned_cups
from ..session.session import Session
from .opening import Key
from .set_answers import Row, set_rows

if TYPE_CHECKING:
    import pandas as pd

COLUMNS = ["session", "assessor", "sample", "replicate", "position", "attribute", "score"]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Scores:
    """The answers of a session as tables.

    Attributes
    ----------
    scores : DataFrame
        The tidy table, numbers only, the warm-up left out.
    words : DataFrame
        Free words: session, assessor, sample, replicate, position, attribute, text.
    remarks : DataFrame
        The same columns: what was written beside an answer, which `attribute` names.
    uncounted : int
        Answers about the warm-up, kept in the store and left out here.
    """

    scores: pd.DataFrame
    words: pd.DataFrame
    remarks: pd.DataFrame
    uncounted: int


def tables(session: Session, plan: OpenPlan, store: Store, key: Key | None = None) -> Scores:
    """Write the stored answers out as tables.

    Without the key, `sample` is the blind code and replicates stay unknown.
    """
    import pandas as pd

    numbers, words, uncounted = _rows(session, plan, store, key)
    beside = [
        (*row[:5], str(row[5]).removesuffix(REMARK), row[6])
        for row in words
        if is_remark(str(row[5]))
    ]
    words = [row for row in words if not is_remark(str(row[5]))]
    scores = pd.DataFrame(with_unticked(numbers, session.scorecard), columns=COLUMNS)
    scores["replicate"] = scores["replicate"].astype("Int64")
    scores["position"] = scores["position"].astype("Int64")
    scores["score"] = scores["score"].astype(float)
    rank = {attribute: place for place, attribute in enumerate(_attributes(session))}
    scores = scores.sort_values(
        ["attribute", "assessor", "position"],
        key=lambda column: column.map(rank) if column.name == "attribute" else column,
        kind="stable",
    ).reset_index(drop=True)
    return Scores(
        scores=scores,
        words=pd.DataFrame(words, columns=[*COLUMNS[:-1], "text"]),
        remarks=pd.DataFrame(beside, columns=[*COLUMNS[:-1], "text"]),
        uncounted=uncounted,
    )


def any_counts(session: Session, plan: OpenPlan, store: Store) -> bool:
    """Tell whether an answer is in that counts; the key stays closed."""
    numbers, *_ = _rows(session, plan, store, None)
    return bool(numbers)


def _rows(
    session: Session, plan: OpenPlan, store: Store, key: Key | None
) -> tuple[list[Row], list[Row], int]:
    rows = set_rows if session.method.compares else _profile_rows
    return rows(session, plan, store, key)


def _profile_rows(
    _: Session, plan: OpenPlan, store: Store, key: Key | None
) -> tuple[list[Row], list[Row], int]:
    """Return one row an answer, the free words, and how many answers are about the warm-up."""
    cups = {
        (pour.assessor, pour.code): pour for version in plan.versions for pour in version.every_pour
    }
    turned = turned_cups(plan, store).codes
    number = {
        (sheet.assessor, shown.name): shown.number
        for version in plan.versions
        for one in version.own_sheets
        for sheet in versions(version.own_sheets, one)
        for shown in sheet.presentations
        if sheet.alone
    }
    numbers: list[Row] = []
    words: list[Row] = []
    uncounted = 0
    for stored in store.answers():
        answer = stored.answer
        if is_beneath(answer.attribute):
            continue
        code = turned.get((answer.assessor, answer.code), answer.code)
        pour = cups.get((answer.assessor, code))
        if pour is None or not pour.counted or plan.is_unknown(answer.assessor, code):
            uncounted += 1
            continue
        sample, replicate = code, None
        if key is not None:
            cup = key.cups[answer.assessor, code]
            sample, replicate = cup.bottle, cup.replicate
        place = number.get((answer.assessor, answer.code), pour.presentation)
        row = (answer.session, answer.assessor, sample, replicate, place)
        listed = words if isinstance(answer.value, str) else numbers
        listed.append((*row, answer.attribute, answer.value))
    return numbers, words, uncounted


def with_unticked(numbers: list[Row], questions: Iterable[Question]) -> list[Row]:
    """Add a 0 for every word or fault that an assessor left out of a question answered.

    On a sheet an empty place beside a word means that it does not apply. A long
    typed table lists what applies and leaves the rest out: who answered anything
    of the question for a cup has judged its other words as well.
    """
    whole = {
        attribute: question.attributes
        for question in questions
        if question.kind in {Kind.TICKS, Kind.FAULTS}
        for attribute in question.attributes
    }
    given = {(*row[:5], row[5]) for row in numbers}
    cups = dict.fromkeys((row[:5], whole[row[5]]) for row in numbers if row[5] in whole)
    added = [
        (*cup, attribute, 0.0)
        for cup, attributes in cups
        for attribute in attributes
        if (*cup, attribute) not in given
    ]
    return [*numbers, *added]


def _attributes(session: Session) -> list[str]:
    return [attribute for question in session.scorecard for attribute in question.attributes]
