"""What a method gives back: numbers, tables, and the sentence that goes with them."""

from __future__ import annotations

import math
import os
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, fields, is_dataclass
from enum import Enum
from functools import partial
from html import escape
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from .limits import sound_row, sound_table
from .table_lines import table_lines
from .wording import MODEL_COLUMNS, cell_words, listed_terms, short
from .words import CATALOGUE, FALLBACK, Sentence, say

LONG_TABLE = 30
"""Rows that are shown of a table where not all is asked for."""


class Interval(NamedTuple):
    """Two limits and the confidence level they were made for (0 to 1)."""

    low: float
    high: float
    level: float = 0.95


class FTest(NamedTuple):
    """An F test: statistic, degrees of freedom, p, and what it was judged against."""

    F: float
    df_num: float
    df_den: float
    p: float
    error_term: str


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Result:
    """Base of all results.

    A subclass is a frozen dataclass with its numbers as fields, says itself
    in `sentences`, and shows itself in `tables`. Two results are never
    compared with ``==`` (their tables could not be).

    Attributes
    ----------
    warnings : tuple of Sentence
        What was computed but needs care.
    """

    warnings: tuple[Sentence, ...] = ()

    def __init_subclass__(cls) -> None:
        # A dataclass that has no __repr__ of its own is given one that shows every table.
        cls.__repr__ = Result.__repr__  # type: ignore[method-assign]

    def sentences(self) -> tuple[Sentence, ...]:
        """Return the plain statements that the numbers allow, main one first."""
        return ()

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return copies of the tables to show, by catalogue key of their heading."""
        return {}

    def to_dict(self, language: str = FALLBACK) -> dict[str, Any]:
        """Return the whole result as a dict that is valid JSON, its sentences in `language`."""
        content = {field.name: getattr(self, field.name) for field in fields(self)}
        content["sentences"] = self.sentences()
        spoken: dict[str, Any] = plain(content, language)
        return spoken

    def text(
        self,
        language: str = FALLBACK,
        said: Iterable[str] | None = None,
        *,
        full: bool = True,
        width: int | None = None,
        people: bool = False,
    ) -> str:
        """Write the result as tables and sentences for a terminal.

        Parameters
        ----------
        language : str
        said : iterable of str, optional
            Stands in place of the sentences, where names are known that the result has not.
        full : bool
            All tables with all rows; else the first one, up to `LONG_TABLE` rows, and the names
            of the others.
        width : int, optional
            Columns of the terminal that the tables may take; without it, what they need.
        people : bool
            Write codes, yes and no as words in English too, as in every other language; Python
            users compare with what English shows otherwise.
        """
        parts = [sentence.to(language) for sentence in self.sentences()]
        parts = parts if said is None else list(said)
        tables = [(say(heading, language), table) for heading, table in self.tables().items()]
        shown_here = tables if full else tables[:1]
        left_out = [heading for heading, _ in tables[len(shown_here) :]]
        for heading, table in shown_here:
            rows = table if full else table.head(LONG_TABLE)
            parts.append(f"{heading}\n{table_lines(spoken(rows, language, people=people), width)}")
            if len(rows) < len(table):
                left_out.insert(0, say("common.more_rows", language, n=len(table) - len(rows)))
        parts += [say("common.caution", language, text=warning) for warning in self.warnings]
        if left_out:
            parts.append(say("common.with_full", language, names=left_out))
        return "\n\n".join(parts)

    def __str__(self) -> str:
        return self.text()

    def __repr__(self) -> str:
        """Return the kind of result and what it says first; ``print`` shows all of it."""
        said = next((str(sentence) for sentence in self.sentences()), "")
        first = said.splitlines()[0] if said else ""
        name = type(self).__name__
        return f"<{name}: {first}>" if first else f"<{name}>"

    def _repr_html_(self) -> str:
        """Return sentences, cautions and tables for a notebook; tables after the first fold up.

        In the language that the variable ``KIKICHOKO_LANGUAGE`` names, else English.
        """
        asked = os.environ.get("KIKICHOKO_LANGUAGE", "")
        language = asked if asked in CATALOGUE.languages("common") else FALLBACK
        said = "".join(f"<p>{escape(sentence.to(language))}</p>" for sentence in self.sentences())
        careful = "".join(
            f"<p><em>{escape(say('common.caution', language, text=warning))}</em></p>"
            for warning in self.warnings
        )
        tables = [
            f"<details{'' if place else ' open'}><summary>"
            f"<b>{escape(say(heading, language))}</b></summary>"
            + spoken(table, language).to_html(
                index=False, float_format=short, border=0, na_rep="", justify="left"
            )
            + "</details>"
            for place, (heading, table) in enumerate(self.tables().items())
        ]
        return f"<div>{said}{careful}{''.join(tables)}</div>"


def headed(table: pd.DataFrame) -> pd.DataFrame:
    """Let the headings that every language has a word for follow the reader's language."""
    said = {name: Sentence.of(f"column.{name}") for name in CATALOGUE.topic(FALLBACK, "column")}
    return table.rename(columns=said)


