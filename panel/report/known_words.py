"""Words of the trade that people type in one language, written in the other where known."""

from __future__ import annotations

import re
import unicodedata
from functools import cache

from ...catalogue import listed
from ..base.words import CATALOGUE, FALLBACK, say

TOPIC = "trade"
NAMING = ("fraction", "heat", "standing")
"""Kinds of words that bottles are named after."""
_JAPANESE = re.compile(r"[\u3040-\u30ff\u3400-\u9fff々]")
_BETWEEN = re.compile(r"\s*[,、;・]\s*")


def told_in(kind: str, typed: str, language: str) -> str:
    """Write what was typed in a language, as far as all its words are known; else as it stands.

    Parameters
    ----------
    kind : str
        ``fraction``, ``vessel``, ``rice``, ``yeast``, ``starter``, ``press``, ``heat`` or
        ``standing``.
    typed : str
        A word, or several with commas between them.
    language : str

    Examples
    --------
    >>> told_in("fraction", "Free-run", "ja"), told_in("fraction", "中汲み", "en")
    ('荒走り', 'middle')
    >>> told_in("fraction", "clear", "en"), told_in("fraction", "second half", "ja")
    ('clear', 'second half')
    >>> told_in("starter", "速醸", "en"), told_in("press", "fune", "ja")
    ('sokujo', '槽')
    """
    parts = [part for part in _BETWEEN.split(typed) if part]
    keys = [_known(kind).get(_plain(part), "") for part in parts]
    if not parts or not all(keys):
        return typed
    return listed(
        [
            part if _plain(part) in _spellings(key, language) else _first(key, language)
            for part, key in zip(parts, keys, strict=True)
        ],
        language,
    )


def foreign(text: str, language: str) -> bool:
    """Whether a text is written in letters that the readers of a language may not know.

    >>> foreign("ぐい呑み", "en"), foreign("a cup", "en"), foreign("a cup", "ja"), foreign("", "ja")
    (True, False, True, False)
    """
    japanese = bool(_JAPANESE.search(text))
    return bool(text) and (not japanese if language == "ja" else japanese)


def name_in(name: str, language: str) -> str:
    """Write a bottle's name within a sentence of a language: known words in it, others quoted.

    >>> name_in("にごり 火入れ", "en"), name_in("clear raw", "ja"), name_in("T4", "en")
    ('cloudy pasteurised', '澄み酒 生', 'T4')
    >>> name_in("定番酒", "en"), name_in("house sake", "ja")
    ('house sake', '定番酒')
    >>> name_in("春の酒", "en"), name_in("spring sake", "ja")
    ('“春の酒”', '「spring sake」')
    """
    said = known_name(name, language)
    return say("findings.quoted", language, word=said) if foreign(said, language) else said


def known_name(name: str, language: str) -> str:
    """Write a bottle's name in a language, Japanese too, where all of it is known.

    >>> known_name("clear raw", "ja"), known_name("tank 9", "ja"), known_name("責め", "en")
    ('澄み酒 生', 'tank 9', 'press-end')
    """
    if not foreign(name, language):
        return name
    if (whole := _named(name, language)) or " " not in name:
        return whole or name  # "house sake" is one word of the trade.
    parts = [_named(part, language) for part in name.split()]
    return " ".join(parts) if all(parts) else name


def _named(name: str, language: str) -> str:
    """Write a word that bottles are named after in a language; nothing where it is not known."""
    return next((said for kind in NAMING if (said := told_in(kind, name, language)) != name), "")


def titled(name: str, language: str) -> str:
    """Write a bottle's name, with what it says in the language of the page.

    >>> titled("中取り 生", "en"), titled("clear raw", "en"), titled("clear raw", "ja")
    ('中取り 生 (middle raw)', 'clear raw', 'clear raw（澄み酒 生）')
    """
    said = known_name(name, language)
    if said == name:
        return name
    return f"{name}（{said}）" if language == "ja" else f"{name} ({said})"


def _plain(text: str) -> str:
    return " ".join(unicodedata.normalize("NFKC", text).casefold().split())


def _first(key: str, language: str) -> str:
    return say(key, language).partition("|")[0].strip()


@cache
def _spellings(key: str, language: str) -> frozenset[str]:
    return frozenset(_plain(one) for one in say(key, language).split("|"))


@cache
def _known(kind: str) -> dict[str, str]:
    """Return the key of each spelling, in every language that there is."""
    found: dict[str, str] = {}
    for name in CATALOGUE.topic(FALLBACK, TOPIC):
        if name.startswith(f"{kind}_"):
            for language in CATALOGUE.languages(TOPIC):
                key = f"{TOPIC}.{name}"
                found |= dict.fromkeys(_spellings(key, language), key)
    return found
