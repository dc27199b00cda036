"""Faults and cautions of a session folder, each with its place and what to do."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from ...analysis.core.words import Sentence
from .words import reader, say, sentence


@dataclass(frozen=True, slots=True)
class Problem:
    """One fault or caution.

    Attributes
    ----------
    place : str or Sentence
        File, with line, or with row and column: ``session.toml, line 12``.
    what : Sentence
        What was found, what was expected, what to do.
    """

    place: str | Sentence
    what: Sentence

    def to(self, language: str | None = None) -> str:
        """Write the problem with its place, for the reader at the terminal if for nobody else."""
        return say("folder.problem", language, place=self.place, what=self.what)


def problem(place: str | Sentence, key: str, /, **values: object) -> Problem:
    """Make a problem from the catalogue's topic ``folder``."""
    return Problem(place, sentence(f"folder.{key}", **values))


def listed(problems: Iterable[Problem], language: str | None = None) -> str:
    """Write problems one a line."""
    return "\n".join(f"- {problem.to(language or reader())}" for problem in problems)


def cell(file: str, row: int, column: str) -> Sentence:
    """Name a cell of a table; rows as a spreadsheet counts them, the heading being row 1."""
    return sentence("folder.place_cell", file=file, row=row, column=column)


def row_of(file: str, row: int) -> Sentence:
    """Name a row of a table, as a spreadsheet counts them."""
    return sentence("folder.place_row", file=file, row=row)


def line_of(file: str, line: int) -> Sentence:
    """Name a line of a text."""
    return sentence("folder.place_line", file=file, line=line)
