"""From stored answers to served sets and right answers; joins answers and key."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from ...forms.questions.sheet import sheet_with
from ..session.presented_sets import Set

if TYPE_CHECKING:
    import pandas as pd

    from ..plan.open_plan import OpenPlan
    from ..returns.store import Store
    from ..session.session import Session
    from .opening import Key


Row = tuple[object, ...]
"""One row of the tidy table: see `COLUMNS` of `opened_tables`."""


def sets(plan: OpenPlan, store: Store, key: Key | None) -> list[Set]:
    """Return the presentations from which an answer came back.

    Presentations of a later plan are numbered on after those of an earlier one.
    """
    first: dict[int, int] = {}
    last = 0
    for version in reversed(plan.versions):
        first[version.number] = last
        last += max((pour.presentation for pour in version.pours), default=0)
    given: dict[tuple[str, int, tuple[str, ...]], dict[str, Any]] = defaultdict(dict)
    for stored in store.answers():
        answer = stored.answer
        by = plan.holding(answer.assessor, answer.code)
        if by is None or plan.is_unknown(answer.assessor, answer.code):
            continue
        sheet = sheet_with(by.own_sheets, answer.assessor, answer.code)
        shown = sheet.presentation(answer.code)
        if shown is not None and shown.counted:
            number = first[by.number] + shown.number
            given[answer.assessor, number, shown.codes][answer.attribute] = answer.value
    made = []
    for (assessor, number, codes), answers in given.items():
        bottles = tuple(key.cups[assessor, code].bottle for code in codes) if key else ()
        made.append(
            Set(assessor=assessor, number=number, codes=codes, bottles=bottles, answers=answers)
        )
    return sorted(made, key=lambda one: (one.assessor, one.number))


def right(session: Session, one: Set) -> bool | None:
    """Tell whether the answer to a set is right; None if it cannot be used or none is right."""
    rule = session.method.right
    return None if rule is None else rule(one, session.settings.test)


def served_table(session: Session, made: Sequence[Set]) -> pd.DataFrame:
    """Write the presentations out: what was served, what was said, what was right.

    Columns ``assessor, presentation, served, codes, answer, correct, words``; `correct` is
    missing where there is no right and wrong or the answer cannot be used.
    """
    import pandas as pd

    rows = []
    for one in made:
        said = {name: value for name, value in one.answers.items() if name != "words"}
        verdict = right(session, one)
        rows.append(
            {
                "assessor": one.assessor,
                "presentation": one.number,
                "served": " / ".join(one.bottles),
                "codes": " ".join(one.codes),
                "answer": "; ".join(
                    value if isinstance(value, str) else f"{name} {value:g}"
                    for name, value in said.items()
                ),
                "correct": pd.NA if verdict is None else int(verdict),
                "words": one.answers.get("words", ""),
            }
        )
    columns = ["assessor", "presentation", "served", "codes", "answer", "correct", "words"]
    return pd.DataFrame(rows, columns=columns).astype({"correct": "Int64"})


def set_rows(
    session: Session, plan: OpenPlan, store: Store, key: Key | None
) -> tuple[list[Row], list[Row], int]:
    """Return rows of the tidy table and of the free words; no answer is left out.

    Of a ranking: one row a bottle (a code, without the key), the score being
    its place. Of other tests: one row a presentation, named by its codes; the
    score is 1 or 0 for right or wrong once the key is open, before that the
    place of the chosen cup.
    """
    numbers: list[Row] = []
    words: list[Row] = []
    name = session.settings.name
    for one in sets(plan, store, key):
        shown = "-".join(one.codes)
        for attribute, value in one.answers.items():
            if attribute == "words":
                words.append((name, one.assessor, shown, None, one.number, attribute, value))
            elif attribute.startswith("order:"):
                code = attribute.partition(":")[2]
                sample = one.bottle(code) if key else code
                place = one.codes.index(code) + 1
                numbers.append((name, one.assessor, sample, one.number, place, "order", value))
            elif isinstance(value, str) and not key:
                place = one.codes.index(value) + 1
                numbers.append((name, one.assessor, shown, None, one.number, attribute, place))
            elif not isinstance(value, str):
                numbers.append((name, one.assessor, shown, None, one.number, attribute, value))
        verdict = right(session, one) if key else None
        if verdict is not None:
            row = (name, one.assessor, shown, None, one.number, session.settings.method)
            numbers.append((*row, int(verdict)))
    return numbers, words, 0
