"""The report on paper: PDF files from the same description as the page.

Typst sets them; it comes with ``kikichoko[pdf]`` and needs nothing else on the machine. The
files are tagged (PDF/UA-1), and the face of the sheets is embedded.
"""

from __future__ import annotations

import json
import math
import shutil
import tempfile
from collections.abc import Iterator
from functools import partial
from importlib.resources import files
from pathlib import Path
from typing import Any, NamedTuple

from ... import __version__
from ...analysis.core.words import shown
from ...forms.paper.typeset import font_path, stood_in
from ..base.errors import NotReady
from ..base.words import say
from . import page_room
from .figure_places import emptiest, least_scale, with_figures_placed
from .parts import Block, Grid, Lines, Picture, Points, Report, Section
from .spelling import Spelling
from .table_columns import breakable, columns_of, turns, whole_words

FACE = "BIZ UDPGothic"
ROOM = {"A4": 184.0, "Letter": 189.9}
"""Width of a line in mm, by paper."""
PAPERS = {"A4": "a4", "Letter": "us-letter"}
POSTER = {"A4": (420.0, 594.0), "Letter": (431.8, 558.8)}
"""The poster in mm: A2 beside A4, 17 by 22 inches beside Letter."""
TABLE, FIRST = 8.0, 7.2
"""Type of tables in pt; on the first page."""
APART = (0.0, -0.05, 0.05, -0.1, 0.1, 0.15)
"""How much further apart lines may stand than usual, in em, in the order in which it is tried."""
FEW_LINES = 0.12
"""Share of the last page down to which its words reach with the usual spacing; where they do not
and no spacing reaches `LEAST_LAST`, that is taken which reaches furthest."""
LEAST_LAST = 0.25
"""Share of the last page down to which its words reach; where they do not, lines are moved."""
MOST_EMPTY = 0.2
"""Share of a page that may stay empty before a figure; no source. Where more does, lines are moved
too, for a figure that has no room on its page has some on another."""
WHEEL = "wheel"
"""Name of the picture that makes a poster."""


def refuse_without_typesetter() -> None:
    """Say what to install where PDF files cannot be made.

    Raises
    ------
    NotReady
        If ``kikichoko[pdf]`` is not installed.
    """
    from importlib.util import find_spec

    if find_spec("typst") is None:
        raise NotReady("report.no_pdf")


def pdfs(report: Report, mark: str, paper: str) -> dict[str, bytes]:
    """Set the whole report, the first page alone, and a poster of the wheel if there is one.

    Parameters
    ----------
    report : Report
    mark : str
        Fingerprint of the plan.
    paper : str
        ``A4`` or ``Letter``.

    Returns
    -------
    dict of str to bytes
        Files by name: ``report.pdf``, ``page.pdf``, ``wheel.pdf``.

    Raises
    ------
    RuntimeError
        If the typesetter has anything to complain of, such as a character without a form.
    """
    wanted = {"report": "report.pdf"}
    if report.page_end:
        wanted["page"] = "page.pdf"
    if any(block.name == WHEEL for block in _pictures(report)):
        wanted[WHEEL] = "wheel.pdf"
    with tempfile.TemporaryDirectory(prefix="kikichoko-") as name:
        folder = Path(name)
        for block in _pictures(report):
            (folder / f"{block.name}.svg").write_text(block.live_svg, "utf-8")
        template = files(__package__).joinpath("templates", "report.typ").read_text("utf-8")
        _lay_out(folder, template)
        content = _printable(_content(report, mark, paper))
        return {file: _set({**content, "what": what}, folder) for what, file in wanted.items()}


def typeset_alone(template: str, content: dict[str, Any]) -> bytes:
    """Set a page of its own from texts alone, in the face of the sheets.

    Parameters
    ----------
    template : str
        Typst, which finds the content as JSON at ``sys.inputs.data``.
    content : dict

    Raises
    ------
    RuntimeError
        If the typesetter has anything to complain of.
    """
    with tempfile.TemporaryDirectory(prefix="kikichoko-") as name:
        folder = Path(name)
        _lay_out(folder, template)
        return _set(_printable(content), folder)


