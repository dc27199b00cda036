"""What is known of a fault: likely cause, and what a brewer checks next."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING

from ...forms.questions.term_vocabulary import vocabulary
from ..base.words import say

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, slots=True, kw_only=True)
class Guide:
    """One fault.

    Attributes
    ----------
    key : str
        The term's key in the vocabulary.
    compound, threshold, bracket : str
        Substance; threshold in sake; that of beer, wine or water. May be empty.
    compound_mark, threshold_mark, cause_mark, next_mark : str
        "source" or "memory", for each part; empty where the part is.
    source : str
        What was seen, where a mark says so.
    """

    key: str
    compound: str = ""
    compound_mark: str = ""
    threshold: str = ""
    threshold_mark: str = ""
    bracket: str = ""
    cause_mark: str
    next_mark: str
    source: str = ""

    def compound_in(self, language: str = "en") -> str:
        """Name the substance in a language; empty where none is known."""
        return say(f"fault_guide.{self.key}_compound", language) if self.compound else ""

    def cause(self, language: str = "en") -> str:
        """Say the likely cause in brewing or storage."""
        return say(f"fault_guide.{self.key}_cause", language)

    def check_next(self, language: str = "en") -> str:
        """Say what a brewer checks next."""
        return say(f"fault_guide.{self.key}_next", language)

    def marks(self, language: str = "en") -> str:
        """Say where each part is from."""
        words = {
            name: say(f"fault_guide.mark_{getattr(self, f'{name}_mark') or 'none'}", language)
            for name in ("compound", "cause", "next")
        }
        return say("fault_guide.marks", language, **words)


@cache
def fault_guide() -> dict[str, Guide]:
    """Return all that is recorded, by the term's key.

    Examples
    --------
    >>> guide = fault_guide()["musty"]
    >>> guide.threshold, guide.threshold_mark
    ('0.75 ng/L', 'source')
    """
    text = files(__package__).joinpath("fault_guide.toml").read_text("utf-8")
    return {key: Guide(key=key, **given) for key, given in tomllib.loads(text).items()}


def guide_table(attributes: Iterable[str], language: str = "en") -> pd.DataFrame:
    """Return cause and next checks of some faults, for people.

    Parameters
    ----------
    attributes : iterable of str
        As in the tidy table: ``fault:stale`` or ``stale``.
    language : str

    Returns
    -------
    DataFrame
        One row a fault; one that nothing is recorded about says so.
    """
    import pandas as pd

    rows = []
    for attribute in attributes:
        key = attribute.rpartition(":")[2]
        guide = fault_guide().get(key)
        rows.append(
            {
                say("fault_guide.col_fault", language): vocabulary().name(key, language),
                say("fault_guide.col_compound", language): guide.compound_in(language)
                if guide
                else "",
                say("fault_guide.col_cause", language): guide.cause(language)
                if guide
                else say("fault_guide.unknown", language),
                say("fault_guide.col_next", language): guide.check_next(language) if guide else "",
                say("fault_guide.col_marks", language): guide.marks(language) if guide else "",
            }
        )
    return pd.DataFrame(rows)
