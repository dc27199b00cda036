"""Free words matched to the vocabulary; what could not be matched is listed for a person.

Assessors write "no bitterness, candied orange peel, a bit like my grandmother's
house". Two of these are terms; the third nobody can match but a person. Nothing
is dropped: every word is part of a match, of a word of liking, of grammar, or
of the list of what was not understood. Nothing is invented: a match always
shows the text it was read from and how it was read.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from ..questions.term_vocabulary import Vocabulary, is_japanese, vocabulary
from . import english, japanese
from .certainty import certain
from .companions import with_parts
from .judged import judge
from .match import Found, Liking, Match, Piece

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, slots=True, kw_only=True)
class WordsRead:
    """What a text was read as, all of it.

    Attributes
    ----------
    text : str
    matches : tuple of Match
    liking : tuple of Liking
    unmatched : tuple of Piece
        For a person to look at.
    """

    text: str
    matches: tuple[Match, ...]
    liking: tuple[Liking, ...]
    unmatched: tuple[Piece, ...]

    @property
    def present(self) -> tuple[str, ...]:
        """Keys said to be there, in order, each once."""
        return tuple(dict.fromkeys(match.key for match in self.matches if not match.negated))

    @property
    def absent(self) -> tuple[str, ...]:
        """Keys said not to be there."""
        return tuple(dict.fromkeys(match.key for match in self.matches if match.negated))


def read_words(text: str, words: Vocabulary | None = None) -> WordsRead:
    """Match a free text in English, Japanese or both to the vocabulary.

    Parameters
    ----------
    text : str
        What an assessor wrote.
    words : Vocabulary, optional
        By default the one that comes with the program; a session's own terms
        are added with `extend`.

    Returns
    -------
    WordsRead

    Examples
    --------
    >>> read = read_words("no bitterness, candied orange peel, nice")
    >>> read.present, read.absent, [word.direction for word in read.liking]
    (('candied_peel',), ('bitter',), ['good'])
    >>> read_words("苦くない、りんごとキウイ").present
    ('apple',)
    >>> [piece.text for piece in read_words("苦くない、りんごとキウイ").unmatched]
    ['キウイ']
    """
    known = words if words is not None else vocabulary()
    found = Found([], [], [], [], [])
    for start, end in _runs(text):
        part = text[start:end]
        reader = japanese if is_japanese(part) else english
        found.breaks.append(start)
        reader.read(part, start, known, found)
    matches, liking = with_parts(
        judge(text, found, known), sorted(found.liking, key=lambda word: word.start), text
    )
    found.unmatched += [
        Piece(text=sign.text, start=sign.start, end=sign.end)
        for sign in found.signs
        if not sign.liking
    ]
    return WordsRead(
        text=text,
        matches=tuple(matches),
        liking=tuple(liking),
        unmatched=tuple(sorted(found.unmatched, key=lambda piece: piece.start)),
    )


def sure_words(text: str, words: Vocabulary | None = None) -> WordsRead:
    """Read a text as `read_words` does, and leave to a person what is not sure to be meant.

    Parameters
    ----------
    text, words
        As for `read_words`.

    Returns
    -------
    WordsRead
        Without the matches less certain than `kikichoko.forms.free_words.certainty.LEAST`;
        these stand among the unmatched.

    Examples
    --------
    >>> sure_words("banana").present
    ('banana',)
    """
    read = read_words(text, words)
    sure = certain(text, read.matches)
    left = [
        Piece(text=match.text, start=match.start, end=match.end)
        for match in read.matches
        if match not in sure
    ]
    pieces = sorted((*read.unmatched, *left), key=lambda piece: piece.start)
    return replace(read, matches=tuple(sure), unmatched=tuple(pieces))


_JAPANESE = r"[\u3005-\u3007\u3040-\u30ff\u4e00-\u9fff\uff66-\uff9f]"
_RUN = re.compile(
    rf"(?:(?<![\w-])[A-Za-z0-9][A-Za-z0-9-]*(?={_JAPANESE}))?{_JAPANESE}(?:{_JAPANESE}|[A-Za-z0-9%])*"
    rf"|(?:(?![A-Za-z0-9-]+{_JAPANESE})[^{_JAPANESE[1:-1]}])+|."
)


def _runs(text: str) -> Iterable[tuple[int, int]]:
    """Cut a text into runs of one script; punctuation goes with the Latin ones."""
    for run in _RUN.finditer(text):
        yield run.start(), run.end()


def words_table(
    texts: Iterable[tuple[str, str, str]], words: Vocabulary | None = None
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Read many texts into one table of matches and one of what needs a person.

    Parameters
    ----------
    texts : iterable of (assessor, code, text)
    words : Vocabulary, optional
        As for `read_words`.

    Returns
    -------
    matches : DataFrame
        Columns ``assessor, code, kind, key, negated, degree, unsure, how,
        text, polarity``; kind is a level, or "liking" with "good" or "bad" as key
        and an empty polarity.
    unmatched : DataFrame
        Columns ``assessor, code, piece, text``: what was not understood, or not surely,
        with the whole text.
    """
    import pandas as pd

    rows, left = [], []
    for assessor, code, text in texts:
        read = sure_words(text, words)
        rows += [
            (
                assessor,
                code,
                m.level,
                m.key,
                m.negated,
                m.degree,
                m.unsure,
                m.how,
                m.text,
                m.polarity,
            )
            for m in read.matches
        ]
        rows += [
            (assessor, code, "liking", one.direction, False, "", False, "exact", one.text, "")
            for one in read.liking
        ]
        left += [(assessor, code, piece.text, text) for piece in read.unmatched]
    names = ["assessor", "code", "kind", "key", "negated", "degree", "unsure", "how", "text"]
    names.append("polarity")
    return (
        pd.DataFrame(rows, columns=names),
        pd.DataFrame(left, columns=["assessor", "code", "piece", "text"]),
    )