def _lay_out(folder: Path, template: str) -> None:
    """Lay the template and the faces ready."""
    (folder / "faces").mkdir()
    for bold in (False, True):
        shutil.copy(font_path(bold=bold), folder / "faces")
    (folder / "report.typ").write_text(template, "utf-8")


def _set(content: dict[str, Any], folder: Path) -> bytes:
    """Set a file; where its last page holds a few lines alone, closer or wider until it does not.

    So too where much of a page is empty before a figure (`MOST_EMPTY`). `_best` chooses.
    """
    ask = partial(_told, label="mark", folder=folder)
    whole = content.get("what") == "report"
    tried: list[Spaced] = []
    for apart in APART:
        made = {**(tried[0].content if tried else content), "apart": apart}
        end, empty = 0.0 if whole and not tried else _end(made, folder), 0.0
        if whole and (not tried or end == math.inf):
            # With other lines figures find room elsewhere.
            made = with_figures_placed({**content, "apart": apart}, ask)
            end, empty = _end(made, folder), emptiest(made, ask)
        tried.append(Spaced(end, empty, made))
        if end == math.inf and empty <= MOST_EMPTY:
            break
    best = _best(tried)
    if whole and best["apart"] != 0.0 and all(one.end < math.inf for one in tried):
        again = with_figures_placed({**content, "apart": best["apart"]}, ask)
        best = again if _end(again, folder) >= FEW_LINES else best
    written, warnings = _setter(best, folder).compile_with_warnings(
        format="pdf", pdf_standards=["ua-1"]
    )
    if warnings:
        raise RuntimeError("; ".join(str(one) for one in warnings))
    assert isinstance(written, bytes)  # noqa: S101 - a PDF is one file
    return written


class Spaced(NamedTuple):
    """How far down the last page reaches, what is empty before a figure at most, and of what."""

    end: float
    empty: float
    content: dict[str, Any]


def _best(tried: list[Spaced]) -> dict[str, Any]:
    """Choose a spacing; the usual one comes first.

    Of those whose last page holds enough, that one with least empty before a figure; where none
    does, by how far down the last page reaches, and figures stand where they do with the usual.

    >>> _best([Spaced(0.2, 0.0, {"apart": 0.0}), Spaced(math.inf, 0.1, {"apart": 0.05})])
    {'apart': 0.05}
    >>> _best([Spaced(math.inf, 0.3, {"apart": 0.0}), Spaced(math.inf, 0.1, {"apart": -0.05})])
    {'apart': -0.05}
    """
    enough = [one for one in tried if one.end == math.inf]
    if enough:
        return min(enough, key=lambda one: one.empty).content
    usual = tried[0]
    return (usual if usual.end >= FEW_LINES else max(tried, key=lambda one: one.end)).content


def _end(content: dict[str, Any], folder: Path) -> float:
    """Return how far down its last page a content reaches; infinite where it holds enough."""
    ends = _told(content, label="end", folder=folder)
    enough = not ends or ends[0]["page"] == 1 or ends[0]["low"] >= LEAST_LAST
    return math.inf if enough else float(ends[0]["low"])


def _told(content: dict[str, Any], *, label: str, folder: Path) -> list[dict[str, Any]]:
    """Return what a content tells at a label when it is set."""
    found: list[dict[str, Any]] = json.loads(
        _setter({**content, "asked": True}, folder).query(f"<{label}>", field="value")
    )
    return found


def _setter(content: dict[str, Any], folder: Path) -> Any:
    import typst

    content = {"asked": False, "measured": "", **content}
    (folder / "data.json").write_text(json.dumps(content, ensure_ascii=False), "utf-8")
    return typst.Compiler(
        str(folder / "report.typ"),
        root=str(folder),
        font_paths=[str(folder / "faces")],
        ignore_system_fonts=True,
        sys_inputs={"data": "data.json"},
    )


