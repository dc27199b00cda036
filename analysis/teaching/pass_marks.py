"""Who may begin training as an assessor? Pass marks with their errors, and what came of it.

Four tasks: solutions are named (matching), a weak one is told from water (triangles),
concentrations are put in order (ranking), aromas are described. The first three decide, each
with a pass mark that is stated before anybody tastes: somebody who guesses in any one of them
passes it with at most `RISK`, somebody who is able (`ABLE`) passes all three in `POWER` or more.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from itertools import permutations
from math import ceil, factorial

import numpy as np
import pandas as pd
from scipy.special import bdtrc

from ...rounding import rounded
from ..core.errors import NotEstimable, OptionError, TableError
from ..core.result import Result, copies
from ..core.wording import percent
from ..core.words import Sentence
from ..inference.proportions import wilson

TASKS = ("matching", "detection", "ranking", "description")
DECIDE = TASKS[:3]
"""Tasks that decide; what somebody who guesses would write in a description is not known."""
RISK = 0.05
"""Chance, at most, that somebody who guesses in a task passes it."""
POWER = 0.8
"""Chance, at least, that somebody who is able passes all tasks that decide."""
MATCHED = 0.8
"""Share of the solutions to be named (ISO 8586, from memory)."""
DESCRIBED = 0.65
"""Share of the points of a description (ISO 8586, from memory)."""
STEPS = 4
"""Concentrations in one row to be put in order."""
ABLE = {"matching": 0.95, "detection": 0.8, "ranking": 2.0}
"""Who is able: names a solution in 95 of 100; tastes the weak one in 80 of 100 and guesses
else; tells neighbouring concentrations apart by two standard deviations, 92 of 100 pairs."""
DRAWS = 40_000
ANSWER_COLUMNS = ("date", "assessor", "task", "item", "right")


@dataclass(frozen=True, slots=True, kw_only=True)
class PassMark:
    """The pass mark of one task: `needed` of `n` right, its risk, and how often able people pass.

    `risk` and `able` are nan for the description, whose chance is not known.
    """

    task: str
    n: int
    needed: float
    risk: float
    able: float


def pass_mark(task: str, n: int) -> PassMark:
    """Return the pass mark of a task with `n` items.

    Parameters
    ----------
    task : {"matching", "detection", "ranking", "description"}
    n : int
        Solutions that are named, triangles, rows of `STEPS` cups, or cups described.

    Returns
    -------
    PassMark
        `needed` is n + 1 where not even all right would hold `RISK`.

    Raises
    ------
    OptionError
        For an unknown task, or fewer than one item.

    Notes
    -----
    Matching: `MATCHED` of n, or more if guessing needs it; who guesses uses each name once
    (matches of a random permutation) or any name each time (binomial, 1 in n), whichever passes
    oftener. Detection: binomial with 1 in 3. Ranking: a row is right where no cup stands more
    than one place off; of all orders of m cups the (m + 1)-th Fibonacci number are (enumerated).

    Examples
    --------
    >>> pass_mark("detection", 8).needed, round(pass_mark("detection", 8).risk, 4)
    (6, 0.0197)
    """
    if task not in TASKS:
        raise OptionError("screening.unknown_task", found=task, known=list(TASKS))
    if n < 1:
        raise OptionError("screening.no_items", task=task)
    if task == "description":
        return PassMark(task=task, n=n, needed=DESCRIBED * n, risk=np.nan, able=np.nan)
    least = ceil(MATCHED * n) if task == "matching" else 1
    needed = next((k for k in range(least, n + 1) if _risk(task, k, n) <= RISK), n + 1)
    right = {"matching": ABLE["matching"], "detection": 1 / 3 + 2 / 3 * ABLE["detection"],
             "ranking": _row_in_order(ABLE["ranking"])}[task]  # fmt: skip
    return PassMark(task=task, n=n, needed=needed, risk=_risk(task, needed, n),
                    able=_at_least(needed, n, right))  # fmt: skip


def _chance(share: float) -> str | Sentence:
    """Write a share within a sentence: what is below or above what is written, in words."""
    side, _, rest = percent(share).partition(" ")
    key = {"<": "below", ">": "above"}.get(side)
    return Sentence.of(f"screening.{key}", limit=rest) if key else percent(share)


def _risk(task: str, needed: int, n: int) -> float:
    if task == "matching":
        return max(_matches(needed, n), _at_least(needed, n, 1 / n))
    return _at_least(needed, n, 1 / 3 if task == "detection" else _orders_at_hand())


def _at_least(k: int, n: int, p: float) -> float:
    return float(bdtrc(k - 1, n, p)) if k <= n else 0.0


def _matches(k: int, n: int) -> float:
    """Return the chance that a random permutation of n leaves k or more in their place."""
    left = [1, 0]
    for m in range(2, n + 1):
        left.append((m - 1) * (left[-1] + left[-2]))
    chosen = (factorial(n) // factorial(j) // factorial(n - j) * left[n - j]
              for j in range(k, n + 1))  # fmt: skip
    return sum(chosen) / factorial(n)


def row_is_right(order: Sequence[int]) -> bool:
    """Tell whether no cup stands more than one place off; `order` holds the true places."""
    return all(abs(place - true) <= 1 for place, true in enumerate(order))


@cache
def _orders_at_hand() -> float:
    return sum(map(row_is_right, permutations(range(STEPS)))) / factorial(STEPS)


@cache
def _row_in_order(apart: float) -> float:
    """Simulate who tells neighbours apart by so many standard deviations; seed 8586."""
    drawn = np.random.default_rng(8586).normal(size=(DRAWS, STEPS)) + apart * np.arange(STEPS)
    places = drawn.argsort(axis=1)
    return float((np.abs(places - np.arange(STEPS)) <= 1).all(axis=1).mean())


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Screening(Result):
    """What each candidate showed, by code, task and date; never in an order of results.

    Attributes
    ----------
    marks : dict of str to PassMark
        By task, of the latest date.
    table : DataFrame
        ``assessor, date, task, right, answered, n, needed, low, high, state``: limits of the
        share right at `level`; `state` is ``passed``, ``again``,
        ``below`` (a mark that decides nothing) or ``open`` (not all answered).
    candidates : DataFrame
        ``assessor, times, ready, again, open``: evenings with an answer, whether every task that
        decides is passed on the latest of them, and which are not.
    level : float
    """

    marks: dict[str, PassMark]
    table: pd.DataFrame
    candidates: pd.DataFrame
    level: float

    def sentences(self) -> tuple[Sentence, ...]:
        """Say of each candidate, by code, what was shown; then the pass marks and their errors."""
        decide = [mark for mark in self.marks.values() if mark.task in DECIDE]
        said: list[Sentence] = []
        for one in self.candidates.to_dict("records"):
            said.append(self._person(one))
            if one["times"] > 1 and decide:
                lucky = 1 - (1 - max(mark.risk for mark in decide)) ** one["times"]
                said.append(Sentence.of("screening.times", assessor=one["assessor"],
                                        n=one["times"], lucky=_chance(lucky)))  # fmt: skip
        said += [self._mark(mark) for mark in self.marks.values()]
        if len(decide) == len(DECIDE):
            risk = max(mark.risk for mark in decide)
            able = float(np.prod([mark.able for mark in decide]))
            said.append(Sentence.of("screening.errors", risk=_chance(risk), able=_chance(able)))
        return tuple(said)

    def _mark(self, mark: PassMark) -> Sentence:
        values: dict[str, object] = {"needed": f"{mark.needed:g}", "n": mark.n}
        if mark.task in DECIDE:
            values |= {"risk": _chance(mark.risk), "able": _chance(mark.able)}
        key = "impossible" if mark.needed > mark.n else f"mark_{mark.task}"
        return Sentence.of(f"screening.{key}", task=Sentence.of(f"screening.task_{mark.task}"),
                           **values)  # fmt: skip

    def _person(self, one: dict[object, object]) -> Sentence:
        mine = _latest(self.table[self.table["assessor"] == one["assessor"]])
        if not mine["answered"].any():
            return Sentence.of("screening.person_nothing", assessor=one["assessor"])
        told = [
            Sentence.of(
                f"screening.told_{row['state']}",
                task=Sentence.of(f"screening.task_{row['task']}"),
                right=rounded(row["right"], ".3g"), n=row["n"], answered=row["answered"],
            )
            for row in mine.to_dict("records")
        ]  # fmt: skip
        key = "ready" if one["ready"] else "open" if one["open"] else "again"
        names = one["open"] if key == "open" else one["again"]
        tasks = [Sentence.of(f"screening.task_{name}") for name in str(names).split()]
        return Sentence.of(f"screening.person_{key}", assessor=one["assessor"], told=told,
                           tasks=tasks)  # fmt: skip

    def tables(self) -> dict[str, pd.DataFrame]:
        """Return every task of every evening, in the order of codes and dates.

        Counts are written as such (8, beside 1.33 points); as numbers they stand in `table`.
        """
        counts = {
            name: [rounded(n, ".3g") for n in self.table[name]] for name in ("right", "needed")
        }
        shown = self.table.assign(**counts)
        return copies(**{"screening.heading": shown, "screening.people": self.candidates})


def screening(answers: pd.DataFrame, *, level: float = 0.95) -> Screening:
    """Judge candidates by task against pass marks that follow from the number of items.

    Parameters
    ----------
    answers : DataFrame
        ``date, assessor, task, item, right``: one row an item; `right` from 0 to 1, empty
        where nothing was answered (a description has shares of its points).
    level : float
        Of the limits of a share.

    Raises
    ------
    TableError
        If a column is missing, a task unknown, or `right` is no number from 0 to 1.
    NotEstimable
        Without any row.
    """
    missing = [name for name in ANSWER_COLUMNS if name not in answers]
    have = [str(name) for name in answers.columns]
    if missing:
        raise TableError(
            tuple(Sentence.of("table.no_column", column=name, have=have) for name in missing)
        )
    rows = answers.loc[:, list(ANSWER_COLUMNS)].copy()
    if not len(rows):
        raise NotEstimable("screening.empty")
    strange = sorted(set(rows["task"].astype(str)) - set(TASKS))
    right = pd.to_numeric(rows["right"], errors="coerce")
    written = rows["right"].notna() & (rows["right"].astype(str).str.strip() != "")
    wrong = rows.index[(written & right.isna()) | (right < 0) | (right > 1)]
    if strange or len(wrong):
        told = [Sentence.of("screening.unknown_task", found=name, known=list(TASKS))
                for name in strange]  # fmt: skip
        told += [
            Sentence.of("screening.bad_right", row=int(place) + 2, found=str(rows["right"][place]))
            for place in wrong[:20]
        ]
        raise TableError(tuple(told))
    rows = rows.assign(right=right, date=rows["date"].astype(str),
                       assessor=rows["assessor"].astype(str))  # fmt: skip
    found = [
        _judged(str(who), str(date), task, mine["right"].to_numpy(float), level)
        for (who, date), own in rows.groupby(["assessor", "date"], sort=True)
        for task in TASKS
        if len(mine := own[own["task"] == task])
    ]
    table = pd.DataFrame(found)
    latest = table[table["date"] == table["date"].max()]
    sizes = latest.groupby("task")["n"].max()
    people = [_candidate(str(who), mine) for who, mine in table.groupby("assessor", sort=True)]
    return Screening(
        marks={task: pass_mark(task, int(sizes[task])) for task in TASKS if task in sizes.index},
        table=table,
        candidates=pd.DataFrame(people),
        level=level,
    )


def _judged(who: str, date: str, task: str, right: np.ndarray, level: float) -> dict[str, object]:
    mark = pass_mark(task, right.size)
    answered = int(np.isfinite(right).sum())
    total = float(np.nansum(right))
    short_of = "again" if task in DECIDE else "below"
    state = "passed" if total >= mark.needed - 1e-9 else short_of
    ends = (np.nan, np.nan)
    if answered and task in DECIDE:
        low, high = wilson(round(total), answered, level)
        ends = (float(low), float(high))
    return {
        "assessor": who, "date": date, "task": task, "right": total, "answered": answered,
        "n": mark.n, "needed": mark.needed, "low": ends[0], "high": ends[1],
        "state": "open" if answered < mark.n else state,
    }  # fmt: skip


def _latest(mine: pd.DataFrame) -> pd.DataFrame:
    """Return a candidate's rows of the latest evening with an answer, or of the latest of all."""
    answered = mine.loc[mine["answered"] > 0, "date"]
    at = (answered if len(answered) else mine["date"]).max()
    latest: pd.DataFrame = mine[mine["date"] == at]
    return latest


def _candidate(who: str, mine: pd.DataFrame) -> dict[str, object]:
    latest = _latest(mine).set_index("task")["state"]
    states = {task: latest.get(task, "open") for task in DECIDE}
    return {
        "assessor": who,
        "times": int(mine.loc[mine["answered"] > 0, "date"].nunique()),
        "ready": all(state == "passed" for state in states.values()),
        "again": " ".join(task for task, state in states.items() if state == "again"),
        "open": " ".join(task for task, state in states.items() if state == "open"),
    }
