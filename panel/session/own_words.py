"""The vocabulary with the words that a session adds in its ``session.toml``."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from ...forms.questions.term_vocabulary import Vocabulary, VocabularyFault, extend, vocabulary

_KNOWN = ("key", "label", "group", "synonyms", "explanation")


def own_vocabulary(
    words: Iterable[Mapping[str, Any]], faults: Iterable[Mapping[str, Any]] = ()
) -> tuple[Vocabulary, tuple[VocabularyFault, ...]]:
    """Add a session's words and faults to the vocabulary.

    Parameters
    ----------
    words, faults : iterable of mapping
        As under ``[[questions.words]]`` and ``[[questions.faults]]``: ``key``
        and ``label``, optional ``group``, ``synonyms``, ``explanation``. Of a
        word that the vocabulary has, only the synonyms are added.

    Returns
    -------
    Vocabulary, tuple of VocabularyFault

    Examples
    --------
    >>> made, wrong = own_vocabulary([{"key": "loquat", "label": "loquat", "synonyms": ["biwa"]}])
    >>> made["loquat"].ways("en"), wrong
    (('loquat', 'biwa'), ())
    """
    base = vocabulary()
    wishes = []
    for listed, fault in ((words, False), (faults, True)):
        for one in listed:
            key = str(one.get("key", ""))
            known = key in base
            kept = {name: one[name] for name in _KNOWN if name in one}
            if known:
                kept = {name: kept[name] for name in ("key", "synonyms") if name in kept}
            else:
                kept = {"label": key, **kept, "fault": fault}
            wishes.append(kept)
    made, wrong = extend(base, wishes)
    # A key that cannot be used is told by the scorecard already.
    return made, tuple(one for one in wrong if one.kind != "bad_key")
