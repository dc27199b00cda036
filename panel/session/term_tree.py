"""Where a scored word stands in the vocabulary: its group and its family."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING

from ...forms.questions.term_vocabulary import Vocabulary, vocabulary
from ...forms.questions.words import say

if TYPE_CHECKING:
    import pandas as pd


def word_tree(
    attributes: Iterable[str],
    language: str = "en",
    *,
    name: Callable[[str], str] | None = None,
    words: Vocabulary | None = None,
) -> pd.DataFrame:
    """Return the words in the vocabulary's order, with their groups and families.

    Parameters
    ----------
    attributes : iterable of str
        As in the tidy table: ``aroma:apple`` or ``apple``.
    language : str
    name : callable, optional
        How to call a word; by default its label in the vocabulary.
    words : Vocabulary, optional
        By default the one that comes with the program.

    Returns
    -------
    DataFrame
        Columns ``attribute, label, group, family``; words that the vocabulary
        does not know come last, as own words.
    """
    import pandas as pd

    known = words if words is not None else vocabulary()
    asked = list(attributes)
    place = {term.key: rank for rank, term in enumerate(known.terms)}
    rows = []
    for attribute in sorted(asked, key=lambda one: place.get(_key(one), len(place))):
        key = _key(attribute)
        label = name(attribute) if name is not None else known.name(key, language)
        if key in known:
            term = known[key]
            group = known.group(term.group).label.to(language)
            family = known.family_of(term).label.to(language)
        else:
            group = family = say("vocabulary.own", language)
        rows.append((attribute, label, group, family))
    return pd.DataFrame(rows, columns=["attribute", "label", "group", "family"])


def _key(attribute: str) -> str:
    return attribute.rpartition(":")[2]
