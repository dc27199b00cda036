"""Several faults in one sentence: a cup that was half filled in is one matter, not twenty."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import groupby

from ..questions.cards import name_of
from ..questions.words import FALLBACK, say
from .answer import Fault, told_at

MISSING = "missing"
SEVERAL = 4
"""So many answers missing of one cup in a row are told together; up to three stand alone."""


def told_together(
    faults: Iterable[tuple[int, Fault]], language: str = FALLBACK
) -> Iterator[tuple[tuple[int, int], str]]:
    """Write faults, each by its number, and those that belong together as one.

    Answers that one assessor left out of one cup of one file are told in one sentence, with the
    place of each, when there are `SEVERAL` with numbers that follow each other.

    Parameters
    ----------
    faults : iterable of (int, Fault)
        In the order of their numbers.

    Yields
    ------
    tuple of ((int, int), str)
        First and last number, the same for a fault that stands alone, and the sentence.

    Examples
    --------
    >>> told = {"kind": MISSING, "file": "A.xlsx", "assessor": "A", "code": "123"}
    >>> four = [Fault(**told, place=f"1-123!D{n}", attribute=f"own_{n}") for n in range(7, 11)]
    >>> for numbers, what in told_together(enumerate(four, 3)):
    ...     print(numbers, what)
    (3, 6) A.xlsx, 1-123: 4 answers for cup 123 by assessor A are missing: own_7 (D7), own_8 (D8), \
own_9 (D9), own_10 (D10). Ask, or leave them: missing answers stay missing.
    """
    for (_, about), run in groupby(enumerate(faults), lambda told: _belongs(*told)):
        found = [fault for _, fault in run]
        if about is None or len(found) < SEVERAL:
            yield from (((number, number), one.message(language)) for number, one in found)
        else:
            yield (found[0][0], found[-1][0]), _several([one for _, one in found], language)


def numbered(first: int, last: int) -> str:
    """Write the numbers of faults that are told together, as `numbers_of` reads them.

    Examples
    --------
    >>> numbered(3, 3), numbered(3, 6)
    ('3', '3-6')
    """
    return str(first) if first == last else f"{first}-{last}"


def numbers_of(text: str) -> range:
    """Read one number, or the first and last of several.

    Raises
    ------
    ValueError
        If it is neither, or the last stands before the first.

    Examples
    --------
    >>> list(numbers_of("3")), list(numbers_of("3-6"))
    ([3], [3, 4, 5, 6])
    """
    first, _, last = text.replace("\u2013", "-").partition("-")
    found = range(int(first), int(last or first) + 1)
    if not found:
        raise ValueError(text)
    return found


def _belongs(nth: int, told: tuple[int, Fault]) -> tuple[int, tuple[str, ...] | None]:
    """Tell what a fault can be told with; numbers that follow each other keep their distance."""
    number, fault = told
    if fault.kind != MISSING:
        return number, None
    sheet = fault.place.rpartition("!")[0]
    return number - nth, (fault.file, sheet, fault.assessor, fault.code)


def _several(faults: list[Fault], language: str) -> str:
    first = faults[0]
    sheet = first.place.rpartition("!")[0]
    cells = [_cell(one, language) for one in faults]
    what = say(
        "place.missing", language, n=len(faults), code=first.code, assessor=first.assessor,
        cells=cells,
    )  # fmt: skip
    return told_at(first.file, sheet, what, language)


def _cell(fault: Fault, language: str) -> str:
    name = fault.attribute if language == FALLBACK else name_of(fault.attribute, language)
    sheet, _, cell = fault.place.rpartition("!")
    place = cell if sheet else fault.where(language)
    return say("place.named", language, name=name, place=place) if place else name
