"""One sentence of a report, with its kind: claim, hint, description, advice or caution.

A claim would be false if nothing were going on; claims share one budget of
error a report. A hint is too weak for that and says so. A description tells
what these people wrote down. Advice says what to do, a caution what to mind.
"""

from __future__ import annotations

from collections.abc import Container, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from ...analysis.core.wording import fixed, limit
from ...line_breaks import columns
from ..base.words import Sentence, begun, sentence

MOST = 8
"""Lines of the box; beyond them descriptions are left to their sections, the last first."""
LONG = 420
"""Letters of a line of the box (in English) beyond which it names alone what it is about; a
Japanese one is as wide as two."""
KINDS = ("claim", "hint", "description", "advice", "caution")
Line = Sentence | str


@dataclass(frozen=True, slots=True, kw_only=True)
class Rows:
    """A table in which a page writes a statement whose sentence would be a wall of numbers.

    It holds what the sentence holds; files of numbers keep the sentence.
    """

    heading: Line
    columns: tuple[Line, ...]
    cells: tuple[tuple[Line, ...], ...]
    note: Line = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Statement:
    """One thing that a report says.

    Attributes
    ----------
    kind : str
        One of `KINDS`.
    about : tuple of str
        Bottles, attributes or assessors that it is about, by their keys.
    sentence : Sentence or str
    section : str
        Key of the report's section that it belongs to.
    p, p_adjusted : float or None
        Of its test alone, and within the budget of the report.
    family : str
        What was tested: scale, balance, promise, expected, word, fault, overall,
        majority, maker, effect, assessor; empty without a test.
    rank : int or None
        Place in the box, small numbers first; None keeps it out of the box.
    box : str
        Key of the line of the box that statements of this kind share; empty
        for a line of its own.
    brief : Sentence or str
        The statement as a part of that shared line.
    shared : Sentence or str
        What follows `brief`; statements that have it in common are written together.
    name : Sentence or str
        What stands for the statement where the shared line would be longer than `LONG`; the
        table of bottles then says the rest.
    rows : Rows or None
        The statement as a table: a page shows that instead of the sentence.

    Raises
    ------
    ValueError
        For an unknown kind, a claim without its p, or a hint with a place in
        the box.
    """

    kind: str
    about: tuple[str, ...]
    sentence: Line
    section: str
    p: float | None = None
    p_adjusted: float | None = None
    family: str = ""
    rank: int | None = None
    box: str = ""
    brief: Line = ""
    shared: Line = ""
    name: Line = ""
    rows: Rows | None = None

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            message = f"a statement is one of {KINDS}, not {self.kind!r}"
            raise ValueError(message)
        if self.kind == "claim" and (self.p is None or self.p_adjusted is None):
            message = "a claim carries its p, alone and adjusted"
            raise ValueError(message)
        if self.kind == "hint" and self.rank is not None:
            message = "a hint has no place in the box"
            raise ValueError(message)

    def to_dict(self, language: str, names: Container[str] = ()) -> dict[str, Any]:
        """Return the statement as plain values for ``results.json``; `names` keep their letters."""
        return {
            "kind": self.kind,
            "about": list(self.about),
            "sentence": begun(self.sentence, language, names),
            "p": self.p,
            "p_adjusted": self.p_adjusted,
            "family": self.family,
            "section": self.section,
            "in_short": self.rank is not None,
        }


def signed(value: float) -> str:
    """Write a difference with its sign; what rounds to nothing without one.

    >>> signed(1.26), signed(-0.04), signed(-0.5)
    ('+1.3', '0.0', '−0.5')
    """
    return fixed(value, sign=True)


def limits(low: float, high: float) -> Line:
    """Write the 95 % limits of a number of points; nothing where they have no width."""
    ends = [limit(float(end)) for end in (low, high)]
    if "nan" in ends or ends[0] == ends[1]:
        return ""
    return sentence("findings.limits", start=ends[0], end=ends[1])


def in_short(statements: Iterable[Statement]) -> list[tuple[str, Line]]:
    """Return the lines of the box with their sections, from the statements and nothing else.

    Statements that share a line of the box are written as one. Of more than `MOST`
    lines descriptions are left out; claims, advice and cautions never are.
    """
    placed: dict[object, list[Statement]] = {}
    for number, one in enumerate(statements):
        if one.rank is not None:
            placed.setdefault((one.box, one.section) if one.box else number, []).append(one)
    order = sorted(placed.values(), key=lambda group: min(one.rank or 0 for one in group))
    spare = [group for group in order if all(one.kind == "description" for one in group)]
    while len(order) > MOST and spare:
        order.remove(spare.pop())
    return [(group[0].section, _line(group)) for group in order]


def _line(group: Sequence[Statement]) -> Line:
    first = group[0]
    if not first.box:
        return first.sentence
    whole = sentence(first.box, n=len(group), listed=joined(_together(group)))
    if columns(str(whole)) > LONG and all(one.name for one in group):
        names = list({str(one.name): one.name for one in group}.values())
        return sentence(f"{first.box}_long", n=len(group), listed=names)
    return whole


def _together(group: Sequence[Statement]) -> list[Line]:
    """Write parts that end alike as one part: what they say in common is said once."""
    ends: dict[str, list[Statement]] = {}
    for one in group:
        ends.setdefault(str(one.shared) or str(one.brief), []).append(one)
    return [
        sentence("findings.listed_with", listed=[one.brief for one in ones], what=ones[0].shared)
        if ones[0].shared
        else ones[0].brief
        for ones in ends.values()
    ]


def joined(lines: Sequence[Line]) -> Line:
    """Join lines that hold commas themselves by semicolons."""
    made: Line = lines[-1]
    for line in reversed(lines[:-1]):
        made = sentence("findings.then", first=line, rest=made)
    return made
