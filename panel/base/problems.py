"""Faults and cautions of a session folder, each with its place and what to do."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from ...analysis.core.words import FALLBACK, Sentence
from .words import sentence


@dataclass(frozen=True, slots=True)
class Problem:
    """One fault or caution.

    Attributes
    ----------
    place : str
        File with line, or with row and column: ``session.toml, line 12``.
    what : Sentence
        What was found, what was expected, what to do.
    """

    place: str
    what: Sentence

    def to(self, language: str = FALLBACK) -> str:
        """Write the problem with its place."""
        return f"{self.place}: {self.what.to(language)}"


def problem(place: str, key: str, /, **values: object) -> Problem:
    """Make a problem from the catalogue's topic ``folder``."""
    return Problem(place, sentence(f"folder.{key}", **values))


def listed(problems: Iterable[Problem], language: str = FALLBACK) -> str:
    """Write problems one a line."""
    return "\n".join(f"- {problem.to(language)}" for problem in problems)


def cell(file: str, row: int, column: str) -> str:
    """Name a cell of a table; rows as a spreadsheet counts them, the heading being row 1."""
    return f"{file}, row {row}, column '{column}'"
