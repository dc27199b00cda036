"""``kikichoko history DIR…``."""

from __future__ import annotations

import time
from dataclasses import replace
from functools import partial
from pathlib import Path

import click

from ..base.words import say
from ._figure import figure_option, save_figure
from ._session import progress
from ._table import language_option, result_options, show

SECTION, RANK = "cli.section_before", 40


@click.command(help=say("history.help"), short_help=say("history.short"))
@click.argument(
    "folders", metavar="DIR...", nargs=-1, required=True, type=click.Path(path_type=Path)
)
@click.option("--reference", help=say("history.option_reference"))
@click.option("--attributes", metavar="A,B", help=say("history.option_attributes"))
@click.option("--link", "as_link", is_flag=True, help=say("history.option_link"))
@click.option("--years", "by_year", is_flag=True, help=say("history.option_years"))
@click.option("--over", type=click.Choice(["days", "months"]), help=say("history.option_over"))
@click.option(
    "--margin", type=click.FloatRange(0, min_open=True), help=say("history.option_margin")
)
@click.option("--predictors", metavar="A,B", help=say("history.option_predictors"))
@click.option("--batch", help=say("history.option_batch"))
@click.option("--save", type=click.Path(path_type=Path), help=say("history.option_save"))
@figure_option
@language_option(say("cli.option_printed"))
@result_options
def command(
    folders: tuple[Path, ...],
    *,
    reference: str | None,
    attributes: str | None,
    as_link: bool,
    by_year: bool,
    over: str | None,
    margin: float | None,
    predictors: str | None,
    batch: str | None,
    save: Path | None,
    figure: Path | None,
    language: str,
    as_json: bool,
) -> None:
    """Put sessions together; its help stands in the catalogue."""
    from ..across.session_history import collect, folders_of, labels_of

    started = time.perf_counter()
    found = folders_of(folders)
    with progress(len(found), say("history.reading")) as bar:
        collected = collect(found, lambda: bar.update(1))
    for caution in collected.cautions:
        click.echo(say("cli.caution", text=caution), err=True)
    memory = collected.scores.memory_usage(deep=True).sum() / 1e6
    read = {
        "sessions": len(found),
        "answers": len(collected.scores),
        "seconds": time.perf_counter() - started,
        "memory": memory,
    }
    click.echo(say("history.read", **read), err=True)
    if save is not None:
        from ..base.plain_cells import frame_csv
        from ..base.whole_files import own_folder

        with own_folder(save) as aside:
            frame_csv(aside / "scores.csv", collected.scores)
            frame_csv(aside / "bottles.csv", collected.bottles)
        click.echo(say("history.saved", folder=save), err=True)
    # Ticks and faults carry a colon; they are counts, not scales, and asked for by name.
    scaled = [name for name in collected.scores["attribute"].cat.categories if ":" not in name]
    chosen = _listed(attributes) or scaled
    drawn = _listed(attributes)
    sweet = None
    if not as_json:  # people read the words of the sheets, programs the names of the table
        kinds = list(collected.scores["attribute"].cat.categories)
        words = {name: name for name in kinds} | labels_of(found, kinds, language)
        renamed = collected.scores["attribute"].cat.rename_categories(words)
        collected = replace(collected, scores=collected.scores.assign(attribute=renamed))
        chosen = [words.get(name, name) for name in chosen]
        sweet = words["sweetness"] if words.get("sweetness") in chosen else None
        drawn = drawn and [words.get(name, name) for name in drawn]
    if as_link:
        from ...analysis.link.score_on_chemistry import link

        linked = link(
            collected.scores.astype({"session": str, "sample": str, "attribute": str}),
            collected.bottles.drop_duplicates(["session", "sample"]).drop(columns="batch"),
            predictors=_listed(predictors),
            attributes=chosen,
            batch=batch,
            sweet=sweet,
        )
        save_figure(linked.plane, figure, language)
        show(linked, as_json=as_json, language=language)
        return
    if over is not None and margin is None:
        raise click.UsageError(say("history.over_margin"))
    if over is not None and margin is not None:
        from ...analysis.anova.days_through_reference import change_over_days
        from ..across.session_history import times_of

        names = dict.fromkeys(("session", "sample", "attribute", "assessor"), str)
        changes = change_over_days(
            collected.scores.astype(names),
            times_of(collected, over, reference),
            margin=margin,
            reference=reference,
            unit=over,
            attributes=chosen,
        )
        show(changes, as_json=as_json, language=language)
        return
    from ...analysis.performance.panel_over_time import history

    if by_year:
        if reference is None:
            raise click.UsageError(say("history.years_reference"))
        from ...analysis.anova.years_compared import year_on_year

        years = {
            str(name): str(date)[:4]
            for name, date in zip(
                collected.sessions["session"], collected.sessions["date"], strict=True
            )
        }
        plain = collected.scores.astype({"session": str, "sample": str, "attribute": str})
        compared = year_on_year(
            plain.astype({"assessor": str}), years, reference, attributes=chosen
        )
        show(compared, as_json=as_json, language=language)
        return
    past = history(
        collected.scores,
        collected.sessions,
        collected.bottles,
        reference=reference,
        attributes=chosen,
    )
    save_figure(partial(past.figure, drawn), figure, language)
    show(past, as_json=as_json, language=language)


def _listed(written: str | None) -> list[str] | None:
    return [name.strip() for name in written.split(",")] if written else None
