"""Settings as people write them, in TOML: read within bounds."""

from __future__ import annotations

import re
import tomllib
import unicodedata
from typing import Any

from .words import say

_DEEPEST = 50
_PART = re.compile(r"""[ \t]*[\w"'-]+[ \t]*""")


def toml_of(text: str) -> dict[str, Any]:
    """Read TOML; letters whose accents stand apart (macOS) are put together.

    Raises
    ------
    ValueError
        If it is none, or its keys, numbers or depth have no end.
    """
    if _is_endless(text):
        raise ValueError(say("folder.deep_key", most=_DEEPEST))
    try:
        return tomllib.loads(unicodedata.normalize("NFC", text))
    except RecursionError as deep:
        raise ValueError(str(deep)) from deep


def _is_endless(text: str) -> bool:
    """Tell whether a key has so many dotted parts that reading it would fill the memory."""
    parts = 0
    for piece in text.split("."):
        parts = parts + 1 if _PART.fullmatch(piece) else 0
        if parts > _DEEPEST:
            return True
    return False
