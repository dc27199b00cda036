"""The outcome of a test session: the right method for what came back."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ...analysis.core.errors import NotEstimable
from ..key.set_answers import right
from ..plan.set_plan import a_and_b
from ..session.presented_sets import NO_DIFFERENCE, Set, chosen_bottle

if TYPE_CHECKING:
    import pandas as pd

    from ...analysis.core.result import Result
    from ..session.session import Session


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Outcome:
    """What a test session says.

    Attributes
    ----------
    results : tuple of Result
        The main one first.
    answers : int
        Answers that count.
    unusable : int
        Answers that came back and cannot be used.
    """

    results: tuple[Result, ...]
    answers: int
    unusable: int


def outcome(session: Session, made: Sequence[Set], rankings: pd.DataFrame) -> Outcome:
    """Analyse the sets of the assessors who count.

    Parameters
    ----------
    session : Session
    made : sequence of Set
    rankings : DataFrame
        Tidy rows of the attribute ``order``, for a ranking.

    Raises
    ------
    AnalysisError
        If the answers do not allow the analysis; the message says why.
    """
    match session.method.analysed:
        case "ranked":
            return _ranking(session, rankings)
        case "threshold":
            return _threshold(session, made)
        case "yes_no":
            return _yes_no(session, made)
        case "paired" if session.settings.test.purpose == "difference":
            return _paired(session, made)
        case _:
            return _right(session, made)


def _by_assessor(verdicts: Sequence[tuple[str, bool]]) -> dict[str, list[bool]]:
    each: dict[str, list[bool]] = {}
    for assessor, verdict in verdicts:
        each.setdefault(assessor, []).append(verdict)
    return each


def _right(session: Session, made: Sequence[Set]) -> Outcome:
    from ...analysis.difference.forced_choice import difference, similarity
    from ...analysis.difference.replicated_choices import replicated

    test, method = session.settings.test, session.method.name
    judged = [(one.assessor, right(session, one)) for one in made]
    verdicts = [(who, bool(verdict)) for who, verdict in judged if verdict is not None]
    unusable = len(judged) - len(verdicts)
    if not verdicts:
        raise NotEstimable("answer_table.empty", column=method)
    each = _by_assessor(verdicts)
    correct, n = sum(verdict for _, verdict in verdicts), len(verdicts)
    result: Result
    if test.purpose == "similarity" and test.pd is not None and test.beta is not None:
        result = similarity(method, correct, n, pd=test.pd, beta=test.beta)
    elif max(len(own) for own in each.values()) > 1 and len(each) > 1:
        result = replicated(
            method,
            [sum(own) for own in each.values()],
            [len(own) for own in each.values()],
            assessors=list(each),
            alpha=test.alpha,
        )
    else:
        result = difference(method, correct, n, alpha=test.alpha)
    return Outcome(results=(result,), answers=n, unusable=unusable)


def _paired(session: Session, made: Sequence[Set]) -> Outcome:
    from ...analysis.difference.paired_choices import paired
    from ...analysis.difference.replicated_choices import replicated

    test = session.settings.test
    first, second = a_and_b(session)
    if test.stronger:
        first, second = second, first
    chosen = [(one.assessor, chosen_bottle(one)) for one in made]
    used = [(who, name) for who, name in chosen if name is not None]
    counts = Counter(name for _, name in used)
    results: list[Result] = []
    if len({who for who, _ in used}) == len(used):
        results.append(
            paired(
                counts[first],
                counts[second],
                counts[NO_DIFFERENCE],
                alternative="first" if test.stronger else "two-sided",
                alpha=test.alpha,
                names=(first, second),
            )
        )
    else:
        # several answers an assessor: within assessors, ties left out, towards the one expected
        each = _by_assessor([(who, name == first) for who, name in used if name != NO_DIFFERENCE])
        if not test.stronger:
            raise NotEstimable("answer_table.twice")
        results.append(
            replicated(
                "paired",
                [sum(own) for own in each.values()],
                [len(own) for own in each.values()],
                assessors=list(each),
                alpha=test.alpha,
            )
        )
    return Outcome(results=tuple(results), answers=len(used), unusable=len(chosen) - len(used))


def _yes_no(session: Session, made: Sequence[Set]) -> Outcome:
    from ...analysis.difference.a_or_not_a import a_not_a
    from ...analysis.difference.same_or_different import same_different

    (question,) = session.method.asked
    shown = session.method.shows_reference
    reference = session.settings.test.reference
    used = [one for one in made if question in one.answers]
    once = len({one.assessor for one in used}) == len(used)
    counts: dict[str, list[int]] = {}
    for one in used:
        own = counts.setdefault("" if once else one.assessor, [0, 0, 0, 0])
        first_kind = one.bottles[0] == (reference if shown else one.bottles[1])
        at = 0 if first_kind else 2
        own[at] += int(one.answers[question])
        own[at + 1] += 1
    columns = list(zip(*counts.values(), strict=True)) or [(), (), (), ()]
    run = a_not_a if shown else same_different
    result = run(*columns, alpha=session.settings.test.alpha)
    return Outcome(results=(result,), answers=len(used), unusable=len(made) - len(used))


def _ranking(session: Session, rankings: pd.DataFrame) -> Outcome:
    from ...analysis.core.tidy_table import tidy
    from ...analysis.ranking.friedman_test import Ranking
    from ...analysis.ranking.page_trend import page
    from ...analysis.ranking.test_of_ranks import rank_test

    test = session.settings.test
    checked = tidy(rankings)
    found = rank_test(checked, "order", alpha=test.alpha)
    results: list[Result] = [found]
    if test.expected_order and isinstance(found, Ranking):
        results.insert(0, page(checked, test.expected_order, "order", alpha=test.alpha))
    return Outcome(results=tuple(results), answers=len(rankings), unusable=0)


def _threshold(session: Session, made: Sequence[Set]) -> Outcome:
    import pandas as pd

    from ...analysis.difference.thresholds import threshold

    test = session.settings.test
    rows = []
    for one in made:
        verdict = right(session, one)
        spiked = next(name for name in one.bottles if name != test.reference)
        if verdict is not None:
            rows.append((one.assessor, test.levels[spiked], int(verdict)))
    table = pd.DataFrame(rows, columns=["assessor", "concentration", "correct"])
    return Outcome(results=(threshold(table),), answers=len(rows), unusable=len(made) - len(rows))
