"""Marks in pictures that wait for a person, and what was decided about them.

They are kept in ``answers.sqlite`` with their pictures, append-only like the
answers: a decision that is changed is a new row.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from ...forms.answers.answer import Answer
from ...forms.answers.uncertain_marks import Choice, Uncertain
from ..base.clock import now
from ..base.file_names import text_of
from .closed_flights import refuse_closed
from .store import Store

TOUCHED = "touched"  # the reason of a mark that a person chose on its page
EMPTY = ("empty_cup", "missing", "photo_page_missing", "no_worksheet")
"""Faults of what came back empty: none where a cup was not served."""
_COLUMNS = "session, assessor, code, attribute, file, place, reason, picture, choices, low, high"


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """What a person decided about a mark; `value` None leaves the answer open."""

    number: int
    value: float | str | None
    decided_at: str
    decided_by: str


def note(store: Store, marks: Iterable[Uncertain], plan: str = "") -> int:
    """Keep marks for review; one that is there already is kept once.

    Parameters
    ----------
    store : Store
    marks : iterable of Uncertain
    plan : str
        Version of the plan whose codes the marks name.

    Returns
    -------
    int
        How many of them are new and wait for a person.
    """
    with store.transaction():
        before = set(waiting(store))
        store.database.executemany(
            f"INSERT INTO uncertain (key, {_COLUMNS}, seen_at, plan) "  # noqa: S608 - our names
            "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT (key) DO NOTHING",
            [
                (
                    mark.key,
                    mark.session,
                    mark.assessor,
                    mark.code,
                    mark.attribute,
                    text_of(mark.file),
                    mark.place,
                    mark.reason,
                    mark.picture,
                    json.dumps([[choice.label, choice.value] for choice in mark.choices]),
                    mark.low,
                    mark.high,
                    now(),
                    plan,
                )
                for mark in marks
            ],
        )
        return len(set(waiting(store)) - before)


def waiting(store: Store) -> list[int]:
    """Return the numbers of the marks that wait, the order they were seen in.

    A mark waits until it was decided or its question was answered otherwise.
    """
    rows = store.database.execute(
        "SELECT id FROM uncertain u WHERE id NOT IN (SELECT uncertain FROM decisions) "
        "AND NOT EXISTS (SELECT 1 FROM answers a WHERE a.plan = u.plan "
        "AND a.assessor = u.assessor AND a.code = u.code AND a.attribute = u.attribute) "
        "ORDER BY id"
    ).fetchall()
    return [int(number) for (number,) in rows]


def waiting_of(store: Store) -> Counter[str]:
    """Count by assessor the answers that wait: marks in pictures, and what was refused of a cell.

    A cell that came back empty waits for nobody.
    """
    marks = [mark(store, number) for number in waiting(store)]
    faults = store.faults().values()
    refused = [one for one in faults if one.attribute and one.kind not in EMPTY]
    whose = [one.assessor for one in (*marks, *refused) if one is not None]
    return Counter(code for code in whose if code)


def left_open(store: Store) -> list[int]:
    """Return the numbers of the marks that a person left without an answer.

    Their questions have none from elsewhere either. A mark that somebody touched on its page had an
    answer, and who took it away meant to: it is not among them.
    """
    rows = store.database.execute(
        "SELECT id FROM uncertain u WHERE reason <> ? "
        "AND id IN (SELECT uncertain FROM decisions) "
        "AND (SELECT coalesce(d.number, d.text) FROM decisions d WHERE d.uncertain = u.id "
        "ORDER BY d.id DESC LIMIT 1) IS NULL "
        "AND (SELECT coalesce(a.number, a.text) FROM answers a WHERE a.plan = u.plan "
        "AND a.assessor = u.assessor AND a.code = u.code AND a.attribute = u.attribute "
        "ORDER BY a.id DESC LIMIT 1) IS NULL ORDER BY id",
        (TOUCHED,),
    ).fetchall()
    return [int(number) for (number,) in rows]


def mark(store: Store, number: int) -> Uncertain | None:
    """Return one mark, decided or not; None if there is no such number."""
    row = store.database.execute(
        f"SELECT {_COLUMNS} FROM uncertain WHERE id = ?",  # noqa: S608 - no input in it
        (number,),
    ).fetchone()
    if row is None:
        return None
    session, assessor, code, attribute, file, place, reason, picture, choices, low, high = row
    return Uncertain(
        session=session,
        assessor=assessor,
        code=code,
        attribute=attribute,
        file=file,
        place=place,
        reason=reason,
        picture=picture,
        choices=tuple(Choice(label, value) for label, value in json.loads(choices)),
        low=low,
        high=high,
    )


def decisions(store: Store) -> list[Decision]:
    """Return all decisions, first one first."""
    rows = store.database.execute(
        "SELECT uncertain, number, text, decided_at, decided_by FROM decisions ORDER BY id"
    ).fetchall()
    return [
        Decision(
            number=mark_number,
            value=number if text is None else text,
            decided_at=at,
            decided_by=by,
        )
        for mark_number, number, text, at, by in rows
    ]


def decide(store: Store, number: int, value: float | str | None, *, decided_by: str) -> None:
    """Record what a person decided, and put the answer in, both or neither.

    Deciding again about the same mark replaces the answer by a new row. A mark
    that was left open can be decided later. An answer that a person gave here, or touched
    on its page, is withdrawn when a person then says that nothing was marked.

    Raises
    ------
    KeyError
        If there is no mark of this number.
    ValueError
        If the value cannot be an answer here, or nobody is named.
    """
    found = mark(store, number)
    if found is None:
        raise KeyError(number)
    if not decided_by.strip():
        message = "a decision needs the name or code of who decided"
        raise ValueError(message)
    if not possible(found, value):
        message = f"{value!r} is not an answer to {found.attribute}"
        raise ValueError(message)
    amount = value if isinstance(value, (int, float)) else None
    text = text_of(value) if isinstance(value, str) else None
    with store.transaction():
        refuse_closed(store.folder)
        given = any(one.number == number and one.value is not None for one in decisions(store))
        store.database.execute(
            "INSERT INTO decisions (uncertain, number, text, decided_at, decided_by) "
            "VALUES (?, ?, ?, ?, ?)",
            (number, amount, text, now(), text_of(decided_by.strip())),
        )
        if value is None and found.reason != TOUCHED and not given:
            return
        answer = Answer(
            session=found.session,
            assessor=found.assessor,
            code=found.code,
            attribute=found.attribute,
            value="" if value is None else value,
            file=found.file,
            place=found.place,
            written=next((c.label for c in found.choices if c.value == value), str(value)),
        )
        (plan,) = store.database.execute(
            "SELECT plan FROM uncertain WHERE id = ?", (number,)
        ).fetchone()
        if value is None:
            store.withdraw(answer, plan=plan, decided_by=decided_by.strip())
        else:
            store.add([answer], plan=plan, correct=True, decided_by=decided_by.strip())


def possible(found: Uncertain, value: float | str | None) -> bool:
    """Tell whether a value can be the answer that a mark stands for."""
    if value is None:
        return True
    if found.reason == "words":
        return isinstance(value, str) and bool(value.strip())
    if any(choice.value == value for choice in found.choices):
        return True
    typed = isinstance(value, (int, float)) and found.low < found.high
    return typed and found.low <= float(value) <= found.high
