"""The answer of a test of difference, a ranking or a threshold."""

from __future__ import annotations

from itertools import islice
from typing import TYPE_CHECKING, Any

from ...analysis.core.errors import AnalysisError
from ...analysis.core.p_values import holds
from ...analysis.core.result import headed
from ...analysis.core.wording import percent, stated_percent
from ..base.words import Sentence, begun, sentence
from ..findings.statement import Line, Statement
from ..key.set_answers import served_table
from .context import Context
from .parts import Block, Grid, Picture, Section, caution, lead, method, plain
from .set_next import what_to_do, words_of
from .set_result import Outcome, outcome
from .spelling import SYMBOL

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

    from ...analysis.core.result import Result

ESTIMATES = "difference.table_estimates"
"""The table whose limits are two-sided, where sentences give one-sided ones."""


def section(context: Context) -> Section:
    """Say what the answers show, what they do not, and how they were counted."""
    session = context.session
    name = session.settings.method.replace("-", "_")
    place = {code: n for n, code in enumerate(context.roster)}
    every = sorted(
        context.presented, key=lambda one: (place.get(one.assessor, len(place)), one.number)
    )
    counted = [one for one in every if one.assessor in context.counted]
    table = served_table(session, every)
    verdicts: list[Any] = [
        said if one.assessor in context.counted else sentence("set.not_counted", verdict=said)
        for one, said in zip(every, map(_verdict, table["correct"]), strict=True)
    ]
    once = ["presentation"] if all(one.number == 1 for one in every) else []
    shown = table.assign(correct=verdicts).drop(columns=once)
    answers = Grid(sentence("set.answers"), _worded(shown, context.language), folded=True)
    title = sentence("set.title", test=sentence(f"set.name_{name}"))
    orders = context.table(["order"])
    try:
        found = outcome(session, counted, orders)
    except AnalysisError as refusal:
        return Section(
            key="test",
            title=title,
            blocks=(lead(refusal.sentence), answers),
            statements=(_statement(0, refusal.sentence, None),),
            tables={"answers": table},
            data={"refused": refusal.sentence},
        )
    main = found.results[0]
    said = [line for result in found.results for line in result.sentences()]
    todo = what_to_do(
        main, named=bool(session.settings.test.attribute) or session.method.samples != "two"
    )
    first = [*main.sentences()[:2], *([todo] if todo is not None else [])]
    if context.maker_apart:  # the page's head counts everybody who answered
        first[0] = sentence("set.short_without_maker", said=first[0])
    blocks: list[Block] = [plain(*said[2:])]  # what stands in the box is not said again
    alt = sentence("set.figure_alt", said=main.sentences()[0])
    pictures = (
        Picture("test", drawn, alt, _caption(one), _figure(one, context.language, narrow=True))
        for one in found.results
        if (drawn := _figure(one, context.language)) is not None
    )
    blocks += islice(pictures, 1)
    for result in found.results:
        blocks += [
            Grid(
                Sentence.of(heading),
                _worded(_rounded(frame), context.language),
                _limits(result) if heading == ESTIMATES else "",
            )
            for heading, frame in result.tables().items()
        ]
    blocks += words_of(served_table(session, counted))
    blocks.append(answers)
    blocks.append(caution(*_care(context, found)))
    blocks.append(method(sentence(f"set.method_{name}"), sentence("set.method_orders")))
    return Section(
        key="test",
        title=title,
        blocks=tuple(blocks),
        statements=tuple(
            _statement(place, line, main if place == 0 else None, advice=line is todo)
            for place, line in enumerate(first)
        ),
        tables={"answers": table, **_worksheets(found)},
        data={
            "method": session.settings.method,
            "purpose": session.settings.test.purpose,
            "answers": found.answers,
            "unusable": found.unusable,
            "results": list(found.results),
        },
    )


def _statement(place: int, line: Line, result: Result | None, *, advice: bool = False) -> Statement:
    """Make a statement of the box; a test of difference has one question, at its own level."""
    p = getattr(result, "p", None)
    shown = isinstance(p, float) and holds(p, getattr(result, "alpha", -1.0))
    return Statement(
        kind="claim" if shown else "advice" if advice else "description",
        about=(),
        sentence=line,
        section="test",
        p=p if isinstance(p, float) else None,
        p_adjusted=p if isinstance(p, float) else None,
        family="test" if isinstance(p, float) else "",
        rank=place,
    )


