"""What comes back: answers with the place they were found at, and faults of reading.

Reading never stops at the first fault and never guesses: a cell is either
understood or it is listed with what was there and what to do.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from ..questions.cards import name_of
from ..questions.words import CATALOGUE, FALLBACK, say, shown
from .numbers import written_number

REMARK = ":@remark"
"""What follows the name of an attribute for a remark that was written beside its answer."""
_BLANK = frozenset({"missing", "empty_cup", "empty_sheet"})
_LONGEST = 500  # signs of what was found that a message repeats; the fault keeps them all


def is_remark(attribute: str) -> bool:
    """Tell whether an attribute is a remark beside an answer, no answer itself.

    Examples
    --------
    >>> is_remark("sweetness" + REMARK), is_remark("words")
    (True, False)
    """
    return attribute.endswith(REMARK)


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """One answer of one assessor about one presentation.

    Attributes
    ----------
    session, assessor : str
    code : str
        The presentation's name: a blind code, or codes joined by hyphens.
    attribute : str
        As in `Question.attributes`; with `REMARK` at its end, a remark beside that answer.
    value : float or str
        A number, or text for free words and for a chosen code.
    file, place : str
        File name and where in it: ``Sheet!C7``, ``row 12, sweetness``, ``page 2``.
    written : str
        What stood there, letter for letter.
    confidence : float
        1 for typed answers; between 0 and 1 for marks read from a picture.
    """

    session: str
    assessor: str
    code: str
    attribute: str
    value: float | str
    file: str
    place: str
    written: str = ""
    confidence: float = 1.0

    def as_written(self) -> str:
        """Say what stood there, in quotes; of an empty place that has a value, the value.

        Examples
        --------
        >>> cell = {"session": "s", "assessor": "A", "code": "123", "file": "f", "place": "C7"}
        >>> Answer(**cell, attribute="aroma:pear", value=1.0, written="○").as_written()
        "'○'"
        >>> Answer(**cell, attribute="aroma:pear", value=0.0).as_written()
        '0'
        """
        if self.written or isinstance(self.value, str):
            return f"'{self.written or self.value}'"
        return written_number(self.value)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """Something in a returned file that needs a person.

    Attributes
    ----------
    kind : str
        Stable short name; its words stand in the catalogue, topic ``fault``.
    file, place : str
    assessor, code, attribute : str
        As far as known, else empty.
    found : str
        What stood there, letter for letter.
    expected : str
        What could have stood there.
    """

    kind: str
    file: str
    place: str = ""
    assessor: str = ""
    code: str = ""
    attribute: str = ""
    found: str = ""
    expected: str = ""

    @property
    def blank(self) -> bool:
        """Whether nothing stood there: all else came back and was not understood."""
        return self.kind in _BLANK

    def message(self, language: str = FALLBACK) -> str:
        """Say what is wrong and what to do."""
        values = {name: _short(getattr(self, name)) for name in self.__slots__}
        if language != FALLBACK:  # in English the key is the word that stands in tables
            values["attribute"] = name_of(self.attribute, language)
        what = CATALOGUE.sentence(f"fault.{self.kind}", **values)
        return told_at(self.file, self.where(language), what, language)

    def where(self, language: str = FALLBACK) -> str:
        """Write the row of a table, the page of a sheet, the picture of a file in a language."""
        return said_place(self.place, language)


def told_at(file: str, place: str, what: object, language: str) -> str:
    """Write what is wrong after the file and the place in it, as far as these are known."""
    where = place or file
    if file and place:
        where = say("place.within", language, file=file, place=place)
    where = shown(where).replace("\n", "␊")
    return say("place.told", language, where=where, what=what)


def said_place(place: str, language: str) -> str:
    """Write a place in a file in a language; cells of a workbook are names of their own.

    Examples
    --------
    >>> said_place("page 2", "ja"), said_place("D5", "ja")
    ('2 ページ', 'D5')
    """
    row = re.fullmatch(r"row (\d+)(?:, (.+))?", place, re.DOTALL)
    if row is not None:
        key = "place.cell" if row[2] else "place.row"
        return say(key, language, row=row[1], heading=row[2])
    seen = re.fullmatch(r"(page|picture) (\d+)", place)
    if seen is None:
        return place
    key, value = ("place", "page") if seen[1] == "page" else ("picture", "number")
    return say(f"paper.{key}", language, **{value: seen[2]})


def _short(text: str) -> str:
    return text if len(text) <= _LONGEST else f"{text[:_LONGEST]} …"


@dataclass(frozen=True, slots=True)
class Reading:
    """The outcome of reading files: all that was understood, and all that was not."""

    answers: tuple[Answer, ...] = ()
    faults: tuple[Fault, ...] = ()

    @classmethod
    def join(cls, readings: Iterable[Reading]) -> Reading:
        """Put several readings together."""
        parts = list(readings)
        return cls(
            tuple(answer for part in parts for answer in part.answers),
            tuple(fault for part in parts for fault in part.faults),
        )


def thrown_by(file: str, thrown: BaseException) -> Fault:
    """Make the fault of a file at which its reader failed in a way that nobody foresaw."""
    text = " ".join(str(thrown).split())[:200]
    found = f"{type(thrown).__name__}: {text}" if text else type(thrown).__name__
    return Fault(kind="unreadable_file", file=file, found=found)