def spoken(table: pd.DataFrame, language: str, *, people: bool = False) -> pd.DataFrame:
    """Write the sentences in a table's headings and cells out, without limits that are none."""

    def one(cell: object) -> object:
        return cell.to(language) if isinstance(cell, Sentence) else cell

    sound = sound_table(table)
    if people or language != FALLBACK:  # English shows what Python users compare with
        sound = sound.apply(lambda column: column.map(partial(_in_words, column.name)))
    return headed(sound.map(one)).rename(columns=one)


def _in_words(column: object, cell: object) -> object:
    """Write codes, parts of a model, yes and no as sentences; everything else stays."""
    if isinstance(cell, (bool, np.bool_)):
        return Sentence.of("common.yes" if cell else "common.no")
    if not isinstance(cell, str) or not isinstance(column, str):
        return cell
    if column in MODEL_COLUMNS and cell:
        return listed_terms(cell)
    return cell_words(column, cell)


_PLAIN = frozenset((str, int, bool, type(None)))
"""What JSON holds as it is."""


def plain(value: object, language: str = FALLBACK) -> Any:
    """Turn results, tables, numpy values and sentences into what JSON can hold.

    A missing number becomes None, as limits that are none (see `limits`);
    infinity, which JSON cannot hold, becomes the word "infinity" or "-infinity".

    Examples
    --------
    >>> plain({"F": np.float64(2.5), "p": float("nan"), "limit": float("inf")})
    {'F': 2.5, 'p': None, 'limit': 'infinity'}
    """
    converted: Any
    # Most are of these kinds, and the patterns below take ten times as long.
    if type(value) in _PLAIN:
        return value
    if type(value) is float:
        return _finite(value)
    if type(value) is dict and all(type(name) is str for name in value):
        return sound_row({name: plain(item, language) for name, item in value.items()})
    if type(value) is list or type(value) is tuple:
        return [plain(item, language) for item in value]
    match value:
        case None | bool() | int() | str():
            converted = value
        case Sentence():
            converted = value.to(language)
        case Enum():
            converted = plain(value.value, language)
        case pd.DataFrame():
            converted = [plain(row, language) for row in value.to_dict("records")]
        case pd.Series():
            converted = {str(name): plain(cell, language) for name, cell in value.items()}
        case np.ndarray():
            converted = plain(value.tolist(), language)
        case np.generic():
            converted = plain(value.item(), language)
        case float():
            converted = _finite(value)
        case Result():
            converted = value.to_dict(language)
        case Mapping():
            every = {
                str(plain(name, language)): plain(item, language) for name, item in value.items()
            }
            converted = sound_row(every)
        case _ if is_dataclass(value):
            own = {field.name: getattr(value, field.name) for field in fields(value)}
            converted = plain(own, language)
        case tuple() if hasattr(value, "_asdict"):
            converted = plain(value._asdict(), language)
        case Iterable():
            converted = [plain(item, language) for item in value]
        case _ if value is pd.NA or value is pd.NaT:
            converted = None
        case _:
            converted = str(value)
    return converted


def _finite(value: float) -> float | str | None:
    if math.isnan(value):
        return None
    if math.isinf(value):
        return "infinity" if value > 0 else "-infinity"
    return value


def copies(**tables: pd.DataFrame) -> dict[str, pd.DataFrame]:
    """Return copies, so that a reader who edits a table does not edit the result.

    Limits that are none are missing in them, see `limits`.
    """
    return {name: sound_table(table) for name, table in tables.items()}


def each_row(table: pd.DataFrame, write: Callable[[Any], Sentence]) -> tuple[Sentence, ...]:
    """Write one sentence per row of a table."""
    return tuple(write(row) for row in table.itertuples(index=False))
