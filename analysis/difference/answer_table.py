"""Answers of a difference test that stand in a table, one row a presentation."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from ..core.errors import NotEstimable, TableError
from ..core.words import Sentence


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class RightAnswers:
    """Right and wrong answers by assessor.

    Attributes
    ----------
    assessors : tuple of str
        In order of appearance.
    correct, n : integer array, shape (assessors,)
        Right answers and answers of each.
    in_order : tuple of int
        All answers, 1 right and 0 wrong, in the order of the table.
    dropped : int
        Rows without an answer.
    """

    assessors: tuple[str, ...]
    correct: npt.NDArray[np.int64]
    n: npt.NDArray[np.int64]
    in_order: tuple[int, ...]
    dropped: int


def right_answers(
    table: pd.DataFrame, *, assessor: str = "assessor", answer: str = "correct"
) -> RightAnswers:
    """Count right answers by assessor.

    Parameters
    ----------
    table : DataFrame
        One row a presentation, with the columns `assessor` and `answer`
        (1 right, 0 wrong; an empty cell is no answer).
    assessor, answer : str
        Names of the columns.

    Raises
    ------
    TableError
        For a missing column, a missing assessor or an answer that is not 0 or 1.
    NotEstimable
        If there is no answer at all.

    Examples
    --------
    >>> rows = pd.DataFrame({"assessor": ["A", "B", "A"], "correct": [1, 0, 1]})
    >>> found = right_answers(rows)
    >>> found.correct.tolist(), found.n.tolist()
    ([2, 0], [2, 1])
    """
    rows = _rows(table, assessor, answer)
    given = pd.to_numeric(rows["answer"], errors="coerce")
    wrong = ~given.isin([0, 1])
    if wrong.any():
        raise TableError(
            tuple(
                Sentence.of("answer_table.not_right", row=row, column=answer, found=repr(found))
                for row, found in zip(
                    rows.loc[wrong, "row"], rows.loc[wrong, "answer"], strict=True
                )
            )
        )
    rows = rows.assign(answer=given.astype(int))
    by = rows.groupby("assessor", sort=False)["answer"]
    return RightAnswers(
        assessors=tuple(str(name) for name in by.sum().index),
        correct=by.sum().to_numpy().astype(np.int64),
        n=by.count().to_numpy().astype(np.int64),
        in_order=tuple(int(x) for x in rows["answer"]),
        dropped=len(table) - len(rows),
    )


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class YesAnswers:
    """Answers of "yes" to two kinds of presentation, by assessor.

    Attributes
    ----------
    yes_first, first, yes_second, second : tuple of int
        "Yes" and presentations of the first and of the second kind; one entry
        an assessor, or a single one when every assessor answered once.
    dropped : int
        Rows without an answer.
    """

    yes_first: tuple[int, ...]
    first: tuple[int, ...]
    yes_second: tuple[int, ...]
    second: tuple[int, ...]
    dropped: int


def yes_answers(
    table: pd.DataFrame,
    *,
    kinds: tuple[str, str],
    assessor: str = "assessor",
    served: str = "served",
    answer: str = "answer",
) -> YesAnswers:
    """Count "yes" by assessor and by what was served.

    Parameters
    ----------
    table : DataFrame
        One row a presentation. `served` and `answer` hold one of `kinds`.
    kinds : tuple of str
        For example ``("A", "not A")`` or ``("same", "different")``; an answer
        of the first one is "yes".
    assessor, served, answer : str
        Names of the columns.

    Raises
    ------
    TableError
        For a missing column, a missing assessor, or a word that is not one of `kinds`.
    NotEstimable
        If there is no answer at all.

    Examples
    --------
    >>> rows = pd.DataFrame(
    ...     {"assessor": ["1", "2"], "served": ["A", "not A"], "answer": ["A", "A"]}
    ... )
    >>> yes_answers(rows, kinds=("A", "not A")).yes_second
    (1,)
    """
    rows = _rows(table, assessor, answer, served)
    faults = []
    for name, column in (("served", served), ("answer", answer)):
        rows[name] = rows[name].map(lambda cell: str(cell).strip())
        bad = ~rows[name].isin(kinds)
        faults += [
            Sentence.of(
                "answer_table.not_kind",
                row=row,
                column=column,
                found=repr(found),
                a=kinds[0],
                b=kinds[1],
            )
            for row, found in zip(rows.loc[bad, "row"], rows.loc[bad, name], strict=True)
        ]
    if faults:
        raise TableError(tuple(faults))
    rows["yes"] = (rows["answer"] == kinds[0]).astype(int)
    once = not rows["assessor"].duplicated().any()
    group = pd.Series(0, index=rows.index) if once else rows["assessor"]
    counts = []
    for kind in kinds:
        part = rows["yes"].where(rows["served"] == kind)
        by = part.groupby(group, sort=False)
        counts += [by.sum().astype(int).tolist(), by.count().astype(int).tolist()]
    yes_first, first, yes_second, second = (tuple(column) for column in counts)
    return YesAnswers(
        yes_first=yes_first,
        first=first,
        yes_second=yes_second,
        second=second,
        dropped=len(table) - len(rows),
    )


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Choices:
    """How often either of two samples was chosen, and how often none."""

    names: tuple[str | Sentence, str | Sentence]
    first: int
    second: int
    ties: int
    dropped: int


def choices(
    table: pd.DataFrame,
    *,
    assessor: str = "assessor",
    answer: str = "chosen",
    tie: str = "none",
    first: str | None = None,
) -> Choices:
    """Count choices of a paired comparison, one answer an assessor.

    Parameters
    ----------
    table : DataFrame
        One row an assessor; `answer` holds the name of the chosen sample, or `tie`.
    assessor, answer : str
        Names of the columns.
    tie : str
        The word that stands for "no difference". An empty cell is no answer.
    first : str, optional
        Which sample to count first; by default the first in the alphabet.

    Raises
    ------
    TableError
        For a missing column or more than two names.
    NotEstimable
        If an assessor answered twice, or nobody chose.
    """
    rows = _rows(table, assessor, answer)
    chosen = rows["answer"].map(lambda cell: str(cell).strip())
    names: list[str | Sentence] = sorted(set(chosen) - {tie})
    if first is not None and first in names:
        names = [first, *[name for name in names if name != first]]
    if len(names) > 2:
        raise TableError((Sentence.of("answer_table.names", column=answer, have=names, tie=tie),))
    if rows["assessor"].duplicated().any():
        raise NotEstimable("answer_table.twice")
    counts = Counter[str | Sentence](chosen)
    names = (names + [Sentence.of("answer_table.other")] * 2)[:2]
    return Choices(
        names=(names[0], names[1]),
        first=counts[names[0]],
        second=counts[names[1]],
        ties=counts[tie],
        dropped=len(table) - len(rows),
    )


def _rows(
    table: pd.DataFrame, assessor: str, answer: str, served: str | None = None
) -> pd.DataFrame:
    """Return the rows with an answer, columns by their standard names, and ``row`` for messages."""
    names = {"assessor": assessor, "answer": answer}
    if served is not None:
        names["served"] = served
    missing = [name for name in names.values() if name not in table.columns]
    if missing:
        have = [str(name) for name in table.columns]
        raise TableError(
            tuple(Sentence.of("table.no_column", column=name, have=have) for name in missing)
        )
    rows = pd.DataFrame({standard: table[given] for standard, given in names.items()})
    rows["row"] = np.arange(1, len(rows) + 1)
    rows = rows[rows["answer"].notna() & (rows["answer"].astype(str).str.strip() != "")]
    faults = [
        Sentence.of("table.no_name", row=row, column=names[name])
        for name in names
        if name != "answer"
        for row in rows.loc[rows[name].isna(), "row"]
    ]
    if faults:
        raise TableError(tuple(faults))
    if rows.empty:
        raise NotEstimable("answer_table.empty", column=answer)
    rows["assessor"] = rows["assessor"].map(_text)
    return rows.reset_index(drop=True)


def _text(value: object) -> str:
    """Write a name as text; 101.0 read from a spreadsheet is the name 101."""
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return str(value).strip()
