"""Stop early, honestly: Wald's sequential test of right and wrong answers.

After every answer the count is held against two lines. Above the upper one a
difference is claimed, below the lower one that fewer tell the samples apart
than was stated; between them the tasting goes on. Looking after every answer
with the table for a fixed number is not allowed: it finds differences that
are not there.

References
----------
Wald (1945), Annals of Mathematical Statistics 16:117-186; ISO 16820. Claim a
difference at ``x >= s n + h1``, none of the stated size at ``x <= s n - h0``;
``g = ln(p1 (1 - p0) / (p0 (1 - p1)))``, ``h1 = ln((1 - beta) / alpha) / g``,
``h0 = ln((1 - alpha) / beta) / g``, ``s = ln((1 - p0) / (1 - p1)) / g``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import ceil, floor, log
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt
import pandas as pd

from ...rounding import rounded
from ..core.errors import OptionError, TableError
from ..core.options import share_of, whole
from ..core.plotted import Plotted
from ..core.result import Result
from ..core.wording import short, stated_percent
from ..core.words import FALLBACK, Sentence

if TYPE_CHECKING:
    from matplotlib.figure import Figure

Whole = npt.NDArray[np.int64]
_SLACK = 1e-9


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Boundaries(Result):
    """The two lines of a sequential test and what they do.

    Attributes
    ----------
    p0, p1 : float
        Share of right answers without a difference, and with the stated one.
    alpha, beta : float
        Risks the lines were made for.
    slope, below, above : float
        ``s``, ``h0`` and ``h1``: right answers per answer, and the distances
        of the two lines.
    mean_at_p0, mean_at_p1, mean_between : float
        Wald's mean number of answers at p0, at p1 and at the slope.
    most : int
        Answers after which tasting stops without a decision.
    exact_alpha, exact_beta : float
        True risks with this `most`, by recursion over all courses.
    exact_mean_at_p0, exact_mean_at_p1 : float
        True mean numbers of answers with this `most`.
    table : DataFrame
        ``answers, none_at_most, difference_from``: for each number of answers
        the counts that decide (missing where none can).
    """

    p0: float
    p1: float
    alpha: float
    beta: float
    slope: float
    below: float
    above: float
    mean_at_p0: float
    mean_at_p1: float
    mean_between: float
    most: int
    exact_alpha: float
    exact_beta: float
    exact_mean_at_p0: float
    exact_mean_at_p1: float
    table: pd.DataFrame

    def decide(self, correct: int, n: int) -> str:
        """Return ``"difference"``, ``"none"`` or ``"go on"`` after n answers."""
        if correct >= self.slope * n + self.above - _SLACK:
            return "difference"
        if correct <= self.slope * n - self.below + _SLACK:
            return "none"
        return "go on"

    def sentences(self) -> tuple[Sentence, ...]:
        """Say what to expect."""
        return (
            Sentence.of(
                "sequential.lines",
                p0=stated_percent(self.p0),
                p1=stated_percent(self.p1),
                alpha=self.alpha,
                beta=self.beta,
                slope=short(self.slope),
                above=short(self.above),
                below=short(self.below),
            ),
            Sentence.of(
                "sequential.expect",
                at0=rounded(self.exact_mean_at_p0, ".1f"),
                at1=rounded(self.exact_mean_at_p1, ".1f"),
                most=self.most,
                alpha=short(self.exact_alpha),
                beta=short(self.exact_beta),
            ),
        )

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return the counts that decide."""
        return {"sequential.table": self.table.copy()}


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Course(Plotted):
    """A course of answers held against the lines.

    Attributes
    ----------
    lines : Boundaries
    answers : tuple of int
        1 right, 0 wrong, in the order they were given.
    decision : str
        ``"difference"``, ``"none"`` or ``"go on"``.
    decided_after : int or None
        Answers at the decision; later ones are not counted.
    correct : int
        Right answers until then.
    """

    lines: Boundaries
    answers: tuple[int, ...]
    decision: str
    decided_after: int | None
    correct: int

    def sentences(self) -> tuple[Sentence, ...]:
        """Say whether to go on, or what was decided and when."""
        n = self.decided_after or len(self.answers)
        key = {
            "difference": "sequential.difference",
            "none": "sequential.none",
            "go on": "sequential.stopped" if n >= self.lines.most else "sequential.go_on",
        }[self.decision]
        told = [
            Sentence.of(
                key,
                n=n,
                correct=self.correct,
                p1=stated_percent(self.lines.p1),
                alpha=self.lines.alpha,
                beta=self.lines.beta,
                up=max(1, ceil(self.lines.slope * n + self.lines.above - _SLACK)),
            )
        ]
        extra = len(self.answers) - n
        if self.decided_after is not None and extra:
            told.append(Sentence.of("sequential.extra", n=extra))
        return tuple(told)

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return the counts that decide."""
        return self.lines.tables()

    def figure(self, *, language: str = FALLBACK) -> Figure:
        """Draw the course between its lines."""
        from .sequential_figure import draw_course

        return draw_course(
            self.answers,
            slope=self.lines.slope,
            above=self.lines.above,
            below=self.lines.below,
            end=max(len(self.answers) + 4, floor(self.lines.mean_between)),
            language=language,
        )


def boundaries(
    p0: float, p1: float, *, alpha: float = 0.05, beta: float = 0.05, most: int | None = None
) -> Boundaries:
    """Return the lines of a sequential test of p1 against p0.

    Parameters
    ----------
    p0, p1 : float
        Share of right answers by guessing, and the share that would matter
        (see `psychometric.ForcedChoice.p_of_distinguishers`); ``p0 < p1``.
    alpha, beta : float
        Risk of claiming a difference at p0, and of claiming none at p1.
    most : int, optional
        Answers after which tasting stops without a decision; by default four
        times Wald's mean number where a decision takes longest.

    Returns
    -------
    Boundaries

    Raises
    ------
    OptionError
        If p0 is not below p1, or a risk is not between 0 and 1 (together below 1).

    Examples
    --------
    >>> lines = boundaries(1 / 3, 2 / 3)
    >>> round(lines.slope, 6), round(lines.above, 6), lines.decide(6, 6)
    (0.5, 2.123964, 'difference')
    """
    for name, value in (("p0", p0), ("p1", p1), ("alpha", alpha), ("beta", beta)):
        share_of(name, value)
    if not p0 < p1 or alpha + beta >= 1:
        raise OptionError("sequential.bad_order", p0=p0, p1=p1, alpha=alpha, beta=beta)
    g = log(p1 * (1 - p0) / (p0 * (1 - p1)))
    above, below = log((1 - beta) / alpha) / g, log((1 - alpha) / beta) / g
    slope = log((1 - p0) / (1 - p1)) / g
    between = above * below / (slope * (1 - slope))
    limit = ceil(4 * between) if most is None else whole("most", most, 1)
    n = np.arange(1, limit + 1)
    up = np.ceil(slope * n + above - _SLACK).astype(np.int64)
    down = np.floor(slope * n - below + _SLACK).astype(np.int64)
    at_p0, at_p1 = _run(p0, up, down), _run(p1, up, down)
    table = pd.DataFrame(
        {
            "answers": n,
            "none_at_most": pd.Series(down).where(down >= 0).astype("Int64"),
            "difference_from": pd.Series(up).where(up <= n).astype("Int64"),
        }
    )
    return Boundaries(
        p0=p0,
        p1=p1,
        alpha=alpha,
        beta=beta,
        slope=slope,
        below=below,
        above=above,
        mean_at_p0=(alpha * above - (1 - alpha) * below) / (p0 - slope),
        mean_at_p1=((1 - beta) * above - beta * below) / (p1 - slope),
        mean_between=between,
        most=limit,
        exact_alpha=at_p0[0],
        exact_beta=at_p1[1],
        exact_mean_at_p0=at_p0[2],
        exact_mean_at_p1=at_p1[2],
        table=table,
    )


def course(lines: Boundaries, answers: Sequence[int]) -> Course:
    """Hold answers, in the order they were given, against the lines.

    Parameters
    ----------
    lines : Boundaries
    answers : sequence of {0, 1}
        1 for a right answer. Each is an assessor's first and only one.

    Returns
    -------
    Course

    Raises
    ------
    TableError
        If an answer is neither 0 nor 1.

    Examples
    --------
    >>> course(boundaries(1 / 3, 2 / 3), [1, 1, 0, 1, 1, 1, 1]).decided_after
    7
    """
    bad = [i for i, answer in enumerate(answers, start=1) if answer not in {0, 1}]
    if bad:
        raise TableError(tuple(Sentence.of("sequential.bad_answer", n=place) for place in bad))
    given = tuple(int(answer) for answer in answers)
    correct = 0
    for n, answer in enumerate(given, start=1):
        correct += answer
        decision = lines.decide(correct, n)
        if decision != "go on" and n <= lines.most:
            return Course(
                lines=lines, answers=given, decision=decision, decided_after=n, correct=correct
            )
    return Course(lines=lines, answers=given, decision="go on", decided_after=None, correct=correct)


def risk_of_looking(chance: float, looks: Mapping[int, int]) -> float:
    """Return the risk of a false difference when the count is looked at more than once.

    Parameters
    ----------
    chance : float
        Share of right answers by guessing.
    looks : mapping of int to int
        Right answers that would be called a difference, by number of answers.

    Examples
    --------
    Looking after 17 of 30 triangles with the risk shared out keeps 5 %; looking
    at the table for a fixed number after each answer does not:

    >>> round(risk_of_looking(1 / 3, {17: 11, 30: 15}), 7)
    0.0456841
    >>> from kikichoko.analysis.difference import needed
    >>> each = {n: needed(n, 1 / 3, 0.05) or n + 1 for n in range(1, 31)}
    >>> round(risk_of_looking(1 / 3, each), 2)
    0.15
    """
    share_of("chance", chance)
    last = max(looks)
    up = np.array([looks.get(n, n + 1) for n in range(1, last + 1)])
    return _run(chance, up, np.full(last, -1))[0]


def _run(p: float, up: Whole, down: Whole) -> tuple[float, float, float]:
    """Return P(difference), P(none) and the mean number of answers, by recursion."""
    alive = np.zeros(len(up) + 2)
    alive[0] = 1.0
    difference = none = mean = 0.0
    for n in range(1, len(up) + 1):
        mean += alive.sum()
        alive[1:] = alive[1:] * (1 - p) + alive[:-1] * p
        alive[0] *= 1 - p
        top, bottom = min(up[n - 1], len(alive)), max(down[n - 1] + 1, 0)
        difference += alive[top:].sum()
        none += alive[:bottom].sum()
        alive[top:] = 0.0
        alive[:bottom] = 0.0
    return float(difference), float(none), float(mean)
