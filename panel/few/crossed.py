"""Bottles that cross two things, such as pressing and pasteurising: what each of them does.

Where every form of the one comes with every form of the other, each can be read from several
pairs of bottles that differ in it alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING

from ..base.words import Sentence, sentence
from ..findings.evidence import BOTTLE_FACTORS, Evidence
from ..findings.statement import Line, Statement
from ..session.bottles import CONDITIONS
from ..session.conditions import written
from .side_by_side import ALIKE, people, rows
from .tasters import inside, points, said

if TYPE_CHECKING:
    import pandas as pd

SECTION, RANK = "sheets", 31
RAW = "0"


@dataclass(frozen=True, slots=True, kw_only=True)
class Contrast:
    """One thing in two forms, and the pairs of bottles that differ in it alone.

    Attributes
    ----------
    factor, high, low : str
        The thing and its two forms.
    pairs : tuple of (str, str)
        A bottle of the form `high` and the one that is like it, of the form `low`.
    """

    factor: str
    high: str
    low: str
    pairs: tuple[tuple[str, str], ...]

    @property
    def turned(self) -> Contrast:
        """The same, the other way round."""
        pairs = tuple((low, high) for high, low in self.pairs)
        return Contrast(factor=self.factor, high=self.low, low=self.high, pairs=pairs)

    def gaps(self, marks: pd.DataFrame) -> pd.Series:
        """Return how far each assessor puts `high` above `low`, on average over the pairs."""
        high, low = ([pair[side] for pair in self.pairs] for side in (0, 1))
        return marks[high].mean(axis=1, skipna=False) - marks[low].mean(axis=1, skipna=False)


def contrasts(evidence: Evidence) -> list[Contrast]:
    """Return what can be read from several pairs; nothing where forms are not fully crossed."""
    factors = [*BOTTLE_FACTORS, *evidence.varied]
    forms = {
        name: tuple(evidence.bottle(name).level(factor) for factor in factors)
        for name in evidence.products
    }
    levels = [list(dict.fromkeys(form)) for form in zip(*forms.values(), strict=True)]
    bottle_of = {form: name for name, form in forms.items()}
    whole = set(product(*levels)) == set(bottle_of) and len(bottle_of) == len(forms)
    if not whole or any("" in form for form in forms.values()):
        return []
    if sum(len(own) > 1 for own in levels) < 2:
        return []
    made = []
    for place, (factor, own) in enumerate(zip(factors, levels, strict=True)):
        if len(own) != 2:
            continue
        low, high = own
        pairs = tuple(
            (bottle_of[*form[:place], high, *form[place + 1 :]], name)
            for form, name in bottle_of.items()
            if form[place] == low
        )
        made.append(Contrast(factor=factor, high=high, low=low, pairs=pairs))
    return made


def statements(evidence: Evidence) -> list[Statement]:
    """Say of each thing in which attributes all assessors go one way, with everybody's sizes."""
    found = contrasts(evidence)
    several = len(people(evidence)) > 1
    made = [_one_way(evidence, one) for one in found if several]
    if any(one.rank is not None for one in made):
        ways = 2 ** (len(people(evidence)) - 1)
        made.append(said("caution", "crossed_chance", section=SECTION, ways=ways))
    if len(found) > 1:
        factors = [sentence(f"few_report.factor_{one.factor}") for one in found]
        made.append(said("caution", "crossed_both", section=SECTION, factors=factors))
    return made


def _one_way(evidence: Evidence, one: Contrast) -> Statement:
    """Say it the way round in which more attributes are higher."""
    ways = _ways(evidence, one)
    if len(ways["lower"]) > len(ways["higher"]):
        one, ways = one.turned, {"higher": ways["lower"], "lower": ways["higher"]}
    parts = [
        sentence(f"few_report.crossed_{way}", listed=[told for *_, told in own])
        for way, own in ways.items()
        if own
    ]
    return said(
        "description",
        "crossed",
        tuple(attribute for own in ways.values() for _, attribute, _ in own),
        section=SECTION,
        rank=RANK if parts else None,
        high=_form(one.factor, one.high, one.low),
        low=_form(one.factor, one.low, one.high),
        pairs=[sentence("few_report.crossed_pair", high=a, low=b) for a, b in one.pairs],
        who=inside(evidence),
        parts=parts or sentence("few_report.crossed_none"),
    )


def _ways(evidence: Evidence, one: Contrast) -> dict[str, list[tuple[float, str, Line]]]:
    """Return the attributes in which everybody goes one way, the widest on average first."""
    ways: dict[str, list[tuple[float, str, Line]]] = {"higher": [], "lower": []}
    for row in rows(evidence):
        if not row.whole or len(row.marks.columns) < len(evidence.products):
            continue
        gaps = one.gaps(row.marks)
        for way, sign in (("higher", 1), ("lower", -1)):
            if (sign * gaps > ALIKE).all():
                each = [
                    sentence("few_report.nose_each", assessor=str(code), by=points(abs(gap)))
                    for code, gap in gaps.items()
                ]
                name = evidence.name(row.attribute).lower()
                told = sentence("few_report.crossed_one", attribute=name, listed=each)
                ways[way].append((-abs(float(gaps.mean())), row.attribute, told))
    return {way: sorted(own, key=_first) for way, own in ways.items()}


def _first(item: tuple[float, str, Line]) -> float:
    return item[0]


def _form(factor: str, own: str, other: str) -> Sentence | str:
    if factor in CONDITIONS:
        return written(factor, own)
    if factor != "pasteurised":
        return own
    heated = own != RAW and other == RAW
    return sentence("few_report.heated" if heated else f"report.pasteurised_{own}")
