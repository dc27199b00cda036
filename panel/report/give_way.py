"""What gives way where the first page has more to say than one page holds, and where it stands.

One list of steps, the least important first; they are taken one after the other until the page
fits. The question, a row for each bottle, three sentences how sure, the figure and the cautions
stay; faults give way last. Whatever gives way stands whole in the section that follows the page,
and the page says how many sentences that are and names the section: the page alone has none.
A screen has room: it shows the page whole, and neither that sentence nor that section.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from typing import Any

from ...analysis.core.words import Sentence
from ..base.words import sentence
from ..few.side_by_side import BOTTLES, SHEETS
from ..findings.statement import Statement
from .brief_names import brief_names, with_brief
from .page_room import CLOSER, height, room
from .parts import Block, Grid, Line, Lines, Picture, Points, Report, Section, plain

KEY = "given_way"
"""The section that holds what gave way."""
FIVE, THREE = 5, 3
"""Sentences beside the box and the table of bottles that the page keeps: first so many, then."""
SPARE = ("findings.cell_promise",)
"""Cells beyond what the page owes of a bottle; their column goes first."""
FAULTS = ("findings.cell_noted", "findings.do_cell", "few_report.do_cell")
"""Cells whose lists are cut last."""
_THEN, _MORE = "findings.then", "report.and_more"


@dataclass(frozen=True, slots=True)
class FirstPage:
    """The lines of the box and the sections of a first page, as far as they stand."""

    box: tuple[tuple[str, Line], ...]
    sections: tuple[Section, ...]


Step = Callable[[Report, FirstPage], FirstPage]


def fitted(report: Report) -> Report:
    """Return the report with a first page that fits, and what gave way in a section after it."""
    high = room(report)
    if not report.page_end or height(report) <= high:
        return report
    if report.page == SHEETS and height(without := replace(report, page=BOTTLES)) <= high:
        return without
    report = replace(report, page=BOTTLES) if report.page == SHEETS else report
    keys = [section.key for section in report.sections]
    ends = keys.index(report.page_end) + 1
    whole = FirstPage(tuple(report.in_short), report.sections[:ends])
    page = whole
    made = report
    for step in STEPS:
        page = step(report, page)
        made = _with(report, page, whole)
        if height(made) <= high - CLOSER:
            break
    return made


def _with(report: Report, page: FirstPage, whole: FirstPage) -> Report:
    """Put the page and the section of what gave way into the report."""
    left = [line for line in _told(whole) if line not in _told(page)]
    title = sentence("report.given_way")
    told = sentence("report.given_way_told", n=len(left), title=title)
    tables = _tables(whole)
    after = Section(
        key=KEY,
        title=title,
        blocks=(Points(tuple(left)), *tables),
        data={"sentences": len(left)},
    )
    last = page.sections[-1]
    at = next((n for n, one in enumerate(last.blocks) if isinstance(one, Picture)), None)
    at = len(last.blocks) if at is None else at
    blocks: tuple[Block, ...] = (*last.blocks[:at], plain(told), *last.blocks[at:])
    sections = (*page.sections[:-1], replace(last, blocks=blocks), after)
    on_screens: list[list[Block | None]] = [list(one.blocks) for one in whole.sections]
    on_screens[-1].insert(at, None)
    said = Statement(kind="description", about=(), sentence=told, section=last.key)
    return replace(
        report,
        sections=(*sections, *report.sections[len(whole.sections) :]),
        statements=(*report.statements, said),
        shortened=page.box,
        whole={
            one.key: tuple(map(_either, one.blocks, blocks))
            for one, blocks in zip(sections, on_screens, strict=False)
        },
        paper_only=frozenset((KEY,)),
    )


def _either(paper: Block, screen: Block | None) -> Block | None:
    """Return the block of the page itself where the screen would show the same."""
    if isinstance(paper, Grid) and isinstance(screen, Grid):
        return paper if paper.frame.equals(screen.frame) else screen
    if isinstance(paper, (Lines, Points)) and isinstance(screen, (Lines, Points)):
        return paper if paper.lines == screen.lines else screen
    return screen


def _told(page: FirstPage) -> list[Line]:
    """Return the sentences of a page."""
    lines = [line for _, line in page.box]
    for section in page.sections:
        for block in section.blocks:
            if isinstance(block, (Lines, Points)):
                lines += block.lines
    return lines


def _tables(whole: FirstPage) -> list[Block]:
    """Return the table of bottles whole, each bottle by its whole name."""
    return [
        replace(block, frame=whole.sections[0].tables.get(whole.sections[0].key, block.frame))
        for block in whole.sections[0].blocks
        if isinstance(block, Grid)
    ]


def shortened(value: Any, most: int, *, told: bool = False, asked: Collection[str] = ()) -> Any:
    """Cut the innermost lists of a sentence to `most` parts, and say how many more there are.

    A list of things that hold lists themselves stays: directions, or bottles with their faults.
    With `told` only lists of sentences are cut, such as faults, and none of names. What was
    `asked` is never cut, also beyond `most`, and a single one is never left out.
    """
    if isinstance(value, Sentence) and value.key == _THEN:
        parts = shortened(_parts(value), most, told=told, asked=asked)
        made = parts[-1]
        for one in reversed(parts[:-1]):
            made = sentence(_THEN, first=one, rest=made)
        return made
    if isinstance(value, Sentence):
        said = ((name, shortened(one, most, told=told, asked=asked)) for name, one in value.values)
        return replace(value, values=tuple(said))
    if not isinstance(value, (list, tuple)):
        return value
    held = list(value)
    if any(_holds_list(one) for one in held):
        return [shortened(one, most, told=told, asked=asked) for one in held]
    if told and not all(isinstance(one, Sentence) for one in held):
        return held
    more = 0
    if held and isinstance(held[-1], Sentence) and held[-1].key == _MORE:
        more = int(dict(held.pop().values)["n"])
    kept = _chosen(held, most, asked)
    if not more and len(held) - len(kept) == 1:
        return held  # "1 more" takes as much room as the one
    more += len(held) - len(kept)
    return [*kept, sentence(_MORE, n=more)] if more else kept


def _chosen(held: list[Any], most: int, asked: Collection[str]) -> list[Any]:
    """Return `most` parts of a list in their order: what was asked, and the first of the rest."""
    ours = [n for n, one in enumerate(held) if _names(one, asked)]
    rest = [n for n in range(len(held)) if n not in ours]
    return [held[n] for n in sorted([*ours, *rest[: max(0, most - len(ours))]])]


def _names(part: Any, asked: Collection[str]) -> bool:
    """Tell whether a part of a list is what was asked, or a sentence on it."""
    if isinstance(part, Sentence):
        return any(_names(one, asked) for _, one in part.values)
    return isinstance(part, str) and part in asked


def _parts(value: Sentence) -> list[Any]:
    """Return what a chain of sentences lists."""
    parts: list[Any] = []
    rest: Any = value
    while isinstance(rest, Sentence) and rest.key == _THEN:
        held = dict(rest.values)
        parts.append(held["first"])
        rest = held["rest"]
    return [*parts, rest]


def _holds_list(value: Any) -> bool:
    """Tell whether a part lists something itself."""
    if isinstance(value, (list, tuple)):
        return True
    if not isinstance(value, Sentence):
        return False
    return value.key == _THEN or any(_holds_list(one) for _, one in value.values)


def _blocks(page: FirstPage, change: Callable[[Block], Block]) -> FirstPage:
    sections = tuple(
        replace(one, blocks=tuple(change(block) for block in one.blocks)) for one in page.sections
    )
    return replace(page, sections=sections)


def _brief(report: Report, page: FirstPage) -> FirstPage:
    """Cut long names of bottles outside of the table, in which they stand whole."""
    names = [name for name in report.names if _is_bottle(report, name)]
    brief = brief_names(names)

    def change(block: Block) -> Block:
        if isinstance(block, (Lines, Points)):
            lines = tuple(
                line if isinstance(line, str) else with_brief(line, brief) for line in block.lines
            )
            return replace(block, lines=lines)
        return block

    box = tuple((to, with_brief(line, brief)) for to, line in page.box)
    return _blocks(replace(page, box=box), change)


def _is_bottle(report: Report, name: str) -> bool:
    frame = report.sections[0].tables.get(report.sections[0].key)
    return frame is not None and name in set(frame.iloc[:, 0].astype(str))


def _spare(_report: Report, page: FirstPage) -> FirstPage:
    """Leave the columns beyond what is owed of a bottle to the section after the page."""

    def change(block: Block) -> Block:
        if not isinstance(block, Grid):
            return block
        keep = [
            n
            for n in range(block.frame.shape[1])
            if not any(
                isinstance(cell, Sentence) and cell.key.startswith(SPARE)
                for cell in block.frame.iloc[:, n]
            )
        ]
        return replace(block, frame=block.frame.iloc[:, keep])

    return _blocks(page, change)


def _sentences(most: int) -> Step:
    """Keep so many sentences beside box and table, cautions and advice before descriptions."""

    def step(report: Report, page: FirstPage) -> FirstPage:
        kinds = _kinds(report)

        def change(block: Block) -> Block:
            if not isinstance(block, Points) or len(block.lines) <= most:
                return block
            return replace(block, lines=_first(block.lines, most, kinds))

        return _blocks(page, change)

    return step


def _kinds(report: Report) -> dict[str, str]:
    """Return the kind of each statement by the key of its sentence, which stays when it is cut."""
    made = sorted(report.statements, key=lambda one: one.kind == "caution")
    kinds = {_key(one.sentence): one.kind for one in made}
    kinds |= {f"{one.box}{end}": one.kind for one in made if one.box for end in ("", "_long")}
    return kinds


def _key(line: Line) -> str:
    return line.key if isinstance(line, Sentence) else line


def _first(lines: Sequence[Line], most: int, kinds: dict[str, str]) -> tuple[Line, ...]:
    """Choose by kind, and return the chosen in their order; cautions are all chosen."""
    rank = {"caution": 0, "advice": 1, "claim": 2}
    said = [kinds.get(_key(line), "") for line in lines]
    places = sorted(range(len(lines)), key=lambda n: rank.get(said[n], 3))
    kept = sorted(places[: max(most, said.count("caution"))])
    return tuple(lines[n] for n in kept)


def _lists(most: int) -> Step:
    """Cut lists in the cells and in the sentences how sure, but for faults and what to do."""

    def step(report: Report, page: FirstPage) -> FirstPage:
        def cut(value: Any) -> Any:
            return shortened(value, most, asked=report.asked)

        def change(block: Block) -> Block:
            if isinstance(block, Grid) and not block.over:
                frame = block.frame.copy()
                for n in range(1, frame.shape[1]):
                    cells = [one if _fault(one) else cut(one) for one in frame.iloc[:, n]]
                    frame.isetitem(n, cells)
                return replace(block, frame=frame)
            if isinstance(block, (Lines, Points)):
                return replace(block, lines=tuple(cut(one) for one in block.lines))
            return block

        return _blocks(page, change)

    return step


def _fault(cell: object) -> bool:
    return isinstance(cell, Sentence) and cell.key.startswith(FAULTS)


def _box_lists(most: int) -> Step:
    """Cut lists in the box, but for those of faults and what to do."""

    def step(report: Report, page: FirstPage) -> FirstPage:
        box = tuple(
            (to, line if to in KEPT else shortened(line, most, asked=report.asked))
            for to, line in page.box
        )
        return replace(page, box=box)

    return step


KEPT = ("faults", "words", "decide")
"""Sections whose lines of the box are cut last: what to hold back, and what to do."""


def _box(most: int) -> Step:
    """Keep so many lines of the box: every caution, faults and what to do, then what was asked."""

    def step(report: Report, page: FirstPage) -> FirstPage:
        kinds = _kinds(report)
        warns = [kinds.get(_key(line)) == "caution" for _, line in page.box]
        order = sorted(
            range(len(page.box)),
            key=lambda n: (
                not warns[n],
                page.box[n][0] not in KEPT,
                page.box[n][0] not in report.answers,
            ),
        )
        kept = sorted(order[: max(most, sum(warns))])
        return replace(page, box=tuple(page.box[n] for n in kept))

    return step


def _faults(most: int) -> Step:
    """Cut what is listed of each bottle's faults, in the box and in the cells, to the first."""

    def step(report: Report, page: FirstPage) -> FirstPage:
        def cut(value: Any, *, told: bool = False) -> Any:
            return shortened(value, most, told=told, asked=report.asked)

        def change(block: Block) -> Block:
            if not isinstance(block, Grid) or block.over:
                return block
            frame = block.frame.copy()
            for n in range(1, frame.shape[1]):
                frame.isetitem(n, [cut(one) for one in frame.iloc[:, n]])
            return replace(block, frame=frame)

        box = tuple((to, cut(line, told=True)) for to, line in page.box)
        return _blocks(replace(page, box=box), change)

    return step


STEPS: tuple[Step, ...] = (
    _brief, _spare, _sentences(FIVE), _box_lists(6), _lists(6), _lists(4), _box_lists(4),
    _sentences(THREE), _lists(3), _box(6), _box_lists(2), _lists(2), _box(5), _faults(2),
    _faults(1), _lists(1), _box(3),
)  # fmt: skip
"""What gives way, the least important first."""
