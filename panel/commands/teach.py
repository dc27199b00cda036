"""``kikichoko teach``."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..base.words import reader, say
from ._table import (
    language_option,
    load,
    more_folders,
    paper_option,
    result_options,
    show,
    table_options,
)

if TYPE_CHECKING:
    from ..school.class_sessions import School

SECTION, RANK = "cli.section_tables", 22


def _pairs(values: tuple[str, ...], option: str) -> dict[str, str]:
    found = {}
    for value in values:
        name, equals, other = value.partition("=")
        if not equals:
            raise click.UsageError(say("teach.bad_pair", option=option, found=value))
        found[name.strip()] = other.strip()
    return found


@click.command(help=say("teach.help"), short_help=say("teach.short"))
@table_options
@more_folders(say("teach.option_and"))
@click.option("--expert", "experts", multiple=True, metavar="CODE", help=say("teach.option_expert"))
@click.option("--margin", type=float, default=None, help=say("teach.option_margin"))
@click.option("--spiked", multiple=True, metavar="SAMPLE=FAULT", help=say("teach.option_spiked"))
@click.option("--clean", default="", metavar="A,B", help=say("teach.option_clean"))
@click.option("--repeat", multiple=True, metavar="SAMPLE=SAMPLE", help=say("teach.option_repeat"))
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    metavar="DIR",
    help=say("teach.option_out"),
)
@paper_option
@language_option(say("teach.option_language"))
@result_options
def command(
    path: Path,
    *,
    as_json: bool,
    more: tuple[Path, ...],
    experts: tuple[str, ...],
    margin: float | None,
    spiked: tuple[str, ...],
    clean: str,
    repeat: tuple[str, ...],
    out: Path | None,
    paper: str,
    language: str,
    **names: Any,
) -> None:
    """Compare students with experts; its help stands in the catalogue."""
    from ..school.class_sessions import (
        MARGIN,
        School,
        compare,
        controls_of_table,
        from_folders,
    )
    from ..school.spoken import all_spoken

    if path.is_dir():
        school = from_folders([path, *more])
        out = out or [path, *more][-1] / "teaching"
    else:
        from ..base.table_files import read_table

        table = load(path, **names)
        controls = controls_of_table(
            table.data,
            read_table(path, names.get("sheet")),
            _pairs(spiked, "--spiked"),
            [name.strip() for name in clean.split(",") if name.strip()],
            {"sample": names["sample"], "session": names.get("session") or ""},
        )
        school = School(
            scores=table.data,
            experts=list(experts),
            students=[who for who in table.assessors if who not in experts],
            margin=MARGIN if margin is None else margin,
            controls=controls,
            repeats=_pairs(repeat, "--repeat"),
            languages=dict.fromkeys(table.assessors, language),
            title=path.stem,
        )
    if not school.experts:
        _without_expert(school, out, paper, as_json=as_json)
        return
    if school.waiting:
        n = sum(school.waiting.values())
        click.echo(say("teach.waiting", n=n, students=list(school.waiting)), err=True)
    result = compare(school)
    show(result, as_json=as_json, said=all_spoken(school, result.sentences(), reader()))
    if path.is_dir():
        school = _with_outcomes(school, result, [path, *more][-1])
    if out is not None:
        _write(school, result, out, paper)


def _without_expert(school: School, out: Path | None, paper: str, *, as_json: bool) -> None:
    """Set each beside the others, and write pages that say so."""
    from ...analysis.core.tidy_table import tidy
    from ...analysis.teaching.without_expert import beside_the_table
    from ..base.whole_files import own_folder
    from ..school.table_pages import table_sheets

    result = beside_the_table(tidy(school.scores), school.students, margin=school.margin)
    show(result, as_json=as_json)
    if out is not None:
        with own_folder(out) as aside:
            written = table_sheets(school, result, aside, paper)
        click.echo(say("teach.written", n=len(written), folder=out), err=True)


def _with_outcomes(school: School, result: Any, folder: Path) -> School:
    """Say what became of what a practice session was held for, and keep it for the pages."""
    from ..school import training_path

    if not (folder / training_path.FILE).is_file():
        return school
    practice = training_path.read_practice(folder)
    for said in training_path.said_of(school, training_path.outcomes(practice, result)):
        click.echo(f"- {said}", err=True)
    return replace(school, practised=training_path.said_to(school, practice, result))


def _write(school: School, result: Any, out: Path, paper: str) -> None:
    from ..base.whole_files import own_folder
    from ..school.class_pages import class_sheets
    from ..school.student_pages import student_sheets
    from ..school.training_path import practice_of, write_practice_plan

    with own_folder(out) as aside:
        written = student_sheets(school, result, aside, paper)
        wall = class_sheets(school, result, aside, paper)
        plan = write_practice_plan(practice_of(school, result), aside)
    click.echo(say("teach.written", n=len(written) + len(wall), folder=out), err=True)
    if not wall:
        click.echo(say("teach.no_wall", n=len(result.students)), err=True)
    if plan is not None:
        click.echo(say("teach.practise_written", path=out), err=True)