def _limits(result: Any) -> Sentence:
    """Name the level and the sides of the table's limits, and of a sentence's beside them."""
    level, beta = stated_percent(result.level), getattr(result, "beta", None)
    if beta is None:
        return sentence("set.estimates_note", level=level)
    upper, sure = percent(result.upper), stated_percent(1 - beta)
    return sentence("set.estimates_one_sided", level=level, upper=upper, sure=sure)


def _care(context: Context, found: Outcome) -> list[Any]:
    session = context.session
    said: list[Any] = [warning for result in found.results for warning in result.warnings]
    if found.unusable:
        said.append(sentence("set.unusable", n=found.unusable))
    if context.maker_apart:
        said.append(sentence("set.maker_out", who=context.makers))
    if session.settings.test.accept_small:
        said.append(sentence("set.went_ahead"))
    if len({bottle.looks_cloudy for bottle in session.samples}) == 2:
        said.append(sentence("set.mouthfeel"))
    return said


def _caption(result: Result) -> Line:
    from ...analysis.difference.forced_choice import CountedAnswers, SimilarityTest
    from ...analysis.difference.paired_choices import Paired
    from ...analysis.difference.replicated_choices import Replicated

    if isinstance(result, SimilarityTest):
        return sentence("set.figure_caption_similar", pd=stated_percent(result.pd))
    counts = isinstance(result, (CountedAnswers, Replicated, Paired))
    return sentence("set.figure_caption") if counts else ""


def _figure(result: Result, language: str, *, narrow: bool = False) -> Figure | None:
    """Draw what can be drawn of a result."""
    from ...analysis.difference.counts_figure import draw_counts
    from ...analysis.difference.forced_choice import DifferenceTest, SimilarityTest
    from ...analysis.difference.paired_choices import Paired
    from ...analysis.difference.replicated_choices import Replicated

    if isinstance(result, SimilarityTest):
        return draw_counts(
            result.correct,
            result.n,
            result.chance,
            limit=None if result.too_small else result.most,  # then no count shows similarity
            similar=True,
            allowed=(result.pd, result.share_allowed),
            limits=result.share_interval,
            language=language,
            narrow=narrow,
        )
    if isinstance(result, (DifferenceTest, Replicated)):
        own = result.mu_interval if isinstance(result, Replicated) else result.share_interval
        return draw_counts(
            result.correct,
            result.n,
            result.chance,
            limit=result.needed,
            limits=own,
            language=language,
            narrow=narrow,
        )
    if isinstance(result, Paired):
        n, more, name = result.first + result.second, result.first, result.names[0]
        low, high, level = result.share_interval
        if result.alternative == "two-sided" and result.second > more:
            more, name, low, high = result.second, result.names[1], 1 - high, 1 - low
        label = sentence("set.figure_chosen", name=name, n=n).to(language)
        return draw_counts(
            more,
            n,
            0.5,
            limit=result.needed,
            label=label,
            limits=(low, high, level),
            language=language,
            narrow=narrow,
        )
    draw = getattr(result, "figure", None)
    drawn: Figure | None = draw(language=language, narrow=narrow) if draw is not None else None
    return drawn


def _worded(frame: pd.DataFrame, language: str) -> pd.DataFrame:
    """Write headings as people read them: words with a capital, no names of Python's columns."""

    def said(head: object) -> str:
        words = head.to(language) if isinstance(head, Sentence) else str(head)
        words = words.replace("_", " ")
        return words if len(words.split()[0]) <= SYMBOL else begun(words, language)

    return headed(frame).rename(columns=said)


def _verdict(correct: Any) -> Line:
    """Say whether an answer was right; a dash where nothing is right or wrong."""
    import pandas as pd

    if pd.isna(correct):
        return "–"
    return sentence("set.right" if correct else "set.wrong")


def _rounded(frame: Any) -> Any:
    """Write the numbers of a table; an estimate and its limits with the same decimals."""
    from ...analysis.core.wording import alike, short

    def written(cell: Any) -> Any:
        return short(cell).replace("inf", "∞") if isinstance(cell, float) else cell

    made = frame.map(written)
    together = ["estimate", "low", "high"]
    if set(together) <= set(frame.columns):
        rows = [alike(row) for row in frame[together].astype(float).to_numpy().tolist()]
        made[together] = [[cell.replace("inf", "∞") for cell in row] for row in rows]
    return made


def _worksheets(found: Outcome) -> dict[str, Any]:
    return {
        heading.rpartition(".")[2].removeprefix("table_"): frame
        for result in found.results
        for heading, frame in result.tables().items()
    }
