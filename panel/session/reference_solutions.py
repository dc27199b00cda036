"""Reference solutions for training: what to add to what, why that much, and how to handle it.

The table stands in ``reference_solutions.csv``. Amounts are typical training
levels, not thresholds and not limits of law; each row carries its source or
the mark "from memory" or "common practice, no source".
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING

from ...analysis.core.result import Result
from ...analysis.core.words import Sentence
from ..base.errors import InputRefused
from ..base.words import reader, say, sentence

if TYPE_CHECKING:
    import pandas as pd

FILE = "reference_solutions.csv"
MARKS = ("from memory", "common practice, no source")
SAID = ("name", "compound", "shows", "source")
"""What each solution says in other languages too."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Solution:
    """One reference solution.

    Attributes
    ----------
    key, kind, name, compound : str
        `kind` is taste, mouthfeel, aroma or off-flavour.
    amount : float
    unit : str
        Per litre of `base`, or hours.
    base : str
        ``water``, or ``sake``: a neutral one, chilled and fresh.
    shows : str
        What to notice.
    serves : tuple of str
        Attributes of the scorecard that it trains.
    source, mark : str
        Where the amount comes from; one of `MARKS`.
    handling : str
        Key of the caution, ``references.handling_<key>`` in the catalogue.
    japanese : dict
        Name, compound, shows and source in Japanese.
    """

    key: str
    kind: str
    name: str
    compound: str
    amount: float
    unit: str
    base: str
    shows: str
    serves: tuple[str, ...]
    source: str
    mark: str
    handling: str
    japanese: Mapping[str, str]

    def mark_in(self, language: str) -> str:
        """Say in a language what kind of source the amount has."""
        return say(f"references.mark_{MARKS.index(self.mark)}", language)

    def said(self, field: str, language: str) -> str:
        """Return name, compound, shows or source in a language; English where it has none."""
        return (self.japanese.get(field) if language == "ja" else "") or str(getattr(self, field))


@cache
def solutions() -> tuple[Solution, ...]:
    """Return all reference solutions."""
    text = files(__package__).joinpath(FILE).read_text("utf-8")
    return tuple(
        Solution(
            key=row["key"],
            kind=row["kind"],
            name=row["name"],
            compound=row["compound"],
            amount=float(row["amount"]),
            unit=row["unit"],
            base=row["base"],
            shows=row["shows"],
            serves=tuple(row["serves"].split(";")),
            source=row["source"],
            mark=row["mark"],
            handling=row["handling"],
            japanese={field: row[f"{field}_ja"] for field in SAID},
        )
        for row in csv.DictReader(io.StringIO(text))
    )


def serving(attribute: str) -> tuple[Solution, ...]:
    """Return the solutions that train an attribute, e.g. ``acidity`` or ``fault:stale``."""
    return tuple(one for one in solutions() if attribute in one.serves)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Shelf(Result):
    """Chosen solutions for one batch, with the cautions that go with them.

    Attributes
    ----------
    litres : float
        Volume that the amounts are worked out for.
    chosen : tuple of Solution
    """

    litres: float
    chosen: tuple[Solution, ...]

    def sentences(self) -> tuple[Sentence, ...]:
        """Say the general cautions, then those of each substance."""
        said = [sentence("references.general"), sentence("references.levels")]
        kinds = dict.fromkeys(one.handling for one in self.chosen)
        for kind in kinds:
            names = [one.said("name", reader()) for one in self.chosen if one.handling == kind]
            listed = say("references.between").join(names)
            said.append(sentence(f"references.handling_{kind}", names=listed))
        return tuple(said)

    def tables(self) -> dict[str, pd.DataFrame]:
        """Return one row a solution, amounts for the chosen volume."""
        import pandas as pd

        rows = [
            {
                "key": one.key,
                "kind": one.kind,
                "name": one.name,
                "compound": one.compound,
                "per litre": f"{one.amount:g} {one.unit}",
                f"for {self.litres:g} L": _for(one, self.litres),
                "in": one.base,
                "shows": one.shows,
                "source": one.source,
                "mark": one.mark,
            }
            for one in self.chosen
        ]
        return {"references.heading": pd.DataFrame(rows)}


def _for(one: Solution, litres: float) -> str:
    amount, slash, _ = one.unit.partition("/")
    return f"{one.amount * litres:g} {amount}" if slash else f"{one.amount:g} {one.unit}"


def shelf(serves: str | None = None, litres: float = 1.0) -> Shelf:
    """Choose the solutions that train an attribute, or all.

    Raises
    ------
    InputRefused
        If none trains that attribute.
    """
    chosen = solutions() if serves is None else serving(serves)
    if not chosen:
        known = sorted({name for one in solutions() for name in one.serves})
        raise InputRefused("references.unknown", found=serves, known=list(known))
    return Shelf(litres=litres, chosen=chosen)