def _content(report: Report, mark: str, paper: str) -> dict[str, Any]:
    """Write the report out as the typesetter reads it: names, texts and lengths alone."""
    written = Spelling(report)
    section_of = partial(_section, written=written, room=ROOM[paper])
    keys = [section.key for section in report.sections]
    ends = keys.index(report.page_end) + 1 if report.page_end else 0
    made = say("report.made", report.language, version=__version__, mark=mark)
    words = {"short": "in_short", "how": "how", "careful": "careful", "contents": "contents"}
    wheel = [_block(one, written) for one in _pictures(report) if one.name == WHEEL]
    return {
        "language": report.language,
        "face": FACE,
        "paper": PAPERS[paper],
        "poster": POSTER[paper],
        "title": written.line(report.title),
        "subtitle": written.line(report.subtitle),
        "question": written.line(report.question) if report.question else "",
        "foot": written.line(report.title),
        "made": made,
        "words": {name: written.word(f"report.{key}") for name, key in words.items()},
        "short": [{"to": to, "text": written.line(text)} for to, text in report.box],
        "tables": {"first": FIRST, "rest": TABLE},
        "first": [section_of(one, size=FIRST) for one in report.sections[:ends]],
        "rest": [section_of(one, size=TABLE) for one in report.sections[ends:]],
        "alone": not page_room.goes_on(report),
        "named": [[one.key, written.line(one.title)] for one in report.sections[ends:]],
        "contents": bool(report.page_end) and not report.few,
        "wheel": wheel[0] if wheel else None,
    }


def _printable(value: Any) -> Any:
    """Put a stand-in where the face has no form, so that nothing is left out in silence."""
    if isinstance(value, str):
        return stood_in(shown(value))
    if isinstance(value, dict):
        return {name: _printable(own) for name, own in value.items()}
    return [_printable(own) for own in value] if isinstance(value, (list, tuple)) else value


def _pictures(report: Report) -> Iterator[Picture]:
    for section in report.sections:
        yield from (block for block in section.blocks if isinstance(block, Picture))


def _section(section: Section, written: Spelling, room: float, size: float) -> dict[str, Any]:
    blocks = [one for block in section.blocks for one in _blocks(block, written, room, size)]
    return {"key": section.key, "title": written.line(section.title), "blocks": blocks}


def _blocks(block: Block, written: Spelling, room: float, size: float) -> list[dict[str, Any]]:
    """Write a block out; nothing for one without lines, several for a table that is too wide."""
    if isinstance(block, (Lines, Points)) and not block.lines:
        return []
    if isinstance(block, Grid):
        return _tables(block, written, room, size)
    return [_block(block, written)]


def _block(block: Lines | Points | Picture, written: Spelling) -> dict[str, Any]:
    if isinstance(block, Picture):
        wide, high = block.figure.get_size_inches() * 72
        return {
            "kind": "picture",
            "file": f"{block.name}.svg",
            "width": float(wide),
            "height": float(high),
            "scale": 1.0,
            "least": least_scale(block.live_svg),
            "alt": written.line(block.alt),
            "caption": written.line(block.caption) if block.caption else "",
        }
    kind = block.kind if isinstance(block, Lines) else "points"
    return {"kind": kind, "lines": [written.line(one) for one in block.lines]}


def _tables(block: Grid, written: Spelling, room: float, size: float) -> list[dict[str, Any]]:
    """Share the line out among the columns; those that find no room make a second table."""
    head = [written.head(name) for name in block.frame.columns]
    rows = [[written.cell(one) for one in row] for row in block.frame.itertuples(index=False)]
    whole = list(map(whole_words, head))
    parts = columns_of(whole, rows, room, size, parted=not block.over)
    if len(parts) > 1 and len(cut := columns_of(head, rows, room, size)) == 1:
        parts = cut
    else:
        head = whole
    if len(parts) > 1 and turns(head, rows, room, size):
        # What stood over the names of the rows is over those of the columns now.
        head, *rows = (list(cells) for cells in zip(["", *head[1:]], *rows, strict=True))
        parts = columns_of(head, rows, room, size)
    return [
        {
            "kind": "grid",
            "heading": written.line(block.heading) if block.heading and not place else "",
            "note": written.line(block.note) if block.note and place == len(parts) - 1 else "",
            "over": [[written.cell(name), n] for name, n in block.over],
            "head": [breakable(head[n], part.size) for n in part.part],
            "rows": [[breakable(row[n], part.size) for n in part.part] for row in rows],
            "widths": part.widths,
            "size": part.size,
            "gap": part.gap,
            "together": part.ends(rows),
        }
        for place, part in enumerate(parts)
    ]
