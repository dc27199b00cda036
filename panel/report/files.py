"""The files of a report: page, tables, scores, numbers, figures."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from ...analysis.core.result import plain
from ..base.plain_cells import frame_csv
from ..base.whole_files import whole_folder
from ..plan.sealing import fingerprint
from ..returns.closed_flights import FOLDER as OPEN_FLIGHT
from .context import Context
from .page import html
from .parts import Picture, Report
from .pdf import pdfs
from .workbook import write_tables

FOLDER = Path("report")
FORMAT = 1
"""Of ``results.json``, as ``templates/results.schema.json`` describes it."""


def write(report: Report, context: Context, paper: str = "") -> list[Path]:
    """Write a report below the session folder; return the paths, the page first.

    With a `paper`, ``A4`` or ``Letter``, PDF files for it too.

    All of it is made aside and takes its place at once: page, tables, numbers and
    figures of one report, with the checksum of ``scores.csv`` among theirs.
    """
    target = context.session.folder / FOLDER
    scores = frame_csv(context.session.folder / "scores.csv", context.answers.scores)
    if context.open_flight is not None:
        both = context.open_flight.beside(context.answers.scores)
        frame_csv(context.session.folder / OPEN_FLIGHT / "scores.csv", both)
    beside = [scores]
    if context.times is not None:
        beside.append(frame_csv(context.session.folder / "times.csv", context.times))
    written = ["report.html", "tables.xlsx", "results.json"]
    with whole_folder(target, beside=beside) as folder:
        (folder / "figures").mkdir()
        mark = fingerprint(context.plan.sealed)
        (folder / written[0]).write_text(html(report, mark), "utf-8")
        for name, content in (pdfs(report, mark, paper) if paper else {}).items():
            (folder / name).write_bytes(content)
            written.append(name)
        write_tables(report, context, folder / written[1])
        (folder / written[2]).write_text(numbers(report, context), "utf-8")
        for section in report.sections:
            for block in section.blocks:
                if isinstance(block, Picture):
                    for ending, content in ((".png", block.png()), (".svg", block.svg.encode())):
                        name = f"figures/{block.name}{ending}"
                        (folder / name).write_bytes(content)
                        written.append(name)
    return [target / written[0], *beside, *(target / name for name in written[1:])]


OWN_WORDS = ("sentences", "reading", "holds")
"""What a procedure says for itself, at its own level: the report speaks in its statements alone."""


ONE_QUESTION = "test"
"""A test of difference has one question, at its own level: what it says is the report's word."""


def numbers(report: Report, context: Context) -> str:
    """Write the content of ``results.json``: the box, all statements, each section by its key."""
    content = {
        "format": FORMAT,
        "session": context.session.settings.name,
        "short": [line for _, line in report.in_short],
        "statements": [one.to_dict(report.language, report.names) for one in report.statements],
    }
    content = plain(content, report.language)
    for section in report.sections:
        data = plain(section.data, report.language)
        content[section.key] = data if section.key == ONE_QUESTION else _wordless(data)
    return json.dumps(content, ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def _wordless(data: Any) -> Any:
    """Leave out at every depth what procedures say for themselves."""
    if isinstance(data, dict):
        return {name: _wordless(own) for name, own in data.items() if name not in OWN_WORDS}
    return [_wordless(one) for one in data] if isinstance(data, list) else data
