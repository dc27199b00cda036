"""Faults that assessors wrote in their own words, without ticking them."""

from __future__ import annotations

from collections.abc import Collection
from typing import TYPE_CHECKING

from ...forms.questions.term_vocabulary import Vocabulary

if TYPE_CHECKING:
    import pandas as pd

COLUMNS = ["assessor", "sample", "replicate", "fault"]


def written_faults(
    words: pd.DataFrame, vocabulary: Vocabulary, asked: Collection[str]
) -> pd.DataFrame:
    """Find faults in the free words of a session.

    Parameters
    ----------
    words : DataFrame
        `Scores.words`: columns ``assessor, sample, replicate, text`` and others.
    vocabulary : Vocabulary
        With the session's own words.
    asked : collection of str
        The attributes of the questions on faults, ``question:term``.

    Returns
    -------
    DataFrame
        Columns ``assessor, sample, replicate, fault``, one row a cup and fault,
        for `analysis.citations.faults`. Only terms that the card asks for as
        faults or that stand on the default list of faults, stated without doubt,
        not denied ("no mould") and not liked ("the slight hineka suits it").
    """
    import pandas as pd

    if words.empty:
        return pd.DataFrame(columns=COLUMNS)
    from ...forms.free_words.free_text import sure_words

    names = {attribute.partition(":")[2]: attribute for attribute in asked}
    question = next((attribute.partition(":")[0] for attribute in asked), "")
    for term in vocabulary.faults():
        names.setdefault(term.key, f"{question}:{term.key}")
    rows = [
        (row.assessor, row.sample, row.replicate, names[match.key])
        for row in words.itertuples(index=False)
        for match in sure_words(str(row.text), vocabulary).matches
        if match.key in names
        and not (match.negated or match.unsure or match.polarity in ("praised", "absent"))
    ]
    return pd.DataFrame(rows, columns=COLUMNS).drop_duplicates(ignore_index=True)
