"""Bottles that cross two things, such as pressing and pasteurising: the pairs to read each from.

Where every form of the one comes with every form of the other, each can be read from several
pairs of bottles that differ in it alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING

from ..base.words import Sentence, sentence
from ..findings.evidence import BOTTLE_FACTORS, Evidence
from ..findings.factors import made_apart
from ..session.bottles import CONDITIONS
from ..session.conditions import written

if TYPE_CHECKING:
    import pandas as pd
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
        if not any(made_apart(evidence, *pair) for pair in pairs):
            made.append(Contrast(factor=factor, high=high, low=low, pairs=pairs))
    return made


def form_of(factor: str, own: str, other: str) -> Sentence | str:
    """Write one form of a thing beside another: pasteurised, where the other is raw."""
    if factor in CONDITIONS:
        return written(factor, own)
    if factor != "pasteurised":
        return own
    heated = own != RAW and other == RAW
    return sentence("few_report.heated" if heated else f"report.pasteurised_{own}")
