"""``kikichoko difference TEST [TABLE]``: is there a difference, or none that matters."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..base.words import say
from ._figure import figure_option, save_figure
from ._table import result_options, show
from .size import TESTS

if TYPE_CHECKING:
    import pandas as pd

    from ...analysis.core.result import Result

SECTION = "cli.section_tables"
RANK = 50
YES_NO = {"a-not-a": ("A", "not A"), "same-different": ("same", "different")}


class Share(click.ParamType[tuple[int, int]]):
    """A count of a number, written 14/30."""

    name = "K/N"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[int, int]:
        """Return the two numbers."""
        if isinstance(value, tuple):
            return value
        count, slash, total = str(value).partition("/")
        if not (slash and count.strip().isdigit() and total.strip().isdigit()):
            self.fail(say("difference.bad_share", found=value), param, ctx)
        return int(count), int(total)


SHARE = Share()


@click.command(help=say("difference.help"))
@click.argument("test", metavar="TEST", type=click.Choice([*TESTS, *YES_NO]))
@click.argument("path", metavar="[TABLE]", required=False, type=click.Path(path_type=Path))
@click.option("--right", type=SHARE, help=say("difference.option_right"))
@click.option("--chosen", type=SHARE, metavar="A/B", help=say("difference.option_chosen"))
@click.option("--ties", type=int, default=0, help=say("difference.option_ties"))
@click.option("--one-sided", is_flag=True, help=say("difference.option_one_sided"))
@click.option("--hits", type=SHARE, help=say("difference.option_hits"))
@click.option("--false-alarms", type=SHARE, help=say("difference.option_false_alarms"))
@click.option("--like", type=SHARE, help=say("difference.option_like"))
@click.option("--unlike", type=SHARE, help=say("difference.option_unlike"))
@click.option("--assessor", default="assessor", help=say("cli.option_assessor"))
@click.option("--answer", default=None, help=say("difference.option_answer"))
@click.option("--served", default="served", help=say("difference.option_served"))
@click.option("--sheet", default=None, help=say("cli.option_sheet"))
@click.option("--alpha", type=float, default=0.05, help=say("difference.option_alpha"))
@click.option("--similarity", is_flag=True, help=say("difference.option_similarity"))
@click.option("--pd", type=float, help=say("difference.option_pd"))
@click.option("--beta", type=float, help=say("difference.option_beta"))
@click.option("--stop-early", is_flag=True, help=say("difference.option_stop_early"))
@click.option("--level", type=float, default=0.95, help=say("difference.option_level"))
@figure_option
@result_options
def command(
    test: str, path: Path | None, *, figure: Path | None, as_json: bool, **options: Any
) -> None:
    """Print the outcome of a test of difference or similarity."""
    table = _read(path, options["sheet"])
    result: Result
    if test in YES_NO:
        result = _yes_no(test, table, options)
    elif test == "paired" and (options["chosen"] is not None or _names_samples(table, options)):
        result = _paired(table, options)
    else:
        result = _right(test, table, options)
    show(result, as_json=as_json)
    draw = getattr(result, "figure", None)
    if figure is not None and draw is None:
        raise click.UsageError(say("difference.no_figure"))
    if draw is not None:
        save_figure(draw, figure)


def _read(path: Path | None, sheet: str | None) -> pd.DataFrame | None:
    from ..base.table_files import read_table

    return None if path is None else read_table(path, sheet)


def _names_samples(table: pd.DataFrame | None, options: dict[str, Any]) -> bool:
    """Tell whether a table of pairs names the chosen sample instead of right and wrong."""
    return table is not None and (options["answer"] or "chosen") in table.columns


def _yes_no(test: str, table: pd.DataFrame | None, options: dict[str, Any]) -> Result:
    from ...analysis.difference.a_or_not_a import a_not_a
    from ...analysis.difference.answer_table import yes_answers
    from ...analysis.difference.same_or_different import same_different

    method = a_not_a if test == "a-not-a" else same_different
    names = ("hits", "false_alarms") if test == "a-not-a" else ("like", "unlike")
    risks = {"alpha": options["alpha"], "level": options["level"]}
    if table is not None:
        found = yes_answers(
            table,
            kinds=YES_NO[test],
            assessor=options["assessor"],
            served=options["served"],
            answer=options["answer"] or "answer",
        )
        return method(found.yes_first, found.first, found.yes_second, found.second, **risks)
    first, second = (options[name] for name in names)
    if first is None or second is None:
        raise click.UsageError(say(f"difference.needs_{names[0]}"))
    return method(*first, *second, **risks)


def _paired(table: pd.DataFrame | None, options: dict[str, Any]) -> Result:
    from ...analysis.difference.answer_table import choices
    from ...analysis.difference.paired_choices import paired

    if options["similarity"]:
        raise click.UsageError(say("difference.pair_similarity"))
    named: dict[str, Any] = {}
    if table is not None:
        found = choices(table, assessor=options["assessor"], answer=options["answer"] or "chosen")
        counts, named = (found.first, found.second, found.ties), {"names": found.names}
    else:
        counts = (*options["chosen"], options["ties"])
    return paired(
        *counts,
        alternative="first" if options["one_sided"] else "two-sided",
        alpha=options["alpha"],
        level=options["level"],
        **named,
    )


def _right(test: str, table: pd.DataFrame | None, options: dict[str, Any]) -> Result:
    from ...analysis.difference.answer_table import right_answers
    from ...analysis.difference.forced_choice import difference, similarity
    from ...analysis.difference.replicated_choices import replicated

    alpha, level = options["alpha"], options["level"]
    if options["similarity"] and (options["pd"] is None or options["beta"] is None):
        raise click.UsageError(say("difference.state"))
    if table is None:
        if options["right"] is None:
            raise click.UsageError(say("difference.needs_counts"))
        if options["stop_early"]:
            raise click.UsageError(say("difference.needs_order"))
        correct, n = options["right"]
    else:
        found = right_answers(
            table, assessor=options["assessor"], answer=options["answer"] or "correct"
        )
        if options["stop_early"]:
            return _sequential(test, found.in_order, options, once=bool(found.n.max() == 1))
        if found.n.max() > 1:
            if options["similarity"]:
                raise click.UsageError(say("difference.replicated_similarity"))
            return replicated(
                test, found.correct, found.n, assessors=found.assessors, alpha=alpha, level=level
            )
        correct, n = int(found.correct.sum()), int(found.n.sum())
    if options["similarity"]:
        return similarity(test, correct, n, pd=options["pd"], beta=options["beta"], level=level)
    return difference(test, correct, n, alpha=alpha, level=level)


def _sequential(
    test: str, answers: tuple[int, ...], options: dict[str, Any], *, once: bool
) -> Result:
    from ...analysis.difference.psychometric import named
    from ...analysis.difference.sequential_testing import boundaries, course

    if options["pd"] is None or options["beta"] is None:
        raise click.UsageError(say("difference.state"))
    if not once:
        raise click.UsageError(say("difference.once"))
    choice = named(test)
    lines = boundaries(
        choice.chance,
        choice.p_of_distinguishers(options["pd"]),
        alpha=options["alpha"],
        beta=options["beta"],
    )
    return course(lines, answers)
