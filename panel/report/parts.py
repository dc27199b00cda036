"""The report as a description: sections of blocks, which renderers turn into pages."""

from __future__ import annotations

import io
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any

from ...analysis.core.look import save
from ...analysis.core.words import Sentence
from ..base.words import sentence
from ..findings.statement import Statement, in_short

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

Line = Sentence | str


def from_to(low: object, high: object) -> Sentence:
    """Write two limits: a dash before a number would read as a minus."""
    return sentence("report.ends", low=low, high=high)


def sized(size: object, low: object, high: object) -> Sentence:
    """Write an estimate and its limits."""
    return sentence("report.sized", size=size, low=low, high=high)


@dataclass(frozen=True, slots=True)
class Lines:
    """Paragraphs of one kind: lead, plain, caution, method, or quote."""

    lines: tuple[Line, ...]
    kind: str = "plain"


@dataclass(frozen=True, slots=True)
class Points:
    """A list of short statements."""

    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Grid:
    """A table to show, its columns named for people already.

    `over` names groups of columns, one after the other, each with how many it has.
    """

    heading: Line
    frame: pd.DataFrame
    note: Line = ""
    folded: bool = False
    over: tuple[tuple[Line, int], ...] = ()


@dataclass(frozen=True, eq=False)
class Picture:
    """A figure with the words that stand in for it."""

    name: str
    figure: Figure
    alt: Line
    caption: Line = ""
    narrow: Figure | None = None
    """The same for the screen of a telephone, where the figure would be too wide for it."""

    @cached_property
    def svg(self) -> str:
        """The figure as SVG, the same for the same data."""
        return _svg(self.figure, self.name, live=False)

    @cached_property
    def narrow_svg(self) -> str:
        """The figure for a telephone as SVG; empty where there is none."""
        return _svg(self.narrow, f"{self.name}-narrow", live=False) if self.narrow else ""

    @cached_property
    def live_svg(self) -> str:
        """The figure as SVG with its words as words, for whoever has the face."""
        return _svg(self.figure, self.name, live=True)

    def png(self) -> bytes:
        """Return the figure as PNG, 160 dots an inch."""
        out = io.BytesIO()
        save(self.figure, out, kind="png", dots=160)
        return out.getvalue()


def _svg(figure: Figure, name: str, *, live: bool) -> str:
    out = io.BytesIO()
    save(figure, out, kind="svg", salt=name, transparent=True, live=live)
    text = out.getvalue().decode("utf-8")
    start, end = text.index("<metadata>"), text.index("</metadata>") + len("</metadata>")
    return text[text.index("<svg") : start] + text[end:]


Block = Lines | Points | Grid | Picture


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Section:
    """One question and its answer.

    Attributes
    ----------
    key : str
        Short name, for links and for ``results.json``.
    title : Sentence
    blocks : tuple of Block
    statements : tuple of Statement
        Those that no `Findings` holds: what a test of difference shows.
    tables : mapping of str to DataFrame
        For ``tables.xlsx``; the name becomes the worksheet's.
    data : Any
        For ``results.json``.
    """

    key: str
    title: Sentence
    blocks: tuple[Block, ...]
    statements: tuple[Statement, ...] = ()
    tables: Mapping[str, pd.DataFrame] = field(default_factory=dict)
    data: Any = None


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Report:
    """A whole report.

    Attributes
    ----------
    title, subtitle : Line
    language : str
    names : frozenset of str
        Bottles, people and the title: they keep their small letters at the beginning of a line.
    sections : tuple of Section
    statements : tuple of Statement
        Everything that is said; the box is built from these alone.
    few : bool
        Whether this is the report of one to three assessors: one page, then an appendix.
    question : str
        As it was asked, where no section says it.
    bottles : int
        Bottles in the table of the first page.
    page : str
        Key of the section that ends the first page, where there is one.
    asked : frozenset of str
        Names of what the session's question asks: no shortened list leaves them out.
    answers : frozenset of str
        Sections whose lines of the box answer that question: they give way after others.
    shortened : tuple of (str, Line), or None
        Lines of the box where not all of them have room on the page, each with its section.
    whole : mapping of str to tuple of Block or None
        Of sections of the first page that were shortened for paper, by key: for each block what
        a screen shows, where nothing has to give way.
    paper_only : frozenset of str
        Keys of sections that screens leave out: what gave way stands in its place there.
    """

    title: Line
    subtitle: Line
    language: str
    names: frozenset[str]
    sections: tuple[Section, ...]
    statements: tuple[Statement, ...] = ()
    few: bool = False
    question: str = ""
    bottles: int = 0
    page: str = "sure"
    asked: frozenset[str] = frozenset()
    answers: frozenset[str] = frozenset()
    shortened: tuple[tuple[str, Line], ...] | None = None
    whole: Mapping[str, tuple[Block | None, ...]] = field(default_factory=dict)
    paper_only: frozenset[str] = frozenset()

    @property
    def page_end(self) -> str:
        """Key of the last section of the first page; the list of contents follows it."""
        there = {section.key for section in self.sections}
        return self.page if self.page in there else ""

    @property
    def in_short(self) -> list[tuple[str, Line]]:
        """The lines of the box at the head, each with the section it leads to."""
        return in_short(self.statements)

    @property
    def box(self) -> list[tuple[str, Line]]:
        """The lines of the box as far as the page has room; all of them where it has enough."""
        return self.in_short if self.shortened is None else list(self.shortened)


def lead(*lines: Line) -> Lines:
    """Give the plain answer that comes first."""
    return Lines(tuple(lines), "lead")


def plain(*lines: Line) -> Lines:
    """Give ordinary paragraphs."""
    return Lines(tuple(lines))


def caution(*lines: Line) -> Lines:
    """Say what needs care."""
    return Lines(tuple(lines), "caution")


def method(*lines: Line) -> Lines:
    """Give method and assumptions, small, at the end of a section."""
    return Lines(tuple(lines), "method")
